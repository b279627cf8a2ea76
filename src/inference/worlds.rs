//! Weighed worlds: importance sampling over the noises, for networks too dense for any elimination.
//!
//! A world is one draw of every leak and of the links out of what is present. Drawn blindly, hardly any world would
//! show all that was seen; so each draw begins at the findings and works back: in reverse topological order every
//! condition that is *needed* picks the first source that fires, in a fixed order (its leak, then its parents from the
//! weakest link to the strongest); a parent so picked is then needed in turn. All other noises fall as they may, in
//! topological order, but for the sources before the one picked, which must not fire. So every world comes about in
//! one way only, and its weight is its chance over the chance of its picks. With `a_i = s_i` if parent `i` is needed
//! already and `s_i * share_i` if not (`a_0` the leak), and a guide `g_i`, source `i` is picked with chance
//!
//! `r_i = g_i * a_i * PROD over j < i of (1 - a_j) / C`,
//!
//! and a needed condition multiplies the weight by `s_i / r_i`, by `1 - s_j` for every earlier parent that turns out
//! to be present; a parent that is made needed brings a factor of its own. Absent
//! findings and likelihood ratios multiply the weight by their chance. Weak links come first because a strong one that
//! must not fire would make weights uneven. A few pilot rounds move each `g` and the chance of each leak that was not
//! picked towards what the weights say (weights corrected).
//!
//! Every world answers every counterfactual at once: a condition's origin is its one leak or several, and in the graph
//! of fired sources under a virtual root holding C absent clears f exactly when C dominates f. The immediate dominator
//! is the lowest common ancestor of the fired sources in the tree built so far (Cooper, Harvey & Kennedy 2001, *A
//! simple, fast dominance algorithm*; from memory; on an acyclic graph one pass is enough).

use std::collections::BTreeMap;

use rand::{RngCore, SeedableRng};
use rand_pcg::Pcg64Mcg;

use super::evidence::{Evidence, Report};
use super::network::{Network, Node};

/// A figure from draws.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Estimate {
    /// The figure.
    pub value: f64,
    /// Its standard error; 0 for a figure that is exact.
    pub standard_error: f64,
}

impl Estimate {
    /// A figure without error.
    pub fn exact(value: f64) -> Self {
        Estimate {
            value,
            standard_error: 0.0,
        }
    }
}

/// How long to draw.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Draws {
    /// Seed: the same seed, network and reports give the same bytes.
    pub seed: u64,
    /// The most worlds to draw, pilot rounds aside.
    pub most: usize,
    /// Stop once the largest standard error among all figures is below this.
    pub target: f64,
}

impl Default for Draws {
    /// Half a point of standard error, at most 200,000 worlds.
    fn default() -> Self {
        Draws {
            seed: 1,
            most: 200_000,
            target: 0.005,
        }
    }
}

/// Worlds kept whole for [`Worlds::clears_together`] and [`Worlds::looks`].
const KEPT: usize = 32_768;

/// Worlds between two looks at the standard errors.
const BATCH: usize = 1024;

/// Standard errors by which a pilot's estimate must differ before it counts.
const SURE: f64 = 2.0;

/// Pilot rounds by number of worlds.
const PILOTS: [usize; 3] = [256, 512, 1024];

/// Causes whose leaks each world remembers one by one; the last bit of the word stands for all others.
const REMEMBERED: usize = 63;
const OTHERS: u64 = 1 << 63;

const NONE: u32 = u32::MAX;
const SEVERAL: u32 = u32::MAX - 1;

/// The network cut to what matters, in topological order, in flat arrays.
#[derive(Clone, Debug)]
struct Layout {
    /// Per place, the node.
    nodes: Vec<usize>,
    /// Per node, its place or `NONE`.
    places: Vec<u32>,
    leak: Vec<f64>,
    share: Vec<f64>,
    /// What a present node multiplies the weight by: its ratio, and `1 - s` for each absent child.
    present_weight: Vec<f64>,
    /// Links to children that are not reported absent.
    push: Vec<Push>,
    push_at: Vec<u32>,
    /// Sources by child: `NONE` and the leak, then parents and strengths, weakest first, in
    /// `links[links_at[i]..links_at[i + 1]]`. The very first entry is no source, so that 0 means that none is picked.
    links: Vec<(u32, f64)>,
    links_at: Vec<u32>,
    /// Places reported seen, as bits.
    seen: Vec<u64>,
    /// Logarithm of what every world's weight leaves out.
    ln: f64,
    /// Findings of S: place and weight.
    observed: Vec<(u32, f64)>,
}

/// A link seen from its parent.
#[derive(Clone, Copy, Debug)]
struct Push {
    child: u32,
    threshold: u32,
    /// Its place in `Layout::links`.
    link: u32,
    /// `1 - s`.
    stays: f64,
}

/// `p` in units of 2^-32; a draw of 32 bits below it happens with chance `chance(threshold(p))`.
fn threshold(p: f64) -> u32 {
    // The conversion saturates.
    (p * 4_294_967_296.0).round() as u32
}

/// A chance after evidence that favours presence `weight` times.
fn weighed(p: f64, weight: f64) -> f64 {
    (p * weight / (1.0 - p + p * weight)).clamp(1e-3, 0.999)
}

fn chance(threshold: u32) -> f64 {
    f64::from(threshold) / 4_294_967_296.0
}

