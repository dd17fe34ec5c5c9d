//! Files as people write them: what is read, and how every mistake is told.

mod hostile;
mod mistakes;
mod mutations;
mod profiles;
mod samples;
mod shapes;
mod shown;

use fadewright::plan::{self, Plan};
use fadewright::source::{Problems, SourceText};
use std::path::PathBuf;

/// A directory of the project.
fn under(path: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(path)
}

/// The `.toml` files of a directory of the project, in order.
fn files(path: &str) -> Vec<PathBuf> {
    let mut files: Vec<_> = std::fs::read_dir(under(path)).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.retain(|f| f.extension().is_some_and(|e| e == "toml"));
    files.sort();
    files
}

/// The text of a plan without mistakes, to be spoilt.
fn good() -> String {
    std::fs::read_to_string(under("sample-plans/two-zone-band.toml")).unwrap()
}

fn load(text: &str) -> Result<Plan, Problems> {
    plan::load(&SourceText::new("a.toml", text)).map(|loaded| loaded.value)
}

/// The one mistake of a text.
fn mistake(text: &str) -> String {
    let problems = load(text).unwrap_err();
    assert_eq!(problems.list().len(), 1, "{problems}");
    problems.to_string()
}
