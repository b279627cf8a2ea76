//! Words about the body, laid together over all layers and checked: what a note is read with.

use super::base::BodyWords;
use super::document::BodyWordsText;
use super::node::{PathStep, clip};
use super::placed_entry::{PlacedEntry, origin};
use super::problems::Problems;
use super::standing_entries::Settled;
use super::vocabulary::BodyRole;
use std::collections::HashSet;
use std::mem::take;

/// Every way of saying that a way of saying names, in order.
pub(super) fn named(says: &str) -> impl Iterator<Item = &str> {
    says.split('<')
        .skip(1)
        .filter_map(|rest| Some(rest.split_once('>')?.0))
}

/// The words of all layers, checked and taken out of their entries.
pub(super) fn body_words(settled: &mut Settled, problems: &mut Problems<'_>) -> Vec<BodyWords> {
    for said in settled.body_words.values() {
        check(said, settled, problems);
    }
    check_circles(settled, problems);
    let laid_together = |(id, said): (&String, &mut Vec<Box<PlacedEntry<BodyWordsText>>>)| {
        let say = said
            .iter_mut()
            .flat_map(|e| take(&mut e.text.say))
            .collect();
        let alike = said
            .iter_mut()
            .flat_map(|e| take(&mut e.text.alike))
            .collect();
        let origin = origin(said[0].start(), problems.layers);
        let text = &mut said[0].text;
        BodyWords {
            id: id.clone(),
            say,
            alike,
            refer: text.refer,
            role: text.role,
            unless: take(&mut text.unless),
            with: take(&mut text.with),
            when_old: text.when_old,
            when_new: text.when_new,
            caution: text.caution.take(),
            to_student: text.to_student.take(),
            pain: text.pain.take(),
            origin,
        }
    };
    settled.body_words.iter_mut().map(laid_together).collect()
}

/// What the layers say of one id.
#[allow(clippy::vec_box, reason = "as in `Settled`")]
fn check(said: &[Box<PlacedEntry<BodyWordsText>>], settled: &Settled, problems: &mut Problems<'_>) {
    let first = &said[0];
    for entry in said {
        check_names(entry, settled, problems);
    }
    for later in &said[1..] {
        check_adds_only(later, first, problems);
    }
    let text = &first.text;
    if text.role.is_some_and(|role| role != BodyRole::Answer) && text.refer.is_some() {
        problems.error(
            first.key("role"),
            "body-words",
            format!("`{}` has both a `role` and a `refer`", clip(&text.id)),
            "words either report something or do something to others: keep one of the two",
        );
    }
    if !text.alike.is_empty() && text.refer.is_none() && !heard_beside(text.role) {
        problems.error(
            first.key("alike"),
            "body-words",
            format!("`{}` has `alike` and reports nothing", clip(&text.id)),
            "say in `refer` whom to send the student to, or take `alike` out",
        );
    }
}

/// Whether phrases of a role are among those that a clause is compared with.
fn heard_beside(role: Option<BodyRole>) -> bool {
    matches!(role, Some(BodyRole::Trade | BodyRole::Over))
}

/// Every id that is named must be there.
fn check_names(entry: &PlacedEntry<BodyWordsText>, settled: &Settled, problems: &mut Problems<'_>) {
    let text = &entry.text;
    for (key, list) in [("say", &text.say), ("unless", &text.unless)] {
        for (i, say) in list.iter().enumerate() {
            for id in named(say) {
                check_named(entry, &[key.into(), i.into()], id, settled, problems);
            }
        }
    }
    for (i, id) in text.with.iter().enumerate() {
        check_named(entry, &["with".into(), i.into()], id, settled, problems);
    }
    if let Some(pain) = &text.pain
        && !settled.conditions.contains_key(pain)
        && !settled.unreadable.contains(pain)
    {
        let known = settled.conditions.keys().map(String::as_str);
        let help =
            problems.did_you_mean(pain, known, "write the id of a condition with `pain: true`");
        let message = format!("there is no condition `{}`", clip(pain));
        problems.error(entry.spot(&["pain".into()]), "unknown-id", message, help);
    }
}

fn check_named(
    entry: &PlacedEntry<BodyWordsText>,
    path: &[PathStep<'_>],
    id: &str,
    settled: &Settled,
    problems: &mut Problems<'_>,
) {
    if settled.body_words.contains_key(id) || settled.unreadable.contains(id) {
        return;
    }
    let known = settled.body_words.keys().map(String::as_str);
    let help = problems.did_you_mean(id, known, "name body words that are there");
    let message = format!("there are no body words `{}`", clip(id));
    problems.error(entry.spot(path), "unknown-id", message, help);
}

/// A later layer may add ways of saying something, and nothing that keeps a pain from being heard.
fn check_adds_only(
    later: &PlacedEntry<BodyWordsText>,
    first: &PlacedEntry<BodyWordsText>,
    problems: &mut Problems<'_>,
) {
    let only_says = BodyWordsText {
        say: later.text.say.clone(),
        alike: later.text.alike.clone(),
        ..BodyWordsText::named(&later.text.id)
    };
    if later.text != only_says {
        problems.error(
            later.head(),
            "body-words",
            format!(
                "the body words `{}` are there already, and a later layer only adds to `say` and `alike`",
                clip(&later.text.id)
            ),
            "keep `id`, `say` and `alike`; for words that mean something else take another id",
        );
    }
    if first.text.role.is_some() {
        problems.error(
            later.head(),
            "body-words",
            format!(
                "`{}` says when a pain is not one, and a later layer adds nothing to that",
                clip(&later.text.id)
            ),
            "take it out; an alias of a fault or an outcome is read beside these words",
        );
    }
}

/// No words may be made of themselves.
fn check_circles(settled: &Settled, problems: &mut Problems<'_>) {
    let mut done: HashSet<&str> = HashSet::new();
    // Each round takes what names only what is done; what is left at the end goes in a circle.
    loop {
        let before = done.len();
        for (id, said) in &settled.body_words {
            let says = said.iter().flat_map(|entry| &entry.text.say);
            let mut names = says.chain(&said[0].text.unless).flat_map(|s| named(s));
            let unknown = |id: &str| !settled.body_words.contains_key(id);
            if !done.contains(id.as_str()) && names.all(|id| done.contains(id) || unknown(id)) {
                done.insert(id);
            }
        }
        if done.len() == before {
            break;
        }
    }
    let mut all = settled.body_words.iter();
    if let Some((id, said)) = all.find(|(id, _)| !done.contains(id.as_str())) {
        problems.error(
            said[0].head(),
            "body-words",
            format!("`{}` is said by means of itself", clip(id)),
            "take the `<...>` that leads back to it out",
        );
    }
}
