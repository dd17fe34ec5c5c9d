//! `fadewright follow-up`: what was seen when the client came back, beside the closed journal.

use super::Common;
use super::calc::given::{by, word};
use super::output::{CliError, answer};
use super::sessions::{Events, find, read_session};
use crate::clock::{Clock, SystemClock};
use crate::journal::{Digest, FollowUpReport, FollowUps, Recovery, Verdict, read_follow_ups};
use crate::review::{FollowUpLine, follow_up_line};
use crate::session::{
    CodeOfPerson, Event, FREE_TEXT_MAX, FollowUp, FreeText, Healing, Photo, Pigment, Scar, Stamp, State,
};
use crate::text::{shown, wrapped};
use chrono::NaiveDate;
use clap::Args;
use serde::Serialize;
use std::fs::File;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

const COLUMNS: usize = 80;

/// Arguments of `follow-up`.
#[derive(Debug, Args)]
pub struct FollowUpArgs {
    /// Session id, its beginning, or a journal file; the session must be closed.
    session: String,
    /// Code of who saw the client, such as OP-1; never a name.
    #[arg(long, value_name = "CODE", value_parser = by(code))]
    seen_by: CodeOfPerson,
    /// The day the client was seen, such as 2026-12-20.
    #[arg(long, value_name = "DATE", value_parser = by(day))]
    date: NaiveDate,
    /// How the skin heals: good, slow, crusted, weeping or infected.
    #[arg(long, value_name = "WORD", value_parser = word::<Healing>())]
    healing: Option<Healing>,
    /// A blister was seen or told of.
    #[arg(long)]
    blister: bool,
    /// Change of the skin's own pigment: none, lighter, darker or both.
    #[arg(long, value_name = "WORD", value_parser = word::<Pigment>())]
    pigment: Option<Pigment>,
    /// Scar: none, texture, atrophic, hypertrophic or keloid.
    #[arg(long, value_name = "WORD", value_parser = word::<Scar>())]
    scar: Option<Scar>,
    /// How much of the ink is gone, judged by eye, 0 to 100.
    #[arg(long, value_name = "PERCENT", allow_hyphen_values = true, value_parser = by(percent))]
    clearance_percent: Option<u8>,
    /// What else there is to say; no names.
    #[arg(long, value_name = "TEXT", allow_hyphen_values = true)]
    note: Option<String>,
    /// A photo taken: its name and SHA-256 are recorded, the file is not copied. May be given more than once.
    #[arg(long, value_name = "FILE")]
    photo: Vec<PathBuf>,
    /// Print JSON.
    #[arg(long)]
    json: bool,
}

fn code(text: &str) -> Result<CodeOfPerson, String> {
    text.parse()
}

/// A day as `YYYY-MM-DD`.
pub(super) fn day(text: &str) -> Result<NaiveDate, String> {
    text.parse().map_err(|_| format!("'{text}' is no day; write it as 2026-12-20"))
}

fn percent(text: &str) -> Result<u8, String> {
    text.parse().ok().filter(|p| *p <= 100).ok_or_else(|| format!("'{text}' is no whole number from 0 to 100"))
}

#[derive(Debug, Serialize)]
struct Saved {
    session: String,
    file: PathBuf,
    #[serde(flatten)]
    follow_up: FollowUpLine,
    saved: bool,
}

pub(super) fn run(common: &Common, args: &FollowUpArgs) -> Result<ExitCode, CliError> {
    let path = find(common, &args.session)?;
    let (state, head) = whole(&path)?;
    let found = follow_up(args)?;
    let now = SystemClock::new().now().wall;
    // Refused before a file is made; what earlier follow-ups decide comes again under their lock.
    let refused = |r: crate::session::Refusal| match r.id {
        "follow-up.before" | "follow-up.future" | "follow-up.empty" | "follow-up.photo-twice" => {
            CliError::Bad(r.to_string())
        }
        _ => CliError::No(r.to_string()),
    };
    found.check(&state, now.date_naive(), &[]).map_err(refused)?;
    let held = FollowUps::<Event>::hold(&path, head)?;
    let earlier: Vec<FollowUp> = held.records().iter().filter_map(|r| added(&r.event)).cloned().collect();
    found.check(&state, now.date_naive(), &earlier).map_err(refused)?;
    let recovery = held.recovery().clone();
    let (seq, _) = held.append(now, &Event::FollowUpAdded(Box::new(found.clone())))?;
    let saved = Saved {
        session: shown(&state.opened.session),
        file: crate::journal::follow_up_path(&path),
        follow_up: follow_up_line(Stamp { seq, at: now, mono_ms: 0 }, &found),
        saved: true,
    };
    answer(&saved, args.json, |saved| words(saved, &found, &recovery))?;
    Ok(ExitCode::SUCCESS)
}

