//! Events and photons a second on one thread, by the time that it held a processor.

use super::lean;
use super::reference::{self, End, Reference};
use super::stacks::{self, Case};
use super::timing::{Series, timed_on_processor as timed};
use crate::Outcome;
use crate::figures::Table;
use fadewright::physics::transport::Measured;
use fadewright::physics::transport::montecarlo::{self, Goal, Request, run};

/// Our events a second over those of the reference, at least.
const RATIO: f64 = 5.0;
/// Turns of each stack, in each of which all that is compared runs once.
const TURNS: u64 = 9;
/// How far a share may lie from what is known, in standard errors. The seeds are fixed: it fails always or never.
const ERRORS: f64 = 5.0;

/// How fast something was, over all turns.
#[derive(Default)]
struct Speed {
    events_s: Series,
    photons_s: Series,
}

impl Speed {
    fn push(&mut self, seconds: f64, photons: u64, events: u64) {
        self.events_s.push(events as f64 / seconds);
        self.photons_s.push(photons as f64 / seconds);
    }
    fn words(&self) -> String {
        let (events, photons) = (self.events_s.median(), self.photons_s.median());
        let each = events / photons;
        format!("{:6.1} M events/s  {:8.1} k photons/s  ({each:.1} events each)", events / 1e6, photons / 1e3)
    }
}

fn lanes(case: &Case, depths_cm: &[f64], seed: u64) -> Outcome<montecarlo::Outcome> {
    let goal = Goal::Photons(case.photons_in_lanes);
    Ok(run(&Request { stack: &case.stack, goal, seed, threads: 1, depths_cm, targets: &[] }, &())?)
}

/// Our lanes, with planes and without, against the reference.
pub fn transport(table: &mut Table) -> Outcome<()> {
    table.note("classic program in C, elsewhere, once", "11 to 17 M events/s with grids");
    for case in stacks::all()? {
        let (name, reference, depths_cm) = (case.name, Reference::new(&case.stack), case.depths_cm());
        let (mut scalar, mut bare, mut counting) = (Speed::default(), Speed::default(), Speed::default());
        let (mut ratio_bare, mut ratio_counting, mut ratio_photons) =
            (Series::default(), Series::default(), Series::default());
        // A slab thinner than the first depths: what as many inside it cost is told too.
        let mut crowded = (depths_cm.len() < case.depths_within_cm().len()).then(Series::empty);
        let (mut left, mut last) = (reference::Counts::none(), None);
        for turn in 1..=TURNS {
            let (reference_s, counts) = timed(|| reference.run(case.photons, turn, End::Roulette));
            scalar.push(reference_s, counts.photons, counts.events);
            let (bare_s, ours) = timed(|| lanes(&case, &[], turn));
            let ours = ours?;
            bare.push(bare_s, ours.photons, ours.events);
            let (counting_s, counted) = timed(|| lanes(&case, &depths_cm, turn));
            let counted = counted?;
            counting.push(counting_s, counted.photons, counted.events);
            let of = |amount: u64, seconds: f64, of_reference: u64| {
                amount as f64 / seconds / (of_reference as f64 / reference_s)
            };
            ratio_bare.push(of(ours.events, bare_s, counts.events));
            ratio_counting.push(of(counted.events, counting_s, counts.events));
            ratio_photons.push(of(counted.photons, counting_s, counts.photons));
            if let Some(ratio) = &mut crowded {
                let (crowded_s, ours) = timed(|| lanes(&case, &case.depths_within_cm(), turn));
                ratio.push(of(ours?.events, crowded_s, counts.events));
            }
            left.add(&counts);
            last = Some(counted);
        }
        let classic = format!("classic program elsewhere: {:.1} k photons/s", case.classic_photons_s / 1e3);
        let depths = if depths_cm.len() == 1 { "1 depth".to_owned() } else { format!("{} depths", depths_cm.len()) };
        table.note(&format!("{name}: reference"), format!("{}  {classic}", scalar.words()));
        table.note(&format!("{name}: ours, no depths"), bare.words());
        table.note(&format!("{name}: ours, {depths}"), counting.words());
        let judge = |table: &mut Table, what: &str, ratio: &Series| {
            let what = format!("{name}: events/s, {what}");
            table.judge(&what, times(ratio), format!("{RATIO} x"), ratio.median() >= RATIO);
        };
        judge(table, "no depths", &ratio_bare);
        // Where light passes more depths than it scatters, the time goes into counting, which the reference's grids
        // are spared: told, and not judged.
        if case.like_skin {
            judge(table, &depths, &ratio_counting);
        } else {
            table.note(&format!("{name}: events/s, {depths}"), times(&ratio_counting));
        }
        table.note(&format!("{name}: photons/s, {depths}"), times(&ratio_photons));
        if let Some(ratio) = crowded {
            table.note(&format!("{name}: events/s, 12 depths inside it"), times(&ratio));
        }
        judge_reference(table, &case, &reference, &left);
        if let Some(ours) = last {
            let (r, t) = (ours.diffuse_reflectance, ours.transmittance);
            let error = |m: Measured| m.standard_error.unwrap_or(f64::INFINITY);
            judge_answers(table, &case, "ours", (r.value, error(r)), (t.value, error(t)));
        }
    }
    Ok(())
}

