//! The walk of our lanes for one photon at a time: single precision, polynomials for logarithm and azimuth, a generator
//! of 32 bits, light photons absorbed whole or not at all, no grids. What is left out is the lanes alone, so that the
//! table can tell what each of the two brings.

#![allow(clippy::indexing_slicing, reason = "layers come from the stack itself")]

use fadewright::physics::Stack;

const LIGHT: f32 = 1.0 / 20.0;

/// What photons left, in shares of one photon.
#[derive(Default)]
pub struct Counts {
    /// Photons followed to their end.
    pub photons: u64,
    /// Interactions.
    pub events: u64,
    /// Light that left above.
    reflected: f64,
    /// Light that left below.
    transmitted: f64,
}

impl Counts {
    /// Adds what others left.
    pub fn add(&mut self, other: &Self) {
        self.photons += other.photons;
        self.events += other.events;
        self.reflected += other.reflected;
        self.transmitted += other.transmitted;
    }
    /// Diffuse reflectance.
    pub fn reflectance(&self) -> f64 {
        self.reflected / self.photons as f64
    }
    /// Transmittance.
    pub fn transmittance(&self) -> f64 {
        self.transmitted / self.photons as f64
    }
}

struct Slab {
    n: f32,
    mean_free_path: f32,
    absorbed: f32,
    g: f32,
    thickness: f32,
}

/// Follows photons to their end. The specular share is not taken off.
pub fn run(stack: &Stack, photons: u64, seed: u32) -> Counts {
    let slab = |l: &fadewright::physics::Layer| Slab {
        n: l.n as f32,
        mean_free_path: (1.0 / l.mut_per_cm()) as f32,
        absorbed: (l.mua_per_cm / l.mut_per_cm()) as f32,
        g: l.g as f32,
        thickness: l.thickness_cm as f32,
    };
    let slabs: Vec<Slab> = stack.layers().iter().map(slab).collect();
    let outside = (stack.n_above() as f32, stack.n_below() as f32);
    let mut rng = Generator([seed, 2, 3, 4]);
    // The first numbers of a seed with few bits set have few bits set.
    for _ in 0..64 {
        rng.next();
    }
    let mut counts = Counts { photons, ..Counts::default() };
    for _ in 0..photons {
        follow(&slabs, outside, &mut rng, &mut counts);
    }
    counts
}

fn follow(slabs: &[Slab], (n_above, n_below): (f32, f32), rng: &mut Generator, counts: &mut Counts) {
    let (mut place, mut direction, mut weight, mut here) = ([0.0f32; 3], [0.0f32, 0.0, 1.0], 1.0f32, 0usize);
    loop {
        let slab = &slabs[here];
        let path = free_path(rng.unit()) * slab.mean_free_path;
        let [ux, uy, uz] = direction;
        let reached = place[2] + path * uz;
        if (0.0..=slab.thickness).contains(&reached) {
            place = [place[0] + path * ux, place[1] + path * uy, reached];
            counts.events += 1;
            if weight >= LIGHT {
                weight -= weight * slab.absorbed;
            } else if rng.unit() < slab.absorbed {
                return;
            }
            direction = spin(direction, slab.g, rng);
            continue;
        }
        let up = uz < 0.0;
        let boundary = if up { 0.0 } else { slab.thickness };
        let path = (boundary - place[2]) / uz;
        place = [place[0] + path * ux, place[1] + path * uy, boundary];
        let next = match up {
            true => here.checked_sub(1),
            false => Some(here + 1).filter(|i| *i < slabs.len()),
        };
        let n2 = next.map_or(if up { n_above } else { n_below }, |i| slabs[i].n);
        if (slab.n - n2).abs() > 0.0 {
            let (cos1, ratio) = (uz.abs(), slab.n / n2);
            let squared = 1.0 - ratio * ratio * (1.0 - cos1 * cos1);
            let cos2 = squared.max(0.0).sqrt();
            let across = (slab.n * cos1 - n2 * cos2) / (slab.n * cos1 + n2 * cos2);
            let along = (slab.n * cos2 - n2 * cos1) / (slab.n * cos2 + n2 * cos1);
            if squared <= 0.0 || rng.unit() < 0.5 * (across * across + along * along) {
                direction[2] = -uz;
                continue;
            }
            direction = [ux * ratio, uy * ratio, cos2.copysign(uz)];
        }
        match next {
            Some(layer) => {
                here = layer;
                place[2] = if up { slabs[here].thickness } else { 0.0 };
            }
            None if up => {
                counts.reflected += f64::from(weight);
                return;
            }
            None => {
                counts.transmitted += f64::from(weight);
                return;
            }
        }
    }
}

