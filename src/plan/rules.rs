//! The rules of practice, each with what it rests on and what speaks against it.
//!
//! A rule is a function that gives the plan a number or a sentence, and a [`Rule`] that says where
//! it comes from. `basis` says what of the publication was read. Where studies disagree the rule
//! says so: most of these effects are small outside the laboratory, and the plan leans on none of
//! them alone.

use crate::knowledge::{Level, Suits, View};

/// What a rule of the plan rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rule {
    /// A name for it.
    pub name: &'static str,
    /// What it says, in a sentence.
    pub says: &'static str,
    /// Authors (year). Where; or `common practice`.
    pub source: &'static str,
    /// What of it was read.
    pub basis: &'static str,
    /// What speaks against it, or how little it shows; empty when nothing is known to.
    pub but: &'static str,
}

/// Every rule that a plan can lean on.
pub const RULES: &[&Rule] = &[
    &ONE_CHANGE,
    &WARM_UP,
    &PRACTICE_ORDER,
    &MIXING,
    &SPACING,
    &OUTSIDE_CUES,
    &FEW_CUES,
    &FEEDBACK,
    &CALL_IT,
    &LADDER,
    &TEN_BALLS,
    &TARGET_SHOTS,
    &VOLUME,
    &DIP,
    &EMERGENCY,
    &LASTING_PAIN,
    &REFER,
    &JUNIORS,
    &SENIORS,
    &FILM,
];

/// One change at a time.
pub const ONE_CHANGE: Rule = Rule {
    name: "one change at a time",
    says: "One change a lesson, and one or two cues for it; a set-up change may come along.",
    source: "common practice; Cowan N. (2001). Behavioral and Brain Sciences 24:87-114 puts working memory at about four items",
    basis: "from memory",
    but: "",
};

/// At most this many priorities in one plan; see [`ONE_CHANGE`].
#[must_use]
pub fn most_priorities() -> usize {
    2
}

/// Warm-up before full swings.
pub const WARM_UP: Rule = Rule {
    name: "ten easy minutes before full swings",
    says: "No full swing at speed before ten minutes of easy movement; slow drills count.",
    source: "Gosheger G. et al. (2003). American Journal of Sports Medicine 31(3):438-443; Fradkin A. et al. (2006). Medicine and Science in Sports and Exercise 38(5) Suppl, abstract 2029",
    basis: "abstract read; the second, a trial, known only from a digest of a conference abstract",
    but: "The warm-up trial was published as an abstract only.",
};

/// Minutes of easy movement that come before full swings at speed; see [`WARM_UP`].
#[must_use]
pub fn easy_minutes_before_full_swings() -> f64 {
    10.0
}

/// How much of a practice session is warm-up, in minutes: a fifth, from 3 to 10. Our own choice
/// where no full swings follow; where they do, see [`easy_minutes_before_full_swings`].
#[must_use]
pub fn session_warm_up(minutes: u32) -> f64 {
    (f64::from(minutes) / 5.0).round().clamp(3.0, 10.0)
}

/// How practice is mixed, from the first third of the sessions to the last.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum PracticeOrder {
    /// One task until it is done, then the next.
    Blocked,
    /// A few of each in turn, always in the same order.
    Serial,
    /// One of each at a time, in no order.
    Random,
}

impl PracticeOrder {
    /// The word for it in JSON.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            PracticeOrder::Blocked => "blocked",
            PracticeOrder::Serial => "serial",
            PracticeOrder::Random => "random",
        }
    }

    /// What to do, in a sentence.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            PracticeOrder::Blocked => "One task at a time. Stay with it, then go on to the next.",
            PracticeOrder::Serial => {
                "Three tries of one task, then three of the next, round and round. Change the target each round."
            }
            PracticeOrder::Random => {
                "A new task or a new target for each try. Never the same twice in a row."
            }
        }
    }
}

/// From blocked to mixed.
pub const PRACTICE_ORDER: Rule = Rule {
    name: "from blocked to mixed",
    says: "The first third of the sessions one task at a time, the second third in turn, the last third mixed.",
    source: "Porter J., Magill R. (2010). Journal of Sports Sciences 28(12):1277-1285",
    basis: "abstract read",
    but: "Other golf studies found no effect of order: Dias G., Mendes R. (2010). Revista Brasileira de Educacao Fisica e Esporte; Coker C. (2010), a conference abstract, in which three tries a target in turn gained most.",
};

