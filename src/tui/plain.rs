//! The loop without a screen: lines in, lines out. No raw mode, no escape sequence, nothing drawn anew.
//!
//! For screen readers, braille displays and pipes. What is said and what a line means is the business of
//! [`super::chair::plain`].

use super::announce::Heard;
use super::bounded_line::read_line;
use super::chair::plain::Teller;
use super::chair::{Chair, Effect};
use super::events::{Signal, Stamped, TermEvent, stop_job, watch_signals};
use super::player::Player;
use super::run::{Ending, Msg};
use super::start::{Start, StartChoice};
use crate::clock::Clock;
use crate::practice::Operator;
use crate::recorder::Store;
use std::io::{self, BufRead, Write};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError};
use std::time::Duration;

/// Between looks at the clock; a running train is looked at as often as on a screen.
const LOOK: Duration = Duration::from_millis(250);

/// Columns of a text that is told: what most braille displays take in one or two turns.
const COLUMNS: usize = 70;

/// Shortest wait, where time runs fast.
const LEAST_WAIT: Duration = Duration::from_millis(1);

/// A line longer than this is refused whole: nobody typed it.
const LONGEST: usize = 4_000;

/// What came from standard input.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Typed {
    /// A whole line without its end.
    Line(String),
    /// A line that was refused, and why.
    Refused(&'static str),
    /// Nothing more will come.
    End,
}

/// Starts reading lines and watching signals; `send` may block.
///
/// # Errors
/// When a thread or the signal handlers cannot be set up.
pub fn spawn(
    clock: Arc<dyn Clock>,
    input: impl BufRead + Send + 'static,
    signal: impl Fn(TermEvent) + Send + Sync + 'static,
    mut send: impl FnMut(Stamped<Typed>) -> bool + Send + 'static,
) -> io::Result<()> {
    watch_signals(Arc::clone(&clock), Arc::new(signal))?;
    std::thread::Builder::new().name("lines".into()).spawn(move || {
        let mut input = input;
        loop {
            let typed = next_line(&mut input);
            let over = typed == Typed::End;
            let stamped = Stamped { at_ms: clock.now().mono_ms, what: typed };
            if !send(stamped) || over {
                return;
            }
        }
    })?;
    Ok(())
}

/// The next line. What the end of input cut off is not taken: half a number is a wrong number.
fn next_line(input: &mut impl BufRead) -> Typed {
    match read_line(input, LONGEST) {
        Err(_) => Typed::End,
        Ok(line) if !line.ended && line.bytes.is_empty() && !line.too_long => Typed::End,
        Ok(line) if !line.ended => Typed::Refused("The last line was cut off and not taken."),
        Ok(line) if line.too_long => Typed::Refused("That line is far too long. Nothing was taken."),
        Ok(line) => Typed::Line(String::from_utf8_lossy(&line.bytes).into_owned()),
    }
}

/// Runs a session in lines until it is closed, left or stopped, or its input ends; `every` is the pulses between two
/// milestones, `announce` is told after each change what somebody who listens should know.
///
/// # Errors
/// When this process cannot be suspended; output that is gone ends the session as a closed terminal does.
pub fn run_plain<S: Store>(
    chair: &mut Chair<S>,
    out: &mut dyn Write,
    inbox: &Receiver<Msg>,
    clock: &Arc<dyn Clock>,
    every: u64,
    announce: &mut dyn FnMut(Heard),
    operator: Option<Operator>,
) -> io::Result<Ending> {
    let mut player = operator.map(Player::new);
    let mut teller = Teller::new(every);
    let mut last_tick = clock.now().mono_ms;
    let first = teller.begin(chair);
    if say(out, &first).is_err() {
        return Ok(output_gone(chair));
    }
    announce(chair.heard());
    loop {
        let wait = player.as_ref().map_or(LOOK, |p| LOOK.min(p.waits(clock)).max(LEAST_WAIT));
        let message = inbox.recv_timeout(wait);
        let now = clock.now().mono_ms;
        if now.saturating_sub(last_tick) >= LOOK.as_millis() as u64 {
            last_tick = now;
            chair.tick();
        }
        if let Some(player) = &mut player {
            player.play(chair, clock);
        }
        let lines = match message {
            Ok(Msg::Typed(typed)) => match typed.what {
                Typed::Line(line) => {
                    let taken = teller.typed(chair, &line, typed.at_ms);
                    let mut lines = taken.lines;
                    for effect in taken.effects {
                        match effect {
                            Effect::Suspend => suspend(chair)?,
                            Effect::Repaint => {}
                            Effect::LetPass(ms) => {
                                clock.let_pass(ms);
                                chair.tick();
                                lines.extend(teller.news(chair));
                            }
                        }
                    }
                    lines
                }
                Typed::Refused(why) => vec![why.to_owned()],
                Typed::End => {
                    if chair.state().closed.is_none() {
                        chair.interrupt("the input ended");
                        let left = "The input ended. The session stays open and can be resumed.".to_owned();
                        // Nobody may be left to hear it.
                        drop(say(out, &[left]));
                    }
                    return Ok(Ending::Left);
                }
            },
            Ok(other) => {
                if let Some(ending) = take(chair, other)? {
                    return Ok(ending);
                }
                teller.news(chair)
            }
            Err(RecvTimeoutError::Timeout) => teller.news(chair),
            Err(RecvTimeoutError::Disconnected) => return Ok(Ending::Left),
        };
        if say(out, &lines).is_err() {
            return Ok(output_gone(chair));
        }
        announce(chair.heard());
        if chair.is_finished() {
            return Ok(Ending::Left);
        }
    }
}

