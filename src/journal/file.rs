//! The one way to the disk: opening files safely, and the seam through which every append goes.

use super::JournalError;
use std::fs::{DirBuilder, File, OpenOptions, TryLockError};
use std::io::{self, Write};
use std::os::unix::fs::{DirBuilderExt, MetadataExt, OpenOptionsExt};
use std::path::{Path, PathBuf};
use std::sync::Once;
use std::sync::atomic::AtomicBool;

/// Space set aside when a session opens, so that a disk filled by others does not stop it.
const RESERVED: u64 = 1 << 20;

/// What the writer thread asks of a file. Tests put files in its place that are slow or fail.
pub trait JournalFile: Send {
    /// Adds the bytes at the end.
    ///
    /// # Errors
    /// When not all of them were taken.
    fn append(&mut self, bytes: &[u8]) -> io::Result<()>;

    /// Returns once all that was added would survive a power cut.
    ///
    /// # Errors
    /// When that cannot be promised; what was added since the last success is then in doubt for good.
    fn sync_data(&mut self) -> io::Result<()>;

    /// Checks that the file is still the one it was and holds `expected_len` bytes.
    ///
    /// # Errors
    /// When it was removed, replaced, cut or added to by someone else.
    fn check(&mut self, expected_len: u64) -> io::Result<()>;

    /// The last call, after a sync that succeeded: gives back what was set aside.
    fn finish(&mut self, _expected_len: u64) {}
}

/// A file on disk under the name it was opened by.
#[derive(Debug)]
pub(super) struct RealFile {
    file: File,
    path: PathBuf,
}

impl RealFile {
    pub const fn new(file: File, path: PathBuf) -> Self {
        Self { file, path }
    }
}

impl Drop for RealFile {
    /// Lets the lock go by name: a child process just being started may hold a copy of the descriptor a moment longer.
    fn drop(&mut self) {
        let _ = self.file.unlock();
    }
}

impl JournalFile for RealFile {
    fn append(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.file.write_all(bytes)
    }

    fn sync_data(&mut self) -> io::Result<()> {
        self.file.sync_data()
    }

    fn check(&mut self, expected_len: u64) -> io::Result<()> {
        let held = self.file.metadata()?;
        let named = self.path.symlink_metadata().map_err(|e| match e.kind() {
            io::ErrorKind::NotFound => io::Error::other("the file was removed or renamed while it was in use"),
            _ => e,
        })?;
        if (held.dev(), held.ino()) != (named.dev(), named.ino()) {
            return Err(io::Error::other("the file was replaced by another while it was in use"));
        }
        if held.len() != expected_len {
            return Err(io::Error::other(format!(
                "the file is {} bytes long where {expected_len} were written: someone else changed it",
                held.len()
            )));
        }
        Ok(())
    }

    fn finish(&mut self, expected_len: u64) {
        // Setting the length it has lets go of the space beyond. A refusal only costs that space.
        if self.check(expected_len).is_ok() {
            let _ = self.file.set_len(expected_len);
        }
    }
}

/// The sidecar for free text, which is not made before there is a text.
pub(super) struct NotesFile {
    path: PathBuf,
    known_len: u64,
    file: Option<RealFile>,
}

impl NotesFile {
    /// The sidecar at `path`, which holds `known_len` bytes; none where it does not exist yet.
    pub const fn new(path: PathBuf, known_len: u64) -> Self {
        Self { path, known_len, file: None }
    }

    fn open(&mut self) -> io::Result<&mut RealFile> {
        if self.file.is_none() {
            let file = append_options().create(true).read(true).open(&self.path)?;
            let mut file = RealFile::new(file, self.path.clone());
            file.check(self.known_len)?;
            file.file.sync_all()?;
            sync_dir(parent(&self.path))?;
            self.file = Some(file);
        }
        self.file.as_mut().ok_or_else(|| io::Error::other("the notes file is not open"))
    }
}

impl JournalFile for NotesFile {
    fn append(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.open()?.append(bytes)
    }

    fn sync_data(&mut self) -> io::Result<()> {
        self.open()?.sync_data()
    }

    fn check(&mut self, expected_len: u64) -> io::Result<()> {
        self.open()?.check(expected_len)
    }
}

/// A new file for appending: never an existing one, never through a link, readable by its owner alone.
pub(super) fn create_new(path: &Path) -> Result<File, JournalError> {
    append_options().read(true).create_new(true).open(path).map_err(|e| JournalError::io("create the file", path, e))
}

/// An existing plain file for reading and appending, and held against a second writer.
pub(super) fn open_held(path: &Path) -> Result<File, JournalError> {
    let file = append_options().read(true).open(path).map_err(|e| JournalError::io("open the file", path, e))?;
    plain(&file, path)?;
    hold(&file, path)?;
    Ok(file)
}

