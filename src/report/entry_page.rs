//! One entry: what it is, what it leads to, what it comes from, what is done about it.

use super::page::Page;
use super::percent::in_ten;
use super::sentence::capital;
use super::titled;
use crate::causal::{CausalGraph, Row, Rows};
use crate::knowledge::{
    Cause, Condition, ConditionKey, Drill, DrillKey, KnowledgeBase, Provenance, Source, SourceKey,
    Status, nearest,
};
use crate::words::{ReadBy, Reading};
use serde_json::{Value, json};

/// An entry of a library.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LibraryEntry {
    /// An outcome, a fault or a cause.
    Condition(ConditionKey),
    /// A remedy.
    Drill(DrillKey),
    /// A publication.
    Source(SourceKey),
}

impl LibraryEntry {
    /// The entry with this id, name or alias; `read` reads the words where they are none of the first two.
    ///
    /// # Errors
    ///
    /// The ids that lie nearest, best first; perhaps none.
    pub fn find<'b>(
        base: &'b KnowledgeBase,
        words: &str,
        read: impl FnOnce(&str) -> Reading,
    ) -> Result<Self, Vec<&'b str>> {
        if let Some(key) = base.find(words) {
            return Ok(LibraryEntry::Condition(key));
        }
        if let Some(key) = base.find_drill(words) {
            return Ok(LibraryEntry::Drill(key));
        }
        if let Some(key) = base.find_source(words) {
            return Ok(LibraryEntry::Source(key));
        }
        if let Some(entry) = Self::called(base, words, read) {
            return Ok(entry);
        }
        let ids = base
            .conditions
            .iter()
            .map(|c| c.id.as_str())
            .chain(base.drills.iter().map(|d| d.id.as_str()))
            .chain(base.sources.iter().map(|s| s.id.as_str()));
        // A word that ids are made of names them better than letters in common.
        let word = words.trim().to_lowercase();
        let has_it = |id: &&str| id.split('-').any(|part| part == word);
        let made_of: Vec<&str> = ids.clone().filter(has_it).take(NEAREST).collect();
        Err(if made_of.is_empty() {
            nearest(words, ids, NEAREST)
        } else {
            made_of
        })
    }

    /// The entry that goes by these words, though they are no id of one.
    fn called(
        base: &KnowledgeBase,
        words: &str,
        read: impl FnOnce(&str) -> Reading,
    ) -> Option<Self> {
        let called = |other: &String| other.eq_ignore_ascii_case(words);
        let named = base.drill_keys().find(|key| called(&base.drill(*key).name));
        if let Some(key) = named {
            return Some(LibraryEntry::Drill(key));
        }
        if let Reading::Clear { condition, by, .. } = read(words)
            && by != ReadBy::Words
        {
            return Some(LibraryEntry::Condition(condition));
        }
        let also = base
            .drill_keys()
            .find(|key| base.drill(*key).aliases.iter().any(called));
        also.map(LibraryEntry::Drill)
    }
}

/// How many ids are named where none was found.
const NEAREST: usize = 5;

/// The entry as a page.
#[must_use]
pub fn show_page(base: &KnowledgeBase, entry: LibraryEntry) -> Page {
    let mut page = Page::new();
    match entry {
        LibraryEntry::Condition(key) => condition_page(&mut page, base, key),
        LibraryEntry::Drill(key) => drill_page(&mut page, base, base.drill(key)),
        LibraryEntry::Source(key) => source_page(&mut page, base, base.source(key)),
    }
    page
}

fn condition_page(page: &mut Page, base: &KnowledgeBase, key: ConditionKey) {
    let condition = base.condition(key);
    let graph = CausalGraph::new(base);
    let rows = Rows::new(base, &graph);
    page.heading(format!("{} ({})", condition.name, condition.id));
    page.text(format!(
        "{} at {}; {}.{}",
        capital(condition.kind.as_str()),
        condition.stage.words(),
        join(condition.shots.iter().map(|shot| shot.words())),
        trial(condition.status)
    ));
    if let Some(successor) = &condition.retired_for {
        let heirs = heirs(successor, |id| {
            base.find(id).map(|key| {
                let entry = base.condition(key);
                (entry.name.as_str(), entry.retired_for.as_deref())
            })
        });
        page.warning(format!("Retired; use {heirs} instead."));
    }
    if let Some(caution) = &condition.caution {
        page.warning(caution.clone());
    }
    how_known(page, condition);
    causes(page, base, condition);
    stands_behind(page, base, key, rows.row(key));
    let effects = graph.effects(key);
    if !effects.is_empty() {
        page.heading("Brings about").bullets(
            effects.iter().map(|(effect, strength)| {
                format!("{} ({strength:.2})", base.condition(*effect).name)
            }),
        );
    }
    remedies(page, base, key);
    tail(page, base, &condition.sources, &condition.origin);
}

