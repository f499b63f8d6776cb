//! The one thread that writes: it takes what waits, commits it with one sync, applies it, and only then answers. On a
//! cadence it syncs the log, so that journal segments can go.
//!
//! An error here is fatal: nothing more is written, and everyone who waits is told. After a failed sync nothing is read
//! back and carried on with; the store is opened anew and recovers.
//!
//! Leaves to others: whether an append lands (`crate::stage`).

use crate::append::{AppendError, Appended};
use crate::apply::{ApplyError, apply};
use crate::files::FileError;
use crate::id::ClinicId;
use crate::journal::{Journal, Mark};
use crate::log::{LogError, LogFiles, StateRows};
use crate::options::Clock;
use crate::seal::Sealed;
use crate::shared::{Shared, read, write};
use crate::stage::{Outcome, Stage};
use crate::state::{State, StopReason};
use prost::Message;
use rungwise_ledger::v1::LedgerRow;
use std::collections::BTreeSet;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError};
use std::time::{Duration, Instant};
use tokio::sync::oneshot;

/// Most appends in a batch.
pub(crate) const BATCH_APPENDS_MAX: usize = 512;
/// No append is added to a batch of this size, bytes.
const BATCH_BYTES: usize = 1_048_576;
/// After how many entries, and how long after the first of them, the log is synced.
const SYNC_ENTRIES: usize = 1_024;
const SYNC_INTERVAL: Duration = Duration::from_millis(500);

/// What the writer is asked.
pub(crate) enum Job {
    /// Append this, and answer there.
    Append(Box<Sealed>, oneshot::Sender<Result<Appended, AppendError>>),
    /// Finish what is queued, sync, and end.
    Drain,
}

