//! One question, one answer: everything that is asked of a network, by whichever engine can afford it.

use super::evidence::{Evidence, Report};
use super::exact::{Exact, Refusal};
use super::network::{Network, Node, noisy_or};
use super::worlds::{Draws, Estimate, Look, Worlds};

/// What is taken away in the world that would have been.
#[derive(Clone, Debug, PartialEq)]
pub enum Removal {
    /// These nodes' own leaks do not fire (the origin form).
    Leaks(Vec<Node>),
    /// This node is held absent, whatever pushes it (the patch form).
    Held(Node),
}

/// Which engine answered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Method {
    /// Elimination: figures to about 1e-12.
    Exact,
    /// Weighed worlds: figures with a standard error.
    Sampled,
}

impl Method {
    /// `"exact"` or `"sampled"`.
    pub fn name(self) -> &'static str {
        match self {
            Method::Exact => "exact",
            Method::Sampled => "sampled",
        }
    }
}

/// Which causes count as leading when looks are weighed.
#[derive(Clone, Debug, PartialEq)]
pub enum Leading {
    /// The so many nodes that clear most, ties by node.
    Count(usize),
    /// These nodes.
    These(Vec<Node>),
}

/// What may be spent on an answer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Budget {
    /// What the exact engine may spend on the whole answer, in table cells visited (roughly ten nanoseconds each) and
    /// planning counted alike; 0 rules it out.
    pub cells: f64,
    /// How long to draw worlds.
    pub draws: Draws,
}

impl Default for Budget {
    /// Thirty million cells' worth, a quarter of a second on a sparse network of 200 nodes; half a point of standard error.
    fn default() -> Self {
        Budget {
            cells: 3e7,
            draws: Draws::default(),
        }
    }
}

/// What is asked of a network.
#[derive(Clone, Debug, PartialEq)]
pub struct Query {
    /// All reports.
    pub evidence: Evidence,
    /// The findings that count for clears (the set S) with their weights, each above 0 and among the reports.
    pub observed: Vec<(Node, f64)>,
    /// The causes that next looks should tell about.
    pub leading: Leading,
    /// What may be spent.
    pub budget: Budget,
}

impl Query {
    /// A query whose set S is every finding reported present or with a ratio above 1, each of weight 1.
    pub fn new(evidence: Evidence) -> Query {
        let counts = |report| match report {
            Report::Present => true,
            Report::Absent => false,
            Report::Likelihood(ratio) => ratio > 1.0,
        };
        let observed = evidence
            .iter()
            .filter(|e| counts(e.1))
            .map(|e| (e.0, 1.0))
            .collect();
        Query {
            evidence,
            observed,
            leading: Leading::Count(5),
            budget: Budget::default(),
        }
    }
}

/// What is wrong with a query.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum QueryError {
    /// A node that the network does not have.
    #[error("node {} does not exist", node.0)]
    Unknown {
        /// The node.
        node: Node,
    },
    /// A finding of S without a report, or reported absent: nothing of it could be cleared.
    #[error("node {} is to be cleared but was not reported seen", node.0)]
    NotSeen {
        /// The node.
        node: Node,
    },
    /// A weight that is not a finite number above 0.
    #[error("node {}: a weight must be a finite number above 0, not {weight}", node.0)]
    Weight {
        /// The node.
        node: Node,
        /// What was given.
        weight: f64,
    },
    /// The same finding twice in S.
    #[error("node {} is to be cleared twice", node.0)]
    Twice {
        /// The node.
        node: Node,
    },
}

/// The figures of one node.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NodeAnswer {
    /// `P(present | E)`.
    pub posterior: Estimate,
    /// `P(its leak fired | E)`: the chance that it is an origin.
    pub starts_here: Estimate,
    /// The share of what was seen that would not be there had its leak not fired.
    pub clears: Estimate,
    /// The share of what was seen that would not be there were it held absent.
    pub clears_while_held: Estimate,
}

/// How well the reports go together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AtOdds {
    /// `ln [ PROD P(e_i) / P(E) ]`: above 0 the reports do not go together.
    pub score: Estimate,
    /// The reported node whose turned-round report would raise `P(E)` relative to the single reports most, when the
    /// score is above 0 and the turn brings it down.
    pub suspect: Option<Node>,
}

