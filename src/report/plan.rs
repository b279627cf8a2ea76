//! A plan for a person.

use super::entry_page::dose;
use super::page::Page;
use super::percent::{in_ten, percent};
use super::sentence::{capital, sentence};
use super::titled;
use super::why::look_line;
use crate::diagnosis::{Diagnosis, Standing};
use crate::knowledge::{ConditionKey, DrillKey, KnowledgeBase, Place, Rung};
use crate::plan::{LeftOut, Plan, Practice, PracticeOrder, Referral, Step, rules};
use crate::words::cautions;

/// How many drills that were left out a person is shown; a program gets all.
const LEFT_OUT_SHOWN: usize = 6;

/// Below this share of what was seen a plan promises nothing: the next look is worth more. Our own
/// choice; with three findings it is less than half of one.
const WORTH_PROMISING: f64 = 0.15;

/// How many things that wait are named on one screen.
const WAITING_SHOWN: usize = 2;

/// Lines of a plan on one screen, in columns of [`PAGE_WIDTH`].
const SCREEN: usize = 45;
const PAGE_WIDTH: usize = 80;

/// How much of each drill stands on the screen; the rest is on the student's page and in the details.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Short {
    /// What it is for, its check, what to watch for.
    Purpose,
    /// Its check and what to watch for.
    Check,
    /// What to watch for; of a job only its main chain.
    Watch,
    /// The same, with one look, and without what waits and what is practised: warnings take the room.
    Least,
}

/// The plan as a page: what the lesson works on, the lesson in the order it is taught, its drills in
/// short, what waits, what to bring and the practice; as short as it takes to fit one screen. With
/// `details`, every drill in full, and why others were left out.
#[must_use]
pub fn plan_page(base: &KnowledgeBase, diagnosis: &Diagnosis, plan: &Plan, details: bool) -> Page {
    let mut page = page_with(base, diagnosis, plan, details, Short::Purpose);
    for short in [Short::Check, Short::Watch, Short::Least] {
        if details || page.to_text(PAGE_WIDTH, false).lines().count() <= SCREEN {
            break;
        }
        page = page_with(base, diagnosis, plan, details, short);
    }
    page
}

fn page_with(
    base: &KnowledgeBase,
    diagnosis: &Diagnosis,
    plan: &Plan,
    details: bool,
    short: Short,
) -> Page {
    let mut page = Page::new();
    for caution in cautions(base, &diagnosis.complaints) {
        page.warning(caution);
    }
    for caution in &plan.cautions {
        page.warning(caution.clone());
    }
    reading(&mut page, base, diagnosis);
    if let Some(referral) = &plan.referral {
        page.heading("Today")
            .text(plan.nothing.map_or("", |nothing| nothing.words()))
            .text(format!("{}.", referral_words(base, referral)));
        page.text(format!("Library {}.", version(base)));
        return page;
    }
    goal(&mut page, base, diagnosis, plan, short);
    look_first(&mut page, base, diagnosis, plan, short);
    let place = if plan.place_given {
        plan.place.words().to_owned()
    } else {
        format!("{} (no place was given)", plan.place.words())
    };
    page.heading(format!("Lesson, {} minutes, {place}", plan.minutes));
    lesson(&mut page, base, plan, details);
    if details {
        for step in &plan.steps {
            step_card(&mut page, base, step);
        }
    } else {
        in_short(&mut page, base, plan, short);
    }
    if details {
        not_before(&mut page, base, plan);
        what_if(&mut page, base, plan);
        practice(&mut page, base, &plan.practice);
        page.text(format!("Library {}.", version(base)));
    } else {
        waits(&mut page, base, plan, short);
        until_next_time(&mut page, base, plan, short);
    }
    page
}

/// The start of the library's content hash, enough to tell two libraries apart.
pub(super) fn version(base: &KnowledgeBase) -> &str {
    base.content_hash.get(..12).unwrap_or(&base.content_hash)
}

fn name(base: &KnowledgeBase, key: ConditionKey) -> &str {
    &base.condition(key).name
}

