//! The `lengthwise` command.

use std::process::ExitCode;

fn main() -> ExitCode {
    lengthwise::cli::run(std::env::args_os())
}
