//! Signatures beside a journal: finding them, and what each is worth.

use super::files::in_config_dir;
use super::follow_up::Found;
use super::output::CliError;
use crate::clock::moment_of_local;
use crate::journal::{Digest, SessionId, VerifyReport};
use crate::session::CodeOfPerson;
use crate::signoff::{AllowedSigners, Covered, SignatureRefused, Standing, Statement, check_signature};
use crate::source::{Problem, Problems, read_file};
use crate::text::shown;
use chrono::{DateTime, FixedOffset};
use serde::Serialize;
use ssh_key::HashAlg;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Larger than any statement or signature.
const LARGEST: u64 = 64 * 1024;
/// The allowed signers of the clinic, in the config directory.
const ALLOWED: &str = "allowed_signers";

/// The statement and the signature of one number.
#[derive(Debug, Default)]
pub(super) struct Files {
    pub statement: Option<PathBuf>,
    pub signature: Option<PathBuf>,
}

/// `<id>.<n>.sig.json`, the statement.
pub(super) fn statement_path(journal: &Path, n: u32) -> PathBuf {
    journal.with_extension(format!("{n}.sig.json"))
}

/// `<id>.<n>.sig`, the signature.
pub(super) fn signature_path(journal: &Path, n: u32) -> PathBuf {
    journal.with_extension(format!("{n}.sig"))
}

/// What lies beside a journal, by number.
pub(super) fn beside(journal: &Path, id: &SessionId) -> Result<BTreeMap<u32, Files>, CliError> {
    let dir = match journal.parent() {
        Some(dir) if !dir.as_os_str().is_empty() => dir,
        _ => Path::new("."),
    };
    let failed = |e: std::io::Error| CliError::Bad(format!("{}: cannot read the directory: {e}", dir.display()));
    let mut found: BTreeMap<u32, Files> = BTreeMap::new();
    for entry in std::fs::read_dir(dir).map_err(failed)? {
        let path = entry.map_err(failed)?.path();
        let name = path.file_name().and_then(|n| n.to_str()).unwrap_or_default();
        let Some(rest) = name.strip_prefix(id.as_str()).and_then(|n| n.strip_prefix('.')) else { continue };
        let Some((number, kind)) = rest.split_once('.') else { continue };
        // One spelling for each number: no leading zeros or signs.
        let Some(n) = number.parse::<u32>().ok().filter(|n| n.to_string() == number) else { continue };
        match kind {
            "sig.json" => found.entry(n).or_default().statement = Some(path),
            "sig" => found.entry(n).or_default().signature = Some(path),
            _ => {}
        }
    }
    Ok(found)
}

/// Reads a small plain file; a link or a pipe in its place is refused.
pub(super) fn read_small(path: &Path) -> Result<Vec<u8>, String> {
    let data = path.symlink_metadata().map_err(|e| e.to_string())?;
    if !data.is_file() {
        return Err("is a link or a special file, not a plain one".to_owned());
    }
    if data.len() > LARGEST {
        return Err(format!("is {} bytes long, too long for what it should be", data.len()));
    }
    std::fs::read(path).map_err(|e| e.to_string())
}

/// What a statement beside a journal says.
#[derive(Debug, Serialize)]
pub struct SignOff {
    /// Its number.
    pub signature: u32,
    /// Who.
    pub signer: String,
    /// What for.
    pub meaning: String,
    /// When, by the signer's own clock, RFC 3339.
    pub at: String,
    /// False while there is no signature.
    pub signed: bool,
}

/// The statements beside a journal that can be read, as they stand; nothing is checked.
pub(super) fn sign_offs(journal: &Path, id: &SessionId) -> Result<Vec<SignOff>, CliError> {
    let read = |(n, files): (u32, Files)| {
        let statement = Statement::parse(&read_small(files.statement.as_deref()?).ok()?).ok()?;
        Some(SignOff {
            signature: n,
            signer: statement.signer.to_string(),
            meaning: statement.meaning.to_string(),
            at: statement.at.to_rfc3339(),
            signed: files.signature.is_some(),
        })
    };
    Ok(beside(journal, id)?.into_iter().filter_map(read).collect())
}

/// The file of allowed signers in force, and its path.
pub(super) struct Allowed {
    pub path: PathBuf,
    pub signers: AllowedSigners,
}

