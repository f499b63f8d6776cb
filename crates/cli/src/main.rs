//! The `rungwise` program: parses the command line, builds the parts, prints what they answer, and ends with a code.
//!
//! Leaves to others: everything that is decided, kept or served. No rule and no word of a pack is known here.

mod args;
mod audit;
mod band;
mod config;
mod demo;
mod failure;
mod input;
mod next;
mod rules;
mod screen;
mod serve;

use args::{AuditCommand, Cli, Command};
use clap::Parser as _;
use failure::Failure;
use screen::Screen;
use std::process::ExitCode;

/// Whether what was asked turned out well: the answer is yes, or no.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Answer {
    /// Done, and everything agrees.
    Yes,
    /// Done, and something does not.
    No,
}

fn main() -> ExitCode {
    let cli = Cli::parse();
    let mut screen = Screen::standard();
    match run(cli, &mut screen) {
        Ok(Answer::Yes) => ExitCode::SUCCESS,
        Ok(Answer::No) => ExitCode::from(1),
        Err(failure) => {
            screen.complain(&failure);
            ExitCode::from(failure.exit_code())
        }
    }
}

fn run(cli: Cli, screen: &mut Screen) -> Result<Answer, Failure> {
    match cli.command {
        Command::Next(args) => next::run(&args, screen),
        Command::Band(command) => band::run(&command, screen),
        Command::Rules(command) => rules::run(&command, screen),
        Command::Demo(args) => demo::run(&args, screen),
        Command::Serve(args) => serve::run(&args, screen),
        Command::Audit(AuditCommand::Why(args)) => audit::why(&args, screen),
    }
}
