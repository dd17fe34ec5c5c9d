//! All answers about one beam.

use super::factors::c_e;
use super::{
    APERTURE_EYE_M2, Edition, EditionChoice, PulseLimit, ScaleNeed, ScaleRule, Source, c_p_of, diffuse_extended_m,
    diffuse_m, direct_m, eye_j_m2, eye_train, optical_density, scale_need, skin_j_m2, skin_train,
};
use crate::units::AngularSubtense;

/// Limits of the eye by one edition.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EyeLimit {
    /// The edition.
    pub edition: Edition,
    /// Limit of a single pulse in J/m2.
    pub single_j_m2: f64,
    /// Limit of each pulse of the train.
    pub train: PulseLimit,
    /// `C_P` of the train.
    pub c_p: f64,
    /// `C_E` of the source.
    pub c_e: f64,
    /// Limit of the whole exposure in J/m2, all pulses together.
    pub exposure_j_m2: f64,
}

/// What a beam can do.
#[derive(Debug, Clone, PartialEq)]
pub struct Hazard {
    /// The eye by each edition that was asked for.
    pub eye: Vec<EyeLimit>,
    /// The one whose limit for each pulse is the lowest; the older one on a tie.
    pub governing: EyeLimit,
    /// The edition with the lowest limit of a single pulse.
    pub single: EyeLimit,
    /// Limit of the skin for a single pulse in J/m2.
    pub skin_single_j_m2: f64,
    /// Limit of the skin for each pulse of the train.
    pub skin_train: PulseLimit,
    /// Optical density for the whole energy through the 7 mm aperture.
    pub od_7mm: f64,
    /// Optical density for the beam as wide as it is.
    pub od_beam: f64,
    /// Optical density by the average power over the smaller of aperture and beam; none for a single pulse.
    pub od_average: Option<f64>,
    /// Nominal ocular hazard distance in m: 0 when nothing is exceeded, infinite for a beam that does not spread.
    pub nohd_m: f64,
    /// The same for the skin.
    pub skin_distance_m: f64,
    /// Hazard distance in m for the eye from a matt reflection that is seen as a point.
    pub diffuse_m: f64,
    /// The same with the lit spot as an extended source.
    pub diffuse_extended_m: f64,
    /// The same for the skin.
    pub skin_diffuse_m: f64,
    /// EN 207 scale numbers for a filter that is hit by the beam.
    pub scale: ScaleNeed,
}

impl Hazard {
    /// The optical density to ask for: the largest of the three.
    #[must_use]
    pub fn od_needed(&self) -> f64 {
        self.od_7mm.max(self.od_beam).max(self.od_average.unwrap_or(0.0))
    }
}

fn eye_limit(edition: Edition, source: &Source, alpha: AngularSubtense) -> EyeLimit {
    let (wavelength, train) = (source.wavelength, &source.train);
    EyeLimit {
        edition,
        single_j_m2: eye_j_m2(edition, wavelength, train.pulse(), alpha),
        train: eye_train(edition, wavelength, train, alpha),
        c_p: c_p_of(edition, wavelength, train, alpha),
        c_e: c_e(edition, train.pulse(), alpha),
        exposure_j_m2: eye_j_m2(edition, wavelength, train.exposure(), alpha),
    }
}

/// Judges a beam by the editions of the choice. `reflectance` is the share that a matt surface scatters, 0 to 1; what
/// lies outside is brought to its end.
#[must_use]
pub fn assess(source: &Source, choice: EditionChoice, reflectance: f64, rule: ScaleRule) -> Hazard {
    let editions = choice.editions();
    let eye: Vec<EyeLimit> = editions.iter().map(|e| eye_limit(*e, source, source.alpha)).collect();
    let first = eye_limit(editions.first().copied().unwrap_or(Edition::Of2007), source, source.alpha);
    let lowest = |key: fn(&EyeLimit) -> f64| {
        eye.iter().copied().fold(first, |low, next| if key(&next) < key(&low) { next } else { low })
    };
    let governing = lowest(|e| e.train.j_m2);
    let single = lowest(|e| e.single_j_m2);
    let exposure_limit = eye.iter().map(|e| e.exposure_j_m2).fold(f64::INFINITY, f64::min);
    let skin_train = skin_train(source.wavelength, &source.train);

    let (energy, limit) = (source.energy_j(), governing.train.j_m2);
    let (diameter, divergence, area) = (source.beam.diameter_m(), source.beam.divergence_rad(), source.beam.area_m2());
    let rho = if reflectance.is_nan() { 1.0 } else { reflectance.clamp(0.0, 1.0) };
    let lowest_at = |alpha: AngularSubtense| {
        let of = |e: &Edition| eye_train(*e, source.wavelength, &source.train, alpha).j_m2;
        editions.iter().map(of).fold(f64::INFINITY, f64::min)
    };
    let point = lowest_at(AngularSubtense::POINT);
    let all_energy = energy * source.train.pulses();
    Hazard {
        od_7mm: optical_density(energy / APERTURE_EYE_M2, limit),
        od_beam: optical_density(energy / area, limit),
        od_average: source
            .average_power_w()
            .map(|_| optical_density(all_energy / area.min(APERTURE_EYE_M2), exposure_limit)),
        nohd_m: direct_m(energy, limit, diameter, divergence),
        skin_distance_m: direct_m(energy, skin_train.j_m2, diameter, divergence),
        diffuse_m: diffuse_m(energy, point, rho),
        diffuse_extended_m: diffuse_extended_m(energy, rho, diameter, lowest_at),
        skin_diffuse_m: diffuse_m(energy, skin_train.j_m2, rho),
        skin_single_j_m2: skin_j_m2(source.wavelength, source.train.pulse()),
        skin_train,
        eye,
        governing,
        single,
        scale: scale_need(source, rule),
    }
}
