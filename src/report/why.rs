//! A diagnosis for a person: one screen, and behind it the details.

use super::page::{Narrow, Page};
use super::percent::percent;
use super::sentence::{capital, clause, first_sentence, sentence};
use super::titled;
use crate::diagnosis::{
    AccountsFor, Behind, Chain, Diagnosis, NextLook, Observation, RankedCause, ReadBy, Standing,
    State, WouldChange,
};
use crate::knowledge::{ConditionKey, KnowledgeBase};
use crate::words::cautions;

/// How many looks stand on the screen.
const LOOKS: usize = 2;

/// Columns below which the table of starts is a list.
const TABLE_FROM: usize = 60;

/// A start that clears at least this much of what was seen is named by the teacher in about four lessons
/// of ten; see the reliability table in `docs/knowledge.md`.
const LIKELY: f64 = 0.15;

/// From here on it is in about two of ten, and below in one.
const POSSIBLE: f64 = 0.07;

/// Lines of a screen, and the findings up to which an answer fits on one.
const SCREEN: usize = 24;
const FINDINGS_OF_A_SCREEN: usize = 3;

/// Columns from which a screen of [`SCREEN`] lines is aimed at; a narrower one is scrolled.
const WIDE_SCREEN: usize = 80;

/// What a person wants to see of a diagnosis, and on what.
#[derive(Clone, Copy, Debug)]
pub struct View {
    /// At most so many starts.
    pub starts: usize,
    /// Numbers, chains and every look behind the screen.
    pub details: bool,
    /// Columns of the screen.
    pub width: usize,
}

/// The diagnosis as one screen; with details, what is behind it. Where it would not fit, the reason goes
/// to the details first, then the last of the starts.
#[must_use]
pub fn why_page(base: &KnowledgeBase, diagnosis: &Diagnosis, view: View) -> Page {
    let findings = findings(diagnosis).count();
    let fits = |page: &Page| page.to_text(view.width, false).lines().count() <= SCREEN;
    let bounded = !view.details && view.width >= WIDE_SCREEN && findings <= FINDINGS_OF_A_SCREEN;
    let mut page = screen(base, diagnosis, view, WHOLE);
    for less in [
        Kept {
            because: false,
            ..WHOLE
        },
        Kept {
            because: false,
            stories: 1,
            ..WHOLE
        },
        Kept {
            because: false,
            stories: 1,
            starts: 4,
            ..WHOLE
        },
        Kept {
            because: false,
            stories: 1,
            starts: 3,
            ..WHOLE
        },
        Kept {
            because: false,
            stories: 1,
            starts: 3,
            looks: 1,
        },
    ] {
        if !bounded || fits(&page) {
            break;
        }
        page = screen(base, diagnosis, view, less);
    }
    page
}

/// How much of an answer is kept on the screen; the rest is in the details.
#[derive(Clone, Copy)]
struct Kept {
    /// Whether the library's reason closes a story.
    because: bool,
    /// At most so many starts are told as a story.
    stories: usize,
    /// At most so many starts are listed.
    starts: usize,
    /// At most so many looks are put.
    looks: usize,
}

/// All of it.
const WHOLE: Kept = Kept {
    because: true,
    stories: 2,
    starts: usize::MAX,
    looks: LOOKS,
};

fn screen(base: &KnowledgeBase, diagnosis: &Diagnosis, view: View, kept: Kept) -> Page {
    let shown = view.starts.min(kept.starts);
    let mut page = Page::new();
    for caution in cautions(base, &diagnosis.complaints) {
        page.warning(caution);
    }
    reading(&mut page, base, diagnosis);
    if diagnosis.causes.is_empty() && diagnosis.complaints.refer().is_some() {
        page.text("Nothing is ranked: what was said of the body comes first.");
        return page;
    }
    if diagnosis.causes.is_empty() {
        page.text("Nothing was reported that has to be explained. Say what you saw, not only what you did not see.");
        return page;
    }
    let looks = looks(diagnosis);
    let looks = &looks[..looks.len().min(kept.looks)];
    page.lines(
        std::iter::once((String::new(), standing(base, diagnosis))).chain(
            looks
                .iter()
                .enumerate()
                .map(|(place, look)| (format!("  {}  ", letter(place)), look_line(base, look))),
        ),
    );
    starts(&mut page, base, diagnosis, shown);
    page.lines(reasons(base, diagnosis, looks, kept));
    if view.details {
        behind_it(&mut page, base, diagnosis, shown);
    }
    page
}

