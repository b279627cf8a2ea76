//! What a drill must be to be of use here: what the lesson asks, rung, kind, time.

use crate::knowledge::{
    Drill, DrillKey, KnowledgeBase, Level, Place, RemedyKind, Rung, Shot, Suits,
};
use crate::lesson::Lesson;
use crate::words::term::{Cutter, FastMap};
use serde::Serialize;
use std::collections::BTreeMap;

/// What is asked of a drill beside what the lesson asks; what is left out asks for nothing.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DrillFilters {
    /// The rung of the ladder it stands on.
    pub rung: Option<Rung>,
    /// What sort of remedy.
    pub kind: Option<RemedyKind>,
    /// The longest its dose may take, in minutes; above 0.
    pub minutes: Option<f64>,
    /// What is on record of the student's body, in words; heeded as if it had been said.
    pub limits: Option<String>,
    /// Things that are not at hand, each by the word that names it; a drill that needs one is out.
    pub without: Vec<String>,
}

/// How many of the drills found fall under each value of a filter. A filter that is set does not
/// count against its own values, so that one sees what another choice would give.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Facets {
    /// By place.
    pub place: BTreeMap<String, usize>,
    /// By what is needed.
    pub equipment: BTreeMap<String, usize>,
    /// By shot.
    pub shot: BTreeMap<String, usize>,
    /// By rung of the ladder.
    pub ladder: BTreeMap<String, usize>,
    /// By sort of remedy.
    pub kind: BTreeMap<String, usize>,
    /// By whom they suit.
    pub suits: BTreeMap<String, usize>,
    /// By level; a drill for every level counts for each.
    pub level: BTreeMap<String, usize>,
}

/// The filters, one each, as bits.
mod axis {
    pub(super) const PLACE: u8 = 1;
    pub(super) const HAVE: u8 = 1 << 1;
    pub(super) const SHOT: u8 = 1 << 2;
    pub(super) const RUNG: u8 = 1 << 3;
    pub(super) const KIND: u8 = 1 << 4;
    pub(super) const SUITS: u8 = 1 << 5;
    pub(super) const LEVEL: u8 = 1 << 6;
    pub(super) const MINUTES: u8 = 1 << 7;
}

/// Values of a closed list as bits.
type Bits = u8;
/// More values than any closed list here has.
const MOST_VALUES: usize = Bits::BITS as usize;

macro_rules! bits {
    ($values:expr) => {
        $values
            .iter()
            .fold(0, |bits: Bits, value| bits | 1 << *value as u32)
    };
}

/// Things that are always at hand.
const AT_HAND: &[&str] = &["club", "ball"];

/// The word that names a thing: of `alignment sticks` the stick.
fn thing(cutter: &mut Cutter, text: &str) -> String {
    cutter
        .cut(text)
        .pop()
        .map(|term| term.stem)
        .unwrap_or_default()
}

/// What filters ask of every drill, in a few bytes side by side: thousands are looked at for one
/// query, and reaching for the drills themselves would take most of its time.
pub(super) struct Facts {
    rows: Vec<DrillRow>,
    /// Kinds of equipment by number, all drills one behind the other, each kind once a drill.
    equipment: Vec<u32>,
    /// The text of each kind, and the word that names the thing.
    kinds: Vec<(String, String)>,
}

#[derive(Clone, Copy)]
struct DrillRow {
    minutes: f64,
    /// Where its equipment starts, and how many kinds there are.
    equipment: u32,
    kinds: u32,
    places: Bits,
    shots: Bits,
    suits: Bits,
    only_for: Bits,
    levels: Bits,
    kind: RemedyKind,
    rung: Rung,
    retired: bool,
}

impl Facts {
    pub(super) fn new(cutter: &mut Cutter, base: &KnowledgeBase) -> Self {
        let mut facts = Self {
            rows: Vec::with_capacity(base.drills.len()),
            equipment: Vec::new(),
            kinds: Vec::new(),
        };
        let mut numbers: FastMap<&str, u32> = FastMap::default();
        for drill in &base.drills {
            let start = facts.equipment.len();
            for text in &drill.equipment {
                let number = *numbers.entry(text).or_insert_with(|| {
                    facts.kinds.push((text.clone(), thing(cutter, text)));
                    facts.kinds.len() as u32 - 1
                });
                // Two sticks are one kind of thing.
                if !facts.equipment[start..].contains(&number) {
                    facts.equipment.push(number);
                }
            }
            let kinds = facts.equipment.len() - start;
            facts
                .rows
                .push(DrillRow::of(drill, start as u32, kinds as u32));
        }
        facts
    }

