//! The scenarios that come with the program.

use super::{HiddenCase, check_against, load};
use crate::plan::{self, Plan};
use crate::source::{Loaded, Problems, SourceText};

/// A scenario that is embedded.
#[derive(Debug, Clone, Copy)]
pub struct Shipped {
    /// Its name: the stem of both files.
    pub name: &'static str,
    /// The plan file's text.
    pub plan: &'static str,
    /// The case file's text.
    pub case: &'static str,
}

macro_rules! scenarios {
    ($($name:literal),+ $(,)?) => {
        &[$(Shipped {
            name: $name,
            plan: include_str!(concat!("../../sample-plans/", $name, ".toml")),
            case: include_str!(concat!("../../sample-plans/cases/", $name, ".toml")),
        }),+]
    };
}

/// All of them, from the first day to what experts meet.
pub const SHIPPED: &[Shipped] = scenarios![
    "first-script",
    "refused-gold",
    "red-with-infrared",
    "two-zone-band",
    "ornament",
    "bold-start",
    "withheld",
    "cosmetic-brows",
    "repeat-session",
    "cover-up",
];

/// A shipped scenario by its name.
#[must_use]
pub fn shipped(name: &str) -> Option<&'static Shipped> {
    SHIPPED.iter().find(|s| s.name == name)
}

impl Shipped {
    /// Reads plan and case.
    ///
    /// # Errors
    /// [`Problems`] when one of the embedded files is wrong, which the tests rule out.
    pub fn read(&self) -> Result<(Loaded<Plan>, Loaded<HiddenCase>), Problems> {
        let plan = plan::load(&SourceText::new(format!("embedded plan {}", self.name), self.plan))?;
        let case = load(&SourceText::new(format!("embedded case {}", self.name), self.case))?;
        match Problems::of(check_against(&case, &plan.value)) {
            Some(problems) => Err(problems),
            None => Ok((plan, case)),
        }
    }
}
