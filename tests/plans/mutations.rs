//! However a plan is spoilt, it is either still a plan or its mistakes are told, each with a line.

use super::{good, load};
use fadewright::plan;
use fadewright::source::SourceText;
use proptest::prelude::*;

/// One way to spoil a text; the numbers say where and how.
fn spoil(text: &[u8], how: u8, at: usize, with: u8) -> Vec<u8> {
    let whole = String::from_utf8_lossy(text).into_owned();
    let lines: Vec<&str> = whole.split_inclusive('\n').collect();
    if lines.is_empty() {
        return Vec::new();
    }
    let (n, with_index) = (at % lines.len(), usize::from(with));
    let line = lines[n];
    let edited = |new: &str| [&lines[..n].concat(), new, &lines[n + 1..].concat()].concat().into_bytes();
    match how % 7 {
        0 => {
            let mut bytes = whole.clone().into_bytes();
            let at = at % bytes.len();
            bytes[at] ^= with.max(1);
            bytes
        }
        1 => edited(""),
        2 => edited(&line.repeat(2)),
        3 => {
            let number = ["nan", "inf", "1e300", "-1", "0", "\"\"", "99999999999999999999"][with_index % 7];
            let key = line.split('=').next().unwrap_or_default();
            edited(&format!("{key}= {number}\n"))
        }
        4 => {
            let number = ["nan", "inf", "1e300", "-1", "0", "1e-300", "2,5"][with_index % 7];
            let digits = |c: char| c.is_ascii_digit() || c == '.';
            let start = line.find(digits).unwrap_or(0);
            let end = line[start..].find(|c| !digits(c)).map_or(line.len(), |e| start + e);
            edited(&format!("{}{number}{}", &line[..start], &line[end..]))
        }
        5 => edited(lines[with_index % lines.len()]),
        _ => {
            let marks = ["\u{1b}[2J", "\u{202e}", "\"", "\"\"\"", "[", "]]", "{", "}", "#", "=", "\r", "\0"];
            let (head, tail) = line.split_at_checked(at % line.len()).unwrap_or((line, ""));
            edited(&format!("{head}{}{tail}", marks[with_index % marks.len()]))
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1500, failure_persistence: None, ..ProptestConfig::default() })]
    #[test]
    fn a_spoilt_plan_is_a_plan_or_its_mistakes_are_told(
        edits in prop::collection::vec((any::<u8>(), any::<usize>(), any::<u8>()), 1..4),
    ) {
        let mut bytes = good().into_bytes();
        for (how, at, with) in edits {
            bytes = spoil(&bytes, how, at, with);
        }
        let read = SourceText::from_bytes("a.toml", &bytes).and_then(|text| plan::load(&text));
        match read {
            Ok(loaded) => {
                // What passes is a plan in every respect: its zones count, and it is read back as it was.
                prop_assert!((1..=24).contains(&loaded.value.zones.len()));
                let json = serde_json::to_string(&loaded.value).unwrap();
                prop_assert_eq!(serde_json::from_str::<plan::Plan>(&json).unwrap(), loaded.value);
            }
            Err(problems) => {
                let lines = bytes.iter().filter(|b| **b == b'\n').count() + 1;
                prop_assert!(!problems.list().is_empty());
                for p in problems.list() {
                    prop_assert!((1..=lines).contains(&p.line) && p.column >= 1, "{}", p);
                    prop_assert!(!p.message.is_empty());
                }
                let _ = problems.explained();
            }
        }
    }

    #[test]
    fn any_text_at_all_is_told_its_mistakes(text in "\\PC{0,200}|[\\x00-\\xff\\n\\[\\]={}\"']{0,200}") {
        let problems = load(&text).unwrap_err();
        prop_assert!(problems.list().iter().all(|p| p.line >= 1 && p.column >= 1));
        let _ = problems.explained();
    }
}
