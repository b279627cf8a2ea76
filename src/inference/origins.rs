//! The two-layer model: origins straight to findings, answered exactly however many origins there are.
//!
//! Origins are independent and present with their prior; finding `f` is there when its own leak fires or a present
//! origin's link to it does. Textbook inclusion and exclusion over the positive findings (quickscore, Heckerman 1989,
//! from memory) subtracts nearly equal numbers: with 15 findings of chance 0.1 nothing would be left of 16 digits.
//! Here the same sums are kept positive: a table over *which positive findings are explained so far* takes in one
//! origin after another, a finding leaves the table when its last origin is in, and halving the origins again and
//! again gives each origin the table that all others leave. No subtraction, hence no digits lost.

use std::collections::BTreeMap;

use super::evidence::Node;

/// The number of an origin in its [`Origins`] model: `0..origins.len()`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Origin(pub usize);

/// What is wrong with a two-layer model or with what was asked of it.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum OriginsError {
    /// A prior outside `(0, 1)`, or not a number.
    #[error("origin {}: a prior must lie strictly between 0 and 1, not {value}", origin.0)]
    Prior {
        /// The origin.
        origin: Origin,
        /// What was given.
        value: f64,
    },
    /// A leak outside `[0, 1)`, or not a number.
    #[error("finding {}: a leak must be at least 0 and below 1, not {value}", finding.0)]
    Leak {
        /// The finding.
        finding: Node,
        /// What was given.
        value: f64,
    },
    /// A strength outside `(0, 1]`, or not a number.
    #[error("origin {} -> finding {}: a strength must be above 0 and at most 1, not {value}", origin.0, finding.0)]
    Strength {
        /// The origin.
        origin: Origin,
        /// The finding.
        finding: Node,
        /// What was given.
        value: f64,
    },
    /// An origin that does not exist.
    #[error("origin {} does not exist", origin.0)]
    UnknownOrigin {
        /// The origin.
        origin: Origin,
    },
    /// A report on a finding that does not exist.
    #[error("finding {} does not exist", finding.0)]
    UnknownFinding {
        /// The finding.
        finding: Node,
    },
    /// The same origin twice behind one finding.
    #[error("origin {} -> finding {} is given twice", origin.0, finding.0)]
    Twice {
        /// The origin.
        origin: Origin,
        /// The finding.
        finding: Node,
    },
    /// No combination of origins brings these findings about (leak 0, or a strength of 1 with the effect absent).
    #[error("the reports cannot all be true under this model")]
    Impossible,
    /// The reports hang together so densely that the tables would pass the limit.
    #[error("too many positive findings hang together to be answered exactly")]
    TooLarge {
        /// The findings in the piece that was too large, by number.
        findings: Vec<Node>,
    },
}

#[derive(Clone, Debug, PartialEq)]
pub(super) struct NoisyOr {
    pub(super) leak: f64,
    pub(super) sources: Vec<(usize, f64)>,
}

/// Origins with their priors, and findings with their leaks and what is behind them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Origins {
    pub(super) priors: Vec<f64>,
    pub(super) findings: Vec<NoisyOr>,
}

/// One origin's figures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OriginAnswer {
    /// `P(origin present | E)`: the chance that it starts here.
    pub posterior: f64,
    /// The share in `[0, 1]` of what was seen that would not be there without it.
    pub clears: f64,
}

/// The figures of one finding that was reported.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FindingAnswer {
    /// The finding.
    pub finding: Node,
    /// `P(present | E)`.
    pub present: f64,
    /// `P(present, and its own leak the only thing behind it | E)`: above a half, no origin explains it.
    pub alone: f64,
}

/// Everything that the two-layer model says about a set of reports.
#[derive(Clone, Debug, PartialEq)]
pub struct OriginsAnswer {
    /// `ln P(E)`.
    pub ln_evidence: f64,
    /// One entry per origin.
    pub origins: Vec<OriginAnswer>,
    /// One entry per report, by finding.
    pub findings: Vec<FindingAnswer>,
}

