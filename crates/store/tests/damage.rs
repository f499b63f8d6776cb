//! Damaged, cut and exchanged files: opening refuses and names what does not fit, or recovers without losing anything that
//! was acknowledged. It never panics, and never serves less.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "a failing set-up should stop the test"
)]

mod support;

use rungwise_store::{OpenError, Store};
use std::fs;
use std::path::{Path, PathBuf};
use support::{Time, append, clinic, contents, entry, open, options, put};

/// Copies a directory of files.
fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for item in fs::read_dir(from).unwrap() {
        let item = item.unwrap();
        let target = to.join(item.file_name());
        if item.file_type().unwrap().is_dir() {
            copy(&item.path(), &target);
        } else {
            fs::copy(item.path(), target).unwrap();
        }
    }
}

const ENTRIES: usize = 120;

/// A store with entries over several segments, drained; or left as a crash leaves it, its log not synced.
fn filled(dir: &Path, crashed: bool) {
    let work = tempfile::tempdir().unwrap();
    let place = if crashed { work.path() } else { dir };
    let store = open(place);
    let key = store.create_key(&clinic("north")).unwrap();
    for n in 0..ENTRIES {
        put(&store, "a", &n.to_string(), key).unwrap();
    }
    if crashed {
        // What a crash leaves: the files as they are while the store is open.
        copy(place, dir);
    }
}

fn journal_files(dir: &Path) -> Vec<PathBuf> {
    let files = fs::read_dir(dir.join("journal"))
        .unwrap()
        .map(|item| item.unwrap().path());
    let mut files: Vec<_> = files
        .filter(|path| path.extension().is_some_and(|ending| ending == "journal"))
        .collect();
    files.sort();
    files
}

fn attempt(dir: &Path) -> Result<Store, OpenError> {
    Store::open(dir, options(&Time::at(1_000)))
}

/// Opens and checks that nothing acknowledged is missing; or says why it was refused.
fn whole_or_refused(dir: &Path, what: &str) -> Option<String> {
    match attempt(dir) {
        Err(error) => Some(error.to_string()),
        Ok(store) => {
            let found = contents(&store, "a");
            assert_eq!(found.len(), ENTRIES, "{what}: opened with entries missing");
            assert!(
                found
                    .iter()
                    .enumerate()
                    .all(|(n, content)| *content == n.to_string()),
                "{what}"
            );
            store.verify(&clinic("north")).unwrap();
            None
        }
    }
}

/// Entries of a store whose log was deleted: all are there again if the journal still has them all.
#[test]
fn a_log_that_is_gone_is_made_again_from_the_journal_or_refused() {
    let dir = tempfile::tempdir().unwrap();
    let store = open(dir.path());
    let key = store.create_key(&clinic("north")).unwrap();
    (0..5).for_each(|n| drop(put(&store, "a", &n.to_string(), key).unwrap()));
    store.drain().unwrap();
    drop(store);
    fs::remove_dir_all(dir.path().join("log")).unwrap();
    let store = open(dir.path());
    assert_eq!(contents(&store, "a"), ["0", "1", "2", "3", "4"]);
    store.verify(&clinic("north")).unwrap();
    // Once segments are gone, the log cannot be made from what is left.
    (5..ENTRIES).for_each(|n| drop(put(&store, "a", &n.to_string(), key).unwrap()));
    store.drain().unwrap();
    drop(store);
    assert!(
        !journal_files(dir.path())[0].ends_with("0000000000000001.journal"),
        "the first segment is still there"
    );
    fs::remove_dir_all(dir.path().join("log")).unwrap();
    assert!(matches!(
        attempt(dir.path()),
        Err(OpenError::LogBehind { log_batch: 0, .. })
    ));
}

