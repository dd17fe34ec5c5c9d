//! Links and special files in the places of ours, directories that are not fit, and the modes of what is made.

use super::{Event, Scene, at, event, quiet};
use fadewright::journal::{DataDir, JournalError, Writer, daybook, read, verify_file};
use std::fs::Permissions;
use std::os::unix::fs::{PermissionsExt, symlink};
use std::path::Path;

fn mode(path: &Path) -> u32 {
    std::fs::symlink_metadata(path).unwrap().permissions().mode() & 0o777
}

#[test]
fn a_directory_that_is_not_fit_is_refused_with_the_reason() {
    let temp = tempfile::tempdir().unwrap();
    let file = temp.path().join("file");
    std::fs::write(&file, "").unwrap();
    assert!(matches!(DataDir::open(&file), Err(JournalError::NotADirectory { .. })));
    assert!(matches!(DataDir::open(file.join("below")), Err(JournalError::NotADirectory { .. })));
    for open in [0o777, 0o720, 0o702] {
        let shared = temp.path().join(format!("shared-{open:o}"));
        std::fs::create_dir(&shared).unwrap();
        std::fs::set_permissions(&shared, Permissions::from_mode(open)).unwrap();
        let Err(error) = DataDir::open(&shared) else { panic!("{open:o}") };
        assert!(matches!(error, JournalError::WritableByOthers { mode, .. } if mode == open), "{error}");
        assert!(error.to_string().contains("chmod go-w"), "{error}");
        assert_eq!(super::tree(&shared), Vec::<std::path::PathBuf>::new());
    }
    // The kernel's own file system takes no files, not even from root.
    assert!(DataDir::open("/proc/self").is_err());
    assert!(
        !std::fs::read_dir(temp.path()).unwrap().any(|e| e.unwrap().file_name().to_string_lossy().contains("probe"))
    );
}

#[test]
fn new_directories_and_files_are_for_their_owner_alone() {
    let scene = Scene::with(5);
    daybook::opened(&scene.dir, &scene.id, at(0)).unwrap();
    assert_eq!(mode(scene.dir.root()), 0o700);
    let tree = super::tree(scene.dir.root());
    assert_eq!(tree.len(), 6, "{tree:?}");
    for path in tree {
        assert_eq!(mode(&path), if path.is_dir() { 0o700 } else { 0o600 }, "{}", path.display());
    }
}

