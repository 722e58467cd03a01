//! The native program: reads the command line and files, lets `plan` work, writes what it made.
//!
//! No logic of its own. Exit codes: 0 done; 1 the plan or audit does not hold, or Ctrl-C came
//! before there was a plan (nothing is written then); 2 wrong use or unreadable input. Results go
//! to stdout, progress and errors to stderr.

mod args;
mod audit_command;
mod folder;
mod inspect_command;
mod model_argument;
mod plan_command;
mod project_argument;
mod watch;

use std::process::ExitCode;

/// Done.
const DONE: u8 = 0;
/// The plan or audit does not hold.
const DOES_NOT_HOLD: u8 = 1;
/// Wrong use or unreadable input.
const WRONG_USE: u8 = 2;

fn main() -> ExitCode {
    let matches = match args::command().try_get_matches() {
        Ok(matches) => matches,
        Err(error) => {
            let _ = error.print();
            return ExitCode::from(if error.use_stderr() { WRONG_USE } else { DONE });
        }
    };
    let ended = match matches.subcommand() {
        Some(("plan", m)) => plan_command::run(m),
        Some(("inspect", m)) => inspect_command::run(m),
        Some(("audit", m)) => audit_command::run(m),
        Some((name, _)) => Err(anyhow::anyhow!("{name} is not built yet")),
        None => Err(anyhow::anyhow!("no command given")),
    };
    match ended {
        Ok(holds) => ExitCode::from(if holds { DONE } else { DOES_NOT_HOLD }),
        Err(error) => {
            eprintln!("seamwright: {error:#}");
            ExitCode::from(WRONG_USE)
        }
    }
}
