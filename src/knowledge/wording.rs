//! The prose of an entry: nothing empty, and no left or right where lead or trail is meant.

use super::node::{Content, TextPlace, YamlNode};
use super::problems::{Problems, Spot};

/// Keys under which people read sentences or phrases.
const PROSE: &[&str] = &[
    "name",
    "aliases",
    "ambiguous_aliases",
    "for",
    "because",
    "caution",
    "purpose",
    "setup",
    "steps",
    "feel",
    "check",
    "goes_wrong",
    "easier",
    "harder",
    "why",
    "cite",
    "basis",
    "cost_basis",
    "unit",
    "equipment",
];

/// Keys of prose in which a real title, or a place of publication, may say left or right.
const QUOTED: &[&str] = &["cite", "basis", "cost_basis", "unit"];

/// Parts of a body that come in twos, and the word `side`.
const PARTS: &[&str] = &[
    "hand",
    "palm",
    "thumb",
    "finger",
    "forefinger",
    "index",
    "wrist",
    "forearm",
    "arm",
    "elbow",
    "armpit",
    "shoulder",
    "side",
    "rib",
    "hip",
    "glute",
    "buttock",
    "pocket",
    "leg",
    "thigh",
    "knee",
    "shin",
    "calf",
    "ankle",
    "foot",
    "feet",
    "heel",
    "toe",
    "instep",
    "ear",
    "eye",
    "cheek",
    "temple",
    "glove",
    "shoe",
];

/// Words that may stand between the side and the part.
const BETWEEN: &[&str] = &[
    "upper", "lower", "inner", "outer", "front", "back", "whole", "index",
];

/// Words after which left or right is a direction.
const MOVES: &[&str] = &[
    "aim", "aimed", "aims", "aiming", "ball", "bends", "breaks", "curve", "curved", "curves",
    "curving", "draws", "drifts", "fades", "far", "finishes", "flies", "fly", "goes", "hooks",
    "leaks", "leans", "misses", "missed", "point", "points", "pointing", "pulled", "pulls",
    "pushed", "pushes", "rolls", "slices", "start", "started", "starting", "starts", "swings",
    "tilts", "turns",
];

/// Words after which a direction has ended: `aim left of the flag`, `to the right and ...`.
const ENDS_DIRECTION: &[&str] = &[
    "of", "and", "or", "but", "then", "when", "while", "with", "as", "for",
];

/// Looks at every sentence of an entry.
pub(super) fn check(node: &YamlNode, file: Spot, problems: &mut Problems<'_>) {
    visit(node, "", &mut |key, at, text| {
        let spot = Spot { at, ..file };
        if text.trim().is_empty() {
            empty(key, spot, problems);
        } else if !QUOTED.contains(&key)
            && let Some(finding) = sided(text)
        {
            let help = match finding.sort {
                SideSort::Part => {
                    "write lead or trail, so that it holds for left-handed players too"
                }
                SideSort::Direction => {
                    "write toward the lead or trail side, or in and out, so that it holds for left-handed players too"
                }
            };
            let message = format!(
                "`{}` depends on which hand a player leads with",
                finding.words
            );
            problems.warning(spot, "left-or-right", message, help);
        }
    });
}

fn empty(key: &str, spot: Spot, problems: &mut Problems<'_>) {
    match key {
        "steps" => problems.error(
            spot,
            "empty-step",
            "a step with nothing in it",
            "write the step, or take the line out",
        ),
        "name" | "cite" => problems.error(
            spot,
            "empty-text",
            format!("`{key}` has nothing in it"),
            "write it out",
        ),
        _ => problems.warning(
            spot,
            "empty-value",
            format!("`{key}` has nothing in it"),
            "fill it in, or take it out",
        ),
    }
}

fn visit(node: &YamlNode, key: &str, look: &mut impl FnMut(&str, TextPlace, &str)) {
    match &node.content {
        Content::Text { text, .. } if PROSE.contains(&key) => look(key, node.at, text),
        Content::Text { .. } | Content::Number(_) | Content::Whole(_) => {}
        Content::List(items) => items.iter().for_each(|item| visit(item, key, look)),
        Content::Map(entries) => entries
            .iter()
            .for_each(|(key, node)| visit(node, &key.text, look)),
    }
}

