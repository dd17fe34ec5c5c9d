//! The stacks that are timed, with what is known of them.

use fadewright::physics::{Layer, Stack};
use std::error::Error;

/// A stack, its answers and its published speed.
pub struct Case {
    /// Short name and what it is.
    pub name: &'static str,
    /// The layers, in air.
    pub stack: Stack,
    /// Diffuse reflectance and transmittance, six digits: two deterministic solvers agree on them, and a third program
    /// within its noise. The same figures stand in `against_published/physics/rt_reference.csv`.
    pub expected: (f64, f64),
    /// Photons a second of a classic scalar program in C with its grids on, measured once on one core of another
    /// machine (AMD EPYC); it made 11 to 17 million events a second.
    pub classic_photons_s: f64,
    /// Whether light scatters more often than it passes the depths of a table, as in skin.
    pub like_skin: bool,
    /// Photons of one repetition of the reference, about a third of a second.
    pub photons: u64,
    /// Photons of one repetition of what is compared with it.
    pub photons_in_lanes: u64,
}

impl Case {
    /// The depths of a table, every quarter of a millimetre down to 3 mm, at which light is counted; its bottom for a
    /// thinner stack.
    pub fn depths_cm(&self) -> Vec<f64> {
        let mut depths: Vec<f64> = (1..=DEPTHS).map(|i| self.stack.thickness_cm().min(0.025 * f64::from(i))).collect();
        depths.dedup();
        depths
    }

    /// As many depths, spread evenly within the stack: far closer than a mean free path in a thin one.
    pub fn depths_within_cm(&self) -> Vec<f64> {
        let deepest = self.stack.thickness_cm().min(0.3);
        (1..=DEPTHS).map(|i| deepest * f64::from(i) / f64::from(DEPTHS)).collect()
    }
}

const DEPTHS: u32 = 12;

/// Absorption and scattering in 1/cm, anisotropy, thickness in cm.
type Slab = (f64, f64, f64, f64);

fn stack(n: f64, slabs: &[Slab]) -> Result<Stack, Box<dyn Error>> {
    let layers = slabs.iter().map(|&(mua_per_cm, mus_per_cm, g, thickness_cm)| Layer {
        n,
        mua_per_cm,
        mus_per_cm,
        g,
        thickness_cm,
    });
    Ok(Stack::new(1.0, 1.0, layers.collect())?)
}

/// From few events a photon and many boundaries to many events and one boundary.
pub fn all() -> Result<[Case; 4], Box<dyn Error>> {
    /// Photons that fill every slice of every batch once.
    const FULL: u64 = 64 * 4096;
    Ok([
        Case {
            name: "S1 thin slab, n 1",
            like_skin: false,
            stack: stack(1.0, &[(10.0, 90.0, 0.75, 0.02)])?,
            expected: (0.097_395, 0.660_958),
            classic_photons_s: 3_636_000.0,
            photons: 800_000,
            photons_in_lanes: 12 * FULL,
        },
        Case {
            name: "M3 three layers",
            like_skin: false,
            stack: stack(1.37, &[(1.0, 100.0, 0.9, 0.1), (1.0, 10.0, 0.0, 0.1), (2.0, 10.0, 0.7, 0.2)])?,
            expected: (0.237_857, 0.096_048),
            classic_photons_s: 223_000.0,
            photons: 60_000,
            photons_in_lanes: 2 * FULL,
        },
        Case {
            name: "M5 skin with ink",
            like_skin: true,
            stack: stack(
                1.4,
                &[
                    (10.0, 200.0, 0.85, 0.006),
                    (0.5, 150.0, 0.85, 0.05),
                    (50.0, 150.0, 0.85, 0.02),
                    (0.5, 150.0, 0.85, 0.3),
                ],
            )?,
            expected: (0.186_837, 0.008_152),
            classic_photons_s: 84_000.0,
            photons: 25_000,
            photons_in_lanes: FULL,
        },
        Case {
            name: "S7 without end",
            like_skin: true,
            stack: stack(1.4, &[(1.0, 100.0, 0.9, f64::INFINITY)])?,
            expected: (0.252_373, 0.0),
            classic_photons_s: 34_700.0,
            photons: 10_000,
            photons_in_lanes: FULL / 2,
        },
    ])
}
