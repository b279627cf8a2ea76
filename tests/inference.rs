//! Properties of the answers that hold whatever the network, and hard numeric cases.

use fairwhy::inference::{
    Base, Budget, Draws, Evidence, Exact, Leading, Method, Network, NetworkBuilder, Node, Origin,
    Origins, Query, Removal, Report, Worlds, answer,
};
use proptest::prelude::*;

/// A network and reports as plain numbers, so that a failing case can be read.
#[derive(Clone, Debug)]
struct Case {
    leaks: Vec<f64>,
    /// Lower node to higher node.
    links: Vec<(usize, usize, f64)>,
    reports: Vec<Option<Report>>,
}

impl Case {
    /// The same with node `n` renamed to `names[n]`.
    fn network(&self, names: &[usize]) -> Network {
        let mut builder = NetworkBuilder::new();
        let mut leaks = vec![0.0; self.leaks.len()];
        names
            .iter()
            .zip(&self.leaks)
            .for_each(|(&name, &leak)| leaks[name] = leak);
        for leak in leaks {
            builder.add(Base::Leak(leak)).unwrap();
        }
        for &(u, x, s) in &self.links {
            // The same link drawn twice is one link.
            let _ = builder.link(Node(names[u]), Node(names[x]), s);
        }
        builder.build(1e-4).unwrap()
    }

    fn evidence(&self, names: &[usize]) -> Evidence {
        let reports = names.iter().zip(&self.reports);
        Evidence::from_reports(reports.filter_map(|(&name, r)| r.map(|r| (Node(name), r)))).unwrap()
    }

    fn observed(&self, names: &[usize]) -> Vec<(Node, f64)> {
        let seen = names
            .iter()
            .zip(&self.reports)
            .filter(|(_, r)| !matches!(r, None | Some(Report::Absent)));
        seen.map(|(&name, _)| (Node(name), 1.0)).collect()
    }
}

fn case() -> impl Strategy<Value = Case> {
    (3usize..14).prop_flat_map(|count| {
        let leaks = prop::collection::vec(0.001..0.6f64, count);
        let link = (0..count - 1, 1..count, 0.01..0.99f64)
            .prop_filter("a link runs from lower to higher", |(u, x, _)| u < x);
        let links = prop::collection::vec(link, 0..3 * count);
        let report = prop_oneof![
            4 => Just(None),
            2 => Just(Some(Report::Present)),
            1 => Just(Some(Report::Absent)),
            1 => (0.05..20.0f64).prop_map(|r| Some(Report::Likelihood(r))),
        ];
        let reports = prop::collection::vec(report, count);
        (leaks, links, reports).prop_map(|(leaks, links, reports)| Case {
            leaks,
            links,
            reports,
        })
    })
}

fn plain(count: usize) -> Vec<usize> {
    (0..count).collect()
}

