//! Proves what `motion` says, filled next.
