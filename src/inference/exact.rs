//! The exact engine: elimination on the network for posteriors, on its three-level twin for every counterfactual.

use super::answer::Removal;
use super::elimination::{Collected, Plan, TooLarge, Tree, plan};
use super::evidence::{Evidence, Report};
use super::factor::Factor;
use super::network::{Network, Node, noisy_or};
use super::twin::{Encoding, Problem, problem};

/// Above this bound on the relative error that selectors may have left, the all-positive chain is used instead: the
/// figures are promised to 1e-12 (see the tests against enumeration).
const TOO_MUCH_CANCELLED: f64 = 1e-12;

/// With no room for the chain, figures are still given up to this bound on their relative error.
const TOLERABLE: f64 = 1e-9;

/// Cells up to which the whole network is solved at once, nodes below all reports included: less than a millisecond,
/// where a hundred such nodes asked for one by one take several.
const WHOLE: f64 = 60_000.0;

/// Nodes and links up to which that is tried.
const WHOLE_SIZE: usize = 1000;

/// Why the exact engine declined.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Refusal {
    /// The tables would pass the limit.
    #[error("exact tables would need more than {limit:.0} cells")]
    TooLarge {
        /// Cells counted when planning stopped.
        cells: f64,
        /// The limit, in cells (8 bytes each, visited once per pass).
        limit: f64,
        /// The findings whose families make up the table that passed the limit, by node.
        findings: Vec<Node>,
    },
    /// So many digits would cancel that the figures could not be trusted, and the all-positive form is too large.
    #[error("the figures would lose too many digits (relative error up to {error:.1e})")]
    Inexact {
        /// The bound on the relative error.
        error: f64,
    },
}

/// A network with reports, ready to be asked.
#[derive(Clone, Debug)]
pub struct Exact<'a> {
    network: &'a Network,
    reports: Vec<Option<Report>>,
    relevant: Vec<bool>,
    limit: f64,
    cells: f64,
    cost: f64,
    ln_evidence: f64,
    posterior: Vec<f64>,
    starts: Vec<f64>,
}

/// What to do about nodes that are upstream of no report.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Below {
    /// Each is asked for as one more absent finding.
    #[cfg(test)]
    OneByOne,
    /// All in one go where that is cheap, one by one otherwise.
    Quickest,
}

/// A problem with its first pass done.
struct Solved {
    problem: Problem,
    cells: f64,
    /// All that went into it, planning and the second pass included, in cells' worth of time.
    cost: f64,
    tree: Tree,
    collected: Collected,
}

impl<'a> Exact<'a> {
    /// Answers all that needs nothing removed: posteriors, starts-here and the probability of the reports. `limit`
    /// bounds the table cells that one pass may visit.
    ///
    /// # Errors
    /// [`Refusal::TooLarge`] before any table is made; [`Refusal::Inexact`] when digits would go.
    ///
    /// # Panics
    /// When a report is on a node that the network does not have.
    pub fn new(network: &'a Network, evidence: &Evidence, limit: f64) -> Result<Self, Refusal> {
        Exact::solved(network, evidence, limit, Below::Quickest)
    }

    fn solved(
        network: &'a Network,
        evidence: &Evidence,
        limit: f64,
        below: Below,
    ) -> Result<Self, Refusal> {
        let mut reports = vec![None; network.len()];
        for (node, report) in evidence.iter() {
            reports[node.0] = Some(report);
        }
        let mut exact = Exact {
            network,
            relevant: network.ancestors(evidence.iter().map(|(n, _)| n.0)),
            limit,
            cells: 0.0,
            cost: 0.0,
            ln_evidence: 0.0,
            posterior: vec![f64::NAN; network.len()],
            starts: network.nodes().map(|n| network.leak(n)).collect(),
            reports,
        };
        // Planning the whole would itself cost too much on a large network.
        let small = network.len() + network.link_count() <= WHOLE_SIZE;
        if below == Below::Quickest && small && exact.whole() {
            return Ok(exact);
        }
        let mut solved = exact.solve(|encoding| {
            let mut p = problem(network, &exact.reports, &exact.relevant, None, encoding);
            exact.add_probes(&mut p);
            p
        })?;
        let relevant = exact.relevant.clone();
        exact.read(&solved, &relevant);
        for &node in network.order().iter().filter(|&&n| !relevant[n]) {
            exact.posterior[node] = exact.barren(node, &mut solved)?;
        }
        Ok(exact)
    }

