//! Two threads against one.

use super::stacks;
use super::timing::{Series, timed};
use crate::Outcome;
use crate::figures::Table;
use fadewright::physics::transport::montecarlo::{self, Goal, Request, run};

/// How many times as fast two threads are as one, at least.
const GAIN: f64 = 1.9;
const TURNS: usize = 9;
/// About a second on one thread.
const PHOTONS: u64 = 64 * 4096 * 4;

/// Two threads do the same work in about half the time, and the same to the last bit.
pub fn two_threads(table: &mut Table) -> Outcome<()> {
    let [.., skin, _] = stacks::all()?;
    let depths_cm = skin.depths_cm();
    let work = |threads| -> Outcome<(f64, montecarlo::Outcome)> {
        let goal = Goal::Photons(PHOTONS);
        let request = Request { stack: &skin.stack, goal, seed: 1, threads, depths_cm: &depths_cm, targets: &[] };
        let (seconds, outcome) = timed(|| run(&request, &()));
        Ok((seconds, outcome?))
    };
    let (mut gains, mut one_s, mut two_s) = (Series::empty(), Series::empty(), Series::empty());
    let mut effort = Series::empty();
    let mut same = true;
    for _ in 0..TURNS {
        let start = of_all_threads();
        let (one, a) = work(1)?;
        let between = of_all_threads();
        let (two, b) = work(2)?;
        let end = of_all_threads();
        if let (Some(start), Some(between), Some(end)) = (start, between, end) {
            effort.push((end - between) / (between - start));
        }
        same &= bits(&a, &depths_cm)? == bits(&b, &depths_cm)?;
        gains.push(one / two);
        one_s.push(one);
        two_s.push(two);
    }
    let words = format!("{:.2} x one  (from {:.2} to {:.2})", gains.median(), gains.least(), gains.most());
    table.judge("two threads", words, format!("{GAIN} x"), gains.median() >= GAIN);
    // What others do on the machine only ever adds to a time.
    let least = format!("{:.2} x: {:.2} s, {:.2} s", one_s.least() / two_s.least(), one_s.least(), two_s.least());
    table.note("two threads, least times", least);
    // Near 1 the threads do not hold each other up; what is then missing to two, others on the machine took.
    table.note("processor time of two threads over one's", format!("{:.2} x", effort.median()));
    let verdict = if same { "same" } else { "different" };
    table.judge("figures of two threads and of one", verdict, "same to the last bit", same);
    Ok(())
}

/// The processor time of this program so far with threads that have ended, in ticks of the system.
fn of_all_threads() -> Option<f64> {
    let stat = std::fs::read_to_string("/proc/self/stat").ok()?;
    // The name before the last parenthesis may hold blanks; user and system time are the 12th and 13th after it.
    let mut fields = stat.rsplit_once(')')?.1.split_whitespace().skip(11).map_while(|f| f.parse::<f64>().ok());
    Some(fields.next()? + fields.next()?)
}

/// Every figure of a run as it lies in memory.
fn bits(outcome: &montecarlo::Outcome, depths_cm: &[f64]) -> Outcome<Vec<u64>> {
    use fadewright::physics::transport::Beam;
    let mut all = vec![outcome.diffuse_reflectance, outcome.transmittance];
    all.extend_from_slice(&outcome.absorbed);
    let pencil = outcome.pencil.as_ref().ok_or("light was asked for at depths")?;
    for depth in depths_cm {
        for beam in [Beam::Wide, Beam::Flat { diameter_cm: 0.3 }, Beam::Gaussian { diameter_cm: 0.3 }] {
            all.push(pencil.fluence(beam, *depth)?);
        }
    }
    let figures = all.iter().flat_map(|m| [m.value.to_bits(), m.standard_error.unwrap_or(f64::NAN).to_bits()]);
    Ok(figures.chain([outcome.photons, outcome.events]).collect())
}
