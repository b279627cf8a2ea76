//! Twelve plans on one sheet, for people to judge. The students are made up.

use crate::shipped::{base, check, lesson};
use fairwhy::diagnosis::Diagnosis;
use fairwhy::knowledge::{Level, Place, Shot, Suits};
use fairwhy::lesson::{AtHand, Lesson};
use fairwhy::plan::{Plan, PlanOptions, Sessions};
use fairwhy::report::{in_ten, percent};
use std::fmt::Write as _;
use std::sync::OnceLock;

/// A student, what was seen, and what the day allows.
pub struct Student {
    pub name: &'static str,
    pub seen: &'static [&'static str],
    pub lesson: Lesson,
    pub options: PlanOptions,
}

/// What a coach has in the car.
const KIT: [&str; 13] = [
    "tee",
    "stick",
    "towel",
    "mirror",
    "bag",
    "glove",
    "coin",
    "headcover",
    "phone",
    "pen",
    "card",
    "spray",
    "tape",
];

fn at(place: Place, have: &[&str], shot: Option<Shot>) -> Lesson {
    Lesson {
        shot,
        place: Some(place),
        at_hand: Some(AtHand::of(have)),
        ..Lesson::default()
    }
}

fn minutes(minutes: u32) -> PlanOptions {
    PlanOptions {
        minutes,
        ..PlanOptions::default()
    }
}

/// The twelve.
fn students() -> Vec<Student> {
    let range = |shot| at(Place::Range, &KIT, shot);
    vec![
        Student {
            name: "heron: slices, and the hands sit weak on the club; 45 minutes",
            seen: &["slice", "grip-too-weak", "clubface-open-at-impact"],
            lesson: Lesson {
                level: Some(Level::Improver),
                ..range(Some(Shot::Driver))
            },
            options: minutes(45),
        },
        Student {
            name: "wren: pulls the short irons, divots point in; 45 minutes",
            seen: &["pull", "divot-points-in", "path-out-to-in"],
            lesson: range(Some(Shot::Iron)),
            options: minutes(45),
        },
        Student {
            name: "swift: the same as wren in 20 minutes",
            seen: &["pull", "divot-points-in", "path-out-to-in"],
            lesson: range(Some(Shot::Iron)),
            options: minutes(20),
        },
        Student {
            name: "plover: hits it fat and hangs back; 60 minutes, beginner",
            seen: &["fat-strike", "hangs-back", "low-point-behind-ball"],
            lesson: Lesson {
                level: Some(Level::Beginner),
                ..range(Some(Shot::Iron))
            },
            options: minutes(60),
        },
        Student {
            name: "dunlin: comes out of posture and blocks it; 45 minutes",
            seen: &["early-extension", "push", "thin-strike"],
            lesson: range(Some(Shot::Iron)),
            options: minutes(45),
        },
        Student {
            name: "godwit: hooks; senior; 45 minutes",
            seen: &["hook", "hands-roll-over"],
            lesson: Lesson {
                suits: vec![Suits::Senior],
                ..range(None)
            },
            options: minutes(45),
        },
        Student {
            name: "robin: tops it; junior; 30 minutes",
            seen: &["topped-shot", "stands-up-in-downswing"],
            lesson: Lesson {
                suits: vec![Suits::Junior],
                ..range(None)
            },
            options: PlanOptions {
                sessions: Sessions {
                    a_week: 2,
                    minutes: 15,
                },
                ..minutes(30)
            },
        },
        Student {
            name: "curlew: a sore back and a slice; 45 minutes",
            seen: &["low-back-pain", "slice", "grip-too-weak"],
            lesson: range(None),
            options: minutes(45),
        },
        Student {
            name: "snipe: chunks chips; short-game area, 30 minutes",
            seen: &["chunked-chip", "weight-back-in-short-shot"],
            lesson: at(Place::ShortGameArea, &KIT, Some(Shot::Chip)),
            options: minutes(30),
        },
        Student {
            name: "knot: pulls putts; putting green, 30 minutes",
            seen: &["putt-pulled", "putter-face-closed-at-impact"],
            lesson: at(Place::PuttingGreen, &KIT, Some(Shot::Putt)),
            options: minutes(30),
        },
        Student {
            name: "dotterel: leaves it in the sand; bunker, 45 minutes",
            seen: &["bunker-left-in", "bunker-stops-in-sand"],
            lesson: at(Place::Bunker, &["rake", "tee"], Some(Shot::Bunker)),
            options: minutes(45),
        },
        Student {
            name: "teal: at home with a mirror, sways; 30 minutes, four short sessions a week",
            seen: &["sway", "fat-strike", "inconsistent-strike"],
            lesson: at(
                Place::Home,
                &["mirror", "stick", "towel", "chair", "wall", "bag"],
                None,
            ),
            options: PlanOptions {
                sessions: Sessions {
                    a_week: 4,
                    minutes: 15,
                },
                weeks: 3,
                ..minutes(30)
            },
        },
    ]
}

