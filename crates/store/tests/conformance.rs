//! What a store must promise, whatever it is built on: order, compare-and-append, repeated requests, times that never go
//! back, reads that see what was answered, and all of it again after opening anew.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "a failing set-up should stop the test"
)]

mod support;

use rungwise_store::{
    AppendError, OpenError, REQUEST_RETENTION_MS, Snapshot, State, StopReason, Store,
};
use std::sync::Arc;
use support::{Time, append, clinic, contents, entry, open, options, put, request, stream};

fn opened_anew(store: Store, dir: &std::path::Path) -> Store {
    store.drain().unwrap();
    drop(store);
    open(dir)
}

#[test]
fn entries_come_back_in_order_in_their_streams_and_in_the_ledger() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = open(dir.path());
    let key = store.create_key(&clinic("north")).unwrap();
    for n in 0..200 {
        let appended = put(
            &store,
            if n % 2 == 0 { "even" } else { "odd" },
            &n.to_string(),
            key,
        )
        .unwrap();
        assert_eq!(
            (appended.positions, appended.sequences),
            (vec![n], vec![n / 2])
        );
    }
    for _ in 0..2 {
        let even: Vec<_> = (0..200).step_by(2).map(|n| n.to_string()).collect();
        assert_eq!(contents(&store, "even"), even);
        let north = clinic("north");
        let part = store.stream(&north, &stream("odd"), 60, 8).unwrap();
        assert_eq!(
            part.iter().map(|e| e.sequence).collect::<Vec<_>>(),
            (60..68).collect::<Vec<_>>()
        );
        let all = store.entries(&north, 0, usize::MAX).unwrap();
        assert_eq!(
            all.iter().map(|e| e.position).collect::<Vec<_>>(),
            (0..200).collect::<Vec<_>>()
        );
        assert_eq!(store.entries(&north, 190, 3).unwrap().len(), 3);
        let one = store.entry(&north, 7).unwrap().unwrap();
        assert_eq!(
            (one.stream.as_str(), one.sequence, one.content.as_slice()),
            ("odd", 3, b"7".as_slice())
        );
        assert_eq!(
            (one.semantics, one.pack_digest, one.key),
            (1, Some([7; 32]), key)
        );
        assert_eq!(store.entry(&north, 200).unwrap(), None);
        assert_eq!(store.next_sequence(&north, &stream("even")).unwrap(), 100);
        assert_eq!(store.next_sequence(&north, &stream("none")).unwrap(), 0);
        let verified = store.verify(&north).unwrap();
        assert_eq!((verified.head.size, verified.streams), (200, 2));
        assert_eq!(verified.head, store.head(&north));
        store = opened_anew(store, dir.path());
    }
}

#[test]
fn an_append_lands_whole_or_not_at_all_and_only_where_expected() {
    let dir = tempfile::tempdir().unwrap();
    let store = open(dir.path());
    let key = store.create_key(&clinic("north")).unwrap();
    let both = vec![
        entry("a", "0", key),
        entry("b", "0", key),
        entry("a", "1", key),
    ];
    let appended = store.append(append("north", both)).wait().unwrap();
    assert_eq!(
        (appended.positions, appended.sequences),
        (vec![0, 1, 2], vec![0, 0, 1])
    );
    let mut stale = append(
        "north",
        vec![entry("b", "lost", key), entry("a", "lost", key)],
    );
    stale.expects = vec![(stream("b"), 1), (stream("a"), 1)];
    let conflict = AppendError::Conflict {
        stream: stream("a"),
        expected: 1,
        found: 2,
    };
    assert_eq!(store.append(stale.clone()).wait(), Err(conflict));
    assert_eq!(
        (contents(&store, "a").len(), contents(&store, "b").len()),
        (2, 1)
    );
    stale.expects = vec![(stream("b"), 1), (stream("a"), 2), (stream("never"), 0)];
    assert_eq!(store.append(stale).wait().unwrap().positions, [3, 4]);
}

