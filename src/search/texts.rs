//! What is read out of the drills' texts, and can be kept between two commands.

use super::index::{IndexError, StemIndex};
use super::kept::Part;
use super::query::MOST_QUERY_WORDS;
use crate::knowledge::{Drill, DrillKey, KnowledgeBase, WordUse};
use crate::words::lexicon::{Growing, Keys, Lexicon, Meaning, WordKey};
use crate::words::ready::CutCondition;
use crate::words::term::{Cutter, Term, TextId};
use crate::words::trade::Trade;
use serde::{Deserialize, Serialize};

/// How much the names, what it is for and what it treats, and the rest count.
const BOOSTS: [f32; 3] = [3.0, 1.6, 1.0];

/// What is read out of the drills' texts; what can be kept.
pub(super) struct Texts {
    pub(super) lexicon: Lexicon,
    pub(super) index: StemIndex,
    /// Every name and other name of a drill, as known stems.
    pub(super) names: Vec<(DrillKey, Vec<WordKey>)>,
}

/// [`Texts`] but for the index, as they are kept.
#[derive(Serialize, Deserialize)]
struct KeptTables {
    words: Vec<String>,
    documents: Vec<u32>,
    names: Vec<(usize, Vec<WordKey>)>,
}

/// The part of a kept index that is [`KeptTables`]; the others are the engine's files.
const TABLES: &str = "tables";

impl Texts {
    /// Reads every drill; with a `question`, the index answers its words and no others.
    pub(super) fn read(
        cutter: &mut Cutter,
        base: &KnowledgeBase,
        conditions: &[CutCondition],
        question: Option<&str>,
    ) -> Result<Self, IndexError> {
        let spoken = distinct_stems(cutter, conditions);
        let mut growing = Growing::new();
        let cut: Vec<[Vec<TextId>; 4]> = base
            .drills
            .iter()
            .map(|drill| {
                // With shorthand written out and as it stands, so that every word finds its entry.
                let fields = own_fields(drill).map(|text| cutter.words_both_ways(&text));
                growing.document(cutter, fields.iter().flatten().copied());
                fields
            })
            .collect();
        for words in &spoken {
            growing.more(cutter, words.iter().copied());
        }
        let (lexicon, keys) = growing.finish(cutter);
        let asked = question.map(|words| {
            let mut terms = cutter.cut(words);
            terms.truncate(MOST_QUERY_WORDS);
            let words = words_of(cutter.trade(), &lexicon, terms);
            let stems = words.iter().flat_map(|(_, meaning)| in_its_place(meaning));
            stems
                .map(|(key, _)| cutter.id(lexicon.stem(*key)))
                .collect()
        });
        let asked = asked.as_ref();
        let said: Vec<String> = spoken
            .into_iter()
            .map(|words| cutter.joined_stems(words, asked))
            .collect();
        let index = StemIndex::new(
            BOOSTS,
            base.drills.iter().zip(cut).map(|(drill, fields)| {
                if drill.retired_for.is_some() {
                    return Default::default();
                }
                let [name, aliases, purpose, rest] = fields;
                let mut purpose = cutter.joined_stems(purpose, asked);
                for treats in &drill.treats {
                    purpose.push_str(&said[treats.condition.0]);
                }
                [
                    cutter.joined_stems(name.into_iter().chain(aliases), asked),
                    purpose,
                    cutter.joined_stems(rest, asked),
                ]
            }),
        )?;
        Ok(Self {
            lexicon,
            index,
            names: names(cutter, base, &keys),
        })
    }

    /// Everything as bytes.
    pub(super) fn parts(&self) -> Option<Vec<Part>> {
        let tables = KeptTables {
            words: self.lexicon.words().map(str::to_owned).collect(),
            documents: self.lexicon.documents().to_vec(),
            names: self
                .names
                .iter()
                .map(|(drill, stems)| (drill.0, stems.clone()))
                .collect(),
        };
        let mut parts = vec![(TABLES.to_owned(), serde_json::to_vec(&tables).ok()?)];
        parts.extend(self.index.files().ok()?);
        Some(parts)
    }