/// Little weight on mixing.
pub const MIXING: Rule = Rule {
    name: "little weight on mixing",
    says: "Mixing may help what is kept; nothing else in the plan is bent for it, and for juniors it is left out.",
    source: "Czyz S. et al. (2024). Scientific Reports 14:15974; Czyz S. et al. (2024). Frontiers in Psychology 15:1377122; Ammar A. et al. (2024). Educational Psychology Review",
    basis: "abstracts read",
    but: "Large in the laboratory (Shea J., Morgan R. (1979), from memory), about a third of a standard deviation and not significant in applied settings, near nothing in the young.",
};

/// The order of practice in session `index` (from 0) of `of`; see [`PRACTICE_ORDER`]. A junior is
/// never asked to mix at random, and gets half and half of the other two; see [`MIXING`].
#[must_use]
pub fn practice_order(index: u32, of: u32, junior: bool) -> PracticeOrder {
    let parts = if junior { 2 } else { 3 };
    match index * parts / of.max(1) {
        0 => PracticeOrder::Blocked,
        1 => PracticeOrder::Serial,
        _ => PracticeOrder::Random,
    }
}

/// Short and often.
pub const SPACING: Rule = Rule {
    name: "short and often",
    says: "Spread the sessions over the week; never two on one day.",
    source: "Baddeley A., Longman D. (1978). Ergonomics 21:627-635; Lee T., Genovese E. (1988). Research Quarterly for Exercise and Sport 59:277-287",
    basis: "abstract of a replication read; abstract read",
    but: "The first is about typing, and the second gives a direction and no size for golf.",
};

/// The days of the week, from 1 to 7, on which `a_week` sessions fall, as far apart as they can be;
/// see [`SPACING`]. At most 7.
#[must_use]
pub fn days(a_week: u32) -> Vec<u32> {
    let a_week = a_week.clamp(1, 7);
    (0..a_week)
        .map(|session| session * 7 / a_week + 1)
        .collect()
}

/// Cues about something outside the body.
pub const OUTSIDE_CUES: Rule = Rule {
    name: "cues outside the body first",
    says: "Of the feels a drill offers, those about club, ball, ground or target come first; a feel of the body is allowed, most of all to a beginner.",
    source: "Wulf G., Lauterbach B., Toole T. (1999). Research Quarterly for Exercise and Sport 70(2):120-126; Chua L.-K. et al. (2021). Psychological Bulletin 147:618",
    basis: "abstracts read",
    but: "The same data corrected for what goes unpublished leave next to nothing (McKay B. et al. (2024). Psychological Bulletin 150(11):1347-1362), and golfers of handicap 26 did better with a cue about themselves (Perkins-Ceccato N. et al. (2003). Journal of Sports Sciences 21:593-600). A preference, not a law.",
};

/// Few cues.
pub const FEW_CUES: Rule = Rule {
    name: "one or two cues",
    says: "One image a drill; two at most.",
    source: "Liao C., Masters R. (2001). Journal of Sports Sciences 19(5):307-319; common practice",
    basis: "abstract read",
    but: "",
};

/// Words for parts of the body; a cue that names one and nothing outside is a cue about the body.
const BODY_WORDS: &[&str] = &[
    "arm",
    "arms",
    "back",
    "belly",
    "body",
    "chest",
    "chin",
    "elbow",
    "elbows",
    "eye",
    "eyes",
    "feet",
    "finger",
    "fingers",
    "foot",
    "forearm",
    "forearms",
    "hand",
    "hands",
    "head",
    "heel",
    "heels",
    "hip",
    "hips",
    "knee",
    "knees",
    "leg",
    "legs",
    "neck",
    "palm",
    "palms",
    "pelvis",
    "rib",
    "ribs",
    "shoulder",
    "shoulders",
    "spine",
    "thigh",
    "thighs",
    "thumb",
    "thumbs",
    "toe",
    "toes",
    "torso",
    "trunk",
    "wrist",
    "wrists",
];

/// Whether a cue speaks of nothing but the student's own body; see [`OUTSIDE_CUES`]. Likenesses
/// ("like a screw coming up") count as outside.
#[must_use]
pub fn is_about_the_body(cue: &str) -> bool {
    let lower = cue.to_lowercase();
    let mut words = lower.split(|c: char| !c.is_alphabetic());
    let body = words.clone().any(|word| BODY_WORDS.contains(&word));
    let outside = words.any(|word| {
        matches!(
            word,
            "ball"
                | "club"
                | "clubface"
                | "clubhead"
                | "face"
                | "shaft"
                | "target"
                | "ground"
                | "turf"
                | "grass"
                | "hole"
                | "flag"
                | "stick"
                | "towel"
                | "wall"
                | "line"
                | "like"
                | "tee"
        )
    });
    body && !outside
}

