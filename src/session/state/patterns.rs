//! Even passes over a zone, laid when first asked for.

use crate::coverage::{Pattern, Shape};
use crate::units::{Overlap, SpotDiameter};
use std::sync::{Arc, Mutex, PoisonError};

/// The even pass for each spot that was asked for. Laying one takes milliseconds, and a session asks at every key. It
/// follows from the plan alone, so two states never differ by it.
#[derive(Debug, Default)]
pub struct Patterns(Mutex<Vec<(SpotDiameter, Arc<Pattern>)>>);

impl Patterns {
    /// The pass with a spot. Shape and overlap are the zone's and never change within a session.
    pub fn of(&self, shape: &Shape, spot: SpotDiameter, overlap: Overlap) -> Arc<Pattern> {
        let mut known = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, pattern)) = known.iter().find(|(s, _)| *s == spot) {
            return Arc::clone(pattern);
        }
        let pattern = Arc::new(Pattern::of(shape.outline(), spot, overlap));
        known.push((spot, Arc::clone(&pattern)));
        pattern
    }
}

impl Clone for Patterns {
    fn clone(&self) -> Self {
        Self(Mutex::new(self.0.lock().unwrap_or_else(PoisonError::into_inner).clone()))
    }
}

impl PartialEq for Patterns {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}
