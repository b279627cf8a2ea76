//! The entries of a library file, whatever list they stand in.

use super::EntryKind;
use crate::knowledge::{ConditionText, FileText, LibraryFile, Status, library_file};

fn conditions(file: &LibraryFile, kind: EntryKind) -> &[ConditionText] {
    match kind {
        EntryKind::Outcome => &file.outcomes,
        EntryKind::Fault => &file.faults,
        EntryKind::Cause => &file.causes,
        EntryKind::Drill | EntryKind::Link | EntryKind::Source | EntryKind::Case => &[],
    }
}

pub(super) fn names_of(file: &LibraryFile, kind: EntryKind) -> Vec<String> {
    match kind {
        EntryKind::Drill => file.drills.iter().map(|drill| drill.id.clone()).collect(),
        EntryKind::Link => {
            let links = file.links.iter();
            links
                .map(|link| format!("{}-to-{}", link.cause, link.effect))
                .collect()
        }
        EntryKind::Source => file.sources.iter().map(|own| own.id.clone()).collect(),
        EntryKind::Case => file.cases.iter().map(|own| own.id.clone()).collect(),
        _ => conditions(file, kind)
            .iter()
            .map(|entry| entry.id.clone())
            .collect(),
    }
}

/// Every id that a file gives to an entry, links as `cause-to-effect`; none if it cannot be read.
#[must_use]
pub fn names_in(file: &FileText) -> Vec<String> {
    let Ok(read) = library_file(&file.text) else {
        return Vec::new();
    };
    let kinds = EntryKind::FOUND.iter();
    kinds.flat_map(|kind| names_of(&read, *kind)).collect()
}

/// What an id names in a file among `kinds`, and that entry alone as a file of its own; for a link the id
/// is `cause-to-effect`.
#[must_use]
pub fn find_entry(
    file: &LibraryFile,
    id: &str,
    kinds: &[EntryKind],
) -> Option<(EntryKind, LibraryFile)> {
    let names = |kind: &&EntryKind| names_of(file, **kind).iter().any(|own| own == id);
    let kind = *kinds.iter().find(names)?;
    let pick = |list: &[ConditionText]| {
        let own = list.iter().filter(|entry| entry.id == id);
        own.cloned().collect()
    };
    let mut alone = LibraryFile::default();
    match kind {
        EntryKind::Drill => {
            alone.drills = file.drills.iter().filter(|d| d.id == id).cloned().collect()
        }
        EntryKind::Fault => alone.faults = pick(&file.faults),
        EntryKind::Cause => alone.causes = pick(&file.causes),
        EntryKind::Outcome => alone.outcomes = pick(&file.outcomes),
        EntryKind::Link => {
            let links = file.links.iter();
            let links = links.filter(|link| format!("{}-to-{}", link.cause, link.effect) == id);
            alone.links = links.cloned().collect();
        }
        EntryKind::Source => {
            let sources = file.sources.iter().filter(|own| own.id == id);
            alone.sources = sources.cloned().collect();
        }
        EntryKind::Case => {
            alone.cases = file.cases.iter().filter(|c| c.id == id).cloned().collect();
        }
    }
    Some((kind, alone))
}

/// A file with another entry in the place of the one of an id; for a link the id is `cause-to-effect`.
pub(super) fn with_entry(
    file: &LibraryFile,
    kind: EntryKind,
    id: &str,
    entry: &LibraryFile,
) -> LibraryFile {
    fn put<T: Clone>(list: &mut [T], entry: &[T], is_it: impl Fn(&T) -> bool) {
        for old in list.iter_mut().filter(|old| is_it(old)) {
            if let Some(new) = entry.first() {
                *old = new.clone();
            }
        }
    }
    let mut file = file.clone();
    let of_id = |entry: &ConditionText| entry.id == id;
    match kind {
        EntryKind::Drill => put(&mut file.drills, &entry.drills, |drill| drill.id == id),
        EntryKind::Fault => put(&mut file.faults, &entry.faults, of_id),
        EntryKind::Cause => put(&mut file.causes, &entry.causes, of_id),
        EntryKind::Outcome => put(&mut file.outcomes, &entry.outcomes, of_id),
        EntryKind::Link => put(&mut file.links, &entry.links, |link| {
            format!("{}-to-{}", link.cause, link.effect) == id
        }),
        EntryKind::Source => put(&mut file.sources, &entry.sources, |own| own.id == id),
        EntryKind::Case => put(&mut file.cases, &entry.cases, |own| own.id == id),
    }
    file
}

/// A file without the entry of an id; for a link the id is `cause-to-effect`.
pub(super) fn without_entry(file: &LibraryFile, kind: EntryKind, id: &str) -> LibraryFile {
    let mut rest = file.clone();
    match kind {
        EntryKind::Drill => rest.drills.retain(|drill| drill.id != id),
        EntryKind::Fault => rest.faults.retain(|entry| entry.id != id),
        EntryKind::Cause => rest.causes.retain(|entry| entry.id != id),
        EntryKind::Outcome => rest.outcomes.retain(|entry| entry.id != id),
        EntryKind::Link => rest
            .links
            .retain(|link| format!("{}-to-{}", link.cause, link.effect) != id),
        EntryKind::Source => rest.sources.retain(|source| source.id != id),
        EntryKind::Case => rest.cases.retain(|case| case.id != id),
    }
    rest
}

/// The list under which a text that cannot be read names an id as its own, as far as its lines
/// tell; so that a file with a slip in it can still be found and mended.
#[must_use]
pub fn holds_id(text: &str, id: &str) -> Option<EntryKind> {
    let mut list = None;
    for line in text.lines() {
        let found = EntryKind::FOUND
            .iter()
            .find(|kind| line.starts_with(kind.list()));
        list = found.copied().or(list);
        let rest = line.trim_start().trim_start_matches("- ").trim_start();
        let value = rest.strip_prefix("id:").map(str::trim);
        if value.is_some_and(|value| value.trim_matches(['"', '\'']) == id) {
            return list;
        }
    }
    None
}

/// Calls `change` with status, `replaces` and `retired_for` of every entry of an id.
pub(super) fn each_entry(
    file: &mut LibraryFile,
    id: &str,
    mut change: impl FnMut(&mut Option<Status>, &mut Option<String>, &mut Option<String>),
) {
    let lists = [&mut file.outcomes, &mut file.faults, &mut file.causes];
    for entry in lists.into_iter().flatten().filter(|entry| entry.id == id) {
        change(
            &mut entry.status,
            &mut entry.replaces,
            &mut entry.retired_for,
        );
    }
    for drill in file.drills.iter_mut().filter(|drill| drill.id == id) {
        change(
            &mut drill.status,
            &mut drill.replaces,
            &mut drill.retired_for,
        );
    }
}
