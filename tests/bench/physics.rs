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

use figures::Table;
use std::error::Error;
use std::process::ExitCode;

type Outcome<T> = Result<T, Box<dyn Error>>;
type Part = (&'static str, fn(&mut Table) -> Outcome<()>);

const PARTS: [Part; 6] = [
    ("transport", light::transport),
    ("threads", light::two_threads),
    ("table", light::depth_doses),
    ("kept", light::kept_doses),
    ("answers", answers::answers),
    ("what-brought-what", light::what_brought_what),
];

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    if !words.iter().any(|w| w == "--bench") {
        eprintln!("these figures are taken with: cargo bench --bench physics");
        return ExitCode::SUCCESS;
    }
    let wanted: Vec<&str> = words.iter().map(String::as_str).filter(|w| !w.starts_with("--")).collect();
    if let Some(stranger) = wanted.iter().find(|w| PARTS.iter().all(|(name, _)| name != *w)) {
        let names = PARTS.map(|(name, _)| name).join(", ");
        eprintln!("there is no part {stranger}; the parts are {names}");
        return ExitCode::FAILURE;
    }
    let mut table = Table::default();
    table.note("load before", machine::load());
    for (name, measure) in PARTS.iter().filter(|(name, _)| wanted.is_empty() || wanted.contains(name)) {
        if let Err(e) = measure(&mut table) {
            table.failed(name, &e.to_string());
        }
    }
    table.note("load after", machine::load());
    println!("\n{}", table.text());
    if table.has_misses() { ExitCode::FAILURE } else { ExitCode::SUCCESS }
}
