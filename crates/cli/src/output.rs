//! Results on stdout, talk on stderr, one place for each.

use std::io::{self, IsTerminal, Write};
use std::process::ExitCode;
use std::time::Duration;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use waterseam_units::show::printable;

/// How a command ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Status {
    /// Done.
    Done,
    /// A failure that was explained.
    Failed,
    /// Arguments that make no sense.
    WrongUsage,
}

/// Arguments that make no sense, and what would be right.
#[derive(Debug)]
pub struct WrongUsage(pub String);

impl std::fmt::Display for WrongUsage {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for WrongUsage {}

impl From<Status> for ExitCode {
    fn from(status: Status) -> Self {
        match status {
            Status::Done => Self::SUCCESS,
            Status::Failed => Self::from(1),
            Status::WrongUsage => Self::from(2),
        }
    }
}

/// A text with its lines, in which nothing steers the terminal: names of files and notes come from anywhere.
fn harmless(text: &str) -> String {
    text.split('\n').map(printable).collect::<Vec<_>>().join("\n")
}

/// Where a command writes.
pub struct Output {
    quiet: bool,
    results: io::Stdout,
    talk: io::Stderr,
}

impl Output {
    /// Talk is left out when `quiet`; results and failures never are.
    pub fn new(quiet: bool) -> Self {
        Self { quiet, results: io::stdout(), talk: io::stderr() }
    }

    /// A result. A closed pipe (`| head`) is no failure.
    ///
    /// # Errors
    /// Where stdout cannot be written.
    pub fn result(&mut self, text: &str) -> anyhow::Result<()> {
        match self.results.write_all(harmless(text).as_bytes()) {
            Err(error) if error.kind() != io::ErrorKind::BrokenPipe => Err(error.into()),
            _ => Ok(()),
        }
    }

    /// A remark beside the result.
    pub fn say(&mut self, text: &str) {
        if !self.quiet {
            let _ = writeln!(self.talk, "{}", harmless(text));
        }
    }

    /// Something the captain must know, also when quiet.
    pub fn warn(&mut self, text: &str) {
        let _ = writeln!(self.talk, "warning: {}", harmless(text));
    }

    /// Why nothing came of it, each cause once.
    pub fn failure(&mut self, error: &anyhow::Error) {
        let mut text = format!("error: {error}");
        for cause in error.chain().skip(1).map(ToString::to_string) {
            if !text.contains(&cause) {
                text.push_str("\n  because: ");
                text.push_str(&cause);
            }
        }
        let _ = writeln!(self.talk, "{}", harmless(&text));
    }

    /// A bar over `length` steps: on a terminal only, and only for what takes longer than a second.
    pub fn progress(&self, length: u64) -> ProgressBar {
        if self.quiet || !io::stderr().is_terminal() {
            return ProgressBar::hidden();
        }
        let bar = ProgressBar::with_draw_target(Some(length), ProgressDrawTarget::hidden());
        if let Ok(style) = ProgressStyle::with_template("{wide_bar} {pos} of {len} files") {
            bar.set_style(style);
        }
        let late = bar.clone();
        std::thread::spawn(move || {
            std::thread::sleep(Duration::from_secs(1));
            if !late.is_finished() {
                late.set_draw_target(ProgressDrawTarget::stderr());
            }
        });
        bar
    }
}