impl Layout {
    fn new(
        network: &Network,
        evidence: &Evidence,
        observed: &[(Node, f64)],
        everything: bool,
    ) -> Layout {
        let count = network.len();
        let mut reports = vec![None; count];
        for (node, report) in evidence.iter() {
            reports[node.0] = Some(report);
        }
        let relevant = network.ancestors(evidence.iter().map(|e| e.0.0));
        let absent = |n: usize| reports[n] == Some(Report::Absent);
        let nodes: Vec<usize> = network
            .order()
            .iter()
            .copied()
            .filter(|&n| (everything || relevant[n]) && !absent(n))
            .collect();
        let mut places = vec![NONE; count];
        nodes
            .iter()
            .enumerate()
            .for_each(|(i, &n)| places[n] = i as u32);
        let absents = (0..count).filter(|&n| absent(n));
        let mut l = Layout {
            leak: nodes.iter().map(|&n| network.leak(Node(n))).collect(),
            share: nodes
                .iter()
                .map(|&n| network.estimated_shares()[n])
                .collect(),
            present_weight: Vec::new(),
            push: Vec::new(),
            push_at: vec![0],
            links: vec![(NONE, 0.0)],
            links_at: vec![1],
            seen: vec![0; nodes.len().div_ceil(64)],
            observed: observed
                .iter()
                .map(|&(n, w)| (places[n.0], w))
                .filter(|o| o.0 != NONE)
                .collect(),
            ln: absents.map(|n| libm::log1p(-network.leak(Node(n)))).sum(),
            places,
            nodes,
        };
        let mut number = BTreeMap::new();
        for (i, &n) in l.nodes.iter().enumerate() {
            l.links.push((NONE, l.leak[i]));
            let mut parents: Vec<(usize, f64)> = network
                .parents(n)
                .iter()
                .filter(|p| !absent(p.0))
                .copied()
                .collect();
            parents.sort_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)));
            for (u, s) in parents {
                number.insert((u, n), l.links.len() as u32);
                l.links.push((l.places[u], s));
            }
            l.links_at.push(l.links.len() as u32);
            if reports[n] == Some(Report::Present) {
                l.seen[i / 64] |= 1 << (i % 64);
            }
        }
        for &n in &l.nodes {
            let mut weight = match reports[n] {
                Some(Report::Likelihood(ratio)) => ratio,
                _ => 1.0,
            };
            for &(child, s) in network.children(n) {
                if absent(child) {
                    weight *= 1.0 - s;
                } else if l.places[child] != NONE {
                    let (child, link) = (l.places[child], number[&(n, child)]);
                    l.push.push(Push {
                        child,
                        threshold: threshold(s),
                        link,
                        stays: 1.0 - s,
                    });
                }
            }
            l.push_at.push(l.push.len() as u32);
            l.present_weight.push(weight);
        }
        // Any guess between 0 and 1 will do for the draws; this one knows of a node's own ratio and absent children.
        for (share, &weight) in l.share.iter_mut().zip(&l.present_weight) {
            *share = weighed(*share, weight);
        }
        l
    }

    fn len(&self) -> usize {
        self.nodes.len()
    }

    fn links_of(&self, place: usize) -> std::ops::Range<usize> {
        self.links_at[place] as usize..self.links_at[place + 1] as usize
    }
}

/// What the pilot rounds learn.
#[derive(Clone, Debug)]
struct Proposal {
    /// Per link and leak of `Layout::links`: how much likelier it is picked than its prior chance says.
    guide: Vec<f64>,
    /// Per leak that was not picked: its chance to fire in a draw.
    threshold: Vec<u32>,
    /// What the weight takes when it fires instead of not.
    fired: Vec<f64>,
    /// What the weight takes when it does not fire.
    quiet: Vec<f64>,
    /// Product of `quiet`.
    all_quiet: f64,
}

impl Proposal {
    fn new(layout: &Layout, guide: Vec<f64>, q: &[f64]) -> Proposal {
        let (mut thresholds, mut fired, mut quiet) = (Vec::new(), Vec::new(), Vec::new());
        for (&q, &l) in q.iter().zip(&layout.leak) {
            let t = threshold(q).max(1);
            let q = chance(t);
            thresholds.push(t);
            quiet.push((1.0 - l) / (1.0 - q));
            fired.push(l / q * (1.0 - q) / (1.0 - l));
        }
        let all_quiet = quiet.iter().product();
        Proposal {
            guide,
            threshold: thresholds,
            fired,
            quiet,
            all_quiet,
        }
    }
}

/// One world; all arrays by place and reused from draw to draw.
struct World {
    /// Immediate dominator; `NONE` when absent; the number of places stands for the virtual root.
    dominator: Vec<u32>,
    depth: Vec<u32>,
    /// The place whose leak alone this goes back to, or `SEVERAL`.
    origin: Vec<u32>,
    /// Which remembered leaks this goes back to.
    leaks: Vec<u64>,
    present: Vec<u32>,
    fired: Vec<u32>,
    weight: f64,
    /// Needed places as bits, and per needed place the source (of `Layout::links`) that was picked; 0 if none.
    needed: Vec<u64>,
    picked: Vec<u32>,
    /// Places with a fired source that wait for their turn.
    pending: Vec<u64>,
    chances: Vec<f64>,
    none: Vec<f64>,
    candidates: Vec<u32>,
    /// Picks of this draw, for the pilot rounds.
    picks: Vec<u32>,
}

impl World {
    fn new(l: &Layout) -> World {
        let count = l.len();
        World {
            dominator: vec![NONE; count + 1],
            depth: vec![0; count + 1],
            origin: vec![NONE; count],
            leaks: vec![0; count],
            present: Vec::with_capacity(count),
            fired: Vec::with_capacity(count),
            weight: 0.0,
            needed: vec![0; count.div_ceil(64)],
            picked: vec![0; count],
            pending: vec![0; count.div_ceil(64)],
            chances: vec![0.0; count + 1],
            none: vec![0.0; count + 1],
            candidates: vec![0; count + 2],
            picks: Vec::with_capacity(count),
        }
    }

