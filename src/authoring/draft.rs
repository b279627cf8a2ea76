//! What a coach hands in: a whole file, a list of entries, or one entry by itself.

use super::EntryKind;
use super::file_entries::{each_entry, names_of};
use super::keys::with_key;
use crate::knowledge::{
    LayerText, LibraryFile, Problem, Status, folder, library_file, library_text, same_place,
};
use thiserror::Error;

/// Why a draft cannot be read at all.
#[derive(Debug, Error)]
pub enum DraftError {
    /// Nothing in it but blanks and comments.
    #[error("nothing was given")]
    Empty,
    /// Above the limit on a library file.
    #[error("the draft is larger than {} MiB, the limit on a file", folder::Limits::default().file_bytes >> 20)]
    TooLarge,
    /// Not text.
    #[error("line {line} is not plain UTF-8 text")]
    NotText {
        /// From 1.
        line: usize,
    },
    /// It holds other entries than the one asked for.
    #[error("there is no {wanted} in it", wanted = .wanted.as_str())]
    OtherKind {
        /// What was to be added.
        wanted: EntryKind,
        /// What is there instead.
        found: Vec<EntryKind>,
    },
    /// What the reader says, at lines of the text as given; layer and file are empty.
    #[error("the draft cannot be read")]
    Problems(Vec<Problem>),
}

/// A library file in the making.
///
/// The text stays the coach's own, comments and all, as long as that can be; keys that are set
/// afterwards become lines in it.
#[derive(Clone, Debug)]
pub struct Draft {
    kind: EntryKind,
    given: String,
    text: String,
    file: LibraryFile,
    /// For each line of `text`, the line of `given` it came from; 0 for one that was added.
    lines: Vec<usize>,
    /// Blanks put before each line.
    indent: usize,
    /// What was there before the text had to be written anew: text, lines and indent.
    before: Option<(String, Vec<usize>, usize)>,
}

impl Draft {
    /// Reads a draft of at least one `kind` of entry.
    ///
    /// # Errors
    ///
    /// See [`DraftError`].
    pub fn from_bytes(kind: EntryKind, bytes: &[u8]) -> Result<Self, DraftError> {
        if bytes.len() as u64 > folder::Limits::default().file_bytes {
            return Err(DraftError::TooLarge);
        }
        let text = std::str::from_utf8(bytes).map_err(|error| DraftError::NotText {
            line: bytes[..error.valid_up_to()]
                .iter()
                .filter(|b| **b == b'\n')
                .count()
                + 1,
        })?;
        Self::from_text(kind, text)
    }

    /// As [`Draft::from_bytes`], from text.
    ///
    /// # Errors
    ///
    /// See [`DraftError`].
    pub fn from_text(kind: EntryKind, given: &str) -> Result<Self, DraftError> {
        let given = given
            .strip_prefix('\u{feff}')
            .unwrap_or(given)
            .replace("\r\n", "\n");
        let content =
            |line: &&str| !matches!(line.trim(), "" | "---") && !line.trim_start().starts_with('#');
        let Some(first) = given.lines().position(|line| content(&line)) else {
            return Err(DraftError::Empty);
        };
        let (text, added, indent) = match form(&given, first) {
            DraftForm::File => (given.clone(), 0, 0),
            DraftForm::List => (
                format!("{}:\n{}", kind.list(), without_marker(&given)),
                1,
                0,
            ),
            DraftForm::Entry => (wrapped(&given, first, kind), 1, 4),
        };
        let lines = (0..text.lines().count())
            .map(|line| (line + 1).saturating_sub(added))
            .collect();
        let mut draft = Self {
            kind,
            text: with_end(text),
            file: LibraryFile::default(),
            lines,
            indent,
            given,
            before: None,
        };
        draft.file = library_file(&draft.text).map_err(|problems| {
            DraftError::Problems(problems.into_iter().map(|p| draft.as_given(p)).collect())
        })?;
        if draft.names().is_empty() {
            let found = EntryKind::ALL.iter().copied();
            return Err(DraftError::OtherKind {
                wanted: kind,
                found: found
                    .filter(|kind| !names_of(&draft.file, *kind).is_empty())
                    .collect(),
            });
        }
        Ok(draft)
    }

    /// A draft of a file that is already understood.
    ///
    /// # Errors
    ///
    /// As [`Draft::from_text`]; a file without a `kind` of entry among others.
    pub fn from_file(kind: EntryKind, file: &LibraryFile) -> Result<Self, DraftError> {
        Self::from_text(kind, &library_text(file).unwrap_or_default())
    }

    /// Whether it is the template of its kind, with nothing changed in it.
    #[must_use]
    pub fn is_template(&self) -> bool {
        Self::from_text(self.kind, super::template(self.kind))
            .is_ok_and(|template| template.file == self.file)
    }

    /// What it adds.
    #[must_use]
    pub fn kind(&self) -> EntryKind {
        self.kind
    }

