//! The real binary without a terminal, as scripts meet it: what it prints and how it ends.

mod calc_anaesthetic;
mod calc_beam;
mod calc_course;
mod calc_coverage;
mod calc_depth;
mod calc_hazard;
mod calc_heat;
mod calc_transport;
pub mod closed;
mod export;
mod follow_ups;
mod help;
mod journals;
mod keys;
mod plans;
mod practise;
mod register;
mod signing;
mod themes;

use std::path::Path;
use std::process::{Command, Stdio};

/// How a run ended.
pub struct Run {
    pub code: i32,
    pub out: String,
    pub err: String,
}

impl Run {
    pub fn json(&self) -> serde_json::Value {
        serde_json::from_str(&self.out).unwrap_or_else(|e| panic!("{e} in: {} {}", self.out, self.err))
    }
}

/// Runs fadewright with its input and output away from any terminal, in a home of its own.
pub fn run(home: &Path, args: &[&str]) -> Run {
    let output = Command::new(env!("CARGO_BIN_EXE_fadewright"))
        .args(args)
        .env_clear()
        .env("HOME", home)
        .env("XDG_CONFIG_HOME", home.join("config"))
        .env("XDG_DATA_HOME", home.join("share"))
        .env("FADEWRIGHT_DATA", home.join("data"))
        .env("TERM", "xterm-256color")
        .stdin(Stdio::null())
        .output()
        .unwrap();
    Run {
        code: output.status.code().unwrap(),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

pub fn home() -> tempfile::TempDir {
    tempfile::tempdir().unwrap()
}

/// A plan that is shipped, by its name.
pub fn sample(name: &str) -> String {
    format!("{}/sample-plans/{name}", env!("CARGO_MANIFEST_DIR"))
}
