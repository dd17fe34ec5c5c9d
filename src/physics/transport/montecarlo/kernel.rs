//! The walk itself: photons in lanes, all lanes take each step together.
//!
//! Hop, drop and spin follow Prahl SA et al., SPIE IS5:102 (1989) and Wang L, Jacques SL, Zheng L, Comput Methods
//! Programs Biomed 47:131 (1995). What differs, and why it may:
//!
//! - Weights are whole numbers of [`ONE`] parts, kept in `f32`, which holds them exactly. A photon loses a whole
//!   number of parts at each interaction, rounded up or down at random so that the mean is right. So absorbed, reflected
//!   and transmitted weight add up to what was launched to the last part, and sums do not depend on their order.
//! - Below [`LIGHT`] a photon is absorbed whole or not at all, with the albedo's odds. Unlike roulette this makes no
//!   weight and loses none.
//! - Light is counted where it passes the depths asked for, which neither stops a photon nor changes its walk.
//! - At a boundary the rest of the path is thrown away and a new one drawn: free paths have no memory.

#![allow(clippy::indexing_slicing, reason = "lanes are numbered below LANES, layers come from the stack itself")]

use super::prepared::Prepared;
use super::rings::{RINGS, ring_at};
use super::sampling::{Generator, Generators, Phase, azimuth, deflection, free_path, unit};
use super::tally::Tally;

/// Photons that walk together. Two vectors of eight hide each other's waiting.
pub(super) const LANES: usize = 16;

/// Parts of a photon's weight at launch.
pub(super) const ONE: f32 = 4_194_304.0;

/// Weight below which a photon is absorbed whole or not at all. A photon this light matters little for the noise, and
/// following it to a ten-thousandth would take most of the time.
const LIGHT: f32 = ONE / 20.0;

/// Adding it to a number below 2^22 rounds that to a whole one, which then stands in the lowest bits.
const ROUND: f32 = 8_388_608.0;

/// Steps between two looks at whether to go on.
const STEPS_PER_LOOK: u32 = 1 << 15;

/// A slice of work: photons to launch with their random streams.
pub(super) struct Slice<'a> {
    pub(super) prepared: &'a Prepared,
    pub(super) generators: Generators,
    pub(super) photons: u64,
    pub(super) tally: &'a mut Tally,
    /// Asked now and then; `false` ends the slice unfinished.
    pub(super) go_on: &'a dyn Fn() -> bool,
}

/// Walks a slice's photons to their end. False when it was told to stop; its tally is then of no use.
pub(super) fn walk(slice: Slice<'_>) -> bool {
    // Runs the same code compiled for the widest vectors this processor has.
    let counts = slice.prepared.counts_inside();
    let processor = pulp::Arch::new();
    if counts { processor.dispatch(Counting(slice)) } else { processor.dispatch(Passing(slice)) }
}

/// With planes inside layers, at which light is counted.
struct Counting<'a>(Slice<'a>);
/// Without.
struct Passing<'a>(Slice<'a>);

impl pulp::NullaryFnOnce for Counting<'_> {
    type Output = bool;
    #[inline(always)]
    fn call(self) -> bool {
        run::<true>(self.0)
    }
}

impl pulp::NullaryFnOnce for Passing<'_> {
    type Output = bool;
    #[inline(always)]
    fn call(self) -> bool {
        run::<false>(self.0)
    }
}

type Lane = [f32; LANES];

/// The photons under way, one a lane, with the constants of the layer each is in.
struct Photons {
    x: Lane,
    y: Lane,
    z: Lane,
    ux: Lane,
    uy: Lane,
    uz: Lane,
    /// Weight left; 0 once absorbed.
    weight: Lane,
    /// Absorbed in this layer since the photon came into it.
    absorbed: Lane,
    /// The layer each is in; no layer's number in a lane that is out of use.
    layer: [usize; LANES],
    active: [bool; LANES],
    /// The fence above each photon.
    gap: [usize; LANES],
    /// Depths of the fences above and below.
    fence_above: Lane,
    fence_below: Lane,
    mean_free_path: Lane,
    share: Lane,
    g: Lane,
    c0: Lane,
    c1: Lane,
    c2: Lane,
    thickness: Lane,
}

