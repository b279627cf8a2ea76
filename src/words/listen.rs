//! What a note says of the body without any of the words for it, for every command alike.

use super::alike;
use super::body::{Complaint, Complaints};
use super::note::Note;
use std::ops::Range;

/// A note of at most so many words is listened to as a whole too: a clause of it may be half of what it
/// says.
const SHORT_NOTE: usize = 16;

/// Adds what a note says of the body without any of the words for it, clause by clause. What is said of
/// golf by a name, or in a way that the library knows, is that. `likened` says what a stretch of the note is
/// like, if its likeness is at least that sure; see [`super::BodyReader::likened`].
pub fn listen_closer(
    words: &str,
    note: &Note,
    body: &mut Complaints,
    likened: impl Fn(Range<usize>, f64) -> Option<Complaint>,
) {
    let short = words.split_whitespace().nth(SHORT_NOTE).is_none();
    let whole = (short && note.clauses.len() > 1).then_some(0..words.len());
    for part in note.clauses.iter().cloned().chain(whole) {
        let within = |at: &Range<usize>| at.start < part.end && part.start < at.end;
        if body.there.iter().any(|complaint| within(&complaint.span)) {
            continue;
        }
        // `gone all yellow` is nothing that is gone.
        let denied = body.denied.iter().any(|complaint| within(&complaint.span));
        let findings = note.findings.iter().filter(|finding| within(&finding.at));
        if findings
            .clone()
            .any(|finding| finding.reading.says_most_of(&words[finding.at.clone()]))
        {
            continue;
        }
        let told = note.telling.iter().any(within) || note.numbers.iter().any(|n| within(&n.at));
        let sure = alike::sure(short, denied || told || findings.count() > 0);
        body.there.extend(likened(part.clone(), sure));
    }
}
