//! `fadewright verify`: the chain of journals, and the day book where no journal is named.

use super::Common;
use super::files::data_root;
use super::follow_up::beside;
use super::output::{CliError, print, print_json};
use super::sessions::find;
use super::signatures::{Signature, allowed, check_all};
use crate::clock::{Clock, SystemClock};
use crate::journal::{DataDir, FollowUpReport, VerifyReport, daybook, verify_file};
use crate::source::Problem;
use crate::text::shown;
use clap::Args;
use serde::Serialize;
use std::path::PathBuf;
use std::process::ExitCode;

/// Arguments of `verify`.
#[derive(Debug, Args)]
pub struct VerifyArgs {
    /// Session ids, their beginnings, or journal files. None: every session of the data directory and its day book.
    sessions: Vec<String>,
    /// OpenSSH file of who may sign with which key [default: allowed_signers in the config directory].
    #[arg(long, value_name = "FILE")]
    allowed_signers: Option<PathBuf>,
    /// A session without a valid signature is a problem, too.
    #[arg(long)]
    signed: bool,
    /// Print JSON.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Serialize)]
struct Report {
    ok: bool,
    problems: Vec<Problem>,
    sessions: Vec<Checked>,
}

/// One session with what lies beside it.
#[derive(Debug, Serialize)]
struct Checked {
    #[serde(flatten)]
    journal: VerifyReport,
    follow_ups: Option<FollowUpReport>,
    signatures: Vec<Signature>,
}

impl Checked {
    fn is_ok(&self) -> bool {
        self.journal.is_ok()
            && self.follow_ups.as_ref().is_none_or(FollowUpReport::is_ok)
            && self.signatures.iter().all(Signature::is_valid)
    }
}

pub(super) fn run(common: &Common, args: &VerifyArgs) -> Result<ExitCode, CliError> {
    let now = SystemClock::new().now().wall;
    let allowed = allowed(args.allowed_signers.as_ref())?;
    let mut problems = Vec::new();
    let mut paths = Vec::new();
    if args.sessions.is_empty() {
        let dir = DataDir::look_at(&data_root(common)?)?;
        paths.extend(dir.list()?.into_iter().map(|e| e.path));
        let book = dir.daybook_path().display().to_string();
        problems.extend(daybook::audit(&dir)?.iter().map(|f| Problem::of_file(&book, &f.to_string())));
    } else {
        for given in &args.sessions {
            paths.push(find(common, given)?);
        }
    }
    let mut sessions = Vec::new();
    for path in &paths {
        let report = verify_file(path)?;
        if !report.is_ok() {
            let file = path.display().to_string();
            let line = report.verdict.line().and_then(|l| usize::try_from(l).ok()).unwrap_or(0);
            let mut message = report.verdict.to_string();
            if report.notes.altered > 0 {
                message = format!("{message}; {} free texts were altered", report.notes.altered);
            }
            problems.push(Problem::at(&file, line, usize::from(line > 0), "", &message));
        }
        let head = report.verdict.is_sound().then_some(report.head).flatten();
        let follow_ups = beside(path, head)?;
        if let Some(after) = follow_ups.as_ref().map(|f| &f.report).filter(|r| !r.is_ok()) {
            let line = after.verdict.line().and_then(|l| usize::try_from(l).ok()).unwrap_or(0);
            let mut message = format!("the follow-ups are {}", after.verdict);
            if after.notes.altered > 0 {
                message = format!("{message}; {} free texts were altered", after.notes.altered);
            }
            problems.push(Problem::at(&after.path.display().to_string(), line, usize::from(line > 0), "", &message));
        }
        let signatures = check_all(&report, follow_ups.as_ref(), allowed.as_ref(), now)?;
        let file = path.display().to_string();
        for s in signatures.iter().filter(|s| !s.is_valid()) {
            let at = s.statement.as_ref().map_or_else(|| file.clone(), |p| p.display().to_string());
            problems.push(Problem::of_file(&at, &format!("signature {}: {}", s.signature, s.message)));
        }
        if args.signed && !signatures.iter().any(Signature::is_valid) {
            problems.push(Problem::of_file(&file, "no valid signature: sign it with fadewright sign"));
        }
        sessions.push(Checked { journal: report, follow_ups: follow_ups.map(|f| f.report), signatures });
    }
    let report = Report { ok: problems.is_empty(), problems, sessions };
    if args.json {
        print_json(&report)?;
    } else {
        let mut text = String::new();
        for s in &report.sessions {
            text.push_str(&format!(
                "{} {}: {}, {} events\n",
                if s.is_ok() { "sound  " } else { "DAMAGED" },
                s.journal.id,
                s.journal.verdict,
                s.journal.records
            ));
            if let Some(after) = &s.follow_ups {
                text.push_str(&format!("        {} follow-ups: {}\n", after.records, after.verdict));
            }
            for signature in &s.signatures {
                text.push_str(&format!("        {}\n", shown(&signature.line())));
            }
            if s.signatures.is_empty() {
                text.push_str("        not signed\n");
            }
        }
        for p in &report.problems {
            text.push_str(&format!("problem: {p}\n"));
        }
        if report.sessions.is_empty() {
            text.push_str("no sessions\n");
        }
        text.push_str("A sound chain shows that nothing was changed by accident or by an editor; it is no proof against someone who can rewrite the whole file.\n");
        if report.sessions.iter().any(|s| !s.signatures.is_empty()) {
            text.push_str("A valid signature is one, as long as the signer's key is kept: its holder signed these very bytes. The time is the signer's own word.\n");
        }
        print(&text)?;
    }
    Ok(if report.ok { ExitCode::SUCCESS } else { ExitCode::from(1) })
}
