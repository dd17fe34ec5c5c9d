//! Files that are slow or fail, in place of the real one.

use fadewright::journal::JournalFile;
use std::io;
use std::sync::{Arc, Mutex};
use std::time::Duration;

/// One call that reached the disk.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Call {
    Append(usize),
    Sync,
    Check(u64),
}

/// When and how the disk fails. Calls are counted from 1.
#[derive(Debug, Clone, Copy, Default)]
pub struct Plan {
    /// The append that fails, and how many of its bytes arrive all the same.
    pub append: Option<(usize, usize)>,
    /// The sync that fails. It works again when asked once more, as a kernel's does.
    pub sync: Option<usize>,
    /// The check that fails.
    pub check: Option<usize>,
    /// Appending fails when the file would be longer.
    pub capacity: Option<usize>,
    /// How long each sync takes.
    pub sync_takes: Duration,
}

/// What the disk holds and was asked.
#[derive(Debug, Default)]
pub struct Disk {
    /// Everything that arrived.
    pub written: Vec<u8>,
    /// What would survive a power cut.
    pub synced: Vec<u8>,
    pub calls: Vec<Call>,
}

impl Disk {
    pub fn count(&self, kind: fn(&Call) -> bool) -> usize {
        self.calls.iter().filter(|call| kind(call)).count()
    }
}

/// A file on such a disk. Clones share the disk.
#[derive(Debug, Clone, Default)]
pub struct FakeFile {
    pub disk: Arc<Mutex<Disk>>,
    pub plan: Plan,
}

impl FakeFile {
    pub fn new(plan: Plan) -> Self {
        Self { disk: Arc::default(), plan }
    }
}

impl JournalFile for FakeFile {
    fn append(&mut self, bytes: &[u8]) -> io::Result<()> {
        let mut disk = self.disk.lock().unwrap();
        disk.calls.push(Call::Append(bytes.len()));
        let room = self.plan.capacity.map_or(bytes.len(), |most| most.saturating_sub(disk.written.len()));
        if room < bytes.len() {
            disk.written.extend_from_slice(&bytes[..room]);
            return Err(io::ErrorKind::StorageFull.into());
        }
        match self.plan.append {
            Some((n, kept)) if n == disk.count(|call| matches!(call, Call::Append(_))) => {
                disk.written.extend_from_slice(&bytes[..kept.min(bytes.len())]);
                Err(io::Error::other("planned append error"))
            }
            _ => {
                disk.written.extend_from_slice(bytes);
                Ok(())
            }
        }
    }

    fn sync_data(&mut self) -> io::Result<()> {
        std::thread::sleep(self.plan.sync_takes);
        let mut disk = self.disk.lock().unwrap();
        disk.calls.push(Call::Sync);
        if self.plan.sync == Some(disk.count(|call| *call == Call::Sync)) {
            return Err(io::Error::other("planned sync error"));
        }
        disk.synced = disk.written.clone();
        Ok(())
    }

    fn check(&mut self, expected_len: u64) -> io::Result<()> {
        let mut disk = self.disk.lock().unwrap();
        disk.calls.push(Call::Check(expected_len));
        if self.plan.check == Some(disk.count(|call| matches!(call, Call::Check(_)))) {
            return Err(io::Error::other("planned check error"));
        }
        if disk.written.len() as u64 == expected_len { Ok(()) } else { Err(io::Error::other("wrong length")) }
    }
}
