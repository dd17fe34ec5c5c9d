//! OpenSSH's file of allowed signers: which key is whose, for what and when.
//!
//! One signer a line: principals, options, key. Source: ssh-keygen(1), "ALLOWED SIGNERS", and what OpenSSH's sshsig.c
//! does: both ends of a validity count as inside, `namespaces` is a list of patterns, `valid-before` must lie after
//! `valid-after`.

use super::NAMESPACE;
use crate::session::CodeOfPerson;
use crate::text::shown;
use chrono::{DateTime, FixedOffset, NaiveDate, NaiveDateTime, NaiveTime};
use ssh_key::PublicKey;

/// A line that cannot be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mistake {
    /// Line, from 1.
    pub line: usize,
    /// What is wrong.
    pub message: String,
}

/// How a key stands for a signer at a time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Standing {
    /// It is the signer's, and was valid then.
    Known {
        /// The line that says so.
        line: usize,
        /// When it stopped or will stop being valid.
        until: Option<DateTime<FixedOffset>>,
    },
    /// The file does not know the key.
    UnknownKey,
    /// The key is somebody else's.
    OtherSigner {
        /// The principals it belongs to.
        principals: String,
    },
    /// The key may not be used for sign-off.
    NotForThis {
        /// The line that says so.
        line: usize,
    },
    /// The key was not valid yet.
    NotYet {
        /// The line that says so.
        line: usize,
        /// From when it is.
        from: DateTime<FixedOffset>,
    },
    /// The key was no longer valid.
    Expired {
        /// The line that says so.
        line: usize,
        /// Until when it was.
        until: DateTime<FixedOffset>,
    },
}

impl Standing {
    /// The better of two lines speaks.
    const fn rank(&self) -> u8 {
        match self {
            Self::Known { .. } => 5,
            Self::Expired { .. } => 4,
            Self::NotYet { .. } => 3,
            Self::NotForThis { .. } => 2,
            Self::OtherSigner { .. } => 1,
            Self::UnknownKey => 0,
        }
    }
}

#[derive(Debug, Clone, PartialEq, Eq)]
struct Signer {
    line: usize,
    principals: String,
    namespaces: Option<String>,
    from: Option<DateTime<FixedOffset>>,
    until: Option<DateTime<FixedOffset>>,
    authority: bool,
    key: PublicKey,
}

/// A file of allowed signers.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct AllowedSigners(Vec<Signer>);

impl AllowedSigners {
    /// Reads the file's text. `local` tells which moment a time without `Z` is: that of the machine's zone.
    ///
    /// # Errors
    /// Every line that cannot be read.
    pub fn parse(
        text: &str,
        local: &dyn Fn(NaiveDateTime) -> Option<DateTime<FixedOffset>>,
    ) -> Result<Self, Vec<Mistake>> {
        let (mut signers, mut mistakes) = (Vec::new(), Vec::new());
        for (line, text) in (1..).zip(text.lines()) {
            let text = text.trim();
            if text.is_empty() || text.starts_with('#') {
                continue;
            }
            match signer(line, text, local) {
                Ok(signer) => signers.push(signer),
                Err(message) => mistakes.push(Mistake { line, message }),
            }
        }
        if mistakes.is_empty() { Ok(Self(signers)) } else { Err(mistakes) }
    }

    /// How a key stands for a signer at the time of signing.
    #[must_use]
    pub fn standing(&self, signer: &CodeOfPerson, key: &PublicKey, at: DateTime<FixedOffset>) -> Standing {
        let of_key = self.0.iter().filter(|s| !s.authority && s.key.key_data() == key.key_data());
        let each = of_key.map(|s| {
            if !matches_list(signer.as_str(), &s.principals) {
                return Standing::OtherSigner { principals: shown(&s.principals) };
            }
            if s.namespaces.as_ref().is_some_and(|list| !matches_list(NAMESPACE, list)) {
                return Standing::NotForThis { line: s.line };
            }
            match (s.from, s.until) {
                (Some(from), _) if at < from => Standing::NotYet { line: s.line, from },
                (_, Some(until)) if at > until => Standing::Expired { line: s.line, until },
                (_, until) => Standing::Known { line: s.line, until },
            }
        });
        each.max_by_key(Standing::rank).unwrap_or(Standing::UnknownKey)
    }
}