fn spin([ux, uy, uz]: [f32; 3], g: f32, rng: &mut Generator) -> [f32; 3] {
    let s = rng.unit() * 2.0 - 1.0;
    let inverse = 1.0 / (1.0 + g * s);
    let (c0, c1, c2) = (0.5 * g * (3.0 - g * g), 1.0 + g * g, 0.5 * g * (1.0 + g * g));
    let cosine = ((c0 + s * (c1 + s * c2)) * (inverse * inverse)).clamp(-1.0, 1.0);
    let sine = (1.0 - cosine * cosine).sqrt();
    let (c, s) = azimuth(rng.next());
    let (a, b) = (sine * c, sine * s);
    let sign = 1.0f32.copysign(uz);
    let k = -1.0 / (sign + uz);
    let m = ux * uy * k;
    let x = a * (1.0 + sign * ux * ux * k) + b * m + cosine * ux;
    let y = a * (sign * m) + b * (sign + uy * uy * k) + cosine * uy;
    let z = cosine * uz - a * (sign * ux) - b * uy;
    let length = 1.5 - 0.5 * (x * x + y * y + z * z);
    [x * length, y * length, z * length]
}

/// `-ln u`: the polynomial of the lanes.
fn free_path(u: f32) -> f32 {
    let bits = u.to_bits();
    let exponent = ((bits >> 23) as i32 - 127) as f32;
    let t = f32::from_bits((bits & 0x007f_ffff) | 0x3f80_0000) - 1.5;
    let p = -1.023_818e-2 + t * 6.006_605e-3;
    let p = -2.596_979_2e-2 + t * (1.441_055_3e-2 + t * p);
    let p = -9.879_145e-2 + t * (4.939_838_4e-2 + t * p);
    let p = -0.666_666_2 + t * (0.222_221_93 + t * p);
    (exponent * -std::f32::consts::LN_2 + (-0.405_465_1 + t * p)).max(1e-8)
}

/// Cosine and sine of a uniform azimuth: the polynomials of the lanes.
fn azimuth(bits: u32) -> (f32, f32) {
    let t = f32::from_bits((bits >> 9) | 0x3f80_0000) - 1.5;
    let t2 = t * t;
    let sine = t * (std::f32::consts::FRAC_PI_2 + t2 * (-0.645_963_5 + t2 * (7.968_022e-2 + t2 * -4.602_149e-3)));
    let cosine = 0.999_999_97 + t2 * (-1.233_697 + t2 * (0.253_598_57 + t2 * -2.040_815_8e-2));
    let (a, b) = if bits & 0x40 != 0 { (sine, cosine) } else { (cosine, sine) };
    let sign = 0x8000_0000;
    (f32::from_bits(a.to_bits() ^ ((bits << 24) & sign)), f32::from_bits(b.to_bits() ^ ((bits << 23) & sign)))
}

/// xoshiro128+.
struct Generator([u32; 4]);

impl Generator {
    #[inline]
    fn next(&mut self) -> u32 {
        let s = &mut self.0;
        let out = s[0].wrapping_add(s[3]);
        let t = s[1] << 9;
        s[2] ^= s[0];
        s[3] ^= s[1];
        s[1] ^= s[2];
        s[0] ^= s[3];
        s[2] ^= t;
        s[3] = s[3].rotate_left(11);
        out
    }
    #[inline]
    fn unit(&mut self) -> f32 {
        f32::from_bits((self.next() >> 9) | 0x3f80_0000) - 0.999_999_94
    }
}
