//! What a plan has to fit into.

use crate::knowledge::{ConditionKey, DrillKey, KnowledgeBase, Level, Place, Shot, Suits, nearest};
use std::collections::BTreeSet;

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

/// What a plan has to fit into.
#[derive(Clone, Debug, PartialEq)]
pub struct PlanOptions {
    /// Length of the lesson in minutes, from [`SHORTEST_LESSON`] to [`LONGEST_LESSON`].
    pub minutes: u32,
    /// Where the lesson is; `None` takes the usual place for the shot.
    pub place: Option<Place>,
    /// What there is beyond a club and balls; `None` does not limit it, an empty list means nothing.
    pub have: Option<Vec<String>>,
    /// Practice until the next lesson.
    pub sessions: Sessions,
    /// Weeks until the next lesson, from 1 to 12.
    pub weeks: u32,
    /// How far along the student is; `None` does not limit the drills.
    pub level: Option<Level>,
    /// What the student's body asks of a drill.
    pub suits: Vec<Suits>,
    /// Pains, injuries and limits beyond those reported in the diagnosis.
    pub limits: Vec<ConditionKey>,
    /// Drills that the student knows from earlier lessons; they need not come first again.
    pub known: Vec<DrillKey>,
}

impl Default for PlanOptions {
    /// A lesson of 45 minutes, then 3 sessions a week of 20 minutes for 4 weeks.
    fn default() -> Self {
        Self {
            minutes: 45,
            place: None,
            have: None,
            sessions: Sessions {
                a_week: 3,
                minutes: 20,
            },
            weeks: 4,
            level: None,
            suits: Vec::new(),
            limits: Vec::new(),
            known: Vec::new(),
        }
    }
}

/// Why no plan could be made.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PlanError {
    /// The lesson is too short or too long.
    #[error(
        "a lesson of {0} minutes cannot be planned: write {SHORTEST_LESSON} to {LONGEST_LESSON} (--minutes)"
    )]
    Minutes(u32),
    /// Too few or too many weeks.
    #[error("{0} weeks until the next lesson cannot be planned: write 1 to 12 (--weeks)")]
    Weeks(u32),
    /// Sessions out of range.
    #[error(
        "sessions {0}x{1} cannot be planned: write 1 to 7 a week of 10 to 90 minutes (--sessions)"
    )]
    Sessions(u32, u32),
    /// A student cannot be both.
    #[error("a student cannot suit both `{0}` and `{1}`: name one of them (--suits)")]
    Suits(Suits, Suits),
    /// The shot is not played there.
    #[error("a {shot} is not practised on a {place}: write --place {instead}, or another --shot", shot = .shot.words(), place = .place.words())]
    Place {
        /// The shot the lesson is about.
        shot: Shot,
        /// Where it was to be.
        place: Place,
        /// Where it could be.
        instead: Place,
    },
    /// A misspelt piece of equipment.
    #[error("no drill needs `{word}`: did you mean {}? (--have)", .nearest.iter().map(|word| format!("`{word}`")).collect::<Vec<_>>().join(" or "))]
    Equipment {
        /// What was written.
        word: String,
        /// Known words near it, nearest first; never empty.
        nearest: Vec<String>,
    },
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
fn goes_with(shot: Shot, place: Place) -> bool {
    match place {
        Place::PuttingGreen => matches!(shot, Shot::Putt | Shot::Chip),
        Place::Bunker => shot == Shot::Bunker,
        Place::ShortGameArea => {
            matches!(shot, Shot::Pitch | Shot::Chip | Shot::Bunker | Shot::Putt)
        }
        Place::Range | Place::Home | Place::Indoors | Place::Course => true,
    }
}

/// One spelling for a piece of equipment: lower case, one blank, no plural.
pub(crate) fn equipment_word(text: &str) -> String {
    let text = text
        .to_lowercase()
        .replace(['-', '_'], " ")
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    match text.strip_suffix('s') {
        Some(one) if one.len() >= 3 && !one.ends_with('s') => one.to_owned(),
        _ => text,
    }
}

/// Whether a student cannot be both.
fn contradicts(one: Suits, other: Suits) -> bool {
    matches!(
        (one, other),
        (Suits::Junior, Suits::Senior) | (Suits::Senior, Suits::Junior)
    )
}

/// What is always there.
const ALWAYS: [&str; 2] = ["club", "ball"];

/// What there is, in one spelling; `None` when it is not limited.
pub(crate) fn at_hand(options: &PlanOptions) -> Option<BTreeSet<String>> {
    options.have.as_ref().map(|have| {
        have.iter()
            .map(|word| equipment_word(word))
            .chain(ALWAYS.map(str::to_owned))
            .collect()
    })
}