    /// All nodes in one go, those below the reports too, where the tables are small enough for that to be quicker than
    /// asking for such nodes one by one; false if not.
    fn whole(&mut self) -> bool {
        let all = vec![true; self.network.len()];
        let mut spent = 0.0;
        for encoding in [Encoding::Selector, Encoding::Chain] {
            let problem = problem(self.network, &self.reports, &all, None, encoding);
            let Ok(plan) = plan(&problem.cards, &problem.factors, WHOLE.min(self.limit)) else {
                continue;
            };
            let tree = Tree::new(&problem.cards, &problem.factors, &plan.order);
            let collected = tree.collect(&problem.factors);
            spent += price(&plan);
            if collected.error <= TOO_MUCH_CANCELLED {
                let (cells, cost) = (plan.cells, spent);
                self.read(
                    &Solved {
                        problem,
                        cells,
                        cost,
                        tree,
                        collected,
                    },
                    &all,
                );
                return true;
            }
        }
        false
    }

    /// Takes over the figures of `nodes` from a solved problem with nothing removed.
    fn read(&mut self, solved: &Solved, nodes: &[bool]) {
        self.cells = solved.cells;
        self.cost = solved.cost;
        self.ln_evidence = solved.problem.ln + solved.collected.ln;
        let marginals = solved
            .tree
            .distribute(&solved.problem.factors, &solved.collected);
        for node in (0..self.network.len()).filter(|&n| nodes[n]) {
            self.posterior[node] = match solved.problem.variable[node] {
                Some(v) => marginals.beliefs[v][1].clamp(0.0, 1.0),
                None => f64::from(u8::from(solved.problem.levels[node][0] > 0)),
            };
        }
        for &(node, p) in solved.problem.fired.iter().chain(&marginals.fired) {
            self.starts[node] = p.clamp(0.0, 1.0);
        }
    }

    /// Natural logarithm of the probability of all reports; a likelihood ratio counts as `r` if present, 1 if absent.
    pub fn ln_evidence(&self) -> f64 {
        self.ln_evidence
    }

    /// Table cells that one pass over the posteriors' tree visits.
    pub fn cells(&self) -> f64 {
        self.cells
    }

    /// What finding all this took, planning included, in cells' worth of time (about ten nanoseconds each).
    pub fn cost_so_far(&self) -> f64 {
        self.cost
    }

    /// `P(present | E)` per node.
    pub fn posterior(&self) -> &[f64] {
        &self.posterior
    }

    /// `P(L fired | E)` per node: the chance that it is an origin.
    pub fn starts_here(&self) -> &[f64] {
        &self.starts
    }

    /// The most table cells that one pass may visit.
    pub fn limit(&self) -> f64 {
        self.limit
    }

    /// `P(present | E, the cause's leak did not fire)` per node. The leak must be able not to have fired.
    ///
    /// # Errors
    /// As [`Exact::new`].
    pub(crate) fn posterior_without(&self, cause: Node) -> Result<Vec<f64>, Refusal> {
        let reports = self.reports.iter().enumerate();
        let evidence = Evidence::from_reports(reports.filter_map(|(n, r)| r.map(|r| (Node(n), r))))
            .expect("they were sound before");
        let network = self.network.without_leak(cause);
        Ok(Exact::new(&network, &evidence, self.limit)?.posterior)
    }

    /// `P(f present, and absent under the removal | E)` for each of `findings`, in their order.
    ///
    /// # Errors
    /// As [`Exact::new`], for the tables of the three-level twin.
    pub fn needs(&self, removal: &Removal, findings: &[Node]) -> Result<Vec<f64>, Refusal> {
        let below = match removal {
            Removal::Leaks(nodes) => self.network.descendants(nodes.iter().map(|n| n.0)),
            Removal::Held(node) => self.network.descendants([node.0]),
        };
        let mut needs = vec![0.0; findings.len()];
        if !findings.iter().any(|f| below[f.0]) {
            return Ok(needs);
        }
        // A finding that was not itself reported is kept by what makes it relevant: its own place among the kept.
        let mut kept = self.network.ancestors(findings.iter().map(|f| f.0));
        kept.iter_mut()
            .zip(&self.relevant)
            .for_each(|(k, &r)| *k |= r);
        let solved = self.solve(|encoding| {
            let whole = problem(self.network, &self.reports, &kept, Some(removal), encoding);
            let seeds: Vec<usize> = findings
                .iter()
                .filter_map(|f| whole.variable[f.0].filter(|_| below[f.0]))
                .collect();
            whole.around(seeds)
        })?;
        let marginals = solved
            .tree
            .distribute(&solved.problem.factors, &solved.collected);
        for (need, f) in needs.iter_mut().zip(findings) {
            let levels = &solved.problem.levels[f.0];
            if let Some(at) = levels.iter().position(|&l| l == 1) {
                *need = match solved.problem.variable[f.0] {
                    Some(v) => marginals.beliefs[v][at].clamp(0.0, 1.0),
                    None => f64::from(u8::from(levels.len() == 1)),
                };
            }
        }
        Ok(needs)
    }

