//! The settings read-back: what is to be set beside what the device shows.

use super::{Chair, Sheet};
use crate::plan::Setting;
use crate::recorder::Store;
use crate::text::shown;
use crate::tui::chair::form::{FIELDS, FormField};
use crate::tui::keys::{Action, Place};
use crate::tui::theme::Role;
use crate::tui::widgets::field::FieldView;
use crate::units::trimmed;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::widgets::Widget;

const WANTED_COLUMNS: u16 = 40;
const HEAD_ROWS: u16 = 4;

impl<S: Store> Chair<S> {
    pub(super) fn draw_settings(&self, area: Rect, buffer: &mut Buffer) {
        let Some((plan, z)) = self.state().zone(self.zone) else { return };
        let mut head = Sheet::new(&self.theme, area.width);
        head.spans(&[
            (Role::Strong, format!("Zone {} of {}: {}", self.zone + 1, self.zone_count(), plan.id)),
            (Role::Quiet, format!("  {}", shown(&plan.place))),
        ]);
        let inks = plan.inks.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
        head.line(Role::Quiet, format!("{}, ink {inks}, {}, {}", plan.shape, plan.density, plan.origin));
        head.blank();
        head.spans(&[
            (Role::Strong, format!("{:<width$}", "to be set", width = usize::from(WANTED_COLUMNS))),
            (Role::Strong, "what the device shows".to_owned()),
        ]);
        head.render(Rect { height: HEAD_ROWS.min(area.height), ..area }, buffer);

        let mut y = area.y + HEAD_ROWS;
        for (which, field) in FIELDS.iter().zip(&self.form.fields) {
            let rows = if field.error().is_some() { FieldView::ROWS } else { 1 };
            if y.saturating_add(rows) > area.bottom() {
                break;
            }
            let (label, value, planned) = wanted(*which, &z.target, &plan.setting);
            let mut sheet = Sheet::new(&self.theme, WANTED_COLUMNS);
            let plan_note = if planned == value { String::new() } else { format!("  (plan {planned})") };
            sheet.spans(&[(Role::Ink, format!("{label:<15} ")), (Role::Strong, value), (Role::Lower, plan_note)]);
            sheet.render(Rect { y, height: 1, width: WANTED_COLUMNS.min(area.width), ..area }, buffer);
            let width = area.width.saturating_sub(WANTED_COLUMNS);
            let at = Rect { x: area.x + WANTED_COLUMNS, y, width, height: 1 };
            let focused = self.form.focused_label() == Some(field.label());
            FieldView::new(field, &self.theme).label_columns(16).focused(focused).render(at.intersection(area), buffer);
            if let Some(error) = field.error() {
                // Across both columns: what is wrong and what would be right is longer than a field.
                let mut sheet = Sheet::new(&self.theme, area.width);
                sheet.line(Role::Lower, format!("! {}: {error}", field.label()));
                sheet.render(Rect { y: y.saturating_add(1), height: 1, ..area }, buffer);
            }
            y = y.saturating_add(rows);
        }
        let mut foot = Sheet::new(&self.theme, area.width);
        foot.blank();
        if z.confirmed.is_some() {
            foot.line(Role::Good, " READ BACK: the device agrees with the setting ");
        } else if z.mismatch.is_empty() {
            let next = match self.form.in_field() {
                true => "type what the device shows".to_owned(),
                false => format!("{} compares and confirms", self.key_at(Place::Settings, Action::Confirm)),
            };
            foot.line(Role::Wait, format!(" NOT READ BACK: {next} "));
        } else {
            foot.line(Role::Lower, " !! DIFFERS: pulses wait until the device agrees ");
            for d in &z.mismatch {
                foot.wrapped(
                    Role::Strong,
                    format!("{}: wanted {}; device shows {}", shown(&d.what), shown(&d.wanted), shown(&d.shown)),
                );
            }
        }
        foot.blank();
        if let Some(last) = crate::advice::last_time(self.state(), self.zone) {
            foot.wrapped(if last.start.is_some() { Role::Strong } else { Role::Quiet }, last.words());
            foot.blank();
        }
        foot.wrapped(
            Role::Quiet,
            "energy = fluence x pi x spot^2 / 4. The device's manual and the clinic's protocol come first.",
        );
        foot.render(Rect { y, height: area.bottom().saturating_sub(y), ..area }, buffer);
    }
}

/// A field's label, the value to be set now, and the plan's value.
pub(in crate::tui::chair) fn wanted(which: FormField, now: &Setting, plan: &Setting) -> (&'static str, String, String) {
    let both = |label, value: fn(&Setting) -> String| (label, value(now), value(plan));
    match which {
        FormField::Wavelength => both("wavelength", |s| s.wavelength.to_string()),
        FormField::PulseDuration => both("pulse duration", |s| s.pulse_duration.to_string()),
        FormField::Spot => both("spot", |s| s.spot.to_string()),
        FormField::Fluence => both("fluence", |s| s.fluence.to_string()),
        FormField::Energy => both("energy", |s| format!("{} J", trimmed(s.energy_joules(), 3))),
        FormField::Rate => both("rate", |s| s.rate.to_string()),
    }
}