/// The cues to give, at most two, one to a student who is past the start; those outside the body
/// first, else as the drill lists them. See [`OUTSIDE_CUES`] and [`FEW_CUES`].
#[must_use]
pub fn cues(feels: &[String], level: Option<Level>) -> Vec<String> {
    let most = if level == Some(Level::Beginner) { 2 } else { 1 };
    let mut sorted: Vec<&String> = feels.iter().collect();
    sorted.sort_by_key(|cue| is_about_the_body(cue));
    sorted.into_iter().take(most).cloned().collect()
}

/// Feedback that fades.
pub const FEEDBACK: Rule = Rule {
    name: "feedback that fades",
    says: "Look at the result of every try at first, then of every second, then sum up after every fifth.",
    source: "Winstein C., Schmidt R. (1990). Journal of Experimental Psychology: Learning, Memory, and Cognition 16:677-691; Aoyagi Y. et al. (2019). Journal of Physical Therapy Science 31(8):687-691",
    basis: "abstracts read",
    but: "Scores while practising are lower for it.",
};

/// Call it before you look.
pub const CALL_IT: Rule = Rule {
    name: "call it before you look",
    says: "Say how the try was before checking it.",
    source: "a force-matching task with 52 adults, Journal of Physical Education (abstract seen; authors not noted)",
    basis: "abstract read",
    but: "One study, and no golf.",
};

/// How often to check, in the words of the student's sheet; see [`FEEDBACK`] and [`CALL_IT`].
#[must_use]
pub fn feedback(order: PracticeOrder) -> &'static str {
    match order {
        PracticeOrder::Blocked => "Check each try.",
        PracticeOrder::Serial => "Say how it was, then check each second try.",
        PracticeOrder::Random => "Say how it was. Check after each fifth try.",
    }
}

/// The ladder.
pub const LADDER: Rule = Rule {
    name: "the ladder",
    says: "No ball, slow, half speed, full speed, then as on the course; go up when the check holds, back down when it does not.",
    source: "common practice; starting where few errors happen: Maxwell J. et al. (2001); difficulty to fit the learner: Guadagnoli M., Lee T. (2004). Journal of Motor Behavior 36(2):212-224",
    basis: "the first from memory, the abstract of the second read",
    but: "",
};

/// What has to be met before going a rung up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Criterion {
    /// Good ones.
    pub hits: u32,
    /// Out of how many.
    pub tries: u32,
}

/// What may stand between `of` and the number of tries.
const BESIDE_TRIES: [&str; 9] = [
    "the", "last", "first", "next", "those", "these", "your", "all", "any",
];

/// The criterion in a drill's check, such as `8 of 10`; eight of ten where there is no check, and none where
/// the check counts otherwise, such as `5 in a row`. See [`LADDER`].
///
/// ```
/// use fairwhy::plan::rules::criterion;
/// let counts = |check: &str| criterion(check).map(|counted| (counted.hits, counted.tries));
/// assert_eq!(counts("Heel lands on the mark in 7 of 10."), Some((7, 10)));
/// assert_eq!(counts("In 9 of the last 12 the mark is covered."), Some((9, 12)));
/// assert_eq!(counts(""), Some((8, 10)));
/// assert_eq!(counts("Five putts in a row drop."), None);
/// ```
#[must_use]
pub fn criterion(check: &str) -> Option<Criterion> {
    if check.trim().is_empty() {
        return Some(Criterion { hits: 8, tries: 10 });
    }
    let words: Vec<&str> = check
        .split(|c: char| c.is_whitespace() || c == ',' || c == '.' || c == ':' || c == ';')
        .filter(|word| !word.is_empty())
        .collect();
    let number = |at: usize| words.get(at)?.parse::<u32>().ok();
    // `8 of 10`, `8 stops of the last 10`, `7 out of your 12`.
    let tries_from = |at: usize| {
        let of = (at..at + 3).find(|at| words.get(*at) == Some(&"of"))?;
        let beside = |at: &usize| {
            words
                .get(*at)
                .is_some_and(|word| BESIDE_TRIES.contains(word))
        };
        let behind = (of + 1..).take_while(beside).count();
        number(of + 1 + behind)
    };
    (0..words.len()).find_map(|at| {
        let hits = number(at)?;
        let tries = tries_from(at + 1)?;
        (hits > 0 && hits <= tries && (3..=100).contains(&tries))
            .then_some(Criterion { hits, tries })
    })
}