    /// `source` (a place, or the number of places for the own leak) fired into `to`.
    #[inline]
    fn fire(&mut self, source: u32, to: usize, root: u32, own: u64) {
        let (origin, leaks) = if source == root {
            (to as u32, own)
        } else {
            (self.origin[source as usize], self.leaks[source as usize])
        };
        if self.dominator[to] == NONE {
            self.dominator[to] = source;
            self.origin[to] = origin;
            self.leaks[to] = leaks;
            self.pending[to / 64] |= 1 << (to % 64);
            return;
        }
        self.leaks[to] |= leaks;
        if self.origin[to] != origin {
            self.origin[to] = SEVERAL;
        }
        let (mut a, mut b) = (self.dominator[to] as usize, source as usize);
        while a != b {
            if self.depth[a] > self.depth[b] {
                a = self.dominator[a] as usize;
            } else if self.depth[a] < self.depth[b] {
                b = self.dominator[b] as usize;
            } else {
                a = self.dominator[a] as usize;
                b = self.dominator[b] as usize;
            }
        }
        self.dominator[to] = a as u32;
    }

    fn draw(&mut self, l: &Layout, proposal: &Proposal, bits: &[u64], rng: &mut Pcg64Mcg) {
        let count = l.len();
        let root = count as u32;
        self.dominator.fill(NONE);
        self.present.clear();
        self.fired.clear();
        self.weight = proposal.all_quiet;
        self.pick(l, proposal, rng);
        self.draw_leaks(l, proposal, bits, rng);
        for word in 0..self.pending.len() {
            while self.pending[word] != 0 {
                let i = word * 64 + self.pending[word].trailing_zeros() as usize;
                self.pending[word] &= self.pending[word] - 1;
                self.depth[i] = self.depth[self.dominator[i] as usize] + 1;
                self.present.push(i as u32);
                // First which links fire, without a branch to mispredict; then what they do.
                let links = &l.push[l.push_at[i] as usize..l.push_at[i + 1] as usize];
                let (picked, candidates) = (&self.picked[..], &mut self.candidates[..]);
                let mut weight = self.weight * l.present_weight[i];
                let (mut fired, mut random) = (0, 0);
                for (k, link) in links.iter().enumerate() {
                    random = if k % 2 == 0 {
                        rng.next_u64()
                    } else {
                        random >> 32
                    };
                    let pick = picked[link.child as usize];
                    if link.link < pick {
                        weight *= link.stays;
                    }
                    let falls = ((random as u32) < link.threshold) & (link.link > pick);
                    candidates[fired] = link.child;
                    fired += usize::from(falls | (link.link == pick));
                }
                self.weight = weight;
                for at in 0..fired {
                    self.fire(i as u32, self.candidates[at] as usize, root, 0);
                }
            }
        }
    }

    /// Works back from what was seen; leaves `needed` and `picked`, and their part of the weight but for the earlier
    /// parents that must not fire.
    fn pick(&mut self, l: &Layout, proposal: &Proposal, rng: &mut Pcg64Mcg) {
        self.needed.copy_from_slice(&l.seen);
        for &i in &self.picks {
            self.picked[i as usize] = 0;
        }
        self.picks.clear();
        for word in (0..self.needed.len()).rev() {
            let mut left = self.needed[word];
            while left != 0 {
                let bit = 63 - left.leading_zeros() as usize;
                let i = word * 64 + bit;
                let links = l.links_of(i);
                let (mut total, mut none) = (0.0, 1.0);
                let sources = l.links[links.clone()]
                    .iter()
                    .zip(&proposal.guide[links.clone()]);
                let sums = self.chances.iter_mut().zip(&mut self.none);
                for ((&(u, s), guide), (sum, before)) in sources.zip(sums) {
                    let a = if u == NONE || self.needed[u as usize / 64] >> (u % 64) & 1 == 1 {
                        s
                    } else {
                        s * l.share[u as usize]
                    };
                    total += guide * a * none;
                    *sum = total;
                    *before = none;
                    none *= 1.0 - a;
                }
                let drawn = (rng.next_u64() >> 11) as f64 * (1.0 / 9_007_199_254_740_992.0) * total;
                let mut k = 0;
                while k + 1 < links.len() && self.chances[k] <= drawn {
                    k += 1;
                }
                let at = links.start + k;
                self.picked[i] = at as u32;
                self.picks.push(i as u32);
                // Whether picked or passed over, the leak does not fall as it may.
                self.weight *= total / (proposal.guide[at] * self.none[k] * proposal.quiet[i]);
                let u = l.links[at].0;
                if u != NONE {
                    self.weight *= 1.0 - l.leak[i];
                    if self.needed[u as usize / 64] >> (u % 64) & 1 == 0 {
                        self.needed[u as usize / 64] |= 1 << (u % 64);
                        self.weight /= l.share[u as usize];
                    }
                }
                // Parents stand before their children, so what was added lies below this bit or in words to come.
                left = self.needed[word] & ((1 << bit) - 1);
            }
        }
    }

    fn draw_leaks(&mut self, l: &Layout, proposal: &Proposal, bits: &[u64], rng: &mut Pcg64Mcg) {
        let root = l.len() as u32;
        let (picked, candidates) = (&self.picked[..], &mut self.candidates[..]);
        let (mut fired, mut random) = (0, 0);
        let places = proposal.threshold.iter().zip(picked).zip(&l.links_at);
        for (i, ((&threshold, &pick), &leak)) in places.enumerate() {
            random = if i % 2 == 0 {
                rng.next_u64()
            } else {
                random >> 32
            };
            let falls = ((random as u32) < threshold) & (pick == 0);
            candidates[fired] = i as u32;
            fired += usize::from(falls | (pick == leak));
        }
        for at in 0..fired {
            let i = self.candidates[at] as usize;
            if self.picked[i] == 0 {
                self.weight *= proposal.fired[i];
            }
            self.fired.push(i as u32);
            self.fire(root, i, root, bits[i]);
        }
    }
}

