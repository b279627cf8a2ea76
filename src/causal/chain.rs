//! Chains of links from a cause to what it brings about.

use super::CausalGraph;
use crate::knowledge::ConditionKey;
use std::cmp::Ordering;
use std::collections::BinaryHeap;

/// One link of a chain.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// Where the link leads.
    pub to: ConditionKey,
    /// The chance that it acts when what comes before is present.
    pub strength: f64,
}

/// A chain of links, from a cause to an effect.
#[derive(Clone, Debug, PartialEq)]
pub struct Chain {
    /// Where it starts.
    pub start: ConditionKey,
    /// The links, in order; empty only for a chain from a condition to itself.
    pub steps: Vec<Step>,
    /// The product of the strengths, each weighted by the chance that what it leads to is there.
    pub weight: f64,
}

impl Chain {
    /// Every condition on the chain, from start to end.
    #[must_use]
    pub fn conditions(&self) -> Vec<ConditionKey> {
        std::iter::once(self.start)
            .chain(self.steps.iter().map(|step| step.to))
            .collect()
    }
}

/// A chain being grown, heaviest first; ties go to the shorter, then to the smaller keys.
struct Growing {
    chain: Chain,
}

impl Growing {
    fn key(&self) -> (f64, usize, Vec<ConditionKey>) {
        (
            self.chain.weight,
            self.chain.steps.len(),
            self.chain.conditions(),
        )
    }
}

impl PartialEq for Growing {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Growing {}

impl PartialOrd for Growing {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Growing {
    fn cmp(&self, other: &Self) -> Ordering {
        let (a, b) = (self.key(), other.key());
        a.0.total_cmp(&b.0)
            .then(b.1.cmp(&a.1))
            .then_with(|| b.2.cmp(&a.2))
    }
}

impl CausalGraph {
    /// The chains from `from` to `to`, heaviest first, at most `most` of them.
    ///
    /// A link's weight is its strength times `presence(condition it leads to)`, a number from 0 to
    /// 1: with the chance that each condition is there given what was seen, the heaviest chain is
    /// the one that carries most of the effect. Weights only fall along a chain, so the search is
    /// best-first over loopless chains; it stops after `most` arrivals, each condition being left at
    /// most `most` times, which bounds the work by `most` times the number of links.
    #[must_use]
    pub fn chains(
        &self,
        from: ConditionKey,
        to: ConditionKey,
        most: usize,
        presence: impl Fn(ConditionKey) -> f64,
    ) -> Vec<Chain> {
        let mut heap = BinaryHeap::from([Growing {
            chain: Chain {
                start: from,
                steps: Vec::new(),
                weight: 1.0,
            },
        }]);
        let mut left = std::collections::BTreeMap::<ConditionKey, usize>::new();
        let relevant = self.upstream(to);
        let mut found = Vec::new();
        while let Some(Growing { chain }) = heap.pop() {
            let here = chain.steps.last().map_or(from, |step| step.to);
            if here == to {
                found.push(chain);
                if found.len() == most {
                    break;
                }
                continue;
            }
            let times = left.entry(here).or_default();
            if *times == most {
                continue;
            }
            *times += 1;
            for (next, strength) in self.effects(here) {
                if next != to && !relevant.contains(&next) {
                    continue;
                }
                let mut longer = chain.clone();
                longer.steps.push(Step { to: next, strength });
                longer.weight *= strength * presence(next);
                heap.push(Growing { chain: longer });
            }
        }
        found
    }
}