const ROUNDING: f64 = 1e-10;

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn removing_nothing_clears_nothing(case in case()) {
        let names = plain(case.leaks.len());
        let network = case.network(&names);
        let exact = Exact::new(&network, &case.evidence(&names), 1e7).unwrap();
        prop_assert_eq!(exact.clears(&Removal::Leaks(vec![]), &case.observed(&names)).unwrap(), 0.0);
    }

    #[test]
    fn clears_lies_between_nothing_and_all_and_holding_does_at_least_as_much(case in case()) {
        let names = plain(case.leaks.len());
        let network = case.network(&names);
        let observed = case.observed(&names);
        let exact = Exact::new(&network, &case.evidence(&names), 1e7).unwrap();
        let all = exact.clears(&Removal::Leaks(network.nodes().collect()), &observed).unwrap();
        prop_assert!(observed.is_empty() || (all - 1.0).abs() < ROUNDING, "without any leak nothing is left: {}", all);
        for node in network.nodes() {
            let origin = exact.clears(&Removal::Leaks(vec![node]), &observed).unwrap();
            let held = exact.clears(&Removal::Held(node), &observed).unwrap();
            prop_assert!((0.0..=1.0).contains(&origin) && (0.0..=1.0).contains(&held));
            prop_assert!(held >= origin - ROUNDING, "{} held {} origin {}", node.0, held, origin);
            prop_assert!((0.0..=1.0).contains(&exact.posterior()[node.0]));
            prop_assert!(exact.starts_here()[node.0] <= exact.posterior()[node.0] + ROUNDING);
        }
    }

    #[test]
    fn clearing_together_grows_with_the_set(case in case(), picks in prop::collection::vec(any::<prop::sample::Index>(), 1..5)) {
        let names = plain(case.leaks.len());
        let network = case.network(&names);
        let observed = case.observed(&names);
        let exact = Exact::new(&network, &case.evidence(&names), 1e7).unwrap();
        let (mut set, mut before) = (Vec::new(), 0.0);
        for pick in picks {
            set.push(Node(pick.index(case.leaks.len())));
            let now = exact.clears(&Removal::Leaks(set.clone()), &observed).unwrap();
            prop_assert!(now >= before - ROUNDING);
            before = now;
        }
    }

    #[test]
    fn a_node_with_nothing_seen_below_it_clears_nothing(case in case()) {
        let names = plain(case.leaks.len());
        let network = case.network(&names);
        let observed = case.observed(&names);
        let exact = Exact::new(&network, &case.evidence(&names), 1e7).unwrap();
        let mut below = vec![vec![]; names.len()];
        network.nodes().for_each(|x| network.links_into(x).for_each(|l| below[l.from.0].push(x)));
        for node in network.nodes() {
            let mut reach = vec![node];
            let mut at = 0;
            while at < reach.len() {
                reach.extend(below[reach[at].0].iter().copied());
                at += 1;
            }
            if !observed.iter().any(|o| reach.contains(&o.0)) {
                prop_assert_eq!(exact.clears(&Removal::Leaks(vec![node]), &observed).unwrap(), 0.0);
                prop_assert_eq!(exact.clears(&Removal::Held(node), &observed).unwrap(), 0.0);
            }
        }
    }

    #[test]
    fn renaming_nodes_changes_nothing(case in case(), seed in any::<u64>()) {
        let count = case.leaks.len();
        let names = plain(count);
        let mut other = names.clone();
        let mut state = seed;
        for i in (1..count).rev() {
            state = state.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
            other.swap(i, (state >> 33) as usize % (i + 1));
        }
        let (here, there) = (case.network(&names), case.network(&other));
        let a = Exact::new(&here, &case.evidence(&names), 1e7).unwrap();
        let b = Exact::new(&there, &case.evidence(&other), 1e7).unwrap();
        prop_assert!((a.ln_evidence() - b.ln_evidence()).abs() < ROUNDING);
        for n in 0..count {
            prop_assert!((a.posterior()[n] - b.posterior()[other[n]]).abs() < ROUNDING);
            let clears = |e: &Exact, names: &[usize]| {
                e.clears(&Removal::Leaks(vec![Node(names[n])]), &case.observed(names)).unwrap()
            };
            prop_assert!((clears(&a, &names) - clears(&b, &other)).abs() < ROUNDING);
        }
    }

    #[test]
    fn reports_in_any_order_give_the_same_bytes(case in case()) {
        let names = plain(case.leaks.len());
        let network = case.network(&names);
        let forward = case.evidence(&names);
        let mut reports: Vec<_> = forward.iter().collect();
        reports.reverse();
        let backward = Evidence::from_reports(reports).unwrap();
        let query = |evidence| {
            let mut query = Query::new(evidence);
            query.budget.draws = Draws { most: 2048, ..Draws::default() };
            query
        };
        for cells in [1e7, 0.0] {
            let budget = Budget { cells, ..query(Evidence::new()).budget };
            let a = answer(&network, Query { budget, ..query(forward.clone()) }).unwrap();
            let b = answer(&network, Query { budget, ..query(backward.clone()) }).unwrap();
            prop_assert_eq!(&a.nodes, &b.nodes);
            prop_assert_eq!(&a.looks, &b.looks);
        }
    }

    #[test]
    fn worlds_stay_within_their_errors_of_the_exact_answer(case in case()) {
        let names = plain(case.leaks.len());
        let network = case.network(&names);
        let (evidence, observed) = (case.evidence(&names), case.observed(&names));
        let exact = Exact::new(&network, &evidence, 1e7).unwrap();
        let worlds = Worlds::draw(&network, &evidence, &observed, &[], Draws { most: 4096, ..Draws::default() });
        let (posterior, held) = (worlds.posterior(), worlds.clears_while_held());
        for node in network.nodes() {
            // Five standard errors, since hundreds of figures are looked at, and room for rare ones.
            let near = |e: f64, s: fairwhy::inference::Estimate| (e - s.value).abs() < 5.0 * s.standard_error + 0.005;
            prop_assert!(near(exact.posterior()[node.0], posterior[node.0]));
            let expected = exact.clears(&Removal::Held(node), &observed).unwrap();
            prop_assert!(near(expected, held[node.0]), "{} against {:?}", expected, held[node.0]);
        }
    }

    #[test]
    fn two_layers_answer_like_the_network_that_they_are(
        priors in prop::collection::vec(0.001..0.6f64, 2..7),
        findings in prop::collection::vec((0.0001..0.4f64, prop::collection::vec(0.02..0.98f64, 7), any::<u8>(), 0usize..6), 1..7),
    ) {
        let mut model = Origins::new(priors.clone()).unwrap();
        let mut evidence = Vec::new();
        for (f, (leak, strengths, chosen, report)) in findings.iter().enumerate() {
            let behind: Vec<_> = (0..priors.len()).filter(|o| chosen >> o & 1 == 1).map(|o| (Origin(o), strengths[o])).collect();
            model.add(*leak, &behind).unwrap();
            match report {
                0..3 => evidence.push((Node(f), Report::Present)),
                3 => evidence.push((Node(f), Report::Absent)),
                4 => evidence.push((Node(f), Report::Likelihood(2.5))),
                _ => {}
            }
        }
        let seen = |r: &&(Node, Report)| r.1 != Report::Absent;
        let weights: Vec<(Node, f64)> = evidence.iter().filter(seen).map(|r| (r.0, 1.0)).collect();
        let answer = model.answer(&Evidence::from_reports(evidence.clone()).unwrap(), &weights).unwrap();
        let network = model.network().unwrap();
        let shift = |n: Node| Node(n.0 + priors.len());
        let moved = Evidence::from_reports(evidence.iter().map(|&(n, r)| (shift(n), r))).unwrap();
        let observed: Vec<_> = weights.iter().map(|&(n, w)| (shift(n), w)).collect();
        let exact = Exact::new(&network, &moved, 1e7).unwrap();
        prop_assert!((answer.ln_evidence - exact.ln_evidence()).abs() < ROUNDING);
        for (o, found) in answer.origins.iter().enumerate() {
            prop_assert!((found.posterior - exact.posterior()[o]).abs() < ROUNDING);
            let clears = exact.clears(&Removal::Leaks(vec![Node(o)]), &observed).unwrap();
            prop_assert!((found.clears - clears).abs() < ROUNDING);
        }
    }
}

