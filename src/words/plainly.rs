//! A clause that is a name or an alias word for word, but for when, how often, how badly and with what.
//!
//! `stalls under pressure`, `the odd big hook with the driver`: what stands beside the words of the library
//! changes neither what they mean nor whose words they are. Free words (`spans.rs`, `whole.rs`) weigh every
//! word of a clause, and what says nothing about the fault would lead them astray. So is a clause that consists
//! of several names, of what denies or doubts them, and of what stands beside them: `no sway and no slide`.

use super::clause::Clause;
use super::phrases::Found;
use super::reader::{ReadBy, Reader, Reading, hinted_shots, stages_said};
use super::spans::Span;
use super::tables::Effect;
use super::term::{Cutter, Term, TextId};
use crate::knowledge::{Denies, FactKey, WordUse};
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
const LEFT_OUT: [&[SaidBeside]; 3] = [
    &[],
    &[SaidBeside::HowOften],
    &[SaidBeside::HowOften, SaidBeside::HowBad],
];

/// What may be left out when no row of names says it all.
const LEFT_OUT_AT_LAST: [&[SaidBeside]; 2] = [
    &[SaidBeside::HowOften, SaidBeside::Told],
    &[SaidBeside::HowOften, SaidBeside::HowBad, SaidBeside::Told],
];

/// What leaving out a word costs that tells a fact, in names: `slices the driver` is a slice, though it tells a
/// fact.
const TOLD_LEFT_OUT: f64 = 1.1;

/// A clause of more terms than this is no row of names, and a name has no more than so many.
const LONGEST_ROW: usize = 24;
const LONGEST_NAME: usize = 10;

impl Reader {
    /// The findings of such a clause, and which of its terms say something.
    pub(super) fn plainly(
        &self,
        cutter: &mut Cutter,
        clause: &Clause,
        circumstances: &Lesson,
    ) -> Option<(Vec<Span>, Vec<bool>)> {
        let believes = |effect: &Found<Effect>| effect.what == Effect::Believes;
        if clause.occasion || clause.effects.iter().any(believes) {
            return None;
        }
        let beside = self.said_beside(clause);
        let as_one = |left_out: &[&[SaidBeside]], cutter: &mut Cutter| {
            let (span, says) =
                self.as_one_name(cutter, clause, circumstances, &beside, left_out)?;
            Some((vec![span], says))
        };
        if let Some(one) = as_one(&LEFT_OUT, cutter) {
            return Some(one);
        }
        let row = self.plain_row(cutter, clause, circumstances, &beside);
        if row.is_empty() {
            return as_one(&LEFT_OUT_AT_LAST, cutter);
        }
        let inside = |at: usize| row.iter().any(|span| (span.from..span.to).contains(&at));
        let says =
            (0..clause.terms.len()).map(|at| inside(at) || beside[at] == SaidBeside::Nothing);
        Some((row.clone(), says.collect()))
    }

    /// The one name that a clause is without what may be left out, and which of its terms are in it.
    fn as_one_name(
        &self,
        cutter: &mut Cutter,
        clause: &Clause,
        circumstances: &Lesson,
        beside: &[SaidBeside],
        left_out: &[&[SaidBeside]],
    ) -> Option<(Span, Vec<bool>)> {
        let mut tried = usize::MAX;
        for left_out in left_out {
            let says: Vec<bool> = beside.iter().map(|what| !left_out.contains(what)).collect();
            let kept = clause.terms.iter().zip(&says).filter(|(_, says)| **says);
            let core: Vec<Term> = kept.map(|(term, _)| term.clone()).collect();
            let small = |term: &Term| self.trade.is_filler(&term.word);
            if core.len() == tried || core.iter().all(small) {
                continue;
            }
            // `posture's fine` is no `S posture`: praise and denial are small words that say the most.
            let denies = |effect: &Found<Effect>| {
                matches!(effect.what, Effect::Denies(_))
                    && says[effect.from..effect.to].contains(&true)
            };
            if clause.effects.iter().any(denies)
                && (left_out.contains(&SaidBeside::Told) || !self.is_one_saying(cutter, &core))
            {
                continue;
            }
            tried = core.len();
            if let Some(reading) = self.word_for_word(cutter, clause, &core, circumstances) {
                return Some((plain_span(reading, &says)?, says));
            }
        }
        None
    }

