//! What the device shows against what is wanted, and the shown figures against each other.

use super::event::Difference;
use crate::device::DeviceProfile;
use crate::plan::{DisplayedSetting, Setting};
use crate::protocol::Protocol;
use crate::units::trimmed;

/// Every difference; empty when the device agrees.
///
/// Energy and fluence are compared through `E = F pi d^2 / 4`, within the protocol's tolerance, because displays round.
#[must_use]
pub fn differences(
    target: &Setting,
    displayed: &DisplayedSetting,
    device: &DeviceProfile,
    protocol: &Protocol,
) -> Vec<Difference> {
    let shown = &displayed.setting;
    let mut out = Vec::new();
    let mut compare = |what: &str, same: bool, wanted: String, shown: String| {
        if !same {
            out.push(Difference { what: what.to_owned(), wanted, shown });
        }
    };
    let within = |a: f64, b: f64, part: f64| (a - b).abs() <= part * b.abs();
    compare(
        "wavelength",
        (shown.wavelength.nm() - target.wavelength.nm()).abs() <= 0.5,
        target.wavelength.to_string(),
        shown.wavelength.to_string(),
    );
    compare(
        "pulse duration",
        within(shown.pulse_duration.seconds(), target.pulse_duration.seconds(), 0.01),
        target.pulse_duration.to_string(),
        shown.pulse_duration.to_string(),
    );
    compare("spot", within(shown.spot.mm(), target.spot.mm(), 1e-3), target.spot.to_string(), shown.spot.to_string());
    // Half a step: the nearest figure that the device could have shown for another fluence is a whole step away.
    let slack = device.ladder(target).map_or(0.0, |l| l.step.j_cm2() / 2.0).min(target.fluence.j_cm2() * 0.02);
    compare(
        "fluence",
        (shown.fluence.j_cm2() - target.fluence.j_cm2()).abs() <= slack + 1e-9,
        target.fluence.to_string(),
        shown.fluence.to_string(),
    );
    compare("rate", within(shown.rate.hz(), target.rate.hz(), 1e-3), target.rate.to_string(), shown.rate.to_string());
    let tolerance = protocol.thresholds.energy_tolerance_percent.value.value() / 100.0;
    match displayed.energy_j {
        Some(energy) => {
            let computed = shown.energy_joules();
            compare(
                "energy against fluence x spot area",
                within(energy, computed, tolerance),
                format!("{} J ({} over {})", trimmed(computed, 3), shown.fluence, shown.spot),
                format!("{} J", trimmed(energy, 4)),
            );
        }
        None if device.shows_energy => {
            compare("energy", false, "the figure on the display".to_owned(), "nothing typed".to_owned());
        }
        None => {}
    }
    out
}
