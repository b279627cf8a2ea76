//! What is known of this student changes what stands behind each finding.
//!
//! Each change is Bayes' rule on a row, what is left keeping its proportions, in this order: the shot;
//! facts about the student; what was looked for and is not there; what was seen and acts from where it
//! stands; what was seen late in the motion and is asked about. The numbers:
//!
//! | number | value | why |
//! |---|---|---|
//! | share of an entry filed under other shots only | 0 | a putt does not start with the driver; one's own share stays, since it was seen |
//! | times of a fact | the library's | how many times as common the cause is among students of whom it is said |
//! | share of what was not seen | 0 | nobody works on what is not there |
//! | share of the opposite of what was seen | 0 | a hold that is too strong is not too weak; both seen are asked about |
//! | seen, and acts (`when_seen: acts`) | `s / (s + (1 - s) b)` | it is there, where in others it is with its commonness b |
//! | own share of what is asked about (`when_seen: asks`) | [`OWN_WHEN_ASKED`] | who reports an early rise knows of it and asks what is behind it |
//! | the same when the tool asked for it | 1 | nobody was asking; it was found |

use super::asked::Asked;
use super::observation::{Observation, State};
use crate::causal::{Row, Rows, commonness};
use crate::knowledge::{
    Condition, ConditionKey, ConditionKind, FactKey, KnowledgeBase, Shot, WhenSeen,
};
use std::collections::BTreeSet;

/// How much of its own share counts for something seen late in the motion, when it comes to naming the
/// place to work on; the rest goes to what else stands behind it, in proportion. Of the things seen from
/// the top of the swing on, the teachers of the lessons in docs/knowledge.md named 1 in 72 as the root
/// itself; of grips and set-ups, 3 in 5. A judgement; halves and thirds ordered the cases alike.
const OWN_WHEN_ASKED: f64 = 0.5;

/// The shots that the lesson may be about.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Shots(Vec<Shot>);

/// Shots that are learnt together: what is seen in one may start in another of its group.
const GROUPS: [&[Shot]; 3] = [
    &[Shot::FullSwing, Shot::Driver, Shot::Iron],
    &[Shot::Pitch, Shot::Chip, Shot::Bunker],
    &[Shot::Putt],
];

impl Shots {
    /// The shot that was given; or of the groups that all findings may belong to, the one that a club named
    /// speaks for, else the one that is learnt first, and of it the shots that the clubs may play; any shot
    /// when the findings share no group.
    pub(super) fn new(
        base: &KnowledgeBase,
        asked: Option<Shot>,
        clubs: &BTreeSet<Shot>,
        found: &[Observation],
    ) -> Self {
        if let Some(shot) = asked {
            return Self(vec![shot]);
        }
        let filed: Vec<&[Shot]> = found
            .iter()
            .filter(|o| o.state.is_finding())
            .flat_map(Observation::meanings)
            .map(|(key, _)| base.condition(key).shots.as_slice())
            .collect();
        if filed.is_empty() {
            return Self(Vec::new());
        }
        let holds = |group: &&&[Shot]| {
            let mut filed = filed.iter();
            filed.all(|shots| shots.iter().any(|shot| group.contains(shot)))
        };
        let named = |group: &&&[Shot]| clubs.iter().any(|shot| group.contains(shot));
        let mut shared = GROUPS.iter().filter(holds);
        let first = shared.clone().find(named).or_else(|| shared.next());
        Self(first.map_or_else(Vec::new, |group| played_with(group, clubs, &filed)))
    }

    /// The shot that is played, as far as it was given or what was seen says; of several the one that is
    /// learnt first. What the ball did says it before how the student stood.
    pub(super) fn played(
        base: &KnowledgeBase,
        asked: Option<Shot>,
        clubs: &BTreeSet<Shot>,
        found: &[Observation],
    ) -> Option<Shot> {
        let ball = of_the_ball(base, found);
        let one_group = |found: &[Observation]| {
            let Self(shots) = Self::new(base, asked, clubs, found);
            let fits = |shot: &Shot| {
                let findings = found.iter().filter(|o| o.state.is_finding());
                findings
                    .map(|o| base.condition(o.condition))
                    .all(|condition| condition.applies_to(Some(*shot)))
            };
            shots.iter().copied().find(fits).or(shots.first().copied())
        };
        one_group(found).or_else(|| one_group(&ball))
    }

    /// Whether a condition applies to one of them.
    pub(super) fn admit(&self, base: &KnowledgeBase, key: ConditionKey) -> bool {
        let condition = base.condition(key);
        self.0.is_empty() || self.0.iter().any(|shot| condition.applies_to(Some(*shot)))
    }
}

/// The shots of a group that the clubs named may play; all of them where no club of the group was named, or
/// where something was seen that the clubs do not go with.
fn played_with(group: &[Shot], clubs: &BTreeSet<Shot>, filed: &[&[Shot]]) -> Vec<Shot> {
    let named: Vec<Shot> = group
        .iter()
        .filter(|shot| clubs.contains(shot))
        .copied()
        .collect();
    let goes = |shots: &&[Shot]| {
        let mut pairs = shots
            .iter()
            .flat_map(|own| named.iter().map(move |club| (own, club)));
        pairs.any(|(own, club)| own.applies_to(*club))
    };
    if named.is_empty() || !filed.iter().all(goes) {
        return group.to_vec();
    }
    named
}

/// What is known of the student beside the findings.
pub(super) struct Student<'a> {
    base: &'a KnowledgeBase,
    shots: Shots,
    /// The shots that the ball was seen to be hit with, where all of it does not say.
    played: Shots,
    /// By condition: how many times as common it is among students like this one; 0 for what was
    /// looked for and not seen.
    times: Vec<f64>,
    /// What was seen and acts from where it stands.
    acting: Vec<ConditionKey>,
    /// What cannot be there because its opposite was seen, sorted.
    shut_out: Vec<ConditionKey>,
}

