//! What a plan leaves out or puts off, each with its reason.

use super::answer::{LeftOut, NotBefore, OutOfReach, Step};
use super::choose::SAME;
use super::fit::Unfit;
use super::frame::Frame;
use super::make::{Chosen, FIELD, Room};
use crate::knowledge::{ConditionKey, ConditionKind, DrillKey};
use std::collections::BTreeSet;

/// Chains that wait are listed up to this many.
const MOST_NOT_BEFORE: usize = 4;

/// A chain that stands behind less than this share of what waits is no reason to wait.
const WORTH_WAITING: f64 = 0.03;

/// Other leading causes whose best drill is listed as left out.
const OTHER_CAUSES: usize = 3;

impl Room<'_> {
    /// What waits for a priority, because it is downstream of one: the other priority, leading
    /// causes, and faults that were seen.
    pub(super) fn not_before(&self, chosen: &Chosen, seen: &[ConditionKey]) -> Vec<NotBefore> {
        let faults = seen
            .iter()
            .copied()
            .filter(|key| self.base.condition(*key).kind == ConditionKind::Fault);
        let mut waiting: Vec<ConditionKey> = Vec::new();
        for key in chosen.priorities.iter().copied().chain(faults).chain(
            self.field
                .iter()
                .take(OTHER_CAUSES)
                .map(|cause| cause.condition),
        ) {
            if !waiting.contains(&key) {
                waiting.push(key);
            }
        }
        let mut found: Vec<(f64, NotBefore)> = waiting
            .into_iter()
            .filter_map(|waits| {
                let ways = self.rows.ways(waits, |_| true);
                let mut above = chosen.priorities.iter().copied();
                let until = above.find(|key| *key != waits && ways.weight(*key) > 0.0)?;
                let weight = ways.weight(until);
                let chain = ways.chain(until)?;
                let wait = NotBefore {
                    waits,
                    until,
                    chain,
                };
                (weight >= WORTH_WAITING).then_some((weight, wait))
            })
            .collect();
        // The strongest reason first; the other priority before everything else.
        let weak =
            |(weight, wait): &(f64, NotBefore)| (!chosen.priorities.contains(&wait.waits), -weight);
        found.sort_by(|a, b| {
            weak(a)
                .0
                .cmp(&weak(b).0)
                .then(weak(a).1.total_cmp(&weak(b).1))
        });
        found.truncate(MOST_NOT_BEFORE);
        found.into_iter().map(|(_, wait)| wait).collect()
    }

    /// Remedies for the priorities that are not in the plan, and the best remedy of the next
    /// leading causes, each with the reason.
    pub(super) fn left_out(
        &self,
        chosen: Option<&Chosen>,
        steps: &[Step],
        frame: &Frame,
        taken: f64,
    ) -> Vec<LeftOut> {
        let mut found: Vec<LeftOut> = Vec::new();
        let priorities = chosen.map_or(&[][..], |chosen| &chosen.priorities);
        let mut note =
            |drill: DrillKey, condition: ConditionKey, reason: (&'static str, String)| {
                if found.iter().all(|left| left.drill != drill)
                    && steps.iter().all(|step| step.drill != drill)
                {
                    found.push(LeftOut {
                        drill,
                        for_condition: condition,
                        reason: reason.0,
                        why: reason.1,
                    });
                }
            };
        for priority in priorities {
            for (drill, _) in self.base.remedies(*priority) {
                note(drill, *priority, self.why_not(drill, frame.work - taken));
            }
        }
        let others = self
            .diagnosis
            .causes
            .iter()
            .filter(|cause| {
                cause.clears > 0.0
                    && !priorities.contains(&cause.condition)
                    && !self.base.condition(cause.condition).is_pain()
            })
            .take(OTHER_CAUSES);
        for cause in others {
            let remedies = self.base.remedies(cause.condition);
            let fits = remedies
                .iter()
                .find(|(drill, _)| self.fit.verdict(*drill).is_none());
            match (fits, chosen) {
                (Some((drill, _)), Some(_)) => note(
                    *drill,
                    cause.condition,
                    (
                        "one-change",
                        format!(
                            "One change at a time: {} waits.",
                            self.base.condition(cause.condition).name
                        ),
                    ),
                ),
                (Some((drill, _)), None) => {
                    note(
                        *drill,
                        cause.condition,
                        self.why_not(*drill, frame.work - taken),
                    );
                }
                (None, _) => {
                    for (drill, _) in remedies.iter().take(OTHER_CAUSES) {
                        note(
                            *drill,
                            cause.condition,
                            self.why_not(*drill, frame.work - taken),
                        );
                    }
                }
            }
        }
        found.sort_by_key(|left| importance(left.reason));
        found
    }

    /// Causes that would clear more than what the lesson works on, were there a drill that fits.
    pub(super) fn out_of_reach(&self, chosen: Option<&Chosen>) -> Vec<OutOfReach> {
        let least = chosen.map_or(0.0, |chosen| {
            chosen
                .gains
                .alone
                .iter()
                .zip(&chosen.priorities)
                .map(|(clears, _)| *clears)
                .fold(f64::MAX, f64::min)
        });
        self.diagnosis
            .causes
            .iter()
            .take(FIELD)
            .filter(|cause| cause.clears > least)
            .filter(|cause| !self.base.condition(cause.condition).is_pain())
            .filter(|cause| self.field.iter().all(|f| f.condition != cause.condition))
            .take(OTHER_CAUSES)
            .map(|cause| OutOfReach {
                condition: cause.condition,
                clears: cause.clears,
                remedies: self
                    .base
                    .remedies(cause.condition)
                    .into_iter()
                    .filter_map(|(drill, _)| {
                        Some((drill, self.fit.verdict(drill)?.words(self.base)))
                    })
                    .take(OTHER_CAUSES)
                    .collect(),
            })
            .collect()
    }

    pub(super) fn why_not(&self, drill: DrillKey, minutes: f64) -> (&'static str, String) {
        if let Some(unfit) = self.fit.verdict(drill) {
            return (Unfit::code(unfit), unfit.words(self.base));
        }
        let mut needed = 0.0;
        let mut open = vec![drill];
        let mut met = BTreeSet::new();
        while let Some(key) = open.pop() {
            if met.insert(key) {
                needed += self.base.drill(key).minutes();
                open.extend(self.first(key));
            }
        }
        if needed > minutes + SAME {
            let first = if met.len() > 1 {
                " with what comes before it"
            } else {
                ""
            };
            return (
                "time",
                format!("It takes {needed} minutes{first}; the work has {minutes}."),
            );
        }
        (
            "less",
            "The drills of the plan do as much or more in the time.".to_owned(),
        )
    }
}

/// Where a reason for leaving a drill out stands in the list: harm first, then what a coach can
/// change today, then the rest.
fn importance(reason: &str) -> usize {
    const ORDER: [&str; 13] = [
        "aggravates",
        "not-with",
        "pain",
        "ask-first",
        "equipment",
        "time",
        "after",
        "one-change",
        "place",
        "level",
        "suits",
        "less",
        "shot",
    ];
    ORDER
        .iter()
        .position(|known| *known == reason)
        .unwrap_or(ORDER.len())
}
