//! Proves what `solve` says, filled next.
