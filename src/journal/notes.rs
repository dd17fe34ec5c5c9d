//! Free text, kept beside the chain so that it can be erased without breaking it.
//!
//! **The convention.** Wherever an event serialises to an object with the one key `free_text`, as in
//! `{"kind":"note_added","text":{"free_text":"..."}}`, the text and 16 random bytes go to the sidecar
//! `<id>.notes.jsonl`, one object a line: `{"note":"3.1","salt":"<32 hex>","text":"..."}`. The chained line carries
//! `{"note":"3.1","note_hash":"<64 hex>"}` in its place: the number of the line, of the text within it, and SHA-256
//! over the salt's bytes and the text's. On reading, the text is put back as `{"free_text":"..."}`; where it is gone
//! the event reads `{"free_text_erased":true}`, where it does not match its hash `{"free_text_altered":true}`.
//!
//! Texts are found by their bytes, not by parsing: serde_json's compact form escapes every quotation mark within a
//! text, so that `{"free_text":"` can only ever be an object's first key. That keeps the order of an event's fields.

use super::MAX_LINE;
use super::digest::{Digest, from_hex, to_hex};
use serde::{Deserialize, Serialize};
use std::borrow::Cow;
use std::collections::HashMap;
use std::path::{Path, PathBuf};

const TEXT_OPEN: &str = "{\"free_text\":\"";
const TEXT_KEY: &str = "\"free_text\":";
const NOTE_OPEN: &str = "{\"note\":\"";
const HASH_KEY: &str = "\"note_hash\":";
const HASH_OPEN: &str = ",\"note_hash\":\"";

/// One line of the sidecar.
#[derive(Debug, Clone, Serialize, Deserialize)]
struct Note {
    note: String,
    salt: String,
    text: String,
}

/// The sidecar that belongs to a journal.
pub(super) fn beside(journal: &Path) -> PathBuf {
    journal.with_extension("notes.jsonl")
}

/// An event without its free texts, and the sidecar lines that hold them.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Split {
    /// The event's JSON with a hash in each text's place.
    pub event: String,
    /// Whole lines for the sidecar; empty when there was no text.
    pub notes: Vec<u8>,
}

/// Takes the free texts out of an event's compact JSON. `seq` is the number its line will have.
pub(super) fn take_out(
    event: &str,
    seq: u64,
    mut salt: impl FnMut() -> Result<[u8; 16], String>,
) -> Result<Split, String> {
    if event.contains(HASH_KEY) {
        return Err("it uses the reserved field “note_hash”".to_owned());
    }
    let mut out = String::with_capacity(event.len());
    let mut notes = Vec::new();
    let (mut rest, mut count) = (event, 0);
    while let Some((before, after)) = rest.split_once(TEXT_OPEN) {
        let alone = || "a free text must stand alone in its object".to_owned();
        let (quoted, after) = after.split_at_checked(text_length(after).ok_or_else(alone)?).ok_or_else(alone)?;
        rest = after.strip_prefix("\"}").ok_or_else(alone)?;
        let text: String = serde_json::from_str(&format!("\"{quoted}\"")).map_err(|e| e.to_string())?;
        count += 1;
        let salt = salt()?;
        let note = format!("{seq}.{count}");
        let hash = Digest::of(&[&salt, text.as_bytes()]);
        out.push_str(before);
        out.push_str(&format!("{NOTE_OPEN}{note}\"{HASH_OPEN}{hash}\"}}"));
        let start = notes.len();
        serde_json::to_writer(&mut notes, &Note { note, salt: to_hex(&salt), text }).map_err(|e| e.to_string())?;
        if notes.len() - start > MAX_LINE {
            return Err(format!("its text is longer than {MAX_LINE} bytes"));
        }
        notes.push(b'\n');
    }
    out.push_str(rest);
    if out.contains(TEXT_KEY) {
        return Err("a free text must stand alone in its object".to_owned());
    }
    Ok(Split { event: out, notes })
}

/// How far a JSON text reaches, from after its opening quotation mark to its closing one.
fn text_length(json: &str) -> Option<usize> {
    let mut escaped = false;
    json.bytes().position(|b| {
        let closes = b == b'"' && !escaped;
        escaped = b == b'\\' && !escaped;
        closes
    })
}

/// How many free texts were found on reading, and in which state.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub struct NotesTally {
    /// There, and matching the hash in the chain.
    pub joined: u64,
    /// No longer there.
    pub erased: u64,
    /// There, but not the text that was recorded.
    pub altered: u64,
}

/// The sidecar's content, by note.
#[derive(Debug, Default)]
pub(super) struct Notes {
    /// Salt and text; more than one when a cut-off write was followed by a new one under the same number.
    by_note: HashMap<String, Vec<(Vec<u8>, String)>>,
    /// What became of the notes asked for so far.
    pub tally: NotesTally,
}