#[test]
fn a_journal_that_is_gone_or_short_is_refused_and_both_sides_named() {
    let dir = tempfile::tempdir().unwrap();
    filled(dir.path(), false);
    let kept = tempfile::tempdir().unwrap();
    copy(dir.path(), kept.path());
    fs::remove_dir_all(dir.path().join("journal")).unwrap();
    let error = attempt(dir.path()).unwrap_err();
    assert!(matches!(error, OpenError::JournalMissing { .. }), "{error}");
    // An older journal beside a newer log.
    let older = tempfile::tempdir().unwrap();
    filled(older.path(), false);
    let store = open(older.path());
    let key = store.entry(&clinic("north"), 0).unwrap().unwrap().key;
    let early = tempfile::tempdir().unwrap();
    store.drain().unwrap();
    copy(&older.path().join("journal"), early.path());
    drop(store);
    let store = open(older.path());
    put(&store, "a", "later", key).unwrap();
    store.drain().unwrap();
    drop(store);
    fs::remove_dir_all(older.path().join("journal")).unwrap();
    copy(early.path(), &older.path().join("journal"));
    let error = attempt(older.path()).unwrap_err();
    assert!(
        matches!(
            error,
            OpenError::JournalShort {
                last_batch: 120,
                ..
            }
        ),
        "{error}"
    );
    let text = error.to_string();
    assert!(
        text.contains("journal` ends with batch 120") && text.contains("log` stands at batch 121"),
        "{text}"
    );
    // Another store's journal.
    fs::remove_dir_all(kept.path().join("journal")).unwrap();
    copy(early.path(), &kept.path().join("journal"));
    assert!(matches!(
        attempt(kept.path()),
        Err(OpenError::Diverged { .. })
    ));
}

#[test]
fn flipped_bits_in_the_journal_lose_nothing() {
    for crashed in [false, true] {
        let dir = tempfile::tempdir().unwrap();
        filled(dir.path(), crashed);
        let mut refused = 0;
        let files = journal_files(dir.path());
        for (n, at) in (0..24).map(|n| (n, n * 2_711 % 65_536)) {
            let copied = tempfile::tempdir().unwrap();
            copy(dir.path(), copied.path());
            let path = copied
                .path()
                .join("journal")
                .join(files[n % files.len()].file_name().unwrap());
            let mut bytes = fs::read(&path).unwrap();
            // Within the first 200 bytes of a block, where records are.
            let at = at / 4_096 * 4_096 + at % 200;
            bytes[at] ^= 1 << (n % 8);
            fs::write(&path, bytes).unwrap();
            refused +=
                usize::from(whole_or_refused(copied.path(), &format!("byte {at}")).is_some());
        }
        assert!(refused > 10, "records were not hit: {refused}");
    }
}

#[test]
fn a_cut_journal_loses_nothing() {
    for crashed in [false, true] {
        let dir = tempfile::tempdir().unwrap();
        filled(dir.path(), crashed);
        let last = journal_files(dir.path()).pop().unwrap();
        for length in [0, 1, 4_096, 4_097, 30_000, 65_535] {
            let copied = tempfile::tempdir().unwrap();
            copy(dir.path(), copied.path());
            let path = copied
                .path()
                .join("journal")
                .join(last.file_name().unwrap());
            fs::OpenOptions::new()
                .write(true)
                .open(&path)
                .unwrap()
                .set_len(length)
                .unwrap();
            let error = whole_or_refused(copied.path(), &format!("{length} bytes"))
                .expect("a cut segment is refused");
            assert!(error.contains("it was cut or is damaged"), "{error}");
        }
    }
}

#[test]
fn flipped_bits_and_cuts_in_the_log_lose_nothing() {
    let dir = tempfile::tempdir().unwrap();
    filled(dir.path(), false);
    let length = fs::metadata(dir.path().join("log/db")).unwrap().len() as usize;
    for n in 0..16_usize {
        let copied = tempfile::tempdir().unwrap();
        copy(dir.path(), copied.path());
        let path = copied.path().join("log/db");
        let mut bytes = fs::read(&path).unwrap();
        let used = bytes.iter().rposition(|byte| *byte != 0).unwrap_or(length);
        if n % 2 == 0 {
            bytes[n * 997 % used] ^= 1 << (n % 8);
        } else {
            bytes.truncate(used * n / 16);
        }
        fs::write(&path, bytes).unwrap();
        damaged_log(copied.path(), n);
    }
}