/// Weighted sums for one figure: of `w x`, `w^2 x^2` and `w^2 x y`.
type Sums = [f64; 3];

#[derive(Clone, Debug, Default)]
struct Totals {
    draws: usize,
    weight: f64,
    square: f64,
    /// Of `w y` and `w^2 y^2`, where y is the weight of S present in the world.
    seen: [f64; 2],
    present: Vec<[f64; 2]>,
    starts: Vec<[f64; 2]>,
    alone: Vec<[f64; 2]>,
    clears: Vec<Sums>,
    held: Vec<Sums>,
}

impl Totals {
    fn new(places: usize, observed: usize) -> Totals {
        Totals {
            present: vec![[0.0; 2]; places],
            starts: vec![[0.0; 2]; places],
            alone: vec![[0.0; 2]; observed],
            clears: vec![[0.0; 3]; places],
            held: vec![[0.0; 3]; places],
            ..Totals::default()
        }
    }

    fn add(&mut self, l: &Layout, world: &World, scratch: &mut Scratch) {
        let w = world.weight;
        let ww = w * w;
        self.draws += 1;
        self.weight += w;
        self.square += ww;
        for &i in &world.present {
            let at = &mut self.present[i as usize];
            at[0] += w;
            at[1] += ww;
        }
        for &i in &world.fired {
            let at = &mut self.starts[i as usize];
            at[0] += w;
            at[1] += ww;
        }
        let mut y = 0.0;
        for (k, &(f, weight)) in l.observed.iter().enumerate() {
            if world.dominator[f as usize] == NONE {
                continue;
            }
            y += weight;
            let origin = world.origin[f as usize];
            if origin == f {
                self.alone[k][0] += w;
                self.alone[k][1] += ww;
            }
            if origin != SEVERAL {
                scratch.clears.add(origin, weight);
            }
            let mut at = f;
            while at as usize != l.len() {
                scratch.held.add(at, weight);
                at = world.dominator[at as usize];
            }
        }
        self.seen[0] += w * y;
        self.seen[1] += ww * y * y;
        scratch.clears.settle(&mut self.clears, w, ww, y);
        scratch.held.settle(&mut self.held, w, ww, y);
    }

    /// `SUM w x / SUM w` of an indicator.
    fn share(&self, [x, xx]: [f64; 2]) -> Estimate {
        let p = x / self.weight;
        let variance = xx * (1.0 - 2.0 * p) + p * p * self.square;
        Estimate {
            value: p,
            standard_error: variance.max(0.0).sqrt() / self.weight,
        }
    }

    /// `SUM w x / SUM w y`.
    fn ratio(&self, [x, xx, xy]: Sums) -> Estimate {
        if self.seen[0] <= 0.0 {
            return Estimate::default();
        }
        let r = x / self.seen[0];
        let variance = xx - 2.0 * r * xy + r * r * self.seen[1];
        Estimate {
            value: r,
            standard_error: variance.max(0.0).sqrt() / self.seen[0],
        }
    }

    fn largest_error(&self) -> f64 {
        let shares = self
            .present
            .iter()
            .chain(&self.starts)
            .chain(&self.alone)
            .map(|&s| self.share(s));
        let ratios = self.clears.iter().chain(&self.held).map(|&s| self.ratio(s));
        shares
            .chain(ratios)
            .map(|e| e.standard_error)
            .fold(0.0, f64::max)
    }

    /// The effective number of draws (Kish 1965, from memory): `(SUM w)^2 / SUM w^2`.
    fn effective(&self) -> f64 {
        self.weight * self.weight / self.square
    }
}

/// One world's contribution per cause, before it is squared.
#[derive(Default)]
struct PerCause {
    values: Vec<f64>,
    touched: Vec<u32>,
}

impl PerCause {
    #[inline]
    fn add(&mut self, at: u32, weight: f64) {
        let value = &mut self.values[at as usize];
        if *value == 0.0 {
            self.touched.push(at);
        }
        *value += weight;
    }

    fn settle(&mut self, sums: &mut [Sums], w: f64, ww: f64, y: f64) {
        for &at in &self.touched {
            let x = std::mem::take(&mut self.values[at as usize]);
            let sums = &mut sums[at as usize];
            sums[0] += w * x;
            sums[1] += ww * x * x;
            sums[2] += ww * x * y;
        }
        self.touched.clear();
    }
}

struct Scratch {
    clears: PerCause,
    held: PerCause,
}

impl Scratch {
    fn new(places: usize) -> Scratch {
        let per_cause = || PerCause {
            values: vec![0.0; places],
            touched: Vec::with_capacity(places),
        };
        Scratch {
            clears: per_cause(),
            held: per_cause(),
        }
    }
}

/// What is kept of whole worlds.
#[derive(Clone, Debug, Default)]
struct Kept {
    words: usize,
    weight: Vec<f64>,
    /// Remembered leaks that fired.
    fired: Vec<u64>,
    /// `words` words per world: which places are present.
    present: Vec<u64>,
    /// One word per world and finding of S: the leaks it goes back to, 0 when absent.
    behind: Vec<u64>,
}

