//! Signatures that OpenSSH checks, and signatures that OpenSSH makes.

use super::closed::{ID, closed, flip};
use fadewright::signoff::{KeyRefused, NAMESPACE, SignerKey};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

const KEYGEN: &str = "ssh-keygen";

fn keygen(args: &[&str], input: Option<&Path>) -> Output {
    let stdin = input.map_or_else(Stdio::null, |path| std::fs::File::open(path).unwrap().into());
    let output = Command::new(KEYGEN).args(args).stdin(stdin).output();
    output.unwrap_or_else(|e| panic!("{KEYGEN} is missing ({e}): install openssh-client, these tests need it"))
}

fn fadewright(home: &Path, args: &[&str]) -> (i32, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_fadewright"))
        .args(args)
        .env_clear()
        .env("HOME", home)
        .env("FADEWRIGHT_DATA", home.join("data"))
        .stdin(Stdio::null())
        .output()
        .unwrap();
    let text = [output.stdout, output.stderr].concat();
    (output.status.code().unwrap(), String::from_utf8(text).unwrap())
}

/// A closed session, a key of the kind that OpenSSH made, and a file of allowed signers.
struct Scene {
    home: tempfile::TempDir,
    journal: PathBuf,
    key: String,
    allowed: String,
}

impl Scene {
    fn new(kind: &[&str], options: &str) -> Self {
        let home = tempfile::tempdir().unwrap();
        let journal = closed(home.path());
        let key = home.path().join("key").display().to_string();
        let made = keygen(&[&["-q", "-N", "", "-C", "test", "-f", &key], kind].concat(), None);
        assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
        let public = std::fs::read_to_string(format!("{key}.pub")).unwrap();
        let allowed = home.path().join("allowed").display().to_string();
        std::fs::write(&allowed, format!("OP-1 {options} {public}")).unwrap();
        Self { home, journal, key, allowed }
    }

    fn statement(&self) -> PathBuf {
        self.journal.with_extension("1.sig.json")
    }

    fn signature(&self) -> PathBuf {
        self.journal.with_extension("1.sig")
    }

    fn sign(&self) {
        let args = ["sign", ID, "--key", &self.key, "--as", "OP-1", "--meaning", "performed"];
        let (code, words) = fadewright(self.home.path(), &args);
        assert_eq!(code, 0, "{words}");
    }

    /// Whether ours and theirs take the signature.
    fn both(&self) -> (bool, bool) {
        let (code, words) = fadewright(self.home.path(), &["verify", ID, "--allowed-signers", &self.allowed]);
        assert!(code <= 1, "{words}");
        let signature = self.signature().display().to_string();
        let args = ["-Y", "verify", "-f", &self.allowed, "-I", "OP-1", "-n", NAMESPACE, "-s", &signature];
        (code == 0, keygen(&args, Some(&self.statement())).status.success())
    }
}

const KINDS: [&[&str]; 2] = [&["-t", "ed25519"], &["-t", "ecdsa", "-b", "256"]];

#[test]
fn openssh_takes_what_is_signed_here_and_both_refuse_a_flipped_byte() {
    for kind in KINDS {
        let scene = Scene::new(kind, "");
        scene.sign();
        assert_eq!(scene.both(), (true, true), "{kind:?}");
        let text = std::fs::read_to_string(scene.statement()).unwrap();
        for at in [0, text.find("OP-1").unwrap() + 3, text.find("sha256").unwrap() + 12, text.len() - 2] {
            flip(&scene.statement(), at);
            assert_eq!(scene.both(), (false, false), "{kind:?}: statement, byte {at}");
            flip(&scene.statement(), at);
        }
        let armoured = std::fs::read_to_string(scene.signature()).unwrap();
        let body = armoured.find('\n').unwrap() + 1;
        for at in [body + 2, body + 60, armoured.len() / 2 + 3, armoured.rfind("\n-----END").unwrap() - 12] {
            flip(&scene.signature(), at);
            assert_eq!(scene.both(), (false, false), "{kind:?}: signature, byte {at}");
            flip(&scene.signature(), at);
        }
        assert_eq!(scene.both(), (true, true), "{kind:?}: as it was");
        // OpenSSH sees the statement alone; that the journal is the one it names is for a hash to show.
        flip(&scene.journal, 400);
        assert_eq!(scene.both(), (false, true), "{kind:?}: journal");
        let sha256 = fadewright::journal::Digest::of_reader(std::fs::File::open(&scene.journal).unwrap()).unwrap();
        assert!(!text.contains(&sha256.to_string()), "the statement names the journal's hash as it was");
    }
}

