//! Pack directories: what is read, in which order, and what is refused.
#![allow(clippy::unwrap_used, reason = "a failing set-up should stop the test")]

use super::*;

#[test]
fn reads_toml_files_below_in_order_of_name() {
    let dir = tempfile::tempdir().unwrap();
    fs::create_dir_all(dir.path().join("text")).unwrap();
    fs::create_dir_all(dir.path().join(".git")).unwrap();
    for (name, text) in [
        ("pack.toml", "a"),
        ("text/en.toml", "b"),
        ("measures.toml", "c"),
        ("notes.md", "no"),
        (".git/x.toml", "no"),
    ] {
        fs::write(dir.path().join(name), text).unwrap();
    }
    let read = read_dir(dir.path()).unwrap();
    let wanted = [
        ("measures.toml", "c"),
        ("pack.toml", "a"),
        ("text/en.toml", "b"),
    ];
    assert_eq!(
        read,
        wanted.map(|(name, text)| (name.to_owned(), text.to_owned()))
    );
}

#[test]
fn refuses_what_is_missing_too_large_or_not_text() {
    let dir = tempfile::tempdir().unwrap();
    assert!(matches!(
        read_dir(&dir.path().join("none")),
        Err(PackReadError::Io { .. })
    ));
    fs::write(dir.path().join("a.toml"), [0xff, 0xfe]).unwrap();
    assert!(matches!(
        read_dir(dir.path()),
        Err(PackReadError::NotText(_))
    ));
    fs::write(
        dir.path().join("a.toml"),
        vec![b'#'; PACK_FILE_BYTES_MAX as usize + 1],
    )
    .unwrap();
    assert!(matches!(
        read_dir(dir.path()),
        Err(PackReadError::TooLarge { .. })
    ));
}