    /// The share of what was seen that would not be there under the removal, in `[0, 1]`; 0 when `observed` is empty:
    /// `SUM w_f * P(f present, absent under the removal | E) / SUM w_f * P(f present | E)` (after Richens, Lee &
    /// Johri 2020, Nature Communications 11:3923, expected disablement).
    ///
    /// # Errors
    /// As [`Exact::needs`].
    pub fn clears(&self, removal: &Removal, observed: &[(Node, f64)]) -> Result<f64, Refusal> {
        let findings: Vec<Node> = observed.iter().map(|o| o.0).collect();
        let needs = self.needs(removal, &findings)?;
        let cleared: f64 = observed.iter().zip(&needs).map(|(&(_, w), n)| w * n).sum();
        let all: f64 = observed.iter().map(|&(f, w)| w * self.posterior[f.0]).sum();
        Ok(if all > 0.0 {
            (cleared / all).clamp(0.0, 1.0)
        } else {
            0.0
        })
    }

    /// Cells of the twin's tables for one removal, and what planning them twice takes in cells' worth of time, without
    /// computing anything.
    ///
    /// # Errors
    /// [`Refusal::TooLarge`].
    pub fn cost(&self, removal: &Removal) -> Result<f64, Refusal> {
        let p = problem(
            self.network,
            &self.reports,
            &self.relevant,
            Some(removal),
            Encoding::Selector,
        );
        let plan = plan(&p.cards, &p.factors, self.limit).map_err(|e| self.refusal(&p, e))?;
        Ok(price(&plan) + plan.work)
    }

    /// Plans and runs the first pass, with selectors, or with chains where selectors would cost digits.
    fn solve(&self, tables: impl Fn(Encoding) -> Problem) -> Result<Solved, Refusal> {
        let first = self.attempt(tables(Encoding::Selector))?;
        if first.collected.error <= TOO_MUCH_CANCELLED {
            return Ok(first);
        }
        match self.attempt(tables(Encoding::Chain)) {
            Ok(mut second) => {
                second.cost += first.cost;
                Ok(second)
            }
            Err(_) if first.collected.error <= TOLERABLE => Ok(first),
            Err(_) => Err(Refusal::Inexact {
                error: first.collected.error,
            }),
        }
    }

    fn attempt(&self, problem: Problem) -> Result<Solved, Refusal> {
        let plan = plan(&problem.cards, &problem.factors, self.limit)
            .map_err(|e| self.refusal(&problem, e))?;
        let tree = Tree::new(&problem.cards, &problem.factors, &plan.order);
        let collected = tree.collect(&problem.factors);
        Ok(Solved {
            problem,
            cells: plan.cells,
            cost: price(&plan),
            tree,
            collected,
        })
    }

    fn refusal(&self, problem: &Problem, e: TooLarge) -> Refusal {
        let touched = problem
            .factors
            .iter()
            .filter(|f| f.scope.iter().any(|v| e.scope.contains(v)));
        let mut findings: Vec<Node> = touched.filter_map(|f| f.family).map(Node).collect();
        findings.retain(|f| self.reports[f.0].is_some());
        findings.sort_unstable();
        findings.dedup();
        Refusal::TooLarge {
            cells: e.cells,
            limit: self.limit,
            findings,
        }
    }

    /// A table of ones on every open node that has a child below all reports, to be filled in when it is asked for.
    fn add_probes(&self, p: &mut Problem) {
        for node in (0..self.network.len()).filter(|&n| self.relevant[n]) {
            if let Some(v) = p.variable[node]
                && self
                    .network
                    .children(node)
                    .iter()
                    .any(|c| !self.relevant[c.0])
            {
                let mut probe = Factor::new(vec![v], vec![1.0; p.cards[v]]);
                probe.family = Some(node);
                p.factors.push(probe);
            }
        }
    }