#[test]
fn no_link_is_followed_wherever_it_is_planted() {
    let temp = tempfile::tempdir().unwrap();
    let canary = temp.path().join("canary");
    std::fs::write(&canary, "canary").unwrap();
    let elsewhere = temp.path().join("elsewhere");
    std::fs::create_dir(&elsewhere).unwrap();
    let untouched = || {
        assert_eq!(std::fs::read(&canary).unwrap(), b"canary");
        assert_eq!(std::fs::read_dir(&elsewhere).unwrap().count(), 0);
    };

    let scene = Scene::empty();
    std::fs::remove_dir(scene.dir.root().join("sessions")).unwrap();
    symlink(&elsewhere, scene.dir.root().join("sessions")).unwrap();
    assert!(matches!(DataDir::open(scene.dir.root()), Err(JournalError::NotPlain { .. })));
    assert!(Writer::<Event>::create(&scene.dir, &scene.id, quiet).is_err());
    untouched();

    for level in ["2026", "2026/11"] {
        let scene = Scene::empty();
        let dir = scene.dir.root().join("sessions").join(level);
        std::fs::create_dir_all(dir.parent().unwrap()).unwrap();
        std::fs::set_permissions(dir.parent().unwrap(), Permissions::from_mode(0o700)).unwrap();
        symlink(&elsewhere, dir).unwrap();
        let made = Writer::<Event>::create(&scene.dir, &scene.id, quiet);
        assert!(matches!(made, Err(JournalError::NotPlain { .. })), "{level}");
        assert_eq!(scene.dir.list().unwrap(), [], "{level}");
        untouched();
    }

    for target in [canary.clone(), elsewhere.join("new")] {
        let scene = Scene::with(0);
        std::fs::remove_file(&scene.path).unwrap();
        symlink(&target, &scene.path).unwrap();
        let made = Writer::<Event>::create(&scene.dir, &scene.id, quiet);
        assert!(matches!(made, Err(JournalError::Exists { .. })));
        assert!(matches!(Writer::<Event>::resume(&scene.path, quiet), Err(JournalError::NotPlain { .. })));
        assert!(matches!(read::<Event>(&scene.path), Err(JournalError::NotPlain { .. })));
        assert!(matches!(verify_file(&scene.path), Err(JournalError::NotPlain { .. })));
        untouched();

        let scene = Scene::empty();
        symlink(&target, scene.dir.daybook_path()).unwrap();
        let entry = daybook::opened(&scene.dir, &scene.id, at(0));
        assert!(matches!(entry, Err(JournalError::NotPlain { .. })));
        untouched();

        let scene = Scene::empty();
        let mut writer = scene.writer();
        symlink(&target, scene.path.with_extension("notes.jsonl")).unwrap();
        writer.append(at(0), 0, &event(0)).unwrap();
        writer.append(at(3), 0, &event(3)).unwrap();
        assert!(matches!(writer.close(), Err(JournalError::Unsaved { .. })));
        untouched();

        let scene = Scene::with(3);
        let end = scene.bytes().len();
        std::fs::write(&scene.path, [&scene.bytes(), &b"torn"[..]].concat()).unwrap();
        let aside = format!("{}.torn-{end}", scene.path.display());
        symlink(&target, &aside).unwrap();
        drop(Writer::<Event>::resume(&scene.path, quiet).unwrap());
        assert_eq!(std::fs::read(format!("{aside}-2")).unwrap(), b"torn");
        untouched();
    }
    // The root may be a link, as to another disk; it is resolved once.
    let link = temp.path().join("link");
    symlink(&elsewhere, &link).unwrap();
    std::fs::set_permissions(&elsewhere, Permissions::from_mode(0o700)).unwrap();
    assert_eq!(DataDir::open(&link).unwrap().root(), elsewhere.canonicalize().unwrap());
}

#[test]
fn a_pipe_or_directory_in_a_files_place_is_refused_without_waiting() {
    let scene = Scene::with(0);
    std::fs::remove_file(&scene.path).unwrap();
    let made = std::process::Command::new("mkfifo").arg(&scene.path).status().unwrap();
    assert!(made.success());
    assert!(matches!(read::<Event>(&scene.path), Err(JournalError::NotPlain { .. })));
    assert!(matches!(Writer::<Event>::resume(&scene.path, quiet), Err(JournalError::NotPlain { .. })));
    std::fs::remove_file(&scene.path).unwrap();
    std::fs::create_dir(&scene.path).unwrap();
    assert!(matches!(read::<Event>(&scene.path), Err(JournalError::NotPlain { .. })));
    assert!(Writer::<Event>::resume(&scene.path, quiet).is_err());
}

#[test]
fn a_file_that_is_not_named_as_a_session_is_no_journal() {
    let scene = Scene::with(2);
    for name in [
        "copy.jsonl",
        "20261124-224801-7K3M9Q (1).jsonl",
        "20261124-224801-7K3M9Q.json",
        "20261124-224801-7K3M9Q.notes.jsonl",
    ] {
        let copy = scene.temp.path().join(name);
        std::fs::copy(&scene.path, &copy).unwrap();
        assert!(matches!(verify_file(&copy), Err(JournalError::NotAJournal { .. })), "{name}");
        assert!(matches!(Writer::<Event>::resume(&copy, quiet), Err(JournalError::NotAJournal { .. })), "{name}");
    }
    let renamed = scene.temp.path().join("20261124-224801-7K3M9R.jsonl");
    std::fs::copy(&scene.path, &renamed).unwrap();
    assert!(!verify_file(&renamed).unwrap().is_ok(), "a journal under another session's name");
}
