//! Every bound of the service, with its unit. It leaves to others: the store's own bounds.
//!
//! INVARIANT (bounded): nothing that a caller can make grow is without a bound here, in the store or in the engine.

use std::time::Duration;

/// Largest message taken or given, bytes.
pub const MESSAGE_BYTES_MAX: usize = 2 * 1_048_576;
/// Most calls answered at once.
pub const CALLS_MAX: usize = 1_024;
/// Most calls of one clinic answered at once.
pub const CALLS_OF_CLINIC_MAX: usize = 768;
/// Most watches held open at once.
pub const WATCHES_MAX: usize = 256;
/// Most streams of calls on one connection.
pub const STREAMS_OF_CONNECTION_MAX: u32 = 512;
/// Longest that a call may take, whatever deadline it came with.
pub const CALL_TIME_MAX: Duration = Duration::from_secs(30);
/// A call that comes with less time than this is refused before anything is done for it.
pub const CALL_TIME_MIN: Duration = Duration::from_millis(1);
/// How long calls in flight may go on once the server stops.
pub const GRACE_TIME: Duration = Duration::from_secs(10);
/// How often a lost compare-and-append is tried again.
pub const APPEND_TRIES_MAX: u32 = 8;
/// Most facts of one call.
pub const FACTS_MAX: usize = 200;
/// Most entries of one episode's stream.
pub const EPISODE_ENTRIES_MAX: u64 = 50_000;
/// Most memory that episodes read may take, bytes, by estimate.
pub const EPISODES_BYTES_MAX: usize = 24 * 1_048_576;
/// Records that an episode must have gained since its last snapshot before it gets another.
pub const SNAPSHOT_RECORDS_MIN: u64 = 32;
/// Largest episode that gets a snapshot, bytes of content; a larger one is read from its last one on.
pub const SNAPSHOT_BYTES_MAX: usize = 4 * 1_048_576;
/// Most persons whose first opening is on its way; past it one may get a second key, which costs nothing but a slot.
pub const NEW_KEYS_MAX: usize = 4_096;
/// Entries read from the store at a time.
pub const READ_ENTRIES: usize = 256;
/// Entries of a page where the caller says nothing.
pub const PAGE_SIZE_DEFAULT: usize = 50;
/// Most entries of a page.
pub const PAGE_SIZE_MAX: usize = 500;
/// Most episodes or entries looked at for one page.
pub const EXAMINED_MAX: usize = 2_000;
/// Longest request id, bytes.
pub const REQUEST_ID_BYTES_MAX: usize = 64;
/// Longest id of a person, and longest external id, bytes.
pub const ID_BYTES_MAX: usize = 100;
/// Requests of one batch stream that are decided at once.
pub const BATCH_AT_ONCE: usize = 16;
/// Answers that a stream holds before it waits for its reader.
pub const STREAM_BUFFER: usize = 64;
/// Largest part of a pack in one entry, bytes.
pub const PACK_PART_BYTES: usize = 96 * 1_024;
/// Most bytes of a draft's files together: a proposal is appended whole.
pub const DRAFT_BYTES_MAX: usize = 950_000;
/// Drafts checked or compared at once.
pub const CHECKS_AT_ONCE: usize = 1;
/// How often an assessment of a pack's impact tells how far it is, in episodes.
pub const IMPACT_PROGRESS_EPISODES: u64 = 64;
/// Most differences told of one diary.
pub const DIFFERENCES_MAX: usize = 20;
/// Most proposals of a clinic, withdrawn ones too.
pub const PROPOSALS_MAX: usize = 500;
/// Most directives of a whole clinic, lifted ones too.
pub const CLINIC_DIRECTIVES_MAX: usize = 200;
/// Most rolls in a clinic's band catalogue, withdrawn ones too.
pub const ROLLS_MAX: usize = 1_000;
/// How soon to try again after too many calls.
pub const RETRY_BUSY: Duration = Duration::from_millis(100);
/// How soon to try again after others wrote.
pub const RETRY_CONTENDED: Duration = Duration::from_millis(20);
/// How soon to try again while the server stops or its store does not write.
pub const RETRY_UNAVAILABLE: Duration = Duration::from_secs(1);
