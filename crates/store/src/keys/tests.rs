//! Key tables: keys come back, in their clinic only; slots never finished and renewals cut short do no harm; a wrong epoch
//! key is refused.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a failing set-up should stop the test"
)]

use super::*;

struct Place {
    dir: tempfile::TempDir,
    clinic: ClinicId,
}

impl Place {
    fn new() -> Self {
        Self {
            dir: tempfile::tempdir().unwrap(),
            clinic: ClinicId::new("north").unwrap(),
        }
    }

    fn open(&self) -> Result<Keys, KeyError> {
        Keys::open(
            &self.dir.path().join("keys"),
            &self.dir.path().join("epoch"),
        )
    }

    fn table(&self) -> PathBuf {
        self.dir.path().join("keys/north.keys")
    }

    fn epoch(&self, ending: &str) -> PathBuf {
        self.dir.path().join(format!("epoch/north.{ending}"))
    }

    fn secret(&self, keys: &Keys, id: KeyId) -> Option<[u8; 32]> {
        keys.get(&self.clinic, id).map(|key| *key.expose())
    }
}

#[test]
fn keys_come_back_and_differ() {
    let place = Place::new();
    let keys = place.open().unwrap();
    let ids: Vec<_> = (0..20)
        .map(|_| keys.create(&place.clinic).unwrap())
        .collect();
    keys.sync(&place.clinic).unwrap();
    let secrets: Vec<_> = ids
        .iter()
        .map(|id| place.secret(&keys, *id).unwrap())
        .collect();
    assert!((1..20).all(|n| secrets[n] != secrets[0]));
    let again = place.open().unwrap();
    assert!(
        ids.iter()
            .zip(&secrets)
            .all(|(id, secret)| place.secret(&again, *id) == Some(*secret))
    );
    assert_eq!(place.secret(&again, KeyId([0; 16])), None);
    assert!(
        again
            .get(&ClinicId::new("south").unwrap(), ids[0])
            .is_none()
    );
    let file = fs::read(place.table()).unwrap();
    assert!(
        secrets
            .iter()
            .all(|secret| !file.windows(32).any(|part| part == secret)),
        "a key in clear"
    );
}

#[test]
fn a_slot_never_finished_is_passed_over_and_written_over() {
    let place = Place::new();
    let keys = place.open().unwrap();
    let (first, second) = (
        keys.create(&place.clinic).unwrap(),
        keys.create(&place.clinic).unwrap(),
    );
    let whole = fs::read(place.table()).unwrap();
    for cut in [1, 50, SLOT_BYTES - 1] {
        fs::write(place.table(), &whole[..whole.len() - cut]).unwrap();
        let keys = place.open().unwrap();
        assert!(place.secret(&keys, first).is_some() && place.secret(&keys, second).is_none());
        let third = keys.create(&place.clinic).unwrap();
        let keys = place.open().unwrap();
        assert!(place.secret(&keys, first).is_some() && place.secret(&keys, third).is_some());
    }
}

#[test]
fn a_renewal_cut_short_at_any_step_leaves_keys_that_open() {
    let place = Place::new();
    let keys = place.open().unwrap();
    let id = keys.create(&place.clinic).unwrap();
    let secret = place.secret(&keys, id);
    let (old_table, old_epoch) = (
        fs::read(place.table()).unwrap(),
        fs::read(place.epoch("epoch")).unwrap(),
    );
    keys.renew_epoch(&place.clinic).unwrap();
    assert_eq!(place.secret(&keys, id), secret);
    let (table, epoch) = (
        fs::read(place.table()).unwrap(),
        fs::read(place.epoch("epoch")).unwrap(),
    );
    assert!(table != old_table && epoch != old_epoch);
    let check = |table: &[u8], current: &[u8], what: &str| {
        fs::write(place.table(), table).unwrap();
        fs::write(place.epoch("epoch"), current).unwrap();
        fs::write(place.epoch("pending"), &epoch).unwrap();
        assert_eq!(place.secret(&place.open().unwrap(), id), secret, "{what}");
    };
    check(&old_table, &old_epoch, "the new key is written");
    check(&table, &old_epoch, "the table is replaced");
    check(&table, &[0; EPOCH_BYTES], "the old key is wiped");
    fs::write(place.table(), &old_table).unwrap();
    assert!(
        matches!(place.open(), Err(KeyError::EpochMissing { .. })),
        "the old table opens no more"
    );
}

#[test]
fn damage_and_missing_epochs_are_named() {
    let place = Place::new();
    let id = place.open().unwrap().create(&place.clinic).unwrap();
    let whole = fs::read(place.table()).unwrap();
    for at in 0..HEADER_BYTES {
        let mut flipped = whole.clone();
        flipped[at] ^= 1;
        fs::write(place.table(), flipped).unwrap();
        assert!(place.open().is_err(), "byte {at}");
    }
    for at in HEADER_BYTES..whole.len() {
        let mut flipped = whole.clone();
        flipped[at] ^= 1;
        fs::write(place.table(), flipped).unwrap();
        assert_eq!(
            place.secret(&place.open().unwrap(), id),
            None,
            "byte {at}: no key rather than a wrong one"
        );
    }
    fs::write(place.table(), &whole[..10]).unwrap();
    assert!(matches!(place.open(), Err(KeyError::Damaged { .. })));
    fs::write(place.table(), &whole).unwrap();
    fs::remove_file(place.epoch("epoch")).unwrap();
    assert!(matches!(place.open(), Err(KeyError::EpochMissing { .. })));
}
