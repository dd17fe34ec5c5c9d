//! Running a stack's photons: batches, threads, precision, and stopping early.

use super::kernel::{Slice, walk};
use super::pencil::Pencil;
use super::prepared::Prepared;
use super::sampling::Generators;
use super::tally::Tally;
use crate::physics::Stack;
use crate::physics::transport::{Beam, Measured, TransportError};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Mutex, PoisonError};

/// Batches of a run, whose spread gives the errors.
pub const BATCHES: u64 = 64;

/// The most photons that can be asked for.
pub const MAX_PHOTONS: u64 = 1_000_000_000_000;

/// Photons of a slice: enough that the last ones, with most lanes empty, cost little; few enough to be heard soon.
const SLICE: u64 = 4096;

/// Looks on while a run goes on, and may end it. Called from several threads.
pub trait Watch: Sync {
    /// Told how many photons are done and how many are planned so far; `false` ends the run with what is done.
    fn go_on(&self, done: u64, planned: u64) -> bool;
}

/// Never ends a run.
impl Watch for () {
    fn go_on(&self, _: u64, _: u64) -> bool {
        true
    }
}

/// When a run is done.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Goal {
    /// After so many photons, 1 to [`MAX_PHOTONS`].
    Photons(u64),
    /// When the relative standard error of the diffuse reflectance, and of each fluence asked for, is this small.
    Precision {
        /// The relative standard error, 1e-5 to 0.5.
        relative: f64,
        /// Photons after which to give up, at most [`MAX_PHOTONS`].
        at_most: u64,
    },
}

/// What is to be run.
#[derive(Debug, Clone)]
pub struct Request<'a> {
    /// The layers.
    pub stack: &'a Stack,
    /// When it is done.
    pub goal: Goal,
    /// Seed of the random streams: the same seed gives the same figures.
    pub seed: u64,
    /// Threads to use, at least one; the result does not depend on it.
    pub threads: usize,
    /// Depths in cm at which fluence is wanted. Empty for none, which is faster.
    pub depths_cm: &'a [f64],
    /// Beams and depths whose fluence must reach the precision; the depths must be among those above.
    pub targets: &'a [(Beam, f64)],
}

/// How a run ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ending {
    /// The goal was reached.
    Complete,
    /// It was told to stop: the figures are right, their errors larger than was wanted.
    Stopped,
    /// All photons were run and the precision not reached.
    Imprecise,
}

/// What came of a run. Shares are of the light that came in.
#[derive(Debug, Clone)]
pub struct Outcome {
    /// Reflected at the surface before anything was absorbed or scattered.
    pub specular_reflectance: f64,
    /// Came back from inside.
    pub diffuse_reflectance: Measured,
    /// Left below.
    pub transmittance: Measured,
    /// Absorbed, a layer.
    pub absorbed: Vec<Measured>,
    /// Photons followed to their end.
    pub photons: u64,
    /// Interactions of all photons.
    pub events: u64,
    /// How it ended.
    pub ending: Ending,
    /// The light inside, where depths were asked for.
    pub pencil: Option<Pencil>,
}

impl Outcome {
    /// All shares together: 1, but for the rounding of this sum.
    #[must_use]
    pub fn total(&self) -> f64 {
        let absorbed: f64 = self.absorbed.iter().map(|a| a.value).sum();
        self.specular_reflectance + self.diffuse_reflectance.value + self.transmittance.value + absorbed
    }
}

