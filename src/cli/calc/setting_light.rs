//! What a setting brings to ink and skin, as one value for a person and for `--json`.

use crate::cli::light::{Kept, skin_light};
use crate::cli::output::CliError;
use crate::physics::depth_dose::{DEPTHS_CM, Dose, OtherSpot, Shot, ShotDose, TABLE_SPOTS_MM};
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
    /// Spots to compare with; empty for the usual ones.
    pub spots: Vec<SpotDiameter>,
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
    spots: Vec<OtherSpot>,
    pulse_s: Option<f64>,
    relaxation_definition: &'static str,
    confinement: Vec<Granule>,
}

impl SettingLight {
    /// Answers, from kept light where there is some.
    pub(in crate::cli) fn of(question: &Question, kept: Kept) -> Result<Self, CliError> {
        let q = question;
        let refused = |e: TransportError| CliError::Bad(e.to_string());
        let model = SkinModel::new(q.wavelength, q.skin, q.site, None).map_err(|e| CliError::Bad(e.to_string()))?;
        let light = skin_light(model, kept)?;
        let usual = || TABLE_SPOTS_MM.iter().filter_map(|mm| SpotDiameter::new(*mm).ok()).collect();
        let spots: Vec<SpotDiameter> = if q.spots.is_empty() { usual() } else { q.spots.clone() };
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
        Ok(Self {
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
            spots: spots.iter().map(|s| light.other_spot(&q.shot, *s)).collect::<Result<_, _>>().map_err(refused)?,
            pulse_s: q.pulse.map(PulseDuration::seconds),
            relaxation_definition: definition.explained(),
            confinement: USUAL_GRANULES_NM.iter().filter_map(granule).collect(),
        })
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
            "other spots at {} J/cm2, and the fluence there for the same light at",
            trimmed(self.fluence_j_cm2, 3)
        ));
        out.push("the middle of the ink (to compare by: limits have not been looked at)".to_owned());
        out.push(format!(
            "  {:<8}{:>10}{:>13}{:>13}   {}",
            "spot", "ink J/cm2", "basal J/cm2", "epidermis K", "same ink at J/cm2"
        ));
        for s in &self.spots {
            let same = &s.same_ink_fluence_j_cm2;
            out.push(format!(
                "  {:<8}{:>10}{:>13}{:>13}   {}, {:+.0} % basal",
                s.spot.to_string(),
                figures(s.ink_j_cm2.nominal),
                figures(s.basal_j_cm2.nominal),
                figures(s.epidermis_rise_k.nominal),
                ranged(same),
                // Adding zero turns a negative zero into a plain one.
                s.same_ink_basal_change_percent.nominal.round() + 0.0,
            ));
        }
        if let Some(pulse) = self.pulse_s.and_then(|s| PulseDuration::new(s).ok()) {
            out.push(format!("a pulse of {pulse} in granules of ink (relaxation d2/27k, sound d/c)"));
            for g in &self.confinement {
                out.push(format!(
                    "  {:<8} relaxes in {:<9} sound crosses in {:<9} confines {}",
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
