//! A clause read as a whole.
//!
//! Windows (`spans.rs`) find several findings in a breath, and take what is said word for word. What is
//! said in words of the coach's own mostly takes the whole clause, and there all ways of saying an entry
//! together (`kernel.rs`) meet the meaning oftener than any window does: of phrases written without sight
//! of them, 79 and 66 of 100 against 74 and 55. So a whole clause that is much like one entry and not like
//! others is that entry, unless its windows are named word for word.

use super::clause::Clause;
use super::phrases::Found;
use super::reader::{ReadBy, Reader, Reading, hinted_shots, is_short};
use super::spans::Span;
use super::statement::means;
use super::tables::Effect;
use super::term::Term;
use crate::knowledge::{ConditionKey, Denies, WordUse};
use crate::lesson::{Handed, Lesson};

/// How near a clause must come to one entry, and how far others must stay behind.
struct Near {
    /// Votes for the entry.
    votes: f64,
    /// Its share of the votes for it and the next.
    ahead: f64,
}

/// Where no window was found.
const ALONE: Near = Near {
    votes: 0.3,
    ahead: 0.6,
};
/// Where the clause tells a fact as well.
const BESIDE_A_FACT: Near = Near {
    votes: 0.6,
    ahead: 0.7,
};
/// Where the window is another shot's than the lesson's.
const FOR_ANOTHER_SHOT: Near = Near {
    votes: 0.1,
    ahead: 0.5,
};
/// Where one window was read by free words: of 490 phrases of others, 92 in 100 that came so near meant
/// the entry.
const FOR_FREE_WORDS: Near = Near {
    votes: 0.35,
    ahead: 0.65,
};
/// Where several were.
const FOR_SEVERAL: Near = Near {
    votes: 0.6,
    ahead: 0.7,
};
/// Where one window is an entry's own words, and the clause says more than that: 98 in 100.
const FOR_OWN_WORDS: Near = Near {
    votes: 0.8,
    ahead: 0.8,
};

/// What an entry of the short game keeps of its votes where nobody named a shot.
const OF_AN_UNSAID_SHOT: f64 = 0.5;

/// Words of so many letters are compared, by their first ones.
const ALIKE_FROM: usize = 4;

/// What a clause is like as a whole.
#[derive(Clone, Copy)]
struct Whole {
    key: ConditionKey,
    votes: f64,
    ahead: f64,
    /// Whether it is liker with its denial than without: `hardly turns` is a short turn.
    denial_belongs: bool,
}

impl Whole {
    fn is(self, least: &Near) -> bool {
        self.votes >= least.votes && self.ahead >= least.ahead
    }
}

impl Reader {
    /// The one finding that a clause is as a whole, where that is surer than what was found in it.
    pub(super) fn whole(
        &self,
        text: &str,
        clause: &Clause,
        circumstances: &Lesson,
        aside: &[bool],
        found: &[Span],
    ) -> Option<Span> {
        // A number says what it is the number of.
        let numbered = !clause.numbers.is_empty();
        if clause.occasion || believes(clause) || numbered || goes_to_a_side(clause) {
            return None;
        }
        let told = !clause.facts.is_empty() || clause.count.is_some();
        let other_shot = |span: &Span| {
            means(&span.reading).is_some_and(|key| !self.applies(key, circumstances.shot))
        };
        let free = |span: &Span| span.score < 1.0;
        let n = clause.terms.len();
        let least = match found {
            [] if told => &BESIDE_A_FACT,
            [] => &ALONE,
            all if all.iter().all(other_shot) => &FOR_ANOTHER_SHOT,
            [one] if free(one) => &FOR_FREE_WORDS,
            several if several.iter().all(|span| free(span) || other_shot(span)) => &FOR_SEVERAL,
            [one] if one.to - one.from < n => &FOR_OWN_WORDS,
            _ => return None,
        };
        let whole = self.most_like(text, clause, circumstances)?;
        if !whole.is(least) {
            return None;
        }
        if let [one] = found
            && means(&one.reading) == Some(whole.key)
            && matches!(one.reading, Reading::Clear { .. })
        {
            return None;
        }
        if self.only_denied(whole.key, clause) {
            return None;
        }
        let form = &self.spoken[whole.key.0].forms[0].text;
        Some(Span {
            from: 0,
            to: n,
            reading: Reading::Clear {
                condition: whole.key,
                by: ReadBy::Words,
                matched: form.clone(),
                near: Vec::new(),
            },
            score: 0.99,
            denied: self.denied_in(clause, aside, whole.denial_belongs),
            adjective: false,
        })
    }

