//! What a run of practice was worth: outcome, decisions, coverage, score, and what to try next.
//!
//! It is reckoned from the journal alone: the events happen once more to simulated skin, which is then asked what nobody
//! could see at the time.

mod decisions;
mod score;
mod text;

pub use decisions::{Decision, DecisionKind};
pub use score::{Part, Score};

use super::light::LightBook;
use super::model::TEACHING;
use super::skin::{Fallen, Skin, ZoneOutcomeSeen};
use crate::coverage::{Disc, HitAreas, Outline, Point, hit_areas};
use crate::plan::Zone;
use crate::scenario::{HiddenCase, PracticeRun, SHIPPED};
use crate::session::{Event, Stamp, State};
use crate::words::Word;
use serde::Serialize;

/// A debrief. Every key of its JSON form names its unit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Debrief {
    /// Always `PRACTICE`: nobody was treated.
    pub kind: &'static str,
    /// What the model is.
    pub model: &'static str,
    /// Session id.
    pub session: String,
    /// Scenario.
    pub scenario: String,
    /// Its title.
    pub title: String,
    /// What it was to teach.
    pub aim: String,
    /// How much it asks.
    pub grade: String,
    /// Seed.
    pub seed: u64,
    /// What joins the sessions of a course; none outside one.
    pub course: Option<String>,
    /// Session of a course, from 1.
    pub course_session: u8,
    /// Who practised, where somebody said.
    pub trainee: Option<String>,
    /// True when the model operator played it.
    pub demonstration: bool,
    /// True when it was closed; a run that was left is judged as far as it went.
    pub closed: bool,
    /// What was hidden.
    pub hidden: Vec<String>,
    /// What became of each zone.
    pub zones: Vec<ZoneResult>,
    /// Points of harm, 0 for none.
    pub harm_points: f64,
    /// Share of the ink that is freed, per cent, over all zones by area.
    pub clearance_percent: f64,
    /// The same where places that were hurt count as not cleared.
    pub clearance_unhurt_percent: f64,
    /// Every point at which something had to be decided.
    pub decisions: Vec<Decision>,
    /// Median time from an advice to its answer, s.
    pub answer_median_s: Option<f64>,
    /// The score.
    pub score: Score,
    /// Three things to try next.
    pub next: Vec<String>,
    /// What should have been understood.
    pub lesson: String,
}

/// What became of a zone.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ZoneResult {
    /// Zone.
    pub zone: String,
    /// Pulses that fell.
    pub pulses: u64,
    /// Share of the ink freed, per cent.
    pub clearance_percent: f64,
    /// Ink left of what there was before the first session, per cent.
    pub ink_left_percent: f64,
    /// Share of the zone that bled or threw out tissue, per cent.
    pub bled_percent: f64,
    /// Share whose epidermis separated, per cent.
    pub separated_percent: f64,
    /// Share that turned dark, per cent.
    pub darkened_percent: f64,
    /// Share hit while it was white, per cent.
    pub hit_while_white_percent: f64,
    /// True when it blisters later.
    pub blisters: bool,
    /// True when its pigment changes later.
    pub pigment_changes: bool,
    /// Highest mean rise of the epidermis, K.
    pub hottest_k: f64,
    /// What each pass covered, by where its pulses truly fell.
    pub passes: Vec<PassCoverage>,
}

/// What a pass covered.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PassCoverage {
    /// Pass.
    pub pass: u8,
    /// Pulses that fell.
    pub pulses: u64,
    /// Hit by none, per cent of the zone.
    pub bare_percent: f64,
    /// Hit once.
    pub once_percent: f64,
    /// Hit twice.
    pub twice_percent: f64,
    /// Hit three times or more.
    pub thrice_or_more_percent: f64,
    /// Bare, per cent, had every pulse fallen on its place.
    pub planned_bare_percent: f64,
    /// The zone from above in characters, two to the height of one: a dot where it is bare, else how often a place was
    /// hit, 9 for nine times or more; blank outside.
    pub map: Vec<String>,
}

/// A run played back.
pub struct PlayedBack {
    /// The session at its end.
    pub state: State,
    /// Its skin.
    pub skin: Skin,
}

