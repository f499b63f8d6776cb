//! Opening a store: its parts are compared, and what the log lacks is applied from the journal through the normal path.
//!
//! What contradicts itself is not guessed about: opening is refused, both sides are named, and nothing is changed.
//!
//! Leaves to others: rebuilding a damaged log from a mirror or a backup.

use crate::apply::{ApplyError, apply};
use crate::checkpoints::{CheckpointError, Checkpoints};
use crate::derived::Derived;
use crate::files::{About, FileError, make_dir};
use crate::id::{ClinicId, IdError};
use crate::index::StreamIndex;
use crate::journal::{End, Journal, JournalError, Mark, Record, is_there, scan};
use crate::keys::{KeyError, Keys};
use crate::log::{Log, LogError, LogFiles};
use crate::options::StoreOptions;
use crate::requests::RequestIndex;
use crate::secrets::{SecretError, Secrets};
use crate::shared::{Ledger, Shared, read};
use crate::state::State;
use prost::Message;
use rungwise_ledger::tree::GrowingTree;
use rungwise_ledger::v1::JournalBatch;
use std::collections::BTreeMap;
use std::fs::{File, OpenOptions, TryLockError};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, RwLock};
use std::thread;
use std::time::Duration;
use tokio::sync::watch;

/// How often the store's own lock is tried, and how long apart.
const LOCK_TRIES: u32 = 20;
const LOCK_WAIT: Duration = Duration::from_millis(50);
/// Smallest segment, bytes.
const SEGMENT_BYTES_MIN: u64 = 65_536;

