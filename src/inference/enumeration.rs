//! The oracle of the tests: every combination of noises, one by one, straight from the definitions.

use rand::Rng;
use rand::SeedableRng;
use rand_pcg::Pcg64;

use super::evidence::{Evidence, Report};
use super::network::{Base, Network, NetworkBuilder, Node};

/// What is switched off in the world that would have been.
#[derive(Clone, Debug)]
pub(crate) enum Off {
    Leaks(Vec<usize>),
    Held(usize),
}

/// Everything by definition. `observed` holds the findings of S with their weights.
pub(crate) struct Oracle {
    pub evidence: f64,
    pub posterior: Vec<f64>,
    pub starts: Vec<f64>,
    /// Per finding of S, the chance that its own leak is the only leak it goes back to.
    pub alone: Vec<f64>,
    /// One figure per entry of `offs`.
    pub clears: Vec<f64>,
}

pub(crate) fn enumerate(
    net: &Network,
    evidence: &Evidence,
    observed: &[(Node, f64)],
    offs: &[Off],
) -> Oracle {
    let count = net.len();
    let mut noises: Vec<(usize, Option<usize>, f64)> = Vec::new();
    for &x in net.order() {
        noises.push((x, None, net.leak(Node(x))));
        noises.extend(net.parents(x).iter().map(|&(u, s)| (x, Some(u), s)));
    }
    assert!(noises.len() <= 18, "too many noises to enumerate");
    let mut o = Oracle {
        evidence: 0.0,
        posterior: vec![0.0; count],
        starts: vec![0.0; count],
        alone: vec![0.0; observed.len()],
        clears: vec![0.0; offs.len()],
    };
    let world = |bits: u32, off: Option<&Off>| {
        let mut present = vec![false; count];
        for (i, &(x, from, _)) in noises.iter().enumerate() {
            let fired = bits >> i & 1 == 1;
            present[x] |= fired
                && match (from, off) {
                    (None, Some(Off::Leaks(leaks))) => !leaks.contains(&x),
                    (None, _) => true,
                    (Some(u), _) => present[u],
                };
            // A held node is put back after its last noise; until then nothing downstream reads it.
            if let Some(Off::Held(h)) = off
                && *h == x
            {
                present[x] = false;
            }
        }
        present
    };
    for bits in 0..1u32 << noises.len() {
        let chance = |(i, n): (usize, &(usize, Option<usize>, f64))| {
            if bits >> i & 1 == 1 { n.2 } else { 1.0 - n.2 }
        };
        let mut weight: f64 = noises.iter().enumerate().map(chance).product();
        let present = world(bits, None);
        for (node, report) in evidence.iter() {
            weight *= match report {
                Report::Likelihood(r) if present[node.0] => r,
                Report::Likelihood(_) => 1.0,
                Report::Present => f64::from(u8::from(present[node.0])),
                Report::Absent => f64::from(u8::from(!present[node.0])),
            };
        }
        if weight == 0.0 {
            continue;
        }
        o.evidence += weight;
        for (i, &(x, from, _)) in noises.iter().enumerate() {
            if from.is_none() && bits >> i & 1 == 1 {
                o.starts[x] += weight;
            }
        }
        (0..count)
            .filter(|&x| present[x])
            .for_each(|x| o.posterior[x] += weight);
        for (k, &(f, _)) in observed.iter().enumerate() {
            if present[f.0] && !world(bits, Some(&Off::Leaks(vec![f.0])))[f.0] {
                o.alone[k] += weight;
            }
        }
        for (k, off) in offs.iter().enumerate() {
            let other = world(bits, Some(off));
            for &(f, w) in observed {
                if present[f.0] && !other[f.0] {
                    o.clears[k] += weight * w;
                }
            }
        }
    }
    o.posterior
        .iter_mut()
        .chain(&mut o.starts)
        .chain(&mut o.alone)
        .chain(&mut o.clears)
        .for_each(|x| *x /= o.evidence);
    let all: f64 = observed.iter().map(|&(f, w)| w * o.posterior[f.0]).sum();
    if all > 0.0 {
        o.clears.iter_mut().for_each(|x| *x /= all);
    }
    o
}

