//! A coach's library on disk, read within limits that keep a stranger's folder harmless.

use super::layer::{FileText, LayerText, SHIPPED_LAYER};
use super::problem::{Problem, Severity};
use std::fs::{self, File};
use std::io::{self, Read as _};
use std::path::Path;

/// What is read at most, so that a folder from a stranger can do no harm.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// The largest file, in bytes.
    pub file_bytes: u64,
    /// All files of a library together, in bytes.
    pub library_bytes: u64,
    /// The most library files.
    pub files: usize,
    /// The most files and folders of any sort.
    pub things: usize,
    /// How deep folders may stand inside one another.
    pub depth: usize,
}

impl Default for Limits {
    /// 1 MiB a file (about 700 drills), 256 MiB a library, 10,000 files among 100,000 things, 16
    /// folders deep.
    fn default() -> Self {
        Self {
            file_bytes: 1 << 20,
            library_bytes: 256 << 20,
            files: 10_000,
            things: 100_000,
            depth: 16,
        }
    }
}

/// Reads a library within the usual [`Limits`]; see [`read_within`].
///
/// # Errors
///
/// Those of [`read_within`].
pub fn read(folder: &Path) -> Result<LayerText, Vec<Problem>> {
    read_within(folder, Limits::default())
}

/// Reads every `*.yaml` and `*.yml` below a folder, at any depth.
///
/// Names that start with a dot are passed over. Links are not followed: one that leads to a folder or a
/// file of the library is met where it really stands; one that leads out of it is noted in
/// [`LayerText::skipped`].
///
/// # Errors
///
/// A folder that is missing, no folder, unreadable, without a single such file, or beyond a limit;
/// a file that is unreadable, too large, or not UTF-8. All that can be said is said at once.
pub fn read_within(folder: &Path, limits: Limits) -> Result<LayerText, Vec<Problem>> {
    let (layer, errors) = read_what_can_be(folder, limits);
    if errors.is_empty() {
        Ok(layer)
    } else {
        Err(errors)
    }
}

/// What a layer from a folder is called: as the user gave it, but never as what ships, whose words cannot be
/// taken away.
fn name_of(folder: &Path) -> String {
    let name = folder.display().to_string();
    if name == SHIPPED_LAYER {
        return format!("./{name}");
    }
    name
}

/// The same, with every file that can be read although others cannot, and what [`read_within`] would
/// have refused the folder for.
#[must_use]
pub fn read_what_can_be(folder: &Path, limits: Limits) -> (LayerText, Vec<Problem>) {
    let mut reading = FolderReading {
        limits,
        layer: LayerText {
            name: name_of(folder),
            ..LayerText::default()
        },
        errors: Vec::new(),
        things: 0,
        bytes: 0,
    };
    let root = match folder.canonicalize() {
        Ok(root) => root,
        Err(error) => {
            reading.folder_error(&error);
            return (reading.layer, reading.errors);
        }
    };
    if !root.is_dir() {
        reading.error(
            "",
            "not-a-folder",
            "this is a file, and a library is a folder".to_owned(),
            "name the folder that the file is in",
        );
        return (reading.layer, reading.errors);
    }
    reading.folder(&root, &root, "", 0);
    reading.room();
    if reading.errors.is_empty() && reading.layer.files.is_empty() {
        reading.error(
            "",
            "empty-library",
            "no file that ends in .yaml is in this folder".to_owned(),
            "put one there that holds, for example:\n\
             faults:\n  - id: my-fault\n    name: What I call it\n    stage: top",
        );
    }
    reading.layer.files.sort_by(|a, b| a.path.cmp(&b.path));
    reading.errors.sort();
    (reading.layer, reading.errors)
}

struct FolderReading {
    limits: Limits,
    layer: LayerText,
    errors: Vec<Problem>,
    things: usize,
    bytes: u64,
}

impl FolderReading {
    fn problem(&self, file: &str, code: &'static str, message: String, help: &str) -> Problem {
        Problem {
            layer: self.layer.name.clone(),
            file: file.to_owned(),
            line: 0,
            column: 0,
            severity: Severity::Error,
            code,
            message,
            help: Some(help.to_owned()),
        }
    }

    fn error(&mut self, file: &str, code: &'static str, message: String, help: &str) {
        let problem = self.problem(file, code, message, help);
        self.errors.push(problem);
    }

    fn folder_error(&mut self, error: &io::Error) {
        if error.kind() == io::ErrorKind::NotFound {
            self.error(
                "",
                "folder-missing",
                "there is no such folder".to_owned(),
                "check the spelling, or make the folder first",
            );
        } else {
            self.error(
                "",
                "folder-unreadable",
                format!("the folder cannot be read: {}", said(error)),
                "check who may read it",
            );
        }
    }

    /// Whether there is room for one more thing; says so once when there is not.
    fn room(&mut self) -> bool {
        let limits = self.limits;
        let full = if self.things > limits.things {
            format!(
                "the folder holds more than {} files and folders",
                limits.things
            )
        } else if self.layer.files.len() > limits.files {
            format!("the library has more than {} files", limits.files)
        } else if self.bytes > limits.library_bytes {
            format!(
                "the library has more than {} MiB of text",
                limits.library_bytes >> 20
            )
        } else {
            return true;
        };
        if self
            .errors
            .iter()
            .all(|error| error.code != "library-too-large")
        {
            self.error(
                "",
                "library-too-large",
                full,
                "name the folder of the library itself",
            );
        }
        false
    }

