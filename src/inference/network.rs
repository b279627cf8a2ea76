//! The causal network: binary conditions joined by leaky noisy-OR links.

use std::collections::{BTreeMap, BTreeSet};

use rand::Rng;

/// The number of a condition in its [`Network`]: `0..network.len()`, in the order in which they were added.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Node(pub usize);

impl Node {
    /// The number as an index into slices that hold one entry per node.
    pub fn index(self) -> usize {
        self.0
    }
}

/// A link `from -> to`: `from`, when present, brings `to` about with probability `strength`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Link {
    /// The cause.
    pub from: Node,
    /// The effect.
    pub to: Node,
    /// The chance in `(0, 1)` that a present `from` brings `to` about, all else being away.
    pub strength: f64,
}

/// How often a condition is there, as its author put it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Base {
    /// The leak in `(0, 1)`: the chance that it is there with none of its parents present.
    Leak(f64),
    /// How common it is in `(0, 1)`: its marginal, parents included. The leak follows from it.
    Share(f64),
}

/// What is wrong with a network that was to be built.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum NetworkError {
    /// A leak or a share outside `(0, 1)`, or not a number.
    #[error("node {}: a base rate must lie strictly between 0 and 1, not {value}", node.0)]
    Base {
        /// The node whose base rate it is.
        node: Node,
        /// What was given.
        value: f64,
    },
    /// A strength outside `(0, 1)`, or not a number.
    #[error("link {} -> {}: a strength must lie strictly between 0 and 1, not {value}", from.0, to.0)]
    Strength {
        /// The cause.
        from: Node,
        /// The effect.
        to: Node,
        /// What was given.
        value: f64,
    },
    /// A link names a node that was never added.
    #[error("node {} does not exist", node.0)]
    Unknown {
        /// The node that is not there.
        node: Node,
    },
    /// A node cannot bring itself about.
    #[error("node {} links to itself", node.0)]
    Itself {
        /// The node.
        node: Node,
    },
    /// The same link twice; which strength counts would be a guess.
    #[error("link {} -> {} is given twice", from.0, to.0)]
    Twice {
        /// The cause.
        from: Node,
        /// The effect.
        to: Node,
    },
    /// Causes that run in a circle; the nodes stand in the order of the links, the last links to the first.
    #[error("the links run in a circle: {}", nodes.iter().map(|n| n.0.to_string()).collect::<Vec<_>>().join(" -> "))]
    Cycle {
        /// The members, beginning with the smallest.
        nodes: Vec<Node>,
    },
}

/// A node whose links alone make it more common than its author said it is.
#[derive(Clone, Debug, PartialEq)]
pub struct Overclaim {
    /// The node.
    pub node: Node,
    /// The share that was stated.
    pub stated: f64,
    /// The share that the links alone bring about, `1 - PROD(1 - s * b_U)`.
    pub from_links: f64,
    /// The parents with the share each would bring about alone, `s * b_U`; heaviest first, ties by node.
    pub parents: Vec<(Node, f64)>,
}

/// Collects nodes and links and refuses what cannot be a network.
#[derive(Clone, Debug, Default)]
pub struct NetworkBuilder {
    bases: Vec<Base>,
    links: BTreeMap<(usize, usize), f64>,
}

impl NetworkBuilder {
    /// An empty builder.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a node and returns its number.
    ///
    /// # Errors
    /// [`NetworkError::Base`] when the leak or share is not strictly between 0 and 1.
    pub fn add(&mut self, base: Base) -> Result<Node, NetworkError> {
        let node = Node(self.bases.len());
        let (Base::Leak(value) | Base::Share(value)) = base;
        if !inside(value) {
            return Err(NetworkError::Base { node, value });
        }
        self.bases.push(base);
        Ok(node)
    }

    /// Adds a link; both ends must have been added before.
    ///
    /// # Errors
    /// [`NetworkError::Unknown`], [`NetworkError::Itself`], [`NetworkError::Strength`], [`NetworkError::Twice`].
    pub fn link(&mut self, from: Node, to: Node, strength: f64) -> Result<(), NetworkError> {
        for node in [from, to] {
            if node.0 >= self.bases.len() {
                return Err(NetworkError::Unknown { node });
            }
        }
        if from == to {
            return Err(NetworkError::Itself { node: from });
        }
        if !inside(strength) {
            return Err(NetworkError::Strength {
                from,
                to,
                value: strength,
            });
        }
        if self.links.insert((from.0, to.0), strength).is_some() {
            return Err(NetworkError::Twice { from, to });
        }
        Ok(())
    }

