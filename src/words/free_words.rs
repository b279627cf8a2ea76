//! Free words: how near a phrase comes to every entry, by the words that it has in common with what is said of it.

use super::flight;
use super::kernel::joined;
use super::lexicon::{Meaning, WordKey};
use super::reader::{
    ANSWERED, BESIDE, BY_NAME, CALLED_BY_NAME, CLEARLY_BEHIND, CONTRARY, Candidate, ELSEWHERE,
    FAR_BEHIND, FILLERS_BELOW, Form, HALF_FILLERS_BELOW, IN_LOOK, ITS_STAGE, NEAR, OFFERED,
    OTHER_SHOT, OTHER_SHOT_ALL_THE_SAME, OTHER_STAGE, PHRASE_SHARE, POSSIBLE, ReadBy, Reader,
    Reading, Spoken, TAKEN, TAKEN_ALONE, UNSAID_SHOT, UNTHOUGHT, hinted_shots, is_of_the_motion,
    is_short, stages_said,
};
use super::term::{Cutter, FastMap, Term};
use super::trade::Trade;
use crate::knowledge::{ConditionKey, Shot, Stage, Way, WordUse};
use crate::lesson::{Handed, Lesson};
use std::sync::Arc;

/// What is left of a score that rests on one word of several, where all ways of saying the entry together
/// give fewer votes than this.
const BY_ONE_WORD: f64 = 0.7;
/// What is left of a score that rests on one word of several, where all ways of saying the entry together
/// give fewer votes than this.
const FEW_FOR_ONE_WORD: f64 = 0.5;
const UNNEGATED: f64 = 0.88;
/// What two words count that the library writes as one.
const JOINED: f64 = 0.9;
/// A phrase must say at least this much; fillers alone do not.
const LEAST_SAID: f64 = 0.12;
/// What is left of a score when one word matched and another is known to nobody.
const ONE_WORD_OF_STRANGERS: f64 = 0.75;
/// A report has fewer words than this; the rest is not read.
const MOST_TERMS: usize = 64;
/// What is left of that for each other telling word that the entry does not answer.
const BESIDE_THE_POINT: f64 = 0.965;

/// A phrase, ready to be compared.
pub(super) struct Phrase {
    pub(super) terms: Vec<Term>,
    pub(super) meanings: Vec<Meaning>,
    /// For each stem the typed words that can stand for it, and how much each counts.
    pub(super) hits: FastMap<WordKey, Vec<(usize, f64)>>,
    pub(super) weight: f64,
    pub(super) hinted: Vec<Shot>,
    pub(super) shot: Option<Shot>,
    pub(super) side: Option<Way>,
    /// Whether it speaks of an idea.
    pub(super) thought: bool,
    /// Stages of the motion that it names.
    pub(super) stages: Vec<Stage>,
    /// Typed words that say `not`.
    pub(super) negations: Vec<usize>,
}

impl Phrase {
    /// Whether the stem itself was typed, not just something that means the same.
    fn says(&self, stem: WordKey) -> bool {
        self.hits
            .get(&stem)
            .is_some_and(|hits| hits.iter().any(|(_, counts)| *counts >= 1.0))
    }

    /// Whether at most one word that the library knows has matched, beside words that it does not
    /// know: a report that merely shares a word with the entry.
    fn mostly_strange(&self, matched: &[usize]) -> bool {
        let known = matched
            .iter()
            .filter(|typed| {
                self.meanings[**typed].known && self.meanings[**typed].weight > HALF_FILLERS_BELOW
            })
            .count();
        let strange = (0..self.terms.len())
            .filter(|typed| {
                let meaning = &self.meanings[*typed];
                !meaning.known && meaning.weight > FILLERS_BELOW && !matched.contains(typed)
            })
            .count();
        let telling = (0..self.terms.len())
            .filter(|typed| self.meanings[*typed].weight > HALF_FILLERS_BELOW)
            .count();
        (strange > 0 && known < 2) || (known == 0 && telling > 1)
    }

    /// What a `not` at this place denies: the next word that says something.
    fn denied_by(&self, negation: usize) -> Option<usize> {
        (negation + 1..self.terms.len())
            .find(|typed| self.meanings[*typed].weight > HALF_FILLERS_BELOW)
    }
}

/// How a phrase compares with one entry.
struct Likeness {
    score: f64,
    form: usize,
    matched: Vec<usize>,
    /// The share of the phrase that the entry answers, by what the words say.
    answered: f64,
    /// Whether a `not` in the phrase has no counterpart in the entry.
    contradicted: bool,
    /// Whether the phrase says the entry's name itself, as one telling word.
    named: bool,
}

