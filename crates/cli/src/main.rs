//! The command line: one file a verb, thin over the engine.
//!
//! Reads files, knows the clock and the time zone, prints. Computes nothing.

mod args;
mod csv;
mod fail;
mod ics;
mod input;
mod out;
mod plot;
mod progress;
mod table;
mod verb;
mod when;

use args::{Args, Command};
use clap::{CommandFactory, Parser};
use fail::Failure;
use std::process::ExitCode;

fn main() -> ExitCode {
    let args = Args::parse();
    let done = match &args.command {
        Command::Formula(a) => verb::formula::run(a),
        Command::Water(a) => verb::water::run(a),
        Command::Ferment(a) => verb::ferment::run(a),
        Command::Bake(a) => verb::bake::run(a),
        Command::Plan(a) => verb::plan::run(a),
        Command::Travel(a) => verb::travel::run(a),
        Command::Label(a) => verb::label::run(a),
        Command::Cost(a) => verb::cost::run(a),
        Command::Shop(a) => verb::shop::run(a),
        Command::Import(a) => verb::import::run(a),
        Command::Serve(a) => verb::serve::run(a),
        Command::Notebook(a) => verb::notebook::run(a),
        Command::Completions { shell } => {
            completions(*shell);
            Ok(())
        }
        Command::Man => man(),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => failure.report(),
    }
}

fn completions(shell: clap_complete::Shell) {
    clap_complete::generate(shell, &mut Args::command(), "grigne", &mut std::io::stdout());
}

/// The manual: the command's own page, then one a verb.
fn man() -> Result<(), Failure> {
    let mut page = Vec::new();
    let command = Args::command();
    let mut render = |c: clap::Command| clap_mangen::Man::new(c).render(&mut page);
    render(command.clone()).map_err(|e| Failure::write("the manual", &e))?;
    for sub in command.get_subcommands() {
        let name: &'static str = format!("grigne-{}", sub.get_name()).leak();
        render(sub.clone().name(name)).map_err(|e| Failure::write("the manual", &e))?;
    }
    out::bytes(&page, None)
}