#[test]
fn of_many_who_saw_the_same_exactly_one_lands() {
    let dir = tempfile::tempdir().unwrap();
    let store = Arc::new(open(dir.path()));
    let key = store.create_key(&clinic("north")).unwrap();
    for round in 0..20 {
        let racers: Vec<_> = (0..16)
            .map(|n| {
                let store = Arc::clone(&store);
                std::thread::spawn(move || {
                    let mut append = append("north", vec![entry("a", &n.to_string(), key)]);
                    append.expects = vec![(stream("a"), round)];
                    store.append(append).wait().is_ok()
                })
            })
            .collect();
        assert_eq!(
            racers
                .into_iter()
                .filter(|_| true)
                .map(|r| r.join().unwrap())
                .filter(|won| *won)
                .count(),
            1
        );
    }
    assert_eq!(
        store.next_sequence(&clinic("north"), &stream("a")).unwrap(),
        20
    );
}

#[test]
fn a_repeated_request_is_answered_as_before_and_writes_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = open(dir.path());
    let key = store.create_key(&clinic("north")).unwrap();
    let ask = |store: &Store, caller: &str, value: &str| {
        let mut append = append("north", vec![entry("a", value, key)]);
        append.request = Some(request(store, caller, "r-1", value));
        append.answer = format!("answer to {value}").into_bytes();
        store.append(append).wait()
    };
    assert_eq!(
        store.answered(&clinic("north"), &request(&store, "ann", "r-1", "x")),
        Ok(None)
    );
    let first = ask(&store, "ann", "x").unwrap();
    assert_eq!(first.repeated, None);
    for _ in 0..2 {
        let again = ask(&store, "ann", "x").unwrap();
        assert_eq!(again.repeated.as_deref(), Some(b"answer to x".as_slice()));
        assert_eq!(
            (&again.positions, &again.sequences),
            (&first.positions, &first.sequences)
        );
        assert_eq!(again.recorded_at_ms, first.recorded_at_ms);
        assert_eq!(
            store.answered(&clinic("north"), &request(&store, "ann", "r-1", "x")),
            Ok(Some(again))
        );
        let reused = AppendError::RequestReused {
            request_id: "r-1".to_owned(),
        };
        assert_eq!(ask(&store, "ann", "y"), Err(reused));
        assert_eq!(contents(&store, "a").len(), 1);
        store = opened_anew(store, dir.path());
    }
    assert_eq!(
        ask(&store, "ben", "x").unwrap().repeated,
        None,
        "another caller's ids are another's"
    );
}

#[test]
fn repeats_that_wait_together_are_carried_out_once() {
    let dir = tempfile::tempdir().unwrap();
    let store = open(dir.path());
    let key = store.create_key(&clinic("north")).unwrap();
    let waiting: Vec<_> = (0..50)
        .map(|_| {
            let mut append = append("north", vec![entry("a", "x", key)]);
            append.request = Some(request(&store, "ann", "r-1", "x"));
            store.append(append)
        })
        .collect();
    let answers: Vec<_> = waiting
        .into_iter()
        .map(|pending| pending.wait().unwrap())
        .collect();
    assert_eq!(
        answers
            .iter()
            .filter(|answer| answer.repeated.is_none())
            .count(),
        1
    );
    assert!(answers.iter().all(|answer| answer.positions == [0]));
    assert_eq!(contents(&store, "a"), ["x"]);
}

#[test]
fn requests_are_forgotten_after_the_retention_and_not_before() {
    let dir = tempfile::tempdir().unwrap();
    let time = Time::at(1_000);
    let mut store = Store::open(dir.path(), options(&time)).unwrap();
    let key = store.create_key(&clinic("north")).unwrap();
    let ask = |store: &Store| {
        let mut append = append("north", vec![entry("a", "x", key)]);
        append.request = Some(request(store, "ann", "r-1", "x"));
        store.append(append).wait().unwrap().repeated.is_some()
    };
    assert!(!ask(&store));
    time.set(1_000 + REQUEST_RETENTION_MS);
    store.drain().unwrap();
    drop(store);
    store = Store::open(dir.path(), options(&time)).unwrap();
    assert!(ask(&store), "still remembered on the last millisecond");
    time.set(1_001 + REQUEST_RETENTION_MS);
    put(&store, "b", "moves the log's state on", key).unwrap();
    store.drain().unwrap();
    drop(store);
    store = Store::open(dir.path(), options(&time)).unwrap();
    assert!(!ask(&store));
}

