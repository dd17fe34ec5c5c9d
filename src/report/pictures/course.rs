//! A session over time: pulses with what was seen, advised, answered and set; fluence; pulses a minute.

use super::Svg;
use crate::report::SessionRecord;
use crate::report::happened::{Lane, Moment};
use crate::report::markup::Markup;
use crate::units::trimmed;

/// The drawing area: left, top, width, in units of the picture.
const LEFT: f64 = 84.0;
const TOP: f64 = 14.0;
const WIDTH: f64 = 560.0;
const RIGHT: f64 = 86.0;
/// Height of a curve.
const CURVE: f64 = 150.0;
/// Height of a row of letters, and how close two letters of a row may stand.
const ROW: f64 = 18.0;
const SLOT: f64 = 10.0;

/// A figure at or above `v` that reads well: 1, 2 or 5 times a power of ten.
fn round_up(v: f64) -> f64 {
    if !(v.is_finite() && v > 0.0) {
        return 1.0;
    }
    let power = 10f64.powf(v.log10().floor());
    [1.0, 2.0, 5.0, 10.0].into_iter().map(|f| f * power).find(|f| *f >= v * (1.0 - 1e-9)).unwrap_or(v)
}

/// A time axis from the opening to the last event.
struct Time {
    end_ms: f64,
}

impl Time {
    fn of(record: &SessionRecord) -> Self {
        Self { end_ms: (record.state.last_ms() as f64).max(1000.0) }
    }

    fn x(&self, ms: u64) -> f64 {
        LEFT + WIDTH * (ms as f64 / self.end_ms).clamp(0.0, 1.0)
    }

    /// Draws the axis below a drawing that ends at `y`.
    fn draw(&self, svg: &mut Svg<'_>, y: f64) {
        svg.line("axis", (LEFT, y), (LEFT + WIDTH, y));
        let minutes = self.end_ms / 60_000.0;
        let step = round_up(minutes / 8.0);
        let mut at = 0.0;
        while at <= minutes {
            let x = LEFT + WIDTH * at / minutes;
            svg.line("axis", (x, y), (x, y + 4.0));
            svg.text("middle", (x, y + 16.0), &trimmed(at, 2));
            at += step;
        }
        svg.text("middle", (LEFT + WIDTH / 2.0, y + 31.0), "minutes since the session was opened");
    }
}

/// Draws the scale of a curve on its left, from zero to `top`.
fn scale(svg: &mut Svg<'_>, top: f64, unit: &str) {
    svg.line("axis", (LEFT, TOP), (LEFT, TOP + CURVE));
    for part in [0.0, 0.5, 1.0] {
        let y = TOP + CURVE * (1.0 - part);
        svg.line("grid", (LEFT, y), (LEFT + WIDTH, y));
        svg.text("end", (LEFT - 6.0, y + 4.0), &trimmed(top * part, 3));
    }
    svg.text("end", (LEFT - 6.0, TOP + CURVE / 4.0 + 4.0), unit);
}

/// Of moments in a row, those that are drawn: one in each slot, the weightiest.
fn drawn(time: &Time, moments: impl Iterator<Item = Moment>) -> Vec<(f64, char)> {
    let mut slots: Vec<(i64, Moment)> = Vec::new();
    for moment in moments {
        let slot = (time.x(moment.ms) / SLOT).floor() as i64;
        match slots.last_mut() {
            Some((last, kept)) if *last == slot => {
                if moment.weight > kept.weight {
                    *kept = moment;
                }
            }
            _ => slots.push((slot, moment)),
        }
    }
    slots.into_iter().map(|(slot, m)| ((slot as f64 + 0.5) * SLOT, m.letter)).collect()
}

const LANES: [(Lane, &str); 4] =
    [(Lane::Skin, "skin"), (Lane::Advice, "advice"), (Lane::Answer, "answers"), (Lane::Setting, "settings")];

/// What the letters in use mean: `w whitening, b pinpoint bleeding`.
#[must_use]
fn legend(moments: &[Moment], lane: Lane) -> String {
    let mut known: Vec<(char, &str)> = Vec::new();
    for m in moments.iter().filter(|m| m.lane == lane) {
        if !known.contains(&(m.letter, m.words)) {
            known.push((m.letter, m.words));
        }
    }
    known.iter().map(|(letter, words)| format!("{letter} {words}")).collect::<Vec<_>>().join(", ")
}

