//! The supervisor's screens over a data directory.

use super::super::keys;
use super::super::output::CliError;
use super::super::practise::progress;
use super::super::sessions::find;
use super::super::{Common, theme};
use super::{ReviewArgs, all_sessions, load};
use crate::clock::{Clock, SystemClock};
use crate::practice::LightBook;
use crate::practice::debrief::{Debrief, debrief};
use crate::review::{Kept, Progress};
use crate::session::State;
use crate::tui::events;
use crate::tui::review::{Library, Opened, Review, ReviewMsg, run_review};
use crate::tui::run::Ending;
use crate::tui::terminal::{OpenError, Screen, install_panic_hook};
use crate::tui::theme::Glyphs;
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::mpsc::sync_channel;

/// Messages that may wait.
const INBOX: usize = 1024;

/// Sessions on disk.
struct Shelf(Arc<Common>);

impl Library for Shelf {
    fn session(&self, id: &str) -> Result<Opened, String> {
        let path = find(&self.0, id).map_err(words)?;
        let (review, events) = load(&path).map_err(words)?;
        let state = State::replay(events.iter().map(|(s, e)| (*s, e))).ok_or("nothing of it can be read")?;
        Ok(Opened { review, state })
    }

    fn debrief(&self, id: &str) -> Result<Debrief, String> {
        let path = find(&self.0, id).map_err(words)?;
        let (review, events) = load(&path).map_err(words)?;
        if !review.record_sound {
            return Err("a damaged run is not judged".to_owned());
        }
        debrief(&events, &LightBook::default()).ok_or_else(|| "no session of practice".to_owned())
    }

    fn list(&self, practice: bool) -> Result<(Vec<Kept>, Vec<String>), String> {
        let all = all_sessions(&self.0, practice, |_| {}).map_err(words)?;
        Ok((all.kept, all.problems))
    }

    fn progress(&self) -> Result<Vec<Progress>, String> {
        progress(&self.0).map_err(words)
    }
}

fn words(e: CliError) -> String {
    match e {
        CliError::Bad(text) | CliError::Held(text) | CliError::No(text) => text,
        CliError::Problems(problems) => problems.list().first().map(ToString::to_string).unwrap_or_default(),
        CliError::PipeClosed => "the output was closed".to_owned(),
    }
}

/// Shows the screens until somebody leaves.
pub(super) fn show(common: &Common, args: &ReviewArgs) -> Result<ExitCode, CliError> {
    let common = Arc::new(common.clone());
    let (theme, problem) = theme::choose(&common);
    let (table, wrong_keys) = keys::for_session(&common)?;
    let glyphs = if common.ascii { Glyphs::Ascii } else { Glyphs::Unicode };
    let term = std::env::var("TERM").ok();
    let mut screen = Screen::open(term.as_deref()).map_err(|e| match e {
        OpenError::Io(e) => CliError::from(e),
        e => CliError::Bad(e.to_string()),
    })?;
    install_panic_hook(|| "fadewright stopped on a fault of its own. Nothing was changed by looking.".to_owned());
    let clock: Arc<dyn Clock> = Arc::new(SystemClock::new());
    let (sender, inbox) = sync_channel(INBOX);
    let to_loop = sender.clone();
    events::spawn(clock, move |event| drop(to_loop.send(ReviewMsg::Term(event))))?;
    let mut review =
        Review::new(Box::new(Shelf(Arc::clone(&common))), args.filter(), args.sort, theme, glyphs).keys(table);
    review.tell(problem.or(wrong_keys));
    let at_once = args.statistics || args.course.is_some();
    if let Some(given) = &args.session {
        review.open(given);
    }
    if args.progress {
        review.show_progress();
    }
    let practice = args.practice;
    if at_once {
        let all = all_sessions(&common, practice, |_| {})?;
        review.set(all.kept, all.problems);
        match &args.course {
            Some(client) => review.show_course(client),
            None => review.show_statistics(),
        }
    } else {
        let common = Arc::clone(&common);
        // The loop may have ended; then nobody needs the sessions.
        std::thread::spawn(move || {
            let told = |kept: &[Kept]| drop(sender.send(ReviewMsg::Some(kept.to_vec())));
            let msg = match all_sessions(&common, practice, told) {
                Ok(all) => ReviewMsg::All(all.kept, all.problems),
                Err(e) => ReviewMsg::Failed(words(e)),
            };
            drop(sender.send(msg));
        });
    }
    let ending = run_review(&mut review, &mut screen, &inbox);
    screen.close();
    Ok(match ending? {
        Ending::Left => ExitCode::SUCCESS,
        Ending::Stopped(code) => ExitCode::from(code),
    })
}