#[test]
fn recorded_at_never_goes_back() {
    let dir = tempfile::tempdir().unwrap();
    let time = Time::at(5_000);
    let store = Store::open(dir.path(), options(&time)).unwrap();
    let key = store.create_key(&clinic("north")).unwrap();
    let south = store.create_key(&clinic("south")).unwrap();
    let at = |ms| {
        time.set(ms);
        put(&store, "a", "x", key).unwrap().recorded_at_ms
    };
    assert_eq!(
        [at(5_000), at(4_000), at(6_000), at(0)],
        [5_000, 5_000, 6_000, 6_000]
    );
    let other = store
        .append(append("south", vec![entry("a", "x", south)]))
        .wait()
        .unwrap();
    assert_eq!(other.recorded_at_ms, 0, "each ledger has its own time");
    store.drain().unwrap();
    drop(store);
    time.set(1);
    let store = Store::open(dir.path(), options(&time)).unwrap();
    assert_eq!(put(&store, "a", "x", key).unwrap().recorded_at_ms, 6_000);
    store.verify(&clinic("north")).unwrap();
}

/// INVARIANT `own-clinic`: names, streams, keys, requests and entries of one clinic are nothing in another.
#[test]
fn own_clinic() {
    let dir = tempfile::tempdir().unwrap();
    let store = open(dir.path());
    let (north, south) = (clinic("north"), clinic("south"));
    let north_key = store.create_key(&north).unwrap();
    let south_key = store.create_key(&south).unwrap();
    put(&store, "a", "of the north", north_key).unwrap();
    let refused = store
        .append(append("south", vec![entry("a", "x", north_key)]))
        .wait();
    assert_eq!(refused, Err(AppendError::KeyMissing(north_key)));
    assert_eq!(store.stream(&south, &stream("a"), 0, 9).unwrap(), []);
    assert_eq!(store.entries(&south, 0, 9).unwrap(), []);
    assert_eq!(store.streams(&south, None, 9).unwrap(), []);
    assert_eq!(store.head(&south).size, 0);
    let ask = |name: &str, key| {
        let mut append = append(name, vec![entry("a", "x", key)]);
        append.request = Some(request(&store, "ann", "r-1", "x"));
        store.append(append).wait().unwrap()
    };
    assert_eq!(ask("north", north_key).positions, [1]);
    assert_eq!(
        ask("south", south_key),
        rungwise_store::Appended {
            positions: vec![0],
            sequences: vec![0],
            ..ask_shape()
        }
    );
    assert_eq!(store.clinics(), [north, south]);

    fn ask_shape() -> rungwise_store::Appended {
        rungwise_store::Appended {
            positions: Vec::new(),
            sequences: Vec::new(),
            recorded_at_ms: 1_000,
            repeated: None,
        }
    }
}

#[test]
fn streams_are_listed_in_order_and_by_pages() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = open(dir.path());
    let key = store.create_key(&clinic("north")).unwrap();
    for n in [3, 1, 10, 2, 1, 3, 1] {
        put(&store, &format!("e{n}"), "x", key).unwrap();
    }
    for round in 0..2 {
        if round == 1 {
            put(&store, "e15", "only in memory", key).unwrap();
        }
        let page = |after: Option<&str>, limit| {
            let heads = store
                .streams(&clinic("north"), after.map(stream).as_ref(), limit)
                .unwrap();
            heads
                .into_iter()
                .map(|head| format!("{}:{}", head.stream, head.next_sequence))
                .collect::<Vec<_>>()
                .join(" ")
        };
        let extra = if round == 1 { " e15:1" } else { "" };
        assert_eq!(page(None, 99), format!("e1:3 e10:1{extra} e2:1 e3:2"));
        assert_eq!(page(None, 2), "e1:3 e10:1");
        assert_eq!(page(Some("e2"), 99), "e3:2");
        assert_eq!(page(Some("e"), 1), "e1:3");
        assert_eq!(page(Some("e3"), 9), "");
        store = opened_anew(store, dir.path());
    }
}

