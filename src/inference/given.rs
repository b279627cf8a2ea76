//! The two layers with reports on them, answered by elimination.

use super::evidence::{Evidence, Node, Report};
use super::explained_table::{Steps, Table};
use super::noise::noisy_or;
use super::origins::{FindingAnswer, OriginAnswer, Origins, OriginsAnswer, OriginsError};
use std::collections::{BTreeMap, VecDeque};
use std::ops::Range;

impl Origins {
    /// Prepares the answers to a set of reports. `weights` names the findings that count for clears (the set S) with
    /// their weights; others are evidence only.
    ///
    /// # Errors
    /// [`OriginsError::UnknownFinding`]; [`OriginsError::Impossible`] when an origin alone makes the reports so.
    pub fn given(
        &self,
        evidence: &Evidence,
        weights: &[(Node, f64)],
    ) -> Result<Given<'_>, OriginsError> {
        Given::new(self, evidence, weights)
    }

    /// Everything about a set of reports: see [`Origins::given`].
    ///
    /// # Errors
    /// As [`Origins::given`]; [`OriginsError::TooLarge`].
    pub fn answer(
        &self,
        evidence: &Evidence,
        weights: &[(Node, f64)],
    ) -> Result<OriginsAnswer, OriginsError> {
        self.given(evidence, weights)?.answer()
    }
}

/// A positive finding (seen, or with a likelihood ratio): one bit of the tables.
#[derive(Clone, Debug)]
pub(super) struct Bit {
    pub(super) finding: usize,
    /// How well the report fits the finding unexplained (absent) and explained (present); the larger is 1.
    pub(super) fit: [f64; 2],
    /// Weight in clears.
    pub(super) weight: f64,
    /// The leak and the origins that touch no other bit: their chance to explain it, `None` being the leak.
    pub(super) private: Vec<(Option<usize>, f64)>,
}

/// What can explain bits: a bit's private sources taken together, or an origin that touches several.
#[derive(Clone, Debug)]
pub(super) enum Element {
    Private {
        bit: usize,
        fires: f64,
    },
    Shared {
        origin: usize,
        links: Vec<(usize, f64)>,
    },
}

impl Element {
    pub(super) fn bits(&self) -> impl Iterator<Item = usize> + '_ {
        let (one, many) = match self {
            Element::Private { bit, .. } => (Some(*bit), &[][..]),
            Element::Shared { links, .. } => (None, &links[..]),
        };
        one.into_iter().chain(many.iter().map(|l| l.0))
    }
}

/// A two-layer model with reports.
#[derive(Clone, Debug)]
pub struct Given<'a> {
    pub(super) model: &'a Origins,
    evidence: Evidence,
    /// Each origin's prior after the absent findings.
    pub(super) present: Vec<f64>,
    pub(super) bits: Vec<Bit>,
    /// Pieces that share no origin; elements in the order in which tables take them in.
    pub(super) pieces: Vec<Vec<Element>>,
    /// Logarithm of what absent findings and scaled ratios contribute.
    ln: f64,
}

impl<'a> Given<'a> {
    pub(super) fn new(
        model: &'a Origins,
        evidence: &Evidence,
        weights: &[(Node, f64)],
    ) -> Result<Self, OriginsError> {
        let mut ln = 0.0;
        let mut absent = vec![1.0; model.len()];
        let mut bits: Vec<Bit> = Vec::new();
        for (finding, report) in evidence.iter() {
            let Some(f) = model.findings.get(finding.0) else {
                return Err(OriginsError::UnknownFinding { finding });
            };
            let ratio = match report {
                Report::Absent => {
                    ln += libm::log1p(-f.leak);
                    f.sources.iter().for_each(|&(o, s)| absent[o] *= 1.0 - s);
                    continue;
                }
                Report::Present => None,
                Report::Likelihood(ratio) => Some(ratio),
            };
            let top = ratio.map_or(1.0, |ratio| ratio.max(1.0));
            ln += libm::log(top);
            let fit = ratio.map_or([0.0, 1.0], |ratio| [1.0 / top, ratio / top]);
            let weight = weights.iter().filter(|w| w.0 == finding).map(|w| w.1).sum();
            bits.push(Bit {
                finding: finding.0,
                fit,
                weight,
                private: vec![(None, f.leak)],
            });
        }
        let posterior = |(&p, &a): (&f64, &f64)| {
            let total = 1.0 - p + p * a;
            ln += libm::log(total);
            p * a / total
        };
        let present = model.priors.iter().zip(&absent).map(posterior).collect();
        let mut given = Given {
            model,
            evidence: evidence.clone(),
            present,
            bits,
            pieces: Vec::new(),
            ln,
        };
        given.cut();
        Ok(given)
    }