    /// What a clause is most like, with its denials or without them.
    fn most_like(&self, text: &str, clause: &Clause, circumstances: &Lesson) -> Option<Whole> {
        let denial = |at: usize| {
            clause.effects.iter().any(|effect| {
                matches!(
                    effect.what,
                    Effect::Denies(Denies::Ahead | Denies::Past | Denies::Behind)
                ) && (effect.from..effect.to).contains(&at)
            })
        };
        // `though not off the toe`: the word that parted it from the clause before is no part of it.
        let parting = self.tables.parts.at(&self.trade, &clause.terms, 0);
        let begins = parting.map_or(0, |part| part.to);
        let words = |with: bool| {
            let terms = clause.terms.iter().enumerate().skip(begins);
            let kept = terms.filter(|(at, _)| with || !denial(*at));
            let kept: Vec<&str> = kept.map(|(_, term)| &text[term.from..term.to]).collect();
            kept.join(" ")
        };
        let unsaid =
            circumstances.shot.is_none() && hinted_shots(&self.trade, &clause.terms).is_empty();
        let most = self.most_of(&self.weighed(&words(false)), circumstances, unsaid)?;
        if !(0..clause.terms.len()).any(denial) {
            return Some(most);
        }
        let also = self.most_of(&self.weighed(&words(true)), circumstances, unsaid)?;
        // `not too` is about how much, and no entry is said with it.
        let single = clause
            .effects
            .iter()
            .filter(|effect| effect.to - effect.from == 1 && denial(effect.from));
        let denied: Vec<&str> = single
            .map(|effect| clause.terms[effect.from].word.as_str())
            .collect();
        if also.is(&FOR_FREE_WORDS) && self.says_so(also.key, &denied, clause) {
            return Some(Whole {
                denial_belongs: true,
                ..also
            });
        }
        Some(most)
    }

    /// Whether an entry is said with a word of denial, and with half of what else that way of saying holds:
    /// `never gets to the hole` is short, and `not looking up` is no `not watching the ball`.
    fn says_so(&self, key: ConditionKey, denied: &[&str], clause: &Clause) -> bool {
        // `not too little hinge`: two that say there is little of it say that there is enough.
        let lack = |term: &Term| self.trade.is(WordUse::Lack, &term.word);
        if self.tables.lacks[key.0] && clause.terms.iter().any(lack) {
            return false;
        }
        let said = |word: &str| {
            let start: String = word.chars().take(ALIKE_FROM).collect();
            clause
                .terms
                .iter()
                .any(|term| term.word.starts_with(&start))
        };
        self.spoken[key.0].forms.iter().any(|form| {
            let text = form.text.to_lowercase();
            let words = || text.split(|c: char| !c.is_alphanumeric() && c != '\'');
            let others: Vec<&str> = words()
                .filter(|word| word.chars().count() >= ALIKE_FROM && !denied.contains(word))
                .collect();
            let met = others.iter().filter(|word| said(word)).count();
            let all: Vec<&str> = words().filter(|word| !word.is_empty()).collect();
            words().any(|word| denied.contains(&word))
                && met > 0
                && 2 * met >= others.len()
                && self.denies_the_same(&all, denied, clause)
        })
    }

    /// Whether a clause's words of denial may deny what they deny in a way of saying: `not across` is not
    /// `laid across not laid off`, where something else stands behind the `not`.
    fn denies_the_same(&self, form: &[&str], denied: &[&str], clause: &Clause) -> bool {
        let typed: Vec<&str> = clause.terms.iter().map(|term| term.word.as_str()).collect();
        let behind = |row: &[&str]| -> Vec<String> {
            let places = (0..row.len()).filter(|at| denied.contains(&row[*at]));
            let next = places.filter_map(|at| {
                let mut rest = row[at + 1..].iter();
                rest.find(|word| !self.trade.is_filler(word) && !denied.contains(word))
            });
            next.map(|word| word.chars().take(ALIKE_FROM).collect())
                .collect()
        };
        let (own, here) = (behind(form), behind(&typed));
        let says = |row: &[&str], start: &String| row.iter().any(|word| word.starts_with(start));
        here.iter().all(|next| {
            own.contains(next) || !says(form, next) && !own.iter().any(|start| says(&typed, start))
        })
    }