/// Everything about one query; keeps what it needs to answer more about the same reports.
#[derive(Clone, Debug)]
pub struct Answer<'a> {
    network: &'a Network,
    query: Query,
    engine: Engine<'a>,
    /// One entry per node.
    pub nodes: Vec<NodeAnswer>,
    /// `ln P(E)`; a likelihood ratio counts as `r` if present, 1 if absent.
    pub ln_evidence: Estimate,
    /// Looks at every node not reported, most informative first, ties by node.
    pub looks: Vec<Look>,
    /// The causes that the looks are about.
    pub leading: Vec<Node>,
    /// Findings of S more likely than not to have started by themselves: `P(own leak is the only origin) > 1/2`.
    pub unexplained: Vec<(Node, Estimate)>,
    /// Why the exact engine was not used, if it was tried.
    pub refusal: Option<Refusal>,
}

#[derive(Clone, Debug)]
#[allow(clippy::large_enum_variant)] // one value per answer
enum Engine<'a> {
    Exact(Exact<'a>),
    Sampled(Worlds<'a>),
}

/// Answers a query: exactly when the tables' predicted cost fits the budget, by weighed worlds otherwise.
///
/// # Errors
/// [`QueryError`]; never because of cost.
pub fn answer(network: &Network, query: Query) -> Result<Answer<'_>, QueryError> {
    check(network, &query)?;
    let refusal = match exactly(network, &query) {
        Ok(answer) => return Ok(answer),
        Err(refusal) => refusal,
    };
    Ok(sampled(network, query, Some(refusal)))
}

fn check(network: &Network, query: &Query) -> Result<(), QueryError> {
    let leading = match &query.leading {
        Leading::These(nodes) => &nodes[..],
        Leading::Count(_) => &[],
    };
    let named = query
        .evidence
        .iter()
        .map(|e| e.0)
        .chain(query.observed.iter().map(|o| o.0));
    if let Some(node) = named
        .chain(leading.iter().copied())
        .find(|n| n.0 >= network.len())
    {
        return Err(QueryError::Unknown { node });
    }
    for (i, &(node, weight)) in query.observed.iter().enumerate() {
        if !(weight > 0.0 && weight.is_finite()) {
            return Err(QueryError::Weight { node, weight });
        }
        if matches!(query.evidence.get(node), None | Some(Report::Absent)) {
            return Err(QueryError::NotSeen { node });
        }
        if query.observed[..i].iter().any(|o| o.0 == node) {
            return Err(QueryError::Twice { node });
        }
    }
    Ok(())
}

fn exactly<'a>(network: &'a Network, query: &Query) -> Result<Answer<'a>, Refusal> {
    let mut left = Left {
        limit: query.budget.cells,
        spent: 0.0,
    };
    // No single table pass may take more than a tenth of it: there are many to come.
    let exact = Exact::new(network, &query.evidence, left.limit / 10.0)?;
    left.spend(exact.cost_so_far())?;
    // Every candidate's cost is known before the first is computed, and so is that of every look.
    let candidates = network.ancestors(query.observed.iter().map(|o| o.0.0));
    let candidate = |n: &Node| candidates[n.0];
    let unreported: Vec<Node> = network
        .nodes()
        .filter(|&n| query.evidence.get(n).is_none())
        .collect();
    let causes = match &query.leading {
        Leading::Count(count) => *count,
        Leading::These(nodes) => nodes.len(),
    };
    left.spend(exact.cost_so_far() * causes as f64)?;
    // A twin's tables are no smaller than the network's: often that is answer enough, and costs nothing to know.
    let least = 2.0 * exact.cells() * network.nodes().filter(candidate).count() as f64;
    left.spend(least)?;
    left.spent -= least;
    for node in network.nodes().filter(candidate) {
        left.spend(exact.cost(&Removal::Leaks(vec![node]))?)?;
        left.spend(exact.cost(&Removal::Held(node))?)?;
    }

    let figure = |node: Node, removal: Removal| -> Result<Estimate, Refusal> {
        if !candidates[node.0] {
            return Ok(Estimate::exact(0.0));
        }
        exact.clears(&removal, &query.observed).map(Estimate::exact)
    };
    let nodes = network
        .nodes()
        .map(|node| {
            Ok(NodeAnswer {
                posterior: Estimate::exact(exact.posterior()[node.0]),
                starts_here: Estimate::exact(exact.starts_here()[node.0]),
                clears: figure(node, Removal::Leaks(vec![node]))?,
                clears_while_held: figure(node, Removal::Held(node))?,
            })
        })
        .collect::<Result<Vec<NodeAnswer>, Refusal>>()?;
    let leading = leading(&query.leading, &nodes);
    let bits = exact_bits(&exact, &leading)?;
    let look = |&node: &Node| Look {
        node,
        bits: Estimate::exact(bits[node.0]),
    };
    let looks = unreported.iter().map(look).collect();
    let mut unexplained = Vec::new();
    for &(finding, _) in &query.observed {
        let alone = exact.needs(&Removal::Leaks(vec![finding]), &[finding])?[0];
        unexplained.push((finding, Estimate::exact(alone)));
    }
    let ln_evidence = Estimate::exact(exact.ln_evidence());
    Ok(Answer {
        network,
        query: query.clone(),
        engine: Engine::Exact(exact),
        nodes,
        ln_evidence,
        looks: sorted(looks),
        leading,
        unexplained: above_half(unexplained),
        refusal: None,
    })
}