/// Runs it.
///
/// # Errors
/// [`TransportError`] for a goal, a depth or a spot that cannot be run, and where the watch ended it before the first
/// slice of photons was done.
pub fn run(request: &Request<'_>, watch: &dyn Watch) -> Result<Outcome, TransportError> {
    check(request)?;
    let prepared = Prepared::new(request.stack, request.depths_cm)?;
    if prepared.start.is_none() {
        if let Some(depth_cm) = request.depths_cm.first() {
            return Err(TransportError::Depth { depth_cm: *depth_cm });
        }
        return Ok(clear(request.stack, &prepared));
    }
    let empty = Tally::new(request.stack.layers().len(), prepared.plane_count());
    let crew = Crew {
        prepared: &prepared,
        seed: request.seed,
        batches: (0..BATCHES).map(|_| Mutex::new(empty.clone())).collect(),
        done: AtomicU64::new(0),
        stop: AtomicBool::new(false),
        watch,
    };
    let (done, at_most) = match request.goal {
        Goal::Photons(n) => (crew.work(request.threads, &Plan::of(0, n)), n),
        Goal::Precision { at_most, .. } => (true, at_most),
    };
    let mut outcome = Outcome::of(&crew.so_far(), &prepared, request);
    outcome.ending = if done { Ending::Complete } else { Ending::Stopped };
    if let Goal::Precision { relative, .. } = request.goal {
        let mut rounds = Rounds { slices: 0, photons: 0 };
        let mut factor = f64::INFINITY;
        while factor > 1.0 {
            if rounds.photons >= at_most {
                outcome.ending = Ending::Imprecise;
                break;
            }
            let plan = rounds.next(factor, at_most);
            let went_on = crew.work(request.threads, &plan);
            outcome = Outcome::of(&crew.so_far(), &prepared, request);
            factor = outcome.photons_wanted(request, relative);
            if !went_on && factor > 1.0 {
                outcome.ending = Ending::Stopped;
                break;
            }
        }
    }
    if outcome.photons == 0 { Err(TransportError::NothingDone) } else { Ok(outcome) }
}

fn check(request: &Request<'_>) -> Result<(), TransportError> {
    let (photons, precision) = match request.goal {
        Goal::Photons(n) => (n, None),
        Goal::Precision { relative, at_most } => (at_most, Some(relative)),
    };
    if !(1..=MAX_PHOTONS).contains(&photons) {
        return Err(TransportError::Photons(photons));
    }
    if let Some(relative) = precision.filter(|p| !(1e-5..=0.5).contains(p)) {
        return Err(TransportError::Precision(relative));
    }
    let unknown = |d: f64| !request.depths_cm.iter().any(|z| (z - d).abs() <= 0.0);
    if let Some((_, depth_cm)) = request.targets.iter().find(|(_, d)| unknown(*d)) {
        return Err(TransportError::Depth { depth_cm: *depth_cm });
    }
    // Deeper than any layer may be is outside, and no number is nowhere.
    if let Some(depth_cm) = request.depths_cm.iter().find(|d| !(0.0..=1e4).contains(*d)) {
        return Err(TransportError::Depth { depth_cm: *depth_cm });
    }
    for (beam, _) in request.targets {
        match *beam {
            Beam::Flat { diameter_cm } | Beam::Gaussian { diameter_cm } if !(0.01..=3.0).contains(&diameter_cm) => {
                return Err(TransportError::Spot(diameter_cm));
            }
            _ => {}
        }
    }
    Ok(())
}

/// A stack of clear layers: nothing to follow.
fn clear(stack: &Stack, prepared: &Prepared) -> Outcome {
    Outcome {
        specular_reflectance: prepared.specular,
        diffuse_reflectance: Measured::exact(0.0),
        transmittance: Measured::exact(1.0 - prepared.specular),
        absorbed: vec![Measured::exact(0.0); stack.layers().len()],
        photons: 0,
        events: 0,
        ending: Ending::Complete,
        pencil: None,
    }
}

/// Slices still to do: for each batch from `first`, and how many photons the run has once they are done.
struct Plan {
    first: u64,
    slices: u64,
    photons: u64,
    before: u64,
}

impl Plan {
    /// All slices of a run of so many photons.
    fn of(first: u64, photons: u64) -> Self {
        let most = photons.div_ceil(BATCHES);
        Self { first, slices: most.div_ceil(SLICE), photons, before: 0 }
    }

    /// Photons of a slice of a batch. Batches differ by one photon at most.
    fn slice(&self, batch: u64, slice: u64) -> u64 {
        let new = self.photons - self.before;
        let of_batch = new / BATCHES + u64::from(batch < new % BATCHES);
        of_batch.saturating_sub((slice - self.first) * SLICE).min(SLICE)
    }
}

/// Rounds of a run towards a precision, each of whole slices for all batches.
struct Rounds {
    slices: u64,
    photons: u64,
}

