//! Keys and signatures of OpenSSH.
//!
//! Source of the format: PROTOCOL.sshsig and PROTOCOL.key of OpenSSH, as the `ssh-key` library implements them.

use super::NAMESPACE;
use crate::text::shown;
use ssh_key::{Algorithm, EcdsaCurve, Error, HashAlg, LineEnding, PrivateKey, PublicKey, SshSig};

/// Why a private key cannot sign.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum KeyRefused {
    /// It needs its passphrase.
    #[error("the key is encrypted")]
    Locked,
    /// The passphrase does not open it.
    #[error("the passphrase is not the one of this key")]
    WrongPassphrase,
    /// It is the public half.
    #[error("this is a public key: give the private one, the file without .pub")]
    Public,
    /// It is of a kind that cannot sign here.
    #[error("{0} keys cannot sign here: use an Ed25519 key (ssh-keygen -t ed25519), or sign by hand with --by-hand")]
    Kind(String),
    /// It is no key in OpenSSH's own form.
    #[error("this is no private key of OpenSSH ({0}): make one with ssh-keygen -t ed25519")]
    NoKey(String),
    /// The signature could not be made.
    #[error("the signature could not be made: {0}")]
    Failed(String),
}

/// A private key that can sign.
pub struct SignerKey(PrivateKey);

impl SignerKey {
    /// Reads a private key in OpenSSH's form; an encrypted one with its passphrase.
    ///
    /// # Errors
    /// [`KeyRefused::Locked`] when it is encrypted and no passphrase is given, otherwise what is wrong with it.
    pub fn read(text: &[u8], passphrase: Option<&str>) -> Result<Self, KeyRefused> {
        if std::str::from_utf8(text).is_ok_and(|t| t.trim().parse::<PublicKey>().is_ok()) {
            return Err(KeyRefused::Public);
        }
        let key = PrivateKey::from_openssh(text).map_err(|e| KeyRefused::NoKey(e.to_string()))?;
        if !signs(&key.algorithm()) {
            return Err(KeyRefused::Kind(shown(key.algorithm().as_str())));
        }
        match (key.is_encrypted(), passphrase) {
            (false, _) => Ok(Self(key)),
            (true, None) => Err(KeyRefused::Locked),
            (true, Some(words)) => key.decrypt(words).map(Self).map_err(|_| KeyRefused::WrongPassphrase),
        }
    }

    /// Signs a statement's text. The answer is the armoured signature, checked once more.
    ///
    /// # Errors
    /// When it cannot be made.
    pub fn sign(&self, text: &str) -> Result<String, KeyRefused> {
        let failed = |e: Error| KeyRefused::Failed(e.to_string());
        let made = self.0.sign(NAMESPACE, HashAlg::Sha512, text.as_bytes()).map_err(failed)?;
        let armoured = made.to_pem(LineEnding::LF).map_err(failed)?;
        check_signature(text.as_bytes(), armoured.as_bytes()).map_err(|e| KeyRefused::Failed(e.to_string()))?;
        Ok(armoured)
    }

    /// The public half.
    #[must_use]
    pub fn public(&self) -> &PublicKey {
        self.0.public_key()
    }
}

/// Kinds of key that sign from a file. RSA is left out on purpose: the library's RSA leaks by its timing
/// (RUSTSEC-2023-0071).
fn signs(algorithm: &Algorithm) -> bool {
    matches!(algorithm, Algorithm::Ed25519 | Algorithm::Ecdsa { curve: EcdsaCurve::NistP256 })
}

/// Why a signature does not hold, whoever made it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SignatureRefused {
    /// It is no signature of OpenSSH.
    #[error("the signature cannot be read ({0})")]
    Unreadable(String),
    /// It was made for another purpose.
    #[error("it was made for another purpose: its namespace is '{0}', not '{NAMESPACE}'")]
    Namespace(String),
    /// It was made with a kind of key that is not checked here.
    #[error(
        "it was made with a key of kind {0}, which is not checked here: check it with ssh-keygen -Y verify, or sign \
         again with an Ed25519 key"
    )]
    Kind(String),
    /// The statement's bytes are not those that were signed.
    #[error("the statement is not the one that was signed, or the signature was changed")]
    Mismatch,
}

