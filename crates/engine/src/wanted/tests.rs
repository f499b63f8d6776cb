//! Tests of `crate::wanted`.
