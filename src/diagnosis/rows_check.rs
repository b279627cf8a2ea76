//! Whether the links say the same as the shares.

use crate::causal::{CausalGraph, HandedOn, Rows};
use crate::knowledge::{ConditionKey, ConditionKind, KnowledgeBase};
use std::collections::{BTreeMap, BTreeSet};

/// A share as the library states it, and as the walk up its links has it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Apart {
    /// What is seen.
    pub finding: ConditionKey,
    /// What is worked on; the finding itself for "a habit of its own".
    pub cause: ConditionKey,
    /// The share stated, from 0 to 1; 0 where links lead to a cause that no share names.
    pub stated: f64,
    /// The share in which the walk stops there, from 0 to 1.
    pub by_links: f64,
    /// Whether a chain of links leads from the cause to the finding.
    pub chain: bool,
}

impl Apart {
    /// How far the two are apart, from 0 to 1.
    #[must_use]
    pub fn by(&self) -> f64 {
        (self.stated - self.by_links).abs()
    }
}

/// What there is to note about the rows of a library.
#[derive(Clone, Debug)]
pub struct RowNotes {
    /// Conditions whose links ask for more than the cap, by key.
    pub past_the_cap: Vec<(ConditionKey, HandedOn)>,
    /// Every share that is stated, or that the links have where shares are stated; those furthest apart
    /// first, ties by finding and cause.
    pub shares: Vec<Apart>,
    /// Every row.
    pub rows: Rows,
}

/// Holds every stated row against the walk up the links.
#[must_use]
pub fn row_notes(base: &KnowledgeBase) -> RowNotes {
    let graph = CausalGraph::new(base);
    let rows = Rows::new(base, &graph);
    let mut shares = Vec::new();
    for finding in base.condition_keys() {
        let condition = base.condition(finding);
        if condition.behind.is_empty() {
            continue;
        }
        let upstream: BTreeSet<ConditionKey> = graph.upstream(finding);
        let mut stated: BTreeMap<ConditionKey, f64> = condition
            .behind
            .iter()
            .map(|behind| (behind.cause, behind.share.get()))
            .collect();
        let walk = rows.walk(finding);
        if condition.kind != ConditionKind::Outcome {
            let rest = 1.0 - stated.values().sum::<f64>();
            stated.insert(finding, rest.max(0.0));
        }
        for &(cause, _) in walk.entries() {
            stated.entry(cause).or_insert(0.0);
        }
        shares.extend(stated.into_iter().map(|(cause, stated)| Apart {
            finding,
            cause,
            stated,
            by_links: walk.share(cause),
            chain: cause == finding || upstream.contains(&cause),
        }));
    }
    shares.sort_by(|a, b| {
        b.by()
            .total_cmp(&a.by())
            .then((a.finding, a.cause).cmp(&(b.finding, b.cause)))
    });
    RowNotes {
        past_the_cap: Rows::past_the_cap(base),
        shares,
        rows,
    }
}
