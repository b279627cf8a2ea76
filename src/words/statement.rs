//! What one clause states: findings, each seen, slight or not seen.
//!
//! A denial that stands in a clause is never lost: either it denies a finding, or it denies words that
//! were read as none, or it is not clear what it denies. In the last case nothing of what it may reach is
//! reported as seen.

use super::clause::{Clause, Part};
use super::note::{Finding, Override, Said};
use super::number::Numeric;
use super::phrases::{Found, number_of};
use super::reader::{Candidate, ReadBy, Reader, Reading, hinted_shots, is_short};
use super::spans::{Span, Surroundings};
use super::tables::Effect;
use super::term::{Cutter, Term};
use crate::knowledge::{ConditionKey, Denies, Stage, WordUse};
use crate::lesson::{Handed, Lesson};

/// What a clause must say at least for its silence to be told.
const SAYS_SOMETHING: f64 = 0.2;
/// From this share on what is left over of a clause is told.
const MOSTLY_LEFT: f64 = 0.5;
/// A word tells something from this weight on.
const TELLS: f64 = 0.2;
/// A clause of more terms than this is not read as one phrase.
const ONE_PHRASE: usize = 12;
/// Free words in a clause that praises count from this score on, denied ones and those of an occasion
/// from these.
const BESIDE_PRAISE: f64 = 0.8;
const DENIED_FROM: f64 = 0.7;
const OCCASION_FROM: f64 = 0.9;
/// A denial this close before praise takes it back: `not great`.
const TAKES_BACK: usize = 2;
/// A denial this close before a finding reaches it past an `and`.
const NEAR_BY: usize = 3;

/// A clause while its findings are weighed.
struct Statement {
    /// Terms that cannot begin or end a finding.
    aside: Vec<bool>,
    spans: Vec<Span>,
    weights: Vec<f64>,
    /// Topics of which the clause says by itself that they are sound.
    stated: Vec<Found<usize>>,
    /// Praise that stands by itself.
    praised: Vec<Found<Effect>>,
    /// Where doubt was cast on a finding.
    hedged_at: Vec<usize>,
}

impl Statement {
    /// Takes names that say all of a clause. What is no part of them is set aside, but for denials of one word.
    fn take_plain(&mut self, row: Vec<Span>, says: &[bool]) {
        for (aside, says) in self.aside.iter_mut().zip(says) {
            *aside |= !says;
        }
        self.weights = vec![0.0; says.len()];
        for span in &row {
            self.weights[span.from..span.to].fill(1.0);
            self.aside[span.from..span.to].fill(false);
        }
        self.stated.clear();
        self.spans = row;
    }

    fn inside(&self, at: usize) -> bool {
        let mut spans = self.spans.iter();
        spans.any(|span| span.from <= at && at < span.to)
    }
}

/// What the denials of a clause do to one of its findings.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Scope {
    Denied,
    Stands,
    /// A denial may reach it, and may not.
    Unclear,
}

impl Reader {
    /// Reads one clause.
    pub(super) fn read_clause(
        &self,
        cutter: &mut Cutter,
        text: &str,
        clause: &mut Clause,
        circumstances: &Lesson,
        overrides: &[Override],
    ) {
        let hedged_at = self.soften(cutter, clause);
        let mut statement = Statement {
            aside: self.set_aside(clause),
            spans: Vec::new(),
            weights: Vec::new(),
            stated: self.stated(clause),
            praised: Vec::new(),
            hedged_at,
        };
        for found in &statement.stated {
            statement.aside[found.from..found.to].fill(true);
        }
        overridden(cutter, clause, overrides, &mut statement);
        let plain = self.plainly(cutter, clause, circumstances);
        if let Some((row, says)) = plain.filter(|_| statement.spans.is_empty()) {
            statement.take_plain(row, &says);
        } else {
            self.find_spans(cutter, text, clause, circumstances, &mut statement);
        }
        self.judge(clause, circumstances, &mut statement);
    }

