//! The two layers with reports on them, answered by elimination.

use super::evidence::{Evidence, Node, Report};
use super::noise::noisy_or;
use super::origins::{FindingAnswer, Origin, OriginAnswer, Origins, OriginsAnswer, OriginsError};
use std::collections::BTreeMap;

/// Steps (table entries touched) after which an answer is refused, about two seconds of work.
const MOST_STEPS: u64 = 2_000_000_000;

/// Findings that a table may hold open at once: 2^22 entries are 32 MB.
const MOST_OPEN: usize = 22;

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
struct Bit {
    finding: usize,
    /// How well the report fits the finding unexplained (absent) and explained (present); the larger is 1.
    fit: [f64; 2],
    /// Weight in clears.
    weight: f64,
    /// The leak and the origins that touch no other bit: their chance to explain it, `None` being the leak.
    private: Vec<(Option<usize>, f64)>,
}

/// What can explain bits: a bit's private sources taken together, or an origin that touches several.
#[derive(Clone, Debug)]
enum Element {
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
    fn bits(&self) -> impl Iterator<Item = usize> + '_ {
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
    model: &'a Origins,
    evidence: Evidence,
    /// Each origin's prior after the absent findings.
    present: Vec<f64>,
    bits: Vec<Bit>,
    /// Pieces that share no origin; elements in the order in which tables take them in.
    pieces: Vec<Vec<Element>>,
    /// Logarithm of what absent findings and scaled ratios contribute.
    ln: f64,
}

/// A table over which of its bits are explained.
#[derive(Clone, Debug)]
struct Table {
    bits: Vec<usize>,
    entries: Vec<f64>,
    /// Logarithm of a factor taken out of the entries.
    ln: f64,
}

impl Table {
    fn empty() -> Table {
        Table {
            bits: Vec::new(),
            entries: vec![1.0],
            ln: 0.0,
        }
    }

    /// The place of a bit, which is added as unexplained when it is not there yet.
    fn place(&mut self, bit: usize) -> usize {
        self.bits.iter().position(|&b| b == bit).unwrap_or_else(|| {
            self.bits.push(bit);
            self.entries.resize(self.entries.len() * 2, 0.0);
            self.bits.len() - 1
        })
    }

    /// Takes in one more source of one bit.
    fn explain(entries: &mut [f64], place: usize, fires: f64) {
        let step = 1 << place;
        for pair in entries.chunks_exact_mut(2 * step) {
            let (low, high) = pair.split_at_mut(step);
            for (l, h) in low.iter_mut().zip(high) {
                *h += fires * *l;
                *l *= 1.0 - fires;
            }
        }
    }

    /// Sums a bit out.
    fn close(&mut self, place: usize, fit: [f64; 2]) {
        let step = 1 << place;
        let half = self.entries.len() / 2;
        let mut to = 0;
        for from in (0..self.entries.len()).step_by(2 * step) {
            for i in from..from + step {
                self.entries[to] = fit[0] * self.entries[i] + fit[1] * self.entries[i + step];
                to += 1;
            }
        }
        self.entries.truncate(half);
        self.bits.remove(place);
        let top = self.entries.iter().copied().fold(0.0, f64::max);
        if top > 0.0 && top < 1e-100 {
            self.entries.iter_mut().for_each(|e| *e /= top);
            self.ln += libm::log(top);
        }
    }
}

