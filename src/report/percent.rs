//! Chances in words a person reads.

/// A chance as whole percent, never rounded to a false certainty: `<1 %` and `>99 %` at the ends.
#[must_use]
pub fn percent(chance: f64) -> String {
    let rounded = (chance * 100.0).round();
    if chance > 0.0 && rounded < 1.0 {
        "<1 %".to_owned()
    } else if chance < 1.0 && rounded > 99.0 {
        ">99 %".to_owned()
    } else {
        format!("{rounded:.0} %")
    }
}

/// A share as people say it: `about 4 in 10`.
#[must_use]
pub fn in_ten(share: f64) -> String {
    let tenths = (share * 10.0).round();
    if tenths < 1.0 {
        "fewer than 1 in 10".to_owned()
    } else {
        format!("about {tenths:.0} in 10")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_rounded_to_certainty() {
        assert_eq!(percent(0.0), "0 %");
        assert_eq!(percent(0.0001), "<1 %");
        assert_eq!(percent(0.414), "41 %");
        assert_eq!(percent(0.9999), ">99 %");
        assert_eq!(percent(1.0), "100 %");
        assert_eq!(in_ten(0.37), "about 4 in 10");
    }
}