    /// The network. Leaks of nodes that were given by their share follow in topological order from
    /// `l = max(least_leak, 1 - (1 - share) / PROD(1 - s * b_U))`, where `b_U` is the marginal so estimated of each
    /// parent (parents taken as independent); where the links alone pass the share see [`Network::overclaims`].
    ///
    /// # Errors
    /// [`NetworkError::Cycle`]; [`NetworkError::Base`] of node 0 when `least_leak` is not strictly between 0 and 1.
    pub fn build(self, least_leak: f64) -> Result<Network, NetworkError> {
        if !inside(least_leak) {
            return Err(NetworkError::Base {
                node: Node(0),
                value: least_leak,
            });
        }
        let count = self.bases.len();
        let mut parents = vec![Vec::new(); count];
        let mut children = vec![Vec::new(); count];
        for (&(from, to), &strength) in &self.links {
            parents[to].push((from, strength));
            children[from].push((to, strength));
        }
        let order = topological(&parents, &children)?;
        let mut leaks = vec![0.0; count];
        let mut estimates = vec![0.0; count];
        let mut overclaims = Vec::new();
        for &node in &order {
            let none: f64 = parents[node]
                .iter()
                .map(|&(u, s): &(usize, f64)| 1.0 - s * estimates[u])
                .product();
            leaks[node] = match self.bases[node] {
                Base::Leak(leak) => leak,
                Base::Share(share) => {
                    if 1.0 - none > share {
                        overclaims.push(overclaim(node, share, none, &parents[node], &estimates));
                    }
                    (1.0 - (1.0 - share) / none).max(least_leak)
                }
            };
            estimates[node] = 1.0 - (1.0 - leaks[node]) * none;
        }
        overclaims.sort_by_key(|claim| claim.node);
        Ok(Network {
            leaks,
            parents,
            children,
            order,
            estimates,
            overclaims,
        })
    }
}

fn overclaim(
    node: usize,
    stated: f64,
    none: f64,
    parents: &[(usize, f64)],
    estimates: &[f64],
) -> Overclaim {
    let mut weights: Vec<(Node, f64)> = parents
        .iter()
        .map(|&(u, s)| (Node(u), s * estimates[u]))
        .collect();
    weights.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    Overclaim {
        node: Node(node),
        stated,
        from_links: 1.0 - none,
        parents: weights,
    }
}

/// A causal network of binary conditions with leaky noisy-OR links (Pearl 1988, *Probabilistic Reasoning in
/// Intelligent Systems*; from memory):
///
/// `P(X absent | parents) = (1 - leak) * PROD over present parents U of (1 - s_UX)`.
///
/// Every leak and strength lies strictly between 0 and 1, so no set of observations is impossible.
#[derive(Clone, Debug, PartialEq)]
pub struct Network {
    leaks: Vec<f64>,
    parents: Vec<Vec<(usize, f64)>>,
    children: Vec<Vec<(usize, f64)>>,
    order: Vec<usize>,
    estimates: Vec<f64>,
    overclaims: Vec<Overclaim>,
}

impl Network {
    /// The number of nodes.
    pub fn len(&self) -> usize {
        self.leaks.len()
    }

    /// Whether there is no node at all.
    pub fn is_empty(&self) -> bool {
        self.leaks.is_empty()
    }

    /// All nodes, by number.
    pub fn nodes(&self) -> impl Iterator<Item = Node> + use<> {
        (0..self.leaks.len()).map(Node)
    }

    /// The number of links.
    pub fn link_count(&self) -> usize {
        self.parents.iter().map(Vec::len).sum()
    }

    /// The chance in `(0, 1)` that `node` is there with no parent present.
    pub fn leak(&self, node: Node) -> f64 {
        self.leaks[node.0]
    }