impl Photons {
    /// Lanes in which nothing ever happens.
    #[inline(always)]
    fn none() -> Self {
        let zero = [0.0; LANES];
        Self {
            x: zero,
            y: zero,
            z: zero,
            ux: zero,
            uy: zero,
            uz: [1.0; LANES],
            weight: zero,
            absorbed: zero,
            layer: [usize::MAX; LANES],
            gap: [0; LANES],
            active: [false; LANES],
            mean_free_path: zero,
            share: zero,
            g: zero,
            c0: zero,
            c1: zero,
            c2: zero,
            thickness: [1.0; LANES],
            fence_above: [f32::NEG_INFINITY; LANES],
            fence_below: [f32::INFINITY; LANES],
        }
    }

    /// Into a layer from above, or from below.
    #[inline(always)]
    fn enter<const COUNTS: bool>(&mut self, i: usize, layer: usize, from_below: bool, prepared: &Prepared) {
        let l = &prepared.slabs[layer];
        self.z[i] = if from_below { l.thickness_cm } else { 0.0 };
        if COUNTS {
            let (first, last) = l.fences;
            self.stand(i, if from_below { last - 1 } else { first }, prepared);
        }
        // Most photons are followed by one in the same layer.
        if self.layer[i] == layer {
            return;
        }
        self.layer[i] = layer;
        self.mean_free_path[i] = l.mean_free_path_cm;
        self.share[i] = l.absorbed;
        self.g[i] = l.phase.g;
        self.c0[i] = l.phase.c0;
        self.c1[i] = l.phase.c1;
        self.c2[i] = l.phase.c2;
        self.thickness[i] = l.thickness_cm;
    }

    /// Between a fence and the one below it.
    #[inline(always)]
    fn stand(&mut self, i: usize, gap: usize, prepared: &Prepared) {
        self.gap[i] = gap;
        self.fence_above[i] = prepared.fences[gap].depth_cm;
        self.fence_below[i] = prepared.fences[gap + 1].depth_cm;
    }

    #[inline(always)]
    fn launch<const COUNTS: bool>(&mut self, i: usize, layer: usize, prepared: &Prepared) {
        (self.x[i], self.y[i]) = (0.0, 0.0);
        (self.ux[i], self.uy[i], self.uz[i]) = (0.0, 0.0, 1.0);
        (self.weight[i], self.absorbed[i], self.active[i]) = (ONE, 0.0, true);
        self.enter::<COUNTS>(i, layer, false, prepared);
    }

    /// Takes a lane out of use: it stands still and weighs nothing.
    #[inline(always)]
    fn retire(&mut self, i: usize) {
        (self.active[i], self.layer[i]) = (false, usize::MAX);
        self.weight[i] = 0.0;
        (self.mean_free_path[i], self.share[i], self.z[i]) = (0.0, 0.0, 0.5);
        (self.thickness[i], self.absorbed[i]) = (1.0, 0.0);
        (self.fence_above[i], self.fence_below[i]) = (f32::NEG_INFINITY, f32::INFINITY);
    }
}

/// How each photon ran during a step, for the fences that it passed.
struct Flight {
    /// Sideways for each cm of depth.
    slope_x: Lane,
    slope_y: Lane,
    /// Weight over cosine.
    light: Lane,
}

/// What one step left to be looked at, a bit a lane.
struct Step {
    /// Reached a boundary before the next interaction.
    at_boundary: u32,
    /// Absorbed.
    spent: u32,
    /// Passed a fence before the interaction.
    passed: u32,
}

