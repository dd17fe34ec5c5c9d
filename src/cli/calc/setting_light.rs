//! What a setting brings to ink and skin, as one value for a person and for `--json`.

use crate::cli::light::{Kept, skin_light};
use crate::cli::output::CliError;
use crate::limits::HARD_FLUENCE_MAX_J_CM2;
use crate::physics::depth_dose::{DEPTHS_CM, Dose, OtherSpot, Shot, ShotDose, SkinLight, TABLE_SPOTS_MM};
use crate::physics::heat::{Definition, USUAL_GRANULES_NM, confinement};
use crate::physics::optics::{Case, InkDepth, SkinModel};
use crate::physics::transport::TransportError;
use crate::units::{GranuleDiameter, PulseDuration, SpotDiameter, Wavelength, trimmed};
use crate::words::{BeamProfile, BodySite, FitzpatrickType};
use serde::Serialize;
use std::fmt::Write as _;

/// What is asked.
#[derive(Debug, Clone)]
pub struct Question {
    /// Wavelength.
    pub wavelength: Wavelength,
    /// Skin.
    pub skin: FitzpatrickType,
    /// Site.
    pub site: BodySite,
    /// The pulse as it is set.
    pub shot: Shot,
    /// Its duration, where confinement is asked for.
    pub pulse: Option<PulseDuration>,
    /// Spots to compare with, each with the highest fluence that may be set at it in J/cm2, where it is known.
    pub spots: Vec<(SpotDiameter, Option<f64>)>,
}

impl Question {
    /// The usual spots, below the program's own limit: what is known without a device and a protocol.
    #[must_use]
    pub fn usual_spots() -> Vec<(SpotDiameter, Option<f64>)> {
        let spots = TABLE_SPOTS_MM.iter().filter_map(|mm| SpotDiameter::new(*mm).ok());
        spots.map(|spot| (spot, Some(HARD_FLUENCE_MAX_J_CM2))).collect()
    }
}

/// Another spot, and what may be set there.
#[derive(Debug, Clone, Serialize)]
struct Spot {
    #[serde(flatten)]
    other: OtherSpot,
    /// The highest fluence that may be set at this spot, where it is known.
    limit_j_cm2: Option<f64>,
    /// Whether the fluence for the same light at the ink stays within it.
    same_ink_within_limit: bool,
}

/// Fluence at a depth.
#[derive(Debug, Clone, Serialize)]
struct AtDepth {
    depth_cm: f64,
    fluence_per_incident: Dose,
    local_j_cm2: Dose,
}

/// A pulse against a granule of ink.
#[derive(Debug, Clone, Serialize)]
struct Granule {
    granule_nm: f64,
    relaxation_s: f64,
    transit_s: f64,
    thermally_confined: bool,
    stress_confined: bool,
    confines: &'static str,
}

/// The answer. The dose is on the beam's axis, without ink in the way.
#[derive(Debug, Clone, Serialize)]
pub struct SettingLight {
    wavelength_nm: f64,
    skin: FitzpatrickType,
    site: BodySite,
    spot_mm: f64,
    profile: BeamProfile,
    fluence_j_cm2: f64,
    on_axis_j_cm2: f64,
    ink_depth: InkDepth,
    basal_depth_cm: f64,
    #[serde(flatten)]
    dose: ShotDose,
    depth_dose: Vec<AtDepth>,
    spots: Vec<Spot>,
    pulse_s: Option<f64>,
    relaxation_definition: &'static str,
    confinement: Vec<Granule>,
}

impl SettingLight {
    /// Answers, from kept light where there is some.
    pub(in crate::cli) fn of(question: &Question, kept: Kept) -> Result<Self, CliError> {
        Self::with_light(question, kept).map(|(answer, _)| answer)
    }

    /// The same, with the light that it rests on.
    pub(in crate::cli) fn with_light(question: &Question, kept: Kept) -> Result<(Self, SkinLight), CliError> {
        let q = question;
        let refused = |e: TransportError| CliError::Bad(e.to_string());
        let model = SkinModel::new(q.wavelength, q.skin, q.site, None).map_err(|e| CliError::Bad(e.to_string()))?;
        let light = skin_light(model, kept)?;
        let (beam, incident) = (q.shot.beam(), q.shot.on_axis_j_cm2());
        let at = |depth_cm: &f64| {
            let fluence_per_incident = light.fluence(beam, *depth_cm)?;
            let local_j_cm2 = fluence_per_incident.times(incident);
            Ok(AtDepth { depth_cm: *depth_cm, fluence_per_incident, local_j_cm2 })
        };
        let definition = Definition::AndersonParrish;
        let granule = |nm: &f64| {
            let granule = GranuleDiameter::new(*nm).ok()?;
            let c = confinement(granule, q.pulse?, definition);
            Some(Granule {
                granule_nm: *nm,
                relaxation_s: c.relaxation_s.nominal,
                transit_s: c.transit_s.nominal,
                thermally_confined: c.thermally_confined,
                stress_confined: c.stress_confined,
                confines: c.words(),
            })
        };
        let others = light.other_spots(&q.shot, &q.spots.iter().map(|(spot, _)| *spot).collect::<Vec<_>>());
        let spots = others.map_err(refused)?.into_iter().zip(&q.spots).map(|(other, (_, limit_j_cm2))| {
            let same = other.same_ink_fluence_j_cm2.nominal;
            let same_ink_within_limit = limit_j_cm2.is_some_and(|limit| same <= limit * (1.0 + 1e-9));
            Spot { other, limit_j_cm2: *limit_j_cm2, same_ink_within_limit }
        });
        let answer = Self {
            wavelength_nm: q.wavelength.nm(),
            skin: q.skin,
            site: q.site,
            spot_mm: q.shot.spot.mm(),
            profile: q.shot.profile,
            fluence_j_cm2: q.shot.fluence.j_cm2(),
            on_axis_j_cm2: incident,
            ink_depth: light.model().ink_depth(),
            basal_depth_cm: light.model().basal_depth_cm(Case::Nominal),
            dose: light.shot(&q.shot).map_err(refused)?,
            depth_dose: DEPTHS_CM.iter().map(at).collect::<Result<_, _>>().map_err(refused)?,
            spots: spots.collect(),
            pulse_s: q.pulse.map(PulseDuration::seconds),
            relaxation_definition: definition.explained(),
            confinement: USUAL_GRANULES_NM.iter().filter_map(granule).collect(),
        };
        Ok((answer, light))
    }

