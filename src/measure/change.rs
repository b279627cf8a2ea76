//! Before and after: whether a difference is more than chance and error leave.

use super::wilson;
use statrs::distribution::{ContinuousCDF, Discrete, Hypergeometric, StudentsT};

/// What a difference is worth.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// More than chance and error leave, once in twenty aside.
    Real,
    /// Chance or error may be all there is to it.
    WithinError,
    /// So few that hardly any difference could have shown.
    TooFew,
}

impl Verdict {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Real => "a real change",
            Self::WithinError => "within the error",
            Self::TooFew => "too few to tell",
        }
    }
}

/// So many of so many balls.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BallCount {
    /// How many showed it.
    pub shown: u32,
    /// Of how many; at least `shown`, above 0.
    pub of: u32,
}

/// More balls than this are not one session.
pub const MOST_BALLS: u32 = 5000;

impl BallCount {
    /// Reads `7/10`.
    ///
    /// # Errors
    ///
    /// What to write instead.
    pub fn parse(text: &str) -> Result<Self, String> {
        let help = || format!("write balls out of balls, such as 7/10, of 1 to {MOST_BALLS}");
        let (shown, of) = text.split_once('/').ok_or_else(help)?;
        let whole = |part: &str| part.trim().parse::<u32>().map_err(|_| help());
        let count = Self {
            shown: whole(shown)?,
            of: whole(of)?,
        };
        if count.of == 0 || count.of > MOST_BALLS || count.shown > count.of {
            return Err(help());
        }
        Ok(count)
    }

    /// The share, from 0 to 1.
    #[must_use]
    pub fn share(self) -> f64 {
        f64::from(self.shown) / f64::from(self.of)
    }
}

/// The chance of a table at least as unlikely as this one when nothing has changed: Fisher's exact test
/// of two by two, two-sided by the sum of all tables that are no likelier (Fisher R. (1935), The logic of
/// inductive inference, Journal of the Royal Statistical Society 98:39-82, from memory). It keeps below
/// its level whatever the true rate, and is the cautious one among exact tests.
#[must_use]
pub fn fisher(before: BallCount, after: BallCount) -> f64 {
    let (n, other) = (u64::from(before.of), u64::from(after.of));
    let shown = u64::from(before.shown) + u64::from(after.shown);
    let Ok(tables) = Hypergeometric::new(n + other, shown, n) else {
        return 1.0;
    };
    let seen = tables.pmf(u64::from(before.shown));
    // Two tables of one chance differ by rounding.
    let most = seen * (1.0 + 1e-7);
    let (low, high) = (shown.saturating_sub(other), shown.min(n));
    let sum: f64 = (low..=high)
        .map(|k| tables.pmf(k))
        .filter(|p| *p <= most)
        .sum();
    sum.min(1.0)
}

/// 95 % interval for the difference of two shares, after less before: the score intervals of each put
/// together (Newcombe R. (1998), Interval estimation for the difference between independent proportions,
/// Statistics in Medicine 17:873-890, method 10, from memory).
#[must_use]
pub fn share_difference(before: BallCount, after: BallCount) -> (f64, f64) {
    let (p, q) = (before.share(), after.share());
    let ((l, u), (m, v)) = (
        wilson(before.shown, before.of),
        wilson(after.shown, after.of),
    );
    let difference = q - p;
    (
        difference - (q - m).hypot(u - p),
        difference + (v - q).hypot(p - l),
    )
}

/// A difference, with what it could have shown.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Change {
    /// After less before.
    pub difference: f64,
    /// 95 % interval of it.
    pub low: f64,
    /// See `low`.
    pub high: f64,
    /// The least difference that would have shown; none where none would.
    pub smallest: Option<f64>,
    /// What it is worth.
    pub verdict: Verdict,
}

/// Chance below which a change counts as real.
const LEVEL: f64 = 0.05;

