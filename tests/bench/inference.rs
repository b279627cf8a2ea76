//! How long the engines take, and how good the figures are then: `cargo bench --bench inference`.
//!
//! Times are CPU milliseconds of this process where the system tells them (Linux), wall time elsewhere; each line is
//! the median of its runs. `-- posteriors` runs the first part alone. The questions:
//! - exact: all posteriors of the last network of `tests/reference/posteriors.json` (200 nodes, themed, 15 seen);
//! - sampled: a full answer on made-up dense webs, 240 conditions with 1,650 links and 2,000 with 14,000;
//! - two layers: 240 origins behind 15 findings;
//! - memory: the peak of the whole run.

use std::time::Instant;

use fairwhy::inference::{
    Base, Evidence, Exact, Network, NetworkBuilder, Node, Origin, Origins, Query, Removal, Report,
    Shakes, answer, firmness,
};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;

fn main() {
    let only_posteriors = std::env::args().any(|a| a == "posteriors");
    let base = posteriors();
    if only_posteriors {
        return;
    }
    for (count, links) in [(240, 1650), (2000, 14_000)] {
        dense(count, links, base);
    }
    origins(base);
    if let Some(peak) = peak_memory() {
        println!("peak memory of the whole run: {peak:.0} MB");
    }
}

/// CPU time of this process in milliseconds, or wall time where the system does not tell.
fn clock(start: Instant) -> f64 {
    let told = std::fs::read_to_string("/proc/self/schedstat").ok();
    let spent = told.and_then(|s| s.split(' ').next()?.parse::<f64>().ok());
    spent.map_or_else(
        || start.elapsed().as_secs_f64() * 1e3,
        |nanoseconds| nanoseconds / 1e6,
    )
}

/// Median over `times` runs of at least 40 milliseconds each (the system counts CPU time in steps of a few), per call.
fn median<T>(times: usize, mut run: impl FnMut() -> T) -> (f64, T) {
    let start = Instant::now();
    let (mut taken, mut last) = (Vec::new(), run());
    for _ in 0..times {
        let (before, mut calls, mut spent) = (clock(start), 0.0, 0.0);
        while spent < 40.0 {
            last = run();
            calls += 1.0;
            spent = clock(start) - before;
        }
        taken.push(spent / calls);
    }
    taken.sort_by(f64::total_cmp);
    (taken[times / 2], last)
}

fn peak_memory() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM"))?;
    Some(line.split_whitespace().nth(1)?.parse::<f64>().ok()? / 1024.0)
}

fn posteriors() -> f64 {
    let stored: serde_json::Value =
        serde_json::from_str(include_str!("../reference/posteriors.json"))
            .expect("the stored file is sound");
    let case = stored["cases"]
        .as_array()
        .and_then(|c| c.last())
        .expect("cases");
    let number = |v: &serde_json::Value| v.as_f64().expect("a number");
    let node = |v: &serde_json::Value| Node(v.as_u64().expect("a node") as usize);
    let list = |key: &str| case[key].as_array().expect("a list").clone();
    let mut builder = NetworkBuilder::new();
    for leak in list("leaks") {
        builder.add(Base::Leak(number(&leak))).expect("sound");
    }
    for link in list("links") {
        builder
            .link(node(&link[0]), node(&link[1]), number(&link[2]))
            .expect("sound");
    }
    let network = builder.build(1e-4).expect("no circle");
    let reports = list("reports").into_iter().map(|r| {
        let report = match r[1].as_str() {
            Some("present") => Report::Present,
            Some("absent") => Report::Absent,
            _ => Report::Likelihood(number(&r[2])),
        };
        (node(&r[0]), report)
    });
    let evidence = Evidence::from_reports(reports).expect("sound");
    let (ms, exact) = median(15, || {
        Exact::new(&network, &evidence, 1e8).expect("small tables")
    });
    println!(
        "exact, {} nodes, {} links, {} reports",
        network.len(),
        network.link_count(),
        evidence.len()
    );
    println!(
        "  all posteriors: {ms:.3} ms ({:.0} cells a pass)",
        exact.cells()
    );
    let observed = Query::new(evidence.clone()).observed;
    let candidates: Vec<Node> = network
        .nodes()
        .filter(|n| exact.starts_here()[n.0] > 0.0)
        .collect();
    let (all, _) = median(5, || {
        let clears = |&n: &Node| {
            exact
                .clears(&Removal::Leaks(vec![n]), &observed)
                .expect("small tables")
        };
        candidates.iter().map(clears).sum::<f64>()
    });
    println!(
        "  clears of {} candidates: {all:.1} ms, {:.2} of the above each",
        candidates.len(),
        all / candidates.len() as f64 / ms
    );
    let (whole, _) = median(3, || {
        answer(&network, Query::new(evidence.clone()))
            .expect("a sound query")
            .method()
    });
    println!(
        "  whole answer: {whole:.1} ms, {:.0} times as long",
        whole / ms
    );
    ms
}