#[test]
fn watchers_see_the_ledger_grow() {
    let dir = tempfile::tempdir().unwrap();
    let store = open(dir.path());
    let key = store.create_key(&clinic("north")).unwrap();
    let mut sizes = store.subscribe(&clinic("north"));
    assert_eq!(*sizes.borrow_and_update(), 0);
    put(&store, "a", "x", key).unwrap();
    assert!(sizes.has_changed().unwrap());
    assert_eq!(*sizes.borrow_and_update(), 1);
    store
        .append(append(
            "north",
            vec![entry("a", "y", key), entry("b", "z", key)],
        ))
        .wait()
        .unwrap();
    assert_eq!(*sizes.borrow_and_update(), 3);
    assert_eq!(*store.subscribe(&clinic("north")).borrow(), 3);
}

#[tokio::test]
async fn appends_can_be_awaited() {
    let dir = tempfile::tempdir().unwrap();
    let store = open(dir.path());
    let key = store.create_key(&clinic("north")).unwrap();
    assert_eq!(
        store
            .append(append("north", vec![entry("a", "x", key)]))
            .await
            .unwrap()
            .positions,
        [0]
    );
    let none = store.append(append("north", Vec::new())).await;
    assert_eq!(
        none,
        Err(AppendError::Bounds {
            what: "entries",
            found: 0,
            min: 1,
            max: 4_096
        })
    );
}

/// INVARIANT `bounded`: what is too large is refused by name before it is queued.
#[test]
fn bounded() {
    let dir = tempfile::tempdir().unwrap();
    let store = open(dir.path());
    let key = store.create_key(&clinic("north")).unwrap();
    let check = |append, wanted: &str| {
        let Err(AppendError::Bounds { what, .. }) = store.append(append).wait() else {
            panic!("{wanted} was taken")
        };
        assert_eq!(what, wanted);
    };
    let of = |count, bytes| append("north", vec![entry("a", &"x".repeat(bytes), key); count]);
    check(of(4_097, 1), "entries");
    check(of(10, 114_688), "bytes");
    check(of(1, 114_689), "bytes in an entry");
    let mut long = of(1, 1);
    long.request = Some(request(&store, "ann", &"r".repeat(129), "x"));
    check(long.clone(), "bytes in a request id");
    long.request = Some(request(&store, "ann", "", "x"));
    check(long, "bytes in a request id");
    assert_eq!(store.head(&clinic("north")).size, 0);
    store.append(of(9, 114_688)).wait().unwrap();
    store.append(of(4_096, 1)).wait().unwrap();
    store.verify(&clinic("north")).unwrap();
}

#[test]
fn snapshots_are_kept_and_lost_without_harm() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = open(dir.path());
    let north = clinic("north");
    let key = store.create_key(&north).unwrap();
    put(&store, "a", "x", key).unwrap();
    let snapshot = |n: u64, content: &str| Snapshot {
        next_sequence: n,
        content: content.as_bytes().to_vec(),
    };
    assert_eq!(store.snapshot(&north, &stream("a")), None);
    store.put_snapshot(&north, &stream("a"), key, &snapshot(0, "old"));
    store.put_snapshot(&north, &stream("a"), key, &snapshot(1, "new"));
    store.put_snapshot(&north, &stream("b"), key, &snapshot(1, "beyond the stream"));
    for _ in 0..2 {
        assert_eq!(
            store.snapshot(&north, &stream("a")),
            Some(snapshot(1, "new"))
        );
        assert_eq!(store.snapshot(&north, &stream("b")), None);
        store = opened_anew(store, dir.path());
    }
    store.drain().unwrap();
    drop(store);
    let derived = dir.path().join("derived");
    std::fs::remove_dir_all(&derived).unwrap();
    let store = opened_anew(open(dir.path()), dir.path());
    assert_eq!(store.snapshot(&north, &stream("a")), None);
    assert_eq!(contents(&store, "a"), ["x"]);
}

