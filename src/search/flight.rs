//! Where the ball went, in words of left and right: the nine flights and their side.
//!
//! A ball starts at the target or to one side of it and flies straight or bends to one side. For a
//! right-handed golfer the out side is the right, for a left-handed golfer the left. The names of
//! the flights are common to the trade; an entry that a library does not have is left out.

use super::term::Term;
use crate::knowledge::ConditionKey;

/// Which way the student plays.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Handed {
    /// Stands to the left of the ball as seen from behind; lead side is the left.
    Right,
    /// The mirror image.
    Left,
}

impl Handed {
    /// Both, right first.
    pub const ALL: &'static [Handed] = &[Handed::Right, Handed::Left];

    /// `right` or `left`.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Handed::Right => "right",
            Handed::Left => "left",
        }
    }

    /// The value with this spelling, if there is one.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|hand| hand.as_str() == text)
    }
}

/// A side of the target line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Way {
    /// Beyond the ball, away from the player's feet.
    Out,
    /// Where the player stands.
    In,
}

impl Way {
    pub(super) fn of(word: &str, handed: Handed) -> Option<Way> {
        match (word, handed) {
            ("right" | "rights", Handed::Right) | ("left" | "lefts", Handed::Left) => {
                Some(Way::Out)
            }
            ("left" | "lefts", Handed::Right) | ("right" | "rights", Handed::Left) => Some(Way::In),
            _ => None,
        }
    }

    fn mirrored(self) -> Way {
        match self {
            Way::Out => Way::In,
            Way::In => Way::Out,
        }
    }
}

/// What a flight phrase says: where the ball starts, where it bends, where it ends.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Path {
    start: Option<Way>,
    bend: Option<Way>,
    end: Option<Way>,
    straight: bool,
    /// Now one side, now the other.
    both: bool,
}

const STARTS: &[&str] = &["start", "launch", "begin", "off"];
const BENDS: &[&str] = &[
    "curv", "bend", "turn", "peel", "drift", "dive", "move", "curl", "swerv", "tail", "spin",
    "leak", "sail", "veer", "curve", "fall", "come", "back",
];
const ENDS: &[&str] = &[
    "miss", "finish", "end", "go", "fli", "fly", "land", "goe", "hit", "everyth", "head", "all",
    "wide", "long", "way", "too", "alwai", "alway", "mostli", "far", "off", "dead", "shot", "ball",
    "my", "just", "out", "consist",
];
const ALSO: &[&str] = &[
    "the", "a", "it", "to", "of", "and", "then", "but", "target", "line", "straight", "flight",
    "drive", "driver", "iron", "wood", "hybrid", "fairwai", "fairway", "with", "keep", "sometim",
    "now", "on", "his", "her", "he", "she", "i", "big", "from", "side", "slight", "slightli",
    "bit", "lot", "in", "at", "air", "everi", "time", "putt", "putter", "short", "tee", "hard",
    "sharpli", "late", "start", "quickli", "more", "even", "further", "is", "are", "they", "that",
    "with", "w", "club", "usual", "usualli", "tend", "more",
];

/// The entries that a flight phrase can mean; `None` when the words are about something else or name
/// no side. One entry when the hand settles it, several when it does not.
pub(super) fn read(
    find: impl Fn(&str) -> Option<ConditionKey>,
    terms: &[Term],
    handed: Option<Handed>,
    putt: bool,
) -> Option<Vec<ConditionKey>> {
    if !terms
        .iter()
        .any(|t| matches!(t.word.as_str(), "left" | "right" | "lefts" | "rights"))
    {
        return None;
    }
    let path = path_of(terms, handed.unwrap_or(Handed::Right))?;
    let mut ids = flights(path, putt);
    if handed.is_none() {
        let mirrored = Path {
            start: path.start.map(Way::mirrored),
            bend: path.bend.map(Way::mirrored),
            end: path.end.map(Way::mirrored),
            ..path
        };
        ids.extend(flights(mirrored, putt));
    }
    let mut found: Vec<ConditionKey> = Vec::new();
    for key in ids.into_iter().filter_map(find) {
        if !found.contains(&key) {
            found.push(key);
        }
    }
    (!found.is_empty()).then_some(found)
}

