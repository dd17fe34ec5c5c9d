//! What last time suggests for a zone: what was set, what the skin said, and where to start.

use crate::device::DeviceProfile;
use crate::limits::{Lowering, setting_problems};
use crate::plan::{FitzpatrickType, Plan, Setting, Zone, ZoneId};
use crate::protocol::Protocol;
use crate::session::{Earlier, State};
use crate::words::Word;
use chrono::NaiveDate;
use serde::Serialize;

/// A zone's last session, and the start that it suggests.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LastTime {
    /// The zone.
    pub zone: ZoneId,
    /// When.
    pub date: NaiveDate,
    /// What it ended with.
    pub setting: Setting,
    /// Pulses.
    pub pulses: u64,
    /// What was seen.
    pub responses: Vec<String>,
    /// The suggested start: below what was too much, else no more than was borne; never above the plan or a limit. None
    /// where the plan's own setting cannot be compared with it, or nothing lower exists.
    pub start: Option<Setting>,
    /// Why.
    pub why: String,
}

impl LastTime {
    /// In one line.
    #[must_use]
    pub fn words(&self) -> String {
        let seen = if self.responses.is_empty() { "nothing noted".to_owned() } else { self.responses.join(", ") };
        let start = self.start.map(|s| format!("Start with {}: ", s.dose())).unwrap_or_default();
        format!(
            "last time, {}: {}, {} pulses; {seen}. {start}{}",
            self.date,
            self.setting.dose(),
            self.pulses,
            self.why
        )
    }
}

/// What the last session of this client tells about a zone of a session.
#[must_use]
pub fn last_time(state: &State, zone: usize) -> Option<LastTime> {
    let (plan, o) = (state.zone(zone)?.0, &state.opened);
    of_zone(plan, o.plan.client.skin, &o.device, &o.protocol, state.happenings.earlier.as_ref()?)
}

/// The same for every zone of a plan that the last session knew.
#[must_use]
pub fn last_times(plan: &Plan, device: &DeviceProfile, protocol: &Protocol, earlier: &Earlier) -> Vec<LastTime> {
    plan.zones.iter().filter_map(|z| of_zone(z, plan.client.skin, device, protocol, earlier)).collect()
}

fn of_zone(
    plan: &Zone,
    skin: FitzpatrickType,
    device: &DeviceProfile,
    protocol: &Protocol,
    earlier: &Earlier,
) -> Option<LastTime> {
    let last = earlier.zones.iter().find(|z| z.zone == plan.id)?;
    let planned = plan.setting;
    let comparable = planned.wavelength == last.setting.wavelength
        && planned.spot == last.setting.spot
        && planned.pulse_duration == last.setting.pulse_duration;
    let allowed = |s: &Setting| setting_problems(s, skin, device, protocol).is_empty();
    let harm = last.too_much();
    let (start, why) = match (comparable, harm) {
        (false, _) => (None, "the plan has another spot, wavelength or pulse duration: not comparable".to_owned()),
        (true, Some(harm)) => {
            let lowering = Lowering { now: last.setting, site: plan.site, skin, device, protocol, light: None };
            let lower = lowering.lowered(protocol.thresholds.lower_step_percent.value).setting();
            (lower.map(|s| no_more_than(s, planned)), format!("{} was too much", harm.spoken()))
        }
        (true, None) => (Some(no_more_than(last.setting, planned)), "it was borne".to_owned()),
    };
    let responses = last.responses.iter().map(|r| r.spoken()).collect();
    Some(LastTime {
        zone: plan.id.clone(),
        date: earlier.date,
        setting: last.setting,
        pulses: last.pulses,
        responses,
        start: start.filter(allowed),
        why,
    })
}

/// A setting with the fluence of another where that is lower.
fn no_more_than(setting: Setting, other: Setting) -> Setting {
    if other.fluence < setting.fluence { Setting { fluence: other.fluence, ..setting } } else { setting }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::session::{EarlierZone, Response};
    use crate::source::SourceText;
    use crate::units::{Fluence, SpotDiameter};

    fn plan() -> Plan {
        let text = include_str!("../../sample-plans/two-zone-band.toml");
        crate::plan::load(&SourceText::new("sample", text)).unwrap().value
    }

    fn after(change: impl Fn(&mut Setting), responses: &[Response]) -> LastTime {
        let plan = plan();
        let mut setting = plan.zones[0].setting;
        change(&mut setting);
        let zone = EarlierZone { zone: plan.zones[0].id.clone(), setting, pulses: 90, responses: responses.to_vec() };
        let earlier = Earlier {
            sessions: 2,
            session: "20260901-100000-AAAAAA".to_owned(),
            date: "2026-09-01".parse().unwrap(),
            outcome: None,
            zones: vec![zone],
        };
        let (device, protocol) = (DeviceProfile::embedded().unwrap(), Protocol::embedded().unwrap());
        let mut all = last_times(&plan, &device, &protocol, &earlier);
        assert_eq!(all.len(), 1, "the other zone is new");
        all.remove(0)
    }

    fn start(last: &LastTime) -> Option<f64> {
        last.start.map(|s| s.fluence.j_cm2())
    }

    #[test]
    fn what_was_too_much_starts_lower_and_what_was_borne_no_higher() {
        // The sample plans 3 J/cm2; the device's steps there are 0.1, the protocol's step 10 %.
        let last = after(|_| (), &[Response::Whitening, Response::Blister]);
        assert_eq!(start(&last), Some(2.7));
        assert!(last.words().contains("blister was too much"), "{}", last.words());
        assert_eq!(start(&after(|_| (), &[Response::Whitening])), Some(3.0));
        assert_eq!(start(&after(|s| s.fluence = Fluence::new(2.5).unwrap(), &[Response::Whitening])), Some(2.5));
        assert_eq!(start(&after(|s| s.fluence = Fluence::new(4.0).unwrap(), &[Response::Blister])), Some(3.0));
    }

    #[test]
    fn another_spot_is_not_compared() {
        let last = after(|s| s.spot = SpotDiameter::new(3.0).unwrap(), &[Response::Blister]);
        assert_eq!(last.start, None);
        assert!(last.words().contains("not comparable"));
    }
}
