//! The findings inside one clause: the best row of windows that do not overlap.
//!
//! Every stretch of a clause that begins and ends with a word of some way of saying an entry is
//! weighed: names and aliases word for word, flights by their sides, and free words by coverage both
//! ways. Then the row of stretches that explains most of what the clause says is taken
//! (dynamic programming over its words).

use super::free_words::Phrase;
use super::kernel::joined;
use super::lexicon::WordKey;
use super::reader::{
    ANSWERED, BESIDE, BY_NAME, CALLED_BY_NAME, CLEARLY_BEHIND, CONTRARY, Candidate, ELSEWHERE,
    FAR_BEHIND, FILLERS_BELOW, Form, HALF_FILLERS_BELOW, IN_LOOK, ITS_STAGE, NEAR, OFFERED,
    OTHER_SHOT, OTHER_SHOT_ALL_THE_SAME, OTHER_STAGE, POSSIBLE, ReadBy, Reader, Reading, TAKEN,
    TAKEN_ALONE, UNSAID_SHOT, UNTHOUGHT, is_of_the_motion, is_short,
};
use super::term::{Cutter, Term, TextId};
use crate::knowledge::ConditionKey;
use crate::lesson::{Handed, Lesson};

/// How the share of a window that an entry answers, and the share of the entry's words that the window
/// says, make a score. A window begins and ends with words of the entry, so that the second counts more
/// than for a phrase of free words.
const WINDOW_SHARE: f64 = 0.6;
const FORM_SHARE: f64 = 0.5;
/// Words between two findings that a window may hold, and no more.
const LONGEST: usize = 14;
/// What a form that says `not` keeps of its score when the window does not.
const NOT_UNSAID: f64 = 0.72;
/// And what free words keep that say `not` of it: it may deny something else.
const NOT_OWN_WORDS: f64 = 0.92;
/// What a way of saying keeps of which only the one telling word is there.
const NOT_ITS_WORDS: f64 = 0.6;
/// What each finding costs, so that one long reading beats two short ones that say as much.
const A_SPAN: f64 = 0.22;
/// From this score on a finding is worth something.
const WORTH_FROM: f64 = 0.5;
/// What a reading in the library's own words counts for.
const OWN_WORDS: f64 = 1.15;
/// A window that is this much of what a clause says is taken from the first of these scores on, others
/// from the second.
const MOST_OF_IT: f64 = 0.75;
const WHOLE_FROM: f64 = 0.68;
const PART_FROM: f64 = 0.76;
/// What is left of the worth of a reading that is not sure.
const UNSURE: f64 = 0.75;
/// What an unexplained word costs, by what it says.
const UNEXPLAINED: f64 = 0.2;
/// What comes less near than this by what the words say is not weighed by the votes either.
const SLIGHTLY: f64 = 0.35;
/// A single word is a finding from this score on.
const ONE_WORD: f64 = 0.74;
/// A name or alias of one word must say this much to be found inside a longer clause.
const SAYS_ENOUGH: f64 = 0.4;

/// What the reader knows of a clause beside its words.
pub(super) struct Surroundings<'a> {
    /// Terms that cannot begin or end a finding, and weigh nothing inside one.
    pub(super) set_aside: &'a [bool],
    /// What settles words that mean different things.
    pub(super) circumstances: &'a Lesson,
}

/// A finding in a clause.
#[derive(Clone, Debug)]
pub(super) struct Span {
    /// The first term.
    pub(super) from: usize,
    /// One past the last.
    pub(super) to: usize,
    /// What it was read as; never unknown.
    pub(super) reading: Reading,
    /// How near the words come to it, from 0 to 1.
    pub(super) score: f64,
    /// Whether a `not` inside it denies it: `grip not too weak`.
    pub(super) denied: bool,
    /// Whether it is one word that is no name: `weak`, which beside `slice` says what sort of slice.
    pub(super) adjective: bool,
}

/// An entry against a window.
#[derive(Clone, Copy)]
struct Fit {
    key: ConditionKey,
    form: usize,
    score: f64,
    answered: f64,
    denied: bool,
}

