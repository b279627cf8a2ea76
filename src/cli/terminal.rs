//! Somebody at a terminal who can be asked.

use super::output::wrapped;
use crate::authoring::Respondent;
use serde_json::Value;
use std::fs;
use std::io::{BufRead, IsTerminal, Write};
use std::path::{Path, PathBuf};

/// Questions on standard error, so that what is printed can still be sent elsewhere.
pub(crate) struct Terminal {
    width: usize,
    /// Where answers are kept until they are saved.
    kept: Option<PathBuf>,
    /// Whether there is nobody left to answer.
    ended: bool,
}

impl Terminal {
    /// One that fits into so many columns.
    pub fn new(width: usize) -> Self {
        Self {
            width,
            kept: None,
            ended: false,
        }
    }

    /// Keeps answers in a file from now on; what an earlier run left there, when that is wanted.
    pub fn keeping(&mut self, file: PathBuf) -> Option<Value> {
        let left: Option<Value> = fs::read(&file)
            .ok()
            .and_then(|bytes| serde_json::from_slice(&bytes).ok());
        self.kept = Some(file);
        let left = left?;
        self.say("Your answers from last time were not saved, and are still here.");
        let answer = self.ask("Enter takes them up, n starts anew > ")?;
        if answer.trim().is_empty() {
            Some(left)
        } else {
            self.done();
            None
        }
    }

    /// Forgets the answers, unless whoever gave them just went away.
    pub fn done(&self) {
        if let Some(file) = self.kept.as_ref().filter(|_| !self.ended) {
            let _ = fs::remove_file(file);
        }
    }

    /// Whether there is anybody to ask.
    pub fn is_there() -> bool {
        std::io::stdin().is_terminal() && std::io::stderr().is_terminal()
    }

    /// Says what is laid out already.
    pub fn show(&mut self, text: &str) {
        // Nobody is left to tell when this fails; the next question will find out.
        let _ = writeln!(std::io::stderr(), "{text}");
    }
}

impl Respondent for Terminal {
    fn say(&mut self, text: &str) {
        for line in text.lines().chain(text.is_empty().then_some("")) {
            self.show(&wrapped(line, self.width));
        }
    }

    fn ask(&mut self, prompt: &str) -> Option<String> {
        let mut error = std::io::stderr();
        write!(error, "{prompt}")
            .and_then(|()| error.flush())
            .ok()?;
        let mut line = String::new();
        let read = std::io::stdin().lock().read_line(&mut line);
        self.ended = !read.is_ok_and(|read| read > 0);
        (!self.ended).then_some(line)
    }

    fn keep(&mut self, answers: &Value) {
        // Where nothing can be kept, the questions are worth asking all the same.
        let _ = self.kept.as_ref().map(|file| kept_in(file, answers));
    }
}

/// Whole or not at all: the program may be stopped at any moment.
fn kept_in(file: &Path, answers: &Value) -> std::io::Result<()> {
    let folder = file.parent().unwrap_or(file);
    fs::create_dir_all(folder)?;
    let mut new = tempfile::NamedTempFile::new_in(folder)?;
    new.write_all(answers.to_string().as_bytes())?;
    new.persist(file).map_err(|error| error.error)?;
    Ok(())
}
