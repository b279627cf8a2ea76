//! The order of a lesson: set-up before motion, the start of the motion before its end, easy before
//! hard, what comes first first.

use super::rules;
use crate::knowledge::{DrillKey, Rung, Stage};

/// Where in a lesson a stage of the motion comes.
///
/// Common practice: what is in the hands and in the head, then grip, aim, ball position and posture;
/// then the motion from its start to its end; then what it does to the ball.
#[must_use]
pub fn lesson_order(stage: Stage) -> u8 {
    match stage {
        Stage::Equipment => 0,
        Stage::Concept => 1,
        Stage::Body => 2,
        Stage::Grip => 3,
        Stage::Setup => 4,
        Stage::Takeaway => 5,
        Stage::Backswing => 6,
        Stage::Top => 7,
        Stage::Transition => 8,
        Stage::Downswing => 9,
        Stage::Impact => 10,
        Stage::FollowThrough => 11,
        Stage::Finish => 12,
        Stage::Tempo => 13,
        Stage::WholeSwing => 14,
        Stage::ShortGame => 15,
        Stage::PuttingStroke => 16,
        Stage::Strike => 17,
        Stage::BallFlight => 18,
    }
}

/// A drill to be put in order.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Placed {
    /// The drill.
    pub drill: DrillKey,
    /// The stage of what it works on.
    pub stage: Stage,
    /// Its rung.
    pub rung: Rung,
    /// Minutes it takes.
    pub minutes: f64,
    /// Drills that come first, if they are in the plan at all.
    pub after: Vec<DrillKey>,
    /// Whether it needs a warm body.
    pub hard: bool,
}

/// The drills in the order they are done; `None` when a hard one cannot be preceded by enough easy
/// movement. `easy` is the minutes of easy movement before the first drill.
pub(crate) fn in_order(drills: &[Placed], easy: f64) -> Option<Vec<usize>> {
    let mut easy = easy;
    let mut done: Vec<usize> = Vec::with_capacity(drills.len());
    while done.len() < drills.len() {
        let waits = |index: usize| {
            drills[index].after.iter().any(|first| {
                drills
                    .iter()
                    .enumerate()
                    .any(|(other, placed)| placed.drill == *first && !done.contains(&other))
            })
        };
        let next = (0..drills.len())
            .filter(|index| !done.contains(index) && !waits(*index))
            .filter(|index| {
                !drills[*index].hard || easy >= rules::easy_minutes_before_full_swings()
            })
            .min_by_key(|index| {
                let placed = &drills[*index];
                (lesson_order(placed.stage), placed.rung, placed.drill)
            })?;
        if !drills[next].hard {
            easy += drills[next].minutes;
        }
        done.push(next);
    }
    Some(done)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn placed(drill: usize, stage: Stage, rung: Rung, minutes: f64, after: &[usize]) -> Placed {
        Placed {
            drill: DrillKey(drill),
            stage,
            rung,
            minutes,
            after: after.iter().map(|key| DrillKey(*key)).collect(),
            hard: rung >= Rung::FullSpeed,
        }
    }

    #[test]
    fn set_up_comes_before_motion_and_slow_before_fast() {
        let drills = [
            placed(0, Stage::Downswing, Rung::Rehearsal, 5.0, &[]),
            placed(1, Stage::Setup, Rung::HalfSpeed, 5.0, &[]),
            placed(2, Stage::Setup, Rung::Rehearsal, 5.0, &[]),
        ];
        assert_eq!(in_order(&drills, 10.0), Some(vec![2, 1, 0]));
    }

    #[test]
    fn what_comes_first_comes_first_whatever_its_rung() {
        let drills = [
            placed(0, Stage::Setup, Rung::Rehearsal, 5.0, &[1]),
            placed(1, Stage::Setup, Rung::HalfSpeed, 5.0, &[]),
        ];
        assert_eq!(in_order(&drills, 10.0), Some(vec![1, 0]));
    }

    #[test]
    fn full_swings_wait_for_ten_easy_minutes() {
        let fast = placed(0, Stage::Setup, Rung::FullSpeed, 8.0, &[]);
        let easy = placed(1, Stage::Top, Rung::Rehearsal, 6.0, &[]);
        assert_eq!(in_order(std::slice::from_ref(&fast), 4.0), None);
        assert_eq!(in_order(&[fast, easy], 4.0), Some(vec![1, 0]));
    }
}