/// Lets the events of a practice journal happen once more; none for a journal that is no practice.
#[must_use]
pub fn play_back(events: &[(Stamp, Event)], book: &LightBook) -> Option<PlayedBack> {
    let state = State::replay(events.iter().map(|(s, e)| (*s, e)))?;
    let mut skin = Skin::of(&state.opened, book.clone())?;
    for (stamp, event) in events {
        skin.follow(*stamp, event);
        drop(skin.signs(stamp.at));
    }
    Some(PlayedBack { state, skin })
}

/// The debrief of a practice journal; none for a journal that is no practice.
#[must_use]
pub fn debrief(events: &[(Stamp, Event)], book: &LightBook) -> Option<Debrief> {
    let back = play_back(events, book)?;
    let (state, skin) = (&back.state, &back.skin);
    let run: &PracticeRun = state.opened.practice.as_deref()?;
    let outcome = skin.outcome();
    let zones: Vec<ZoneResult> = (state.opened.plan.zones.iter().zip(&outcome).enumerate())
        .map(|(i, (plan, seen))| zone_result(plan, seen, i, skin.fallen(), state))
        .collect();
    let area: Vec<f64> = state.opened.plan.zones.iter().map(|z| z.shape.area_mm2()).collect();
    let total: f64 = area.iter().sum::<f64>().max(1e-9);
    let over_area = |of: fn(&ZoneOutcomeSeen) -> f64| {
        100.0 * outcome.iter().zip(&area).map(|(z, a)| of(z) * a).sum::<f64>() / total
    };
    let harm_points = outcome.iter().map(ZoneOutcomeSeen::harm).sum();
    let decisions = decisions::of(events, state, skin.fallen(), run);
    let score = score::of(state, &decisions, &zones, harm_points);
    let mut times: Vec<f64> =
        decisions.iter().filter(|d| d.kind == DecisionKind::Advice).filter_map(|d| d.answered_after_s).collect();
    times.sort_by(f64::total_cmp);
    let next = score::next(run, &score, &decisions);
    Some(Debrief {
        kind: "PRACTICE",
        model: TEACHING,
        session: state.opened.session.clone(),
        scenario: run.scenario.clone(),
        title: run.case.title.clone(),
        aim: run.case.aim.clone(),
        grade: run.case.grade.spoken(),
        seed: run.seed,
        course: run.course.clone(),
        course_session: run.session,
        trainee: run.trainee.as_ref().map(ToString::to_string),
        demonstration: run.demonstration,
        closed: state.closed.is_some(),
        hidden: hidden(&run.case),
        zones,
        harm_points,
        clearance_percent: over_area(|z| z.cleared),
        clearance_unhurt_percent: over_area(|z| z.cleared_unhurt),
        answer_median_s: times.get(times.len() / 2).copied(),
        decisions,
        score,
        next,
        lesson: run.case.lesson.clone(),
    })
}

fn zone_result(plan: &Zone, seen: &ZoneOutcomeSeen, index: usize, fallen: &[Fallen], state: &State) -> ZoneResult {
    let mine: Vec<&Fallen> = fallen.iter().filter(|f| f.zone == index).collect();
    let mut passes: Vec<u8> = mine.iter().map(|f| f.pass).collect();
    passes.dedup();
    let outline = plan.shape.outline();
    let planned = state.zones.get(index).map(|z| z.pattern_of(plan, plan.setting.spot));
    let percent = |v: f64, a: &HitAreas| 100.0 * v / a.area_mm2.max(1e-9);
    let coverage = |pass: u8| {
        let discs: Vec<Disc> =
            mine.iter().filter(|f| f.pass == pass).map(|f| Disc { centre: f.at, radius_mm: f.spot_mm / 2.0 }).collect();
        let a = hit_areas(&outline, &discs);
        PassCoverage {
            pass,
            pulses: discs.len() as u64,
            bare_percent: percent(a.bare_mm2, &a),
            once_percent: percent(a.once_mm2, &a),
            twice_percent: percent(a.twice_mm2, &a),
            thrice_or_more_percent: percent(a.thrice_or_more_mm2, &a),
            planned_bare_percent: planned.as_ref().map_or(0.0, |p| percent(p.areas().bare_mm2, p.areas())),
            map: coverage_map(&outline, &discs),
        }
    };
    ZoneResult {
        zone: plan.id.to_string(),
        pulses: mine.len() as u64,
        clearance_percent: 100.0 * seen.cleared,
        ink_left_percent: 100.0 * seen.left.ink_left,
        bled_percent: 100.0 * seen.bled,
        separated_percent: 100.0 * seen.separated,
        darkened_percent: 100.0 * seen.left.darkened,
        hit_while_white_percent: 100.0 * seen.hit_while_white,
        blisters: seen.blisters,
        pigment_changes: seen.pigment_changes,
        hottest_k: seen.hottest_k,
        passes: passes.into_iter().map(coverage).collect(),
    }
}

