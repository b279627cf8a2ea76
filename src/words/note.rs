//! A whole note: clauses, each with its findings and their state, facts told in passing, and what was
//! not understood.
//!
//! A clause ends at a mark of writing or at a word that parts (`but`, `leads to`). A reading depends on
//! its own clause, the shot and the hand; what stands in the next clause only says whether it is there
//! (`looks up early? no`), never what it is. Nothing is dropped: a clause that yields neither finding
//! nor fact is handed back in the coach's own words.

use super::clause::{Clause, Part};
use super::number::{Count, NumberSaid, Numeric};
use super::reader::{ReadBy, Reader, Reading, hinted_shots};
use super::statement::means;
use super::term::Cutter;
use crate::knowledge::{ConditionKey, FactKey, Shot};
use crate::lesson::{Handed, Lesson};
use std::ops::Range;

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
    /// Where that clause stands in the note, in bytes.
    pub at: Range<usize>,
    /// Whether it is there.
    pub said: Said,
    /// What it is; [`Reading::Several`] when the words leave that open.
    pub reading: Reading,
    /// Whether it follows from something being called sound, and was not named itself.
    pub implied: bool,
    /// How many balls showed it, where that was said.
    pub count: Option<Count>,
    /// Whether it is open only because nobody said which hand the student plays with.
    pub wants_hand: bool,
}

impl Note {
    /// The note that consists of an entry's id.
    pub(super) fn of_id(text: &str, condition: ConditionKey) -> Self {
        let reading = Reading::Clear {
            condition,
            by: ReadBy::Id,
            matched: text.trim().to_lowercase(),
            near: Vec::new(),
        };
        let finding = Finding {
            given: text.trim().to_owned(),
            at: 0..text.len(),
            ..Finding::new(Said::Seen, reading)
        };
        Self {
            findings: vec![finding],
            clauses: std::iter::once(0..text.len()).collect(),
            ..Self::default()
        }
    }

    /// What was lost of the note, in bytes: what was not understood, and, so that nothing ever is, every
    /// clause that left no finding and no fact; but for what is heard elsewhere.
    pub fn lost(&self, heard: impl Fn(&Range<usize>) -> bool) -> Vec<Range<usize>> {
        let meet = |a: &Range<usize>, b: &Range<usize>| a.start < b.end && b.start < a.end;
        let mut lost = self.not_understood.clone();
        for clause in &self.clauses {
            let findings = self.findings.iter();
            let left = findings.filter(|f| !matches!(f.reading, Reading::Unknown(_)));
            let refused = self.refused.iter().map(|(at, _)| at);
            let numbers = self.numbers.iter().map(|number| &number.at);
            let mut heard = left
                .map(|f| &f.at)
                .chain(&self.telling)
                .chain(numbers)
                .chain(refused);
            if !heard.any(|at| meet(at, clause)) && !lost.iter().any(|at| meet(at, clause)) {
                lost.push(clause.clone());
            }
        }
        lost.retain(|at| !heard(at));
        lost.sort_by_key(|at| at.start);
        lost
    }
}

impl Finding {
    /// A finding whose clause is not known yet.
    pub(super) fn new(said: Said, reading: Reading) -> Self {
        Self {
            given: String::new(),
            at: 0..0,
            said,
            reading,
            implied: false,
            count: None,
            wants_hand: false,
        }
    }
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
    /// Clauses, or parts of them, that mean nothing known: where they stand, in bytes.
    pub not_understood: Vec<Range<usize>>,
    /// Quantities with their numbers, in the order said.
    pub numbers: Vec<NumberSaid>,
    /// Numbers that cannot be, and why.
    pub refused: Vec<(Range<usize>, String)>,
    /// Every clause, in order, in bytes: each of them yields a finding, a fact, or something that was not
    /// understood.
    pub clauses: Vec<Range<usize>>,
    /// Those of them that tell a fact.
    pub telling: Vec<Range<usize>>,
    /// The shots that its clubs may play, what is called sound aside; empty where no club is named.
    pub shots: Vec<Shot>,
}

/// What a coach says that some words mean.
#[derive(Clone, Debug, PartialEq)]
pub struct Override {
    /// The words.
    pub words: String,
    /// What they mean.
    pub condition: ConditionKey,
}