fn names(base: &KnowledgeBase, keys: &[ConditionKey]) -> String {
    keys.iter()
        .map(|key| name(base, *key))
        .collect::<Vec<_>>()
        .join(", ")
}

/// Names of drills in a row; they hold commas themselves.
fn drill_names(base: &KnowledgeBase, keys: &[DrillKey]) -> String {
    keys.iter()
        .map(|key| titled(base.drill(*key)))
        .collect::<Vec<_>>()
        .join("; ")
}

fn reading(page: &mut Page, base: &KnowledgeBase, diagnosis: &Diagnosis) {
    let read = diagnosis.observations.iter().map(|seen| {
        let name = name(base, seen.condition);
        let id = &base.condition(seen.condition).id;
        let read = if seen.given.eq_ignore_ascii_case(name) || seen.given == *id {
            name.to_owned()
        } else {
            format!("{} = {name}", seen.given)
        };
        match seen.state.as_str() {
            "seen" => read,
            state => format!("{read}, {}", state.replace('-', " ")),
        }
    });
    let mut said: Vec<String> = Vec::new();
    for read in read {
        if !said.contains(&read) {
            said.push(read);
        }
    }
    let read = ("Read: ".to_owned(), format!("{}.", said.join("; ")));
    let beside = super::why::beside(base, diagnosis);
    page.lines(std::iter::once(read).chain(beside));
}

fn goal(page: &mut Page, base: &KnowledgeBase, diagnosis: &Diagnosis, plan: &Plan, short: Short) {
    page.heading("Work on");
    if let Some(nothing) = plan.nothing {
        page.text(nothing.words());
        return;
    }
    page.steps(
        plan.priorities
            .iter()
            .map(|priority| job(base, diagnosis, priority.condition, short)),
    );
    page.text(if is_unsure(diagnosis, plan) {
        "Not settled: look first. What is worked on here is the best there is so far.".to_owned()
    } else if plan.expected_to_clear < WORTH_PROMISING {
        "It starts there, and what fits today clears too little of what was seen to promise more."
            .to_owned()
    } else {
        format!(
            "Expect {} of what was seen to go, once it holds. {}; judge it after two weeks.",
            in_ten(plan.expected_to_clear),
            if plan.refer.is_some() {
                "Nothing in it may hurt"
            } else {
                "It may feel worse at first"
            }
        )
    });
}

/// A job with whether anybody has looked, and with what comes of it.
fn job(base: &KnowledgeBase, diagnosis: &Diagnosis, key: ConditionKey, short: Short) -> String {
    let seen = diagnosis.findings().any(|finding| finding == key);
    let state = if seen { "" } else { " (not looked at yet)" };
    let begin = format!("{}{state}", name(base, key));
    let cause = diagnosis.causes.iter().find(|cause| cause.condition == key);
    let told = cause.map_or(String::new(), |cause| {
        let most = match short {
            Short::Watch | Short::Least => 1,
            Short::Purpose | Short::Check => usize::MAX,
        };
        let chains = &cause.chains[..cause.chains.len().min(most)];
        super::why::story_from(&begin, base, chains)
    });
    if told.is_empty() {
        format!("{begin}.")
    } else {
        told
    }
}

/// Whether a look is worth more than a promise: nothing can be worked on, the first starts are level, or
/// little would go while the order may still change.
fn is_unsure(diagnosis: &Diagnosis, plan: &Plan) -> bool {
    plan.nothing.is_some()
        || match diagnosis.standing {
            Some(Standing::Settled) => false,
            Some(Standing::Level) => true,
            Some(Standing::Leading) | None => plan.expected_to_clear < WORTH_PROMISING,
        }
}

