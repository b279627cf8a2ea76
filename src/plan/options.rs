//! What a plan has to fit into beside the lesson itself.

use crate::knowledge::{DrillKey, KnowledgeBase, Place, Shot};
use crate::lesson::{Lesson, LessonTrouble};

/// The shortest lesson that leaves time for one drill between warm-up and re-test.
pub const SHORTEST_LESSON: u32 = 10;
/// Longer than this is a day out and not a lesson.
pub const LONGEST_LESSON: u32 = 180;

/// Practice between lessons, as the student can make time for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sessions {
    /// Sessions a week, from 1 to 7: one a day at most.
    pub a_week: u32,
    /// Minutes of each, from 10 to 90.
    pub minutes: u32,
}

impl Sessions {
    /// Reads `3x20`: three sessions a week of twenty minutes.
    ///
    /// # Errors
    ///
    /// What is wrong with the text and what to write instead.
    ///
    /// ```
    /// use fairwhy::plan::Sessions;
    /// assert_eq!(Sessions::parse("3x20")?.minutes, 20);
    /// assert!(Sessions::parse("20").is_err());
    /// assert!(Sessions::parse("9x20").is_err());
    /// # Ok::<(), String>(())
    /// ```
    pub fn parse(text: &str) -> Result<Self, String> {
        let wrong = || {
            format!(
                "`{text}` is not a number of sessions: write sessions a week, an x, and minutes each, such as 3x20"
            )
        };
        let (a_week, minutes) = text.trim().split_once(['x', 'X']).ok_or_else(wrong)?;
        let number = |part: &str| part.trim().parse::<u32>().map_err(|_| wrong());
        let sessions = Self {
            a_week: number(a_week)?,
            minutes: number(minutes)?,
        };
        if !(1..=7).contains(&sessions.a_week) {
            return Err(format!(
                "`{text}` asks for {} sessions a week: write 1 to 7, one a day at most",
                sessions.a_week
            ));
        }
        if !(10..=90).contains(&sessions.minutes) {
            return Err(format!(
                "`{text}` asks for sessions of {} minutes: write 10 to 90",
                sessions.minutes
            ));
        }
        Ok(sessions)
    }
}

/// The time that a plan has to fit into, today and until the next lesson.
#[derive(Clone, Debug, PartialEq)]
pub struct PlanOptions {
    /// Length of the lesson in minutes, from [`SHORTEST_LESSON`] to [`LONGEST_LESSON`].
    pub minutes: u32,
    /// Practice until the next lesson.
    pub sessions: Sessions,
    /// Weeks until the next lesson, from 1 to 12.
    pub weeks: u32,
    /// Drills that the student knows from earlier lessons; they need not come first again.
    pub known: Vec<DrillKey>,
}

impl Default for PlanOptions {
    /// A lesson of 45 minutes, then 3 sessions a week of 20 minutes for 4 weeks.
    fn default() -> Self {
        Self {
            minutes: 45,
            sessions: Sessions {
                a_week: 3,
                minutes: 20,
            },
            weeks: 4,
            known: Vec::new(),
        }
    }
}

/// Why no plan could be made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PlanError {
    /// The lesson is shorter than [`SHORTEST_LESSON`] or longer than [`LONGEST_LESSON`].
    Minutes(u32),
    /// Not 1 to 12 weeks.
    Weeks(u32),
    /// Not 1 to 7 sessions a week of 10 to 90 minutes.
    Sessions(Sessions),
    /// The shot is not played there.
    Place {
        /// The shot the lesson is about.
        shot: Shot,
        /// Where it was to be.
        place: Place,
        /// Where it could be.
        instead: Place,
    },
    /// Nothing that was seen belongs to the shot the lesson is about.
    Shot {
        /// The first that was seen, by name.
        seen: String,
        /// The shot the lesson was to be about.
        shot: Shot,
    },
    /// The lesson makes no sense.
    Lesson(LessonTrouble),
}

/// The place where a shot is usually taught.
pub(crate) fn usual_place(shot: Option<Shot>) -> Place {
    match shot {
        Some(Shot::Putt) => Place::PuttingGreen,
        Some(Shot::Bunker) => Place::Bunker,
        Some(Shot::Pitch | Shot::Chip) => Place::ShortGameArea,
        Some(Shot::FullSwing | Shot::Driver | Shot::Iron) | None => Place::Range,
    }
}

/// Whether a shot can be worked on somewhere at all.
pub(super) fn goes_with(shot: Shot, place: Place) -> bool {
    match place {
        Place::PuttingGreen => matches!(shot, Shot::Putt | Shot::Chip),
        Place::Bunker => shot == Shot::Bunker,
        Place::ShortGameArea => {
            matches!(shot, Shot::Pitch | Shot::Chip | Shot::Bunker | Shot::Putt)
        }
        Place::Range | Place::Home | Place::Indoors | Place::Course => true,
    }
}

impl PlanOptions {
    /// Whether the options make sense by themselves, together, and with the library.
    ///
    /// # Errors
    ///
    /// The first that does not.
    pub(crate) fn check(&self, base: &KnowledgeBase, lesson: &Lesson) -> Result<(), PlanError> {
        if !(SHORTEST_LESSON..=LONGEST_LESSON).contains(&self.minutes) {
            return Err(PlanError::Minutes(self.minutes));
        }
        if !(1..=12).contains(&self.weeks) {
            return Err(PlanError::Weeks(self.weeks));
        }
        let Sessions { a_week, minutes } = self.sessions;
        if !(1..=7).contains(&a_week) || !(10..=90).contains(&minutes) {
            return Err(PlanError::Sessions(self.sessions));
        }
        lesson.check(base).map_err(PlanError::Lesson)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sessions_say_what_to_write_instead() {
        for text in [
            "", "x", "3", "3x", "3 20", "0x20", "8x20", "3x5", "3x500", "-1x20",
        ] {
            let error = Sessions::parse(text).expect_err(text);
            assert!(error.contains("write"), "{error}");
        }
        assert_eq!(
            Sessions::parse(" 2 X 30 "),
            Ok(Sessions {
                a_week: 2,
                minutes: 30
            })
        );
    }
}
