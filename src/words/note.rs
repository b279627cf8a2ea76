//! A whole note: clauses, each with its findings and their state, facts told in passing, and what was
//! not understood.
//!
//! A clause ends at a mark of writing or at a word that parts (`but`, `leads to`). A reading depends on
//! its own clause, the shot and the hand; what stands in the next clause only says whether it is there
//! (`looks up early? no`), never what it is. Nothing is dropped: a clause that yields neither finding
//! nor fact is handed back in the coach's own words.

use super::clause::{Mark, pieces};
use super::flight::Handed;
use super::phrases::{Found, Phrases};
use super::reader::{Candidate, Circumstances, ReadBy, Reader, Reading, hinted_shots, is_short};
use super::spans::{Span, Surroundings};
use super::term::{Cutter, Term};
use crate::knowledge::{
    ConditionKey, Denies, FactKey, KnowledgeBase, Shot, Stage, TopicText, WordUse,
};

/// What a note says of a finding.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Said {
    /// It is there.
    Seen,
    /// It is not there.
    NotSeen,
    /// It is there a little, or perhaps.
    Slight,
}

/// A finding of a note.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// The clause that says it, in the coach's own words.
    pub given: String,
    /// Whether it is there.
    pub said: Said,
    /// What it is; [`Reading::Several`] when the words leave that open.
    pub reading: Reading,
    /// Whether it follows from something being called sound, and was not named itself.
    pub implied: bool,
    /// Whether it is open only because nobody said which hand the student plays with.
    pub wants_hand: bool,
}

/// A fact told in passing.
#[derive(Clone, Debug, PartialEq)]
pub struct ToldFact {
    /// The clause that says it.
    pub given: String,
    /// The fact.
    pub fact: FactKey,
    /// Its number, such as an age in years.
    pub number: Option<f64>,
}

/// What a note says.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Note {
    /// Findings, in the order said.
    pub findings: Vec<Finding>,
    /// Facts, in the order said.
    pub facts: Vec<ToldFact>,
    /// Clauses, or parts of them, that mean nothing known.
    pub not_understood: Vec<String>,
}

/// What a coach says that some words mean.
#[derive(Clone, Debug, PartialEq)]
pub struct Override {
    /// The words.
    pub words: String,
    /// What they mean.
    pub condition: ConditionKey,
}

/// What a fixed phrase does to the findings around it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Effect {
    Denies(Denies),
    Hedges,
    /// Makes only what stands right behind it slight: `a small fade`.
    HedgesNext,
    Believes,
}

/// A fact that follows, from which number on and below which.
type Implied = (FactKey, Option<f64>, Option<f64>);

/// The fixed phrases of a library.
pub(super) struct Tables {
    effects: Phrases<Effect>,
    parts: Phrases<bool>,
    facts: Phrases<FactKey>,
    topics: Phrases<usize>,
    stated: Phrases<usize>,
    rules_out: Vec<Vec<ConditionKey>>,
    implies: Vec<Vec<Implied>>,
    in_passing: Vec<bool>,
    hands: [Option<FactKey>; 2],
}

