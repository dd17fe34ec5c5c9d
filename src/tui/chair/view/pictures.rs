//! Pictures over the body of the screen. The count and the advice on top stay in a line above them.

use super::super::pictures::Light;
use super::{Chair, Sheet, level_look};
use crate::recorder::Store;
use crate::text::shown;
use crate::tui::keys::Action;
use crate::tui::pictures::confinement::ConfinementPicture;
use crate::tui::pictures::session::SessionPicture;
use crate::tui::pictures::{Picture, PictureName, render};
use crate::tui::theme::Role;
use crate::words::Word;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// Rows at most for the picture's name, the count and the advice on top.
const HEAD_ROWS: u16 = 4;

impl<S: Store> Chair<S> {
    pub(super) fn draw_pictures(&self, area: Rect, buffer: &mut Buffer) {
        let shown = self.pictures.shown;
        let at = PictureName::ALL.iter().position(|p| *p == shown).unwrap_or(0) + 1;
        let mut head = Sheet::new(&self.theme, area.width);
        // The count and the advice may not be hidden while one looks at pictures.
        let setting = self.state().zone(self.zone).map(|(plan, z)| match self.state().active {
            Some(_) => z.target.dose(),
            None => format!("{}, {}", plan.id, z.target.dose()),
        });
        head.spans(&[
            (Role::Strong, format!("{at}/{} {shown}  {}", PictureName::ALL.len(), self.count_words())),
            (Role::Quiet, format!("  {}", setting.unwrap_or_default())),
        ]);
        if let Some((role, advice)) = self.advice_clause() {
            head.wrapped(role, advice);
        }
        let rows = u16::try_from(head.lines.len()).unwrap_or(HEAD_ROWS).min(HEAD_ROWS);
        head.render(Rect { height: rows.min(area.height), ..area }, buffer);
        let y = area.y + rows;
        let body = Rect { y, height: area.bottom().saturating_sub(y), ..area };
        let draw = |picture: &dyn Picture, buffer: &mut Buffer| {
            render(picture, body, buffer, &self.theme, self.glyphs);
        };
        match shown {
            PictureName::Depth => match self.depth_picture() {
                Light::Known(picture) => draw(&picture, buffer),
                Light::Following => self.no_light(
                    "following light through the skin... The picture comes by itself; nothing waits for it.",
                    body,
                    buffer,
                ),
                Light::Unknown => self.no_light(
                    "no light is known for this setting: it was followed for the plan's wavelengths and the device's \
                     spots, and tables of skin end at 400 and 1100 nm.",
                    body,
                    buffer,
                ),
            },
            PictureName::Confinement => {
                if let Some((_, z)) = self.state().zone(self.zone) {
                    draw(&ConfinementPicture { pulse: z.target.pulse_duration }, buffer);
                }
            }
            PictureName::Session => {
                let until = self.state().session_ms(self.recorder.now());
                // After the closing nothing more happens.
                let until = if self.state().closed.is_some() { self.state().last_ms() } else { until };
                draw(&SessionPicture::new(self.state(), until), buffer);
            }
            PictureName::Zone => self.draw_map(body, buffer),
        }
    }

    /// The picture at hand in words, for lines.
    pub(in crate::tui::chair) fn picture_words(&self) -> Vec<String> {
        let words = match self.pictures.shown {
            PictureName::Depth => match self.depth_picture() {
                Light::Known(picture) => picture.words(),
                Light::Following => "light is still being followed through the skin".to_owned(),
                Light::Unknown => "no light is known for this setting".to_owned(),
            },
            PictureName::Confinement => match self.state().zone(self.zone) {
                Some((_, z)) => ConfinementPicture { pulse: z.target.pulse_duration }.words(),
                None => String::new(),
            },
            PictureName::Session => {
                SessionPicture::new(self.state(), self.state().session_ms(self.recorder.now())).words()
            }
            PictureName::Zone => {
                "The map of the zone is for the eye; status tells the count and the overlap".to_owned()
            }
        };
        vec![format!("{}: {words}", self.pictures.shown), "Type pictures for the next, back to leave.".to_owned()]
    }

    /// The first clause of what the advice on top asks for.
    fn advice_clause(&self) -> Option<(Role, String)> {
        let open = self.state().open_advice();
        let top = open.first()?;
        let (role, sign) = level_look(top.level);
        let action = shown(&top.advice.action);
        let clause = action.split_once(": ").map_or(&*action, |(first, _)| first);
        let clause = clause.split_once(". ").map_or(clause, |(first, _)| first);
        Some((role, format!("{sign} {}: {clause}", top.level)))
    }

    fn no_light(&self, text: &str, area: Rect, buffer: &mut Buffer) {
        let mut sheet = Sheet::new(&self.theme, area.width);
        sheet.blank();
        sheet.wrapped(Role::Wait, text);
        sheet.blank();
        sheet.wrapped(Role::Quiet, format!("{} next picture   esc back", self.key_of(Action::Pictures)));
        sheet.render(area, buffer);
    }
}