/// A random network of `count` nodes and at most `links` links, numbered so that order and number disagree, with
/// reports on about half its nodes and the findings of S among them.
pub(crate) fn random_case(
    seed: u64,
    count: usize,
    links: usize,
) -> (Network, Evidence, Vec<(Node, f64)>) {
    let mut rng = Pcg64::seed_from_u64(seed);
    let mut builder = NetworkBuilder::new();
    for _ in 0..count {
        builder
            .add(Base::Leak(rng.random_range(0.02..0.5)))
            .unwrap();
    }
    let mut place: Vec<usize> = (0..count).collect();
    for i in (1..count).rev() {
        place.swap(i, rng.random_range(0..=i));
    }
    for _ in 0..links {
        let (a, b) = (rng.random_range(0..count), rng.random_range(0..count));
        if a != b {
            let _ = builder.link(
                Node(place[a.min(b)]),
                Node(place[a.max(b)]),
                rng.random_range(0.05..0.97),
            );
        }
    }
    let network = builder.build(1e-4).unwrap();
    let mut evidence = Evidence::new();
    let mut observed = Vec::new();
    for node in network.nodes() {
        let report = match rng.random_range(0..8) {
            0 | 1 => Report::Present,
            2 => Report::Absent,
            3 => Report::Likelihood(rng.random_range(0.1..6.0)),
            _ => continue,
        };
        evidence.add(node, report).unwrap();
        if report != Report::Absent {
            observed.push((node, rng.random_range(0.5..2.0)));
        }
    }
    (network, evidence, observed)
}

/// Five roots into one node, which has one effect; both of those seen, some roots reported.
pub(crate) fn fan(seed: u64) -> (Network, Evidence, Vec<(Node, f64)>) {
    let mut rng = Pcg64::seed_from_u64(seed);
    let mut builder = NetworkBuilder::new();
    for _ in 0..7 {
        builder
            .add(Base::Leak(rng.random_range(0.02..0.4)))
            .unwrap();
    }
    for root in 0..5 {
        builder
            .link(Node(root), Node(5), rng.random_range(0.1..0.95))
            .unwrap();
    }
    builder.link(Node(5), Node(6), 0.7).unwrap();
    builder.link(Node(0), Node(6), 0.3).unwrap();
    let mut reports = vec![(Node(5), Report::Present), (Node(6), Report::Present)];
    match seed % 3 {
        0 => reports.push((Node(1), Report::Likelihood(2.5))),
        1 => reports.push((Node(2), Report::Present)),
        _ => {}
    }
    let observed = reports.iter().map(|r| (r.0, 1.0)).collect();
    (
        builder.build(1e-4).unwrap(),
        Evidence::from_reports(reports).unwrap(),
        observed,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two causes, priors 0.2 and 0.3, strengths 0.8 and 0.6, leak 0.05, the effect seen; by hand from the table.
    #[test]
    fn the_oracle_explains_away() {
        let mut b = NetworkBuilder::new();
        for leak in [0.2, 0.3, 0.05] {
            b.add(Base::Leak(leak)).unwrap();
        }
        b.link(Node(0), Node(2), 0.8).unwrap();
        b.link(Node(1), Node(2), 0.6).unwrap();
        let n = b.build(1e-4).unwrap();
        let e = Evidence::from_reports([(Node(2), Report::Present)]).unwrap();
        let o = enumerate(&n, &e, &[], &[]);
        assert!((o.posterior[0] - 0.4885).abs() < 5e-5);
        let e = Evidence::from_reports([(Node(2), Report::Present), (Node(1), Report::Present)])
            .unwrap();
        assert!((enumerate(&n, &e, &[], &[]).posterior[0] - 0.2714).abs() < 5e-5);
        let e = Evidence::from_reports([(Node(2), Report::Present), (Node(1), Report::Absent)])
            .unwrap();
        assert!((enumerate(&n, &e, &[], &[]).posterior[0] - 0.8020).abs() < 5e-5);
    }
}