impl Kept {
    fn add(&mut self, l: &Layout, world: &World, bits: &[u64]) {
        self.weight.push(world.weight);
        self.fired
            .push(world.fired.iter().fold(0, |m, &i| m | bits[i as usize]));
        let start = self.present.len();
        self.present.resize(start + self.words, 0);
        // Without words only the findings' origins are kept.
        for &i in world
            .present
            .iter()
            .take(if self.words == 0 { 0 } else { usize::MAX })
        {
            self.present[start + i as usize / 64] |= 1 << (i % 64);
        }
        let behind = |f: usize| {
            if world.dominator[f] == NONE {
                0
            } else {
                world.leaks[f]
            }
        };
        self.behind
            .extend(l.observed.iter().map(|o| behind(o.0 as usize)));
    }
}

/// The chance `was`, moved towards an `estimate` from `draws` draws, but only by what goes beyond two standard errors:
/// hundreds of chances each moved by mere noise would together spoil the weights.
fn moved(was: f64, estimate: f64, draws: f64) -> f64 {
    let error = (was.max(estimate) * (1.0 - was.min(estimate)) / draws.max(1.0)).sqrt();
    let beyond = ((estimate - was).abs() - SURE * error).max(0.0);
    was + beyond.copysign(estimate - was)
}

/// A set of drawn worlds and what they say.
#[derive(Clone, Debug)]
pub struct Worlds<'a> {
    network: &'a Network,
    layout: Layout,
    proposal: Proposal,
    draws: Draws,
    totals: Totals,
    kept: Kept,
    remembered: Vec<Node>,
}

/// How informative a look at one node would be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    /// The node.
    pub node: Node,
    /// Mutual information with the leading causes' leaks, in bits, summed over the causes; at least 0.
    pub bits: Estimate,
}

