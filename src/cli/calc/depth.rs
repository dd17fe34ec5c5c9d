//! `calc depth`: light at the ink and at the skin's pigment.

use super::given::{form, word};
use super::setting_light::{Question, SettingLight};
use crate::cli::files::{SetupArgs, load_device, load_plan, load_protocol};
use crate::cli::light::Kept;
use crate::cli::output::{CliError, answer};
use crate::device::DeviceProfile;
use crate::limits::fluence_limit;
use crate::physics::depth_dose::Shot;
use crate::plan::{Plan, Setting, Zone};
use crate::protocol::Protocol;
use crate::text::shown;
use crate::units::{Fluence, PulseDuration, SpotDiameter, Wavelength};
use crate::words::{BeamProfile, BodySite, FitzpatrickType};
use clap::Args;
use serde::Serialize;
use std::path::PathBuf;
use std::process::ExitCode;

/// What `calc depth` is asked.
#[derive(Debug, Args)]
pub struct DepthArgs {
    /// A plan: every zone's setting is looked at.
    #[arg(conflicts_with_all = ["wavelength_nm", "skin", "site", "spot_mm", "fluence_j_cm2", "pulse"])]
    plan: Option<PathBuf>,
    /// The files beside it; the device tells the profile of its beam and its spots.
    #[command(flatten)]
    setup: SetupArgs,
    /// Wavelength in nm, 400 to 1100.
    #[arg(
        long,
        value_name = "NM",
        allow_hyphen_values = true,
        required_unless_present = "plan",
        value_parser = form::<Wavelength>(),
    )]
    wavelength_nm: Option<Wavelength>,
    /// Fitzpatrick skin type, I to VI.
    #[arg(long, value_name = "TYPE", required_unless_present = "plan", value_parser = word::<FitzpatrickType>())]
    skin: Option<FitzpatrickType>,
    /// Body site: head-neck, upper-trunk, lower-trunk, proximal-extremity or distal-extremity.
    #[arg(long, value_name = "SITE", default_value = "upper-trunk", value_parser = word::<BodySite>())]
    site: BodySite,
    /// Spot in mm; of a Gaussian beam the 1/e2 diameter.
    #[arg(
        long,
        value_name = "MM",
        allow_hyphen_values = true,
        required_unless_present = "plan",
        value_parser = form::<SpotDiameter>(),
    )]
    spot_mm: Option<SpotDiameter>,
    /// Fluence in J/cm2, averaged over the spot.
    #[arg(
        long,
        alias = "fluence",
        value_name = "J/CM2",
        allow_hyphen_values = true,
        default_value = "1",
        value_parser = form::<Fluence>(),
    )]
    fluence_j_cm2: Fluence,
    /// Profile of the beam: flat or gaussian.
    #[arg(
        long,
        value_name = "PROFILE",
        default_value = "flat",
        conflicts_with = "plan",
        value_parser = word::<BeamProfile>(),
    )]
    profile: BeamProfile,
    /// Pulse duration with its unit, such as 750ps; for the confinement of heat and stress.
    #[arg(long, value_name = "TIME", allow_hyphen_values = true, value_parser = form::<PulseDuration>())]
    pulse: Option<PulseDuration>,
    /// Compute anew instead of using light that was kept in the cache directory.
    #[arg(long)]
    fresh: bool,
    /// Print JSON; every key names its unit.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Serialize)]
struct ZoneLight {
    zone: String,
    #[serde(flatten)]
    light: SettingLight,
}

/// The question that a zone of a plan puts, with the device's beam and spots where it has the line.
pub(in crate::cli) fn question_of(plan: &Plan, zone: &Zone, device: &DeviceProfile, protocol: &Protocol) -> Question {
    let line = device.line(zone.setting.wavelength);
    let limit = |spot| {
        let setting = Setting { spot, ..zone.setting };
        fluence_limit(&setting, plan.client.skin, device, protocol).ok().map(|l| l.fluence_j_cm2)
    };
    Question {
        wavelength: zone.setting.wavelength,
        skin: plan.client.skin,
        site: zone.site,
        shot: Shot {
            spot: zone.setting.spot,
            profile: line.map_or(BeamProfile::Flat, |l| l.beam_profile),
            fluence: zone.setting.fluence,
        },
        pulse: Some(zone.setting.pulse_duration),
        spots: line.map(|l| l.spots.iter().map(|s| (s.spot, limit(s.spot))).collect()).unwrap_or_default(),
    }
}

pub(super) fn run(args: &DepthArgs) -> Result<ExitCode, CliError> {
    let kept = if args.fresh { Kept::Renewed } else { Kept::Used };
    match &args.plan {
        Some(file) => {
            let plan = load_plan(file)?.value;
            let (device, protocol) = (load_device(&args.setup)?, load_protocol(&args.setup)?);
            let zones = plan.zones.iter().map(|zone| {
                let light = SettingLight::of(&question_of(&plan, zone, &device, &protocol), kept)?;
                Ok(ZoneLight { zone: zone.id.to_string(), light })
            });
            let zones: Vec<ZoneLight> = zones.collect::<Result<_, CliError>>()?;
            answer(&zones, args.json, |zones| {
                let texts = zones.iter().map(|z| format!("zone {}: {}", shown(&z.zone), z.light.text()));
                texts.collect::<Vec<_>>().join("\n") + "\n" + CAUTION
            })?;
        }
        None => {
            let question = asked(args).ok_or_else(|| CliError::Bad("a plan or a setting is wanted".to_owned()))?;
            let light = SettingLight::of(&question, kept)?;
            answer(&light, args.json, |light| format!("{}\n{CAUTION}", light.text()))?;
        }
    }
    Ok(ExitCode::SUCCESS)
}

/// What stands under every dose.
pub(in crate::cli) const CAUTION: &str = "\
A model of skin, not this person's. The device's manual, the clinic's protocol
and what the skin shows come first.
";

/// The flags as a question; none without the three that clap asks for where there is no plan.
fn asked(args: &DepthArgs) -> Option<Question> {
    Some(Question {
        wavelength: args.wavelength_nm?,
        skin: args.skin?,
        site: args.site,
        shot: Shot { spot: args.spot_mm?, profile: args.profile, fluence: args.fluence_j_cm2 },
        pulse: args.pulse,
        spots: Question::usual_spots(),
    })
}
