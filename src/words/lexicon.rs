//! The words that the library and the trade know, with how much each one says.

use super::term::{Cutter, FastMap, Term, TextId};
use crate::knowledge::WordUse;
use std::sync::Arc;

/// A word's place in the lexicon.
pub(crate) type WordKey = u32;

/// How much a match counts by how it came about; the same word counts 1. Judged on
/// `tests/search/readings.yaml`.
const SYNONYM: f64 = 0.87;
const ONE_SLIP: f64 = 0.8;
const SLIP_IN_FOUR: f64 = 0.6;
const TWO_SLIPS: f64 = 0.65;
const BEGINNING: f64 = 0.75;
/// What a filler counts, and what a half filler counts, of a word that says something.
const FILLER_WEIGHT: f64 = 0.03;
const HALF_FILLER_WEIGHT: f64 = 0.15;
/// A club or a place is mostly a hint at the shot.
const CLUB_WEIGHT: f64 = 0.15;
const PLACE_WEIGHT: f64 = 0.35;
/// What a word says that nobody knows, and at least one that was only guessed at.
const UNKNOWN_WEIGHT: f64 = 0.9;
const GUESSED_WEIGHT: f64 = 0.6;
/// No word that is not filler says less than this, however common it is.
const LEAST_WEIGHT: f64 = 0.25;

/// How many names make a word common, and how much more a word of fewer says.
const FEW_NAMES: u32 = 3;
const STRESS: f64 = 1.3;

/// Known words by stem.
pub(crate) struct Lexicon {
    stems: Vec<Arc<str>>,
    keys: FastMap<Arc<str>, WordKey>,
    /// Words as written, without accents, with the stem each belongs to and the letters in it; what
    /// slips of the finger are compared with.
    written: Vec<Written>,
    written_keys: FastMap<Arc<str>, WordKey>,
    /// In how many documents a stem occurs.
    documents: Vec<u32>,
    /// For each stem the stems that mean the same.
    same: Vec<Vec<WordKey>>,
    /// For each stem those that shut it out.
    opposite: Vec<Vec<WordKey>>,
    /// For each stem how much it says, from 0 to 1.
    weights: Vec<f64>,
}

struct Written {
    word: Arc<str>,
    stem: WordKey,
    letters: u64,
    length: usize,
}

/// What one typed word can stand for.
#[derive(Clone, Debug)]
pub(crate) struct Meaning {
    /// Each known stem and how much a match with it counts, best first.
    pub(crate) stems: Vec<(WordKey, f64)>,
    /// How much the word says, from 0 to 1.
    pub(crate) weight: f64,
    /// Whether the lexicon knows it as written.
    pub(crate) known: bool,
}

/// A lexicon that still grows: texts are read in, as words that one [`Cutter`] has numbered.
pub(crate) struct Growing {
    lexicon: Lexicon,
    keys: Keys,
    /// Which words, by number, are written down already.
    written: Vec<bool>,
    /// The document in which a stem was last seen.
    last_seen: Vec<u32>,
    count: u32,
}

/// The keys of stems by the cutter's numbers.
pub(crate) struct Keys(Vec<WordKey>);

const NO_KEY: WordKey = WordKey::MAX;

impl Keys {
    /// The key of a word's stem.
    pub(crate) fn get(&self, cutter: &mut Cutter, word: TextId) -> Option<WordKey> {
        let key = self.0.get(cutter.stem_id(word) as usize).copied();
        key.filter(|key| *key != NO_KEY)
    }
}

impl Growing {
    pub(crate) fn new() -> Self {
        Self {
            lexicon: Lexicon {
                stems: Vec::new(),
                keys: FastMap::default(),
                written: Vec::new(),
                written_keys: FastMap::default(),
                documents: Vec::new(),
                same: Vec::new(),
                opposite: Vec::new(),
                weights: Vec::new(),
            },
            keys: Keys(Vec::new()),
            written: Vec::new(),
            last_seen: Vec::new(),
            count: 0,
        }
    }