#[derive(Debug, PartialEq, Eq)]
enum SideSort {
    Part,
    Direction,
}

#[derive(Debug, PartialEq, Eq)]
struct Sided {
    words: String,
    sort: SideSort,
}

/// The first left or right that names a side of the player or a direction of the ball.
///
/// `right angle`, `right away`, `the right club`, `what is left` and `left-handed` are none.
fn sided(text: &str) -> Option<Sided> {
    let lower = text.to_lowercase();
    if !lower.contains("left") && !lower.contains("right") {
        return None;
    }
    // Words, and between them a mark where a phrase ends.
    let mut words: Vec<&str> = Vec::new();
    for chunk in lower.split_whitespace() {
        let parts = chunk.split(|c: char| !c.is_alphanumeric() && c != '\'');
        words.extend(parts.filter(|part| !part.is_empty()));
        if chunk.ends_with(['.', ',', ';', ':', '!', '?', ')']) {
            words.push(".");
        }
    }
    let word = |index: Option<usize>| index.and_then(|i| words.get(i).copied()).unwrap_or(".");
    for (i, side) in words.iter().enumerate() {
        if !matches!(*side, "left" | "right") {
            continue;
        }
        let (next, over_next) = (word(Some(i + 1)), word(Some(i + 2)));
        let (last, before_last) = (word(i.checked_sub(1)), word(i.checked_sub(2)));
        if is_part(next) {
            return Some(found(&[side, next], SideSort::Part));
        }
        if BETWEEN.contains(&next) && is_part(over_next) {
            return Some(found(&[side, next, over_next], SideSort::Part));
        }
        let ends = next == "." || ENDS_DIRECTION.contains(&next);
        let to_the =
            last == "the" && matches!(before_last, "to" | "toward" | "towards" | "on" | "from");
        let remains =
            matches!(last, "is" | "are" | "was" | "what's" | "." | "what") && *side == "left";
        if ends && to_the {
            return Some(found(&[before_last, last, side], SideSort::Direction));
        }
        if ends && MOVES.contains(&last) {
            return Some(found(&[last, side], SideSort::Direction));
        }
        if next == "of" && matches!(over_next, "the" | "target" | "it" | "where") && !remains {
            return Some(found(&[side, next, over_next], SideSort::Direction));
        }
    }
    None
}

fn is_part(word: &str) -> bool {
    PARTS.contains(&word)
        || word
            .strip_suffix('s')
            .is_some_and(|one| PARTS.contains(&one))
}

fn found(words: &[&str], sort: SideSort) -> Sided {
    Sided {
        words: words.join(" "),
        sort,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_side_of_the_body_or_the_course_is_found() {
        for (text, words) in [
            ("Grip with the left hand only", "left hand"),
            ("the Right-hand grip", "right hand"),
            ("Bend the right upper arm", "right upper arm"),
            ("both left and right wrists", "right wrists"),
            ("The ball curves left.", "curves left"),
            ("aimed right of the flag", "aimed right"),
            ("It goes to the right, always", "to the right"),
            ("lands left of the green", "left of the"),
            ("a left heel that lifts", "left heel"),
        ] {
            assert_eq!(
                sided(text).map(|s| s.words).as_deref(),
                Some(words),
                "{text}"
            );
        }
    }

    #[test]
    fn other_senses_of_left_and_right_are_left_alone() {
        for text in [
            "Shaft and lead arm form a right angle",
            "Stop right away",
            "the right club for the job",
            "What is left of the lesson",
            "balls left in the bucket",
            "for left-handed players and right-handers",
            "starts right after the pause",
            "aim right at the flag",
            "Leave out what was left over",
            "on the right track",
            "It feels right.",
            "to the right length",
        ] {
            assert_eq!(sided(text), None, "{text}");
        }
    }
}