/// Why a store could not be opened. Nothing was changed by trying, but for what a crash left unfinished.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// Another process has it open.
    #[error("the store `{0}` is open in another process")]
    InUse(PathBuf),
    /// An option is out of range.
    #[error(
        "segments of {0} bytes: a multiple of 4096, at least 65536, at most 268435456, is needed"
    )]
    SegmentBytes(u64),
    /// A file could not be read or written.
    #[error("the store cannot be read: {0}")]
    File(#[from] FileError),
    /// The journal is damaged.
    #[error(transparent)]
    Journal(#[from] JournalError),
    /// The log is damaged.
    #[error("the log is damaged or cannot be read: {0}; rebuild it from a mirror or a backup")]
    Log(#[from] LogError),
    /// A key table is damaged.
    #[error(transparent)]
    Key(#[from] KeyError),
    /// A secret of the store is missing or damaged.
    #[error(transparent)]
    Secret(#[from] SecretError),
    /// A kept checkpoint is not accepted.
    #[error(transparent)]
    Checkpoint(#[from] CheckpointError),
    /// A name in the log is none.
    #[error("the log names a ledger: {0}")]
    Name(#[from] IdError),
    /// There is no journal, though there was one.
    #[error("the journal `{journal}` is missing, but {other}")]
    JournalMissing {
        /// Where the journal should be.
        journal: PathBuf,
        /// What shows that there was one.
        other: String,
    },
    /// The journal ends before what was acknowledged.
    #[error("the journal `{journal}` ends with batch {last_batch}, but {other}")]
    JournalShort {
        /// The journal.
        journal: PathBuf,
        /// Its last batch.
        last_batch: u64,
        /// What goes further.
        other: String,
    },
    /// The log lacks batches that the journal has no more.
    #[error(
        "the log `{log}` stands at batch {log_batch}, but the journal begins with batch {first_batch}; rebuild the log from a mirror or a backup"
    )]
    LogBehind {
        /// The log.
        log: PathBuf,
        /// Where it stands.
        log_batch: u64,
        /// First batch of the journal.
        first_batch: u64,
    },
    /// Journal and log are of different pasts.
    #[error(
        "the log `{log}` and the journal `{journal}` have different batches {batch}: they are not of one store"
    )]
    Diverged {
        /// The log.
        log: PathBuf,
        /// The journal.
        journal: PathBuf,
        /// The batch.
        batch: u64,
    },
    /// The ledger is not what a signed checkpoint says.
    #[error("a checkpoint of `{clinic}` was signed at {signed} entries, but {found}")]
    CheckpointAhead {
        /// The ledger.
        clinic: ClinicId,
        /// Size that was signed.
        signed: u64,
        /// What there is.
        found: String,
    },
    /// A record of the journal does not decode.
    #[error("batch {0} of the journal does not decode")]
    Batch(u64),
    /// A batch of the journal could not be applied.
    #[error("the journal cannot be applied: {0}")]
    Apply(#[from] ApplyError),
    /// The writer could not be started.
    #[error("the writer cannot be started: {0}")]
    Thread(std::io::Error),
}

/// A store recovered, ready to be written.
pub(crate) struct Opened {
    pub(crate) shared: Shared,
    pub(crate) journal: Journal,
    pub(crate) files: LogFiles,
    pub(crate) marked: Mark,
    pub(crate) lock: File,
}

/// Opens and recovers.
pub(crate) fn open(dir: &Path, options: &StoreOptions) -> Result<Opened, OpenError> {
    let segment_bytes = options.segment_bytes;
    if !segment_bytes.is_multiple_of(4_096)
        || !(SEGMENT_BYTES_MIN..=268_435_456).contains(&segment_bytes)
    {
        return Err(OpenError::SegmentBytes(segment_bytes));
    }
    make_dir(dir)?;
    let lock = take_lock(dir)?;
    let paths = Paths {
        journal: dir.join("journal"),
        log: dir.join("log"),
    };
    make_dir(&paths.journal)?;
    // Whether there is a journal is found before anything else is made.
    let is_new = !is_there(&paths.journal)?;
    let secrets = Secrets::open(&dir.join("secrets"), is_new)?;
    let epoch_dir = options
        .epoch_key_dir
        .clone()
        .unwrap_or_else(|| dir.join("epoch"));
    let keys = Keys::open(&dir.join("keys"), &epoch_dir)?;
    let checkpoints = Checkpoints::open(
        &dir.join("checkpoints"),
        &options.origin,
        secrets.signing.clone(),
    )?;
    let log = Log::open(&paths.log, options.log_cache_bytes)?;
    let marked = log.mark()?;
    let shared = Shared {
        ledgers: RwLock::new(load_ledgers(&log)?),
        requests: RwLock::new(RequestIndex::load(&log)?),
        log,
        derived: Derived::open(&dir.join("derived"))?,
        keys,
        secrets,
        checkpoints,
        index: RwLock::new(StreamIndex::default()),
        sizes: Mutex::new(BTreeMap::new()),
        state: watch::channel(State::Serving).0,
    };
    let end = replay(&shared, &paths, marked)?;
    let last = compare(&shared, &paths, end.as_ref(), marked)?;
    let disk = std::sync::Arc::clone(&options.disk);
    let journal = match end {
        None => Journal::create(&paths.journal, disk, segment_bytes)?,
        Some(end) => Journal::resume(&paths.journal, disk, segment_bytes, end, last)?,
    };
    let files = LogFiles::open(&paths.log)?;
    Ok(Opened {
        shared,
        journal,
        files,
        marked,
        lock,
    })
}

struct Paths {
    journal: PathBuf,
    log: PathBuf,
}

fn take_lock(dir: &Path) -> Result<File, OpenError> {
    let path = dir.join("lock");
    let file = OpenOptions::new()
        .write(true)
        .create(true)
        .truncate(false)
        .open(&path)
        .about(&path)?;
    for _ in 0..LOCK_TRIES {
        match file.try_lock() {
            Ok(()) => return Ok(file),
            Err(TryLockError::WouldBlock) => thread::sleep(LOCK_WAIT),
            Err(TryLockError::Error(cause)) => return Err(FileError { path, cause }.into()),
        }
    }
    Err(OpenError::InUse(dir.to_owned()))
}

fn load_ledgers(log: &Log) -> Result<BTreeMap<ClinicId, Ledger>, OpenError> {
    let mut ledgers = BTreeMap::new();
    for (number, row) in log.ledgers()? {
        let edge: Result<Vec<[u8; 32]>, _> =
            row.edge.into_iter().map(<[u8; 32]>::try_from).collect();
        let edge = edge.map_err(|_| LogError::Row("ledgers"))?;
        let tree = GrowingTree::from_edge(row.size, edge).map_err(|_| LogError::Row("ledgers"))?;
        let ledger = Ledger {
            number,
            tree,
            recorded_at_ms: row.recorded_at_ms,
            unwritten: false,
        };
        ledgers.insert(ClinicId::new(row.clinic)?, ledger);
    }
    Ok(ledgers)
}

/// Applies what the journal has and the log was not durable with, checking where the two meet.
fn replay(shared: &Shared, paths: &Paths, marked: Mark) -> Result<Option<End>, OpenError> {
    let diverged = |batch| OpenError::Diverged {
        log: paths.log.clone(),
        journal: paths.journal.clone(),
        batch,
    };
    let mut is_first = true;
    scan(&paths.journal, |record: &Record<'_>| {
        if is_first && record.previous.batch > marked.batch {
            let (log, log_batch, first_batch) =
                (paths.log.clone(), marked.batch, record.mark.batch);
            return Err(OpenError::LogBehind {
                log,
                log_batch,
                first_batch,
            });
        }
        is_first = false;
        for mark in [record.previous, record.mark] {
            if mark.batch == marked.batch && mark.hash != marked.hash {
                return Err(diverged(mark.batch));
            }
        }
        if record.mark.batch > marked.batch {
            let batch = JournalBatch::decode(record.body)
                .map_err(|_| OpenError::Batch(record.mark.batch))?;
            apply(shared, record.mark, batch)?;
        }
        Ok(())
    })
}

/// Compares where the journal ends with the log and the signed checkpoints; gives the last batch.
fn compare(
    shared: &Shared,
    paths: &Paths,
    end: Option<&End>,
    marked: Mark,
) -> Result<Mark, OpenError> {
    let last = end.and_then(|end| end.mark).unwrap_or(Mark::START);
    let short = |other: String| {
        let journal = paths.journal.clone();
        if end.is_some() {
            OpenError::JournalShort {
                journal,
                last_batch: last.batch,
                other,
            }
        } else {
            OpenError::JournalMissing { journal, other }
        }
    };
    let log_path = paths.log.display();
    if last.batch < marked.batch {
        return Err(short(format!(
            "the log `{log_path}` stands at batch {}",
            marked.batch
        )));
    }
    let ledgers = read(&shared.ledgers);
    let mut next_number = 0;
    for (clinic, ledger) in ledgers.iter() {
        let size = ledger.tree.size();
        next_number = next_number.max(ledger.number.saturating_add(1));
        if let Some(beyond) = shared.log.entries(ledger.number, size).next().transpose()? {
            let (position, _) = beyond;
            return Err(short(format!(
                "the log `{log_path}` has entry {position} of `{clinic}`, whose size is {size}"
            )));
        }
        if size > 0
            && shared
                .log
                .entry(ledger.number, size.saturating_sub(1))?
                .is_none()
        {
            return Err(LogError::Row("entries").into());
        }
    }
    if shared.log.entries(next_number, 0).next().is_some() {
        return Err(short(format!(
            "the log `{log_path}` has entries of a further ledger"
        )));
    }
    for (clinic, signed) in shared.checkpoints.heads() {
        let head = ledgers
            .get(&clinic)
            .map_or_else(|| GrowingTree::new().head(), |ledger| ledger.tree.head());
        let found = if head.size < signed.size {
            format!(
                "the journal `{}` leads to {} entries",
                paths.journal.display(),
                head.size
            )
        } else if head.size == signed.size && head.root != signed.root {
            "its entries lead to another root".to_owned()
        } else {
            continue;
        };
        return Err(OpenError::CheckpointAhead {
            clinic,
            signed: signed.size,
            found,
        });
    }
    Ok(last)
}