/// The order as it stands after an answer: how far it is settled, and the starts with their marks.
#[must_use]
pub fn order_page(base: &KnowledgeBase, diagnosis: &Diagnosis, shown: usize) -> Page {
    let mut page = Page::new();
    if !diagnosis.causes.is_empty() {
        page.lines([(String::new(), standing(base, diagnosis))]);
        starts(&mut page, base, diagnosis, shown);
    }
    page
}

/// What was read, with its state, each finding by the number of its column; what was told in passing,
/// and what was not understood.
pub(super) fn reading(page: &mut Page, base: &KnowledgeBase, diagnosis: &Diagnosis) {
    let mut number = 0;
    let mut read: Vec<(String, String)> = Vec::new();
    for group in diagnosis.observations.chunk_by(ruled_out_together) {
        let label = if group[0].state.is_finding() {
            number += 1;
            format!("  {number}  ")
        } else {
            "  -  ".to_owned()
        };
        read.push((label, observation(base, group)));
    }
    let twice = diagnosis.said_twice.iter().map(|key| {
        let said = format!(
            "{} was said twice, and counts once",
            base.condition(*key).name
        );
        ("     ".to_owned(), said)
    });
    page.lines(read.into_iter().chain(twice).chain(beside(base, diagnosis)));
}

/// What was said beside the findings: facts, what would settle what is open, what was not understood.
pub(super) fn beside(base: &KnowledgeBase, diagnosis: &Diagnosis) -> Vec<(String, String)> {
    let heard = &diagnosis.heard;
    let mut said = Vec::new();
    let mut line = |label: &str, items: Vec<String>| {
        if !items.is_empty() {
            said.push((format!("{label}: "), format!("{}.", items.join("; "))));
        }
    };
    let told = heard.told.iter().map(|told| {
        let number = told.number.map(|n| format!(" {n}")).unwrap_or_default();
        format!("{}{number}", base.fact(told.fact).name)
    });
    line("Told", told.collect());
    let open = heard.open.iter().filter(|open| open.wants_hand);
    let open: Vec<String> = open.map(|open| format!("\"{}\"", open.given)).collect();
    if !open.is_empty() {
        let open = format!("{}, which is weighed both ways until then", open.join(", "));
        line("Which hand the student plays with would settle", vec![open]);
    }
    let lost = heard.not_understood.iter();
    line(
        "Not understood",
        lost.map(|words| format!("\"{words}\"")).collect(),
    );
    said
}

/// Whether two readings stand on one line: what one clause rules out together.
fn ruled_out_together(one: &Observation, other: &Observation) -> bool {
    one.state == State::NotSeen && other.state == State::NotSeen && one.given == other.given
}

fn observation(base: &KnowledgeBase, group: &[Observation]) -> String {
    let seen = &group[0];
    let names: Vec<&str> = group
        .iter()
        .map(|seen| base.condition(seen.condition).name.as_str())
        .collect();
    let name = names.join(", ");
    let state = match seen.state {
        State::Seen | State::Found => String::new(),
        State::NotSeen => ", not seen".to_owned(),
        State::Slight => ", slightly".to_owned(),
        State::Measured { outside: true, .. } => ", outside the sound range".to_owned(),
        State::Measured { .. } => ", inside the sound range".to_owned(),
        State::Counted { shown, of, .. } => format!(", {shown} of {of}"),
        State::Likelihood(ratio) => format!(", {ratio} times as likely with it as without"),
    };
    let perhaps: Vec<&str> = seen
        .perhaps
        .iter()
        .map(|(key, _)| base.condition(*key).name.as_str())
        .collect();
    let perhaps = match (perhaps.is_empty(), seen.read_by) {
        (false, _) => format!(", or perhaps {}; both are weighed", perhaps.join(", ")),
        (true, ReadBy::Company) => " (as the rest suggests)".to_owned(),
        (true, _) => String::new(),
    };
    if seen.given.eq_ignore_ascii_case(&name) {
        format!("{name}{state}{perhaps}")
    } else {
        format!("{} = {name}{state}{perhaps}", seen.given)
    }
}

