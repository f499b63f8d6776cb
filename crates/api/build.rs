//! Compiles the proto files without a protobuf compiler on the machine: messages, services and the descriptors that
//! reflection hands out. It leaves everything else to the crate.

use prost::Message as _;
use std::error::Error;
use std::path::{Path, PathBuf};
use std::{env, fs};

const FILES: [&str; 14] = [
    "rungwise/v1/audit_service.proto",
    "rungwise/v1/band_service.proto",
    "rungwise/v1/decision.proto",
    "rungwise/v1/dose.proto",
    "rungwise/v1/episode_service.proto",
    "rungwise/v1/explanation.proto",
    "rungwise/v1/fact.proto",
    "rungwise/v1/pack_impact.proto",
    "rungwise/v1/pack_life.proto",
    "rungwise/v1/prescription.proto",
    "rungwise/v1/prescription_service.proto",
    "rungwise/v1/reading.proto",
    "rungwise/v1/reason.proto",
    "rungwise/v1/rule_pack_service.proto",
];
const CONTENT: &str = "rungwise/ledger/v1/content.proto";

fn main() -> Result<(), Box<dyn Error>> {
    let proto = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../proto");
    println!("cargo::rerun-if-changed={}", proto.display());
    let out = PathBuf::from(env::var("OUT_DIR")?);

    let contract = protox::compile(FILES, [&proto])?;
    fs::write(out.join("contract.binpb"), contract.encode_to_vec())?;
    tonic_prost_build::configure().compile_fds(contract)?;

    let content = protox::compile([CONTENT], [&proto])?;
    tonic_prost_build::configure()
        .build_client(false)
        .build_server(false)
        .compile_fds(content)?;
    Ok(())
}
