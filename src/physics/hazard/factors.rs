//! Correction factors and break points of the exposure limits, 400 to 1400 nm.
//!
//! Named as in ICNIRP 2013 (Health Phys. 105(3):271-295) and ANSI Z136.1; IEC 60825-1 calls `C_A` C4, `C_B` C3, `C_C`
//! C7, `C_E` C6 and `C_P` C5.

use super::Edition;
use crate::units::{AngularSubtense, ExposureTime, Wavelength};

/// Smallest angular subtense that counts as extended, in mrad, in all editions.
pub const ALPHA_MIN_MRAD: f64 = 1.5;
/// Subtense above which nothing grows further for long exposures, in mrad.
pub const ALPHA_LARGE_MRAD: f64 = 100.0;
/// Where the water of the eye and the melanin change the limits, in nm: the third column of the tables begins here.
const FAR_NM: f64 = 1050.0;

/// Share by which a time may fall short of a joint of a table and still count as reaching it: a text such as `10 ps`
/// lands a rounding error beside the number that the table means.
const JOINT_SLACK: f64 = 1e-12;

/// True when `t` stands at the joint of a table or beyond it: a joint belongs to the row above it.
pub(super) fn reaches(t: f64, joint: f64) -> bool {
    t >= joint * (1.0 - JOINT_SLACK)
}

/// True in the column 1050 to 1400 nm of the eye's tables.
pub(super) fn is_far(wavelength: Wavelength) -> bool {
    wavelength.nm() >= FAR_NM
}

/// `C_A`: melanin absorbs less towards the infrared. 1 below 700 nm, `10^(0.002 (nm - 700))` below 1050 nm, then 5.
#[must_use]
pub fn c_a(wavelength: Wavelength) -> f64 {
    match wavelength.nm() {
        nm if nm < 700.0 => 1.0,
        nm if nm < FAR_NM => 10f64.powf(0.002 * (nm - 700.0)),
        _ => 5.0,
    }
}

/// `C_B`: blue light harms by chemistry. 1 below 450 nm, `10^(0.02 (nm - 450))` below 600 nm; none from there on.
#[must_use]
pub fn c_b(wavelength: Wavelength) -> Option<f64> {
    match wavelength.nm() {
        nm if nm < 450.0 => Some(1.0),
        nm if nm < 600.0 => Some(10f64.powf(0.02 * (nm - 450.0))),
        _ => None,
    }
}

/// `C_C`: water in front of the retina absorbs. 1 below 1150 nm, `10^(0.018 (nm - 1150))` below 1200 nm, then 8; the
/// newer edition adds `10^(0.04 (nm - 1250))`.
#[must_use]
pub fn c_c(edition: Edition, wavelength: Wavelength) -> f64 {
    match wavelength.nm() {
        nm if nm < 1150.0 => 1.0,
        nm if nm < 1200.0 => 10f64.powf(0.018 * (nm - 1150.0)),
        nm => match edition {
            Edition::Of2007 => 8.0,
            Edition::Of2014 => 8.0 + 10f64.powf(0.04 * (nm - 1250.0)),
        },
    }
}

/// `alpha_max` in mrad: the subtense at which `C_E` stops growing. 100 in the older edition; in the newer 5 below
/// 625 us, `200 sqrt(t)` up to 0.25 s, then 100.
#[must_use]
pub fn alpha_max_mrad(edition: Edition, t: ExposureTime) -> f64 {
    match edition {
        Edition::Of2007 => ALPHA_LARGE_MRAD,
        Edition::Of2014 => (200.0 * t.seconds().sqrt()).clamp(5.0, ALPHA_LARGE_MRAD),
    }
}

/// `C_E`: an extended source spreads over the retina. 1 for a point, `alpha / alpha_min` up to `alpha_max`, then
/// constant: all energy is counted, not only that from within `alpha_max`, so growing further would not be safe.
#[must_use]
pub fn c_e(edition: Edition, t: ExposureTime, alpha: AngularSubtense) -> f64 {
    (alpha.mrad().min(alpha_max_mrad(edition, t)) / ALPHA_MIN_MRAD).max(1.0)
}

/// `T_2` in seconds: from here on eye movements spread the light. 10 s for a point, `10 * 10^((alpha - 1.5) / 98.5)`,
/// 100 s from 100 mrad on.
#[must_use]
pub fn t_2_s(alpha: AngularSubtense) -> f64 {
    let alpha = alpha.mrad().clamp(ALPHA_MIN_MRAD, ALPHA_LARGE_MRAD);
    10.0 * 10f64.powf((alpha - ALPHA_MIN_MRAD) / 98.5)
}

