//! The debrief as text, for screens and for the command line.

use super::{Debrief, DecisionKind, ZoneResult};
use crate::text::indented;
use crate::units::trimmed;

impl Debrief {
    /// The debrief in lines of at most so many columns; the first word of all is PRACTICE.
    #[must_use]
    pub fn lines(&self, columns: usize) -> Vec<String> {
        let mut out: Vec<String> = Vec::new();
        let mut maps: Vec<(String, &Vec<String>)> = Vec::new();
        let mut say = |indent: usize, text: &str| {
            if text.is_empty() {
                out.push(String::new());
                return;
            }
            out.extend(indented(text, indent, columns));
        };
        say(0, &format!("PRACTICE debrief: {} ({})", self.title, self.scenario));
        say(0, &format!("{}; {}", self.grade, self.model));
        let who = if self.demonstration { ", played by the model operator" } else { "" };
        let left = if self.closed { "" } else { "; NOT CLOSED, judged as far as it went" };
        let course = self.course.as_ref().map(|_| format!(", session {} of a course", self.course_session));
        say(0, &format!("seed {}{}{who}{left}", self.seed, course.unwrap_or_default()));
        say(0, "");
        say(0, &format!("SCORE {} of 100", self.score.total));
        for p in &self.score.parts {
            say(2, &format!("{} {} of {}: {}", p.name, trimmed(p.points, 0), trimmed(p.of, 0), p.why));
        }
        say(0, "");
        say(0, "WHAT BECAME OF IT");
        say(
            2,
            &format!(
                "{} % of the ink freed, {} % in skin that stayed unhurt; {} points of harm",
                trimmed(self.clearance_percent, 0),
                trimmed(self.clearance_unhurt_percent, 0),
                trimmed(self.harm_points, 1)
            ),
        );
        for z in &self.zones {
            for line in zone_lines(z) {
                say(2, &line);
            }
        }
        for z in &self.zones {
            for p in &z.passes {
                maps.push((format!("{}, pass {}: . bare, 1 hit once, 2 twice, and so on", z.zone, p.pass), &p.map));
            }
        }
        say(0, "");
        say(0, "WHAT WAS HIDDEN");
        for h in &self.hidden {
            say(2, h);
        }
        say(0, "");
        say(0, "DECISIONS");
        if self.decisions.is_empty() {
            say(2, "nothing had to be decided");
        }
        for d in &self.decisions {
            let mark = if d.sound { "sound" } else { "WEAK" };
            let level = d.level.as_ref().map(|l| format!("{l} ")).unwrap_or_default();
            let zone = d.zone.as_ref().map(|z| format!("{z}, ")).unwrap_or_default();
            let kind = match d.kind {
                DecisionKind::Advice => "advice",
                DecisionKind::Sign => "sign",
                DecisionKind::Check => "check",
                DecisionKind::Pass => "pass",
            };
            let (minutes, s) = ((d.at_s / 60.0).floor(), d.at_s % 60.0);
            say(2, &format!("{minutes:.0}:{s:02.0} {mark}: {level}{kind} {} ({zone}pulse {})", d.what, d.pulses));
            say(4, &format!("seen: {}", d.seen));
            if d.kind != DecisionKind::Sign {
                say(4, &format!("advised: {}", d.advised));
            }
            let after = match (d.kind, d.answered_after_s) {
                (DecisionKind::Advice, Some(after)) => {
                    format!(" after {} s and {} pulses", trimmed(after, 0), d.pulses_after)
                }
                _ => String::new(),
            };
            say(4, &format!("done: {}{after}", d.did));
            say(4, &format!("physics: {}", d.physics));
        }
        say(0, "");
        say(0, "WHAT IT TEACHES");
        say(2, &self.lesson);
        say(0, "");
        say(0, "TRY NEXT");
        for (i, tip) in self.next.iter().enumerate() {
            say(2, &format!("{}. {tip}", i + 1));
        }
        if !maps.is_empty() {
            out.extend([String::new(), "WHERE THE PULSES FELL".to_owned()]);
        }
        for (title, map) in maps {
            out.extend(indented(&title, 2, columns));
            out.extend(map.iter().map(|row| format!("  {row}")));
        }
        out
    }
}

fn zone_lines(z: &ZoneResult) -> Vec<String> {
    let mut lines = vec![format!(
        "{}: {} pulses, {} % of its ink freed, {} % left in all",
        z.zone,
        z.pulses,
        trimmed(z.clearance_percent, 0),
        trimmed(z.ink_left_percent, 0)
    )];
    let mut harm = Vec::new();
    for (what, share) in [
        ("bled", z.bled_percent),
        ("separated", z.separated_percent),
        ("turned dark", z.darkened_percent),
        ("was hit while white", z.hit_while_white_percent),
    ] {
        if share >= 0.05 {
            harm.push(format!("{} % {what}", trimmed(share, 1)));
        }
    }
    if z.blisters {
        harm.push("BLISTERS within days".to_owned());
    }
    if z.pigment_changes {
        harm.push("its PIGMENT CHANGES within weeks".to_owned());
    }
    if !harm.is_empty() {
        lines.push(format!("  {}; epidermis up to {} K", harm.join(", "), trimmed(z.hottest_k, 0)));
    }
    for p in &z.passes {
        lines.push(format!(
            "  pass {}: {} % bare (an even pass {} %), {} % once, {} % twice, {} % three times or more",
            p.pass,
            trimmed(p.bare_percent, 1),
            trimmed(p.planned_bare_percent, 1),
            trimmed(p.once_percent, 1),
            trimmed(p.twice_percent, 1),
            trimmed(p.thrice_or_more_percent, 1)
        ));
    }
    lines
}