    pub(super) fn is_retired(&self, drill: DrillKey) -> bool {
        self.rows[drill.0].retired
    }

    pub(super) fn kind(&self, drill: DrillKey) -> RemedyKind {
        self.rows[drill.0].kind
    }

    /// How many drills there are.
    pub(super) fn len(&self) -> usize {
        self.rows.len()
    }

    /// The words that name what some drill needs, but for what is always at hand.
    pub(super) fn things(&self) -> impl Iterator<Item = &str> {
        let things = self.kinds.iter().map(|(_, thing)| thing.as_str());
        things.filter(|thing| !AT_HAND.contains(thing))
    }
}

impl DrillRow {
    fn of(drill: &Drill, equipment: u32, kinds: u32) -> Self {
        let levels: &[Level] = if drill.levels.is_empty() {
            Level::ALL
        } else {
            &drill.levels
        };
        Self {
            minutes: drill.minutes(),
            equipment,
            kinds,
            places: bits!(drill.places),
            shots: bits!(drill.shots),
            suits: bits!(drill.suits),
            only_for: bits!(drill.only_for),
            levels: bits!(levels),
            kind: drill.kind,
            rung: drill.rung,
            retired: drill.retired_for.is_some(),
        }
    }
}

/// Filters made ready for one query.
pub(super) struct Sieve<'a> {
    facts: &'a Facts,
    /// Bits of which a drill must have one; all of them where nothing is asked.
    place: Option<Bits>,
    shot: Option<Bits>,
    level: Option<Bits>,
    /// Bits of which a drill must have all.
    suits: Bits,
    rung: Option<Rung>,
    kind: Option<RemedyKind>,
    minutes: Option<f64>,
    /// By kind of equipment whether it is at hand.
    have: Option<Vec<bool>>,
}

impl<'a> Sieve<'a> {
    pub(super) fn new(lesson: &Lesson, filters: &DrillFilters, facts: &'a Facts) -> Self {
        let at_hand = lesson.at_hand.as_ref();
        let has = |(text, thing): &(String, String)| {
            at_hand.is_none_or(|at_hand| at_hand.has(text)) && !filters.without.contains(thing)
        };
        let limited = at_hand.is_some() || !filters.without.is_empty();
        let have = limited.then(|| facts.kinds.iter().map(has).collect());
        let shots_for = |shot: Shot| {
            let fitting = Shot::ALL.iter().filter(|own| own.applies_to(shot));
            fitting.fold(0, |bits: Bits, own| bits | 1 << *own as u32)
        };
        Self {
            facts,
            place: lesson.place.map(|place| bits!([place])),
            shot: lesson.shot.map(shots_for),
            suits: bits!(lesson.suits),
            level: lesson.level.map(|level| bits!([level])),
            rung: filters.rung,
            kind: filters.kind,
            minutes: filters.minutes,
            have,
        }
    }

    /// Whether anything is asked.
    pub(super) fn asks(&self) -> bool {
        let one_of = [self.place, self.shot, self.level];
        one_of.iter().any(Option::is_some)
            || self.suits != 0
            || self.have.is_some()
            || self.rung.is_some()
            || self.kind.is_some()
            || self.minutes.is_some()
    }

