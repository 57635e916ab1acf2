//! Starts the command line.

use std::io;
use std::process::ExitCode;

use beamyard::cli::{Screen, run};

fn main() -> ExitCode {
    let (mut out, mut notes) = (io::stdout(), io::stderr());
    let mut screen = Screen::standard(&mut out, &mut notes);
    ExitCode::from(run(std::env::args_os(), &mut screen))
}
