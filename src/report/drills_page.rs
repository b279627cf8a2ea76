//! Drills that were found, for a person and for a program.

use super::page::Page;
use super::percent::percent;
use crate::knowledge::{ConditionKey, Drill, KnowledgeBase, RemedyKind};
use crate::search::{Found, Hit};
use crate::words::{ReadAs, cautions};
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// More reasons than this are not read.
const REASONS: usize = 3;

/// The drills as a page; `explain` adds the parts of each score.
#[must_use]
pub fn drills_page(base: &KnowledgeBase, query: &str, found: &Found, explain: bool) -> Page {
    let mut page = Page::new();
    for caution in cautions(base, &found.complaints) {
        page.warning(caution);
    }
    page.text(read_as(base, query, found));
    if !found.filters.is_empty() {
        page.text(format!("Only what fits: {}", found.filters.join(", ")));
    }
    for line in guesses(found) {
        page.text(line);
    }
    if found.drills.is_empty() {
        page.warning(nothing_fits(found));
        if found.without_filters > 0 {
            what_to_loosen(&mut page, found);
        }
        return page;
    }
    let lines = found.drills.iter().enumerate();
    page.lines(lines.flat_map(|(place, hit)| in_two_lines(base, found, place + 1, hit)));
    if explain {
        page.heading("How the scores came about");
        page.bullets(found.drills.iter().map(|hit| {
            let reasons = because(base, found, hit).join("; ");
            format!("{}. {reasons}", explained(base, hit))
        }));
    }
    if found.total > found.drills.len() {
        let others = found.total - found.fit;
        let say = match others {
            0 => String::new(),
            1 => "; 1 more says the word".to_owned(),
            _ => format!("; {others} more say the word"),
        };
        let listed = found.drills.len().min(found.fit);
        page.text(format!("{listed} of {} drills that fit{say}.", found.fit));
    }
    page.bullets_under("Narrow it down", by_filter(found, 2));
    page
}

/// What the words of a search were read as, in a sentence.
fn read_as(base: &KnowledgeBase, query: &str, found: &Found) -> String {
    let read = found.read_as.iter().map(|read| {
        let condition = base.condition(read.condition);
        format!("{} ({})", condition.name, condition.id)
    });
    let read = read.collect::<Vec<_>>().join(", ");
    if found.by_filters_alone {
        "No fault or flight was named: first what does most for what is most common.".to_owned()
    } else if read.is_empty() {
        format!("\"{query}\" is no finding that this library knows; drills by their text alone.")
    } else if found.read_as[0].weight < SURELY {
        format!("\"{query}\" may mean: {read}")
    } else {
        format!("\"{query}\" read as: {read}")
    }
}

/// The filters that leave a choice of at least so many, each with what fits by it.
fn by_filter(found: &Found, least: usize) -> Vec<String> {
    let filters = narrowing(found).into_iter();
    filters
        .filter(|(_, counts)| counts.len() >= least)
        .map(|(filter, counts)| format!("{filter}: {}", counted(counts)))
        .collect()
}

/// Which one filter keeps everything out.
fn what_to_loosen(page: &mut Page, found: &Found) {
    let loose = by_filter(found, 1);
    if loose.is_empty() {
        page.text("No one filter is to blame: leave out two, or more.");
    }
    page.bullets_under("What fits with one of them changed", loose);
}

/// Letters of a line that a screen of 80 columns takes behind a drill's number.
const LINE: usize = 75;

/// A drill as a line that names it, with how it is done where there is room, and a line for why it is
/// there; what it can make worse is never left out.
fn in_two_lines(
    base: &KnowledgeBase,
    found: &Found,
    number: usize,
    hit: &Hit,
) -> [(String, String); 2] {
    let drill = base.drill(hit.drill);
    let mut name = format!("{}{} ({})", drill.name, status(hit), drill.id);
    let how = format!(", {}, {} min", drill.rung.words(), drill.minutes());
    if name.chars().count() + how.chars().count() <= LINE {
        name.push_str(&how);
    }
    let reasons = because(base, found, hit);
    let harms = reasons.iter().filter(|reason| reason.starts_with(HARM));
    let first = reasons.iter().find(|reason| !reason.starts_with(HARM));
    let said: Vec<&str> = first.into_iter().chain(harms).map(String::as_str).collect();
    let label = format!("{number:>3}  ");
    let below = " ".repeat(label.len());
    [(label, name), (below, said.join(", "))]
}

/// How a reason against a drill begins.
const HARM: &str = "but can make";

/// The filters with how many drills fit each of their values.
fn narrowing(found: &Found) -> [(&'static str, &BTreeMap<String, usize>); 6] {
    let facets = &found.facets;
    [
        ("place", &facets.place),
        ("ladder", &facets.ladder),
        ("kind", &facets.kind),
        ("shot", &facets.shot),
        ("suits", &facets.suits),
        ("level", &facets.level),
    ]
}

/// Why nothing is listed.
pub(crate) fn nothing_fits(found: &Found) -> String {
    if found.without_filters > 0 {
        format!(
            "Nothing fits all of it; {} would fit without the filters.",
            found.without_filters
        )
    } else if found.complaints.refer().is_some() {
        "This library names nobody to refer to for it.".to_owned()
    } else {
        "Nothing in this library fits these words.".to_owned()
    }
}

/// A line for each word that the library does not know.
pub(crate) fn guesses(found: &Found) -> Vec<String> {
    found
        .guesses
        .iter()
        .map(|guess| {
            let nearest = guess.nearest.join(", ");
            match (guess.taken, nearest.is_empty()) {
                (true, _) => format!("A guess: \"{}\" taken for {nearest}.", guess.typed),
                (false, false) => {
                    format!(
                        "No drill says \"{}\"; a guess at what was meant: {nearest}.",
                        guess.typed
                    )
                }
                (false, true) => format!("No drill says \"{}\".", guess.typed),
            }
        })
        .collect()
}

pub(crate) fn status(hit: &Hit) -> &'static str {
    if hit.trial { " (on trial)" } else { "" }
}

