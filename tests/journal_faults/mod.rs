//! What the journal promises, each against the fault it is promised for.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "helpers of tests stop at the first surprise"
)]

mod damage;
mod daybook;
mod disk;
pub mod doubles;
mod planted;
mod process;
mod recovery;

use chrono::{DateTime, FixedOffset};
use fadewright::journal::{Ack, DataDir, SessionId, Writer};
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// Events of a made-up program: the room must not care.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Event {
    Opened { plan: String, limits: Vec<f64> },
    Pulses { n: u32 },
    Seen { what: String, grade: Option<u8> },
    Note { text: FreeText },
}

/// Free text as the notes' convention has it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum FreeText {
    Text { free_text: String },
    Erased { free_text_erased: bool },
    Altered { free_text_altered: bool },
}

impl FreeText {
    pub fn new(text: &str) -> Self {
        Self::Text { free_text: text.to_owned() }
    }
}

pub fn at(second: u32) -> DateTime<FixedOffset> {
    let start = DateTime::parse_from_rfc3339("2026-11-24T22:48:01.123+01:00").unwrap();
    start + chrono::Duration::seconds(i64::from(second))
}

pub fn id(text: &str) -> SessionId {
    text.parse().unwrap()
}

/// A session's worth of different events.
pub fn event(n: u32) -> Event {
    match n % 4 {
        _ if n == 0 => {
            Event::Opened { plan: "[zone]\nname = \"forearm \u{202e}\"\n".into(), limits: vec![0.1, 2.5, 1e-9] }
        }
        1 => Event::Pulses { n },
        2 => Event::Seen { what: "whitening".into(), grade: Some(2) },
        3 => Event::Note { text: FreeText::new(&format!("note {n}: \"slight\" smell\n")) },
        _ => Event::Seen { what: "none".into(), grade: None },
    }
}

pub fn quiet(_: Ack) {}

/// A data directory, removed at the end, with one closed session of `n` events.
pub struct Scene {
    pub temp: tempfile::TempDir,
    pub dir: DataDir,
    pub id: SessionId,
    pub path: PathBuf,
}

impl Scene {
    pub fn empty() -> Self {
        let temp = tempfile::tempdir().unwrap();
        let dir = DataDir::open(temp.path().join("data")).unwrap();
        let id = id("20261124-224801-7K3M9Q");
        let path = dir.journal_path(&id);
        Self { temp, dir, id, path }
    }

    pub fn with(n: u32) -> Self {
        let scene = Self::empty();
        let mut writer = scene.writer();
        for i in 0..n {
            assert_eq!(writer.append(at(i), u64::from(i) * 1000, &event(i)).unwrap(), u64::from(i) + 1);
        }
        writer.close().unwrap();
        scene
    }

    pub fn writer(&self) -> Writer<Event> {
        Writer::create(&self.dir, &self.id, quiet).unwrap()
    }

    pub fn bytes(&self) -> Vec<u8> {
        std::fs::read(&self.path).unwrap()
    }
}

/// The lines of a journal with their line ends.
pub fn lines(bytes: &[u8]) -> Vec<Vec<u8>> {
    bytes.split_inclusive(|&b| b == b'\n').map(<[u8]>::to_vec).collect()
}

/// Everything in a directory and below.
pub fn tree(dir: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(dir).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(tree(&path));
        }
        found.push(path);
    }
    found
}
