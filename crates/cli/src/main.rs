//! The `rungwise` program.
fn main() {}