/// What to look at before more is worked on: the diagnosis's own looks while the order is not sure, then what
/// the first job or a second waits for; two at most, and none when the plan promises enough and nothing waits.
fn look_first(
    page: &mut Page,
    base: &KnowledgeBase,
    diagnosis: &Diagnosis,
    plan: &Plan,
    short: Short,
) {
    let unsure = is_unsure(diagnosis, plan);
    let mut looks: Vec<ConditionKey> = Vec::new();
    let own = diagnosis.next_looks.iter().map(|look| look.condition);
    for look in own.filter(|_| unsure).chain(plan.look_first) {
        if !looks.contains(&look) {
            looks.push(look);
        }
    }
    looks.truncate(if short == Short::Least { 1 } else { 2 });
    let of_the_first = plan.priorities.first().map(|job| job.condition) == plan.look_first;
    let heading = if unsure || of_the_first {
        "Look first"
    } else {
        "Look before a second job"
    };
    page.heading_if(!looks.is_empty(), heading)
        .bullets(looks.into_iter().map(|key| look_line(base, key)));
}

fn in_short(page: &mut Page, base: &KnowledgeBase, plan: &Plan, short: Short) {
    let said = plan.steps.iter().filter_map(|step| {
        let drill = base.drill(step.drill);
        let mut said = Vec::new();
        if short == Short::Purpose {
            said.push(sentence(&drill.purpose));
        }
        if short < Short::Watch && !drill.check.is_empty() {
            said.push(format!("Check: {}", sentence(&drill.check)));
        }
        if !step.watch_for.is_empty() {
            let watch = names(base, &step.watch_for);
            said.push(match short {
                Short::Watch | Short::Least => format!("{watch}."),
                Short::Purpose | Short::Check => format!("Watch for: {watch}."),
            });
        }
        let title = sentence(&titled(drill));
        (!said.is_empty()).then(|| format!("{title} {}", said.join(" ")))
    });
    let said: Vec<String> = said.collect();
    let heading = match short {
        Short::Purpose | Short::Check => "The drills in short",
        Short::Watch | Short::Least => "Watch for",
    };
    page.heading_if(!said.is_empty(), heading).bullets(said);
}

fn waits(page: &mut Page, base: &KnowledgeBase, plan: &Plan, short: Short) {
    let mut said = Vec::new();
    let jobs: Vec<ConditionKey> = plan.priorities.iter().map(|job| job.condition).collect();
    let waiting: Vec<&str> = plan
        .not_before
        .iter()
        .filter(|wait| !jobs.contains(&wait.waits))
        .take(WAITING_SHOWN)
        .map(|wait| name(base, wait.waits))
        .collect();
    if !waiting.is_empty() && short != Short::Least {
        said.push(format!(
            "Must wait, since it may go by itself: {}.",
            waiting.join("; ")
        ));
    }
    if let Some(out) = plan.out_of_reach.first() {
        let why = out.remedies.first().map_or_else(
            || "The library has no drill for it.".to_owned(),
            |(drill, why)| format!("{}: {why}", titled(base.drill(*drill))),
        );
        said.push(format!(
            "Out of reach today: {}. {why}",
            name(base, out.condition)
        ));
    }
    if !plan.to_hand.is_empty() {
        said.push(format!("Bring: {}.", plan.to_hand.join(", ")));
    }
    if !said.is_empty() {
        page.text(said.join(" "));
    }
}

fn until_next_time(page: &mut Page, base: &KnowledgeBase, plan: &Plan, short: Short) {
    let practice = &plan.practice;
    let Some(first) = practice.sessions.first() else {
        return;
    };
    let tasks = first.blocks.iter().map(|block| block.drill);
    let tasks: Vec<DrillKey> = tasks.collect();
    let tasks = sentence(&drill_names(base, &tasks));
    let how = if short == Short::Least {
        String::new()
    } else {
        format!(": {tasks} One task at a time first, mixed by the end")
    };
    page.text(format!(
        "Until next time: {} sessions in {} weeks, {} minutes each{how}. Stop at any pain. The drills in full are on the student's page.",
        practice.sessions.len(),
        practice.weeks,
        first.minutes(),
    ));
}

