//! A chance between nothing and certainty.

use super::graded::Graded;
use super::words::number_of;
use serde::Serialize;

/// The chance of something, from 0 (never) to 1 (always); never NaN.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize)]
#[serde(transparent)]
pub struct Probability(f64);

/// A number that is not in `[0, 1]`, NaN included.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("{0} is not a chance: write a number from 0 to 1")]
pub struct NotAProbability(pub f64);

impl Probability {
    /// Accepts a number in `[0, 1]`.
    ///
    /// # Errors
    ///
    /// Everything else, NaN included, is [`NotAProbability`].
    ///
    /// ```
    /// use fairwhy::knowledge::Probability;
    /// assert_eq!(Probability::new(0.85)?.get(), 0.85);
    /// assert!(Probability::new(f64::NAN).is_err());
    /// # Ok::<(), fairwhy::knowledge::NotAProbability>(())
    /// ```
    pub fn new(value: f64) -> Result<Self, NotAProbability> {
        if (0.0..=1.0).contains(&value) {
            Ok(Self(value))
        } else {
            Err(NotAProbability(value))
        }
    }

    /// The number itself.
    #[must_use]
    pub fn get(self) -> f64 {
        self.0
    }
}

impl Graded {
    /// The chance that is meant: the number itself, or what the word stands for on `scale`.
    ///
    /// `None` when the word is not on the scale or the number is not strictly between 0 and 1.
    #[must_use]
    pub fn on(&self, scale: &[(&str, f64)]) -> Option<Probability> {
        let number = match self {
            Graded::Number(number) => *number,
            Graded::Word(word) => number_of(scale, word)?,
        };
        (number > 0.0 && number < 1.0)
            .then(|| Probability::new(number).ok())
            .flatten()
    }
}