/// The twelve with their lessons, made once.
pub fn lessons() -> &'static [(Student, Diagnosis, Plan)] {
    static LESSONS: OnceLock<Vec<(Student, Diagnosis, Plan)>> = OnceLock::new();
    LESSONS.get_or_init(|| {
        students()
            .into_iter()
            .map(|student| {
                let (diagnosis, plan) =
                    lesson(student.seen, student.lesson.clone(), &student.options);
                (student, diagnosis, plan)
            })
            .collect()
    })
}

fn sheet() -> String {
    let base = base();
    let mut out = String::new();
    for (student, diagnosis, plan) in lessons() {
        check(diagnosis, plan);
        let _ = writeln!(
            out,
            "## {}\n\nSeen: {}",
            student.name,
            student.seen.join(", ")
        );
        let leading: Vec<String> = diagnosis
            .causes
            .iter()
            .take(4)
            .map(|c| format!("{} {}", base.condition(c.condition).id, percent(c.clears)))
            .collect();
        let _ = writeln!(out, "Leading causes: {}", leading.join(", "));
        if let Some(referral) = &plan.referral {
            let _ = writeln!(
                out,
                "FIRST, {} minutes: {}",
                referral.minutes,
                base.drill(referral.remedies[0]).name
            );
        }
        if let Some(nothing) = plan.nothing {
            let _ = writeln!(out, "Nothing: {}", nothing.words());
        }
        for priority in &plan.priorities {
            let chain: Vec<&str> = priority
                .chain
                .iter()
                .map(|key| base.condition(*key).name.as_str())
                .collect();
            let _ = writeln!(
                out,
                "Priority: {} ({})",
                base.condition(priority.condition).name,
                chain.join(" -> ")
            );
        }
        let _ = writeln!(
            out,
            "Expected to clear: {}. Uses {} of {} minutes at: {}.\n",
            in_ten(plan.expected_to_clear),
            plan.used,
            plan.minutes,
            plan.place.words()
        );
        for (number, step) in plan.steps.iter().enumerate() {
            let drill = base.drill(step.drill);
            let _ = writeln!(
                out,
                "{}. {} ({} min, {}). {}",
                number + 1,
                drill.name,
                step.minutes,
                drill.rung.words(),
                step.why
            );
        }
        out.push('\n');
        for out_of in &plan.out_of_reach {
            let _ = writeln!(
                out,
                "- Out of reach: {} ({})",
                base.condition(out_of.condition).name,
                percent(out_of.clears)
            );
        }
        for wait in &plan.not_before {
            let chain: Vec<&str> = wait
                .chain
                .iter()
                .map(|key| base.condition(*key).name.as_str())
                .collect();
            let _ = writeln!(out, "- Not before: {}", chain.join(" -> "));
        }
        for left in plan
            .left_out
            .iter()
            .filter(|left| left.reason != "less")
            .take(4)
        {
            let _ = writeln!(
                out,
                "- Left out: {}. {}",
                base.drill(left.drill).name,
                left.why
            );
        }
        if let Some(session) = plan.practice.sessions.first() {
            let blocks: Vec<String> = session
                .blocks
                .iter()
                .map(|block| {
                    format!(
                        "{} ({} min, {} x {})",
                        base.drill(block.drill).name,
                        block.minutes,
                        block.sets,
                        block.reps
                    )
                })
                .collect();
            let _ = writeln!(
                out,
                "- Practice, {} times {} minutes: {}",
                plan.practice.sessions.len(),
                session.minutes(),
                blocks.join(", ")
            );
        }
        out.push('\n');
    }
    out
}

#[test]
fn twelve_plans() {
    insta::assert_snapshot!(sheet());
}
