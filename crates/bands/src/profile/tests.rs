//! Proves what `profile` says, filled next.
