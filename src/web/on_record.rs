//! A student's record, opened for one request.

use crate::records::History;

/// What is on record of the student of a lesson.
pub(super) struct OnRecord {
    /// Who it is, with every lesson.
    pub(super) history: History,
    /// What was said of the body.
    pub(super) limits: Option<String>,
    /// Whether the records may move the order.
    pub(super) learns: bool,
}
