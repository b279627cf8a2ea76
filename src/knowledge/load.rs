//! Layers of text in, a checked base out, or every problem there is.

use super::base::KnowledgeBase;
use super::gather::gather;
use super::layer::LayerText;
use super::placed_entry::PlacedEntry;
use super::problem::Problem;
use super::problems::Problems;
use super::resolve::resolve;
use super::standing_entries::{Settled, settle};
use super::{dose, gaps, layer, names, packed, wording};
use sha2::{Digest, Sha256};

/// What a load gives when nothing stops it.
#[derive(Clone, Debug)]
pub struct Loaded {
    /// The library.
    pub base: KnowledgeBase,
    /// Gaps and matters of style, sorted by place.
    pub warnings: Vec<Problem>,
}

/// What to make of warnings.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Strictness {
    /// Gaps and style are not even looked for, which takes about half the time: for a command that
    /// only needs a base to work on. Warnings that cost nothing to find still ride along.
    ErrorsOnly,
    /// They ride along: a gap in the library never stops a lesson.
    #[default]
    Lesson,
    /// They count as errors, as for the shipped library.
    Strict,
}

/// Reads layers, the first one lowest, and checks them as one library.
///
/// # Errors
///
/// Every problem of every file, warnings included, sorted by layer name, file and line. At most a
/// thousand are listed, the rest counted in a last one.
///
/// ```
/// use fairwhy::knowledge::{LayerText, Strictness, load};
/// let layer = LayerText::new("mine", [("a.yaml", "faults:\n  - {id: a, nmae: A, stage: top}\n")]);
/// let problems = load(&[layer], Strictness::Lesson).unwrap_err();
/// assert_eq!(problems[0].code, "unknown-key");
/// assert_eq!((problems[0].line, problems[0].column), (2, 13));
/// ```
pub fn load(layers: &[LayerText], strictness: Strictness) -> Result<Loaded, Vec<Problem>> {
    let strict = strictness == Strictness::Strict;
    let mut problems = Problems::new(layers);
    for skipped in layers.iter().flat_map(|layer| &layer.skipped) {
        problems.push(skipped.clone());
    }
    let all = strictness != Strictness::ErrorsOnly;
    let mut settled = settle(gather(!all, &mut problems), &mut problems);
    let mut base = resolve(&mut settled, &mut problems);
    wording_and_doses(&settled, all, &mut problems);
    if all {
        names::check(&settled, &base, &mut problems);
        // One broken link would show as several gaps.
        if !problems.any_error() {
            gaps::check(&settled, &base, &mut problems);
        }
    }
    let failed = problems.any_error();
    let problems = problems.finish(strict);
    if failed || (strict && !problems.is_empty()) {
        return Err(problems);
    }
    base.content_hash = content_hash(layers);
    Ok(Loaded {
        base,
        warnings: problems,
    })
}

/// What can be said of each entry by itself; unless `all` are asked for, not of those that ship, which
/// a test holds to the strictest check.
fn wording_and_doses(settled: &Settled, all: bool, problems: &mut Problems<'_>) {
    fn look<T>(entry: &PlacedEntry<T>, all: bool, problems: &mut Problems<'_>) {
        if all || !entry.as_shipped {
            wording::check(entry.node(), entry.start(), problems);
        }
    }
    for (_, entry) in settled.conditions.values() {
        look(entry, all, problems);
    }
    for entry in settled.drills.values() {
        look(entry, all, problems);
        dose::check(entry, problems);
    }
    for entry in &settled.links {
        look(entry, all, problems);
    }
    for entry in settled.cases.values() {
        look(entry, all, problems);
    }
    for entry in settled.sources.values() {
        look(entry, all, problems);
    }
}

/// SHA-256 over what each layer amounts to, in order.
fn content_hash(layers: &[LayerText]) -> String {
    let mut hash = Sha256::new();
    for layer in layers {
        hash.update(layer::digest(layer).as_bytes());
    }
    packed::hex(hash)
}