    /// `flattish` is flat, a little: such words lose their ending; gives where they stand.
    fn soften(&self, cutter: &mut Cutter, clause: &mut Clause) -> Vec<usize> {
        let mut softened = Vec::new();
        for (at, term) in clause.terms.iter_mut().enumerate() {
            let word = term.word.clone();
            if let Some(base) = word.strip_suffix("ish")
                && base.len() > 2
                && !self.lexicon.is_written(&word)
            {
                let short = base.strip_suffix('t').filter(|s| s.ends_with('t'));
                base_word(self, cutter, term, short.unwrap_or(base));
                softened.push(at);
            }
        }
        softened
    }

    /// Fixed phrases that cannot be a part of a finding.
    fn set_aside(&self, clause: &Clause) -> Vec<bool> {
        let mut aside = vec![false; clause.terms.len()];
        for effect in &clause.effects {
            let single = effect.to - effect.from == 1
                && self
                    .trade
                    .is(WordUse::Negation, &clause.terms[effect.from].word);
            let sound = effect.what == Effect::Denies(Denies::Sound);
            if effect.what != Effect::HedgesNext && !single && !sound {
                aside[effect.from..effect.to].fill(true);
            }
        }
        let numbers = clause.numbers.iter().map(|numeric| match numeric {
            Numeric::Quantity { terms, .. } | Numeric::Refused { terms, .. } => terms,
        });
        let counts = clause.count.iter().map(|(_, terms)| terms);
        for terms in numbers.chain(counts) {
            aside[terms.clone()].fill(true);
        }
        for fact in &clause.facts {
            if !self.tables.in_passing[fact.what.0] {
                aside[fact.from..fact.to].fill(true);
            }
        }
        aside
    }

    /// What by itself says that something is sound; `never gets off the back foot` is no praise.
    fn stated(&self, clause: &Clause) -> Vec<Found<usize>> {
        let mut stated = self.tables.stated.all(&self.trade, &clause.terms);
        stated.retain(|found| {
            !clause.effects.iter().any(|effect| {
                effect.what == Effect::Denies(Denies::Ahead)
                    && effect.to <= found.from
                    && found.from - effect.to <= TAKES_BACK
            })
        });
        stated
    }

    /// The findings of a clause, with praise set aside that is no part of one.
    fn find_spans(
        &self,
        cutter: &mut Cutter,
        text: &str,
        clause: &Clause,
        circumstances: &Lesson,
        statement: &mut Statement,
    ) {
        let given = text[clause.at.clone()].trim();
        let around = |aside: &[bool], cutter: &mut Cutter| {
            let around = Surroundings {
                set_aside: aside,
                circumstances,
            };
            self.spans(cutter, &clause.terms, &around)
        };
        let (mut found, mut weights) = around(&statement.aside, cutter);
        let says = self.says_something(clause, &statement.aside);
        found.retain(|span| says || span.score >= 1.0);
        // Praise inside a name or alias is none.
        let covered = |mark: &Found<Effect>| {
            found
                .iter()
                .any(|span| span.from <= mark.from && mark.to <= span.to && span.score >= 1.0)
        };
        let sound = Effect::Denies(Denies::Sound);
        // `a good three inches` praises nothing.
        let measures = |mark: &Found<Effect>| {
            let next = clause.terms.get(mark.to);
            next.is_some_and(|term| number_of(term).is_some())
        };
        let marks = clause.effects.iter().filter(|mark| mark.what == sound);
        statement.praised = marks
            .filter(|mark| !covered(mark) && !measures(mark))
            .cloned()
            .collect();
        if !statement.praised.is_empty() {
            for mark in &statement.praised {
                statement.aside[mark.from..mark.to].fill(true);
            }
            (found, weights) = around(&statement.aside, cutter);
            found.retain(|span| says || span.score >= 1.0);
        }
        let says = self.says_something(clause, &statement.aside);
        if says
            && statement.spans.is_empty()
            && statement.stated.is_empty()
            && let Some(span) = self.as_one_phrase(given, clause, circumstances, &found)
        {
            found = vec![span];
        }
        if says
            && statement.spans.is_empty()
            && statement.stated.is_empty()
            && statement.praised.is_empty()
            && let Some(span) = self.whole(text, clause, circumstances, &statement.aside, &found)
        {
            found = vec![span];
        }
        if found.is_empty() && statement.spans.is_empty() {
            found.extend(self.side_alone(clause, circumstances, statement));
        }
        statement.weights = weights;
        statement.spans.extend(found);
        statement.spans.sort_by_key(|span| span.from);
    }

