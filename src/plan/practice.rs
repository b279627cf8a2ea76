//! Practice on one's own until the next lesson.

use super::answer::{Block, Practice, Session, Step};
use super::fit::needs_warm_body;
use super::options::PlanOptions;
use super::rules;
use crate::knowledge::{ConditionKey, DrillKey, KnowledgeBase, RemedyKind, Suits, View};

/// At most this many tasks go home with a student.
const MOST_TASKS: usize = 3;
/// A task shorter than this is over before it has begun, in minutes.
const SHORTEST_TASK: f64 = 3.0;
/// Minutes for target shots at the end of a session.
const CLOSE: f64 = 2.0;

/// The practice that follows from a lesson.
pub(crate) fn practice(
    base: &KnowledgeBase,
    steps: &[Step],
    seen: &[ConditionKey],
    suits: &[Suits],
    options: &PlanOptions,
) -> Practice {
    let senior = suits.contains(&Suits::Senior);
    let tasks = tasks(base, steps);
    let sessions = if tasks.is_empty() {
        Vec::new()
    } else {
        sessions(base, &tasks, suits, options)
    };
    let film_views: Vec<View> = steps
        .iter()
        .flat_map(|step| &step.works_on)
        .chain(seen)
        .flat_map(|key| base.condition(*key).seen_from.iter().copied())
        .collect();
    Practice {
        weeks: options.weeks,
        minutes: options.sessions.minutes,
        tasks,
        sessions,
        rest_seconds: rules::rest_seconds(senior),
        stop_rules: rules::stop_rules().to_vec(),
        film: [View::FaceOn, View::DownTheLine]
            .into_iter()
            .filter(|view| film_views.contains(view))
            .filter_map(rules::how_to_film)
            .collect(),
        bring: bring(base, steps),
        too_early_to_judge: options.weeks < rules::weeks_before_judging(),
    }
}

/// What to look for in the film, from the conditions that were worked on.
fn bring(base: &KnowledgeBase, steps: &[Step]) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    for key in steps.iter().flat_map(|step| &step.works_on) {
        let condition = base.condition(*key);
        let line = format!("{}: {}", condition.name, condition.look_for);
        if !condition.look_for.is_empty() && !found.contains(&line) {
            found.push(line);
        }
    }
    found
}

/// The drills that go home: what can be repeated alone. When there are more than three, those that
/// the lesson would miss least stay behind.
fn tasks(base: &KnowledgeBase, steps: &[Step]) -> Vec<DrillKey> {
    let mut kept: Vec<&Step> = steps
        .iter()
        .filter(|step| {
            !matches!(
                base.drill(step.drill).kind,
                RemedyKind::ClubCheck | RemedyKind::Referral
            )
        })
        .collect();
    while kept.len() > MOST_TASKS {
        let least = (0..kept.len())
            .min_by(|a, b| {
                kept[*a]
                    .skipping_costs
                    .total_cmp(&kept[*b].skipping_costs)
                    .then(b.cmp(a))
            })
            .unwrap_or(0);
        kept.remove(least);
    }
    kept.into_iter().map(|step| step.drill).collect()
}

fn sessions(
    base: &KnowledgeBase,
    tasks: &[DrillKey],
    suits: &[Suits],
    options: &PlanOptions,
) -> Vec<Session> {
    let junior = suits.contains(&Suits::Junior);
    let days = rules::days(options.sessions.a_week);
    let all = options.weeks * options.sessions.a_week;
    let Some((warm_up, blocks)) = fill(base, tasks, options.sessions.minutes, junior) else {
        return Vec::new();
    };
    (1..=options.weeks)
        .flat_map(|week| days.iter().map(move |day| (week, *day)))
        .zip(0..)
        .map(|((week, day), index)| Session {
            week,
            day,
            order: rules::practice_order(index, all, junior),
            warm_up,
            blocks: blocks.clone(),
            close: CLOSE,
        })
        .collect()
}

/// Warm-up and tasks of one session: the time split evenly, no task longer than its dose. Full
/// swings at speed go last, and the warm-up grows until ten easy minutes come before them; tasks
/// for which that leaves too little time are left out from the end. `None` when none is left.
fn fill(
    base: &KnowledgeBase,
    tasks: &[DrillKey],
    minutes: u32,
    junior: bool,
) -> Option<(f64, Vec<Block>)> {
    let hard = |key: &DrillKey| needs_warm_body(base.drill(*key));
    let mut order: Vec<DrillKey> = tasks.to_vec();
    order.sort_by_key(hard);
    while !order.is_empty() {
        let mut warm_up = rules::session_warm_up(minutes);
        let mut shares = split(base, &order, f64::from(minutes) - warm_up - CLOSE);
        let easy: f64 = warm_up
            + order
                .iter()
                .zip(&shares)
                .filter(|(key, _)| !hard(key))
                .map(|(_, share)| share)
                .sum::<f64>();
        let fast = order.iter().filter(|key| hard(key)).count();
        if fast > 0 {
            let missing = (rules::easy_minutes_before_full_swings() - easy).max(0.0);
            warm_up += missing;
            for (_, share) in order.iter().zip(&mut shares).filter(|(key, _)| hard(key)) {
                *share = half_minutes(*share - missing / fast as f64);
            }
        }
        if shares.iter().all(|share| *share >= SHORTEST_TASK) {
            let mut balls = rules::most_balls(junior);
            let blocks = order
                .iter()
                .zip(shares)
                .map(|(key, share)| {
                    let block = scaled(base, *key, share, balls);
                    balls = balls.saturating_sub(block.balls);
                    block
                })
                .collect();
            return Some((warm_up, blocks));
        }
        order.pop();
    }
    None
}

/// Shares of the time: even, none longer than the drill's own dose (but never below the shortest).
fn split(base: &KnowledgeBase, order: &[DrillKey], time: f64) -> Vec<f64> {
    let mut left = time;
    order
        .iter()
        .enumerate()
        .map(|(index, key)| {
            let even = left / (order.len() - index) as f64;
            let share = half_minutes(even.min(base.drill(*key).minutes().max(SHORTEST_TASK)));
            left -= share;
            share
        })
        .collect()
}

fn half_minutes(minutes: f64) -> f64 {
    (minutes * 2.0).floor() / 2.0
}

/// A drill's dose, scaled to the minutes there are and the balls that are left.
fn scaled(base: &KnowledgeBase, key: DrillKey, minutes: f64, balls_left: u32) -> Block {
    let drill = base.drill(key);
    let share = (minutes / drill.minutes()).min(1.0);
    let whole = |number: f64| {
        // Doses are small whole numbers; the cast cannot lose anything that matters.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let number = number.floor().max(1.0) as u32;
        number
    };
    let mut sets = whole(f64::from(drill.dose.sets.unwrap_or(2)) * share);
    let reps = drill.dose.reps.unwrap_or(8).max(1);
    let per_set = if drill.dose.balls.unwrap_or(0) > 0 {
        whole(
            f64::from(drill.dose.balls.unwrap_or(0))
                / f64::from(drill.dose.sets.unwrap_or(1).max(1)),
        )
    } else {
        0
    };
    if let Some(most) = balls_left.checked_div(per_set) {
        sets = sets.min(most.max(1));
    }
    Block {
        drill: key,
        minutes,
        sets,
        reps,
        balls: (per_set * sets).min(balls_left),
    }
}