/// A plain file for reading and appending that is made if it is not there. It is not held yet.
pub(super) fn open_shared(path: &Path) -> Result<File, JournalError> {
    let opened = append_options().read(true).create(true).open(path);
    let file = opened.map_err(|e| JournalError::io("open the file", path, e))?;
    plain(&file, path)?;
    Ok(file)
}

/// An existing plain file for reading. Nothing is held and nothing changed.
pub(super) fn open_to_read(path: &Path) -> Result<File, JournalError> {
    // Without NONBLOCK a named pipe put in the file's place would keep the program waiting for ever.
    let flags = rustix::fs::OFlags::NOFOLLOW | rustix::fs::OFlags::NONBLOCK;
    let file = OpenOptions::new()
        .read(true)
        .custom_flags(flags.bits().cast_signed())
        .open(path)
        .map_err(|e| JournalError::io("open the file", path, e))?;
    plain(&file, path)?;
    Ok(file)
}

fn append_options() -> OpenOptions {
    let flags = rustix::fs::OFlags::NOFOLLOW | rustix::fs::OFlags::NONBLOCK;
    let mut options = OpenOptions::new();
    options.append(true).mode(0o600).custom_flags(flags.bits().cast_signed());
    options
}

fn plain(file: &File, path: &Path) -> Result<(), JournalError> {
    let data = file.metadata().map_err(|e| JournalError::io("look at the file", path, e))?;
    if data.is_file() { Ok(()) } else { Err(JournalError::NotPlain { path: path.to_owned() }) }
}

/// Takes the lock that keeps a second writer out; it goes with the process, so that none is ever left behind.
pub(super) fn hold(file: &File, path: &Path) -> Result<(), JournalError> {
    file.try_lock().map_err(|e| match e {
        TryLockError::WouldBlock => JournalError::HeldElsewhere { path: path.to_owned() },
        TryLockError::Error(e) => JournalError::io("lock the file", path, e),
    })
}

/// Sets space aside without changing the file's length. A file system that cannot is no reason to refuse.
pub(super) fn reserve(file: &File, path: &Path) -> Result<(), JournalError> {
    #[cfg(target_os = "linux")]
    {
        use rustix::fs::FallocateFlags;
        use rustix::io::Errno;
        let at = file.metadata().map_err(|e| JournalError::io("look at the file", path, e))?.len();
        let reserved = rustix::fs::fallocate(file, FallocateFlags::KEEP_SIZE, at, RESERVED);
        if let Err(e @ (Errno::NOSPC | Errno::DQUOT | Errno::FBIG)) = reserved {
            return Err(JournalError::io("set space aside", path, e.into()));
        }
    }
    #[cfg(not(target_os = "linux"))]
    let _ = (file, path, RESERVED);
    Ok(())
}

/// The directory a file is in; that of a bare name is the current one.
pub(super) fn parent(path: &Path) -> &Path {
    match path.parent() {
        Some(dir) if !dir.as_os_str().is_empty() => dir,
        _ => Path::new("."),
    }
}

/// Makes the names in a directory durable.
pub(super) fn sync_dir(dir: &Path) -> io::Result<()> {
    File::open(dir)?.sync_all()
}

/// Makes the directory if it is not there, for its owner alone, and makes sure that it is a plain directory of ours.
pub(super) fn make_dir(dir: &Path) -> Result<(), JournalError> {
    match DirBuilder::new().mode(0o700).create(dir) {
        Ok(()) => {
            sync_dir(dir).map_err(|e| JournalError::io("sync the directory", dir, e))?;
            sync_dir(parent(dir)).map_err(|e| JournalError::io("sync the directory", parent(dir), e))?;
        }
        Err(e) if e.kind() == io::ErrorKind::AlreadyExists => {}
        Err(e) => return Err(JournalError::io("create the directory", dir, e)),
    }
    let data = dir.symlink_metadata().map_err(|e| JournalError::io("look at the directory", dir, e))?;
    if data.is_symlink() {
        return Err(JournalError::NotPlain { path: dir.to_owned() });
    }
    private_dir(dir, &data)
}

/// Refuses what is no directory, and a directory that other users may write to.
pub(super) fn private_dir(dir: &Path, data: &std::fs::Metadata) -> Result<(), JournalError> {
    if !data.is_dir() {
        return Err(JournalError::NotADirectory { path: dir.to_owned() });
    }
    let mode = data.mode() & 0o7777;
    if mode & 0o022 != 0 {
        return Err(JournalError::WritableByOthers { path: dir.to_owned(), mode });
    }
    Ok(())
}

/// Lets a write beyond the allowed file size fail instead of ending the process.
pub(super) fn survive_size_limit() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        // Any handler will do: the signal's default action is what must not happen. Where it cannot be registered the
        // program is no worse off than without.
        let _ = signal_hook::flag::register(
            rustix::process::Signal::XFSZ.as_raw(),
            std::sync::Arc::new(AtomicBool::new(false)),
        );
    });
}
