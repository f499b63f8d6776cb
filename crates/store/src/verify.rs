//! Walking a ledger of an open store from its first entry to its last, as an auditor would from an export.
//!
//! Leaves to others: what makes an entry right (`rungwise_ledger::verify`).

use crate::id::{ClinicId, KeyId, StreamId};
use crate::log::LogError;
use crate::shared::{Shared, read};
use rungwise_ledger::tree::{GrowingTree, Head};
use rungwise_ledger::verify::{EntryFault, LedgerVerifier};
use std::collections::BTreeMap;

/// Streams compared at a time with what the index says.
const STREAMS_AT_A_TIME: usize = 1_000;

/// What verifying a ledger found sound.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Verified {
    /// The head that the entries add up to.
    pub head: Head,
    /// How many streams.
    pub streams: u64,
    /// Size of the last signed checkpoint, which the entries extend.
    pub checkpoint_size: Option<u64>,
}

/// What verifying a ledger found wrong.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum VerifyError {
    /// An entry is not what it should be.
    #[error("entry {position}: {what}")]
    Entry {
        /// Leaf index.
        position: u64,
        /// What is wrong.
        what: String,
    },
    /// The entries do not add up to the head or the checkpoint.
    #[error("{0}")]
    Ledger(String),
}

impl From<LogError> for VerifyError {
    fn from(error: LogError) -> Self {
        Self::Ledger(format!("the log cannot be read: {error}"))
    }
}

/// Verifies a ledger as it stands now.
pub(crate) fn verify(shared: &Shared, clinic: &ClinicId) -> Result<Verified, VerifyError> {
    // The checkpoint first: the ledger may grow meanwhile, but is never behind it.
    let checkpoint = shared.checkpoints.last_head(clinic);
    let ledger = read(&shared.ledgers)
        .get(clinic)
        .map(|ledger| (ledger.number, ledger.tree.head()));
    let (number, head) = ledger.unwrap_or_else(|| (u32::MAX, GrowingTree::new().head()));
    let fault = |position: u64| {
        move |fault: EntryFault| VerifyError::Entry {
            position,
            what: fault.to_string(),
        }
    };
    let whole = |fault: EntryFault| VerifyError::Ledger(fault.to_string());
    let heads = checkpoint.into_iter().chain([head]).collect();
    let mut verifier = LedgerVerifier::new(clinic.as_str(), heads).map_err(whole)?;
    let mut rows = shared.log.entries(number, 0);
    for position in 0..head.size {
        let row = rows
            .next()
            .transpose()?
            .filter(|(found, _)| *found == position);
        let Some((_, stored)) = row else {
            return Err(VerifyError::Entry {
                position,
                what: "it is missing".to_owned(),
            });
        };
        let mut key_is_there = false;
        let key = |id: &[u8; 16]| {
            let key = shared.keys.get(clinic, KeyId(*id));
            key_is_there = key.is_some();
            key
        };
        verifier.push(&stored, key).map_err(fault(position))?;
        if !key_is_there {
            return Err(VerifyError::Entry {
                position,
                what: "its key is not in the clinic's table".to_owned(),
            });
        }
    }
    let summary = verifier.finish().map_err(whole)?;
    compare_index(shared, number, &summary.streams)?;
    Ok(Verified {
        head: summary.head,
        streams: summary.streams.len() as u64,
        checkpoint_size: checkpoint.map(|head| head.size),
    })
}

/// The index must know every stream, with at least as many entries: it may have grown meanwhile.
fn compare_index(
    shared: &Shared,
    number: u32,
    streams: &BTreeMap<String, u64>,
) -> Result<(), VerifyError> {
    let mut left = streams.clone();
    let mut after: Option<StreamId> = None;
    loop {
        let heads =
            read(&shared.index).list(&shared.log, number, after.as_ref(), STREAMS_AT_A_TIME)?;
        for head in &heads {
            if left
                .remove(head.stream.as_str())
                .is_some_and(|count| head.next_sequence < count)
            {
                let what = format!(
                    "the index has {} entries of stream `{}`",
                    head.next_sequence, head.stream
                );
                return Err(VerifyError::Ledger(what));
            }
        }
        match heads.into_iter().last() {
            Some(last) => after = Some(last.stream),
            None => break,
        }
    }
    left.pop_first().map_or(Ok(()), |(stream, _)| {
        Err(VerifyError::Ledger(format!(
            "the index does not know stream `{stream}`"
        )))
    })
}