/// Checks an armoured signature over a statement's bytes, and answers with the key it was made by. Whose key that is,
/// is for [`super::AllowedSigners`].
///
/// # Errors
/// What is wrong with it.
pub fn check_signature(statement: &[u8], armoured: &[u8]) -> Result<PublicKey, SignatureRefused> {
    let signature = SshSig::from_pem(armoured.trim_ascii_end()).or_else(|_| SshSig::from_pem(armoured));
    let signature = signature.map_err(|e| SignatureRefused::Unreadable(e.to_string()))?;
    // Version and lengths are not among what is signed: only the one form that OpenSSH writes counts.
    let solid = |text: &[u8]| text.iter().copied().filter(|b| !b.is_ascii_whitespace()).collect::<Vec<_>>();
    let again = signature.to_pem(LineEnding::LF).map_err(|e| SignatureRefused::Unreadable(e.to_string()))?;
    if signature.version() != SshSig::VERSION || solid(again.as_bytes()) != solid(armoured) {
        return Err(SignatureRefused::Unreadable("it is not in the form that OpenSSH writes".to_owned()));
    }
    if signature.namespace() != NAMESPACE {
        return Err(SignatureRefused::Namespace(shown(signature.namespace())));
    }
    let key = PublicKey::from(signature.public_key().clone());
    let kind = key.algorithm();
    if !signs(&kind) && !matches!(kind, Algorithm::SkEd25519 | Algorithm::SkEcdsaSha2NistP256) {
        return Err(SignatureRefused::Kind(shown(kind.as_str())));
    }
    key.verify(NAMESPACE, statement, &signature).map_err(|_| SignatureRefused::Mismatch)?;
    Ok(key)
}

#[cfg(test)]
mod tests {
    use super::super::statement::tests::statement;
    use super::*;
    use ssh_key::private::{Ed25519Keypair, KeypairData};

    fn key(seed: u8) -> PrivateKey {
        PrivateKey::new(KeypairData::Ed25519(Ed25519Keypair::from_seed(&[seed; 32])), "test").unwrap()
    }

    fn signer(seed: u8) -> SignerKey {
        SignerKey::read(key(seed).to_openssh(LineEnding::LF).unwrap().as_bytes(), None).unwrap()
    }

    #[test]
    fn a_signature_holds_for_its_bytes_and_names_its_key() {
        let text = statement().text();
        let armoured = signer(1).sign(&text).unwrap();
        assert_eq!(
            check_signature(text.as_bytes(), armoured.as_bytes()).unwrap().key_data(),
            key(1).public_key().key_data()
        );
        // Ed25519 is deterministic: RFC 8032.
        assert_eq!(signer(1).sign(&text).unwrap(), armoured);
        for at in 0..text.len() {
            let mut changed = text.clone().into_bytes();
            changed[at] ^= 1;
            assert_eq!(check_signature(&changed, armoured.as_bytes()), Err(SignatureRefused::Mismatch), "byte {at}");
        }
    }

    #[test]
    fn a_changed_signature_is_refused() {
        let text = statement().text();
        let armoured = signer(1).sign(&text).unwrap();
        let body = armoured.find('\n').unwrap() + 1..armoured.rfind("\n-----END").unwrap();
        for at in body {
            let mut changed = armoured.clone().into_bytes();
            if changed[at] == b'\n' {
                continue;
            }
            changed[at] = if changed[at] == b'A' { b'B' } else { b'A' };
            assert!(check_signature(text.as_bytes(), &changed).is_err(), "byte {at}");
        }
        assert!(matches!(check_signature(text.as_bytes(), b""), Err(SignatureRefused::Unreadable(_))));
    }

    #[test]
    fn a_signature_for_another_purpose_does_not_count() {
        let text = statement().text();
        let other = key(1).sign("file", HashAlg::Sha512, text.as_bytes()).unwrap().to_pem(LineEnding::LF).unwrap();
        assert_eq!(
            check_signature(text.as_bytes(), other.as_bytes()),
            Err(SignatureRefused::Namespace("file".to_owned()))
        );
    }

    #[test]
    fn what_is_no_private_key_is_told_apart() {
        let refused = |text: &str| SignerKey::read(text.as_bytes(), None).err().unwrap();
        assert_eq!(refused(&key(1).public_key().to_openssh().unwrap()), KeyRefused::Public);
        assert!(matches!(refused("hello"), KeyRefused::NoKey(_)));
        assert!(matches!(refused(""), KeyRefused::NoKey(_)));
    }
}