fn chain(base: &KnowledgeBase, keys: &[ConditionKey]) -> String {
    keys.iter()
        .map(|key| name(base, *key))
        .collect::<Vec<_>>()
        .join(" -> ")
}

/// The lesson in the order it is taught. With `details`, how near each drill is to the shot as played
/// and why it is there; without, the number of the job it is for.
fn lesson(page: &mut Page, base: &KnowledgeBase, plan: &Plan, details: bool) {
    let mut rows: Vec<[String; 4]> = Vec::new();
    let mut row = |minutes: f64, what: String, ladder: &str, why: String| {
        rows.push([format!("{minutes}"), what, ladder.to_owned(), why]);
    };
    let none = String::new;
    if let Some(referral) = &plan.referral {
        row(
            referral.minutes,
            referral_words(base, referral),
            "",
            format!("First: {}", names(base, &referral.pains)),
        );
    }
    if !plan.steps.is_empty() {
        row(
            plan.frame.warm_up,
            "Talk and warm-up".to_owned(),
            "",
            none(),
        );
        row(plan.frame.baseline, plan.baseline.clone(), "", none());
        for step in &plan.steps {
            let drill = base.drill(step.drill);
            let why = if details {
                step.why.clone()
            } else {
                jobs(plan, step)
            };
            row(step.minutes, titled(drill), drill.rung.words(), why);
        }
        if plan.free > 0.0 {
            let what = match (plan.place, plan.free > MOST_PLAY) {
                (Place::Home, _) => AGAIN_AT_HOME.to_owned(),
                (_, false) => PLAY_IT_IN.to_owned(),
                (_, true) => format!("{PLAY_IT_IN}; half an hour is enough"),
            };
            row(plan.free, what, Rung::Transfer.words(), none());
        }
        row(
            plan.frame.retest,
            format!(
                "The same {} again, and notes: {}",
                if plan.place == Place::Home {
                    "look"
                } else {
                    "count"
                },
                names(base, &plan.retest)
            ),
            "",
            none(),
        );
    }
    if details {
        page.grid(["Min", "What", "Ladder", "Why"], rows);
    } else {
        let rows = rows.into_iter().map(|[min, what, _, job]| [min, what, job]);
        page.grid(["Min", "What", "Job"], rows.collect());
    }
    let left = f64::from(plan.minutes) - plan.used;
    if plan.used > 0.0 && left >= 1.0 {
        page.text(format!(
            "{} of {} minutes are planned; the rest is for questions.",
            plan.used, plan.minutes
        ));
    }
    if plan.free >= WORTH_A_REASON {
        page.text(why_not_filled(plan));
    }
}

/// Why the drills leave so much of the lesson.
fn why_not_filled(plan: &Plan) -> String {
    let for_a_job = |left: &&LeftOut| {
        let mut jobs = plan.priorities.iter();
        jobs.any(|job| job.condition == left.for_condition)
    };
    let count = |reason: &str| {
        let left = plan.left_out.iter().filter(for_a_job);
        left.filter(|left| left.reason == reason).count()
    };
    let mut said = Vec::new();
    let mut say = |count: usize, one: &str, several: &str| match count {
        0 => {}
        1 => said.push(format!("one more drill for it {one}")),
        count => said.push(format!("{count} more drills for it {several}")),
    };
    say(count("place"), "needs another place", "need another place");
    say(
        count("equipment"),
        "needs something that is not at hand",
        "need something that is not at hand",
    );
    say(count("after"), "comes after another", "come after others");
    if said.is_empty() {
        return format!(
            "{} minutes are left: one change takes no more drills in a lesson than these.",
            plan.free
        );
    }
    format!("{} minutes are left: {}.", plan.free, said.join("; "))
}