impl Reader {
    /// What the phrase scores for saying the one word by which the entry goes; 0 when it does not.
    fn called_score(&self, phrase: &Phrase, spoken: &Spoken, best: &Likeness) -> f64 {
        // Beside words that nobody knows, only the name itself is enough: `the phone battery died` is
        // not about a putt that dies.
        let strange = (0..phrase.terms.len()).any(|typed| {
            !phrase.meanings[typed].known && phrase.meanings[typed].weight > FILLERS_BELOW
        });
        let worth = spoken
            .called
            .iter()
            .filter(|(stem, worth)| phrase.says(*stem) && (!strange || *worth >= CALLED_BY_NAME))
            .map(|(_, worth)| *worth)
            .fold(0.0, f64::max);
        if worth == 0.0 {
            return 0.0;
        }
        let beside = (0..phrase.terms.len())
            .filter(|typed| {
                phrase.meanings[*typed].known
                    && phrase.meanings[*typed].weight > HALF_FILLERS_BELOW
                    && !best.matched.contains(typed)
            })
            .count();
        worth * BESIDE_THE_POINT.powi(i32::try_from(beside).unwrap_or(i32::MAX))
    }

    pub(super) fn read_freely(
        &self,
        cutter: &mut Cutter,
        terms: Vec<Term>,
        circumstances: &Lesson,
    ) -> (Reading, f64) {
        let ranked = self.rank(cutter, terms, circumstances);
        let Some((best, likeness)) = ranked.first() else {
            return (Reading::Unknown(Vec::new()), 0.0);
        };
        let offered = |least: f64| -> Vec<Candidate> {
            ranked
                .iter()
                .map(|(candidate, _)| candidate)
                .filter(|candidate| candidate.score >= least)
                .take(OFFERED)
                .cloned()
                .collect()
        };
        if best.score < POSSIBLE {
            return (Reading::Unknown(offered(best.score * BESIDE)), best.score);
        }
        // `weak slice` has a slice in it by its name, and no weak grip.
        let named = |likeness: &Likeness| likeness.named;
        let by_name = named(likeness);
        let offered = |least: f64| -> Vec<Candidate> {
            let near = ranked.iter().filter(|(_, other)| !by_name || named(other));
            let near = near.map(|(candidate, _)| candidate);
            let near = near.filter(|candidate| candidate.score >= least);
            near.take(OFFERED).cloned().collect()
        };
        let alone = ranked
            .get(1)
            .is_none_or(|(second, _)| second.score < best.score * CLEARLY_BEHIND);
        let far = ranked
            .get(1)
            .is_none_or(|(second, _)| second.score < best.score * FAR_BEHIND);
        let enough = if far { TAKEN_ALONE } else { TAKEN };
        if best.score >= enough && alone && likeness.answered >= ANSWERED && !likeness.contradicted
        {
            let clear = Reading::Clear {
                condition: best.condition,
                by: ReadBy::Words,
                matched: best.nearest.clone(),
                near: offered(best.score * NEAR),
            };
            return (clear, best.score);
        }
        (Reading::Several(offered(best.score * BESIDE)), best.score)
    }

    /// Entries by likeness with the phrase, best first.
    fn rank(
        &self,
        cutter: &mut Cutter,
        terms: Vec<Term>,
        circumstances: &Lesson,
    ) -> Vec<(Candidate, Likeness)> {
        let Some(phrase) = self.phrase(cutter, terms, circumstances) else {
            return Vec::new();
        };
        let mut ranked: Vec<(Candidate, Likeness)> = self
            .shortlist(&phrase)
            .into_iter()
            .filter_map(|key| {
                let likeness = self.likeness(&phrase, key)?;
                let candidate = Candidate {
                    condition: key,
                    score: likeness.score,
                    nearest: self.spoken[key.0].forms[likeness.form].text.clone(),
                    words: likeness
                        .matched
                        .iter()
                        .map(|typed| phrase.terms[*typed].word.clone())
                        .collect(),
                };
                Some((candidate, likeness))
            })
            .collect();
        let best_of = |applies: bool| {
            ranked
                .iter()
                .filter(|(c, _)| self.applies(c.condition, circumstances.shot) == applies)
                .map(|(c, _)| c.score)
                .fold(0.0, f64::max)
        };
        let (own, other) = (best_of(true), best_of(false));
        if own >= POSSIBLE && other < own * OTHER_SHOT_ALL_THE_SAME {
            ranked.retain(|(c, _)| self.applies(c.condition, circumstances.shot));
        }
        let words: Vec<&str> = phrase.terms.iter().map(|term| term.word.as_str()).collect();
        let scored = ranked.iter_mut().map(|(c, _)| (c.condition, &mut c.score));
        let votes = self.votes(&words.join(" "));
        joined(&votes, scored.collect());
        for (candidate, likeness) in &mut ranked {
            if votes[candidate.condition.0] < FEW_FOR_ONE_WORD
                && self.by_one_word(&phrase, likeness, candidate.condition)
            {
                candidate.score *= BY_ONE_WORD;
            }
        }
        ranked.sort_by(|(a, _), (b, _)| {
            b.score
                .total_cmp(&a.score)
                .then(a.condition.cmp(&b.condition))
        });
        ranked
    }

