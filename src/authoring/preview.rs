//! What a change to a library changes for the coach who uses it.

use crate::causal::{CausalGraph, Rows};
use crate::diagnosis::{Asked, Effort, Observation, ReadBy, State, diagnose, run_cases};
use crate::knowledge::{ConditionKey, ConditionKind, Drill, KnowledgeBase};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// How many outcomes are named as being reached by a drill.
const NAMED: usize = 6;
/// How many conditions are shown with what stands behind them, and how many starts of each.
const ROWS: usize = 6;
const STARTS: usize = 5;

/// A drill that is now offered for something.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Offer {
    /// The drill.
    pub drill: String,
    /// What it works on.
    pub condition: String,
    /// The name of what it works on.
    pub name: String,
    /// How well, from 0 to 1.
    pub effect: f64,
    /// Its place among the remedies for that, best first, from 1.
    pub place: usize,
    /// How many remedies there are for that now.
    pub of: usize,
    /// Names of outcomes that what it works on can lead to, nearest first; a few.
    pub leads_to: Vec<String>,
}

/// A link that was added, taken out, or made stronger or weaker.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LinkChange {
    /// What brings it about.
    pub cause: String,
    /// What is brought about.
    pub effect: String,
    /// The strength it had; `None` for a new link.
    pub before: Option<f64>,
    /// The strength it has; `None` for one taken out.
    pub after: Option<f64>,
    /// The share of those who show the effect, where it was written as one.
    pub share: Option<f64>,
}

/// What stands behind a condition whose links changed, and what that makes of the answer to it alone.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RowChange {
    /// The condition.
    pub id: String,
    /// Every share that is other than before, the largest first.
    pub row: Vec<ShareChange>,
    /// The first starts, by id, when it alone was seen; empty when it was not there.
    pub starts_before: Vec<String>,
    /// The same with the change.
    pub starts_after: Vec<String>,
}

/// Of the students who show a condition, the share in whom one would work on a start.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ShareChange {
    /// The start.
    pub id: String,
    /// The share it had, from 0 to 1.
    pub before: f64,
    /// The share it has.
    pub after: f64,
}

/// An entry that is kept only for its id.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Retired {
    /// The entry.
    pub id: String,
    /// What to use instead.
    pub retired_for: String,
}

/// A case of the library that held and no longer does.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct BrokenCase {
    /// The case.
    pub id: String,
    /// What it complains of now.
    pub complaint: String,
}

/// The difference between two libraries, in the order in which a coach would ask about it.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Preview {
    /// New entries: ids.
    pub added: Vec<String>,
    /// Entries that now stand in the place of one from another layer: id and that layer.
    pub replaced: Vec<(String, String)>,
    /// Drills that are now offered for something, or offered with another effect.
    pub offers: Vec<Offer>,
    /// Drills that are no longer offered for something: drill and condition.
    pub no_longer_offered: Vec<(String, String)>,
    /// Conditions that had no remedy and now have one.
    pub first_remedy_for: Vec<String>,
    /// Links that are new, other or gone.
    pub links: Vec<LinkChange>,
    /// What stands behind the effects of those links; of the first few.
    pub rows: Vec<RowChange>,
    /// Warnings that an entry gave and gives no more: the entry, and the warning in words.
    pub unwarned: Vec<(String, String)>,
    /// Names and words that are now read as an entry: words and entry.
    pub words: Vec<(String, String)>,
    /// Entries that are now retired.
    pub retired: Vec<Retired>,
    /// Cases of the library that no longer hold.
    pub broken_cases: Vec<BrokenCase>,
}