/// `SUM over causes of I(node; leak of cause)` per node, in bits: from the posteriors given that a cause's leak did not
/// fire, one elimination per cause.
fn exact_bits(exact: &Exact, leading: &[Node]) -> Result<Vec<f64>, Refusal> {
    let mut bits = vec![0.0; exact.posterior().len()];
    for cause in leading {
        let q = exact.starts_here()[cause.0];
        if q <= 0.0 || q >= 1.0 {
            continue;
        }
        let without = exact.posterior_without(*cause)?;
        for ((bits, &p), p_quiet) in bits.iter_mut().zip(exact.posterior()).zip(without) {
            let quiet = p_quiet * (1.0 - q);
            let joint = [[1.0 - q - quiet, q - p + quiet], [quiet, p - quiet]];
            for (x, row) in joint.iter().enumerate() {
                for (y, &both) in row.iter().enumerate() {
                    let apart = [1.0 - p, p][x] * [1.0 - q, q][y];
                    if both > 1e-15 && apart > 1e-15 {
                        *bits += both * libm::log2(both / apart);
                    }
                }
            }
        }
    }
    bits.iter_mut().for_each(|b| *b = b.max(0.0));
    Ok(bits)
}

fn sampled(network: &Network, query: Query, refusal: Option<Refusal>) -> Answer<'_> {
    let remember = match &query.leading {
        Leading::These(nodes) => &nodes[..],
        Leading::Count(_) => &[],
    };
    let worlds = Worlds::draw(
        network,
        &query.evidence,
        &query.observed,
        remember,
        query.budget.draws,
    );
    let (posterior, starts) = (worlds.posterior(), worlds.starts_here());
    let (clears, held) = (worlds.clears(), worlds.clears_while_held());
    let nodes: Vec<NodeAnswer> = (0..network.len())
        .map(|n| NodeAnswer {
            posterior: posterior[n],
            starts_here: starts[n],
            clears: clears[n],
            clears_while_held: held[n],
        })
        .collect();
    let leading = leading(&query.leading, &nodes);
    let unreported: Vec<Node> = network
        .nodes()
        .filter(|&n| query.evidence.get(n).is_none())
        .collect();
    Answer {
        looks: sorted(worlds.looks(&leading, &unreported)),
        unexplained: above_half(worlds.alone()),
        ln_evidence: worlds.ln_evidence(),
        network,
        query,
        engine: Engine::Sampled(worlds),
        nodes,
        leading,
        refusal,
    }
}

struct Left {
    limit: f64,
    spent: f64,
}