    /// Whether of several telling words one is met, in a way of saying that has others: a committee that
    /// meets in May is not the committee in somebody's head.
    fn by_one_word(&self, phrase: &Phrase, likeness: &Likeness, key: ConditionKey) -> bool {
        let telling = |at: &usize| phrase.meanings[*at].weight > HALF_FILLERS_BELOW;
        let form = &self.spoken[key.0].forms[likeness.form];
        let heavy = |stem: &&WordKey| self.lexicon.weight(**stem) > HALF_FILLERS_BELOW;
        likeness.matched.iter().filter(|at| telling(at)).count() <= 1
            && (0..phrase.terms.len()).filter(|at| telling(at)).count() > 1
            && form.stems.iter().filter(heavy).count() > 1
    }

    fn phrase(
        &self,
        cutter: &mut Cutter,
        terms: Vec<Term>,
        circumstances: &Lesson,
    ) -> Option<Phrase> {
        let mut terms = of_today(&self.trade, terms);
        terms.truncate(MOST_TERMS);
        let hinted = hinted_shots(&self.trade, &terms);
        let stages = stages_said(&self.trade, &terms);
        let terms = without_occasion(&self.trade, terms);
        let terms = self.split_unknown(terms, cutter);
        let phrase = self.clause(cutter, terms, circumstances)?;
        Some(Phrase {
            hinted,
            stages,
            ..phrase
        })
    }

    /// The same of all terms as they stand.
    pub(super) fn clause(
        &self,
        cutter: &mut Cutter,
        mut terms: Vec<Term>,
        circumstances: &Lesson,
    ) -> Option<Phrase> {
        let hinted = hinted_shots(&self.trade, &terms);
        let stages = stages_said(&self.trade, &terms);
        let side = sided(&mut terms, circumstances.handed, cutter);
        let mut meanings: Vec<Meaning> = terms
            .iter()
            .map(|term| self.lexicon.meaning(term))
            .collect();
        for at in 1..terms.len() {
            // `sweet spot` for `sweetspot`: two words that the library writes as one.
            let fillers = terms[at - 1..=at]
                .iter()
                .any(|term| self.trade.is_filler(&term.word));
            if fillers || terms[at - 1..=at].iter().all(|term| term.word.len() < 2) {
                continue;
            }
            let joined = format!("{}{}", terms[at - 1].word, terms[at].word);
            if let Some(key) = self.lexicon.key(&cutter.stem(&joined)) {
                for meaning in &mut meanings[at - 1..=at] {
                    meaning.stems.push((key, JOINED));
                }
            }
        }
        let weight: f64 = meanings.iter().map(|meaning| meaning.weight).sum();
        if weight < LEAST_SAID {
            return None;
        }
        let mut hits: FastMap<WordKey, Vec<(usize, f64)>> = FastMap::default();
        for (typed, meaning) in meanings.iter().enumerate() {
            for (stem, counts) in &meaning.stems {
                hits.entry(*stem).or_default().push((typed, *counts));
            }
        }
        let negations = meanings
            .iter()
            .enumerate()
            .filter(|(_, meaning)| {
                meaning.known
                    && meaning
                        .stems
                        .first()
                        .is_some_and(|(key, _)| self.negations.contains(key))
            })
            .map(|(typed, _)| typed)
            .collect();
        let thought = terms
            .iter()
            .any(|term| self.trade.is(WordUse::Thought, &term.word));
        Some(Phrase {
            thought,
            stages,
            terms,
            meanings,
            hits,
            weight,
            hinted,
            shot: circumstances.shot,
            side,
            negations,
        })
    }

    /// The entries worth comparing closely, in order: those that have a telling word of the phrase,
    /// or something that it can stand for.
    pub(super) fn shortlist(&self, phrase: &Phrase) -> Vec<ConditionKey> {
        let mut found: Vec<ConditionKey> = phrase
            .meanings
            .iter()
            .filter(|meaning| meaning.weight > FILLERS_BELOW)
            .flat_map(|meaning| &meaning.stems)
            .flat_map(|(stem, _)| &self.said_by[*stem as usize])
            .copied()
            .collect();
        found.sort_unstable();
        found.dedup();
        found
    }