    /// The links into `node`, by the number of the cause.
    pub fn links_into(&self, node: Node) -> impl Iterator<Item = Link> + '_ {
        self.parents[node.0].iter().map(move |&(u, strength)| Link {
            from: Node(u),
            to: node,
            strength,
        })
    }

    /// The nodes in an order in which every cause stands before its effects; ties by number.
    pub fn topological(&self) -> impl Iterator<Item = Node> + '_ {
        self.order.iter().map(|&n| Node(n))
    }

    /// Each node's marginal with its parents taken as independent, one entry per node; exact on a tree.
    pub fn estimated_shares(&self) -> &[f64] {
        &self.estimates
    }

    /// Where the links alone make a node more common than was stated, by node.
    pub fn overclaims(&self) -> &[Overclaim] {
        &self.overclaims
    }

    /// The network with every leak and strength moved by normal noise of standard deviation `sd` on its log-odds,
    /// in the order of the nodes (leak first, then links by cause); values stay within `[1e-9, 1 - 1e-9]`.
    ///
    /// Noise on log-odds as in Pradhan, Henrion, Provan, Del Favero & Huang (1996), *The sensitivity of belief
    /// networks to imprecise probabilities*, Artificial Intelligence 85 (from memory).
    pub fn shaken<R: Rng>(&self, sd: f64, rng: &mut R) -> Network {
        let mut shaken = self.clone();
        for node in 0..self.len() {
            shaken.leaks[node] = shake(self.leaks[node], sd, rng);
            for parent in 0..self.parents[node].len() {
                let (u, s) = self.parents[node][parent];
                let s = shake(s, sd, rng);
                shaken.parents[node][parent].1 = s;
                let at = shaken.children[u]
                    .binary_search_by_key(&node, |c| c.0)
                    .expect("children mirror parents");
                shaken.children[u][at].1 = s;
            }
        }
        shaken
    }

    /// The same with a leak of 0, which only the exact engine can take.
    pub(crate) fn without_leak(&self, node: Node) -> Network {
        let mut other = self.clone();
        other.leaks[node.0] = 0.0;
        other
    }

    pub(crate) fn parents(&self, node: usize) -> &[(usize, f64)] {
        &self.parents[node]
    }

    pub(crate) fn children(&self, node: usize) -> &[(usize, f64)] {
        &self.children[node]
    }

    pub(crate) fn order(&self) -> &[usize] {
        &self.order
    }

    /// Marks `seeds` and everything upstream of them.
    pub(crate) fn ancestors(&self, seeds: impl IntoIterator<Item = usize>) -> Vec<bool> {
        mark(self.len(), seeds, &self.parents)
    }

    /// Marks `seeds` and everything downstream of them.
    pub(crate) fn descendants(&self, seeds: impl IntoIterator<Item = usize>) -> Vec<bool> {
        mark(self.len(), seeds, &self.children)
    }
}

fn mark(
    count: usize,
    seeds: impl IntoIterator<Item = usize>,
    next: &[Vec<(usize, f64)>],
) -> Vec<bool> {
    let mut marked = vec![false; count];
    let mut stack: Vec<usize> = seeds.into_iter().collect();
    while let Some(node) = stack.pop() {
        if !std::mem::replace(&mut marked[node], true) {
            stack.extend(next[node].iter().map(|l| l.0));
        }
    }
    marked
}

/// Moves a probability by normal noise on its log-odds.
pub(crate) fn shake<R: Rng>(p: f64, sd: f64, rng: &mut R) -> f64 {
    let odds = libm::log(p / (1.0 - p)) + sd * normal(rng);
    (1.0 / (1.0 + libm::exp(-odds))).clamp(1e-9, 1.0 - 1e-9)
}

/// A standard normal draw (Box & Muller 1958; the second of the pair is dropped, so that a draw is two numbers).
fn normal<R: Rng>(rng: &mut R) -> f64 {
    let radius: f64 = 1.0 - rng.random::<f64>();
    let angle: f64 = rng.random::<f64>() * std::f64::consts::TAU;
    libm::sqrt(-2.0 * libm::log(radius)) * libm::cos(angle)
}

fn inside(p: f64) -> bool {
    p > 0.0 && p < 1.0
}

/// `1 - (1 - leak) * PROD(1 - s)` without subtracting from one, so that small chances keep their digits.
pub fn noisy_or(leak: f64, strengths: impl IntoIterator<Item = f64>) -> f64 {
    strengths
        .into_iter()
        .fold(leak, |fired, s| fired + (1.0 - fired) * s)
}

type Links = [Vec<(usize, f64)>];

fn topological(parents: &Links, children: &Links) -> Result<Vec<usize>, NetworkError> {
    let mut waiting: Vec<usize> = parents.iter().map(Vec::len).collect();
    let mut ready: BTreeSet<usize> = (0..parents.len()).filter(|&n| waiting[n] == 0).collect();
    let mut order = Vec::with_capacity(parents.len());
    while let Some(node) = ready.pop_first() {
        order.push(node);
        for &(child, _) in &children[node] {
            waiting[child] -= 1;
            if waiting[child] == 0 {
                ready.insert(child);
            }
        }
    }
    if order.len() == parents.len() {
        Ok(order)
    } else {
        Err(cycle(parents, &waiting))
    }
}