/// A reading that weighs less only may be meant.
pub(crate) const SURELY: f64 = 0.6;

/// Why a drill is there, most telling first.
pub(crate) fn because(base: &KnowledgeBase, found: &Found, hit: &Hit) -> Vec<String> {
    // Nothing here works on a pain; a referral is for somebody who has one.
    let works_on = match base.drill(hit.drill).kind {
        RemedyKind::Referral => "is for",
        _ => "works on",
    };
    let told = hit.works_on.iter().take(REASONS).map(|on| {
        let name = &base.condition(on.condition).name;
        let surely = |r: &ReadAs| r.condition == on.condition && r.weight >= SURELY;
        let why = if on.as_typed && found.read_as.iter().any(surely) {
            ", which is what was typed".to_owned()
        } else if on.as_typed {
            ", which the words may mean".to_owned()
        } else if found.by_filters_alone {
            String::new()
        } else {
            format!(", which may be behind it ({})", percent(on.likely))
        };
        format!("{works_on} {name}{why}")
    });
    let mut reasons: Vec<String> = told.collect();
    let by_text = reasons.is_empty() || hit.by_text > hit.by_meaning;
    if let Some(excerpt) = hit.excerpt.as_ref().filter(|_| by_text) {
        reasons.push(format!("{}: {}", excerpt.part, excerpt.marked("[", "]")));
    }
    if reasons.is_empty() {
        // Such as by the names of what it treats, which are not shown here.
        reasons.push("found by its wording alone".to_owned());
    }
    for condition in &hit.aggravates {
        reasons.push(format!("{HARM} {} worse", base.condition(*condition).name));
    }
    reasons
}

fn explained(base: &KnowledgeBase, hit: &Hit) -> String {
    let mut parts = vec![
        format!("{:.3} from what the words mean", hit.by_meaning),
        format!("{:.3} from the text", hit.by_text),
    ];
    if let Some(excerpt) = &hit.excerpt {
        parts.push(format!("words: {}", excerpt.words().join(", ")));
    }
    for on in &hit.works_on {
        parts.push(format!(
            "{} {:.2} likely x {:.2} effect",
            base.condition(on.condition).id,
            on.likely,
            on.effect
        ));
    }
    if hit.held_down < 1.0 {
        parts.push(format!(
            "held down to {:.2} of that, for what it can make worse",
            hit.held_down
        ));
    }
    format!(
        "{} {:.3} = {}",
        base.drill(hit.drill).id,
        hit.score,
        parts.join("; ")
    )
}

fn counted(counts: &BTreeMap<String, usize>) -> String {
    let parts: Vec<String> = counts
        .iter()
        .map(|(value, n)| format!("{value} ({n})"))
        .collect();
    parts.join(", ")
}

/// One drill that was found.
fn hit_json(base: &KnowledgeBase, found: &Found, hit: &Hit) -> Value {
    let id = |key: ConditionKey| base.condition(key).id.as_str();
    let drill: &Drill = base.drill(hit.drill);
    json!({
        "id": drill.id,
        "name": drill.name,
        "score": hit.score,
        "because": because(base, found, hit),
        "treats": drill.treats.iter().map(|t| id(t.condition)).collect::<Vec<_>>(),
        "kind": drill.kind,
        "ladder": drill.rung,
        "place": drill.places,
        "equipment": drill.equipment,
        "minutes": drill.minutes(),
        "status": drill.status,
        "from": base.layer_name(&drill.origin),
        "words": hit.excerpt.as_ref().map(|e| e.words()).unwrap_or_default(),
        "can_make_worse": hit.aggravates.iter().copied().map(id).collect::<Vec<_>>(),
    })
}

/// How the score of a drill came about.
fn score_json(base: &KnowledgeBase, hit: &Hit) -> Value {
    json!({
        "meaning": hit.by_meaning,
        "text": hit.by_text,
        "held_down": hit.held_down,
        "works_on": hit.works_on.iter().map(|on| json!({
            "id": base.condition(on.condition).id,
            "as_typed": on.as_typed,
            "likely": on.likely,
            "effect": on.effect,
        })).collect::<Vec<_>>(),
    })
}

/// The drills as JSON; the keys of the command's page, and more.
#[must_use]
pub fn drills_json(base: &KnowledgeBase, query: &str, found: &Found, explain: bool) -> Value {
    let id = |key: ConditionKey| base.condition(key).id.as_str();
    let drills = found.drills.iter().map(|hit| {
        let mut row = hit_json(base, found, hit);
        if explain {
            row["parts"] = score_json(base, hit);
        }
        row
    });
    let drills: Vec<Value> = drills.collect();
    json!({
        "query": query,
        "filters": found.filters,
        "read_as": found.read_as.iter().map(|read| id(read.condition)).collect::<Vec<_>>(),
        "weights": found.read_as.iter().map(|read| read.weight).collect::<Vec<_>>(),
        "drills": drills,
        "total": found.total,
        "without_filters": found.without_filters,
        "facets": found.facets,
        "guesses": found.guesses.iter().map(|guess| json!({
            "typed": guess.typed,
            "nearest": guess.nearest,
            "taken": guess.taken,
        })).collect::<Vec<_>>(),
        "cautions": cautions(base, &found.complaints),
        "refer": found.complaints.refer(),
    })
}