    /// Whether a clause has a word of its own, beside small words and those of denial and doubt.
    fn says_something(&self, clause: &Clause, aside: &[bool]) -> bool {
        let denies = |at: usize| {
            clause.effects.iter().any(|effect| {
                (effect.from..effect.to).contains(&at)
                    && !matches!(
                        effect.what,
                        Effect::Denies(Denies::Sound) | Effect::HedgesNext
                    )
            })
        };
        let own = |(at, term): (usize, &Term)| {
            let small = self.trade.is_filler(&term.word)
                || self.trade.is(WordUse::Negation, &term.word)
                || self.trade.is(WordUse::Subject, &term.word);
            !small && !aside[at] && !denies(at)
        };
        clause.terms.iter().enumerate().any(own)
    }

    /// `12 of 20 to the right`: the side that the ball went, and nothing else.
    fn side_alone(
        &self,
        clause: &Clause,
        circumstances: &Lesson,
        statement: &Statement,
    ) -> Option<Span> {
        let free = clause.terms.iter().zip(&statement.aside);
        let free: Vec<Term> = free
            .filter(|(_, aside)| !**aside)
            .map(|(term, _)| term.clone())
            .collect();
        Some(Span {
            from: 0,
            to: clause.terms.len(),
            reading: self.read_flight(&free, circumstances)?,
            score: 1.0,
            denied: false,
            adjective: false,
        })
    }

    /// A clause without denial, doubt or facts is one phrase, which is read best as a whole.
    fn as_one_phrase(
        &self,
        given: &str,
        clause: &Clause,
        circumstances: &Lesson,
        found: &[Span],
    ) -> Option<Span> {
        let n = clause.terms.len();
        let plain = clause.effects.is_empty()
            && clause.facts.is_empty()
            && clause.numbers.is_empty()
            && clause.count.is_none()
            && !clause.occasion;
        if !plain || n > ONE_PHRASE || found.len() > 1 {
            return None;
        }
        let least = match found.first() {
            Some(span) if span.score >= 1.0 => return None,
            Some(span) => span.score * 0.9,
            None => 0.62,
        };
        let (reading, score) = self.read_with_score(given, circumstances);
        let taken = match &reading {
            Reading::Clear { .. } => true,
            Reading::Several(list) => found.is_empty() && list.len() > 1,
            Reading::Unknown(_) => false,
        };
        (taken && score >= least).then_some(Span {
            from: 0,
            to: n,
            reading,
            score,
            denied: false,
            adjective: false,
        })
    }

