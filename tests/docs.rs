//! Pages that must stay true: the README's answer, the command reference, what the library holds.
//!
//! `FAIRWHY_WRITE_DOCS=1 cargo test --test docs` writes them anew; otherwise a difference fails.

use assert_cmd::Command;
use fairwhy::causal::CausalGraph;
use fairwhy::knowledge::{
    ConditionKind, KnowledgeBase, RemedyKind, Stage, Strictness, load, shipped,
};
use fairwhy::report::reading_grade;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::path::PathBuf;

fn root(path: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(path)
}

fn base() -> KnowledgeBase {
    load(&[shipped()], Strictness::ErrorsOnly)
        .expect("the shipped library loads")
        .base
}

fn printed(arguments: &[&str]) -> String {
    let output = Command::cargo_bin("fairwhy")
        .expect("the program is built")
        .args(arguments)
        .env_remove("FAIRWHY_LIBRARY")
        .env(
            "FAIRWHY_HOME",
            std::env::temp_dir().join("fairwhy-docs-home"),
        )
        .env_remove("NO_COLOR")
        .env("COLUMNS", "80")
        .output()
        .expect("it runs");
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8(output.stdout).expect("text")
}

/// Compares a page with what it should be, or writes it.
fn settle(path: &str, wanted: &str) {
    if std::env::var_os("FAIRWHY_WRITE_DOCS").is_some() {
        std::fs::write(root(path), wanted).expect("written");
        return;
    }
    let found = std::fs::read_to_string(root(path)).unwrap_or_default();
    assert!(
        found == wanted,
        "{path} is out of date; FAIRWHY_WRITE_DOCS=1 cargo test --test docs writes it anew"
    );
}

/// The text with what stands between two marks replaced.
fn between(text: &str, start: &str, end: &str, new: &str) -> String {
    let from = text.find(start).unwrap_or_else(|| panic!("no {start}")) + start.len();
    let to = from + text[from..].find(end).unwrap_or_else(|| panic!("no {end}"));
    format!("{}{new}{}", &text[..from], &text[to..])
}

#[test]
fn the_readme_shows_what_its_main_command_prints() {
    let answer = printed(&[
        "why",
        "weak slice, pulls the short irons, divots point in, grip is fine",
    ]);
    let readme = std::fs::read_to_string(root("README.md")).expect("a README");
    let wanted = between(&readme, "<!-- answer: why -->\n```text\n", "```", &answer);
    settle("README.md", &wanted);
}

/// The picture and the page that the README shows are what the program makes today.
#[test]
fn the_readme_shows_a_picture_and_a_page_as_they_are_made() {
    let folder = tempfile::tempdir().expect("a folder");
    let chain = folder.path().join("chain.svg");
    let page = printed(&[
        "plan",
        "weak slice, pulls the short irons, divots point in, grip is fine",
        "--handed",
        "right",
        "--on",
        "2026-05-04",
        "--picture",
        chain.to_str().expect("text"),
        "--handout",
    ]);
    // The version of the library at its foot changes with every entry, whether the page uses it or not.
    let foot = page.rfind(" Library ").expect("the page says its library");
    settle("docs/students-page.md", &format!("{}\n", &page[..foot]));
    settle(
        "docs/chain.svg",
        &std::fs::read_to_string(chain).expect("a picture"),
    );
}

const COMMANDS: &[&str] = &[
    "why",
    "lesson",
    "lesson log",
    "lesson next",
    "lesson list",
    "drills",
    "plan",
    "flight",
    "frame",
    "shots",
    "compare",
    "show",
    "check",
    "add",
    "edit",
    "remove",
    "retire",
    "library",
    "library share",
    "library receive",
    "student",
    "student add",
    "student list",
    "student show",
    "student edit",
    "student export",
    "student forget",
    "progress",
    "eval",
    "records",
    "records learn",
    "records backup",
    "records restore",
    "records undo",
    "records check",
    "records export",
    "records import",
    "schema",
    "completions",
    "manual",
];

/// The help of a command; a part that an earlier command has word for word is named, and not said again.
fn each_part_once<'c>(
    command: &'c str,
    help: &str,
    shown: &mut BTreeMap<String, &'c str>,
) -> String {
    let mut parts: Vec<String> = vec![String::new()];
    for line in help.lines().map(str::trim_end) {
        if line.ends_with(':') && !line.starts_with(' ') {
            parts.push(String::new());
        }
        let part = parts.last_mut().expect("one at least");
        let _ = writeln!(part, "{line}");
    }
    let once = parts.into_iter().map(|part| {
        let title = part.lines().next().unwrap_or_default().to_owned();
        let whole = part.trim_end().to_owned();
        if part.lines().count() < 5 || title == "Examples:" {
            return part;
        }
        match shown.get(&whole) {
            Some(first) => format!("{title} as for {first}\n\n"),
            None => {
                shown.insert(whole, command);
                part
            }
        }
    });
    let once: String = once.collect();
    format!("{}\n", once.trim_end())
}