    /// The posterior of a node that is upstream of no report: asked for as one more absent finding,
    /// `P(absent | E) = P(E, absent) / P(E)`. The posteriors of its parents must be known.
    fn barren(&self, node: usize, solved: &mut Solved) -> Result<f64, Refusal> {
        let mut settled = vec![];
        let mut open = vec![];
        for &(u, s) in self.network.parents(node) {
            match self.reports[u] {
                Some(Report::Present) => settled.push(s),
                Some(Report::Absent) => {}
                _ => open.push((u, s)),
            }
        }
        let fires = noisy_or(self.network.leak(Node(node)), settled);
        Ok(match open[..] {
            [] => fires,
            [(u, s)] => noisy_or(fires, [s * self.posterior[u]]),
            _ => 1.0 - (1.0 - fires) * self.none_fires(node, &open, solved)?,
        })
    }

    /// `E[PROD (1 - s)^U | E]` over the open parents of a barren node.
    fn none_fires(
        &self,
        node: usize,
        open: &[(usize, f64)],
        solved: &mut Solved,
    ) -> Result<f64, Refusal> {
        let probe = |factors: &[Factor], p: &Problem, u: usize| {
            let v = p.variable[u].expect("an open node has a variable");
            factors
                .iter()
                .rposition(|f| f.scope == [v] && f.fired.is_none())
                .expect("a probe was added")
        };
        if open.iter().all(|&(u, _)| self.relevant[u]) {
            let changed: Vec<usize> = open
                .iter()
                .map(|&(u, _)| probe(&solved.problem.factors, &solved.problem, u))
                .collect();
            for (&at, &(_, s)) in changed.iter().zip(open) {
                solved.problem.factors[at].table[1] = 1.0 - s;
            }
            let ln = solved
                .tree
                .again(&solved.problem.factors, &mut solved.collected, &changed);
            changed
                .iter()
                .for_each(|&at| solved.problem.factors[at].table[1] = 1.0);
            return Ok(libm::exp(ln - solved.collected.ln));
        }
        let mut kept = self.network.ancestors([node]);
        kept.iter_mut()
            .zip(&self.relevant)
            .for_each(|(k, &r)| *k |= r);
        kept[node] = false;
        let mut solved = self.solve(|encoding| {
            let whole = problem(self.network, &self.reports, &kept, None, encoding);
            let mut p = whole.around(open.iter().map(|&(u, _)| whole.variable[u].expect("open")));
            for &(u, _) in open {
                p.factors.push(Factor::new(
                    vec![p.variable[u].expect("open")],
                    vec![1.0, 1.0],
                ));
            }
            p
        })?;
        let first = solved.problem.factors.len() - open.len();
        for (factor, &(_, s)) in solved.problem.factors[first..].iter_mut().zip(open) {
            factor.table[1] = 1.0 - s;
        }
        let changed: Vec<usize> = (first..solved.problem.factors.len()).collect();
        let ln = solved
            .tree
            .again(&solved.problem.factors, &mut solved.collected, &changed);
        Ok(libm::exp(ln - solved.collected.ln))
    }
}

/// A plan and both passes over it; the second costs about twice the first.
fn price(plan: &Plan) -> f64 {
    3.0 * plan.cells + plan.work
}

#[cfg(test)]
mod tests {
    use super::super::enumeration::{Off, enumerate, random_case};
    use super::*;

    fn close(a: f64, b: f64, what: &str) {
        assert!((a - b).abs() <= 1e-12, "{what}: {a} against {b}");
    }

    /// Every figure against the definitions, on small random networks of three shapes.
    #[test]
    fn enumeration_agrees() {
        for seed in 0..300 {
            let (count, links) = [(4, 6), (5, 8), (6, 7)][seed as usize % 3];
            let (network, evidence, observed) = random_case(seed, count, links);
            let mut removals: Vec<(Removal, Off)> = Vec::new();
            for c in 0..count {
                removals.push((Removal::Leaks(vec![Node(c)]), Off::Leaks(vec![c])));
                removals.push((Removal::Held(Node(c)), Off::Held(c)));
                let pair = vec![c, (c + 1) % count];
                removals.push((
                    Removal::Leaks(pair.iter().map(|&n| Node(n)).collect()),
                    Off::Leaks(pair),
                ));
            }
            let offs: Vec<Off> = removals.iter().map(|r| r.1.clone()).collect();
            let oracle = enumerate(&network, &evidence, &observed, &offs);
            let exact = Exact::new(&network, &evidence, 1e6).unwrap();
            let other = Exact::solved(&network, &evidence, 1e6, Below::OneByOne).unwrap();
            for exact in [&exact, &other] {
                close(exact.ln_evidence(), oracle.evidence.ln(), "ln P(E)");
                for n in 0..count {
                    close(exact.posterior()[n], oracle.posterior[n], "posterior");
                    close(exact.starts_here()[n], oracle.starts[n], "starts here");
                }
            }
            for ((removal, _), expected) in removals.iter().zip(&oracle.clears) {
                let found = exact.clears(removal, &observed).unwrap();
                assert!(
                    (found - expected).abs() < 1e-12,
                    "seed {seed} {removal:?}: {found} against {expected}"
                );
            }
        }
    }

