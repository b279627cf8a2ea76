//! What a phrase means by all the ways of saying each entry at once.
//!
//! A name or alias that comes near says little by itself: of ten thousand, some wrong one always does.
//! That many ways of saying one entry come somewhat near says much. So every saying of the library votes
//! for its entry with the cube of its likeness to the phrase, the cosine of their letter groups weighed
//! by inverse document frequency (a kernel classifier over character n-grams). On two sets of phrases that
//! were written without sight of the sayings, votes joined with the score of the nearest saying met the
//! meaning in 66 and 63 of 100, where the score alone met it in 58 and 56.

use super::term::FastMap;
use crate::knowledge::ConditionKey;

/// Letters in a group; words are cut singly, with a blank before and behind. Pairs of words that stand
/// together, and with one word between, are groups too: `back is sore` shares letters with `back nine`, and
/// a pair only with what is said alike.
const GROUPS: [usize; 2] = [3, 4];
/// Groups are kept by their hash, of so many bits: some twelve thousand of letters, and seventy of pairs.
const BITS: u32 = 18;
/// How steeply a saying's vote grows with its likeness. Of the first of
/// those sets, by votes alone, 2 met 56 of 100, 2.5 met 60, 3 met 63, 5 met 59.
const STEEP: i32 = 3;

/// What is added to how many sayings of an entry have a group, so that one that none has does not shut the
/// entry out (Lidstone).
const UNSEEN: f64 = 0.3;
/// How the evidence of the groups counts, averaged over a phrase as the groups are no independent
/// witnesses, and how the share of the votes counts beside it.
const BY_GROUPS: f64 = 4.0;
const BY_SHARE: f64 = 0.6;

/// The sayings of a library, ready to vote. Thousands of sayings are made of a few thousand words, so that
/// letter groups are filed by word and words by saying. A group that two words of one saying have counts
/// for both in how common it is and in how long the saying is; in the product it counts once.
pub(super) struct Kernel {
    /// The words that have a letter group, by its hash.
    words: Filed,
    /// The sayings that have a word.
    in_sayings: Filed,
    /// The sayings that have a pair of words, by its hash.
    pairs: Filed,
    /// How often each letter group is met.
    counts: Vec<u32>,
    /// For each saying one over the length of its vector.
    scale: Vec<f32>,
    /// For each saying what it means.
    means: Vec<usize>,
    meanings: usize,
    /// For each meaning how many groups its sayings have in all.
    sizes: Vec<f64>,
    /// How many different groups there are.
    different: f64,
}

/// A group of a phrase.
#[derive(Clone, Copy)]
enum Group {
    Letters(usize),
    Pair(usize),
}

impl Kernel {
    /// Of sayings with what they mean, each a number below `meanings`.
    pub(super) fn new<'a>(
        sayings: impl Iterator<Item = (&'a str, usize)>,
        meanings: usize,
    ) -> Self {
        let mut means = Vec::new();
        let mut cut = CutTexts::default();
        for (text, meaning) in sayings {
            cut.add(text);
            means.push(meaning);
        }
        let pairs = Filed::new(1 << BITS, &cut.pairs);
        let in_sayings = Filed::new(cut.words.len(), &cut.uses);
        let letters = cut.letters.iter().zip(0..);
        let of_words: Vec<(u32, u32)> = letters
            .flat_map(|(groups, word)| groups.iter().map(move |group| (*group, word)))
            .collect();
        let words = Filed::new(1 << BITS, &of_words);
        let mut counts = vec![0; 1 << BITS];
        for (group, word) in &of_words {
            counts[*group as usize] += in_sayings.count(*word as usize);
        }
        let mut kernel = Self {
            words,
            in_sayings,
            pairs,
            counts,
            scale: vec![0.0; means.len()],
            means,
            meanings,
            sizes: vec![0.0; meanings],
            different: 0.0,
        };
        kernel.measure(&cut);
        kernel
    }

