//! The lesson that something is asked in: made once at the door, carried whole through every room.

use crate::knowledge::{
    ConditionKey, Drill, FactKey, KnowledgeBase, Level, Place, Rung, Shot, Suits, nearest,
};
use std::collections::BTreeSet;

/// Which way a student plays.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
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

/// Whose lesson it is, about what, and where. What is left out limits nothing.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Lesson {
    /// The shot it is about.
    pub shot: Option<Shot>,
    /// Which way the student plays.
    pub handed: Option<Handed>,
    /// How far along the student is.
    pub level: Option<Level>,
    /// What the student's body asks of a drill; a drill has to suit all of it.
    pub suits: Vec<Suits>,
    /// Where it is, and where a drill has to be possible.
    pub place: Option<Place>,
    /// What there is beyond a club and balls.
    pub at_hand: Option<AtHand>,
    /// What is said of the student.
    pub facts: BTreeSet<FactKey>,
    /// Pains, injuries and limits that are known beside what is reported today.
    pub limits: Vec<ConditionKey>,
}

/// What of a lesson does not go together, or not with the library.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum LessonTrouble {
    /// A student cannot be both.
    Suits(Suits, Suits),
    /// A thing at hand that no drill needs, misspelt by the look of it.
    Thing {
        /// As it was written.
        given: String,
        /// Things that drills need, nearest first; never empty.
        nearest: Vec<String>,
    },
}

/// Why a drill is not for a lesson.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NotFor {
    /// It is for other shots.
    Shot(Shot),
    /// It cannot be done there.
    Place(Place),
    /// It needs something that there is not.
    Equipment(Vec<String>),
    /// It is for students further along, or less far.
    Level(Level),
    /// It is not made to fit this student.
    Suits(Suits),
    /// It is for such students and for nobody else.
    OnlyFor(Suits),
}

/// Whether a drill fits a student of a kind. A chair, one arm and a growing body each need a drill
/// made for them; an older body needs one as soon as the swing is no longer slow (common practice).
fn fits_student(drill: &Drill, suits: Suits) -> bool {
    drill.suits.contains(&suits) || (suits == Suits::Senior && drill.rung <= Rung::SlowWithBall)
}

/// Whether a student cannot be both.
fn contradicts(one: Suits, other: Suits) -> bool {
    matches!(
        (one, other),
        (Suits::Junior, Suits::Senior) | (Suits::Senior, Suits::Junior)
    )
}

impl Lesson {
    /// The lesson with what the facts told of the student ask of a drill, by the facts' ids: `junior`
    /// and `senior` as [`Self::suits`], `beginner` as [`Self::level`], `handed-left` as
    /// [`Self::handed`]. What was given stands: a level is not changed, and an age told does not
    /// contradict one given. Of two ages told, such as a father's beside the child's, the junior's
    /// counts, for it asks more.
    ///
    /// ```
    /// use fairwhy::knowledge::Suits;
    /// use fairwhy::lesson::Lesson;
    /// let lesson = Lesson::default().told(&["senior", "rest-fine"]);
    /// assert_eq!(lesson.suits, [Suits::Senior]);
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
        let mut facts = facts.iter();
        self.level = self
            .level
            .or_else(|| facts.clone().find_map(|fact| Level::parse(fact)));
        self.handed = self.handed.or_else(|| {
            facts.find_map(|fact| fact.strip_prefix("handed-").and_then(Handed::parse))
        });
        self
    }

    /// The lesson with what is on record of the student, for where nothing else was said.
    #[must_use]
    pub fn on_record(
        mut self,
        handed: Option<Handed>,
        level: Option<Level>,
        suits: &[Suits],
    ) -> Self {
        for suits in suits {
            if !self.suits.iter().any(|given| contradicts(*given, *suits))
                && !self.suits.contains(suits)
            {
                self.suits.push(*suits);
            }
        }
        self.level = self.level.or(level);
        self.handed = self.handed.or(handed);
        self
    }

    /// What speaks against a drill in this lesson; `None` when nothing does.
    #[must_use]
    pub fn refuses(&self, drill: &Drill) -> Option<NotFor> {
        if let Some(shot) = self.shot.filter(|shot| !drill.applies_to(Some(*shot))) {
            return Some(NotFor::Shot(shot));
        }
        if let Some(place) = self.place.filter(|place| !drill.places.contains(place)) {
            return Some(NotFor::Place(place));
        }
        if let Some(at_hand) = &self.at_hand {
            let needed = drill.equipment.iter();
            let missing: Vec<String> = needed.filter(|it| !at_hand.has(it)).cloned().collect();
            if !missing.is_empty() {
                return Some(NotFor::Equipment(missing));
            }
        }
        let levels = &drill.levels;
        let level = self
            .level
            .filter(|level| !levels.is_empty() && !levels.contains(level));
        if let Some(level) = level {
            return Some(NotFor::Level(level));
        }
        let only = &drill.only_for;
        if let Some(other) = only
            .first()
            .filter(|_| !only.iter().any(|o| self.suits.contains(o)))
        {
            return Some(NotFor::OnlyFor(*other));
        }
        let mut suits = self.suits.iter();
        suits
            .find(|suits| !fits_student(drill, **suits))
            .map(|suits| NotFor::Suits(*suits))
    }

    /// The same lesson wherever it is and whatever is at hand.
    #[must_use]
    pub fn anywhere(&self) -> Self {
        Self {
            place: None,
            at_hand: None,
            ..self.clone()
        }
    }

    /// Whether it makes sense by itself and with the library.
    ///
    /// # Errors
    ///
    /// The first thing that does not.
    pub fn check(&self, base: &KnowledgeBase) -> Result<(), LessonTrouble> {
        if self.suits.contains(&Suits::Junior) && self.suits.contains(&Suits::Senior) {
            return Err(LessonTrouble::Suits(Suits::Junior, Suits::Senior));
        }
        match self.at_hand.as_ref().and_then(|things| things.slip(base)) {
            Some((given, nearest)) => Err(LessonTrouble::Thing { given, nearest }),
            None => Ok(()),
        }
    }
}

