//! Somebody at a terminal who can be asked.

use super::output::wrapped;
use crate::authoring::Dialogue;
use std::io::{BufRead, IsTerminal, Write};

/// Questions on standard error, so that what is printed can still be sent elsewhere.
pub(crate) struct Terminal {
    width: usize,
}

impl Terminal {
    /// One that fits into so many columns.
    pub fn new(width: usize) -> Self {
        Self { width }
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

impl Dialogue for Terminal {
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
        let read = std::io::stdin().lock().read_line(&mut line).ok()?;
        (read > 0).then_some(line)
    }
}
