//! Identifiers that are the same whenever the same session is exported, and tell nothing of it.

use crate::journal::Digest;

/// A UUID of version 8 (RFC 9562, section 5.8): 122 bits of SHA-256 over the session id and what is named.
#[must_use]
pub fn uuid(session: &str, what: &str) -> String {
    let hash = Digest::of(&[b"fadewright/export/v1\0", session.as_bytes(), b"\0", what.as_bytes()]).to_string();
    let hex = |from: usize, to: usize| hash.get(from..to).unwrap_or_default();
    // The variant's two bits are 10: one of 8, 9, a and b.
    let variant = match hash.as_bytes().get(16).copied().unwrap_or(b'0') {
        b'0'..=b'3' => '8',
        b'4'..=b'7' => '9',
        b'8' | b'9' | b'a' | b'b' => 'a',
        _ => 'b',
    };
    format!("{}-{}-8{}-{variant}{}-{}", hex(0, 8), hex(8, 12), hex(13, 16), hex(17, 20), hex(20, 32))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_identifier_is_a_uuid_of_version_8_and_stays_the_same() {
        let one = uuid("20261124-100000-TTTTTT", "procedure");
        let shape: String = one.chars().map(|c| if c.is_ascii_hexdigit() { 'x' } else { c }).collect();
        assert_eq!(shape, "xxxxxxxx-xxxx-xxxx-xxxx-xxxxxxxxxxxx");
        assert_eq!(one.as_bytes()[14], b'8');
        assert!(b"89ab".contains(&one.as_bytes()[19]), "{one}");
        assert_eq!(one, uuid("20261124-100000-TTTTTT", "procedure"));
        assert_ne!(one, uuid("20261124-100000-TTTTTT", "device"));
        assert_ne!(one, uuid("20261124-100000-TTTTTV", "procedure"));
    }
}