    /// One finding with many parents, so that selectors and chains are both at work, in both encodings.
    #[test]
    fn large_families_agree_in_both_encodings() {
        for seed in 0..40 {
            let (network, mut evidence, mut observed) = super::super::enumeration::fan(seed);
            let roots = network.len() - 2;
            if seed % 2 == 0 {
                evidence = evidence.without(Node(roots));
                observed.retain(|o| o.0 != Node(roots));
            }
            let offs: Vec<Off> = (0..network.len())
                .flat_map(|c| [Off::Leaks(vec![c]), Off::Held(c)])
                .collect();
            let oracle = enumerate(&network, &evidence, &observed, &offs);
            let exact = Exact::new(&network, &evidence, 1e6).unwrap();
            for n in 0..network.len() {
                close(exact.posterior()[n], oracle.posterior[n], "posterior");
                close(exact.starts_here()[n], oracle.starts[n], "starts here");
            }
            for encoding in [Encoding::Selector, Encoding::Chain] {
                for (off, expected) in offs.iter().zip(&oracle.clears) {
                    let removal = match off {
                        Off::Leaks(leaks) => {
                            Removal::Leaks(leaks.iter().map(|&n| Node(n)).collect())
                        }
                        Off::Held(n) => Removal::Held(Node(*n)),
                    };
                    let p = problem(
                        &network,
                        &exact.reports,
                        &exact.relevant,
                        Some(&removal),
                        encoding,
                    );
                    let solved = exact.attempt(p).unwrap();
                    let beliefs = solved
                        .tree
                        .distribute(&solved.problem.factors, &solved.collected)
                        .beliefs;
                    let (mut cleared, mut all) = (0.0, 0.0);
                    for &(f, w) in &observed {
                        all += w * exact.posterior()[f.0];
                        let levels = &solved.problem.levels[f.0];
                        if let Some(at) = levels.iter().position(|&l| l == 1) {
                            cleared +=
                                w * solved.problem.variable[f.0].map_or(1.0, |v| beliefs[v][at]);
                        }
                    }
                    close(
                        if all > 0.0 { cleared / all } else { 0.0 },
                        *expected,
                        "clears",
                    );
                }
            }
        }
    }

    /// Rare causes behind rare findings that hang together: with selectors digits go, and the bound says so; the
    /// chain keeps them. `tests/inference.rs` compares the engine's answer with one that never subtracts.
    #[test]
    fn the_bound_on_what_cancelled_calls_for_the_chain() {
        use super::super::network::{Base, NetworkBuilder};
        let build = |leak: f64| {
            let mut b = NetworkBuilder::new();
            let causes: Vec<Node> = (0..6).map(|_| b.add(Base::Leak(leak)).unwrap()).collect();
            let mut reports = Vec::new();
            for f in 0..8 {
                let finding = b.add(Base::Leak(leak)).unwrap();
                for k in 0..4 {
                    b.link(causes[(f + k) % 6], finding, 0.2 + 0.15 * k as f64)
                        .unwrap();
                }
                reports.push((finding, Report::Present));
            }
            (
                b.build(1e-9).unwrap(),
                Evidence::from_reports(reports).unwrap(),
            )
        };
        let both = |leak: f64| {
            let (network, evidence) = build(leak);
            let exact = Exact::new(&network, &evidence, 1e7).unwrap();
            [Encoding::Selector, Encoding::Chain].map(|encoding| {
                let p = problem(&network, &exact.reports, &exact.relevant, None, encoding);
                let solved = exact.attempt(p).unwrap();
                let error = (solved.problem.ln + solved.collected.ln - exact.ln_evidence()).abs();
                (solved.collected.error, error)
            })
        };
        let [selector, chain] = both(1e-5);
        assert!(
            selector.0 > TOO_MUCH_CANCELLED,
            "the bound asks for the chain: {selector:?}"
        );
        assert!(
            chain.0 < 1e-12 && chain.1 == 0.0,
            "and the chain was used: {chain:?}"
        );
        assert!(
            selector.1 > 0.0 && selector.1 <= selector.0,
            "the bound holds: {selector:?}"
        );
        let [usual, _] = both(0.2);
        assert!(
            usual.1 < 1e-13,
            "usual leaks lose nothing either way: {usual:?}"
        );
    }
}