    fn folder(&mut self, root: &Path, folder: &Path, prefix: &str, depth: usize) {
        if depth > self.limits.depth {
            self.error(
                prefix,
                "folders-too-deep",
                format!(
                    "folders stand more than {} deep inside one another",
                    self.limits.depth
                ),
                "move the files up",
            );
            return;
        }
        let entries = match fs::read_dir(folder).and_then(Iterator::collect::<io::Result<Vec<_>>>) {
            Ok(entries) => entries,
            Err(error) => {
                self.error(
                    prefix,
                    "folder-unreadable",
                    format!("the folder cannot be read: {}", said(&error)),
                    "check who may read it",
                );
                return;
            }
        };
        for entry in entries {
            self.things += 1;
            if !self.room() {
                return;
            }
            let name = entry.file_name().to_string_lossy().into_owned();
            if name.starts_with('.') {
                continue;
            }
            let path = entry.path();
            let shown = format!("{prefix}{name}");
            match entry.file_type() {
                Ok(kind) if kind.is_dir() => {
                    self.folder(root, &path, &format!("{shown}/"), depth + 1)
                }
                Ok(kind) if kind.is_file() && is_library_file(&path) => self.file(&path, shown),
                Ok(kind) if kind.is_symlink() => self.link(root, &path, shown),
                // A pipe or a device would be waited for.
                Ok(kind) if !kind.is_file() && is_library_file(&path) => self.skip(
                    &shown,
                    "not-a-file",
                    "this is a pipe or a device and no file, and was not read".to_owned(),
                    "put a file here in its place, or give it a name that does not end in .yaml",
                ),
                _ => {}
            }
        }
    }

    fn link(&mut self, root: &Path, path: &Path, shown: String) {
        let target = path.canonicalize();
        let nowhere = target.is_err();
        // A link that leads nowhere may have been a folder of files.
        let matters =
            nowhere || is_library_file(path) || target.as_ref().is_ok_and(|to| to.is_dir());
        if !matters || target.is_ok_and(|target| target.starts_with(root)) {
            return;
        }
        let why = if nowhere {
            "this is a link that leads nowhere, so nothing was read"
        } else {
            "this is a link that leads out of the library, and was not read"
        };
        self.skip(
            &shown,
            "link-not-followed",
            why.to_owned(),
            "put the file itself here in the place of the link, or name its folder as a library of its own",
        );
    }

    /// Says what was passed over.
    fn skip(&mut self, shown: &str, code: &'static str, message: String, help: &str) {
        let problem = Problem {
            severity: Severity::Warning,
            ..self.problem(shown, code, message, help)
        };
        self.layer.skipped.push(problem);
    }

    fn file(&mut self, path: &Path, shown: String) {
        let mut bytes = Vec::new();
        let read = File::open(path).and_then(|file| {
            file.take(self.limits.file_bytes + 1)
                .read_to_end(&mut bytes)
        });
        match read {
            Err(error) => self.error(
                &shown,
                "file-unreadable",
                format!("the file cannot be read: {}", said(&error)),
                "check who may read it",
            ),
            Ok(length) if length as u64 > self.limits.file_bytes => self.error(
                &shown,
                "file-too-large",
                format!(
                    "the file is larger than {} MiB",
                    self.limits.file_bytes >> 20
                ),
                "spread its entries over several files",
            ),
            Ok(length) => {
                self.bytes += length as u64;
                self.text(bytes, shown);
            }
        }
    }

    fn text(&mut self, bytes: Vec<u8>, path: String) {
        match String::from_utf8(bytes) {
            Ok(text) => self.layer.files.push(FileText {
                path,
                text: text.into(),
            }),
            Err(error) => {
                let good = &error.as_bytes()[..error.utf8_error().valid_up_to()];
                let start = good.iter().rposition(|b| *b == b'\n').map_or(0, |i| i + 1);
                let problem = Problem {
                    line: good.iter().filter(|b| **b == b'\n').count() + 1,
                    column: String::from_utf8_lossy(&good[start..]).chars().count() + 1,
                    ..self.problem(
                        &path,
                        "not-utf-8",
                        "the file is not plain UTF-8 text from here on".to_owned(),
                        "save it again with the encoding UTF-8",
                    )
                };
                self.errors.push(problem);
            }
        }
    }
}

fn is_library_file(path: &Path) -> bool {
    path.extension().is_some_and(|extension| {
        extension.eq_ignore_ascii_case("yaml") || extension.eq_ignore_ascii_case("yml")
    })
}

/// What the system says, without its error number.
fn said(error: &io::Error) -> String {
    let text = error.to_string();
    text.split(" (os error")
        .next()
        .unwrap_or_default()
        .to_lowercase()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_folder_is_taken_for_what_ships() {
        assert_eq!(name_of(Path::new("shipped")), "./shipped");
        assert_eq!(name_of(Path::new("club/shipped")), "club/shipped");
    }
}