/// INVARIANT `append-only`: every checkpoint extends the last, and a ledger that does not is refused.
#[test]
fn append_only() {
    use rungwise_ledger::checkpoint::open_checkpoint;
    use rungwise_ledger::note::VerifierKey;
    let dir = tempfile::tempdir().unwrap();
    let store = open(dir.path());
    let north = clinic("north");
    let key = store.create_key(&north).unwrap();
    let verifier = VerifierKey::parse(&store.verifier_key(&north).unwrap()).unwrap();
    assert_eq!(verifier.name(), "rungwise.invalid/ledger/north");
    let mut signed = Vec::new();
    for n in 0..3 {
        put(&store, "a", "x", key).unwrap();
        let note = store.checkpoint(&north).unwrap();
        signed.push(open_checkpoint(&note, &verifier).unwrap());
        let kept =
            std::fs::read_to_string(dir.path().join("checkpoints/north.checkpoint")).unwrap();
        assert_eq!(kept, note, "what is given away is what is kept");
        if n == 1 {
            std::thread::sleep(rungwise_store::SIGNATURE_INTERVAL);
        }
    }
    assert_eq!(signed[0].size, 1);
    assert_eq!(signed[1].size, 1, "at most one signature a second");
    assert_eq!(signed[2].size, 3);
    assert_eq!(signed[2], store.head(&north));
    assert_eq!(store.verify(&north).unwrap().checkpoint_size, Some(3));
    // A ledger that was rolled back behind its checkpoint.
    store.drain().unwrap();
    drop(store);
    for part in ["journal", "log"] {
        std::fs::remove_dir_all(dir.path().join(part)).unwrap();
    }
    let refused = Store::open(dir.path(), options(&Time::at(1_000)));
    assert!(
        matches!(refused, Err(OpenError::CheckpointAhead { signed: 3, .. })),
        "{refused:?}"
    );
}

#[test]
fn a_drained_store_reads_and_does_not_write() {
    let dir = tempfile::tempdir().unwrap();
    let store = open(dir.path());
    let key = store.create_key(&clinic("north")).unwrap();
    let waiting: Vec<_> = (0..100)
        .map(|n| store.append(append("north", vec![entry("a", &n.to_string(), key)])))
        .collect();
    assert_eq!(store.state(), State::Serving);
    let mut states = store.state_changes();
    store.drain().unwrap();
    assert!(
        waiting.into_iter().all(|pending| pending.wait().is_ok()),
        "what was queued is finished"
    );
    assert_eq!(
        *states.borrow_and_update(),
        State::Stopped(StopReason::Drained)
    );
    assert_eq!(
        put(&store, "a", "x", key),
        Err(AppendError::Stopped(StopReason::Drained))
    );
    assert_eq!(contents(&store, "a").len(), 100);
    store.drain().unwrap();
}

#[test]
fn a_store_is_opened_once_at_a_time() {
    let dir = tempfile::tempdir().unwrap();
    let _store = open(dir.path());
    assert!(matches!(
        Store::open(dir.path(), options(&Time::at(1))),
        Err(OpenError::InUse(_))
    ));
}

#[test]
fn keys_go_on_opening_entries_under_a_new_epoch() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = open(dir.path());
    let north = clinic("north");
    let keys: Vec<_> = (0..5).map(|_| store.create_key(&north).unwrap()).collect();
    keys.iter()
        .for_each(|key| drop(put(&store, "a", "x", *key).unwrap()));
    let table = |dir: &std::path::Path| std::fs::read(dir.join("keys/north.keys")).unwrap();
    let before = table(dir.path());
    store.renew_epoch(&north).unwrap();
    assert_ne!(table(dir.path()), before);
    keys.iter()
        .for_each(|key| drop(put(&store, "a", "y", *key).unwrap()));
    let later = store.create_key(&north).unwrap();
    put(&store, "a", "z", later).unwrap();
    for _ in 0..2 {
        assert_eq!(contents(&store, "a").len(), 11);
        store = opened_anew(store, dir.path());
    }
    // The old table under the new epoch key opens nothing: it is refused.
    drop(store);
    std::fs::write(dir.path().join("keys/north.keys"), before).unwrap();
    assert!(matches!(
        Store::open(dir.path(), options(&Time::at(1))),
        Err(OpenError::Key(_))
    ));
}