impl Tables {
    pub(super) fn new(cutter: &mut Cutter, base: &KnowledgeBase) -> Self {
        let spoken = &base.spoken;
        let mut effects: Vec<(&str, Effect)> = Vec::new();
        for text in &spoken.denials {
            effects.extend(
                text.say
                    .iter()
                    .map(|say| (say.as_str(), Effect::Denies(text.denies))),
            );
        }
        for text in &spoken.hedges {
            effects.extend(text.say.iter().map(|say| (say.as_str(), Effect::Hedges)));
        }
        let of = |used_as: WordUse| {
            let lists = spoken
                .word_lists
                .iter()
                .filter(move |list| list.used_as == used_as);
            lists.flat_map(|list| list.say.iter().map(String::as_str))
        };
        effects.extend(of(WordUse::SlightBeside).map(|say| (say, Effect::HedgesNext)));
        effects.extend(of(WordUse::Belief).map(|say| (say, Effect::Believes)));
        let parts = of(WordUse::Parts).map(|say| (say, false));
        let parts = parts.chain(of(WordUse::Occasion).map(|say| (say, true)));
        let keys = (0..base.facts.len()).map(FactKey);
        let facts: Vec<(&str, FactKey)> = keys
            .flat_map(|key| {
                base.fact(key)
                    .say
                    .iter()
                    .map(move |say| (say.as_str(), key))
            })
            .collect();
        let say = |of: fn(&TopicText) -> &Vec<String>| {
            let topics = spoken.topics.iter().enumerate();
            topics
                .flat_map(move |(number, topic)| {
                    of(topic).iter().map(move |say| (say.as_str(), number))
                })
                .collect::<Vec<_>>()
        };
        let hand = |hand: Handed| base.find_fact(&format!("handed-{}", hand.as_str()));
        Self {
            effects: Phrases::new(cutter, false, effects),
            parts: Phrases::new(cutter, false, parts),
            facts: Phrases::new(cutter, true, facts),
            topics: Phrases::new(cutter, true, say(|topic| &topic.say)),
            stated: Phrases::new(cutter, true, say(|topic| &topic.stated)),
            rules_out: spoken
                .topics
                .iter()
                .map(|topic| {
                    topic
                        .rules_out
                        .iter()
                        .filter_map(|id| base.find(id))
                        .collect()
                })
                .collect(),
            implies: base
                .facts
                .iter()
                .map(|fact| {
                    let each = fact.implies.iter();
                    each.filter_map(|i| Some((base.find_fact(&i.fact)?, i.from, i.below)))
                        .collect()
                })
                .collect(),
            in_passing: base.facts.iter().map(|fact| fact.in_passing).collect(),
            hands: [hand(Handed::Right), hand(Handed::Left)],
        }
    }
}

/// One clause while it is read.
struct Clause {
    from: usize,
    to: usize,
    terms: Vec<Term>,
    mark: Mark,
    /// Whether it tells an occasion: `when he goes after it`.
    occasion: bool,
    effects: Vec<Found<Effect>>,
    facts: Vec<Found<FactKey>>,
    topics: Vec<Found<usize>>,
    findings: Vec<Finding>,
    told: bool,
    /// Whether it consists of denial, doubt or praise alone.
    bare: Option<Effect>,
    residue: Option<String>,
}

/// A clause has no more terms than this; what is longer is cut.
const LONGEST_CLAUSE: usize = 48;
/// What a clause must say at least for its silence to be told.
const SAYS_SOMETHING: f64 = 0.2;
/// From this share on what is left over of a clause is told.
const MOSTLY_LEFT: f64 = 0.5;

impl Reader {
    /// Reads a whole note.
    #[must_use]
    pub fn note(&self, text: &str, circumstances: &Circumstances, overrides: &[Override]) -> Note {
        if let Some(condition) = self.ids.get(&text.trim().to_lowercase()) {
            let finding = Finding {
                given: text.trim().to_owned(),
                said: Said::Seen,
                reading: Reading::Clear {
                    condition: *condition,
                    by: ReadBy::Id,
                    matched: text.trim().to_lowercase(),
                    near: Vec::new(),
                },
                implied: false,
                wants_hand: false,
            };
            return Note {
                findings: vec![finding],
                ..Note::default()
            };
        }
        let mut cutter = Cutter::new(&self.trade);
        let mut clauses = self.clauses(&mut cutter, text);
        let mut circumstances = *circumstances;
        if circumstances.handed.is_none() {
            circumstances.handed = self.hand_told(&clauses);
        }
        if circumstances.shot.is_none() {
            circumstances.shot = self.shot_told(&clauses);
        }
        for clause in &mut clauses {
            self.read_clause(&mut cutter, text, clause, &circumstances, overrides);
        }
        if circumstances.shot.is_none()
            && let Some(shot) = self.shot_implied(&clauses)
        {
            circumstances.shot = Some(shot);
            clauses = self.clauses(&mut cutter, text);
            for clause in &mut clauses {
                self.read_clause(&mut cutter, text, clause, &circumstances, overrides);
            }
        }
        self.look_back(&mut clauses, &circumstances, text);
        let mut note = Note::default();
        for clause in clauses {
            let given = &text[clause.from..clause.to];
            for found in &clause.facts {
                self.tell(&mut note.facts, given, found.what, found.number);
            }
            let silent = clause.findings.is_empty() && clause.facts.is_empty() && !clause.told;
            note.findings.extend(clause.findings);
            match clause.residue {
                Some(residue) => note.not_understood.push(residue),
                None if silent && clause.bare.is_none() && !clause.occasion => {
                    note.not_understood.push(given.to_owned());
                }
                None => {}
            }
        }
        note
    }

