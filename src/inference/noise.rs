//! Chances put together, and chances moved a little.

use rand::Rng;

/// `1 - (1 - leak) * PROD(1 - s)` without subtracting from one, so that small chances keep their digits.
pub fn noisy_or(leak: f64, strengths: impl IntoIterator<Item = f64>) -> f64 {
    strengths
        .into_iter()
        .fold(leak, |fired, s| fired + (1.0 - fired) * s)
}

/// A chance in `(0, 1)` moved by normal noise of standard deviation `sd` on its log-odds.
pub fn shake<R: Rng>(p: f64, sd: f64, rng: &mut R) -> f64 {
    let odds = libm::log(p / (1.0 - p)) + sd * normal(rng);
    (1.0 / (1.0 + libm::exp(-odds))).clamp(1e-9, 1.0 - 1e-9)
}

/// A standard normal draw (Box & Muller 1958; the second of the pair is dropped, so that a draw is two numbers).
fn normal<R: Rng>(rng: &mut R) -> f64 {
    let radius: f64 = 1.0 - rng.random::<f64>();
    let angle: f64 = rng.random::<f64>() * std::f64::consts::TAU;
    libm::sqrt(-2.0 * libm::log(radius)) * libm::cos(angle)
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_pcg::Pcg64;

    /// The fever table of Russell & Norvig, Artificial Intelligence: A Modern Approach (from memory): cold, flu and
    /// malaria fail to bring about a fever with 0.6, 0.2 and 0.1.
    #[test]
    fn the_fever_table() {
        let (cold, flu, malaria) = (0.4, 0.8, 0.9);
        for (present, fever) in [
            (vec![], 0.0),
            (vec![malaria], 0.9),
            (vec![flu], 0.8),
            (vec![flu, malaria], 0.98),
            (vec![cold], 0.4),
            (vec![cold, malaria], 0.94),
            (vec![cold, flu], 0.88),
            (vec![cold, flu, malaria], 0.988),
        ] {
            assert!((noisy_or(0.0, present) - fever).abs() < 1e-15);
        }
        assert!((noisy_or(0.05, [0.8, 0.6]) - 0.924).abs() < 1e-15);
    }

    #[test]
    fn shaken_chances_stay_inside_and_move_by_the_spread() {
        let mut rng = Pcg64::seed_from_u64(3);
        let odds = |p: f64| (p / (1.0 - p)).ln();
        let moved: Vec<f64> = (0..4000)
            .map(|_| odds(shake(0.25, 0.5, &mut rng)) - odds(0.25))
            .collect();
        let count = moved.len() as f64;
        let mean = moved.iter().sum::<f64>() / count;
        let variance = moved.iter().map(|m| (m - mean).powi(2)).sum::<f64>() / count;
        assert!(mean.abs() < 0.03, "{mean}");
        assert!((variance.sqrt() - 0.5).abs() < 0.03, "{variance}");
    }
}