/// Reads the file that was named, else the one in the config directory; none where there is neither.
pub(super) fn allowed(given: Option<&PathBuf>) -> Result<Option<Allowed>, CliError> {
    let Some(path) = given.cloned().or_else(|| in_config_dir(ALLOWED)) else { return Ok(None) };
    let text = read_file(&path)?;
    let signers = AllowedSigners::parse(text.text(), &moment_of_local).map_err(|mistakes| {
        let name = path.display().to_string();
        let all = mistakes.into_iter().map(|m| Problem::at(&name, m.line, 1, "", &m.message)).collect();
        Problems::of(all).map_or_else(|| CliError::Bad(format!("{name}: cannot be read")), CliError::Problems)
    })?;
    Ok(Some(Allowed { path, signers }))
}

/// How a signature stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum Status {
    Valid,
    UnknownSigner,
    Expired,
    NotYetValid,
    NotForSignOff,
    WrongNamespace,
    JournalChanged,
    Broken,
    NotSigned,
}

/// One signature and what it is worth.
#[derive(Debug, Serialize)]
pub(super) struct Signature {
    /// Its number.
    pub signature: u32,
    /// The statement's file.
    pub statement: Option<PathBuf>,
    /// Who it says signed.
    pub signer: Option<String>,
    /// What the signer meant.
    pub meaning: Option<String>,
    /// When, by the signer's own clock.
    pub at: Option<DateTime<FixedOffset>>,
    /// Fingerprint of the key.
    pub key: Option<String>,
    /// Follow-ups that the statement covers.
    pub follow_ups_covered: u64,
    pub status: Status,
    /// In words.
    pub message: String,
}

impl Signature {
    pub fn is_valid(&self) -> bool {
        self.status == Status::Valid
    }

    /// One line for a person.
    pub fn line(&self) -> String {
        let word = if self.is_valid() { "signed" } else { "NOT VALID:" };
        let who = match (&self.signer, &self.meaning, &self.at) {
            (Some(signer), Some(meaning), Some(at)) => {
                format!("{signer} {meaning} on {}", at.format("%Y-%m-%d %H:%M %:z"))
            }
            _ => "no readable statement".to_owned(),
        };
        format!("{word} {}: {who}: {}", self.signature, self.message)
    }
}

/// The journal as a statement has it; none where nothing in it is sound.
pub(super) fn journal_now(report: &VerifyReport) -> Option<Covered> {
    let bytes = std::fs::read(&report.path).ok()?;
    Some(covered(&report.path, report.records, report.head?, &bytes))
}

/// The first `events` follow-ups as a statement has them; none where there are not so many.
pub(super) fn follow_ups_now(found: Option<&Found>, events: u64) -> Option<Covered> {
    let report = &found?.report;
    let at = usize::try_from(events.checked_sub(1)?).ok()?;
    let &(head, length) = report.ends.get(at)?;
    let bytes = std::fs::read(&report.path).ok()?;
    let signed = bytes.get(..usize::try_from(length).ok()?)?;
    Some(covered(&report.path, events, head, signed))
}

fn covered(path: &Path, events: u64, head: Digest, bytes: &[u8]) -> Covered {
    Covered {
        file: path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default(),
        events,
        head,
        bytes: u64::try_from(bytes.len()).unwrap_or(u64::MAX),
        sha256: Digest::of(&[bytes]),
    }
}

/// Checks every signature beside a journal.
pub(super) fn check_all(
    report: &VerifyReport,
    follow_ups: Option<&Found>,
    allowed: Option<&Allowed>,
    now: DateTime<FixedOffset>,
) -> Result<Vec<Signature>, CliError> {
    let found = beside(&report.path, &report.id)?;
    Ok(found.into_iter().map(|(n, files)| check(n, &files, report, follow_ups, allowed, now)).collect())
}

fn check(
    n: u32,
    files: &Files,
    report: &VerifyReport,
    follow_ups: Option<&Found>,
    allowed: Option<&Allowed>,
    now: DateTime<FixedOffset>,
) -> Signature {
    let mut out = Signature {
        signature: n,
        statement: files.statement.clone(),
        signer: None,
        meaning: None,
        at: None,
        key: None,
        follow_ups_covered: 0,
        status: Status::Broken,
        message: String::new(),
    };
    match judge(&mut out, files, report, follow_ups, allowed, now) {
        Ok(message) => {
            out.status = Status::Valid;
            out.message = message;
        }
        Err((status, message)) => {
            out.status = status;
            out.message = message;
        }
    }
    out
}