impl Reader {
    /// Reads a whole note.
    #[must_use]
    pub fn note(&self, text: &str, circumstances: &Lesson, overrides: &[Override]) -> Note {
        if let Some(condition) = self.ids.get(&text.trim().to_lowercase()) {
            return Note::of_id(text, *condition);
        }
        let mut cutter = Cutter::new(&self.trade);
        let mut clauses = self.clauses(&mut cutter, text);
        self.one_hand(&mut clauses);
        let mut circumstances = circumstances.clone();
        if circumstances.handed.is_none() {
            circumstances.handed = self.hand_told(&clauses);
        }
        if circumstances.shot.is_none() {
            circumstances.shot = self.shot_told(&clauses);
        }
        let told = facts_in(&clauses);
        self.find_numbers(text, &mut clauses, &told, circumstances.handed);
        for clause in &mut clauses {
            self.read_clause(&mut cutter, text, clause, &circumstances, overrides);
        }
        if circumstances.shot.is_none()
            && let Some(shot) = self.shot_implied(&clauses)
        {
            circumstances.shot = Some(shot);
            clauses = self.clauses(&mut cutter, text);
            self.one_hand(&mut clauses);
            self.find_numbers(text, &mut clauses, &told, circumstances.handed);
            for clause in &mut clauses {
                self.read_clause(&mut cutter, text, clause, &circumstances, overrides);
            }
        }
        self.look_back(&mut clauses, &circumstances);
        self.gathered(text, clauses)
    }

    /// What the clauses of a note come to. Whatever a clause is, it leaves something.
    fn gathered(&self, text: &str, clauses: Vec<Clause>) -> Note {
        let mut note = Note::default();
        let mut heading: Option<usize> = None;
        let count = clauses.len();
        for (number, clause) in clauses.into_iter().enumerate() {
            if clause.part == Part::OfTheLast {
                // Its words were taken in by the clause before.
                continue;
            }
            let at = heading.take().unwrap_or(clause.at.start)..clause.at.end;
            if clause.part == Part::Heading && number + 1 < count {
                heading = Some(at.start);
                continue;
            }
            note.clauses.push(at.clone());
            if !clause.praises() {
                let hinted = hinted_shots(&self.trade, &clause.terms).into_iter();
                note.shots.extend(hinted);
            }
            let given = text[at.clone()].trim();
            for found in &clause.facts {
                self.tell(&mut note.facts, given, found.what, found.number);
            }
            if !clause.facts.is_empty() {
                note.telling.push(at.clone());
            }
            let numbers = clause.numbers.len();
            let silent = clause.findings.is_empty() && clause.facts.is_empty() && numbers == 0;
            for numeric in clause.numbers {
                match numeric {
                    Numeric::Quantity { number, .. } => note.numbers.push(NumberSaid {
                        at: at.clone(),
                        ..number
                    }),
                    Numeric::Refused { why, .. } => note.refused.push((at.clone(), why)),
                }
            }
            note.findings
                .extend(clause.findings.into_iter().map(|finding| Finding {
                    given: given.to_owned(),
                    at: at.clone(),
                    ..finding
                }));
            match clause.residue {
                Some(residue) => note.not_understood.push(residue),
                None if silent => note.not_understood.push(at),
                None => {}
            }
        }
        if let Some(from) = heading {
            note.clauses.push(from..text.len());
            note.not_understood.push(from..text.len());
        }
        note
    }

    /// The numbers of each clause.
    fn find_numbers(
        &self,
        text: &str,
        clauses: &mut [Clause],
        told: &[FactKey],
        handed: Option<Handed>,
    ) {
        for clause in clauses {
            clause.numbers = self.numbers_in(text, clause, told, handed);
            clause.count = self.count_in(text, &clause.terms);
            if let Some((count, terms)) = &clause.count
                && count.shown > count.of
            {
                clause.numbers.push(Numeric::Refused {
                    terms: terms.clone(),
                    why: format!("{} of {} cannot be", count.shown, count.of),
                });
                clause.count = None;
            }
        }
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
    pub(crate) fn denied(&self, text: &str, circumstances: &Lesson) -> Vec<ConditionKey> {
        let findings = self.note(text, circumstances, &[]).findings.into_iter();
        let denied = findings.filter(|finding| finding.said == Said::NotSeen);
        denied
            .filter_map(|finding| means(&finding.reading))
            .collect()
    }

    /// The hand that a note tells, if it tells one.
    #[must_use]
    pub fn hand_in(&self, text: &str) -> Option<Handed> {
        let mut clauses = self.clauses(&mut Cutter::new(&self.trade), text);
        self.one_hand(&mut clauses);
        self.hand_told(&clauses)
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
}

/// Every fact that the clauses tell.
fn facts_in(clauses: &[Clause]) -> Vec<FactKey> {
    let facts = clauses.iter().flat_map(|clause| &clause.facts);
    facts.map(|fact| fact.what).collect()
}
