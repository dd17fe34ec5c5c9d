//! What the zones, the device and the room say.

use super::Computed;
use crate::limits::{InkMatch, Severity, best_wavelength, ink_match as match_of, plan_problems};
use crate::plan::{InkColour, InkOrigin, TestSpotResult, Zone};
use crate::session::event::{Opened, Verdict};

/// A test spot is owed where the ink may darken and for permanent make-up
/// (Chang LY et al., Dermatol Sinica 2001;19:324-330; Leu FJ et al., Lasers Med Sci 2014).
fn owes_test_spot(zone: &Zone) -> bool {
    zone.origin == InkOrigin::Cosmetic || zone.inks.iter().any(|i| i.may_darken())
}

pub(super) fn test_spot(o: &Opened) -> Computed {
    let wait = o.protocol.thresholds.test_spot_wait_s.value;
    let mut findings = Vec::new();
    let mut read = 0;
    for zone in &o.plan.zones {
        match zone.test_spot {
            Some(t) if t.result == TestSpotResult::Darkened => {
                findings.push((Verdict::HardStop, format!("{}: the test spot darkened; do not treat, refer", zone.id)));
            }
            Some(t) if t.result == TestSpotResult::Reaction => {
                findings.push((
                    Verdict::HardStop,
                    format!("{}: the test spot reacted badly; do not treat, refer", zone.id),
                ));
            }
            Some(t) if owes_test_spot(zone) => {
                let days = (o.date - t.date).num_days() as f64;
                if t.result == TestSpotResult::Pending {
                    findings.push((Verdict::Block, format!("{}: the test spot has not been read", zone.id)));
                } else if days < 0.0 {
                    findings
                        .push((Verdict::Block, format!("{}: the test spot, {}, lies after today", zone.id, t.date)));
                } else if days * 86_400.0 < wait.seconds() {
                    findings.push((
                        Verdict::Block,
                        format!("{}: test spot {days} days ago; the protocol waits {}", zone.id, wait.words()),
                    ));
                } else {
                    read += 1;
                }
            }
            None if owes_test_spot(zone) => findings.push((
                Verdict::Block,
                format!("{}: this ink may turn dark at the first pulse; a test spot comes first", zone.id),
            )),
            _ => {}
        }
    }
    Computed::worst(
        findings,
        if read > 0 { "test spot clear and old enough" } else { "no ink that calls for a test spot" },
    )
}

pub(super) fn settings(o: &Opened) -> Computed {
    let findings = plan_problems(&o.plan, &o.device, &o.protocol)
        .into_iter()
        .map(|p| {
            let verdict = match p.severity {
                // A setting above a limit cannot be overridden, only planned anew.
                Severity::Error => Verdict::HardStop,
                Severity::Warning => Verdict::Warn,
            };
            (verdict, format!("{}: {}", p.field, p.message))
        })
        .collect();
    Computed::worst(findings, "every planned setting is on the device and within the protocol's ceilings")
}

pub(super) fn ink_match(o: &Opened) -> Computed {
    let mut findings = Vec::new();
    for zone in &o.plan.zones {
        let at = zone.setting.wavelength;
        let poor: Vec<InkColour> =
            zone.inks.iter().copied().filter(|i| match_of(at, *i).is_some_and(|m| m <= InkMatch::Weak)).collect();
        if poor.is_empty() {
            continue;
        }
        let names = poor.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
        let better = poor
            .first()
            .and_then(|i| best_wavelength(&o.device, *i))
            .filter(|(w, m)| *m > InkMatch::Weak && (w.nm() - at.nm()).abs() > 0.5)
            .map_or_else(|| "this device has no better line".to_owned(), |(w, _)| format!("{w} suits it better"));
        findings.push((Verdict::Warn, format!("{}: {at} does little to {names} ink; {better}", zone.id)));
    }
    Computed::worst(findings, "each wavelength suits its ink")
}
