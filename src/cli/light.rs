//! Light in skin for the command line: kept in the cache directory, computed where it is not there yet.

use super::files::cache_dir;
use super::output::CliError;
use super::progress::Progress;
use crate::physics::depth_dose::SkinLight;
use crate::physics::optics::SkinModel;
use crate::physics::transport::montecarlo::{Ending, Outcome, Pencil, Request, run};
use crate::units::{Quantity, WaitingTime};
use sha2::{Digest, Sha256};
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Batches that are kept of each run: small enough to be read within a few milliseconds.
const KEPT_BATCHES: usize = 16;

/// Dark skin at a short wavelength takes longest; this is for a machine that is very busy.
const TIME_LIMIT_S: f64 = 300.0;

/// How kept light is used.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kept {
    /// Where there is some.
    Used,
    /// Computed anew, and kept.
    Renewed,
}

/// As many threads as the machine has cores for this program.
pub(super) fn all_cores() -> usize {
    std::thread::available_parallelism().map_or(1, std::num::NonZero::get)
}

/// The light in a skin.
pub(super) fn skin_light(model: SkinModel, kept: Kept) -> Result<SkinLight, CliError> {
    let limit = WaitingTime::checked(TIME_LIMIT_S).map_err(|e| CliError::Bad(e.to_string()))?;
    let mut progress = None;
    gather(model, kept, all_cores(), |request| {
        let progress = progress.get_or_insert_with(|| Progress::start(limit, "photons"));
        let outcome = run(request, progress).map_err(|e| CliError::Bad(e.to_string()))?;
        if outcome.ending == Ending::Stopped {
            let why = progress.stopped_by().unwrap_or("stopped");
            return Err(CliError::No(format!("the light in the skin was not computed to its end: {why}")));
        }
        Ok(outcome)
    })
}

/// The light in a skin, beside a session: on one core, and without a word on the terminal.
pub(super) fn skin_light_beside(model: SkinModel) -> Result<SkinLight, CliError> {
    gather(model, Kept::Used, 1, |request| run(request, &()).map_err(|e| CliError::Bad(e.to_string())))
}

fn gather(
    model: SkinModel,
    kept: Kept,
    threads: usize,
    mut compute: impl FnMut(&Request<'_>) -> Result<Outcome, CliError>,
) -> Result<SkinLight, CliError> {
    let cache = cache_dir();
    SkinLight::gather(model, threads, |_, request| {
        let file = cache.as_deref().map(|dir| dir.join(name_of(request)));
        if let Some(pencil) = file.as_deref().filter(|_| kept == Kept::Used).and_then(read) {
            return Ok(pencil);
        }
        let outcome = compute(request)?;
        let pencil = outcome.pencil.ok_or_else(|| CliError::Bad("no depth was asked for".to_owned()))?;
        let pencil = pencil.condensed(KEPT_BATCHES);
        if let Some(file) = &file {
            // A cache that cannot be written costs time at the next question, nothing else.
            drop(write(file, &pencil));
        }
        Ok(pencil)
    })
}

/// A name of all inputs and of the program's version.
fn name_of(request: &Request<'_>) -> String {
    let mut hash = Sha256::new();
    hash.update(env!("CARGO_PKG_VERSION"));
    hash.update((KEPT_BATCHES as u64).to_le_bytes());
    hash.update(request.identity());
    hex(&hash.finalize())
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}

/// The light kept in a file; none where it is not whole.
fn read(file: &Path) -> Option<Pencil> {
    let bytes = fs::read(file).ok()?;
    let (light, sum) = bytes.split_at_checked(bytes.len().checked_sub(32)?)?;
    (Sha256::digest(light).as_slice() == sum).then(|| Pencil::from_bytes(light)).flatten()
}

/// Keeps light, whole or not at all: two programs may write the same file at once.
fn write(file: &Path, pencil: &Pencil) -> std::io::Result<()> {
    let dir = file.parent().map_or_else(PathBuf::new, Path::to_owned);
    fs::create_dir_all(&dir)?;
    let light = pencil.to_bytes();
    let mut draft = file.to_owned();
    draft.set_extension(std::process::id().to_string());
    let mut out = fs::File::create(&draft)?;
    out.write_all(&light)?;
    out.write_all(&Sha256::digest(&light))?;
    drop(out);
    fs::rename(&draft, file)
}
