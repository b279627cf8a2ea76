//! Lead and trail as left and right, once it is known how the student plays.

use crate::lesson::Handed;
use crate::report::Page;

/// What can be a lead or a trail one: parts of the body and what is worn on them.
const SIDED: &[&str] = &[
    "ankle", "arm", "arms", "armpit", "cheek", "chest", "collar", "ear", "elbow", "end", "eye",
    "finger", "fingers", "foot", "forearm", "glove", "hand", "heel", "hip", "instep", "knee",
    "leg", "palm", "pocket", "ribs", "shin", "shoe", "shoulder", "side", "sleeve", "sole", "thigh",
    "thumb", "toe", "toes", "upper", "wrist",
];

/// The text with "lead hand" as "left hand" for a right-handed student, and "trail" likewise.
///
/// Only whole words, and only where a part of the body or of clothing follows (across a hyphen too),
/// or for the pair "lead one" and "trail one": "leads", "leading edge", "lead tape" and "in the lead"
/// stay. Text that names no side comes back as it was.
///
/// ```
/// use fairwhy::report::with_sides;
/// use fairwhy::lesson::Handed;
/// let said = with_sides("Lead heel down, trail-hand grip, lead tape.", Handed::Left);
/// assert_eq!(said, "Right heel down, left-hand grip, lead tape.");
/// ```
#[must_use]
pub fn with_sides(text: &str, handed: Handed) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(start) = rest.find(char::is_alphabetic) {
        out.push_str(&rest[..start]);
        rest = &rest[start..];
        let end = rest
            .find(|c: char| !c.is_alphabetic())
            .unwrap_or(rest.len());
        let word = &rest[..end];
        rest = &rest[end..];
        let sided = side(word, handed).filter(|_| is_sided(rest));
        out.push_str(sided.as_deref().unwrap_or(word));
    }
    out.push_str(rest);
    out
}

/// The page as one would say it to a student who plays so: left and right for lead and trail, and for the
/// out and the in side of the target line. As it was when it is not known.
#[must_use]
pub fn sided(mut page: Page, handed: Option<Handed>) -> Page {
    if handed.is_some() {
        page.each_text(|text| *text = sided_text(text, handed));
    }
    page
}

/// The same of one text.
#[must_use]
pub fn sided_text(text: &str, handed: Option<Handed>) -> String {
    handed.map_or_else(
        || text.to_owned(),
        |handed| with_line_sides(&with_sides(text, handed), handed),
    )
}

/// `the in side` is the side the player stands on, `the out side` the one beyond the ball.
fn with_line_sides(text: &str, handed: Handed) -> String {
    let (within, beyond) = match handed {
        Handed::Right => ("left", "right"),
        Handed::Left => ("right", "left"),
    };
    text.replace("to the in side", &format!("to the {within}"))
        .replace("to the out side", &format!("to the {beyond}"))
        .replace("the in side", &format!("the {within} side"))
        .replace("the out side", &format!("the {beyond} side"))
}

/// `left` or `right` in the capitals of the word, when the word is `lead` or `trail`.
fn side(word: &str, handed: Handed) -> Option<String> {
    let lead = match word.to_lowercase().as_str() {
        "lead" => true,
        "trail" => false,
        _ => return None,
    };
    let side = if lead == (handed == Handed::Right) {
        "left"
    } else {
        "right"
    };
    Some(if word.starts_with(char::is_uppercase) {
        format!("{}{}", side[..1].to_uppercase(), &side[1..])
    } else {
        side.to_owned()
    })
}

/// Whether what follows is something that has a lead and a trail one.
fn is_sided(rest: &str) -> bool {
    let mut after = rest.chars();
    if !matches!(after.next(), Some(' ' | '-')) {
        return false;
    }
    let next: String = after
        .take_while(|c| c.is_alphabetic())
        .collect::<String>()
        .to_lowercase();
    next == "one" || SIDED.contains(&next.as_str())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(text: &str, right: &str, left: &str) {
        assert_eq!(with_sides(text, Handed::Right), right);
        assert_eq!(with_sides(text, Handed::Left), left);
    }

    #[test]
    fn sides_change_and_other_leads_do_not() {
        check(
            "Trail foot back, lead arm straight.",
            "Right foot back, left arm straight.",
            "Left foot back, right arm straight.",
        );
        check(
            "This leads to a trail of tees.",
            "This leads to a trail of tees.",
            "This leads to a trail of tees.",
        );
        check(
            "The leading edge and lead tape",
            "The leading edge and lead tape",
            "The leading edge and lead tape",
        );
        check(
            "Swap hands: the lead one on top.",
            "Swap hands: the left one on top.",
            "Swap hands: the right one on top.",
        );
        check(
            "Über trail-side pocket",
            "Über right-side pocket",
            "Über left-side pocket",
        );
        check("", "", "");
    }
}