/// Counts table entries touched, and stops the work when they become too many.
struct Steps(u64);

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
            let fit = match report {
                Report::Absent => {
                    ln += libm::log1p(-f.leak);
                    f.sources.iter().for_each(|&(o, s)| absent[o] *= 1.0 - s);
                    continue;
                }
                Report::Present => [0.0, 1.0],
                Report::Likelihood(ratio) => {
                    let top = ratio.max(1.0);
                    ln += libm::log(top);
                    [1.0 / top, ratio / top]
                }
            };
            let weight = weights.iter().filter(|w| w.0 == finding).map(|w| w.1).sum();
            bits.push(Bit {
                finding: finding.0,
                fit,
                weight,
                private: vec![(None, f.leak)],
            });
        }
        let present = model
            .priors
            .iter()
            .zip(&absent)
            .map(|(&p, &a)| {
                let total = 1.0 - p + p * a;
                ln += libm::log(total);
                p * a / total
            })
            .collect();
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
        // Breadth first from the bit with the fewest neighbours, so that neighbours stand close together.
        let count = self.bits.len();
        let mut near = vec![vec![]; count];
        for (i, element) in shared.iter().enumerate() {
            element.bits().for_each(|b| near[b].push(i));
        }
        let mut rank = vec![usize::MAX; count];
        let mut next = 0;
        let mut starts: Vec<usize> = (0..count).collect();
        starts.sort_by_key(|&b| near[b].len());
        for start in starts {
            if rank[start] != usize::MAX {
                continue;
            }
            let first = next;
            let mut queue = std::collections::VecDeque::from([start]);
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
            let inside = |b: usize| (first..next).contains(&rank[b]);
            let mut piece: Vec<Element> = (0..count)
                .filter(|&b| inside(b))
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
        let mut answer = OriginsAnswer {
            ln_evidence,
            origins: self
                .present
                .iter()
                .map(|&posterior| OriginAnswer {
                    posterior,
                    clears: 0.0,
                })
                .collect(),
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
            answer
                .origins
                .iter_mut()
                .for_each(|o| o.clears = (o.clears / all).clamp(0.0, 1.0));
        }
        Ok(answer)
    }

    /// What each of a few origins clears, in the order asked: the same figures as [`Given::answer`] has, for the price
    /// of one pass over all other origins.
    ///
    /// # Errors
    /// As [`Given::answer`]; [`OriginsError::UnknownOrigin`].
    pub fn clears_of(&self, origins: &[Origin]) -> Result<Vec<f64>, OriginsError> {
        if let Some(&origin) = origins.iter().find(|o| o.0 >= self.model.len()) {
            return Err(OriginsError::UnknownOrigin { origin });
        }
        let nothing = OriginAnswer {
            posterior: 0.0,
            clears: 0.0,
        };
        let mut answer = OriginsAnswer {
            ln_evidence: 0.0,
            origins: vec![nothing; self.model.len()],
            findings: Vec::new(),
        };
        let asked = |origin: usize| origins.contains(&Origin(origin));
        let mut steps = Steps(0);
        for piece in &self.pieces {
            let (chosen, rest): (Vec<Element>, Vec<Element>) =
                piece.iter().cloned().partition(|element| match element {
                    Element::Shared { origin, .. } => asked(*origin),
                    // What is present only perhaps has to be known for the sum over all findings.
                    Element::Private { bit, .. } => {
                        let bit = &self.bits[*bit];
                        bit.private.iter().any(|p| p.0.is_some_and(asked))
                            || (bit.fit[0] > 0.0 && bit.weight > 0.0)
                    }
                });
            if !chosen.is_empty() {
                let table = self.take_in(Table::empty(), &rest, &chosen, &mut steps)?;
                if table.entries.iter().all(|entry| *entry == 0.0) {
                    return Err(OriginsError::Impossible);
                }
                self.halve(table, &chosen, &mut answer, &mut steps)?;
            }
        }
        let all = self.all(&answer);
        let share = |origin: &Origin| {
            let clears = answer.origins[origin.0].clears;
            if all > 0.0 {
                (clears / all).clamp(0.0, 1.0)
            } else {
                0.0
            }
        };
        Ok(origins.iter().map(share).collect())
    }

    /// `SUM w_f * P(f present | E)`; what was seen is present, whether `answer` has its figures or not.
    fn all(&self, answer: &OriginsAnswer) -> f64 {
        let present = |bit: &Bit| {
            let found = |a: &&FindingAnswer| a.finding.0 == bit.finding;
            let figures = answer.findings.iter().find(found);
            figures.map_or(f64::from(u8::from(bit.fit[0] == 0.0)), |a| a.present)
        };
        self.bits.iter().map(|b| b.weight * present(b)).sum()
    }

    /// The share of what was seen that would not be there with all of `set` removed at once; `answer` must be this
    /// object's own. One table over the findings that the set touches, so a few microseconds to milliseconds a call.
    ///
    /// # Errors
    /// [`OriginsError::TooLarge`], [`OriginsError::UnknownOrigin`].
    pub fn clears_together(
        &self,
        answer: &OriginsAnswer,
        set: &[Origin],
    ) -> Result<f64, OriginsError> {
        if let Some(&origin) = set.iter().find(|o| o.0 >= self.model.len()) {
            return Err(OriginsError::UnknownOrigin { origin });
        }
        let all = self.all(answer);
        let chosen = |o: usize| set.contains(&Origin(o));
        let mut steps = Steps(0);
        let mut cleared = 0.0;
        for piece in &self.pieces {
            let (mut rest, mut removed): (Vec<Element>, Vec<Element>) = (Vec::new(), Vec::new());
            for element in piece {
                match element {
                    Element::Private { bit, .. } => {
                        let fires = |own: bool| {
                            let sources = self.bits[*bit].private.iter();
                            noisy_or(
                                0.0,
                                sources
                                    .filter(|p| p.0.is_some_and(chosen) == own)
                                    .map(|p| p.1),
                            )
                        };
                        rest.push(Element::Private {
                            bit: *bit,
                            fires: fires(false),
                        });
                        if fires(true) > 0.0 {
                            removed.push(Element::Private {
                                bit: *bit,
                                fires: fires(true),
                            });
                        }
                    }
                    Element::Shared { origin, .. } if chosen(*origin) => {
                        removed.push(element.clone())
                    }
                    Element::Shared { .. } => rest.push(element.clone()),
                }
            }
            if removed.is_empty() {
                continue;
            }
            let table = self.take_in(Table::empty(), &rest, &removed, &mut steps)?;
            let whole = self.take_in(table.clone(), &removed, &[], &mut steps)?;
            for place in 0..table.bits.len() {
                let bit = table.bits[place];
                if self.bits[bit].weight == 0.0 {
                    continue;
                }
                // Only what the rest leaves unexplained, and only if the set then explains it.
                let mut alone = table.clone();
                alone
                    .entries
                    .iter_mut()
                    .enumerate()
                    .filter(|(i, _)| i >> place & 1 == 1)
                    .for_each(|(_, e)| *e = 0.0);
                let must = Some(bit);
                let alone = self.take_in_with(alone, &removed, &[], must, &mut steps)?;
                let ratio = alone.entries[0] / whole.entries[0] * libm::exp(alone.ln - whole.ln);
                cleared += self.bits[bit].weight * ratio;
            }
        }
        Ok(if all > 0.0 {
            (cleared / all).clamp(0.0, 1.0)
        } else {
            0.0
        })
    }

    fn take_in(
        &self,
        table: Table,
        elements: &[Element],
        later: &[Element],
        steps: &mut Steps,
    ) -> Result<Table, OriginsError> {
        self.take_in_with(table, elements, later, None, steps)
    }

    /// Takes `elements` into the table and closes every bit that `later` does not need; the bit `must` only counts
    /// when it is explained.
    fn take_in_with(
        &self,
        mut table: Table,
        elements: &[Element],
        later: &[Element],
        must: Option<usize>,
        steps: &mut Steps,
    ) -> Result<Table, OriginsError> {
        // When a bit is touched for the last time: after that element, or never here.
        let mut last: BTreeMap<usize, usize> = table.bits.iter().map(|&b| (b, 0)).collect();
        for (i, element) in elements.iter().enumerate() {
            element.bits().for_each(|b| {
                last.insert(b, i);
            });
        }
        later.iter().flat_map(Element::bits).for_each(|b| {
            last.insert(b, usize::MAX);
        });
        let fit = |bit: usize| {
            if must == Some(bit) {
                [0.0, self.bits[bit].fit[1]]
            } else {
                self.bits[bit].fit
            }
        };
        for (i, element) in elements.iter().enumerate() {
            match element {
                Element::Private { bit, fires } => {
                    let place = table.place(*bit);
                    steps.count(table.entries.len(), || self.named(&table))?;
                    Table::explain(&mut table.entries, place, *fires);
                }
                Element::Shared { origin, links } => {
                    let places: Vec<(usize, f64)> =
                        links.iter().map(|&(b, s)| (table.place(b), s)).collect();
                    if table.bits.len() > MOST_OPEN {
                        return Err(OriginsError::TooLarge {
                            findings: self.named(&table),
                        });
                    }
                    steps.count(table.entries.len() * (links.len() + 1), || {
                        self.named(&table)
                    })?;
                    let p = self.present[*origin];
                    let mut with: Vec<f64> = table.entries.iter().map(|e| p * e).collect();
                    places
                        .iter()
                        .for_each(|&(place, s)| Table::explain(&mut with, place, s));
                    table
                        .entries
                        .iter_mut()
                        .zip(with)
                        .for_each(|(e, w)| *e = (1.0 - p) * *e + w);
                }
            }
            let mut place = 0;
            while place < table.bits.len() {
                let bit = table.bits[place];
                if last[&bit] <= i {
                    table.close(place, fit(bit));
                } else {
                    place += 1;
                }
            }
        }
        // With nothing to take in, bits that nobody later needs are still open.
        if elements.is_empty() {
            for place in (0..table.bits.len())
                .rev()
                .filter(|&p| last[&table.bits[p]] == 0)
                .collect::<Vec<_>>()
            {
                let bit = table.bits[place];
                table.close(place, fit(bit));
            }
        }
        Ok(table)
    }

    fn named(&self, table: &Table) -> Vec<Node> {
        let mut findings: Vec<Node> = table
            .bits
            .iter()
            .map(|&b| Node(self.bits[b].finding))
            .collect();
        findings.sort_unstable();
        findings
    }

    /// `table` is what all elements outside `elements` leave.
    fn halve(
        &self,
        table: Table,
        elements: &[Element],
        answer: &mut OriginsAnswer,
        steps: &mut Steps,
    ) -> Result<(), OriginsError> {
        match elements {
            [Element::Private { bit, .. }] => self.private(table, *bit, answer),
            [Element::Shared { origin, links }] => self.shared(table, *origin, links, answer),
            _ => {
                let (left, right) = elements.split_at(elements.len() / 2);
                let for_left = self.take_in(table.clone(), right, left, steps)?;
                self.halve(for_left, left, answer, steps)?;
                let for_right = self.take_in(table, left, right, steps)?;
                self.halve(for_right, right, answer, steps)?;
            }
        }
        Ok(())
    }

    /// The figures of one origin that touches several findings, from what all others leave.
    fn shared(
        &self,
        mut table: Table,
        origin: usize,
        links: &[(usize, f64)],
        answer: &mut OriginsAnswer,
    ) {
        let places: Vec<(usize, usize, f64)> =
            links.iter().map(|&(b, s)| (table.place(b), b, s)).collect();
        let fit = |index: usize| -> f64 {
            let of = |(place, &bit): (usize, &usize)| self.bits[bit].fit[index >> place & 1];
            table.bits.iter().enumerate().map(of).product()
        };
        let total =
            |entries: &[f64]| -> f64 { entries.iter().enumerate().map(|(i, e)| e * fit(i)).sum() };
        let without = total(&table.entries);
        let mut with = table.entries.clone();
        // `only` carries, along with every way to explain the bits, the weight of those that nothing else explains.
        let mut only = vec![0.0; with.len()];
        for &(place, bit, s) in &places {
            Table::explain(&mut only, place, s);
            let weight = self.bits[bit].weight * s;
            for i in (0..with.len()).filter(|i| i >> place & 1 == 1) {
                only[i] += weight * with[i ^ 1 << place];
            }
            Table::explain(&mut with, place, s);
        }
        let p = self.present[origin];
        let (with, only) = (p * total(&with), p * total(&only));
        let all = (1.0 - p) * without + with;
        answer.origins[origin] = OriginAnswer {
            posterior: with / all,
            clears: only / all,
        };
    }

    /// The figures of one finding, its leak and the origins that touch nothing else, from what all others leave.
    fn private(&self, mut table: Table, bit: usize, answer: &mut OriginsAnswer) {
        table.place(bit);
        let (unexplained, explained) = (table.entries[0], table.entries[1]);
        let Bit {
            finding,
            fit,
            weight,
            private,
        } = &self.bits[bit];
        let none: f64 = private.iter().map(|p| 1.0 - p.1).product();
        let fires = noisy_or(0.0, private.iter().map(|p| p.1));
        let present = explained + unexplained * fires;
        let absent = unexplained * none;
        let all = fit[0] * absent + fit[1] * present;
        let mut alone = 0.0;
        for (i, &(source, chance)) in private.iter().enumerate() {
            let others = || {
                private
                    .iter()
                    .enumerate()
                    .filter(move |o| o.0 != i)
                    .map(|o| o.1.1)
            };
            let others_none: f64 = others().map(|c| 1.0 - c).product();
            let others_fire = noisy_or(0.0, others());
            let only = fit[1] * unexplained * chance * others_none / all;
            // The mass if this source is there and fires with certainty, and if it is not there.
            let sure = fit[1] * (explained + unexplained);
            let without = fit[1] * (explained + unexplained * others_fire)
                + fit[0] * unexplained * others_none;
            match source {
                None => alone = only,
                Some(o) => {
                    // `chance` is prior times strength; the prior that does not fire goes with `without`.
                    let quiet = self.present[o] - chance;
                    answer.origins[o] = OriginAnswer {
                        posterior: (chance * sure + quiet.max(0.0) * without) / all,
                        clears: weight * only,
                    };
                }
            }
        }
        answer.findings.push(FindingAnswer {
            finding: Node(*finding),
            present: fit[1] * present / all,
            alone,
        });
    }
}

impl Steps {
    fn count(
        &mut self,
        entries: usize,
        findings: impl Fn() -> Vec<Node>,
    ) -> Result<(), OriginsError> {
        self.0 += entries as u64;
        if self.0 > MOST_STEPS {
            Err(OriginsError::TooLarge {
                findings: findings(),
            })
        } else {
            Ok(())
        }
    }
}