    /// The facts that a text tells, those that follow included, with the bytes that tell them.
    pub(crate) fn facts_told(&self, text: &str) -> Vec<(ToldFact, std::ops::Range<usize>)> {
        let mut told: Vec<(ToldFact, std::ops::Range<usize>)> = Vec::new();
        for clause in self.clauses(&mut Cutter::new(&self.trade), text) {
            for found in &clause.facts {
                let terms = &clause.terms[found.from..found.to];
                let bytes = terms[0].from..terms[terms.len() - 1].to;
                let mut facts = Vec::new();
                self.tell(&mut facts, &text[bytes.clone()], found.what, found.number);
                told.extend(facts.into_iter().map(|fact| (fact, bytes.clone())));
            }
        }
        told
    }

    /// What a text says is not there.
    pub(crate) fn denied(&self, text: &str, circumstances: &Circumstances) -> Vec<ConditionKey> {
        let findings = self.note(text, circumstances, &[]).findings.into_iter();
        let denied = findings.filter(|finding| finding.said == Said::NotSeen);
        denied
            .filter_map(|finding| means(&finding.reading))
            .collect()
    }

    /// The hand that a note tells, if it tells one.
    #[must_use]
    pub fn hand_in(&self, text: &str) -> Option<Handed> {
        self.hand_told(&self.clauses(&mut Cutter::new(&self.trade), text))
    }

    fn tell(&self, facts: &mut Vec<ToldFact>, given: &str, fact: FactKey, number: Option<f64>) {
        if facts.iter().all(|told| told.fact != fact) {
            facts.push(ToldFact {
                given: given.to_owned(),
                fact,
                number,
            });
        }
        for (implied, from, below) in &self.tables.implies[fact.0] {
            let fits = number.is_none_or(|n| {
                from.is_none_or(|from| n >= from) && below.is_none_or(|below| n < below)
            });
            if fits && *implied != fact {
                self.tell(facts, given, *implied, None);
            }
        }
    }

    /// The clauses of a note, with the fixed phrases in each.
    fn clauses(&self, cutter: &mut Cutter, text: &str) -> Vec<Clause> {
        let trade = &self.trade;
        let mut clauses = Vec::new();
        for piece in pieces(text) {
            let mut terms = cutter.cut(&text[piece.from..piece.to]);
            for term in &mut terms {
                term.from += piece.from;
                term.to += piece.from;
            }
            let terms = self.split_unknown(split_numbers(terms, cutter), cutter);
            let mut cuts: Vec<(usize, bool)> = vec![(0, false)];
            for found in self.tables.parts.all(trade, &terms) {
                match cuts.last_mut() {
                    Some(last) if last.0 == found.from => last.1 = found.what,
                    _ => cuts.push((found.from, found.what)),
                }
            }
            let mut whole: Vec<(usize, usize, bool)> = Vec::new();
            for (number, (from, occasion)) in cuts.iter().enumerate() {
                let end = cuts.get(number + 1).map_or(terms.len(), |next| next.0);
                let mut at = *from;
                while at < end {
                    let to = end.min(at + LONGEST_CLAUSE);
                    whole.push((at, to, *occasion));
                    at = to;
                }
            }
            let count = whole.len();
            for (number, (from, to, occasion)) in whole.into_iter().enumerate() {
                let own = terms[from..to].to_vec();
                let start = if number == 0 { piece.from } else { own[0].from };
                let end = if number + 1 == count {
                    piece.to
                } else {
                    own[own.len() - 1].to
                };
                clauses.push(Clause {
                    from: start,
                    to: end,
                    mark: if number + 1 == count {
                        piece.mark
                    } else {
                        Mark::Comma
                    },
                    occasion,
                    effects: self.tables.effects.all(trade, &own),
                    facts: self.tables.facts.everywhere(trade, &own),
                    topics: self.tables.topics.all(trade, &own),
                    terms: own,
                    findings: Vec::new(),
                    told: false,
                    bare: None,
                    residue: None,
                });
            }
        }
        clauses
    }