impl PlanOptions {
    /// The options with what the facts told of the student ask of a drill, by the facts' ids: `junior`
    /// and `senior` as [`Self::suits`], `beginner` as [`Self::level`]. What was given stands: a level is
    /// not changed, and an age told does not contradict one given. Of two ages told, such as a father's
    /// beside the child's, the junior's counts, for it asks more.
    ///
    /// ```
    /// use fairwhy::knowledge::Suits;
    /// use fairwhy::plan::PlanOptions;
    /// let options = PlanOptions::default().told(&["senior", "rest-fine"]);
    /// assert_eq!(options.suits, [Suits::Senior]);
    /// ```
    #[must_use]
    pub fn told(mut self, facts: &[&str]) -> Self {
        for suits in Suits::ALL.iter().rev() {
            if facts.contains(&suits.as_str())
                && !self.suits.iter().any(|given| contradicts(*given, *suits))
                && !self.suits.contains(suits)
            {
                self.suits.push(*suits);
            }
        }
        self.level = self
            .level
            .or_else(|| facts.iter().find_map(|fact| Level::parse(fact)));
        self
    }

    /// Whether the options make sense by themselves, together, and with the library.
    ///
    /// # Errors
    ///
    /// The first that does not.
    pub(crate) fn check(&self, base: &KnowledgeBase, shot: Option<Shot>) -> Result<(), PlanError> {
        if !(SHORTEST_LESSON..=LONGEST_LESSON).contains(&self.minutes) {
            return Err(PlanError::Minutes(self.minutes));
        }
        if !(1..=12).contains(&self.weeks) {
            return Err(PlanError::Weeks(self.weeks));
        }
        let Sessions { a_week, minutes } = self.sessions;
        if !(1..=7).contains(&a_week) || !(10..=90).contains(&minutes) {
            return Err(PlanError::Sessions(a_week, minutes));
        }
        if self.suits.contains(&Suits::Junior) && self.suits.contains(&Suits::Senior) {
            return Err(PlanError::Suits(Suits::Junior, Suits::Senior));
        }
        if let (Some(shot), Some(place)) = (shot, self.place)
            && !goes_with(shot, place)
        {
            return Err(PlanError::Place {
                shot,
                place,
                instead: usual_place(Some(shot)),
            });
        }
        self.check_equipment(base)
    }

    /// A word that no drill knows is harmless, unless it is a slip for one that drills do know.
    fn check_equipment(&self, base: &KnowledgeBase) -> Result<(), PlanError> {
        let known: BTreeSet<String> = base
            .drills
            .iter()
            .flat_map(|drill| &drill.equipment)
            .map(|word| equipment_word(word))
            .collect();
        for word in self.have.iter().flatten() {
            let plain = equipment_word(word);
            if known.contains(&plain) || ALWAYS.contains(&plain.as_str()) {
                continue;
            }
            // Half of a longer word is likeness enough for an id, and too little here: a "net" is
            // not a "notebook".
            let nearest: Vec<String> = nearest(&plain, known.iter().map(String::as_str), 3)
                .into_iter()
                .filter(|known| strsim::osa_distance(&plain, known) <= 2 && plain.len() > 3)
                .map(str::to_owned)
                .collect();
            if !nearest.is_empty() {
                return Err(PlanError::Equipment {
                    word: word.clone(),
                    nearest,
                });
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equipment_has_one_spelling() {
        assert_eq!(equipment_word(" Alignment-Sticks "), "alignment stick");
        assert_eq!(equipment_word("glass"), "glass");
        assert_eq!(equipment_word("Tees"), "tee");
    }

    #[test]
    fn what_is_told_adds_to_what_is_given_and_never_contradicts_it() {
        let told = |given: &[Suits], facts: &[&str]| {
            let options = PlanOptions {
                suits: given.to_vec(),
                ..PlanOptions::default()
            };
            options.told(facts)
        };
        assert_eq!(told(&[], &["junior"]).suits, [Suits::Junior]);
        assert_eq!(told(&[Suits::Junior], &["junior"]).suits, [Suits::Junior]);
        assert_eq!(told(&[Suits::Senior], &["junior"]).suits, [Suits::Senior]);
        assert_eq!(told(&[], &["senior", "junior"]).suits, [Suits::Junior]);
        assert_eq!(
            told(&[Suits::Seated], &["senior"]).suits,
            [Suits::Seated, Suits::Senior]
        );
        assert_eq!(told(&[], &["beginner"]).level, Some(Level::Beginner));
        let given = PlanOptions {
            level: Some(Level::Advanced),
            ..PlanOptions::default()
        };
        assert_eq!(given.told(&["beginner"]).level, Some(Level::Advanced));
    }

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