    /// Turns what was found into findings, each with its state.
    fn judge(&self, clause: &mut Clause, circumstances: &Lesson, statement: &mut Statement) {
        let denials = self.denials(clause, statement);
        let unpraised = statement.praised.iter().any(|mark| {
            denials
                .iter()
                .any(|deny| deny.1 <= mark.from && mark.from - deny.1 <= TAKES_BACK)
        });
        let sound = !statement.praised.is_empty() && !unpraised;
        let topics = topics(clause, statement, sound);
        if !topics.is_empty() && sound {
            // The words of a topic may come near to a fault of it; the topic says it better.
            statement.spans.retain(|span| {
                !clause
                    .topics
                    .iter()
                    .any(|topic| topic.from < span.to && span.from < topic.to)
                    || span.score >= 1.0 && span.to - span.from > 1
            });
        }
        let believed = clause
            .effects
            .iter()
            .find(|effect| effect.what == Effect::Believes)
            .cloned();
        let mut kept: Vec<Span> = Vec::new();
        let mut unclear = false;
        for (number, span) in statement.spans.iter().enumerate() {
            let mut reading = span.reading.clone();
            if believed.as_ref().is_some_and(|at| at.from < span.from) {
                keep_ideas(self, &mut reading);
                if matches!(reading, Reading::Unknown(_)) {
                    clause
                        .believed
                        .push(Finding::new(Said::NotSeen, span.reading.clone()));
                    continue;
                }
            }
            let scope = self.scope(clause, statement, &denials, number);
            let denied = sound || self.is_denied(clause, span, scope);
            let least = match (sound, denied, clause.occasion) {
                (true, ..) => BESIDE_PRAISE,
                // What is told of an occasion is a finding only when it is named.
                (_, _, true) => OCCASION_FROM,
                // Denied free words that are far from the entry deny something else.
                (_, true, _) => DENIED_FROM,
                _ => 0.0,
            };
            if span.score < least {
                continue;
            }
            if !denied && scope == Scope::Unclear {
                unclear = true;
                continue;
            }
            let said = match denied {
                true => Said::NotSeen,
                false if is_hedged(clause, statement, number) => Said::Slight,
                false => Said::Seen,
            };
            let count = clause.count.as_ref().map(|(count, _)| *count);
            clause.findings.push(Finding {
                count: count.filter(|_| said == Said::Seen),
                wants_hand: wants_hand(circumstances, &clause.terms[span.from..span.to], &reading),
                ..Finding::new(said, reading)
            });
            kept.push(span.clone());
        }
        self.rule_out(&topics, circumstances, &mut clause.findings);
        if let Some(believed) = believed.filter(|_| !kept.is_empty()) {
            // The words of a belief are the idea itself.
            clause
                .facts
                .retain(|fact| fact.to <= believed.from || fact.from >= believed.to);
        }
        statement.spans = kept;
        self.left_over(clause, statement, !topics.is_empty());
        if unclear {
            clause.residue = Some(clause.at.clone());
        }
    }

    /// Where a clause denies something, as terms from and to: fixed phrases, and words of denial that are
    /// no part of how a finding is said.
    fn denials(&self, clause: &Clause, statement: &Statement) -> Vec<(usize, usize)> {
        let ahead = clause.effects.iter().filter(|effect| {
            // Of `saw no shaft lean` the `no` is the name's own.
            let negation = self
                .trade
                .is(WordUse::Negation, &clause.terms[effect.to - 1].word);
            let of_a_name = |span: &Span| {
                negation && span.score >= 1.0 && effect.from < span.from && span.from < effect.to
            };
            matches!(effect.what, Effect::Denies(Denies::Ahead | Denies::Past))
                && (statement.aside[effect.from] || !statement.inside(effect.from))
                && !statement.spans.iter().any(of_a_name)
        });
        let mut found: Vec<(usize, usize)> = ahead.map(|e| (e.from, e.to)).collect();
        // `no he is not swaying`: an answer to a question that nobody wrote down, and no double denial.
        let answers = |next: usize| {
            self.trade.is(WordUse::Subject, &clause.terms[1].word)
                || self.trade.is(WordUse::Negation, &clause.terms[1].word) && next == 1
        };
        // And `no not the back`.
        if found.len() > 1 && found[0] == (0, 1) && answers(found[1].0) {
            found.remove(0);
        }
        found
    }

