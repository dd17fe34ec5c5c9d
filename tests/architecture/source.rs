//! Reads source files as far as these tests need: code without comments and texts, paths, modules.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// The crate's top directory.
pub fn top() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

pub fn text(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// Every file below a directory, sorted.
pub fn files(dir: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(dir).unwrap_or_else(|e| panic!("{}: {e}", dir.display())) {
        let path = entry.unwrap().path();
        if path.is_dir() { found.extend(files(&path)) } else { found.push(path) }
    }
    found.sort();
    found
}

pub fn rust_files(dir: &str) -> Vec<PathBuf> {
    files(&top().join(dir)).into_iter().filter(|p| p.extension().is_some_and(|e| e == "rs")).collect()
}

/// The path of a file below `src`, as its module path: `plan/load.rs` is `plan`, `load`.
pub fn module_of(below_src: &Path) -> Vec<String> {
    let mut parts: Vec<_> =
        below_src.with_extension("").iter().map(|part| part.to_string_lossy().into_owned()).collect();
    if parts.last().is_some_and(|last| ["mod", "lib", "main"].contains(&last.as_str())) {
        parts.pop();
    }
    parts
}

/// The code with comments, texts and characters blanked; line ends stay.
pub fn code_only(source: &str) -> String {
    let chars: Vec<char> = source.chars().collect();
    let at = |i: usize| chars.get(i).copied().unwrap_or('\0');
    let mut out = String::with_capacity(source.len());
    let mut i = 0;
    while i < chars.len() {
        let start = i;
        let end = match (at(i), at(i + 1)) {
            ('/', '/') => (i..chars.len()).find(|j| at(*j) == '\n').unwrap_or(chars.len()),
            ('/', '*') => end_of(&chars, i + 2, &['*', '/']),
            ('r', '"' | '#') if !is_word(at(i.wrapping_sub(1))) && raw_hashes(&chars, i).is_some() => {
                let hashes = raw_hashes(&chars, i).unwrap_or(0);
                let close: Vec<char> = std::iter::once('"').chain(std::iter::repeat_n('#', hashes)).collect();
                end_of(&chars, i + hashes + 2, &close)
            }
            ('"', _) => end_of_quoted(&chars, i + 1, '"'),
            // A lifetime has no closing quote.
            ('\'', '\\') => end_of_quoted(&chars, i + 1, '\''),
            ('\'', _) if at(i + 2) == '\'' => i + 3,
            _ => i,
        };
        if end == start {
            out.push(at(i));
            i += 1;
        } else {
            out.extend(chars[start..end].iter().map(|c| if *c == '\n' { '\n' } else { ' ' }));
            i = end;
        }
    }
    out
}

fn is_word(c: char) -> bool {
    c.is_alphanumeric() || c == '_'
}

/// How many `#` a raw text that starts at `i` has.
fn raw_hashes(chars: &[char], i: usize) -> Option<usize> {
    let hashes = chars[i + 1..].iter().take_while(|c| **c == '#').count();
    (chars.get(i + 1 + hashes) == Some(&'"')).then_some(hashes)
}

fn end_of(chars: &[char], from: usize, close: &[char]) -> usize {
    (from..chars.len()).find(|j| chars[*j..].starts_with(close)).map_or(chars.len(), |j| j + close.len())
}

fn end_of_quoted(chars: &[char], from: usize, close: char) -> usize {
    let mut i = from;
    while i < chars.len() && chars[i] != close {
        i += if chars[i] == '\\' { 2 } else { 1 };
    }
    (i + 1).min(chars.len())
}

/// Words, `::` and single signs of code.
pub fn tokens(code: &str) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    let mut glue = false;
    for c in code.chars() {
        match found.last_mut() {
            Some(last) if glue && is_word(c) && last.chars().all(is_word) => last.push(c),
            Some(last) if glue && c == ':' && last == ":" => last.push(c),
            _ if c.is_whitespace() => {}
            _ => found.push(c.to_string()),
        }
        glue = !c.is_whitespace();
    }
    found
}

/// The names that follow `prefix ::` in code, also those in braces: `crate::{plan::Zone, units}` names two.
pub fn names_after(tokens: &[String], prefix: &str) -> BTreeSet<String> {
    let mut names = BTreeSet::new();
    for i in 0..tokens.len() {
        if tokens[i] != prefix || tokens.get(i + 1).is_none_or(|t| t != "::") {
            continue;
        }
        if tokens.get(i + 2).is_none_or(|t| t != "{") {
            names.extend(tokens.get(i + 2).cloned());
            continue;
        }
        let mut depth = 1;
        for j in i + 3..tokens.len() {
            let first = depth == 1 && matches!(tokens[j - 1].as_str(), "{" | ",");
            match tokens[j].as_str() {
                "{" => depth += 1,
                "}" if depth == 1 => break,
                "}" => depth -= 1,
                name if first => {
                    names.insert(name.to_owned());
                }
                _ => {}
            }
        }
    }
    names
}

