//! A clause that is a name or an alias word for word, but for when, how often, how badly and with what.
//!
//! `stalls under pressure`, `the odd big hook with the driver`: what stands beside the words of the library
//! changes neither what they mean nor whose words they are. Free words (`spans.rs`, `whole.rs`) weigh every
//! word of a clause, and what says nothing about the fault would lead them astray.

use super::clause::Clause;
use super::phrases::Found;
use super::reader::{Reader, Reading, hinted_shots, stages_said};
use super::spans::Span;
use super::tables::Effect;
use super::term::{Cutter, Term, TextId};
use crate::knowledge::{Denies, WordUse};
use crate::lesson::Lesson;
use std::ops::Range;

/// What a term may say beside a finding.
#[derive(Clone, Copy, PartialEq, Eq)]
enum SaidBeside {
    Nothing,
    HowOften,
    HowBad,
    /// With which club, where, who: what is told as a fact.
    Told,
}

/// What may be left out, the least first: `big draw` and `driver too steep` are aliases with such words.
const LEFT_OUT: [&[SaidBeside]; 5] = [
    &[],
    &[SaidBeside::HowOften],
    &[SaidBeside::HowOften, SaidBeside::HowBad],
    &[SaidBeside::HowOften, SaidBeside::Told],
    &[SaidBeside::HowOften, SaidBeside::HowBad, SaidBeside::Told],
];

impl Reader {
    /// The finding that such a clause is, and which of its terms say it.
    pub(super) fn plainly(
        &self,
        cutter: &mut Cutter,
        clause: &Clause,
        circumstances: &Lesson,
    ) -> Option<(Span, Vec<bool>)> {
        let believes = |effect: &Found<Effect>| effect.what == Effect::Believes;
        if clause.occasion || clause.effects.iter().any(believes) {
            return None;
        }
        let beside = self.said_beside(clause);
        let mut tried = usize::MAX;
        for left_out in LEFT_OUT {
            let says: Vec<bool> = beside.iter().map(|what| !left_out.contains(what)).collect();
            let core: Vec<Term> = clause
                .terms
                .iter()
                .zip(&says)
                .filter(|(_, says)| **says)
                .map(|(term, _)| term.clone())
                .collect();
            let small = |term: &Term| self.trade.is_filler(&term.word);
            if core.len() == tried || core.iter().all(small) {
                continue;
            }
            // `posture's fine` is no `S posture`: praise and denial are small words that say the most.
            let denies = |effect: &Found<Effect>| {
                matches!(effect.what, Effect::Denies(_))
                    && says[effect.from..effect.to].contains(&true)
            };
            if clause.effects.iter().any(denies) && !self.is_one_saying(cutter, &core) {
                continue;
            }
            tried = core.len();
            if let Some(reading) = self.word_for_word(cutter, clause, &core, circumstances) {
                return Some((plain_span(reading, &says)?, says));
            }
        }
        None
    }

    /// What some terms of a clause are as a name or an alias, settled where two entries share it by what
    /// the clause says of stage and shot.
    fn word_for_word(
        &self,
        cutter: &mut Cutter,
        clause: &Clause,
        core: &[Term],
        circumstances: &Lesson,
    ) -> Option<Reading> {
        let shot =
            circumstances
                .shot
                .or_else(|| match hinted_shots(&self.trade, &clause.terms)[..] {
                    [hinted] => Some(hinted),
                    _ => None,
                });
        let reading = self
            .read_exactly(cutter, core, circumstances, shot)
            .or_else(|| self.read_exactly(cutter, core, circumstances, circumstances.shot))?;
        if !matches!(reading, Reading::Several(_)) {
            return Some(reading);
        }
        let words: Vec<TextId> = core.iter().map(|term| cutter.id(&term.word)).collect();
        let stages = stages_said(&self.trade, &clause.terms);
        let settled = self.read_sayings(cutter, &words, &clause.terms, &stages, shot);
        Some(settled.unwrap_or(reading))
    }

    /// What each term of a clause says beside a finding.
    fn said_beside(&self, clause: &Clause) -> Vec<SaidBeside> {
        let terms = &clause.terms;
        let mut beside: Vec<SaidBeside> = terms
            .iter()
            .map(|term| self.beside_by_itself(term))
            .collect();
        for fact in &clause.facts {
            beside[fact.from..fact.to].fill(SaidBeside::Told);
        }
        for found in self.tables.how_bad.all(&self.trade, terms) {
            beside[found.from..found.to].fill(SaidBeside::HowBad);
        }
        for found in self.tables.how_often.all(&self.trade, terms) {
            beside[found.from..found.to].fill(SaidBeside::HowOften);
        }
        let effects = clause.effects.iter();
        let counts = clause.count.iter().map(|(_, terms)| terms.clone());
        for at in effects
            .map(|effect| self.no_part(effect, terms))
            .chain(counts)
        {
            beside[at].fill(SaidBeside::HowOften);
        }
        beside
    }

    /// What a single term says beside a finding.
    fn beside_by_itself(&self, term: &Term) -> SaidBeside {
        if !self.trade.hints(&term.word).is_empty() {
            SaidBeside::Told
        } else if self.trade.is(WordUse::Subject, &term.word) {
            SaidBeside::HowOften
        } else {
            SaidBeside::Nothing
        }
    }

    /// Which terms of denial or doubt are no part of how a finding is said.
    fn no_part(&self, effect: &Found<Effect>, terms: &[Term]) -> Range<usize> {
        // `little wrist hinge` is no hinge that is slight.
        let lack = |term: &Term| self.trade.is(WordUse::Lack, &term.word);
        let last = effect.to - 1;
        match effect.what {
            Effect::Hedges | Effect::HedgesNext
                if !terms[effect.from..effect.to].iter().any(lack) =>
            {
                effect.from..effect.to
            }
            // `saw no shaft lean`: the `no` is the alias's own.
            Effect::Denies(Denies::Ahead)
                if self.trade.is(WordUse::Negation, &terms[last].word) =>
            {
                effect.from..last
            }
            _ => effect.from..effect.from,
        }
    }
}

/// The stretch from the first to the last term that says it.
fn plain_span(reading: Reading, says: &[bool]) -> Option<Span> {
    Some(Span {
        from: says.iter().position(|says| *says)?,
        to: says.iter().rposition(|says| *says)? + 1,
        reading,
        score: 1.0,
        denied: false,
        adjective: false,
    })
}
