//! The command line: commands, options, help with examples, exit codes.
//!
//! Leaves to others: doing what is asked.

use crate::band::args::BandCommand;
use crate::rules::args::RulesCommand;
use clap::{Args, Parser, Subcommand};
use std::net::SocketAddr;
use std::path::PathBuf;

const EXIT_CODES: &str = "\
Exit codes:
  0  done, and the answer is yes
  1  done, and the answer is no: something does not agree, is not sound, or was not found
  2  the command line or the configuration was not understood
  3  it could not be done: a file, a disk, a connection, a server that refused";

/// Decides the next step of exercise rehabilitation from a clinic's own written rules and what was really reported, and
/// keeps a record that can be checked.
///
/// It supports a licensed clinician and replaces none.
#[derive(Parser, Debug)]
#[command(name = "rungwise", version, after_help = EXIT_CODES)]
pub(crate) struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub(crate) command: Command,
}

/// The commands.
#[derive(Subcommand, Debug)]
pub(crate) enum Command {
    /// Watch a real server take an invented patient through a course of care, and check every step of it.
    #[command(after_help = "\
Examples:
  rungwise demo
  rungwise demo --quiet        only the checks at the end

It starts a server on a free port of this machine with a store in a temporary folder, plays a diary to it over gRPC, prints
what was decided on each date and why, then the patient's sheet, then makes every decision again and verifies the ledger.
Exit code 0 means that all of it agreed.")]
    Demo(DemoArgs),
    /// Run the gRPC server.
    #[command(after_help = "\
Examples:
  rungwise serve                                this machine only, store in ./rungwise-store
  rungwise serve --store DIR --listen 127.0.0.1:0
  rungwise serve --config rungwise.toml

It prints `listening on ADDRESS` once it answers, and stops on SIGINT or SIGTERM after the calls in flight are done, or
after the grace period. Without configuration it serves one invented clinic to this machine only.")]
    Serve(ServeArgs),
    /// Read a diary and print the next prescription, without a server.
    #[command(after_help = "\
Examples:
  rungwise next rules/PACK/diaries/DIARY.toml
  rungwise next DIARY.toml --pack DIR --as-of 2026-02-01 --json")]
    Next(NextArgs),
    /// Look at decisions afterwards.
    #[command(subcommand)]
    Audit(AuditCommand),
    /// Look at rule packs.
    #[command(subcommand)]
    Rules(RulesCommand),
    /// Calibrate elastic bands, and see what an exercise with one asks for.
    #[command(subcommand)]
    Band(BandCommand),
}

/// `rungwise demo`.
#[derive(Args, Debug)]
pub(crate) struct DemoArgs {
    /// Print only the checks at the end.
    #[arg(long)]
    pub(crate) quiet: bool,
}

/// `rungwise serve`.
#[derive(Args, Debug)]
pub(crate) struct ServeArgs {
    /// A configuration file (TOML). What the command line says stands above it.
    #[arg(long, value_name = "FILE")]
    pub(crate) config: Option<PathBuf>,
    /// The folder of the store; made if missing. [default: rungwise-store]
    #[arg(long, value_name = "DIR")]
    pub(crate) store: Option<PathBuf>,
    /// Where to listen; port 0 takes a free one. [default: 127.0.0.1:7864]
    #[arg(long, value_name = "ADDRESS")]
    pub(crate) listen: Option<SocketAddr>,
    /// A rule pack's folder; may be given more than once. [default: the packs that came with the program]
    #[arg(long = "pack", value_name = "DIR")]
    pub(crate) packs: Vec<PathBuf>,
    /// The key of somebody who may propose and approve packs, as `rungwise rules key` prints it; two at least. A clinic with
    /// leads takes no packs here. [default: the leads it had before, or none]
    #[arg(long = "lead", value_name = "KEY", conflicts_with = "packs")]
    pub(crate) leads: Vec<String>,
}

/// `rungwise next`.
#[derive(Args, Debug)]
pub(crate) struct NextArgs {
    /// The diary (TOML).
    #[arg(value_name = "FILE")]
    pub(crate) diary: PathBuf,
    /// The rule pack's folder. [default: the pack that the diary stands in, else the pack that came with the program]
    #[arg(long, value_name = "DIR")]
    pub(crate) pack: Option<PathBuf>,
    /// Decide for this date (YYYY-MM-DD). [default: the diary's last date]
    #[arg(long, value_name = "DATE")]
    pub(crate) as_of: Option<String>,
    /// Print JSON.
    #[arg(long)]
    pub(crate) json: bool,
}

/// `rungwise audit …`.
#[derive(Subcommand, Debug)]
pub(crate) enum AuditCommand {
    /// Say why a decision was made: its findings, the values they saw, and their sources.
    #[command(after_help = "\
Examples:
  rungwise audit why clinics/demo/episodes/EPISODE/decisions/4
  rungwise audit why clinics/demo/episodes/EPISODE/decisions/4 --full --server http://127.0.0.1:7864")]
    Why(WhyArgs),
}

/// Which server.
#[derive(Args, Clone, Debug)]
pub(crate) struct ServerArgs {
    /// The server to ask.
    #[arg(
        long,
        value_name = "URL",
        env = "RUNGWISE_SERVER",
        default_value = "http://127.0.0.1:7864"
    )]
    pub(crate) server: String,
}

/// `rungwise audit why`.
#[derive(Args, Debug)]
pub(crate) struct WhyArgs {
    /// The decision's name, `clinics/…/episodes/…/decisions/…`.
    #[arg(value_name = "DECISION")]
    pub(crate) decision: String,
    /// Where.
    #[command(flatten)]
    pub(crate) at: ServerArgs,
    /// Every finding, and not only those that decided.
    #[arg(long)]
    pub(crate) full: bool,
    /// Print JSON.
    #[arg(long)]
    pub(crate) json: bool,
}