impl Left {
    fn spend(&mut self, cells: f64) -> Result<(), Refusal> {
        self.spent += cells;
        if self.spent <= self.limit && self.limit > 0.0 {
            Ok(())
        } else {
            Err(Refusal::TooLarge {
                cells: self.spent,
                limit: self.limit,
                findings: Vec::new(),
            })
        }
    }
}

fn leading(wanted: &Leading, nodes: &[NodeAnswer]) -> Vec<Node> {
    match wanted {
        Leading::These(nodes) => nodes.clone(),
        Leading::Count(count) => {
            let mut order: Vec<usize> = (0..nodes.len())
                .filter(|&n| nodes[n].clears.value > 0.0)
                .collect();
            order.sort_by(|&a, &b| {
                nodes[b]
                    .clears
                    .value
                    .total_cmp(&nodes[a].clears.value)
                    .then(a.cmp(&b))
            });
            order.truncate(*count);
            order.into_iter().map(Node).collect()
        }
    }
}

fn sorted(mut looks: Vec<Look>) -> Vec<Look> {
    looks.sort_by(|a, b| {
        b.bits
            .value
            .total_cmp(&a.bits.value)
            .then(a.node.cmp(&b.node))
    });
    looks
}

fn above_half(mut alone: Vec<(Node, Estimate)>) -> Vec<(Node, Estimate)> {
    alone.retain(|a| a.1.value > 0.5);
    alone.sort_by_key(|a| a.0);
    alone
}

impl<'a> Answer<'a> {
    /// Which engine answered.
    pub fn method(&self) -> Method {
        match self.engine {
            Engine::Exact(_) => Method::Exact,
            Engine::Sampled(_) => Method::Sampled,
        }
    }

    /// The largest standard error among the figures of [`Answer::nodes`]; 0 when exact.
    pub fn standard_error(&self) -> f64 {
        let of = |n: &NodeAnswer| {
            let figures = [n.posterior, n.starts_here, n.clears, n.clears_while_held];
            figures.iter().map(|e| e.standard_error).fold(0.0, f64::max)
        };
        self.nodes.iter().map(of).fold(0.0, f64::max)
    }

    /// The worlds behind a sampled answer: draws, effective share.
    pub fn worlds(&self) -> Option<&Worlds<'a>> {
        match &self.engine {
            Engine::Exact(_) => None,
            Engine::Sampled(worlds) => Some(worlds),
        }
    }

    /// The share of what was seen that would not be there with the leaks of all of `set` removed at once. Nodes that
    /// the network does not have are passed over. An exact answer falls back on worlds for a set whose tables would
    /// pass the budget.
    pub fn clears_together(&self, set: &[Node]) -> Estimate {
        let mut set: Vec<Node> = set
            .iter()
            .copied()
            .filter(|n| n.0 < self.network.len())
            .collect();
        set.sort_unstable();
        set.dedup();
        match &self.engine {
            Engine::Sampled(worlds) => worlds.clears_together(&set),
            Engine::Exact(exact) => {
                match exact.clears(&Removal::Leaks(set.clone()), &self.query.observed) {
                    Ok(clears) => Estimate::exact(clears),
                    Err(_) => {
                        let Query {
                            evidence,
                            observed,
                            budget,
                            ..
                        } = &self.query;
                        Worlds::draw(self.network, evidence, observed, &set, budget.draws)
                            .clears_together(&set)
                    }
                }
            }
        }
    }

    /// Whether the reports go together, and which one spoils it most. Costs a pass per report when exact; when
    /// sampled, a few hundred to a thousand worlds per report whose effects matter.
    pub fn at_odds(&self) -> AtOdds {
        let alone: Vec<(Node, Report, f64)> = self.alone_chances();
        let sum: f64 = alone
            .iter()
            .map(|&(_, report, p)| ln_report(report, p))
            .sum();
        let score = sum - self.ln_evidence.value;
        let mut best: Option<(f64, Node)> = None;
        // Reports that have nothing to do with each other score 0 but for rounding.
        if score > 1e-9 {
            for &(node, report, p) in &alone {
                let turned = match report {
                    Report::Present => Report::Absent,
                    Report::Absent => Report::Present,
                    Report::Likelihood(ratio) => Report::Likelihood(1.0 / ratio),
                };
                let other =
                    sum - ln_report(report, p) + ln_report(turned, p) - self.ln_turned(node);
                if other < score && best.is_none_or(|b| other < b.0) {
                    best = Some((other, node));
                }
            }
        }
        let standard_error = self.ln_evidence.standard_error;
        AtOdds {
            score: Estimate {
                value: score,
                standard_error,
            },
            suspect: best.map(|b| b.1),
        }
    }

    /// Each report with its node's chance to be present when nothing is reported.
    fn alone_chances(&self) -> Vec<(Node, Report, f64)> {
        let reports: Vec<(Node, Report)> = self.query.evidence.iter().collect();
        let chances: Vec<f64> = match &self.engine {
            Engine::Exact(_) => {
                let prior = Exact::new(self.network, &Evidence::new(), self.query.budget.cells);
                match prior {
                    Ok(prior) => reports.iter().map(|r| prior.posterior()[r.0.0]).collect(),
                    Err(_) => prior_chances(self.network, &reports, self.query.budget.draws.seed),
                }
            }
            Engine::Sampled(_) => {
                prior_chances(self.network, &reports, self.query.budget.draws.seed)
            }
        };
        reports
            .into_iter()
            .zip(chances)
            .map(|((node, report), p)| (node, report, p))
            .collect()
    }

    fn ln_turned(&self, node: Node) -> f64 {
        let other = self.query.evidence.reversed(node);
        match &self.engine {
            Engine::Exact(exact) => Exact::new(self.network, &other, exact.limit())
                .map_or(f64::NEG_INFINITY, |e| e.ln_evidence()),
            Engine::Sampled(worlds) => worlds.ln_turned(node, &self.query.evidence, &other),
        }
    }
}

