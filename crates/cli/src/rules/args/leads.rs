//! What the commands of leads take on the command line: those that ask a server, and those that sign.
//!
//! Leaves to others: doing what is asked.

use crate::args::ServerArgs;
use clap::{Args, Subcommand};
use std::path::PathBuf;

/// `rungwise rules impact`.
#[derive(Args, Debug)]
pub(crate) struct ImpactArgs {
    /// The rule pack's folder.
    #[arg(
        value_name = "DIR",
        required_unless_present = "newer",
        conflicts_with = "newer"
    )]
    pub(crate) pack: Option<PathBuf>,
    /// A pack or a proposal kept by the server, by its name.
    #[arg(long, value_name = "NAME")]
    pub(crate) newer: Option<String>,
    /// Decide for this date (YYYY-MM-DD). [default: today in UTC]
    #[arg(long, value_name = "DATE")]
    pub(crate) as_of: Option<String>,
    /// How many changes of each direction to print.
    #[arg(long, value_name = "N", default_value_t = 10)]
    pub(crate) list: usize,
    /// Write every change into a file (CSV) that does not exist.
    #[arg(long, value_name = "FILE")]
    pub(crate) out: Option<PathBuf>,
    /// Print JSON.
    #[arg(long)]
    pub(crate) json: bool,
    /// Whose people.
    #[command(flatten)]
    pub(crate) of: ClinicArgs,
    /// Where.
    #[command(flatten)]
    pub(crate) at: ServerArgs,
}

/// Which clinic of a server.
#[derive(Args, Clone, Debug)]
pub(crate) struct ClinicArgs {
    /// The clinic, by id.
    #[arg(long, value_name = "ID", default_value = rungwise_server::DEMO_CLINIC)]
    pub(crate) clinic: String,
}

/// What a lead's step needs.
#[derive(Args, Clone, Debug)]
pub(crate) struct StepArgs {
    /// The lead's key, as `rungwise rules key` made it.
    #[arg(long, value_name = "FILE")]
    pub(crate) key: PathBuf,
    /// Why, in one line. It is signed and kept.
    #[arg(long, value_name = "TEXT")]
    pub(crate) why: String,
    /// Where.
    #[command(flatten)]
    pub(crate) at: ServerArgs,
}

/// `rungwise rules key`.
#[derive(Args, Debug)]
pub(crate) struct KeyArgs {
    /// The lead's name, as it will stand in the record: a stable id of the clinic's, without spaces or plus signs.
    #[arg(value_name = "NAME")]
    pub(crate) name: String,
    /// Where to write the key; a file that does not exist.
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,
}

/// Which episodes come under a pack.
#[derive(Clone, Copy, PartialEq, Eq, Debug, clap::ValueEnum)]
pub(crate) enum For {
    /// All, at once.
    All,
    /// New ones, those not begun, and others from their next change of phase on.
    NextPhase,
    /// New ones only.
    New,
}

/// `rungwise rules propose`.
#[derive(Args, Debug)]
pub(crate) struct ProposeArgs {
    /// The rule pack's folder.
    #[arg(
        value_name = "DIR",
        required_unless_present = "back",
        conflicts_with = "back"
    )]
    pub(crate) pack: Option<PathBuf>,
    /// A pack that was in force before, by its name.
    #[arg(long, value_name = "PACK")]
    pub(crate) back: Option<String>,
    /// Decide by it for this date (YYYY-MM-DD) and later. [default: whatever is decided after its approval]
    #[arg(long, value_name = "DATE")]
    pub(crate) from: Option<String>,
    /// Which episodes come under it.
    #[arg(long = "for", value_name = "WHICH", default_value = "next-phase")]
    pub(crate) for_episodes: For,
    /// Whose pack it is to be.
    #[command(flatten)]
    pub(crate) of: ClinicArgs,
    /// The step.
    #[command(flatten)]
    pub(crate) step: StepArgs,
}

