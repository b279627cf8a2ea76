//! A whole library as one file like any other, to hand to another coach, and such a file taken in.

use super::checked::Checked;
use super::own::OwnLibrary;
use crate::knowledge::{
    FileText, LayerText, LibraryFile, Problem, folder::Limits, library_file, library_text,
};
use serde::Serialize;
use serde_json::{Map, Value};
use std::collections::HashMap;
use thiserror::Error;

/// Why a library is not shared.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum ShareError {
    /// There is nothing in it.
    #[error("there is nothing to share")]
    Empty,
    /// One of its files cannot be read.
    #[error("{file} cannot be read")]
    Broken {
        /// The file.
        file: String,
        /// What is wrong with it.
        problems: Vec<Problem>,
    },
    /// Above the limit on a library file.
    #[error("all of it would be a file of more than {} MiB, the limit on one", Limits::default().file_bytes >> 20)]
    TooLarge,
}

/// All entries of a library as the text of one library file, in the order of its files; remarks in
/// them stay at home. Also how many entries there are.
///
/// # Errors
///
/// See [`ShareError`].
pub fn share(layer: &LayerText) -> Result<(String, usize), ShareError> {
    let mut all: Vec<ListedEntry> = Vec::new();
    for file in &layer.files {
        let broken = |problems| ShareError::Broken {
            file: file.path.clone(),
            problems,
        };
        all.extend(items(&library_file(&file.text).map_err(broken)?));
    }
    if all.is_empty() {
        return Err(ShareError::Empty);
    }
    let text = text_of(&all);
    if text.len() as u64 > Limits::default().file_bytes {
        return Err(ShareError::TooLarge);
    }
    Ok((text, all.len()))
}

/// What becomes of one entry of a file that is taken in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "fate")]
pub enum Fate {
    /// There was none; it is taken in.
    New,
    /// It is there already, word for word.
    Same,
    /// It cannot stand with what is there.
    LeftOut {
        /// Why.
        why: String,
    },
}

/// One entry of a file that is taken in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Taken {
    /// The list it stands in.
    pub list: String,
    /// Its id; for a link `cause -> effect`, for words the first of them.
    pub id: String,
    /// What becomes of it.
    #[serde(flatten)]
    pub fate: Fate,
}

/// What taking a file in would do.
#[derive(Debug)]
pub struct Received {
    /// Every entry of it, in its order.
    pub entries: Vec<Taken>,
    /// The file that it becomes, with what the library would be with it; `None` when there is nothing
    /// new in it.
    pub file: Option<(FileText, Checked)>,
}

/// Works out what of a library file is new, and what fits; `name` is what its sender called it.
///
/// # Errors
///
/// What is wrong with the library as it is.
pub fn receive(
    own: &mut OwnLibrary,
    file: &LibraryFile,
    name: &str,
) -> Result<Received, Vec<Problem>> {
    let there = standing(&own.stack.layers);
    let first_fate = |item: &ListedEntry| {
        let same_id = there.get(&(item.list.clone(), item.id.clone()));
        let same_id = same_id.map(Vec::as_slice).unwrap_or_default();
        match same_id.iter().find(|entry| entry.layer == own.at) {
            _ if same_id.iter().any(|entry| entry.value == item.value) => Fate::Same,
            Some(entry) if ONE_OF_AN_ID.contains(&item.list.as_str()) => Fate::LeftOut {
                why: format!("yours, in {}, says something else", entry.file),
            },
            _ => Fate::New,
        }
    };
    let with_fate = |item: ListedEntry| {
        let fate = first_fate(&item);
        (item, fate)
    };
    let mut fates: Vec<_> = items(file).into_iter().map(with_fate).collect();
    let path = free_path(own, name);
    loop {
        let new: Vec<usize> = (0..fates.len())
            .filter(|at| fates[*at].1 == Fate::New)
            .collect();
        if new.is_empty() {
            return Ok(Received::of(fates, None));
        }
        let chosen: Vec<ListedEntry> = new.iter().map(|at| fates[*at].0.clone()).collect();
        let text = text_of(&chosen);
        let problems = match own.check_text(&path, Some(text.clone())) {
            Ok(checked) => {
                let text = text.into();
                let file = Some((FileText { path, text }, checked));
                return Ok(Received::of(fates, file));
            }
            Err(problems) => problems,
        };
        // What does not fit is left out, and after it what leans on it.
        let layer = &own.layer().name;
        let here = |problem: &&Problem| problem.layer == *layer && problem.file == path;
        let misfits: Vec<(usize, &Problem)> = problems
            .iter()
            .filter(here)
            .filter_map(|problem| {
                let (list, nth) = item_at(&text, problem.line)?;
                let mut same_list = new.iter().filter(|at| fates[**at].0.list == list);
                Some((*same_list.nth(nth)?, problem))
            })
            .collect();
        if misfits.is_empty() {
            return Err(problems);
        }
        for (at, problem) in misfits {
            let why = problem.message.clone();
            fates[at].1 = Fate::LeftOut { why };
        }
    }
}