fn words(saved: &Saved, found: &FollowUp, recovery: &Recovery) -> String {
    let mut lines = vec![format!("Follow-up {} of session {} saved", saved.follow_up.follow_up, saved.session)];
    lines.extend(
        wrapped(&format!("{}, {}", found.date, found.words()), COLUMNS - 2).into_iter().map(|l| format!("  {l}")),
    );
    if found.is_adverse() {
        let care = "An adverse effect: act by the clinic's protocol, let a medical professional see what does not heal \
                    well, and report it where local rules ask for that.";
        lines.extend(wrapped(care, COLUMNS));
    }
    if matches!(recovery, Recovery::TornTail { .. } | Recovery::Unterminated) {
        lines.extend(wrapped(&format!("Found in the follow-ups' file: {recovery}."), COLUMNS));
    }
    lines.join("\n")
}

/// The session of a journal that is whole, and the hash it ends in.
pub(super) fn whole(path: &Path) -> Result<(State, Digest), CliError> {
    let (back, events) = read_session(path)?;
    let Verdict::Clean { head } = back.verdict else {
        return Err(CliError::No(format!(
            "{}: {}; nothing is added to it or signed: compare it with the backup, or take the session up with \
             fadewright resume if it was only cut off",
            path.display(),
            back.verdict
        )));
    };
    let state = State::replay(events.iter().map(|(s, e)| (*s, e)))
        .ok_or_else(|| CliError::No(format!("{}: does not begin with the opening of a session", path.display())))?;
    Ok((state, head))
}

fn follow_up(args: &FollowUpArgs) -> Result<FollowUp, CliError> {
    let note = args.note.as_deref().unwrap_or_default();
    if note.chars().count() > FREE_TEXT_MAX {
        return Err(CliError::Bad(format!("--note: longer than {FREE_TEXT_MAX} characters; shorten it")));
    }
    let seen_by = FreeText::new(args.seen_by.as_str()).ok_or_else(|| CliError::Bad("--seen-by: no code".to_owned()))?;
    Ok(FollowUp {
        date: args.date,
        seen_by,
        healing: args.healing,
        blister: args.blister,
        pigment: args.pigment,
        scar: args.scar,
        clearance_percent: args.clearance_percent,
        note: FreeText::new(note),
        photos: args.photo.iter().map(|p| photo(p)).collect::<Result<_, _>>()?,
    })
}

/// A photo by the name of its file and the hash of its bytes.
fn photo(path: &Path) -> Result<Photo, CliError> {
    let bad = |why: &str| CliError::Bad(format!("--photo {}: {why}", path.display()));
    let data = std::fs::metadata(path).map_err(|e| bad(&e.to_string()))?;
    if !data.is_file() {
        return Err(bad("is no plain file; name the photo itself"));
    }
    if data.len() == 0 {
        return Err(bad("is empty; name the photo itself"));
    }
    let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let name = FreeText::new(&name).ok_or_else(|| bad("has no name"))?;
    let sha256 = File::open(path).and_then(Digest::of_reader).map_err(|e| bad(&e.to_string()))?;
    Ok(Photo { name, sha256: sha256.to_string() })
}

fn added(event: &Event) -> Option<&FollowUp> {
    match event {
        Event::FollowUpAdded(found) => Some(found),
        _ => None,
    }
}

/// The follow-ups of a journal that ends in `head`, as events; none where there is no such file.
pub(super) struct Found {
    pub report: FollowUpReport,
    pub events: Events,
}

/// Reads the follow-ups beside a journal.
pub(super) fn beside(path: &Path, head: Option<Digest>) -> Result<Option<Found>, CliError> {
    // Without a sound record there is no closed journal that a follow-up could belong to.
    let Some(head) = head else { return Ok(None) };
    Ok(read_follow_ups::<Event>(path, head)?.map(|read| Found {
        report: read.report,
        events: read
            .records
            .into_iter()
            .map(|r| (Stamp { seq: r.seq, at: r.at, mono_ms: r.mono_ms }, r.event))
            .collect(),
    }))
}
