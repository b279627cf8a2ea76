//! Exact posteriors against a general-purpose library, on 24 networks of 50 to 200 nodes.
//!
//! `tests/reference/make.py` made the values (pyAgrum, lazy propagation) and compares them when it is run with
//! `--check`. Tolerance 1e-9: the library's own rounding on tables of this size stays below 1e-12, the rest is room.

use fairwhy::inference::{Base, Evidence, Exact, Network, NetworkBuilder, Node, Report};
use serde::Deserialize;

#[derive(Deserialize)]
struct Stored {
    library: String,
    cases: Vec<Case>,
}

#[derive(Deserialize)]
struct Case {
    leaks: Vec<f64>,
    links: Vec<(usize, usize, f64)>,
    reports: Vec<(usize, String, f64)>,
    posterior: Vec<f64>,
}

impl Case {
    fn network(&self) -> Network {
        let mut builder = NetworkBuilder::new();
        for &leak in &self.leaks {
            builder.add(Base::Leak(leak)).unwrap();
        }
        for &(u, x, s) in &self.links {
            builder.link(Node(u), Node(x), s).unwrap();
        }
        builder.build(1e-4).unwrap()
    }

    fn evidence(&self) -> Evidence {
        let reports = self.reports.iter().map(|(node, kind, ratio)| {
            let report = match kind.as_str() {
                "present" => Report::Present,
                "absent" => Report::Absent,
                _ => Report::Likelihood(*ratio),
            };
            (Node(*node), report)
        });
        Evidence::from_reports(reports).unwrap()
    }
}

#[test]
fn posteriors_are_those_of_the_reference_library() {
    let stored: Stored = serde_json::from_str(include_str!("reference/posteriors.json")).unwrap();
    assert_eq!(stored.library, "pyagrum 3.3.1");
    assert!(stored.cases.len() >= 20);
    let mut worst: f64 = 0.0;
    for (number, case) in stored.cases.iter().enumerate() {
        let (network, evidence) = (case.network(), case.evidence());
        let exact = Exact::new(&network, &evidence, 1e8).unwrap();
        for (node, (&found, &expected)) in exact.posterior().iter().zip(&case.posterior).enumerate()
        {
            let difference = (found - expected).abs();
            worst = worst.max(difference);
            assert!(
                difference < 1e-9,
                "case {number} node {node}: {found} against {expected}"
            );
        }
    }
    println!("largest difference {worst:.1e}");
}
