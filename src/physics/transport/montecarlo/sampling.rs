//! Random numbers and the distributions of a photon's walk, lane by lane.
//!
//! Everything here is plain arithmetic without fused operations or library calls, so that a run gives the same bits
//! on every machine, and short enough that the compiler turns loops over lanes into vector code.

use super::kernel::LANES;

/// One 32-bit generator a lane: xoshiro128+ (Blackman D, Vigna S, ACM Trans Math Softw 47:36, 2021).
///
/// Its lowest bits are weak; only the upper 23 make numbers here and the next three pick quadrants.
#[derive(Debug, Clone)]
pub(super) struct Generators {
    pub(super) s0: [u32; LANES],
    pub(super) s1: [u32; LANES],
    pub(super) s2: [u32; LANES],
    pub(super) s3: [u32; LANES],
}

/// The state of one lane's generator.
#[derive(Debug, Clone, Copy)]
pub(super) struct Generator(pub(super) u32, pub(super) u32, pub(super) u32, pub(super) u32);

impl Generator {
    #[inline(always)]
    pub(super) fn next(&mut self) -> u32 {
        let out = self.0.wrapping_add(self.3);
        let t = self.1 << 9;
        self.2 ^= self.0;
        self.3 ^= self.1;
        self.1 ^= self.2;
        self.0 ^= self.3;
        self.2 ^= t;
        self.3 = self.3.rotate_left(11);
        out
    }
}

impl Generators {
    /// Streams for one slice of one batch: the seed, the batch and the slice alone decide them, so that it does not
    /// matter which thread comes to a slice, or when.
    pub(super) fn of(seed: u64, batch: u64, slice: u64) -> Self {
        // Each of the three is mixed before the next is added, so that no two triples fall together.
        let mut mixer = SplitMix(SplitMix(SplitMix(seed).next() ^ batch).next() ^ slice);
        let mut all = Self { s0: [0; LANES], s1: [0; LANES], s2: [0; LANES], s3: [0; LANES] };
        let lanes = all.s0.iter_mut().zip(&mut all.s1).zip(&mut all.s2).zip(&mut all.s3);
        for (((a, b), c), d) in lanes {
            let (low, high) = (mixer.next(), mixer.next());
            (*a, *b) = halves(low);
            // A state of zeros alone would stay there for ever.
            (*c, *d) = (halves(high).0, halves(high).1 | 1);
        }
        all
    }
}

fn halves(word: u64) -> (u32, u32) {
    (word as u32, (word >> 32) as u32)
}

/// `SplitMix64` (Steele GL, Lea D, Flood CH, OOPSLA 2014), to make many seeds of one.
struct SplitMix(u64);

impl SplitMix {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }
}

/// The upper 23 bits as the middle of one of 2^23 equal parts of (0, 1): never 0, never 1.
#[inline(always)]
pub(super) fn unit(bits: u32) -> f32 {
    const HALF_STEP_BELOW_ONE: f32 = 0.999_999_94;
    f32::from_bits((bits >> 9) | 0x3f80_0000) - HALF_STEP_BELOW_ONE
}

/// A free path in mean free paths: `-ln u`, above 0 and at most 16.6.
///
/// The polynomial is Chebyshev's of degree 8 for `-ln m`, 1 <= m < 2; it is off by at most 4e-8.
#[inline(always)]
pub(super) fn free_path(u: f32) -> f32 {
    let bits = u.to_bits();
    let exponent = ((bits >> 23) as i32 - 127) as f32;
    let t = f32::from_bits((bits & 0x007f_ffff) | 0x3f80_0000) - 1.5;
    let p = -1.023_818e-2 + t * 6.006_605e-3;
    let p = -2.596_979_2e-2 + t * (1.441_055_3e-2 + t * p);
    let p = -9.879_145e-2 + t * (4.939_838_4e-2 + t * p);
    let p = -0.666_666_2 + t * (0.222_221_93 + t * p);
    let path = exponent * -std::f32::consts::LN_2 + (-0.405_465_1 + t * p);
    path.max(1e-8)
}

/// Cosine and sine of a uniformly distributed azimuth: an angle within 45 degrees of an axis from the upper bits, and
/// one of eight octants from the three bits below.
///
/// The polynomials are off by at most 3e-8.
#[inline(always)]
pub(super) fn azimuth(bits: u32) -> (f32, f32) {
    let t = f32::from_bits((bits >> 9) | 0x3f80_0000) - 1.5;
    let t2 = t * t;
    let sine = t * (std::f32::consts::FRAC_PI_2 + t2 * (-0.645_963_5 + t2 * (7.968_022e-2 + t2 * -4.602_149e-3)));
    let cosine = 0.999_999_97 + t2 * (-1.233_697 + t2 * (0.253_598_57 + t2 * -2.040_815_8e-2));
    let (a, b) = if bits & 0x40 != 0 { (sine, cosine) } else { (cosine, sine) };
    let sign = 0x8000_0000;
    (f32::from_bits(a.to_bits() ^ ((bits << 24) & sign)), f32::from_bits(b.to_bits() ^ ((bits << 23) & sign)))
}

