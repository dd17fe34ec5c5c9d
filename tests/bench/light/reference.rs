//! A faithful scalar reference: one photon after another in double precision, as the method was first published.
//!
//! Hop, drop and spin follow Prahl SA et al., SPIE IS5:102 (1989), and Wang L, Jacques SL, Zheng L, Comput Methods
//! Programs Biomed 47:131 (1995). Code of our own, written from the equations and for this comparison alone. It does all
//! that such programs do: absorption by depth and radius and light that leaves by radius and angle go into grids, what is
//! left of a step is carried over a boundary, and roulette ends photons below a ten-thousandth. Its generator is a fast
//! one, xoshiro256+ (Blackman D, Vigna S, ACM Trans Math Softw 47:36, 2021).

#![allow(clippy::indexing_slicing, reason = "layers come from the stack itself, places in grids are clamped")]

use fadewright::physics::Stack;
use std::f64::consts::{FRAC_PI_2, PI, TAU};

/// How a photon comes to its end inside.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// Below 1e-4 of its weight it goes on in one of ten cases, ten times as heavy.
    Roulette,
    /// Below a twentieth it is absorbed whole or not at all, with the odds of absorption: the rule of our lanes.
    WholeWhenLight,
}

const ROULETTE_BELOW: f64 = 1e-4;
const ROULETTE_ODDS: f64 = 10.0;
const LIGHT: f64 = 1.0 / 20.0;

const DEPTHS: usize = 200;
const RADII: usize = 200;
const ANGLES: usize = 30;
const RADIUS_STEP_CM: f64 = 0.01;
const DEPTH_MAX_CM: f64 = 0.4;

/// Cosines nearer to 1 than this run along the axis, where the frame of the spin has no direction.
const ALONG_AXIS: f64 = 1.0 - 1e-12;

struct Slab {
    n: f64,
    mua: f64,
    attenuation: f64,
    g: f64,
    top: f64,
    bottom: f64,
    above: Boundary,
    below: Boundary,
}

/// What lies beyond a boundary.
#[derive(Clone, Copy)]
struct Boundary {
    n: f64,
    /// At and below this cosine all light is reflected.
    critical_cosine: f64,
}

impl Boundary {
    fn new(inside: f64, beyond: f64) -> Self {
        let ratio = beyond / inside;
        Self { n: beyond, critical_cosine: if ratio < 1.0 { (1.0 - ratio * ratio).sqrt() } else { 0.0 } }
    }
}

/// What photons left, in shares of one photon.
pub struct Counts {
    /// Photons followed to their end.
    pub photons: u64,
    /// Interactions.
    pub events: u64,
    /// Light that left above, radius by radius and angle by angle.
    reflected: Vec<f64>,
    /// Light that left below, radius by radius and angle by angle.
    transmitted: Vec<f64>,
    /// Absorbed light, radius by radius and depth by depth.
    absorbed: Vec<f64>,
}

impl Counts {
    /// Nothing yet.
    pub fn none() -> Self {
        let exits = vec![0.0; RADII * ANGLES];
        let absorbed = vec![0.0; RADII * DEPTHS];
        Self { photons: 0, events: 0, reflected: exits.clone(), transmitted: exits, absorbed }
    }
    /// Adds what others left.
    pub fn add(&mut self, other: &Self) {
        self.photons += other.photons;
        self.events += other.events;
        let pairs = |a: &mut Vec<f64>, b: &[f64]| a.iter_mut().zip(b).for_each(|(a, b)| *a += b);
        pairs(&mut self.reflected, &other.reflected);
        pairs(&mut self.transmitted, &other.transmitted);
        pairs(&mut self.absorbed, &other.absorbed);
    }
    /// Diffuse reflectance.
    pub fn reflectance(&self) -> f64 {
        self.reflected.iter().sum::<f64>() / self.photons as f64
    }
    /// Transmittance.
    pub fn transmittance(&self) -> f64 {
        self.transmitted.iter().sum::<f64>() / self.photons as f64
    }
    /// Absorbed share.
    pub fn absorbed(&self) -> f64 {
        self.absorbed.iter().sum::<f64>() / self.photons as f64
    }
}

/// A stack made ready.
pub struct Reference {
    slabs: Vec<Slab>,
    /// Reflected at the surface.
    pub specular: f64,
    depth_step_cm: f64,
}