impl<'a> Student<'a> {
    pub(super) fn new(base: &'a KnowledgeBase, asked: &Asked, found: &[Observation]) -> Self {
        let clubs = &asked.heard.shots;
        let shots = Shots::new(base, asked.lesson.shot, clubs, found);
        let played = if shots.0.is_empty() {
            Shots::new(base, None, clubs, &of_the_ball(base, found))
        } else {
            shots.clone()
        };
        let mut times: Vec<f64> = base
            .conditions
            .iter()
            .map(|condition| told(condition, &asked.lesson.facts))
            .collect();
        let mut acting = Vec::new();
        for observation in found {
            let key = observation.condition;
            match observation.state {
                State::NotSeen => times[key.0] = 0.0,
                State::Seen | State::Found
                    if when_seen(base, key) == Some(WhenSeen::Acts)
                        && observation.perhaps.is_empty() =>
                {
                    acting.push(key);
                }
                _ => {}
            }
        }
        let shut_out = shut_out(base, found);
        shut_out.iter().for_each(|key| times[key.0] = 0.0);
        Self {
            base,
            shots,
            played,
            times,
            acting,
            shut_out,
        }
    }

    /// Whether a condition applies to the shot, given or implied.
    pub(super) fn admits(&self, key: ConditionKey) -> bool {
        self.shots.admit(self.base, key)
    }

    /// Whether it is worth a look: it applies to the shot that the ball was hit with, and its opposite was
    /// not seen.
    pub(super) fn may_be_looked_for(&self, key: ConditionKey) -> bool {
        self.played.admit(self.base, key) && self.shut_out.binary_search(&key).is_err()
    }

    /// The row of a condition for this student, unknown rest and all; `state` is what was reported of the
    /// condition itself, if anything was.
    pub(super) fn row(
        &self,
        rows: &Rows,
        key: ConditionKey,
        state: Option<State>,
    ) -> Vec<(ConditionKey, f64)> {
        let whole: &Row = rows.row(key);
        let own = |cause: ConditionKey| cause == key;
        let mut unknown = (1.0 - whole.known()).max(0.0);
        let mut row: Vec<(ConditionKey, f64)> = whole
            .entries()
            .iter()
            .filter(|(cause, _)| own(*cause) || self.admits(*cause))
            .map(|&(cause, share)| {
                // Of what was not seen, the row still says how it would have come about.
                let absent = own(cause) && state == Some(State::NotSeen);
                let times = if absent { 1.0 } else { self.times[cause.0] };
                (cause, share * times)
            })
            .filter(|entry| entry.1 > 0.0)
            .collect();
        scale_to_one(&mut row, &mut unknown);
        for &seen in &self.acting {
            if let Some(index) = row.iter().position(|entry| entry.0 == seen && !own(seen)) {
                let odds = 1.0 / commonness(self.base, seen);
                row[index].1 *= odds;
                scale_to_one(&mut row, &mut unknown);
            }
        }
        let asks = when_seen(self.base, key) == Some(WhenSeen::Asks);
        if asks && state.is_some_and(|state| state.is_finding() && state != State::Found) {
            let others: f64 = row.iter().filter(|e| !own(e.0)).map(|e| e.1).sum();
            let kept = row.iter().find(|e| own(e.0)).map_or(0.0, |e| e.1);
            let given = kept * (1.0 - OWN_WHEN_ASKED);
            if others > 0.0 {
                for (cause, share) in &mut row {
                    *share *= if own(*cause) {
                        OWN_WHEN_ASKED
                    } else {
                        1.0 + given / others
                    };
                }
            }
        }
        row
    }
}

/// The opposites of what was seen without doubt, as far as nothing was reported of them, sorted.
fn shut_out(base: &KnowledgeBase, found: &[Observation]) -> Vec<ConditionKey> {
    let reported = |key: &ConditionKey| found.iter().any(|o| o.meanings().any(|m| m.0 == *key));
    let sure =
        |o: &&Observation| matches!(o.state, State::Seen | State::Found) && o.perhaps.is_empty();
    let mut keys: Vec<ConditionKey> = found
        .iter()
        .filter(sure)
        .flat_map(|o| &base.condition(o.condition).opposites)
        .filter(|key| !reported(key))
        .copied()
        .collect();
    keys.sort_unstable();
    keys.dedup();
    keys
}

/// What the ball did, of all that was found.
fn of_the_ball(base: &KnowledgeBase, found: &[Observation]) -> Vec<Observation> {
    let outcome = |o: &&Observation| base.condition(o.condition).kind == ConditionKind::Outcome;
    found.iter().filter(outcome).cloned().collect()
}

/// What the library says of something that was seen at the condition's stage.
fn when_seen(base: &KnowledgeBase, key: ConditionKey) -> Option<WhenSeen> {
    base.when_seen.get(&base.condition(key).stage).copied()
}

/// How many times as common a condition is among students of whom all these facts are said.
fn told(condition: &Condition, facts: &BTreeSet<FactKey>) -> f64 {
    condition
        .told
        .iter()
        .filter(|told| facts.contains(&told.fact))
        .map(|told| told.times)
        .product()
}

/// Brings a row and its unknown rest back to 1, in proportion.
fn scale_to_one(row: &mut [(ConditionKey, f64)], unknown: &mut f64) {
    let sum: f64 = row.iter().map(|entry| entry.1).sum::<f64>() + *unknown;
    if sum > 0.0 {
        row.iter_mut().for_each(|entry| entry.1 /= sum);
        *unknown /= sum;
    } else {
        *unknown = 1.0;
    }
}
