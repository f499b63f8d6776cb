//! Tests of `crate::admit`.
