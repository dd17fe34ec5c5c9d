//! What practice shows besides: that it is practice, what the skin looks like, what the device and the client say.

use super::{Chair, Sheet};
use crate::protocol::{CheckItem, CheckKind, CheckPhase};
use crate::recorder::Store;
use crate::session::{Response, Shown};
use crate::text::shown;
use crate::tui::chair::ScreenName;
use crate::tui::theme::Role;
use crate::units::trimmed;
use crate::words::Word;

impl<S: Store> Chair<S> {
    /// One line that stands on every screen of practice.
    pub(super) fn practice_line(&self) -> String {
        let what = match self.screen {
            ScreenName::Settings => self.device_words(),
            ScreenName::Treat | ScreenName::Pictures => self.skin_words(),
            ScreenName::Checks => format!("{}a teaching model: simulated client and skin", self.course_words()),
            ScreenName::Close => "nobody was treated; a debrief follows the close".to_owned(),
        };
        format!(" PRACTICE  {what}")
    }

    /// Which session of a course it is.
    fn course_words(&self) -> String {
        match self.state().opened.practice.as_deref() {
            Some(run) if run.course.is_some() => format!("session {} of {}, ", run.session, run.case.sessions),
            _ => String::new(),
        }
    }

    /// The same in lines, without the counter that runs with each pulse; none outside practice.
    pub(in crate::tui::chair) fn practice_words(&self) -> Option<String> {
        if !self.is_practice() {
            return None;
        }
        match self.screen {
            ScreenName::Treat | ScreenName::Pictures => {
                let words = self.skin_words();
                let skin = words.split(" | ").nth(1).unwrap_or_default();
                Some(format!("PRACTICE, {skin}"))
            }
            ScreenName::Settings => Some(format!("PRACTICE, {}", self.device_words())),
            ScreenName::Checks => {
                let items = self.phase_items();
                let run = self.state().opened.practice.as_ref()?;
                let (item, _) = items.get(self.chosen_item)?;
                let says = run.case.answer(&item.id)?;
                Some(format!("PRACTICE, the client says: {}", shown(&says.says)))
            }
            ScreenName::Close => None,
        }
    }

    fn device_words(&self) -> String {
        let Some(shown) = self.state().practice_display(self.zone) else { return String::new() };
        let energy = shown.energy_j.map(|e| format!(", {} J", trimmed(e, 3))).unwrap_or_default();
        format!("device shows {}{energy}", shown.setting.line())
    }

    fn skin_words(&self) -> String {
        let practice = &self.state().practice;
        let zone = self.zone_id();
        let mut seen: Vec<&Shown> = practice.visible();
        seen.retain(|s| Some(&s.sign.zone) == zone.as_ref());
        // What stops or lowers comes first: a narrow window cuts off the end.
        seen.sort_by_key(|s| match s.sign.kind {
            Response::Pain => 3,
            Response::Whitening | Response::NoResponse => 2,
            Response::PinpointBleeding | Response::Purpura | Response::Splatter => 1,
            _ => 0,
        });
        let each: Vec<String> = seen
            .iter()
            .map(|s| match s.sign.kind {
                Response::NoResponse => "nothing to be seen".to_owned(),
                Response::OffSpacer => "HANDPIECE OFF ITS SPACER".to_owned(),
                kind => format!("{} {}", kind.spoken(), s.sign.grade),
            })
            .collect();
        let skin = if each.is_empty() { "nothing yet".to_owned() } else { each.join(", ") };
        format!("device counter {} | skin: {skin}", practice.counter())
    }

    /// What the client says to an item of the checklist.
    pub(super) fn client_says(&self, item: &CheckItem, sheet: &mut Sheet<'_>) {
        let Some(run) = &self.state().opened.practice else { return };
        // What the room and the hand answer, nobody says.
        if item.kind != CheckKind::YesNo || item.phase == CheckPhase::SignOut {
            return;
        }
        let says = run.case.answer(&item.id).map_or("nothing to add", |a| a.says.as_str());
        sheet.wrapped(Role::Check, format!("PRACTICE, the client says: \"{}\"", shown(says)));
    }
}
