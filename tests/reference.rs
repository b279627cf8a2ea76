//! The two layers against a general-purpose library, on 20 networks of 10 to 48 origins and 4 to 13 findings.
//!
//! `tests/reference/make.py` made the values (pyAgrum, lazy propagation) and compares them when it is run with
//! `--check`. Tolerance 1e-9: the library's own rounding on tables of this size stays below 1e-12, the rest is room.

use fairwhy::inference::{Evidence, Node, Origin, Origins, Report};
use serde::Deserialize;

#[derive(Deserialize)]
struct Stored {
    library: String,
    cases: Vec<Case>,
}

#[derive(Deserialize)]
struct Case {
    priors: Vec<f64>,
    leaks: Vec<f64>,
    links: Vec<(usize, usize, f64)>,
    reports: Vec<(usize, String, f64)>,
    posterior: Vec<f64>,
}

impl Case {
    fn model(&self) -> Origins {
        let mut model = Origins::new(self.priors.clone()).unwrap();
        for (finding, &leak) in self.leaks.iter().enumerate() {
            let behind: Vec<(Origin, f64)> = self
                .links
                .iter()
                .filter(|link| link.1 == finding)
                .map(|link| (Origin(link.0), link.2))
                .collect();
            model.add(leak, &behind).unwrap();
        }
        model
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
        let answer = case.model().answer(&case.evidence(), &[]).unwrap();
        for (o, (found, &expected)) in answer.origins.iter().zip(&case.posterior).enumerate() {
            let difference = (found.posterior - expected).abs();
            worst = worst.max(difference);
            assert!(
                difference < 1e-9,
                "case {number} origin {o}: {} against {expected}",
                found.posterior
            );
        }
    }
    println!("largest difference {worst:.1e}");
}