    /// How long each saying is, and how many groups there are.
    fn measure(&mut self, cut: &CutTexts<'_>) {
        let square = |group: Group| self.weight(group).powi(2);
        let of_word = |groups: &Vec<u32>| -> f32 {
            let groups = groups.iter().map(|group| Group::Letters(*group as usize));
            groups.map(square).sum()
        };
        let squares: Vec<f32> = cut.letters.iter().map(of_word).collect();
        let mut scale = vec![0.0_f32; self.means.len()];
        for (word, saying) in &cut.uses {
            scale[*saying as usize] += squares[*word as usize];
            #[allow(clippy::cast_precision_loss, reason = "groups of a word")]
            let groups = cut.letters[*word as usize].len() as f64;
            self.sizes[self.means[*saying as usize]] += groups;
        }
        for (pair, saying) in &cut.pairs {
            scale[*saying as usize] += self.weight(Group::Pair(*pair as usize)).powi(2);
            self.sizes[self.means[*saying as usize]] += 1.0;
        }
        for square in scale.iter_mut().filter(|square| **square > 0.0) {
            *square = square.sqrt().recip();
        }
        self.scale = scale;
        let letters = self.counts.iter().filter(|count| **count > 0).count();
        let pairs = (0..1 << BITS).filter(|pair| self.pairs.count(*pair) > 0);
        #[allow(clippy::cast_precision_loss, reason = "counts of groups")]
        let different = (letters + pairs.count()) as f64;
        self.different = different;
    }

    /// The inverse document frequency of a group.
    #[allow(clippy::cast_precision_loss, reason = "counts of sayings")]
    fn weight(&self, group: Group) -> f32 {
        let all = self.means.len() as f32;
        let count = match group {
            Group::Letters(group) => (self.counts[group] as f32).min(all),
            Group::Pair(pair) => self.pairs.count(pair) as f32,
        };
        ((1.0 + all) / (1.0 + count)).ln() + 1.0
    }

    /// The votes for each meaning, shared out anew by all that its sayings have in common: multinomial naive
    /// Bayes over the same groups, each counted by its inverse document frequency, joined with the shares of
    /// the votes; docs/search.md has what that gained.
    /// The sum of the votes stays, as it says how near the phrase comes to anything.
    pub(super) fn weighed(&self, phrase: &str) -> Vec<f64> {
        let (mut votes, evidence) = self.heard(phrase);
        let sum: f64 = votes.iter().sum();
        if sum <= 0.0 {
            return votes;
        }
        let scores: Vec<f64> = (0..self.meanings)
            .map(|meaning| {
                let base = UNSEEN / (self.sizes[meaning] + UNSEEN * self.different);
                let groups = evidence[meaning] + libm::log(base);
                let share = libm::log((votes[meaning] + 1e-6) / (sum + 1e-3));
                BY_GROUPS * groups + BY_SHARE * share
            })
            .collect();
        let most = scores.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let odds: Vec<f64> = scores.iter().map(|score| libm::exp(score - most)).collect();
        let all: f64 = odds.iter().sum();
        for (vote, odds) in votes.iter_mut().zip(odds) {
            *vote = sum * odds / all;
        }
        votes
    }

    /// The votes for each meaning; 0 or more, not brought to a sum.
    pub(super) fn votes(&self, phrase: &str) -> Vec<f64> {
        self.heard(phrase).0
    }

    /// The votes for each meaning, and beside them the mean over the groups of a phrase, by their weights, of
    /// the logarithm of how many of its sayings have the group, beside a group that none has.
    fn heard(&self, phrase: &str) -> (Vec<f64>, Vec<f64>) {
        let mut products = vec![0.0_f32; self.means.len()];
        let mut evidence = vec![0.0; self.meanings];
        let mut having = vec![0_u32; self.meanings];
        let mut last = vec![0_u32; self.means.len()];
        let mut met: Vec<usize> = Vec::new();
        let (mut square, mut whole) = (0.0_f32, 0.0);
        for (group, number) in self.groups(phrase).into_iter().zip(1..) {
            let weight = self.weight(group);
            square += weight.powi(2);
            whole += f64::from(weight);
            self.having(group, |saying| {
                if std::mem::replace(&mut last[saying], number) == number {
                    return;
                }
                products[saying] += weight.powi(2);
                let meaning = self.means[saying];
                having[meaning] += 1;
                if having[meaning] == 1 {
                    met.push(meaning);
                }
            });
            for meaning in met.drain(..) {
                let count = std::mem::take(&mut having[meaning]);
                evidence[meaning] += f64::from(weight) * (f64::from(count) / UNSEEN).ln_1p();
            }
        }
        let mut votes = vec![0.0; self.meanings];
        if square > 0.0 {
            evidence.iter_mut().for_each(|sum| *sum /= whole);
            let length = square.sqrt().recip();
            for (saying, product) in products.iter().enumerate().filter(|(_, p)| **p > 0.0) {
                let cosine = product * self.scale[saying] * length;
                votes[self.means[saying]] += f64::from(cosine.powi(STEEP));
            }
        }
        (votes, evidence)
    }

