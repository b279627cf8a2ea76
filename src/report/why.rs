//! A diagnosis for a person: one screen, and behind it the details.

use super::page::{Narrow, Page};
use super::percent::percent;
use super::sentence::{capital, clause, first_sentence, sentence, sentence_end, small};
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
    let findings = diagnosis.findings().count();
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
            starts: 4,
            ..WHOLE
        },
        Kept {
            because: false,
            starts: 3,
            ..WHOLE
        },
        Kept {
            because: false,
            stories: 1,
            starts: 3,
            looks: LOOKS,
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

impl Kept {
    /// Whether something that there is was left to the details.
    fn is_less(&self, diagnosis: &Diagnosis) -> bool {
        self.starts < WHOLE.starts
            || self.looks < looks(diagnosis).len()
            || self.stories < diagnosis.told().count()
    }
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
            looks.iter().enumerate().map(|(place, look)| {
                (
                    format!("  {}  ", letter(place)),
                    look_line(base, look.condition),
                )
            }),
        ),
    );
    starts(&mut page, base, diagnosis, shown);
    page.lines(reasons(base, diagnosis, looks, kept));
    if view.details {
        behind_it(&mut page, base, diagnosis, shown);
    }
    page
}

/// The order as it stands after an answer: what came of the looks, each by the number of its column, how far
/// it is settled, and the starts with their marks.
#[must_use]
pub fn order_page(base: &KnowledgeBase, diagnosis: &Diagnosis, shown: usize) -> Page {
    let mut page = Page::new();
    if !diagnosis.causes.is_empty() {
        let mut read = numbered(base, diagnosis);
        read.retain(|(_, found)| *found);
        let read = read.into_iter().map(|(line, _)| line);
        let out = ruled_out(base, diagnosis);
        page.lines(
            read.chain(out)
                .chain([(String::new(), standing(base, diagnosis))]),
        );
        starts(&mut page, base, diagnosis, shown);
        page.lines([(String::new(), MARKS.to_owned())]);
    }
    page
}

/// What was read, with its state, each finding by the number of its column; what was told in passing,
/// and what was not understood.
pub(super) fn reading(page: &mut Page, base: &KnowledgeBase, diagnosis: &Diagnosis) {
    let read = numbered(base, diagnosis).into_iter().map(|(line, _)| line);
    let twice = diagnosis.said_twice.iter().map(|key| {
        let said = format!(
            "{} was said twice, and counts once",
            base.condition(*key).name
        );
        ("     ".to_owned(), said)
    });
    page.lines(read.chain(twice).chain(beside(base, diagnosis)));
}

/// Each reading behind the number of its column, and whether it came of a look that the tool asked for.
fn numbered(base: &KnowledgeBase, diagnosis: &Diagnosis) -> Vec<((String, String), bool)> {
    let mut number = 0;
    let mut read = Vec::new();
    for group in diagnosis.observations.chunk_by(ruled_out_together) {
        let label = if group[0].state.is_finding() {
            number += 1;
            format!("  {number}  ")
        } else {
            "  -  ".to_owned()
        };
        let answered = group[0].read_by == ReadBy::Choice && group[0].state.is_finding();
        read.push(((label, observation(base, group)), answered));
    }
    read
}

