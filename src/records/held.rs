//! Last time and now: what held, what came back, and what follows from it.

use super::history::History;
use super::lesson_record::{LessonRecord, MeasuredNumber, Tally};
use crate::causal::{CausalGraph, Rows};
use crate::diagnosis::Behind;
use crate::knowledge::KnowledgeBase;
use crate::measure::{BallCount, Change, Verdict, count_change, reading_change};

/// What became of a finding since last time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Held {
    /// It was there, and is not.
    Gone,
    /// It is there less: slightly where it was plain, or on fewer balls than chance leaves.
    Better,
    /// It is there as it was.
    Same,
    /// It is there more.
    Worse,
    /// It was not there last time, but at an earlier one.
    Back,
    /// It was never there before.
    New,
    /// It was there, and nobody has looked today.
    NotLooked,
}

impl Held {
    /// The word for it.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Gone => "gone",
            Self::Better => "better",
            Self::Same => "same",
            Self::Worse => "worse",
            Self::Back => "back",
            Self::New => "new",
            Self::NotLooked => "not looked at",
        }
    }

    /// Whether it is there today.
    fn is_there(self) -> bool {
        !matches!(self, Self::Gone | Self::NotLooked)
    }
}

/// One finding, last time and now.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Since {
    /// The id of the finding.
    pub finding: String,
    /// What became of it.
    pub held: Held,
    /// Whether the start that was worked on often or at times stands behind it; none without a start, or
    /// where the library has one of them no longer.
    pub explained: Option<bool>,
}

/// A count, last time and now.
#[derive(Clone, Debug, PartialEq)]
pub struct CountChange {
    /// Last time.
    pub before: Tally,
    /// Now.
    pub after: Tally,
    /// What the change of the share is worth.
    pub change: Change,
}

/// A number, last time and now.
#[derive(Clone, Debug, PartialEq)]
pub struct QuantityChange {
    /// Last time.
    pub before: MeasuredNumber,
    /// Now.
    pub after: MeasuredNumber,
    /// What the change is worth.
    pub change: Change,
}

/// What follows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Advice {
    /// Nobody has looked at what was there last time.
    LookFirst,
    /// It is moving: go on with what was given.
    GoOn,
    /// The start is as it was, and the drill did not do it.
    ChangeDrill,
    /// The start has changed and what it was to clear has not, or it does not stand behind what stayed.
    LookElsewhere,
    /// All of it is gone: hold it, and take the next thing.
    Hold,
}

impl Advice {
    /// The word for it, in JSON.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::LookFirst => "look-first",
            Self::GoOn => "go-on",
            Self::ChangeDrill => "change-the-drill",
            Self::LookElsewhere => "look-for-another-start",
            Self::Hold => "hold",
        }
    }
}

/// A check-up held against the last.
#[derive(Clone, Debug, PartialEq)]
pub struct SinceLast {
    /// The last lesson.
    pub last: LessonRecord,
    /// The start that was worked on, and what became of it; it is looked at before anything else.
    pub start: Option<(String, Held)>,
    /// Everything that was there last time, then what is there now and was not.
    pub findings: Vec<Since>,
    /// Counts of the same thing.
    pub counts: Vec<CountChange>,
    /// Numbers of the same quantity and unit.
    pub measured: Vec<QuantityChange>,
    /// What follows.
    pub advice: Advice,
}

/// How the start that was worked on is now.
fn now_of_start(start: &String, now: &LessonRecord) -> Held {
    if now.ruled_out.contains(start) {
        Held::Gone
    } else if now.slight.contains(start) {
        Held::Better
    } else if now.seen.contains(start) {
        Held::Same
    } else {
        Held::NotLooked
    }
}

/// Holds a check-up against the last lesson; none where there was none.
#[must_use]
pub fn since_last(
    base: &KnowledgeBase,
    history: &History,
    now: &LessonRecord,
) -> Option<SinceLast> {
    let last = history.check_ups().next_back()?;
    let counts = counts_since(history, now);
    let start = last.worked_on().map(str::to_owned);
    let rows = Rows::new(base, &CausalGraph::new(base));
    let explained = |finding: &str| {
        let (start, finding) = (base.find(start.as_deref()?)?, base.find(finding)?);
        let share = rows.row(finding).share(start);
        Some(start == finding || Behind::of(share) != Behind::Not)
    };
    let since = |finding: &String, held: Held| Since {
        finding: finding.clone(),
        held,
        explained: explained(finding),
    };
    let of_last = last.seen.iter();
    let of_last = of_last.map(|finding| since(finding, held(finding, last, now, &counts)));
    let others = now.seen.iter().filter(|one| !last.seen.contains(one));
    let others = others.map(|finding| {
        let earlier = history.check_ups().any(|one| one.seen.contains(finding));
        since(finding, if earlier { Held::Back } else { Held::New })
    });
    let findings: Vec<Since> = of_last.chain(others).collect();
    let start = start.map(|start| {
        let held = now_of_start(&start, now);
        (start, held)
    });
    let told: Vec<f64> = history
        .outcomes_of(last.number)
        .map(|one| one.result.success())
        .collect();
    let advice = advice(start.as_ref().map(|start| start.1), &findings, &told);
    Some(SinceLast {
        measured: measured_since(history, now),
        last: last.clone(),
        start,
        findings,
        counts,
        advice,
    })
}

