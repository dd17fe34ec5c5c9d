//! Files that are not what they should be: too large, not text, full of escapes, or not files at all.

use super::{good, load, mistake, under};
use fadewright::plan;
use fadewright::source::{self, SIZE_LIMIT, SourceText, create_new, read_file};
use std::fs;
use std::io::{Seek, SeekFrom, Write};
use std::path::Path;

fn refused(bytes: &[u8]) -> String {
    SourceText::from_bytes("a.toml", bytes).unwrap_err().to_string()
}

#[test]
fn bytes_that_are_not_text_are_refused_where_they_stand() {
    assert!(refused(b"\xEF\xBB\xBFkind = 1").starts_with("a.toml:1:1: the file begins with a byte order mark"));
    assert!(refused(b"\xFF\xFEk\0i\0").starts_with("a.toml:1:1: the file is UTF-16"));
    assert!(refused("kind = 1\nÄ\0b".as_bytes()).starts_with("a.toml:2:2: a zero byte stands here"));
    assert!(refused(b"kind = 1\n\nab\xC3(").starts_with("a.toml:3:3: bytes that are not UTF-8 stand here"));
    let junk: Vec<u8> = (1..=255u8).cycle().take(100_000).collect();
    assert!(refused(&junk).starts_with("a.toml:2:"), "{}", refused(&junk));
}

#[test]
fn a_huge_file_is_refused_unread() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("huge.toml");
    let mut file = fs::File::create(&path).unwrap();
    // Sparse: its 100 MB are promised, not written.
    file.seek(SeekFrom::Start(100_000_000)).unwrap();
    file.write_all(b"x").unwrap();
    let told = read_file(&path).unwrap_err().to_string();
    assert!(told.ends_with("more than 4 MiB is refused unread") && told.contains("100000001 bytes"), "{told}");
    assert!(refused(&vec![b'x'; SIZE_LIMIT as usize + 1]).contains("more than 4 MiB"));
}

#[test]
fn junk_up_to_the_size_limit_is_told_and_not_choked_on() {
    let size = SIZE_LIMIT as usize;
    for junk in ["=\n", "[", "[[a]]\n", "a", "\"\n", "a=[", "{", "\u{1b}[2J", "x.", "#"] {
        let problems = load(&junk.repeat(size / junk.len())).unwrap_err();
        assert!(problems.list().len() <= 101 && problems.list()[0].line >= 1, "{junk:?}");
        assert!(problems.explained().len() < 100_000, "{junk:?}");
    }
}

#[test]
fn what_is_not_a_file_gets_a_plain_message() {
    let dir = tempfile::tempdir().unwrap();
    let told = |path: &Path| read_file(path).unwrap_err().to_string();
    assert!(
        told(&dir.path().join("none.toml")).ends_with("none.toml: there is no such file or directory; check the name")
    );
    assert!(told(dir.path()).ends_with("this is a directory; name a file in it"));
    assert!(told(&under("Cargo.toml").join("x")).ends_with("a part of this path is not a directory"));
    assert!(told(Path::new("/dev/null")).ends_with("this is not a plain file"));
    let empty = dir.path().join("empty.toml");
    fs::write(&empty, "").unwrap();
    let problems = plan::load(&source::read_file(&empty).unwrap()).unwrap_err();
    assert!(problems.to_string().contains("kind: missing"), "{problems}");
}

#[test]
fn a_name_that_could_steer_the_terminal_is_made_visible() {
    let name = "evil\u{1b}]0;x\u{7}.toml";
    let problems = plan::load(&SourceText::new(name, "kind = 3")).unwrap_err();
    assert!(problems.to_string().starts_with("evil␛]0;x␇.toml:1:"), "{problems}");
}

#[test]
fn nothing_said_about_a_hostile_file_can_steer_a_terminal() {
    let hostile = "\u{1b}[2J\u{202e}\u{9b}31m\u{200b}\u{7}";
    let escaped = r"\u001B[2J\u202E\u009B31m\u200B\u0007";
    let mut refusals = 0;
    for line in good().lines().filter(|l| l.contains(" = ")) {
        let (key, value) = line.split_once(" = ").unwrap();
        for spoilt in [
            format!("{key} = {hostile}{value}"),
            format!("\"{escaped}\" = {value}"),
            format!("{key} = \"{escaped}\""),
            format!("{key} = '{hostile}'"),
        ] {
            let Err(problems) = load(&good().replacen(line, &spoilt, 1)) else { continue };
            refusals += 1;
            let said = format!("{problems}{}{}", problems.explained(), serde_json::to_string(&problems).unwrap());
            assert!(!said.contains(['\u{1b}', '\u{202e}', '\u{9b}', '\u{200b}', '\u{7}']), "{said:?}");
        }
    }
    assert!(refusals > 100, "{refusals}");
}

#[test]
fn free_text_is_kept_as_it_is_and_shown_harmless() {
    let text = good().replace("Two-colour band", r"Two\u001B[2J\u202Eband");
    let plan = load(&text).unwrap();
    assert!(plan.title.starts_with("Two\u{1b}[2J\u{202e}band"), "kept");
    assert!(plan.lines().contains("Two␛[2J⟨U+202E⟩band") && !plan.lines().contains('\u{1b}'), "shown");
    assert!(mistake(&good().replace("HL-2041", r"HL-\u202E2041")).ends_with("character 4 is U+202E"));
}

#[test]
fn a_new_file_never_replaces_one_that_exists() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("new.toml");
    create_new(&path, "first").unwrap();
    let told = create_new(&path, "second").unwrap_err().to_string();
    assert!(told.ends_with("this file exists already and is left as it is; choose another name"), "{told}");
    assert_eq!(fs::read_to_string(&path).unwrap(), "first");
    assert!(create_new(&dir.path().join("no/such.toml"), "x").is_err());
}