/// One hop, drop and spin of all lanes. It has no branch, so that it becomes vector code: a lane that reaches a
/// boundary is left where it was by taking no path and no deflection.
#[inline(always)]
fn step<const COUNTS: bool>(p: &mut Photons, rng: &mut Generators, flight: &mut Flight) -> Step {
    let mut out = Step { at_boundary: 0, spent: 0, passed: 0 };
    for i in 0..LANES {
        let mut lane = Generator(rng.s0[i], rng.s1[i], rng.s2[i], rng.s3[i]);
        let (draw_path, draw_angle, draw_azimuth, draw_loss) = (lane.next(), lane.next(), lane.next(), lane.next());
        Generator(rng.s0[i], rng.s1[i], rng.s2[i], rng.s3[i]) = lane;

        let (ux, uy, uz) = (p.ux[i], p.uy[i], p.uz[i]);
        let path = free_path(unit(draw_path)) * p.mean_free_path[i];
        let reached = p.z[i] + path * uz;
        // Written so that a depth that is no number, in a clear layer, is a boundary too.
        let inside = (reached >= 0.0) & (reached <= p.thickness[i]);
        let path = if inside { path } else { 0.0 };
        p.x[i] += path * ux;
        p.y[i] += path * uy;
        p.z[i] += path * uz;

        let weight = p.weight[i];
        if COUNTS {
            let over = 1.0 / uz;
            flight.slope_x[i] = ux * over;
            flight.slope_y[i] = uy * over;
            flight.light[i] = weight * over_cosine(uz, over);
            let passed = inside & ((reached >= p.fence_below[i]) | (reached < p.fence_above[i]));
            out.passed |= u32::from(passed) << i;
        }
        let chance = unit(draw_loss);
        // No more than there is: the sum itself was rounded.
        let part = (((weight * p.share[i] + chance - 0.5).max(0.0) + ROUND) - ROUND).min(weight);
        let whole = if chance < p.share[i] { weight } else { 0.0 };
        let lost = if weight < LIGHT { whole } else { part };
        let lost = if inside { lost } else { 0.0 };
        let left = weight - lost;
        p.weight[i] = left;
        p.absorbed[i] += lost;

        let phase = Phase { g: p.g[i], c0: p.c0[i], c1: p.c1[i], c2: p.c2[i] };
        let cosine = if inside { deflection(phase, unit(draw_angle) * 2.0 - 1.0) } else { 1.0 };
        let sine = (1.0 - cosine * cosine).sqrt();
        let (c, s) = azimuth(draw_azimuth);
        let (a, b) = (sine * c, sine * s);
        // An orthonormal frame without a branch: Duff T et al., J Comput Graph Tech 6:1 (2017).
        let sign = f32::from_bits((uz.to_bits() & 0x8000_0000) | 0x3f80_0000);
        let k = -1.0 / (sign + uz);
        let m = ux * uy * k;
        let nx = a * (1.0 + sign * ux * ux * k) + b * m + cosine * ux;
        let ny = a * (sign * m) + b * (sign + uy * uy * k) + cosine * uy;
        let nz = cosine * uz - a * (sign * ux) - b * uy;
        // One step of Newton's towards length 1 keeps rounding from adding up.
        let length = 1.5 - 0.5 * (nx * nx + ny * ny + nz * nz);
        (p.ux[i], p.uy[i], p.uz[i]) = (nx * length, ny * length, nz * length);

        out.at_boundary |= u32::from(!inside) << i;
        out.spent |= u32::from(left <= 0.0) << i;
    }
    out
}

/// Where a photon at a boundary goes.
enum Passage {
    Reflected,
    Into(usize),
    OutAbove,
    OutBelow,
}

/// Cosine beyond a boundary, and the reflectance for unpolarised light (Fresnel); none at total reflection.
///
/// Light that grazed its way into a clear layer must be able to leave it by the way it came, and rounding could shut
/// that way: so within a millionth of the critical angle some light always gets through.
#[inline(always)]
fn refraction(n1: f32, n2: f32, cos_in: f32) -> Option<(f32, f32)> {
    const SLACK: f32 = 1e-6;
    let ratio = n1 / n2;
    let cos2_out = 1.0 - ratio * ratio * (1.0 - cos_in * cos_in);
    if cos2_out < -SLACK {
        return None;
    }
    let cos_out = cos2_out.max(SLACK).sqrt();
    let s = (n1 * cos_in - n2 * cos_out) / (n1 * cos_in + n2 * cos_out);
    let t = (n1 * cos_out - n2 * cos_in) / (n1 * cos_out + n2 * cos_in);
    Some((cos_out, 0.5 * (s * s + t * t)))
}