impl Notes {
    /// Reads the sidecar's lines; a line that is none, such as a torn one, is passed over.
    pub fn parse(bytes: &[u8]) -> Self {
        let mut by_note: HashMap<_, Vec<_>> = HashMap::new();
        for line in bytes.split(|&b| b == b'\n').filter(|line| line.len() <= MAX_LINE) {
            if let Ok(Note { note, salt, text }) = serde_json::from_slice(line)
                && let Some(salt) = from_hex(&salt)
            {
                by_note.entry(note).or_default().push((salt, text));
            }
        }
        Self { by_note, tally: NotesTally::default() }
    }

    /// As [`Self::join`], without a copy where there is no text to put back.
    pub fn joined<'a>(&mut self, event: &'a str) -> Cow<'a, str> {
        if event.contains(NOTE_OPEN) { Cow::Owned(self.join(event)) } else { Cow::Borrowed(event) }
    }

    /// Puts the texts back into a chained event.
    pub fn join(&mut self, event: &str) -> String {
        let mut out = String::with_capacity(event.len());
        let mut rest = event;
        while let Some((before, after)) = rest.split_once(NOTE_OPEN) {
            out.push_str(before);
            match reference(after) {
                Some((note, hash, after)) => {
                    out.push_str(&self.look_up(note, hash));
                    rest = after;
                }
                None => {
                    out.push_str(NOTE_OPEN);
                    rest = after;
                }
            }
        }
        out.push_str(rest);
        out
    }

    fn look_up(&mut self, note: &str, hash: Digest) -> String {
        let Some(candidates) = self.by_note.get(note) else {
            self.tally.erased += 1;
            return "{\"free_text_erased\":true}".to_owned();
        };
        let text =
            candidates.iter().find(|(salt, text)| Digest::of(&[salt, text.as_bytes()]) == hash).map(|(_, text)| text);
        match text.and_then(|text| serde_json::to_string(text).ok()) {
            Some(quoted) => {
                self.tally.joined += 1;
                format!("{{\"free_text\":{quoted}}}")
            }
            None => {
                self.tally.altered += 1;
                "{\"free_text_altered\":true}".to_owned()
            }
        }
    }
}

/// The rest of a reference after [`NOTE_OPEN`]: its note, its hash, and what follows.
fn reference(after: &str) -> Option<(&str, Digest, &str)> {
    let (note, after) = after.split_once('"')?;
    let (hash, after) = after.strip_prefix(HASH_OPEN)?.split_at_checked(64)?;
    Some((note, hash.parse().ok()?, after.strip_prefix("\"}")?))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn split(event: &str) -> Result<Split, String> {
        take_out(event, 7, || Ok([0xA5; 16]))
    }

    #[test]
    fn texts_leave_the_event_and_come_back_in_their_places() {
        let event =
            r#"{"kind":"x","z":{"free_text":"a \"{\"free_text\":\" b\\"},"list":[{"free_text":""}],"note":"n"}"#;
        let parts = split(event).unwrap();
        assert!(!parts.event.contains("a \\\""), "{}", parts.event);
        assert!(parts.event.contains(r#"{"note":"7.2","note_hash":""#), "{}", parts.event);
        let mut notes = Notes::parse(&parts.notes);
        assert_eq!(notes.join(&parts.event), event);
        assert_eq!(notes.tally, NotesTally { joined: 2, erased: 0, altered: 0 });
    }

    #[test]
    fn a_missing_and_a_changed_text_are_told_apart() {
        let parts = split(r#"{"t":{"free_text":"burnt smell"}}"#).unwrap();
        assert_eq!(Notes::default().join(&parts.event), r#"{"t":{"free_text_erased":true}}"#);
        let other = String::from_utf8(parts.notes.clone()).unwrap().replace("burnt", "no");
        let mut notes = Notes::parse(other.as_bytes());
        assert_eq!(notes.join(&parts.event), r#"{"t":{"free_text_altered":true}}"#);
        let stale_first = [other.as_bytes(), &parts.notes].concat();
        assert!(Notes::parse(&stale_first).join(&parts.event).contains("burnt smell"));
        let after_a_torn_line = [&b"{\"note\":\"7.1\",\"sa\n"[..], &parts.notes].concat();
        assert!(Notes::parse(&after_a_torn_line).join(&parts.event).contains("burnt smell"));
    }

    #[test]
    fn what_would_put_text_into_the_chain_is_refused() {
        for event in [
            r#"{"free_text":"a","more":1}"#,
            r#"{"more":1,"free_text":"a"}"#,
            r#"{"free_text":1}"#,
            r#"{"a":{"note":"1.1","note_hash":"x"}}"#,
        ] {
            assert!(split(event).is_err(), "{event}");
        }
        let long = format!(r#"{{"free_text":"{}"}}"#, "x".repeat(MAX_LINE));
        assert!(split(&long).unwrap_err().contains("longer than"));
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn any_text_comes_back(texts in prop::collection::vec(any::<String>(), 0..4), name in any::<String>()) {
            let list: Vec<_> = texts.iter().map(|t| serde_json::json!({ "free_text": t })).collect();
            let event = serde_json::json!({ "name": name, "list": list }).to_string();
            let parts = split(&event).unwrap();
            prop_assert!(!parts.event.contains(TEXT_KEY));
            prop_assert_eq!(Notes::parse(&parts.notes).join(&parts.event), event);
        }
    }
}