    /// What the denials of a clause do to one of its findings.
    fn scope(
        &self,
        clause: &Clause,
        statement: &Statement,
        denials: &[(usize, usize)],
        number: usize,
    ) -> Scope {
        let span = &statement.spans[number];
        let mut count = usize::from(span.denied);
        let mut unclear = false;
        // `since he was a kid` says nothing of what stands before it.
        let past = |from: usize| {
            let at = |effect: &&Found<Effect>| effect.from == from;
            let effect = clause.effects.iter().find(at);
            effect.is_some_and(|effect| effect.what == Effect::Denies(Denies::Past))
        };
        // Of `no this and no that` each has its own.
        let before = match number {
            0 => 0,
            _ => statement.spans[number - 1].to,
        };
        let own = |from: usize| (before..span.from).contains(&from);
        let has_own = denials.iter().any(|(from, _)| own(*from));
        for (from, to) in denials {
            if has_own && *from < before {
                continue;
            }
            if (span.from..span.to).contains(from) {
                count += 1;
            } else if *from < span.from {
                match self.reaches(clause, *to, span.from) {
                    Scope::Denied => count += 1,
                    Scope::Unclear => unclear = true,
                    Scope::Stands => {}
                }
            } else if !past(*from)
                && number + 1 == statement.spans.len()
                && !self.tells_more(statement, *to)
            {
                // `the slice he has not`: with nothing behind it, it denies what stands before.
                count += 1;
            }
        }
        let behind = clause.effects.iter().any(|effect| {
            effect.what == Effect::Denies(Denies::Behind) && !statement.inside(effect.from)
        });
        // `not behind it any more, we fixed that`: said twice is not taken back.
        count += usize::from(behind && count % 2 == 0);
        match (count % 2 == 1, unclear) {
            (true, _) => Scope::Denied,
            (false, true) => Scope::Unclear,
            (false, false) => Scope::Stands,
        }
    }

    /// Whether denials deny a finding, given what they reach. Of too little hinge `barely any hinge` is a
    /// report, since nothing but the denial says that there is little of it; `not too little` denies it.
    fn is_denied(&self, clause: &Clause, span: &Span, scope: Scope) -> bool {
        let denied = scope == Scope::Denied;
        let Reading::Clear {
            condition,
            by: ReadBy::Words | ReadBy::Company,
            ..
        } = &span.reading
        else {
            return denied;
        };
        if !self.tables.lacks[condition.0] {
            return denied;
        }
        let lack = |at: usize| self.trade.is(WordUse::Lack, &clause.terms[at].word);
        if !(0..clause.terms.len()).any(lack) {
            return false;
        }
        let inside = clause.effects.iter().filter(|effect| {
            matches!(effect.what, Effect::Denies(Denies::Ahead | Denies::Behind))
                && span.from <= effect.from
                && effect.to <= span.to
                && !(effect.from..effect.to).any(lack)
        });
        denied || inside.count() % 2 == 1
    }

    /// Whether anything from a term on says something.
    fn tells_more(&self, statement: &Statement, from: usize) -> bool {
        statement.weights[from..]
            .iter()
            .any(|weight| *weight > TELLS)
    }

    /// Whether a denial still holds at a finding. `or` carries it on; `and` ends it before a verb of its own
    /// (`does not sway and slides`), goes on before a plain one or between two of a kind (`no fats and
    /// thins`), and far off leaves it open.
    fn reaches(&self, clause: &Clause, from: usize, to: usize) -> Scope {
        let between = &clause.terms[from.min(to)..to];
        let is = |used: WordUse, term: &Term| self.trade.is(used, &term.word);
        let Some(end) = between.iter().rposition(|term| is(WordUse::Ends, term)) else {
            return Scope::Denied;
        };
        if between.iter().any(|term| is(WordUse::ReachesOn, term)) {
            return Scope::Denied;
        }
        let own = |term: &Term| term.word.ends_with('s') && !term.word.ends_with("ss");
        let first = clause.terms[from.min(to) + end + 1..]
            .iter()
            .find(|term| !self.trade.is_filler(&term.word));
        let before = between[..end]
            .iter()
            .rev()
            .find(|term| !self.trade.is_filler(&term.word));
        match (first.is_some_and(own), before.is_some_and(own)) {
            (true, false) => Scope::Stands,
            (true, true) => Scope::Denied,
            (false, _) if between.len() <= NEAR_BY => Scope::Denied,
            (false, _) => Scope::Unclear,
        }
    }

