//! How thick the layers of skin are, and where ink lies.

use crate::physics::Estimate;
use crate::words::BodySite;

/// Thickness of the epidermis with its stratum corneum, in cm, by body site.
///
/// Sources (published): Sandby-Moller J et al., Acta Derm Venereol 2003;83:410-413 (stratum corneum and living
/// epidermis: forearm 18.3 + 56.6, shoulder 11.0 + 70.3, buttock 14.9 + 81.5 um; no link to age or skin type); pooled
/// over 56 studies 99.75 um, 95 % interval 83 to 116 (Xu H et al., J Am Acad Dermatol 2017;77:1133); Oltulu P et al.,
/// Turk J Plast Surg 2018;26:56 (breast 76.9 +- 26.2, back of the foot 267 um). Head and neck have no row there: the
/// pooled value stands in. The ends are one standard deviation of the source, the nearest other row, or the pooled
/// interval, whichever lies further out.
#[must_use]
pub fn epidermis_cm(site: BodySite) -> Estimate {
    let um = match site {
        BodySite::HeadNeck => Estimate::new(50.7, 99.75, 116.0),
        BodySite::UpperTrunk => Estimate::new(50.7, 81.3, 116.0),
        BodySite::LowerTrunk => Estimate::new(80.0, 96.4, 116.0),
        BodySite::ProximalExtremity => Estimate::new(62.4, 81.3, 116.0),
        BodySite::DistalExtremity => Estimate::new(62.4, 74.9, 267.4),
    };
    um.map(|um| um * 1e-4)
}

/// Thickness of the papillary dermis in cm: 0.1 to 0.2 mm (from memory).
pub const PAPILLARY_CM: Estimate = Estimate { low: 0.010, nominal: 0.015, high: 0.020 };

/// Thickness of the whole dermis in cm, by body site.
///
/// Sources (published): ultrasound of the thigh 1.65 mm (women), 1.89 mm (men), Derraik JGB et al., PLoS ONE
/// 2014;9:e86637; histology 2.1 +- 0.9 mm (back of the hand) to 5.9 mm (breast), Oltulu 2018, which is thicker than
/// others. Sites without a row have the thigh's value and the whole range.
#[must_use]
pub fn dermis_cm(site: BodySite) -> Estimate {
    match site {
        BodySite::ProximalExtremity => Estimate::new(0.165, 0.177, 0.212),
        BodySite::DistalExtremity => Estimate::new(0.117, 0.177, 0.306),
        BodySite::HeadNeck | BodySite::UpperTrunk | BodySite::LowerTrunk => Estimate::new(0.117, 0.177, 0.589),
    }
}

/// Where ink lies below the surface, in cm.
///
/// Usually 0.4 to 2 mm, most of it 0.5 to 1.5 mm; amateur tattoos are uneven and deeper. From memory: no measured
/// distribution is known to us.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct InkDepth {
    /// The shallowest ink.
    pub top_cm: f64,
    /// Top of the layer that holds most of it.
    pub bulk_top_cm: f64,
    /// The middle.
    pub centre_cm: f64,
    /// Bottom of the layer that holds most of it.
    pub bulk_bottom_cm: f64,
    /// The deepest ink.
    pub bottom_cm: f64,
}

/// The depth of ink that the model takes for every site.
pub const INK_DEPTH: InkDepth =
    InkDepth { top_cm: 0.04, bulk_top_cm: 0.05, centre_cm: 0.10, bulk_bottom_cm: 0.15, bottom_cm: 0.20 };