impl Reference {
    /// Any stack whose top layer is not clear.
    pub fn new(stack: &Stack) -> Self {
        let layers = stack.layers();
        let mut top = 0.0;
        let slab = |(i, l): (usize, &fadewright::physics::Layer)| {
            let above = if i == 0 { stack.n_above() } else { layers[i - 1].n };
            let below = layers.get(i + 1).map_or(stack.n_below(), |next| next.n);
            let from = top;
            top += l.thickness_cm;
            Slab {
                n: l.n,
                mua: l.mua_per_cm,
                attenuation: l.mut_per_cm(),
                g: l.g,
                top: from,
                bottom: top,
                above: Boundary::new(l.n, above),
                below: Boundary::new(l.n, below),
            }
        };
        let slabs = layers.iter().enumerate().map(slab).collect();
        let first = layers[0].n;
        Self {
            slabs,
            specular: ((first - stack.n_above()) / (first + stack.n_above())).powi(2),
            depth_step_cm: stack.thickness_cm().min(DEPTH_MAX_CM) / DEPTHS as f64,
        }
    }

    /// Follows photons to their end.
    pub fn run(&self, photons: u64, seed: u64, end: End) -> Counts {
        let mut rng = Generator::new(seed);
        let mut counts = Counts { photons, ..Counts::none() };
        for _ in 0..photons {
            match end {
                End::Roulette => self.follow::<true>(&mut rng, &mut counts),
                End::WholeWhenLight => self.follow::<false>(&mut rng, &mut counts),
            }
        }
        counts
    }

    fn follow<const ROULETTE: bool>(&self, rng: &mut Generator, counts: &mut Counts) {
        let mut p = Photon {
            place: [0.0; 3],
            direction: [0.0, 0.0, 1.0],
            weight: 1.0 - self.specular,
            layer: 0,
            // In mean free paths, so that it holds on both sides of a boundary.
            rest_of_step: 0.0,
        };
        loop {
            let slab = &self.slabs[p.layer];
            let step = if p.rest_of_step > 0.0 { p.rest_of_step } else { -rng.next().ln() } / slab.attenuation;
            p.rest_of_step = 0.0;
            let to_boundary = p.to_boundary(slab);
            if step > to_boundary {
                p.hop(to_boundary);
                p.rest_of_step = (step - to_boundary) * slab.attenuation;
                if self.cross(&mut p, rng, counts) {
                    return;
                }
                continue;
            }
            p.hop(step);
            counts.events += 1;
            if ROULETTE || p.weight >= LIGHT {
                let lost = p.weight * slab.mua / slab.attenuation;
                p.weight -= lost;
                self.drop(&p, lost, counts);
            } else if rng.next() * slab.attenuation < slab.mua {
                self.drop(&p, p.weight, counts);
                return;
            }
            p.spin(slab.g, rng);
            if ROULETTE && p.weight < ROULETTE_BELOW {
                if rng.next() >= 1.0 / ROULETTE_ODDS {
                    return;
                }
                p.weight *= ROULETTE_ODDS;
            }
        }
    }

    /// Counts absorbed light.
    fn drop(&self, p: &Photon, lost: f64, counts: &mut Counts) {
        let depth = ((p.place[2] / self.depth_step_cm) as usize).min(DEPTHS - 1);
        counts.absorbed[p.radius() * DEPTHS + depth] += lost;
    }

    /// A photon at a boundary is reflected, goes on beyond it, or leaves, which is true.
    fn cross(&self, p: &mut Photon, rng: &mut Generator, counts: &mut Counts) -> bool {
        let slab = &self.slabs[p.layer];
        let up = p.direction[2] < 0.0;
        let boundary = if up { slab.above } else { slab.below };
        let cosine = p.direction[2].abs();
        let (reflectance, refracted) =
            if cosine <= boundary.critical_cosine { (1.0, 0.0) } else { fresnel(slab.n, boundary.n, cosine) };
        if rng.next() <= reflectance {
            p.direction[2] = -p.direction[2];
            return false;
        }
        let exits = match up {
            true if p.layer == 0 => &mut counts.reflected,
            false if p.layer + 1 == self.slabs.len() => &mut counts.transmitted,
            _ => {
                p.layer = if up { p.layer - 1 } else { p.layer + 1 };
                let ratio = slab.n / boundary.n;
                p.direction = [p.direction[0] * ratio, p.direction[1] * ratio, refracted.copysign(p.direction[2])];
                return false;
            }
        };
        let angle = ((refracted.acos() / FRAC_PI_2 * ANGLES as f64) as usize).min(ANGLES - 1);
        exits[p.radius() * ANGLES + angle] += p.weight;
        true
    }
}