    /// The text that will be saved.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// What it says.
    #[must_use]
    pub fn file(&self) -> &LibraryFile {
        &self.file
    }

    /// Whether the text had to be written anew, so that the coach's own layout is gone.
    #[must_use]
    pub fn rewritten(&self) -> bool {
        self.before.is_some()
    }

    /// The ids of its entries of its kind; for links, `cause-to-effect`.
    #[must_use]
    pub fn names(&self) -> Vec<String> {
        names_of(&self.file, self.kind)
    }

    /// Ids of all its drills and conditions, with the kind of each.
    #[must_use]
    pub fn entries(&self) -> Vec<(EntryKind, String)> {
        let kinds = EntryKind::ALL
            .iter()
            .filter(|kind| **kind != EntryKind::Link);
        kinds
            .flat_map(|kind| {
                names_of(&self.file, *kind)
                    .into_iter()
                    .map(|id| (*kind, id))
            })
            .collect()
    }

    /// Where it is saved in a library, with `/` between the parts: `drills/towel-under-arm.yaml`.
    #[must_use]
    pub fn path(&self) -> String {
        let name = self.names().into_iter().next().unwrap_or_default();
        format!("{}/{name}.yaml", self.kind.list())
    }

    /// Gives its drills and conditions a status.
    pub fn set_status(&mut self, status: Status) {
        self.status_of(|_, own| *own != Some(status), status);
    }

    /// Puts every drill on trial whose text does not say how it stands; a fault that was seen was
    /// seen, but a drill has to prove itself.
    pub fn set_on_trial(&mut self) {
        self.status_of(
            |kind, own| kind == EntryKind::Drill && own.is_none(),
            Status::Trial,
        );
    }

    fn status_of(&mut self, wanted: impl Fn(EntryKind, &Option<Status>) -> bool, status: Status) {
        for (kind, id) in self.entries() {
            let mut file = self.file.clone();
            each_entry(&mut file, &id, |own, _, _| {
                if wanted(kind, own) {
                    *own = Some(status);
                }
            });
            self.become_file(file, &id, "status", status.as_str());
        }
    }

    /// Makes an entry take the place of the one of its id in an earlier layer.
    pub fn set_replaces(&mut self, id: &str) {
        let mut file = self.file.clone();
        each_entry(&mut file, id, |_, replaces, _| {
            *replaces = Some(id.to_owned())
        });
        self.become_file(file, id, "replaces", id);
    }

    /// Retires an entry in favour of another.
    pub fn set_retired_for(&mut self, id: &str, heir: &str) {
        let mut file = self.file.clone();
        each_entry(&mut file, id, |_, _, retired| {
            *retired = Some(heir.to_owned())
        });
        self.become_file(file, id, "retired_for", heir);
    }

    /// Takes on what `file` says: as one changed line if that says the same, else written anew.
    fn become_file(&mut self, file: LibraryFile, id: &str, key: &str, value: &str) {
        if file == self.file {
            return;
        }
        let fits = |text: &str| library_file(text).is_ok_and(|read| read == file);
        let found = with_key(&self.text, id, key, value).find(|changed| fits(&changed.text));
        match found {
            Some(changed) => {
                if changed.inserted && changed.line <= self.lines.len() {
                    self.lines.insert(changed.line, 0);
                }
                self.text = changed.text;
            }
            None => {
                let text = library_text(&file).unwrap_or_default();
                let old = std::mem::replace(&mut self.text, text);
                let lines = std::mem::take(&mut self.lines);
                self.before.get_or_insert((old, lines, self.indent));
                self.indent = 0;
            }
        }
        self.file = file;
    }

    /// A problem in the text to be saved, moved to its place in the text as given. Layer and file
    /// become empty; the caller knows what the coach calls the draft.
    #[must_use]
    pub fn as_given(&self, mut problem: Problem) -> Problem {
        problem.layer = String::new();
        problem.file = String::new();
        let (mut lines, mut indent) = (&self.lines, self.indent);
        if let Some((text, old_lines, old_indent)) = &self.before {
            let at = same_place(&self.text, (problem.line, problem.column), text);
            (problem.line, problem.column) = at.unwrap_or((0, 0));
            (lines, indent) = (old_lines, *old_indent);
        }
        if problem.line > 0 {
            let line = lines.get(problem.line - 1).copied().unwrap_or(0);
            problem.line = line;
            problem.column = if line == 0 {
                0
            } else {
                problem.column.saturating_sub(indent).max(1)
            };
        }
        problem
    }

    /// The draft as a layer for showing problems moved by [`Draft::as_given`]. `name` is what the
    /// coach calls it.
    #[must_use]
    pub fn given_layer(&self, name: &str) -> LayerText {
        LayerText::new(name, [("", self.given.as_str())])
    }
}

/// What of the three forms of a draft a text is.
enum DraftForm {
    File,
    List,
    Entry,
}

