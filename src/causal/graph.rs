//! Conditions as nodes, links as edges from cause to effect.

use crate::knowledge::{ConditionKey, KnowledgeBase};
use petgraph::Direction;
use petgraph::graph::{DiGraph, NodeIndex};
use petgraph::visit::{Dfs, EdgeRef, Reversed};
use std::collections::BTreeSet;

/// The causal graph of a library.
///
/// Node `i` is the condition with key `i`; an edge runs from cause to effect and carries the
/// chance, strictly between 0 and 1, that the cause when present brings the effect about.
#[derive(Clone, Debug)]
pub struct CausalGraph {
    graph: DiGraph<ConditionKey, f64>,
}

impl CausalGraph {
    /// The graph of a checked library.
    #[must_use]
    pub fn new(base: &KnowledgeBase) -> Self {
        let links = base.conditions.iter().map(|c| c.causes.len()).sum();
        let mut graph = DiGraph::with_capacity(base.conditions.len(), links);
        for key in base.condition_keys() {
            graph.add_node(key);
        }
        for effect in base.condition_keys() {
            for cause in &base.condition(effect).causes {
                graph.add_edge(node(cause.cause), node(effect), cause.strength.get());
            }
        }
        Self { graph }
    }

    /// How many links there are.
    #[must_use]
    pub fn link_count(&self) -> usize {
        self.graph.edge_count()
    }

    /// Every condition, causes before their effects.
    #[must_use]
    pub fn causes_first(&self) -> Vec<ConditionKey> {
        let order = petgraph::algo::toposort(&self.graph, None)
            .expect("a checked library has no circle of causes");
        order.into_iter().map(|node| self.graph[node]).collect()
    }

    /// The direct causes of a condition with their strengths, strongest first, ties by key.
    #[must_use]
    pub fn causes(&self, of: ConditionKey) -> Vec<(ConditionKey, f64)> {
        self.neighbours(of, Direction::Incoming)
    }

    /// The direct effects of a condition with the strengths, strongest first, ties by key.
    #[must_use]
    pub fn effects(&self, of: ConditionKey) -> Vec<(ConditionKey, f64)> {
        self.neighbours(of, Direction::Outgoing)
    }

    fn neighbours(&self, of: ConditionKey, direction: Direction) -> Vec<(ConditionKey, f64)> {
        let mut found: Vec<(ConditionKey, f64)> = self
            .graph
            .edges_directed(node(of), direction)
            .map(|edge| {
                let other = match direction {
                    Direction::Incoming => edge.source(),
                    Direction::Outgoing => edge.target(),
                };
                (self.graph[other], *edge.weight())
            })
            .collect();
        // petgraph walks the newest edge first; the order shown must not depend on the files.
        found.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        found
    }

    /// Everything upstream of a condition: its causes, their causes, and so on; not itself.
    #[must_use]
    pub fn upstream(&self, of: ConditionKey) -> BTreeSet<ConditionKey> {
        let reversed = Reversed(&self.graph);
        let mut walk = Dfs::new(reversed, node(of));
        let mut found = BTreeSet::new();
        while let Some(next) = walk.next(reversed) {
            found.insert(self.graph[next]);
        }
        found.remove(&of);
        found
    }

    /// Everything a condition can bring about, directly or not; not itself.
    #[must_use]
    pub fn downstream(&self, of: ConditionKey) -> BTreeSet<ConditionKey> {
        let mut walk = Dfs::new(&self.graph, node(of));
        let mut found = BTreeSet::new();
        while let Some(next) = walk.next(&self.graph) {
            found.insert(self.graph[next]);
        }
        found.remove(&of);
        found
    }
}

fn node(key: ConditionKey) -> NodeIndex {
    NodeIndex::new(key.0)
}