impl Origins {
    /// A model with these priors (one per origin) and no finding yet.
    ///
    /// # Errors
    /// [`OriginsError::Prior`].
    pub fn new(priors: Vec<f64>) -> Result<Self, OriginsError> {
        match priors.iter().position(|&p| !(p > 0.0 && p < 1.0)) {
            Some(i) => Err(OriginsError::Prior {
                origin: Origin(i),
                value: priors[i],
            }),
            None => Ok(Origins {
                priors,
                findings: Vec::new(),
            }),
        }
    }

    /// Adds a finding with its leak in `[0, 1)` and the strength in `(0, 1]` of each origin behind it.
    ///
    /// # Errors
    /// [`OriginsError::Leak`], [`OriginsError::UnknownOrigin`], [`OriginsError::Strength`], [`OriginsError::Twice`].
    pub fn add(&mut self, leak: f64, behind: &[(Origin, f64)]) -> Result<Node, OriginsError> {
        let finding = Node(self.findings.len());
        if !(0.0..1.0).contains(&leak) {
            return Err(OriginsError::Leak {
                finding,
                value: leak,
            });
        }
        let mut sources = BTreeMap::new();
        for &(origin, value) in behind {
            if origin.0 >= self.priors.len() {
                return Err(OriginsError::UnknownOrigin { origin });
            }
            if !(value > 0.0 && value <= 1.0) {
                return Err(OriginsError::Strength {
                    origin,
                    finding,
                    value,
                });
            }
            if sources.insert(origin.0, value).is_some() {
                return Err(OriginsError::Twice { origin, finding });
            }
        }
        self.findings.push(NoisyOr {
            leak,
            sources: sources.into_iter().collect(),
        });
        Ok(finding)
    }

    /// The number of origins.
    pub fn len(&self) -> usize {
        self.priors.len()
    }

    /// Whether there is no origin at all.
    pub fn is_empty(&self) -> bool {
        self.priors.is_empty()
    }

    /// The number of findings.
    pub fn finding_count(&self) -> usize {
        self.findings.len()
    }
}

#[cfg(test)]
mod tests {
    use super::super::enumeration::{PlainModel, enumerate};
    use super::super::evidence::{Evidence, Report};
    use super::super::noise::noisy_or;
    use super::*;
    use rand::{Rng, SeedableRng};
    use rand_pcg::Pcg64;

    fn close(a: f64, b: f64, what: &str) {
        assert!((a - b).abs() <= 1e-12, "{what}: {a} against {b}");
    }

    fn plain(model: &Origins) -> PlainModel {
        PlainModel {
            priors: model.priors.clone(),
            findings: model
                .findings
                .iter()
                .map(|f| (f.leak, f.sources.clone()))
                .collect(),
        }
    }

    /// Three origins and three findings, thirteen coins at most; `base` scales priors and leaks.
    fn random(seed: u64, base: f64) -> (Origins, Evidence, Vec<(Node, f64)>) {
        let mut rng = Pcg64::seed_from_u64(seed);
        let priors = (0..3).map(|_| base * rng.random_range(0.02..0.6));
        let mut model = Origins::new(priors.collect()).unwrap();
        let mut evidence = Evidence::new();
        let mut weights = Vec::new();
        let mut links = 0;
        for f in 0..3 {
            let mut behind = Vec::new();
            for o in 0..3 {
                if links < 7 && rng.random_bool(0.7) {
                    links += 1;
                    behind.push((Origin(o), rng.random_range(0.05..0.97)));
                }
            }
            model
                .add(base * rng.random_range(0.01..0.4), &behind)
                .unwrap();
            let report = match rng.random_range(0..7) {
                0..4 => Report::Present,
                4 => Report::Absent,
                5 => Report::Likelihood(rng.random_range(0.1..8.0)),
                _ => continue,
            };
            evidence.add(Node(f), report).unwrap();
            if report != Report::Absent && rng.random_bool(0.9) {
                weights.push((Node(f), rng.random_range(0.5..2.0)));
            }
        }
        (model, evidence, weights)
    }

