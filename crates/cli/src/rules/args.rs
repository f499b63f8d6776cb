//! What `rungwise rules` takes on the command line.
//!
//! Leaves to others: doing what is asked.

mod leads;

pub(crate) use leads::*;

use clap::{Args, Subcommand};
use rungwise_rehearsal::cohort::{PEOPLE_MAX, WEEKS_MAX};
use std::path::PathBuf;

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
    /// Print what a rule pack says, to read aloud, and draw it for a wall.
    ///
    /// The phases with their rules, what holds in every phase, who is sent to a doctor, and every line with its
    /// exercises and their ladders. Drawn sheets are A3 across, black on white.
    #[command(after_help = "\
Examples:
  rungwise rules chart rules/PACK
  rungwise rules chart rules/PACK --svg wall.svg     also draws wall-1.svg, wall-2.svg, …
  rungwise rules chart rules/PACK --language fr      exercises and limits in the pack's French

Exit codes:
  0  printed, and drawn where that was asked
  2  the command line was not understood, or the pack has no such language
  3  the folder could not be read, the pack is not sound, or a file could not be written")]
    Chart(ChartArgs),
    /// Begin a rule pack: a small sound one with a diary, to change line by line.
    ///
    /// Its numbers are placeholders and say so. Beside it goes a folder `.schema`, by which editors that know JSON Schema
    /// complete keys and mark mistakes.
    #[command(after_help = "\
Examples:
  rungwise rules new rules/my-pack --id my-pack --title \"What it is for\"

Exit codes:
  0  written
  2  the command line was not understood
  3  the folder holds something already, could not be written, or the pack would not be sound")]
    New(NewArgs),
    /// Write the JSON Schemas of a pack's files into a folder.
    ///
    /// An editor finds one by a first line such as `#:schema PATH/phases.json`. What a schema accepts may still be wrong:
    /// `rungwise rules check` judges.
    #[command(after_help = "\
Examples:
  rungwise rules schema rules/my-pack/.schema

Exit codes:
  0  written
  2  the command line was not understood
  3  the folder could not be written, or a file of that name is something else")]
    Schema(SchemaArgs),
    /// Play many invented people under a rule pack and say what becomes of them.
    ///
    /// A simulation of invented people, not evidence: what comes of it is as good as the model, every number of which is
    /// assumed (`--assumptions`) and can be changed (`--model`). Decisions are the engine's own. The same seed gives the
    /// same people under every pack, so `--against` compares two packs person by person. Uses all cores; the answer is the
    /// same on one.
    #[command(after_help = "\
Examples:
  rungwise rules cohort rules/PACK
  rungwise rules cohort rules/PACK --against rules/PACK-next --report compared.html
  rungwise rules cohort --assumptions
  rungwise rules cohort rules/PACK --people 1000 --weeks 52 --seed 7 --model clinic.toml

Exit codes:
  0  the people were played
  2  the command line or the model was not understood
  3  a folder could not be read, a pack is not sound, or a file could not be written")]
    Cohort(CohortArgs),
    /// Say what a pack would change for the people who are there.
    ///
    /// Every past decision is made once more under it, from the history that was recorded before it; and everybody with a
    /// prescription is decided for today under both packs. The server finds it, on all cores but one.
    #[command(after_help = "\
Examples:
  rungwise rules impact rules/PACK
  rungwise rules impact --newer clinics/demo/proposals/12 --list 100
  rungwise rules impact rules/PACK --out changes.csv        every change, as it is found

Exit codes:
  0  nobody is decided bolder, in the past or today
  1  somebody is
  2  the command line was not understood
  3  a file could not be read or written, the pack has an error, or the server refused")]
    Impact(ImpactArgs),
    /// List the packs that were ever in force, oldest first, by the names that go back to them.
    Packs(PacksArgs),
    /// Make a lead's signing key.
    #[command(after_help = "\
Examples:
  rungwise rules key lead-one lead-one.key

The key's file can be read by its owner alone. What is printed is the public half: name it as `leads` in the server's
configuration, or after `rungwise serve --lead`. Whoever has the file can sign in that person's name.")]
    Key(KeyArgs),
    /// Propose a pack, to be in force once another lead approves it.
    ///
    /// The pack is checked, proved and rehearsed here, and again by the server; what is not ready is not proposed.
    #[command(after_help = "\
Examples:
  rungwise rules propose rules/PACK --key lead-one.key --why 'less pain allowed at first'
  rungwise rules propose rules/PACK --key lead-one.key --why WHY --from 2026-05-01 --for new
  rungwise rules propose --back clinics/demo/packs/DIGEST --key lead-one.key --why 'back to the version before'

