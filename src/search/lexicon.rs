//! The words that the library and the trade know, with how much each one says.

use super::term::{Cutter, Term};
use super::trade;
use std::collections::{HashMap, HashSet};

/// A word's place in the lexicon.
pub(super) type WordKey = u32;

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
pub(super) struct Lexicon {
    stems: Vec<String>,
    keys: HashMap<String, WordKey>,
    /// Words as written, without accents, with the stem each belongs to and the letters in it; what
    /// slips of the finger are compared with.
    written: Vec<Written>,
    written_keys: HashSet<String>,
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
    word: String,
    stem: WordKey,
    letters: u64,
    length: usize,
}

/// What one typed word can stand for.
#[derive(Clone, Debug)]
pub(super) struct Meaning {
    /// Each known stem and how much a match with it counts, best first.
    pub(super) stems: Vec<(WordKey, f64)>,
    /// How much the word says, from 0 to 1.
    pub(super) weight: f64,
    /// Whether the lexicon knows it as written.
    pub(super) known: bool,
}

impl Lexicon {
    /// A lexicon over texts given as terms, one list a document; words of `more` are known, but how
    /// common they are there does not count.
    pub(super) fn new<'a>(
        cutter: &mut Cutter,
        documents: impl IntoIterator<Item = Vec<&'a [Term]>>,
        more: impl IntoIterator<Item = &'a [Term]>,
    ) -> Self {
        let mut lexicon = Self {
            stems: Vec::new(),
            keys: HashMap::new(),
            written: Vec::new(),
            written_keys: HashSet::new(),
            documents: Vec::new(),
            same: Vec::new(),
            opposite: Vec::new(),
            weights: Vec::new(),
        };
        let mut last_seen: Vec<u32> = Vec::new();
        let mut count: u32 = 0;
        for document in documents {
            count += 1;
            for term in document.into_iter().flatten() {
                let key = lexicon.add(&term.word, &term.stem);
                last_seen.resize(lexicon.stems.len(), 0);
                if last_seen[key as usize] != count {
                    last_seen[key as usize] = count;
                    lexicon.documents[key as usize] += 1;
                }
            }
        }
        for term in more.into_iter().flatten() {
            lexicon.add(&term.word, &term.stem);
        }
        lexicon.learn_trade(cutter);
        lexicon.weigh(cutter, count);
        lexicon
    }

    fn add(&mut self, word: &str, stem: &str) -> WordKey {
        let key = if let Some(key) = self.keys.get(stem) {
            *key
        } else {
            let key = WordKey::try_from(self.stems.len()).expect("fewer words than four milliards");
            self.stems.push(stem.to_owned());
            self.keys.insert(stem.to_owned(), key);
            self.documents.push(0);
            self.same.push(Vec::new());
            self.opposite.push(Vec::new());
            key
        };
        if self.written_keys.insert(word.to_owned()) {
            self.written.push(Written {
                word: word.to_owned(),
                stem: key,
                letters: letters(word),
                length: word.chars().count(),
            });
        }
        key
    }

    fn learn(&mut self, cutter: &mut Cutter, word: &str) -> WordKey {
        let stem = cutter.stem(word);
        self.add(word, &stem)
    }

    fn learn_trade(&mut self, cutter: &mut Cutter) {
        for group in trade::SAME {
            let keys: Vec<WordKey> = group.iter().map(|word| self.learn(cutter, word)).collect();
            for key in &keys {
                for other in &keys {
                    if key != other && !self.same[*key as usize].contains(other) {
                        self.same[*key as usize].push(*other);
                    }
                }
            }
        }
        for (left, right) in trade::OPPOSITES {
            let left: Vec<WordKey> = left.iter().map(|word| self.learn(cutter, word)).collect();
            let right: Vec<WordKey> = right.iter().map(|word| self.learn(cutter, word)).collect();
            for (one, other) in [(&left, &right), (&right, &left)] {
                for key in one {
                    self.opposite[*key as usize].extend(other);
                }
            }
        }
        for word in trade::FILLER.iter().chain(trade::HALF_FILLER) {
            self.learn(cutter, word);
        }
        for word in trade::HINTS.iter().flat_map(|(words, _)| *words) {
            self.learn(cutter, word);
        }
        for word in trade::STANDS_FOR
            .iter()
            .flat_map(|(_, words)| words.split(' '))
        {
            self.learn(cutter, word);
        }
    }

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
        let mut hold = |lexicon: &mut Self, words: &[&str], weight: f64| {
            for word in words {
                let stem = cutter.stem(word);
                if let Some(key) = lexicon.keys.get(&stem) {
                    lexicon.weights[*key as usize] = weight;
                }
            }
        };
        hold(self, trade::FILLER, FILLER_WEIGHT);
        hold(self, trade::HALF_FILLER, HALF_FILLER_WEIGHT);
        for (words, _) in trade::HINTS {
            hold(self, words, CLUB_WEIGHT);
        }
        hold(self, trade::PLACES, PLACE_WEIGHT);
    }

    /// Gives the words that few names have more weight: they are what an entry is called by.
    pub(super) fn stress<'a>(&mut self, names: impl IntoIterator<Item = &'a [Term]>) {
        let mut counts: HashMap<WordKey, u32> = HashMap::new();
        for name in names {
            let mut keys: Vec<WordKey> = name
                .iter()
                .filter_map(|term| self.key(&term.stem))
                .collect();
            keys.sort_unstable();
            keys.dedup();
            for key in keys {
                *counts.entry(key).or_default() += 1;
            }
        }
        for (key, count) in counts {
            let weight = &mut self.weights[key as usize];
            if count <= FEW_NAMES && *weight >= LEAST_WEIGHT {
                *weight = (*weight * STRESS).min(1.0);
            }
        }
    }

    /// How much a stem says, from 0 to 1.
    pub(super) fn weight(&self, key: WordKey) -> f64 {
        self.weights[key as usize]
    }

    /// The stems that a stem shuts out.
    pub(super) fn opposites(&self, key: WordKey) -> &[WordKey] {
        &self.opposite[key as usize]
    }

    /// The key of a stem.
    pub(super) fn key(&self, stem: &str) -> Option<WordKey> {
        self.keys.get(stem).copied()
    }

    /// Whether a word is known as written.
    pub(super) fn is_written(&self, word: &str) -> bool {
        self.written_keys.contains(word)
    }

    /// The stem of a key.
    pub(super) fn stem(&self, key: WordKey) -> &str {
        &self.stems[key as usize]
    }

    /// What a typed word can stand for: itself and what means the same when it is known; otherwise
    /// the words one or two slips of the finger away, and those that it is the beginning of.
    pub(super) fn meaning(&self, term: &Term) -> Meaning {
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
                if written.word.len() > term.word.len() && written.word.starts_with(&term.word) {
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
    /// is hardly ever wrong, unless it was swapped with the second.
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
            if distance <= most {
                found.push((written.stem, distance));
            }
        }
        found.sort_by_key(|(key, distance)| (*distance, *key));
        let nearest = found.first().map_or(0, |(_, distance)| *distance);
        found.retain(|(_, distance)| *distance == nearest);
        found
    }

    /// For each stem the shortest word that has it, as written.
    pub(super) fn written(&self, keys: &[WordKey]) -> Vec<String> {
        keys.iter()
            .filter_map(|key| {
                self.written
                    .iter()
                    .filter(|written| written.stem == *key)
                    .min_by_key(|written| written.length)
                    .map(|written| written.word.clone())
            })
            .collect()
    }

    /// Up to `n` known words that lie nearest to one that nobody knows.
    pub(super) fn nearest(&self, word: &str, n: usize) -> Vec<String> {
        let known = self
            .written
            .iter()
            .filter(|written| written.length > 3)
            .map(|written| written.word.as_str());
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