    /// The filters that a drill does not pass, as bits.
    fn failed(&self, row: &DrillRow, equipment: &[u32]) -> u8 {
        let none_of = |asked: Option<Bits>, own: Bits| asked.is_some_and(|asked| asked & own == 0);
        let lacks = |have: &Vec<bool>| equipment.iter().any(|kind| !have[*kind as usize]);
        // Who is hurt is sent to a professional at any age.
        let for_some = row.kind != RemedyKind::Referral;
        [
            (axis::PLACE, none_of(self.place, row.places)),
            (axis::HAVE, self.have.as_ref().is_some_and(lacks)),
            (axis::SHOT, none_of(self.shot, row.shots)),
            (axis::RUNG, self.rung.is_some_and(|rung| row.rung != rung)),
            (axis::KIND, self.kind.is_some_and(|kind| row.kind != kind)),
            (
                axis::SUITS,
                for_some
                    && (self.suits & !row.suits != 0
                        || (row.only_for != 0 && self.suits & row.only_for == 0)),
            ),
            (axis::LEVEL, for_some && none_of(self.level, row.levels)),
            (
                axis::MINUTES,
                self.minutes.is_some_and(|most| row.minutes > most),
            ),
        ]
        .into_iter()
        .fold(
            0,
            |failed, (axis, out)| if out { failed | axis } else { failed },
        )
    }

    /// Whether a drill passes; counts it where it does.
    pub(super) fn pass(&self, drill: DrillKey, counts: &mut Counts) -> bool {
        let row = &self.facts.rows[drill.0];
        let start = row.equipment as usize;
        let equipment = &self.facts.equipment[start..start + row.kinds as usize];
        let failed = self.failed(row, equipment);
        // What fails by one filter alone counts under it.
        let counted = |axis: u8| failed & !axis == 0;
        if counted(axis::PLACE) {
            add(&mut counts.place, row.places);
        }
        if counted(axis::HAVE) {
            for kind in equipment {
                counts.equipment[*kind as usize] += 1;
            }
        }
        if counted(axis::SHOT) {
            add(&mut counts.shot, row.shots);
        }
        if counted(axis::RUNG) {
            counts.ladder[row.rung as usize] += 1;
        }
        if counted(axis::KIND) {
            counts.kind[row.kind as usize] += 1;
        }
        if counted(axis::SUITS) {
            add(&mut counts.suits, row.suits);
        }
        if counted(axis::LEVEL) {
            add(&mut counts.level, row.levels);
        }
        failed == 0
    }
}

/// By value of a closed list.
type ByValue = [usize; MOST_VALUES];

fn add(counts: &mut ByValue, bits: Bits) {
    for (value, count) in counts.iter_mut().enumerate() {
        *count += usize::from(bits >> value & 1);
    }
}

/// Facets while they are counted.
pub(super) struct Counts {
    place: ByValue,
    equipment: Vec<usize>,
    shot: ByValue,
    ladder: ByValue,
    kind: ByValue,
    suits: ByValue,
    level: ByValue,
}

impl Counts {
    pub(super) fn new(facts: &Facts) -> Self {
        Self {
            place: [0; MOST_VALUES],
            equipment: vec![0; facts.kinds.len()],
            shot: [0; MOST_VALUES],
            ladder: [0; MOST_VALUES],
            kind: [0; MOST_VALUES],
            suits: [0; MOST_VALUES],
            level: [0; MOST_VALUES],
        }
    }

    pub(super) fn facets(self, facts: &Facts) -> Facets {
        fn some<'a>(counts: impl Iterator<Item = (&'a str, usize)>) -> BTreeMap<String, usize> {
            counts
                .filter(|(_, n)| *n > 0)
                .map(|(value, n)| (value.to_owned(), n))
                .collect()
        }
        macro_rules! by_value {
            ($list:ident, $counts:expr) => {
                some(
                    $list::ALL
                        .iter()
                        .map(|v| (v.as_str(), $counts[*v as usize])),
                )
            };
        }
        let kinds = facts.kinds.iter().map(|(text, _)| text.as_str());
        Facets {
            place: by_value!(Place, self.place),
            equipment: some(kinds.zip(self.equipment)),
            shot: by_value!(Shot, self.shot),
            ladder: by_value!(Rung, self.ladder),
            kind: by_value!(RemedyKind, self.kind),
            suits: by_value!(Suits, self.suits),
            level: by_value!(Level, self.level),
        }
    }
}

const _: () = {
    assert!(Place::ALL.len() <= MOST_VALUES && Shot::ALL.len() <= MOST_VALUES);
    assert!(Rung::ALL.len() <= MOST_VALUES && RemedyKind::ALL.len() <= MOST_VALUES);
    assert!(Suits::ALL.len() <= MOST_VALUES && Level::ALL.len() <= MOST_VALUES);
};