impl Reader {
    /// The findings of a clause, in order, and the terms that it was weighed by.
    pub(super) fn spans(
        &self,
        cutter: &mut Cutter,
        terms: &[Term],
        around: &Surroundings<'_>,
    ) -> (Vec<Span>, Vec<f64>) {
        let Some(phrase) = self.clause(cutter, terms.to_vec(), around.circumstances) else {
            return (Vec::new(), vec![0.0; terms.len()]);
        };
        let n = phrase.terms.len();
        let weights: Vec<f64> = (0..n)
            .map(|at| {
                if around.set_aside[at] {
                    0.0
                } else {
                    phrase.meanings[at].weight
                }
            })
            .collect();
        let windows = self.windows(cutter, terms, &phrase, &weights, around);
        // The best way to explain the first `at` terms, and the window that ends there.
        let mut best: Vec<(f64, Option<usize>)> = vec![(0.0, None); n + 1];
        let whole: f64 = weights.iter().sum();
        for at in 1..=n {
            best[at] = (best[at - 1].0 - UNEXPLAINED * cost(weights[at - 1]), None);
            for (number, window) in windows.iter().enumerate().filter(|(_, w)| w.to == at) {
                let said: f64 = weights[window.from..window.to].iter().sum();
                // A few words out of many have to come nearer than a whole clause.
                let least = if said >= MOST_OF_IT * whole {
                    WHOLE_FROM
                } else {
                    PART_FROM
                };
                if window.score < least {
                    continue;
                }
                let sure = matches!(window.reading, Reading::Clear { .. });
                let score = if window.score >= 1.0 {
                    OWN_WORDS
                } else {
                    window.score
                };
                let worth = said * (score - WORTH_FROM) * 1.6 * if sure { 1.0 } else { UNSURE };
                let before = best[window.from].1.map(|before| &windows[before]);
                // `weak slice` is one finding, `narrow, steep` would be two; `thin off the heel` is two,
                // since what follows is a saying of its own.
                let own_saying = window.to - window.from > 1 && window.score >= 1.0;
                if before
                    .is_some_and(|before| window.adjective || (before.adjective && !own_saying))
                {
                    continue;
                }
                let sum = best[window.from].0 + worth - A_SPAN;
                if sum > best[at].0 + 1e-9 {
                    best[at] = (sum, Some(number));
                }
            }
        }
        let mut spans = Vec::new();
        let mut at = n;
        while at > 0 {
            match best[at].1 {
                Some(number) => {
                    at = windows[number].from;
                    spans.push(windows[number].clone());
                }
                None => at -= 1,
            }
        }
        spans.reverse();
        (spans, weights)
    }

    /// Every window that comes near something, each with its reading.
    fn windows(
        &self,
        cutter: &mut Cutter,
        terms: &[Term],
        phrase: &Phrase,
        weights: &[f64],
        around: &Surroundings<'_>,
    ) -> Vec<Span> {
        let n = phrase.terms.len();
        let mut fits: Vec<Vec<Fit>> = vec![Vec::new(); n * (n + 1)];
        let place = |from: usize, to: usize| from * (n + 1) + to;
        for key in self.shortlist(phrase) {
            self.fits(phrase, key, weights, around, &mut |from, to, fit| {
                fits[place(from, to)].push(fit);
            });
        }
        let words: Vec<TextId> = phrase
            .terms
            .iter()
            .map(|term| cutter.id(&term.word))
            .collect();
        let mut found = Vec::new();
        for from in 0..n {
            for to in from + 1..=n.min(from + LONGEST) {
                if around.set_aside[from] || around.set_aside[to - 1] {
                    continue;
                }
                let said: f64 = weights[from..to].iter().sum();
                if let Some((reading, denied)) =
                    self.exactly(cutter, &words, from..to, terms, phrase, weights, around)
                {
                    found.push(Span {
                        from,
                        to,
                        adjective: to - from == 1 && !by_name(&reading),
                        reading,
                        score: 1.0,
                        denied,
                    });
                    continue;
                }
                let mut all = std::mem::take(&mut fits[place(from, to)]);
                if all.is_empty() || said <= 0.0 {
                    continue;
                }
                if let Some((reading, score, denied)) =
                    self.settle_fits(&mut all, phrase, from..to, around)
                {
                    found.push(Span {
                        from,
                        to,
                        reading,
                        score,
                        denied,
                        adjective: false,
                    });
                }
            }
        }
        found
    }

