//! A bench of several parts, chosen by words.

use crate::figures::Table;
use crate::machine;
use std::error::Error;
use std::process::ExitCode;

pub type Outcome<T> = Result<T, Box<dyn Error>>;
pub type Part = (&'static str, fn(&mut Table) -> Outcome<()>);

/// Takes the figures of the parts that the words on the command line choose, or of all; fails when one is missed.
pub fn run(bench: &str, parts: &[Part]) -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    if !words.iter().any(|w| w == "--bench") {
        eprintln!("these figures are taken with: cargo bench --bench {bench}");
        return ExitCode::SUCCESS;
    }
    let wanted: Vec<&str> = words.iter().map(String::as_str).filter(|w| !w.starts_with("--")).collect();
    if let Some(stranger) = wanted.iter().find(|w| parts.iter().all(|(name, _)| name != *w)) {
        let names: Vec<&str> = parts.iter().map(|(name, _)| *name).collect();
        eprintln!("there is no part {stranger}; the parts are {}", names.join(", "));
        return ExitCode::FAILURE;
    }
    let mut table = Table::default();
    table.note("load before", machine::load());
    for (name, measure) in parts.iter().filter(|(name, _)| wanted.is_empty() || wanted.contains(name)) {
        if let Err(e) = measure(&mut table) {
            table.failed(name, &e.to_string());
        }
    }
    table.note("load after", machine::load());
    println!("\n{}", table.text());
    if table.has_misses() { ExitCode::FAILURE } else { ExitCode::SUCCESS }
}
