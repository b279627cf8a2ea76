//! The place in a drill that answers the typed words best, with the words marked.

use crate::knowledge::Drill;
use crate::words::lexicon::WordKey;
use crate::words::term::{Cutter, TextId};
use std::ops::Range;

/// A line of a drill, and where the typed words stand in it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Excerpt {
    /// Which part of the drill: `name`, `purpose`, `setup`, `steps`, `feel`, `check`, ...
    pub part: &'static str,
    /// The line.
    pub line: String,
    /// Bytes of the line that match, in order, apart.
    pub marks: Vec<Range<usize>>,
}

impl Excerpt {
    /// The line with every match between `open` and `close`.
    #[must_use]
    pub fn marked(&self, open: &str, close: &str) -> String {
        let mut text = String::with_capacity(self.line.len() + 8);
        let mut at = 0;
        for mark in &self.marks {
            text.push_str(&self.line[at..mark.start]);
            text.push_str(open);
            text.push_str(&self.line[mark.clone()]);
            text.push_str(close);
            at = mark.end;
        }
        text.push_str(&self.line[at..]);
        text
    }

    /// The words that match, as the drill writes them.
    #[must_use]
    pub fn words(&self) -> Vec<&str> {
        self.marks
            .iter()
            .map(|mark| &self.line[mark.clone()])
            .collect()
    }
}

/// The line in which `telling` adds up to most over different stems; the first of equals. It gives the
/// key of a word's stem and what it is worth, where it is worth anything.
pub(super) fn excerpt(
    drill: &Drill,
    cutter: &mut Cutter,
    mut telling: impl FnMut(&Cutter, TextId) -> Option<(WordKey, f64)>,
) -> Option<Excerpt> {
    let mut lines: Vec<(&'static str, &str)> = vec![("name", &drill.name)];
    lines.extend(
        drill
            .aliases
            .iter()
            .map(|line| ("also called", line.as_str())),
    );
    lines.push(("purpose", &drill.purpose));
    lines.push(("setup", &drill.setup));
    lines.extend(drill.steps.iter().map(|line| ("steps", line.as_str())));
    lines.extend(drill.feel.iter().map(|line| ("feel", line.as_str())));
    lines.push(("check", &drill.check));
    lines.extend(
        drill
            .goes_wrong
            .iter()
            .map(|line| ("goes wrong", line.as_str())),
    );
    let mut best: Option<(f64, Excerpt)> = None;
    for (part, line) in lines {
        let mut stems: Vec<WordKey> = Vec::new();
        let mut marks: Vec<Range<usize>> = Vec::new();
        let mut sum = 0.0;
        for (word, place) in cutter.places(line) {
            let Some((stem, worth)) = telling(cutter, word) else {
                continue;
            };
            if !stems.contains(&stem) {
                sum += worth;
                stems.push(stem);
            }
            // Two terms that came of one shorthand share their place.
            if marks.last().is_none_or(|last| last.end <= place.start) {
                marks.push(place);
            }
        }
        if sum > 0.0 && best.as_ref().is_none_or(|(before, _)| sum > *before) {
            let line = line.to_owned();
            best = Some((sum, Excerpt { part, line, marks }));
        }
    }
    best.map(|(_, excerpt)| excerpt)
}