/// How a condition is seen and measured, how common and how dear it is, and what else it is called.
fn how_known(page: &mut Page, condition: &Condition) {
    if !condition.look_for.is_empty() {
        page.text(format!(
            "Look {}: {}",
            join(condition.seen_from.iter().map(|view| view.words())),
            condition.look_for
        ));
    }
    if let Some(share) = condition.how_common {
        page.text(format!(
            "Seen in {} golfers who take lessons (an estimate from common practice).",
            in_ten(share.get())
        ));
    }
    if let Some(measure) = &condition.measure {
        let (quantity, unit, [low, high]) = (&measure.quantity, &measure.unit, measure.sound);
        page.text(format!(
            "Measured: {quantity}, sound from {low} to {high} {unit}; a reading is good to about {} {unit}. {}",
            measure.error_sd,
            basis(measure.basis.as_deref())
        ));
    }
    if let Some(cost) = condition.cost {
        page.text(format!(
            "Costs about {cost} strokes a round. {}",
            basis(condition.cost_basis.as_deref())
        ));
    }
    if !condition.aliases.is_empty() {
        page.text(format!("Also called: {}.", condition.aliases.join("; ")));
    }
}

/// What brings a condition about, the strongest first.
fn causes(page: &mut Page, base: &KnowledgeBase, condition: &Condition) {
    if condition.causes.is_empty() {
        return;
    }
    let mut causes = condition.causes.clone();
    causes.sort_by(|a, b| {
        b.strength
            .get()
            .total_cmp(&a.strength.get())
            .then(a.cause.cmp(&b.cause))
    });
    let row = |link: &Cause| {
        [
            base.condition(link.cause).name.clone(),
            format!("{:.2}", link.strength.get()),
            link.because.clone().unwrap_or_default(),
            link.basis.clone().unwrap_or_default(),
        ]
    };
    page.heading("Brought about by").grid(
        ["Cause", "Strength", "Because", "Rests on"],
        causes.iter().map(row).collect(),
    );
}

/// What works on a condition.
fn remedies(page: &mut Page, base: &KnowledgeBase, key: ConditionKey) {
    let remedies = base.remedies(key);
    if remedies.is_empty() {
        return;
    }
    let rows = remedies.iter().map(|(drill, effect)| {
        let drill = base.drill(*drill);
        [
            format!("{} ({})", titled(drill), drill.id),
            drill.kind.words().to_owned(),
            drill.rung.words().to_owned(),
            format!("{effect:.2}"),
        ]
    });
    page.heading("Remedies")
        .grid(["Remedy", "Sort", "Rung", "Works"], rows.collect());
}

fn drill_page(page: &mut Page, base: &KnowledgeBase, drill: &Drill) {
    page.heading(format!("{} ({})", drill.name, drill.id));
    page.text(format!(
        "{}, {}; {}; {}.{}",
        capital(drill.kind.words()),
        drill.rung.words(),
        join(drill.shots.iter().map(|shot| shot.words())),
        join(drill.places.iter().map(|place| place.words())),
        trial(drill.status)
    ));
    if let Some(successor) = &drill.retired_for {
        let heirs = heirs(successor, |id| {
            base.find_drill(id).map(|key| {
                let entry = base.drill(key);
                (entry.name.as_str(), entry.retired_for.as_deref())
            })
        });
        page.warning(format!("Retired; use {heirs} instead."));
    }
    if let Some(caution) = &drill.caution {
        page.warning(caution.clone());
    }
    if !drill.purpose.is_empty() {
        page.text(drill.purpose.clone());
    }
    page.heading("Works on")
        .bullets(drill.treats.iter().map(|treats| {
            let basis = treats.basis.as_ref().map(|basis| format!(", {basis}"));
            format!(
                "{} ({:.2}{})",
                base.condition(treats.condition).name,
                treats.effect.get(),
                basis.unwrap_or_default()
            )
        }));
    how_to_do(page, drill);
    page.bullets_under("More", more_of(base, drill));
    tail(page, base, &drill.sources, &drill.origin);
}

