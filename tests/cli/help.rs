//! What the help says.

use super::{home, run};

#[test]
fn the_help_names_every_subcommand_and_every_help_ends_with_the_exit_codes() {
    let home = home();
    let main = run(home.path(), &["--help"]);
    assert_eq!(main.code, 0);
    let listed: Vec<&str> = main
        .out
        .lines()
        .skip_while(|l| *l != "Commands:")
        .skip(1)
        .take_while(|l| !l.is_empty())
        .filter_map(|l| l.split_whitespace().next())
        .filter(|name| *name != "help")
        .collect();
    assert_eq!(
        listed,
        [
            "treat",
            "resume",
            "practise",
            "debrief",
            "plan",
            "calc",
            "log",
            "review",
            "follow-up",
            "register",
            "sign",
            "verify",
            "export",
            "theme",
            "keys",
            "completions"
        ]
    );
    for args in std::iter::once(vec!["--help"]).chain(listed.iter().map(|name| vec![*name, "--help"])) {
        let help = run(home.path(), &args).out;
        let codes = help.split_once("Exit codes:").unwrap_or_else(|| panic!("{args:?}: {help}")).1;
        let codes: Vec<&str> = codes.lines().filter_map(|l| l.split_whitespace().next()).collect();
        assert_eq!(codes, ["0", "1", "2", "75", "128+"], "{args:?}");
    }
    for (command, subs) in [
        ("plan", ["check", "show", "new"].as_slice()),
        ("theme", &["list", "show", "check"]),
        ("calc", &["transport", "depth", "heat", "beam", "hazard", "course", "anaesthetic", "coverage"]),
    ] {
        let help = run(home.path(), &[command, "--help"]).out;
        assert!(subs.iter().all(|sub| help.lines().any(|l| l.trim().starts_with(sub))), "{help}");
    }
}

#[test]
fn the_help_says_what_the_program_is_not() {
    let help = run(home().path(), &["--help"]).out;
    assert!(help.contains("trained, licensed people") && help.contains("manual") && help.contains("Not certified"));
}

#[test]
fn a_misspelt_subcommand_is_bad_usage() {
    let run = run(home().path(), &["traet"]);
    assert_eq!((run.code, run.out.as_str()), (2, ""));
    assert!(run.err.contains("treat"), "{}", run.err);
}
