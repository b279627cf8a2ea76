//! A diagnosis for a person.

use super::page::Page;
use super::percent::percent;
use super::titled;
use crate::diagnosis::{Chain, Diagnosis, RankedCause, ReadBy, Standing, State};
use crate::knowledge::{ConditionKey, KnowledgeBase};
use crate::words::cautions;

/// How many of the causes are explained to a person.
const EXPLAINED: usize = 2;

/// The diagnosis as a page, with at most `shown` starts.
#[must_use]
pub fn why_page(base: &KnowledgeBase, diagnosis: &Diagnosis, shown: usize) -> Page {
    let mut page = Page::new();
    for caution in cautions(base, &diagnosis.complaints) {
        page.warning(caution);
    }
    page.heading("What was read")
        .bullets(diagnosis.observations.iter().map(|seen| {
            let name = &base.condition(seen.condition).name;
            let said = match seen.state {
                State::Seen | State::Found => String::new(),
                State::NotSeen => ", not seen".to_owned(),
                State::Slight => ", slightly".to_owned(),
                State::Measured { outside, ratio, .. } => format!(
                    ", {} ({ratio:.1} times as likely with it as without)",
                    if outside {
                        "outside the sound range"
                    } else {
                        "inside the sound range"
                    }
                ),
                State::Likelihood(ratio) => format!(", {ratio} times as likely with it as without"),
            };
            let perhaps: Vec<String> = seen
                .perhaps
                .iter()
                .map(|(key, chance)| {
                    format!("{} ({})", base.condition(*key).name, percent(*chance))
                })
                .collect();
            let perhaps = match (perhaps.is_empty(), seen.read_by) {
                (false, _) => format!(
                    ", or perhaps {}; both are weighed: say it otherwise to settle it",
                    perhaps.join(", ")
                ),
                (true, ReadBy::Company) => {
                    " (settled by the rest; say it otherwise if it is not this)".to_owned()
                }
                (true, _) => String::new(),
            };
            format!("{} = {name}{said}{perhaps}", seen.given)
        }));
    beside(&mut page, base, diagnosis);
    if diagnosis.causes.is_empty() && diagnosis.complaints.refer().is_some() {
        page.text("Nothing is ranked: what was said of the body comes first.");
    } else if diagnosis.causes.is_empty() {
        page.text("Nothing was reported that has to be explained. Say what you saw, not only what you did not see.");
    } else {
        causes(&mut page, base, diagnosis, shown);
    }
    if !diagnosis.unexplained.is_empty() {
        page.heading("Nothing here explains")
            .bullets(diagnosis.unexplained.iter().map(|key| {
                format!(
                    "{}: it most likely started by itself, or the library lacks its cause",
                    base.condition(*key).name
                )
            }));
    }
    page.heading_if(!diagnosis.at_odds.is_empty(), "These cannot both be")
        .bullets(diagnosis.at_odds.iter().map(|(one, other)| {
            let name = |key: &ConditionKey| &base.condition(*key).name;
            format!("{} and {}: look again which it is.", name(one), name(other))
        }));
    next_looks(&mut page, base, diagnosis);
    page.heading("How sure").text(how_sure(base, diagnosis));
    page
}

/// What was said beside the findings: facts, what would settle what is open, what was not understood.
pub(super) fn beside(page: &mut Page, base: &KnowledgeBase, diagnosis: &Diagnosis) {
    let heard = &diagnosis.heard;
    page.heading_if(!heard.told.is_empty(), "Told")
        .bullets(heard.told.iter().map(|told| {
            let fact = &base.fact(told.fact).name;
            let number = told.number.map(|n| format!(" {n}")).unwrap_or_default();
            format!("{} = {fact}{number}", told.given)
        }));
    let hand: Vec<String> = heard
        .open
        .iter()
        .filter(|open| open.wants_hand)
        .map(|open| format!("\"{}\"", open.given))
        .collect();
    if !hand.is_empty() {
        page.text(format!(
            "Which hand the student plays with would settle {}; until then it is weighed both ways.",
            hand.join(", ")
        ));
    }
    page.heading_if(!heard.not_understood.is_empty(), "Not understood")
        .bullets(heard.not_understood.iter().cloned());
}