/// What is always there.
const ALWAYS: [&str; 2] = ["club", "ball"];

/// What there is beyond a club and balls, which are always there.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct AtHand {
    /// As written, and in one spelling.
    things: Vec<(String, String)>,
}

impl AtHand {
    /// Of a list of things; an empty word stands for nothing.
    ///
    /// ```
    /// use fairwhy::lesson::AtHand;
    /// let things = AtHand::of(&["Alignment-Sticks", ""]);
    /// assert!(things.has("alignment stick") && things.has("stick") && things.has("ball"));
    /// assert!(!things.has("mirror") && !things.has("soft ball"));
    /// assert_eq!(AtHand::of(&[" "]), AtHand::default());
    /// ```
    #[must_use]
    pub fn of(words: &[impl AsRef<str>]) -> Self {
        let words = words.iter().map(AsRef::as_ref);
        let things = words.map(|word| (word.trim().to_owned(), plain(word)));
        Self {
            things: things.filter(|(_, plain)| !plain.is_empty()).collect(),
        }
    }

    /// Adds things to those that are there.
    pub fn add(&mut self, words: &[impl AsRef<str>]) {
        self.things.extend(Self::of(words).things);
    }

    /// The things as they were written.
    pub fn words(&self) -> impl Iterator<Item = &str> {
        self.things.iter().map(|(written, _)| written.as_str())
    }

    /// Whether something that a drill needs is there: by its whole name, or one of the two by its last
    /// words, as a stick is an alignment stick.
    #[must_use]
    pub fn has(&self, needed: &str) -> bool {
        let needed = plain(needed);
        ALWAYS.contains(&needed.as_str())
            || self.things.iter().any(|(_, thing)| same(thing, &needed))
    }

    /// Things that no drill of a library needs, as they were written.
    #[must_use]
    pub fn unknown(&self, base: &KnowledgeBase) -> Vec<&str> {
        let known = things_of(base);
        let needless = self.things.iter().filter(|(_, thing)| {
            !ALWAYS.contains(&thing.as_str()) && !known.iter().any(|known| same(thing, known))
        });
        needless.map(|(written, _)| written.as_str()).collect()
    }

    /// A word that no drill knows is harmless, unless it is a slip for one that drills do know; then
    /// the word, and those.
    fn slip(&self, base: &KnowledgeBase) -> Option<(String, Vec<String>)> {
        let known = things_of(base);
        let unknown = self.things.iter().filter(|(_, thing)| {
            !ALWAYS.contains(&thing.as_str()) && !known.iter().any(|known| same(thing, known))
        });
        unknown.into_iter().find_map(|(given, thing)| {
            // Half of a longer word is likeness enough for an id, and too little here: a "net" is
            // not a "notebook".
            let nearest: Vec<String> = nearest(thing, known.iter().map(String::as_str), 3)
                .into_iter()
                .filter(|known| strsim::osa_distance(thing, known) <= 2 && thing.len() > 3)
                .map(str::to_owned)
                .collect();
            (!nearest.is_empty()).then(|| (given.clone(), nearest))
        })
    }
}

/// Everything that some drill needs, in one spelling.
fn things_of(base: &KnowledgeBase) -> BTreeSet<String> {
    let things = base.drills.iter().flat_map(|drill| &drill.equipment);
    things.map(|word| plain(word)).collect()
}

/// Whether two things in one spelling are the same, or one is named by the last words of the other.
/// What is always there names nothing else: a soft ball has to be brought.
fn same(one: &str, other: &str) -> bool {
    let ends = |long: &str, short: &str| {
        !ALWAYS.contains(&short)
            && long
                .strip_suffix(short)
                .is_some_and(|rest| rest.ends_with(' '))
    };
    one == other || ends(one, other) || ends(other, one)
}

/// One spelling for a thing: lower case, one blank, no plural.
fn plain(text: &str) -> String {
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_thing_has_one_spelling() {
        assert_eq!(plain(" Alignment-Sticks "), "alignment stick");
        assert_eq!(plain("glass"), "glass");
        assert_eq!(plain("Tees"), "tee");
    }

    #[test]
    fn what_is_told_adds_to_what_is_given_and_never_contradicts_it() {
        let told = |given: &[Suits], facts: &[&str]| {
            let lesson = Lesson {
                suits: given.to_vec(),
                ..Lesson::default()
            };
            lesson.told(facts)
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
        assert_eq!(told(&[], &["handed-left"]).handed, Some(Handed::Left));
        let given = Lesson {
            level: Some(Level::Advanced),
            ..Lesson::default()
        };
        assert_eq!(given.told(&["beginner"]).level, Some(Level::Advanced));
    }
}
