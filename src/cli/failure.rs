//! How a command says that it could not do what was asked, or what a coach should know besides.

use super::output::{Output, wrapped};
use super::{Format, Globals};
use crate::knowledge::{LayerText, Paint, Problem, report_problems, steers};
use serde_json::{Value, json};
use std::io::{IsTerminal, Write};
use std::process::ExitCode;

/// Why a command stopped, worded for the person who typed it.
#[derive(Debug)]
pub enum Failure {
    /// The command line or an observation was not understood; status 2.
    NotUnderstood(String),
    /// It was understood and could not be done; status 1.
    NotDone(String),
    /// A library has these problems; status 1.
    Broken {
        /// All of them.
        problems: Vec<Problem>,
        /// The same as a page, with what came of it.
        page: String,
    },
    /// Whoever read the output has stopped reading; a quiet end.
    ClosedPipe,
}

impl Failure {
    /// Problems of a library, each shown with its line where `layers` hold it.
    pub(crate) fn broken(problems: Vec<Problem>, layers: &[LayerText]) -> Self {
        let page = report_problems(&problems, layers, Paint::Plain);
        Self::Broken { problems, page }
    }

    /// The same with one more line, such as what came of it.
    #[must_use]
    pub(crate) fn and(self, line: &str) -> Self {
        let with = |text: String| format!("{}\n{line}", text.trim_end());
        match self {
            Failure::NotUnderstood(text) => Failure::NotUnderstood(with(text)),
            Failure::NotDone(text) => Failure::NotDone(with(text)),
            Failure::Broken { problems, page } => Failure::Broken {
                problems,
                page: with(page),
            },
            Failure::ClosedPipe => Failure::ClosedPipe,
        }
    }

    /// What is wrong, as text.
    pub(crate) fn text(&self) -> &str {
        match self {
            Failure::NotUnderstood(text) | Failure::NotDone(text) => text,
            Failure::Broken { page, .. } => page,
            Failure::ClosedPipe => "",
        }
    }

    /// Says what is wrong on standard error, as JSON or at a terminal in so many columns, and gives
    /// the exit status.
    #[must_use]
    pub fn report(self, width: usize, as_json: bool) -> ExitCode {
        let code: u8 = match self {
            Failure::NotUnderstood(_) => 2,
            Failure::NotDone(_) | Failure::Broken { .. } => 1,
            Failure::ClosedPipe => return ExitCode::SUCCESS,
        };
        if as_json {
            let mut error = as_value(self.text());
            error["status"] = json!(code);
            if let Failure::Broken { problems, .. } = &self {
                error["message"] = json!(format!("the library has {} problems", problems.len()));
                error["help"] = Value::Null;
                error["problems"] = json!(problems);
            }
            line(&json!({ "error": error }).to_string());
        } else {
            say(self.text(), width);
        }
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

/// Says on standard error what does not stop the answer.
pub(crate) fn notice(text: &str, globals: &Globals) {
    if globals.format == Format::Json {
        line(&json!({ "warning": as_value(text) }).to_string());
    } else {
        say(
            text,
            Output::new(globals, std::io::stderr().is_terminal()).width,
        );
    }
}

/// The words of an error, its help and any more errors behind it, each by itself.
fn as_value(text: &str) -> Value {
    let text = without_numbers(text);
    let mut each = text.trim_end().split("\nerror: ").map(|text| {
        let heads = ["error: ", "warning: ", "note: "];
        let text = heads
            .iter()
            .find_map(|head| text.strip_prefix(head))
            .unwrap_or(text);
        let ends = ["\n  help: ", "\n\n"];
        let end = ends
            .iter()
            .filter_map(|end| Some((text.find(end)?, end.len())));
        let (message, help) = match end.min() {
            Some((at, length)) => (&text[..at], Some(text[at + length..].trim())),
            None => (text, None),
        };
        json!({"message": message.trim(), "help": help})
    });
    let mut first = each.next().unwrap_or_else(|| json!({}));
    let more: Vec<Value> = each.collect();
    if !more.is_empty() {
        first["more"] = json!(more);
    }
    first
}

/// The text with a sign in the place of what a terminal would obey: words and names in it may be a
/// stranger's, and are to be shown, not obeyed.
pub(crate) fn harmless(text: &str) -> String {
    let sign = |c: char| match c {
        '\n' | '\t' => c,
        c if steers(c) => '\u{fffd}',
        c => c,
    };
    text.chars().map(sign).collect()
}

/// The text without the numbers that the system gives to its errors, which help nobody.
fn without_numbers(text: &str) -> String {
    let mut parts = text.split(" (os error ");
    let mut plain = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        let digits = part.trim_start_matches(|c: char| c.is_ascii_digit());
        match digits.strip_prefix(')') {
            Some(rest) => plain.push_str(rest),
            None => plain.extend([" (os error ", part]),
        }
    }
    plain
}

fn say(text: &str, width: usize) {
    let mut text = harmless(without_numbers(text).trim_end());
    if std::io::stderr().is_terminal() {
        let lines = text.lines().map(|line| wrapped(line, width));
        text = lines.collect::<Vec<_>>().join("\n");
    }
    line(&text);
}

fn line(text: &str) {
    // Standard error may be closed too; there is nobody left to tell.
    let _ = writeln!(std::io::stderr(), "{text}");
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_the_system_says_comes_without_its_numbers() {
        let text = "error: a: not there (os error 2)\n  help: (os error or not) b (os error 13)";
        let plain = "error: a: not there\n  help: (os error or not) b";
        assert_eq!(without_numbers(text), plain);
    }

    #[test]
    fn errors_are_taken_apart_for_a_program() {
        let value = as_value("error: no entry\n  help: try\n  more\nerror: other\n");
        assert_eq!(value["message"], "no entry");
        assert_eq!(value["help"], "try\n  more");
        assert_eq!(value["more"][0]["message"], "other");
        let value = as_value("error: unexpected argument\n\nUsage: fairwhy\n");
        assert_eq!(value["message"], "unexpected argument");
        assert_eq!(value["help"], "Usage: fairwhy");
    }
}
