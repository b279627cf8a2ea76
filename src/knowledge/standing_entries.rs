//! Layers laid over one another: which entry stands for each id.

use super::base::ConditionKind;
use super::document::{BodyWordsText, CaseText, ConditionText, FactText, LinkText, SourceText};
use super::drill_text::DrillText;
use super::gather::{Gathered, SpokenEntries};
use super::node::clip;
use super::placed_entry::PlacedEntry;
use super::plain_values::LONGEST_ID;
use super::problems::{Problems, Spot};
use super::vocabulary::{Stage, WhenSeen};
use std::collections::btree_map::{BTreeMap, Entry as Slot};
use std::collections::{HashMap, HashSet};

/// The longest name or alias, in characters: two lines at a terminal.
const LONGEST_NAME: usize = 160;

/// One entry for each id.
#[allow(
    clippy::vec_box,
    reason = "entries are large, and moved from list to map and back"
)]
pub(super) struct Settled {
    pub(super) conditions: BTreeMap<String, (ConditionKind, Box<PlacedEntry<ConditionText>>)>,
    pub(super) drills: BTreeMap<String, Box<PlacedEntry<DrillText>>>,
    pub(super) sources: BTreeMap<String, Box<PlacedEntry<SourceText>>>,
    pub(super) cases: BTreeMap<String, Box<PlacedEntry<CaseText>>>,
    pub(super) links: Vec<Box<PlacedEntry<LinkText>>>,
    /// Each fact with every layer's word on it, first to last.
    #[allow(clippy::vec_box, reason = "entries come boxed, like all others")]
    pub(super) facts: BTreeMap<String, Vec<Box<PlacedEntry<FactText>>>>,
    pub(super) spoken: SpokenEntries,
    pub(super) body_words: BTreeMap<String, Vec<Box<PlacedEntry<BodyWordsText>>>>,
    /// What each stage says when something is seen there, the last layer's word on it.
    pub(super) stages: BTreeMap<Stage, Option<WhenSeen>>,
    /// Ids of entries that could not be read.
    pub(super) unreadable: HashSet<String>,
}

/// A condition or a drill: both are things to look at or to do, and share one set of ids.
enum Thing {
    Condition(ConditionKind, Box<PlacedEntry<ConditionText>>),
    Drill(Box<PlacedEntry<DrillText>>),
}

impl Thing {
    fn start(&self) -> Spot {
        match self {
            Thing::Condition(_, entry) => entry.start(),
            Thing::Drill(entry) => entry.start(),
        }
    }

    fn key(&self, key: &str) -> Spot {
        match self {
            Thing::Condition(_, entry) => entry.key(key),
            Thing::Drill(entry) => entry.key(key),
        }
    }

    fn id(&self) -> &str {
        match self {
            Thing::Condition(_, entry) => &entry.text.id,
            Thing::Drill(entry) => &entry.text.id,
        }
    }

    fn id_spot(&self) -> Spot {
        match self {
            Thing::Condition(_, entry) => entry.spot(&["id".into()]),
            Thing::Drill(entry) => entry.spot(&["id".into()]),
        }
    }

    /// What it is called, and what else.
    fn names(&self) -> (&String, &[String]) {
        match self {
            Thing::Condition(_, entry) => (&entry.text.name, &entry.text.aliases),
            Thing::Drill(entry) => (&entry.text.name, &entry.text.aliases),
        }
    }

    fn replaces(&self) -> Option<&str> {
        match self {
            Thing::Condition(_, entry) => entry.text.replaces.as_deref(),
            Thing::Drill(entry) => entry.text.replaces.as_deref(),
        }
    }

    fn retired(&self) -> bool {
        match self {
            Thing::Condition(_, entry) => entry.text.retired_for.is_some(),
            Thing::Drill(entry) => entry.text.retired_for.is_some(),
        }
    }

    /// Whether the two say the same in every word.
    fn same(&self, other: &Thing) -> bool {
        match (self, other) {
            (Thing::Condition(kind, one), Thing::Condition(other_kind, other)) => {
                kind == other_kind && one.text == other.text
            }
            (Thing::Drill(one), Thing::Drill(other)) => one.text == other.text,
            _ => false,
        }
    }

    fn noun(&self) -> &'static str {
        match self {
            Thing::Condition(kind, _) => kind.as_str(),
            Thing::Drill(_) => "drill",
        }
    }

    fn is_drill(&self) -> bool {
        matches!(self, Thing::Drill(_))
    }
}

