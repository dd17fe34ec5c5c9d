//! SHA-256 digests, as the chain and the notes use them.

use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};
use std::borrow::Cow;
use std::fmt;
use std::io::{self, Read};
use std::str::FromStr;

/// A SHA-256 digest; prints as 64 lower-case hexadecimal digits.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(into = "String", try_from = "Cow<'_, str>")]
pub struct Digest([u8; 32]);

impl Digest {
    /// The digest of the concatenated parts.
    #[must_use]
    pub fn of(parts: &[&[u8]]) -> Self {
        let mut hasher = Sha256::new();
        for part in parts {
            hasher.update(part);
        }
        Self(hasher.finalize().into())
    }

    /// The digest of all that a reader gives, in bounded memory.
    ///
    /// # Errors
    /// When it cannot be read to its end.
    pub fn of_reader(mut reader: impl Read) -> io::Result<Self> {
        let mut hasher = Sha256::new();
        let mut block = [0_u8; 16 * 1024];
        loop {
            match reader.read(&mut block) {
                Ok(0) => return Ok(Self(hasher.finalize().into())),
                Ok(n) => hasher.update(block.get(..n).unwrap_or_default()),
                Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
                Err(e) => return Err(e),
            }
        }
    }

    /// What the first line of a chain names as its predecessor: bound to the format and to the chain's own name, so
    /// that a line cannot be moved from one chain to another.
    #[must_use]
    pub fn genesis(name: &str) -> Self {
        Self::of(&[b"fadewright/journal/v1", b"\0", name.as_bytes()])
    }

    /// The first eight digits in two groups, for people to compare by eye.
    #[must_use]
    pub fn short(&self) -> String {
        let all = self.to_string();
        format!("{} {}", all.get(..4).unwrap_or_default(), all.get(4..8).unwrap_or_default())
    }
}

impl fmt::Display for Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&to_hex(&self.0))
    }
}

impl fmt::Debug for Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

/// The text is not 64 lower-case hexadecimal digits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("not 64 lower-case hexadecimal digits")]
pub struct NotADigest;

impl FromStr for Digest {
    type Err = NotADigest;

    fn from_str(text: &str) -> Result<Self, NotADigest> {
        let (pairs, []) = text.as_bytes().as_chunks::<2>() else { return Err(NotADigest) };
        let mut bytes = [0; 32];
        if pairs.len() != bytes.len() {
            return Err(NotADigest);
        }
        for (byte, &pair) in bytes.iter_mut().zip(pairs) {
            *byte = byte_of(pair).ok_or(NotADigest)?;
        }
        Ok(Self(bytes))
    }
}

impl From<Digest> for String {
    fn from(digest: Digest) -> Self {
        digest.to_string()
    }
}

impl TryFrom<Cow<'_, str>> for Digest {
    type Error = NotADigest;

    fn try_from(text: Cow<'_, str>) -> Result<Self, NotADigest> {
        text.parse()
    }
}

/// The bytes as lower-case hexadecimal digits.
pub(super) fn to_hex(bytes: &[u8]) -> String {
    let digit = |n: u8| char::from(if n < 10 { b'0' + n } else { b'a' + n - 10 });
    let mut text = String::with_capacity(bytes.len() * 2);
    for b in bytes {
        text.push(digit(b >> 4));
        text.push(digit(b & 15));
    }
    text
}

/// The bytes that lower-case hexadecimal digits stand for.
pub(super) fn from_hex(text: &str) -> Option<Vec<u8>> {
    let (pairs, []) = text.as_bytes().as_chunks::<2>() else { return None };
    pairs.iter().copied().map(byte_of).collect()
}

/// The byte that two digits stand for; upper case is refused, because a line has one spelling only.
fn byte_of([high, low]: [u8; 2]) -> Option<u8> {
    let digit = |c: u8| match c {
        b'0'..=b'9' => Some(c - b'0'),
        b'a'..=b'f' => Some(c - b'a' + 10),
        _ => None,
    };
    Some(digit(high)? << 4 | digit(low)?)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// FIPS 180-4's own example, "abc", as printed in NIST's "SHA256.pdf" example values.
    #[test]
    fn the_published_example_digest_comes_out() {
        let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(Digest::of(&[b"a", b"bc"]).to_string(), abc);
        assert_eq!(abc.parse(), Ok(Digest::of(&[b"abc"])));
        assert_eq!(Digest::of(&[b"abc"]).short(), "ba78 16bf");
    }

    #[test]
    fn only_one_spelling_is_read() {
        let abc = Digest::of(&[b"abc"]).to_string();
        for wrong in
            [abc.to_uppercase(), format!("{abc}0"), abc.replacen('b', "", 1), abc.replacen('b', " ", 1), "é".into()]
        {
            assert_eq!(wrong.parse::<Digest>(), Err(NotADigest), "{wrong}");
        }
    }
}
