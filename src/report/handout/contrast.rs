//! Whether text can be read against its ground.

/// A colour of the sheet: red, green and blue from 0 to 255.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Color(pub u8, pub u8, pub u8);

impl Color {
    /// The colour as a style sheet writes it, such as `#1a1a1a`.
    #[must_use]
    pub fn css(self) -> String {
        format!("#{:02x}{:02x}{:02x}", self.0, self.1, self.2)
    }

    /// Relative luminance, from 0 (black) to 1 (white).
    fn luminance(self) -> f64 {
        let channel = |value: u8| {
            let share = f64::from(value) / 255.0;
            if share <= 0.040_45 {
                share / 12.92
            } else {
                ((share + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * channel(self.0) + 0.7152 * channel(self.1) + 0.0722 * channel(self.2)
    }
}

/// The contrast between two colours, from 1 (the same) to 21 (black on white).
///
/// W3C, Web Content Accessibility Guidelines 2.2, definitions of contrast ratio and relative
/// luminance (read). Text needs 4.5, large text 3 (success criterion 1.4.3); 7 is the enhanced
/// level (1.4.6), which is what a sheet read in the sun should have.
///
/// ```
/// use fairwhy::report::{Color, contrast};
/// assert!((contrast(Color(0, 0, 0), Color(255, 255, 255)) - 21.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn contrast(a: Color, b: Color) -> f64 {
    let (a, b) = (a.luminance(), b.luminance());
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

/// Text on the sheet.
pub(crate) const INK: Color = Color(0, 0, 0);
/// Small print: still at the enhanced level.
pub(crate) const SMALL_PRINT: Color = Color(64, 64, 64);
/// The paper.
pub(crate) const PAPER: Color = Color(255, 255, 255);
/// The ground of a warning and of a box that is worked on.
pub(crate) const SHADE: Color = Color(240, 240, 240);

#[cfg(test)]
mod tests {
    use super::*;

    /// Known values of the formula on white, to two decimals.
    #[test]
    fn greys_on_white_have_the_published_contrast() {
        let grey = |value: u8| contrast(Color(value, value, value), Color(255, 255, 255));
        for (value, expected) in [(0x76, 4.54), (0x77, 4.48), (0x94, 3.03)] {
            assert!((grey(value) - expected).abs() < 0.005, "{}", grey(value));
        }
        assert!((grey(0x95) - 2.995).abs() < 0.0015, "{}", grey(0x95));
        assert!(grey(0x76) >= 4.5 && grey(0x77) < 4.5);
        assert!(grey(0x94) >= 3.0 && grey(0x95) < 3.0);
    }

    #[test]
    fn every_pair_on_the_sheet_can_be_read_in_the_sun() {
        for text in [INK, SMALL_PRINT] {
            for ground in [PAPER, SHADE] {
                assert!(contrast(text, ground) >= 7.0);
            }
        }
    }
}
