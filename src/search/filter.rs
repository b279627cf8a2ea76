//! What a drill must be to be of use here: place, equipment, shot, rung, kind, for whom.

use super::term::Cutter;
use crate::knowledge::{
    Drill, KnowledgeBase, Level, Place, RemedyKind, Rung, Shot, Suits, nearest,
};
use serde::Serialize;
use std::collections::BTreeMap;

/// What is asked of a drill; what is left out asks for nothing.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DrillFilters {
    /// Where it has to be possible.
    pub place: Option<Place>,
    /// Everything at hand beyond a club and a ball; a drill that needs more is out.
    pub have: Option<Vec<String>>,
    /// The shot it is for.
    pub shot: Option<Shot>,
    /// The rung of the ladder it stands on.
    pub rung: Option<Rung>,
    /// What sort of remedy.
    pub kind: Option<RemedyKind>,
    /// Whom it has to suit.
    pub suits: Option<Suits>,
    /// How far along the student is.
    pub level: Option<Level>,
    /// The longest its dose may take, in minutes; above 0.
    pub minutes: Option<f64>,
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

/// The filters, one each.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Axis {
    Place,
    Have,
    Shot,
    Rung,
    Kind,
    Suits,
    Level,
    Minutes,
}

/// Things that are always at hand.
pub(super) const AT_HAND: &[&str] = &["club", "ball"];

/// Filters made ready: equipment by the stem of its last word.
pub(super) struct Sieve<'a> {
    filters: &'a DrillFilters,
    have: Option<Vec<String>>,
}

/// The word that names a thing: of `alignment sticks` the stick.
pub(super) fn thing(cutter: &mut Cutter, text: &str) -> String {
    cutter
        .cut(text)
        .pop()
        .map(|term| term.stem)
        .unwrap_or_default()
}

impl<'a> Sieve<'a> {
    pub(super) fn new(filters: &'a DrillFilters, cutter: &mut Cutter) -> Self {
        let have = filters.have.as_ref().map(|have| {
            have.iter()
                .map(String::as_str)
                .chain(AT_HAND.iter().copied())
                .map(|text| thing(cutter, text))
                .collect()
        });
        Self { filters, have }
    }

    /// The filters that a drill does not pass.
    fn failed(&self, drill: &Drill, needs: &[String]) -> Vec<Axis> {
        let filters = self.filters;
        let mut failed = Vec::new();
        let mut ask = |axis, passed: bool| {
            if !passed {
                failed.push(axis);
            }
        };
        ask(
            Axis::Place,
            filters
                .place
                .is_none_or(|place| drill.places.contains(&place)),
        );
        ask(
            Axis::Have,
            self.have
                .as_ref()
                .is_none_or(|have| needs.iter().all(|need| have.contains(need))),
        );
        ask(Axis::Shot, drill.applies_to(filters.shot));
        ask(
            Axis::Rung,
            filters.rung.is_none_or(|rung| drill.rung == rung),
        );
        ask(
            Axis::Kind,
            filters.kind.is_none_or(|kind| drill.kind == kind),
        );
        ask(
            Axis::Suits,
            filters
                .suits
                .is_none_or(|suits| drill.suits.contains(&suits)),
        );
        ask(
            Axis::Level,
            filters
                .level
                .is_none_or(|level| drill.levels.is_empty() || drill.levels.contains(&level)),
        );
        ask(
            Axis::Minutes,
            filters
                .minutes
                .is_none_or(|minutes| drill.minutes() <= minutes),
        );
        failed
    }

    /// Whether a drill passes; counts it where it does.
    pub(super) fn pass<'d>(
        &self,
        drill: &'d Drill,
        needs: &[String],
        counts: &mut Counts<'d>,
    ) -> bool {
        let failed = self.failed(drill, needs);
        let counted = |axis| match failed.as_slice() {
            [] => true,
            [only] => *only == axis,
            _ => false,
        };
        if counted(Axis::Place) {
            Counts::add(&mut counts.place, drill.places.iter().map(|v| v.as_str()));
        }
        if counted(Axis::Have) {
            // Two sticks are one kind of thing.
            let kinds = drill.equipment.iter().enumerate();
            let first = kinds.filter(|(at, thing)| !drill.equipment[..*at].contains(thing));
            Counts::add(
                &mut counts.equipment,
                first.map(|(_, thing)| thing.as_str()),
            );
        }
        if counted(Axis::Shot) {
            Counts::add(&mut counts.shot, drill.shots.iter().map(|v| v.as_str()));
        }
        if counted(Axis::Rung) {
            Counts::add(&mut counts.ladder, [drill.rung.as_str()]);
        }
        if counted(Axis::Kind) {
            Counts::add(&mut counts.kind, [drill.kind.as_str()]);
        }
        if counted(Axis::Suits) {
            Counts::add(&mut counts.suits, drill.suits.iter().map(|v| v.as_str()));
        }
        if counted(Axis::Level) {
            let levels: &[Level] = if drill.levels.is_empty() {
                Level::ALL
            } else {
                &drill.levels
            };
            Counts::add(&mut counts.level, levels.iter().map(|v| v.as_str()));
        }
        failed.is_empty()
    }
}

/// Facets while they are counted, with nothing copied.
#[derive(Default)]
pub(super) struct Counts<'d> {
    place: BTreeMap<&'d str, usize>,
    equipment: BTreeMap<&'d str, usize>,
    shot: BTreeMap<&'d str, usize>,
    ladder: BTreeMap<&'d str, usize>,
    kind: BTreeMap<&'d str, usize>,
    suits: BTreeMap<&'d str, usize>,
    level: BTreeMap<&'d str, usize>,
}

impl<'d> Counts<'d> {
    fn add(to: &mut BTreeMap<&'d str, usize>, values: impl IntoIterator<Item = &'d str>) {
        for value in values {
            *to.entry(value).or_default() += 1;
        }
    }

    pub(super) fn facets(self) -> Facets {
        let owned = |counts: BTreeMap<&str, usize>| {
            counts
                .into_iter()
                .map(|(value, n)| (value.to_owned(), n))
                .collect()
        };
        Facets {
            place: owned(self.place),
            equipment: owned(self.equipment),
            shot: owned(self.shot),
            ladder: owned(self.ladder),
            kind: owned(self.kind),
            suits: owned(self.suits),
            level: owned(self.level),
        }
    }
}

/// A thing at hand that no drill of the library knows, with the nearest that it does.
pub(super) fn unknown_equipment(
    base: &KnowledgeBase,
    have: &[String],
    cutter: &mut Cutter,
) -> Option<(String, Vec<String>)> {
    let mut known: Vec<&str> = base
        .drills
        .iter()
        .flat_map(|drill| drill.equipment.iter().map(String::as_str))
        .chain(AT_HAND.iter().copied())
        .collect();
    known.sort_unstable();
    known.dedup();
    let things: Vec<String> = known.iter().map(|text| thing(cutter, text)).collect();
    have.iter().find_map(|given| {
        let wanted = thing(cutter, given);
        if things.contains(&wanted) {
            return None;
        }
        let near = nearest(given, known.iter().copied(), 3);
        Some((given.clone(), near.into_iter().map(str::to_owned).collect()))
    })
}