    /// What is not there when topics are sound.
    pub(super) fn rule_out(
        &self,
        topics: &[usize],
        circumstances: &Lesson,
        findings: &mut Vec<Finding>,
    ) {
        for topic in topics {
            let all = &self.tables.rules_out[*topic];
            // Those of the short game in the short game, the others elsewhere.
            let short = circumstances.shot.is_some_and(is_short);
            let of_short =
                |key: &ConditionKey| self.shots[key.0].iter().all(|shot| is_short(*shot));
            let own = |key: &ConditionKey| {
                self.applies(*key, circumstances.shot) && of_short(key) == short
            };
            let applies = |key: &ConditionKey| self.applies(*key, circumstances.shot);
            let fits: &dyn Fn(&ConditionKey) -> bool = if all.iter().any(own) {
                &own
            } else if all.iter().any(applies) {
                &applies
            } else if circumstances.shot.is_none() {
                &|_| true
            } else {
                // What the words are about is no part of this shot.
                &|_| false
            };
            for key in all.iter().filter(|key| fits(key)) {
                if findings.iter().any(|f| means(&f.reading) == Some(*key)) {
                    continue;
                }
                let reading = Reading::Clear {
                    condition: *key,
                    by: ReadBy::Words,
                    matched: self.spoken[key.0].forms[0].text.clone(),
                    near: Vec::new(),
                };
                findings.push(Finding {
                    implied: true,
                    ..Finding::new(Said::NotSeen, reading)
                });
            }
        }
    }

    /// What of a clause was neither read nor set aside.
    fn left_over(&self, clause: &mut Clause, statement: &Statement, by_topic: bool) {
        let n = clause.terms.len();
        let facts = clause.facts.iter().map(|fact| fact.from..fact.to);
        let topics = clause.topics.iter().map(|topic| topic.from..topic.to);
        let mut read = statement.aside.clone();
        for range in facts.chain(topics.filter(|_| by_topic)) {
            read[range].fill(true);
        }
        for span in &statement.spans {
            read[span.from..span.to].fill(true);
        }
        let weights = &statement.weights;
        let hint = |at: usize| !self.trade.hints(&clause.terms[at].word).is_empty();
        let left: Vec<usize> = (0..n)
            .filter(|at| weights[*at] > TELLS && !hint(*at) && !read[*at])
            .collect();
        let effect = |at: usize| clause.effects.iter().any(|e| (e.from..e.to).contains(&at));
        let own = (0..n).filter(|at| !effect(*at) && !hint(*at));
        let all: f64 = own.map(|at| weights[at]).sum();
        let loose: f64 = left.iter().map(|at| weights[*at]).sum();
        if clause.findings.is_empty() && clause.facts.is_empty() && clause.numbers.is_empty() {
            if let Some((count, _)) = &clause.count
                && all < 0.1
            {
                clause.part = Part::BareCount(*count);
                return;
            }
            if let Some(last) = clause.effects.last()
                && all < 0.1
                && n <= 6
            {
                clause.part = Part::Bare(last.what);
            } else if all < SAYS_SOMETHING
                && loose == 0.0
                && hinted_shots(&self.trade, &clause.terms).len() == 1
            {
                clause.part = Part::Heading;
            }
        } else if left.len() >= 2 && loose > MOSTLY_LEFT * all && !clause.occasion {
            let (first, last) = (left[0], left[left.len() - 1]);
            clause.residue = Some(clause.terms[first].from..clause.terms[last].to);
        }
    }
}