    /// The findings of a clause that consists of several names and aliases: the row of the fewest that leaves
    /// nothing over but denial, doubt, what stands beside them and what joins them.
    fn plain_row(
        &self,
        cutter: &mut Cutter,
        clause: &Clause,
        circumstances: &Lesson,
        beside: &[SaidBeside],
    ) -> Vec<Span> {
        let n = clause.terms.len();
        let other = |effect: &Found<Effect>| {
            matches!(
                effect.what,
                Effect::Denies(Denies::Sound | Denies::Past | Denies::Nothing)
            )
        };
        if n > LONGEST_ROW || clause.effects.iter().any(other) {
            return Vec::new();
        }
        let costs = self.left_out_costs(clause, beside);
        // What the cheapest names cost that say the first `at` terms, and the last of them.
        let mut best: Vec<Option<(f64, Option<Span>)>> = vec![None; n + 1];
        best[0] = Some((0.0, None));
        for to in 1..=n {
            if let (Some(cost), Some((before, _))) = (costs[to - 1], &best[to - 1]) {
                best[to] = Some((before + cost, None));
            }
            for from in to.saturating_sub(LONGEST_NAME)..to {
                let Some((before, _)) = best[from] else {
                    continue;
                };
                let dearer = |(known, _): &(f64, Option<Span>)| before + 1.0 < *known;
                if self.trade.is_filler(&clause.terms[from].word)
                    || !best[to].as_ref().is_none_or(dearer)
                {
                    continue;
                }
                if let Some(span) = self.plain_name(cutter, clause, from..to, circumstances) {
                    best[to] = Some((before + 1.0, Some(span)));
                }
            }
        }
        row_behind(best)
    }

    /// What leaving out each term of a clause costs; none where it cannot be.
    fn left_out_costs(&self, clause: &Clause, beside: &[SaidBeside]) -> Vec<Option<f64>> {
        let effect = |at: usize| clause.effects.iter().any(|e| (e.from..e.to).contains(&at));
        let cost = |at: usize| {
            let word = &clause.terms[at].word;
            let joins = [WordUse::Ends, WordUse::ReachesOn, WordUse::Joins];
            if self.trade.is_filler(word) || effect(at) || beside[at] == SaidBeside::HowOften {
                return Some(0.0);
            }
            match beside[at] {
                SaidBeside::Told => Some(TOLD_LEFT_OUT),
                SaidBeside::HowBad => Some(0.0),
                _ => joins
                    .iter()
                    .any(|used| self.trade.is(*used, word))
                    .then_some(0.0),
            }
        };
        (0..clause.terms.len()).map(cost).collect()
    }

    /// A stretch of a clause that is a name or an alias; a lone word that is none by itself says too little
    /// beside others.
    fn plain_name(
        &self,
        cutter: &mut Cutter,
        clause: &Clause,
        at: Range<usize>,
        circumstances: &Lesson,
    ) -> Option<Span> {
        let core = &clause.terms[at.clone()];
        let small = |term: &Term| self.trade.is_filler(&term.word);
        let denies = |effect: &Found<Effect>| {
            matches!(effect.what, Effect::Denies(_)) && effect.from < at.end && at.start < effect.to
        };
        // `pulls the short` is cut out of `the short irons`.
        let cuts = |fact: &Found<FactKey>| {
            let within = |place: usize| at.start < place && place < at.end;
            within(fact.from) && fact.to > at.end || within(fact.to) && fact.from < at.start
        };
        if core.iter().all(small)
            || clause.facts.iter().any(cuts)
            || clause.effects.iter().any(denies) && !self.is_one_saying(cutter, core)
        {
            return None;
        }
        let reading = self.word_for_word(cutter, clause, core, circumstances)?;
        let alone = core.iter().filter(|term| !small(term)).count() == 1;
        if alone
            && !matches!(
                reading,
                Reading::Clear {
                    by: ReadBy::Name,
                    ..
                }
            )
        {
            return None;
        }
        Some(Span {
            from: at.start,
            to: at.end,
            reading,
            score: 1.0,
            denied: false,
            adjective: false,
        })
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

/// The spans of the best way to the end; none where there is no way.
fn row_behind(mut best: Vec<Option<(f64, Option<Span>)>>) -> Vec<Span> {
    let mut row = Vec::new();
    let mut at = best.len() - 1;
    while at > 0 {
        match best[at].take() {
            Some((_, Some(span))) => {
                at = span.from;
                row.push(span);
            }
            Some(_) => at -= 1,
            None => return Vec::new(),
        }
    }
    row.reverse();
    row
}
