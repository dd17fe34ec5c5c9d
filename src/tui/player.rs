//! The model operator at the keys of a chair.

use super::chair::Chair;
use crate::clock::Clock;
use crate::practice::{Operator, Step};
use crate::recorder::Store;
use crate::session::Command;
use std::sync::Arc;
use std::time::Duration;

/// Steps of the model operator between two frames: where time runs fast, keys still come first.
const STEPS_A_FRAME: u32 = 200;

/// The model operator at the keys.
pub(super) struct Player {
    operator: Operator,
    /// What it does next, at `due_ms`.
    next: Option<Command>,
    due_ms: u64,
}

impl Player {
    pub const fn new(operator: Operator) -> Self {
        Self { operator, next: None, due_ms: 0 }
    }

    /// How long, on the machine, until it acts again.
    pub fn waits(&self, clock: &Arc<dyn Clock>) -> Duration {
        clock.machine_time(self.due_ms.saturating_sub(clock.now().mono_ms))
    }

    /// Lets it act as far as its time has come; true when it did something.
    pub fn play<S: Store>(&mut self, chair: &mut Chair<S>, clock: &Arc<dyn Clock>) -> bool {
        let mut acted = false;
        for _ in 0..STEPS_A_FRAME {
            let now = clock.now();
            if now.mono_ms < self.due_ms || chair.is_finished() {
                break;
            }
            if let Some(command) = self.next.take() {
                acted = true;
                if chair.demonstrate(command) {
                    self.operator.taken();
                } else {
                    self.operator.refused();
                    if self.operator.is_lost() {
                        chair.warn("the model operator does not know how to go on");
                        self.due_ms = u64::MAX;
                        break;
                    }
                }
            }
            let (step, takes) = self.operator.step(chair.state(), chair.state().session_ms(now));
            self.due_ms = now.mono_ms.saturating_add(takes);
            match step {
                Step::Do(command) => self.next = Some(command),
                Step::Wait(_) => {}
                Step::Done => self.due_ms = u64::MAX,
            }
        }
        acted
    }
}