fn ln_report(report: Report, p: f64) -> f64 {
    match report {
        Report::Present => libm::log(p),
        Report::Absent => libm::log1p(-p),
        Report::Likelihood(ratio) => libm::log(1.0 - p + p * ratio),
    }
}

/// Prior chances of the reported nodes: worlds drawn with no report, each node by its chance given its parents.
fn prior_chances(network: &Network, reports: &[(Node, Report)], seed: u64) -> Vec<f64> {
    const DRAWS: usize = 4000; // a relative standard error of about one in a hundred for the usual shares
    use rand::{Rng, SeedableRng};
    let mut rng = rand_pcg::Pcg64Mcg::seed_from_u64(seed ^ 0x0dd5);
    let needed = network.ancestors(reports.iter().map(|r| r.0.0));
    let order: Vec<usize> = network
        .order()
        .iter()
        .copied()
        .filter(|&n| needed[n])
        .collect();
    let mut chance = vec![0.0; network.len()];
    let mut present = vec![false; network.len()];
    let mut sums = vec![0.0; reports.len()];
    for _ in 0..DRAWS {
        for &n in &order {
            let fired = network
                .parents(n)
                .iter()
                .filter(|p| present[p.0])
                .map(|p| p.1);
            chance[n] = noisy_or(network.leak(Node(n)), fired);
            present[n] = rng.random::<f64>() < chance[n];
        }
        sums.iter_mut()
            .zip(reports)
            .for_each(|(s, r)| *s += chance[r.0.0]);
    }
    sums.into_iter().map(|s| s / DRAWS as f64).collect()
}

#[cfg(test)]
mod tests {
    use super::super::enumeration::{Off, enumerate, fan, random_case};
    use super::super::network::{Base, NetworkBuilder};
    use super::*;

    fn query(evidence: &Evidence, observed: &[(Node, f64)], cells: f64) -> Query {
        let mut query = Query::new(evidence.clone());
        query.observed = observed.to_vec();
        query.leading = Leading::Count(3);
        query.budget.cells = cells;
        query.budget.draws = Draws {
            seed: 3,
            most: 8192,
            target: 0.0,
        };
        query
    }