fn judge(
    out: &mut Signature,
    files: &Files,
    report: &VerifyReport,
    follow_ups: Option<&Found>,
    allowed: Option<&Allowed>,
    now: DateTime<FixedOffset>,
) -> Result<String, (Status, String)> {
    let broken = |why: String| (Status::Broken, why);
    let Some(path) = &files.statement else {
        return Err(broken("its statement is missing: bring it back from a copy".to_owned()));
    };
    let text = read_small(path).map_err(|e| broken(format!("its statement {e}")))?;
    let statement = Statement::parse(&text).map_err(|e| broken(format!("its file {e}")))?;
    out.signer = Some(statement.signer.to_string());
    out.meaning = Some(statement.meaning.to_string());
    out.at = Some(statement.at);
    out.follow_ups_covered = statement.follow_ups.as_ref().map_or(0, |f| f.events);
    let Some(signature) = &files.signature else {
        let todo = "only prepared, not signed: sign it with ssh-keygen -Y sign and bring the signature in with \
                    fadewright sign --signature, or remove its statement";
        return Err((Status::NotSigned, todo.to_owned()));
    };
    let armoured = read_small(signature).map_err(|e| broken(format!("its signature {e}")))?;
    let key = check_signature(&text, &armoured).map_err(|e| match e {
        SignatureRefused::Namespace(_) => (Status::WrongNamespace, e.to_string()),
        other => broken(other.to_string()),
    })?;
    out.key = Some(key.fingerprint(HashAlg::Sha256).to_string());
    let changes = match journal_now(report) {
        Some(journal) => statement.changes(&report.id, &journal, |signed| follow_ups_now(follow_ups, signed.events)),
        None => vec!["nothing of the journal that was signed can be read".to_owned()],
    };
    if !changes.is_empty() {
        return Err((Status::JournalChanged, format!("CHANGED SINCE: {}", changes.join("; "))));
    }
    if report.last_at.is_some_and(|closed| statement.at.timestamp() < closed.timestamp()) {
        return Err(broken(
            "it says it was signed before the session was closed: a clock was wrong, or it lies".to_owned(),
        ));
    }
    if statement.at > now + chrono::Duration::days(1) {
        return Err(broken("it says it was signed in the future: a clock was wrong, or it lies".to_owned()));
    }
    let known = stands(allowed, &statement.signer, &key, statement.at, now)?;
    let all = follow_ups.map_or(0, |f| f.report.records);
    let covers = match (out.follow_ups_covered, all) {
        (_, 0) => String::new(),
        (some, all) if some == all => format!(", with all {all} follow-ups"),
        (some, all) => format!(", with {some} of {all} follow-ups: those added since are not signed"),
    };
    Ok(format!("valid, {known}{covers}"))
}

/// Whose key it is.
fn stands(
    allowed: Option<&Allowed>,
    signer: &CodeOfPerson,
    key: &ssh_key::PublicKey,
    at: DateTime<FixedOffset>,
    now: DateTime<FixedOffset>,
) -> Result<String, (Status, String)> {
    let print = key.fingerprint(HashAlg::Sha256);
    let Some(allowed) = allowed else {
        return Err((
            Status::UnknownSigner,
            format!(
                "unknown signer: the bytes are as they were signed by key {print}, but nobody says whose it is; give \
                 --allowed-signers FILE, or put {ALLOWED} in the config directory"
            ),
        ));
    };
    let file = allowed.path.display();
    let day = |t: DateTime<FixedOffset>| t.format("%Y-%m-%d %H:%M %:z").to_string();
    match allowed.signers.standing(signer, key, at) {
        Standing::Known { line, until } => {
            let since = until
                .filter(|until| now > *until)
                .map(|until| format!("; the key has expired since, on {}", day(until)))
                .unwrap_or_default();
            Ok(format!("key of {signer} by line {line} of {}{since}", shown(&file.to_string())))
        }
        Standing::UnknownKey => Err((
            Status::UnknownSigner,
            format!("unknown signer: {file} does not name key {print}; add its line if it is right"),
        )),
        Standing::OtherSigner { principals } => Err((
            Status::UnknownSigner,
            format!("unknown signer: by {file} key {print} is that of {principals}, not of {signer}"),
        )),
        Standing::NotForThis { line } => Err((
            Status::NotForSignOff,
            format!("line {line} of {file} does not allow the key for namespace {}", crate::signoff::NAMESPACE),
        )),
        Standing::NotYet { line, from } => Err((
            Status::NotYetValid,
            format!("when it was signed, the key was not valid yet: line {line} of {file} says from {}", day(from)),
        )),
        Standing::Expired { line, until } => Err((
            Status::Expired,
            format!("when it was signed, the key had expired: line {line} of {file} says until {}", day(until)),
        )),
    }
}
