//! What is signed.

use crate::journal::{Digest, SessionId};
use crate::session::CodeOfPerson;
use crate::words::words;
use chrono::{DateTime, FixedOffset, SubsecRound};
use serde::{Deserialize, Serialize};

const KIND: &str = "fadewright sign-off";
const SCHEMA: u32 = 1;

words! {
    /// What the signer means by the signature.
    Meaning, "meaning" {
        /// "I treated, and the record is right."
        Performed = "performed",
        /// "I read the record."
        Reviewed = "reviewed",
        /// "I looked at it again after something was put right, such as by a follow-up."
        Corrected = "corrected",
    }
}

/// A chained file as it stood when it was signed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Covered {
    /// Its name, without the directory.
    pub file: String,
    /// How many records.
    pub events: u64,
    /// The hash of the last of them.
    pub head: Digest,
    /// How many bytes.
    pub bytes: u64,
    /// SHA-256 of those bytes.
    pub sha256: Digest,
}

/// A statement, signed as the exact bytes of [`Statement::text`].
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Statement {
    kind: String,
    schema: u32,
    /// The session.
    pub session: SessionId,
    /// Its journal. A closed journal does not grow, so it must stand exactly so ever after.
    pub journal: Covered,
    /// Its follow-ups; none where there were none. They may grow: then the signature covers those there were.
    pub follow_ups: Option<Covered>,
    /// Code of the signer: the principal in the file of allowed signers.
    pub signer: CodeOfPerson,
    /// What the signer means by it.
    pub meaning: Meaning,
    /// When, by the signer's own clock, to the second.
    pub at: DateTime<FixedOffset>,
}

impl Statement {
    /// A statement about files as they stand.
    #[must_use]
    pub fn new(
        session: SessionId,
        journal: Covered,
        follow_ups: Option<Covered>,
        signer: CodeOfPerson,
        meaning: Meaning,
        at: DateTime<FixedOffset>,
    ) -> Self {
        let at = at.trunc_subsecs(0);
        Self { kind: KIND.to_owned(), schema: SCHEMA, session, journal, follow_ups, signer, meaning, at }
    }

    /// The one form in which it is written and signed: JSON, one field a line, in a fixed order, with a line end.
    #[must_use]
    pub fn text(&self) -> String {
        // Strings, numbers and options of them cannot fail to serialise; an empty text would verify as nothing.
        let mut text = serde_json::to_string_pretty(self).unwrap_or_default();
        text.push('\n');
        text
    }

    /// Reads a statement.
    ///
    /// # Errors
    /// In words, when it is none, of a later schema, or not in its one form.
    pub fn parse(bytes: &[u8]) -> Result<Self, String> {
        let read: Self = serde_json::from_slice(bytes).map_err(|e| format!("is no statement: {e}"))?;
        if read.kind != KIND || read.schema != SCHEMA {
            return Err("is a statement of another kind or of a later version of fadewright".to_owned());
        }
        if read.text().as_bytes() != bytes {
            return Err("is a statement that was written in another form".to_owned());
        }
        Ok(read)
    }

    /// What is no longer as it was signed. `follow_ups` answers how the first so many bytes of the follow-ups stand now:
    /// none where fewer are there.
    #[must_use]
    pub fn changes(
        &self,
        session: &SessionId,
        journal: &Covered,
        follow_ups: impl FnOnce(&Covered) -> Option<Covered>,
    ) -> Vec<String> {
        let mut changes = Vec::new();
        if self.session != *session {
            changes.push(format!("it was signed for session {}", self.session));
        }
        if self.journal != *journal {
            changes.push(format!(
                "the journal is not the one that was signed: signed {} events, head {}; now {}, head {}",
                self.journal.events,
                self.journal.head.short(),
                journal.events,
                journal.head.short()
            ));
        }
        if let Some(signed) = &self.follow_ups
            && follow_ups(signed).as_ref() != Some(signed)
        {
            changes.push(format!("the {} follow-ups that were signed are not all there as they were", signed.events));
        }
        changes
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    pub fn covered(file: &str, n: u64) -> Covered {
        let head = Digest::of(&[file.as_bytes(), &n.to_le_bytes()]);
        Covered {
            file: file.to_owned(),
            events: n,
            head,
            bytes: n * 200,
            sha256: Digest::of(&[b"x", &n.to_le_bytes()]),
        }
    }

    pub fn statement() -> Statement {
        Statement::new(
            "20261124-224801-7K3M9Q".parse().unwrap(),
            covered("20261124-224801-7K3M9Q.jsonl", 60),
            Some(covered("20261124-224801-7K3M9Q.followup.jsonl", 2)),
            "OP-1".parse().unwrap(),
            Meaning::Performed,
            DateTime::parse_from_rfc3339("2026-11-25T09:00:00.123+01:00").unwrap(),
        )
    }

    #[test]
    fn a_statement_has_one_form_and_reads_back() {
        let s = statement();
        assert_eq!(Statement::parse(s.text().as_bytes()), Ok(s.clone()));
        assert!(s.text().contains("\"at\": \"2026-11-25T09:00:00+01:00\""), "{}", s.text());
        for changed in [
            s.text().replace("  \"signer\"", " \"signer\""),
            s.text().trim_end().to_owned(),
            s.text().replace("\"schema\": 1", "\"schema\": 2"),
            s.text().replace("sign-off", "sign-on"),
            s.text().replace("\"signer\"", "\"more\": 1,\n  \"signer\""),
            s.text().replace("OP-1", "Anna Berg"),
            s.text().replace("\"schema\": 1,", "\"schema\": 1,\n  \"schema\": 1,"),
            String::new(),
        ] {
            assert!(Statement::parse(changed.as_bytes()).is_err(), "{changed}");
        }
    }

    #[test]
    fn every_part_of_what_was_signed_is_compared() {
        let s = statement();
        let (journal, after) = (s.journal.clone(), s.follow_ups.clone());
        let changed = |journal: &Covered, after: &Option<Covered>| {
            let id = "20261124-224801-7K3M9Q".parse().unwrap();
            s.changes(&id, journal, |_| after.clone()).len()
        };
        assert_eq!(changed(&journal, &after), 0);
        assert_eq!(changed(&journal, &None), 1);
        assert_eq!(changed(&journal, &Some(covered("20261124-224801-7K3M9Q.followup.jsonl", 1))), 1);
        for other in [
            Covered { events: 61, ..journal.clone() },
            Covered { head: Digest::of(&[b"h"]), ..journal.clone() },
            Covered { bytes: 1, ..journal.clone() },
            Covered { sha256: Digest::of(&[b"s"]), ..journal.clone() },
            Covered { file: "20261124-224801-7K3M9R.jsonl".to_owned(), ..journal.clone() },
        ] {
            assert_eq!(changed(&other, &after), 1, "{other:?}");
        }
        let other = "20261124-224801-7K3M9R".parse().unwrap();
        assert_eq!(s.changes(&other, &journal, |_| after).len(), 1);
    }
}
