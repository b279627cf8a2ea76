//! Days, as a person writes them: the one place where the clock is read.

use chrono::{Datelike, Local, NaiveDate};

/// Today where the coach is.
pub(crate) fn today() -> NaiveDate {
    Local::now().date_naive()
}

/// A day written year first, such as 2026-05-04.
pub(crate) fn day(text: &str) -> Result<NaiveDate, String> {
    text.trim()
        .parse()
        .ok()
        .filter(|date: &NaiveDate| (1900..=2200).contains(&date.year()))
        .ok_or_else(|| "write the day year first, such as 2026-05-04".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_is_written_year_first() {
        let read = day(" 2026-05-04 ").map(|date| date.to_string());
        assert_eq!(read, Ok("2026-05-04".into()));
        for wrong in [
            "",
            "4.5.2026",
            "2026-13-01",
            "2026-02-30",
            "0001-01-01",
            "today",
        ] {
            assert!(day(wrong).is_err(), "{wrong}");
        }
    }
}