/// Which condition or remedy stands for each id.
fn standing(mut things: Vec<Thing>, problems: &mut Problems<'_>) -> BTreeMap<String, Thing> {
    // Layer by layer; inside one, in the order of files and lines.
    things.sort_by_key(Thing::start);
    let mut standing: BTreeMap<String, Thing> = BTreeMap::new();
    for thing in things {
        check_id(thing.id(), || thing.id_spot(), problems);
        check_names(&thing, problems);
        match standing.entry(thing.id().to_owned()) {
            Slot::Vacant(slot) => {
                check_replaces_nothing(&thing, problems);
                slot.insert(thing);
            }
            Slot::Occupied(mut slot) => {
                if may_replace(slot.get(), &thing, problems) {
                    slot.insert(thing);
                }
            }
        }
    }
    standing
}

/// Lays the layers over one another, first to last.
pub(super) fn settle(gathered: Gathered, problems: &mut Problems<'_>) -> Settled {
    let conditions = gathered.conditions.into_iter();
    let conditions = conditions.map(|(kind, entry)| Thing::Condition(kind, entry));
    let drills = gathered.drills.into_iter().map(Thing::Drill);
    let standing = standing(conditions.chain(drills).collect(), problems);
    let mut settled = Settled {
        conditions: BTreeMap::new(),
        drills: BTreeMap::new(),
        sources: unique(gathered.sources, |text| &text.id, "source", problems),
        cases: unique(gathered.cases, |text| &text.id, "case", problems),
        links: links(gathered.links, problems),
        facts: added_to(gathered.facts, |text| &text.id, "fact", problems),
        body_words: added_to(gathered.body_words, |text| &text.id, "body word", problems),
        stages: gathered
            .stages
            .iter()
            .map(|entry| (entry.text.id, entry.text.when_seen))
            .collect(),
        spoken: gathered.spoken,
        unreadable: gathered.unreadable,
    };
    for (id, thing) in standing {
        match thing {
            Thing::Condition(kind, entry) => {
                settled.conditions.insert(id, (kind, entry));
            }
            Thing::Drill(entry) => {
                settled.drills.insert(id, entry);
            }
        }
    }
    settled
}

/// Sources and cases cannot be replaced; each id stands once.
fn unique<T: PartialEq>(
    entries: Vec<Box<PlacedEntry<T>>>,
    id: impl Fn(&T) -> &String,
    noun: &str,
    problems: &mut Problems<'_>,
) -> BTreeMap<String, Box<PlacedEntry<T>>> {
    let mut standing: BTreeMap<String, Box<PlacedEntry<T>>> = BTreeMap::new();
    for entry in entries {
        check_id(id(&entry.text), || entry.head(), problems);
        match standing.entry(id(&entry.text).clone()) {
            Slot::Vacant(slot) => {
                slot.insert(entry);
            }
            Slot::Occupied(slot) => {
                let (standing, spot) = (slot.get(), entry.head());
                if standing.start().layer != spot.layer && standing.text == entry.text {
                    problems.taken_once(noun, slot.key(), standing.start(), spot);
                    continue;
                }
                let first = problems.words(standing.start(), spot);
                let message = format!(
                    "there is already a {noun} `{}`, in {first}",
                    clip(slot.key())
                );
                problems.error(spot, "id-twice", message, "give one of the two another id");
            }
        }
    }
    standing
}

/// A fact, or body words, may be named once in each layer; a later layer adds to what earlier ones say.
#[allow(clippy::vec_box, reason = "entries come boxed, like all others")]
fn added_to<T: PartialEq>(
    entries: Vec<Box<PlacedEntry<T>>>,
    id: impl Fn(&T) -> &String,
    noun: &str,
    problems: &mut Problems<'_>,
) -> BTreeMap<String, Vec<Box<PlacedEntry<T>>>> {
    let mut standing: BTreeMap<String, Vec<Box<PlacedEntry<T>>>> = BTreeMap::new();
    for entry in entries {
        check_id(id(&entry.text), || entry.head(), problems);
        let said = standing.entry(id(&entry.text).clone()).or_default();
        let layer = entry.start().layer;
        if let Some(first) = said.iter().find(|other| other.start().layer == layer) {
            let spot = entry.head();
            let place = problems.words(first.start(), spot);
            let message = format!(
                "there is already a {noun} `{}`, in {place}",
                clip(id(&entry.text))
            );
            problems.error(spot, "id-twice", message, "put its ways of saying together");
            continue;
        }
        if let Some(first) = said.iter().find(|other| other.text == entry.text) {
            problems.taken_once(noun, id(&entry.text), first.start(), entry.head());
            continue;
        }
        said.push(entry);
    }
    standing
}

