//! Compiles the stored messages without a system protobuf compiler.
#![allow(
    clippy::disallowed_macros,
    reason = "a build script speaks to cargo by printing"
)]

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../proto");
    let files = [
        "rungwise/ledger/v1/envelope.proto",
        "rungwise/ledger/v1/journal.proto",
    ];
    for file in files {
        println!("cargo:rerun-if-changed={}", root.join(file).display());
    }
    let descriptors = protox::compile(files, [&root])?;
    prost_build::Config::new().compile_fds(descriptors)?;
    Ok(())
}