/// Reflectance for unpolarised light and the cosine after refraction, from sines and cosines of the angles' sum and
/// difference.
fn fresnel(n1: f64, n2: f64, cos1: f64) -> (f64, f64) {
    if (n1 - n2).abs() <= 0.0 {
        return (0.0, cos1);
    }
    let sin1 = (1.0 - cos1 * cos1).sqrt();
    let sin2 = n1 * sin1 / n2;
    if sin2 >= 1.0 {
        return (1.0, 0.0);
    }
    let cos2 = (1.0 - sin2 * sin2).sqrt();
    if cos1 > ALONG_AXIS {
        return (((n1 - n2) / (n1 + n2)).powi(2), cos2);
    }
    let (cos_sum, cos_difference) = (cos1 * cos2 - sin1 * sin2, cos1 * cos2 + sin1 * sin2);
    let (sin_sum, sin_difference) = (sin1 * cos2 + cos1 * sin2, sin1 * cos2 - cos1 * sin2);
    let (across, along) = (sin_difference / sin_sum, cos_sum / cos_difference);
    (0.5 * across * across * (1.0 + along * along), cos2)
}

struct Photon {
    place: [f64; 3],
    direction: [f64; 3],
    weight: f64,
    layer: usize,
    rest_of_step: f64,
}

impl Photon {
    fn to_boundary(&self, slab: &Slab) -> f64 {
        let cosine = self.direction[2];
        if cosine > 0.0 {
            (slab.bottom - self.place[2]) / cosine
        } else if cosine < 0.0 {
            (slab.top - self.place[2]) / cosine
        } else {
            f64::INFINITY
        }
    }

    fn hop(&mut self, path: f64) {
        self.place[0] += path * self.direction[0];
        self.place[1] += path * self.direction[1];
        self.place[2] += path * self.direction[2];
    }

    /// Turns by an angle of Henyey and Greenstein's (Astrophys J 93:70, 1941) and a uniform azimuth.
    fn spin(&mut self, g: f64, rng: &mut Generator) {
        let chance = rng.next();
        let cosine = if g.abs() > 0.0 {
            let t = (1.0 - g * g) / (1.0 - g + 2.0 * g * chance);
            ((1.0 + g * g - t * t) / (2.0 * g)).clamp(-1.0, 1.0)
        } else {
            2.0 * chance - 1.0
        };
        let sine = (1.0 - cosine * cosine).sqrt();
        let azimuth = TAU * rng.next();
        let cos_azimuth = azimuth.cos();
        let sin_azimuth = (1.0 - cos_azimuth * cos_azimuth).sqrt();
        let sin_azimuth = if azimuth < PI { sin_azimuth } else { -sin_azimuth };
        let (a, b) = (sine * cos_azimuth, sine * sin_azimuth);
        let [ux, uy, uz] = self.direction;
        self.direction = if uz.abs() > ALONG_AXIS {
            [a, b, cosine * uz.signum()]
        } else {
            let across = (1.0 - uz * uz).sqrt();
            [
                (a * ux * uz - b * uy) / across + ux * cosine,
                (a * uy * uz + b * ux) / across + uy * cosine,
                uz * cosine - a * across,
            ]
        };
    }

    /// The place in a grid's radius.
    fn radius(&self) -> usize {
        let radius_cm = (self.place[0] * self.place[0] + self.place[1] * self.place[1]).sqrt();
        ((radius_cm / RADIUS_STEP_CM) as usize).min(RADII - 1)
    }
}

/// xoshiro256+.
struct Generator([u64; 4]);

impl Generator {
    fn new(seed: u64) -> Self {
        let mut rng = Self([seed, 2, 3, 4]);
        // The first numbers of a seed with few bits set have few bits set.
        for _ in 0..64 {
            rng.next();
        }
        rng
    }

    /// The upper 53 bits as the middle of one of as many equal parts of (0, 1).
    #[inline]
    fn next(&mut self) -> f64 {
        let s = &mut self.0;
        let sum = s[0].wrapping_add(s[3]);
        let t = s[1] << 17;
        s[2] ^= s[0];
        s[3] ^= s[1];
        s[1] ^= s[2];
        s[0] ^= s[3];
        s[2] ^= t;
        s[3] = s[3].rotate_left(45);
        ((sum >> 11) as f64 + 0.5) * (1.0 / (1u64 << 53) as f64)
    }
}
