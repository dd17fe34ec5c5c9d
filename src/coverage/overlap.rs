//! Pulses, overlap and the edge: closed formulas that hold for any count.

use crate::units::{Fluence, Overlap, PulseEnergy, RepetitionRate, SpotDiameter};

/// Area of a hexagonal cell over the square of its pitch: `sqrt(3) / 2`.
pub(super) const HEX_CELL: f64 = 0.866_025_403_784_438_6;

/// Pulses of an even hexagonal lattice over an area without an edge, as a real number: `A / (sqrt(3)/2 p^2)`.
#[must_use]
pub fn even_pulses(area_mm2: f64, spot: SpotDiameter, overlap: Overlap) -> f64 {
    let pitch_mm = spot.mm() * (1.0 - overlap.percent() / 100.0);
    area_mm2 / (HEX_CELL * pitch_mm * pitch_mm)
}

/// Share of a zone that stays bare when pulses fall anywhere at random: `exp(-n a / A)`, the limit of a hand that aims at
/// nothing (Poisson).
#[must_use]
pub fn random_bare_share(pulses: u64, spot: SpotDiameter, area_mm2: f64) -> f64 {
    (-(pulses as f64) * spot.area_mm2() / area_mm2).exp()
}

/// Time of a number of pulses at a rate, s: from the first to the last.
#[must_use]
pub fn time_s(pulses: u64, rate: RepetitionRate) -> f64 {
    pulses.saturating_sub(1) as f64 / rate.hz()
}

/// Diameter of the largest spot, mm, that a pulse energy can fill with a fluence, averaged over the spot.
#[must_use]
pub fn largest_spot_mm(energy: PulseEnergy, fluence: Fluence) -> f64 {
    // 1 cm2 is 100 mm2.
    2.0 * (100.0 * energy.joules() / (fluence.j_cm2() * std::f64::consts::PI)).sqrt()
}

/// How the edge of a zone changes the number of pulses: `n = (A + k P p) / (sqrt(3)/2 p^2)` with the zone's area A and
/// perimeter P. For an endless lattice k is 0; for a zone it is found from the zone's own lattice.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct EdgeEffect {
    area_mm2: f64,
    /// `k P`, mm.
    edge_mm: f64,
}

impl EdgeEffect {
    /// From a lattice of `pulses` at `pitch_mm`.
    pub(super) fn of(area_mm2: f64, pulses: u64, pitch_mm: f64) -> Self {
        Self { area_mm2, edge_mm: (pulses as f64 * HEX_CELL * pitch_mm * pitch_mm - area_mm2) / pitch_mm }
    }

    /// The pitch, mm, at which the zone takes a number of pulses.
    pub(super) fn pitch_mm(self, pulses: u64) -> f64 {
        let n = HEX_CELL * pulses as f64;
        // The positive root of n p^2 - k P p - A = 0.
        let half = self.edge_mm / (2.0 * n);
        half + (half * half + self.area_mm2 / n).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Facts of the trade, section 8: covered shares of randomly placed discs at n a / A = 0.5, 1, 2, 3, 4.605.
    #[test]
    fn random_pulses_leave_what_poisson_says() {
        let spot = SpotDiameter::new(2.0).unwrap();
        for (na, covered) in [(1, 0.393_469), (2, 0.632_121), (4, 0.864_665), (6, 0.950_213)] {
            let bare = random_bare_share(na, spot, 2.0 * spot.area_mm2());
            assert!((1.0 - bare - covered).abs() < 1e-6);
        }
    }

    /// Facts of the trade, section 9: 0.3 J over 4 mm is 2.387324 J/cm2 averaged over the spot.
    #[test]
    fn the_largest_spot_is_the_one_that_the_energy_fills() {
        let d = largest_spot_mm(PulseEnergy::new(0.3).unwrap(), Fluence::new(2.387_324).unwrap());
        assert!((d - 4.0).abs() < 1e-5);
    }

    #[test]
    fn ten_pulses_at_two_hertz_take_four_and_a_half_seconds() {
        let rate = RepetitionRate::new(2.0).unwrap();
        assert!((time_s(10, rate) - 4.5).abs() < 1e-12);
        assert!(time_s(0, rate).abs() < 1e-12);
    }
}