impl Preview {
    /// What is other in `after` than in `before`.
    #[must_use]
    pub fn between(before: &KnowledgeBase, after: &KnowledgeBase) -> Self {
        let mut preview = Self::default();
        let graph = CausalGraph::new(after);
        preview.entries(before, after);
        for drill in &after.drills {
            let old = before.find_drill(&drill.id).map(|key| before.drill(key));
            preview.drill(old, drill, before, after, &graph);
            if let Some(old) = old {
                preview.lost_warnings(old, drill, before, after);
            }
        }
        for condition in &after.conditions {
            let old = before.find(&condition.id).map(|key| before.condition(key));
            if let Some(caution) = old.and_then(|old| old.caution.as_deref())
                && condition.caution.is_none()
            {
                preview
                    .unwarned
                    .push((condition.id.clone(), caution.to_owned()));
            }
        }
        for drill in before
            .drills
            .iter()
            .filter(|drill| after.find_drill(&drill.id).is_none())
        {
            preview.lost(drill, &[], before);
        }
        preview.changed_links(before, after);
        preview.changed_rows(before, after, &graph);
        preview.new_words(before, after);
        preview.cases(before, after);
        preview
    }

    /// A caution that is gone, and what the drill may again be done with or is no longer said to spoil.
    fn lost_warnings(
        &mut self,
        old: &Drill,
        new: &Drill,
        before: &KnowledgeBase,
        after: &KnowledgeBase,
    ) {
        if let (Some(caution), None) = (&old.caution, &new.caution) {
            self.unwarned.push((new.id.clone(), caution.clone()));
        }
        let lists = [
            ("not with", &old.not_with, &new.not_with),
            ("can make worse", &old.aggravates, &new.aggravates),
        ];
        for (words, old, now) in lists {
            for condition in old {
                let condition = before.condition(*condition);
                let kept = now
                    .iter()
                    .any(|key| after.condition(*key).id == condition.id);
                if !kept {
                    let warning = format!("{words} {} ({})", condition.name, condition.id);
                    self.unwarned.push((new.id.clone(), warning));
                }
            }
        }
    }

    fn entries(&mut self, before: &KnowledgeBase, after: &KnowledgeBase) {
        let conditions = after.conditions.iter().map(|entry| {
            let old = before.find(&entry.id).map(|key| before.condition(key));
            let old = old.map(|old| (&old.origin, &old.retired_for));
            (&entry.id, &entry.origin, &entry.retired_for, old)
        });
        let drills = after.drills.iter().map(|entry| {
            let old = before.find_drill(&entry.id).map(|key| before.drill(key));
            let old = old.map(|old| (&old.origin, &old.retired_for));
            (&entry.id, &entry.origin, &entry.retired_for, old)
        });
        for (id, origin, heir, old) in conditions.chain(drills) {
            match old {
                None => self.added.push(id.clone()),
                Some((was, _)) if was.layer != origin.layer => {
                    self.replaced
                        .push((id.clone(), before.layer_name(was).to_owned()));
                }
                Some(_) => {}
            }
            if let Some(heir) = heir
                && old.is_none_or(|(_, was)| was.as_ref() != Some(heir))
            {
                self.retired.push(Retired {
                    id: id.clone(),
                    retired_for: heir.clone(),
                });
            }
        }
        self.added.sort();
        self.replaced.sort();
    }

    fn drill(
        &mut self,
        old: Option<&Drill>,
        drill: &Drill,
        before: &KnowledgeBase,
        after: &KnowledgeBase,
        graph: &CausalGraph,
    ) {
        let old = old.filter(|old| old.retired_for.is_none());
        if let Some(old) = old {
            let kept = if drill.retired_for.is_none() {
                treated(drill, after)
            } else {
                Vec::new()
            };
            self.lost(old, &kept, before);
        }
        if drill.retired_for.is_some() {
            return;
        }
        for treats in &drill.treats {
            let condition = after.condition(treats.condition);
            let key = before.find(&condition.id);
            let effect = treats.effect.get();
            let unchanged = key
                .zip(old)
                .is_some_and(|(key, old)| (old.effect_on(key) - effect).abs() < 1e-12);
            if unchanged {
                continue;
            }
            let remedies = after.remedies(treats.condition);
            let place = remedies
                .iter()
                .position(|(key, _)| after.drill(*key).id == drill.id);
            if key.is_none_or(|key| before.remedies(key).is_empty()) {
                self.first_remedy_for.push(condition.id.clone());
            }
            self.offers.push(Offer {
                drill: drill.id.clone(),
                condition: condition.id.clone(),
                name: condition.name.clone(),
                effect,
                place: place.map_or(0, |place| place + 1),
                of: remedies.len(),
                leads_to: leads_to(treats.condition, after, graph),
            });
        }
    }

