//! Where an export is written: a new file of mode 0600, or with `--force` one that takes an old one's place. Links are
//! never followed.

use crate::cli::output::CliError;
use crate::text::shown;
use std::ffi::OsString;
use std::fs::{DirBuilder, File, OpenOptions};
use std::io::{self, Write};
use std::os::unix::fs::{DirBuilderExt, OpenOptionsExt};
use std::path::{Path, PathBuf};

/// A place that may be written to, as far as one can tell before.
pub(super) struct Place {
    path: PathBuf,
    force: bool,
}

fn told(path: &Path) -> String {
    shown(&path.display().to_string())
}

fn failed(doing: &str, path: &Path, e: &io::Error) -> CliError {
    CliError::Bad(format!("{}: cannot {doing}: {e}", told(path)))
}

impl Place {
    /// The file itself, or the file of this name where `out` is a directory.
    pub(super) fn file(out: &Path, name: &str, force: bool) -> Result<Self, CliError> {
        let is_directory = out.symlink_metadata().is_ok_and(|m| m.is_dir());
        if is_directory { Self::within(out, name, force) } else { Self::at(out.to_owned(), force) }
    }

    /// The file of this name in a directory.
    pub(super) fn within(dir: &Path, name: &str, force: bool) -> Result<Self, CliError> {
        Self::at(dir.join(name), force)
    }

    fn at(path: PathBuf, force: bool) -> Result<Self, CliError> {
        match path.symlink_metadata() {
            Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(Self { path, force }),
            Err(e) => Err(failed("look at it", &path, &e)),
            Ok(m) if m.is_symlink() => {
                Err(CliError::Bad(format!("{} is a link; links are not followed: name the file itself", told(&path))))
            }
            Ok(m) if !m.is_file() => Err(CliError::Bad(format!("{} is no plain file", told(&path)))),
            Ok(_) if !force => Err(CliError::Bad(format!(
                "{} is there already and was left as it is. Name another file, or replace it with --force",
                told(&path)
            ))),
            Ok(_) => Ok(Self { path, force }),
        }
    }

    pub(super) fn path(&self) -> &Path {
        &self.path
    }
}

/// Makes sure of a directory to write to: one that is there, or a new one for its owner alone.
pub(super) fn directory(dir: &Path) -> Result<(), CliError> {
    match dir.symlink_metadata() {
        Ok(m) if m.is_symlink() => {
            Err(CliError::Bad(format!("{} is a link; links are not followed: name the directory itself", told(dir))))
        }
        Ok(m) if m.is_dir() => Ok(()),
        Ok(_) => Err(CliError::Bad(format!("{} is there already and is no directory", told(dir)))),
        Err(e) if e.kind() == io::ErrorKind::NotFound => {
            DirBuilder::new().mode(0o700).create(dir).map_err(|e| failed("make the directory", dir, &e))
        }
        Err(e) => Err(failed("look at it", dir, &e)),
    }
}

fn create(path: &Path) -> io::Result<File> {
    // A new name only: whatever stands there, a link too, is an error.
    OpenOptions::new().write(true).create_new(true).mode(0o600).open(path)
}

fn fill(mut file: File, text: &str) -> io::Result<()> {
    file.write_all(text.as_bytes())?;
    file.sync_all()
}

/// Writes a text whole or not at all.
pub(super) fn write(place: &Place, text: &str) -> Result<(), CliError> {
    let path = place.path();
    if !place.force {
        let file = create(path).map_err(|e| failed("create the file", path, &e))?;
        return fill(file, text).map_err(|e| {
            // Half a file is none.
            drop(std::fs::remove_file(path));
            failed("write it", path, &e)
        });
    }
    let mut name = OsString::from(".");
    name.push(path.file_name().unwrap_or_default());
    name.push(format!(".{}.part", std::process::id()));
    let part = path.with_file_name(name);
    let file = create(&part).map_err(|e| failed("create a file beside it", path, &e))?;
    // Renaming replaces the name, not what a link there would point to.
    fill(file, text).and_then(|()| std::fs::rename(&part, path)).map_err(|e| {
        drop(std::fs::remove_file(&part));
        failed("write it", path, &e)
    })
}