/// How little ten balls prove.
pub const TEN_BALLS: Rule = Rule {
    name: "ten balls prove little",
    says: "A criterion met once is a hint; met twice running it is worth going up for.",
    source: "Wilson E. B. (1927). Journal of the American Statistical Association 22:209-212",
    basis: "formula from memory; figures worked from it",
    but: "",
};

/// What meeting a criterion says of the true rate; see [`TEN_BALLS`].
#[must_use]
pub fn how_little_it_proves(criterion: Criterion) -> String {
    let Criterion { hits, tries } = criterion;
    let share = |(low, high): (f64, f64)| format!("{:.0} to {:.0} %", low * 100.0, high * 100.0);
    format!(
        "{hits} of {tries} fits a true rate of anything from {}; the same twice running, from {}.",
        share(super::wilson(hits, tries)),
        share(super::wilson(hits * 2, tries * 2))
    )
}

/// End on target shots.
pub const TARGET_SHOTS: Rule = Rule {
    name: "end on target and routine",
    says: "Close each session with a few shots at a target, with the whole routine.",
    source: "common practice; a swing is few parts held tightly together, so parts go back into the whole soon: Naylor J., Briggs G. (1963), Fontana F. et al. (2009). Perceptual and Motor Skills 109:517-530",
    basis: "abstract and introduction read",
    but: "",
};

/// How much.
pub const VOLUME: Rule = Rule {
    name: "how much",
    says: "At most 80 balls a session, 40 for a junior, with a rest between balls.",
    source: "common practice; rest between tries: Lee T., Genovese E. (1988). Research Quarterly for Exercise and Sport 59:277-287",
    basis: "abstract read",
    but: "",
};

/// The most balls in one session; see [`VOLUME`].
#[must_use]
pub fn most_balls(junior: bool) -> u32 {
    if junior { 40 } else { 80 }
}

/// Seconds between balls: half a minute, a full one for an older player; see [`VOLUME`] and
/// [`SENIORS`].
#[must_use]
pub fn rest_seconds(senior: bool) -> u32 {
    if senior { 60 } else { 30 }
}

/// Expect a dip.
pub const DIP: Rule = Rule {
    name: "expect a dip",
    says: "It may get worse before it gets better; judge the change after two weeks or more.",
    source: "Guadagnoli M., Holcomb W., Davis M. (2002). Journal of Sports Sciences 20:615-622",
    basis: "abstract read",
    but: "Thirty golfers.",
};

/// The fewest weeks after which a change can be judged; see [`DIP`].
#[must_use]
pub fn weeks_before_judging() -> u32 {
    2
}

/// Signs that cannot wait.
pub const EMERGENCY: Rule = Rule {
    name: "signs that cannot wait",
    says: "Chest, jaw or arm pressure, faintness, no breath to talk, sudden weakness or numbness: stop and call for emergency help.",
    source: "patient education pages of several hospitals; AHCPR, Acute low back problems in adults, quick reference guide, table 1",
    basis: "pages and document read",
    but: "",
};

/// Pain that lasts.
pub const LASTING_PAIN: Rule = Rule {
    name: "pain that lasts",
    says: "Soreness peaks within two days; pain that lasts a week or two goes to a licensed health professional.",
    source: "a medical school's exercise guide",
    basis: "known second-hand",
    but: "",
};

/// When a student stops, in sentences for the coach's plan; see [`EMERGENCY`] and [`LASTING_PAIN`].
#[must_use]
pub fn stop_rules() -> [&'static str; 4] {
    [
        "Any pain: stop that drill for the day.",
        "Pain that is still there after a week: see a licensed health professional before the next ball.",
        "Chest, jaw or arm pressure, faintness, no breath to talk, sudden weakness or numbness: stop and call for emergency help.",
        "Tired, or the check fails three times running: stop. Tired swings teach the wrong thing.",
    ]
}

/// Referral first.
pub const REFER: Rule = Rule {
    name: "pain goes first",
    says: "When something hurts, the student sees a licensed health professional first, and the plan holds a referral and no drill; with an old injury, an operation or a lasting condition the doctor is asked first, and the plan holds set-up and gentle rehearsal.",
    source: "AHCPR, Acute low back problems in adults, quick reference guide, table 1; O'Grady W., Hazle C. (2012). International Journal of Sports Physical Therapy 7(4):425-432; common practice",
    basis: "document and abstract read",
    but: "Single signs are often false alarms: they prompt a referral and name no illness.",
};