/// A made-up dense web: shares 0.08 to 0.3, strengths from a verbal scale brought down until a third to two thirds of
/// each share comes from the links; fifteen unrelated findings of the lower half seen, which is the hard case.
fn dense(count: usize, links: usize, base: f64) {
    let mut lines = Vec::new();
    for seed in 0..3 {
        let mut rng = Pcg64::seed_from_u64(seed);
        let network = web(&mut rng, count, links);
        let mut reports = std::collections::BTreeMap::new();
        while reports.len() < 15 {
            reports.insert(Node(rng.random_range(count / 2..count)), Report::Present);
        }
        let evidence = Evidence::from_reports(reports).expect("sound");
        let query = Query::new(evidence.clone());
        let observed = query.observed.clone();
        let (ms, found) = median(3, || {
            answer(&network, query.clone()).expect("a sound query")
        });
        let worlds = found.worlds().expect("too dense for tables");
        let (drawn, share, error) = (
            worlds.drawn(),
            worlds.effective_share(),
            found.standard_error(),
        );
        let set: Vec<Node> = found.leading.iter().copied().take(3).collect();
        let (together, _) = median(3, || found.clears_together(&set));
        let effects = vec![1.0; count];
        let leading = found.leading[0];
        let (firm, share_first) = median(1, || {
            firmness(
                &network,
                &evidence,
                &observed,
                &effects,
                leading,
                Shakes::default(),
            )
        });
        let (odds, _) = median(1, || found.at_odds());
        lines.push(format!(
            "  {ms:.0} ms, {:.0} times the sparse posteriors; {drawn} worlds, effective share {share:.2}, largest \
             standard error {error:.4}; a set {together:.1} ms, firmness {:.2} in {firm:.0} ms, at odds {odds:.0} ms",
            ms / base,
            share_first.unwrap_or(0.0)
        ));
    }
    println!("sampled, whole answer on {count} nodes, {links} links, 15 seen");
    lines.iter().for_each(|l| println!("{l}"));
}

fn web(rng: &mut Pcg64, count: usize, links: usize) -> Network {
    let shares: Vec<f64> = (0..count).map(|_| rng.random_range(0.08..0.3)).collect();
    let mut parents = vec![std::collections::BTreeMap::new(); count];
    let mut made = 0;
    while made < links {
        let (a, b) = (rng.random_range(0..count), rng.random_range(0..count));
        let strength: f64 = [0.15, 0.25, 0.5, 0.75, 0.85][rng.random_range(0..5)];
        if a != b && parents[a.max(b)].insert(a.min(b), strength).is_none() {
            made += 1;
        }
    }
    let mut builder = NetworkBuilder::new();
    shares.iter().for_each(|&share| {
        builder.add(Base::Share(share)).expect("a share");
    });
    for (x, parents) in parents.iter().enumerate() {
        let from_links = rng.random_range(0.33..0.67) * shares[x];
        let wanted = -(1.0f64 - from_links).ln();
        let claimed: f64 = parents
            .iter()
            .map(|(&u, &s)| -(1.0 - s * shares[u]).ln())
            .sum();
        for (&u, &s) in parents {
            builder
                .link(Node(u), Node(x), s * (wanted / claimed).min(1.0))
                .expect("a link");
        }
    }
    builder.build(0.01).expect("no circle")
}

fn origins(base: f64) {
    for (behind, seen) in [(7, 15), (12, 15), (20, 15), (12, 20)] {
        let mut rng = Pcg64::seed_from_u64(1);
        let mut model =
            Origins::new((0..240).map(|_| rng.random_range(0.02..0.3)).collect()).expect("priors");
        let mut reports = Vec::new();
        for _ in 0..seen {
            let mut sources = std::collections::BTreeMap::new();
            while sources.len() < behind {
                sources.insert(
                    Origin(rng.random_range(0..240)),
                    rng.random_range(0.05..0.9),
                );
            }
            let sources: Vec<(Origin, f64)> = sources.into_iter().collect();
            reports.push((
                model
                    .add(rng.random_range(0.01..0.2), &sources)
                    .expect("a finding"),
                Report::Present,
            ));
        }
        let weights: Vec<(Node, f64)> = reports.iter().map(|r| (r.0, 1.0)).collect();
        let evidence = Evidence::from_reports(reports).expect("sound");
        let (ms, _) = median(5, || {
            model.answer(&evidence, &weights).expect("small tables")
        });
        println!(
            "two layers, 240 origins, {behind} behind each of {seen} seen: {ms:.2} ms, {:.2} times the sparse posteriors",
            ms / base
        );
    }
}