fn held(finding: &String, last: &LessonRecord, now: &LessonRecord, counts: &[CountChange]) -> Held {
    if now.ruled_out.contains(finding) {
        return Held::Gone;
    }
    let counted = counts.iter().find(|count| count.before.what == *finding);
    if let Some(count) = counted.filter(|count| count.change.verdict == Verdict::Real) {
        return if count.change.difference < 0.0 {
            Held::Better
        } else {
            Held::Worse
        };
    }
    if !now.seen.contains(finding) {
        return if counted.is_some() {
            Held::Same
        } else {
            Held::NotLooked
        };
    }
    match (last.slight.contains(finding), now.slight.contains(finding)) {
        (false, true) => Held::Better,
        (true, false) => Held::Worse,
        _ => Held::Same,
    }
}

/// Each count against the last of the same thing, which may be lessons ago.
#[must_use]
pub fn counts_since(history: &History, now: &LessonRecord) -> Vec<CountChange> {
    let count = |tally: &Tally| BallCount {
        shown: tally.shown,
        of: tally.of,
    };
    now.counts
        .iter()
        .filter_map(|after| {
            let mut earlier = history
                .lessons
                .iter()
                .rev()
                .flat_map(|lesson| &lesson.counts);
            let before = earlier.find(|before| before.what == after.what)?;
            Some(CountChange {
                change: count_change(count(before), count(after)),
                before: before.clone(),
                after: after.clone(),
            })
        })
        .collect()
}

/// Each number against the last of the same quantity and unit.
#[must_use]
pub fn measured_since(history: &History, now: &LessonRecord) -> Vec<QuantityChange> {
    now.measured
        .iter()
        .filter_map(|after| {
            let same = |before: &&MeasuredNumber| {
                before.quantity == after.quantity && before.unit == after.unit
            };
            let mut earlier = history
                .lessons
                .iter()
                .rev()
                .flat_map(|lesson| &lesson.measured);
            let before = earlier.find(same)?;
            Some(QuantityChange {
                change: reading_change(
                    (before.value, before.error_sd),
                    (after.value, after.error_sd),
                ),
                before: before.clone(),
                after: after.clone(),
            })
        })
        .collect()
}

/// What a coach would do. What was never looked at says nothing; a start that changed without what it was
/// to clear is not where it starts; one that did not change asks for another drill, unless the drill is
/// getting there.
fn advice(start: Option<Held>, findings: &[Since], told: &[f64]) -> Advice {
    let before = findings
        .iter()
        .filter(|one| !matches!(one.held, Held::Back | Held::New));
    let looked = before.clone().filter(|one| one.held != Held::NotLooked);
    if looked.clone().next().is_none() {
        return Advice::LookFirst;
    }
    let stayed: Vec<&Since> = looked.filter(|one| one.held.is_there()).collect();
    if stayed.is_empty() {
        let again = findings.iter().any(|one| one.held == Held::Back);
        return if again { Advice::GoOn } else { Advice::Hold };
    }
    let as_it_was = stayed.iter().all(|one| one.held != Held::Better);
    let unexplained = stayed.iter().all(|one| one.explained == Some(false));
    let helped = told.iter().sum::<f64>() / told.len().max(1) as f64;
    match start {
        Some(Held::Gone) if as_it_was => Advice::LookElsewhere,
        Some(_) if unexplained => Advice::LookElsewhere,
        _ if !as_it_was => Advice::GoOn,
        // Half of what was hoped for is on the way.
        _ if !told.is_empty() && helped >= 0.5 => Advice::GoOn,
        _ if !told.is_empty() => Advice::ChangeDrill,
        Some(Held::NotLooked) => Advice::LookFirst,
        Some(_) => Advice::ChangeDrill,
        None => Advice::GoOn,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one(held: Held, explained: bool) -> Since {
        Since {
            finding: "slice".into(),
            held,
            explained: Some(explained),
        }
    }

    #[test]
    fn what_follows_is_what_a_coach_would_do() {
        let same = [one(Held::Same, true)];
        assert_eq!(
            advice(Some(Held::Gone), &same, &[1.0]),
            Advice::LookElsewhere
        );
        assert_eq!(advice(Some(Held::Same), &same, &[0.0]), Advice::ChangeDrill);
        assert_eq!(advice(Some(Held::Same), &same, &[1.0, 0.5]), Advice::GoOn);
        assert_eq!(advice(Some(Held::NotLooked), &same, &[]), Advice::LookFirst);
        assert_eq!(
            advice(Some(Held::Same), &[one(Held::Same, false)], &[]),
            Advice::LookElsewhere
        );
        assert_eq!(
            advice(Some(Held::Same), &[one(Held::Better, true)], &[0.0]),
            Advice::GoOn
        );
        assert_eq!(
            advice(Some(Held::Gone), &[one(Held::Gone, true)], &[]),
            Advice::Hold
        );
        assert_eq!(
            advice(None, &[one(Held::NotLooked, true)], &[]),
            Advice::LookFirst
        );
    }
}
