//! `fadewright plan`: checks, shows and starts plan files.

use crate::plan::{self, Plan, PlanView};
use crate::source::{self, Problems};
use std::path::Path;

/// The text that `plan new` writes: commented, with every blank marked.
#[must_use]
pub const fn plan_template() -> &'static str {
    plan::TEMPLATE
}

/// Writes the template to a new file.
///
/// # Errors
/// A plain message when the file exists, which is then left as it is, or cannot be written.
pub fn new_plan(path: &Path) -> Result<(), Problems> {
    source::create_new(path, plan_template())
}

/// Reads a plan from a file.
///
/// # Errors
/// Every mistake of the file, or why it cannot be read.
pub fn open_plan(path: &Path) -> Result<source::Loaded<Plan>, Problems> {
    plan::load(&source::read_file(path)?)
}

/// What `plan show` prints.
#[must_use]
pub fn render_plan(plan: &Plan) -> String {
    plan.lines()
}

/// What `plan show --json` prints.
#[must_use]
pub fn json_plan(plan: &Plan) -> PlanView<'_> {
    plan.view()
}
