//! What the words of a query mean: readings, what they say of the body, and what they make likely.

use super::drill_index::DrillIndex;
use super::query::{DrillQuery, MakesLikely, WorksOn};
use crate::knowledge::{ConditionKey, Drill, KnowledgeBase, Refer, SHIPPED_LAYER};
use crate::words::{BodyReader, Complaint, Complaints, ReadAs, any_pain, listen_closer, on_record};
use std::collections::{BTreeMap, HashMap};

/// A reading that weighs this much is acted on.
pub(super) const SURE: f64 = 0.5;

/// What a query means.
pub(super) struct Meant {
    /// What the words were read as, weightiest first.
    pub(super) read_as: Vec<ReadAs>,
    /// The same conditions with their weights.
    pub(super) typed: Vec<(ConditionKey, f64)>,
    /// What they make likely.
    pub(super) likely: Vec<(ConditionKey, f64)>,
    /// What is said of the body, in the query or on record.
    pub(super) complaints: Complaints,
}

impl Meant {
    /// The weight of the reading that is surest; 0 when nothing was read.
    pub(super) fn sure(&self) -> f64 {
        self.typed.iter().map(|read| read.1).fold(0.0, f64::max)
    }

    /// Whether the body keeps the student from every drill.
    pub(super) fn stops(&self) -> bool {
        stops(&self.complaints)
    }
}

fn stops(complaints: &Complaints) -> bool {
    complaints.refer().is_some_and(|refer| refer != Refer::Ask)
}

impl DrillIndex {
    /// What the query means, and what `likely` makes of that.
    pub(super) fn meant(
        &self,
        base: &KnowledgeBase,
        body: &BodyReader<'_>,
        query: &DrillQuery,
        likely: &MakesLikely<'_>,
    ) -> Meant {
        let mut read_as = self.reader.readings(&query.words, &query.lesson);
        let mut complaints = self.heard_of_body(body, query);
        let said_of_body = !(complaints.there.is_empty() && complaints.denied.is_empty());
        // What hurts and what does not is read by the words for it alone. A library may know a pain by
        // words of its own.
        read_as.retain(|read| {
            let condition = base.condition(read.condition);
            let of_body = condition.pain || condition.refer.is_some();
            let own = base.layer_name(&condition.origin) != SHIPPED_LAYER;
            let by_itself = query.words.trim() == condition.id
                || query.words.trim().eq_ignore_ascii_case(&condition.name);
            !of_body || (!said_of_body && (own || by_itself))
        });
        if let Some(limits) = &query.filters.limits {
            complaints.extend(on_record(base, &self.reader, limits));
        }
        complaints.there.extend(pains_among(base, query, &read_as));
        add_pains(base, &complaints, &mut read_as);
        // What is said not to be there needs no drill.
        let denied = self.reader.denied(&query.words, &query.lesson);
        read_as.retain(|read| !denied.contains(&read.condition));
        let typed = read_as.iter().map(|read| (read.condition, read.weight));
        let typed: Vec<(ConditionKey, f64)> = typed.collect();
        let likely = if typed.is_empty() {
            Vec::new()
        } else {
            likely(&typed)
        };
        Meant {
            read_as,
            typed,
            likely,
            complaints,
        }
    }

    /// What the words say of the body, as every other command hears it.
    fn heard_of_body(&self, body: &BodyReader<'_>, query: &DrillQuery) -> Complaints {
        let words = query.words.as_str();
        let mut heard = body.read(words);
        let note = self.reader.note(words, &query.lesson, &[]);
        listen_closer(words, &note, &mut heard, |part, sure| {
            body.likened(words, part, sure)
        });
        heard
    }
}

/// What was surely read as a pain, as a complaint.
fn pains_among(base: &KnowledgeBase, query: &DrillQuery, read_as: &[ReadAs]) -> Vec<Complaint> {
    let mut pains = Vec::new();
    for read in read_as {
        let condition = base.condition(read.condition);
        if read.weight >= SURE && (condition.pain || condition.refer.is_some()) {
            pains.push(Complaint {
                words: read.nearest.clone(),
                span: 0..query.words.len(),
                refer: condition.refer.unwrap_or(Refer::Professional),
                said: condition.id.clone(),
                pain: Some(read.condition),
                caution: None,
            });
        }
    }
    pains
}

/// Adds the pains complained of to what was read; where the student is sent to somebody, nothing else is left.
fn add_pains(base: &KnowledgeBase, complaints: &Complaints, read_as: &mut Vec<ReadAs>) {
    if complaints.refer().is_none() {
        return;
    }
    let mut pains = complaints.pains();
    if pains.is_empty() {
        pains.extend(any_pain(base));
    }
    if stops(complaints) {
        read_as.clear();
    }
    for pain in pains {
        if read_as.iter().all(|read| read.condition != pain) {
            read_as.push(ReadAs {
                condition: pain,
                weight: 1.0,
                nearest: base.condition(pain).name.clone(),
            });
        }
    }
}

/// However much is behind a finding, it counts this much itself: somebody who types it expects drills
/// that say so.
const LEAST_ITSELF: f64 = 0.15;

/// What was typed, and the shares of what teachers end up working on behind it: a plain stand-in for
/// a diagnosis. What is behind a finding counts by its share and the finding itself by what is left,
/// but never little; added up over everything typed and cut off at 1.
#[must_use]
pub fn behind_shares(
    base: &KnowledgeBase,
    typed: &[(ConditionKey, f64)],
) -> Vec<(ConditionKey, f64)> {
    let mut likely: BTreeMap<ConditionKey, f64> = BTreeMap::new();
    for (condition, weight) in typed {
        let behind: f64 = base
            .condition(*condition)
            .behind
            .iter()
            .map(|b| b.share.get())
            .sum();
        *likely.entry(*condition).or_default() += weight * (1.0 - behind).max(LEAST_ITSELF);
        for behind in &base.condition(*condition).behind {
            *likely.entry(behind.cause).or_default() += weight * behind.share.get();
        }
    }
    likely
        .into_iter()
        .map(|(key, share)| (key, share.min(1.0)))
        .collect()
}

/// What a drill works on of what was typed or is likely, most telling first.
pub(super) fn works_on(
    drill: &Drill,
    likely: &HashMap<ConditionKey, f64>,
    typed: &[(ConditionKey, f64)],
) -> Vec<WorksOn> {
    let mut on: Vec<WorksOn> = drill
        .treats
        .iter()
        .filter_map(|treats| {
            let likely = *likely.get(&treats.condition)?;
            Some(WorksOn {
                condition: treats.condition,
                as_typed: typed
                    .iter()
                    .any(|(condition, _)| *condition == treats.condition),
                likely,
                effect: treats.effect.get(),
            })
        })
        .collect();
    on.sort_by(|a, b| {
        (b.likely * b.effect)
            .total_cmp(&(a.likely * a.effect))
            .then(a.condition.cmp(&b.condition))
    });
    on
}