#[test]
fn the_command_reference_is_what_help_says() {
    let mut page = String::from(
        "# Commands\n\nMade from `--help` by a test. Exit status: 0 done; 1 it could not be done, or the check found\nerrors; 2 the command line or an observation was not understood. A part of the help that an\nearlier command has word for word is named after it: `as for why`.\n\nAn observation is an id, a name, an alias or your own words. How words are read is in\n[search.md](search.md), the plan in [plan.md](plan.md), numbers in\n[numbers.md](numbers.md), own entries in [own-knowledge.md](own-knowledge.md).\n",
    );
    let mut shown = BTreeMap::new();
    for command in COMMANDS {
        let words: Vec<&str> = command.split(' ').chain(["--help"]).collect();
        let help = each_part_once(command, &printed(&words), &mut shown);
        let _ = write!(page, "\n## fairwhy {command}\n\n```text\n{help}```\n");
    }
    settle("docs/commands.md", &page);
}

#[test]
fn what_the_library_holds() {
    let base = base();
    let page = std::fs::read_to_string(root("docs/knowledge.md")).expect("docs/knowledge.md");
    let mut table = String::from(
        "| stage | outcomes | faults | causes | links to them | remedies for them |\n|---|---|---|---|---|---|\n",
    );
    for stage in Stage::ALL {
        let here = || {
            base.condition_keys()
                .filter(|key| base.condition(*key).stage == *stage)
        };
        let of = |kind| {
            here()
                .filter(|key| base.condition(*key).kind == kind)
                .count()
        };
        let links: usize = here().map(|key| base.condition(key).causes.len()).sum();
        let remedies = here()
            .flat_map(|key| base.remedies(key))
            .map(|(drill, _)| drill);
        let remedies: BTreeSet<_> = remedies.collect();
        let _ = writeln!(
            table,
            "| {} | {} | {} | {} | {links} | {} |",
            stage.words(),
            of(ConditionKind::Outcome),
            of(ConditionKind::Fault),
            of(ConditionKind::Cause),
            remedies.len(),
        );
    }
    settle(
        "docs/knowledge.md",
        &between(&page, "<!-- coverage -->\n", "<!-- end -->", &table),
    );
}

#[test]
fn nothing_is_orphaned_and_everything_can_be_worked_on() {
    let base = base();
    let graph = CausalGraph::new(&base);
    for key in base.condition_keys() {
        let c = base.condition(key);
        let linked = graph.effects(key).len() + c.causes.len();
        assert!(linked > 0, "{} is an island", c.id);
        if c.kind != ConditionKind::Outcome {
            // What a doctor is asked about first is worked around, not on.
            let least = if c.refer.is_some() { 1 } else { 2 };
            assert!(
                base.remedies(key).len() >= least,
                "{} has fewer than {least} remedies",
                c.id
            );
        }
        if c.is_pain() {
            assert!(c.caution.is_some(), "{} has no caution", c.id);
            assert!(
                base.remedies(key)
                    .iter()
                    .all(|(drill, _)| base.drill(*drill).kind == RemedyKind::Referral),
                "{} is worked against",
                c.id
            );
        }
    }
    for drill in &base.drills {
        assert!(
            !drill.purpose.is_empty() && !drill.steps.is_empty(),
            "{}",
            drill.id
        );
        assert!(
            drill.check.chars().any(|c| c.is_ascii_digit())
                || drill.kind == RemedyKind::Referral
                || NUMBERS
                    .iter()
                    .any(|word| drill.check.to_lowercase().contains(word)),
            "{}: a check without a number: {}",
            drill.id,
            drill.check
        );
    }
}

const NUMBERS: &[&str] = &[
    "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "half", "every",
    "no ", "all",
];

/// Flesch-Kincaid grade (Kincaid et al. 1975, from memory) of what a student reads: each drill as a
/// whole, and the reasons of each condition's links together.
#[test]
fn what_a_student_reads_is_at_grade_eight_or_lower() {
    let base = base();
    let mut worst: Vec<(f64, String)> = Vec::new();
    for drill in &base.drills {
        let mut texts = vec![
            drill.purpose.clone(),
            drill.setup.clone(),
            drill.check.clone(),
        ];
        texts.extend(drill.steps.iter().cloned());
        texts.extend(drill.feel.iter().cloned());
        texts.extend(drill.goes_wrong.iter().cloned());
        if let Some(grade) = reading_grade(&texts.join("\n")) {
            worst.push((grade, drill.id.clone()));
        }
    }
    for condition in &base.conditions {
        let reasons: Vec<String> = condition
            .causes
            .iter()
            .filter_map(|cause| cause.because.clone())
            .collect();
        if let Some(grade) = reading_grade(&reasons.join("\n")) {
            worst.push((grade, condition.id.clone()));
        }
    }
    worst.sort_by(|a, b| b.0.total_cmp(&a.0));
    for (grade, id) in worst.iter().take(5) {
        println!("{id}: grade {grade:.1}");
    }
    assert!(
        worst[0].0 <= 8.0,
        "{} is at grade {:.1}",
        worst[0].1,
        worst[0].0
    );
}