/// Columns of a coverage map.
const MAP_COLUMNS: usize = 60;
/// Rows at most; a tall zone is drawn narrower.
const MAP_ROWS: usize = 24;

fn coverage_map(outline: &Outline, discs: &[Disc]) -> Vec<String> {
    let b = outline.bounds();
    let step = (b.width_mm() / MAP_COLUMNS as f64).max(b.height_mm() / (2 * MAP_ROWS) as f64).max(1e-6);
    let (columns, rows) = ((b.width_mm() / step).ceil() as usize, (b.height_mm() / (2.0 * step)).ceil() as usize);
    let place = |row: usize, column: usize| {
        // Rows run down, the zone's height up.
        Point::new(b.low.x_mm + (column as f64 + 0.5) * step, b.high.y_mm - (row as f64 + 0.5) * 2.0 * step)
    };
    let sign = |p: Point| {
        if !outline.contains(p) {
            return ' ';
        }
        match discs.iter().filter(|d| d.centre.distance_squared(p) <= d.radius_mm * d.radius_mm).count() {
            0 => '.',
            n => char::from_digit(n.min(9) as u32, 10).unwrap_or('9'),
        }
    };
    let row = |r| (0..columns).map(|c| sign(place(r, c))).collect::<String>().trim_end().to_owned();
    (0..rows.max(1)).map(row).collect()
}

/// What the plan did not tell, in words.
fn hidden(case: &HiddenCase) -> Vec<String> {
    let mut told = Vec::new();
    if let Some(skin) = case.true_skin {
        told.push(format!("the skin was type {skin}"));
    }
    if (case.device_delivers - 1.0).abs() > 1e-9 {
        told.push(format!("the device delivered {:+.0} % of what it showed", 100.0 * (case.device_delivers - 1.0)));
    }
    if case.sensitivity > 1.0 {
        told.push("the epidermis was more sensitive than usual".to_owned());
    }
    if case.fragility > 1.0 {
        told.push("small vessels bled more easily than usual".to_owned());
    }
    for medicine in &case.withheld {
        told.push(format!("the client had taken {}, which the plan did not name", medicine.spoken()));
    }
    for shown in &case.shown_at_first {
        told.push(format!("{}: the device at first showed {}", shown.zone, shown.fluence));
    }
    for incident in &case.incidents {
        told.push(format!("{}: from pulse {} on the handpiece was off its spacer", incident.zone, incident.from_pulse));
    }
    for z in &case.zones {
        let inks = z.inks.iter().map(|i| i.spoken()).collect::<Vec<_>>().join(", ");
        let metal = z.metal.map(|m| format!(", with {m}, which turns dark")).unwrap_or_default();
        told.push(format!("{}: {inks} ink at {}, {} density{metal}", z.zone, z.ink_depth, z.density));
    }
    if told.is_empty() {
        told.push("nothing: the plan told all there was".to_owned());
    }
    told
}

/// The scenario after one, from the first day to the expert's; the first after the last.
pub(super) fn scenario_after(name: &str) -> &'static str {
    let at = SHIPPED.iter().position(|s| s.name == name);
    SHIPPED.get(at.map_or(0, |i| (i + 1) % SHIPPED.len())).map_or("first-script", |s| s.name)
}