/// sled reads some damage as shorter data and finds other damage only on reading; then reading or verifying says so.
fn damaged_log(dir: &Path, n: usize) {
    let Ok(store) = attempt(dir) else { return };
    let read = store.stream(&clinic("north"), &support::stream("a"), 0, usize::MAX);
    let verified = store.verify(&clinic("north"));
    if verified.is_ok() {
        assert_eq!(
            read.unwrap().len(),
            ENTRIES,
            "{n}: verified with entries missing"
        );
    }
}

#[test]
fn an_altered_entry_in_the_log_is_found() {
    let dir = tempfile::tempdir().unwrap();
    filled(dir.path(), false);
    let alter = |change: fn(&mut Vec<u8>)| {
        let copied = tempfile::tempdir().unwrap();
        copy(dir.path(), copied.path());
        let log = sled::open(copied.path().join("log")).unwrap();
        let tree = log.open_tree("entries").unwrap();
        let (key, value) = tree.iter().nth(50).unwrap().unwrap();
        let mut value = value.to_vec();
        change(&mut value);
        tree.insert(key, value).unwrap();
        log.flush().unwrap();
        drop((tree, log));
        let store = attempt(copied.path()).unwrap();
        (
            store.entry(&clinic("north"), 50).is_err(),
            store.verify(&clinic("north")).unwrap_err().to_string(),
        )
    };
    let (unread, found) = alter(|value| {
        let last = value.len() - 1;
        value[last] ^= 1;
    });
    assert!(
        unread && found.starts_with("entry 50: its sealed content"),
        "{found}"
    );
    // An envelope altered in a field that reading does not need: only the tree tells.
    let (unread, found) = alter(|value| {
        let at = value.windows(32).position(|part| part == [7; 32]).unwrap();
        value[at] ^= 1;
    });
    assert!(
        !unread && found.contains("another root than its head"),
        "{found}"
    );
}

#[test]
fn missing_secrets_and_altered_checkpoints_are_refused() {
    let dir = tempfile::tempdir().unwrap();
    filled(dir.path(), false);
    let store = open(dir.path());
    store.checkpoint(&clinic("north")).unwrap();
    drop(store);
    let check = |file: &str, change: &dyn Fn(&Path), wanted: fn(&OpenError) -> bool| {
        let copied = tempfile::tempdir().unwrap();
        copy(dir.path(), copied.path());
        change(&copied.path().join(file));
        let error = attempt(copied.path()).unwrap_err();
        assert!(wanted(&error), "{file}: {error}");
    };
    let remove: &dyn Fn(&Path) = &|path| fs::remove_file(path).unwrap();
    check("secrets/signing.key", remove, |error| {
        matches!(error, OpenError::Secret(_))
    });
    check("secrets/fingerprint.key", remove, |error| {
        matches!(error, OpenError::Secret(_))
    });
    check("epoch/north.epoch", remove, |error| {
        matches!(error, OpenError::Key(_))
    });
    let alter: &dyn Fn(&Path) = &|path| {
        let text = fs::read_to_string(path)
            .unwrap()
            .replace("\n120\n", "\n121\n");
        fs::write(path, text).unwrap();
    };
    check("checkpoints/north.checkpoint", alter, |error| {
        matches!(error, OpenError::Checkpoint(_))
    });
}

#[test]
fn a_second_clinic_and_its_numbers_survive_a_crash_before_the_log_is_synced() {
    let dir = tempfile::tempdir().unwrap();
    let work = tempfile::tempdir().unwrap();
    let store = open(work.path());
    for name in ["south", "north", "east"] {
        let key = store.create_key(&clinic(name)).unwrap();
        for n in 0..3 {
            store
                .append(append(name, vec![entry("a", &format!("{name} {n}"), key)]))
                .wait()
                .unwrap();
        }
    }
    copy(work.path(), dir.path());
    let store = open(dir.path());
    for name in ["south", "north", "east"] {
        assert_eq!(store.verify(&clinic(name)).unwrap().head.size, 3);
        let last = store.entry(&clinic(name), 2).unwrap().unwrap();
        assert_eq!(last.content, format!("{name} 2").as_bytes());
    }
}
