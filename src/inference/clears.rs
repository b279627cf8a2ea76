//! What of the findings would go with an origin, or with several at once.

use super::explained_table::{Steps, Table};
use super::given::{Bit, Element, Given};
use super::noise::noisy_or;
use super::origins::{FindingAnswer, Origin, OriginAnswer, OriginsAnswer, OriginsError};

impl Given<'_> {
    /// What each of a few origins clears, in the order asked: the same figures as [`Given::answer`] has, for the price
    /// of one pass over all other origins.
    ///
    /// # Errors
    /// As [`Given::answer`]; [`OriginsError::UnknownOrigin`].
    pub fn clears_of(&self, origins: &[Origin]) -> Result<Vec<f64>, OriginsError> {
        self.check_known(origins)?;
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
        let wanted = |element: &Element| match element {
            Element::Shared { origin, .. } => asked(*origin),
            // What is present only perhaps has to be known for the sum over all findings.
            Element::Private { bit, .. } => {
                let bit = &self.bits[*bit];
                bit.private.iter().any(|p| p.0.is_some_and(asked))
                    || (bit.fit[0] > 0.0 && bit.weight > 0.0)
            }
        };
        let mut steps = Steps(0);
        for piece in &self.pieces {
            let (chosen, rest): (Vec<_>, Vec<_>) = piece.iter().cloned().partition(wanted);
            if !chosen.is_empty() {
                let table = self.take_in(Table::empty(), &rest, &chosen, &mut steps)?;
                if table.entries.iter().all(|entry| *entry == 0.0) {
                    return Err(OriginsError::Impossible);
                }
                self.halve(table, &chosen, &mut answer, &mut steps)?;
            }
        }
        let all = self.all(&answer);
        let of = |origin: &Origin| share(answer.origins[origin.0].clears, all);
        Ok(origins.iter().map(of).collect())
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
        self.check_known(set)?;
        let all = self.all(answer);
        let chosen = |o: usize| set.contains(&Origin(o));
        let mut steps = Steps(0);
        let mut cleared = 0.0;
        for piece in &self.pieces {
            let (rest, removed) = self.parted(piece, chosen);
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
                let explained = alone.entries.iter_mut().enumerate();
                explained
                    .filter(|(i, _)| i >> place & 1 == 1)
                    .for_each(|(_, e)| *e = 0.0);
                let must = Some(bit);
                let alone = self.take_in_with(alone, &removed, &[], must, &mut steps)?;
                let ratio = alone.entries[0] / whole.entries[0] * libm::exp(alone.ln - whole.ln);
                cleared += self.bits[bit].weight * ratio;
            }
        }
        Ok(share(cleared, all))
    }

    fn check_known(&self, origins: &[Origin]) -> Result<(), OriginsError> {
        match origins.iter().find(|o| o.0 >= self.model.len()) {
            Some(&origin) => Err(OriginsError::UnknownOrigin { origin }),
            None => Ok(()),
        }
    }

    /// A piece in two: what is left when the chosen origins are gone, and what they explain.
    fn parted(
        &self,
        piece: &[Element],
        chosen: impl Fn(usize) -> bool + Copy,
    ) -> (Vec<Element>, Vec<Element>) {
        let (mut rest, mut removed) = (Vec::new(), Vec::new());
        for element in piece {
            match element {
                Element::Private { bit, .. } => {
                    let private = |own: bool| {
                        let sources = self.bits[*bit].private.iter();
                        let sources = sources.filter(|p| p.0.is_some_and(chosen) == own);
                        noisy_or(0.0, sources.map(|p| p.1))
                    };
                    let [without, with] = [private(false), private(true)];
                    let of = |fires| Element::Private { bit: *bit, fires };
                    rest.push(of(without));
                    if with > 0.0 {
                        removed.push(of(with));
                    }
                }
                Element::Shared { origin, .. } if chosen(*origin) => removed.push(element.clone()),
                Element::Shared { .. } => rest.push(element.clone()),
            }
        }
        (rest, removed)
    }

    /// `SUM w_f * P(f present | E)`; what was seen is present, whether `answer` has its figures or not.
    pub(super) fn all(&self, answer: &OriginsAnswer) -> f64 {
        let present = |bit: &Bit| {
            let found = |a: &&FindingAnswer| a.finding.0 == bit.finding;
            let figures = answer.findings.iter().find(found);
            figures.map_or(f64::from(u8::from(bit.fit[0] == 0.0)), |a| a.present)
        };
        self.bits.iter().map(|b| b.weight * present(b)).sum()
    }
}

/// A part of all, from 0 to 1; 0 of nothing.
fn share(part: f64, all: f64) -> f64 {
    if all > 0.0 {
        (part / all).clamp(0.0, 1.0)
    } else {
        0.0
    }
}