    /// What `old` was offered for and `kept`, ids of conditions, does not hold.
    fn lost(&mut self, old: &Drill, kept: &[&str], before: &KnowledgeBase) {
        let ids = treated(old, before)
            .into_iter()
            .filter(|id| !kept.contains(id));
        self.no_longer_offered
            .extend(ids.map(|id| (old.id.clone(), id.to_owned())));
    }

    fn changed_links(&mut self, before: &KnowledgeBase, after: &KnowledgeBase) {
        let (old, new) = (links(before), links(after));
        let ends: BTreeSet<_> = old.keys().chain(new.keys()).collect();
        for (cause, effect) in ends {
            let at = (*cause, *effect);
            let (was, is) = (old.get(&at).copied(), new.get(&at).copied());
            if was != is {
                self.links.push(LinkChange {
                    cause: (*cause).to_owned(),
                    effect: (*effect).to_owned(),
                    before: was,
                    after: is,
                    share: share_of(after, at),
                });
            }
        }
    }

    fn changed_rows(&mut self, before: &KnowledgeBase, after: &KnowledgeBase, graph: &CausalGraph) {
        let effects: BTreeSet<&String> = self.links.iter().map(|link| &link.effect).collect();
        if effects.is_empty() {
            return;
        }
        let was = Rows::new(before, &CausalGraph::new(before));
        let is = Rows::new(after, graph);
        let shares = |base: &KnowledgeBase, rows: &Rows, id: &str| -> BTreeMap<String, f64> {
            let row = base.find(id).map(|key| rows.row(key).entries());
            let entries = row.unwrap_or_default().iter();
            let named = entries.map(|(key, share)| (base.condition(*key).id.clone(), *share));
            named.collect()
        };
        for id in effects.into_iter().take(ROWS) {
            let (old, new) = (shares(before, &was, id), shares(after, &is, id));
            let ids: BTreeSet<&String> = old.keys().chain(new.keys()).collect();
            let share = |of: &BTreeMap<String, f64>, id| of.get(id).copied().unwrap_or_default();
            let changes = ids.into_iter().map(|id| ShareChange {
                id: id.clone(),
                before: share(&old, id),
                after: share(&new, id),
            });
            let moved = |change: &ShareChange| (change.before - change.after).abs() > 1e-12;
            let mut row: Vec<ShareChange> = changes.filter(moved).collect();
            row.sort_by(|a, b| b.after.total_cmp(&a.after).then(a.id.cmp(&b.id)));
            self.rows.push(RowChange {
                id: id.clone(),
                row,
                starts_before: starts(before, id),
                starts_after: starts(after, id),
            });
        }
    }

    fn new_words(&mut self, before: &KnowledgeBase, after: &KnowledgeBase) {
        for condition in &after.conditions {
            let old = before.find(&condition.id).map(|key| before.condition(key));
            let known = |words: &String| {
                old.is_some_and(|old| old.name == *words || old.aliases.contains(words))
            };
            let words = std::iter::once(&condition.name).chain(&condition.aliases);
            let words = words.filter(|words| !known(words));
            self.words
                .extend(words.map(|words| (words.clone(), condition.id.clone())));
        }
    }

    /// Cases are run only when something that an order of causes rests on is other than before, and
    /// on the library as it was only those that do not hold now.
    fn cases(&mut self, before: &KnowledgeBase, after: &KnowledgeBase) {
        if after.cases.is_empty() || (self.links.is_empty() && weighed(before) == weighed(after)) {
            return;
        }
        let verdicts = run_cases(after).into_iter();
        let failed: BTreeMap<String, String> = verdicts
            .filter_map(|verdict| Some((verdict.id, verdict.complaint?)))
            .collect();
        let mut was = before.clone();
        was.cases.retain(|case| failed.contains_key(&case.text.id));
        let held = run_cases(&was).into_iter();
        let held = held.filter(|verdict| verdict.complaint.is_none());
        self.broken_cases.extend(held.map(|verdict| BrokenCase {
            complaint: failed[&verdict.id].clone(),
            id: verdict.id,
        }));
    }
}

