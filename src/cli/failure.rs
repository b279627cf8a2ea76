//! How a command says that it could not do what was asked.

use super::output::wrapped;
use crate::knowledge::steers;
use std::io::{IsTerminal, Write};
use std::process::ExitCode;

/// Why a command stopped, worded for the person who typed it.
#[derive(Debug)]
pub enum Failure {
    /// The command line or an observation was not understood; status 2.
    NotUnderstood(String),
    /// It was understood and could not be done; status 1.
    NotDone(String),
    /// Whoever read the output has stopped reading; a quiet end.
    ClosedPipe,
}

impl Failure {
    /// Says what is wrong on standard error, at a terminal in so many columns, and gives the exit
    /// status.
    #[must_use]
    pub fn report(self, width: usize) -> ExitCode {
        let (code, text) = match self {
            Failure::NotUnderstood(text) => (2, text),
            Failure::NotDone(text) => (1, text),
            Failure::ClosedPipe => return ExitCode::SUCCESS,
        };
        // Words and names in it may be a stranger's, and are to be shown, not obeyed.
        let sign = |c: char| match c {
            '\n' | '\t' => c,
            c if steers(c) => '\u{fffd}',
            c => c,
        };
        let mut text: String = text.trim_end().chars().map(sign).collect();
        if std::io::stderr().is_terminal() {
            let lines = text.lines().map(|line| wrapped(line, width));
            text = lines.collect::<Vec<_>>().join("\n");
        }
        // Standard error may be closed too; there is nobody left to tell.
        let _ = writeln!(std::io::stderr(), "{text}");
        ExitCode::from(code)
    }
}

impl From<std::io::Error> for Failure {
    fn from(error: std::io::Error) -> Self {
        if error.kind() == std::io::ErrorKind::BrokenPipe {
            Failure::ClosedPipe
        } else {
            Failure::NotDone(format!("error: the answer could not be written: {error}"))
        }
    }
}
