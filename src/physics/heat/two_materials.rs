//! A sphere of one material, evenly heated, in another.
//!
//! Source: Goldenberg H, Tranter CJ, Br J Appl Phys 1952;3:296-298 (from memory; checked against an independent
//! finite-volume solver). They give the temperature of a sphere that is heated steadily; its derivative in time is the
//! cooling after a flash.

use super::quadrature::integral;
use std::f64::consts::{FRAC_PI_2, PI};

/// How a material takes and conducts heat.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Material {
    /// Thermal conductivity in W/(m K).
    pub conductivity_w_m_k: f64,
    /// Heat capacity by volume in J/(m3 K).
    pub heat_capacity_j_m3_k: f64,
}

impl Material {
    /// Carbon black: 0.2 W/mK (0.2 to 1), 1800 kg/m3, 710 J/kgK. From memory.
    pub const CARBON_BLACK: Self = Self { conductivity_w_m_k: 0.2, heat_capacity_j_m3_k: 1800.0 * 710.0 };
    /// Graphite, polycrystalline: 120 W/mK, 2250 kg/m3, 710 J/kgK. From memory.
    pub const GRAPHITE: Self = Self { conductivity_w_m_k: 120.0, heat_capacity_j_m3_k: 2250.0 * 710.0 };
    /// Water at 37 C: 0.623 W/mK, 993 kg/m3, 4178 J/kgK. From memory.
    pub const WATER: Self = Self { conductivity_w_m_k: 0.623, heat_capacity_j_m3_k: 993.0 * 4178.0 };
    /// Dermis: 0.37 W/mK, 1109 kg/m3, 3391 J/kgK (tissue list of an open voxel code, published).
    pub const DERMIS: Self = Self { conductivity_w_m_k: 0.37, heat_capacity_j_m3_k: 1109.0 * 3391.0 };

    /// Thermal diffusivity in m2/s.
    #[must_use]
    pub const fn diffusivity_m2_s(self) -> f64 {
        self.conductivity_w_m_k / self.heat_capacity_j_m3_k
    }
}

/// Values that cannot be computed with.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum TwoMaterialsError {
    /// A property that is no property of matter, or two that lie too far apart.
    #[error(
        "conductivity and heat capacity must be positive, and those of core and medium within a factor of 1e5 of each \
         other"
    )]
    Material,
    /// A time for which the integral is not computed.
    #[error("the time, {fourier:e} in Fourier numbers of the core, is outside 1e-7 to 1e9")]
    Time {
        /// The Fourier number.
        fourier: f64,
    },
    /// A place outside the sphere.
    #[error("the place, {r_over_a} radii from the centre, is not within the sphere")]
    Place {
        /// Distance from the centre in radii.
        r_over_a: f64,
    },
}

/// Core and medium. Times are Fourier numbers of the core, `diffusivity of the core x time / radius^2`; temperatures are
/// relative to that without loss.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoMaterials {
    /// Conductivity of the medium over that of the core.
    conductivity_ratio: f64,
    /// `K2/K1 sqrt(kappa1/kappa2)`: the ratio of effusivities.
    effusivity_ratio: f64,
}

/// What is asked of the solution, as its factor under the integral.
#[derive(Debug, Clone, Copy)]
enum Place {
    /// At so many radii, 0 to 1.
    At(f64),
    /// The mean over the sphere.
    Mean,
}

impl TwoMaterials {
    /// A core in a medium.
    ///
    /// # Errors
    /// [`TwoMaterialsError::Material`] for properties that are not positive or lie too far apart.
    pub fn new(core: Material, medium: Material) -> Result<Self, TwoMaterialsError> {
        let near = |a: f64, b: f64| a > 0.0 && b > 0.0 && (1e-5..=1e5).contains(&(a / b));
        let k = (medium.conductivity_w_m_k, core.conductivity_w_m_k);
        if !near(k.0, k.1) || !near(core.heat_capacity_j_m3_k, medium.heat_capacity_j_m3_k) {
            return Err(TwoMaterialsError::Material);
        }
        let conductivity_ratio = k.0 / k.1;
        let effusivity_ratio = conductivity_ratio * (core.diffusivity_m2_s() / medium.diffusivity_m2_s()).sqrt();
        Ok(Self { conductivity_ratio, effusivity_ratio })
    }