    /// A window that is a name or an alias word for word, or a flight by its sides.
    #[allow(
        clippy::too_many_arguments,
        reason = "one caller; what a window is weighed by"
    )]
    fn exactly(
        &self,
        cutter: &mut Cutter,
        words: &[TextId],
        window: std::ops::Range<usize>,
        terms: &[Term],
        phrase: &Phrase,
        weights: &[f64],
        around: &Surroundings<'_>,
    ) -> Option<(Reading, bool)> {
        let said: f64 = weights[window.clone()].iter().sum();
        let rest: f64 = weights.iter().sum::<f64>() - said;
        // `up` is an alias of something; in the middle of a clause it is not.
        if said < SAYS_ENOUGH && rest > FILLERS_BELOW {
            return None;
        }
        let hint = |at: usize| !self.trade.hints(&phrase.terms[at].word).is_empty();
        if window
            .clone()
            .all(|at| hint(at) || phrase.meanings[at].weight <= FILLERS_BELOW)
        {
            return None;
        }
        let negation = |at: usize| phrase.negations.contains(&at);
        // Fillers at its ends say nothing that the window without them does not.
        let sided = |at: usize| super::flight::side(&terms[at].word, Handed::Right).is_some();
        let weak =
            |at: usize| phrase.meanings[at].weight < FILLERS_BELOW && !negation(at) && !sided(at);
        if weak(window.start) || weak(window.end - 1) || negation(window.end - 1) {
            return None;
        }
        let circumstances = around.circumstances;
        let read = |cutter: &mut Cutter, kept: &[usize]| {
            let kept_words: Vec<TextId> = kept.iter().map(|at| words[*at]).collect();
            let kept_terms: Vec<Term> = kept.iter().map(|at| phrase.terms[*at].clone()).collect();
            // Sides are told by the words as typed; the phrase has them turned to lead and trail.
            let typed: Vec<Term> = kept.iter().map(|at| terms[*at].clone()).collect();
            if let Some(reading) = self.read_flight(&typed, circumstances) {
                return Some(reading);
            }
            // Of another shot only when the clause speaks of nothing else.
            let shots = [circumstances.shot, None];
            let shots = if rest < FILLERS_BELOW {
                &shots[..]
            } else {
                &shots[..1]
            };
            shots.iter().find_map(|shot| {
                self.read_sayings(cutter, &kept_words, &kept_terms, &phrase.stages, *shot)
            })
        };
        let kept: Vec<usize> = window.clone().filter(|at| !around.set_aside[*at]).collect();
        if let Some(reading) = read(cutter, &kept) {
            return Some((reading, false));
        }
        // `face 3 open to path`: what it says without its numbers.
        let number = |at: &usize| super::phrases::number_of(&phrase.terms[*at]).is_some();
        let plain: Vec<usize> = kept.iter().copied().filter(|at| !number(at)).collect();
        if plain.len() < kept.len()
            && plain.len() > 1
            && let Some(reading) = read(cutter, &plain)
        {
            return Some((reading, false));
        }
        // `path not outside in`: the same without what denies it, unless that comes first.
        let without: Vec<usize> = kept.iter().copied().filter(|at| !negation(*at)).collect();
        if without.len() == kept.len()
            || without.is_empty()
            || kept.first().is_some_and(|at| negation(*at))
        {
            return None;
        }
        let odd = (kept.len() - without.len()) % 2 == 1;
        read(cutter, &without).map(|reading| (reading, odd))
    }

    /// The negations of a phrase that a way of saying has too, and that deny something else there: `not
    /// cramped for room` is not `no room to swing`.
    fn not_its_own(&self, phrase: &Phrase, form: &Form) -> Vec<usize> {
        let denied: Vec<WordKey> = form
            .stems
            .windows(2)
            .filter(|two| self.negations.contains(&two[0]))
            .map(|two| two[1])
            .collect();
        let typed = |stem: &WordKey| phrase.hits.get(stem).map_or(&[][..], Vec::as_slice);
        let next = |at: usize| {
            let mut behind = at + 1..phrase.terms.len();
            behind.find(|at| !self.trade.is_filler(&phrase.terms[*at].word))
        };
        let meets = |stem: &WordKey, at: usize| typed(stem).iter().any(|(here, _)| *here == at);
        let own = |at: usize| {
            let Some(next) = next(at) else { return true };
            if denied.iter().any(|stem| meets(stem, next)) {
                return true;
            }
            // What stands behind it is said in this way of saying without it, or the reverse.
            let said_without = form.stems.iter().any(|stem| meets(stem, next));
            let denied_elsewhere = denied.iter().any(|stem| !typed(stem).is_empty());
            !said_without && !denied_elsewhere
        };
        phrase
            .negations
            .iter()
            .copied()
            .filter(|at| !own(*at))
            .collect()
    }

    /// Weighs one entry against every window of a clause.
    fn fits(
        &self,
        phrase: &Phrase,
        key: ConditionKey,
        weights: &[f64],
        around: &Surroundings<'_>,
        tell: &mut impl FnMut(usize, usize, Fit),
    ) {
        let spoken = &self.spoken[key.0];
        let n = phrase.terms.len();
        let mut elsewhere = vec![0.0_f64; n];
        for (typed, meaning) in phrase.meanings.iter().enumerate() {
            for (stem, counts) in &meaning.stems {
                let share = if spoken.named.binary_search(stem).is_ok() {
                    ELSEWHERE
                } else if spoken.look.binary_search(stem).is_ok() {
                    IN_LOOK
                } else {
                    continue;
                };
                elsewhere[typed] = elsewhere[typed].max(share * counts);
            }
        }
        let scale = self.scale(phrase, key, around.circumstances.shot);
        let telling: Vec<bool> = (0..n)
            .map(|at| {
                !phrase.negations.contains(&at)
                    && phrase.meanings[at].weight > HALF_FILLERS_BELOW
                    && self.trade.hints(&phrase.terms[at].word).is_empty()
            })
            .collect();
        // The best form of each window.
        let mut best: Vec<Option<Fit>> = vec![None; n * (n + 1)];
        let mut here = vec![0.0_f64; n];
        for (number, form) in spoken.forms.iter().enumerate() {
            here.fill(0.0);
            let mut hits: Vec<(f64, &[(usize, f64)])> = Vec::with_capacity(form.stems.len());
            let mut whole = 0.0;
            let mut any = false;
            for stem in &form.stems {
                let weight = self.lexicon.weight(*stem);
                whole += weight;
                let list = phrase.hits.get(stem).map_or(&[][..], Vec::as_slice);
                for (typed, counts) in list {
                    here[*typed] = here[*typed].max(*counts);
                    any |= phrase.meanings[*typed].weight > FILLERS_BELOW;
                }
                hits.push((weight, list));
            }
            if !any || whole <= 0.0 {
                continue;
            }
            if form.negated {
                for at in self.not_its_own(phrase, form) {
                    here[at] = 0.0;
                }
            }
            // `leaning back` is no `lean on it`, of which all but a small word is `lean`.
            let heavy = |stem: &&WordKey| self.lexicon.weight(**stem) > HALF_FILLERS_BELOW;
            let lone = number > 0
                && form.stems.len() > 1
                && form.text.split_whitespace().count() > 2
                && form.stems.iter().filter(heavy).count() == 1;
            let edge = |at: usize| {
                !around.set_aside[at]
                    && (!phrase.negations.contains(&at) || here[at] > 0.0)
                    && here[at].max(elsewhere[at]) > 0.0
                    && phrase.meanings[at].weight > FILLERS_BELOW
            };
            for from in (0..n).filter(|at| edge(*at)) {
                let (mut said, mut all) = (0.0, 0.0);
                let mut denied = false;
                for to in from + 1..=n.min(from + LONGEST) {
                    let at = to - 1;
                    if phrase.negations.contains(&at) && here[at] == 0.0 {
                        // It says nothing of what it denies; what is set aside is counted by itself.
                        denied ^= !around.set_aside[at];
                        continue;
                    }
                    all += weights[at];
                    said += weights[at] * here[at].max(elsewhere[at]);
                    if !edge(at) || all <= 0.0 {
                        continue;
                    }
                    let mut covered = 0.0;
                    for (weight, list) in &hits {
                        let inside = list.iter().filter(|(typed, _)| (from..to).contains(typed));
                        covered += weight * inside.map(|(_, counts)| *counts).fold(0.0, f64::max);
                    }
                    // A `not` or a club alone is no finding.
                    if covered <= 0.0 || !(from..to).any(|at| here[at] > 0.0 && telling[at]) {
                        continue;
                    }
                    let answered = said / all;
                    let mut score =
                        answered.powf(WINDOW_SHARE) * (covered / whole).powf(FORM_SHARE);
                    score *= scale;
                    if number == 0 {
                        score *= BY_NAME;
                    }
                    let fit = &mut best[from * (n + 1) + to];
                    // Only what can still win is looked at more closely.
                    if score < SLIGHTLY || fit.is_some_and(|fit| fit.score >= score) {
                        continue;
                    }
                    score *= self.against(phrase, form, spoken.forms[0].stems.as_slice(), from..to);
                    if lone && hits.iter().any(|(_, list)| list.is_empty()) {
                        score *= NOT_ITS_WORDS;
                    }
                    if form.negated
                        && (from..to).any(|at| phrase.negations.contains(&at) && here[at] > 0.0)
                    {
                        score *= NOT_OWN_WORDS;
                    } else if form.negated
                        && !phrase
                            .negations
                            .iter()
                            .any(|at| (from..to).contains(at) && here[*at] > 0.0)
                    {
                        score *= NOT_UNSAID;
                    }
                    if fit.is_none_or(|fit| fit.score < score) {
                        *fit = Some(Fit {
                            key,
                            form: number,
                            score,
                            answered,
                            denied,
                        });
                    }
                }
            }
        }
        for (stem, worth) in &spoken.called {
            for (at, counts) in phrase.hits.get(stem).into_iter().flatten() {
                // `slice` is; one telling word of a longer alias is not.
                if *counts < 1.0 || around.set_aside[*at] || *worth < CALLED_BY_NAME {
                    continue;
                }
                let score = worth * scale;
                let fit = &mut best[at * (n + 1) + at + 1];
                if fit.is_none_or(|fit| fit.score < score) {
                    *fit = Some(Fit {
                        key,
                        form: 0,
                        score,
                        answered: 1.0,
                        denied: false,
                    });
                }
            }
        }
        for from in 0..n {
            for to in from + 1..=n {
                if let Some(fit) = best[from * (n + 1) + to]
                    && fit.score >= SLIGHTLY
                {
                    tell(from, to, fit);
                }
            }
        }
    }

    /// What the clause as a whole does to the score of an entry: the stage it names, the shot.
    fn scale(
        &self,
        phrase: &Phrase,
        key: ConditionKey,
        shot: Option<crate::knowledge::Shot>,
    ) -> f64 {
        let spoken = &self.spoken[key.0];
        let mut scale = 1.0;
        if phrase.stages.contains(&spoken.stage) {
            scale *= ITS_STAGE;
        } else if !phrase.stages.is_empty() && is_of_the_motion(spoken.stage) {
            scale *= OTHER_STAGE;
        }
        if !phrase.hinted.is_empty() {
            if !phrase
                .hinted
                .iter()
                .any(|own| self.applies(key, Some(*own)))
            {
                scale *= OTHER_SHOT;
            }
        } else if shot.is_none() && self.shots[key.0].iter().all(|own| is_short(*own)) {
            scale *= UNSAID_SHOT;
        }
        if spoken.thought && !phrase.thought {
            scale *= UNTHOUGHT;
        }
        if let (Some(typed), Some(own)) = (phrase.side, spoken.side)
            && typed != own
        {
            scale *= CONTRARY;
        }
        scale
    }

    /// What is left of a score when a window says the opposite of the form, or of the name.
    fn against(
        &self,
        phrase: &Phrase,
        form: &Form,
        name: &[super::lexicon::WordKey],
        window: std::ops::Range<usize>,
    ) -> f64 {
        let says = |stem: &super::lexicon::WordKey| {
            let hits = phrase.hits.get(stem).into_iter().flatten();
            hits.into_iter()
                .any(|(at, counts)| *counts >= 1.0 && window.contains(at))
        };
        let shut = |stems: &[super::lexicon::WordKey]| {
            stems.iter().any(|stem| {
                !says(stem)
                    && self.lexicon.opposites(*stem).iter().any(|opposite| {
                        !stems.contains(opposite)
                            && !form.stems.contains(opposite)
                            && says(opposite)
                    })
            })
        };
        let mut left = 1.0;
        if shut(&form.stems) {
            left *= CONTRARY;
        }
        if shut(name) {
            left *= CONTRARY;
        }
        left
    }

    /// The reading of a window by what fits it.
    fn settle_fits(
        &self,
        fits: &mut Vec<Fit>,
        phrase: &Phrase,
        window: std::ops::Range<usize>,
        around: &Surroundings<'_>,
    ) -> Option<(Reading, f64, bool)> {
        let shot = around.circumstances.shot;
        let best_of = |applies: bool| {
            let own = fits
                .iter()
                .filter(|fit| self.applies(fit.key, shot) == applies);
            own.map(|fit| fit.score).fold(0.0, f64::max)
        };
        let (own, other) = (best_of(true), best_of(false));
        if own >= POSSIBLE && other < own * OTHER_SHOT_ALL_THE_SAME {
            fits.retain(|fit| self.applies(fit.key, shot));
        }
        let said = window.clone().filter(|at| !around.set_aside[*at]);
        let said: Vec<&str> = said.map(|at| phrase.terms[at].word.as_str()).collect();
        let scored = fits.iter_mut().map(|fit| (fit.key, &mut fit.score));
        joined(&self.votes(&said.join(" ")), scored.collect());
        fits.sort_by(|a, b| b.score.total_cmp(&a.score).then(a.key.cmp(&b.key)));
        let best = *fits.first()?;
        let second = fits.get(1).map_or(0.0, |fit| fit.score);
        if best.score < POSSIBLE {
            return None;
        }
        // One word has to be the right one: known, and not just one of several that would say it.
        let words: Vec<usize> = window
            .clone()
            .filter(|at| {
                phrase.meanings[*at].weight > HALF_FILLERS_BELOW
                    && !around.set_aside[*at]
                    && self.trade.hints(&phrase.terms[*at].word).is_empty()
                    && !phrase.negations.contains(at)
            })
            .collect();
        if let [one] = words.as_slice() {
            let form = &self.spoken[best.key.0].forms[best.form];
            let telling =
                |stem: &&super::lexicon::WordKey| self.lexicon.weight(**stem) > FILLERS_BELOW;
            let alone = form.stems.iter().filter(telling).count() == 1;
            let slip = !phrase.meanings[*one].known && phrase.terms[*one].word.len() >= 5;
            if best.score < ONE_WORD || !(alone && (slip || form.stems.len() == 1)) {
                return None;
            }
        }
        // At most one known word among words that nobody knows says too little.
        let telling = |at: &usize| phrase.meanings[*at].weight > HALF_FILLERS_BELOW;
        let known = window
            .clone()
            .filter(|at| telling(at) && phrase.meanings[*at].known);
        let known = known.count();
        let strange = window
            .clone()
            .filter(|at| !phrase.meanings[*at].known && telling(at));
        if strange.count() > 0 && known == 0 && best.score < 0.75 {
            return None;
        }
        // `weak slice` has a slice in it by its name, and no weak grip.
        let called = |key: ConditionKey| {
            self.spoken[key.0].called.iter().any(|(stem, worth)| {
                let hits = phrase.hits.get(stem).into_iter().flatten();
                *worth >= CALLED_BY_NAME
                    && hits
                        .into_iter()
                        .any(|(at, counts)| *counts >= 1.0 && window.contains(at))
            })
        };
        let by_name = called(best.key);
        let offered = |least: f64| -> Vec<Candidate> {
            let near = fits.iter().filter(|fit| {
                fit.score >= least && (!by_name || fit.key == best.key || called(fit.key))
            });
            let near = near.take(OFFERED);
            near.map(|fit| Candidate {
                condition: fit.key,
                score: fit.score.min(1.0),
                nearest: self.spoken[fit.key.0].forms[fit.form].text.clone(),
                words: phrase.terms[window.clone()]
                    .iter()
                    .map(|term| term.word.clone())
                    .collect(),
            })
            .collect()
        };
        let enough = if second < best.score * FAR_BEHIND {
            TAKEN_ALONE
        } else {
            TAKEN
        };
        let clear = best.score >= enough
            && second < best.score * CLEARLY_BEHIND
            && best.answered >= ANSWERED;
        let reading = if clear {
            Reading::Clear {
                condition: best.key,
                by: ReadBy::Words,
                matched: self.spoken[best.key.0].forms[best.form].text.clone(),
                near: offered(best.score * NEAR),
            }
        } else {
            Reading::Several(offered(best.score * BESIDE))
        };
        Some((reading, best.score.min(1.0), best.denied))
    }
}

/// Whether words are the name of an entry.
fn by_name(reading: &Reading) -> bool {
    matches!(
        reading,
        Reading::Clear {
            by: ReadBy::Name,
            ..
        }
    )
}

/// What leaving a term unexplained costs; fillers cost nothing.
fn cost(weight: f64) -> f64 {
    if weight > HALF_FILLERS_BELOW {
        weight
    } else {
        0.0
    }
}