/// Every link but those that an earlier layer says in the same words.
#[allow(clippy::vec_box, reason = "as in `Settled`")]
fn links(
    entries: Vec<Box<PlacedEntry<LinkText>>>,
    problems: &mut Problems<'_>,
) -> Vec<Box<PlacedEntry<LinkText>>> {
    let mut places: HashMap<(String, String), usize> = HashMap::new();
    let mut standing: Vec<Box<PlacedEntry<LinkText>>> = Vec::with_capacity(entries.len());
    for entry in entries {
        let ends = (entry.text.cause.clone(), entry.text.effect.clone());
        let same = places
            .get(&ends)
            .map(|at| &standing[*at])
            .filter(|first| first.start().layer != entry.start().layer && first.text == entry.text);
        if let Some(first) = same {
            let id = format!("{} -> {}", ends.0, ends.1);
            problems.taken_once("link", &id, first.start(), entry.start());
            continue;
        }
        places.entry(ends).or_insert(standing.len());
        standing.push(entry);
    }
    standing
}

fn check_replaces_nothing(thing: &Thing, problems: &mut Problems<'_>) {
    let Some(replaced) = thing.replaces() else {
        return;
    };
    let spot = thing.key("replaces");
    if replaced == thing.id() {
        problems.error(
            spot,
            "replaces-nothing",
            format!(
                "no earlier layer has an entry `{}` to replace",
                clip(replaced)
            ),
            "correct the id, or take `replaces` out",
        );
    } else {
        replaces_other(thing, replaced, problems);
    }
}

fn replaces_other(thing: &Thing, replaced: &str, problems: &mut Problems<'_>) {
    problems.error(
        thing.key("replaces"),
        "replaces-other",
        format!(
            "`{}` cannot replace `{}`: an entry replaces the one of its own id",
            clip(thing.id()),
            clip(replaced)
        ),
        "to put another in its place, replace it by an entry of its own id that has `retired_for`",
    );
}

/// Whether `thing` may stand where `before` stands; if not, the problem is noted.
fn may_replace(before: &Thing, thing: &Thing, problems: &mut Problems<'_>) -> bool {
    let id = clip(thing.id());
    let spot = thing.id_spot();
    let first = problems.words(before.start(), spot);
    match thing.replaces() {
        Some(replaced) if replaced != thing.id() => {
            replaces_other(thing, replaced, problems);
            false
        }
        _ if before.retired() && !thing.retired() => {
            problems.error(
                spot,
                "retired-id-reused",
                format!("`{id}` was retired in {first}; a retired id is not used again"),
                "give the new entry an id of its own",
            );
            false
        }
        Some(_) if before.start().layer == thing.start().layer => {
            problems.error(
                thing.key("replaces"),
                "replaces-own-layer",
                format!("`{id}` stands in the same layer, in {first}"),
                "change that entry; `replaces` is for entries of an earlier layer",
            );
            false
        }
        Some(_) if before.is_drill() != thing.is_drill() => {
            problems.error(
                spot,
                "replaces-other-kind",
                format!(
                    "`{id}` is a {} in {first}, and cannot be replaced by a {}",
                    before.noun(),
                    thing.noun()
                ),
                "give the new entry an id of its own",
            );
            false
        }
        Some(_) => {
            check_cautions_kept(before, thing, problems);
            true
        }
        None if before.start().layer != thing.start().layer && before.same(thing) => {
            problems.taken_once(thing.noun(), thing.id(), before.start(), spot);
            false
        }
        None => {
            id_twice(before, thing, problems);
            false
        }
    }
}

fn id_twice(before: &Thing, thing: &Thing, problems: &mut Problems<'_>) {
    let id = clip(thing.id());
    let spot = thing.id_spot();
    let help = if before.start().layer == thing.start().layer {
        "give one of the two another id".to_owned()
    } else {
        format!("give it another id; or, to put it in that one's place, add `replaces: {id}`")
    };
    let first = problems.words(before.start(), spot);
    let message = format!("there is already a {} `{id}`, in {first}", before.noun());
    problems.error(spot, "id-twice", message, help);
}

/// What keeps a student from harm is not lost by oversight: an entry that takes the place of another says
/// it too, or says why not. A retired entry is offered no more, but a pain stays one.
fn check_cautions_kept(before: &Thing, thing: &Thing, problems: &mut Problems<'_>) {
    let given = |text: &Option<String>| text.as_ref().is_some_and(|text| !text.trim().is_empty());
    let mut dropped: Vec<String> = Vec::new();
    let why = match (before, thing) {
        (Thing::Condition(_, old), Thing::Condition(_, new)) => {
            let (old, new) = (&old.text, &new.text);
            if old.pain && !new.pain {
                dropped.push("`pain: true`".to_owned());
            }
            if old.refer.is_some() && new.refer.is_none() {
                dropped.push("`refer`".to_owned());
            }
            if given(&old.caution) && !given(&new.caution) && !thing.retired() {
                dropped.push("`caution`".to_owned());
            }
            &new.drops_caution
        }
        (Thing::Drill(old), Thing::Drill(new)) if !thing.retired() => {
            let (old, new) = (&old.text, &new.text);
            if given(&old.caution) && !given(&new.caution) {
                dropped.push("`caution`".to_owned());
            }
            let lost = old.not_with.iter().filter(|id| !new.not_with.contains(id));
            dropped.extend(lost.map(|id| format!("`not_with: {}`", clip(id))));
            &new.drops_caution
        }
        _ => return,
    };
    if dropped.is_empty() || given(why) {
        return;
    }
    let spot = thing.id_spot();
    let first = problems.words(before.start(), spot);
    problems.error(
        spot,
        "caution-dropped",
        format!(
            "`{}` leaves out what the entry that it replaces, in {first}, has: {}",
            clip(thing.id()),
            dropped.join(", ")
        ),
        "write it here too; or, to leave it out, add `drops_caution: \"why\"`",
    );
}

