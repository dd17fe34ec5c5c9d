//! What the figures were taken on: the disk, its sync, the load, and what a process holds in memory.

use super::figures::Times;
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::Path;
use std::time::{Duration, Instant};

/// File systems that keep their files in memory.
const NO_DISK: [&str; 2] = ["tmpfs", "ramfs"];
const SYNCS: usize = 200;

/// The type of the file system that holds a directory.
pub fn file_system(dir: &Path) -> io::Result<String> {
    let dir = dir.canonicalize()?;
    let mounts = fs::read_to_string("/proc/self/mountinfo")?;
    let mounted = mounts.lines().filter_map(|line| {
        let (left, right) = line.split_once(" - ")?;
        Some((left.split(' ').nth(4)?, right.split(' ').next()?))
    });
    // Of mounts on one another the last counts, and of nested ones the longest.
    let found = mounted.filter(|(at, _)| dir.starts_with(at)).max_by_key(|(at, _)| at.len());
    found.map(|(_, kind)| kind.to_owned()).ok_or_else(|| io::Error::other("no mount holds the directory"))
}

/// True for a file system on a disk.
pub fn is_disk(file_system: &str) -> bool {
    !NO_DISK.contains(&file_system)
}

/// How long a line of a journal's size takes to be written and synced.
pub fn sync_times(dir: &Path) -> io::Result<Times> {
    let path = dir.join("sync-probe");
    let mut file = File::create(&path)?;
    let line = [b'x'; 400];
    let mut times = Vec::new();
    for _ in 0..SYNCS {
        let start = Instant::now();
        file.write_all(&line)?;
        file.sync_data()?;
        times.push(start.elapsed());
    }
    fs::remove_file(path)?;
    Ok(Times::new(times))
}

/// The machine's load of the last minute, and its processors.
pub fn load() -> String {
    let load = fs::read_to_string("/proc/loadavg").unwrap_or_default();
    let minute = load.split(' ').next().unwrap_or("unknown").to_owned();
    format!("{minute} on {} processors", std::thread::available_parallelism().map_or(0, usize::from))
}

/// Memory of a process in KiB: resident now, and the most so far.
pub fn memory_kib(pid: u32) -> io::Result<(u64, u64)> {
    let status = fs::read_to_string(format!("/proc/{pid}/status"))?;
    let field = |name: &str| {
        let line = status.lines().find_map(|line| line.strip_prefix(name))?;
        line.split_whitespace().next()?.parse().ok()
    };
    match (field("VmRSS:"), field("VmHWM:")) {
        (Some(now), Some(most)) => Ok((now, most)),
        _ => Err(io::Error::other("the system does not tell the memory of a process")),
    }
}

/// Time that a process's threads have spent on a processor, and waiting for one that others held.
pub fn processor_times(pid: u32) -> io::Result<(Duration, Duration)> {
    let (mut ran, mut waited) = (0, 0);
    for task in fs::read_dir(format!("/proc/{pid}/task"))? {
        let stat = fs::read_to_string(task?.path().join("schedstat"))?;
        let mut fields = stat.split_whitespace().map_while(|f| f.parse::<u64>().ok());
        ran += fields.next().unwrap_or_default();
        waited += fields.next().unwrap_or_default();
    }
    Ok((Duration::from_nanos(ran), Duration::from_nanos(waited)))
}