/// How many modules the `super` paths of a file climb above the file's own, at most.
pub fn climbs(tokens: &[String]) -> usize {
    let mut most = 0;
    // For each open brace, whether it is an inline module's.
    let mut braces = Vec::new();
    let mut i = 0;
    while i < tokens.len() {
        match tokens[i].as_str() {
            "{" => braces.push(i >= 2 && tokens[i - 2] == "mod"),
            "}" => drop(braces.pop()),
            // `pub(super)` climbs as `super::` does.
            "super" => {
                let mut supers = 1;
                while tokens.get(i + 1).is_some_and(|t| t == "::") && tokens.get(i + 2).is_some_and(|t| t == "super") {
                    supers += 1;
                    i += 2;
                }
                let inline = braces.iter().filter(|inline| **inline).count();
                most = most.max(usize::saturating_sub(supers, inline));
            }
            _ => {}
        }
        i += 1;
    }
    most
}

/// Modules that a file declares with `mod name;`.
pub fn declared(code: &str) -> Vec<String> {
    let tokens = tokens(code);
    tokens.windows(3).filter(|w| w[0] == "mod" && w[2] == ";").map(|w| w[1].clone()).collect()
}

/// Every file reached from the root of a crate by its `mod` lines.
pub fn reached(root: &Path) -> BTreeSet<PathBuf> {
    let mut found = BTreeSet::from([root.to_owned()]);
    follow(root, root.parent().unwrap(), &mut found);
    found
}

/// Modules declared in `file` stand in `below`.
fn follow(file: &Path, below: &Path, found: &mut BTreeSet<PathBuf>) {
    for module in declared(&code_only(&text(file))) {
        let dir = below.join(&module);
        let candidates = [below.join(format!("{module}.rs")), dir.join("mod.rs"), elsewhere(file, &module)];
        let next = candidates.iter().find(|p| p.is_file()).unwrap_or_else(|| panic!("no file of module {module}"));
        if found.insert(next.clone()) {
            follow(next, &dir, found);
        }
    }
}

/// The file that a `path` attribute on the line before the declaration names.
fn elsewhere(file: &Path, module: &str) -> PathBuf {
    let source = text(file);
    let lines: Vec<&str> = source.lines().collect();
    let before = |w: &&[&str]| w[1].trim_end() == format!("mod {module};");
    let named = lines.windows(2).find(before).and_then(|w| w[0].strip_prefix("#[path = \"")?.strip_suffix("\"]"));
    file.parent().unwrap().join(named.unwrap_or_default()).canonicalize().unwrap_or_default()
}

#[test]
fn comments_and_texts_are_no_code() {
    let source = "a // crate::b\nb /* crate::c */ \"crate::d \\\" e\" r#\"x \" y\"# '\"' 'l f('\\'') g";
    let code = code_only(source);
    assert_eq!(code.split_whitespace().collect::<Vec<_>>(), ["a", "b", "'l", "f(", ")", "g"]);
    assert_eq!(code.lines().count(), source.lines().count());
}

#[test]
fn paths_are_found_alone_and_in_braces() {
    let of = |code: &str| names_after(&tokens(code), "crate").into_iter().collect::<Vec<_>>();
    assert_eq!(of("use crate::plan::{Zone, Site}; fn f(a: crate::units::Fluence) {}"), ["plan", "units"]);
    assert_eq!(of("use crate::{plan::{Zone, Site}, session, text::shown as s};"), ["plan", "session", "text"]);
    assert_eq!(of("use std::fs; pub(crate) fn f() {}"), [""; 0]);
}

#[test]
fn climbing_is_measured_from_the_file_s_own_module() {
    let of = |code: &str| climbs(&tokens(code));
    assert_eq!(of("use std::fs;"), 0);
    assert_eq!(of("use super::a;"), 1);
    assert_eq!(of("use super::super::a; mod tests { use super::*; }"), 2);
    assert_eq!(of("mod tests { use super::*; fn f() {} }"), 0);
    assert_eq!(of("mod tests { use super::super::a; }"), 1);
}

#[test]
fn declared_modules_are_those_with_a_file() {
    assert_eq!(declared("pub mod a; mod b { mod c; } mod tests {}"), ["a", "c"]);
}
