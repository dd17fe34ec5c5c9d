//! Carbon granules against Mie theory.

use super::csv;
use fadewright::physics::carbon;
use fadewright::units::Wavelength;

/// `carbon_mie.csv`: Mie theory by miepython 3.3.0 for `m = 1.95 - 0.79i` (Bond and Bergstrom 2006) in index 1.37; heat
/// with 1800 kg/m3 and 710 J/(kg K).
#[test]
fn absorption_and_heating_of_carbon_follow_mie_theory() {
    let rows = csv(include_str!("carbon_mie.csv"));
    assert_eq!(rows.len(), 24);
    for row in rows {
        let (d, w) = (row[0], Wavelength::new(row[1]).unwrap());
        for (got, wanted) in [
            (carbon::absorption_efficiency(d, w).unwrap().nominal, row[4]),
            (carbon::heating_k_per_j_cm2(d, w).unwrap().nominal, row[7]),
            (carbon::internal_mua_per_cm(d, w).unwrap().nominal, row[8]),
        ] {
            assert!((got / wanted - 1.0).abs() < 1e-4, "{d} nm at {} nm: {got} against {wanted}", row[1]);
        }
    }
}
