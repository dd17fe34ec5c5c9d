//! What is said aloud: milestones of the count, each advice, each question, one line each.

use crate::session::Level;

/// What the chair looks like to somebody who listens.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Heard {
    /// Zone and pass that run, with the pulses counted and planned.
    pub pass: Option<(String, u8, u64, u64)>,
    /// The advice on top: its number, its level, what to do and what was seen.
    pub advice: Option<(u64, Level, String, String)>,
    /// The question that is open.
    pub question: Option<String>,
    /// Nothing reaches the disk.
    pub not_saved: bool,
}

/// Remembers what was said, so that nothing is said twice.
#[derive(Debug, Clone)]
pub struct Announcer {
    every: u64,
    last: Heard,
}

impl Announcer {
    /// Says the count each time it passes a multiple of `every`, at least 1.
    #[must_use]
    pub fn new(every: u64) -> Self {
        Self { every: every.max(1), last: Heard::default() }
    }

    /// The lines that the change from what was heard last calls for, the most urgent first.
    pub fn lines(&mut self, now: Heard) -> Vec<String> {
        let mut lines = Vec::new();
        let before = std::mem::replace(&mut self.last, now);
        let now = &self.last;
        if now.not_saved && !before.not_saved {
            lines.push("Not saved. Kept in memory only.".to_owned());
        }
        if let Some((id, level, action, seen)) = &now.advice {
            let known = before.advice.as_ref().is_some_and(|(i, l, ..)| i == id && l == level);
            if !known {
                lines.push(format!("{level}. {seen}. {action}."));
            }
        }
        if now.question != before.question
            && let Some(question) = &now.question
        {
            lines.push(question.clone());
        }
        match (&before.pass, &now.pass) {
            (Some((zone, pass, was, _)), Some((z, p, is, planned))) if zone == z && pass == p => {
                let passed = is / self.every > was / self.every;
                let whole = *is >= *planned && *was < *planned;
                if whole {
                    lines.push(format!("{is} of {planned}, pass complete."));
                } else if passed && is > was {
                    lines.push(format!("{is} of {planned}."));
                }
            }
            (_, Some((zone, pass, _, planned))) => lines.push(format!("Zone {zone}, pass {pass}, {planned} planned.")),
            (Some(_), None) => lines.push("Pass ended.".to_owned()),
            (None, None) => {}
        }
        lines
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(counted: u64) -> Heard {
        Heard { pass: Some(("band".to_owned(), 1, counted, 25)), ..Heard::default() }
    }

    #[test]
    fn milestones_are_said_once_and_the_whole_pass_by_name() {
        let mut a = Announcer::new(10);
        assert_eq!(a.lines(at(0)), ["Zone band, pass 1, 25 planned."]);
        assert_eq!(a.lines(at(9)), Vec::<String>::new());
        assert_eq!(a.lines(at(12)), ["12 of 25."]);
        assert_eq!(a.lines(at(12)), Vec::<String>::new());
        // Taken back and fired again: the milestone is said again, since it was passed again.
        assert_eq!(a.lines(at(8)), Vec::<String>::new());
        assert_eq!(a.lines(at(10)), ["10 of 25."]);
        assert_eq!(a.lines(at(26)), ["26 of 25, pass complete."]);
        assert_eq!(a.lines(Heard::default()), ["Pass ended."]);
    }

    #[test]
    fn an_advice_is_said_when_it_comes_and_when_it_becomes_more_urgent() {
        let mut a = Announcer::new(10);
        let advice = |level| Heard {
            advice: Some((7, level, "Lower to 2.7 J/cm2".to_owned(), "Bleeding".to_owned())),
            ..Heard::default()
        };
        assert_eq!(a.lines(advice(Level::Lower)), ["LOWER. Bleeding. Lower to 2.7 J/cm2."]);
        assert_eq!(a.lines(advice(Level::Lower)), Vec::<String>::new());
        assert_eq!(a.lines(advice(Level::Stop)), ["STOP. Bleeding. Lower to 2.7 J/cm2."]);
        let asked = Heard { question: Some("How strong?".to_owned()), not_saved: true, ..Heard::default() };
        assert_eq!(a.lines(asked), ["Not saved. Kept in memory only.", "How strong?"]);
    }
}
