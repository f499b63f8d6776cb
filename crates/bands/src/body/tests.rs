//! Proves what `body` says, filled next.
