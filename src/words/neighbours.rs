//! What clauses say of those beside them: `looks up early? no`, `no casting, slide or sway`.

use super::clause::{Clause, Part};
use super::note::{Finding, Said};
use super::number::Count;
use super::pieces::Mark;
use super::reader::{Reader, is_of_the_motion};
use super::statement::means;
use super::tables::Effect;
use crate::knowledge::{Denies, WordUse};
use crate::lesson::Lesson;

/// A clause of a list that was denied at its head has no more terms than this.
const SHORT: usize = 5;

impl Reader {
    /// What a clause of denial, doubt or praise alone says of the one before it.
    pub(super) fn look_back(&self, clauses: &mut [Clause], circumstances: &Lesson) {
        for at in 1..clauses.len() {
            let effect = match clauses[at].part {
                Part::Bare(effect) => effect,
                Part::BareCount(count) => {
                    count_before(clauses, at, count);
                    continue;
                }
                Part::Own | Part::OfTheLast | Part::Heading => continue,
            };
            let heard = match effect {
                Effect::Denies(Denies::Sound) => self.praised(clauses, at, circumstances),
                // `no` behind a question, `not any more` behind a comma.
                Effect::Denies(Denies::Ahead | Denies::Behind) => {
                    let clause = &mut clauses[at - 1];
                    // `thinks he slices, but I cannot see that`.
                    let believed = std::mem::take(&mut clause.believed);
                    clause.findings.extend(believed);
                    let before = &mut clause.findings;
                    before.iter_mut().for_each(|f| f.said = Said::NotSeen);
                    !before.is_empty()
                }
                Effect::Hedges => {
                    let before = &mut clauses[at - 1].findings;
                    for finding in before.iter_mut().filter(|f| f.said == Said::Seen) {
                        finding.said = Said::Slight;
                    }
                    !before.is_empty()
                }
                Effect::Denies(Denies::Past | Denies::Nothing)
                | Effect::Believes
                | Effect::HedgesNext => false,
            };
            if heard {
                clauses[at].part = Part::OfTheLast;
                clauses[at - 1].at.end = clauses[at].at.end;
            }
        }
        self.go_on_denying(clauses);
    }

    /// `grip, stance, posture: all fine`: what the topics before praise rule out.
    fn praised(&self, clauses: &mut [Clause], at: usize, circumstances: &Lesson) -> bool {
        let mut heard = false;
        // `stands tall, no problem`: what was seen of the motion is called none.
        let of_motion = |finding: &Finding| {
            let key = means(&finding.reading);
            key.is_some_and(|key| is_of_the_motion(self.spoken[key.0].stage))
        };
        let before = &mut clauses[at - 1].findings;
        if !before.is_empty() && before.iter().all(of_motion) {
            before.iter_mut().for_each(|f| f.said = Said::NotSeen);
            return true;
        }
        for clause in clauses[..at].iter_mut().rev() {
            if clause.mark == Mark::Stop || !clause.findings.is_empty() || clause.topics.is_empty()
            {
                break;
            }
            let topics: Vec<usize> = clause.topics.iter().map(|topic| topic.what).collect();
            let mut findings = Vec::new();
            self.rule_out(&topics, circumstances, &mut findings);
            heard |= !findings.is_empty();
            clause.residue = None;
            clause.findings = findings;
        }
        heard
    }

    /// `no casting, slide or sway`: the list goes on until its `or`.
    fn go_on_denying(&self, clauses: &mut [Clause]) {
        let mut open: Option<usize> = None;
        for at in 0..clauses.len() {
            let clause = &clauses[at];
            let starts = clause.effects.first().is_some_and(|effect| {
                let before = &clause.terms[..effect.from];
                effect.what == Effect::Denies(Denies::Ahead)
                    && before.iter().all(|term| self.trade.is_filler(&term.word))
            });
            let mut words = clause.terms.iter();
            let ends = words.any(|term| self.trade.is(WordUse::ReachesOn, &term.word));
            if starts {
                open = Some(at);
            } else if let (Some(first), true) = (open, clause.terms.len() <= SHORT) {
                if ends {
                    for clause in &mut clauses[first + 1..=at] {
                        clause
                            .findings
                            .iter_mut()
                            .for_each(|f| f.said = Said::NotSeen);
                    }
                    open = None;
                }
            } else {
                open = None;
            }
            if clauses[at].mark == Mark::Stop {
                open = None;
            }
        }
    }
}

/// `low hooks, 8 of 10`: how many balls did what stands before.
fn count_before(clauses: &mut [Clause], at: usize, count: Count) {
    let (before, rest) = clauses.split_at_mut(at);
    let (Some(last), Some(clause)) = (before.last_mut(), rest.first_mut()) else {
        return;
    };
    let mut seen = last
        .findings
        .iter_mut()
        .filter(|f| f.said == Said::Seen)
        .peekable();
    if seen.peek().is_some() {
        seen.for_each(|finding| finding.count = Some(count));
        last.at.end = clause.at.end;
        clause.part = Part::OfTheLast;
    }
}