/// The numbers of the jobs that a drill is for, as the page counts them; for one that only comes before
/// others, those of the others.
fn jobs(plan: &Plan, step: &Step) -> String {
    let mut for_these: Vec<DrillKey> = vec![step.drill];
    let mut works_on: Vec<ConditionKey> = step.works_on.clone();
    while works_on.is_empty() && !for_these.is_empty() {
        let opened = |drill: &DrillKey| plan.steps.iter().find(|step| step.drill == *drill);
        let next = for_these.iter().filter_map(opened);
        for_these = next.flat_map(|step| step.opens.iter().copied()).collect();
        let opened = for_these.iter().filter_map(opened);
        works_on = opened.flat_map(|step| step.works_on.clone()).collect();
    }
    let priorities = plan.priorities.iter().enumerate();
    let own = priorities.filter(|(_, priority)| works_on.contains(&priority.condition));
    own.map(|(index, _)| (index + 1).to_string())
        .collect::<Vec<_>>()
        .join(", ")
}

/// What is done with minutes that the drills leave.
const PLAY_IT_IN: &str = "Play it in: a target, the whole routine, one ball at a time";

/// The same where no ball is hit.
const AGAIN_AT_HOME: &str = "The drill again, in sets of five with a pause, and on film";

/// Minutes of play from which more brings nothing new, and minutes left that ask for a reason.
const MOST_PLAY: f64 = 30.0;
const WORTH_A_REASON: f64 = 10.0;

fn referral_words(base: &KnowledgeBase, referral: &Referral) -> String {
    if referral.remedies.is_empty() {
        "Stop, and hand over to a licensed health professional".to_owned()
    } else {
        drill_names(base, &referral.remedies)
    }
}

fn step_card(page: &mut Page, base: &KnowledgeBase, step: &Step) {
    let drill = base.drill(step.drill);
    page.heading(titled(drill));
    if !drill.setup.is_empty() {
        page.text(format!("Set up: {}", drill.setup));
    }
    page.steps(drill.steps.iter().cloned());
    let mut points = Vec::new();
    for cue in &step.cues {
        points.push(format!("Feel: {cue}"));
    }
    if !drill.check.is_empty() {
        points.push(format!("Check: {}", drill.check));
    }
    points.push(match step.criterion {
        Some(counted) => format!(
            "Go up a rung at {} of {}, twice running. {}",
            counted.hits,
            counted.tries,
            rules::how_little_it_proves(counted)
        ),
        None => "Go up a rung when the check is met, twice running.".to_owned(),
    });
    if let Some(wrong) = drill.goes_wrong.first() {
        points.push(format!("When it goes wrong: {wrong}"));
    }
    if let Some(dose) = dose(drill) {
        points.push(format!("How much: {dose}"));
    }
    if !step.watch_for.is_empty() {
        points.push(format!(
            "Watch that it does not bring: {}",
            names(base, &step.watch_for)
        ));
    }
    points.push(format!(
        "Skipping it costs {} of what was seen",
        points_of(step.skipping_costs)
    ));
    page.bullets(points);
}

/// A share as points of a hundred.
fn points_of(share: f64) -> String {
    if share > 0.0 && share < 0.01 {
        "less than 1 point".to_owned()
    } else {
        let points = (share * 100.0).round();
        let word = if (points - 1.0).abs() < 0.5 {
            "point"
        } else {
            "points"
        };
        format!("{points:.0} {word}")
    }
}

fn not_before(page: &mut Page, base: &KnowledgeBase, plan: &Plan) {
    page.heading_if(!plan.not_before.is_empty(), "Not before")
        .bullets(plan.not_before.iter().map(|wait| {
            let way = match wait.chain.len() {
                0..=2 => String::new(),
                _ => format!(": {}", chain(base, &wait.chain)),
            };
            format!(
                "{} waits for {}, which can bring it about{way}",
                name(base, wait.waits),
                name(base, wait.until),
            )
        }));
}

