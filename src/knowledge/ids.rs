//! Ids looked up: where each leads, and what is wrong with one that leads nowhere or to what is retired.

use super::base::{ConditionKey, DrillKey, FactKey, SourceKey};
use super::document::ConditionText;
use super::drill_text::DrillText;
use super::node::clip;
use super::placed_entry::PlacedEntry;
use super::problems::{Problems, Spot};
use super::standing_entries::Settled;
use foldhash::fast::RandomState;
use std::collections::HashMap;

/// A map by ids. The hash is quick and still seeded: libraries come from strangers too.
pub(super) type Map<K, V> = HashMap<K, V, RandomState>;

/// Looks ids up and says what is wrong with one that leads nowhere.
pub(super) struct Index<'s> {
    pub(super) settled: &'s Settled,
    conditions: Map<&'s str, (ConditionKey, &'s PlacedEntry<ConditionText>)>,
    drills: Map<&'s str, (DrillKey, &'s PlacedEntry<DrillText>)>,
    sources: Map<&'s str, SourceKey>,
    facts: Map<&'s str, FactKey>,
}

impl<'s> Index<'s> {
    pub(super) fn new(settled: &'s Settled) -> Self {
        let conditions = settled.conditions.iter().enumerate();
        let drills = settled.drills.iter().enumerate();
        let sources = settled.sources.keys().enumerate();
        let facts = settled.facts.keys().enumerate();
        Self {
            settled,
            conditions: conditions
                .map(|(i, (id, (_, entry)))| (id.as_str(), (ConditionKey(i), &**entry)))
                .collect(),
            drills: drills
                .map(|(i, (id, entry))| (id.as_str(), (DrillKey(i), &**entry)))
                .collect(),
            sources: sources.map(|(i, id)| (id.as_str(), SourceKey(i))).collect(),
            facts: facts.map(|(i, id)| (id.as_str(), FactKey(i))).collect(),
        }
    }

    /// The condition with an id; what is wrong otherwise is said.
    pub(super) fn condition(
        &self,
        id: &str,
        spot: impl Fn() -> Spot,
        problems: &mut Problems<'_>,
    ) -> Option<ConditionKey> {
        if let Some((key, entry)) = self.conditions.get(id) {
            if let Some(heir) = &entry.text.retired_for {
                retired(id, heir, entry.start(), spot(), problems);
            }
            return Some(*key);
        }
        let spot = spot();
        if self.drills.contains_key(id) {
            problems.error(
                spot,
                "wrong-kind",
                format!(
                    "`{}` is a drill; an outcome, fault or cause belongs here",
                    clip(id)
                ),
                "write the id of what the drill works on",
            );
            return None;
        }
        let named = self.settled.conditions.iter().find(|(_, (_, entry))| {
            entry.text.name.eq_ignore_ascii_case(id)
                || entry
                    .text
                    .aliases
                    .iter()
                    .any(|a| a.eq_ignore_ascii_case(id))
        });
        let named = named.map(|(known, _)| known.clone());
        let known = self.settled.conditions.keys();
        self.unknown(
            "an outcome, fault or cause",
            id,
            named,
            known,
            spot,
            problems,
        );
        None
    }

    /// The fact with an id; what is wrong otherwise is said.
    pub(super) fn fact(
        &self,
        id: &str,
        spot: impl Fn() -> Spot,
        problems: &mut Problems<'_>,
    ) -> Option<FactKey> {
        let key = self.facts.get(id).copied();
        if key.is_none() {
            let known = self.settled.facts.keys();
            self.unknown("a fact", id, None, known, spot(), problems);
        }
        key
    }

    /// The drill with an id; what is wrong otherwise is said.
    pub(super) fn drill(
        &self,
        id: &str,
        spot: impl Fn() -> Spot,
        problems: &mut Problems<'_>,
    ) -> Option<DrillKey> {
        if let Some((key, entry)) = self.drills.get(id) {
            if let Some(heir) = &entry.text.retired_for {
                retired(id, heir, entry.start(), spot(), problems);
            }
            return Some(*key);
        }
        let spot = spot();
        if self.conditions.contains_key(id) {
            problems.error(
                spot,
                "wrong-kind",
                format!("`{}` is not a drill, and a drill belongs here", clip(id)),
                "write the id of a drill",
            );
            return None;
        }
        self.unknown(
            "a drill",
            id,
            None,
            self.settled.drills.keys(),
            spot,
            problems,
        );
        None
    }

    /// The source with an id; what is wrong otherwise is said.
    pub(super) fn source(
        &self,
        id: &str,
        spot: impl Fn() -> Spot,
        problems: &mut Problems<'_>,
    ) -> Option<SourceKey> {
        let key = self.sources.get(id).copied();
        if key.is_none() {
            self.unknown(
                "a source",
                id,
                None,
                self.settled.sources.keys(),
                spot(),
                problems,
            );
        }
        key
    }

    fn unknown<'a>(
        &self,
        noun: &str,
        id: &str,
        named: Option<String>,
        known: impl ExactSizeIterator<Item = &'a String>,
        spot: Spot,
        problems: &mut Problems<'_>,
    ) {
        if self.settled.unreadable.contains(id) {
            return;
        }
        let help = match named {
            Some(named) => format!("write its id: `{named}`"),
            None => problems.did_you_mean(
                id,
                known.map(String::as_str),
                "correct the id, or add an entry that has it",
            ),
        };
        let message = format!("no entry has the id `{}`; {noun} belongs here", clip(id));
        problems.error(spot, "unknown-id", message, help);
    }
}

/// A link to a retired entry is told to those who could have known: not to the authors of a layer
/// below the one that retired it.
fn retired(id: &str, heir: &str, by: Spot, spot: Spot, problems: &mut Problems<'_>) {
    if by.layer > spot.layer {
        return;
    }
    problems.warning(
        spot,
        "retired-link",
        format!("`{}` is retired", clip(id)),
        format!("write `{}`", clip(heir)),
    );
}

/// The sources that an entry leans on, each once.
pub(super) fn sources(
    ids: &[String],
    index: &Index<'_>,
    problems: &mut Problems<'_>,
    spot: impl Fn(usize) -> Spot,
) -> Vec<SourceKey> {
    let mut found = Vec::new();
    for (i, id) in ids.iter().enumerate() {
        let key = index.source(id, || spot(i), problems);
        found.extend(key.filter(|key| !found.contains(key)));
    }
    found
}

/// An heir exists, is of the same sort, and following heirs ends somewhere.
pub(super) fn check_retired_for<'a>(
    spot: impl Fn() -> Spot,
    id: &str,
    heir: Option<&'a str>,
    problems: &mut Problems<'_>,
    heir_of: impl Fn(&str) -> Option<Option<&'a str>>,
) {
    let Some(first) = heir else { return };
    if heir_of(first).is_none() {
        problems.error(
            spot(),
            "retired-for-nothing",
            format!(
                "`{}` is retired for `{}`, which is no entry of its sort",
                clip(id),
                clip(first)
            ),
            "name an entry that is there",
        );
        return;
    }
    let mut seen = vec![id];
    let mut next = Some(first);
    while let Some(now) = next {
        if seen.contains(&now) {
            problems.error(
                spot(),
                "retired-in-a-circle",
                format!(
                    "following `retired_for` from `{}` leads back to `{}`",
                    clip(id),
                    clip(now)
                ),
                "let one of them stand",
            );
            return;
        }
        seen.push(now);
        next = heir_of(now).flatten();
    }
}
