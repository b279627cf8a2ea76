//! The library a command works on: what ships, then the given folders.

use super::{Failure, Globals};
use crate::knowledge::{self, KnowledgeBase, LayerText, Paint, Strictness};
use std::path::Path;

/// Reads and checks every layer.
///
/// # Errors
///
/// Every problem that stops loading, as one text with places and what to write instead.
pub(crate) fn load(globals: &Globals) -> Result<KnowledgeBase, Failure> {
    let layers = texts(globals)?;
    match knowledge::load(&layers, Strictness::ErrorsOnly) {
        Ok(loaded) => Ok(loaded.base),
        Err(problems) => Err(Failure::NotDone(knowledge::report_problems(
            &problems,
            &layers,
            Paint::Plain,
        ))),
    }
}

/// The layers as text, before anything in them is believed.
pub(crate) fn texts(globals: &Globals) -> Result<Vec<LayerText>, Failure> {
    texts_with(globals, None)
}

/// The layers as text, with one more folder on top when there is one.
pub(crate) fn texts_with(globals: &Globals, top: Option<&Path>) -> Result<Vec<LayerText>, Failure> {
    if globals.no_shipped && globals.library.is_empty() && top.is_none() {
        return Err(Failure::NotUnderstood(
            "error: --no-shipped leaves nothing to work with\n  help: add --library DIR, a folder of knowledge".into(),
        ));
    }
    let mut layers = Vec::new();
    if !globals.no_shipped {
        layers.push(knowledge::shipped());
    }
    for folder in globals.library.iter().map(|path| path.as_path()).chain(top) {
        let layer = knowledge::folder::read(folder).map_err(|problems| {
            Failure::NotDone(knowledge::report_problems(&problems, &layers, Paint::Plain))
        })?;
        layers.push(layer);
    }
    Ok(layers)
}