    /// Temperature after a flash, at a place from 0 (centre) to 1 (surface).
    ///
    /// # Errors
    /// [`TwoMaterialsError`] for a time or a place out of range.
    pub fn after_flash(&self, r_over_a: f64, fourier: f64) -> Result<f64, TwoMaterialsError> {
        self.cooling(Self::place(r_over_a)?, fourier)
    }
    /// Mean temperature of the sphere after a flash.
    ///
    /// # Errors
    /// [`TwoMaterialsError::Time`].
    pub fn mean_after_flash(&self, fourier: f64) -> Result<f64, TwoMaterialsError> {
        self.cooling(Place::Mean, fourier)
    }
    /// Temperature at the end of a square pulse, at a place from 0 (centre) to 1 (surface).
    ///
    /// # Errors
    /// As [`Self::after_flash`].
    pub fn at_end_of_pulse(&self, r_over_a: f64, fourier_of_pulse: f64) -> Result<f64, TwoMaterialsError> {
        self.heating(Self::place(r_over_a)?, fourier_of_pulse)
    }
    /// Mean temperature of the sphere at the end of a square pulse.
    ///
    /// # Errors
    /// As [`Self::mean_after_flash`].
    pub fn mean_at_end_of_pulse(&self, fourier_of_pulse: f64) -> Result<f64, TwoMaterialsError> {
        self.heating(Place::Mean, fourier_of_pulse)
    }

    fn place(r_over_a: f64) -> Result<Place, TwoMaterialsError> {
        if (0.0..=1.0).contains(&r_over_a) {
            Ok(Place::At(r_over_a))
        } else {
            Err(TwoMaterialsError::Place { r_over_a })
        }
    }

    /// What stands under the integral of cooling, without the decay in time.
    fn spectrum(&self, place: Place, y: f64) -> f64 {
        // sin y - y cos y, without cancelling for small y.
        let u = if y < 0.1 {
            let y2 = y * y;
            y * y2 / 3.0 * (1.0 - y2 / 10.0 * (1.0 - y2 / 28.0 * (1.0 - y2 / 54.0)))
        } else {
            y.sin() - y * y.cos()
        };
        let shape = match place {
            Place::At(x) if x * y < 1e-4 => y * (1.0 - (x * y).powi(2) / 6.0),
            Place::At(x) => (x * y).sin() / x,
            Place::Mean => 3.0 * u / (y * y),
        };
        let (flux, loss) = (u - self.conductivity_ratio * y.sin(), self.effusivity_ratio * y * y.sin());
        2.0 / PI * self.effusivity_ratio * u * shape / (flux * flux + loss * loss)
    }

    /// Where panels begin: at the low resonance of a core that conducts well, at the scale of the time, and every
    /// quarter wave up to where the decay has ended.
    fn marks(&self, fourier: f64) -> Vec<f64> {
        let end = (45.0 / fourier).sqrt();
        let resonance = (3.0 * self.conductivity_ratio).sqrt();
        let mut marks: Vec<f64> = [0.0, 0.03, 0.3, 1.0, 3.0, 10.0].iter().map(|share| share * resonance).collect();
        marks.extend([0.03, 0.1, 0.3, 1.0, 2.0].iter().map(|scale| scale / fourier.sqrt()));
        marks.extend((1..).map(|i| f64::from(i) * FRAC_PI_2).take_while(|y| *y < end));
        marks.push(end);
        marks.retain(|y| *y <= end);
        marks.sort_by(f64::total_cmp);
        marks
    }

    fn cooling(&self, place: Place, fourier: f64) -> Result<f64, TwoMaterialsError> {
        if !(1e-7..=1e9).contains(&fourier) {
            return Err(TwoMaterialsError::Time { fourier });
        }
        let curve = |y: f64| if y > 0.0 { (-y * y * fourier).exp() * self.spectrum(place, y) } else { 0.0 };
        // Late temperatures are small: the tolerance follows the point source that they tend to.
        let tolerance = 1e-9 / (1.0 + fourier.powf(1.5));
        Ok(integral(curve, &self.marks(fourier), tolerance).clamp(0.0, 1.0))
    }

    fn heating(&self, place: Place, fourier: f64) -> Result<f64, TwoMaterialsError> {
        if !(1e-7..=1e9).contains(&fourier) {
            return Err(TwoMaterialsError::Time { fourier });
        }
        // The mean of the cooling curve over the pulse, with (1 - exp(-y^2 t))/(y^2 t) for its decay. That falls off as
        // 1/y^2 only; where it does, the decay is over, and what is left is the steady state less what lies below.
        let steady = match place {
            Place::At(x) => 1.0 / (3.0 * self.conductivity_ratio) + (1.0 - x * x) / 6.0,
            Place::Mean => 1.0 / (3.0 * self.conductivity_ratio) + 1.0 / 15.0,
        };
        let left = |y: f64| if y > 0.0 { (-y * y * fourier).exp() * self.spectrum(place, y) / (y * y) } else { 0.0 };
        let tolerance = 1e-10 * fourier.min(1.0);
        let remaining = integral(left, &self.marks(fourier), tolerance);
        Ok(((steady - remaining) / fourier).clamp(0.0, 1.0))
    }
}

