//! Maximum permissible exposure of eye and skin to one pulse or one continuous exposure, in J/m2.
//!
//! Eye: at the cornea, averaged over a 7 mm aperture; ICNIRP 2013 table 5 = IEC 60825-1:2014 table A.1, and the 2007
//! tables that Directive 2006/25/EC repeats. Skin: over 3.5 mm, the same in all editions. A joint of a table belongs to
//! the row above it; the tables are rounded, so a limit may step down by a few per cent there.

use super::Edition;
use super::factors::{ALPHA_MIN_MRAD, c_a, c_b, c_c, c_e, is_far, reaches, t_2_s, t_i_s};
use crate::units::{AngularSubtense, ExposureTime, Wavelength};

/// Below this the irradiance of this duration is held.
const SHORTEST_S: f64 = 1e-13;
const PICO_S: f64 = 1e-11;
const NANO_S: f64 = 1e-9;
const LONG_S: f64 = 10.0;

/// Retinal thermal limit in J/m2.
#[must_use]
pub fn eye_thermal_j_m2(edition: Edition, wavelength: Wavelength, t: ExposureTime, alpha: AngularSubtense) -> f64 {
    c_e(edition, t, alpha) * point_thermal(edition, wavelength, t.seconds(), alpha)
}

fn point_thermal(edition: Edition, wavelength: Wavelength, t: f64, alpha: AngularSubtense) -> f64 {
    let far = is_far(wavelength);
    // The factor of the column: melanin below 1050 nm, water above.
    let factor = if far { c_c(edition, wavelength) } else { c_a(wavelength) };
    let pick = |near: f64, beyond: f64| if far { beyond * factor } else { near * factor };
    if !reaches(t, SHORTEST_S) {
        return point_thermal(edition, wavelength, SHORTEST_S, alpha) * t / SHORTEST_S;
    }
    if !reaches(t, PICO_S) {
        return match edition {
            Edition::Of2007 => pick(1.5e-4, 1.5e-3),
            // The newer table has no C_A here, and at 1050 nm and above it falls to a twentieth of the row that follows.
            Edition::Of2014 if far => 1.0e-3 * factor,
            Edition::Of2014 => 1.0e-3,
        };
    }
    if !reaches(t, t_i_s(edition, wavelength)) {
        return match edition {
            Edition::Of2007 if !reaches(t, NANO_S) => pick(2.7e4, 2.7e5) * t.powf(0.75),
            Edition::Of2007 => pick(5.0e-3, 5.0e-2),
            Edition::Of2014 => pick(2.0e-3, 2.0e-2),
        };
    }
    let point = alpha.mrad() <= ALPHA_MIN_MRAD;
    let t_2 = t_2_s(alpha);
    if point && reaches(t, LONG_S) {
        pick(10.0, 50.0) * t
    } else if reaches(t, t_2) {
        pick(18.0, 90.0) * t_2.powf(-0.25) * t
    } else {
        pick(18.0, 90.0) * t.powf(0.75)
    }
}

/// Retinal photochemical limit in J/m2: only from 10 s on and below 600 nm. The same for an extended source, which is on
/// the safe side.
#[must_use]
pub fn eye_photochemical_j_m2(wavelength: Wavelength, t: ExposureTime) -> Option<f64> {
    let c_b = c_b(wavelength).filter(|_| reaches(t.seconds(), LONG_S))?;
    Some(c_b * t.seconds().max(100.0))
}

/// Limit of the eye for one exposure in J/m2: the lower of the thermal and the photochemical one.
#[must_use]
pub fn eye_j_m2(edition: Edition, wavelength: Wavelength, t: ExposureTime, alpha: AngularSubtense) -> f64 {
    let thermal = eye_thermal_j_m2(edition, wavelength, t, alpha);
    eye_photochemical_j_m2(wavelength, t).map_or(thermal, |chemical| chemical.min(thermal))
}

/// Limit of the skin for one exposure in J/m2, in all editions: below 1 ns an irradiance of `2e11 C_A` W/m2.
#[must_use]
pub fn skin_j_m2(wavelength: Wavelength, t: ExposureTime) -> f64 {
    let s = t.seconds();
    let row = if !reaches(s, NANO_S) {
        2.0e11 * s
    } else if !reaches(s, 1e-7) {
        200.0
    } else if !reaches(s, LONG_S) {
        1.1e4 * s.powf(0.25)
    } else {
        2000.0 * s
    };
    c_a(wavelength) * row
}
