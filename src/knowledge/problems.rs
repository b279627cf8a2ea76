//! Problems as they are found, before they are sorted and handed over.

use super::layer::LayerText;
use super::nearest::nearest;
use super::node::{Flaw, TextPlace, clip};
use super::problem::{Problem, Severity};

/// More errors, and more warnings, than anybody reads at once; the rest are counted. Each has its own
/// measure, so that no heap of warnings hides an error.
const MOST: usize = 1_000;

/// So many entries of one layer that came twice are named one by one; more are summed up.
const MOST_TWICE: usize = 3;

/// How many pairs of words are compared for suggestions in one load. Enough for a few hundred slips
/// in a library of a few thousand entries; a file made to be wrong everywhere gets fewer suggestions
/// instead of an hour of work.
const MOST_COMPARISONS: usize = 1_000_000;

/// Where something stands in the layers that are being read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Spot {
    pub(super) layer: usize,
    pub(super) file: usize,
    pub(super) at: TextPlace,
}

/// Collects problems and knows the names of layers and files.
pub(super) struct Problems<'a> {
    pub(super) layers: &'a [LayerText],
    list: Vec<Problem>,
    errors: usize,
    warnings: usize,
    /// What two layers say word for word: what it is, where it stands, and where it stood first.
    twice: Vec<(String, Spot, Spot)>,
    comparisons: usize,
}

impl<'a> Problems<'a> {
    pub(super) fn new(layers: &'a [LayerText]) -> Self {
        Self {
            layers,
            list: Vec::new(),
            errors: 0,
            warnings: 0,
            twice: Vec::new(),
            comparisons: 0,
        }
    }

    /// Whether an error was found.
    pub(super) fn any_error(&self) -> bool {
        self.errors > 0
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
        let count = match severity {
            Severity::Error => &mut self.errors,
            Severity::Warning => &mut self.warnings,
        };
        *count += 1;
        if *count > MOST {
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
        match problem.severity {
            Severity::Error => self.errors += 1,
            Severity::Warning => self.warnings += 1,
        }
        self.list.push(problem);
    }

    /// Two layers that say the same word for word are no contradiction: a file may come by two ways.
    pub(super) fn taken_once(&mut self, noun: &str, id: &str, first: Spot, spot: Spot) {
        let what = format!("the {noun} `{}`", clip(id));
        self.twice.push((what, spot, first));
    }

    /// Tells what came twice: a few one by one, a whole library of them in one go.
    fn tell_twice(&mut self) {
        let mut twice = std::mem::take(&mut self.twice);
        twice.sort_by_key(|(_, spot, _)| *spot);
        for alike in twice.chunk_by(|one, next| one.1.layer == next.1.layer) {
            if alike.len() <= MOST_TWICE {
                for (what, spot, first) in alike {
                    let first = self.words(*first, *spot);
                    let message =
                        format!("{what} stands word for word in {first} too, and is taken once");
                    self.twice_at(*spot, message);
                }
                continue;
            }
            let (what, spot, first) = &alike[0];
            let one = alike.iter().all(|(_, _, at)| at.layer == first.layer);
            let layer = match one {
                true => &self.layers[first.layer].name,
                false => "earlier layers",
            };
            let message = format!(
                "{} entries stand word for word in {layer} too, and are taken once; the first: {what}",
                alike.len(),
            );
            self.twice_at(*spot, message);
        }
    }

    fn twice_at(&mut self, spot: Spot, message: String) {
        let help = "keep one of the two, so that a change to the other is not overlooked";
        self.warning(spot, "same-twice", message, help);
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
        self.tell_twice();
        let severity = |own| if strict { Severity::Error } else { own };
        for problem in &mut self.list {
            problem.severity = severity(problem.severity);
        }
        self.list.sort();
        self.list.dedup();
        let mut rest = |count: usize, own, code, what| {
            let Some(more) = count.checked_sub(MOST).filter(|more| *more > 0) else {
                return;
            };
            self.list.push(Problem {
                layer: String::new(),
                file: String::new(),
                line: 0,
                column: 0,
                severity: severity(own),
                code,
                message: format!("{more} more {what} are not listed"),
                help: Some("mend the ones above and check again".to_owned()),
            });
        };
        let (errors, warnings) = (self.errors, self.warnings);
        rest(warnings, Severity::Warning, "too-many-warnings", "warnings");
        rest(errors, Severity::Error, "too-many-problems", "errors");
        self.list
    }
}