impl<'a> Worlds<'a> {
    /// Draws worlds until the largest standard error of all figures is below the target or the budget is spent.
    ///
    /// `observed` holds the findings of S with their weights (each must be among the reports); `remember` the causes
    /// that [`Worlds::looks`] will ask about, the leading ones are added up to 63 in all.
    ///
    /// # Panics
    /// When a node does not belong to the network.
    pub fn draw(
        network: &'a Network,
        evidence: &Evidence,
        observed: &[(Node, f64)],
        remember: &[Node],
        draws: Draws,
    ) -> Worlds<'a> {
        let mut worlds = Worlds::prepare(network, evidence, observed, draws, true, &PILOTS);
        worlds.remember(remember);
        let bits = worlds.bits(|i| {
            worlds
                .remembered
                .iter()
                .position(|n| n.0 == worlds.layout.nodes[i])
        });
        let mut kept = Kept {
            words: worlds.layout.len().div_ceil(64),
            ..Kept::default()
        };
        worlds.totals = worlds.run(&bits, draws.most, Some(&mut kept));
        worlds.kept = kept;
        worlds
    }

    /// Only the leading cause: the node with the largest `clears * effect` after `draws` worlds, ties by node.
    pub(crate) fn leading(
        network: &'a Network,
        evidence: &Evidence,
        observed: &[(Node, f64)],
        effects: &[f64],
        draws: Draws,
    ) -> Option<Node> {
        let worlds = Worlds::prepare(network, evidence, observed, draws, false, &[128]);
        let totals = worlds.run(&vec![0; worlds.layout.len()], draws.most, None);
        let worth = |i: usize| totals.clears[i][0] * effects[worlds.layout.nodes[i]];
        let best = (0..worlds.layout.len()).map(|i| (worth(i), worlds.layout.nodes[i]));
        best.max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)))
            .filter(|b| b.0 > 0.0)
            .map(|b| Node(b.1))
    }

    fn prepare(
        network: &'a Network,
        evidence: &Evidence,
        observed: &[(Node, f64)],
        draws: Draws,
        everything: bool,
        pilots: &[usize],
    ) -> Worlds<'a> {
        let layout = Layout::new(network, evidence, observed, everything);
        let weights = layout.leak.iter().zip(&layout.present_weight);
        let q: Vec<f64> = weights
            .map(|(&l, &w)| weighed(l, w).clamp(l / 4.0, l.max(0.95)))
            .collect();
        let proposal = Proposal::new(&layout, vec![1.0; layout.links.len()], &q);
        let totals = Totals::new(layout.len(), layout.observed.len());
        let (kept, remembered) = (Kept::default(), Vec::new());
        let mut worlds = Worlds {
            network,
            layout,
            proposal,
            draws,
            totals,
            kept,
            remembered,
        };
        for (round, &most) in pilots.iter().enumerate() {
            worlds.pilot(draws.seed.wrapping_add(1 + round as u64), most);
        }
        worlds
    }

    /// One pilot round: draws worlds and moves the proposal towards what their weights say, as far as that is certain,
    /// and within bounds that keep every weight bounded.
    fn pilot(&mut self, seed: u64, most: usize) {
        let l = &self.layout;
        let mut rng = Pcg64Mcg::seed_from_u64(seed);
        let mut world = World::new(l);
        let mut scratch = Scratch::new(l.len());
        let mut totals = Totals::new(l.len(), l.observed.len());
        let bits = vec![0; l.len()];
        let mut named = vec![0.0; l.links.len()];
        let mut picked = vec![0.0; l.links.len()];
        let mut unpicked = vec![[0.0; 2]; l.len()];
        for _ in 0..most {
            world.draw(l, &self.proposal, &bits, &mut rng);
            totals.add(l, &world, &mut scratch);
            for &i in &world.picks {
                named[world.picked[i as usize] as usize] += world.weight;
                picked[world.picked[i as usize] as usize] += 1.0;
            }
            for &i in &world.fired {
                if world.picked[i as usize] == 0 {
                    unpicked[i as usize][1] += world.weight;
                }
            }
        }
        let effective = totals.effective();
        let mut guide = self.proposal.guide.clone();
        let mut q = Vec::with_capacity(l.len());
        for (i, fired) in unpicked.iter().enumerate() {
            let links = l.links_of(i);
            let wanted: f64 = named[links.clone()].iter().sum();
            let drawn: f64 = picked[links.clone()].iter().sum();
            let scale = effective / totals.weight;
            for k in links.clone() {
                let was = picked[k] / drawn;
                if was > 0.0 && wanted > 0.0 {
                    let should = moved(was, named[k] / wanted, wanted * scale);
                    guide[k] = (guide[k] * should / was).clamp(0.05, 20.0);
                }
            }
            let leak = l.leak[i];
            let free = (totals.weight - wanted).max(0.0);
            let q_was = chance(self.proposal.threshold[i]);
            let estimate = if free > 0.0 {
                moved(q_was, fired[1] / free, free * scale)
            } else {
                q_was
            };
            q.push(estimate.clamp(leak / 4.0, leak.max(0.95)));
        }
        self.proposal = Proposal::new(l, guide, &q);
        self.totals = totals;
    }

    /// Decides which causes the worlds remember: those asked for, then the leading ones of the pilot rounds.
    fn remember(&mut self, first: &[Node]) {
        let mut order: Vec<usize> = (0..self.layout.len())
            .filter(|&i| self.totals.clears[i][0] > 0.0)
            .collect();
        order.sort_by(|&a, &b| {
            self.totals.clears[b][0]
                .total_cmp(&self.totals.clears[a][0])
                .then(a.cmp(&b))
        });
        let led = order.into_iter().map(|i| Node(self.layout.nodes[i]));
        for node in first.iter().copied().chain(led) {
            if self.remembered.len() < REMEMBERED && !self.remembered.contains(&node) {
                self.remembered.push(node);
            }
        }
    }

    fn bits(&self, number: impl Fn(usize) -> Option<usize>) -> Vec<u64> {
        (0..self.layout.len())
            .map(|i| number(i).map_or(OTHERS, |k| 1 << k))
            .collect()
    }

    fn run(&self, bits: &[u64], most: usize, mut kept: Option<&mut Kept>) -> Totals {
        let mut rng = Pcg64Mcg::seed_from_u64(self.draws.seed);
        let mut world = World::new(&self.layout);
        let mut scratch = Scratch::new(self.layout.len());
        let mut totals = Totals::new(self.layout.len(), self.layout.observed.len());
        while totals.draws < most {
            for _ in 0..BATCH.min(most - totals.draws) {
                world.draw(&self.layout, &self.proposal, bits, &mut rng);
                totals.add(&self.layout, &world, &mut scratch);
                if let Some(kept) = kept.as_deref_mut().filter(|k| k.weight.len() < KEPT) {
                    kept.add(&self.layout, &world, bits);
                }
            }
            // Two batches at least: a standard error from a handful of draws says little about itself.
            if totals.draws >= 2 * BATCH
                && self.draws.target > 0.0
                && totals.largest_error() < self.draws.target
            {
                break;
            }
        }
        totals
    }

    fn by_node(&self, figure: impl Fn(usize) -> Estimate) -> Vec<Estimate> {
        let place = |n: usize| self.layout.places[n];
        (0..self.network.len())
            .map(|n| {
                if place(n) == NONE {
                    Estimate::exact(0.0)
                } else {
                    figure(place(n) as usize)
                }
            })
            .collect()
    }

    /// `P(present | E)` per node.
    pub fn posterior(&self) -> Vec<Estimate> {
        self.by_node(|i| self.totals.share(self.totals.present[i]))
    }

    /// `P(leak fired | E)` per node.
    pub fn starts_here(&self) -> Vec<Estimate> {
        self.by_node(|i| self.totals.share(self.totals.starts[i]))
    }

    /// Clears in the origin form, per node; see [`super::Exact::clears`].
    pub fn clears(&self) -> Vec<Estimate> {
        self.by_node(|i| self.totals.ratio(self.totals.clears[i]))
    }

    /// Clears while held, per node.
    pub fn clears_while_held(&self) -> Vec<Estimate> {
        self.by_node(|i| self.totals.ratio(self.totals.held[i]))
    }

    /// Per finding of S, in the order given (absent ones left out): the node and the chance that it is present with
    /// its own leak as the only origin.
    pub fn alone(&self) -> Vec<(Node, Estimate)> {
        let node = |k: usize| Node(self.layout.nodes[self.layout.observed[k].0 as usize]);
        (0..self.layout.observed.len())
            .map(|k| (node(k), self.totals.share(self.totals.alone[k])))
            .collect()
    }

    /// `ln P(E)`, a likelihood ratio counting as `r` if present and 1 if absent.
    pub fn ln_evidence(&self) -> Estimate {
        let n = self.totals.draws as f64;
        let relative =
            (self.totals.square / (self.totals.weight * self.totals.weight) - 1.0 / n).max(0.0);
        Estimate {
            value: self.layout.ln + libm::log(self.totals.weight / n),
            standard_error: relative.sqrt(),
        }
    }

    /// `ln P(E)` with the report on `node` turned round; `turned` holds all reports so changed. A node none of whose
    /// effects matter to the reports is answered from the kept worlds, by the odds of its report given its parents.
    pub(crate) fn ln_turned(&self, node: Node, evidence: &Evidence, turned: &Evidence) -> f64 {
        let report = evidence.get(node).expect("a reported node");
        let below = self.network.descendants([node.0]);
        if evidence.iter().any(|(n, _)| n != node && below[n.0]) {
            let few = Draws {
                most: 2 * BATCH,
                target: 0.0,
                ..self.draws
            };
            let mut worlds = Worlds::prepare(self.network, turned, &[], few, false, &PILOTS[..2]);
            worlds.totals = worlds.run(&vec![0; worlds.layout.len()], few.most, None);
            return worlds.ln_evidence().value;
        }
        let (mut sum, mut all) = (0.0, 0.0);
        for (w, &weight) in self.kept.weight.iter().enumerate() {
            let present = &self.kept.present[w * self.kept.words..];
            let there = |u: usize| match self.layout.places[u] {
                NONE => false,
                place => present[place as usize / 64] >> (place % 64) & 1 == 1,
            };
            let fired = self
                .network
                .parents(node.0)
                .iter()
                .filter(|p| there(p.0))
                .map(|p| p.1);
            let p = super::network::noisy_or(self.network.leak(node), fired);
            let odds = match report {
                Report::Present => (1.0 - p) / p,
                Report::Absent => p / (1.0 - p),
                Report::Likelihood(r) => (1.0 - p + p / r) / (1.0 - p + p * r),
            };
            sum += weight * odds;
            all += weight;
        }
        self.ln_evidence().value + libm::log(sum / all)
    }

    /// Worlds drawn, pilot rounds aside.
    pub fn drawn(&self) -> usize {
        self.totals.draws
    }

    /// The effective share of the draws, in `(0, 1]`: `(SUM w)^2 / (n SUM w^2)`.
    pub fn effective_share(&self) -> f64 {
        self.totals.effective() / self.totals.draws as f64
    }

    /// The largest standard error among all figures.
    pub fn largest_error(&self) -> f64 {
        self.totals.largest_error()
    }

    /// Clears in the origin form with all of `set` removed at once. Sets of remembered causes (the 63 leading ones)
    /// are read off the kept worlds; any other set is answered by drawing the same worlds again.
    pub fn clears_together(&self, set: &[Node]) -> Estimate {
        let zero = |n: &Node| {
            let place = self.layout.places[n.0];
            place == NONE || self.totals.starts[place as usize][0] == 0.0
        };
        let mut mask = 0u64;
        for node in set.iter().filter(|n| !zero(n)) {
            match self.remembered.iter().position(|r| r == node) {
                Some(k) => mask |= 1 << k,
                None => return self.drawn_together(set),
            }
        }
        self.together(&self.kept, mask)
    }

    fn drawn_together(&self, set: &[Node]) -> Estimate {
        let bits = self.bits(|i| set.contains(&Node(self.layout.nodes[i])).then_some(0));
        let mut kept = Kept::default();
        self.run(&bits, self.totals.draws.min(KEPT), Some(&mut kept));
        self.together(&kept, 1)
    }

    fn together(&self, kept: &Kept, mask: u64) -> Estimate {
        let observed = &self.layout.observed;
        let (mut x1, mut y1, mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0, 0.0, 0.0);
        if observed.is_empty() {
            return Estimate::default();
        }
        for (behind, &w) in kept.behind.chunks_exact(observed.len()).zip(&kept.weight) {
            let (mut x, mut y) = (0.0, 0.0);
            for (&leaks, o) in behind.iter().zip(observed) {
                y += if leaks != 0 { o.1 } else { 0.0 };
                x += if leaks != 0 && leaks & !mask == 0 {
                    o.1
                } else {
                    0.0
                };
            }
            let ww = w * w;
            x1 += w * x;
            y1 += w * y;
            xx += ww * x * x;
            xy += ww * x * y;
            yy += ww * y * y;
        }
        if y1 <= 0.0 {
            return Estimate::default();
        }
        let r = x1 / y1;
        let variance: f64 = xx - 2.0 * r * xy + r * r * yy;
        Estimate {
            value: r,
            standard_error: variance.max(0.0).sqrt() / y1,
        }
    }

    /// How much a look at each of `among` would tell about the leaks of `leading` (remembered causes only; others are
    /// passed over): mutual information in bits, summed over the causes, from the kept worlds. The plug-in figure's
    /// bias of `1 / (2 n ln 2)` bits per cause is taken off (Miller 1955, from memory), n being the effective draws.
    pub fn looks(&self, leading: &[Node], among: &[Node]) -> Vec<Look> {
        let causes: Vec<u64> = leading
            .iter()
            .filter_map(|n| self.remembered.iter().position(|r| r == n))
            .map(|k| 1 << k)
            .collect();
        let asked = causes.iter().fold(0, |m, b| m | b);
        let mut patterns: Vec<u64> = self.kept.fired.iter().map(|f| f & asked).collect();
        patterns.sort_unstable();
        patterns.dedup();
        let number = |fired: u64| {
            patterns
                .binary_search(&(fired & asked))
                .expect("every pattern was collected")
        };
        let width = patterns.len();
        let mut all = vec![[0.0; 2]; width];
        let mut present = vec![[0.0; 2]; width * self.layout.len()];
        for (w, &weight) in self.kept.weight.iter().enumerate() {
            let pattern = number(self.kept.fired[w]);
            let add = |at: &mut [f64; 2]| {
                at[0] += weight;
                at[1] += weight * weight;
            };
            add(&mut all[pattern]);
            for (word, &bits) in self.kept.present[w * self.kept.words..][..self.kept.words]
                .iter()
                .enumerate()
            {
                let mut bits = bits;
                while bits != 0 {
                    let place = word * 64 + bits.trailing_zeros() as usize;
                    bits &= bits - 1;
                    add(&mut present[place * width + pattern]);
                }
            }
        }
        among
            .iter()
            .map(|&node| {
                let place = self.layout.places[node.0];
                let bits = if place == NONE {
                    Estimate::default()
                } else {
                    information(
                        &causes,
                        &patterns,
                        &all,
                        &present[place as usize * width..][..width],
                    )
                };
                Look { node, bits }
            })
            .collect()
    }
}

