//! Tests of `crate::explain`.
