//! Chains that come back to where they started.

use super::base::{ConditionKey, KnowledgeBase};
use super::problems::{Problems, Spot};
use petgraph::algo::kosaraju_scc;
use petgraph::graph::{DiGraph, NodeIndex};
use std::collections::{HashMap, HashSet, VecDeque};

/// Reports every knot of causes as one circle that a person can follow.
pub(super) fn check(
    base: &KnowledgeBase,
    spot_of: impl Fn(ConditionKey, ConditionKey) -> Option<Spot>,
    problems: &mut Problems<'_>,
) {
    let links = base
        .conditions
        .iter()
        .enumerate()
        .flat_map(|(effect, condition)| {
            condition
                .causes
                .iter()
                .map(move |link| (link.cause.0, effect))
        });
    for circle in circles(base.conditions.len(), links) {
        let ids: Vec<&str> = circle
            .iter()
            .chain(circle.first())
            .map(|key| base.conditions[*key].id.as_str())
            .collect();
        let pairs = || circle.iter().zip(circle.iter().cycle().skip(1));
        let places: Vec<(Spot, String)> = pairs()
            .filter_map(|(cause, effect)| {
                let spot = spot_of(ConditionKey(*cause), ConditionKey(*effect))?;
                let (cause, effect) = (&base.conditions[*cause].id, &base.conditions[*effect].id);
                Some((spot, format!("{cause} -> {effect}")))
            })
            .collect();
        // Whoever wrote the last layer of them closed the circle, and can open it.
        let closing = places.iter().rev().max_by_key(|(spot, _)| spot.layer);
        let Some((first, _)) = closing else {
            continue;
        };
        let written: Vec<String> = places
            .iter()
            .map(|(spot, link)| format!("{link} ({})", problems.words(*spot, *first)))
            .collect();
        problems.error(
            *first,
            "cycle",
            format!("these causes go in a circle: {}", ids.join(" -> ")),
            format!(
                "take one link out, the weakest or the one least like a cause: {}",
                written.join(", ")
            ),
        );
    }
}

/// Drills that each want another of them done first.
pub(super) fn check_order(
    base: &KnowledgeBase,
    spot_of: impl Fn(usize) -> Spot,
    problems: &mut Problems<'_>,
) {
    let order = base
        .drills
        .iter()
        .enumerate()
        .flat_map(|(later, drill)| drill.after.iter().map(move |first| (first.0, later)));
    for circle in circles(base.drills.len(), order) {
        let ids: Vec<&str> = circle
            .iter()
            .chain(circle.first())
            .map(|key| base.drills[*key].id.as_str())
            .collect();
        let spots = circle.iter().rev().map(|drill| spot_of(*drill));
        let Some(closing) = spots.max_by_key(|spot| spot.layer) else {
            continue;
        };
        problems.error(
            closing,
            "after-cycle",
            format!(
                "each of these drills is to come before the next: {}",
                ids.join(" -> ")
            ),
            "take one of them out of an `after`",
        );
    }
}

/// For each knot, the shortest circle through its smallest member, that member first.
///
/// Knots come from Kosaraju's algorithm, which keeps its own stack; Tarjan's, as petgraph has it,
/// calls itself, and a chain of a hundred thousand causes overflows the program's.
fn circles(count: usize, arrows: impl Iterator<Item = (usize, usize)>) -> Vec<Vec<usize>> {
    let mut graph: DiGraph<(), ()> = DiGraph::with_capacity(count, 0);
    for _ in 0..count {
        graph.add_node(());
    }
    for (from, to) in arrows {
        graph.add_edge(NodeIndex::new(from), NodeIndex::new(to), ());
    }
    let mut found: Vec<Vec<usize>> = kosaraju_scc(&graph)
        .into_iter()
        .filter(|knot| knot.len() > 1)
        .filter_map(|knot| {
            let start = knot.iter().copied().min()?;
            shortest_circle(&graph, start, &knot.into_iter().collect())
        })
        .collect();
    found.sort();
    found
}

/// Breadth first from `start` inside its knot until an arrow leads back.
fn shortest_circle(
    graph: &DiGraph<(), ()>,
    start: NodeIndex,
    knot: &HashSet<NodeIndex>,
) -> Option<Vec<usize>> {
    let mut came_from: HashMap<NodeIndex, NodeIndex> = HashMap::new();
    let mut queue = VecDeque::from([start]);
    while let Some(now) = queue.pop_front() {
        let mut next: Vec<NodeIndex> = graph.neighbors(now).filter(|n| knot.contains(n)).collect();
        next.sort();
        for to in next {
            if to == start {
                let mut circle = vec![now.index()];
                let mut step = now;
                while step != start {
                    step = came_from[&step];
                    circle.push(step.index());
                }
                circle.reverse();
                return Some(circle);
            }
            if let std::collections::hash_map::Entry::Vacant(slot) = came_from.entry(to) {
                slot.insert(now);
                queue.push_back(to);
            }
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_knot_is_shown_as_its_shortest_circle_from_its_smallest_member() {
        let arrows = [(0, 1), (1, 2), (2, 3), (3, 1), (2, 1), (4, 0)];
        assert_eq!(circles(5, arrows.into_iter()), [vec![1, 2]]);
    }

    #[test]
    fn a_ladder_has_no_circle() {
        assert!(circles(4, [(0, 1), (1, 2), (0, 2), (2, 3)].into_iter()).is_empty());
    }

    #[test]
    fn a_circle_of_a_hundred_thousand_does_not_overflow_the_stack() {
        let many = 100_000;
        let arrows = (0..many).map(|i| (i, (i + 1) % many));
        assert_eq!(circles(many, arrows)[0].len(), many);
    }
}