    /// Every figure by enumeration over all origins and noises.
    #[test]
    fn enumeration_agrees() {
        for seed in 0..150 {
            // Every third model is rare throughout: textbook inclusion and exclusion would lose ten digits there.
            let (model, evidence, weights) = random(seed, if seed % 3 == 0 { 1e-4 } else { 1.0 });
            let sets = [
                vec![0],
                vec![1],
                vec![2],
                vec![0, 1],
                vec![1, 2],
                vec![0, 2],
                vec![0, 1, 2],
            ];
            let oracle = enumerate(&plain(&model), &evidence, &weights, &sets);
            let given = model.given(&evidence, &weights).unwrap();
            let answer = given.answer().unwrap();
            close(answer.ln_evidence, oracle.evidence.ln(), "ln P(E)");
            for o in 0..3 {
                close(
                    answer.origins[o].posterior,
                    oracle.posterior[o],
                    "posterior",
                );
                close(answer.origins[o].clears, oracle.clears[o], "clears");
            }
            for (set, &expected) in sets.iter().zip(&oracle.clears) {
                let set: Vec<Origin> = set.iter().map(|&o| Origin(o)).collect();
                close(
                    given.clears_together(&answer, &set).unwrap(),
                    expected,
                    "together",
                );
            }
            let some = [Origin(2), Origin(0)];
            let clears = given.clears_of(&some).unwrap();
            close(clears[0], oracle.clears[2], "clears of some");
            close(clears[1], oracle.clears[0], "clears of some");
            for f in &answer.findings {
                close(f.present, oracle.present[f.finding.0], "present");
                close(f.alone, oracle.alone[f.finding.0], "own leak alone");
            }
        }
    }

    /// Twelve findings of chance 1e-6 and less, each with an origin of its own: the joint chance is a product, so
    /// rare that inclusion and exclusion in sixteen digits would have none left.
    #[test]
    fn rare_findings_keep_their_digits() {
        let mut model = Origins::new(vec![1e-4; 12]).unwrap();
        let mut evidence = Evidence::new();
        for f in 0..12 {
            model.add(1e-6, &[(Origin(f), 0.5)]).unwrap();
            evidence.add(Node(f), Report::Present).unwrap();
        }
        // One origin with a hair of each hangs them together.
        let answer = model.answer(&evidence, &[]).unwrap();
        let one = noisy_or(1e-6, [0.5e-4]);
        assert!((answer.ln_evidence - 12.0 * one.ln()).abs() < 1e-11);
        let posterior = (1e-4 * 0.5 + 1e-4 * 0.5 * 1e-6) / one;
        for o in &answer.origins {
            close(o.posterior, posterior, "posterior");
        }
    }

    #[test]
    fn unsound_models_and_impossible_reports_are_refused() {
        assert!(matches!(
            Origins::new(vec![0.2, 1.0]),
            Err(OriginsError::Prior {
                origin: Origin(1),
                ..
            })
        ));
        let mut model = Origins::new(vec![0.2]).unwrap();
        let o = Origin(0);
        assert!(matches!(
            model.add(1.0, &[]),
            Err(OriginsError::Leak { .. })
        ));
        assert!(matches!(
            model.add(0.1, &[(o, 0.0)]),
            Err(OriginsError::Strength { .. })
        ));
        assert!(matches!(
            model.add(0.1, &[(o, f64::NAN)]),
            Err(OriginsError::Strength { .. })
        ));
        assert!(matches!(
            model.add(0.1, &[(Origin(3), 0.5)]),
            Err(OriginsError::UnknownOrigin { .. })
        ));
        assert!(matches!(
            model.add(0.1, &[(o, 0.5), (o, 0.5)]),
            Err(OriginsError::Twice { .. })
        ));
        let a = model.add(0.0, &[(o, 1.0)]).unwrap();
        let b = model.add(0.0, &[(o, 1.0)]).unwrap();
        let torn = Evidence::from_reports([(a, Report::Present), (b, Report::Absent)]).unwrap();
        assert_eq!(model.answer(&torn, &[]), Err(OriginsError::Impossible));
        let unknown = Evidence::from_reports([(Node(9), Report::Absent)]).unwrap();
        assert_eq!(
            model.answer(&unknown, &[]),
            Err(OriginsError::UnknownFinding { finding: Node(9) })
        );
        // A strength of 1 and a leak of 0: one origin explains both for certain.
        let both = Evidence::from_reports([(a, Report::Present), (b, Report::Present)]).unwrap();
        let answer = model.answer(&both, &[(a, 1.0), (b, 1.0)]).unwrap();
        assert_eq!(
            answer.origins[0],
            OriginAnswer {
                posterior: 1.0,
                clears: 1.0
            }
        );
    }
}
