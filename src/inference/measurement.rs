//! From a measured number to a likelihood ratio.

use statrs::distribution::{Beta, ContinuousCDF};

/// On which side of the sound range a condition lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// The true value is above the range.
    Above,
    /// The true value is below the range.
    Below,
    /// The true value is outside, on either side.
    Either,
}

/// A reading of a quantity that should lie within `[low, high]`; all in one unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measurement {
    /// What was read.
    pub value: f64,
    /// Standard deviation of the reading's error, above 0.
    pub error: f64,
    /// Least sound value; minus infinity where there is none.
    pub low: f64,
    /// Greatest sound value; infinity where there is none.
    pub high: f64,
    /// Which side the condition is about.
    pub side: Side,
}

/// What is wrong with a measurement.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum MeasurementError {
    /// A value that is not a finite number.
    #[error("a measured value must be a finite number, not {0}")]
    Value(f64),
    /// An error that is not a finite number above 0.
    #[error("a measurement error must be a finite number above 0, not {0}")]
    Error(f64),
    /// A range whose low end is above its high end, is not a number, or has no end on the side that is asked about.
    #[error("{low} to {high} is no sound range with that side")]
    Range {
        /// The low end.
        low: f64,
        /// The high end.
        high: f64,
    },
    /// A prior belief outside `(0, 1)`.
    #[error("a prior belief must lie strictly between 0 and 1, not {0}")]
    Prior(f64),
}

/// Ratios are kept within `[1 / MOST_RATIO, MOST_RATIO]`: no single reading is worth more than a thousand to one, since the error
/// model says nothing of a slipped marker or a misread number.
pub const MOST_RATIO: f64 = 1000.0;

/// The chance that the true value lies outside on the given side, `P(T > high)`, `P(T < low)` or their sum, where `T`
/// is normal about the reading: `P(T > h) = erfc((h - m) / (sd * sqrt 2)) / 2` (the normal distribution function by the
/// complementary error function; NIST Digital Library of Mathematical Functions 7.2, from memory).
///
/// This is the belief that a flat prior over the true value leaves after the reading. It knows nothing of bias: an
/// angle off a two-dimensional video carries several degrees of error that depend on where the camera stood, and that
/// belongs into `error`.
///
/// # Errors
/// [`MeasurementError`], but for `Prior`.
pub fn chance_outside(m: &Measurement) -> Result<f64, MeasurementError> {
    if !m.value.is_finite() {
        return Err(MeasurementError::Value(m.value));
    }
    if !(m.error > 0.0 && m.error.is_finite()) {
        return Err(MeasurementError::Error(m.error));
    }
    let open = match m.side {
        Side::Above => !m.high.is_finite(),
        Side::Below => !m.low.is_finite(),
        Side::Either => !m.low.is_finite() && !m.high.is_finite(),
    };
    if m.low > m.high || m.low.is_nan() || m.high.is_nan() || open {
        return Err(MeasurementError::Range {
            low: m.low,
            high: m.high,
        });
    }
    let tail = |beyond: f64| libm::erfc(beyond / (m.error * std::f64::consts::SQRT_2)) / 2.0;
    let (above, below) = (tail(m.high - m.value), tail(m.value - m.low));
    Ok(match m.side {
        Side::Above => above,
        Side::Below => below,
        Side::Either => (above + below).min(1.0),
    })
}

/// The likelihood ratio `P(reading | outside) / P(reading | not outside)` of the condition "outside on that side".
///
/// With `q` the chance of [`chance_outside`] and `prior` the chance of being outside that a flat prior gives it before
/// any reading, Bayes' rule in odds form makes the ratio `q / (1 - q)` over `prior / (1 - prior)`, held within
/// `[1 / MOST_RATIO, MOST_RATIO]`. Multiplied onto the same prior it returns `q`.
///
/// # Errors
/// [`MeasurementError`].
pub fn likelihood_ratio(m: &Measurement, prior: f64) -> Result<f64, MeasurementError> {
    if !(prior > 0.0 && prior < 1.0) {
        return Err(MeasurementError::Prior(prior));
    }
    let q = chance_outside(m)?;
    let ratio = if q >= 1.0 {
        MOST_RATIO
    } else {
        q / (1.0 - q) * (1.0 - prior) / prior
    };
    Ok(ratio.clamp(1.0 / MOST_RATIO, MOST_RATIO))
}

