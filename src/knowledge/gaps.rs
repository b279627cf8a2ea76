//! What a library leaves out: never a reason to stop a lesson, always worth a line.

use super::base::{ConditionKey, ConditionKind, KnowledgeBase};
use super::document::ConditionText;
use super::drill_text::DrillText;
use super::placed_entry::PlacedEntry;
use super::problems::Problems;
use super::standing_entries::Settled;
use super::vocabulary::RemedyKind;
use std::collections::HashSet;

/// Looks for all gaps. `base` must hold together, or what was left out for an error is missed here.
pub(super) fn check(settled: &Settled, base: &KnowledgeBase, problems: &mut Problems<'_>) {
    let in_use = base
        .drills
        .iter()
        .filter(|drill| drill.retired_for.is_none());
    let treats = in_use.flat_map(|drill| &drill.treats);
    let treated: HashSet<ConditionKey> = treats.map(|treats| treats.condition).collect();
    let links = base.conditions.iter().flat_map(|one| &one.causes);
    let causing: HashSet<ConditionKey> = links.map(|link| link.cause).collect();
    for (key, (_, entry)) in base.condition_keys().zip(settled.conditions.values()) {
        if base.condition(key).retired_for.is_some() {
            continue;
        }
        condition(key, entry, base, &treated, &causing, problems);
        behind_without_a_chain(key, entry, base, problems);
        without_basis(entry, problems);
    }
    for entry in &settled.links {
        if entry.text.basis.is_none() {
            no_basis(entry.start(), "this link", problems);
        }
    }
    for (entry, resolved) in settled.drills.values().zip(&base.drills) {
        if entry.text.retired_for.is_none() {
            drill(entry, resolved.steps.is_empty(), problems);
        }
    }
    near_copies(settled, base, problems);
    unused_sources(settled, problems);
}

fn condition(
    key: ConditionKey,
    entry: &PlacedEntry<ConditionText>,
    base: &KnowledgeBase,
    treated: &HashSet<ConditionKey>,
    causing: &HashSet<ConditionKey>,
    problems: &mut Problems<'_>,
) {
    let condition = base.condition(key);
    let id = &condition.id;
    if condition.is_pain() {
        // A pain is heard, not worked on; it needs neither causes nor remedies.
        return;
    }
    if condition.kind == ConditionKind::Outcome {
        if condition.causes.is_empty() {
            problems.warning(
                entry.head(),
                "no-cause",
                format!("nothing is said to cause `{id}`, so seeing it leads nowhere"),
                "name its direct causes under `caused_by`",
            );
        }
        return;
    }
    if !causing.contains(&key) {
        problems.warning(
            entry.head(),
            "nothing-links-here",
            format!("nothing is caused by `{id}`, so it can never be found behind what was seen"),
            "name it under the `caused_by` of what it brings about",
        );
    }
    if condition.causes.is_empty() && !treated.contains(&key) {
        problems.warning(
            entry.head(),
            "no-remedy",
            format!("`{id}` has no remedy, and nothing upstream that could have one"),
            "add a drill that treats it, or name what causes it",
        );
    }
}

/// A share behind a finding wants a chain of causes that leads to the finding: without one a student is
/// told where it starts, and never how it comes about. A chain the other way is none.
fn behind_without_a_chain(
    key: ConditionKey,
    entry: &PlacedEntry<ConditionText>,
    base: &KnowledgeBase,
    problems: &mut Problems<'_>,
) {
    if base.condition(key).behind.is_empty() {
        return;
    }
    let upstream = upstream(key, base);
    for behind in &base.condition(key).behind {
        if upstream.contains(&behind.cause) {
            continue;
        }
        let backwards = self::upstream(behind.cause, base).contains(&key);
        let id = &base.condition(behind.cause).id;
        let place = entry.text.behind.iter().position(|item| item.id == *id);
        let place = place.unwrap_or_default();
        let spot = entry.spot(&["behind".into(), place.into(), "id".into()]);
        let to = &entry.text.id;
        let message = format!("no chain of causes leads from `{id}` to `{to}`");
        let help = if backwards {
            "the one chain between them runs the other way: turn a link of it round, or share this out among what does lead here"
        } else {
            "add the link that is missing, or take it out of `behind`"
        };
        problems.warning(spot, "behind-unlinked", message, help);
    }
}

