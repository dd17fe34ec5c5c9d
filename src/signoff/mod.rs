//! Sign-off: a person's signature over a closed session.
//!
//! What is signed is a short [`Statement`]: the session, the journal's length and hashes, the same of its follow-ups,
//! who signs, what they mean by it and when. The signature is an OpenSSH one (SSHSIG) in the namespace [`NAMESPACE`], so
//! that `ssh-keygen -Y verify` checks it without this program:
//!
//! ```text
//! ssh-keygen -Y verify -f allowed_signers -I OP-1 -n sign-off@fadewright.invalid \
//!     -s 20261124-224801-7K3M9Q.1.sig < 20261124-224801-7K3M9Q.1.sig.json
//! ```
//!
//! Whose key counts as whose is told by an OpenSSH file of [`AllowedSigners`]. The hash chain of a journal alone is no
//! proof against someone who can rewrite it; a signature is one against all who have not the key. The time is the
//! signer's own word.

mod allowed;
mod key;
mod statement;

pub use allowed::{AllowedSigners, Mistake, Standing};
pub use key::{KeyRefused, SignatureRefused, SignerKey, check_signature};
pub use statement::{Covered, Meaning, Statement};

/// The namespace of all signatures made here, so that none can be taken for one made for another purpose. The domain
/// belongs to nobody (RFC 2606).
pub const NAMESPACE: &str = "sign-off@fadewright.invalid";
