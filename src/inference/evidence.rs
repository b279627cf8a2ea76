//! What was reported about the findings of a model.

use std::collections::BTreeMap;

/// The number of a finding in its model: `0..finding_count()`, in the order in which they were added.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Node(pub usize);

/// What was reported about one node.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Report {
    /// It was seen.
    Present,
    /// It was looked for and was not there.
    Absent,
    /// A slight or unsure look, or a measurement: `P(report | present) / P(report | absent)`, finite and above 0
    /// (and not so small that a double loses digits, about 2e-308).
    Likelihood(f64),
}

/// What is wrong with a report.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum EvidenceError {
    /// A likelihood ratio that is zero, negative, infinite or not a number.
    #[error("node {}: a likelihood ratio must be a finite number above 0, not {ratio}", node.0)]
    Ratio {
        /// The node it was given for.
        node: Node,
        /// What was given.
        ratio: f64,
    },
    /// Two reports on one node that are not the same.
    #[error("node {} is reported twice, differently", node.0)]
    Twice {
        /// The node.
        node: Node,
    },
}

/// Everything that was reported, at most one report per node; a node without a report says nothing.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Evidence {
    reports: BTreeMap<Node, Report>,
}

impl Evidence {
    /// No report at all.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a report; the order in which reports are added does not matter.
    ///
    /// # Errors
    /// [`EvidenceError::Ratio`] for a ratio that is not finite and above 0; [`EvidenceError::Twice`] when the node
    /// already has another report (repeating the same one is harmless).
    pub fn add(&mut self, node: Node, report: Report) -> Result<(), EvidenceError> {
        if let Report::Likelihood(ratio) = report
            && !(ratio > 0.0 && ratio.is_normal())
        {
            return Err(EvidenceError::Ratio { node, ratio });
        }
        match self.reports.insert(node, report) {
            Some(earlier) if earlier != report => {
                self.reports.insert(node, earlier);
                Err(EvidenceError::Twice { node })
            }
            _ => Ok(()),
        }
    }

    /// All of `reports`, as if added one by one.
    ///
    /// # Errors
    /// The first error of [`Evidence::add`].
    pub fn from_reports(
        reports: impl IntoIterator<Item = (Node, Report)>,
    ) -> Result<Self, EvidenceError> {
        let mut evidence = Evidence::new();
        for (node, report) in reports {
            evidence.add(node, report)?;
        }
        Ok(evidence)
    }

    /// The report on `node`, if there is one.
    pub fn get(&self, node: Node) -> Option<Report> {
        self.reports.get(&node).copied()
    }

    /// All reports, by node.
    pub fn iter(&self) -> impl Iterator<Item = (Node, Report)> + '_ {
        self.reports.iter().map(|(&node, &report)| (node, report))
    }

    /// The number of reports.
    pub fn len(&self) -> usize {
        self.reports.len()
    }

    /// Whether nothing was reported.
    pub fn is_empty(&self) -> bool {
        self.reports.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unsound_reports_are_refused_and_nothing_is_lost() {
        let mut e = Evidence::new();
        e.add(Node(1), Report::Present).unwrap();
        e.add(Node(1), Report::Present).unwrap();
        assert_eq!(
            e.add(Node(1), Report::Absent),
            Err(EvidenceError::Twice { node: Node(1) })
        );
        assert_eq!(e.get(Node(1)), Some(Report::Present));
        for ratio in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(matches!(
                e.add(Node(2), Report::Likelihood(ratio)),
                Err(EvidenceError::Ratio { .. })
            ));
        }
        assert_eq!(e.len(), 1);
    }
}
