//! The whole library with a change in it, checked before anything is written.

use super::preview::Preview;
use crate::knowledge::{
    DrillText, FileText, KnowledgeBase, LayerText, Problem, Strictness, library_file, load,
    near_copies,
};
use std::collections::HashSet;

/// A drill of the change that says nearly the same as one of the library.
#[derive(Clone, Debug)]
pub struct NearCopy {
    /// The drill of the change.
    pub own: DrillText,
    /// The id of the drill that was there.
    pub of: String,
    /// The Sorensen-Dice coefficient of their three-word runs, from
    /// [`NEAR_COPY`](crate::knowledge::NEAR_COPY) to 1.
    pub likeness: f64,
}

/// What a change would do.
#[derive(Clone, Debug)]
pub struct Checked {
    /// The library with the change.
    pub after: KnowledgeBase,
    /// The difference that it makes.
    pub preview: Preview,
    /// Warnings that were not there without it; near copies are in `copies`.
    pub warnings: Vec<Problem>,
    /// Drills that say nearly the same as one of the library, most alike first.
    pub copies: Vec<NearCopy>,
}

/// Checks `layers` with `files` put into the layer `own`, each in the place of one of its path; one
/// without a word in it stands for its file being gone.
///
/// A library that is broken without the change is no obstacle, so that it can be mended; the
/// preview then has nothing to compare with, and says nothing.
///
/// # Errors
///
/// Every problem of the library with the change, warnings included.
pub fn check(
    layers: &[LayerText],
    own: usize,
    files: &[FileText],
) -> Result<Checked, Vec<Problem>> {
    let after = load(&with_files(layers, own, files), Strictness::Lesson)?;
    let Ok(before) = load(layers, Strictness::Lesson) else {
        return Ok(Checked {
            after: after.base,
            preview: Preview::default(),
            warnings: after.warnings,
            copies: Vec::new(),
        });
    };
    let known: HashSet<_> = before.warnings.iter().map(saying).collect();
    let warnings = after
        .warnings
        .iter()
        .filter(|warning| !known.contains(&saying(warning)));
    let warnings = warnings
        .filter(|warning| warning.code != "near-copy")
        .cloned()
        .collect();
    Ok(Checked {
        preview: Preview::between(&before.base, &after.base),
        copies: copies(files, &before.base),
        warnings,
        after: after.base,
    })
}

/// The layers with files put into one of them.
pub(super) fn with_files(layers: &[LayerText], own: usize, files: &[FileText]) -> Vec<LayerText> {
    let mut layers = layers.to_vec();
    let Some(layer) = layers.get_mut(own) else {
        return layers;
    };
    for file in files {
        match layer.files.iter_mut().find(|old| old.path == file.path) {
            // A file without a word says what a file that is gone says.
            Some(old) => old.text.clone_from(&file.text),
            None => layer.files.push(file.clone()),
        }
    }
    layer.files.sort_by(|a, b| a.path.cmp(&b.path));
    layers
}

/// A problem without its line, which a change elsewhere in the file may move.
fn saying(problem: &Problem) -> (&str, &str, &str, &str) {
    (
        problem.code,
        &problem.layer,
        &problem.file,
        &problem.message,
    )
}

fn copies(files: &[FileText], before: &KnowledgeBase) -> Vec<NearCopy> {
    let drills = files
        .iter()
        .filter_map(|file| library_file(&file.text).ok());
    let drills = drills
        .flat_map(|file| file.drills)
        .filter(|drill| drill.retired_for.is_none());
    drills
        .flat_map(|own| {
            let near = near_copies(&own, before);
            near.into_iter().map(move |(of, likeness)| NearCopy {
                own: own.clone(),
                of: before.drill(of).id.clone(),
                likeness,
            })
        })
        .collect()
}