fn signer(
    line: usize,
    text: &str,
    local: &dyn Fn(NaiveDateTime) -> Option<DateTime<FixedOffset>>,
) -> Result<Signer, String> {
    let (principals, rest) = word(text)?;
    let principals = principals.trim_matches('"').to_owned();
    let (first, after) = word(rest)?;
    let (options, key) = if is_kind(first) { ("", rest) } else { (first, after) };
    if !key.split_whitespace().next().is_some_and(is_kind) {
        return Err("there is no key: a line is principals, options, kind of key, key".to_owned());
    }
    let key = key.trim().parse().map_err(|e| format!("the key cannot be read: {e}"))?;
    let mut signer = Signer { line, principals, namespaces: None, from: None, until: None, authority: false, key };
    for option in split_options(options)? {
        let (name, value) = match option.split_once('=') {
            Some((name, value)) => (name, Some(value.trim_matches('"'))),
            None => (option, None),
        };
        match (name.to_ascii_lowercase().as_str(), value) {
            ("cert-authority", None) => signer.authority = true,
            ("namespaces", Some(list)) => signer.namespaces = Some(list.to_owned()),
            ("valid-after", Some(time)) => signer.from = Some(moment(time, local)?),
            ("valid-before", Some(time)) => signer.until = Some(moment(time, local)?),
            _ => return Err(format!("'{}' is no option that is known", shown(option))),
        }
    }
    if let (Some(from), Some(until)) = (signer.from, signer.until)
        && until <= from
    {
        return Err("valid-before must lie after valid-after".to_owned());
    }
    Ok(signer)
}

fn is_kind(word: &str) -> bool {
    ["ssh-", "ecdsa-", "sk-"].iter().any(|start| word.starts_with(start))
}

/// The first word, where spaces within quotation marks do not end it, and the rest.
fn word(text: &str) -> Result<(&str, &str), String> {
    let text = text.trim_start();
    let mut quoted = false;
    let end = text.find(|c: char| {
        quoted ^= c == '"';
        c.is_whitespace() && !quoted
    });
    if quoted && end.is_none() {
        return Err("a quotation mark is not closed".to_owned());
    }
    text.split_at_checked(end.unwrap_or(text.len())).ok_or_else(|| "it cannot be read".to_owned())
}

/// Options apart at commas that are not within quotation marks.
fn split_options(text: &str) -> Result<Vec<&str>, String> {
    let mut quoted = false;
    let options: Vec<_> = text
        .split(|c: char| {
            quoted ^= c == '"';
            c == ',' && !quoted
        })
        .filter(|o| !o.is_empty())
        .collect();
    if quoted { Err("a quotation mark is not closed".to_owned()) } else { Ok(options) }
}

/// `YYYYMMDD`, `YYYYMMDDhhmm` or `YYYYMMDDhhmmss`, with `Z` for UTC.
fn moment(
    text: &str,
    local: &dyn Fn(NaiveDateTime) -> Option<DateTime<FixedOffset>>,
) -> Result<DateTime<FixedOffset>, String> {
    let wrong = || format!("'{}' is no time: write YYYYMMDD or YYYYMMDDhhmm, with Z for UTC", shown(text));
    let (digits, utc) = match text.strip_suffix(['Z', 'z']) {
        Some(digits) => (digits, true),
        None => (text, false),
    };
    if !digits.bytes().all(|b| b.is_ascii_digit()) {
        return Err(wrong());
    }
    let number = |from: usize, to: usize| digits.get(from..to).map_or(Some(0), |d| d.parse::<u32>().ok());
    let at = || {
        let year = i32::try_from(number(0, 4)?).ok()?;
        let date = NaiveDate::from_ymd_opt(year, number(4, 6)?, number(6, 8)?)?;
        let time = NaiveTime::from_hms_opt(number(8, 10)?, number(10, 12)?, number(12, 14)?)?;
        let at = date.and_time(time);
        if utc { Some(at.and_utc().fixed_offset()) } else { local(at) }
    };
    if !matches!(digits.len(), 8 | 12 | 14) {
        return Err(wrong());
    }
    at().ok_or_else(wrong)
}

/// Whether a comma-separated list of patterns takes the text; one that begins with `!` and fits refuses it.
fn matches_list(text: &str, list: &str) -> bool {
    let fits = |pattern: &str| matches(text.as_bytes(), pattern.as_bytes());
    let mut taken = false;
    for pattern in list.split(',').map(str::trim) {
        match pattern.strip_prefix('!') {
            Some(refused) if fits(refused) => return false,
            Some(_) => {}
            None => taken |= fits(pattern),
        }
    }
    taken
}

/// `*` stands for any characters, `?` for one.
fn matches(text: &[u8], pattern: &[u8]) -> bool {
    let (mut t, mut p) = (0, 0);
    let mut star: Option<(usize, usize)> = None;
    while let Some(&c) = text.get(t) {
        match pattern.get(p) {
            Some(b'*') => {
                star = Some((p, t));
                p += 1;
            }
            Some(&q) if q == b'?' || q == c => {
                t += 1;
                p += 1;
            }
            _ => match star {
                Some((at, from)) => {
                    star = Some((at, from + 1));
                    p = at + 1;
                    t = from + 1;
                }
                None => return false,
            },
        }
    }
    pattern.get(p..).unwrap_or_default().iter().all(|&q| q == b'*')
}

#[cfg(test)]
mod tests {
    use super::*;
    use ssh_key::private::Ed25519Keypair;