/// Mutual information in bits of one node with several causes, summed, from weights per pattern of causes.
fn information(
    causes: &[u64],
    patterns: &[u64],
    all: &[[f64; 2]],
    present: &[[f64; 2]],
) -> Estimate {
    let sum = |of: &dyn Fn(usize) -> f64| (0..patterns.len()).map(of).sum::<f64>();
    let (total, square) = (sum(&|k| all[k][0]), sum(&|k| all[k][1]));
    let p = sum(&|k| present[k][0]) / total;
    // Per cause: the pointwise information of (absent or present) with (quiet or fired).
    let mut points = Vec::with_capacity(causes.len());
    let mut bits = 0.0;
    for &cause in causes {
        let with = |k: usize| if patterns[k] & cause != 0 { 1.0 } else { 0.0 };
        let q = sum(&|k| with(k) * all[k][0]) / total;
        let both = sum(&|k| with(k) * present[k][0]) / total;
        let joint = [[1.0 - p - q + both, q - both], [p - both, both]];
        let mut point = [[0.0; 2]; 2];
        for x in 0..2 {
            for y in 0..2 {
                let apart = [1.0 - p, p][x] * [1.0 - q, q][y];
                if joint[x][y] > 1e-15 && apart > 1e-15 {
                    point[x][y] = libm::log2(joint[x][y] / apart);
                    bits += joint[x][y] * point[x][y];
                }
            }
        }
        points.push(point);
    }
    let mut variance = 0.0;
    for (k, &pattern) in patterns.iter().enumerate() {
        for (x, ww) in [(0, all[k][1] - present[k][1]), (1, present[k][1])] {
            let point: f64 = causes
                .iter()
                .zip(&points)
                .map(|(c, p)| p[x][usize::from(pattern & c != 0)])
                .sum();
            variance += ww.max(0.0) * (point - bits) * (point - bits);
        }
    }
    let effective = total * total / square;
    let bias = causes.len() as f64 / (2.0 * effective * std::f64::consts::LN_2);
    Estimate {
        value: (bits - bias).max(0.0),
        standard_error: variance.sqrt() / total,
    }
}

