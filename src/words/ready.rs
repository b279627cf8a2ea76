//! A library made ready to be read.

use super::exact::{Saying, Sayings};
use super::flight::{self, Flights};
use super::lexicon::{Growing, Keys, WordKey};
use super::reader::{
    CALLED_BY_NAME, FILLERS_BELOW, Form, HALF_FILLERS_BELOW, Reader, Spoken, distinct,
};
use super::tables::Tables;
use super::term::{Cutter, FastMap, TextId};
use super::trade::Trade;
use crate::knowledge::{Condition, KnowledgeBase, Stage, WordUse};
use std::sync::{Arc, OnceLock};

const CALLED_BY_ALIAS: f64 = 0.76;
/// An alias of one word calls the entry only when the word says this much: `up` and `short` do not.
const CALLING: f64 = 0.5;

impl Reader {
    /// A reader of the conditions of a library. A retired one is read by id and name alone, and as
    /// its successor where it has one.
    #[must_use]
    pub fn new(base: &KnowledgeBase) -> Self {
        let mut cutter = Cutter::new(&Arc::new(Trade::new(&base.spoken)));
        let cut = CutCondition::all(&mut cutter, base);
        Self::with(&mut cutter, base, cut)
    }

    /// The same of conditions that are cut already.
    pub(crate) fn with(cutter: &mut Cutter, base: &KnowledgeBase, cut: Vec<CutCondition>) -> Self {
        let mut growing = Growing::new();
        for condition in &cut {
            let forms = condition.read().iter().flat_map(|(words, _)| words);
            growing.document(cutter, forms.copied());
        }
        for condition in &cut {
            growing.more(cutter, condition.look.iter().copied());
        }
        let (mut lexicon, keys) = growing.finish(cutter);
        let names: Vec<Vec<WordKey>> = cut
            .iter()
            .map(|condition| keys_of(cutter, &keys, &condition.forms[0].0))
            .collect();
        lexicon.stress(names.iter().map(Vec::as_slice));
        let trade = Arc::clone(cutter.trade());
        let negations: Vec<WordKey> = trade
            .list(WordUse::Negation)
            .filter_map(|word| lexicon.key(&cutter.stem(word)))
            .collect();
        let tables = Tables::new(cutter, &trade, base);
        let mut reader = Self {
            trade,
            flights: Flights::new(base),
            tables,
            ids: FastMap::default(),
            sayings: Sayings::default(),
            shots: base.conditions.iter().map(|c| c.shots.clone()).collect(),
            spoken: Vec::with_capacity(cut.len()),
            said_by: vec![Vec::new(); lexicon.len()],
            lexicon,
            negations,
            kernel: OnceLock::new(),
        };
        for (key, parts) in base.condition_keys().zip(cut) {
            let means = base.heir(key);
            reader.ids.insert(base.condition(key).id.clone(), means);
            for (form, (words, _)) in parts.read().iter().enumerate() {
                let saying = Saying {
                    of: key,
                    form,
                    means,
                };
                reader.sayings.add(cutter, words, saying);
            }
            let spoken = reader.spoken_of(cutter, &keys, parts, base.condition(key));
            // Free words are for what is alive; the successor has words of its own.
            let alive = base.condition(key).retired_for.is_none();
            let said = spoken.named.iter().chain(&spoken.look);
            for stem in said.filter(|_| alive) {
                let entries = &mut reader.said_by[*stem as usize];
                if entries.last() != Some(&key) {
                    entries.push(key);
                }
            }
            reader.spoken.push(spoken);
        }
        reader
    }

    fn spoken_of(
        &self,
        cutter: &mut Cutter,
        keys: &Keys,
        mut parts: CutCondition,
        condition: &Condition,
    ) -> Spoken {
        parts.forms.truncate(parts.read);
        let forms: Vec<Form> = parts
            .forms
            .into_iter()
            .map(|(words, text)| {
                let stems = keys_of(cutter, keys, &words);
                Form {
                    text,
                    hinted: distinct(words.iter().flat_map(|word| cutter.hints(*word))),
                    negated: stems.iter().any(|stem| self.negations.contains(stem)),
                    stems,
                }
            })
            .collect();
        let called = self.called(&forms);
        let mut named: Vec<WordKey> = forms.iter().flat_map(|f| f.stems.iter().copied()).collect();
        named.sort_unstable();
        named.dedup();
        let mut look = keys_of(cutter, keys, &parts.look);
        look.sort_unstable();
        Spoken {
            forms,
            called,
            named,
            look,
            side: flight::side_of(&condition.look_for),
            thought: condition.stage == Stage::Concept,
            stage: condition.stage,
        }
    }

