//! Tests of `crate::sheet`.