    fn hand_told(&self, clauses: &[Clause]) -> Option<Handed> {
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
    fn shot_told(&self, clauses: &[Clause]) -> Option<Shot> {
        let mut told = None;
        for clause in clauses {
            let praised = clause
                .effects
                .iter()
                .any(|effect| effect.what == Effect::Denies(Denies::Sound));
            if praised {
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
    fn shot_implied(&self, clauses: &[Clause]) -> Option<Shot> {
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

    fn read_clause(
        &self,
        cutter: &mut Cutter,
        text: &str,
        clause: &mut Clause,
        circumstances: &Circumstances,
        overrides: &[Override],
    ) {
        let n = clause.terms.len();
        let given = text[clause.from..clause.to].to_owned();
        // `flattish`: flat, a little.
        let mut hedged_at: Vec<usize> = Vec::new();
        for (at, term) in clause.terms.iter_mut().enumerate() {
            let word = term.word.clone();
            if let Some(base) = word.strip_suffix("ish")
                && base.len() > 2
                && !self.lexicon.is_written(&word)
            {
                let short = base.strip_suffix('t').filter(|s| s.ends_with('t'));
                base_word(self, cutter, term, short.unwrap_or(base));
                hedged_at.push(at);
            }
        }
        let mut spans: Vec<Span> = Vec::new();
        let mut aside = vec![false; n];
        for effect in &clause.effects {
            if effect.what == Effect::HedgesNext {
                continue;
            }
            let single = effect.to - effect.from == 1
                && self
                    .trade
                    .is(WordUse::Negation, &clause.terms[effect.from].word);
            let sound = effect.what == Effect::Denies(Denies::Sound);
            if !single && !sound {
                aside[effect.from..effect.to].fill(true);
            }
        }
        for fact in &clause.facts {
            if !self.tables.in_passing[fact.what.0] {
                aside[fact.from..fact.to].fill(true);
            }
        }
        for forced in overrides {
            let words = cutter.cut(&forced.words);
            let stems: Vec<&str> = words.iter().map(|term| term.stem.as_str()).collect();
            let m = stems.len();
            let here = (0..(n + 1).saturating_sub(m)).find(|at| {
                m > 0
                    && clause.terms[*at..at + m]
                        .iter()
                        .map(|t| t.stem.as_str())
                        .eq(stems.iter().copied())
            });
            if let Some(at) = here {
                aside[at..at + m].fill(true);
                spans.push(Span {
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
        // A clause of its own that says that something is sound.
        let mut stated = self.tables.stated.all(&self.trade, &clause.terms);
        // `never gets off the back foot` is no praise.
        stated.retain(|found| {
            !clause.effects.iter().any(|effect| {
                matches!(effect.what, Effect::Denies(Denies::Ahead))
                    && effect.to <= found.from
                    && found.from - effect.to <= 2
            })
        });
        for found in &stated {
            aside[found.from..found.to].fill(true);
        }
        let around = Surroundings {
            set_aside: &aside,
            circumstances: *circumstances,
        };
        let (mut found, mut weights) = self.spans(cutter, &clause.terms, &around);
        let sound_marks: Vec<Found<Effect>> = clause
            .effects
            .iter()
            .filter(|effect| effect.what == Effect::Denies(Denies::Sound))
            .cloned()
            .collect();
        // Praise inside a name or alias is none.
        let covered = |spans: &[Span], mark: &Found<Effect>| {
            spans
                .iter()
                .any(|span| span.from <= mark.from && mark.to <= span.to && span.score >= 1.0)
        };
        let praised: Vec<&Found<Effect>> = sound_marks
            .iter()
            .filter(|mark| !covered(&found, mark))
            .collect();
        if !praised.is_empty() {
            for mark in &praised {
                aside[mark.from..mark.to].fill(true);
            }
            let around = Surroundings {
                set_aside: &aside,
                circumstances: *circumstances,
            };
            (found, weights) = self.spans(cutter, &clause.terms, &around);
        }
        // A clause without denial, doubt or facts is one phrase, which is read best as a whole.
        if clause.effects.is_empty()
            && clause.facts.is_empty()
            && stated.is_empty()
            && spans.is_empty()
            && !clause.occasion
            && n <= 12
            && found.len() < 2
            && found.first().is_none_or(|span| span.score < 1.0)
        {
            let (reading, score) = self.read_with_score(&given, circumstances);
            let least = if found.is_empty() {
                0.62
            } else {
                found[0].score * 0.9
            };
            let taken = match &reading {
                Reading::Clear { .. } => true,
                Reading::Several(list) => found.is_empty() && list.len() > 1,
                Reading::Unknown(_) => false,
            };
            if taken && score >= least {
                found = vec![Span {
                    from: 0,
                    to: n,
                    reading,
                    score,
                    denied: false,
                    adjective: false,
                }];
            }
        }
        spans.extend(found);
        spans.sort_by_key(|span| span.from);

        let inside = |at: usize, spans: &[Span]| spans.iter().any(|s| s.from <= at && at < s.to);
        // A denial before praise takes the praise back: `not great`.
        let ahead: Vec<&Found<Effect>> = clause
            .effects
            .iter()
            .filter(|effect| {
                // A word of denial inside a finding is part of how it is said, unless it was set aside.
                matches!(effect.what, Effect::Denies(Denies::Ahead | Denies::Past))
                    && (aside[effect.from] || !inside(effect.from, &spans))
            })
            .collect();
        let unpraised = praised.iter().any(|mark| {
            ahead
                .iter()
                .any(|deny| deny.to <= mark.from && mark.from - deny.to <= 2)
        });
        let sound = !praised.is_empty() && !unpraised;
        let behind = clause.effects.iter().any(|effect| {
            effect.what == Effect::Denies(Denies::Behind) && !inside(effect.from, &spans)
        });
        let believed = clause
            .effects
            .iter()
            .find(|effect| effect.what == Effect::Believes);
        let believed_from = believed.map(|effect| effect.from);
        let hedges: Vec<usize> = clause
            .effects
            .iter()
            .filter(|effect| effect.what == Effect::Hedges)
            .map(|effect| effect.from)
            .chain(hedged_at)
            .collect();

        let mut topics: Vec<usize> = stated.iter().map(|found| found.what).collect();
        if clause.occasion {
            topics.clear();
        } else if sound {
            let free = clause.topics.iter().filter(|topic| {
                // What is named as a fault is denied as that fault.
                !spans.iter().any(|span| {
                    span.from <= topic.from
                        && topic.to <= span.to
                        && span.score >= 0.9
                        && span.to - span.from > topic.to - topic.from
                })
            });
            topics.extend(free.map(|topic| topic.what));
        }
        let by_topic = !topics.is_empty();
        if by_topic && sound {
            // The words of a topic may come near to a fault of it; the topic says it better.
            spans.retain(|span| {
                !clause
                    .topics
                    .iter()
                    .any(|topic| topic.from < span.to && span.from < topic.to)
                    || span.score >= 1.0 && span.to - span.from > 1
            });
        }
        let mut concept = false;
        let mut lost_belief = false;
        for (number, span) in spans.iter().enumerate() {
            let before = if number == 0 { 0 } else { spans[number - 1].to };
            let denied = ahead
                .iter()
                .filter(|deny| {
                    (span.from..span.to).contains(&deny.from)
                        || deny.from < span.from && self.reaches(clause, deny.to, span.from)
                })
                .count()
                + usize::from(span.denied);
            let mut reading = span.reading.clone();
            if believed_from.is_some_and(|at| at < span.from) {
                keep_ideas(self, &mut reading);
                if matches!(reading, Reading::Unknown(_)) {
                    lost_belief = true;
                    continue;
                }
                concept = true;
            }
            let denied = (denied % 2 == 1) != behind || sound;
            if sound && span.score < 0.8 {
                continue;
            }
            // Denied free words that are far from the entry deny something else.
            if denied && span.score < 0.7 {
                continue;
            }
            // What is told of an occasion is a finding only when it is named.
            if clause.occasion && span.score < 0.9 {
                continue;
            }
            let beside = clause
                .effects
                .iter()
                .any(|effect| effect.what == Effect::HedgesNext && effect.to == span.from);
            let hedged = beside
                || hedges.iter().any(|at| {
                    (*at >= before && *at <= span.to)
                        || (*at >= span.to && number + 1 == spans.len())
                        || (number > 0 && *at < spans[0].from && number == 0)
                });
            clause.findings.push(Finding {
                given: given.clone(),
                said: match (denied, hedged) {
                    (true, _) => Said::NotSeen,
                    (false, true) => Said::Slight,
                    (false, false) => Said::Seen,
                },
                wants_hand: wants_hand(circumstances, &clause.terms[span.from..span.to], &reading),
                reading,
                implied: false,
            });
        }
        self.rule_out(&topics, circumstances, &given, &mut clause.findings);
        if concept {
            // The words of a belief are the idea itself.
            clause
                .facts
                .retain(|fact| believed.is_none_or(|b| fact.to <= b.from || fact.from >= b.to));
        }
        clause.told = lost_belief || by_topic;
        self.left_over(text, clause, &spans, &weights, &aside, by_topic);
    }

    /// Whether a denial still holds at a finding: `and` ends it, `or` does not.
    fn reaches(&self, clause: &Clause, from: usize, to: usize) -> bool {
        let between = &clause.terms[from.min(to)..to];
        let ends = between.iter().any(|term| term.word == "and");
        let goes_on = between
            .iter()
            .any(|term| matches!(term.word.as_str(), "or" | "nor"));
        !ends || goes_on || between.len() <= 3
    }

    fn rule_out(
        &self,
        topics: &[usize],
        circumstances: &Circumstances,
        given: &str,
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
            } else {
                &|_| true
            };
            for key in all.iter().filter(|key| fits(key)) {
                if findings.iter().any(|f| means(&f.reading) == Some(*key)) {
                    continue;
                }
                findings.push(Finding {
                    given: given.to_owned(),
                    said: Said::NotSeen,
                    reading: Reading::Clear {
                        condition: *key,
                        by: ReadBy::Words,
                        matched: self.spoken[key.0].forms[0].text.clone(),
                        near: Vec::new(),
                    },
                    implied: true,
                    wants_hand: false,
                });
            }
        }
    }

    /// What of a clause was neither read nor set aside.
    fn left_over(
        &self,
        text: &str,
        clause: &mut Clause,
        spans: &[Span],
        weights: &[f64],
        aside: &[bool],
        by_topic: bool,
    ) {
        let n = clause.terms.len();
        let read = |at: usize| {
            spans.iter().any(|span| span.from <= at && at < span.to)
                || aside[at]
                || clause
                    .facts
                    .iter()
                    .any(|fact| fact.from <= at && at < fact.to)
                || (by_topic
                    && clause
                        .topics
                        .iter()
                        .any(|topic| topic.from <= at && at < topic.to))
        };
        let tells =
            |at: usize| weights[at] > 0.2 && self.trade.hints(&clause.terms[at].word).is_empty();
        let left: Vec<usize> = (0..n).filter(|at| tells(*at) && !read(*at)).collect();
        let effect = |at: &usize| clause.effects.iter().any(|e| (e.from..e.to).contains(at));
        let hint = |at: &usize| !self.trade.hints(&clause.terms[*at].word).is_empty();
        let own = (0..n).filter(|at| !effect(at) && !hint(at));
        let all: f64 = own.map(|at| weights[at]).sum();
        let loose: f64 = left.iter().map(|at| weights[*at]).sum();
        let something = !clause.findings.is_empty() || !clause.facts.is_empty() || clause.told;
        if !something {
            if all < 0.1 && n <= 6 && !clause.effects.is_empty() {
                clause.bare = Some(clause.effects[clause.effects.len() - 1].what);
            } else if all < SAYS_SOMETHING
                && loose == 0.0
                && hinted_shots(&self.trade, &clause.terms).len() == 1
            {
                // A heading: `chips:`.
                clause.told = true;
            }
        } else if left.len() >= 2 && loose > MOSTLY_LEFT * all && !clause.occasion {
            let (first, last) = (left[0], left[left.len() - 1]);
            clause.residue = Some(text[clause.terms[first].from..clause.terms[last].to].to_owned());
        }
    }

    /// What a clause of denial, doubt or praise alone says of the one before it.
    fn look_back(&self, clauses: &mut [Clause], circumstances: &Circumstances, text: &str) {
        for at in 1..clauses.len() {
            let Some(effect) = clauses[at].bare else {
                continue;
            };
            match effect {
                Effect::Denies(Denies::Sound) => {
                    for before in (0..at).rev() {
                        if clauses[before].mark == Mark::Stop
                            || !clauses[before].findings.is_empty()
                        {
                            break;
                        }
                        let topics: Vec<usize> = clauses[before]
                            .topics
                            .iter()
                            .map(|topic| topic.what)
                            .collect();
                        if topics.is_empty() {
                            break;
                        }
                        let given = text[clauses[before].from..clauses[before].to].to_owned();
                        let mut findings = Vec::new();
                        self.rule_out(&topics, circumstances, &given, &mut findings);
                        clauses[before].told = true;
                        clauses[before].residue = None;
                        clauses[before].findings = findings;
                    }
                }
                Effect::Denies(Denies::Ahead | Denies::Behind) => {
                    // `no` behind a question, `not any more` behind a comma.
                    for finding in &mut clauses[at - 1].findings {
                        finding.said = Said::NotSeen;
                    }
                }
                Effect::Hedges => {
                    for finding in &mut clauses[at - 1].findings {
                        if finding.said == Said::Seen {
                            finding.said = Said::Slight;
                        }
                    }
                }
                Effect::Denies(Denies::Past | Denies::Nothing)
                | Effect::Believes
                | Effect::HedgesNext => {}
            }
        }
        // `no casting, slide or sway`: the list goes on until its `or`.
        let mut open: Option<usize> = None;
        for at in 0..clauses.len() {
            let clause = &clauses[at];
            let starts = clause.effects.first().is_some_and(|effect| {
                effect.from == 0 && effect.what == Effect::Denies(Denies::Ahead)
            });
            let short = clause.terms.len() <= 5;
            let ends = clause
                .terms
                .iter()
                .any(|t| matches!(t.word.as_str(), "or" | "nor"));
            if starts {
                open = Some(at);
            } else if let (Some(first), true) = (open, short) {
                if ends {
                    for clause in &mut clauses[first + 1..=at] {
                        for finding in &mut clause.findings {
                            finding.said = Said::NotSeen;
                        }
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

/// `62yo` is a number and a word; `7i` is a club and `2nd` an order.
fn split_numbers(terms: Vec<Term>, cutter: &mut Cutter) -> Vec<Term> {
    let mut split = Vec::with_capacity(terms.len());
    for term in terms {
        let digits = term.word.bytes().take_while(u8::is_ascii_digit).count();
        let rest = &term.word[digits..];
        if digits == 0
            || rest.len() < 2
            || !rest.bytes().all(|b| b.is_ascii_alphabetic())
            || matches!(rest, "st" | "nd" | "rd" | "th")
        {
            split.push(term);
            continue;
        }
        for part in [&term.word[..digits], rest] {
            split.push(Term {
                word: part.to_owned(),
                stem: cutter.stem(part),
                ..term
            });
        }
    }
    split
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
fn wants_hand(circumstances: &Circumstances, terms: &[Term], reading: &Reading) -> bool {
    circumstances.handed.is_none()
        && matches!(reading, Reading::Several(_))
        && terms
            .iter()
            .any(|term| super::flight::side(&term.word, Handed::Right).is_some())
}

/// The one entry that a reading means.
fn means(reading: &Reading) -> Option<ConditionKey> {
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