#[cfg(test)]
mod tests {
    use super::super::answer::Removal;
    use super::super::enumeration::{fan, random_case};
    use super::super::exact::Exact;
    use super::*;

    /// Both engines on 200 small networks: standardised differences look like standard normal draws.
    #[test]
    fn differences_from_the_exact_engine_look_normal() {
        let mut scores: Vec<f64> = Vec::new();
        for seed in 0..200 {
            let (network, evidence, observed) = if seed % 4 == 0 {
                fan(seed)
            } else {
                random_case(seed, 7, 12)
            };
            let exact = Exact::new(&network, &evidence, 1e6).unwrap();
            let draws = Draws {
                seed: seed + 1000,
                most: 4096,
                target: 0.0,
            };
            let worlds = Worlds::draw(&network, &evidence, &observed, &[], draws);
            let mut compare = |found: Estimate, expected: f64| {
                // Figures that hardly any world touches have no normal error to speak of.
                let n = worlds.effective_share() * 4096.0;
                if found.standard_error > 0.0
                    && expected * n > 100.0
                    && (1.0 - expected) * n > 100.0
                {
                    let score = (found.value - expected) / found.standard_error;
                    assert!(
                        score.abs() < 4.9,
                        "seed {seed}: {found:?} against {expected}"
                    );
                    scores.push(score);
                } else {
                    assert!(
                        (found.value - expected).abs() < 0.05,
                        "seed {seed}: {found:?} against {expected}"
                    );
                }
            };
            // One figure of each kind per network, so that scores are independent from network to network.
            let c = Node(seed as usize % network.len());
            let d = Node((seed as usize + 3) % network.len());
            compare(worlds.posterior()[c.0], exact.posterior()[c.0]);
            compare(worlds.starts_here()[c.0], exact.starts_here()[c.0]);
            let clears = |removal: &Removal| exact.clears(removal, &observed).unwrap();
            compare(worlds.clears()[c.0], clears(&Removal::Leaks(vec![c])));
            compare(worlds.clears_while_held()[c.0], clears(&Removal::Held(c)));
            compare(
                worlds.clears_together(&[c, d]),
                clears(&Removal::Leaks(vec![c, d])),
            );
            assert!((worlds.ln_evidence().value - exact.ln_evidence()).abs() < 0.3);
        }
        let n = scores.len() as f64;
        let mean = scores.iter().sum::<f64>() / n;
        let variance = scores.iter().map(|s| (s - mean) * (s - mean)).sum::<f64>() / n;
        let beyond = scores.iter().filter(|s| s.abs() > 2.0).count() as f64 / n;
        assert!(n > 300.0, "{n}");
        assert!(mean.abs() < 0.2, "mean {mean} of {n}");
        assert!((0.75..1.3).contains(&variance), "variance {variance}");
        assert!((0.02..0.09).contains(&beyond), "share beyond two {beyond}");
        println!("{n} scores: mean {mean:.3}, variance {variance:.3}, beyond two {beyond:.3}");
    }

    #[test]
    fn the_same_seed_gives_the_same_bytes_and_sets_agree_either_way() {
        let (network, evidence, observed) = fan(4);
        let draws = Draws {
            most: 4096,
            ..Draws::default()
        };
        let one = Worlds::draw(&network, &evidence, &observed, &[], draws);
        let two = Worlds::draw(&network, &evidence, &observed, &[], draws);
        assert_eq!(one.posterior(), two.posterior());
        assert_eq!(one.clears(), two.clears());
        let set = [Node(0), Node(3)];
        let (kept, again) = (one.clears_together(&set), one.drawn_together(&set));
        assert_eq!(kept, again);
        assert_eq!(one.clears_together(&[Node(0)]).value, one.clears()[0].value);
    }
}