/// One cause behind twenty findings that are otherwise one in a thousand: ln P(E) is near ln(0.01), and against it
/// stands (1e-3)^20. By hand: P(E) = 0.99 * 1e-60 + 0.01 * PROD(1 - 0.999 * 0.5), to rounding the second term alone.
#[test]
fn twenty_rare_findings_do_not_underflow() {
    let mut builder = NetworkBuilder::new();
    let cause = builder.add(Base::Leak(0.01)).unwrap();
    let mut evidence = Evidence::new();
    for _ in 0..20 {
        let finding = builder.add(Base::Leak(1e-3)).unwrap();
        builder.link(cause, finding, 0.5).unwrap();
        evidence.add(finding, Report::Present).unwrap();
    }
    let network = builder.build(1e-4).unwrap();
    let exact = Exact::new(&network, &evidence, 1e6).unwrap();
    let by_hand = 0.01f64.ln() + 20.0 * (1.0 - 0.999 * 0.5f64).ln();
    assert!(
        (exact.ln_evidence() - by_hand).abs() < 1e-12,
        "{} {by_hand}",
        exact.ln_evidence()
    );
    assert!((exact.posterior()[0] - 1.0).abs() < 1e-12);
}

/// Every finding has its own cause pair and nothing in common: P(E) is about 1e-120, and every figure is that of the
/// finding alone.
#[test]
fn leaks_of_a_millionth_keep_their_digits() {
    let mut builder = NetworkBuilder::new();
    let mut evidence = Evidence::new();
    for _ in 0..20 {
        let causes = [1e-6, 2e-6, 3e-6, 4e-6].map(|l| builder.add(Base::Leak(l)).unwrap());
        let finding = builder.add(Base::Leak(1e-6)).unwrap();
        causes
            .iter()
            .for_each(|&c| builder.link(c, finding, 0.5).unwrap());
        evidence.add(finding, Report::Present).unwrap();
    }
    let network = builder.build(1e-9).unwrap();
    let exact = Exact::new(&network, &evidence, 1e6).unwrap();
    // All positive: P(f) = 1 - (1 - 1e-6) * PROD(1 - l / 2), summed without subtraction.
    let chance = [0.5e-6, 1e-6, 1.5e-6, 2e-6]
        .iter()
        .fold(1e-6, |p: f64, q: &f64| p + (1.0 - p) * q);
    assert!((exact.ln_evidence() / (20.0 * chance.ln()) - 1.0).abs() < 1e-14);
    for group in 0..20 {
        let finding = Node(group * 5 + 4);
        let starts = exact.starts_here()[finding.0];
        assert!((starts / (1e-6 / chance) - 1.0).abs() < 1e-11, "{starts}");
    }
}

