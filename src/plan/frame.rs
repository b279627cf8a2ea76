//! What a lesson holds beside drills.

/// A lesson's minutes: talk and warm-up, a baseline, work, re-test and notes.
///
/// The frame follows what is common on the lesson tee for 30, 45 and 60 minutes: five to ten minutes
/// of talk and warm-up, five to ten of baseline, twenty to thirty of work, five to ten of re-test and
/// summary (common practice, no source). Between those lengths every part grows in a straight line,
/// so that a longer lesson never has less of anything. Past 45 minutes of work the rest of a long
/// lesson is for play and questions: nobody takes in more on one change.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    /// Talk while the student warms up, in minutes.
    pub warm_up: f64,
    /// Minutes for a baseline, hit or looked at before anything is changed.
    pub baseline: f64,
    /// Minutes that drills may take.
    pub work: f64,
    /// Minutes for looking again at what was seen, and for notes.
    pub retest: f64,
}

/// Lesson minutes, then warm-up, baseline, work, re-test.
const KNOTS: [(f64, [f64; 4]); 6] = [
    (10.0, [2.0, 1.0, 5.0, 2.0]),
    (20.0, [4.0, 3.0, 10.0, 3.0]),
    (30.0, [5.0, 5.0, 15.0, 5.0]),
    (45.0, [10.0, 5.0, 25.0, 5.0]),
    (60.0, [10.0, 10.0, 30.0, 10.0]),
    (75.0, [10.0, 10.0, 45.0, 10.0]),
];

impl Frame {
    /// The frame of a lesson of `minutes`; at least 10.
    #[must_use]
    pub fn of(minutes: u32) -> Self {
        let minutes = f64::from(minutes);
        let parts = KNOTS.windows(2).find(|pair| minutes <= pair[1].0).map_or(
            KNOTS[KNOTS.len() - 1].1,
            |pair| {
                let (from, to) = (pair[0], pair[1]);
                let share = ((minutes - from.0) / (to.0 - from.0)).max(0.0);
                std::array::from_fn(|part| from.1[part] + share * (to.1[part] - from.1[part]))
            },
        );
        // Half minutes are as fine as a lesson is timed, and rounding down never takes time that is
        // not there.
        let [warm_up, baseline, work, retest] = parts.map(|part| (part * 2.0).floor() / 2.0);
        Self {
            warm_up,
            baseline,
            work,
            retest,
        }
    }

    /// Minutes beside the drills.
    #[must_use]
    pub fn beside(&self) -> f64 {
        self.warm_up + self.baseline + self.retest
    }

    /// How many drills the work has room for: new things blur into each other when there are many,
    /// and a drill needs time to be understood (common practice, no source).
    #[must_use]
    pub fn most_drills(&self) -> usize {
        match self.work {
            work if work < 12.0 => 1,
            work if work < 20.0 => 2,
            work if work < 30.0 => 3,
            _ => 4,
        }
    }

    /// How many priorities: a short lesson gets one thing; a longer one may take a set-up change
    /// along (common practice; see also the rule on one change at a time).
    #[must_use]
    pub fn most_priorities(&self) -> usize {
        if self.work < 15.0 { 1 } else { 2 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_parts_never_exceed_the_lesson_and_never_shrink() {
        let mut last = Frame::of(10);
        for minutes in 10..=180 {
            let frame = Frame::of(minutes);
            assert!(frame.beside() + frame.work <= f64::from(minutes));
            assert!(frame.warm_up >= last.warm_up && frame.baseline >= last.baseline);
            assert!(frame.work >= last.work && frame.retest >= last.retest);
            assert!(frame.most_drills() >= last.most_drills());
            assert!(frame.most_priorities() >= last.most_priorities());
            last = frame;
        }
    }

    #[test]
    fn twenty_minutes_get_one_thing() {
        let frame = Frame::of(20);
        assert_eq!((frame.most_drills(), frame.most_priorities()), (1, 1));
        assert_eq!(Frame::of(45).work, 25.0);
    }
}
