//! `waterseam`: arguments in, calls, exit status out.

mod args;
mod commands;
mod output;

use clap::Parser;

use crate::args::{Arguments, Command};
use crate::output::{Output, Status, WrongUsage};

fn main() -> std::process::ExitCode {
    let arguments = Arguments::parse();
    let mut out = Output::new(arguments.quiet);
    let done = match arguments.command {
        Command::Process(args) => commands::process::run(&args, &mut out),
        Command::Inspect(args) => commands::inspect::run(&args, &mut out),
        Command::Summary(args) => commands::summary::run(&args, &mut out),
        Command::Hotspots(args) => commands::hotspots::run(&args, &mut out),
        Command::Plan(args) => commands::plan::run(&args, &mut out),
        Command::Report(args) => commands::report::run(&args, &mut out),
        Command::Export(args) => commands::export::run(&args, &mut out),
        Command::Rundepth(args) => commands::rundepth::run(&args, &mut out),
        Command::Verify(args) => commands::verify::run(&args, &mut out),
        Command::Compact(args) => commands::compact::run(&args, &mut out),
        Command::Forget(args) => commands::forget::run(&args, &mut out),
        Command::Demo(args) => commands::demo::run(&args, &mut out),
    };
    match done {
        Ok(status) => status.into(),
        Err(error) => {
            out.failure(&error);
            if error.is::<WrongUsage>() { Status::WrongUsage.into() } else { Status::Failed.into() }
        }
    }
}
