//! The runs behind the doses.

use super::dose::{DepthPoint, Dose, OtherSpot, Shot, ShotDose};
use crate::physics::beam::peak_over_average;
use crate::physics::optics::{Case, SkinModel, heat_capacity_j_cm3_k};
use crate::physics::transport::montecarlo::{Goal, Pencil, Request};
use crate::physics::transport::{Beam, Measured, TransportError};
use crate::units::SpotDiameter;
use crate::words::BeamProfile;

/// Depths below the surface, in cm, that every run counts, besides those of the epidermis. The ink's are among them.
pub const DEPTHS_CM: [f64; 9] = [0.025, 0.04, 0.05, 0.075, 0.10, 0.125, 0.15, 0.20, 0.30];

/// Spots, in mm, that a table shows.
pub const TABLE_SPOTS_MM: [f64; 9] = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 15.0];

/// Relative standard error of the fluence at the middle of the ink, for every spot from 1 mm.
const PRECISION: f64 = 0.01;
/// The smallest spot has the largest error; the others stand for the two profiles in between.
const PRECISE_SPOTS_CM: [f64; 3] = [0.1, 0.3, 1.0];
/// Photons after which precision is given up: dark skin lets little through.
const PHOTONS_MAX: u64 = 20_000_000;
/// Photons for each end of the range, which is far wider than their noise.
const PHOTONS_OF_A_RANGE: u64 = 100_000;
/// One seed, so that the same question has the same answer.
const SEED: u64 = 1;

/// Light in one skin at one wavelength.
#[derive(Debug, Clone)]
pub struct SkinLight {
    model: SkinModel,
    cases: Vec<CaseLight>,
}

#[derive(Debug, Clone)]
struct CaseLight {
    case: Case,
    pencil: Pencil,
}