fn times(ratios: &Series) -> String {
    format!("{:.2} x the reference  (from {:.2} to {:.2})", ratios.median(), ratios.least(), ratios.most())
}

/// No photon's share has a larger spread than one that leaves whole or not at all.
fn binomial(share: f64, photons: u64) -> f64 {
    (share * (1.0 - share) / photons as f64).sqrt()
}

/// A reference that gives wrong answers would be none.
fn judge_reference(table: &mut Table, case: &Case, reference: &Reference, left: &reference::Counts) {
    let (r, t) = (left.reflectance(), left.transmittance());
    let error = |share| binomial(share, left.photons);
    judge_answers(table, case, "reference", (r, error(case.expected.0)), (t, error(case.expected.1)));
    let total = reference.specular + r + t + left.absorbed();
    // Roulette keeps the sum right in the mean only.
    let kept = (total - 1.0).abs() < 1e-4;
    table.judge(&format!("{}: reference, all light", case.name), format!("{total:.6}"), "1, within 0.0001", kept);
}

fn judge_answers(table: &mut Table, case: &Case, whose: &str, (r, r_error): (f64, f64), (t, t_error): (f64, f64)) {
    let (r_known, t_known) = case.expected;
    let measured = format!("R {r:.5} +- {r_error:.5}  T {t:.5} +- {t_error:.5}");
    let kept = (r - r_known).abs() <= ERRORS * r_error && (t - t_known).abs() <= ERRORS * t_error;
    table.judge(&format!("{}: answers, {whose}", case.name), measured, format!("R {r_known:.5}  T {t_known:.5}"), kept);
}

/// What each of our changes brings, one after the other: photons a second, since that is what one waits for.
pub fn what_brought_what(table: &mut Table) -> Outcome<()> {
    for case in stacks::all()? {
        let (name, reference, depths_cm) = (case.name, Reference::new(&case.stack), case.depths_cm());
        let (mut roulette, mut whole, mut single, mut bare, mut counting) =
            (Speed::default(), Speed::default(), Speed::default(), Speed::default(), Speed::default());
        let mut gains = [const { Series::empty() }; 4];
        let (mut left, mut left_single) = (reference::Counts::none(), lean::Counts::default());
        for turn in 1..=TURNS {
            let mut photons_s = Series::default();
            for end in [End::Roulette, End::WholeWhenLight] {
                let (seconds, counts) = timed(|| reference.run(case.photons, turn, end));
                let speed = if end == End::Roulette { &mut roulette } else { &mut whole };
                speed.push(seconds, counts.photons, counts.events);
                photons_s.push(counts.photons as f64 / seconds);
                if end == End::WholeWhenLight {
                    left.add(&counts);
                }
            }
            let (seconds, counts) = timed(|| lean::run(&case.stack, case.photons * 3, turn as u32));
            single.push(seconds, counts.photons, counts.events);
            photons_s.push(counts.photons as f64 / seconds);
            left_single.add(&counts);
            for (speed, depths) in [(&mut bare, &[][..]), (&mut counting, &depths_cm)] {
                let (seconds, ours) = timed(|| lanes(&case, depths, turn));
                let ours = ours?;
                speed.push(seconds, ours.photons, ours.events);
                photons_s.push(ours.photons as f64 / seconds);
            }
            photons_s.steps().zip(&mut gains).for_each(|(step, gain)| gain.push(step));
        }
        let [by_rule, by_lean, by_lanes, by_depths] = gains.map(|g| format!("{:.2} x photons/s", g.median()));
        table.note(&format!("{name}: scalar f64, roulette, grids"), roulette.words());
        table.note(&format!("{name}: light photons whole or not"), format!("{}  {by_rule}", whole.words()));
        table.note(&format!("{name}: f32, polynomials, no grids"), format!("{}  {by_lean}", single.words()));
        table.note(&format!("{name}: lanes, whole weights"), format!("{}  {by_lanes}", bare.words()));
        table.note(&format!("{name}: and depths counted"), format!("{}  {by_depths}", counting.words()));
        judge_reference(table, &case, &reference, &left);
        let entering = 1.0 - reference.specular;
        let share = |share: f64, known: f64| (entering * share, binomial(known, left_single.photons));
        let (r, t) = (left_single.reflectance(), left_single.transmittance());
        judge_answers(table, &case, "f32", share(r, case.expected.0), share(t, case.expected.1));
    }
    Ok(())
}
