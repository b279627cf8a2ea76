//! Problems as they are found, before they are sorted and handed over.

use super::layer::LayerText;
use super::nearest::nearest;
use super::node::{Flaw, Place};
use super::problem::{Problem, Severity};

/// More problems than anybody reads at once; the rest are counted.
const MOST: usize = 1_000;

/// How many pairs of words are compared for suggestions in one load. Enough for a few hundred slips
/// in a library of a few thousand entries; a file made to be wrong everywhere gets fewer suggestions
/// instead of an hour of work.
const MOST_COMPARISONS: usize = 1_000_000;

/// Where something stands in the layers that are being read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Spot {
    pub(super) layer: usize,
    pub(super) file: usize,
    pub(super) at: Place,
}

/// Collects problems and knows the names of layers and files.
pub(super) struct Problems<'a> {
    pub(super) layers: &'a [LayerText],
    list: Vec<Problem>,
    dropped: usize,
    errors: bool,
    comparisons: usize,
}

impl<'a> Problems<'a> {
    pub(super) fn new(layers: &'a [LayerText]) -> Self {
        Self {
            layers,
            list: Vec::new(),
            dropped: 0,
            errors: false,
            comparisons: 0,
        }
    }

    /// Whether an error was found.
    pub(super) fn any_error(&self) -> bool {
        self.errors
    }

    pub(super) fn error(
        &mut self,
        spot: Spot,
        code: &'static str,
        message: impl Into<String>,
        help: impl Into<String>,
    ) {
        let flaw = Flaw::new(spot.at, code, message, help);
        self.flaw(spot, Severity::Error, flaw);
    }

    pub(super) fn warning(
        &mut self,
        spot: Spot,
        code: &'static str,
        message: impl Into<String>,
        help: impl Into<String>,
    ) {
        let flaw = Flaw::new(spot.at, code, message, help);
        self.flaw(spot, Severity::Warning, flaw);
    }

    /// Adds what was found in a file; `spot` says which file, the flaw where in it.
    pub(super) fn flaw(&mut self, spot: Spot, severity: Severity, flaw: Flaw) {
        debug_assert!(
            super::codes::CODES
                .iter()
                .any(|(code, ..)| *code == flaw.code),
            "`{}` is not in the list of codes",
            flaw.code
        );
        self.errors |= severity == Severity::Error;
        if self.list.len() >= MOST {
            self.dropped += 1;
            return;
        }
        let layer = &self.layers[spot.layer];
        let file = layer.files.get(spot.file);
        self.list.push(Problem {
            layer: layer.name.clone(),
            file: file.map(|file| file.path.clone()).unwrap_or_default(),
            line: flaw.at.line,
            column: flaw.at.column,
            severity,
            code: flaw.code,
            message: flaw.message,
            help: flaw.help,
        });
    }

    /// Adds a problem that was found elsewhere.
    pub(super) fn push(&mut self, problem: Problem) {
        self.errors |= problem.severity == Severity::Error;
        self.list.push(problem);
    }

    /// A place in words: `faults/top.yaml:12`, with the layer before it when `from` is in another.
    pub(super) fn words(&self, spot: Spot, from: Spot) -> String {
        let layer = &self.layers[spot.layer];
        let file = layer
            .files
            .get(spot.file)
            .map_or("", |file| file.path.as_str());
        let line = spot.at.line;
        if spot.layer == from.layer {
            format!("{file}:{line}")
        } else {
            format!("{file}:{line} of {}", layer.name)
        }
    }

    /// `did you mean ...?`, or what to do when nothing is near.
    pub(super) fn did_you_mean<'b>(
        &mut self,
        word: &str,
        known: impl ExactSizeIterator<Item = &'b str>,
        otherwise: &str,
    ) -> String {
        self.comparisons = self.comparisons.saturating_add(known.len());
        if self.comparisons > MOST_COMPARISONS {
            return otherwise.to_owned();
        }
        let near: Vec<String> = nearest(word, known, 3)
            .into_iter()
            .map(|near| format!("`{near}`"))
            .collect();
        if near.is_empty() {
            otherwise.to_owned()
        } else {
            format!("did you mean {}?", near.join(" or "))
        }
    }

    /// All of them, sorted by place; with `strict`, every one an error.
    pub(super) fn finish(mut self, strict: bool) -> Vec<Problem> {
        if strict {
            for problem in &mut self.list {
                problem.severity = Severity::Error;
            }
        }
        self.list.sort();
        self.list.dedup();
        if self.dropped > 0 {
            self.list.push(Problem {
                layer: String::new(),
                file: String::new(),
                line: 0,
                column: 0,
                severity: if self.errors || strict {
                    Severity::Error
                } else {
                    Severity::Warning
                },
                code: "too-many-problems",
                message: format!("{} more problems are not listed", self.dropped),
                help: Some("mend the ones above and check again".to_owned()),
            });
        }
        self.list
    }
}
