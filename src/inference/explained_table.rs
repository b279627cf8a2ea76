//! Tables over which findings are explained, and how much work on them is allowed.

use super::evidence::Node;
use super::origins::OriginsError;

/// Steps (table entries touched) after which an answer is refused, about two seconds of work.
const MOST_STEPS: u64 = 2_000_000_000;

/// A table over which of its bits are explained.
#[derive(Clone, Debug)]
pub(super) struct Table {
    pub(super) bits: Vec<usize>,
    pub(super) entries: Vec<f64>,
    /// Logarithm of a factor taken out of the entries.
    pub(super) ln: f64,
}

impl Table {
    pub(super) fn empty() -> Table {
        Table {
            bits: Vec::new(),
            entries: vec![1.0],
            ln: 0.0,
        }
    }

    /// The place of a bit, which is added as unexplained when it is not there yet.
    pub(super) fn place(&mut self, bit: usize) -> usize {
        self.bits.iter().position(|&b| b == bit).unwrap_or_else(|| {
            self.bits.push(bit);
            self.entries.resize(self.entries.len() * 2, 0.0);
            self.bits.len() - 1
        })
    }

    /// Takes in one more source of one bit.
    pub(super) fn explain(entries: &mut [f64], place: usize, fires: f64) {
        let step = 1 << place;
        for pair in entries.chunks_exact_mut(2 * step) {
            let (low, high) = pair.split_at_mut(step);
            for (l, h) in low.iter_mut().zip(high) {
                *h += fires * *l;
                *l *= 1.0 - fires;
            }
        }
    }

    /// Sums a bit out.
    pub(super) fn close(&mut self, place: usize, fit: [f64; 2]) {
        let step = 1 << place;
        let half = self.entries.len() / 2;
        let mut to = 0;
        for from in (0..self.entries.len()).step_by(2 * step) {
            for i in from..from + step {
                self.entries[to] = fit[0] * self.entries[i] + fit[1] * self.entries[i + step];
                to += 1;
            }
        }
        self.entries.truncate(half);
        self.bits.remove(place);
        let top = self.entries.iter().copied().fold(0.0, f64::max);
        if top > 0.0 && top < 1e-100 {
            self.entries.iter_mut().for_each(|e| *e /= top);
            self.ln += libm::log(top);
        }
    }
}

/// Counts table entries touched, and stops the work when they become too many.
pub(super) struct Steps(pub(super) u64);

impl Steps {
    pub(super) fn count(
        &mut self,
        entries: usize,
        findings: impl Fn() -> Vec<Node>,
    ) -> Result<(), OriginsError> {
        self.0 += entries as u64;
        if self.0 > MOST_STEPS {
            Err(OriginsError::TooLarge {
                findings: findings(),
            })
        } else {
            Ok(())
        }
    }
}