impl Rounds {
    /// A round that makes the run `factor` times as large, but at most four times, and no larger than allowed.
    fn next(&mut self, factor: f64, at_most: u64) -> Plan {
        let round = BATCHES * SLICE;
        let wanted = if self.photons == 0 { 1.0 } else { self.slices as f64 * (factor.min(4.0) - 1.0) * 1.1 };
        let slices = wanted.ceil().max(1.0) as u64;
        let photons = (self.photons + slices * round).min(at_most);
        let plan = Plan { first: self.slices, slices, photons, before: self.photons };
        self.slices += slices;
        self.photons = photons;
        plan
    }
}

struct Crew<'a> {
    prepared: &'a Prepared,
    seed: u64,
    batches: Vec<Mutex<Tally>>,
    done: AtomicU64,
    stop: AtomicBool,
    watch: &'a dyn Watch,
}

impl Crew<'_> {
    /// Works through a plan. False when it was told to stop.
    fn work(&self, threads: usize, plan: &Plan) -> bool {
        let next = AtomicU64::new(0);
        let useful = plan.slices.saturating_mul(BATCHES).min(threads.max(1) as u64);
        std::thread::scope(|scope| {
            for _ in 1..useful {
                scope.spawn(|| self.take_slices(plan, &next));
            }
            self.take_slices(plan, &next);
        });
        !self.stop.load(Ordering::Relaxed)
    }

    fn take_slices(&self, plan: &Plan, next: &AtomicU64) {
        let Some(mut tally) = self.batches.first().map(|b| locked(b).clone()) else { return };
        let go_on = || {
            let on =
                !self.stop.load(Ordering::Relaxed) && self.watch.go_on(self.done.load(Ordering::Relaxed), plan.photons);
            if !on {
                self.stop.store(true, Ordering::Relaxed);
            }
            on
        };
        while go_on() {
            let ticket = next.fetch_add(1, Ordering::Relaxed);
            let (slice, batch) = (plan.first + ticket / BATCHES, ticket % BATCHES);
            if ticket / BATCHES >= plan.slices {
                return;
            }
            let photons = plan.slice(batch, slice);
            if photons == 0 {
                continue;
            }
            tally.clear();
            let generators = Generators::of(self.seed, batch, slice);
            let prepared = self.prepared;
            if walk(Slice { prepared, generators, photons, tally: &mut tally, go_on: &go_on }) {
                tally.photons = photons;
                if let Some(whole) = self.batches.get(batch as usize) {
                    locked(whole).add(&tally);
                }
                self.done.fetch_add(photons, Ordering::Relaxed);
            }
        }
    }

    fn so_far(&self) -> Vec<Tally> {
        self.batches.iter().map(|b| locked(b).clone()).collect()
    }
}