    /// Reads in one document; how many documents have a word says how little it says.
    pub(crate) fn document(
        &mut self,
        cutter: &mut Cutter,
        words: impl IntoIterator<Item = TextId>,
    ) {
        self.count += 1;
        for word in words {
            let key = self.add(cutter, word) as usize;
            if self.last_seen[key] != self.count {
                self.last_seen[key] = self.count;
                self.lexicon.documents[key] += 1;
            }
        }
    }

    /// Makes words known; how common they are here does not count.
    pub(crate) fn more(&mut self, cutter: &mut Cutter, words: impl IntoIterator<Item = TextId>) {
        for word in words {
            self.add(cutter, word);
        }
    }

    /// The lexicon that another one was, given [`Lexicon::words`] and [`Lexicon::documents`] of it and
    /// how many documents it was made of; `None` when they do not belong together.
    pub(crate) fn again(
        cutter: &mut Cutter,
        words: &[String],
        documents: Vec<u32>,
        count: u32,
    ) -> Option<Lexicon> {
        let mut growing = Self::new();
        for word in words {
            growing.learn(cutter, word);
        }
        growing.learn_trade(cutter);
        if growing.lexicon.stems.len() != documents.len() {
            return None;
        }
        growing.lexicon.documents = documents;
        growing.lexicon.weigh(cutter, count);
        Some(growing.lexicon)
    }

    /// Adds the words of the trade and weighs them all.
    pub(crate) fn finish(mut self, cutter: &mut Cutter) -> (Lexicon, Keys) {
        self.learn_trade(cutter);
        self.lexicon.weigh(cutter, self.count);
        (self.lexicon, self.keys)
    }

    fn add(&mut self, cutter: &mut Cutter, word: TextId) -> WordKey {
        let stem = cutter.stem_id(word);
        if self.written.len() < cutter.len() {
            self.written.resize(cutter.len(), false);
            self.keys.0.resize(cutter.len(), NO_KEY);
        }
        let lexicon = &mut self.lexicon;
        let mut key = self.keys.0[stem as usize];
        if key == NO_KEY {
            key = WordKey::try_from(lexicon.stems.len()).expect("fewer words than four milliards");
            self.keys.0[stem as usize] = key;
            let stem = cutter.text(stem);
            lexicon.stems.push(Arc::clone(stem));
            lexicon.keys.insert(Arc::clone(stem), key);
            lexicon.documents.push(0);
            lexicon.same.push(Vec::new());
            lexicon.opposite.push(Vec::new());
            self.last_seen.push(0);
        }
        if !self.written[word as usize] {
            self.written[word as usize] = true;
            let word = cutter.text(word);
            lexicon.written_keys.insert(Arc::clone(word), key);
            lexicon.written.push(Written {
                letters: letters(word),
                length: word.chars().count(),
                word: Arc::clone(word),
                stem: key,
            });
        }
        key
    }

    fn learn(&mut self, cutter: &mut Cutter, word: &str) -> WordKey {
        let word = cutter.id(word);
        self.add(cutter, word)
    }

    fn learn_trade(&mut self, cutter: &mut Cutter) {
        let trade = Arc::clone(cutter.trade());
        for group in &trade.same {
            let keys: Vec<WordKey> = group.iter().map(|word| self.learn(cutter, word)).collect();
            for key in &keys {
                for other in &keys {
                    let same = &mut self.lexicon.same[*key as usize];
                    if key != other && !same.contains(other) {
                        same.push(*other);
                    }
                }
            }
        }
        for (left, right) in &trade.opposites {
            let left: Vec<WordKey> = left.iter().map(|word| self.learn(cutter, word)).collect();
            let right: Vec<WordKey> = right.iter().map(|word| self.learn(cutter, word)).collect();
            for (one, other) in [(&left, &right), (&right, &left)] {
                for key in one {
                    self.lexicon.opposite[*key as usize].extend(other);
                }
            }
        }
        let fillers = trade
            .list(WordUse::Filler)
            .chain(trade.list(WordUse::HalfFiller));
        let clubs = trade.clubs.iter().chain(&trade.places).map(String::as_str);
        // In one order, whatever the tables they stand in.
        let mut words: Vec<&str> = fillers.chain(clubs).chain(trade.written_out()).collect();
        words.sort_unstable();
        for word in words {
            self.learn(cutter, word);
        }
    }
}