fn form(text: &str, first: usize) -> DraftForm {
    let indent = |line: &str| line.len() - line.trim_start_matches(' ').len();
    let Some(line) = text.lines().nth(first) else {
        return DraftForm::File;
    };
    let start = line.trim_start();
    if start == "-" || start.starts_with("- ") {
        return DraftForm::List;
    }
    if let Some(inner) = start.strip_prefix('{') {
        let inner = inner.trim_start();
        return if EntryKind::FOUND
            .iter()
            .map(|kind| kind.list())
            .any(|list| inner.trim_start_matches(['"', '\'']).starts_with(list))
        {
            DraftForm::File
        } else {
            DraftForm::Entry
        };
    }
    let keys = ["id:", "name:", "cause:", "effect:"];
    let same = text.lines().filter(|other| indent(other) == indent(line));
    if same
        .map(str::trim_start)
        .any(|line| keys.iter().any(|key| line.starts_with(key)))
    {
        DraftForm::Entry
    } else {
        DraftForm::File
    }
}

/// A line that marks the start of a document may not stand inside a list.
fn without_marker(text: &str) -> String {
    let lines = text
        .lines()
        .map(|line| if line.trim_end() == "---" { "" } else { line });
    lines.collect::<Vec<_>>().join("\n")
}

/// One entry as the only item of its list; every line moves by four columns and one line.
fn wrapped(text: &str, first: usize, kind: EntryKind) -> String {
    let mut wrapped = format!("{}:\n", kind.list());
    for (number, line) in without_marker(text).lines().enumerate() {
        if line.trim().is_empty() {
            wrapped.push('\n');
            continue;
        }
        let indent = line.len() - line.trim_start_matches(' ').len();
        if number == first {
            wrapped.push_str(&" ".repeat(indent + 2));
            wrapped.push_str("- ");
            wrapped.push_str(&line[indent..]);
        } else {
            wrapped.push_str("    ");
            wrapped.push_str(line);
        }
        wrapped.push('\n');
    }
    wrapped
}

fn with_end(mut text: String) -> String {
    if !text.ends_with('\n') {
        text.push('\n');
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    const ENTRY: &str = "# from Tuesday\nid: a\nname: A\ntreats:\n  - {id: x}\n";

    #[test]
    fn one_entry_a_list_and_a_file_read_the_same() {
        let entry = Draft::from_text(EntryKind::Drill, ENTRY).expect("reads");
        let list = "- id: a\n  name: A\n  treats:\n    - {id: x}\n";
        let list = Draft::from_text(EntryKind::Drill, list).expect("reads");
        let flow = Draft::from_text(EntryKind::Drill, "{id: a, name: A, treats: [{id: x}]}")
            .expect("reads");
        let file = Draft::from_text(EntryKind::Drill, entry.text()).expect("reads");
        assert_eq!(entry.file(), list.file());
        assert_eq!(entry.file(), flow.file());
        assert_eq!(entry.text(), file.text());
        assert_eq!(entry.path(), "drills/a.yaml");
    }

    #[test]
    fn a_status_becomes_a_line_and_comments_stay() {
        let mut draft = Draft::from_text(EntryKind::Drill, ENTRY).expect("reads");
        draft.set_on_trial();
        assert!(
            draft
                .text()
                .contains("# from Tuesday\n  - id: a\n    status: trial\n"),
            "{}",
            draft.text()
        );
        assert!(!draft.rewritten());
        let mut flow = Draft::from_text(EntryKind::Drill, "{id: a, name: A, treats: [{id: x}]}")
            .expect("reads");
        flow.set_on_trial();
        assert!(flow.rewritten());
        assert_eq!(flow.file().drills[0].status, Some(Status::Trial));
    }

    #[test]
    fn a_problem_is_said_at_the_line_that_the_coach_wrote() {
        let Err(DraftError::Problems(problems)) =
            Draft::from_text(EntryKind::Drill, "id: a\nnmae: A\ntreats: []\n")
        else {
            panic!("a misspelt key is refused");
        };
        let place = problems
            .iter()
            .find(|p| p.code == "unknown-key")
            .map(|p| (p.line, p.column));
        assert_eq!(place, Some((2, 1)));
    }

    #[test]
    fn nothing_and_the_wrong_thing_are_told_apart() {
        assert!(matches!(
            Draft::from_text(EntryKind::Drill, " \n# x\n"),
            Err(DraftError::Empty)
        ));
        let fault = "faults:\n  - {id: a, name: A, stage: top}\n";
        let Err(DraftError::OtherKind { found, .. }) = Draft::from_text(EntryKind::Drill, fault)
        else {
            panic!("a fault is no drill");
        };
        assert_eq!(found, [EntryKind::Fault]);
        assert!(matches!(
            Draft::from_bytes(EntryKind::Drill, b"id: a\nname: \xff"),
            Err(DraftError::NotText { line: 2 })
        ));
    }
}