/// Juniors.
pub const JUNIORS: Rule = Rule {
    name: "juniors are not loaded",
    says: "Games and short tasks, several sports, nothing weighted; no more hours of sport a week than years of age.",
    source: "Jayanthi N. et al. (2015). American Journal of Sports Medicine 43(4):794-801; common practice",
    basis: "abstract read; hours a week known second-hand",
    but: "",
};

/// Seniors.
pub const SENIORS: Rule = Rule {
    name: "seniors take their time",
    says: "A shorter turn, flared feet, more time between balls.",
    source: "common practice; Murray E. et al. (2009). Physical Therapy in Sport 10:131-135 on the lead hip",
    basis: "abstract read",
    but: "",
};

/// Notes for a kind of student; see [`JUNIORS`] and [`SENIORS`].
#[must_use]
pub fn student_note(suits: Suits) -> Option<&'static str> {
    match suits {
        Suits::Junior => Some(
            "Junior: make each task a game, keep it short, nothing weighted, other sports too. No more hours of sport a week than years of age.",
        ),
        Suits::Senior => {
            Some("Senior: a shorter turn, feet flared, and a full minute between balls.")
        }
        Suits::Seated | Suits::OneArm => None,
    }
}

/// Film.
pub const FILM: Rule = Rule {
    name: "the same film each time",
    says: "Film from the same two places each time, so that two months can be laid side by side.",
    source: "common practice",
    basis: "none",
    but: "",
};

/// How to film for a view; `None` for views that are not filmed. See [`FILM`].
#[must_use]
pub fn how_to_film(view: View) -> Option<&'static str> {
    match view {
        View::FaceOn => Some(
            "Face-on: camera at hand height, opposite the middle of the chest, slow motion if the phone has it.",
        ),
        View::DownTheLine => Some(
            "Down the line: camera at hand height, behind the hands on a line with the target.",
        ),
        View::BallFlight
        | View::FeelOrSound
        | View::AskStudent
        | View::StrikeMarks
        | View::EquipmentCheck
        | View::HandsOnScreen => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thirds_go_from_blocked_to_random_and_juniors_are_not_mixed() {
        let orders: Vec<_> = (0..12).map(|i| practice_order(i, 12, false)).collect();
        assert_eq!(orders[..4], [PracticeOrder::Blocked; 4]);
        assert_eq!(orders[4..8], [PracticeOrder::Serial; 4]);
        assert_eq!(orders[8..], [PracticeOrder::Random; 4]);
        assert!((0..12).all(|i| practice_order(i, 12, true) != PracticeOrder::Random));
        assert_eq!(practice_order(0, 1, false), PracticeOrder::Blocked);
    }

    #[test]
    fn sessions_are_spread_over_the_week() {
        assert_eq!(days(3), [1, 3, 5]);
        assert_eq!(days(2), [1, 4]);
        assert_eq!(days(7), [1, 2, 3, 4, 5, 6, 7]);
    }

    #[test]
    fn a_criterion_is_read_from_the_check() {
        let read = |check| criterion(check).map(|counted| (counted.hits, counted.tries));
        let ball = "Ball starts right of the stick in 7 of 10.";
        assert_eq!(read(ball), Some((7, 10)));
        assert_eq!(read("16 balls of 20 clear the towel"), Some((16, 20)));
        assert_eq!(read("9 out of 12."), Some((9, 12)));
        assert_eq!(read("8 stops of the last 10"), Some((8, 10)));
        assert_eq!(read("Carry within a tenth, one of two"), None);
        assert_eq!(read("1 of 1"), None);
        assert_eq!(read(""), Some((8, 10)));
    }

    #[test]
    fn cues_outside_the_body_come_first() {
        let feels = [
            "Your hips turn early.".to_owned(),
            "The club falls like a gate.".to_owned(),
        ];
        assert_eq!(cues(&feels, None), ["The club falls like a gate."]);
        assert_eq!(cues(&feels, Some(Level::Beginner)).len(), 2);
    }

    #[test]
    fn eight_of_ten_is_said_honestly() {
        let said = how_little_it_proves(Criterion { hits: 8, tries: 10 });
        assert!(
            said.contains("49 to 94 %") && said.contains("58 to 92 %"),
            "{said}"
        );
    }

    #[test]
    fn every_rule_names_a_source_and_what_was_read() {
        for rule in RULES {
            assert!(
                !rule.source.is_empty() && !rule.basis.is_empty(),
                "{}",
                rule.name
            );
        }
    }
}
