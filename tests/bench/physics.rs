//! The figures that the physics must reach, on the release build.
//!
//! `cargo bench --bench physics` prints them with their limits and fails when one is missed. Words after `--` choose
//! parts: `transport`, `threads`, `table`, `kept`, `answers`, `what-brought-what`.
//!
//! What is compared runs in turns within one run, and the middle of the turns' ratios counts, so that what else the
//! machine does falls out.
#![allow(missing_docs, reason = "a program; its modules say what they do")]
#![allow(clippy::disallowed_methods, reason = "it measures real time")]

mod answers;
#[allow(dead_code, reason = "the chair's figures need more of it")]
mod figures;
mod light;
#[allow(dead_code, reason = "the chair's figures need more of it")]
mod machine;
mod parts;

use std::process::ExitCode;

use parts::Outcome;
const PARTS: [parts::Part; 6] = [
    ("transport", light::transport),
    ("threads", light::two_threads),
    ("table", light::depth_doses),
    ("kept", light::kept_doses),
    ("answers", answers::answers),
    ("what-brought-what", light::what_brought_what),
];

fn main() -> ExitCode {
    parts::run("physics", &PARTS)
}
