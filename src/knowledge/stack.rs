//! Which folders make up the library a lesson is given from, and which of them is the coach's own.

use super::folder::{self, Limits};
use super::layer::{FileText, LayerText, shipped};
use super::load::{Loaded, Strictness, load};
use super::problem::{Problem, Severity};
use std::collections::BTreeSet;
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

/// Which layers are wanted, first to last.
#[derive(Clone, Debug, Default)]
pub struct Wanted {
    /// What ships.
    pub shipped: bool,
    /// Folders that were asked for; whatever is wrong with one stops the work.
    pub folders: Vec<PathBuf>,
    /// The coach's own library, which need not be there.
    pub own: Option<PathBuf>,
    /// One more folder that was asked for, above the coach's own.
    pub top: Option<PathBuf>,
}

/// Layers as text, before anything in them is believed, with the folder that each was read from.
#[derive(Clone, Debug, Default)]
pub struct Stack {
    /// First to last.
    pub layers: Vec<LayerText>,
    /// The folder of each as it was named; `None` for what ships.
    pub folders: Vec<Option<PathBuf>>,
    /// Why files of the coach's own library are not among the layers: a slip in one of them must not
    /// stop a lesson.
    pub left_out: Vec<Problem>,
    /// The files that were read and then left out, with what is in them.
    pub broken: Vec<FileText>,
    /// The place of the coach's own library, when it was read as that.
    own: Option<usize>,
}

impl Stack {
    /// Reads what is wanted. A folder that was asked for is read where it stands, and not again as the
    /// coach's own. What of the own library cannot be read is in [`Stack::left_out`].
    ///
    /// # Errors
    ///
    /// What keeps a folder that was asked for from being read.
    pub fn read(wanted: &Wanted) -> Result<Self, Vec<Problem>> {
        let mut stack = Self::default();
        if wanted.shipped {
            stack.push(shipped(), None);
        }
        for folder in &wanted.folders {
            let layer = folder::read(folder)?;
            stack.push(layer, Some(folder));
        }
        let on_top = |own| wanted.top.as_ref().is_some_and(|top| same_folder(top, own));
        if let Some(own) = &wanted.own
            && stack.place_of(own).is_none()
            && !on_top(own)
        {
            stack.read_own(own);
        }
        if let Some(top) = &wanted.top {
            let layer = folder::read(top)?;
            stack.push(layer, Some(top));
        }
        Ok(stack)
    }

    fn push(&mut self, layer: LayerText, folder: Option<&Path>) {
        self.layers.push(layer);
        self.folders.push(folder.map(Path::to_owned));
    }

    fn read_own(&mut self, folder: &Path) {
        // One that is not there yet is nothing to speak of; a link that leads nowhere is.
        if fs::symlink_metadata(folder).is_err_and(|error| error.kind() == ErrorKind::NotFound) {
            return;
        }
        let (layer, mut problems) = folder::read_what_can_be(folder, Limits::default());
        problems.retain(|problem| problem.code != "empty-library");
        self.left_out.extend(problems);
        self.left_out.extend(layer.skipped.iter().cloned());
        if !layer.files.is_empty() {
            self.own = Some(self.layers.len());
            self.push(layer, Some(folder));
        }
    }

    /// Where a folder stands among the layers.
    #[must_use]
    pub fn place_of(&self, folder: &Path) -> Option<usize> {
        let same = |own: &Option<PathBuf>| own.as_ref().is_some_and(|own| same_folder(own, folder));
        self.folders.iter().position(same)
    }

    /// Takes a folder for the coach's own, whether it was read already or is yet to be made, and gives
    /// its place.
    pub fn own(&mut self, folder: &Path) -> usize {
        let place = self.place_of(folder).unwrap_or_else(|| {
            self.read_own(folder);
            if self
                .folders
                .last()
                .is_none_or(|last| last.as_deref() != Some(folder))
            {
                let layer = LayerText::new(folder.display().to_string(), NO_FILES);
                self.push(layer, Some(folder));
            }
            self.layers.len() - 1
        });
        self.own = Some(place);
        place
    }

