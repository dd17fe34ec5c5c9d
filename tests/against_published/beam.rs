//! The beam against closed forms evaluated elsewhere.

use super::csv;
use fadewright::physics::beam::{Beam, GAUSSIAN_FWHM_OVER_SPOT, PulseShape, encircled_energy, relative_fluence};
use fadewright::units::{PulseDuration, RepetitionRate, SpotDiameter};
use fadewright::words::BeamProfile;

/// `gaussian_beam.csv`: `exp(-2r^2/w^2)` and `1 - exp(-2r^2/w^2)`, evaluated independently.
#[test]
fn a_gaussian_falls_off_and_encloses_its_energy_as_it_should() {
    let rows = csv(include_str!("gaussian_beam.csv"));
    assert_eq!(rows.len(), 12);
    for row in rows {
        assert!((relative_fluence(BeamProfile::Gaussian, row[0]) - row[1]).abs() < 1e-9, "{row:?}");
        assert!((encircled_energy(BeamProfile::Gaussian, row[0]) - row[2]).abs() < 1e-9, "{row:?}");
    }
    assert!((GAUSSIAN_FWHM_OVER_SPOT - 0.588_705_011).abs() < 1e-9);
}

/// Computed from `F = 2E/(pi w^2)` in the centre of a Gaussian and `E/(pi w^2)` of a flat beam.
#[test]
fn energy_and_spot_give_the_fluence() {
    for (energy, mm, peak, flat) in
        [(0.1, 2.0, 6.366_198, 3.183_099), (0.3, 4.0, 4.774_648, 2.387_324), (1.0, 6.0, 7.073_553, 3.536_777)]
    {
        let spot = SpotDiameter::new(mm).unwrap();
        let gaussian = Beam::from_energy(energy, spot, BeamProfile::Gaussian);
        assert!((gaussian.peak_fluence_j_cm2() - peak).abs() < 1e-6);
        assert!((gaussian.fluence_j_cm2() - flat).abs() < 1e-6);
        assert!((gaussian.energy_inside_spot() - 0.864_664_717).abs() < 1e-9);
        let even = Beam::from_energy(energy, spot, BeamProfile::Flat);
        assert!((even.peak_fluence_j_cm2() - flat).abs() < 1e-6 && (even.fluence_j_cm2() - flat).abs() < 1e-6);
    }
}

/// Paterson LM et al., SPIE 2624 (1996) give 96 MW/cm2 for pulses of 180 ns at 755 nm: 17 J/cm2 as a square pulse.
#[test]
fn irradiance_is_fluence_over_time() {
    let spot = SpotDiameter::new(3.0).unwrap();
    let pulse = PulseDuration::new(180e-9).unwrap();
    let beam = Beam::from_fluence(17.28, spot, BeamProfile::Flat);
    assert!((beam.peak_irradiance_w_cm2(pulse, PulseShape::Square) / 96e6 - 1.0).abs() < 1e-9);
    assert!((beam.peak_irradiance_w_cm2(pulse, PulseShape::Gaussian) / 96e6 - 0.939_437).abs() < 1e-6);
    assert!((beam.average_power_w(RepetitionRate::new(5.0).unwrap()) / beam.energy_j() - 5.0).abs() < 1e-12);
}