fn take<S: Store>(chair: &mut Chair<S>, msg: Msg) -> io::Result<Option<Ending>> {
    match msg {
        Msg::Said(text) => chair.say(text),
        Msg::Found(command) => chair.record(command),
        Msg::Followed(light) => chair.take_light(light),
        Msg::Line(news) => chair.pulse_line(news),
        Msg::Journal | Msg::Typed(_) | Msg::Term(TermEvent::Input(_)) => {}
        Msg::Term(TermEvent::Signal(signal)) => match signal.what {
            Signal::Continue => {}
            Signal::Stop => suspend(chair)?,
            ending => {
                chair.interrupt(ending.name());
                return Ok(Some(Ending::Stopped(ending.exit_code().unwrap_or(1))));
            }
        },
        Msg::Term(TermEvent::HangUp(_)) => return Ok(Some(output_gone(chair))),
    }
    Ok(None)
}

fn suspend<S: Store>(chair: &mut Chair<S>) -> io::Result<()> {
    if chair.state().train.is_some() {
        chair.stop_train();
    }
    stop_job()
}

fn output_gone<S: Store>(chair: &mut Chair<S>) -> Ending {
    chair.interrupt("the output was closed");
    Ending::Stopped(Signal::HangUp.exit_code().unwrap_or(1))
}

fn say(out: &mut dyn Write, lines: &[String]) -> io::Result<()> {
    if lines.is_empty() {
        return Ok(());
    }
    let mut text = lines.join("\n");
    text.push('\n');
    out.write_all(text.as_bytes())?;
    out.flush()
}

/// Says a text as it is laid out for lines.
///
/// # Errors
/// When nothing can be written.
pub fn tell(out: &mut dyn Write, lines: &dyn Fn(usize) -> Vec<String>) -> io::Result<()> {
    let said: Vec<String> =
        lines(COLUMNS).iter().map(|l| l.trim_start().to_owned()).filter(|l| !l.is_empty()).collect();
    say(out, &said)
}

/// Asks in lines what the start screen asks.
///
/// # Errors
/// When nothing can be written.
pub fn run_start_plain(start: &Start, out: &mut dyn Write, inbox: &Receiver<Msg>) -> io::Result<(StartChoice, Ending)> {
    say(out, &start.in_lines())?;
    loop {
        match inbox.recv() {
            Ok(Msg::Typed(Stamped { what: Typed::Line(line), .. })) => match start.chosen_by(&line) {
                Some(choice) => return Ok((choice, Ending::Left)),
                None => say(out, &[format!("Nothing was chosen. {}", Start::TYPE)])?,
            },
            Ok(Msg::Typed(Stamped { what: Typed::Refused(why), .. })) => say(out, &[why.to_owned()])?,
            Ok(Msg::Typed(Stamped { what: Typed::End, .. })) => return Ok((StartChoice::Quit, Ending::Left)),
            Ok(Msg::Term(TermEvent::Signal(signal))) => match signal.what {
                Signal::Continue => {}
                Signal::Stop => stop_job()?,
                ending => return Ok((StartChoice::Quit, Ending::Stopped(ending.exit_code().unwrap_or(1)))),
            },
            Ok(_) => {}
            Err(_) => return Ok((StartChoice::Quit, Ending::Left)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_whole_or_refused() {
        let long = "x".repeat(LONGEST + 1);
        let text = format!("pulse\r\n\n{long}\ncount 1\nM\u{fc}\ncoun");
        let mut input = io::Cursor::new(text.into_bytes());
        let mut next = || next_line(&mut input);
        assert_eq!(next(), Typed::Line("pulse\r".to_owned()));
        assert_eq!(next(), Typed::Line(String::new()));
        assert!(matches!(next(), Typed::Refused(why) if why.contains("too long")));
        assert_eq!(next(), Typed::Line("count 1".to_owned()));
        assert_eq!(next(), Typed::Line("Mü".to_owned()));
        assert!(matches!(next(), Typed::Refused(why) if why.contains("cut off")));
        assert_eq!(next(), Typed::End);
        assert_eq!(next_line(&mut io::Cursor::new(b"\xff\xfe\n".to_vec())), Typed::Line("\u{fffd}\u{fffd}".to_owned()));
    }
}