/// `T_i` in seconds: pulses within this time count as one. Below 1050 nm 18 us (2007) or 5 us (2014), else 50 or 13 us.
#[must_use]
pub fn t_i_s(edition: Edition, wavelength: Wavelength) -> f64 {
    match (edition, is_far(wavelength)) {
        (Edition::Of2007, false) => 18e-6,
        (Edition::Of2007, true) => 50e-6,
        (Edition::Of2014, false) => 5e-6,
        (Edition::Of2014, true) => 13e-6,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn nm(v: f64) -> Wavelength {
        Wavelength::new(v).unwrap()
    }
    fn s(v: f64) -> ExposureTime {
        ExposureTime::new(v).unwrap()
    }
    fn mrad(v: f64) -> AngularSubtense {
        AngularSubtense::new(v).unwrap()
    }
    fn near(a: f64, b: f64) -> bool {
        (a / b - 1.0).abs() < 1e-4
    }

    /// ICNIRP 2013 tables 2 and 3, by way of two public copies that agree; both sides of every joint.
    #[test]
    fn factors_on_both_sides_of_their_joints() {
        assert!(near(c_a(nm(699.9)), 1.0) && near(c_a(nm(730.0)), 1.14815) && near(c_a(nm(755.0)), 1.28825));
        assert!(near(c_a(nm(785.0)), 1.47911) && near(c_a(nm(1049.9)), 5.00957) && near(c_a(nm(1050.0)), 5.0));
        assert!(near(c_b(nm(450.0)).unwrap(), 1.0) && near(c_b(nm(532.0)).unwrap(), 43.65));
        assert!(near(c_b(nm(585.0)).unwrap(), 501.19) && near(c_b(nm(595.0)).unwrap(), 794.33));
        assert!(c_b(nm(599.9)).is_some() && c_b(nm(600.0)).is_none());
        for edition in [Edition::Of2007, Edition::Of2014] {
            assert!(near(c_c(edition, nm(1149.9)), 1.0) && near(c_c(edition, nm(1150.0)), 1.0));
            assert!(near(c_c(edition, nm(1199.9)), 7.9102) && near(c_c(edition, nm(1175.0)), 2.81838));
        }
        assert!(near(c_c(Edition::Of2007, nm(1400.0)), 8.0) && near(c_c(Edition::Of2014, nm(1250.0)), 9.0));
        assert!(near(c_c(Edition::Of2014, nm(1200.0)), 8.01) && near(c_c(Edition::Of2014, nm(1400.0)), 1_000_008.0));
        assert!(near(t_i_s(Edition::Of2014, nm(1049.9)), 5e-6) && near(t_i_s(Edition::Of2014, nm(1050.0)), 13e-6));
        assert!(near(t_i_s(Edition::Of2007, nm(1049.9)), 18e-6) && near(t_i_s(Edition::Of2007, nm(1050.0)), 50e-6));
    }

    #[test]
    fn extended_sources_grow_between_their_ends() {
        let new = |t: f64| alpha_max_mrad(Edition::Of2014, s(t));
        assert!(near(new(1e-9), 5.0) && near(new(624e-6), 5.0) && near(new(1e-3), 6.3246));
        assert!(
            near(new(0.25), 100.0) && near(new(10.0), 100.0) && near(alpha_max_mrad(Edition::Of2007, s(1e-9)), 100.0)
        );
        for (alpha, old, new) in
            [(0.0, 1.0, 1.0), (1.5, 1.0, 1.0), (3.0, 2.0, 2.0), (50.0, 33.333, 3.3333), (2000.0, 66.667, 3.3333)]
        {
            assert!(near(c_e(Edition::Of2007, s(1e-8), mrad(alpha)), old));
            assert!(near(c_e(Edition::Of2014, s(1e-8), mrad(alpha)), new));
        }
        for (alpha, t2) in
            [(0.0, 10.0), (1.5, 10.0), (5.0, 10.8527), (10.0, 12.1982), (50.0, 31.0732), (100.0, 100.0), (200.0, 100.0)]
        {
            assert!(near(t_2_s(mrad(alpha)), t2), "{alpha}: {}", t_2_s(mrad(alpha)));
        }
    }
}