/// What a coach says that some words mean, where the words stand.
fn overridden(
    cutter: &mut Cutter,
    clause: &Clause,
    overrides: &[Override],
    statement: &mut Statement,
) {
    let n = clause.terms.len();
    for forced in overrides {
        let words = cutter.cut(&forced.words);
        let m = words.len();
        let here = (0..(n + 1).saturating_sub(m)).find(|at| {
            let typed = clause.terms[*at..at + m].iter().map(|term| &term.stem);
            m > 0 && typed.eq(words.iter().map(|term| &term.stem))
        });
        if let Some(at) = here {
            statement.aside[at..at + m].fill(true);
            statement.spans.push(Span {
                from: at,
                to: at + m,
                reading: Reading::Clear {
                    condition: forced.condition,
                    by: ReadBy::Choice,
                    matched: forced.words.clone(),
                    near: Vec::new(),
                },
                score: 1.0,
                denied: false,
                adjective: false,
            });
        }
    }
}

/// The topics that a clause calls sound. What is named as a fault is denied as that fault.
fn topics(clause: &Clause, statement: &Statement, sound: bool) -> Vec<usize> {
    if clause.occasion {
        return Vec::new();
    }
    let stated = statement.stated.iter().map(|found| found.what);
    let named = |topic: &Found<usize>| {
        statement.spans.iter().any(|span| {
            span.from <= topic.from
                && topic.to <= span.to
                && span.score >= 0.9
                && span.to - span.from > topic.to - topic.from
        })
    };
    let free = clause.topics.iter().filter(|topic| sound && !named(topic));
    stated.chain(free.map(|topic| topic.what)).collect()
}

/// Whether doubt is cast on a finding: right before it, since the one before, or behind the last.
fn is_hedged(clause: &Clause, statement: &Statement, number: usize) -> bool {
    let span = &statement.spans[number];
    let before = if number == 0 {
        0
    } else {
        statement.spans[number - 1].to
    };
    let last = number + 1 == statement.spans.len();
    let next = |effect: &Found<Effect>| effect.what == Effect::HedgesNext && effect.to == span.from;
    let hedges = clause
        .effects
        .iter()
        .filter(|effect| effect.what == Effect::Hedges);
    let mut hedges = hedges
        .map(|effect| effect.from)
        .chain(statement.hedged_at.iter().copied());
    clause.effects.iter().any(next) || hedges.any(|at| at >= before && (at <= span.to || last))
}

fn base_word(reader: &Reader, cutter: &mut Cutter, term: &mut Term, base: &str) {
    let candidates = [base.to_owned(), format!("{base}e")];
    if let Some(word) = candidates
        .iter()
        .find(|word| reader.lexicon.is_written(word))
    {
        term.stem = cutter.stem(word);
        term.word.clone_from(word);
    }
}

/// Whether only the hand is missing to tell what words of side mean.
fn wants_hand(circumstances: &Lesson, terms: &[Term], reading: &Reading) -> bool {
    circumstances.handed.is_none()
        && matches!(reading, Reading::Several(_))
        && terms
            .iter()
            .any(|term| super::flight::side(&term.word, Handed::Right).is_some())
}

/// The one entry that a reading means.
pub(super) fn means(reading: &Reading) -> Option<ConditionKey> {
    match reading {
        Reading::Clear { condition, .. } => Some(*condition),
        Reading::Several(list) => list.first().map(|candidate| candidate.condition),
        Reading::Unknown(_) => None,
    }
}

/// Of what words may mean, only what a student may think.
fn keep_ideas(reader: &Reader, reading: &mut Reading) {
    let idea = |key: ConditionKey| reader.spoken[key.0].stage == Stage::Concept;
    let kept: Vec<Candidate> = match reading {
        Reading::Clear {
            condition, near, ..
        } => {
            if idea(*condition) {
                return;
            }
            near.iter().filter(|c| idea(c.condition)).cloned().collect()
        }
        Reading::Several(list) => list.iter().filter(|c| idea(c.condition)).cloned().collect(),
        Reading::Unknown(_) => Vec::new(),
    };
    *reading = match kept.as_slice() {
        [] => Reading::Unknown(Vec::new()),
        [one] => Reading::Clear {
            condition: one.condition,
            by: ReadBy::Words,
            matched: one.nearest.clone(),
            near: Vec::new(),
        },
        _ => Reading::Several(kept),
    };
}
