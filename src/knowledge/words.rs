//! The words a library may use in place of numbers, and what they stand for.
//!
//! Strengths use the verbal scale of Renooij S. and Witteman C. (1999), Talking probabilities:
//! communicating probabilistic information with words and numbers, International Journal of
//! Approximate Reasoning 22:169-194. The numbers are from memory of that paper (its abstract was
//! read). `certain` is capped at 0.99, so that no contradiction between observations can divide by
//! zero; `impossible` is not offered, because a link that never acts is a link to leave out.
//!
//! How common a condition is among golfers who take lessons has words of our own.

/// Words for how strongly a cause brings an effect about, and for how well a drill works.
pub const STRENGTH_WORDS: &[(&str, f64)] = &[
    ("certain", 0.99),
    ("probable", 0.85),
    ("expected", 0.75),
    ("fifty-fifty", 0.50),
    ("uncertain", 0.25),
    ("improbable", 0.15),
];

/// Words for the share of golfers who take lessons that have a condition.
pub const COMMON_WORDS: &[(&str, f64)] = &[
    ("rare", 0.02),
    ("uncommon", 0.06),
    ("occasional", 0.12),
    ("common", 0.22),
    ("very-common", 0.35),
    ("usual", 0.50),
];

/// Words for a leak: the chance that a condition is there with no cause that the library knows.
pub const LEAK_WORDS: &[(&str, f64)] = &[
    ("hardly-ever", 0.005),
    ("seldom", 0.02),
    ("sometimes", 0.08),
    ("often", 0.20),
];

/// What a condition's share is taken to be when the library does not say how common it is.
pub const DEFAULT_SHARE: f64 = 0.10;

/// What a remedy is taken to do when the library does not say how well it works, and what a cause
/// with no remedy at all counts as: as good as not.
pub const DEFAULT_EFFECT: f64 = 0.50;

/// The number behind a word on one of the scales, if the word is on it.
#[must_use]
pub fn number_of(scale: &[(&str, f64)], word: &str) -> Option<f64> {
    scale
        .iter()
        .find(|(known, _)| known.eq_ignore_ascii_case(word))
        .map(|(_, number)| *number)
}

/// The word on a scale that lies nearest to a number.
#[must_use]
pub fn nearest_word<'a>(scale: &[(&'a str, f64)], number: f64) -> &'a str {
    scale
        .iter()
        .min_by(|a, b| (a.1 - number).abs().total_cmp(&(b.1 - number).abs()))
        .map_or("", |(word, _)| word)
}

/// The scale as one line for a message: `certain 0.99, probable 0.85, ...`.
#[must_use]
pub fn scale_line(scale: &[(&str, f64)]) -> String {
    scale
        .iter()
        .map(|(word, number)| format!("{word} {number}"))
        .collect::<Vec<_>>()
        .join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Renooij and Witteman (1999), numbers from memory; `certain` capped by us.
    #[test]
    fn strengths_follow_the_published_scale() {
        let stated = [
            ("certain", 0.99),
            ("probable", 0.85),
            ("expected", 0.75),
            ("fifty-fifty", 0.50),
            ("uncertain", 0.25),
            ("improbable", 0.15),
        ];
        for (word, number) in stated {
            assert_eq!(number_of(STRENGTH_WORDS, word), Some(number), "{word}");
        }
        assert_eq!(number_of(STRENGTH_WORDS, "sure"), None);
    }

    #[test]
    fn the_nearest_word_is_found() {
        assert_eq!(nearest_word(STRENGTH_WORDS, 0.8), "probable");
        assert_eq!(nearest_word(STRENGTH_WORDS, 0.3), "uncertain");
    }
}