fn what_if(page: &mut Page, base: &KnowledgeBase, plan: &Plan) {
    page.heading_if(!plan.out_of_reach.is_empty(), "Out of reach today")
        .bullets(plan.out_of_reach.iter().map(|out| {
            let reasons: Vec<String> = out
                .remedies
                .iter()
                .map(|(drill, why)| format!("{}: {why}", titled(base.drill(*drill))))
                .collect();
            let reasons = if reasons.is_empty() {
                "the library has no drill for it.".to_owned()
            } else {
                format!("no drill for it fits. {}", reasons.join(" "))
            };
            format!(
                "{} would clear {}: {reasons}",
                name(base, out.condition),
                percent(out.clears)
            )
        }));
    if plan.nothing.is_none() {
        let gain = plan.more_time.expected_to_clear - plan.expected_to_clear;
        page.heading(format!("With {} minutes more", plan.more_time.minutes));
        page.text(if plan.more_time.adds.is_empty() {
            "Nothing that counts: the time is better kept for the re-test.".to_owned()
        } else {
            format!(
                "{} more of what was seen, with {}.",
                capital(&points_of(gain)),
                drill_names(base, &plan.more_time.adds)
            )
        });
    }
    page.heading_if(!plan.left_out.is_empty(), "Left out")
        .bullets(
            plan.left_out
                .iter()
                .take(LEFT_OUT_SHOWN)
                .map(|left| format!("{}: {}", titled(base.drill(left.drill)), left.why)),
        );
    if plan.left_out.len() > LEFT_OUT_SHOWN {
        page.text(format!(
            "And {} more.",
            plan.left_out.len() - LEFT_OUT_SHOWN
        ));
    }
}

fn practice(page: &mut Page, base: &KnowledgeBase, practice: &Practice) {
    page.heading("Until next time");
    let Some(first) = practice.sessions.first() else {
        page.text(if practice.tasks.is_empty() {
            "Nothing to practise alone yet."
        } else {
            "The drills of this lesson need longer sessions than these; do them with the coach."
        });
        page.bullets(
            practice
                .stop_rules
                .iter()
                .map(|rule| format!("Stop: {rule}")),
        );
        return;
    };
    page.text(format!(
        "{} sessions over {} weeks, each about {} minutes: {} minutes of warm-up, then the tasks, then {} minutes at a target with the whole routine. Rest {} seconds between balls.",
        practice.sessions.len(),
        practice.weeks,
        first.minutes(),
        first.warm_up,
        first.close,
        practice.rest_seconds
    ));
    page.grid(
        ["Task", "Min", "Sets", "Reps", "Balls"],
        first
            .blocks
            .iter()
            .map(|block| {
                [
                    titled(base.drill(block.drill)),
                    format!("{}", block.minutes),
                    block.sets.to_string(),
                    block.reps.to_string(),
                    block.balls.to_string(),
                ]
            })
            .collect(),
    );
    page.bullets(phases(practice).into_iter().map(|(order, from, to)| {
        format!(
            "{}: {} {}",
            if from == to {
                format!("Session {from}")
            } else {
                format!("Sessions {from} to {to}")
            },
            order.words(),
            rules::feedback(order)
        )
    }));
    let days: Vec<String> = practice
        .sessions
        .iter()
        .filter(|session| session.week == 1)
        .map(|session| session.day.to_string())
        .collect();
    page.text(format!("Days of the week: {}.", days.join(", ")));
    page.heading("Stop")
        .bullets(practice.stop_rules.iter().map(|rule| (*rule).to_owned()));
    page.heading("For the next lesson").bullets(
        practice
            .film
            .iter()
            .map(|film| format!("Film. {film}"))
            .chain(practice.bring.iter().map(|look| format!("Look at: {look}"))),
    );
    if practice.too_early_to_judge {
        page.text("The next lesson is too early to judge the change: look, and wait.");
    }
}

/// Runs of sessions of one order: the order, the first and the last, from 1.
pub(super) fn phases(practice: &Practice) -> Vec<(PracticeOrder, usize, usize)> {
    let mut found: Vec<(PracticeOrder, usize, usize)> = Vec::new();
    for (index, session) in practice.sessions.iter().enumerate() {
        match found.last_mut() {
            Some((order, _, to)) if *order == session.order => *to = index + 1,
            _ => found.push((session.order, index + 1, index + 1)),
        }
    }
    found
}
