//! Where the ball went, in words of left and right: the nine flights and their side.
//!
//! A ball starts at the target or to one side of it and flies straight or bends to one side. For a
//! right-handed golfer the out side is the right, for a left-handed golfer the left. The names of
//! the flights are common to the trade; an entry that a library does not have is left out.

use super::term::Term;
use super::trade::Trade;
use crate::knowledge::{ConditionKey, FlightText, KnowledgeBase, Way, WordUse};
use crate::lesson::Handed;

/// The side of the target line that a word of left or right means; `None` for other words.
pub(crate) fn side(word: &str, handed: Handed) -> Option<Way> {
    match (word, handed) {
        ("right" | "rights", Handed::Right) | ("left" | "lefts", Handed::Left) => Some(Way::Out),
        ("left" | "lefts", Handed::Right) | ("right" | "rights", Handed::Left) => Some(Way::In),
        _ => None,
    }
}

fn mirrored(way: Way) -> Way {
    match way {
        Way::Out => Way::In,
        Way::In => Way::Out,
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

/// The flights of a library.
#[derive(Default)]
pub(crate) struct Flights(Vec<(FlightText, ConditionKey)>);

impl Flights {
    pub(crate) fn new(base: &KnowledgeBase) -> Self {
        let flights = base.spoken.flights.iter();
        let known = flights.filter_map(|flight| Some((flight.clone(), base.find(&flight.id)?)));
        Self(known.collect())
    }

    /// The entries that a flight phrase can mean; `None` when the words are about something else or
    /// name no side. One entry when the hand settles it, several when it does not.
    pub(crate) fn read(
        &self,
        trade: &Trade,
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
        let path = path_of(trade, terms, handed.unwrap_or(Handed::Right))?;
        let mut found = self.that_fit(path, putt);
        if handed.is_none() {
            let other = Path {
                start: path.start.map(mirrored),
                bend: path.bend.map(mirrored),
                end: path.end.map(mirrored),
                ..path
            };
            for key in self.that_fit(other, putt) {
                if !found.contains(&key) {
                    found.push(key);
                }
            }
        }
        (!found.is_empty()).then_some(found)
    }

    /// The flights that fit, in the order of the library.
    fn that_fit(&self, path: Path, putt: bool) -> Vec<ConditionKey> {
        let wanted = if putt {
            Path {
                start: path.start.or(path.end).or(path.bend),
                ..Path::default()
            }
        } else if path.both && path.start.is_none() && path.bend.is_none() {
            Path {
                both: true,
                ..Path::default()
            }
        } else if path.start.is_some() || path.bend.is_some() {
            Path {
                start: path.start,
                bend: path.bend,
                ..Path::default()
            }
        } else {
            Path {
                both: false,
                ..path
            }
        };
        let fits = |flight: &FlightText| {
            flight.putt == putt
                && Path {
                    start: flight.start,
                    bend: flight.bend,
                    end: flight.end,
                    straight: flight.straight,
                    both: flight.both,
                } == wanted
        };
        let mut found = Vec::new();
        for (flight, key) in &self.0 {
            if fits(flight) && !found.contains(key) {
                found.push(*key);
            }
        }
        found
    }
}

fn path_of(trade: &Trade, terms: &[Term], handed: Handed) -> Option<Path> {
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
        let is = |list: WordUse| trade.is(list, stem) || trade.is(list, &term.word);
        let named_bend = if is(WordUse::FlightIn) {
            Some(Way::In)
        } else if is(WordUse::FlightOut) {
            Some(Way::Out)
        } else {
            None
        };
        if let Some(way) = side(&term.word, handed) {
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
        } else if let Some(way) = named_bend {
            if path.start.is_none() || path.bend.is_some_and(|before| before != way) {
                return None;
            }
            path.bend = Some(way);
            doing = Doing::Bend;
        } else if is(WordUse::FlightStart) {
            doing = Doing::Start;
        } else if stem == "straight" {
            path.straight = true;
        } else if is(WordUse::FlightBend) && !(stem == "back" && path.start.is_none()) {
            doing = Doing::Bend;
        } else if is(WordUse::FlightEnd) {
            if path.start.is_none() && doing != Doing::Start {
                doing = Doing::End;
            }
        } else if !is(WordUse::FlightBeside) {
            return None;
        }
    }
    (path.start.is_some() || path.bend.is_some() || path.end.is_some()).then_some(path)
}

/// The side that an entry's own words put it on, when they name one side alone.
pub(crate) fn side_of(look_for: &str) -> Option<Way> {
    let text = look_for.to_lowercase();
    let out = text.contains("out side") || text.contains("outside the target");
    let inside = text.contains("in side") || text.contains("own side");
    match (out, inside) {
        (true, false) => Some(Way::Out),
        (false, true) => Some(Way::In),
        _ => None,
    }
}