    /// The words that are a whole name or alias, fillers aside.
    fn called(&self, forms: &[Form]) -> Vec<(WordKey, f64)> {
        let mut called: Vec<(WordKey, f64)> = Vec::new();
        for (number, form) in forms.iter().enumerate() {
            let mut telling = form
                .stems
                .iter()
                .filter(|stem| self.lexicon.weight(**stem) > HALF_FILLERS_BELOW);
            let least = if number == 0 { 0.0 } else { CALLING };
            // `delayed hit` is not called by `delayed`: an alias has to be the word and nothing else.
            let diluted = number > 0
                && form
                    .stems
                    .iter()
                    .filter(|stem| self.lexicon.weight(**stem) > FILLERS_BELOW)
                    .count()
                    > 1;
            let (Some(stem), None) = (telling.next(), telling.next()) else {
                continue;
            };
            if form.negated
                || diluted
                || self.lexicon.weight(*stem) < least
                || called.iter().any(|(known, _)| known == stem)
            {
                continue;
            }
            let worth = if number == 0 {
                CALLED_BY_NAME
            } else {
                CALLED_BY_ALIAS
            };
            called.push((*stem, worth));
        }
        called
    }
}

/// One condition cut into words.
pub(crate) struct CutCondition {
    /// The name, the aliases, the id; each with its text.
    forms: Vec<(Vec<TextId>, String)>,
    /// How many of them are read: of a retired one the name alone.
    read: usize,
    look: Vec<TextId>,
}

impl CutCondition {
    /// Every condition of a library, by key.
    pub(crate) fn all(cutter: &mut Cutter, base: &KnowledgeBase) -> Vec<Self> {
        let mut said: FastMap<&str, Vec<&String>> = FastMap::default();
        for saying in &base.spoken.sayings {
            said.entry(&saying.id).or_default().extend(&saying.say);
        }
        base.conditions
            .iter()
            .map(|condition| {
                let said = said
                    .get(condition.id.as_str())
                    .map_or(&[][..], Vec::as_slice);
                Self::new(cutter, condition, said)
            })
            .collect()
    }

    fn new(cutter: &mut Cutter, condition: &Condition, said: &[&String]) -> Self {
        let alive = condition.retired_for.is_none();
        let mut forms = Vec::with_capacity(condition.aliases.len() + 2);
        for text in std::iter::once(&condition.name)
            .chain(&condition.aliases)
            .chain(said.iter().copied())
        {
            forms.push((cutter.words(text), text.clone()));
        }
        let id = condition.id.replace('-', " ");
        forms.push((cutter.words(&id), id));
        Self {
            read: if alive { forms.len() } else { 1 },
            forms,
            look: if alive {
                cutter.words(&condition.look_for)
            } else {
                Vec::new()
            },
        }
    }

    /// What is read as this condition.
    fn read(&self) -> &[(Vec<TextId>, String)] {
        &self.forms[..self.read]
    }

    /// The words of its name and its aliases, in order.
    pub(crate) fn said(&self) -> impl Iterator<Item = TextId> {
        let (_, said) = self.forms.split_last().expect("a name and an id at least");
        said.iter().flat_map(|(words, _)| words).copied()
    }
}

/// The keys of words, each once, in the order in which they are met.
fn keys_of(cutter: &mut Cutter, keys: &Keys, words: &[TextId]) -> Vec<WordKey> {
    let mut found: Vec<WordKey> = Vec::with_capacity(words.len());
    for word in words {
        if let Some(key) = keys.get(cutter, *word)
            && !found.contains(&key)
        {
            found.push(key);
        }
    }
    found
}