/// Each row of letters that has any, by its name.
#[must_use]
pub fn legends(record: &SessionRecord) -> Vec<(&'static str, String)> {
    let of = |(lane, name)| (name, legend(&record.happened.moments, lane));
    LANES.into_iter().map(of).filter(|(_, letters)| !letters.is_empty()).collect()
}

/// Pulses over time with rows of letters for what was seen, advised, answered and set.
pub fn pulses(m: &mut Markup, record: &SessionRecord) {
    let time = Time::of(record);
    let h = &record.happened;
    let total = record.summary.pulses;
    let top = round_up(h.fired.iter().map(|f| f.total).max().unwrap_or(0) as f64);
    let rows_from = TOP + CURVE + 12.0;
    let axis = rows_from + ROW * (LANES.len() + 1) as f64;
    let minutes = trimmed(time.end_ms / 60_000.0, 1);
    let mut description =
        format!("{total} pulses in {minutes} minutes, {} passes, counted upwards over time.", h.passes.len());
    for (name, letters) in legends(record) {
        description.push_str(&format!(" {name}: {letters}."));
    }
    description.push_str(" Where several fall together the gravest is drawn; the list of what happened has all.");
    Svg::draw(m, "pulses", (LEFT + WIDTH + RIGHT, axis + 38.0), ("The session over time", &description), |svg| {
        scale(svg, top, "pulses");
        let y = |total: u64| TOP + CURVE * (1.0 - total as f64 / top);
        let mut curve = vec![(LEFT, y(0))];
        for fired in &h.fired {
            let here = (time.x(fired.ms), y(fired.total));
            let before = curve.last().copied().unwrap_or(here);
            // Points closer than a fifth of a unit cannot be told apart.
            if (here.0 - before.0).abs() + (here.1 - before.1).abs() > 0.2 {
                curve.extend([(here.0, before.1), here]);
            }
        }
        curve.push((LEFT + WIDTH, y(total)));
        svg.path("curve", &curve);
        for (i, (lane, name)) in LANES.into_iter().enumerate() {
            let y = rows_from + ROW * (i as f64 + 0.7);
            svg.text("end", (LEFT - 6.0, y), name);
            for (x, letter) in drawn(&time, h.moments.iter().copied().filter(|m| m.lane == lane)) {
                svg.text("middle", (x, y), &letter.to_string());
            }
        }
        let y = rows_from + ROW * (LANES.len() as f64 + 0.3);
        svg.text("end", (LEFT - 6.0, y + 5.0), "passes");
        for pass in &h.passes {
            let from = time.x(pass.ms.0);
            let to = pass.ms.1.map_or(LEFT + WIDTH, |ms| time.x(ms));
            svg.rectangle("pass", (from, y - 3.0), ((to - from).max(1.0), 8.0));
        }
        time.draw(svg, axis);
    });
}

