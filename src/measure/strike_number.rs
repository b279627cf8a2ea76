//! The numbers of a strike, each with its unit and what is possible.

/// A number that may be reported, and how it may be off.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Number {
    /// Where the ball starts.
    Start,
    /// How far the spin axis leans.
    Tilt,
    /// Where the face looks.
    Face,
    /// Where the club moves.
    Path,
    /// The face to the path.
    Delta,
    /// Down or up.
    Attack,
    /// The loft delivered.
    Loft,
    /// The face's share of the start.
    FaceShare,
    /// The arc's lowest point past the ball.
    LowPoint,
    /// The plane's slope to the ground.
    Plane,
    /// How far the ball lies above the feet, or the toe sits up.
    Slope,
    /// How far the ball starts off the line.
    StartYards,
    /// How far it bends.
    CurveYards,
    /// How far it flies.
    Carry,
}

impl Number {
    /// Every number.
    pub const ALL: &'static [Self] = &[
        Self::Start,
        Self::Tilt,
        Self::Face,
        Self::Path,
        Self::Delta,
        Self::Attack,
        Self::Loft,
        Self::FaceShare,
        Self::LowPoint,
        Self::Plane,
        Self::Slope,
        Self::StartYards,
        Self::CurveYards,
        Self::Carry,
    ];

    /// One word, small letters and hyphens.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Start => "start",
            Self::Tilt => "tilt",
            Self::Face => "face",
            Self::Path => "path",
            Self::Delta => "delta",
            Self::Attack => "attack",
            Self::Loft => "loft",
            Self::FaceShare => "face-share",
            Self::LowPoint => "low-point",
            Self::Plane => "plane",
            Self::Slope => "slope",
            Self::StartYards => "start-yards",
            Self::CurveYards => "curve-yards",
            Self::Carry => "carry",
        }
    }

    /// The number of that name, if there is one.
    #[must_use]
    pub fn parse(name: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|n| n.as_str() == name)
    }

    /// What a library may call the quantity; a club may follow, as in `attack-angle-driver`.
    #[must_use]
    pub fn quantity(self) -> Option<&'static str> {
        match self {
            Self::Start => Some("start-direction"),
            Self::Tilt => Some("spin-axis-tilt"),
            Self::Face => Some("face-to-target"),
            Self::Path => Some("club-path"),
            Self::Delta => Some("face-to-path"),
            Self::Attack => Some("attack-angle"),
            Self::Loft => Some("delivered-loft"),
            Self::LowPoint => Some("low-point-past-ball"),
            _ => None,
        }
    }

    /// The unit.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Self::FaceShare => "share",
            Self::LowPoint => "cm",
            Self::StartYards | Self::CurveYards | Self::Carry => "yards",
            _ => "degrees",
        }
    }

    /// The least and the most that a strike can have, wide enough for a beginner: what lies outside is
    /// a slip of the pen. The share's are those measured (see [`super::collision::FACE_SHARE`]).
    #[must_use]
    pub fn possible(self) -> [f64; 2] {
        match self {
            Self::Start | Self::Face | Self::Path | Self::Delta => [-45.0, 45.0],
            Self::Tilt => [-80.0, 80.0],
            Self::Attack => [-30.0, 30.0],
            Self::Loft => [-5.0, 75.0],
            Self::FaceShare => super::collision::FACE_SHARE,
            Self::LowPoint => [-60.0, 60.0],
            Self::Plane => [20.0, 85.0],
            Self::Slope => [-30.0, 30.0],
            Self::StartYards | Self::CurveYards => [-150.0, 150.0],
            Self::Carry => [5.0, 450.0],
        }
    }

    /// How far a reading may be off before it speaks against another, where no error is stated: a
    /// start and a bend judged by eye, the rest as an indoor device reads them. Our choice.
    #[must_use]
    pub fn allowance(self) -> f64 {
        match self {
            Self::Tilt => 4.0,
            Self::Path | Self::Attack => 1.5,
            _ => 1.0,
        }
    }
}

/// Reads a number as a coach types it.
///
/// # Errors
///
/// What to write instead: for a decimal comma, for what is no number, and for one that is not finite.
pub fn read_number(text: &str) -> Result<f64, String> {
    let text = text.trim();
    if text.contains(',') && text.replace(',', ".").parse::<f64>().is_ok() {
        return Err(format!(
            "write a point before the decimals: {}",
            text.replace(',', ".")
        ));
    }
    match text.parse::<f64>() {
        Ok(number) if number.is_finite() => Ok(number),
        _ => Err("write a number in digits, such as -2.5".to_owned()),
    }
}

/// Whether a number is possible.
///
/// # Errors
///
/// What the number may be.
pub fn possible(number: Number, value: f64) -> Result<(), String> {
    let [low, high] = number.possible();
    if (low..=high).contains(&value) {
        return Ok(());
    }
    Err(format!(
        "{} lies between {low} and {high} {}, and {value} does not",
        number.as_str(),
        number.unit()
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn commas_words_and_endless_numbers_are_refused() {
        assert_eq!(read_number(" -2.5 "), Ok(-2.5));
        assert!(read_number("2,5").unwrap_err().ends_with(": 2.5"));
        for text in ["", "NaN", "inf", "two", "1e999", "3 degrees"] {
            assert!(read_number(text).is_err(), "{text}");
        }
        assert!(possible(Number::Path, 400.0).is_err());
        assert!(possible(Number::Path, f64::NAN).is_err());
        assert!(
            Number::ALL
                .iter()
                .all(|n| Number::parse(n.as_str()) == Some(*n))
        );
    }
}
