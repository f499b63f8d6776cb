//! An append made ready on its caller's thread: bounds checked, contents committed to and sealed, the answer sealed.
//!
//! Leaves to others: whether it lands (`crate::stage`).

use crate::append::{
    APPEND_BYTES_MAX, APPEND_ENTRIES_MAX, Append, AppendError, ENTRY_BYTES_MAX, NewEntry,
    REQUEST_NAME_BYTES_MAX, Request,
};
use crate::id::{ClinicId, KeyId, Kind, StreamId};
use crate::keys::{Keys, random};
use crate::requests::NameMac;
use rungwise_ledger::entry::{Context, SealedContent, seal_content};
use rungwise_ledger::fingerprint;
use rungwise_ledger::seal::{SecretKey, seal, unseal};
use rungwise_ledger::v1::EntryKind;

/// An append as the writer takes it: nothing in it needs a key any more.
pub(crate) struct Sealed {
    pub(crate) clinic: ClinicId,
    pub(crate) expects: Vec<(StreamId, u64)>,
    pub(crate) entries: Vec<SealedEntry>,
    pub(crate) request: Option<SealedRequest>,
    /// Roughly how much is stored of it.
    pub(crate) bytes: usize,
}

/// An entry whose content is sealed.
pub(crate) struct SealedEntry {
    pub(crate) stream: StreamId,
    pub(crate) kind: EntryKind,
    pub(crate) semantics: u32,
    pub(crate) pack_digest: Option<[u8; 32]>,
    pub(crate) key: KeyId,
    pub(crate) content: SealedContent,
}

/// A request whose answer is sealed.
pub(crate) struct SealedRequest {
    pub(crate) request_id: String,
    pub(crate) name: NameMac,
    pub(crate) fingerprint: [u8; 32],
    pub(crate) answer: Vec<u8>,
    pub(crate) key: KeyId,
}

/// The stored kind of a kind.
const fn stored_kind(kind: Kind) -> EntryKind {
    match kind {
        Kind::Open => EntryKind::Open,
        Kind::Close => EntryKind::Close,
        Kind::Fact => EntryKind::Fact,
        Kind::Decision => EntryKind::Decision,
        Kind::Pack => EntryKind::Pack,
        Kind::Directive => EntryKind::Directive,
        Kind::Band => EntryKind::Band,
        Kind::Role => EntryKind::Role,
    }
}

/// The kind of a stored kind; none for the one that is never stored.
pub(crate) const fn kind_of(stored: EntryKind) -> Option<Kind> {
    match stored {
        EntryKind::Unspecified => None,
        EntryKind::Open => Some(Kind::Open),
        EntryKind::Close => Some(Kind::Close),
        EntryKind::Fact => Some(Kind::Fact),
        EntryKind::Decision => Some(Kind::Decision),
        EntryKind::Pack => Some(Kind::Pack),
        EntryKind::Directive => Some(Kind::Directive),
        EntryKind::Band => Some(Kind::Band),
        EntryKind::Role => Some(Kind::Role),
    }
}

fn bounds(what: &'static str, found: usize, min: usize, max: usize) -> Result<(), AppendError> {
    if (min..=max).contains(&found) {
        Ok(())
    } else {
        Err(AppendError::Bounds {
            what,
            found,
            min,
            max,
        })
    }
}

fn random_here<const N: usize>() -> Result<[u8; N], AppendError> {
    random().map_err(|error| AppendError::Random(error.to_string()))
}