/// Eight rare causes behind ten rare findings that hang together: selectors alone would lose most digits here, so the
/// chain must take over; the two-layer model, which never subtracts, is the judge.
#[test]
fn the_positive_chain_takes_over_where_selectors_lose_digits() {
    let mut model = Origins::new((0..8).map(|o| 1e-3 * (1.0 + o as f64)).collect()).unwrap();
    let mut reports = Vec::new();
    for f in 0..10usize {
        let behind: Vec<_> = (0..4)
            .map(|k| (Origin((f + 2 * k) % 8), 0.2 + 0.15 * k as f64))
            .collect();
        model.add(1e-6, &behind).unwrap();
        reports.push((Node(f), Report::Present));
    }
    let weights: Vec<_> = reports.iter().map(|r| (r.0, 1.0)).collect();
    let judge = model
        .answer(&Evidence::from_reports(reports.clone()).unwrap(), &weights)
        .unwrap();
    let network = model.network().unwrap();
    let moved = Evidence::from_reports(reports.iter().map(|&(n, r)| (Node(n.0 + 8), r))).unwrap();
    let exact = Exact::new(&network, &moved, 1e7).unwrap();
    assert!((exact.ln_evidence() - judge.ln_evidence).abs() < 1e-12);
    for (o, origin) in judge.origins.iter().enumerate() {
        assert!((exact.posterior()[o] - origin.posterior).abs() < 1e-12);
    }
}

#[test]
fn a_chain_of_causes_tells_the_start_from_the_link() {
    let mut builder = NetworkBuilder::new();
    let [first, middle, finding] = [0.2, 0.02, 0.02].map(|l| builder.add(Base::Leak(l)).unwrap());
    builder.link(first, middle, 0.9).unwrap();
    builder.link(middle, finding, 0.9).unwrap();
    let network = builder.build(1e-4).unwrap();
    let evidence = Evidence::from_reports([(finding, Report::Present)]).unwrap();
    let a = answer(
        &network,
        Query {
            leading: Leading::These(vec![first]),
            ..Query::new(evidence)
        },
    )
    .unwrap();
    assert_eq!(a.method(), Method::Exact);
    let (start, link) = (&a.nodes[first.0], &a.nodes[middle.0]);
    assert!(start.clears.value > 0.7 && link.clears.value < 0.15);
    assert!(link.clears_while_held.value > start.clears_while_held.value);
    assert_eq!(
        a.looks[0].node, first,
        "the start itself tells most about the start"
    );
}