#[test]
fn what_openssh_signs_is_taken_here() {
    for kind in KINDS {
        let scene = Scene::new(kind, &format!("namespaces=\"{NAMESPACE}\",valid-after=\"20240101Z\""));
        let args = ["sign", ID, "--by-hand", "--as", "OP-1", "--meaning", "reviewed"];
        let (code, words) = fadewright(scene.home.path(), &args);
        assert_eq!(code, 0, "{words}");
        // The very command that was printed, with the key put in.
        let command = words.lines().find(|l| l.trim().starts_with("ssh-keygen -Y sign")).unwrap();
        let signed = Command::new("sh").arg("-c").arg(command.replace(" KEY ", &format!(" '{}' ", scene.key))).output();
        assert!(signed.unwrap().status.success(), "{command}");
        let take = words.lines().find(|l| l.trim().starts_with("fadewright sign")).unwrap();
        let made = take.split('\'').nth(1).unwrap();
        let (code, words) = fadewright(scene.home.path(), &["sign", ID, "--signature", made]);
        assert_eq!(code, 0, "{words}");
        assert_eq!(scene.both(), (true, true), "{kind:?}");
    }
}

#[test]
fn who_may_sign_for_what_and_when_is_judged_as_openssh_does() {
    for (options, takes) in [
        ("", true),
        ("namespaces=\"sign-off@fadewright.invalid\"", true),
        ("namespaces=\"file,sign-off@*\"", true),
        ("namespaces=\"file\"", false),
        ("valid-after=\"20240301Z\",valid-before=\"29990101\"", true),
        ("valid-before=\"20240301\"", false),
        ("valid-after=\"29990101Z\"", false),
        ("cert-authority", false),
    ] {
        let scene = Scene::new(KINDS[0], options);
        scene.sign();
        assert_eq!(scene.both(), (takes, takes), "{options}");
    }
    let scene = Scene::new(KINDS[0], "");
    scene.sign();
    let file = std::fs::read_to_string(&scene.allowed).unwrap();
    for (principals, takes) in
        [("OP-*", true), ("SV-1,OP-1", true), ("!OP-1,*", false), ("OP-1?", false), ("OP-2", false)]
    {
        std::fs::write(&scene.allowed, file.replacen("OP-1", principals, 1)).unwrap();
        assert_eq!(scene.both(), (takes, takes), "{principals}");
    }
}

#[test]
fn a_key_that_openssh_encrypted_opens_with_its_passphrase_and_rsa_is_refused() {
    let scene = Scene::new(KINDS[0], "");
    let args = ["-q", "-p", "-P", "", "-N", "open sesame", "-f", &scene.key];
    assert!(keygen(&args, None).status.success());
    let text = std::fs::read(&scene.key).unwrap();
    let read = |words| SignerKey::read(&text, words).map(|key| key.public().comment().to_owned());
    assert_eq!(read(None), Err(KeyRefused::Locked));
    assert_eq!(read(Some("open says me")), Err(KeyRefused::WrongPassphrase));
    assert_eq!(read(Some("open sesame")), Ok("test".to_owned()));
    let scene = Scene::new(&["-t", "rsa", "-b", "2048"], "");
    let args = ["sign", ID, "--key", &scene.key, "--as", "OP-1", "--meaning", "performed"];
    let (code, words) = fadewright(scene.home.path(), &args);
    assert_eq!(code, 2);
    assert!(words.contains("ssh-rsa keys cannot sign here: use an Ed25519 key"), "{words}");
}