impl Lexicon {
    /// Gives each stem its weight: inverse document frequency on a scale from 0 to 1, with fillers
    /// and clubs held down.
    fn weigh(&mut self, cutter: &mut Cutter, count: u32) {
        let rarest = idf(count, 1);
        self.weights = self
            .documents
            .iter()
            .map(|n| (idf(count, (*n).max(1)) / rarest).max(LEAST_WEIGHT))
            .collect();
        for (stem, weight) in self.stems.iter().zip(&mut self.weights) {
            // A yardage, a count; the shorthand for clubs has letters.
            if stem.bytes().all(|b| b.is_ascii_digit()) {
                *weight = FILLER_WEIGHT;
            }
        }
        let trade = Arc::clone(cutter.trade());
        let mut hold = |lexicon: &mut Self, word: &str, weight: f64| {
            let stem = cutter.stem(word);
            if let Some(key) = lexicon.keys.get(stem.as_str()) {
                lexicon.weights[*key as usize] = weight;
            }
        };
        let lists = [
            (WordUse::Filler, FILLER_WEIGHT),
            (WordUse::HalfFiller, HALF_FILLER_WEIGHT),
        ];
        for (list, weight) in lists {
            for word in trade.list(list) {
                hold(self, word, weight);
            }
        }
        for word in &trade.clubs {
            hold(self, word, CLUB_WEIGHT);
        }
        for word in &trade.places {
            hold(self, word, PLACE_WEIGHT);
        }
    }

