//! "Did you mean": the known words that lie nearest to a word nobody knows.

/// Below this likeness, from 0 to 1, a suggestion would puzzle more than it helps. Judged on pairs
/// such as `nmae`/`name` (0.75), `open-clubfase`/`open-clubface` (0.92).
const LIKE_ENOUGH: f64 = 0.55;

/// Longer words are not compared: no id is that long, and the work grows with the square.
const LONGEST: usize = 80;

/// Up to `n` candidates that `word` may have been meant for, nearest first, ties in the order given.
///
/// Likeness is the larger of two: the edit distance with neighbours swapped counted once, divided by
/// the longer length and taken from 1 (a slip of the finger); and the share of parts between hyphens
/// and blanks that both have (the right words in another order).
///
/// ```
/// use fairwhy::knowledge::nearest;
/// let known = ["open-clubface", "grip-too-weak"];
/// assert_eq!(nearest("open-clubfase", known, 3), ["open-clubface"]);
/// assert!(nearest("putter", known, 3).is_empty());
/// ```
#[must_use]
pub fn nearest<'a>(
    word: &str,
    candidates: impl IntoIterator<Item = &'a str>,
    n: usize,
) -> Vec<&'a str> {
    if word.is_empty() || word.len() > LONGEST {
        return Vec::new();
    }
    let word = word.to_lowercase();
    let mut scored: Vec<(f64, &str)> = candidates
        .into_iter()
        .filter(|candidate| candidate.len() <= LONGEST)
        .map(|candidate| (likeness(&word, &candidate.to_lowercase()), candidate))
        .filter(|(score, _)| *score >= LIKE_ENOUGH)
        .collect();
    scored.sort_by(|a, b| b.0.total_cmp(&a.0));
    scored.dedup_by(|a, b| a.1 == b.1);
    scored.truncate(n);
    scored.into_iter().map(|(_, candidate)| candidate).collect()
}

/// From 0 (nothing in common) to 1 (the same).
fn likeness(a: &str, b: &str) -> f64 {
    let longer = a.chars().count().max(b.chars().count()).max(1);
    let slips = 1.0 - ratio(strsim::osa_distance(a, b), longer);
    let split = |text: &str| -> Vec<String> {
        text.split(|c: char| !c.is_alphanumeric())
            .filter(|part| !part.is_empty())
            .map(str::to_owned)
            .collect()
    };
    let (left, right) = (split(a), split(b));
    let shared = left.iter().filter(|part| right.contains(part)).count();
    let parts = ratio(2 * shared, (left.len() + right.len()).max(1));
    slips.max(parts)
}

#[allow(
    clippy::cast_precision_loss,
    reason = "both are at most a few hundred characters"
)]
fn ratio(part: usize, whole: usize) -> f64 {
    part as f64 / whole as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_and_a_swap_are_both_found() {
        assert_eq!(nearest("nmae", ["id", "name", "stage"], 1), ["name"]);
        assert_eq!(
            nearest("clubface-open", ["open-clubface", "open-stance"], 2),
            ["open-clubface"]
        );
    }

    #[test]
    fn nothing_like_it_gives_nothing() {
        assert!(nearest("zzz", ["name", "stage"], 3).is_empty());
        assert!(nearest("", ["name"], 3).is_empty());
        assert!(nearest(&"a".repeat(10_000), ["name"], 3).is_empty());
    }
}