fn locked(batch: &Mutex<Tally>) -> std::sync::MutexGuard<'_, Tally> {
    // Adding whole numbers cannot leave a tally half done in a way that matters more than the panic itself.
    batch.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Outcome {
    fn of(batches: &[Tally], prepared: &Prepared, request: &Request<'_>) -> Self {
        let layers = request.stack.layers().len();
        let entering = 1.0 - prepared.specular;
        let share = |parts: &dyn Fn(&Tally) -> u64| {
            let used = batches.iter().filter(|b| b.photons > 0);
            let each: Vec<(u64, f64)> = used.map(|b| (b.photons, entering * b.share(parts(b)))).collect();
            Measured::of_batches(&each)
        };
        Self {
            specular_reflectance: prepared.specular,
            diffuse_reflectance: share(&|b| b.reflected),
            transmittance: share(&|b| b.transmitted),
            absorbed: (0..layers).map(|layer| share(&|b| b.absorbed.get(layer).copied().unwrap_or(0))).collect(),
            photons: batches.iter().map(|b| b.photons).sum(),
            events: batches.iter().map(|b| b.events).sum(),
            ending: Ending::Complete,
            pencil: (!prepared.planes.is_empty()).then(|| Pencil {
                batches: batches.to_vec(),
                planes: request.depths_cm.iter().copied().zip(prepared.planes.iter().copied()).collect(),
                entering,
            }),
        }
    }

    /// How many times as many photons the precision takes; at most 1 when it is reached.
    fn photons_wanted(&self, request: &Request<'_>, relative: f64) -> f64 {
        let mut worst = self.diffuse_reflectance.relative_error();
        if let Some(pencil) = &self.pencil {
            for (beam, depth) in request.targets {
                worst = worst.max(pencil.fluence(*beam, *depth).map_or(f64::INFINITY, |m| m.relative_error()));
            }
        }
        (worst / relative).powi(2)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::Layer;

    fn skin() -> Stack {
        let layer = |n, mua_per_cm, mus_per_cm, g, thickness_cm| Layer { n, mua_per_cm, mus_per_cm, g, thickness_cm };
        let layers = vec![
            layer(1.42, 10.0, 200.0, 0.85, 0.006),
            layer(1.37, 0.5, 150.0, 0.85, 0.05),
            layer(1.5, 0.0, 0.0, 0.0, 0.01),
            layer(1.44, 0.3, 50.0, 0.8, f64::INFINITY),
        ];
        Stack::new(1.0, 1.0, layers).unwrap()
    }

    fn request(stack: &Stack, photons: u64, threads: usize) -> Request<'_> {
        Request {
            stack,
            goal: Goal::Photons(photons),
            seed: 5,
            threads,
            depths_cm: &[0.006, 0.01, 0.06, 0.1],
            targets: &[],
        }
    }

    #[test]
    fn every_part_of_every_photon_is_accounted_for() {
        let stack = skin();
        let outcome = run(&request(&stack, 10_007, 2), &()).unwrap();
        assert_eq!(outcome.photons, 10_007);
        for batch in &outcome.pencil.as_ref().unwrap().batches {
            assert_eq!(batch.ended(), batch.launched());
        }
        assert!((outcome.total() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn counting_light_inside_does_not_change_the_walk() {
        let stack = skin();
        let counted = run(&request(&stack, 20_000, 1), &()).unwrap();
        let bare = run(&Request { depths_cm: &[], ..request(&stack, 20_000, 1) }, &()).unwrap();
        assert_eq!((counted.events, counted.diffuse_reflectance), (bare.events, bare.diffuse_reflectance));
        assert_eq!(counted.absorbed, bare.absorbed);
    }

    /// A layer without an end in which light runs further than single precision can tell.
    #[test]
    fn light_that_runs_to_infinity_passes_each_depth_once() {
        let layer = Layer { n: 1.0, mua_per_cm: 1e-38, mus_per_cm: 0.0, g: 0.0, thickness_cm: f64::INFINITY };
        let stack = Stack::new(1.0, 1.0, vec![layer]).unwrap();
        let pencil = run(&request(&stack, 10_000, 1), &()).unwrap().pencil.unwrap();
        for depth in [0.006, 0.1] {
            assert!((pencil.fluence(Beam::Wide, depth).unwrap().value - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn threads_do_not_change_a_bit() {
        let stack = skin();
        let one = run(&request(&stack, 40_000, 1), &()).unwrap();
        for threads in [2, 3, 8] {
            let many = run(&request(&stack, 40_000, threads), &()).unwrap();
            assert_eq!(one.pencil.as_ref().unwrap().batches, many.pencil.unwrap().batches);
        }
        let other = run(&Request { seed: 6, ..request(&stack, 40_000, 1) }, &()).unwrap();
        assert_ne!(one.pencil.unwrap().batches, other.pencil.unwrap().batches);
    }

    #[test]
    fn a_precision_is_reached_and_said_to_be() {
        let stack = skin();
        let goal = Goal::Precision { relative: 0.01, at_most: 10_000_000 };
        let beam = Beam::Flat { diameter_cm: 0.3 };
        let outcome = run(&Request { goal, targets: &[(beam, 0.1)], ..request(&stack, 1, 2) }, &()).unwrap();
        assert_eq!(outcome.ending, Ending::Complete);
        let fluence = outcome.pencil.unwrap().fluence(beam, 0.1).unwrap();
        assert!(fluence.relative_error() <= 0.01 && outcome.diffuse_reflectance.relative_error() <= 0.01);
        let goal = Goal::Precision { relative: 1e-5, at_most: 300_000 };
        let outcome = run(&Request { goal, ..request(&stack, 1, 2) }, &()).unwrap();
        assert_eq!((outcome.ending, outcome.photons), (Ending::Imprecise, 300_000));
    }

    struct StopAfter(u64);
    impl Watch for StopAfter {
        fn go_on(&self, done: u64, _: u64) -> bool {
            done < self.0
        }
    }

    #[test]
    fn a_run_that_is_stopped_gives_what_it_has() {
        let stack = skin();
        let outcome = run(&request(&stack, MAX_PHOTONS, 2), &StopAfter(20_000)).unwrap();
        assert_eq!(outcome.ending, Ending::Stopped);
        assert!(outcome.photons >= 20_000 && outcome.photons < 40_000 && (outcome.total() - 1.0).abs() < 1e-12);
        assert_eq!(run(&request(&stack, 1000, 2), &StopAfter(0)).unwrap_err(), TransportError::NothingDone);
    }

    /// Scattering without absorption in a thick slab: photons stay for very long, and none may hold up the stop.
    #[test]
    fn photons_that_would_wander_for_ever_do_not_hold_up_a_stop() {
        let layer = Layer { n: 1.4, mua_per_cm: 0.0, mus_per_cm: 1e6, g: 0.0, thickness_cm: 1e4 };
        let stack = Stack::new(1.0, 1.0, vec![layer]).unwrap();
        struct Looks(AtomicU64);
        impl Watch for Looks {
            fn go_on(&self, _: u64, _: u64) -> bool {
                self.0.fetch_add(1, Ordering::Relaxed) < 30
            }
        }
        let ended = run(&request(&stack, 1_000_000, 1), &Looks(AtomicU64::new(0)));
        assert!(ended.map_or_else(|e| e == TransportError::NothingDone, |o| o.ending == Ending::Stopped));
    }

    #[test]
    fn what_cannot_be_run_is_refused() {
        let stack = skin();
        let error = |r: Request<'_>| run(&r, &()).unwrap_err();
        let good = request(&stack, 10, 1);
        assert_eq!(error(Request { goal: Goal::Photons(0), ..good.clone() }), TransportError::Photons(0));
        assert_eq!(error(Request { goal: Goal::Photons(u64::MAX), ..good.clone() }), TransportError::Photons(u64::MAX));
        for relative in [0.0, -1.0, 2.0, f64::NAN, f64::INFINITY] {
            let goal = Goal::Precision { relative, at_most: 1000 };
            assert!(matches!(error(Request { goal, ..good.clone() }), TransportError::Precision(_)));
        }
        for depth in [-0.1, f64::NAN, f64::INFINITY, 1e5] {
            assert!(matches!(error(Request { depths_cm: &[depth], ..good.clone() }), TransportError::Depth { .. }));
        }
        for diameter_cm in [0.0, -1.0, 4.0, f64::NAN] {
            let targets = [(Beam::Flat { diameter_cm }, 0.1)];
            assert!(matches!(error(Request { targets: &targets, ..good.clone() }), TransportError::Spot(_)));
        }
    }

    #[test]
    fn clear_layers_alone_reflect_and_pass() {
        let glass = Layer { n: 1.5, mua_per_cm: 0.0, mus_per_cm: 0.0, g: 0.0, thickness_cm: 0.1 };
        let stack = Stack::new(1.0, 1.0, vec![glass]).unwrap();
        let outcome = run(&Request { depths_cm: &[], ..request(&stack, 10, 1) }, &()).unwrap();
        // Two faces of 4 %: 2 r / (1 + r).
        assert!((outcome.specular_reflectance - 0.08 / 1.04).abs() < 1e-12 && (outcome.total() - 1.0).abs() < 1e-12);
        // Nothing interacts, so no light inside is known.
        let refused = run(&Request { depths_cm: &[0.05], ..request(&stack, 10, 1) }, &());
        assert_eq!(refused.unwrap_err(), TransportError::Depth { depth_cm: 0.05 });
    }
}
