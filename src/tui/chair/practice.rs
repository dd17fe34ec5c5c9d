//! What practice adds to the chair: letting time pass, and a model operator at the keys.

use super::{Chair, Effect};
use crate::recorder::Store;
use crate::session::Command;
use crate::tui::keys::Action;

/// What one key lets pass, ms.
const MINUTE_MS: u64 = 60_000;

impl<S: Store> Chair<S> {
    /// True while nobody is treated: simulated skin answers.
    #[must_use]
    pub fn is_practice(&self) -> bool {
        self.state().opened.practice.is_some()
    }

    /// Lets the model operator act from now on; keys that change the session do nothing.
    #[must_use]
    pub const fn demonstrating(mut self) -> Self {
        self.demonstrating = true;
        self
    }

    /// Sends what the model operator does, and shows the screen where it does it. True when it was taken.
    pub fn demonstrate(&mut self, command: Command) -> bool {
        let taken = match self.try_send(command) {
            Ok(()) => true,
            Err(Some(refusal)) => {
                self.toast(refusal.to_string(), true);
                false
            }
            Err(None) => false,
        };
        if let Some(active) = self.state().active {
            self.zone = active;
        } else if let Some(next) = self.state().zones.iter().position(|z| z.outcome.is_none()) {
            self.zone = next;
        }
        self.screen = self.where_to_go_on();
        self.phase = self.first_phase();
        self.choose_open_item();
        if self.state().closed.is_some() {
            self.finished = true;
        }
        taken
    }

    /// Keys that change a session which somebody else conducts.
    pub(super) const fn is_out_of_turn(&self, action: Action) -> bool {
        let looks = matches!(
            action,
            Action::Help
                | Action::GoChecks
                | Action::GoSettings
                | Action::GoTreat
                | Action::GoClose
                | Action::Leave
                | Action::NextTheme
                | Action::Repaint
                | Action::Suspend
                | Action::Up
                | Action::Down
                | Action::NextPhase
                | Action::PreviousPhase
                | Action::NextZone
                | Action::PreviousZone
                | Action::LeaveForm
                | Action::EditForm
                | Action::Far
                | Action::Bell
                | Action::Pictures
                | Action::PictureBefore
                | Action::Back
                | Action::LetTimePass
        );
        self.demonstrating && !looks
    }

    pub(super) fn let_time_pass(&mut self) -> Vec<Effect> {
        if !self.is_practice() {
            self.toast("this is a treatment: time passes by itself", true);
            return Vec::new();
        }
        if self.state().train.is_some() {
            self.toast("a train is running: stop it before letting time pass", true);
            return Vec::new();
        }
        self.toast("a minute passed", false);
        vec![Effect::LetPass(MINUTE_MS)]
    }
}