    /// What [`Self::parts`] gave for the same drills.
    pub(super) fn of_parts(
        cutter: &mut Cutter,
        base: &KnowledgeBase,
        parts: Vec<Part>,
    ) -> Option<Self> {
        let drills = base.drills.len();
        let (mut tables, files): (Vec<Part>, Vec<Part>) =
            parts.into_iter().partition(|(name, _)| name == TABLES);
        let tables: KeptTables = serde_json::from_slice(&tables.pop()?.1).ok()?;
        let count = u32::try_from(drills).ok()?;
        let lexicon = Growing::again(cutter, &tables.words, tables.documents, count)?;
        let fits = |(drill, stems): &(usize, Vec<WordKey>)| {
            *drill < drills && stems.iter().all(|key| (*key as usize) < lexicon.len())
        };
        if !tables.names.iter().all(fits) {
            return None;
        }
        Some(Self {
            index: StemIndex::of_files(&BOOSTS, drills, files)?,
            lexicon,
            names: tables
                .names
                .into_iter()
                .map(|(drill, stems)| (DrillKey(drill), stems))
                .collect(),
        })
    }
}

/// What golfers say of each condition, each stem once: how often they have a word for a thing says nothing
/// about a drill.
fn distinct_stems(cutter: &mut Cutter, conditions: &[CutCondition]) -> Vec<Vec<TextId>> {
    let mut last_seen: Vec<usize> = Vec::new();
    let distinct_of = |(number, condition): (usize, &CutCondition)| {
        let mut distinct = Vec::new();
        for word in condition.said() {
            let stem = cutter.stem_id(word) as usize;
            if last_seen.len() <= stem {
                last_seen.resize(cutter.len(), usize::MAX);
            }
            if last_seen[stem] != number {
                last_seen[stem] = number;
                distinct.push(word);
            }
        }
        distinct
    };
    let conditions = conditions.iter().enumerate();
    conditions.map(distinct_of).collect()
}

/// Every name and other name of a current drill, as known stems.
fn names(cutter: &mut Cutter, base: &KnowledgeBase, keys: &Keys) -> Vec<(DrillKey, Vec<WordKey>)> {
    let mut names: Vec<(DrillKey, Vec<WordKey>)> = Vec::new();
    for key in base.drill_keys() {
        let drill = base.drill(key);
        if drill.retired_for.is_some() {
            continue;
        }
        for name in std::iter::once(&drill.name).chain(&drill.aliases) {
            let words = cutter.words(name);
            let stems = words.iter().filter_map(|word| keys.get(cutter, *word));
            let mut stems: Vec<WordKey> = stems.collect();
            stems.sort_unstable();
            stems.dedup();
            names.push((key, stems));
        }
    }
    names
}

/// Name; other names and id; purpose; all the rest a coach may remember it by.
fn own_fields(drill: &Drill) -> [String; 4] {
    let mut rest: Vec<&str> = vec![&drill.setup, &drill.check];
    rest.extend(drill.steps.iter().map(String::as_str));
    rest.extend(drill.feel.iter().map(String::as_str));
    rest.extend(drill.goes_wrong.iter().map(String::as_str));
    rest.extend(drill.equipment.iter().map(String::as_str));
    rest.extend(
        [&drill.easier, &drill.harder, &drill.caution]
            .into_iter()
            .flatten()
            .map(String::as_str),
    );
    [
        drill.name.clone(),
        format!(
            "{}\n{}",
            drill.aliases.join("\n"),
            drill.id.replace('-', " ")
        ),
        drill.purpose.clone(),
        rest.join("\n"),
    ]
}

/// For each drill everything that the index reads of it, as one text.
pub(super) fn plain_texts(base: &KnowledgeBase) -> Vec<String> {
    base.drills
        .iter()
        .map(|drill| {
            let mut text = own_fields(drill).join("\n");
            for condition in drill.treats.iter().map(|t| base.condition(t.condition)) {
                text.push('\n');
                text.push_str(&condition.name);
                text.push('\n');
                text.push_str(&condition.aliases.join("\n"));
            }
            text
        })
        .collect()
}

/// At most this many words are asked in the place of one: the rest adds time, not drills.
const IN_ITS_PLACE: usize = 8;

/// Each typed word once, with what it can stand for; fillers only when there is nothing else.
pub(super) fn words_of(trade: &Trade, lexicon: &Lexicon, terms: Vec<Term>) -> Vec<(Term, Meaning)> {
    let mut words: Vec<(Term, Meaning)> = Vec::new();
    for term in terms {
        if words.iter().all(|(known, _)| known.stem != term.stem) {
            let meaning = lexicon.meaning(&term);
            words.push((term, meaning));
        }
    }
    let asks = |term: &Term| !trade.is_filler(&term.word) && !trade.is(WordUse::Asking, &term.word);
    if words.iter().any(|(term, _)| asks(term)) {
        words.retain(|(term, _)| asks(term));
    }
    words
}

/// The stems that are looked for in the place of a typed word, with how much each counts.
pub(super) fn in_its_place(meaning: &Meaning) -> impl Iterator<Item = &(WordKey, f64)> {
    meaning.stems.iter().take(IN_ITS_PLACE)
}
