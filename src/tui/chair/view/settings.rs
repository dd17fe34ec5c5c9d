//! The settings read-back: what is to be set beside what the device shows.

use super::{Chair, Sheet};
use crate::recorder::Store;
use crate::text::shown;
use crate::tui::chair::form::{FIELDS, FormField};
use crate::tui::theme::Role;
use crate::tui::widgets::field::FieldView;
use crate::units::trimmed;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::widgets::Widget;

const WANTED_COLUMNS: u16 = 36;
const HEAD_ROWS: u16 = 4;

impl<S: Store> Chair<S> {
    pub(super) fn draw_settings(&self, area: Rect, buffer: &mut Buffer) {
        let Some((plan, z)) = self.state().zone(self.zone) else { return };
        let mut head = Sheet::new(&self.theme, area.width);
        head.spans(&[
            (Role::Strong, format!("Zone {} of {}: {}", self.zone + 1, self.zone_count(), plan.id)),
            (Role::Quiet, format!("  {}, {}", shown(&plan.place), plan.shape)),
        ]);
        let inks = plan.inks.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
        head.line(Role::Quiet, format!("ink {inks}, {}, {}", plan.density, plan.origin));
        head.blank();
        head.spans(&[
            (Role::Strong, format!("{:<width$}", "to be set", width = usize::from(WANTED_COLUMNS))),
            (Role::Strong, "what the device shows".to_owned()),
        ]);
        head.render(Rect { height: HEAD_ROWS.min(area.height), ..area }, buffer);

        let t = &z.target;
        for (i, which) in FIELDS.iter().enumerate() {
            let (label, value, planned) = match which {
                FormField::Wavelength => ("wavelength", t.wavelength.to_string(), plan.setting.wavelength.to_string()),
                FormField::PulseDuration => {
                    ("pulse duration", t.pulse_duration.to_string(), plan.setting.pulse_duration.to_string())
                }
                FormField::Spot => ("spot", t.spot.to_string(), plan.setting.spot.to_string()),
                FormField::Fluence => ("fluence", t.fluence.to_string(), plan.setting.fluence.to_string()),
                FormField::Energy => (
                    "energy",
                    format!("{} J", trimmed(t.energy_joules(), 3)),
                    format!("{} J", trimmed(plan.setting.energy_joules(), 3)),
                ),
                FormField::Rate => ("rate", t.rate.to_string(), plan.setting.rate.to_string()),
            };
            let row = u16::try_from(i).unwrap_or(0) * FieldView::ROWS;
            let y = area.y + HEAD_ROWS + row;
            if y >= area.bottom() {
                break;
            }
            let mut wanted = Sheet::new(&self.theme, WANTED_COLUMNS);
            let plan_note = if planned == value { String::new() } else { format!("  (plan {planned})") };
            wanted.spans(&[(Role::Ink, format!("{label:<15} ")), (Role::Strong, value), (Role::Lower, plan_note)]);
            wanted.render(Rect { y, height: 1, width: WANTED_COLUMNS.min(area.width), ..area }, buffer);
            if let Some(field) = self.form.fields.get(i) {
                let width = area.width.saturating_sub(WANTED_COLUMNS);
                let at = Rect { x: area.x + WANTED_COLUMNS, y, width, height: FieldView::ROWS };
                FieldView::new(field, &self.theme)
                    .label_columns(16)
                    .focused(self.form.focus == i)
                    .render(at.intersection(area), buffer);
            }
        }
        let rows = u16::try_from(FIELDS.len()).unwrap_or(6) * FieldView::ROWS;
        let y = area.y + HEAD_ROWS + rows;
        let mut foot = Sheet::new(&self.theme, area.width);
        if z.confirmed.is_some() {
            foot.line(Role::Good, " READ BACK: the device agrees with the setting ");
        } else if z.mismatch.is_empty() {
            let here = if self.form.in_field() { "" } else { "  > c: compare and confirm" };
            foot.line(Role::Wait, format!(" NOT READ BACK: pulses wait for it {here}"));
        } else {
            for d in &z.mismatch {
                foot.line(
                    Role::Lower,
                    format!(
                        "!! DIFFERS {}: wanted {}, device shows {}",
                        shown(&d.what),
                        shown(&d.wanted),
                        shown(&d.shown)
                    ),
                );
            }
        }
        foot.line(Role::Quiet, "energy = fluence x pi x spot^2 / 4. The device's manual and the protocol come first.");
        foot.render(Rect { y, height: area.bottom().saturating_sub(y), ..area }, buffer);
    }
}