/// Everything that is not there, named once each, in one line; none where nothing was ruled out.
fn ruled_out(base: &KnowledgeBase, diagnosis: &Diagnosis) -> Option<(String, String)> {
    let mut names: Vec<&str> = Vec::new();
    let seen = diagnosis.observations.iter();
    for one in seen.filter(|one| one.state == State::NotSeen) {
        let name = base.condition(one.condition).name.as_str();
        if !names.contains(&name) {
            names.push(name);
        }
    }
    (!names.is_empty()).then(|| ("Ruled out: ".to_owned(), format!("{}.", names.join("; "))))
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
    let at_hand = diagnosis.lesson.at_hand.iter();
    let needless = at_hand.flat_map(|at_hand| at_hand.unknown(base));
    line(
        "At hand, and no drill needs it",
        needless.map(|thing| format!("\"{thing}\"")).collect(),
    );
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
    let Some(first) = diagnosis.causes.first() else {
        return String::new();
    };
    let name = &base.condition(first.condition).name;
    if diagnosis.heard.wants_hand() {
        return "Level: first say which hand the student plays with; until then nothing leads."
            .to_owned();
    }
    let rival = diagnosis.rival.map(|rival| &base.condition(rival).name);
    match (diagnosis.standing, rival) {
        (Some(Standing::Settled), _) => format!("Settled: {name}{}.", by_what(diagnosis, first)),
        (Some(Standing::Level), Some(rival)) => {
            format!("Level: {name} or {rival}. Look before choosing.")
        }
        (Some(Standing::Level), None) => {
            format!("Level: {name} is not sure. Look before choosing.")
        }
        _ => format!(
            "Leading: {name}{}. A look may still change it.",
            by_what(diagnosis, first)
        ),
    }
}

/// What speaks for a start: that it was seen, and the findings that it stands behind, by their numbers.
fn by_what(diagnosis: &Diagnosis, cause: &RankedCause) -> String {
    let mut seen = false;
    let (mut often, mut at_times) = (Vec::new(), Vec::new());
    for (place, finding) in diagnosis.findings().enumerate() {
        if finding == cause.condition {
            seen = true;
            continue;
        }
        match behind(cause, finding) {
            Behind::Often => often.push(place + 1),
            Behind::AtTimes => at_times.push(place + 1),
            Behind::Not => {}
        }
    }
    let (how, of) = if often.is_empty() {
        ("at times", at_times)
    } else {
        ("often", often)
    };
    match (seen, of.is_empty()) {
        (true, true) => ", which was seen".to_owned(),
        (true, false) => format!(", seen, and {how} behind {}", listed(&of)),
        (false, true) => String::new(),
        (false, false) => format!(", {how} behind {}", listed(&of)),
    }
}