/// What a drill asks of a student, from the set-up to what goes wrong.
fn how_to_do(page: &mut Page, drill: &Drill) {
    if !drill.setup.is_empty() {
        page.heading("Set-up").text(drill.setup.clone());
    }
    if !drill.steps.is_empty() {
        page.heading("Do").steps(drill.steps.iter().cloned());
    }
    if !drill.feel.is_empty() {
        page.heading("Feel").bullets(drill.feel.iter().cloned());
    }
    if !drill.check.is_empty() {
        page.heading("Check").text(drill.check.clone());
    }
    if !drill.goes_wrong.is_empty() {
        page.heading("When it goes wrong")
            .bullets(drill.goes_wrong.iter().cloned());
    }
}

/// What else is known of a drill, a line for each thing.
fn more_of(base: &KnowledgeBase, drill: &Drill) -> Vec<String> {
    let more = [
        ("Easier", drill.easier.clone()),
        ("Harder", drill.harder.clone()),
        ("How much", dose(drill)),
        ("Needs", needs(drill)),
        ("Helps to live with", conditions_of(base, &drill.eases)),
        ("Comes after", names_of(base, &drill.after)),
        ("Can make worse", conditions_of(base, &drill.aggravates)),
        ("Not with", conditions_of(base, &drill.not_with)),
        (
            "Only for",
            (!drill.only_for.is_empty()).then(|| join(drill.only_for.iter().map(|s| s.words()))),
        ),
        (
            "Also suits",
            (!drill.suits.is_empty() && drill.only_for.is_empty())
                .then(|| join(drill.suits.iter().map(|s| s.words()))),
        ),
    ];
    more.into_iter()
        .filter_map(|(title, text)| text.map(|text| format!("{title}: {text}")))
        .collect()
}

/// What a drill takes besides a club and a ball, a second person last.
fn needs(drill: &Drill) -> Option<String> {
    let mut things: Vec<&str> = drill.equipment.iter().map(String::as_str).collect();
    if drill.helper {
        things.push("a second person");
    }
    (!things.is_empty()).then(|| things.join(", "))
}

fn source_page(page: &mut Page, base: &KnowledgeBase, source: &Source) {
    page.heading(source.id.clone()).text(source.cite.clone());
    if let Some(basis) = &source.basis {
        page.text(format!("What was read: {basis}."));
    }
    let (conditions, drills) = users(base, source);
    page.heading_if(!(conditions.is_empty() && drills.is_empty()), "Used by")
        .bullets(
            conditions
                .iter()
                .map(|c| format!("{} ({})", c.name, c.id))
                .chain(drills.iter().map(|d| format!("{} ({})", d.name, d.id))),
        );
    tail(page, base, &[], &source.origin);
}

fn users<'a>(base: &'a KnowledgeBase, source: &Source) -> (Vec<&'a Condition>, Vec<&'a Drill>) {
    let Some(key) = base.find_source(&source.id) else {
        return (Vec::new(), Vec::new());
    };
    (
        base.conditions
            .iter()
            .filter(|c| c.sources.contains(&key))
            .collect(),
        base.drills
            .iter()
            .filter(|d| d.sources.contains(&key))
            .collect(),
    )
}

fn tail(page: &mut Page, base: &KnowledgeBase, sources: &[SourceKey], origin: &Provenance) {
    if !sources.is_empty() {
        page.heading("Sources")
            .bullets(sources.iter().map(|key| base.source(*key).cite.clone()));
    }
    page.text(format!(
        "From {}: {}, line {}.",
        base.layer_name(origin),
        origin.file,
        origin.line
    ));
}