impl SkinLight {
    /// Gathers the light of every case, each from a run of the request it is given, or from where such a run is kept.
    ///
    /// # Errors
    /// What `run` refuses with.
    pub fn gather<E>(
        model: SkinModel,
        threads: usize,
        mut run: impl FnMut(Case, &Request<'_>) -> Result<Pencil, E>,
    ) -> Result<Self, E> {
        let mut cases = Vec::new();
        for case in Case::ALL {
            let depths = depths_cm(&model, case);
            let centre = model.ink_depth().centre_cm;
            let spots = PRECISE_SPOTS_CM.iter().copied();
            let targets: Vec<(Beam, f64)> = spots
                .flat_map(|d| [Beam::Flat { diameter_cm: d }, Beam::Gaussian { diameter_cm: d }])
                .map(|beam| (beam, centre))
                .collect();
            let goal = match case {
                Case::Nominal => Goal::Precision { relative: PRECISION, at_most: PHOTONS_MAX },
                _ => Goal::Photons(PHOTONS_OF_A_RANGE),
            };
            let stack = model.stack(case);
            let request = Request { stack, goal, seed: SEED, threads, depths_cm: &depths, targets: &targets };
            let pencil = run(case, &request)?;
            cases.push(CaseLight { case, pencil });
        }
        Ok(Self { model, cases })
    }

    /// The skin it is for.
    #[must_use]
    pub const fn model(&self) -> &SkinModel {
        &self.model
    }

    /// Fluence on a beam's axis at one of [`DEPTHS_CM`], per unit of incident fluence on the axis.
    ///
    /// # Errors
    /// [`TransportError::Depth`] at another depth.
    pub fn fluence(&self, beam: Beam, depth_cm: f64) -> Result<Dose, TransportError> {
        let each = self.cases.iter().map(|light| Ok((light.case, light.pencil.batch_values(beam, depth_cm)?)));
        mean(each.collect::<Result<Vec<_>, TransportError>>()?.into_iter())
    }

    /// What one pulse brings.
    ///
    /// # Errors
    /// [`TransportError`] where a run does not hold the depths it was asked for.
    pub fn shot(&self, shot: &Shot) -> Result<ShotDose, TransportError> {
        let ink = self.model.ink_depth();
        let (beam, incident) = (shot.beam(), shot.on_axis_j_cm2());
        let each = self.each_case(beam)?;
        Ok(ShotDose {
            ink_top_j_cm2: self.fluence(beam, ink.bulk_top_cm)?.times(incident),
            ink_j_cm2: mean(each.iter().map(|c| (c.case, c.centre.clone())))?.times(incident),
            ink_bottom_j_cm2: self.fluence(beam, ink.bulk_bottom_cm)?.times(incident),
            basal_j_cm2: mean(each.iter().map(|c| (c.case, c.basal.clone())))?.times(incident),
            epidermis_rise_k: mean(each.iter().map(|c| (c.case, self.rise(c))))?.times(incident),
        })
    }

    /// Light from the surface down, for each J/cm2 that is set: at the surface, the middle and the basal layer of the
    /// epidermis (its range is that of the basal layers of all cases, drawn at the nominal depth), then at
    /// [`DEPTHS_CM`].
    ///
    /// # Errors
    /// As [`SkinLight::shot`].
    pub fn profile(&self, spot: SpotDiameter, profile: BeamProfile) -> Result<Vec<DepthPoint>, TransportError> {
        let beam = Beam::of(profile, spot.mm() / 10.0);
        let factor = peak_over_average(profile);
        let each = self.each_case(beam)?;
        let [top, middle, basal] = epidermis_depths_cm(&self.model, Case::Nominal);
        let epidermis = [
            (top, mean(each.iter().map(|c| (c.case, c.top.clone())))?),
            (middle, mean(each.iter().map(|c| (c.case, c.middle.clone())))?),
            (basal, mean(each.iter().map(|c| (c.case, c.basal.clone())))?),
        ];
        let mut points: Vec<(f64, Dose)> = epidermis.to_vec();
        for depth in DEPTHS_CM.into_iter().filter(|d| *d > basal) {
            points.push((depth, self.fluence(beam, depth)?));
        }
        let point = |(depth_cm, dose): (f64, Dose)| DepthPoint { depth_cm, per_set: dose.times(factor) };
        Ok(points.into_iter().map(point).collect())
    }

    /// Other spots instead of that of a pulse.
    ///
    /// # Errors
    /// As [`SkinLight::shot`].
    pub fn other_spots(&self, now: &Shot, spots: &[SpotDiameter]) -> Result<Vec<OtherSpot>, TransportError> {
        let here = self.each_case(now.beam())?;
        let one = |spot: &SpotDiameter| {
            let other = Shot { spot: *spot, ..*now };
            let there = self.each_case(other.beam())?;
            let incident = other.on_axis_j_cm2();
            let ratio = ratio(here.iter().zip(&there).map(|(a, b)| (a.case, a.centre.clone(), b.centre.clone())))?;
            // The product of two ratios, batch by batch, keeps what they have in common.
            let basal = here.iter().zip(&there);
            let basal = basal.map(|(a, b)| (a.case, product(&b.basal, &a.centre), product(&a.basal, &b.centre)));
            let basal = self::ratio(basal)?;
            let percent = |ratio: f64| 100.0 * (ratio - 1.0);
            Ok(OtherSpot {
                spot: *spot,
                ink_j_cm2: mean(there.iter().map(|c| (c.case, c.centre.clone())))?.times(incident),
                basal_j_cm2: mean(there.iter().map(|c| (c.case, c.basal.clone())))?.times(incident),
                epidermis_rise_k: mean(there.iter().map(|c| (c.case, self.rise(c))))?.times(incident),
                same_ink_fluence_j_cm2: ratio.times(now.fluence.j_cm2()),
                same_ink_basal_change_percent: Dose {
                    low: percent(basal.low),
                    nominal: percent(basal.nominal),
                    high: percent(basal.high),
                    standard_error: 100.0 * basal.standard_error,
                },
            })
        };
        spots.iter().map(one).collect()
    }

    /// What is asked of each case for a beam, per unit of incident fluence.
    fn each_case(&self, beam: Beam) -> Result<Vec<CaseDose>, TransportError> {
        let centre = self.model.ink_depth().centre_cm;
        let one = |light: &CaseLight| {
            let [top, middle, basal] = epidermis_depths_cm(&self.model, light.case);
            let at = |depth| light.pencil.batch_values(beam, depth);
            Ok(CaseDose {
                case: light.case,
                centre: at(centre)?,
                top: at(top)?,
                middle: at(middle)?,
                basal: at(basal)?,
            })
        };
        self.cases.iter().map(one).collect()
    }

    /// Mean rise of the epidermis per unit of incident fluence: absorption times mean fluence over heat capacity.
    fn rise(&self, c: &CaseDose) -> Batches {
        let capacity = heat_capacity_j_cm3_k();
        let capacity = match c.case {
            Case::Nominal => capacity.nominal,
            Case::HotEpidermis | Case::High => capacity.low,
            Case::Low => capacity.high,
        };
        let mua_per_cm = self.model.stack(c.case).layers().first().map_or(0.0, |l| l.mua_per_cm);
        // Simpson's rule: the fluence bends little within a tenth of a millimetre.
        let batches = c.top.iter().zip(&c.middle).zip(&c.basal);
        batches.map(|(((n, a), (_, b)), (_, c))| (*n, (a + 4.0 * b + c) / 6.0 * mua_per_cm / capacity)).collect()
    }
}

/// Light of one case under one beam.
struct CaseDose {
    case: Case,
    centre: Batches,
    top: Batches,
    middle: Batches,
    basal: Batches,
}

/// The nominal value with the range of the cases.
fn dose(each: impl Iterator<Item = (Case, Measured)>) -> Result<Dose, TransportError> {
    let each: Vec<(Case, Measured)> = each.collect();
    let nominal = each.iter().find(|(case, _)| *case == Case::Nominal).ok_or(TransportError::NothingDone)?;
    Ok(Dose::of(nominal.1, each.iter().map(|(_, m)| m.value)))
}

fn mean(each: impl Iterator<Item = (Case, Batches)>) -> Result<Dose, TransportError> {
    dose(each.map(|(case, batches)| (case, Measured::of_batches(&batches))))
}

fn ratio(each: impl Iterator<Item = (Case, Batches, Batches)>) -> Result<Dose, TransportError> {
    let each = each.map(|(case, top, bottom)| Some((case, Measured::ratio(&top, &bottom)?)));
    dose(each.collect::<Option<Vec<_>>>().ok_or(TransportError::NothingDone)?.into_iter())
}

/// Photons and value of each batch.
type Batches = Vec<(u64, f64)>;

fn product(a: &[(u64, f64)], b: &[(u64, f64)]) -> Batches {
    // The mean of a product is not the product of means: the second factor's noise enters to first order only.
    let (mean_a, mean_b) = (Measured::of_batches(a).value, Measured::of_batches(b).value);
    a.iter()
        .zip(b)
        .map(|((n, x), (_, y))| (*n, mean_a * mean_b + (x - mean_a) * mean_b + (y - mean_b) * mean_a))
        .collect()
}

/// Surface, middle and basal layer of the epidermis of a case, in cm.
fn epidermis_depths_cm(model: &SkinModel, case: Case) -> [f64; 3] {
    let basal = model.basal_depth_cm(case);
    [0.0, basal / 2.0, basal]
}

fn depths_cm(model: &SkinModel, case: Case) -> Vec<f64> {
    epidermis_depths_cm(model, case).into_iter().chain(DEPTHS_CM).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::transport::montecarlo::run;
    use crate::units::{Fluence, Wavelength};
    use crate::words::{BodySite, FitzpatrickType};

    fn light(nm: f64, skin: FitzpatrickType) -> SkinLight {
        let wavelength = Wavelength::new(nm).unwrap();
        let model = SkinModel::new(wavelength, skin, BodySite::UpperTrunk, None).unwrap();
        SkinLight::gather(model, 2, |_, request| {
            let request = Request { goal: Goal::Photons(16_000), ..request.clone() };
            run(&request, &()).map(|o| o.pencil.unwrap())
        })
        .unwrap()
    }

    fn shot(mm: f64, profile: BeamProfile) -> Shot {
        Shot { spot: SpotDiameter::new(mm).unwrap(), profile, fluence: Fluence::new(3.0).unwrap() }
    }

    #[test]
    fn more_of_a_larger_spot_reaches_the_ink_and_the_same_light_takes_less_fluence() {
        let light = light(1064.0, FitzpatrickType::II);
        let mut before = 0.0;
        for mm in TABLE_SPOTS_MM {
            let ink = light.shot(&shot(mm, BeamProfile::Flat)).unwrap().ink_j_cm2;
            assert!(ink.nominal > before && ink.low < ink.nominal && ink.nominal < ink.high, "{mm}: {ink:?}");
            before = ink.nominal;
        }
        let now = shot(3.0, BeamProfile::Flat);
        let [other] = light.other_spots(&now, &[SpotDiameter::new(4.0).unwrap()]).unwrap()[..] else { panic!() };
        let same = other.same_ink_fluence_j_cm2;
        assert!(same.nominal < 3.0 && same.low <= same.nominal && same.nominal <= same.high, "{same:?}");
        // What is said to bring the same light brings it.
        let fluence = Fluence::new(same.nominal).unwrap();
        let there = light.shot(&Shot { spot: other.spot, fluence, ..now }).unwrap();
        let here = light.shot(&now).unwrap();
        assert!((there.ink_j_cm2.nominal / here.ink_j_cm2.nominal - 1.0).abs() < 1e-9);
        let change = 100.0 * (there.basal_j_cm2.nominal / here.basal_j_cm2.nominal - 1.0);
        assert!((change - other.same_ink_basal_change_percent.nominal).abs() < 1e-6, "{change}");
        // Most of the noise is common to both spots.
        assert!(same.standard_error / same.nominal < here.ink_j_cm2.standard_error / here.ink_j_cm2.nominal);
    }

    #[test]
    fn a_gaussian_spot_has_twice_the_fluence_on_its_axis() {
        let light = light(1064.0, FitzpatrickType::II);
        let (flat, gaussian) = (shot(15.0, BeamProfile::Flat), shot(15.0, BeamProfile::Gaussian));
        assert!((gaussian.on_axis_j_cm2() - 6.0).abs() < 1e-12 && (flat.on_axis_j_cm2() - 3.0).abs() < 1e-12);
        let ratio = light.shot(&gaussian).unwrap().basal_j_cm2.nominal / light.shot(&flat).unwrap().basal_j_cm2.nominal;
        assert!(ratio > 1.7 && ratio < 2.0, "{ratio}");
    }

    #[test]
    fn darker_skin_and_shorter_waves_heat_the_epidermis_more() {
        let rise = |nm, skin| light(nm, skin).shot(&shot(4.0, BeamProfile::Flat)).unwrap().epidermis_rise_k.nominal;
        let pale = rise(1064.0, FitzpatrickType::I);
        assert!(pale > 0.5 && pale < rise(1064.0, FitzpatrickType::V));
        assert!(rise(1064.0, FitzpatrickType::III) < rise(755.0, FitzpatrickType::III));
        assert!(rise(755.0, FitzpatrickType::III) < rise(532.0, FitzpatrickType::III));
    }

    /// A picture says at each depth what the figures say.
    #[test]
    fn the_profile_holds_the_figures_of_the_shot() {
        let light = light(1064.0, FitzpatrickType::II);
        for profile in [BeamProfile::Flat, BeamProfile::Gaussian] {
            let shot = shot(4.0, profile);
            let points = light.profile(shot.spot, profile).unwrap();
            assert!(points.windows(2).all(|w| w[0].depth_cm < w[1].depth_cm) && points[0].depth_cm.abs() < 1e-12);
            let at = |cm: f64| points.iter().find(|p| (p.depth_cm - cm).abs() < 1e-9).unwrap().per_set.times(3.0);
            let dose = light.shot(&shot).unwrap();
            let ink = light.model().ink_depth();
            for (cm, told) in [
                (ink.centre_cm, dose.ink_j_cm2),
                (ink.bulk_top_cm, dose.ink_top_j_cm2),
                (ink.bulk_bottom_cm, dose.ink_bottom_j_cm2),
                (light.model().basal_depth_cm(Case::Nominal), dose.basal_j_cm2),
            ] {
                let drawn = at(cm);
                for (a, b) in [(drawn.low, told.low), (drawn.nominal, told.nominal), (drawn.high, told.high)] {
                    assert!((a - b).abs() < 1e-9 * b, "{profile} {cm}: {drawn:?} {told:?}");
                }
            }
        }
    }

    #[test]
    fn an_unknown_depth_is_refused() {
        let light = light(1064.0, FitzpatrickType::II);
        assert!(light.fluence(Beam::Wide, 0.1).is_ok() && light.fluence(Beam::Wide, 0.11).is_err());
    }
}
