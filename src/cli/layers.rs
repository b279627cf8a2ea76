//! The library a command works on: what ships, then the given folders.

use super::{Failure, Globals};
use crate::knowledge::{self, KnowledgeBase, LayerText};

/// Reads and checks every layer.
///
/// # Errors
///
/// Every problem that stops loading, as one text with places and what to write instead.
pub(crate) fn load(globals: &Globals) -> Result<KnowledgeBase, Failure> {
    let layers = texts(globals)?;
    match knowledge::load(&layers) {
        Ok(loaded) => Ok(loaded.base),
        Err(problems) => Err(Failure::NotDone(knowledge::report_problems(
            &problems, &layers, false,
        ))),
    }
}

/// The layers as text, before anything in them is believed.
pub(crate) fn texts(globals: &Globals) -> Result<Vec<LayerText>, Failure> {
    if globals.no_shipped && globals.library.is_empty() {
        return Err(Failure::NotUnderstood(
            "error: --no-shipped leaves nothing to work with\n  help: add --library DIR, a folder of knowledge".into(),
        ));
    }
    let mut layers = Vec::new();
    if !globals.no_shipped {
        layers.push(knowledge::shipped());
    }
    for folder in &globals.library {
        layers.push(knowledge::read_folder(folder).map_err(|problems| {
            Failure::NotDone(knowledge::report_problems(&problems, &layers, false))
        })?);
    }
    Ok(layers)
}
