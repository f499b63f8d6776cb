//! Tests of `crate::recompute`.