/// What Henyey and Greenstein's phase function (Astrophys J 93:70, 1941) needs of an anisotropy.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Phase {
    pub(super) g: f32,
    pub(super) c0: f32,
    pub(super) c1: f32,
    pub(super) c2: f32,
}

impl Phase {
    pub(super) fn new(g: f64) -> Self {
        Self {
            g: g as f32,
            c0: ((3.0 * g - g * g * g) / 2.0) as f32,
            c1: (1.0 + g * g) as f32,
            c2: ((g + g * g * g) / 2.0) as f32,
        }
    }
}

/// Cosine of the angle of deflection, `s` being uniform in (-1, 1).
///
/// The usual inverse `(1 + g^2 - ((1 - g^2) / (1 + g s))^2) / 2g` with the division by g carried out, so that it
/// holds for g = 0 as well and loses no digits near it.
#[inline(always)]
pub(super) fn deflection(phase: Phase, s: f32) -> f32 {
    let inverse = 1.0 / (1.0 + phase.g * s);
    ((phase.c0 + s * (phase.c1 + s * phase.c2)) * (inverse * inverse)).clamp(-1.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn uniform(n: u32) -> impl Iterator<Item = u32> {
        (0..n).map(move |i| ((u64::from(i) << 32) / u64::from(n)) as u32)
    }

    #[test]
    fn numbers_lie_within_zero_and_one_and_are_centred() {
        assert!(unit(0) > 0.0 && unit(u32::MAX) < 1.0);
        let mean = uniform(1 << 18).map(|b| f64::from(unit(b))).sum::<f64>() / f64::from(1 << 18);
        assert!((mean - 0.5).abs() < 4e-6, "{mean}");
    }

    #[test]
    fn the_free_path_is_minus_the_logarithm() {
        for bits in uniform(1 << 18) {
            let u = unit(bits);
            let exact = -f64::from(u).ln();
            assert!((f64::from(free_path(u)) - exact).abs() < 3e-7 * exact.max(1.0), "{u}");
        }
    }

    #[test]
    fn the_azimuth_lies_on_the_circle_and_favours_no_direction() {
        let (mut moments, n) = ([0.0f64; 5], 1u32 << 20);
        let mut generator = Generator(1, 2, 3, 4);
        for _ in 0..n {
            let (c, s) = azimuth(generator.next());
            let (c, s) = (f64::from(c), f64::from(s));
            assert!((c * c + s * s - 1.0).abs() < 4e-7);
            for (m, v) in moments.iter_mut().zip([c, s, c * s, c * c - s * s, c * c * s * s - 0.125]) {
                *m += v;
            }
        }
        // Each term has a variance of at most one half: six standard errors.
        for m in moments {
            assert!((m / f64::from(n)).abs() < 6.0 * (0.5 / f64::from(n)).sqrt(), "{moments:?}");
        }
    }

    /// Moments of the phase function: mean cosine g, mean square (1 + 2 g^2) / 3
    /// (Henyey and Greenstein 1941, by expansion in Legendre polynomials: the n-th moment is g^n).
    #[test]
    fn deflections_have_the_moments_of_henyey_and_greenstein() {
        for g in [-0.9, -0.3, 0.0, 1e-6, 0.01, 0.5, 0.75, 0.9, 0.99] {
            let phase = Phase::new(g);
            let n = 1u32 << 18;
            let (mut mean, mut square) = (0.0, 0.0);
            for bits in uniform(n) {
                let c = f64::from(deflection(phase, 2.0 * unit(bits) - 1.0));
                mean += c / f64::from(n);
                square += c * c / f64::from(n);
            }
            assert!((mean - g).abs() < 1e-5, "{g}: {mean}");
            assert!((square - (1.0 + 2.0 * g * g) / 3.0).abs() < 1e-5, "{g}: {square}");
        }
    }

    /// Share scattered backwards: (1 - g) / 2g ((1 + g) / sqrt(1 + g^2) - 1), by integration of the phase function.
    #[test]
    fn as_many_go_backwards_as_the_phase_function_says() {
        for (g, share) in [(0.9, 0.022_903_3), (0.75, 0.066_666_7)] {
            let n = 1u32 << 19;
            let back = uniform(n).filter(|b| deflection(Phase::new(g), 2.0 * unit(*b) - 1.0) < 0.0).count();
            assert!((back as f64 / f64::from(n) - share).abs() < 5e-6, "{g}");
        }
    }

    #[test]
    fn streams_differ_by_seed_batch_and_slice() {
        let first = |seed, batch, slice| Generators::of(seed, batch, slice).s0;
        assert_eq!(first(1, 2, 3), first(1, 2, 3));
        assert!(
            first(1, 2, 3) != first(2, 2, 3) && first(1, 2, 3) != first(1, 3, 3) && first(1, 2, 3) != first(1, 2, 4)
        );
        assert!(first(1, 0, 1) != first(1, 1, 0));
        let lanes = first(1, 2, 3);
        assert!(lanes.iter().skip(1).all(|l| *l != lanes[0]));
    }
}
