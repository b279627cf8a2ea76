//! The library a command works on: what ships, then the given folders, then the coach's own.

use super::{Failure, Globals, home};
use crate::knowledge::{self, KnowledgeBase, LayerText, Paint, Strictness};
use std::mem::ManuallyDrop;
use std::path::{Path, PathBuf};

/// Layers as text, before anything in them is believed, with the folder that each was read from.
#[derive(Clone, Debug, Default)]
pub(crate) struct Stack {
    /// First to last.
    pub layers: Vec<LayerText>,
    /// The folder of each as the user gave it; `None` for what ships.
    pub folders: Vec<Option<PathBuf>>,
}

/// Reads and checks every layer. The library is never taken apart again: a command ends with the
/// process, and giving back thousands of texts one by one would only delay that.
///
/// # Errors
///
/// Every problem that stops loading, as one text with places and what to write instead.
pub(crate) fn load(globals: &Globals) -> Result<ManuallyDrop<KnowledgeBase>, Failure> {
    Ok(ManuallyDrop::new(stack(globals, None)?.load()?.base))
}

/// The layers as text, with one more folder on top when there is one.
pub(crate) fn texts_with(globals: &Globals, top: Option<&Path>) -> Result<Vec<LayerText>, Failure> {
    Ok(stack(globals, top)?.layers)
}

/// All layers: shipped, `--library`, the coach's own if it is there, and `top`.
///
/// `--no-shipped` means the given folders and nothing else. A folder that is given is read where it
/// is given, and not again as the coach's own.
pub(crate) fn stack(globals: &Globals, top: Option<&Path>) -> Result<Stack, Failure> {
    if globals.no_shipped && globals.library.is_empty() && top.is_none() {
        return Err(Failure::NotUnderstood(
            "error: --no-shipped leaves nothing to work with\n  help: add --library DIR, a folder of knowledge".into(),
        ));
    }
    let mut stack = Stack::default();
    if !globals.no_shipped {
        stack.layers.push(knowledge::shipped());
        stack.folders.push(None);
    }
    for folder in &globals.library {
        stack.read(folder, false)?;
    }
    if !globals.no_shipped
        && let Ok(own) = home::own_library()
        && own.exists()
        && stack.place_of(&own).is_none()
        && !top.is_some_and(|top| same_folder(top, &own))
    {
        stack.read(&own, true)?;
    }
    if let Some(top) = top {
        stack.read(top, false)?;
    }
    Ok(stack)
}

impl Stack {
    /// Adds a folder on top. The coach's own may be empty, or hold nothing that is read.
    fn read(&mut self, folder: &Path, may_be_empty: bool) -> Result<(), Failure> {
        let layer = match knowledge::folder::read(folder) {
            Ok(layer) => layer,
            Err(problems)
                if may_be_empty
                    && problems
                        .iter()
                        .all(|problem| problem.code == "empty-library") =>
            {
                return Ok(());
            }
            Err(problems) => {
                return Err(Failure::NotDone(knowledge::report_problems(
                    &problems,
                    &self.layers,
                    Paint::Plain,
                )));
            }
        };
        self.layers.push(layer);
        self.folders.push(Some(folder.to_owned()));
        Ok(())
    }

    /// Where a folder stands among the layers.
    pub fn place_of(&self, folder: &Path) -> Option<usize> {
        let same = |own: &Option<PathBuf>| own.as_ref().is_some_and(|own| same_folder(own, folder));
        self.folders.iter().position(same)
    }

    /// Where a folder stands, put on top when it does not yet, empty when it is not there yet.
    pub fn with(&mut self, folder: &Path) -> Result<usize, Failure> {
        if let Some(place) = self.place_of(folder) {
            return Ok(place);
        }
        let before = self.layers.len();
        if folder.exists() {
            self.read(folder, true)?;
        }
        if self.layers.len() == before {
            let none: [(&str, &str); 0] = [];
            self.layers
                .push(LayerText::new(folder.display().to_string(), none));
            self.folders.push(Some(folder.to_owned()));
        }
        Ok(before)
    }

    /// The layers as a checked library.
    pub fn load(&self) -> Result<knowledge::Loaded, Failure> {
        knowledge::load(&self.layers, Strictness::ErrorsOnly).map_err(|problems| {
            Failure::NotDone(knowledge::report_problems(
                &problems,
                &self.layers,
                Paint::Plain,
            ))
        })
    }
}

/// Whether two paths lead to one folder; a folder that is not there is only the same by its path.
fn same_folder(one: &Path, other: &Path) -> bool {
    match (one.canonicalize(), other.canonicalize()) {
        (Ok(one), Ok(other)) => one == other,
        _ => one == other,
    }
}