    /// The groups of a phrase, each once.
    fn groups(&self, phrase: &str) -> Vec<Group> {
        let mut letters = Vec::new();
        groups_of(phrase, &mut letters);
        let mut words = Vec::new();
        words_of(phrase, &mut words);
        let mut pairs = Vec::new();
        pairs_of(&words, |pair| pairs.push(pair));
        pairs.sort_unstable();
        pairs.dedup();
        let letters = letters
            .into_iter()
            .map(|group| Group::Letters(group as usize));
        let pairs = pairs.into_iter().map(|pair| Group::Pair(pair as usize));
        letters.chain(pairs).collect()
    }

    /// Tells the sayings that have a group, one perhaps more than once.
    fn having(&self, group: Group, mut tell: impl FnMut(usize)) {
        match group {
            Group::Letters(group) => {
                for word in self.words.under(group) {
                    for saying in self.in_sayings.under(*word as usize) {
                        tell(*saying as usize);
                    }
                }
            }
            Group::Pair(pair) => {
                for saying in self.pairs.under(pair) {
                    tell(*saying as usize);
                }
            }
        }
    }
}

/// Numbers filed under numbers.
struct Filed {
    /// Where those under each begin.
    from: Vec<u32>,
    all: Vec<u32>,
}

impl Filed {
    /// Of pairs, each a number below `places` and what is filed under it, in their order.
    fn new(places: usize, pairs: &[(u32, u32)]) -> Self {
        let mut from = vec![0_u32; places + 1];
        for (place, _) in pairs {
            from[*place as usize] += 1;
        }
        // The end of each; filing from the last on moves it to where the place begins.
        let mut sum = 0;
        for count in &mut from {
            sum += *count;
            *count = sum;
        }
        let mut all = vec![0; pairs.len()];
        for (place, what) in pairs.iter().rev() {
            let at = &mut from[*place as usize];
            *at -= 1;
            all[*at as usize] = *what;
        }
        Self { from, all }
    }

    fn under(&self, place: usize) -> &[u32] {
        &self.all[self.from[place] as usize..self.from[place + 1] as usize]
    }

    fn count(&self, place: usize) -> u32 {
        self.from[place + 1] - self.from[place]
    }
}

/// How much of what a score lacks an entry gains that has all of many votes.
const BY_VOTES: f64 = 0.45;
/// With so many votes in all an entry gains half of that: words that have nothing to do with the library
/// get a hundredth here and there, and where one entry gets all of it that is no agreement.
const FEW_VOTES: f64 = 0.5;
/// How steeply the score counts beside the votes. Alone the votes met 63 and 55 of 100 in two sets of
/// phrases, the score 58 and 56; votes times score 64 and 61, times its square 66 and 63, its cube the
/// same.
const BY_SCORE: i32 = 2;
/// What makes a ratio of scores of a ratio of votes times squared scores: a second with seven tenths of
/// the first, where three in five first ones are right, has 0.94 of its score.
const RATIO: f64 = 1.0 / 6.0;