    /// Gives the words that few names have more weight: they are what an entry is called by. A name
    /// is given as its keys, each once.
    pub(crate) fn stress<'a>(&mut self, names: impl IntoIterator<Item = &'a [WordKey]>) {
        let mut counts: Vec<u32> = vec![0; self.stems.len()];
        for key in names.into_iter().flatten() {
            counts[*key as usize] += 1;
        }
        for (weight, count) in self.weights.iter_mut().zip(counts) {
            if (1..=FEW_NAMES).contains(&count) && *weight >= LEAST_WEIGHT {
                *weight = (*weight * STRESS).min(1.0);
            }
        }
    }

    /// Every word it knows, in the order in which it met them; that order makes the keys.
    pub(crate) fn words(&self) -> impl Iterator<Item = &str> {
        self.written.iter().map(|written| &*written.word)
    }

    /// For each key in how many documents the stem occurs.
    pub(crate) fn documents(&self) -> &[u32] {
        &self.documents
    }

    /// How many stems it knows; every key is below it.
    pub(crate) fn len(&self) -> usize {
        self.stems.len()
    }

    /// How much a stem says, from 0 to 1.
    pub(crate) fn weight(&self, key: WordKey) -> f64 {
        self.weights[key as usize]
    }

    /// The stems that a stem shuts out.
    pub(crate) fn opposites(&self, key: WordKey) -> &[WordKey] {
        &self.opposite[key as usize]
    }

    /// The key of a stem.
    pub(crate) fn key(&self, stem: &str) -> Option<WordKey> {
        self.keys.get(stem).copied()
    }

    /// Whether a word is known as written.
    pub(crate) fn is_written(&self, word: &str) -> bool {
        self.written_keys.contains_key(word)
    }

    /// The key of the stem of a word that is known as written.
    pub(crate) fn key_as_written(&self, word: &str) -> Option<WordKey> {
        self.written_keys.get(word).copied()
    }

    /// The stem of a key.
    pub(crate) fn stem(&self, key: WordKey) -> &str {
        &self.stems[key as usize]
    }

    /// What a typed word can stand for: itself and what means the same when it is known; otherwise
    /// the words one or two slips of the finger away, and those that it is the beginning of.
    pub(crate) fn meaning(&self, term: &Term) -> Meaning {
        if let Some(key) = self.key(&term.stem) {
            let mut stems = vec![(key, 1.0)];
            stems.extend(
                self.same[key as usize]
                    .iter()
                    .map(|other| (*other, SYNONYM)),
            );
            return Meaning {
                stems,
                weight: self.weight(key),
                known: true,
            };
        }
        if term.word.starts_with(|c: char| c.is_ascii_digit()) {
            // A yardage, a count, `2nd`; a number that matters is one that the library knows.
            return Meaning {
                stems: Vec::new(),
                weight: FILLER_WEIGHT,
                known: false,
            };
        }
        let mut stems: Vec<(WordKey, f64)> = Vec::new();
        let mut offer = |key: WordKey, weight: f64| {
            if let Some(found) = stems.iter_mut().find(|(other, _)| *other == key) {
                found.1 = found.1.max(weight);
            } else {
                stems.push((key, weight));
            }
        };
        for (key, slips) in self.slips(&term.word) {
            let short = term.word.chars().count() <= 4;
            let weight = match slips {
                1 if short => SLIP_IN_FOUR,
                1 => ONE_SLIP,
                _ => TWO_SLIPS,
            };
            offer(key, weight);
            for other in &self.same[key as usize] {
                offer(*other, weight * SYNONYM);
            }
        }
        if term.word.chars().count() >= 3 {
            for written in &self.written {
                if written.word.len() > term.word.len()
                    && written.word.starts_with(term.word.as_str())
                {
                    offer(written.stem, BEGINNING);
                }
            }
        }
        stems.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        stems.truncate(24);
        let weight = stems.first().map_or(UNKNOWN_WEIGHT, |(key, _)| {
            self.weight(*key).max(GUESSED_WEIGHT)
        });
        Meaning {
            stems,
            weight,
            known: false,
        }
    }

    /// Known words within the slips that a word of this length allows, nearest first: none up to
    /// three letters, one up to seven, two beyond. Neighbours swapped are one slip. The first letter
    /// is hardly ever wrong, unless it was swapped with the second. In four letters another letter
    /// makes another word, such as a cafe of a cave, so it takes a letter too many, too few or swapped.
    fn slips(&self, word: &str) -> Vec<(WordKey, usize)> {
        let length = word.chars().count();
        let most = match length {
            0..=3 => return Vec::new(),
            4..=7 => 1,
            _ => 2,
        };
        let mask = letters(word);
        let mut start = word.chars();
        let (first, second) = (start.next(), start.next());
        let mut found: Vec<(WordKey, usize)> = Vec::new();
        for written in &self.written {
            if written.length.abs_diff(length) > most
                || written.length < 3
                || (written.letters ^ mask).count_ones() as usize > 2 * most
            {
                continue;
            }
            let mut other = written.word.chars();
            let (other_first, other_second) = (other.next(), other.next());
            if first != other_first && !(first == other_second && second == other_first) {
                continue;
            }
            let distance = strsim::osa_distance(word, &written.word);
            let another_word = length == 4 && written.length == 4 && written.letters != mask;
            if distance <= most && !(another_word && distance > 0) {
                found.push((written.stem, distance));
            }
        }
        found.sort_by_key(|(key, distance)| (*distance, *key));
        let nearest = found.first().map_or(0, |(_, distance)| *distance);
        found.retain(|(_, distance)| *distance == nearest);
        found
    }

    /// For each stem the shortest word that has it, as written.
    pub(crate) fn written(&self, keys: &[WordKey]) -> Vec<String> {
        keys.iter()
            .filter_map(|key| {
                self.written
                    .iter()
                    .filter(|written| written.stem == *key)
                    .min_by_key(|written| written.length)
                    .map(|written| written.word.to_string())
            })
            .collect()
    }

    /// Up to `n` known words that lie nearest to one that nobody knows.
    pub(crate) fn nearest(&self, word: &str, n: usize) -> Vec<String> {
        let known = self
            .written
            .iter()
            .filter(|written| written.length > 3)
            .map(|written| &*written.word);
        crate::knowledge::nearest(word, known, n)
            .into_iter()
            .map(str::to_owned)
            .collect()
    }
}

/// BM25's inverse document frequency (Robertson and Sparck Jones's, with one added so that it stays
/// above 0).
fn idf(documents: u32, with: u32) -> f64 {
    let (all, with) = (f64::from(documents), f64::from(with));
    (1.0 + (all - with + 0.5).max(0.0) / (with + 0.5)).ln()
}

/// Which letters a word has, one bit each.
fn letters(word: &str) -> u64 {
    word.chars()
        .fold(0, |mask, letter| mask | 1 << (u32::from(letter) % 64))
}
