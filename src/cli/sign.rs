//! `fadewright sign`: a person's signature over a closed session.

use super::Common;
use super::calc::given::{by, word};
use super::follow_up::{beside as follow_ups_beside, whole};
use super::output::{CliError, answer};
use super::passphrase;
use super::sessions::find;
use super::signatures::{beside, follow_ups_now, journal_now, read_small, signature_path, statement_path};
use crate::clock::{Clock, SystemClock};
use crate::journal::{JournalError, keep_new, verify_file};
use crate::session::CodeOfPerson;
use crate::signoff::{KeyRefused, Meaning, NAMESPACE, SignerKey, Statement, check_signature};
use crate::text::wrapped;
use clap::{ArgGroup, Args};
use serde::Serialize;
use ssh_key::HashAlg;
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Arguments of `sign`.
#[derive(Debug, Args)]
#[command(group = ArgGroup::new("how").required(true).args(["key", "by_hand", "signature"]))]
pub struct SignArgs {
    /// Session id, its beginning, or a journal file; the session must be closed.
    session: String,
    /// Your private OpenSSH key, Ed25519 or ECDSA P-256; its passphrase is asked for.
    #[arg(long, value_name = "FILE", requires = "signer", requires = "meaning")]
    key: Option<PathBuf>,
    /// Write the statement only, and print the ssh-keygen command that signs it: for keys on a token or in an agent.
    #[arg(long, requires = "signer", requires = "meaning")]
    by_hand: bool,
    /// Take a signature that ssh-keygen -Y sign made of a statement written with --by-hand.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["signer", "meaning"])]
    signature: Option<PathBuf>,
    /// Your code, such as OP-1; never a name.
    #[arg(long = "as", id = "signer", value_name = "CODE", value_parser = by(|text: &str| text.parse::<CodeOfPerson>()))]
    signer: Option<CodeOfPerson>,
    /// What you mean by it: performed, reviewed or corrected.
    #[arg(long, value_name = "WORD", value_parser = word::<Meaning>())]
    meaning: Option<Meaning>,
    /// Print JSON.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Serialize)]
struct Done {
    session: String,
    signed: bool,
    number: u32,
    statement: PathBuf,
    signature: PathBuf,
    signer: String,
    meaning: String,
    at: String,
    /// The key that signed, or none where it is still to be signed.
    key: Option<String>,
    namespace: &'static str,
    /// The statement's text.
    #[serde(skip)]
    text: String,
    /// The command that signs by hand.
    #[serde(skip_serializing_if = "Option::is_none")]
    command: Option<String>,
}

pub(super) fn run(common: &Common, args: &SignArgs) -> Result<ExitCode, CliError> {
    let path = find(common, &args.session)?;
    let (state, head) = whole(&path)?;
    if state.opened.practice.is_some() {
        return Err(CliError::No(
            "this is a PRACTICE session on simulated skin: nobody was treated, there is nothing to sign".to_owned(),
        ));
    }
    let Some(closed) = &state.closed else {
        return Err(CliError::No(
            "the session is not closed; take it up with fadewright resume, close it, then sign".to_owned(),
        ));
    };
    let report = verify_file(&path)?;
    if !report.is_ok() {
        return Err(CliError::No(format!(
            "{}: {} free texts were altered; nothing is signed: compare the notes file with the backup",
            path.display(),
            report.notes.altered
        )));
    }
    let after = follow_ups_beside(&path, Some(head))?;
    if let Some(found) = after.as_ref().filter(|f| !f.report.is_ok()) {
        return Err(CliError::No(format!(
            "{}: {}; nothing is signed: compare the follow-ups with the backup",
            found.report.path.display(),
            found.report.verdict
        )));
    }
    let now = SystemClock::new().now().wall;
    if now.timestamp() < closed.at.timestamp() {
        return Err(CliError::Bad(format!(
            "the session was closed at {}, which is not yet there: set the computer's clock, then sign",
            closed.at.to_rfc3339()
        )));
    }
    let journal = journal_now(&report).ok_or_else(|| CliError::No(format!("{}: cannot be read", path.display())))?;
    let covered = follow_ups_now(after.as_ref(), after.as_ref().map_or(0, |f| f.report.records));
    if let Some(file) = &args.signature {
        let still =
            |s: &Statement| s.changes(&report.id, &journal, |signed| follow_ups_now(after.as_ref(), signed.events));
        let done = take(&path, &report.id, file, &still)?;
        answer(&done, args.json, words)?;
        return Ok(ExitCode::SUCCESS);
    }
    let (Some(signer), Some(meaning)) = (&args.signer, args.meaning) else {
        return Err(CliError::Bad("--as and --meaning are needed to sign".to_owned()));
    };
    let statement = Statement::new(report.id.clone(), journal, covered, signer.clone(), meaning, now);
    refuse_twice(&path, &statement)?;
    let text = statement.text();
    // Signed before anything is written: a wrong key leaves nothing behind.
    let signed = match &args.key {
        Some(file) => {
            let key = read_key(file)?;
            let armoured = key.sign(&text).map_err(|e| CliError::No(format!("{}: {e}", file.display())))?;
            Some((armoured, key.public().fingerprint(HashAlg::Sha256).to_string()))
        }
        None => None,
    };
    let number = keep_statement(&path, &report.id, &text)?;
    let mut done = described(&path, number, &statement);
    if let Some((armoured, print)) = signed {
        keep_new(&done.signature, armoured.as_bytes())?;
        done.signed = true;
        done.key = Some(print);
        done.command = None;
    }
    answer(&done, args.json, words)?;
    Ok(ExitCode::SUCCESS)
}

fn described(path: &Path, number: u32, statement: &Statement) -> Done {
    let file = statement_path(path, number);
    Done {
        session: statement.session.to_string(),
        signed: false,
        number,
        signature: signature_path(path, number),
        signer: statement.signer.to_string(),
        meaning: statement.meaning.to_string(),
        at: statement.at.to_rfc3339(),
        key: None,
        namespace: NAMESPACE,
        text: statement.text(),
        command: Some(format!("ssh-keygen -Y sign -f KEY -n {NAMESPACE} {}", quoted(&file))),
        statement: file,
    }
}

/// A path as a shell takes it.
fn quoted(path: &Path) -> String {
    format!("'{}'", path.display().to_string().replace('\'', r"'\''"))
}

fn words(done: &Done) -> String {
    let mut lines = Vec::new();
    if done.signed {
        lines.push(format!("Signed {}: {} {}, {}", done.session, done.signer, done.meaning, done.at));
        lines.push(format!("  statement {}", done.statement.display()));
        lines.push(format!("  signature {}", done.signature.display()));
        lines.extend(done.key.iter().map(|k| format!("  key {k}")));
        lines.push("Check it with fadewright verify, or with OpenSSH alone:".to_owned());
        lines.push(format!(
            "  ssh-keygen -Y verify -f ALLOWED_SIGNERS -I {} -n {NAMESPACE} \\\n    -s {} < {}",
            done.signer,
            quoted(&done.signature),
            quoted(&done.statement)
        ));
    } else {
        lines.push("NOT SIGNED YET. This statement was written; read it:".to_owned());
        lines.extend(done.text.lines().map(|l| format!("  {l}")));
        lines.push("Sign it with your key, then bring the signature in:".to_owned());
        lines.extend(done.command.iter().map(|c| format!("  {c}")));
        lines.push(format!(
            "  fadewright sign {} --signature {}",
            done.session,
            quoted(&done.statement.with_extension("json.sig"))
        ));
    }
    let time = "The time is your computer's. The signature shows that the holder of the key signed these bytes; it is \
                worth as much as the key is kept.";
    lines.extend(wrapped(time, 80));
    lines.join("\n")
}

/// The same signer does not sign the same bytes with the same meaning twice.
fn refuse_twice(path: &Path, statement: &Statement) -> Result<(), CliError> {
    for (n, files) in beside(path, &statement.session)? {
        let read = files.statement.and_then(|p| read_small(&p).ok()).and_then(|b| Statement::parse(&b).ok());
        let Some(before) = read else { continue };
        let same = (&before.journal, &before.follow_ups, &before.signer, before.meaning)
            == (&statement.journal, &statement.follow_ups, &statement.signer, statement.meaning);
        if same {
            let (what, next) = if files.signature.is_some() {
                ("signed", "nothing was added; check it with fadewright verify")
            } else {
                ("written to be signed", "bring its signature in with --signature, or remove its statement first")
            };
            return Err(CliError::No(format!(
                "the same is {what} already: number {n}, {} {} at {}; {next}",
                before.signer,
                before.meaning,
                before.at.to_rfc3339()
            )));
        }
    }
    Ok(())
}

/// Writes the statement under the next number.
fn keep_statement(path: &Path, id: &crate::journal::SessionId, text: &str) -> Result<u32, CliError> {
    // Somebody else may sign at the same time and take the number.
    for _ in 0..100 {
        let number = beside(path, id)?.keys().last().copied().unwrap_or(0).saturating_add(1);
        match keep_new(&statement_path(path, number), text.as_bytes()) {
            Ok(()) => return Ok(number),
            Err(JournalError::Exists { .. }) => {}
            Err(e) => return Err(e.into()),
        }
    }
    Err(CliError::Bad(format!("{}: no number is free for a signature beside it", path.display())))
}

fn read_key(file: &Path) -> Result<SignerKey, CliError> {
    let bad = |why: String| CliError::Bad(format!("--key {}: {why}", file.display()));
    let data = std::fs::metadata(file).map_err(|e| bad(e.to_string()))?;
    if !data.is_file() || data.len() > 64 * 1024 {
        return Err(bad("is no key file".to_owned()));
    }
    let text = zeroize::Zeroizing::new(std::fs::read(file).map_err(|e| bad(e.to_string()))?);
    let refused = |e: KeyRefused| match e {
        KeyRefused::Public | KeyRefused::NoKey(_) | KeyRefused::Kind(_) => bad(e.to_string()),
        other => CliError::No(format!("--key {}: {other}; nothing was signed", file.display())),
    };
    // As OpenSSH does: a key that others can read is nobody's alone. Of a public key the kind is what is told.
    let read = SignerKey::read(&text, None);
    if !matches!(read, Err(KeyRefused::Public | KeyRefused::NoKey(_))) && data.mode() & 0o077 != 0 {
        return Err(bad(format!(
            "other users can read this key (mode {:03o}); if it is still yours alone, correct it with chmod 600",
            data.mode() & 0o777
        )));
    }
    match read {
        Err(KeyRefused::Locked) => {
            let words =
                passphrase::ask(&format!("Passphrase of {}: ", crate::text::shown(&file.display().to_string())))
                    .map_err(|e| {
                        bad(format!(
                            "the key is encrypted and there is no terminal to ask for its passphrase ({e}); sign with \
                         --by-hand and ssh-keygen -Y sign"
                        ))
                    })?
                    .ok_or_else(|| CliError::No("no passphrase was given; nothing was signed".to_owned()))?;
            SignerKey::read(&text, Some(&words)).map_err(refused)
        }
        other => other.map_err(refused),
    }
}

/// Brings a signature made by hand beside its statement.
fn take(
    path: &Path,
    id: &crate::journal::SessionId,
    file: &Path,
    changes: &dyn Fn(&Statement) -> Vec<String>,
) -> Result<Done, CliError> {
    let armoured = read_small(file).map_err(|e| CliError::Bad(format!("--signature {}: {e}", file.display())))?;
    let mut why = None;
    for (n, files) in beside(path, id)? {
        let (Some(at), None) = (files.statement, files.signature) else { continue };
        let Ok(text) = read_small(&at) else { continue };
        let Ok(statement) = Statement::parse(&text) else { continue };
        match check_signature(&text, &armoured) {
            Err(e) => why = Some(e.to_string()),
            Ok(key) => {
                let changed = changes(&statement);
                if !changed.is_empty() {
                    return Err(CliError::No(format!("statement {n}: changed since: {}", changed.join("; "))));
                }
                let mut done = described(path, n, &statement);
                keep_new(&done.signature, &armoured)?;
                done.signed = true;
                done.key = Some(key.fingerprint(HashAlg::Sha256).to_string());
                done.command = None;
                return Ok(done);
            }
        }
    }
    Err(match why {
        Some(why) => CliError::No(format!("--signature {}: {why}; nothing was taken", file.display())),
        None => CliError::No(
            "no statement waits for a signature; write one first with --by-hand, --as and --meaning".to_owned(),
        ),
    })
}