fn causes(page: &mut Page, base: &KnowledgeBase, diagnosis: &Diagnosis, shown: usize) {
    page.heading("Where it starts").grid(
        ["", "Start", "Where", "Clears", "First remedy"],
        diagnosis
            .causes
            .iter()
            .take(shown)
            .enumerate()
            .map(|(index, cause)| row(base, index, cause))
            .collect(),
    );
    page.text("Clears: how much of what was seen would be gone had it not started here. The order weighs that by what the best remedy can do.");
    for (index, cause) in diagnosis.causes.iter().take(EXPLAINED).enumerate() {
        if cause.chains.is_empty() {
            continue;
        }
        let name = &base.condition(cause.condition).name;
        page.heading(format!("Why {}: {name}", index + 1))
            .bullets(explanations(base, &cause.chains));
        if cause.is_link() {
            page.text(format!("{name} is a link on the way more than the start: holding it right helps for as long as it is held."));
        }
    }
}

fn row(base: &KnowledgeBase, index: usize, cause: &RankedCause) -> [String; 5] {
    let condition = base.condition(cause.condition);
    [
        (index + 1).to_string(),
        condition.name.clone(),
        condition.stage.words().to_owned(),
        percent(cause.clears),
        cause
            .best_remedy
            .map_or_else(|| "none yet".to_owned(), |drill| titled(base.drill(drill))),
    ]
}

/// Chains in words: the names joined by arrows, then the reasons that the links give, each said once.
fn explanations(base: &KnowledgeBase, chains: &[Chain]) -> Vec<String> {
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

fn next_looks(page: &mut Page, base: &KnowledgeBase, diagnosis: &Diagnosis) {
    page.heading_if(!diagnosis.next_looks.is_empty(), "Look at next")
        .bullets(diagnosis.next_looks.iter().map(|look| {
            let condition = base.condition(look.condition);
            let views: Vec<&str> = condition
                .seen_from
                .iter()
                .map(|view| view.words())
                .collect();
            let raises: Vec<String> = look
                .raises
                .iter()
                .map(|key| base.condition(*key).name.clone())
                .collect();
            format!(
                "{} ({}). {}{}",
                condition.name,
                views.join(", "),
                condition.look_for,
                if raises.is_empty() {
                    String::new()
                } else {
                    format!(" Speaks for: {}.", raises.join("; "))
                }
            )
        }));
}

/// How far the order is settled, and what would change it.
fn how_sure(base: &KnowledgeBase, diagnosis: &Diagnosis) -> String {
    let name = |key: ConditionKey| base.condition(key).name.as_str();
    let mut said = Vec::new();
    if let (Some(standing), Some(firmness), Some(first)) = (
        diagnosis.standing,
        diagnosis.firmness,
        diagnosis.causes.first(),
    ) {
        let first = name(first.condition);
        said.push(match standing {
            Standing::Settled => format!("Settled: {first}."),
            Standing::Leading => format!("{first} leads; another look may change it."),
            Standing::Level => match diagnosis.causes.get(1) {
                Some(second) => format!(
                    "{first} and {} are about level: look before choosing.",
                    name(second.condition)
                ),
                None => format!("{first} is not settled: look before choosing."),
            },
        });
        said.push(format!(
            "Shaking every share in the library leaves \"{first}\" first in {} of the redraws.",
            percent(firmness)
        ));
    }
    for change in &diagnosis.would_change {
        let answers: Vec<String> = change
            .answers
            .iter()
            .map(|(look, seen)| {
                let there = if *seen { "there" } else { "not there" };
                format!("\"{}\" is {there}", name(*look))
            })
            .collect();
        said.push(format!(
            "If {}, {} goes first.",
            answers.join(" and "),
            name(change.first)
        ));
    }
    said.push("The order comes from what teachers end up working on when they see these findings; the shares are opinions from common practice.".to_owned());
    said.join(" ")
}