/// `1`, `1 and 3`, `1, 2 and 4`.
fn listed(numbers: &[usize]) -> String {
    let said: Vec<String> = numbers.iter().map(usize::to_string).collect();
    match said.as_slice() {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// A look in one sentence: where to stand, and what is seen when it is there.
pub(crate) fn look_line(base: &KnowledgeBase, key: ConditionKey) -> String {
    let condition = base.condition(key);
    let how = look_sentence(&condition.look_for);
    let view = condition.seen_from.first().map(|view| view.words());
    // The text may say itself where to stand.
    let plain = how.to_lowercase().replace('-', " ");
    let from = view.filter(|view| !plain.contains(view.trim_start_matches("from ")));
    let from = from.map_or(String::new(), |view| format!(" ({view})"));
    format!("{}{from}: {how}", condition.name)
}

/// A first sentence of so few words only says where to look.
const ONLY_WHERE: usize = 9;

/// No look on the screen is longer than this.
const LONGEST_LOOK: usize = 220;

/// The sentence of a look that says where to look and what is seen. By the library's convention it is the
/// first; where that one only says where to look, the next goes with it.
fn look_sentence(text: &str) -> String {
    let first = first_sentence(text);
    let rest = text[first.len()..].trim_start();
    let next = first_sentence(rest);
    let only_where = !first.contains([':', ',']) && first.split_whitespace().count() <= ONLY_WHERE;
    if next.is_empty() || !only_where || first.len() + next.len() > LONGEST_LOOK {
        return first.to_owned();
    }
    format!("{}: {}", first.trim_end_matches('.'), small(next))
}

/// The leading starts, with a mark for each finding.
fn starts(page: &mut Page, base: &KnowledgeBase, diagnosis: &Diagnosis, shown: usize) {
    let findings: Vec<ConditionKey> = diagnosis.findings().collect();
    let mut head = vec!["Start".to_owned()];
    head.extend((1..=findings.len()).map(|number| number.to_string()));
    head.extend([String::new(), "First remedy".to_owned()]);
    let mut rows = Vec::new();
    let mut lines = Vec::new();
    let all = shown == usize::MAX;
    for cause in with_marks(diagnosis, &findings, all).take(shown) {
        let name = &base.condition(cause.condition).name;
        let marks: Vec<String> = findings
            .iter()
            .map(|finding| mark(cause, *finding).to_string())
            .collect();
        let numbered = marks.iter().enumerate();
        // A number stays with its mark.
        let numbered = numbered.map(|(place, mark)| format!("{}\u{a0}{mark}", place + 1));
        let likely = how_likely(cause.clears);
        let remedy = remedy(base, diagnosis, cause);
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

/// The starts that stand behind something that was seen, and the first whatever it stands behind: what has
/// no mark tells a coach nothing, unless all are wanted.
fn with_marks<'d>(
    diagnosis: &'d Diagnosis,
    findings: &'d [ConditionKey],
    all: bool,
) -> impl Iterator<Item = &'d RankedCause> {
    let causes = diagnosis.causes.iter().enumerate();
    causes
        .filter(move |(place, cause)| {
            let mut marks = findings.iter().map(|finding| mark(cause, *finding));
            all || *place == 0 || marks.any(|mark| mark != NOT_BEHIND)
        })
        .map(|(_, cause)| cause)
}

/// What the marks mean.
pub(crate) const MARKS: &str = "\u{25cf} often behind it, \u{25cb} at times, \u{b7} not";

/// The mark of a start that does not stand behind a finding.
const NOT_BEHIND: char = '\u{b7}';

/// Told apart by shape, not by colour. A start that was itself seen stands behind itself.
pub(crate) fn mark(cause: &RankedCause, finding: ConditionKey) -> char {
    if cause.condition == finding {
        return '\u{25cf}';
    }
    match behind(cause, finding) {
        Behind::Often => '\u{25cf}',
        Behind::AtTimes => '\u{25cb}',
        Behind::Not => NOT_BEHIND,
    }
}

fn behind(cause: &RankedCause, finding: ConditionKey) -> Behind {
    let mut of = cause.accounts_for.iter();
    of.find(|of| of.finding == finding)
        .map_or(Behind::Not, AccountsFor::how)
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

/// The first remedy; none while something was said of the body that comes first.
fn remedy(base: &KnowledgeBase, diagnosis: &Diagnosis, cause: &RankedCause) -> String {
    let none = if diagnosis.complaints.refer().is_some() {
        "waits"
    } else {
        "none yet"
    };
    cause
        .best_remedy
        .map_or_else(|| none.to_owned(), |drill| titled(base.drill(drill)))
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
    line(if kept.is_less(diagnosis) {
        format!("{MARKS}. More is in the details.")
    } else {
        MARKS.to_owned()
    });
    for cause in diagnosis.told().take(kept.stories) {
        let name = &base.condition(cause.condition).name;
        if cause.is_link() {
            // What it leads to, if anything; a link is no habit of its own.
            let on = story(base, &cause.chains, kept.because);
            let link = "is a link on the way: holding it right helps for as long as it is held.";
            line(format!("{name} {link} {on}").trim_end().to_owned());
            continue;
        }
        let told = told(base, diagnosis, cause, kept.because);
        if !told.is_empty() {
            line(format!("Why: {told}"));
        }
    }
    // Where no look is put, two answers at once are nothing that anybody is about to hear.
    let mut changes = diagnosis.would_change.iter();
    if let Some(change) = changes.find(|change| !looks.is_empty() || change.answers.len() == 1) {
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

/// Why a start: its story, or that it stands alone.
pub(crate) fn told(
    base: &KnowledgeBase,
    diagnosis: &Diagnosis,
    cause: &RankedCause,
    because: bool,
) -> String {
    let told = story(base, &cause.chains, because);
    if !told.is_empty() || !diagnosis.findings().any(|key| key == cause.condition) {
        return told;
    }
    let what = sentence(&clause(base, cause.condition));
    if diagnosis.findings().all(|key| key == cause.condition) {
        format!("{what} It is a habit of its own, as far as the library knows.")
    } else {
        format!("{what} Nothing else that was seen comes from it: put it right, and look on.")
    }
}

/// The chains of a start as one or two sentences, what chains share said once: `The ball is too far
/// forward, so ..., and ...`. What leaves the start another way is a sentence of its own, so that nobody
/// takes it for a step of the first. A reason of the library closes it.
fn story(base: &KnowledgeBase, chains: &[Chain], because: bool) -> String {
    let Some(start) = starts_of(chains) else {
        return String::new();
    };
    let mut said = story_from(&capital(&clause(base, start)), base, chains);
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

/// Where the chains start; none when they lead nowhere.
fn starts_of(chains: &[Chain]) -> Option<ConditionKey> {
    let mut told = chains.iter().map(|chain| chain.conditions.as_slice());
    told.find(|chain| chain.len() > 1).map(|chain| chain[0])
}

/// The same with words of one's own for the start, and without a reason; empty when the chains lead nowhere.
pub(super) fn story_from(begin: &str, base: &KnowledgeBase, chains: &[Chain]) -> String {
    let told = chains
        .iter()
        .map(|chain| chain.conditions.as_slice())
        .filter(|chain| chain.len() > 1);
    let rest: Vec<&[ConditionKey]> = told.take(CHAINS_TOLD).map(|chain| &chain[1..]).collect();
    // What it brings about at once is one list.
    if rest.iter().all(|chain| chain.len() == 1) && !rest.is_empty() {
        let each = onward(base, &rest).join(", and ");
        return sentence_end(&format!("{begin}, so {each}"));
    }
    let mut ways = onward(base, &rest).into_iter();
    let Some(first) = ways.next() else {
        return String::new();
    };
    let mut said = sentence_end(&format!("{begin}, so {first}"));
    if let Some(other) = ways.next() {
        said += &format!(" From the same start {}", sentence_end(&other));
    }
    said
}

/// A reason is left to the details when it would make the story longer than three lines.
const LONGEST_STORY: usize = 220;

/// At most so many chains make a sentence; the rest is in the details.
const CHAINS_TOLD: usize = 3;

/// What follows, `..., so ...`, once for each condition that chains go on from, told together.
fn onward(base: &KnowledgeBase, chains: &[&[ConditionKey]]) -> Vec<String> {
    let mut next: Vec<ConditionKey> = Vec::new();
    for chain in chains {
        if let Some(first) = chain.first().filter(|first| !next.contains(first)) {
            next.push(*first);
        }
    }
    let told = next.iter().map(|key| {
        let on: Vec<&[ConditionKey]> = chains
            .iter()
            .filter(|chain| chain.first() == Some(key))
            .map(|chain| &chain[1..])
            .collect();
        let on = onward(base, &on);
        if on.is_empty() {
            clause(base, *key)
        } else {
            format!("{}, so {}", clause(base, *key), on.join(", and "))
        }
    });
    told.collect()
}

/// What answers to the looks would put another start first, the looks by their letters.
pub(crate) fn would_change(
    base: &KnowledgeBase,
    change: &WouldChange,
    looks: &[NextLook],
) -> String {
    let place = |key: ConditionKey| looks.iter().position(|look| look.condition == key);
    let first = &base.condition(change.first).name;
    if let [(key, there)] = change.answers.as_slice()
        && place(*key).is_none()
    {
        let so = clause(base, *key);
        return match (there, *key == change.first) {
            (true, true) => format!("If {so}, that goes first."),
            (true, false) => format!("If {so}, {first} goes first."),
            (false, _) => format!("Unless {so}, {first} goes first."),
        };
    }
    let answers: Vec<String> = change
        .answers
        .iter()
        .map(|(key, there)| {
            let answer = if *there { "yes" } else { "no" };
            match place(*key) {
                Some(place) => format!("{} is {answer}", letter(place)),
                None if *there => clause(base, *key),
                None => format!("it is not so that {}", clause(base, *key)),
            }
        })
        .collect();
    let itself = matches!(change.answers.as_slice(), [(key, true)] if *key == change.first);
    let first = if itself { "it" } else { first };
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
                small(&base.condition(cause.condition).name)
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