/// `rungwise rules proposals`.
#[derive(Args, Debug)]
pub(crate) struct ProposalsArgs {
    /// One proposal, by its name.
    #[arg(value_name = "PROPOSAL")]
    pub(crate) proposal: Option<String>,
    /// Write its pack's files into a folder that does not exist.
    #[arg(long, value_name = "DIR", requires = "proposal")]
    pub(crate) save: Option<PathBuf>,
    /// Whose proposals.
    #[command(flatten)]
    pub(crate) of: ClinicArgs,
    /// Where.
    #[command(flatten)]
    pub(crate) at: ServerArgs,
}

/// `rungwise rules approve` and `withdraw`.
#[derive(Args, Debug)]
pub(crate) struct AnswerArgs {
    /// The proposal, by its name.
    #[arg(value_name = "PROPOSAL")]
    pub(crate) proposal: String,
    /// The step.
    #[command(flatten)]
    pub(crate) step: StepArgs,
}

/// What a directive of the whole clinic orders.
#[derive(Subcommand, Clone, Debug)]
pub(crate) enum OrderArgs {
    /// Nothing goes up.
    Hold(BindArgs),
    /// Nothing is prescribed; places are kept.
    Pause(BindArgs),
    /// An exercise is not prescribed.
    LeaveOut {
        /// Its key.
        #[arg(value_name = "EXERCISE")]
        exercise: String,
        /// The rest.
        #[command(flatten)]
        bind: BindArgs,
    },
    /// A dose is at most a value.
    Cap {
        /// The variable, such as `load` or `reps`.
        #[arg(value_name = "VARIABLE")]
        variable: String,
        /// The highest value allowed: a number, or one of the ladder's labels.
        #[arg(value_name = "VALUE")]
        value: String,
        /// The exercise, by its key. [default: every one]
        #[arg(long, value_name = "EXERCISE")]
        exercise: Option<String>,
        /// The rest.
        #[command(flatten)]
        bind: BindArgs,
    },
}

/// Whom a directive of the whole clinic binds, and how long.
#[derive(Args, Clone, Debug)]
pub(crate) struct BindArgs {
    /// The pack whose episodes it binds, by id; required where an exercise or a dose is named. [default: every pack]
    #[arg(long, value_name = "ID")]
    pub(crate) pack: Option<String>,
    /// The date from which it binds (YYYY-MM-DD). [default: today in UTC]
    #[arg(long, value_name = "DATE")]
    pub(crate) date: Option<String>,
    /// The last date on which it binds. [default: until it is lifted]
    #[arg(long, value_name = "DATE")]
    pub(crate) until: Option<String>,
    /// Which clinic.
    #[command(flatten)]
    pub(crate) of: ClinicArgs,
    /// The step.
    #[command(flatten)]
    pub(crate) step: StepArgs,
}

/// `rungwise rules direct`.
#[derive(Args, Debug)]
pub(crate) struct DirectArgs {
    /// What it orders.
    #[command(subcommand)]
    pub(crate) order: OrderArgs,
}

/// `rungwise rules lift`.
#[derive(Args, Debug)]
pub(crate) struct LiftArgs {
    /// The directive, by its name.
    #[arg(value_name = "DIRECTIVE")]
    pub(crate) directive: String,
    /// The date from which it no longer binds (YYYY-MM-DD). [default: today in UTC]
    #[arg(long, value_name = "DATE")]
    pub(crate) date: Option<String>,
    /// The step.
    #[command(flatten)]
    pub(crate) step: StepArgs,
}

/// `rungwise rules packs`.
#[derive(Args, Debug)]
pub(crate) struct PacksArgs {
    /// Whose packs.
    #[command(flatten)]
    pub(crate) of: ClinicArgs,
    /// Where.
    #[command(flatten)]
    pub(crate) at: ServerArgs,
}

/// `rungwise rules directives`.
#[derive(Args, Debug)]
pub(crate) struct DirectivesArgs {
    /// Those lifted too.
    #[arg(long)]
    pub(crate) lifted: bool,
    /// Whose directives.
    #[command(flatten)]
    pub(crate) of: ClinicArgs,
    /// Where.
    #[command(flatten)]
    pub(crate) at: ServerArgs,
}