/// Lower-case words and digits with single hyphens between them.
pub(super) fn is_kebab(id: &str) -> bool {
    !id.is_empty()
        && id.len() <= LONGEST_ID
        && id.split('-').all(|part| {
            !part.is_empty()
                && part
                    .chars()
                    .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit())
        })
}

/// The nearest text that is a good id, from an id or a name.
pub(crate) fn to_kebab(text: &str) -> String {
    let mut id = String::new();
    for c in text.trim().chars().take(LONGEST_ID) {
        if c.is_ascii_alphanumeric() {
            id.push(c.to_ascii_lowercase());
        } else if !id.is_empty() && !id.ends_with('-') && c != '\'' {
            id.push('-');
        }
    }
    id.trim_end_matches('-').to_owned()
}

/// A name stands in every answer, and has to fit there.
fn check_names(thing: &Thing, problems: &mut Problems<'_>) {
    let (name, aliases) = thing.names();
    let long = |text: &&String| text.chars().count() > LONGEST_NAME;
    let found = std::iter::once(name).chain(aliases).find(long);
    if let Some(text) = found {
        let key = if long(&name) { "name" } else { "aliases" };
        problems.error(
            thing.key(key),
            "name-too-long",
            format!(
                "`{}` has {} characters; a name has at most {LONGEST_NAME}",
                clip(text),
                text.chars().count()
            ),
            "write what a coach would say for it; the rest goes into its other keys",
        );
    }
}

fn check_id(id: &str, spot: impl Fn() -> Spot, problems: &mut Problems<'_>) {
    if is_kebab(id) {
        return;
    }
    let suggestion = to_kebab(id);
    let help = if suggestion.is_empty() {
        "write words in lower case with hyphens between them".to_owned()
    } else {
        format!("write `{suggestion}`")
    };
    problems.error(
        spot(),
        "bad-id",
        format!(
            "`{}` is not an id: lower-case letters a to z, digits, single hyphens, at most {LONGEST_ID}",
            clip(id)
        ),
        help,
    );
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::knowledge::{LayerText, Strictness, load};

    #[test]
    fn what_two_layers_say_word_for_word_is_taken_once() {
        let text = "outcomes:\n- {id: a, name: A, stage: strike}\nfaults:\n- {id: b, name: B, stage: top}\ndrills:\n- {id: d, name: D, treats: [{id: b}], steps: [Swing]}\nlinks:\n- {cause: b, effect: a, strength: 0.5}\nsources:\n- {id: s, cite: S}\n";
        let layer = |name: &str, text: &str| LayerText::new(name, [("x.yaml", text)]);
        let loaded = load(
            &[layer("one", text), layer("two", text)],
            Strictness::ErrorsOnly,
        )
        .expect("no contradiction");
        let same = loaded
            .warnings
            .iter()
            .filter(|warning| warning.code == "same-twice");
        let messages: Vec<&str> = same.map(|warning| warning.message.as_str()).collect();
        let summed = "5 entries stand word for word in one too, and are taken once; the first: ";
        assert!(
            messages.len() == 1 && messages[0].starts_with(summed),
            "{messages:?}"
        );
        assert_eq!(loaded.base.drills[0].origin.layer, 0);
        // Other words are a contradiction, and so is the same thing twice in one layer.
        let other = layer("two", &text.replace("name: D", "name: E"));
        let problems = load(&[layer("one", text), other], Strictness::ErrorsOnly).unwrap_err();
        assert!(problems.iter().any(|problem| problem.code == "id-twice"));
        let twice = LayerText::new("one", [("x.yaml", text), ("y.yaml", text)]);
        assert!(load(&[twice], Strictness::ErrorsOnly).is_err());
    }

    #[test]
    fn an_id_is_words_with_hyphens() {
        for good in ["a", "low-point-behind-ball", "9-to-3"] {
            assert!(is_kebab(good), "{good}");
        }
        for bad in ["", "-a", "a-", "a--b", "Open Face", "öse", "a_b"] {
            assert!(!is_kebab(bad), "{bad}");
        }
        assert_eq!(to_kebab("Open Face (top)"), "open-face-top");
    }
}