/// Fluence of the pulses over time, one line a zone with its name at its end.
pub fn fluence(m: &mut Markup, record: &SessionRecord) {
    let time = Time::of(record);
    let h = &record.happened;
    let top = round_up(h.fired.iter().map(|f| f.fluence_j_cm2).fold(0.0, f64::max));
    let zones = &record.state.opened.plan.zones;
    let mut description = String::new();
    for (i, zone) in zones.iter().enumerate() {
        let mut steps: Vec<f64> = h.fired.iter().filter(|f| f.zone == i).map(|f| f.fluence_j_cm2).collect();
        steps.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
        let steps: Vec<_> = steps.iter().map(|f| trimmed(*f, 3)).collect();
        let said = if steps.is_empty() { "no pulse".to_owned() } else { format!("{} J/cm2", steps.join(", then ")) };
        description.push_str(&format!("{}: {said}. ", zone.id));
    }
    let size = (LEFT + WIDTH + RIGHT, TOP + CURVE + 42.0);
    Svg::draw(m, "fluence", size, ("Fluence of the pulses over time", description.trim()), |svg| {
        scale(svg, top, "J/cm2");
        let y = |j: f64| TOP + CURVE * (1.0 - j / top);
        for (i, zone) in zones.iter().enumerate() {
            let mut line: Vec<(f64, f64)> = Vec::new();
            for f in h.fired.iter().filter(|f| f.zone == i) {
                let here = (time.x(f.ms), y(f.fluence_j_cm2));
                match line.as_slice() {
                    // On the same step the line only grows longer.
                    [.., a, b] if same(a.1, here.1) && same(b.1, here.1) => {
                        if let Some(end) = line.last_mut() {
                            *end = here;
                        }
                    }
                    [.., b] if !same(b.1, here.1) => {
                        let corner = (here.0, b.1);
                        line.extend([corner, here]);
                    }
                    _ => line.push(here),
                }
            }
            if let [(x, y)] = line.as_slice() {
                let dot = (x + 1.0, *y);
                line.push(dot);
            }
            let Some((x, y)) = line.last().copied() else { continue };
            let dashes = ["line-0", "line-1", "line-2", "line-3"];
            svg.path(dashes.get(i % dashes.len()).copied().unwrap_or("line-0"), &line);
            svg.text("start", (x + 4.0, y - 4.0), zone.id.as_str());
        }
        time.draw(svg, TOP + CURVE);
    });
}

fn same(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-6
}

/// Pulses a minute over time, as bars.
pub fn rate(m: &mut Markup, record: &SessionRecord) {
    let time = Time::of(record);
    let trace = &record.state.trace;
    // Bars of whole minutes, or so wide that they can be told apart.
    let spans = trace.spans();
    let bars_max = (WIDTH / 4.0) as u64;
    let whole = (time.end_ms as u64).div_ceil(60_000).max(1);
    let bar_ms = 60_000 * whole.div_ceil(bars_max).max(trace.span_ms().div_ceil(60_000));
    let mut bars = vec![0u64; usize::try_from((time.end_ms as u64).div_ceil(bar_ms)).unwrap_or(0).max(1)];
    for (i, span) in spans.iter().enumerate() {
        let at = i as u64 * trace.span_ms() / bar_ms;
        if let Some(bar) = usize::try_from(at).ok().and_then(|at| bars.get_mut(at)) {
            *bar += span.pulses;
        }
    }
    let a_minute = |pulses: u64| pulses as f64 * 60_000.0 / bar_ms as f64;
    let peak = a_minute(bars.iter().copied().max().unwrap_or(0));
    let top = round_up(peak);
    let description = format!(
        "Each bar is {} minutes wide; the highest stands for {} pulses a minute.",
        bar_ms / 60_000,
        trimmed(peak, 1)
    );
    let size = (LEFT + WIDTH + RIGHT, TOP + CURVE + 42.0);
    Svg::draw(m, "rate", size, ("Pulses a minute", &description), |svg| {
        scale(svg, top, "a minute");
        for (i, pulses) in bars.iter().enumerate().filter(|(_, n)| **n > 0) {
            let (from, to) = (time.x(i as u64 * bar_ms), time.x((i as u64 + 1) * bar_ms));
            let height = CURVE * a_minute(*pulses) / top;
            svg.rectangle("pass", (from, TOP + CURVE - height), ((to - from - 0.5).max(0.5), height));
        }
        time.draw(svg, TOP + CURVE);
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scales_end_at_round_figures() {
        for (v, up) in [(0.0, 1.0), (3.0, 5.0), (5.0, 5.0), (30.0, 50.0), (101.0, 200.0), (0.12, 0.2), (10.0, 10.0)] {
            assert!((round_up(v) - up).abs() < 1e-9, "{v}: {}", round_up(v));
        }
    }

    #[test]
    fn of_moments_that_fall_together_the_gravest_is_drawn() {
        let moment = |ms, letter, weight| Moment { ms, lane: Lane::Skin, letter, words: "", weight };
        let time = Time { end_ms: 600_000.0 };
        let all = [moment(0, 'w', 2), moment(500, 'b', 4), moment(900, 'o', 1), moment(300_000, 'w', 2)];
        let letters: String = drawn(&time, all.into_iter()).into_iter().map(|(_, l)| l).collect();
        assert_eq!(letters, "bw");
    }
}