/// The looks on the screen: none when the order is settled.
fn looks(diagnosis: &Diagnosis) -> &[NextLook] {
    if diagnosis.standing == Some(Standing::Settled) {
        return &[];
    }
    &diagnosis.next_looks[..diagnosis.next_looks.len().min(LOOKS)]
}

fn letter(place: usize) -> char {
    char::from(b'a' + u8::try_from(place).unwrap_or(25).min(25))
}

/// How far the order is settled, and by what, in one line.
pub(crate) fn standing(base: &KnowledgeBase, diagnosis: &Diagnosis) -> String {
    let name = |place: usize| {
        let cause = diagnosis.causes.get(place);
        cause.map(|cause| base.condition(cause.condition).name.as_str())
    };
    match (diagnosis.standing, name(0), name(1)) {
        (Some(Standing::Settled), Some(first), _) => format!("Settled: {first}."),
        (Some(Standing::Level), Some(first), Some(second)) => {
            format!("Level: {first} or {second}. Look before choosing.")
        }
        (Some(Standing::Level), Some(first), None) => {
            format!("Level: {first} is not sure. Look before choosing.")
        }
        (_, Some(first), _) => format!("Leading: {first}. A look may still change it."),
        (_, None, _) => String::new(),
    }
}

/// A look in one sentence, with where to stand.
pub(super) fn look_line(base: &KnowledgeBase, look: &NextLook) -> String {
    let condition = base.condition(look.condition);
    let from = condition
        .seen_from
        .first()
        .map_or(String::new(), |view| format!(" ({})", view.words()));
    format!(
        "{}{from}: {}",
        condition.name,
        first_sentence(&condition.look_for)
    )
}

/// The leading starts, with a mark for each finding.
fn starts(page: &mut Page, base: &KnowledgeBase, diagnosis: &Diagnosis, shown: usize) {
    let findings: Vec<ConditionKey> = findings(diagnosis).collect();
    let mut head = vec!["Start".to_owned()];
    head.extend((1..=findings.len()).map(|number| number.to_string()));
    head.extend([String::new(), "First remedy".to_owned()]);
    let mut rows = Vec::new();
    let mut lines = Vec::new();
    for cause in diagnosis.causes.iter().take(shown) {
        let name = &base.condition(cause.condition).name;
        let marks: Vec<String> = findings
            .iter()
            .map(|finding| mark(cause, *finding).to_string())
            .collect();
        let numbered = marks.iter().enumerate();
        let numbered = numbered.map(|(place, mark)| format!("{} {mark}", place + 1));
        let likely = how_likely(cause.clears);
        let remedy = remedy(base, cause);
        lines.push(format!(
            "{name}, {likely}: {}. {remedy}.",
            numbered.collect::<Vec<_>>().join("  ")
        ));
        let mut row = vec![name.clone()];
        row.extend(marks);
        row.extend([likely.to_owned(), remedy]);
        rows.push(row);
    }
    let narrow = Narrow {
        below: TABLE_FROM,
        lines,
    };
    page.table(head, rows, Some(narrow));
}

/// What the marks mean.
pub(crate) const MARKS: &str = "\u{25cf} often behind it, \u{25cb} at times, \u{b7} not";

pub(crate) fn findings(diagnosis: &Diagnosis) -> impl Iterator<Item = ConditionKey> + '_ {
    let findings = diagnosis.observations.iter();
    findings
        .filter(|seen| seen.state.is_finding())
        .map(|seen| seen.condition)
}

/// Told apart by shape, not by colour. A start that was itself seen stands behind itself.
pub(crate) fn mark(cause: &RankedCause, finding: ConditionKey) -> char {
    let behind = cause.accounts_for.iter().find(|of| of.finding == finding);
    let itself = cause.condition == finding;
    match behind.map(AccountsFor::how) {
        _ if itself => '\u{25cf}',
        Some(Behind::Often) => '\u{25cf}',
        Some(Behind::AtTimes) => '\u{25cb}',
        Some(Behind::Not) | None => '\u{b7}',
    }
}

