//! Tests of `crate::prescription`.
