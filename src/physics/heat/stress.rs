//! Stress: sound through a granule, and the pressure that fast heating makes.

use crate::physics::Estimate;

/// Speed of sound in m/s: nominal 1500, a round figure for water and tissue; low 1482 (water, 20 C), high 1620 (skin).
/// From memory. In solid carbon it is about twice that, and the transit then half as long.
pub const SPEED_OF_SOUND_M_S: Estimate = Estimate { low: 1482.0, nominal: 1500.0, high: 1620.0 };

/// Grueneisen coefficient of watery tissue at body temperature: nominal 0.20, from the properties of water at 37 C;
/// low 0.164, the linear rule in use; high 0.218, since serum lies 9 % above water (Yao DK et al. 2014, published).
pub const GRUNEISEN: Estimate = Estimate { low: 0.164, nominal: 0.20, high: 0.218 };

/// Time in s that sound takes across a diameter in m, at a speed in m/s. Some take the radius instead.
#[must_use]
pub fn transit_s(diameter_m: f64, speed_m_s: f64) -> f64 {
    diameter_m / speed_m_s
}

/// Grueneisen coefficient from expansion (1/K), isothermal compressibility (1/Pa) and heat capacity by volume
/// (J/(m3 K)).
#[must_use]
pub fn gruneisen(expansion_per_k: f64, compressibility_per_pa: f64, heat_capacity_j_m3_k: f64) -> f64 {
    expansion_per_k / (compressibility_per_pa * heat_capacity_j_m3_k)
}

/// Thermoelastic pressure in Pa of heating that is over before sound leaves: coefficient times absorbed energy density
/// (absorption in 1/cm, fluence in J/cm2).
///
/// Source: Jacques SL, Paltauf G, "Optoacoustics", Oregon Medical Laser Center 2000 (published).
#[must_use]
pub fn thermoelastic_pressure_pa(gruneisen: f64, mua_per_cm: f64, fluence_j_cm2: f64) -> f64 {
    const PA_PER_J_CM3: f64 = 1e6;
    gruneisen * mua_per_cm * fluence_j_cm2 * PA_PER_J_CM3
}

/// How much of the pressure of a flash a square pulse makes, far from an evenly heated sphere with the sound of its
/// medium: `1 - x/2` up to `x = 1`, `1/(2x)` beyond, `x` being the pulse over the time of sound through the radius.
///
/// Derived from the N-shaped wave of a flash. Lengths in m, time in s, speed in m/s.
#[must_use]
pub fn pressure_factor(diameter_m: f64, pulse_s: f64, speed_m_s: f64) -> f64 {
    let x = speed_m_s * pulse_s / (diameter_m / 2.0);
    if x <= 1.0 { 1.0 - x / 2.0 } else { 0.5 / x }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The N wave of a flash, `p0 (r - ct)/2r` while `|r - ct| < a`, averaged over a square pulse: its highest value
    /// found by search, independent of the closed form.
    #[test]
    fn the_factor_is_the_peak_of_the_averaged_wave() {
        for x in [0.1f64, 0.5, 0.9, 1.0, 1.5, 2.0, 5.0, 10.0] {
            // In radii: the wave is s for |s| < 1; a pulse averages it over a window of length x.
            let mean_from = |from: f64| {
                let (low, high) = (from.max(-1.0), (from + x).min(1.0));
                if low >= high { 0.0 } else { (high * high - low * low) / (2.0 * x) }
            };
            let peak = (0..60_000).map(|i| mean_from(-12.0 + f64::from(i) * 4e-4)).fold(0.0, f64::max);
            assert!((peak - pressure_factor(2.0, x, 1.0)).abs() < 1e-3, "{x}: {peak}");
        }
    }
}