/// Why the writer stopped.
#[derive(Debug, thiserror::Error)]
enum WriteError {
    #[error("{0}")]
    File(#[from] FileError),
    #[error("{0}")]
    Log(#[from] LogError),
    #[error("{0}")]
    Apply(#[from] ApplyError),
}

/// The writing thread's own state.
pub(crate) struct Writer {
    shared: Arc<Shared>,
    clock: Clock,
    journal: Journal,
    files: LogFiles,
    queue: Receiver<Job>,
    queued_bytes: Arc<AtomicUsize>,
    /// Up to where the log is durable.
    synced: Mark,
    /// Up to where the log says it is durable.
    marked: Mark,
    unsynced_entries: usize,
    unsynced_since: Option<Instant>,
}

type Waiting = (oneshot::Sender<Result<Appended, AppendError>>, Outcome);

impl Writer {
    /// A writer that goes on where recovery ended; the log says it is durable up to `marked`.
    pub(crate) fn new(
        shared: Arc<Shared>,
        clock: Clock,
        journal: Journal,
        files: LogFiles,
        queue: Receiver<Job>,
        queued_bytes: Arc<AtomicUsize>,
        marked: Mark,
    ) -> Self {
        let unsynced_since = (journal.mark() != marked).then(Instant::now);
        Self {
            shared,
            clock,
            journal,
            files,
            queue,
            queued_bytes,
            synced: marked,
            marked,
            unsynced_entries: 0,
            unsynced_since,
        }
    }

    /// Writes until it is drained or cannot.
    pub(crate) fn run(mut self) {
        let ended = catch_unwind(AssertUnwindSafe(|| self.write_until_drained()));
        let reason = match ended {
            Ok(Ok(())) => StopReason::Drained,
            Ok(Err(error)) => StopReason::Failed(error.to_string()),
            Err(_) => StopReason::Failed("the writer panicked".to_owned()),
        };
        self.shared
            .state
            .send_replace(State::Stopped(reason.clone()));
        while let Ok(job) = self.queue.try_recv() {
            if let Job::Append(_, answer) = job {
                // Who does not wait any more is not told.
                let _ = answer.send(Err(AppendError::Stopped(reason.clone())));
            }
        }
    }

    fn write_until_drained(&mut self) -> Result<(), WriteError> {
        loop {
            let job = match self.due_in() {
                None => self
                    .queue
                    .recv()
                    .map_err(|_| RecvTimeoutError::Disconnected),
                Some(wait) => self.queue.recv_timeout(wait),
            };
            match job {
                Ok(Job::Append(sealed, answer)) => {
                    if self.write_batch(*sealed, answer)? {
                        return self.finish();
                    }
                }
                Ok(Job::Drain) | Err(RecvTimeoutError::Disconnected) => return self.finish(),
                Err(RecvTimeoutError::Timeout) => {}
            }
            if self.due_in().is_some_and(|wait| wait.is_zero()) {
                self.sync_log()?;
            }
        }
    }

    /// How long until the log is to be synced; none when it is.
    fn due_in(&self) -> Option<Duration> {
        if self.unsynced_entries >= SYNC_ENTRIES {
            return Some(Duration::ZERO);
        }
        self.unsynced_since
            .map(|since| SYNC_INTERVAL.saturating_sub(since.elapsed()))
    }

    /// Takes what waits, never waiting for more, and commits it. True when it is to end.
    fn write_batch(
        &mut self,
        first: Sealed,
        answer: oneshot::Sender<Result<Appended, AppendError>>,
    ) -> Result<bool, WriteError> {
        let mut jobs = vec![(first, answer)];
        let mut bytes: usize = jobs.iter().map(|(sealed, _)| sealed.bytes).sum();
        let mut drain = false;
        while jobs.len() < BATCH_APPENDS_MAX && bytes < BATCH_BYTES {
            match self.queue.try_recv() {
                Ok(Job::Append(sealed, answer)) => {
                    bytes = bytes.saturating_add(sealed.bytes);
                    jobs.push((*sealed, answer));
                }
                Ok(Job::Drain) => {
                    drain = true;
                    break;
                }
                Err(_) => break,
            }
        }
        self.queued_bytes.fetch_sub(bytes, Ordering::Relaxed);
        self.commit(jobs)?;
        Ok(drain)
    }

    fn commit(
        &mut self,
        jobs: Vec<(Sealed, oneshot::Sender<Result<Appended, AppendError>>)>,
    ) -> Result<(), WriteError> {
        let clinics: BTreeSet<ClinicId> = jobs
            .iter()
            .map(|(sealed, _)| sealed.clinic.clone())
            .collect();
        let shared = Arc::clone(&self.shared);
        let mut stage = Stage::new(&shared, (self.clock)());
        let mut waiting: Vec<Waiting> = Vec::with_capacity(jobs.len());
        let mut failed = None;
        for (sealed, answer) in jobs {
            match stage.add(sealed) {
                Ok(outcome) => waiting.push((answer, outcome)),
                Err(error) => {
                    waiting.push((answer, Outcome::Refused(AppendError::Overloaded)));
                    failed = Some(error);
                    break;
                }
            }
        }
        let done = match failed {
            Some(error) => Err(WriteError::from(error)),
            None => stage
                .finish()
                .map_or(Ok(()), |batch| self.make_durable(&clinics, batch)),
        };
        if let Err(error) = &done {
            let reason = StopReason::Failed(error.to_string());
            // Announced before anyone is answered: who is told of it finds the store stopped.
            self.shared
                .state
                .send_replace(State::Stopped(reason.clone()));
            for (answer, _) in waiting {
                let _ = answer.send(Err(AppendError::Stopped(reason.clone())));
            }
            return done;
        }
        // INVARIANT (record-first): only now, after the sync, is anyone answered.
        for (answer, outcome) in waiting {
            let result = match outcome {
                Outcome::Landed(appended) => Ok(appended),
                Outcome::Repeated(result) => result,
                Outcome::Refused(error) => Err(error),
            };
            let _ = answer.send(result);
        }
        done
    }

    fn make_durable(
        &mut self,
        clinics: &BTreeSet<ClinicId>,
        batch: rungwise_ledger::v1::JournalBatch,
    ) -> Result<(), WriteError> {
        for clinic in clinics {
            self.shared.keys.sync(clinic)?;
        }
        let entries: usize = batch
            .appends
            .iter()
            .map(|append| append.entries.len())
            .sum();
        let mark = self.journal.commit(&batch.encode_to_vec())?;
        apply(&self.shared, mark, batch)?;
        self.unsynced_entries = self.unsynced_entries.saturating_add(entries);
        self.unsynced_since.get_or_insert_with(Instant::now);
        Ok(())
    }

    /// Makes the log durable up to the last batch, and says in it up to where it was made durable the time before. What it
    /// says is therefore never more than what is.
    fn sync_log(&mut self) -> Result<(), WriteError> {
        let applied = self.journal.mark();
        let mut rows = StateRows::default();
        let mut unwritten = Vec::new();
        for (clinic, ledger) in read(&self.shared.ledgers)
            .iter()
            .filter(|(_, ledger)| ledger.unwritten)
        {
            let row = LedgerRow {
                clinic: clinic.to_string(),
                size: ledger.tree.size(),
                edge: ledger
                    .tree
                    .edge()
                    .iter()
                    .map(|hash| hash.to_vec())
                    .collect(),
                recorded_at_ms: ledger.recorded_at_ms,
            };
            rows.ledger(ledger.number, &row);
            unwritten.push(clinic.clone());
        }
        read(&self.shared.index).unwritten(&mut rows);
        write(&self.shared.requests).forget_old((self.clock)(), &mut rows);
        rows.mark(self.synced);
        self.shared.log.write_state(rows)?;
        write(&self.shared.index).written();
        let mut ledgers = write(&self.shared.ledgers);
        for clinic in unwritten {
            if let Some(ledger) = ledgers.get_mut(&clinic) {
                ledger.unwritten = false;
            }
        }
        drop(ledgers);
        self.shared.log.flush()?;
        self.files.sync()?;
        self.marked = self.synced;
        self.synced = applied;
        self.journal.recycle(self.marked.batch)?;
        self.shared.derived.write_waiting();
        self.unsynced_entries = 0;
        self.unsynced_since = (self.marked != applied).then(Instant::now);
        Ok(())
    }

    /// Commits what is still queued, and syncs until the log says all of it is durable.
    fn finish(&mut self) -> Result<(), WriteError> {
        while let Ok(job) = self.queue.try_recv() {
            if let Job::Append(sealed, answer) = job {
                self.queued_bytes.fetch_sub(sealed.bytes, Ordering::Relaxed);
                self.commit(vec![(*sealed, answer)])?;
            }
        }
        while self.marked != self.journal.mark() {
            self.sync_log()?;
        }
        self.shared.derived.write_waiting();
        Ok(())
    }
}