/// The entry as JSON.
#[must_use]
pub fn show_json(base: &KnowledgeBase, entry: LibraryEntry) -> Value {
    match entry {
        LibraryEntry::Condition(key) => condition_json(base, key),
        LibraryEntry::Drill(key) => drill_json(base, key),
        LibraryEntry::Source(key) => {
            let source = base.source(key);
            let (conditions, drills) = users(base, source);
            json!({
                "id": source.id,
                "cite": source.cite,
                "basis": source.basis,
                "used_by": conditions.iter().map(|c| &c.id).chain(drills.iter().map(|d| &d.id)).collect::<Vec<_>>(),
                "origin": origin_json(base, &source.origin),
            })
        }
    }
}

fn condition_json(base: &KnowledgeBase, key: ConditionKey) -> Value {
    let condition = base.condition(key);
    let id = |key: ConditionKey| base.condition(key).id.as_str();
    let rows = Rows::new(base, &CausalGraph::new(base));
    json!({
        "id": condition.id,
        "name": condition.name,
        "kind": condition.kind,
        "stage": condition.stage,
        "shots": condition.shots,
        "aliases": condition.aliases,
        "look": {"from": condition.seen_from, "for": condition.look_for},
        "how_common": condition.how_common,
        "cost": condition.cost,
        "cost_basis": condition.cost_basis,
        "caution": condition.caution,
        "status": condition.status,
        "retired_for": condition.retired_for,
        "measure": condition.measure.as_ref().map(|m| json!({
            "quantity": m.quantity, "unit": m.unit, "sound": m.sound,
            "error_sd": m.error_sd, "side": m.side, "basis": m.basis,
        })),
        "caused_by": condition.causes.iter().map(|link| json!({
            "id": id(link.cause), "strength": link.strength,
            "because": link.because, "basis": link.basis,
            "origin": origin_json(base, &link.origin),
        })).collect::<Vec<_>>(),
        "behind": condition.behind.iter().map(|b| json!({"id": id(b.cause), "share": b.share})).collect::<Vec<_>>(),
        "row": rows.row(key).entries().iter()
            .filter(|(cause, share)| *cause != key && *share > LEAST)
            .map(|(cause, share)| json!({"id": id(*cause), "share": share})).collect::<Vec<_>>(),
        "own": rows.row(key).share(key),
        "brings_about": CausalGraph::new(base).effects(key).iter()
            .map(|(effect, strength)| json!({"id": id(*effect), "strength": strength})).collect::<Vec<_>>(),
        "remedies": base.remedies(key).iter()
            .map(|(drill, effect)| json!({"id": base.drill(*drill).id, "name": base.drill(*drill).name, "effect": effect, "status": base.drill(*drill).status}))
            .collect::<Vec<_>>(),
        "sources": condition.sources.iter().map(|s| base.source(*s).cite.as_str()).collect::<Vec<_>>(),
        "origin": origin_json(base, &condition.origin),
    })
}

/// The least share of a row that a program is told.
pub const LEAST: f64 = 1e-12;

/// The least share of a row that a person is shown.
const SHOWN: f64 = 0.01;

/// What stands behind a condition, most often first: shares that were stated and links in one row.
fn stands_behind(page: &mut Page, base: &KnowledgeBase, key: ConditionKey, row: &Row) {
    let mut entries: Vec<(ConditionKey, f64)> = row
        .entries()
        .iter()
        .copied()
        .filter(|entry| entry.1 >= SHOWN && entry.0 != key)
        .collect();
    if entries.is_empty() {
        return;
    }
    entries.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    let in_hundred = |share: f64| format!("{:.0} in 100", 100.0 * share);
    let mut said: Vec<String> = entries
        .iter()
        .map(|(cause, share)| format!("{}: {}", base.condition(*cause).name, in_hundred(*share)))
        .collect();
    let own = row.share(key);
    if own >= SHOWN {
        said.push(format!("a habit of its own: {}", in_hundred(own)));
    }
    page.heading("Of those who show it, where one ends up working")
        .bullets(said);
}

