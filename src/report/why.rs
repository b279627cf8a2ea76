//! A diagnosis for a person.

use super::page::Page;
use super::percent::percent;
use super::titled;
use crate::diagnosis::{Diagnosis, Explanation, RankedBy, RankedCause, ReadBy, State};
use crate::knowledge::{ConditionKey, KnowledgeBase};

/// How many causes a person is shown, and how many of them are explained.
const SHOWN: usize = 5;
const EXPLAINED: usize = 2;

/// What is said before anything else when a pain is among what was reported.
const PAIN: &str = "Pain was reported. Stop what hurts, do nothing that loads it, and send the student to a licensed health professional before any swing work on that part of the body. What follows is for the golf alone; it is no diagnosis.";

/// The warnings that lead an answer: pains first, then what the leading cause carries.
pub(super) fn cautions(base: &KnowledgeBase, diagnosis: &Diagnosis) -> Vec<String> {
    let mut found = Vec::new();
    if !diagnosis.pains.is_empty() {
        found.push(PAIN.to_owned());
    }
    for key in &diagnosis.pains {
        if let Some(caution) = &base.condition(*key).caution {
            found.push(format!("{}: {caution}", base.condition(*key).name));
        }
    }
    found
}

/// The diagnosis as a page.
#[must_use]
pub fn why_page(base: &KnowledgeBase, diagnosis: &Diagnosis, all: bool) -> Page {
    let mut page = Page::new();
    for caution in cautions(base, diagnosis) {
        page.warning(caution);
    }
    page.heading("What was read")
        .bullets(diagnosis.observations.iter().map(|seen| {
            let name = &base.condition(seen.condition).name;
            let said = match seen.state {
                State::Seen => String::new(),
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
    if diagnosis.causes.is_empty() {
        page.text("Nothing was reported that has to be explained. Say what you saw, not only what you did not see.");
    } else {
        causes(&mut page, base, diagnosis, all);
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
    if let (true, Some(suspect)) = (diagnosis.at_odds.score > 0.0, diagnosis.at_odds.suspect) {
        page.heading("These do not go together well").text(format!(
            "Look again at: {}. The rest would fit better without it.",
            base.condition(suspect).name
        ));
    }
    next_looks(&mut page, base, diagnosis);
    page.heading("How sure").text(how_sure(base, diagnosis));
    page
}

fn causes(page: &mut Page, base: &KnowledgeBase, diagnosis: &Diagnosis, all: bool) {
    let shown = if all { diagnosis.causes.len() } else { SHOWN };
    page.heading("Where it starts").grid(
        [
            "",
            "Start",
            "Where",
            "Clears",
            "Held",
            "There",
            "First remedy",
        ],
        diagnosis
            .causes
            .iter()
            .take(shown)
            .enumerate()
            .map(|(index, cause)| row(base, index, cause))
            .collect(),
    );
    page.text("Clears: how much of what was seen would be gone had it not started here. Held: the same for as long as it is held right. There: the chance that it is there at all. The order weighs what it clears by what its best remedy can do.");
    for (index, cause) in diagnosis.causes.iter().take(EXPLAINED).enumerate() {
        if cause.explanations.is_empty() {
            continue;
        }
        let name = &base.condition(cause.condition).name;
        page.heading(format!("Why {}: {name}", index + 1))
            .bullets(cause.explanations.iter().map(|e| explanation(base, e)));
        if cause.treats_a_link {
            page.text(format!("{name} is a link in the middle more than the start: holding it right helps for as long as it is held."));
        }
    }
}

fn row(base: &KnowledgeBase, index: usize, cause: &RankedCause) -> [String; 7] {
    let condition = base.condition(cause.condition);
    let tie = if cause.too_close_to_next { " ~" } else { "" };
    [
        format!("{}{tie}", index + 1),
        condition.name.clone(),
        condition.stage.words().to_owned(),
        percent(cause.clears),
        percent(cause.clears_while_held),
        percent(cause.probability),
        cause
            .best_remedy
            .map_or_else(|| "none yet".to_owned(), |drill| titled(base.drill(drill))),
    ]
}

/// A chain in words: the names joined by arrows, then the reasons that the links give.
fn explanation(base: &KnowledgeBase, explanation: &Explanation) -> String {
    let name = |key: &ConditionKey| base.condition(*key).name.clone();
    if explanation.conditions.len() == 1 {
        return format!("{}: a habit of its own", name(&explanation.finding));
    }
    let chain = explanation
        .conditions
        .iter()
        .map(name)
        .collect::<Vec<_>>()
        .join(" -> ");
    let because: Vec<&str> = explanation
        .because
        .iter()
        .flatten()
        .map(|reason| reason.trim_end_matches('.'))
        .collect();
    if because.is_empty() {
        chain
    } else {
        format!("{chain}. {}.", because.join("; "))
    }
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

/// How much the order leans on the library's opinions, and on the drawing, in plain words.
fn how_sure(base: &KnowledgeBase, diagnosis: &Diagnosis) -> String {
    let mut said = Vec::new();
    if let (Some(firmness), Some(first)) = (diagnosis.firmness, diagnosis.causes.first()) {
        said.push(format!(
            "Shaking every strength in the library leaves \"{}\" first in {} of the redraws.",
            base.condition(first.condition).name,
            percent(firmness)
        ));
    }
    let close = diagnosis
        .causes
        .iter()
        .take_while(|cause| cause.too_close_to_next)
        .count();
    if close > 0 {
        said.push(format!(
            "The first {} are too close to call (~): look again before choosing.",
            close + 1
        ));
    }
    said.push(match diagnosis.ranked_by {
        RankedBy::Shares => "The order comes from what teachers end up working on when they see these findings; strengths are opinions from common practice.".to_owned(),
        RankedBy::Web => "The order comes from the library's links; strengths are opinions.".to_owned(),
    });
    if !diagnosis.exact {
        said.push(format!(
            "Chances under \"Held\" are from {} weighed draws, good to {:.1} points.",
            diagnosis.draws,
            200.0 * diagnosis.standard_error
        ));
    }
    said.join(" ")
}
