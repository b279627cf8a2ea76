//! Origins and findings taken into a table one by one, each closed as soon as nothing later needs it.

use super::evidence::Node;
use super::explained_table::{Steps, Table};
use super::given::{Bit, Element, Given};
use super::noise::noisy_or;
use super::origins::{FindingAnswer, OriginAnswer, OriginsAnswer, OriginsError};
use std::collections::BTreeMap;

/// Findings that a table may hold open at once: 2^22 entries are 32 MB.
const MOST_OPEN: usize = 22;

impl Given<'_> {
    pub(super) fn take_in(
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
    pub(super) fn take_in_with(
        &self,
        mut table: Table,
        elements: &[Element],
        later: &[Element],
        must: Option<usize>,
        steps: &mut Steps,
    ) -> Result<Table, OriginsError> {
        let last = last_touched(&table, elements, later);
        let fit = |bit: usize| {
            if must == Some(bit) {
                [0.0, self.bits[bit].fit[1]]
            } else {
                self.bits[bit].fit
            }
        };
        for (i, element) in elements.iter().enumerate() {
            self.explain_by(element, &mut table, steps)?;
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

    /// Takes what one element explains into the table.
    fn explain_by(
        &self,
        element: &Element,
        table: &mut Table,
        steps: &mut Steps,
    ) -> Result<(), OriginsError> {
        match element {
            Element::Private { bit, fires } => {
                let place = table.place(*bit);
                steps.count(table.entries.len(), || self.named(table))?;
                Table::explain(&mut table.entries, place, *fires);
            }
            Element::Shared { origin, links } => {
                let places: Vec<(usize, f64)> =
                    links.iter().map(|&(b, s)| (table.place(b), s)).collect();
                if table.bits.len() > MOST_OPEN {
                    let findings = self.named(table);
                    return Err(OriginsError::TooLarge { findings });
                }
                let touched = table.entries.len() * (links.len() + 1);
                steps.count(touched, || self.named(table))?;
                let p = self.present[*origin];
                let mut with: Vec<f64> = table.entries.iter().map(|e| p * e).collect();
                for (place, s) in places {
                    Table::explain(&mut with, place, s);
                }
                for (e, w) in table.entries.iter_mut().zip(with) {
                    *e = (1.0 - p) * *e + w;
                }
            }
        }
        Ok(())
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
    pub(super) fn halve(
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

/// When each bit is touched for the last time: after which of `elements`, or never here.
fn last_touched(table: &Table, elements: &[Element], later: &[Element]) -> BTreeMap<usize, usize> {
    let mut last: BTreeMap<usize, usize> = table.bits.iter().map(|&b| (b, 0)).collect();
    for (i, element) in elements.iter().enumerate() {
        last.extend(element.bits().map(|b| (b, i)));
    }
    last.extend(
        later
            .iter()
            .flat_map(Element::bits)
            .map(|b| (b, usize::MAX)),
    );
    last
}