Exit codes:
  0  it stands proposed
  1  it is not ready; what was found is printed
  2  the command line was not understood, or the key is none
  3  a file could not be read, or the server refused")]
    Propose(ProposeArgs),
    /// List proposals, or show one with what it changes.
    #[command(after_help = "\
Examples:
  rungwise rules proposals
  rungwise rules proposals clinics/demo/proposals/12
  rungwise rules proposals clinics/demo/proposals/12 --save FOLDER      write the proposed pack's files")]
    Proposals(ProposalsArgs),
    /// Approve another lead's proposal, after showing what it changes.
    ///
    /// The pack is fetched, and what is signed is the digest of what was fetched and shown.
    #[command(after_help = "\
Examples:
  rungwise rules approve clinics/demo/proposals/12 --key lead-two.key --why 'read and rehearsed'

Exit codes:
  0  it is approved
  1  what was fetched is not sound, or not what stands proposed; nothing was signed
  2  the command line was not understood, or the key is none
  3  the server refused")]
    Approve(AnswerArgs),
    /// Withdraw a proposal that is open, or approved for a date still to come.
    Withdraw(AnswerArgs),
    /// Bind every episode with a cautious directive, at once.
    #[command(after_help = "\
Examples:
  rungwise rules direct hold --key lead-one.key --why 'bands of one delivery snap'
  rungwise rules direct leave-out --pack PACK EXERCISE --key lead-one.key --why WHY --until 2026-05-01
  rungwise rules direct cap --pack PACK --exercise EXERCISE load 2.5 --key lead-one.key --why WHY")]
    Direct(DirectArgs),
    /// Lift a directive of the whole clinic.
    Lift(LiftArgs),
    /// List the directives of the whole clinic.
    Directives(DirectivesArgs),
}

/// `rungwise rules new`.
#[derive(Args, Debug)]
pub(crate) struct NewArgs {
    /// A folder that is not there yet, or holds nothing.
    #[arg(value_name = "DIR")]
    pub(crate) folder: PathBuf,
    /// The pack's identity: small letters, digits and hyphens. Its later versions keep it.
    #[arg(long, value_name = "ID")]
    pub(crate) id: Option<String>,
    /// One line for people.
    #[arg(long, value_name = "TEXT")]
    pub(crate) title: Option<String>,
}

/// `rungwise rules schema`.
#[derive(Args, Debug)]
pub(crate) struct SchemaArgs {
    /// The folder, which is made where it is not there.
    #[arg(value_name = "DIR")]
    pub(crate) folder: PathBuf,
}

/// `rungwise rules chart`.
#[derive(Args, Debug)]
pub(crate) struct ChartArgs {
    /// The rule pack's folder.
    #[arg(value_name = "DIR")]
    pub(crate) pack: PathBuf,
    /// Draw it too: one sheet into this file, several into files numbered after it.
    #[arg(long, value_name = "FILE")]
    pub(crate) svg: Option<PathBuf>,
    /// The language of what patients read, such as `en`; the pack's own where none is given.
    #[arg(long, value_name = "LANGUAGE")]
    pub(crate) language: Option<String>,
}

/// `rungwise rules cohort`.
#[derive(Args, Debug)]
pub(crate) struct CohortArgs {
    /// The rule pack's folder.
    #[arg(value_name = "DIR", required_unless_present = "assumptions")]
    pub(crate) pack: Option<PathBuf>,
    /// Play the same people under this pack too, and say what differs.
    #[arg(long, value_name = "DIR", requires = "pack")]
    pub(crate) against: Option<PathBuf>,
    /// How many people.
    #[arg(long, value_name = "N", default_value_t = 10_000, value_parser = clap::value_parser!(u64).range(1..=PEOPLE_MAX))]
    pub(crate) people: u64,
    /// For how many weeks.
    #[arg(long, value_name = "N", default_value_t = 26, value_parser = clap::value_parser!(u32).range(1..=i64::from(WEEKS_MAX)))]
    pub(crate) weeks: u32,
    /// Which people: the same number gives the same ones.
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(crate) seed: u64,
    /// Take the numbers of the model that this TOML file names from it.
    #[arg(long, value_name = "FILE")]
    pub(crate) model: Option<PathBuf>,
    /// Print every number of the model with its range and what it stands for, and play nobody.
    #[arg(long, conflicts_with_all = ["against", "report"])]
    pub(crate) assumptions: bool,
    /// Write a page with charts, which opens without a network, into a file that does not exist.
    #[arg(long, value_name = "FILE")]
    pub(crate) report: Option<PathBuf>,
    /// Use so many cores; all, unless it is said.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub(crate) cores: Option<u16>,
    /// Print JSON.
    #[arg(long)]
    pub(crate) json: bool,
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
