//! The read-back form: what the device shows, field by field.

use crate::device::DeviceProfile;
use crate::plan::{DisplayedSetting, Setting};
use crate::tui::widgets::field::TextField;
use crate::units::{
    Fluence, PulseDuration, PulseEnergy, Quantity, QuantityError, RepetitionRate, SpotDiameter, Wavelength,
};

/// Fields in the order in which a display is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum FormField {
    Wavelength,
    PulseDuration,
    Spot,
    Fluence,
    Energy,
    Rate,
}

pub(super) const FIELDS: [FormField; 6] = [
    FormField::Wavelength,
    FormField::PulseDuration,
    FormField::Spot,
    FormField::Fluence,
    FormField::Energy,
    FormField::Rate,
];

/// The form and its cursor; past the last field is the row of keys below.
#[derive(Debug, Clone)]
pub(super) struct ReadBackForm {
    pub(super) fields: Vec<TextField>,
    pub(super) focus: usize,
}

impl ReadBackForm {
    pub(super) fn new() -> Self {
        let field = |f: &FormField| match f {
            FormField::Wavelength => TextField::new("wavelength", "nm", 12),
            FormField::PulseDuration => TextField::new("pulse duration", "ps, ns", 12),
            FormField::Spot => TextField::new("spot", "mm", 12),
            FormField::Fluence => TextField::new("fluence", "J/cm2", 12),
            FormField::Energy => TextField::new("energy", "J", 12),
            FormField::Rate => TextField::new("rate", "Hz", 12),
        };
        Self { fields: FIELDS.iter().map(field).collect(), focus: 0 }
    }

    /// True while a field has the cursor.
    pub(super) fn in_field(&self) -> bool {
        self.focus < self.fields.len()
    }

    pub(super) fn focused_label(&self) -> Option<&str> {
        self.fields.get(self.focus).map(TextField::label)
    }

    pub(super) fn focused(&mut self) -> Option<&mut TextField> {
        self.fields.get_mut(self.focus)
    }

    /// Judges the field that is left, so that a slip shows at once.
    pub(super) fn judge(&mut self, index: usize) {
        let Some(which) = FIELDS.get(index) else { return };
        let Some(field) = self.fields.get_mut(index) else { return };
        if field.text().trim().is_empty() {
            return;
        }
        let problem = match which {
            FormField::Wavelength => Wavelength::from_form(field.text()).err(),
            FormField::PulseDuration => with_unit(field.text()).err(),
            FormField::Spot => SpotDiameter::from_form(field.text()).err(),
            FormField::Fluence => Fluence::from_form(field.text()).err(),
            FormField::Energy => PulseEnergy::from_form(field.text()).err(),
            FormField::Rate => RepetitionRate::from_form(field.text()).err(),
        };
        if let Some(e) = problem {
            field.set_error(e.to_string());
        }
    }

    /// What was typed, or the index of the first field that is wrong, with its error shown.
    pub(super) fn read(&mut self, device: &DeviceProfile) -> Result<DisplayedSetting, usize> {
        for i in 0..self.fields.len() {
            self.judge(i);
        }
        let text = |f: FormField| {
            let index = FIELDS.iter().position(|x| *x == f).unwrap_or(0);
            (index, self.fields.get(index).map(|t| t.text().trim().to_owned()).unwrap_or_default())
        };
        fn take<Q: Quantity>((index, text): (usize, String)) -> Result<Q, usize> {
            Q::from_form(&text).map_err(|_| index)
        }
        let read = || {
            let pulse = text(FormField::PulseDuration);
            let setting = Setting {
                wavelength: take::<Wavelength>(text(FormField::Wavelength))?,
                pulse_duration: with_unit(&pulse.1).map_err(|_| pulse.0)?,
                spot: take::<SpotDiameter>(text(FormField::Spot))?,
                fluence: take::<Fluence>(text(FormField::Fluence))?,
                rate: take::<RepetitionRate>(text(FormField::Rate))?,
            };
            let energy = text(FormField::Energy);
            let energy_j = if energy.1.is_empty() && !device.shows_energy {
                None
            } else {
                Some(take::<PulseEnergy>(energy)?.joules())
            };
            Ok(DisplayedSetting { setting, energy_j })
        };
        let result: Result<DisplayedSetting, usize> = read();
        if let Err(index) = result
            && let Some(field) = self.fields.get_mut(index)
            && field.error().is_none()
        {
            field.set_error("type what the device shows");
        }
        result
    }
}

/// A pulse duration without a unit would be ps or ns by guess: it needs one.
fn with_unit(text: &str) -> Result<PulseDuration, QuantityError> {
    text.replace(',', ".").parse()
}