/// Everything that can bring a condition about, directly or not.
fn upstream(key: ConditionKey, base: &KnowledgeBase) -> HashSet<ConditionKey> {
    let mut upstream: HashSet<ConditionKey> = HashSet::new();
    let mut open = vec![key];
    while let Some(now) = open.pop() {
        for link in &base.condition(now).causes {
            if upstream.insert(link.cause) {
                open.push(link.cause);
            }
        }
    }
    upstream
}

fn without_basis(entry: &PlacedEntry<ConditionText>, problems: &mut Problems<'_>) {
    for (i, link) in entry.text.caused_by.iter().enumerate() {
        if link.basis.is_none() {
            let spot = entry.spot(&["caused_by".into(), i.into()]);
            no_basis(spot, &format!("the link from `{}`", link.id), problems);
        }
    }
    if entry.text.cost.is_some() && entry.text.cost_basis.is_none() {
        problems.warning(
            entry.key("cost"),
            "no-basis",
            "the cost has no `cost_basis`",
            "add `cost_basis:` with a source, or `common practice`",
        );
    }
    if entry
        .text
        .measure
        .as_ref()
        .is_some_and(|measure| measure.basis.is_none())
    {
        no_basis(entry.key("measure"), "the measure", problems);
    }
    let impact = entry.text.impact.as_ref();
    if impact.is_some_and(|impact| impact.basis.is_none() && impact.strike.is_none()) {
        no_basis(entry.key("impact"), "`impact`", problems);
    }
}

fn no_basis(spot: super::problems::Spot, what: &str, problems: &mut Problems<'_>) {
    problems.warning(
        spot,
        "no-basis",
        format!("{what} has no `basis`"),
        "add `basis:` with a source, or `common practice`",
    );
}

fn drill(entry: &PlacedEntry<DrillText>, without_steps: bool, problems: &mut Problems<'_>) {
    let text = &entry.text;
    for (i, treats) in text.treats.iter().enumerate() {
        if treats.basis.is_none() {
            let spot = entry.spot(&["treats".into(), i.into()]);
            no_basis(spot, &format!("the effect on `{}`", treats.id), problems);
        }
    }
    if text.kind.unwrap_or(RemedyKind::Drill) != RemedyKind::Drill {
        return;
    }
    if without_steps {
        problems.warning(
            entry.head(),
            "no-steps",
            format!(
                "the drill `{}` has no steps, so nobody could do it from its text",
                text.id
            ),
            "write down what to do, one step after the other",
        );
    }
    if text.check.is_none() {
        problems.warning(
            entry.head(),
            "no-check",
            format!(
                "the drill `{}` does not say how the student knows that it worked",
                text.id
            ),
            "add `check:`, with a number in it: 8 of 10",
        );
    }
}

fn near_copies(settled: &Settled, base: &KnowledgeBase, problems: &mut Problems<'_>) {
    for (later, earlier, likeness) in super::likeness::pairs(base) {
        let entry = &settled.drills[&base.drill(later).id];
        let other = &settled.drills[&base.drill(earlier).id];
        // The one written later is the copy, whichever id comes first.
        let (copy, model) = if other.start() > entry.start() {
            (other, entry)
        } else {
            (entry, other)
        };
        problems.warning(
            copy.head(),
            "near-copy",
            format!(
                "`{}` says nearly the same as `{}`, in {}: {:.0} of 100 three-word runs in common",
                copy.text.id,
                model.text.id,
                problems.words(model.start(), copy.start()),
                likeness * 100.0
            ),
            "say what is different about it, or keep one of the two",
        );
    }
}

/// A source counts as used when an entry lists it or a basis names it.
fn unused_sources(settled: &Settled, problems: &mut Problems<'_>) {
    let conditions = settled.conditions.values().map(|(_, entry)| entry.node());
    let drills = settled.drills.values().map(|entry| entry.node());
    let links = settled.links.iter().map(|entry| entry.node());
    let cases = settled.cases.values().map(|entry| entry.node());
    let mut used: HashSet<&str> = HashSet::new();
    for node in conditions.chain(drills).chain(links).chain(cases) {
        node.each_text(&mut |key, text| {
            if matches!(key, "sources" | "basis" | "cost_basis") {
                used.extend(text.split(|c: char| !c.is_ascii_alphanumeric() && c != '-'));
            }
        });
    }
    for (id, entry) in &settled.sources {
        if !used.contains(id.as_str()) {
            problems.warning(
                entry.head(),
                "unused-source",
                format!("no entry names the source `{id}`"),
                "name it under the `sources` of what leans on it, or take it out",
            );
        }
    }
}
