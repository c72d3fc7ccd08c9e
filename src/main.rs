//! The `bindpoint` command: parses, calls, and ends with the status.

mod commands;

use bindpoint::findings::Status;
use clap::Parser;
use std::process::ExitCode;

fn main() -> ExitCode {
    let status = match commands::run(&commands::Cli::parse()) {
        Ok(status) => status,
        Err(report) => {
            commands::show(&report);
            Status::NotChecked
        }
    };
    ExitCode::from(status as u8)
}