/// Moves lane `i` to the boundary ahead, decides what happens there, and counts it at a plane.
#[inline(always)]
fn cross<const COUNTS: bool>(
    p: &mut Photons,
    i: usize,
    rng: &mut Generators,
    flight: &Flight,
    prepared: &Prepared,
    tally: &mut Tally,
) -> Passage {
    let here = p.layer[i];
    let up = p.uz[i] < 0.0;
    // A photon that runs level in a clear layer would never arrive: tilt it a little.
    let uz = if p.uz[i] == 0.0 { 1e-7 } else { p.uz[i] };
    let boundary = if up { 0.0 } else { p.thickness[i] };
    let path = (boundary - p.z[i]) / uz;
    p.x[i] += path * p.ux[i];
    p.y[i] += path * p.uy[i];
    p.z[i] = boundary;
    if COUNTS && (boundary >= p.fence_below[i] || boundary < p.fence_above[i]) {
        pass(p, i, flight, prepared, tally);
    }
    let (passage, n2) = match (up, here) {
        (true, 0) => (Passage::OutAbove, prepared.n_above),
        (true, _) => (Passage::Into(here - 1), prepared.slabs[here - 1].n),
        (false, _) if here + 1 == prepared.slabs.len() => (Passage::OutBelow, prepared.n_below),
        (false, _) => (Passage::Into(here + 1), prepared.slabs[here + 1].n),
    };
    // The side of the boundary on which light is counted is the lower one, but for the bottom of all.
    let on_this_side = match (up, &passage) {
        (true, _) => prepared.slabs[here].plane_at_top,
        (false, Passage::OutBelow) => prepared.plane_at_bottom,
        _ => None,
    };
    count(tally, on_this_side, p, i, uz);
    let n1 = prepared.slabs[here].n;
    if (n1 - n2).abs() > 0.0 {
        let mut reflected = true;
        if let Some((cos_out, reflectance)) = refraction(n1, n2, uz.abs()) {
            let mut lane = Generator(rng.s0[i], rng.s1[i], rng.s2[i], rng.s3[i]);
            reflected = unit(lane.next()) < reflectance;
            Generator(rng.s0[i], rng.s1[i], rng.s2[i], rng.s3[i]) = lane;
            if !reflected {
                let ratio = n1 / n2;
                p.ux[i] *= ratio;
                p.uy[i] *= ratio;
                p.uz[i] = if up { -cos_out } else { cos_out };
            }
        }
        if reflected {
            p.uz[i] = -uz;
            count(tally, on_this_side, p, i, uz);
            return Passage::Reflected;
        }
    }
    if let (false, Passage::Into(below)) = (up, &passage) {
        count(tally, prepared.slabs[*below].plane_at_top, p, i, p.uz[i]);
    }
    passage
}

/// One over the cosine of a direction, which makes weight through a plane to fluence there.
///
/// Light that grazes the plane would make this as large as you please. Between level and [`GRAZING`] each photon
/// counts with the mean that evenly spread radiance has there, which leaves out about 1e-4 of the fluence's
/// unevenness and keeps the noise finite.
#[inline(always)]
fn over_cosine(uz: f32, over_uz: f32) -> f32 {
    const GRAZING: f32 = 0.01;
    if uz.abs() < GRAZING { 2.0 / GRAZING } else { over_uz.abs() }
}

/// Counts lane `i` where it is, at a plane.
#[inline(always)]
fn count(tally: &mut Tally, plane: Option<usize>, p: &Photons, i: usize, uz: f32) {
    let Some(plane) = plane else { return };
    tally.rings[plane * RINGS + ring_at(p.x[i], p.y[i])] += (p.weight[i] * over_cosine(uz, 1.0 / uz)) as i32 as u64;
}

/// Counts lane `i`, which ran straight to where it is, at each fence that it passed, of which there is one at least.
#[inline(always)]
fn pass(p: &mut Photons, i: usize, flight: &Flight, prepared: &Prepared, tally: &mut Tally) {
    let (slope_x, slope_y, light) = (flight.slope_x[i], flight.slope_y[i], flight.light[i] as i32 as u64);
    let (x, y, z) = (p.x[i], p.y[i], p.z[i]);
    let down = z >= p.fence_below[i];
    // Both ways alike, because a processor cannot guess which way a photon goes.
    let mut at = p.gap[i] + usize::from(down);
    loop {
        let fence = prepared.fences[at];
        let back = z - fence.depth_cm;
        tally.rings[fence.plane * RINGS + ring_at(x - back * slope_x, y - back * slope_y)] += light;
        let next = if down { at + 1 } else { at - 1 };
        if (z >= prepared.fences[next].depth_cm) != down {
            break;
        }
        at = next;
    }
    p.stand(i, at - usize::from(!down), prepared);
}