    /// The layers as a checked library. A file of the coach's own that has an error in it is left out,
    /// and so is one that leans on it.
    ///
    /// # Errors
    ///
    /// What is wrong with the rest.
    pub fn load(&mut self) -> Result<Loaded, Vec<Problem>> {
        loop {
            let problems = match load(&self.layers, Strictness::ErrorsOnly) {
                Ok(loaded) => return Ok(loaded),
                Err(problems) => problems,
            };
            let Some(own) = self.own else {
                return Err(problems);
            };
            let layer = &mut self.layers[own];
            let errors = problems.iter().filter(|problem| {
                problem.severity == Severity::Error
                    && problem.layer == layer.name
                    && !problem.file.is_empty()
            });
            let errors: Vec<Problem> = errors.cloned().collect();
            if errors.is_empty() {
                return Err(problems);
            }
            let names: BTreeSet<&str> = errors.iter().map(|error| error.file.as_str()).collect();
            let (out, kept) = std::mem::take(&mut layer.files)
                .into_iter()
                .partition(|file| names.contains(file.path.as_str()));
            layer.files = kept;
            self.broken.extend::<Vec<FileText>>(out);
            self.left_out.extend(errors);
        }
    }
}

const NO_FILES: [(&str, &str); 0] = [];

/// Whether two paths lead to one folder; a folder that is not there is only the same by its path.
fn same_folder(one: &Path, other: &Path) -> bool {
    match (one.canonicalize(), other.canonicalize()) {
        (Ok(one), Ok(other)) => one == other,
        _ => one == other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder(files: &[(&str, &str)]) -> tempfile::TempDir {
        let folder = tempfile::tempdir().expect("made");
        for (name, text) in files {
            fs::write(folder.path().join(name), text).expect("written");
        }
        folder
    }

    fn paths(files: &[FileText]) -> Vec<&str> {
        files.iter().map(|file| file.path.as_str()).collect()
    }

    #[test]
    fn a_slip_in_an_own_file_leaves_out_that_file_and_what_leans_on_it() {
        let below = folder(&[("a.yaml", "faults:\n- {id: a, name: A, stage: top}\n")]);
        let own = folder(&[
            ("bad.yaml", "faults:\n- {id: b, nmae: B, stage: top}\n"),
            ("good.yaml", "faults:\n- {id: c, name: C, stage: top}\n"),
            (
                "leans.yaml",
                "drills:\n- {id: d, name: D, treats: [{id: b}], steps: [Swing]}\n",
            ),
        ]);
        let wanted = Wanted {
            shipped: false,
            folders: vec![below.path().to_owned()],
            own: Some(own.path().to_owned()),
            top: None,
        };
        let mut stack = Stack::read(&wanted).expect("read");
        let base = stack.load().expect("loads without it").base;
        assert!(base.find("a").is_some() && base.find("c").is_some());
        assert_eq!(paths(&stack.broken), ["bad.yaml", "leans.yaml"]);
        assert_eq!(stack.left_out[0].code, "unknown-key");
        // A folder that was asked for has no such grace.
        let wanted = Wanted {
            folders: vec![below.path().to_owned(), own.path().to_owned()],
            ..wanted
        };
        let mut stack = Stack::read(&wanted).expect("read");
        assert!(stack.load().is_err());
    }

    #[cfg(unix)]
    #[test]
    fn what_cannot_be_read_is_said() {
        let own = folder(&[("good.yaml", "faults:\n- {id: c, name: C, stage: top}\n")]);
        std::os::unix::fs::symlink("/nowhere/x.yaml", own.path().join("x.yaml")).expect("made");
        fs::write(own.path().join("bytes.yaml"), b"faults: \xff\n").expect("written");
        let wanted = |own: PathBuf| Wanted {
            own: Some(own),
            ..Wanted::default()
        };
        let stack = Stack::read(&wanted(own.path().to_owned())).expect("read");
        let codes: Vec<&str> = stack.left_out.iter().map(|problem| problem.code).collect();
        assert_eq!(codes, ["not-utf-8", "link-not-followed"]);
        assert_eq!(paths(&stack.layers[0].files), ["good.yaml"]);
        let link = own.path().join("library");
        std::os::unix::fs::symlink("/nowhere/at/all", &link).expect("made");
        let stack = Stack::read(&wanted(link)).expect("read");
        assert_eq!(stack.left_out[0].code, "folder-missing");
        let stack = Stack::read(&wanted(own.path().join("not-yet"))).expect("read");
        assert!(stack.left_out.is_empty());
    }
}