/// A drill as JSON, whole.
#[must_use]
pub fn drill_json(base: &KnowledgeBase, key: DrillKey) -> Value {
    let drill = base.drill(key);
    let ids = |keys: &[ConditionKey]| {
        keys.iter()
            .map(|key| base.condition(*key).id.clone())
            .collect::<Vec<_>>()
    };
    json!({
        "id": drill.id,
        "name": drill.name,
        "aliases": drill.aliases,
        "kind": drill.kind,
        "treats": drill.treats.iter().map(|t| json!({
            "id": base.condition(t.condition).id, "effect": t.effect, "basis": t.basis,
        })).collect::<Vec<_>>(),
        "stage": drill.stage,
        "shots": drill.shots,
        "ladder": drill.rung,
        "purpose": drill.purpose,
        "setup": drill.setup,
        "steps": drill.steps,
        "feel": drill.feel,
        "check": drill.check,
        "goes_wrong": drill.goes_wrong,
        "easier": drill.easier,
        "harder": drill.harder,
        "dose": drill.dose,
        "eases": ids(&drill.eases),
        "needs": {"equipment": drill.equipment, "place": drill.places, "helper": drill.helper},
        "after": drill.after.iter().map(|d| base.drill(*d).id.clone()).collect::<Vec<_>>(),
        "aggravates": ids(&drill.aggravates),
        "not_with": ids(&drill.not_with),
        "suits": drill.suits,
        "only_for": drill.only_for,
        "levels": drill.levels,
        "caution": drill.caution,
        "status": drill.status,
        "retired_for": drill.retired_for,
        "sources": drill.sources.iter().map(|s| base.source(*s).cite.as_str()).collect::<Vec<_>>(),
        "origin": origin_json(base, &drill.origin),
    })
}

fn origin_json(base: &KnowledgeBase, origin: &Provenance) -> Value {
    json!({"layer": base.layer_name(origin), "file": origin.file, "line": origin.line})
}

/// The dose in words, such as `3 sets of 8, 24 balls, about 8 minutes`.
#[must_use]
pub fn dose(drill: &Drill) -> Option<String> {
    let dose = &drill.dose;
    let mut parts = Vec::new();
    match (dose.sets, dose.reps) {
        (Some(1), Some(1)) => parts.push("once".to_owned()),
        (Some(1), Some(reps)) => parts.push(format!("one set of {reps}")),
        (Some(sets), Some(reps)) => parts.push(format!("{sets} sets of {reps}")),
        (Some(1), None) => parts.push("one set".to_owned()),
        (Some(sets), None) => parts.push(format!("{sets} sets")),
        (None, Some(1)) => parts.push("once".to_owned()),
        (None, Some(reps)) => parts.push(format!("{reps} times")),
        (None, None) => {}
    }
    if let Some(balls) = dose.balls.filter(|balls| *balls > 0) {
        parts.push(format!("{balls} balls"));
    }
    if let Some(minutes) = dose.minutes {
        parts.push(format!("about {minutes} minutes"));
    }
    (!parts.is_empty()).then(|| parts.join(", "))
}

fn names_of(base: &KnowledgeBase, keys: &[DrillKey]) -> Option<String> {
    (!keys.is_empty()).then(|| {
        keys.iter()
            .map(|key| base.drill(*key).name.clone())
            .collect::<Vec<_>>()
            .join(", ")
    })
}

fn conditions_of(base: &KnowledgeBase, keys: &[ConditionKey]) -> Option<String> {
    (!keys.is_empty()).then(|| {
        keys.iter()
            .map(|key| base.condition(*key).name.clone())
            .collect::<Vec<_>>()
            .join(", ")
    })
}

fn basis(text: Option<&str>) -> String {
    text.map_or_else(String::new, |text| format!("Basis: {text}."))
}

/// Where a retired id leads: to its successor, and on from there while that is retired too. A
/// checked library has no circle of them.
fn heirs<'b>(first: &'b str, entry: impl Fn(&str) -> Option<(&'b str, Option<&'b str>)>) -> String {
    let mut words = String::new();
    let mut next = Some(first);
    while let Some(id) = next {
        let Some((name, heir)) = entry(id) else { break };
        if heir.is_none() {
            words.push_str(&format!("{name} ({id})"));
        } else {
            words.push_str(&format!("{id}, which is retired too, so "));
        }
        next = heir;
    }
    words
}

fn trial(status: Status) -> &'static str {
    match status {
        Status::Trial => " On trial: not yet proved.",
        Status::Approved => "",
    }
}

fn join<'a>(words: impl Iterator<Item = &'a str>) -> String {
    words.collect::<Vec<_>>().join(", ")
}