pub(crate) fn how_likely(clears: f64) -> &'static str {
    if clears >= LIKELY {
        "likely"
    } else if clears >= POSSIBLE {
        "possible"
    } else {
        "unlikely"
    }
}

fn remedy(base: &KnowledgeBase, cause: &RankedCause) -> String {
    cause
        .best_remedy
        .map_or_else(|| "none yet".to_owned(), |drill| titled(base.drill(drill)))
}

/// Why the first, and the second where the two are level; what would change the order; what nothing
/// explains; what cannot both be.
fn reasons(
    base: &KnowledgeBase,
    diagnosis: &Diagnosis,
    looks: &[NextLook],
    kept: Kept,
) -> Vec<(String, String)> {
    let mut said = Vec::new();
    let mut line = |text: String| said.push((String::new(), text));
    line(MARKS.to_owned());
    let told = if diagnosis.standing == Some(Standing::Level) {
        2
    } else {
        1
    };
    for cause in diagnosis.causes.iter().take(told.min(kept.stories)) {
        let name = &base.condition(cause.condition).name;
        let told = story(base, &cause.chains, kept.because);
        if cause.is_link() {
            line(format!(
                "{name} is a link on the way: holding it right helps for as long as it is held. {told}"
            ));
        } else if !told.is_empty() {
            line(format!("Why: {told}"));
        }
    }
    if let Some(change) = diagnosis.would_change.first() {
        line(would_change(base, change, looks));
    }
    let name = |key: &ConditionKey| base.condition(*key).name.as_str();
    for (one, other) in &diagnosis.at_odds {
        line(format!(
            "{} and {} cannot both be: look again which it is.",
            name(one),
            name(other)
        ));
    }
    if !diagnosis.unexplained.is_empty() {
        let names: Vec<&str> = diagnosis.unexplained.iter().map(name).collect();
        line(format!(
            "Not accounted for: {}. Look beyond the library.",
            names.join(", ")
        ));
    }
    said
}

fn small_first(name: &str) -> String {
    let mut characters = name.chars();
    characters.next().map_or_else(String::new, |first| {
        first.to_lowercase().chain(characters).collect()
    })
}

/// Every chain of a start as one or two sentences, what chains share said once: `The ball is too far
/// forward, so ..., and ...`. A reason of the library closes it.
pub(crate) fn story(base: &KnowledgeBase, chains: &[Chain], because: bool) -> String {
    let told: Vec<&[ConditionKey]> = chains
        .iter()
        .map(|chain| chain.conditions.as_slice())
        .filter(|chain| chain.len() > 1)
        .take(CHAINS_TOLD)
        .collect();
    let Some(start) = told.first().and_then(|chain| chain.first()) else {
        return String::new();
    };
    let rest: Vec<&[ConditionKey]> = told.iter().map(|chain| &chain[1..]).collect();
    let mut said = sentence(&format!("{}{}", clause(base, *start), so(base, &rest)));
    let because = chains
        .iter()
        .filter(|_| because)
        .flat_map(|chain| &chain.because)
        .flatten()
        .next();
    if let Some(because) = because.map(|text| sentence(&capital(text)))
        && said.len() + because.len() < LONGEST_STORY
    {
        said.push(' ');
        said.push_str(&because);
    }
    said
}

/// A reason is left to the details when it would make the story longer than three lines.
const LONGEST_STORY: usize = 220;

/// At most so many chains make a sentence; the rest is in the details.
const CHAINS_TOLD: usize = 3;

/// What follows, `, so ...`, with chains that go on from the same condition told together.
fn so(base: &KnowledgeBase, chains: &[&[ConditionKey]]) -> String {
    let mut next: Vec<ConditionKey> = Vec::new();
    for chain in chains {
        if let Some(first) = chain.first().filter(|first| !next.contains(first)) {
            next.push(*first);
        }
    }
    if next.is_empty() {
        return String::new();
    }
    let told = next.iter().map(|key| {
        let on: Vec<&[ConditionKey]> = chains
            .iter()
            .filter(|chain| chain.first() == Some(key))
            .map(|chain| &chain[1..])
            .collect();
        format!("{}{}", clause(base, *key), so(base, &on))
    });
    format!(", so {}", told.collect::<Vec<_>>().join(", and "))
}

