//! Properties of the two layers that hold whatever the model, and hard numeric cases.

#[path = "inference/lessons.rs"]
mod lessons;

use fairwhy::inference::{Evidence, Node, Origin, Origins, OriginsAnswer, Report};
use proptest::prelude::*;

/// A model and reports as plain numbers, so that a failing case can be read.
#[derive(Clone, Debug)]
struct Case {
    priors: Vec<f64>,
    /// For each finding its leak, and a strength for each origin behind it.
    findings: Vec<(f64, Vec<Option<f64>>)>,
    reports: Vec<Option<Report>>,
}

/// What rounding may do to a figure.
const ROUNDING: f64 = 1e-10;

impl Case {
    /// The same with origin `o` renamed to `names[o]`.
    fn model(&self, names: &[usize]) -> Origins {
        let mut priors = vec![0.0; self.priors.len()];
        for (name, prior) in names.iter().zip(&self.priors) {
            priors[*name] = *prior;
        }
        let mut model = Origins::new(priors).unwrap();
        for (leak, strengths) in &self.findings {
            let behind: Vec<(Origin, f64)> = names
                .iter()
                .zip(strengths)
                .filter_map(|(name, strength)| Some((Origin(*name), (*strength)?)))
                .collect();
            model.add(*leak, &behind).unwrap();
        }
        model
    }

    fn evidence(&self) -> Evidence {
        let reports = self.reports.iter().enumerate();
        Evidence::from_reports(reports.filter_map(|(f, r)| Some((Node(f), (*r)?)))).unwrap()
    }

    fn weights(&self) -> Vec<(Node, f64)> {
        self.evidence()
            .iter()
            .filter(|r| r.1 != Report::Absent)
            .map(|r| (r.0, 1.0))
            .collect()
    }

    fn same(&self) -> Vec<usize> {
        (0..self.priors.len()).collect()
    }

    fn answer(&self) -> OriginsAnswer {
        self.model(&self.same())
            .answer(&self.evidence(), &self.weights())
            .unwrap()
    }
}

fn cases() -> impl Strategy<Value = Case> {
    (2..7usize, 1..7usize).prop_flat_map(|(origins, findings)| {
        let strength = prop_oneof![1 => Just(None), 2 => (0.02..0.98f64).prop_map(Some)];
        let finding = (0.0001..0.4f64, prop::collection::vec(strength, origins));
        let report = prop_oneof![
            4 => Just(Some(Report::Present)),
            1 => Just(Some(Report::Absent)),
            1 => (0.1..8.0f64).prop_map(|r| Some(Report::Likelihood(r))),
            1 => Just(None),
        ];
        (
            prop::collection::vec(0.001..0.6f64, origins),
            prop::collection::vec(finding, findings),
            prop::collection::vec(report, findings),
        )
            .prop_map(|(priors, findings, reports)| Case {
                priors,
                findings,
                reports,
            })
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn figures_are_chances_and_sets_only_gain(case in cases()) {
        let model = case.model(&case.same());
        let (evidence, weights) = (case.evidence(), case.weights());
        let given = model.given(&evidence, &weights).unwrap();
        let answer = given.answer().unwrap();
        let together = |set: &[Origin]| given.clears_together(&answer, set).unwrap();
        prop_assert_eq!(together(&[]), 0.0);
        let mut set = Vec::new();
        let mut before = 0.0;
        for (o, origin) in answer.origins.iter().enumerate() {
            prop_assert!((0.0..=1.0).contains(&origin.posterior));
            prop_assert!((0.0..=1.0).contains(&origin.clears));
            prop_assert!((together(&[Origin(o)]) - origin.clears).abs() < ROUNDING);
            set.push(Origin(o));
            let now = together(&set);
            prop_assert!(now >= before - ROUNDING && now <= 1.0 + ROUNDING);
            prop_assert!(now >= origin.clears - ROUNDING);
            before = now;
        }
    }

    #[test]
    fn renaming_changes_nothing(case in cases(), seed in any::<u64>()) {
        let mut names = case.same();
        let mut state = seed;
        for i in (1..names.len()).rev() {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            names.swap(i, (state >> 33) as usize % (i + 1));
        }
        let (evidence, weights) = (case.evidence(), case.weights());
        let one = case.answer();
        let other = case.model(&names).answer(&evidence, &weights).unwrap();
        prop_assert!((one.ln_evidence - other.ln_evidence).abs() < ROUNDING);
        for (o, name) in names.iter().enumerate() {
            let (a, b) = (&one.origins[o], &other.origins[*name]);
            prop_assert!((a.posterior - b.posterior).abs() < ROUNDING);
            prop_assert!((a.clears - b.clears).abs() < ROUNDING);
        }
    }

    /// An origin behind nothing that was reported keeps its prior and clears nothing.
    #[test]
    fn what_stands_behind_nothing_reported_moves_nothing(case in cases()) {
        let answer = case.answer();
        for o in 0..case.priors.len() {
            let behind = case.findings.iter().zip(&case.reports);
            let touched = behind.filter(|(f, r)| r.is_some() && f.1[o].is_some()).count() > 0;
            if !touched {
                prop_assert!((answer.origins[o].posterior - case.priors[o]).abs() < ROUNDING);
                prop_assert_eq!(answer.origins[o].clears, 0.0);
            }
        }
    }

    /// Seen is a likelihood ratio that grows without bound, not seen one that falls to nothing.
    #[test]
    fn ratios_run_from_not_seen_to_seen(case in cases()) {
        let with = |report: Report| {
            let mut other = case.clone();
            other.reports[0] = Some(report);
            let weights = case.weights().into_iter().filter(|w| w.0 != Node(0)).collect::<Vec<_>>();
            other.model(&other.same()).answer(&other.evidence(), &weights).unwrap()
        };
        for (hard, soft) in [(Report::Present, 1e14), (Report::Absent, 1e-14)] {
            let (hard, soft) = (with(hard), with(Report::Likelihood(soft)));
            for (a, b) in hard.origins.iter().zip(&soft.origins) {
                prop_assert!((a.posterior - b.posterior).abs() < 1e-6);
                prop_assert!((a.clears - b.clears).abs() < 1e-6);
            }
        }
    }
}

/// One cause behind twenty findings that are otherwise one in a thousand: ln P(E) is near ln(0.01), and against it
/// stands (1e-3)^20. By hand: P(E) = 0.99 * 1e-60 + 0.01 * PROD(1 - 0.999 * 0.5), to rounding the second term alone.
#[test]
fn twenty_rare_findings_do_not_underflow() {
    let mut model = Origins::new(vec![0.01]).unwrap();
    let mut evidence = Evidence::new();
    for _ in 0..20 {
        let finding = model.add(1e-3, &[(Origin(0), 0.5)]).unwrap();
        evidence.add(finding, Report::Present).unwrap();
    }
    let answer = model.answer(&evidence, &[]).unwrap();
    let by_hand = 0.01f64.ln() + 20.0 * (1.0 - 0.999 * 0.5f64).ln();
    assert!((answer.ln_evidence - by_hand).abs() < 1e-12);
    assert!((answer.origins[0].posterior - 1.0).abs() < 1e-12);
}
