//! How little ten balls prove.

/// The two-sided 95 % point of the standard normal distribution.
const Z95: f64 = 1.959_963_984_540_054;

/// The 95 % interval for the true rate behind `hits` of `tries`, as two shares from 0 to 1.
///
/// The score interval of Wilson E. B. (1927), Probable inference, the law of succession, and
/// statistical inference, Journal of the American Statistical Association 22:209-212; the formula is
/// from memory of the paper:
///
/// ```text
/// (p + z²/2n ± z √(p(1 - p)/n + z²/4n²)) / (1 + z²/n)        p = hits / tries, n = tries
/// ```
///
/// Without a try nothing is known: the interval is 0 to 1. More hits than tries count as all.
///
/// ```
/// let (low, high) = fairwhy::measure::wilson(8, 10);
/// assert_eq!(((low * 100.0).round(), (high * 100.0).round()), (49.0, 94.0));
/// ```
#[must_use]
pub fn wilson(hits: u32, tries: u32) -> (f64, f64) {
    if tries == 0 {
        return (0.0, 1.0);
    }
    let n = f64::from(tries);
    let p = f64::from(hits.min(tries)) / n;
    let z2 = Z95 * Z95;
    let middle = p + z2 / (2.0 * n);
    let reach = Z95 * (p * (1.0 - p) / n + z2 / (4.0 * n * n)).sqrt();
    let scale = 1.0 + z2 / n;
    (
        ((middle - reach) / scale).max(0.0),
        ((middle + reach) / scale).min(1.0),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against scipy 1.17.1, `binomtest(hits, tries).proportion_ci(method="wilson")`, to 1e-8: its
    /// normal quantile and ours differ in the last digits.
    #[test]
    fn ten_twenty_and_thirty_balls() {
        let cases = [
            (4, 10, 0.168_180_329_7, 0.687_326_230_3),
            (7, 10, 0.396_778_147_5, 0.892_208_732_6),
            (8, 10, 0.490_162_471_5, 0.943_317_848_5),
            (8, 20, 0.218_806_532_4, 0.613_418_499_2),
            (14, 20, 0.481_027_181_6, 0.854_522_755_1),
            (12, 30, 0.245_906_281_2, 0.576_796_397_5),
            (21, 30, 0.521_242_125_4, 0.833_352_517_3),
        ];
        for (hits, tries, low, high) in cases {
            let (l, h) = wilson(hits, tries);
            assert!(
                (l - low).abs() < 1e-8 && (h - high).abs() < 1e-8,
                "{hits}/{tries}"
            );
        }
    }

    /// At 0 of n the lower end is 0 and the upper end is z²/(n + z²), by algebra; and the interval
    /// for misses mirrors the one for hits.
    #[test]
    fn the_ends_follow_from_the_algebra() {
        let (low, high) = wilson(0, 10);
        assert!(low.abs() < 1e-12);
        assert!((high - Z95 * Z95 / (10.0 + Z95 * Z95)).abs() < 1e-12);
        for hits in 0..=20 {
            let (low, high) = wilson(hits, 20);
            let (other_low, other_high) = wilson(20 - hits, 20);
            assert!((low - (1.0 - other_high)).abs() < 1e-12);
            assert!((high - (1.0 - other_low)).abs() < 1e-12);
        }
        assert_eq!(wilson(0, 0), (0.0, 1.0));
        assert_eq!(wilson(12, 10), wilson(10, 10));
    }
}