/// The share of a link that was written as one.
fn share_of(base: &KnowledgeBase, (cause, effect): (&str, &str)) -> Option<f64> {
    let (cause, effect) = (base.find(cause)?, base.find(effect)?);
    let mut links = base.condition(effect).causes.iter();
    let link = links.find(|link| link.cause == cause)?;
    link.share.map(|share| share.get())
}

/// Ids of the first starts when a condition alone was seen.
fn starts(base: &KnowledgeBase, id: &str) -> Vec<String> {
    let Some(condition) = base.find(id) else {
        return Vec::new();
    };
    let asked = Asked {
        observations: vec![Observation {
            given: id.to_owned(),
            condition,
            state: State::Seen,
            read_by: ReadBy::Id,
            perhaps: Vec::new(),
        }],
        effort: Effort::Order,
        ..Asked::default()
    };
    // A library too dense to answer says nothing here, and is told at the first question.
    let causes = diagnose(base, &asked).map(|diagnosis| diagnosis.causes);
    let causes = causes.unwrap_or_default().into_iter().take(STARTS);
    let ids = causes.map(|cause| base.condition(cause.condition).id.clone());
    ids.collect()
}

/// For each condition all that the order of causes rests on, links aside: what is behind it, how
/// common it is, how well its best remedy works.
fn weighed(base: &KnowledgeBase) -> BTreeMap<&str, String> {
    let of = |key: ConditionKey| {
        let entry = base.condition(key);
        let behind = entry.behind.iter();
        let behind = behind.map(|behind| (&base.condition(behind.cause).id, behind.share));
        let behind: Vec<_> = behind.collect();
        let best = base.remedies(key).first().map(|(_, effect)| *effect);
        let words = format!(
            "{:?}",
            (
                entry.kind,
                entry.stage,
                &entry.shots,
                &entry.seen_from,
                entry.how_common,
                entry.leak,
                entry.cost,
                &entry.retired_for,
                behind,
                best
            )
        );
        (entry.id.as_str(), words)
    };
    base.condition_keys().map(of).collect()
}

/// Ids of what a drill works on; keys mean nothing in another base.
fn treated<'b>(drill: &Drill, base: &'b KnowledgeBase) -> Vec<&'b str> {
    let treats = drill.treats.iter();
    treats
        .map(|treats| base.condition(treats.condition).id.as_str())
        .collect()
}

fn links(base: &KnowledgeBase) -> BTreeMap<(&str, &str), f64> {
    let links = base.conditions.iter().flat_map(|effect| {
        effect.causes.iter().map(move |link| {
            let cause = base.condition(link.cause).id.as_str();
            ((cause, effect.id.as_str()), link.strength.get())
        })
    });
    links.collect()
}

/// Names of outcomes downstream, those fewest links away first, ties in the order of the library.
fn leads_to(from: ConditionKey, base: &KnowledgeBase, graph: &CausalGraph) -> Vec<String> {
    let mut seen = BTreeSet::from([from]);
    let mut ring = vec![from];
    let mut found = Vec::new();
    while !ring.is_empty() && found.len() < NAMED {
        let mut next = Vec::new();
        for key in ring {
            for (effect, _) in graph.effects(key) {
                if seen.insert(effect) {
                    next.push(effect);
                }
            }
        }
        next.sort();
        let outcomes = next.iter().map(|key| base.condition(*key));
        let outcomes = outcomes.filter(|entry| entry.kind == ConditionKind::Outcome);
        found.extend(outcomes.map(|entry| entry.name.clone()));
        ring = next;
    }
    found.truncate(NAMED);
    found
}