    /// Mutual information from the definitions.
    fn bits(network: &Network, evidence: &Evidence, node: Node, causes: &[Node]) -> f64 {
        let with = |report| {
            let mut more = evidence.clone();
            more.add(node, report).unwrap();
            enumerate(network, &more, &[], &[])
        };
        let sides = [with(Report::Absent), with(Report::Present)];
        let total = sides[0].evidence + sides[1].evidence;
        let mut bits = 0.0;
        for cause in causes {
            let fired = |x: usize| sides[x].evidence / total * sides[x].starts[cause.0];
            let q = fired(0) + fired(1);
            for (x, side) in sides.iter().enumerate() {
                let p = side.evidence / total;
                for (both, apart) in [(fired(x), p * q), (p - fired(x), p * (1.0 - q))] {
                    if both > 1e-15 {
                        bits += both * (both / apart).log2();
                    }
                }
            }
        }
        bits
    }

    #[test]
    fn both_engines_answer_everything_alike() {
        let mut suspects = [0, 0];
        for seed in 0..30 {
            let (network, evidence, observed) = if seed % 3 == 0 {
                fan(seed)
            } else {
                random_case(seed, 5, 7)
            };
            let exact = answer(&network, query(&evidence, &observed, 1e7)).unwrap();
            let sampled = answer(&network, query(&evidence, &observed, 0.0)).unwrap();
            assert_eq!(exact.method(), Method::Exact);
            assert_eq!(exact.standard_error(), 0.0);
            assert_eq!(sampled.method(), Method::Sampled);
            let offs: Vec<Off> = network
                .nodes()
                .flat_map(|n| [Off::Leaks(vec![n.0]), Off::Held(n.0)])
                .collect();
            let oracle = enumerate(&network, &evidence, &observed, &offs);
            for n in 0..network.len() {
                let (e, s) = (&exact.nodes[n], &sampled.nodes[n]);
                assert!((e.clears.value - oracle.clears[2 * n]).abs() < 1e-12);
                assert!((e.clears_while_held.value - oracle.clears[2 * n + 1]).abs() < 1e-12);
                assert!((e.posterior.value - oracle.posterior[n]).abs() < 1e-12);
                for (a, b) in [
                    (e.posterior, s.posterior),
                    (e.starts_here, s.starts_here),
                    (e.clears, s.clears),
                    (e.clears_while_held, s.clears_while_held),
                ] {
                    let error = b.standard_error.max(0.002);
                    assert!(
                        (a.value - b.value).abs() < 5.0 * error,
                        "seed {seed} node {n}: {a:?} {b:?}"
                    );
                }
            }
            for look in &exact.looks {
                let expected = bits(&network, &evidence, look.node, &exact.leading);
                assert!(
                    (look.bits.value - expected).abs() < 1e-11,
                    "{look:?} against {expected}"
                );
                if sampled.leading == exact.leading {
                    let other = sampled.looks.iter().find(|l| l.node == look.node).unwrap();
                    let error = other.bits.standard_error.max(0.004);
                    assert!(
                        (other.bits.value - expected).abs() < 5.0 * error,
                        "seed {seed} {other:?} {expected}"
                    );
                }
            }
            let unexplained: Vec<Node> = exact.unexplained.iter().map(|u| u.0).collect();
            let expected: Vec<Node> = observed
                .iter()
                .zip(&oracle.alone)
                .filter(|o| *o.1 > 0.5)
                .map(|o| o.0.0)
                .collect();
            assert_eq!(unexplained, expected);
            let set = [Node(0), Node(2)];
            let together =
                enumerate(&network, &evidence, &observed, &[Off::Leaks(vec![0, 2])]).clears[0];
            assert!((exact.clears_together(&set).value - together).abs() < 1e-12);
            let found = sampled.clears_together(&set);
            assert!((found.value - together).abs() < 5.0 * found.standard_error.max(0.002));
            odds(&network, &evidence, &exact, &sampled, &mut suspects);
        }
        assert_eq!(suspects[0], suspects[1]);
    }