    /// The answer in lines of at most 71 columns, so that it fits beside a heading.
    #[must_use]
    pub fn lines(&self) -> Vec<String> {
        let mut out = Vec::new();
        let d = &self.dose;
        let ink = self.ink_depth;
        out.push("light on the axis of a spot, for uncertain skin: likely (from - to)".to_owned());
        let mut row = |what: String, dose: &Dose, unit: &str| {
            out.push(format!("  {what:<30} {:<22} {unit}", ranged(dose)));
        };
        row(format!("most ink begins, {} mm", mm(ink.bulk_top_cm)), &d.ink_top_j_cm2, "J/cm2");
        row(format!("middle of the ink, {} mm", mm(ink.centre_cm)), &d.ink_j_cm2, "J/cm2");
        row(format!("most ink ends, {} mm", mm(ink.bulk_bottom_cm)), &d.ink_bottom_j_cm2, "J/cm2");
        row(format!("basal layer, {} mm", mm(self.basal_depth_cm)), &d.basal_j_cm2, "J/cm2");
        row("epidermis warms by, on average".to_owned(), &d.epidermis_rise_k, "K");
        out.push(format!(
            "other spots at {} J/cm2, and what brings the same light to mid-ink",
            trimmed(self.fluence_j_cm2, 3)
        ));
        out.push(format!(
            "  {:<7}{:>9}{:>12}{:>12}   {}",
            "spot", "ink J/cm2", "basal J/cm2", "epidermis K", "same light at mid-ink"
        ));
        for s in &self.spots {
            let (o, same) = (&s.other, &s.other.same_ink_fluence_j_cm2);
            let there = match s.limit_j_cm2 {
                Some(_) if s.same_ink_within_limit => {
                    // Adding zero turns a negative zero into a plain one.
                    let basal = o.same_ink_basal_change_percent.nominal.round() + 0.0;
                    format!("{} J/cm2, basal {basal:+.0} %", figures(same.nominal))
                }
                Some(limit) => format!("over the limit, {} J/cm2", trimmed(limit, 2)),
                None => "no limit known".to_owned(),
            };
            out.push(format!(
                "  {:<7}{:>9}{:>12}{:>12}   {there}",
                o.spot.to_string(),
                figures(o.ink_j_cm2.nominal),
                figures(o.basal_j_cm2.nominal),
                figures(o.epidermis_rise_k.nominal),
            ));
        }
        if let Some(pulse) = self.pulse_s.and_then(|s| PulseDuration::new(s).ok()) {
            out.push(format!("a pulse of {pulse} in granules that heat leaves in d2/27k, sound in d/c"));
            for g in &self.confinement {
                out.push(format!(
                    "  {:<7} heat {:<9} sound {:<9} confines {}",
                    granule_size(g.granule_nm),
                    time(g.relaxation_s),
                    time(g.transit_s),
                    g.confines
                ));
            }
        }
        out
    }

    /// The lines as one text.
    pub(super) fn text(&self) -> String {
        let mut text = String::new();
        let _ = writeln!(
            text,
            "{} nm, skin type {}, {}; {} mm {}, {} J/cm2",
            trimmed(self.wavelength_nm, 1),
            self.skin,
            self.site,
            trimmed(self.spot_mm, 2),
            self.profile,
            trimmed(self.fluence_j_cm2, 3)
        );
        for line in self.lines() {
            let _ = writeln!(text, "{line}");
        }
        text
    }
}

/// Three figures, without an exponent.
fn figures(value: f64) -> String {
    match value.abs() {
        v if v >= 99.95 => format!("{value:.0}"),
        v if v >= 9.995 => format!("{value:.1}"),
        v if v >= 0.0995 => format!("{value:.2}"),
        _ => format!("{value:.3}"),
    }
}

/// `4.85 (3.12 - 6.04)`.
fn ranged(d: &Dose) -> String {
    format!("{} ({} - {})", figures(d.nominal), figures(d.low), figures(d.high))
}

fn mm(cm: f64) -> String {
    trimmed(cm * 10.0, 2)
}

/// `100 nm`, `4 um`.
fn granule_size(nm: f64) -> String {
    if nm >= 1000.0 { format!("{} um", trimmed(nm / 1000.0, 1)) } else { format!("{} nm", trimmed(nm, 0)) }
}

/// Three figures with a unit that suits.
fn time(seconds: f64) -> String {
    let (factor, unit) = match seconds {
        s if s < 1e-9 => (1e12, "ps"),
        s if s < 1e-6 => (1e9, "ns"),
        s if s < 1e-3 => (1e6, "us"),
        _ => (1e3, "ms"),
    };
    format!("{} {unit}", figures(seconds * factor))
}
