//! What a note is about: the shot and the hand, where somebody says or implies it.

use super::clause::Clause;
use super::phrases::Found;
use super::reader::{Reader, Reading, hinted_shots, is_short};
use crate::knowledge::{FactKey, Shot};
use crate::lesson::Handed;

impl Reader {
    /// Of both hands told, the one that was not said in passing is the student's: in `RH, one knuckle on LH`
    /// the left hand is on the grip.
    pub(super) fn one_hand(&self, clauses: &mut [Clause]) {
        if self.hand_told(clauses).is_some() {
            return;
        }
        let hands = self.tables.hands;
        let is_hand = |fact: &Found<FactKey>| hands.contains(&Some(fact.what));
        let alone = |clause: &Clause, fact: &Found<FactKey>| {
            let beside = clause.terms[..fact.from]
                .iter()
                .chain(&clause.terms[fact.to..]);
            beside
                .into_iter()
                .all(|term| self.trade.is_filler(&term.word))
        };
        let any = clauses.iter().any(|clause| {
            let mut facts = clause.facts.iter();
            facts.any(|fact| is_hand(fact) && alone(clause, fact))
        });
        for clause in clauses.iter_mut().filter(|_| any) {
            let facts = std::mem::take(&mut clause.facts).into_iter();
            clause.facts = facts
                .filter(|fact| !is_hand(fact) || alone(clause, fact))
                .collect();
        }
    }

    /// The hand that clauses tell.
    pub(super) fn hand_told(&self, clauses: &[Clause]) -> Option<Handed> {
        let told = |hand: usize| {
            let fact = self.tables.hands[hand];
            fact.is_some_and(|fact| {
                let all = clauses.iter().flat_map(|clause| &clause.facts);
                all.into_iter().any(|found| found.what == fact)
            })
        };
        match (told(0), told(1)) {
            (true, false) => Some(Handed::Right),
            (false, true) => Some(Handed::Left),
            _ => None,
        }
    }

    /// The one kind of short shot that a note is about; clubs of the long game are of their own clause.
    pub(super) fn shot_told(&self, clauses: &[Clause]) -> Option<Shot> {
        let mut told = None;
        for clause in clauses {
            if clause.praises() {
                continue;
            }
            if let [shot] = hinted_shots(&self.trade, &clause.terms).as_slice()
                && is_short(*shot)
            {
                match told {
                    None => told = Some(*shot),
                    Some(other) if other != *shot => return None,
                    Some(_) => {}
                }
            }
        }
        told
    }

    /// The short shot that most of the findings, and the places named, are about: whoever speaks of
    /// eyes over the line is putting. A note that speaks of full swings as much implies none.
    pub(super) fn shot_implied(&self, clauses: &[Clause]) -> Option<Shot> {
        let mut votes: Vec<(Shot, f64)> = Vec::new();
        let mut long = 0.0;
        let mut vote = |shot: Shot, worth: f64| match votes.iter_mut().find(|(s, _)| *s == shot) {
            Some((_, sum)) => *sum += worth,
            None => votes.push((shot, worth)),
        };
        for clause in clauses {
            for shot in hinted_shots(&self.trade, &clause.terms) {
                if is_short(shot) {
                    vote(shot, 0.6);
                }
            }
            for finding in &clause.findings {
                let Reading::Clear { condition, .. } = &finding.reading else {
                    continue;
                };
                let shots = &self.shots[condition.0];
                if shots.iter().all(|shot| is_short(*shot)) {
                    for shot in shots {
                        // What holds for two shots still speaks for either.
                        vote(*shot, if shots.len() == 1 { 1.0 } else { 0.7 });
                    }
                } else if !shots.iter().any(|shot| is_short(*shot)) && !finding.implied {
                    long += 1.0;
                }
            }
        }
        let best = votes
            .iter()
            .copied()
            .fold(None, |best: Option<(Shot, f64)>, one| match best {
                Some(best) if best.1 >= one.1 => Some(best),
                _ => Some(one),
            });
        best.filter(|(_, sum)| *sum > 1.2 && *sum >= long)
            .map(|(shot, _)| shot)
    }
}