/// Joins the votes with scores by what the words say, each from 0 to about 1, in place.
pub(super) fn joined(votes: &[f64], scored: Vec<(ConditionKey, &mut f64)>) {
    let weight = |key: ConditionKey, score: f64| votes[key.0] * score.powi(BY_SCORE);
    let weights: Vec<f64> = scored
        .iter()
        .map(|(key, score)| weight(*key, **score))
        .collect();
    let sum: f64 = weights.iter().sum();
    let Some(first) = (0..weights.len()).max_by(|a, b| weights[*a].total_cmp(&weights[*b])) else {
        return;
    };
    if sum <= 0.0 {
        return;
    }
    let best = scored[first].1.min(1.0);
    let cast = votes[scored[first].0.0];
    let sure = weights[first] / sum * cast / (cast + FEW_VOTES);
    let best = best + (1.0 - best) * BY_VOTES * sure;
    let most = weights[first];
    for ((_, score), weight) in scored.into_iter().zip(weights) {
        *score = best * (weight / most).powf(RATIO);
    }
}

/// CutTexts cut into words.
#[derive(Default)]
struct CutTexts<'t> {
    words: FastMap<&'t str, u32>,
    /// The letter groups of each word, each once.
    letters: Vec<Vec<u32>>,
    /// Each word with the texts that have it, and the hashes of what it is for pairs.
    uses: Vec<(u32, u32)>,
    hashes: Vec<Vec<u32>>,
    /// The last text that had each word, counted from 1.
    last: Vec<u32>,
    /// Each pair of words with the texts that have it.
    pairs: Vec<(u32, u32)>,
    count: u32,
    row: Vec<u32>,
}

impl<'t> CutTexts<'t> {
    fn add(&mut self, text: &'t str) {
        let number = self.count;
        self.count += 1;
        self.row.clear();
        for word in text.split(' ') {
            let key = *self.words.entry(word).or_insert_with(|| {
                let mut letters = Vec::new();
                groups_of(word, &mut letters);
                self.letters.push(letters);
                let mut hashes = Vec::new();
                words_of(word, &mut hashes);
                self.hashes.push(hashes);
                self.last.push(0);
                u32::try_from(self.last.len() - 1).unwrap_or(u32::MAX)
            });
            self.row.extend(&self.hashes[key as usize]);
            let last = &mut self.last[key as usize];
            if *last != number + 1 {
                *last = number + 1;
                self.uses.push((key, number));
            }
        }
        let begins = self.pairs.len();
        pairs_of(&self.row, |pair| self.pairs.push((pair, number)));
        self.pairs[begins..].sort_unstable();
        let mut kept = begins;
        for at in begins..self.pairs.len() {
            if at == begins || self.pairs[at] != self.pairs[kept - 1] {
                self.pairs[kept] = self.pairs[at];
                kept += 1;
            }
        }
        self.pairs.truncate(kept);
    }
}

/// Tells the pairs of a row of words, by their hashes.
fn pairs_of(words: &[u32], mut tell: impl FnMut(u32)) {
    for gap in [1, 2] {
        for two in words.windows(gap as usize + 1) {
            tell(hash(&[gap, two[0], two[gap as usize]]));
        }
    }
}

/// Adds the hash of each word of a text.
fn words_of(text: &str, hashes: &mut Vec<u32>) {
    let mut letters: Vec<u32> = Vec::with_capacity(24);
    for word in text.split(|letter: char| !letter.is_alphanumeric() && letter != '\'') {
        letters.clear();
        let spoken = word.chars().filter(|letter| *letter != '\'');
        letters.extend(spoken.flat_map(char::to_lowercase).map(u32::from));
        if !letters.is_empty() {
            hashes.push(hash(&letters));
        }
    }
}

/// Adds the letter groups of a text, each once, by their hashes.
fn groups_of(text: &str, groups: &mut Vec<u32>) {
    let start = groups.len();
    let mut word: Vec<u32> = Vec::with_capacity(24);
    let mut close = |word: &mut Vec<u32>| {
        if word.len() > 1 {
            word.push(u32::from(' '));
            for size in GROUPS {
                if word.len() <= size {
                    groups.push(hash(word));
                } else {
                    groups.extend(word.windows(size).map(hash));
                }
            }
        }
        word.clear();
        word.push(u32::from(' '));
    };
    close(&mut word);
    for letter in text.chars() {
        if letter.is_alphanumeric() {
            word.extend(letter.to_lowercase().map(u32::from));
        } else if letter != '\'' {
            close(&mut word);
        }
    }
    close(&mut word);
    groups[start..].sort_unstable();
    let mut kept = start;
    for at in start..groups.len() {
        if at == start || groups[at] != groups[kept - 1] {
            groups[kept] = groups[at];
            kept += 1;
        }
    }
    groups.truncate(kept);
}