    /// Sorts bits and origins into pieces, and the elements of each piece into an order that closes bits early.
    fn cut(&mut self) {
        let shared = self.shared_elements();
        let (rank, pieces) = order(self.bits.len(), &shared);
        for inside in pieces {
            let inside = |b: usize| inside.contains(&rank[b]);
            let bits = (0..self.bits.len()).filter(|&b| inside(b));
            let mut piece: Vec<Element> = bits
                .map(|bit| Element::Private {
                    bit,
                    fires: noisy_or(0.0, self.bits[bit].private.iter().map(|p| p.1)),
                })
                .collect();
            piece.extend(shared.iter().filter(|e| e.bits().all(inside)).cloned());
            piece.sort_by_cached_key(|e| {
                let mut ranks: Vec<usize> = e.bits().map(|b| rank[b]).collect();
                ranks.sort_unstable();
                ranks
            });
            self.pieces.push(piece);
        }
    }

    /// The origins that touch several bits; those that touch one become private to it.
    fn shared_elements(&mut self) -> Vec<Element> {
        let mut links: BTreeMap<usize, Vec<(usize, f64)>> = BTreeMap::new();
        for (b, bit) in self.bits.iter().enumerate() {
            for &(o, s) in self.model.findings[bit.finding]
                .sources
                .iter()
                .filter(|l| self.present[l.0] > 0.0)
            {
                links.entry(o).or_default().push((b, s));
            }
        }
        let mut shared: Vec<Element> = Vec::new();
        for (origin, links) in links {
            if let [(b, s)] = links[..] {
                self.bits[b]
                    .private
                    .push((Some(origin), self.present[origin] * s));
            } else {
                shared.push(Element::Shared { origin, links });
            }
        }
        shared
    }

    /// Natural logarithm of the probability of all reports; minus infinity when they are impossible.
    ///
    /// # Errors
    /// [`OriginsError::TooLarge`].
    pub fn ln_evidence(&self) -> Result<f64, OriginsError> {
        let mut steps = Steps(0);
        let mut ln = self.ln;
        for piece in &self.pieces {
            let table = self.take_in(Table::empty(), piece, &[], &mut steps)?;
            ln += table.ln + libm::log(table.entries[0]);
        }
        Ok(ln)
    }

    /// All figures.
    ///
    /// # Errors
    /// [`OriginsError::Impossible`], [`OriginsError::TooLarge`].
    pub fn answer(&self) -> Result<OriginsAnswer, OriginsError> {
        let ln_evidence = self.ln_evidence()?;
        if ln_evidence == f64::NEG_INFINITY {
            return Err(OriginsError::Impossible);
        }
        let without_clears = |&posterior: &f64| OriginAnswer {
            posterior,
            clears: 0.0,
        };
        let mut answer = OriginsAnswer {
            ln_evidence,
            origins: self.present.iter().map(without_clears).collect(),
            findings: Vec::new(),
        };
        let mut steps = Steps(0);
        for piece in &self.pieces {
            self.halve(Table::empty(), piece, &mut answer, &mut steps)?;
        }
        for (finding, _) in self.evidence.iter().filter(|e| e.1 == Report::Absent) {
            answer.findings.push(FindingAnswer {
                finding,
                present: 0.0,
                alone: 0.0,
            });
        }
        answer.findings.sort_by_key(|f| f.finding);
        let all = self.all(&answer);
        if all > 0.0 {
            for origin in &mut answer.origins {
                origin.clears = (origin.clears / all).clamp(0.0, 1.0);
            }
        }
        Ok(answer)
    }
}

/// The rank of each bit, breadth first from the bit with the fewest neighbours, so that neighbours stand close
/// together; and the ranks of each piece, in which no bit has a neighbour in another.
fn order(count: usize, shared: &[Element]) -> (Vec<usize>, Vec<Range<usize>>) {
    let mut near = vec![vec![]; count];
    for (i, element) in shared.iter().enumerate() {
        element.bits().for_each(|b| near[b].push(i));
    }
    let mut rank = vec![usize::MAX; count];
    let mut pieces = Vec::new();
    let mut next = 0;
    let mut starts: Vec<usize> = (0..count).collect();
    starts.sort_by_key(|&b| near[b].len());
    for start in starts {
        if rank[start] != usize::MAX {
            continue;
        }
        let first = next;
        let mut queue = VecDeque::from([start]);
        rank[start] = next;
        next += 1;
        while let Some(b) = queue.pop_front() {
            for other in near[b].iter().flat_map(|&i| shared[i].bits()) {
                if rank[other] == usize::MAX {
                    rank[other] = next;
                    next += 1;
                    queue.push_back(other);
                }
            }
        }
        pieces.push(first..next);
    }
    (rank, pieces)
}
