//! Which requests are remembered, so that none is carried out twice.
//!
//! Names are kept in memory and rows in the log under keys that only grow; what was decided about a request is read from
//! its row.
//!
//! Leaves to others: fingerprints and sealing of answers.

use crate::append::{REQUEST_RETENTION_MS, REQUESTS_RETAINED_MAX};
use crate::log::{Log, LogError, StateRows};
use std::collections::{BTreeMap, VecDeque};

/// Keyed MAC of clinic, caller and request id.
pub(crate) type NameMac = [u8; 32];
/// Key of a request's row.
pub(crate) type RowKey = [u8; 12];

/// The requests remembered.
#[derive(Default)]
pub(crate) struct RequestIndex {
    by_name: BTreeMap<NameMac, RowKey>,
    /// Oldest first: when it landed, its row, its name.
    by_age: VecDeque<(u64, RowKey, NameMac)>,
}

impl RequestIndex {
    /// Loads what the log remembers.
    pub(crate) fn load(log: &Log) -> Result<Self, LogError> {
        let mut index = Self::default();
        for item in log.requests() {
            let (key, row) = item?;
            let request = row.request.ok_or(LogError::Row("requests"))?;
            let name = request
                .id_mac
                .as_slice()
                .try_into()
                .map_err(|_| LogError::Row("requests"))?;
            index.remember(name, key, request.recorded_at_ms);
        }
        Ok(index)
    }

    /// Remembers a request. Remembering it again changes nothing.
    pub(crate) fn remember(&mut self, name: NameMac, key: RowKey, recorded_at_ms: u64) {
        if self.by_name.get(&name) != Some(&key) {
            self.by_name.insert(name, key);
            self.by_age.push_back((recorded_at_ms, key, name));
        }
    }

    /// The row of a request that is remembered.
    pub(crate) fn find(&self, name: &NameMac) -> Option<RowKey> {
        self.by_name.get(name).copied()
    }

    /// Forgets those past the retention, or beyond the bound.
    pub(crate) fn forget_old(&mut self, now_ms: u64, rows: &mut StateRows) {
        let past = now_ms.saturating_sub(REQUEST_RETENTION_MS);
        while let Some((recorded_at_ms, key, name)) = self.by_age.front().copied() {
            if recorded_at_ms >= past && self.by_age.len() <= REQUESTS_RETAINED_MAX {
                break;
            }
            self.by_age.pop_front();
            if self.by_name.get(&name) == Some(&key) {
                self.by_name.remove(&name);
            }
            rows.forget(key);
        }
    }
}