#[inline(always)]
fn run<const COUNTS: bool>(slice: Slice<'_>) -> bool {
    let Slice { prepared, generators: mut rng, photons, tally, go_on } = slice;
    let Some(start) = prepared.start else { return true };
    if let Some(plane) = prepared.slabs[start].plane_at_top {
        tally.rings[plane * RINGS] += photons * ONE as u64;
    }
    let mut waiting = photons;
    let mut p = Photons::none();
    let mut under_way = 0u32;
    for i in 0..LANES {
        if waiting > 0 {
            waiting -= 1;
            under_way += 1;
            p.launch::<COUNTS>(i, start, prepared);
        } else {
            p.retire(i);
        }
    }
    let zero = [0.0; LANES];
    let mut flight = Flight { slope_x: zero, slope_y: zero, light: zero };
    let mut steps = 0u32;
    while under_way > 0 {
        steps = steps.wrapping_add(1);
        if steps.is_multiple_of(STEPS_PER_LOOK) && !go_on() {
            return false;
        }
        let Step { at_boundary, spent, passed } = step::<COUNTS>(&mut p, &mut rng, &mut flight);
        tally.events += u64::from(under_way - at_boundary.count_ones());
        // In a loop of its own, which a processor can guess better.
        let mut look = passed;
        while COUNTS && look != 0 {
            let i = look.trailing_zeros() as usize % LANES;
            look &= look - 1;
            pass(&mut p, i, &flight, prepared, tally);
        }
        let mut look = at_boundary | spent;
        while look != 0 {
            let i = look.trailing_zeros() as usize % LANES;
            look &= look - 1;
            if !p.active[i] {
                continue;
            }
            let here = p.layer[i];
            if spent >> i & 1 == 0 {
                match cross::<COUNTS>(&mut p, i, &mut rng, &flight, prepared, tally) {
                    Passage::Reflected => continue,
                    Passage::Into(layer) => {
                        tally.absorbed[here] += p.absorbed[i] as u64;
                        p.absorbed[i] = 0.0;
                        p.enter::<COUNTS>(i, layer, layer < here, prepared);
                        continue;
                    }
                    Passage::OutAbove => tally.reflected += p.weight[i] as u64,
                    Passage::OutBelow => tally.transmitted += p.weight[i] as u64,
                }
            }
            tally.absorbed[here] += p.absorbed[i] as u64;
            if waiting > 0 {
                waiting -= 1;
                p.launch::<COUNTS>(i, start, prepared);
            } else {
                under_way -= 1;
                p.retire(i);
            }
        }
    }
    true
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::transport::fresnel;

    #[test]
    fn refraction_is_fresnels_and_snells() {
        for (n1, n2) in [(1.0, 1.4), (1.4, 1.0), (1.37, 1.44), (1.5, 1.4)] {
            for cosine in [0.02, 0.1, 0.3, 0.5, 0.7, 0.75, 0.9, 1.0] {
                let wanted = fresnel::refracted_cosine(n1, n2, cosine);
                let got = refraction(n1 as f32, n2 as f32, cosine as f32);
                assert_eq!(got.is_some(), wanted.is_some(), "{n1} {n2} {cosine}");
                if let (Some((cos_out, reflectance)), Some(wanted)) = (got, wanted) {
                    assert!((f64::from(cos_out) - wanted).abs() < 1e-5, "{n1} {n2} {cosine}");
                    assert!((f64::from(reflectance) - fresnel::reflectance(n1, n2, cosine)).abs() < 1e-5);
                }
            }
        }
    }

    #[test]
    fn light_that_grazed_its_way_in_can_leave_again() {
        for n in 1..800 {
            let n = 1.0 + n as f32 / 1000.0;
            for cosine in [1e-7f32, 1e-6, 1e-5, 1e-4, 2e-4, 3e-4, 1e-3, 1e-2] {
                let (inside, _) = refraction(1.0, n, cosine).unwrap();
                let back = refraction(n, 1.0, inside);
                assert!(back.is_some_and(|(_, reflectance)| reflectance < 1.0), "{n} {cosine}");
            }
        }
    }
}