/// The likelihood ratio `P(count | often) / P(count | not often)` of "it shows on more than `share` of the balls", of
/// `shown` balls out of `of`, held within `[1 / MOST_RATIO, MOST_RATIO]`.
///
/// A flat prior over the true share leaves a beta distribution with `shown + 1` and `of - shown + 1` after the count
/// (the conjugate posterior of a binomial; any text on Bayesian statistics, from memory); with `q` its chance above
/// `share` the ratio follows as in [`likelihood_ratio`].
///
/// # Errors
/// [`MeasurementError`]: a prior or a share that does not lie strictly between 0 and 1, more shown than there were.
pub fn ratio_of_count(
    shown: u32,
    of: u32,
    share: f64,
    prior: f64,
) -> Result<f64, MeasurementError> {
    if !(prior > 0.0 && prior < 1.0) {
        return Err(MeasurementError::Prior(prior));
    }
    let beta = of
        .checked_sub(shown)
        .and_then(|rest| Beta::new(f64::from(shown) + 1.0, f64::from(rest) + 1.0).ok());
    let (Some(beta), true) = (beta, share > 0.0 && share < 1.0) else {
        return Err(MeasurementError::Value(f64::from(shown)));
    };
    let (below, q) = (beta.cdf(share), beta.sf(share));
    let ratio = if below > 0.0 {
        q / below * (1.0 - prior) / prior
    } else {
        MOST_RATIO
    };
    Ok(ratio.clamp(1.0 / MOST_RATIO, MOST_RATIO))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The beta's distribution function at whole numbers is a sum of binomial terms: here of three balls
    /// out of four, by hand.
    #[test]
    fn a_count_is_weighed_by_the_binomial_sum() {
        let (t, prior) = (0.25_f64, 0.2);
        let choose = [1.0, 5.0, 10.0, 10.0];
        let term = |i: i32, c: f64| c * t.powi(i) * (1.0 - t).powi(5 - i);
        let q: f64 = (0..).zip(choose).map(|(i, c)| term(i, c)).sum();
        let ratio = ratio_of_count(3, 4, t, prior).unwrap();
        assert!((ratio - q / (1.0 - q) * 4.0).abs() < 1e-9, "{ratio}");
        assert!(ratio_of_count(0, 10, t, prior).unwrap() < 1.0);
        assert!(ratio_of_count(5, 4, t, prior).is_err());
        assert!(ratio_of_count(1, 4, t, 1.0).is_err());
    }

    fn elbow(value: f64) -> Measurement {
        Measurement {
            value,
            error: 5.0,
            low: f64::NEG_INFINITY,
            high: 90.0,
            side: Side::Above,
        }
    }

    /// The normal table: 0.5 at the mean, 0.8413 one and 0.9772 two standard deviations above it.
    #[test]
    fn the_normal_table() {
        for (value, q) in [
            (90.0, 0.5),
            (95.0, 0.841_344_746),
            (100.0, 0.977_249_868),
            (85.0, 0.158_655_254),
        ] {
            assert!(
                (chance_outside(&elbow(value)).unwrap() - q).abs() < 1e-9,
                "{value}"
            );
        }
        let both = Measurement {
            value: 0.0,
            error: 1.0,
            low: -1.959_963_985,
            high: 1.959_963_985,
            side: Side::Either,
        };
        assert!((chance_outside(&both).unwrap() - 0.05).abs() < 1e-9);
    }

    /// Bayes in odds form: a prior of 0.20 and a ratio of 3 give 0.4286.
    #[test]
    fn the_ratio_returns_the_belief_to_its_prior() {
        let odds: f64 = 0.2 / 0.8 * 3.0;
        assert!((odds / (1.0 + odds) - 0.4286).abs() < 5e-5);
        for prior in [0.05, 0.2, 0.5] {
            let r = likelihood_ratio(&elbow(93.0), prior).unwrap();
            let odds = prior / (1.0 - prior) * r;
            assert!((odds / (1.0 + odds) - chance_outside(&elbow(93.0)).unwrap()).abs() < 1e-12);
        }
        assert_eq!(likelihood_ratio(&elbow(400.0), 0.2), Ok(MOST_RATIO));
        assert_eq!(likelihood_ratio(&elbow(-400.0), 0.2), Ok(1.0 / MOST_RATIO));
    }

    #[test]
    fn unsound_measurements_are_refused() {
        assert!(matches!(
            chance_outside(&elbow(f64::NAN)),
            Err(MeasurementError::Value(_))
        ));
        assert!(matches!(
            chance_outside(&Measurement {
                error: 0.0,
                ..elbow(1.0)
            }),
            Err(MeasurementError::Error(_))
        ));
        let below = Measurement {
            side: Side::Below,
            ..elbow(1.0)
        };
        assert!(matches!(
            chance_outside(&below),
            Err(MeasurementError::Range { .. })
        ));
        assert!(matches!(
            likelihood_ratio(&elbow(1.0), 1.0),
            Err(MeasurementError::Prior(_))
        ));
    }
}
