//! The calls: each reads its request, asks the service, and answers.
//!
//! Leaves to others: everything that more than one call does.

mod audit;
mod bands;
mod clinic_directives;
mod drafts;
mod episodes;
mod impact;
mod lists;
mod open;
mod packs;
mod prescriptions;
mod proposals;
mod watch;

pub(crate) use audit::Audit;
pub(crate) use bands::Bands;
pub(crate) use episodes::Episodes;
pub(crate) use packs::Packs;
pub(crate) use prescriptions::Prescriptions;