    /// Coverage both ways between the phrase and the entry's names and aliases, each word by what it
    /// says; the best of them counts.
    fn likeness(&self, phrase: &Phrase, key: ConditionKey) -> Option<Likeness> {
        let spoken = &self.spoken[key.0];
        let mut elsewhere = vec![0.0_f64; phrase.terms.len()];
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
        let mut best: Option<Likeness> = None;
        let mut here = vec![0.0_f64; phrase.terms.len()];
        for (number, form) in spoken.forms.iter().enumerate() {
            here.fill(0.0);
            let (mut covered, mut whole) = (0.0, 0.0);
            let mut contrary = false;
            for stem in &form.stems {
                let weight = self.lexicon.weight(*stem);
                whole += weight;
                let mut best_hit = 0.0_f64;
                for (typed, counts) in phrase.hits.get(stem).into_iter().flatten() {
                    here[*typed] = here[*typed].max(*counts);
                    best_hit = best_hit.max(*counts);
                }
                covered += weight * best_hit;
                contrary |= best_hit < 1.0 && self.shut_out(phrase, form, *stem);
            }
            if covered <= 0.0 || whole <= 0.0 {
                continue;
            }
            let mut said = 0.0;
            for (typed, meaning) in phrase.meanings.iter().enumerate() {
                said += meaning.weight * here[typed].max(elsewhere[typed]);
            }
            let of_phrase = said / phrase.weight;
            let of_form = covered / whole;
            let mut score = of_phrase.powf(PHRASE_SHARE) * of_form.powf(1.0 - PHRASE_SHARE);
            if contrary {
                score *= CONTRARY;
            }
            let unanswered = phrase.negations.iter().any(|typed| here[*typed] == 0.0);
            let contradicted = phrase.negations.iter().any(|typed| {
                here[*typed] == 0.0
                    && phrase
                        .denied_by(*typed)
                        .is_some_and(|denied| here[denied] > 0.0)
            });
            if unanswered || (form.negated && phrase.negations.is_empty()) {
                score *= UNNEGATED;
            }
            if phrase.hinted.is_empty() && form.hinted.iter().any(|shot| is_short(*shot)) {
                score *= UNSAID_SHOT;
            }
            if best.as_ref().is_none_or(|before| score > before.score) {
                let matched = (0..phrase.terms.len())
                    .filter(|typed| {
                        here[*typed].max(elsewhere[*typed]) > 0.0
                            && phrase.meanings[*typed].weight > FILLERS_BELOW
                    })
                    .collect();
                best = Some(Likeness {
                    score,
                    form: number,
                    matched,
                    answered: of_phrase,
                    contradicted,
                    named: false,
                });
            }
        }
        let mut best = best?;
        if best.form == 0 {
            best.score *= BY_NAME;
        }
        best.named = spoken.called.iter().any(|(stem, worth)| {
            let hits = phrase.hits.get(stem).into_iter().flatten();
            *worth >= CALLED_BY_NAME && hits.into_iter().any(|(_, counts)| *counts >= 1.0)
        });
        let called = self.called_score(phrase, spoken, &best);
        if called > best.score {
            best.score = called;
            best.answered = best.answered.max(ANSWERED);
        }
        if phrase.stages.contains(&spoken.stage) {
            best.score *= ITS_STAGE;
        } else if !phrase.stages.is_empty() && is_of_the_motion(spoken.stage) {
            best.score *= OTHER_STAGE;
        }
        if !phrase.hinted.is_empty()
            && !phrase
                .hinted
                .iter()
                .any(|shot| self.applies(key, Some(*shot)))
        {
            best.score *= OTHER_SHOT;
        }
        if phrase.hinted.is_empty()
            && phrase.shot.is_none()
            && self.shots[key.0].iter().all(|shot| is_short(*shot))
        {
            best.score *= UNSAID_SHOT;
        }
        if phrase.mostly_strange(&best.matched) {
            best.score *= ONE_WORD_OF_STRANGERS;
        }
        if spoken.thought && !phrase.thought {
            best.score *= UNTHOUGHT;
        }
        if self.name_shut_out(phrase, spoken, best.form) {
            best.score *= CONTRARY;
        }
        if let (Some(typed), Some(own)) = (phrase.side, spoken.side)
            && typed != own
        {
            best.score *= CONTRARY;
        }
        Some(best)
    }

