//! The journal: the commit point. Preallocated segment files, one record a batch, one sync a record.
//!
//! Leaves to others: what is in a record (`crate::stage`), what becomes of it (`crate::apply`).

mod disk;

pub use disk::{Disk, RealDisk, SegmentFile};