/// What answers to the looks would put another start first, the looks by their letters.
pub(crate) fn would_change(
    base: &KnowledgeBase,
    change: &WouldChange,
    looks: &[NextLook],
) -> String {
    let answers: Vec<String> = change
        .answers
        .iter()
        .map(|(key, seen)| {
            let there = if *seen { "is there" } else { "is not there" };
            match looks.iter().position(|look| look.condition == *key) {
                Some(place) => format!("{} {there}", letter(place)),
                None => format!("{} {there}", small_first(&base.condition(*key).name)),
            }
        })
        .collect();
    let itself = matches!(change.answers.as_slice(), [(key, true)] if *key == change.first);
    let first = if itself {
        "it".to_owned()
    } else {
        small_first(&base.condition(change.first).name)
    };
    format!("If {}, {first} goes first.", answers.join(" and "))
}

/// Numbers, chains and looks in full.
fn behind_it(page: &mut Page, base: &KnowledgeBase, diagnosis: &Diagnosis, shown: usize) {
    page.heading("In numbers").grid(
        [
            "Start",
            "Where",
            "Starts here",
            "Clears",
            "Worth",
            "On the way",
        ],
        diagnosis
            .causes
            .iter()
            .take(shown)
            .map(|cause| {
                let condition = base.condition(cause.condition);
                [
                    condition.name.clone(),
                    condition.stage.words().to_owned(),
                    percent(cause.starts_here),
                    percent(cause.clears),
                    percent(cause.worth),
                    percent(cause.on_the_way),
                ]
            })
            .collect(),
    );
    page.text("Clears: how much of what was seen would be gone had it not started here. Worth: that, by what its best remedy can do; the order. On the way: how often the walk back from what was seen comes by. The shares behind it are opinions from common practice.");
    if let Some(firmness) = diagnosis.firmness {
        page.text(format!(
            "With every share of the library shaken, the first stays first in {} of the redraws.",
            percent(firmness)
        ));
    }
    for cause in diagnosis.causes.iter().take(shown) {
        let chains = chains(base, &cause.chains);
        page.heading_if(
            !chains.is_empty(),
            &format!(
                "Chains from {}",
                small_first(&base.condition(cause.condition).name)
            ),
        )
        .bullets(chains);
    }
    page.heading_if(!diagnosis.next_looks.is_empty(), "What to look at, in full")
        .bullets(
            diagnosis
                .next_looks
                .iter()
                .map(|look| look_in_full(base, look)),
        );
}

fn look_in_full(base: &KnowledgeBase, look: &NextLook) -> String {
    let condition = base.condition(look.condition);
    let views = condition.seen_from.iter().map(|view| view.words());
    let raises = look.raises.iter();
    let raises: Vec<&str> = raises
        .map(|key| base.condition(*key).name.as_str())
        .collect();
    let raises = if raises.is_empty() {
        String::new()
    } else {
        format!(" Speaks for: {}.", raises.join("; "))
    };
    format!(
        "{} ({}). {}{raises}",
        condition.name,
        views.collect::<Vec<_>>().join(", "),
        condition.look_for,
    )
}

/// Chains in words: the names joined by arrows, then the reasons that the links give, each said once.
fn chains(base: &KnowledgeBase, chains: &[Chain]) -> Vec<String> {
    let mut said: Vec<&str> = Vec::new();
    let each = chains.iter().map(|chain| {
        let names: Vec<&str> = chain
            .conditions
            .iter()
            .map(|key| base.condition(*key).name.as_str())
            .collect();
        if let [name] = names[..] {
            return format!("{name}: a habit of its own");
        }
        let mut because: Vec<&str> = Vec::new();
        for reason in chain.because.iter().flatten() {
            if !said.contains(&reason.as_str()) {
                said.push(reason);
                because.push(reason.trim_end_matches('.'));
            }
        }
        let chain = names.join(" -> ");
        if because.is_empty() {
            chain
        } else {
            format!("{chain}. {}.", because.join("; "))
        }
    });
    each.collect()
}