/// Makes an append ready.
pub(crate) fn prepare(
    keys: &Keys,
    fingerprint_key: &[u8; 32],
    append: Append,
) -> Result<Sealed, AppendError> {
    // INVARIANT (bounded): what is too large is refused before it is sealed or queued.
    bounds("entries", append.entries.len(), 1, APPEND_ENTRIES_MAX)?;
    bounds(
        "expected streams",
        append.expects.len(),
        0,
        APPEND_ENTRIES_MAX,
    )?;
    let contents: usize = append.entries.iter().map(|entry| entry.content.len()).sum();
    bounds(
        "bytes",
        contents.saturating_add(append.answer.len()),
        0,
        APPEND_BYTES_MAX,
    )?;
    let clinic = append.clinic;
    let request = match (append.request, append.entries.first()) {
        (Some(request), Some(first)) => Some(seal_request(
            keys,
            fingerprint_key,
            &clinic,
            request,
            first.key,
            &append.answer,
        )?),
        _ => None,
    };
    let entries: Result<Vec<_>, _> = append
        .entries
        .into_iter()
        .map(|entry| seal_entry(keys, &clinic, entry))
        .collect();
    let entries = entries?;
    // An envelope takes about 300 bytes beside its content.
    let bytes = entries
        .iter()
        .map(|entry| entry.content.sealed.len().saturating_add(300))
        .sum();
    Ok(Sealed {
        clinic,
        expects: append.expects,
        entries,
        request,
        bytes,
    })
}

fn key_of(keys: &Keys, clinic: &ClinicId, id: KeyId) -> Result<SecretKey, AppendError> {
    // INVARIANT (own-clinic): keys are looked for in the clinic's own table, so another clinic's key does not exist here.
    keys.get(clinic, id).ok_or(AppendError::KeyMissing(id))
}

fn seal_entry(keys: &Keys, clinic: &ClinicId, entry: NewEntry) -> Result<SealedEntry, AppendError> {
    bounds("bytes in an entry", entry.content.len(), 0, ENTRY_BYTES_MAX)?;
    let kind = stored_kind(entry.kind);
    let context = Context {
        clinic: clinic.as_str(),
        stream: entry.stream.as_str(),
        kind,
        key_id: &entry.key.0,
    };
    let key = key_of(keys, clinic, entry.key)?;
    let content = seal_content(
        &key,
        &random_here()?,
        &random_here()?,
        &context,
        &entry.content,
    )
    .map_err(|_| AppendError::Bounds {
        what: "bytes in an entry",
        found: entry.content.len(),
        min: 0,
        max: ENTRY_BYTES_MAX,
    })?;
    Ok(SealedEntry {
        stream: entry.stream,
        kind,
        semantics: entry.semantics,
        pack_digest: entry.pack_digest,
        key: entry.key,
        content,
    })
}

fn answer_context(clinic: &ClinicId, name: &NameMac) -> Vec<u8> {
    [
        b"rungwise answer ".as_slice(),
        name,
        clinic.as_str().as_bytes(),
    ]
    .concat()
}

fn seal_request(
    keys: &Keys,
    fingerprint_key: &[u8; 32],
    clinic: &ClinicId,
    request: Request,
    key: KeyId,
    answer: &[u8],
) -> Result<SealedRequest, AppendError> {
    bounds(
        "bytes in a request id",
        request.request_id.len(),
        1,
        REQUEST_NAME_BYTES_MAX,
    )?;
    bounds(
        "bytes in a caller",
        request.caller.len(),
        0,
        REQUEST_NAME_BYTES_MAX,
    )?;
    let name = fingerprint::request_name(
        fingerprint_key,
        clinic.as_str(),
        &request.caller,
        &request.request_id,
    );
    let secret = key_of(keys, clinic, key)?;
    let sealed = seal(
        &secret,
        &random_here()?,
        &answer_context(clinic, &name),
        answer,
    )
    .map_err(|_| AppendError::Bounds {
        what: "bytes",
        found: answer.len(),
        min: 0,
        max: APPEND_BYTES_MAX,
    })?;
    Ok(SealedRequest {
        request_id: request.request_id,
        name,
        fingerprint: request.fingerprint,
        answer: sealed,
        key,
    })
}

/// Opens the answer given to a request before.
pub(crate) fn open_answer(
    keys: &Keys,
    clinic: &ClinicId,
    name: &NameMac,
    key: KeyId,
    sealed: &[u8],
) -> Result<Vec<u8>, AppendError> {
    let secret = key_of(keys, clinic, key)?;
    unseal(&secret, &answer_context(clinic, name), sealed).map_err(|_| AppendError::KeyMissing(key))
}
