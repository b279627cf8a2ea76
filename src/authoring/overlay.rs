//! What each layer of a library brings: what it adds, what it puts in another's place, what it retires.

use super::EntryKind;
use super::preview::Retired;
use crate::knowledge::{LayerText, LibraryFile, Problem, library_file};
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeMap;

/// An entry and where it is written.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct EntryRef {
    /// `drill`, `fault`, `cause`, `outcome`, `link`, `source` or `case`.
    pub kind: &'static str,
    /// Its id; for a link, `cause -> effect`.
    pub id: String,
    /// Its name, where it has one.
    pub name: String,
    /// The file, relative to the layer's folder.
    pub file: String,
    /// Whether it is on trial.
    pub trial: bool,
}

/// A key of an entry whose value differs from the one in an earlier layer.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FieldChange {
    /// The key.
    pub key: String,
    /// What it was; `None` where the key was left out.
    pub before: Option<Value>,
    /// What it is; `None` where the key is left out.
    pub after: Option<Value>,
}

/// An entry that stands in the place of one from an earlier layer.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Replaced {
    /// The entry.
    #[serde(flatten)]
    pub entry: EntryRef,
    /// The layer of the entry it replaces.
    pub from: String,
    /// What is different, in the order of the format.
    pub changes: Vec<FieldChange>,
}

/// One layer, against those below it.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Overlay {
    /// `shipped`, or the folder as it was given.
    pub name: String,
    /// How many entries of each list it holds.
    pub counts: BTreeMap<&'static str, usize>,
    /// Entries of its own.
    pub adds: Vec<EntryRef>,
    /// Entries in the place of others.
    pub replaces: Vec<Replaced>,
    /// Entries that it retires.
    pub retires: Vec<Retired>,
}

/// What every layer brings, first to last.
///
/// # Errors
///
/// What keeps a file from being read by itself.
pub fn overlays(layers: &[LayerText]) -> Result<Vec<Overlay>, Vec<Problem>> {
    let mut standing: BTreeMap<String, (String, Value)> = BTreeMap::new();
    let mut views = Vec::new();
    for layer in layers {
        let mut view = Overlay {
            name: layer.name.clone(),
            ..Overlay::default()
        };
        let mut laid = Vec::new();
        for text in &layer.files {
            let file = library_file(&text.text).map_err(|problems| {
                let placed = problems.into_iter().map(|problem| Problem {
                    layer: layer.name.clone(),
                    file: text.path.clone(),
                    ..problem
                });
                placed.collect::<Vec<_>>()
            })?;
            for (entry, value) in entries(&file, &text.path) {
                view.lay(entry, value, &standing, &mut laid);
            }
        }
        for (id, value) in laid {
            standing.insert(id, (layer.name.clone(), value));
        }
        views.push(view);
    }
    Ok(views)
}

impl Overlay {
    fn lay(
        &mut self,
        entry: EntryRef,
        value: Value,
        standing: &BTreeMap<String, (String, Value)>,
        laid: &mut Vec<(String, Value)>,
    ) {
        *self.counts.entry(list_of(entry.kind)).or_insert(0) += 1;
        let text = |key: &str| value.get(key).and_then(Value::as_str).map(str::to_owned);
        if let Some(heir) = text("retired_for") {
            self.retires.push(Retired {
                id: entry.id.clone(),
                retired_for: heir,
            });
        }
        if matches!(entry.kind, "drill" | "fault" | "cause" | "outcome") {
            laid.push((entry.id.clone(), value.clone()));
        }
        match text("replaces").and_then(|id| standing.get(&id)) {
            Some((from, before)) => self.replaces.push(Replaced {
                changes: changes(before, &value),
                from: from.clone(),
                entry,
            }),
            None => self.adds.push(entry),
        }
    }
}

fn list_of(kind: &str) -> &'static str {
    match kind {
        "drill" => "drills",
        "fault" => "faults",
        "cause" => "causes",
        "outcome" => "outcomes",
        "link" => "links",
        "source" => "sources",
        _ => "cases",
    }
}

/// Every entry of a file with what it says as JSON, in the order of its lists.
fn entries(file: &LibraryFile, path: &str) -> Vec<(EntryRef, Value)> {
    fn of<'f, T: Serialize>(
        kind: &'static str,
        list: &'f [T],
    ) -> impl Iterator<Item = (&'static str, Value)> + 'f {
        list.iter()
            .map(move |item| (kind, serde_json::to_value(item).unwrap_or_default()))
    }
    let lists = of(EntryKind::Drill.as_str(), &file.drills)
        .chain(of(EntryKind::Fault.as_str(), &file.faults))
        .chain(of(EntryKind::Cause.as_str(), &file.causes))
        .chain(of(EntryKind::Outcome.as_str(), &file.outcomes))
        .chain(of(EntryKind::Link.as_str(), &file.links))
        .chain(of("source", &file.sources))
        .chain(of("case", &file.cases));
    let with_ref = lists.map(|(kind, value)| {
        let text = |key: &str| value[key].as_str().unwrap_or_default().to_owned();
        let id = if kind == "link" {
            format!("{} -> {}", text("cause"), text("effect"))
        } else {
            text("id")
        };
        let entry = EntryRef {
            kind,
            id,
            name: text("name"),
            file: path.to_owned(),
            trial: text("status") == "trial",
        };
        (entry, value)
    });
    with_ref.collect()
}

fn changes(before: &Value, after: &Value) -> Vec<FieldChange> {
    let none = serde_json::Map::new();
    let (old, new) = (
        before.as_object().unwrap_or(&none),
        after.as_object().unwrap_or(&none),
    );
    let gone = old.keys().filter(|key| !new.contains_key(*key));
    let keys = new.keys().chain(gone).filter(|key| *key != "replaces");
    let changed = keys.filter(|key| old.get(*key) != new.get(*key));
    changed
        .map(|key| FieldChange {
            key: key.clone(),
            before: old.get(key).cloned(),
            after: new.get(key).cloned(),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_layer_says_what_it_adds_and_what_it_puts_in_another_s_place() {
        let below = LayerText::new(
            "below",
            [(
                "a.yaml",
                "faults:\n- {id: a, name: A, stage: top, cost: 1}\n",
            )],
        );
        let above = "faults:\n- {id: a, name: A2, stage: top, replaces: a}\n- {id: b, name: B, stage: top, retired_for: a}\nlinks:\n- {cause: b, effect: a, strength: expected}\n";
        let views =
            overlays(&[below, LayerText::new("above", [("b.yaml", above)])]).expect("reads");
        let ids: Vec<&str> = views[1]
            .adds
            .iter()
            .map(|entry| entry.id.as_str())
            .collect();
        assert_eq!(ids, ["b", "b -> a"]);
        let replaced = &views[1].replaces[0];
        assert_eq!(
            (replaced.entry.id.as_str(), replaced.from.as_str()),
            ("a", "below")
        );
        let keys: Vec<&str> = replaced
            .changes
            .iter()
            .map(|change| change.key.as_str())
            .collect();
        assert_eq!(keys, ["name", "cost"]);
        assert_eq!(views[1].retires[0].retired_for, "a");
        assert_eq!(views[1].counts["faults"], 2);
    }
}
