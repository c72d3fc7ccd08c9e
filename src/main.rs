//! The `bindpoint` command: parses, calls, and ends with the status.

mod commands;

use bindpoint::findings::Status;
use std::process::ExitCode;

fn main() -> ExitCode {
    let command_line: commands::Cli = match commands::parse() {
        Ok(command_line) => command_line,
        Err(status) => return status,
    };
    let status = match commands::run(&command_line) {
        Ok(status) => status,
        Err(report) => {
            commands::show(&report);
            Status::NotChecked
        }
    };
    ExitCode::from(status as u8)
}
