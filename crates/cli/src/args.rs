//! The command line: commands, options, help with examples, exit codes.
//!
//! Leaves to others: doing what is asked.

use crate::band::args::BandCommand;
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

/// `rungwise audit why`.
#[derive(Args, Debug)]
pub(crate) struct WhyArgs {
    /// The decision's name, `clinics/…/episodes/…/decisions/…`.
    #[arg(value_name = "DECISION")]
    pub(crate) decision: String,
    /// The server to ask.
    #[arg(long, value_name = "URL", default_value = "http://127.0.0.1:7864")]
    pub(crate) server: String,
    /// Every finding, and not only those that decided.
    #[arg(long)]
    pub(crate) full: bool,
    /// Print JSON.
    #[arg(long)]
    pub(crate) json: bool,
}

/// `rungwise rules …`.
#[derive(Subcommand, Debug)]
pub(crate) enum RulesCommand {
    /// Check a rule pack and print everything that is wrong with it.
    ///
    /// Beside what cannot be understood, looks for what a sound pack should not do: sentences that are always or never
    /// met, rules that exclude each other, a phase that nobody comes to. What is said of sentences is proved for every
    /// course; that the best course comes through is shown by playing it.
    #[command(after_help = "\
Examples:
  rungwise rules check rules/PACK
  rungwise rules check rules/PACK --json
  rungwise rules check rules/PACK --outside
  rungwise rules check --explain RW0401

Exit codes:
  0  the pack may come into force (it may have warnings), or the code was explained
  1  the pack has an error
  2  the command line was not understood, or there is no such code
  3  the folder could not be read")]
    Check(CheckArgs),
    /// Play the pack's diaries and say where a decision is not the one expected.
    #[command(after_help = "\
Examples:
  rungwise rules rehearse rules/PACK
  rungwise rules rehearse rules/PACK --accept        write what was decided into the diaries
  rungwise rules rehearse rules/PACK --coverage      sentences that no diary has seen met, not met or unknown
  rungwise rules rehearse rules/PACK --mutate        numbers that could be one step off and no diary would say so

A sentence is covered when decisions of the diaries saw it met, not met, and unknown. On dates, events and decisions alone,
or on what a session need not carry, it cannot be unknown and need not be. A number is pinned when some diary is no longer as
expected with a step of its measure up in its place, and some with one down. Steps that the checker refuses do not count. A
need that asks what its climb rule asks already is read only where it is met: it need only be seen met, and asking less of it
counts neither way.

Exit codes:
  0  every decision is as expected (with --accept: is now), and nothing was refused; with --coverage every sentence is
     covered, with --mutate every number is pinned
  1  something is not
  2  the command line was not understood
  3  a file could not be read or written, or the pack has an error")]
    Rehearse(RehearseArgs),
    /// Compare two versions of a rule pack.
    ///
    /// Tells what the newer loosens, what it tightens and what it only says otherwise, in the pack's own sentences;
    /// what becomes of the doses in force; and whether it is proved that the newer is never bolder. Where that is not
    /// proved, looks for a course of care on which it is.
    #[command(after_help = "\
Examples:
  rungwise rules compare rules/PACK rules/PACK-next
  rungwise rules compare rules/PACK rules/PACK-next --course bolder.toml
  rungwise rules compare rules/PACK rules/PACK-next --json

Exit codes:
  0  the newer pack is proved never to be bolder than the older
  1  it is bolder on some course, or that could not be decided
  2  the command line was not understood
  3  a folder could not be read, a pack is not sound, or a file could not be written")]
    Compare(CompareArgs),
}

/// `rungwise rules compare`.
#[derive(Args, Debug)]
pub(crate) struct CompareArgs {
    /// The folder of the version in force.
    #[arg(value_name = "OLD")]
    pub(crate) old: PathBuf,
    /// The folder of the version to come.
    #[arg(value_name = "NEW")]
    pub(crate) new: PathBuf,
    /// Write the course on which the newer is bolder as a diary into a file that does not exist.
    #[arg(long, value_name = "FILE")]
    pub(crate) course: Option<PathBuf>,
    /// Print JSON.
    #[arg(long)]
    pub(crate) json: bool,
}

/// `rungwise rules check`.
#[derive(Args, Debug)]
pub(crate) struct CheckArgs {
    /// The rule pack's folder.
    #[arg(value_name = "DIR", required_unless_present = "explain")]
    pub(crate) pack: Option<PathBuf>,
    /// Print the page of a diagnostic code: what it means, what is refused and what is accepted.
    #[arg(long, value_name = "CODE", conflicts_with = "pack")]
    pub(crate) explain: Option<String>,
    /// List the sentences that read a reference, for which the theorems are not proved of the reference.
    #[arg(long, conflicts_with = "explain")]
    pub(crate) outside: bool,
    /// Write the best course, where it stops, as a diary into a file that does not exist.
    #[arg(long, value_name = "FILE", conflicts_with = "explain")]
    pub(crate) course: Option<PathBuf>,
    /// Print JSON.
    #[arg(long)]
    pub(crate) json: bool,
}

/// `rungwise rules rehearse`.
#[derive(Args, Debug)]
pub(crate) struct RehearseArgs {
    /// The rule pack's folder, with its diaries in `diaries`.
    #[arg(value_name = "DIR")]
    pub(crate) pack: PathBuf,
    /// After showing what differs, write what was decided into the diaries. Comments stay.
    #[arg(long)]
    pub(crate) accept: bool,
    /// Say which sentences no diary has seen met, not met or unknown.
    #[arg(long)]
    pub(crate) coverage: bool,
    /// Move every number by one step each way, and say which steps no diary notices. Uses all cores.
    #[arg(long)]
    pub(crate) mutate: bool,
    /// Print JSON.
    #[arg(long)]
    pub(crate) json: bool,
}
