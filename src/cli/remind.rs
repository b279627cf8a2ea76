//! A word when a record is past the time for which it is kept.

use super::Globals;
use super::day::today;
use super::failure::notice;
use crate::records::{KEPT_MONTHS, Student};
use chrono::NaiveDate;

/// Says on standard error when a record is past the time for which it is kept.
pub(crate) fn remind(student: &Student, last: Option<NaiveDate>, globals: &Globals) {
    let until = student.kept_until(last);
    if until < today() {
        let handle = &student.handle;
        notice(
            &format!(
                "note: the record of {handle} was to be kept until {until}\n  help: fairwhy student forget {handle}, or keep it on with fairwhy student edit {handle} --keep {}",
                student.keep_months + KEPT_MONTHS
            ),
            globals,
        );
    }
}
