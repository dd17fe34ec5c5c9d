//! Finding and reading the files that a session needs.

use super::Common;
use super::output::CliError;
use crate::device::{self, DeviceProfile};
use crate::journal::DataDir;
use crate::plan::{self, Plan};
use crate::protocol::{self, Protocol};
use crate::source::{Loaded, Problems, read_file};
use clap::Args;
use directories::ProjectDirs;
use std::path::{Path, PathBuf};

/// The files beside the plan.
#[derive(Debug, Clone, Args)]
pub struct SetupArgs {
    /// Device profile [default: device.toml in the config directory, else the embedded one].
    #[arg(long, value_name = "FILE")]
    pub device: Option<PathBuf>,
    /// Clinic protocol [default: protocol.toml in the config directory, else the embedded one].
    #[arg(long, value_name = "FILE")]
    pub protocol: Option<PathBuf>,
}

fn dirs() -> Option<ProjectDirs> {
    ProjectDirs::from("", "", "fadewright")
}

/// The data directory that holds the journals.
pub(super) fn data_root(common: &Common) -> Result<PathBuf, CliError> {
    if let Some(dir) = &common.data_dir {
        return Ok(dir.clone());
    }
    dirs().map(|d| d.data_dir().to_owned()).ok_or_else(|| {
        CliError::Bad("no home directory is known: name a data directory with --data-dir or FADEWRIGHT_DATA".to_owned())
    })
}

/// Where practice is kept within the data directory: apart from all that was done to people.
pub(super) const PRACTICE: &str = "practice";

/// The directory of practice, ready to be written to. It has sessions and a day book of its own.
pub(super) fn open_practice_dir(common: &Common) -> Result<DataDir, CliError> {
    let root = open_data_dir(common)?;
    Ok(DataDir::open(root.root().join(PRACTICE))?)
}

/// The data directory, ready to be written to.
pub(super) fn open_data_dir(common: &Common) -> Result<DataDir, CliError> {
    Ok(DataDir::open(data_root(common)?)?)
}

/// Where computed figures are kept; none where no home directory is known.
pub(super) fn cache_dir() -> Option<PathBuf> {
    cache_root().map(|dir| dir.join("light"))
}

/// The cache directory: whatever lies there may be deleted at any time.
pub(super) fn cache_root() -> Option<PathBuf> {
    dirs().map(|d| d.cache_dir().to_owned())
}

/// Where the clinic's own files are; none where no home directory is known.
pub(super) fn config_dir() -> Option<PathBuf> {
    dirs().map(|d| d.config_dir().to_owned())
}

pub(super) fn in_config_dir(name: &str) -> Option<PathBuf> {
    config_dir().map(|dir| dir.join(name)).filter(|p| p.exists())
}

/// Reads a plan.
pub(super) fn load_plan(path: &Path) -> Result<Loaded<Plan>, Problems> {
    plan::load(&read_file(path)?)
}

/// Reads the device profile.
pub(super) fn load_device(args: &SetupArgs) -> Result<DeviceProfile, Problems> {
    match args.device.clone().or_else(|| in_config_dir("device.toml")) {
        Some(path) => device::load(&read_file(&path)?).map(|l| l.value),
        None => DeviceProfile::embedded(),
    }
}

/// Reads the clinic protocol.
pub(super) fn load_protocol(args: &SetupArgs) -> Result<Protocol, Problems> {
    match args.protocol.clone().or_else(|| in_config_dir("protocol.toml")) {
        Some(path) => protocol::load(&read_file(&path)?).map(|l| l.value),
        None => Protocol::embedded(),
    }
}