    /// Whether the phrase says the opposite of the entry's name, and the form that it comes nearest to
    /// does not say that too.
    fn name_shut_out(&self, phrase: &Phrase, spoken: &Spoken, nearest: usize) -> bool {
        spoken.forms[0].stems.iter().any(|stem| {
            !phrase.says(*stem)
                && self.lexicon.opposites(*stem).iter().any(|opposite| {
                    !spoken.forms[0].stems.contains(opposite)
                        && !spoken.forms[nearest].stems.contains(opposite)
                        && phrase.says(*opposite)
                })
        })
    }

    /// Whether the phrase says the opposite of a stem of the form, and the form does not say that
    /// opposite too.
    fn shut_out(&self, phrase: &Phrase, form: &Form, stem: WordKey) -> bool {
        self.lexicon
            .opposites(stem)
            .iter()
            .any(|opposite| !form.stems.contains(opposite) && phrase.says(*opposite))
    }
}

/// What is so now: of `used to slice, now hooks everything` the hook.
fn of_today(trade: &Trade, terms: Vec<Term>) -> Vec<Term> {
    let past = terms.windows(2).any(|pair| {
        matches!(
            (pair[0].word.as_str(), pair[1].word.as_str()),
            ("used", "to")
        )
    }) || terms
        .iter()
        .any(|term| matches!(term.word.as_str(), "was" | "previously"));
    let now = terms
        .iter()
        .position(|term| matches!(term.word.as_str(), "now" | "nowadays"));
    match now {
        Some(at) if past && terms[at + 1..].iter().any(|term| tells(trade, term)) => {
            terms.into_iter().skip(at + 1).collect()
        }
        _ => terms,
    }
}

/// What was seen, without the occasion: of `blocks it when he tries to hit hard` the block.
fn without_occasion(trade: &Trade, mut terms: Vec<Term>) -> Vec<Term> {
    let occasion = (0..terms.len()).find(|at| {
        let next = terms.get(at + 1).map_or("", |term| term.word.as_str());
        matches!(
            (terms[*at].word.as_str(), next),
            ("when" | "whenever" | "if" | "because" | "unless", _) | ("under", "pressure")
        )
    });
    if let Some(at) = occasion
        && terms[..at].iter().any(|term| tells(trade, term))
    {
        terms.truncate(at);
    }
    terms
}

/// Whether a word could be what a report is about.
fn tells(trade: &Trade, term: &Term) -> bool {
    !trade.is_filler(&term.word)
        && !matches!(
            term.word.as_str(),
            "barely" | "only" | "hardly" | "not" | "cannot"
        )
        && term.word.bytes().any(|b| !b.is_ascii_digit())
}

/// Turns left and right into lead and trail beside a part of the body, and into out and in where they
/// are about the ball; gives that side. Without the hand they say nothing.
fn sided(terms: &mut [Term], handed: Option<Handed>, cutter: &mut Cutter) -> Option<Way> {
    let trade = Arc::clone(cutter.trade());
    let mut side = None;
    // Hands on a grip are turned towards a side of the body, not of the target line.
    let held = terms
        .iter()
        .any(|term| matches!(term.stem.as_str(), "grip" | "knuckl" | "thumb"));
    for at in 0..terms.len() {
        let word = terms[at].word.clone();
        if !matches!(word.as_str(), "left" | "right" | "lefts" | "rights") {
            continue;
        }
        let next = terms
            .get(at + 1)
            .map(|term| term.word.clone())
            .unwrap_or_default();
        if word == "left" && matches!(next.as_str(), "it" | "in" | "short" | "on" | "them")
            || word == "right"
                && matches!(
                    next.as_str(),
                    "angle"
                        | "angles"
                        | "after"
                        | "at"
                        | "before"
                        | "out"
                        | "on"
                        | "under"
                        | "up"
                        | "over"
                )
        {
            continue;
        }
        let part = trade.is(WordUse::SidedPart, &next)
            || next
                .strip_suffix('s')
                .is_some_and(|one| trade.is(WordUse::SidedPart, one));
        let said = match handed {
            None => "the",
            Some(handed) if part || held => match flight::side(&word, handed) {
                // The trail side is the right for a right-handed golfer, and so is the out side.
                Some(Way::Out) => "trail",
                Some(Way::In) | None => "lead",
            },
            Some(handed) => match flight::side(&word, handed) {
                Some(Way::Out) => {
                    side = Some(Way::Out);
                    "out"
                }
                Some(Way::In) | None => {
                    side = Some(Way::In);
                    "in"
                }
            },
        };
        said.clone_into(&mut terms[at].word);
        terms[at].stem = cutter.stem(said);
    }
    side
}