/// A group's hash, below 2 to the power of [`BITS`] (FNV-1a over its letters, folded).
fn hash(letters: &[u32]) -> u32 {
    let hash = letters.iter().fold(0x811c_9dc5_u32, |hash, letter| {
        (hash ^ letter).wrapping_mul(0x0100_0193)
    });
    (hash ^ (hash >> BITS)) & ((1 << BITS) - 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    const A: ConditionKey = ConditionKey(0);
    const B: ConditionKey = ConditionKey(1);

    #[test]
    fn a_saying_votes_with_the_cube_of_its_cosine() {
        let sayings = [("fat", A.0), ("thin", B.0), ("fat shot", B.0)];
        let kernel = Kernel::new(sayings.into_iter(), 2);
        let votes = kernel.votes("Fat!");
        // Groups of `fat`: ` fa`, `fat`, `at `, ` fat`, `fat `; two of three sayings have them. `fat shot`
        // has seven more of its own, and a pair.
        let both = (4.0_f64 / 3.0).ln() + 1.0;
        let one = 2.0_f64.ln() + 1.0;
        let cosine = (5.0 * both * both / (5.0 * both * both + 8.0 * one * one)).sqrt();
        assert!((votes[A.0] - 1.0).abs() < 1e-5, "{votes:?}");
        assert!((votes[B.0] - cosine.powi(3)).abs() < 1e-5, "{votes:?}");
        assert_eq!(kernel.votes("?!"), [0.0, 0.0]);
    }

    /// By hand: both have the five groups of `fat`, once each; one has five in all, the other thirteen of
    /// `fat shot` and seven of `thin`; eighteen and seven are different.
    #[test]
    fn votes_are_shared_out_by_naive_bayes_and_their_own_shares() {
        let sayings = [("fat", A.0), ("thin", B.0), ("fat shot", B.0)];
        let kernel = Kernel::new(sayings.into_iter(), 2);
        let (votes, weighed) = (kernel.votes("fat"), kernel.weighed("fat"));
        let sum = votes[A.0] + votes[B.0];
        assert!((weighed[A.0] + weighed[B.0] - sum).abs() < 1e-9);
        let thin = kernel.sizes[B.0] - 13.0;
        assert!(
            (kernel.sizes[A.0] - 5.0).abs() < 1e-9 && (thin - 7.0).abs() < 1e-9,
            "{thin}"
        );
        let base = |size: f64| (UNSEEN / (size + UNSEEN * 20.0)).ln();
        let share = |vote: f64| ((vote + 1e-6) / (sum + 1e-3)).ln();
        let apart =
            BY_GROUPS * (base(5.0) - base(20.0)) + BY_SHARE * (share(votes[0]) - share(votes[1]));
        assert!(
            ((weighed[A.0] / weighed[B.0]).ln() - apart).abs() < 1e-5,
            "{weighed:?}"
        );
        assert_eq!(kernel.weighed("?!"), [0.0, 0.0]);
    }

    #[test]
    fn votes_turn_scores_that_are_near_and_not_those_that_are_far_apart() {
        let after = |votes: &[f64], mut a: f64, mut b: f64| {
            joined(votes, vec![(A, &mut a), (B, &mut b)]);
            (a, b)
        };
        let (a, b) = after(&[0.2, 0.8], 0.70, 0.66);
        assert!(b > a && b > 0.66 && b < 1.0);
        let (a, b) = after(&[0.4, 0.8], 0.9, 0.3);
        assert!(a > b);
        // Nothing votes for either: the scores stand.
        assert_eq!(after(&[0.0, 0.0], 0.7, 0.6), (0.7, 0.6));
    }
}