/// One circle among the nodes that never became ready: each has such a parent, so walking up must come round.
fn cycle(parents: &Links, waiting: &[usize]) -> NetworkError {
    let mut at = waiting
        .iter()
        .position(|&w| w > 0)
        .expect("some node never became ready");
    let mut seen = vec![usize::MAX; parents.len()];
    let mut path = Vec::new();
    while seen[at] == usize::MAX {
        seen[at] = path.len();
        path.push(at);
        at = parents[at]
            .iter()
            .map(|l| l.0)
            .find(|&u| waiting[u] > 0)
            .expect("a waiting node has a waiting parent");
    }
    let mut nodes: Vec<Node> = path[seen[at]..].iter().rev().map(|&n| Node(n)).collect();
    let first = (0..nodes.len())
        .min_by_key(|&i| nodes[i])
        .expect("a circle has members");
    nodes.rotate_left(first);
    NetworkError::Cycle { nodes }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn three() -> NetworkBuilder {
        let mut builder = NetworkBuilder::new();
        for _ in 0..3 {
            builder.add(Base::Leak(0.1)).unwrap();
        }
        builder
    }

    #[test]
    fn what_cannot_be_a_network_is_refused_by_name() {
        let mut b = three();
        for bad in [0.0, 1.0, -0.1, f64::NAN, f64::INFINITY] {
            assert!(matches!(
                b.add(Base::Leak(bad)),
                Err(NetworkError::Base { node: Node(3), .. })
            ));
            assert!(matches!(
                b.add(Base::Share(bad)),
                Err(NetworkError::Base { .. })
            ));
            assert!(matches!(
                b.link(Node(0), Node(1), bad),
                Err(NetworkError::Strength { .. })
            ));
        }
        assert_eq!(
            b.link(Node(1), Node(1), 0.5),
            Err(NetworkError::Itself { node: Node(1) })
        );
        assert_eq!(
            b.link(Node(1), Node(7), 0.5),
            Err(NetworkError::Unknown { node: Node(7) })
        );
        b.link(Node(0), Node(1), 0.5).unwrap();
        assert_eq!(
            b.link(Node(0), Node(1), 0.6),
            Err(NetworkError::Twice {
                from: Node(0),
                to: Node(1)
            })
        );
    }

    #[test]
    fn a_circle_is_named_in_the_order_of_its_links() {
        let mut b = three();
        b.link(Node(2), Node(1), 0.5).unwrap();
        b.link(Node(1), Node(0), 0.5).unwrap();
        b.link(Node(0), Node(2), 0.5).unwrap();
        let error = b.build(1e-4).unwrap_err();
        assert_eq!(
            error,
            NetworkError::Cycle {
                nodes: vec![Node(0), Node(2), Node(1)]
            }
        );
        assert_eq!(error.to_string(), "the links run in a circle: 0 -> 2 -> 1");
    }

    /// By hand: 0.9 * (1 - 0.5 * 0.2) = 0.81, so a share of 0.19 leaves a leak of 0.1.
    #[test]
    fn leaks_follow_from_shares() {
        let mut b = NetworkBuilder::new();
        let a = b.add(Base::Share(0.2)).unwrap();
        let x = b.add(Base::Share(0.19)).unwrap();
        let y = b.add(Base::Share(0.05)).unwrap();
        b.link(a, x, 0.5).unwrap();
        b.link(a, y, 0.5).unwrap();
        let n = b.build(1e-3).unwrap();
        assert!((n.leak(a) - 0.2).abs() < 1e-15);
        assert!((n.leak(x) - 0.1).abs() < 1e-15);
        assert_eq!(n.leak(y), 1e-3);
        assert_eq!(n.overclaims().len(), 1);
        let claim = &n.overclaims()[0];
        assert_eq!((claim.node, claim.stated), (y, 0.05));
        assert!((claim.from_links - 0.1).abs() < 1e-15);
        assert!(claim.parents.len() == 1 && (claim.parents[0].1 - 0.1).abs() < 1e-15);
    }

    /// Russell & Norvig, *Artificial Intelligence: A Modern Approach*: inhibitions cold 0.6, flu 0.2, malaria 0.1.
    #[test]
    fn the_fever_table() {
        let (cold, flu, malaria) = (0.4, 0.8, 0.9);
        let table: [(&[f64], f64); 8] = [
            (&[], 0.0),
            (&[malaria], 0.9),
            (&[flu], 0.8),
            (&[flu, malaria], 0.98),
            (&[cold], 0.4),
            (&[cold, malaria], 0.94),
            (&[cold, flu], 0.88),
            (&[cold, flu, malaria], 0.988),
        ];
        for (causes, fever) in table {
            assert!(
                (noisy_or(0.0, causes.iter().copied()) - fever).abs() < 1e-15,
                "{causes:?}"
            );
        }
    }

    /// Pearl (1988), from memory; arithmetic by hand: 1 - 0.95 * 0.2 * 0.4 = 0.924, 1 - 0.95 * 0.2 = 0.81.
    #[test]
    fn noisy_or_with_a_leak() {
        assert!((noisy_or(0.05, [0.8, 0.6]) - 0.924).abs() < 1e-15);
        assert!((noisy_or(0.05, [0.8]) - 0.81).abs() < 1e-15);
        assert_eq!(noisy_or(0.05, []), 0.05);
    }
}