    fn odds(
        network: &Network,
        evidence: &Evidence,
        exact: &Answer,
        sampled: &Answer,
        suspects: &mut [usize; 2],
    ) {
        let ln = |e: &Evidence| enumerate(network, e, &[], &[]).evidence.ln();
        let score = |e: &Evidence| -> f64 {
            let single = e
                .iter()
                .map(|(n, r)| ln(&Evidence::from_reports([(n, r)]).unwrap()))
                .sum::<f64>();
            single - ln(e)
        };
        let found = exact.at_odds();
        let expected = score(evidence);
        assert!((found.score.value - expected).abs() < 1e-11);
        let other = sampled.at_odds();
        assert!(
            (other.score.value - expected).abs() < 0.25,
            "{other:?} against {expected}"
        );
        if let Some(suspect) = found.suspect {
            let turned = score(&evidence.reversed(suspect));
            let best = evidence
                .iter()
                .map(|(n, _)| score(&evidence.reversed(n)))
                .fold(f64::INFINITY, f64::min);
            assert!(
                (turned - best).abs() < 1e-11 && turned < expected,
                "{suspect:?} {turned} {best} {expected} {evidence:?}"
            );
            suspects[0] += 1;
            suspects[1] += usize::from(other.suspect == Some(suspect));
        }
    }

    /// Three effects of one cause; two seen and one not.
    #[test]
    fn the_report_that_does_not_fit_is_suspected() {
        let mut b = NetworkBuilder::new();
        let cause = b.add(Base::Leak(0.1)).unwrap();
        let effects = [0; 4].map(|_| b.add(Base::Leak(0.1)).unwrap());
        effects
            .iter()
            .for_each(|&e| b.link(cause, e, 0.95).unwrap());
        let network = b.build(1e-4).unwrap();
        let reports = effects.iter().map(|&e| {
            (
                e,
                if e == effects[3] {
                    Report::Absent
                } else {
                    Report::Present
                },
            )
        });
        let evidence = Evidence::from_reports(reports.chain([(cause, Report::Absent)])).unwrap();
        for cells in [1e6, 0.0] {
            let odds = answer(&network, query(&evidence, &[], cells))
                .unwrap()
                .at_odds();
            assert!(odds.score.value > 1.0, "{odds:?}");
            assert_eq!(odds.suspect, Some(cause));
        }
    }

    #[test]
    fn unsound_queries_are_refused_by_node() {
        let (network, evidence, observed) = fan(1);
        let with = |observed: Vec<(Node, f64)>| {
            answer(
                &network,
                Query {
                    observed,
                    ..query(&evidence, &[], 1e6)
                },
            )
            .err()
        };
        assert_eq!(
            with(vec![(Node(99), 1.0)]),
            Some(QueryError::Unknown { node: Node(99) })
        );
        assert_eq!(
            with(vec![(Node(0), 1.0)]),
            Some(QueryError::NotSeen { node: Node(0) })
        );
        let node = observed[0].0;
        assert_eq!(
            with(vec![(node, 0.0)]),
            Some(QueryError::Weight { node, weight: 0.0 })
        );
        assert!(matches!(
            with(vec![(node, f64::NAN)]),
            Some(QueryError::Weight { .. })
        ));
        assert_eq!(
            with(vec![(node, 1.0), (node, 1.0)]),
            Some(QueryError::Twice { node })
        );
    }

    #[test]
    fn a_budget_too_small_for_exact_tables_says_so_and_draws_worlds() {
        let (network, evidence, observed) = fan(2);
        let sampled = answer(&network, query(&evidence, &observed, 20.0)).unwrap();
        assert_eq!(sampled.method().name(), "sampled");
        assert!(matches!(sampled.refusal, Some(Refusal::TooLarge { .. })));
        assert!(sampled.standard_error() > 0.0);
    }

    #[test]
    fn nothing_reported_is_answered_by_priors() {
        let (network, _, _) = fan(2);
        let a = answer(&network, Query::new(Evidence::new())).unwrap();
        assert!(a.ln_evidence.value.abs() < 1e-12);
        assert!(
            a.nodes
                .iter()
                .all(|n| n.clears.value == 0.0 && n.posterior.value > 0.0)
        );
        assert_eq!(a.at_odds().suspect, None);
        let b = answer(&network, query(&Evidence::new(), &[], 0.0)).unwrap();
        assert!(
            b.nodes
                .iter()
                .zip(&a.nodes)
                .all(|(b, a)| (b.posterior.value - a.posterior.value).abs() < 0.03)
        );
    }
}