    /// Whether what a clause says is in this entry only said to be missing: `face is open` is no blade that
    /// `is not open`.
    fn only_denied(&self, key: ConditionKey, clause: &Clause) -> bool {
        let denies = |effect: &Found<Effect>| {
            matches!(effect.what, Effect::Denies(Denies::Ahead | Denies::Behind))
        };
        if clause.effects.iter().any(denies) {
            return false;
        }
        let starts: Vec<String> = clause
            .terms
            .iter()
            .filter(|term| !self.trade.is_filler(&term.word))
            .filter(|term| term.word.chars().count() >= ALIKE_FROM)
            .map(|term| term.word.chars().take(ALIKE_FROM).collect())
            .collect();
        let (mut plain, mut negated) = (0, 0);
        for form in &self.spoken[key.0].forms {
            let text = form.text.to_lowercase();
            let words = || text.split(|c: char| !c.is_alphanumeric());
            let met = |start: &&String| words().any(|word| word.starts_with(start.as_str()));
            let met = starts.iter().filter(met).count();
            let most = if form.negated {
                &mut negated
            } else {
                &mut plain
            };
            *most = met.max(*most);
        }
        negated > plain
    }

    /// What a finding that takes a whole clause says of its denials itself, those set aside being counted by
    /// whoever weighs it: all of them, or none where they belong to how the entry is said.
    fn denied_in(&self, clause: &Clause, aside: &[bool], belongs: bool) -> bool {
        let denials = clause.effects.iter().filter(|effect| {
            matches!(
                effect.what,
                Effect::Denies(Denies::Ahead | Denies::Past | Denies::Behind)
            )
        });
        let counted = |effect: &&Found<Effect>| {
            aside[effect.from] && effect.what != Effect::Denies(Denies::Behind)
        };
        let (elsewhere, here): (Vec<_>, Vec<_>) = denials.partition(counted);
        if belongs {
            return elsewhere.len() % 2 == 1;
        }
        // `not any more` denies once, and so does `not this and not that`.
        let behind = |effect: &&Found<Effect>| effect.what == Effect::Denies(Denies::Behind);
        let (behind, mut ahead): (Vec<_>, Vec<_>) = here.into_iter().partition(behind);
        // `no not the back`: an answer, and one denial.
        if let [first, second, ..] = ahead[..]
            && (first.from, second.from) == (0, 1)
        {
            ahead.remove(0);
        }
        let once = ahead.is_empty() && elsewhere.is_empty() && !behind.is_empty();
        let apart = ahead.windows(2).any(|two| {
            let between = &clause.terms[two[0].to.min(two[1].from)..two[1].from];
            between.iter().any(|term| {
                self.trade.is(WordUse::Ends, &term.word)
                    || self.trade.is(WordUse::ReachesOn, &term.word)
            })
        });
        ahead.len() % 2 == 1 || once || apart && elsewhere.is_empty()
    }

    /// `unsaid` where nothing says which shot it is.
    fn most_of(&self, votes: &[f64], circumstances: &Lesson, unsaid: bool) -> Option<Whole> {
        let keys = (0..votes.len()).map(ConditionKey);
        let (mut first, mut second) = ((0.0, None), 0.0);
        for key in keys.filter(|key| self.applies(*key, circumstances.shot)) {
            let short = unsaid && self.shots[key.0].iter().all(|shot| is_short(*shot));
            let here = if short { OF_AN_UNSAID_SHOT } else { 1.0 } * votes[key.0];
            if here > first.0 {
                second = first.0;
                first = (here, Some(key));
            } else if here > second {
                second = here;
            }
        }
        Some(Whole {
            key: first.1?,
            votes: first.0,
            ahead: first.0 / (first.0 + second),
            denial_belongs: false,
        })
    }
}

/// Whether a clause gives a number and a side: `starts 20 yards left` is about where the ball went, and what
/// is said alike of lost yards is not.
fn goes_to_a_side(clause: &Clause) -> bool {
    let number = |term: &Term| {
        term.word
            .starts_with(|letter: char| letter.is_ascii_digit())
    };
    let side = |term: &Term| super::flight::side(&term.word, Handed::Right).is_some();
    clause.terms.iter().any(number) && clause.terms.iter().any(side)
}

fn believes(clause: &Clause) -> bool {
    clause
        .effects
        .iter()
        .any(|effect| effect.what == Effect::Believes)
}
