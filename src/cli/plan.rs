//! `fadewright plan`: checks, shows and starts plan files.

use crate::device::DeviceProfile;
use crate::limits::{PlanProblem, Severity, plan_problems};
use crate::plan::{self, Plan, PlanView};
use crate::protocol::Protocol;
use crate::source::{self, Loaded, Problem, Problems};
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
pub fn open_plan(path: &Path) -> Result<Loaded<Plan>, Problems> {
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

/// What the device or the protocol does not allow in a plan, each placed in the plan's file: first what forbids
/// treatment, then what someone should look at.
#[must_use]
pub fn limit_problems(
    loaded: &Loaded<Plan>,
    device: &DeviceProfile,
    protocol: &Protocol,
) -> (Vec<Problem>, Vec<Problem>) {
    let (errors, warnings): (Vec<_>, Vec<_>) =
        plan_problems(&loaded.value, device, protocol).into_iter().partition(|p| p.severity == Severity::Error);
    let placed = |list: Vec<PlanProblem>| list.iter().map(|p| loaded.places.problem(&p.field, &p.message)).collect();
    (placed(errors), placed(warnings))
}
