//! A number with how far it may be off.

/// A value and the ends it lies between; all in one unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    /// The best single figure.
    pub value: f64,
    /// The least it may be; at most `value`.
    pub low: f64,
    /// The most it may be; at least `value`.
    pub high: f64,
}

impl Range {
    /// A number that is taken as it stands.
    #[must_use]
    pub fn exact(value: f64) -> Self {
        Self::between(value, value, value)
    }

    /// A number, give or take `error`; a negative error counts as its size.
    #[must_use]
    pub fn give_or_take(value: f64, error: f64) -> Self {
        let error = error.abs();
        Self::between(value, value - error, value + error)
    }

    /// A value with its ends; ends on the wrong side of the value are moved to it.
    #[must_use]
    pub fn between(value: f64, low: f64, high: f64) -> Self {
        Self {
            value,
            low: low.min(value),
            high: high.max(value),
        }
    }

    /// Every part held within `[low, high]`.
    #[must_use]
    pub fn held_within(self, low: f64, high: f64) -> Self {
        Self {
            value: self.value.clamp(low, high),
            low: self.low.clamp(low, high),
            high: self.high.clamp(low, high),
        }
    }

    /// How far `value` lies outside, 0 within.
    #[must_use]
    pub fn distance(self, value: f64) -> f64 {
        (self.low - value).max(value - self.high).max(0.0)
    }

    /// The range of a function of `N` numbers that each lie in a range of their own.
    ///
    /// The ends are the least and the most over all corners of the box, which is exact for a function
    /// that rises or falls in each number while the others are held; so a wider box never gives a
    /// narrower answer (interval arithmetic; Moore R. E. (1966), Interval Analysis, from memory).
    #[must_use]
    pub fn of<const N: usize>(inputs: [Self; N], f: impl Fn([f64; N]) -> f64) -> Self {
        let value = f(inputs.map(|input| input.value));
        let (mut low, mut high) = (value, value);
        for corner in 0..1_usize << N {
            let mut point = [0.0; N];
            for (axis, input) in inputs.iter().enumerate() {
                point[axis] = if corner >> axis & 1 == 1 {
                    input.high
                } else {
                    input.low
                };
            }
            let at = f(point);
            low = low.min(at);
            high = high.max(at);
        }
        Self { value, low, high }
    }
}

impl std::ops::Add for Range {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self {
            value: self.value + other.value,
            low: self.low + other.low,
            high: self.high + other.high,
        }
    }
}

impl std::ops::Sub for Range {
    type Output = Self;

    fn sub(self, other: Self) -> Self {
        Self {
            value: self.value - other.value,
            low: self.low - other.high,
            high: self.high - other.low,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_product_takes_its_ends_from_the_corners() {
        let (a, b) = (
            Range::between(1.0, -1.0, 2.0),
            Range::between(3.0, 2.0, 4.0),
        );
        let product = Range::of([a, b], |[a, b]| a * b);
        assert_eq!(product, Range::between(3.0, -4.0, 8.0));
        assert_eq!(a + b, Range::between(4.0, 1.0, 6.0));
        assert_eq!(a - b, Range::between(-2.0, -5.0, 0.0));
        assert_eq!(product.distance(9.0), 1.0);
        assert_eq!(product.distance(0.0), 0.0);
    }
}