fn path_of(terms: &[Term], handed: Handed) -> Option<Path> {
    #[derive(Clone, Copy, PartialEq)]
    enum Doing {
        Start,
        Bend,
        End,
    }
    let mut doing = Doing::End;
    let mut path = Path::default();
    for (index, term) in terms.iter().enumerate() {
        let stem = term.stem.as_str();
        if let Some(way) = Way::of(&term.word, handed) {
            // "left it short", "left in the sand": the ball was left, nothing went left.
            if term.word == "left"
                && terms
                    .get(index + 1)
                    .is_some_and(|next| matches!(next.word.as_str(), "it" | "in" | "short"))
            {
                return None;
            }
            let slot = match doing {
                Doing::Start => &mut path.start,
                Doing::Bend => &mut path.bend,
                Doing::End => &mut path.end,
            };
            if slot.is_some_and(|before| before != way) {
                if doing != Doing::End {
                    return None;
                }
                path.both = true;
            }
            *slot = Some(way);
            // After a start, a second side without a verb is where it bends: "starts left, goes right".
            doing = if path.start.is_some() {
                Doing::Bend
            } else {
                Doing::End
            };
        } else if let Some(way) = named_bend(stem) {
            if path.start.is_none() || path.bend.is_some_and(|before| before != way) {
                return None;
            }
            path.bend = Some(way);
            doing = Doing::Bend;
        } else if STARTS.contains(&stem) {
            doing = Doing::Start;
        } else if stem == "straight" {
            path.straight = true;
        } else if BENDS.contains(&stem) && !(stem == "back" && path.start.is_none()) {
            doing = Doing::Bend;
        } else if ENDS.contains(&stem) {
            if path.start.is_none() && doing != Doing::Start {
                doing = Doing::End;
            }
        } else if !ALSO.contains(&stem) {
            return None;
        }
    }
    (path.start.is_some() || path.bend.is_some() || path.end.is_some()).then_some(path)
}

/// The side to which a named curve bends.
fn named_bend(stem: &str) -> Option<Way> {
    match stem {
        "hook" | "draw" | "snap" => Some(Way::In),
        "slice" | "fade" | "cut" => Some(Way::Out),
        _ => None,
    }
}

/// The flights that fit, most telling first.
fn flights(path: Path, putt: bool) -> Vec<&'static str> {
    use Way::{In, Out};
    if putt {
        return match path.start.or(path.end).or(path.bend) {
            Some(Out) => vec!["putt-pushed"],
            Some(In) => vec!["putt-pulled"],
            None => Vec::new(),
        };
    }
    if path.both && path.start.is_none() && path.bend.is_none() {
        return vec!["two-way-miss"];
    }
    match (path.start, path.bend, path.end) {
        (Some(Out), Some(Out), _) => vec!["push-slice"],
        (Some(Out), Some(In), _) => vec!["push-hook"],
        (Some(In), Some(In), _) => vec!["pull-hook"],
        (Some(In), Some(Out), _) => vec!["pull-slice"],
        (Some(Out), None, _) => vec!["push"],
        (Some(In), None, _) => vec!["pull"],
        (None, Some(Out), _) => vec!["slice"],
        (None, Some(In), _) => vec!["hook"],
        (None, None, Some(Out)) if path.straight => vec!["push"],
        (None, None, Some(In)) if path.straight => vec!["pull"],
        (None, None, Some(Out)) => vec!["slice", "push", "push-slice"],
        (None, None, Some(In)) => vec!["hook", "pull", "pull-hook"],
        (None, None, None) => Vec::new(),
    }
}

/// The side that an entry's own words put it on, when they name one side alone.
pub(super) fn side_of(look_for: &str) -> Option<Way> {
    let text = look_for.to_lowercase();
    let out = text.contains("out side") || text.contains("outside the target");
    let inside = text.contains("in side") || text.contains("own side");
    match (out, inside) {
        (true, false) => Some(Way::Out),
        (false, true) => Some(Way::In),
        _ => None,
    }
}
