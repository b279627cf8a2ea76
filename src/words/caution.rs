//! What is said first when something is said of the body; one answer for every command.

use super::body::{self, BodyReader, Complaint, Complaints, Limit, answer};
use super::reader::Reader;
use crate::knowledge::{BodyRole, ConditionKey, KnowledgeBase, Refer};
use crate::lesson::Lesson;

/// What leads an answer, most urgent first; empty when nothing was said of the body.
///
/// The first entry says whom to send the student to, with the words that were met. Then comes what is
/// to be said of each of them, and what the library says of each pain among them.
#[must_use]
pub fn cautions(base: &KnowledgeBase, complaints: &Complaints) -> Vec<String> {
    let limits = of_limits(base, complaints);
    let Some(most) = complaints.refer() else {
        return limits;
    };
    let mut found: Vec<String> = Vec::new();
    for refer in Refer::ALL {
        let said = distinct(complaints.there.iter().filter(|c| c.refer == *refer));
        // Who is sent to somebody need not be told to ask as well.
        if said.is_empty() || (*refer == Refer::Ask && most != Refer::Ask) {
            continue;
        }
        let text = answer(base, *refer).and_then(|words| words.caution);
        let text = text.unwrap_or_else(|| format!("{}.", capital(refer.words())));
        found.push(format!("{}: {text}", said.join(", ")));
    }
    let own = complaints.there.iter().filter_map(|c| c.caution.clone());
    let of_pains = complaints.pains().into_iter().filter_map(|key| {
        let condition = base.condition(key);
        let caution = condition.caution.as_ref()?;
        Some(format!("{}: {caution}", condition.name))
    });
    for caution in own.chain(of_pains) {
        if !found.contains(&caution) {
            found.push(caution);
        }
    }
    found.extend(whose_decision(base, complaints));
    found.extend(limits);
    found
}

/// What the limits on record ask for, in one entry; none where there are none.
fn of_limits(base: &KnowledgeBase, complaints: &Complaints) -> Vec<String> {
    let mut said: Vec<String> = Vec::new();
    for limit in &complaints.limits {
        let words = format!("\"{}\"", clipped(&limit.words));
        if !said.contains(&words) {
            said.push(words);
        }
    }
    if said.is_empty() {
        return Vec::new();
    }
    let caution = body::of_limits(base).unwrap_or_default();
    vec![format!("{}: {caution}", said.join(", "))]
}

/// What stands on record of a student's body, and what else the words name that drills are closed to,
/// such as poor balance.
#[must_use]
pub fn on_record(base: &KnowledgeBase, reader: &Reader, limits: &str) -> Complaints {
    let mut found = BodyReader::new(base).read_record(limits);
    for read in reader.readings(limits, &Lesson::default()) {
        let condition = base.condition(read.condition);
        let of_body = condition.pain || condition.refer.is_some();
        let closes = base
            .drills
            .iter()
            .any(|drill| drill.not_with.contains(&read.condition));
        let known = found
            .limits
            .iter()
            .any(|one| one.closed_to == Some(read.condition));
        if read.weight >= MEANT && closes && !of_body && !known {
            found.limits.push(Limit {
                words: condition.name.to_lowercase(),
                closed_to: Some(read.condition),
            });
        }
    }
    found
}

/// A reading of this weight is meant.
const MEANT: f64 = 0.5;

/// What the student's page says first; `None` when nothing was said of the body.
#[must_use]
pub fn to_student(base: &KnowledgeBase, complaints: &Complaints) -> Option<String> {
    let refer = complaints.refer()?;
    let words = answer(base, refer)?;
    words.to_student.or(words.caution)
}

/// The pain that stands for one anywhere in the body.
#[must_use]
pub fn any_pain(base: &KnowledgeBase) -> Option<ConditionKey> {
    base.body_words
        .iter()
        .filter(|words| words.role == Some(BodyRole::Answer))
        .find_map(|words| base.find(words.pain.as_deref()?))
}

/// Whose decision it was that a caution of an earlier layer is not given.
fn whose_decision<'a>(
    base: &'a KnowledgeBase,
    complaints: &Complaints,
) -> impl Iterator<Item = String> + use<'a> {
    complaints.pains().into_iter().filter_map(|key| {
        let condition = base.condition(key);
        let why = condition.drops_caution.as_ref()?;
        Some(format!(
            "{}: `{}` leaves out a caution that this library had: {why}",
            condition.name,
            base.layer_name(&condition.origin)
        ))
    })
}

fn distinct<'a>(complaints: impl Iterator<Item = &'a Complaint>) -> Vec<String> {
    let mut said: Vec<String> = Vec::new();
    for complaint in complaints {
        let words = format!("\"{}\"", clipped(&complaint.words));
        if !said.contains(&words) {
            said.push(words);
        }
    }
    said
}

/// As much of the words as is read at a glance.
fn clipped(words: &str) -> String {
    let mut short: String = words.chars().take(60).collect();
    if short.len() < words.len() {
        short.push('\u{2026}');
    }
    short
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}