    fn key(seed: u8) -> PublicKey {
        PublicKey::new(Ed25519Keypair::from_seed(&[seed; 32]).public.into(), "c")
    }

    fn line(principals: &str, options: &str, seed: u8) -> String {
        format!("{principals} {options} {}\n", key(seed).to_openssh().unwrap())
    }

    /// A zone two hours east of Greenwich.
    fn east(at: NaiveDateTime) -> Option<DateTime<FixedOffset>> {
        at.and_local_timezone(FixedOffset::east_opt(7200)?).single()
    }

    fn standing(file: &str, seed: u8, at: &str) -> Standing {
        let allowed = AllowedSigners::parse(file, &east).unwrap();
        allowed.standing(&"OP-1".parse().unwrap(), &key(seed), DateTime::parse_from_rfc3339(at).unwrap())
    }

    const NOON: &str = "2026-11-25T12:00:00Z";

    #[test]
    fn a_key_is_known_unknown_or_somebody_else_s() {
        let file = format!("# who may sign\n\n{}{}", line("OP-1", "", 1), line("OP-2,SV-1", "", 2));
        assert_eq!(standing(&file, 1, NOON), Standing::Known { line: 3, until: None });
        assert_eq!(standing(&file, 2, NOON), Standing::OtherSigner { principals: "OP-2,SV-1".to_owned() });
        assert_eq!(standing(&file, 3, NOON), Standing::UnknownKey);
        assert_eq!(standing("", 1, NOON), Standing::UnknownKey);
        for principals in ["OP-*", "*", "\"SV-1,OP-?\"", "SV-1,OP-1"] {
            assert!(matches!(standing(&line(principals, "", 1), 1, NOON), Standing::Known { .. }), "{principals}");
        }
        for principals in ["OP-1?", "!OP-1,*", "op-1", "OP"] {
            assert!(
                matches!(standing(&line(principals, "", 1), 1, NOON), Standing::OtherSigner { .. }),
                "{principals}"
            );
        }
        // A key that only vouches for certificates signs nothing itself.
        assert_eq!(standing(&line("OP-1", "cert-authority", 1), 1, NOON), Standing::UnknownKey);
    }

    #[test]
    fn namespaces_and_validity_are_held_to_both_ends_inside() {
        let with = |options: &str, at: &str| standing(&line("OP-1", options, 1), 1, at);
        assert!(matches!(with(&format!("namespaces=\"{NAMESPACE}\""), NOON), Standing::Known { .. }));
        assert!(matches!(with("namespaces=\"file,sign-off@*\"", NOON), Standing::Known { .. }));
        assert_eq!(with("namespaces=\"file,git\"", NOON), Standing::NotForThis { line: 1 });
        let year = "valid-after=\"20260101Z\",valid-before=\"20270101Z\"";
        assert!(matches!(with(year, "2026-01-01T00:00:00Z"), Standing::Known { until: Some(_), .. }));
        assert!(matches!(with(year, "2027-01-01T00:00:00Z"), Standing::Known { .. }));
        assert!(matches!(with(year, "2025-12-31T23:59:59Z"), Standing::NotYet { .. }));
        assert!(matches!(with(year, "2027-01-01T00:00:01Z"), Standing::Expired { .. }));
        // Without Z it is the machine's own time: noon in the east is ten o'clock.
        assert!(matches!(with("valid-before=202611251200", "2026-11-25T10:00:00Z"), Standing::Known { .. }));
        assert!(matches!(with("valid-before=20261125120000", "2026-11-25T10:00:01Z"), Standing::Expired { .. }));
        // The better of two lines speaks.
        let two = format!("{}{}", line("OP-1", "valid-before=20200101Z", 1), line("OP-1", "", 1));
        assert_eq!(standing(&two, 1, NOON), Standing::Known { line: 2, until: None });
    }

    #[test]
    fn every_mistake_is_told_with_its_line() {
        let good = line("OP-1", "", 1);
        for (bad, words) in [
            ("OP-1\n", "there is no key"),
            ("OP-1 ssh-ed25519 AAAA\n", "the key cannot be read"),
            ("OP-1 \"open ssh-ed25519 AAAA\n", "quotation mark"),
            (line("OP-1", "valid-after=2026", 1).as_str(), "is no time"),
            (line("OP-1", "valid-after=20261301Z", 1).as_str(), "is no time"),
            (line("OP-1", "valid-before=2026112é", 1).as_str(), "is no time"),
            (line("OP-1", "valid-after=20270101Z,valid-before=20270101Z", 1).as_str(), "must lie after"),
            (line("OP-1", "no-touch", 1).as_str(), "is no option"),
        ] {
            let mistakes = AllowedSigners::parse(&format!("{good}{bad}{good}"), &east).unwrap_err();
            assert_eq!((mistakes.len(), mistakes[0].line), (1, 2), "{bad}");
            assert!(mistakes[0].message.contains(words), "{bad}: {}", mistakes[0].message);
        }
    }
}