/// Two counts: the change of the share, by [`fisher`]. Too few: no count of the second, up or down,
/// would have been a real change by half of the balls or less.
#[must_use]
pub fn count_change(before: BallCount, after: BallCount) -> Change {
    let (low, high) = share_difference(before, after);
    let real = |shown: u32| fisher(before, BallCount { shown, ..after }) < LEVEL;
    let moves = |shown: u32| (BallCount { shown, ..after }.share() - before.share()).abs();
    let smallest = (0..=after.of)
        .filter(|shown| moves(*shown) > 0.0 && real(*shown))
        .map(moves)
        .min_by(f64::total_cmp);
    let verdict = if after.share() != before.share() && real(after.shown) {
        Verdict::Real
    } else if smallest.is_none_or(|least| least > 0.5) {
        Verdict::TooFew
    } else {
        Verdict::WithinError
    };
    Change {
        difference: after.share() - before.share(),
        low,
        high,
        smallest,
        verdict,
    }
}

/// How many balls a side would show the same two shares as a real change, in tens up to a thousand.
#[must_use]
pub fn balls_needed(before: BallCount, after: BallCount) -> Option<u32> {
    let of = |share: f64, balls: u32| BallCount {
        shown: (share * f64::from(balls)).round() as u32,
        of: balls,
    };
    (1..=100)
        .map(|tens| tens * 10)
        .find(|balls| fisher(of(before.share(), *balls), of(after.share(), *balls)) < LEVEL)
}

/// What some numbers come to.
#[derive(Clone, Debug, PartialEq)]
pub struct Summary {
    /// How many.
    pub n: usize,
    /// Their mean.
    pub mean: f64,
    /// Standard deviation, with n - 1; 0 for one.
    pub sd: f64,
    /// 95 % interval of the mean by Student's t; none for one.
    pub interval: Option<(f64, f64)>,
    /// Places of those far from the others; they are in the mean.
    pub far: Vec<usize>,
}

/// Student's t at 97.5 %, for a number of degrees of freedom above 0.
fn t(freedom: f64) -> Option<f64> {
    let t = StudentsT::new(0.0, 1.0, freedom).ok()?;
    Some(t.inverse_cdf(0.975))
}

/// Mean, spread, interval (Student (1908), Biometrika 6:1-25, from memory), and what lies more than one
/// and a half times the middle half's width outside it (Tukey J. (1977), Exploratory Data Analysis, from
/// memory; quartiles by straight lines between the ordered values). None for no numbers.
#[must_use]
pub fn summary(values: &[f64]) -> Option<Summary> {
    let n = values.len();
    if n == 0 {
        return None;
    }
    let count = n as f64;
    let mean = values.iter().sum::<f64>() / count;
    let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    let sd = if n > 1 {
        (squares / (count - 1.0)).sqrt()
    } else {
        0.0
    };
    let reach = t(count - 1.0).map(|t| t * sd / count.sqrt());
    Some(Summary {
        n,
        mean,
        sd,
        interval: reach
            .filter(|_| n > 1)
            .map(|reach| (mean - reach, mean + reach)),
        far: far(values),
    })
}

/// Fences mean little for fewer.
const LEAST_FOR_FENCES: usize = 5;

fn far(values: &[f64]) -> Vec<usize> {
    if values.len() < LEAST_FOR_FENCES {
        return Vec::new();
    }
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let quartile = |share: f64| {
        let at = share * (sorted.len() - 1) as f64;
        let below = at.floor() as usize;
        let above = (below + 1).min(sorted.len() - 1);
        sorted[below] + (at - at.floor()) * (sorted[above] - sorted[below])
    };
    let (first, third) = (quartile(0.25), quartile(0.75));
    let fence = 1.5 * (third - first);
    let outside = |value: f64| value < first - fence || value > third + fence;
    (0..values.len())
        .filter(|place| outside(values[*place]))
        .collect()
}

