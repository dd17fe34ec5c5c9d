//! A plan from its file.

use super::model::{Client, History, PassSpacing, Plan, Setting, TestSpot, Zone, ZoneId};
use super::shape::shape;
use crate::source::{self, FileKind, Loaded, Problems, Seen, SourceText, Table, Value};
use crate::units::{Overlap, WaitingTime};
use std::str::FromStr;

/// What a plan file says it is.
pub const KIND: FileKind = FileKind { kind: "fadewright plan", schema: 1 };

/// A commented plan whose blanks are marked `"?"`: filled in, it passes; until then each blank is named.
pub const TEMPLATE: &str = include_str!("template.toml");

/// The path of a field of a zone, as problems name it: `zone_field(0, "setting.fluence")` is
/// `zone[1].setting.fluence`. Overlap, passes and their spacing stand under `setting` too.
#[must_use]
pub fn zone_field(index: usize, field: &str) -> String {
    format!("zone[{}].{field}", index + 1)
}

/// Reads a plan.
///
/// # Errors
/// Every mistake of the file.
pub fn load(source: &SourceText) -> Result<Loaded<Plan>, Problems> {
    source::read(source, KIND, |file| {
        let title = file.text("title", 120);
        let client = file.table("client", client);
        let history = file.table("history", history);
        let mut ids = Seen::default();
        let zones = file.tables("zone", 1..=24, |t| zone(t, &mut ids));
        Some(Plan { title: title?, client: client?, history: history?, zones: zones? })
    })
}

fn client(t: &mut Table<'_>) -> Option<Client> {
    let code = t.name("code");
    let age_years = t.integer("age", 0..=120);
    let weight = t.required("weight");
    let skin = t.word("skin");
    Some(Client { code: code?, age_years: age_years?, weight: weight?, skin: skin? })
}

fn history(t: &mut Table<'_>) -> Option<History> {
    let earlier_sessions: Option<u16> = t.integer("earlier_sessions", 0..=200);
    let last_session = t.optional_date("last_session");
    // What an empty list says about safety must have been written by somebody, so the lists that checks rely on are
    // not optional.
    let medicines = t.words("medicines", 0..=16);
    let other_medicines = t.optional_texts("other_medicines", 0..=24, 80);
    let conditions = t.words("conditions", 0..=16);
    let allergies = t.texts("allergies", 0..=24, 80);
    let tan = t.word("tan");
    match (earlier_sessions, t.has("last_session")) {
        (Some(0), true) => {
            t.problem("last_session", "a date stands here, but earlier_sessions is 0; correct one of the two");
        }
        (Some(n), false) if n > 0 => {
            let message =
                format!("missing; earlier_sessions is {n}, so write the date of the last: last_session = 2026-09-14");
            t.problem("last_session", &message);
        }
        _ => {}
    }
    Some(History {
        earlier_sessions: earlier_sessions?,
        last_session,
        medicines: medicines?,
        other_medicines,
        conditions: conditions?,
        allergies: allergies?,
        tan: tan?,
    })
}

fn zone(t: &mut Table<'_>, ids: &mut Seen<ZoneId>) -> Option<Zone> {
    let id: Option<ZoneId> = t.name("id");
    if let Some(id) = &id {
        ids.check(t, "id", id.clone(), format!("the zone id '{id}'"));
    }
    let place = t.text("place", 80);
    let site = t.word("site");
    let shape = t.table("shape", shape);
    let inks = t.words("inks", 1..=13);
    let density = t.word("density");
    let layered = t.boolean("layered");
    let scarring = t.word("scarring");
    let origin = t.word("origin");
    let test_spot = t.optional_table("test_spot", test_spot);
    let planned = t.table("setting", planned);
    let (setting, overlap, passes, pass_spacing) = planned?;
    Some(Zone {
        id: id?,
        place: place?,
        site: site?,
        shape: shape?,
        inks: inks?,
        density: density?,
        layered: layered?,
        scarring: scarring?,
        origin: origin?,
        test_spot,
        setting,
        overlap,
        passes,
        pass_spacing,
    })
}

fn test_spot(t: &mut Table<'_>) -> Option<TestSpot> {
    let date = t.date("date");
    let result = t.word("result");
    Some(TestSpot { date: date?, result: result? })
}

type Planned = (Setting, Overlap, u8, PassSpacing);

fn planned(t: &mut Table<'_>) -> Option<Planned> {
    let wavelength = t.required("wavelength");
    let pulse_duration = t.required("pulse_duration");
    let spot = t.required("spot");
    let fluence = t.required("fluence");
    let rate = t.required("rate");
    let overlap = t.required("overlap");
    let passes = t.integer("passes", 1..=6);
    let pass_spacing = t.value("pass_spacing", SPACING_EXAMPLE).and_then(|v| spacing(&v));
    let setting = Setting {
        wavelength: wavelength?,
        pulse_duration: pulse_duration?,
        spot: spot?,
        fluence: fluence?,
        rate: rate?,
    };
    Some((setting, overlap?, passes?, pass_spacing?))
}

const SPACING_EXAMPLE: &str = "\"20 min\" or \"until faded\"";

/// Shortest and longest wait between two passes of one session, in seconds. Published waits run from the seconds that
/// perfluorodecalin takes (Reddy 2013) to 20 minutes (Kossida 2012); beyond, a unit was mistaken.
const SPACING_S: std::ops::RangeInclusive<f64> = 5.0..=7200.0;

/// `until faded`, or a wait.
struct Spacing(PassSpacing);

impl FromStr for Spacing {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        if text == "until faded" {
            return Ok(Self(PassSpacing::UntilFaded));
        }
        match text.parse::<WaitingTime>() {
            Ok(wait) if SPACING_S.contains(&wait.seconds()) => Ok(Self(PassSpacing::Wait { wait })),
            Ok(wait) => Err(format!("a wait of {} between passes is outside 5 s to 2 h", wait.words())),
            Err(e) => Err(format!("{e}; or write \"until faded\"")),
        }
    }
}

fn spacing(value: &Value<'_>) -> Option<PassSpacing> {
    value.name::<Spacing>(SPACING_EXAMPLE).map(|s| s.0)
}