#[cfg(test)]
mod tests {
    use super::super::sphere;
    use super::*;
    use proptest::prelude::*;

    fn all() -> [TwoMaterials; 4] {
        [
            (Material::CARBON_BLACK, Material::WATER),
            (Material::GRAPHITE, Material::WATER),
            (Material::GRAPHITE, Material::DERMIS),
            (Material::WATER, Material::CARBON_BLACK),
        ]
        .map(|(core, medium)| TwoMaterials::new(core, medium).unwrap())
    }

    #[test]
    fn one_material_is_the_closed_form() {
        let same = TwoMaterials::new(Material::DERMIS, Material::DERMIS).unwrap();
        for f in [1e-4, 1e-3, 0.01, 0.1, 0.3, 1.0, 10.0, 1e3, 1e5] {
            for x in [0.0, 0.5, 1.0] {
                let (got, wanted) = (same.after_flash(x, f).unwrap(), sphere::after_flash(x, f));
                assert!((got - wanted).abs() < 1e-7 * (1.0f64).min(wanted * 1e3), "{x} {f}: {got} {wanted}");
            }
            let (got, wanted) = (same.mean_after_flash(f).unwrap(), sphere::mean_after_flash(f));
            assert!((got / wanted - 1.0).abs() < 1e-5, "{f}: {got} {wanted}");
            let (got, wanted) = (same.mean_at_end_of_pulse(f).unwrap(), sphere::mean_at_end_of_pulse(f));
            assert!((got / wanted - 1.0).abs() < 1e-5, "{f}: {got} {wanted}");
            let (got, wanted) = (same.at_end_of_pulse(0.0, f).unwrap(), sphere::centre_at_end_of_pulse(f));
            assert!((got / wanted - 1.0).abs() < 1e-5, "{f}: {got} {wanted}");
        }
    }

    #[test]
    fn a_long_pulse_reaches_the_steady_state_and_a_short_one_loses_nothing() {
        for t in all() {
            let steady = 1.0 / (3.0 * t.conductivity_ratio) + 1.0 / 6.0;
            assert!((t.at_end_of_pulse(0.0, 1e9).unwrap() * 1e9 / steady - 1.0).abs() < 1e-3);
            assert!((t.at_end_of_pulse(0.0, 1e-4).unwrap() - 1.0).abs() < 1e-5, "{t:?}");
        }
    }

    #[test]
    fn what_cannot_be_computed_is_refused() {
        let t = all()[0];
        for f in [0.0, -1.0, 1e-8, 1e10, f64::NAN, f64::INFINITY] {
            assert!(matches!(t.mean_after_flash(f), Err(TwoMaterialsError::Time { .. })), "{f}");
            assert!(matches!(t.at_end_of_pulse(0.0, f), Err(TwoMaterialsError::Time { .. })), "{f}");
        }
        for x in [-0.1, 1.1, f64::NAN] {
            assert!(matches!(t.after_flash(x, 1.0), Err(TwoMaterialsError::Place { .. })), "{x}");
        }
        for k in [0.0, -1.0, f64::NAN, f64::INFINITY, 1e9] {
            let core = Material { conductivity_w_m_k: k, ..Material::WATER };
            assert_eq!(TwoMaterials::new(core, Material::WATER), Err(TwoMaterialsError::Material), "{k}");
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, cases: 48, ..ProptestConfig::default() })]
        #[test]
        fn cooling_is_monotone_and_a_pulse_heats_no_more_than_a_flash(
            ln_f in -7.0f64..9.0, more in 1.05f64..10.0, which in 0usize..4
        ) {
            let t = all()[which];
            let f = ln_f.exp();
            let (early, late) = (t.mean_after_flash(f).unwrap(), t.mean_after_flash(f * more).unwrap());
            prop_assert!(late < early && early < 1.0, "{} {}", early, late);
            let (short, long) = (t.mean_at_end_of_pulse(f).unwrap(), t.mean_at_end_of_pulse(f * more).unwrap());
            prop_assert!(long < short && short > early, "{} {} {}", short, long, early);
        }
    }
}