/// Two sets of numbers: the change of the mean with unequal spreads (Welch B. (1947), Biometrika 34:28-35,
/// from memory). Too few: a set of fewer than three.
#[must_use]
pub fn mean_change(before: &Summary, after: &Summary) -> Change {
    let difference = after.mean - before.mean;
    let part = |set: &Summary| set.sd * set.sd / set.n as f64;
    let (a, b) = (part(before), part(after));
    if before.n < 3 || after.n < 3 {
        return Change {
            difference,
            low: f64::NEG_INFINITY,
            high: f64::INFINITY,
            smallest: None,
            verdict: Verdict::TooFew,
        };
    }
    let freedom = |set: &Summary, part: f64| part * part / (set.n as f64 - 1.0);
    let down = freedom(before, a) + freedom(after, b);
    let reach = if down > 0.0 {
        t((a + b).powi(2) / down).unwrap_or(f64::INFINITY) * (a + b).sqrt()
    } else {
        0.0
    };
    within(difference, reach)
}

/// Two single readings of known errors: the least difference that shows is `1.96 sqrt(sd2 + sd2)`, the
/// smallest detectable change (Weir J. (2005), Journal of Strength and Conditioning Research 19:231-240,
/// from memory).
#[must_use]
pub fn reading_change(before: (f64, f64), after: (f64, f64)) -> Change {
    within(
        after.0 - before.0,
        1.959_963_984_540_054 * before.1.hypot(after.1),
    )
}

fn within(difference: f64, reach: f64) -> Change {
    Change {
        difference,
        low: difference - reach,
        high: difference + reach,
        smallest: Some(reach),
        verdict: if difference.abs() > reach {
            Verdict::Real
        } else {
            Verdict::WithinError
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn count(text: &str) -> BallCount {
        BallCount::parse(text).expect("a count")
    }

    /// Four of ten to seven of ten proves little (row S111 says so by the intervals).
    #[test]
    fn ten_balls_prove_little() {
        let change = count_change(count("7/10"), count("4/10"));
        assert_eq!(change.verdict, Verdict::TooFew);
        assert_eq!(
            count_change(count("21/30"), count("18/30")).verdict,
            Verdict::WithinError
        );
        assert_eq!(balls_needed(count("7/10"), count("4/10")), Some(30));
        assert_eq!(
            count_change(count("9/10"), count("2/10")).verdict,
            Verdict::Real
        );
        assert_eq!(
            count_change(count("2/3"), count("0/3")).verdict,
            Verdict::TooFew
        );
        assert_eq!(count_change(count("5/5"), count("5/5")).difference, 0.0);
        for slip in ["7", "7/0", "11/10", "-1/10", "7/10/2", "a/b", "1/1000000"] {
            assert!(BallCount::parse(slip).is_err(), "{slip}");
        }
    }

    /// What is exchanged changes sign, and the chance stays.
    #[test]
    fn before_and_after_are_two_sides_of_one_thing() {
        for (a, b) in [("7/10", "3/10"), ("12/20", "5/30"), ("0/8", "8/8")] {
            let (a, b) = (count(a), count(b));
            assert!((fisher(a, b) - fisher(b, a)).abs() < 1e-12);
            let ((low, high), (other_low, other_high)) =
                (share_difference(a, b), share_difference(b, a));
            assert!((low + other_high).abs() < 1e-12 && (high + other_low).abs() < 1e-12);
        }
    }

    #[test]
    fn what_is_far_is_shown_and_kept() {
        let values = [1.0, 2.0, 3.0, 2.0, 1.0, 30.0];
        let all = summary(&values).expect("numbers");
        assert_eq!((all.n, all.far), (6, vec![5]));
        assert!((all.mean - 6.5).abs() < 1e-12);
        assert_eq!(summary(&[4.0]).expect("one").interval, None);
        assert_eq!(summary(&[]), None);
    }

    /// More error of either reading never makes a change real.
    #[test]
    fn more_error_shows_less() {
        let mut last = 0.0;
        for sd in [1.0, 2.0, 4.0] {
            let least = reading_change((10.0, 1.0), (15.0, sd))
                .smallest
                .expect("some");
            assert!(least > last);
            last = least;
        }
        assert_eq!(
            reading_change((10.0, 1.0), (15.0, 1.0)).verdict,
            Verdict::Real
        );
        assert_eq!(
            reading_change((10.0, 1.0), (15.0, 4.0)).verdict,
            Verdict::WithinError
        );
    }
}
