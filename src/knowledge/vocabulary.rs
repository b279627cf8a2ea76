//! The closed lists of the trade that an entry is filed under: stages, shots, views, rungs.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Writes an enum whose values have one kebab-case spelling each, used in files, in the command
/// line and in output alike.
macro_rules! spelled {
    ($(#[$meta:meta])* $name:ident { $($(#[$vmeta:meta])* $variant:ident = $text:literal / $words:literal),+ $(,)? }) => {
        $(#[$meta])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
        pub enum $name {
            $($(#[$vmeta])* #[serde(rename = $text)] $variant),+
        }

        impl $name {
            /// Every value, in the order the trade meets them.
            pub const ALL: &'static [$name] = &[$($name::$variant),+];

            /// The one spelling used in files, on the command line and in JSON.
            #[must_use]
            pub fn as_str(self) -> &'static str {
                match self { $($name::$variant => $text),+ }
            }

            /// The same in words, for a sentence.
            #[must_use]
            pub fn words(self) -> &'static str {
                match self { $($name::$variant => $words),+ }
            }

            /// The value with this spelling, if there is one.
            #[must_use]
            pub fn parse(text: &str) -> Option<Self> {
                Self::ALL.iter().copied().find(|v| v.as_str() == text)
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.pad(self.as_str())
            }
        }
    };
}

spelled! {
    /// When in the motion, or where else, a condition is met. The order is the order of a lesson:
    /// what is set before the motion, then the motion, then what it does to the ball.
    Stage {
        /// What the student means to do, or believes.
        Concept = "concept" / "concept",
        /// What the body can do.
        Body = "body" / "body",
        /// What is in the hands.
        Equipment = "equipment" / "equipment",
        /// Time taken, and its parts.
        Tempo = "tempo" / "tempo",
        /// The hold on the club.
        Grip = "grip" / "grip",
        /// Aim, ball position, posture, stance.
        Setup = "setup" / "set-up",
        /// First movement until the shaft is level.
        Takeaway = "takeaway" / "takeaway",
        /// From there to the top.
        Backswing = "backswing" / "backswing",
        /// The end of the backswing.
        Top = "top" / "top of the backswing",
        /// The change of direction.
        Transition = "transition" / "transition",
        /// From the top until just before the ball.
        Downswing = "downswing" / "downswing",
        /// The ball and the turf.
        Impact = "impact" / "impact",
        /// Just after the ball.
        FollowThrough = "follow-through" / "follow-through",
        /// The end of the motion.
        Finish = "finish" / "finish",
        /// The motion as a whole.
        WholeSwing = "whole-swing" / "whole swing",
        /// Set-up and motion of chips, pitches and sand shots.
        ShortGame = "short-game" / "short game",
        /// Set-up and motion of putts.
        PuttingStroke = "putting-stroke" / "putting stroke",
        /// Where club, ball and turf met.
        Strike = "strike" / "strike",
        /// What the ball did.
        BallFlight = "ball-flight" / "ball flight",
    }
}

spelled! {
    /// Which shot an entry applies to. `full-swing` covers every full shot with any club.
    Shot {
        /// Any full shot.
        FullSwing = "full-swing" / "full swing",
        /// The longest club, from a tee.
        Driver = "driver" / "driver",
        /// A full shot with an iron from the ground.
        Iron = "iron" / "iron",
        /// A lofted part shot.
        Pitch = "pitch" / "pitch",
        /// A low short shot that mostly rolls.
        Chip = "chip" / "chip",
        /// A greenside sand shot.
        Bunker = "bunker" / "bunker shot",
        /// A stroke on the green.
        Putt = "putt" / "putt",
    }
}

impl Shot {
    /// Whether an entry filed under `self` applies to a lesson about `other`: the same shot, or one
    /// of them a full swing and the other a kind of it.
    #[must_use]
    pub fn applies_to(self, other: Shot) -> bool {
        let full = |s: Shot| matches!(s, Shot::FullSwing | Shot::Driver | Shot::Iron);
        match (self, other) {
            (a, b) if a == b => true,
            (Shot::FullSwing, b) => full(b),
            (a, Shot::FullSwing) => full(a),
            _ => false,
        }
    }
}

spelled! {
    /// Where a condition can be seen from, cheapest look first.
    View {
        /// Watching the ball.
        BallFlight = "ball-flight" / "watch the ball",
        /// Listening, or asking what it felt like.
        FeelOrSound = "feel-or-sound" / "listen and feel",
        /// Asking the student.
        AskStudent = "ask-student" / "ask",
        /// Marks on face, sole, turf or sand.
        StrikeMarks = "strike-marks" / "look at the marks",
        /// Eye or camera opposite the chest.
        FaceOn = "face-on" / "from face-on",
        /// Eye or camera on the hand line behind the player.
        DownTheLine = "down-the-line" / "from down the line",
        /// Looking at, or measuring, the club.
        EquipmentCheck = "equipment-check" / "check the club",
        /// A simple painless check by hand or stance; a screen, never a diagnosis.
        HandsOnScreen = "hands-on-screen" / "screen by hand",
    }
}

spelled! {
    /// What sort of remedy a drill is.
    RemedyKind {
        /// Something repeated until it holds.
        Drill = "drill" / "drill",
        /// A change of grip, aim, ball, stance or posture.
        SetupChange = "setup-change" / "set-up change",
        /// A cue for the next swing.
        Feel = "feel" / "feel",
        /// A look at, or a change of, the club.
        ClubCheck = "club-check" / "club check",
        /// Hand over to somebody with the right licence.
        Referral = "referral" / "referral",
    }
}

spelled! {
    /// What body words do to others, where they report nothing themselves.
    BodyRole {
        /// May stand between any two words.
        Filler = "filler" / "filler",
        /// Words of golf: what shares a word with them reports nothing.
        Trade = "trade" / "words of golf",
        /// Says that what follows is not so.
        Denial = "denial" / "denial",
        /// Denies only in a double denial, such as `hardly without pain`.
        WeakDenial = "weak-denial" / "weak denial",
        /// Holds a denial and denies nothing, such as `not only`.
        NoDenial = "no-denial" / "no denial",
        /// May stand between a denial and what it denies.
        Carries = "carries" / "carries a denial",
        /// Says of what stands before that it is over.
        Over = "over" / "says that it is over",
        /// Says of what follows that it was so.
        UsedTo = "used-to" / "says that it was so",
        /// Takes a denial back, such as `unless`.
        Except = "except" / "takes a denial back",
        /// Says that it is there again, or worse.
        Again = "again" / "says that it is back",
        /// Lets a denial reach on to what follows, such as `or`.
        ReachesOn = "reaches-on" / "lets a denial reach on",
        /// Says that it is long ago.
        Old = "old" / "long ago",
        /// Says that it is fresh.
        New = "new" / "fresh",
        /// Of a student's record: a limit, and no complaint.
        Limit = "limit" / "a limit on record",
        /// Words of any sort that are not slips of the finger for body words.
        Known = "known" / "known words",
        /// Not said but answered: what is told a student who is sent to somebody.
        Answer = "answer" / "answer",
    }
}

spelled! {
    /// Whom to send a student to, and how soon.
    Refer {
        /// Call for help at once.
        Emergency = "emergency" / "call for help at once",
        /// Stop, and see a licensed health professional.
        Professional = "professional" / "see a licensed health professional",
        /// Ask what the doctor allows, then only what is gentle.
        Ask = "ask" / "ask what the doctor allows",
    }
}

spelled! {
    /// What it says of a student that something was seen at a stage.
    WhenSeen {
        /// It is there for every shot, so it acts on what it stands behind.
        Acts = "acts" / "acts",
        /// Who reports it asks what is behind it.
        Asks = "asks" / "asks",
    }
}

spelled! {
    /// How near a drill is to the shot as played, in the order they are climbed.
    Rung {
        /// No ball.
        Rehearsal = "rehearsal" / "rehearsal",
        /// A ball, in slow motion or a part swing.
        SlowWithBall = "slow-with-ball" / "slow with a ball",
        /// About half speed.
        HalfSpeed = "half-speed" / "half speed",
        /// Full speed.
        FullSpeed = "full-speed" / "full speed",
        /// A target, a routine, one ball at a time.
        Transfer = "transfer" / "as on the course",
    }
}

spelled! {
    /// Where a drill can be done.
    Place {
        /// A practice ground with balls to hit.
        Range = "range" / "range",
        /// Indoors or in the garden, no full shots.
        Home = "home" / "home",
        /// A practice green.
        PuttingGreen = "putting-green" / "putting green",
        /// Short grass around a green.
        ShortGameArea = "short-game-area" / "short-game area",
        /// A practice bunker.
        Bunker = "bunker" / "bunker",
        /// A hitting bay or gym with a net.
        Indoors = "indoors" / "indoors",
        /// During play.
        Course = "course" / "course",
    }
}

spelled! {
    /// Students a remedy is made for, or made to fit.
    Suits {
        /// Done from a chair or a wheelchair.
        Seated = "seated" / "seated players",
        /// Done with one arm.
        OneArm = "one-arm" / "one-armed players",
        /// Kind to an older body.
        Senior = "senior" / "seniors",
        /// Short, playful, no load.
        Junior = "junior" / "juniors",
    }
}

spelled! {
    /// How far along the student is.
    Level {
        /// First season.
        Beginner = "beginner" / "beginner",
        /// Plays, with a handicap in double figures or above.
        Improver = "improver" / "improver",
        /// Single-figure handicap or better.
        Advanced = "advanced" / "advanced",
    }
}

spelled! {
    /// Whether an entry has proved itself.
    Status {
        /// Being tried out; says so wherever it appears.
        Trial = "trial" / "on trial",
        /// In use.
        Approved = "approved" / "approved",
    }
}

spelled! {
    /// Where on the face a ball is met, off its centre.
    FaceSpot {
        /// Towards the end of the head.
        Toe = "toe" / "toe",
        /// Towards the shaft.
        Heel = "heel" / "heel",
        /// Below the centre.
        Low = "low" / "low on the face",
        /// Above the centre.
        High = "high" / "high on the face",
    }
}

spelled! {
    /// Which side of its sound range a measurement shows the condition on.
    Side {
        /// Less than the range.
        Below = "below" / "below",
        /// More than the range.
        Above = "above" / "above",
        /// Either.
        Outside = "outside" / "outside",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_full_swing_covers_driver_and_iron_but_not_each_other() {
        assert!(Shot::FullSwing.applies_to(Shot::Iron));
        assert!(Shot::Driver.applies_to(Shot::FullSwing));
        assert!(!Shot::Driver.applies_to(Shot::Iron));
        assert!(!Shot::FullSwing.applies_to(Shot::Putt));
    }

    #[test]
    fn every_spelling_survives_the_round_trip() {
        for stage in Stage::ALL {
            assert_eq!(Stage::parse(stage.as_str()), Some(*stage));
        }
        assert_eq!(View::parse("face on"), None);
    }
}
