//! What a set of drills is expected to clear.
//!
//! For at most two priorities A and B, with `clears` the share of what was seen that would be gone
//! with a set of starts removed, and `e_A`, `e_B` the chance that the chosen drills mend each:
//!
//! ```text
//! expected = e_A (1 - e_B) clears(A) + (1 - e_A) e_B clears(B) + e_A e_B clears(A, B)
//! ```
//!
//! Drills on one rung of the ladder stand in for each other, so only the best of a rung counts.
//! Rungs build on each other, but they are not independent tries at the same thing, so every rung
//! after the best counts for [`FURTHER_RUNG`] of its effect:
//!
//! ```text
//! e = 1 - (1 - m_1) * PRODUCT over the other rungs r of (1 - m_r / 2)
//! ```
//!
//! with `m_r` the largest effect on rung r and `m_1` the largest of all. Both only grow when a drill
//! is added: raising any `m_r` lowers the product, and a new largest one takes the place of the old
//! with a factor that is at most as large. So does `expected`, because `clears` is monotone.

/// How many rungs the ladder has.
pub(crate) const RUNGS: usize = 5;

/// At most this many priorities.
pub(crate) const PRIORITIES: usize = 2;

/// How much of its effect a further rung counts for. Our own choice: in full would treat a second
/// drill for one fault as a fresh, independent try, and promise far too much; nothing would say that
/// climbing the ladder is useless.
pub const FURTHER_RUNG: f64 = 0.5;

/// The chance that drills mend a start, from the best effect on each rung (0 where there is none).
pub(crate) fn mended(best: &[f64; RUNGS]) -> f64 {
    let mut first = 0;
    for rung in 1..RUNGS {
        if best[rung] > best[first] {
            first = rung;
        }
    }
    let left: f64 = best
        .iter()
        .enumerate()
        .map(|(rung, effect)| {
            if rung == first {
                1.0 - effect
            } else {
                1.0 - effect * FURTHER_RUNG
            }
        })
        .product();
    1.0 - left
}

/// What mending each priority alone, and both, would clear; shares from 0 to 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Gains {
    /// Each alone; 0 for a priority that is not there.
    pub alone: [f64; PRIORITIES],
    /// Both; at least the larger of the two.
    pub both: f64,
}

impl Gains {
    /// One priority.
    pub(crate) fn single(clears: f64) -> Self {
        Self {
            alone: [clears, 0.0],
            both: clears,
        }
    }

    /// The expected share cleared, with the chance that each is mended.
    pub(crate) fn expected(&self, mended: [f64; PRIORITIES]) -> f64 {
        let [a, b] = mended;
        a * (1.0 - b) * self.alone[0] + (1.0 - a) * b * self.alone[1] + a * b * self.both
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// 1 - (1 - 0.8)(1 - 0.6/2)(1 - 0.5/2) = 1 - 0.2 * 0.7 * 0.75 = 0.895, by hand.
    #[test]
    fn the_best_rung_counts_in_full_and_the_others_half() {
        assert!((mended(&[0.6, 0.8, 0.5, 0.0, 0.0]) - 0.895).abs() < 1e-12);
        assert!(mended(&[0.0; RUNGS]).abs() < 1e-12);
    }

    /// 0.5 * 0.5 * 0.4 + 0.5 * 0.5 * 0.2 + 0.25 * 0.7 = 0.325, by hand.
    #[test]
    fn two_priorities_share_what_they_clear() {
        let gains = Gains {
            alone: [0.4, 0.2],
            both: 0.7,
        };
        assert!((gains.expected([0.5, 0.5]) - 0.325).abs() < 1e-12);
        assert!((Gains::single(0.4).expected([0.5, 0.9]) - 0.2).abs() < 1e-12);
    }

    proptest! {
        #[test]
        fn a_better_drill_never_mends_less(
            best in proptest::array::uniform5(0.0..0.99f64),
            rung in 0..RUNGS,
            more in 0.0..0.99f64,
        ) {
            let mut raised = best;
            raised[rung] = raised[rung].max(more);
            prop_assert!(mended(&raised) >= mended(&best) - 1e-12);
        }
    }
}