impl Received {
    fn of(fates: Vec<(ListedEntry, Fate)>, file: Option<(FileText, Checked)>) -> Self {
        let entries = fates.into_iter().map(|(item, fate)| Taken {
            list: item.list,
            id: item.id,
            fate,
        });
        Self {
            entries: entries.collect(),
            file,
        }
    }
}

/// One entry of a file, whatever list it stands in.
#[derive(Clone, Debug)]
struct ListedEntry {
    list: String,
    id: String,
    value: Value,
}

fn items(file: &LibraryFile) -> Vec<ListedEntry> {
    let Ok(Value::Object(lists)) = serde_json::to_value(file) else {
        return Vec::new();
    };
    let of = |(list, values): (String, Value)| {
        let values = match values {
            Value::Array(values) => values,
            _ => Vec::new(),
        };
        values.into_iter().map(move |value| {
            let text = |key: &str| value.get(key).and_then(Value::as_str).unwrap_or_default();
            let id = match (text("id"), text("cause")) {
                ("", "") => value["say"][0].as_str().unwrap_or(&list).to_owned(),
                ("", cause) => format!("{cause} -> {}", text("effect")),
                (id, _) => id.to_owned(),
            };
            let list = list.clone();
            ListedEntry { list, id, value }
        })
    };
    lists.into_iter().flat_map(of).collect()
}

fn text_of(items: &[ListedEntry]) -> String {
    let mut lists: Map<String, Value> = Map::new();
    for item in items {
        let list = lists
            .entry(&item.list)
            .or_insert_with(|| Value::Array(Vec::new()));
        if let Value::Array(list) = list {
            list.push(item.value.clone());
        }
    }
    let file: Result<LibraryFile, _> = serde_json::from_value(Value::Object(lists));
    let text = file.map(|file| library_text(&file).unwrap_or_default());
    text.unwrap_or_default()
}

/// Lists of which a layer has one entry of an id; what stands in the others adds up.
const ONE_OF_AN_ID: &[&str] = &[
    "outcomes", "faults", "causes", "drills", "sources", "links", "facts", "cases",
];

/// An entry as it stands in a layer.
struct EntryThere {
    layer: usize,
    file: String,
    value: Value,
}

/// Every entry of the layers by list and id.
fn standing(layers: &[LayerText]) -> HashMap<(String, String), Vec<EntryThere>> {
    let mut standing: HashMap<_, Vec<EntryThere>> = HashMap::new();
    for (layer, text) in layers.iter().enumerate() {
        for file in &text.files {
            let Ok(read) = library_file(&file.text) else {
                continue;
            };
            for ListedEntry { list, id, value } in items(&read) {
                let file = file.path.clone();
                let entry = EntryThere { layer, file, value };
                standing.entry((list, id)).or_default().push(entry);
            }
        }
    }
    standing
}

/// List and place of the entry that a line of a text written by [`text_of`] belongs to.
fn item_at(text: &str, line: usize) -> Option<(String, usize)> {
    let mut list = String::new();
    let mut count = 0_usize;
    for line in text.lines().take(line) {
        if line.starts_with("- ") {
            count += 1;
        } else if !line.starts_with(' ') && line.ends_with(':') {
            list = line.trim_end_matches(':').to_owned();
            count = 0;
        }
    }
    Some((list, count.checked_sub(1)?))
}

/// A name in the library that is not taken: `received/robin.yaml`.
fn free_path(own: &OwnLibrary, name: &str) -> String {
    let stem = crate::knowledge::to_kebab(name);
    let stem = if stem.is_empty() { "library" } else { &stem };
    let taken = |path: &String| {
        let mut files = own.layer().files.iter().chain(&own.stack.broken);
        files.any(|file| file.path == *path) || own.folder.join(path).exists()
    };
    let numbered = (2_u32..).map(|number| format!("received/{stem}-{number}.yaml"));
    let mut names = std::iter::once(format!("received/{stem}.yaml")).chain(numbered);
    names.find(|path| !taken(path)).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_library_becomes_one_file_and_a_line_of_it_an_entry() {
        let layer = LayerText::new(
            "mine",
            [
                (
                    "a.yaml",
                    "# a remark\nfaults:\n- {id: a, name: A, stage: top}\n",
                ),
                (
                    "b.yaml",
                    "faults:\n- {id: b, name: B, stage: top, caution: \"- Mind: this\"}\nlinks:\n- {cause: a, effect: b, strength: 0.5}\n",
                ),
            ],
        );
        let (text, count) = share(&layer).expect("shared");
        assert_eq!(count, 3);
        let file = library_file(&text).expect("read like any other");
        assert_eq!((file.faults.len(), file.links.len()), (2, 1));
        let line = |words: &str| {
            let found = text.lines().position(|line| line.contains(words));
            item_at(&text, found.expect("there") + 1)
        };
        assert_eq!(line("name: B"), Some(("faults".to_owned(), 1)));
        assert_eq!(line("effect: b"), Some(("links".to_owned(), 0)));
        assert_eq!(share(&LayerText::default()), Err(ShareError::Empty));
    }
}
