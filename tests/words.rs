//! Whole notes read: `tests/words/notes.yaml`, each note with its truth.

#[path = "words/body.rs"]
mod body;

use fairwhy::diagnosis::{Asked, Heard, Reported, State, observe};
use fairwhy::knowledge::{KnowledgeBase, Strictness, folder, load, shipped};
use fairwhy::lesson::Lesson;
use fairwhy::words::{BodyReader, Reader, Readers, Reading, Said};
use serde::Deserialize;
use std::path::Path;

#[derive(Deserialize)]
struct File {
    notes: Vec<Note>,
}

/// A note and what it says.
#[derive(Deserialize)]
struct Note {
    id: String,
    text: String,
    #[serde(default)]
    findings: Vec<Finding>,
    /// The same in short; see the head of the file.
    #[serde(default)]
    says: Vec<String>,
    #[serde(default)]
    facts: Vec<String>,
    /// What may be reported in any state, and need not be.
    #[serde(default)]
    allow: Vec<String>,
    #[serde(default)]
    facts_ok: Vec<String>,
    /// What the student believes and nobody saw.
    #[serde(default)]
    belief: Vec<String>,
}

/// A finding, with other ids that read the same words rightly.
#[derive(Deserialize)]
struct Finding {
    id: String,
    state: String,
    #[serde(default)]
    or: Vec<String>,
    #[serde(default)]
    state_or: Vec<String>,
}

#[derive(Debug, Default)]
struct Tally {
    right: usize,
    said: usize,
    wanted: usize,
    denied_as_seen: usize,
    believed: usize,
    facts_right: usize,
    facts_said: usize,
    facts_wanted: usize,
    refused: usize,
}

impl Tally {
    #[allow(clippy::cast_precision_loss, reason = "a few hundred findings")]
    fn f1(right: usize, said: usize, wanted: usize) -> f64 {
        2.0 * right as f64 / (said + wanted).max(1) as f64
    }
}

impl Note {
    /// The note with what it says in short written out.
    fn written_out(mut self) -> Self {
        for said in std::mem::take(&mut self.says) {
            if let Some(perhaps) = said.strip_suffix('?') {
                let ids = perhaps.trim_start_matches(['-', '~']).split('|');
                self.allow.extend(ids.map(str::to_owned));
                continue;
            }
            let state = match said.as_bytes().first() {
                Some(b'-') => "not-seen",
                Some(b'~') => "slight",
                _ => "seen",
            };
            let mut ids = said
                .trim_start_matches(['-', '~'])
                .split('|')
                .map(str::to_owned);
            self.findings.push(Finding {
                id: ids.next().unwrap_or_default(),
                state: state.to_owned(),
                or: ids.collect(),
                state_or: Vec::new(),
            });
        }
        self
    }
}

fn base() -> KnowledgeBase {
    load(&[shipped()], Strictness::ErrorsOnly)
        .expect("the shipped library loads")
        .base
}

fn read(base: &KnowledgeBase, reader: &Reader, text: &str) -> Option<Asked> {
    let reported = Reported {
        seen: vec![text.to_owned()],
        ..Reported::default()
    };
    let mut nobody = |_: &str, _: &[_]| None;
    observe(
        &Readers::with(base, reader),
        &Lesson::default(),
        &reported,
        &mut nobody,
    )
    .ok()
}

fn facts_of(base: &KnowledgeBase, heard: &Heard) -> Vec<String> {
    let told = heard.told.iter();
    told.map(|told| {
        let id = &base.fact(told.fact).id;
        told.number
            .map_or_else(|| id.clone(), |number| format!("{id} {number}"))
    })
    .collect()
}

fn tally(base: &KnowledgeBase, reader: &Reader, notes: &[Note]) -> Tally {
    let mut tally = Tally::default();
    for note in notes {
        tally.wanted += note.findings.len();
        tally.facts_wanted += note.facts.len();
        let Some(Asked {
            observations,
            heard,
            ..
        }) = read(base, reader, &note.text)
        else {
            tally.refused += 1;
            continue;
        };
        let mut said: Vec<(&str, &str)> = Vec::new();
        for seen in &observations {
            let one = (
                base.condition(seen.condition).id.as_str(),
                seen.state.as_str(),
            );
            if !said.contains(&one) {
                said.push(one);
            }
        }
        let means =
            |finding: &Finding, id: &str| finding.id == id || finding.or.iter().any(|or| or == id);
        let mut open: Vec<&Finding> = note.findings.iter().collect();
        for (id, state) in &said {
            let state = if *state == "measured" { "seen" } else { state };
            let fits = |finding: &&Finding| {
                means(finding, id)
                    && (finding.state == state || finding.state_or.iter().any(|or| or == state))
            };
            if let Some(place) = open.iter().position(fits) {
                open.remove(place);
                tally.right += 1;
                tally.said += 1;
            } else if note.findings.iter().any(|f| fits(&f))
                || note.allow.iter().any(|allow| allow == id)
            {
                // Said twice, or neither here nor there.
            } else {
                tally.said += 1;
                let denied = |f: &Finding| means(f, id) && f.state == "not-seen";
                tally.denied_as_seen +=
                    usize::from(state != "not-seen" && note.findings.iter().any(denied));
                tally.believed +=
                    usize::from(state == "seen" && note.belief.iter().any(|b| b == id));
            }
        }
        for fact in facts_of(base, &heard) {
            if note.facts.contains(&fact) {
                tally.facts_right += 1;
                tally.facts_said += 1;
            } else if !note.facts_ok.contains(&fact) {
                tally.facts_said += 1;
            }
        }
    }
    tally
}

/// The two halves: the reader was tuned on notes of odd numbers; those of even numbers were only
/// looked at as figures.
#[test]
fn notes_are_read_as_meant() {
    let file: File = serde_yaml::from_str(include_str!("words/notes.yaml")).expect("well-formed");
    let base = base();
    let reader = Reader::new(&base);
    let (tuned, kept): (Vec<_>, Vec<_>) = file
        .notes
        .into_iter()
        .enumerate()
        .partition(|(number, _)| number % 2 == 0);
    let only = |notes: Vec<(usize, Note)>| {
        notes
            .into_iter()
            .map(|(_, note)| note.written_out())
            .collect::<Vec<_>>()
    };
    for (name, notes) in [("tuned", only(tuned)), ("kept", only(kept))] {
        let tally = tally(&base, &reader, &notes);
        println!("{name}: {tally:?}");
        let findings = Tally::f1(tally.right, tally.said, tally.wanted);
        let facts = Tally::f1(tally.facts_right, tally.facts_said, tally.facts_wanted);
        println!("{name}: findings F1 {findings:.3}, facts F1 {facts:.3}");
        assert_eq!(tally.refused, 0, "{name}");
        assert!(
            findings >= 0.75 && facts >= 0.75,
            "{name}: {findings} {facts}"
        );
    }
}

/// Prints what each note of a file is read as, a line of JSON each, by the library in `knowledge/`:
/// `FAIRWHY_NOTES=FILE cargo test --test words as_json -- --ignored --nocapture`.
#[test]
#[ignore = "prints for another program to score"]
fn as_json() {
    let path = std::env::var("FAIRWHY_NOTES").expect("FAIRWHY_NOTES names a file");
    let text = std::fs::read_to_string(path).expect("a file");
    let file: File = serde_yaml::from_str(&text).expect("well-formed");
    let folder = folder::read(Path::new("knowledge")).expect("the library");
    let base = match load(&[folder], Strictness::ErrorsOnly) {
        Ok(loaded) => loaded.base,
        Err(problems) => panic!("{:?}", problems.first()),
    };
    let reader = Reader::new(&base);
    let begun = std::time::Instant::now();
    for note in &file.notes {
        let line = match read(&base, &reader, &note.text) {
            None => serde_json::json!({"id": note.id}),
            Some(Asked {
                observations,
                heard,
                ..
            }) => serde_json::json!({
                "id": note.id,
                "observations": observations.iter().map(|seen| {
                    let open = heard.open.iter().any(|open| open.wants_hand && open.given == seen.given);
                    serde_json::json!({
                        "given": seen.given,
                        "id": (!open).then(|| base.condition(seen.condition).id.as_str()),
                        "state": seen.state.as_str(),
                        "read_by": seen.read_by,
                        "perhaps": seen.perhaps.iter().map(|(key, chance)| format!("{} {chance:.2}", base.condition(*key).id)).collect::<Vec<_>>(),
                    })
                }).collect::<Vec<_>>(),
                "context": heard.told.iter().zip(facts_of(&base, &heard)).map(|(told, fact)| serde_json::json!({"given": told.given, "fact": fact})).collect::<Vec<_>>(),
                "not_understood": heard.not_understood,
                "refer": format!("{:?}", BodyReader::new(&base).read(&note.text).refer()),
            }),
        };
        println!("NOTE {line}");
    }
    eprintln!("{:?} a note", begun.elapsed() / file.notes.len() as u32);
}

/// What a note says in short: `id state value`.
fn said(base: &KnowledgeBase, reader: &Reader, text: &str) -> Vec<String> {
    let asked = read(base, reader, text).expect("it is read");
    let observations = asked.observations.iter();
    observations
        .map(|seen| {
            let id = &base.condition(seen.condition).id;
            let open = if seen.perhaps.is_empty() { "" } else { " open" };
            match seen.state {
                State::Measured { value, .. } => format!("{id} measured {value}{open}"),
                State::Counted { shown, of, .. } => format!("{id} {shown} of {of}{open}"),
                state => format!("{id} {}{open}", state.as_str()),
            }
        })
        .collect()
}

#[test]
fn numbers_in_a_note_are_measurements() {
    let base = base();
    let reader = Reader::new(&base);
    let said = |text: &str| said(&base, &reader, text);
    assert_eq!(
        said("trail elbow 110 at the top"),
        ["trail-arm-overfolds measured 110"]
    );
    assert_eq!(
        said("AoA -8 with a 7 iron"),
        ["attack-too-steep measured -8"]
    );
    assert_eq!(
        said("driver, attack 4 down"),
        ["driver-hit-down-on measured -4"]
    );
    assert_eq!(said("RH, path 5 left"), ["path-out-to-in measured -5"]);
    assert_eq!(said("lefty, path 5 left"), ["path-in-to-out measured 5"]);
    // Yards to a side are about where the ball went; how far it went is another matter.
    let lost = |one: &String| one.starts_with("loss-of-distance");
    assert!(!said("RH, starts 20 yards left").iter().any(lost));
    assert_eq!(
        said("path out to in by 6.5 degrees"),
        ["path-out-to-in measured -6.5"]
    );
    assert_eq!(
        said("spine 48 at address"),
        ["too-bent-over-posture measured 48"]
    );
    assert_eq!(
        said("hips 70 degrees turn"),
        ["hip-turn-too-big measured 70"]
    );
    assert_eq!(said("8 out of 10 slice"), ["slice 8 of 10"]);
    assert_eq!(said("right hander, low hooks, 7 of 10")[0], "hook 7 of 10");
    // The side is open, and both are weighed until somebody says which hand.
    assert_eq!(said("path 5 left").len(), 1);
    assert!(
        said("path 5 left")[0].ends_with("5 open"),
        "{:?}",
        said("path 5 left")
    );
    assert!(said("12 of 20 to the right")[0].ends_with("12 of 20 open"));
    // Within the range it is not there.
    let fine = said("rh, path 1 left");
    assert!(fine.iter().all(|one| one.ends_with("not-seen")), "{fine:?}");
    for (text, why) in [
        ("slice, path 400 left", "between -45 and 45"),
        ("slice, trail elbow 720 at the top", "between 0 and 170"),
        ("slice, 12 of 10 to the right", "12 of 10 cannot be"),
    ] {
        let heard = read(&base, &reader, text).expect("the slice is read").heard;
        let refused = heard.not_understood.iter().any(|lost| lost.contains(why));
        assert!(refused, "{text}: {:?}", heard.not_understood);
    }
}

mod nothing_is_lost {
    use super::{base, read};
    use fairwhy::diagnosis::Asked;
    use fairwhy::lesson::Lesson;
    use fairwhy::words::{BodyReader, Reader};
    use proptest::prelude::*;
    use proptest::test_runner::{Config, TestRunner};

    /// Words that do something to others, findings, facts, bodies, numbers, and words that mean nothing.
    const WORDS: &[&str] = &[
        "no",
        "not",
        "never",
        "isn't",
        "gone",
        "fine",
        "good",
        "maybe",
        "a bit",
        "used to",
        "thinks he",
        "slices",
        "hook",
        "over the top",
        "casting",
        "grip",
        "posture",
        "head",
        "weak",
        "too",
        "and",
        "or",
        "but",
        "so",
        "when he goes after it",
        "leads to",
        "driver",
        "junior",
        "72",
        "5",
        "left",
        "right",
        "sore back",
        "knee",
        "chips",
        "bunkers",
        "zebra",
        "since",
        "the wedding",
        "was",
        "nobody",
        "\u{4e2d}\u{6587}",
        "pneumonoultramicroscopicsilicovolcanoconiosis",
        "path",
        "it",
        "he",
        "than",
    ];
    const MARKS: &[&str] = &[
        " ", " ", " ", ", ", ". ", "; ", "? ", " - ", ": ", " (", ") ", "/", "\n", "...",
    ];

    fn text() -> impl Strategy<Value = String> {
        let part = (prop::sample::select(WORDS), prop::sample::select(MARKS));
        let made = prop::collection::vec(part, 1..24).prop_map(|parts| {
            let parts = parts.into_iter();
            parts
                .flat_map(|(word, mark)| [word, mark])
                .collect::<String>()
        });
        prop_oneof![4 => made, 1 => "\\PC{0,80}".prop_map(String::from)]
    }

    /// Between any two commas there is something that was read, told or not understood.
    #[test]
    fn every_clause_of_any_text_leaves_something() {
        let base = base();
        let reader = Reader::new(&base);
        let body = BodyReader::new(&base);
        let run = |text: String| {
            let note = reader.note(&text, &Lesson::default(), &[]);
            let complaints = body.read(&text);
            let spans = complaints
                .there
                .iter()
                .chain(&complaints.denied)
                .map(|c| c.span.clone());
            let findings = note.findings.iter().map(|finding| finding.at.clone());
            let lost = note.lost(|_| false);
            let told = note.telling.iter().cloned();
            let heard: Vec<_> = findings.chain(told).chain(lost).chain(spans).collect();
            let mut from = 0;
            for part in text.split(',') {
                let to = from + part.len();
                let meets = heard.iter().any(|at| at.start < to && from < at.end);
                let says = part.chars().any(char::is_alphanumeric);
                prop_assert!(!says || meets, "{part:?} of {text:?} is lost");
                from = to + 1;
            }
            // And so through the door, as far as the note is taken at all.
            if let Some(Asked {
                observations,
                heard: told,
                complaints,
                ..
            }) = read(&base, &reader, &text)
            {
                let all = observations.iter().map(|seen| seen.given.as_str());
                let all = all.chain(told.told.iter().map(|told| told.given.as_str()));
                let all = all.chain(told.not_understood.iter().map(String::as_str));
                let all: Vec<&str> = all.collect();
                for at in &note.clauses {
                    let clause = text[at.clone()].trim();
                    let there = all
                        .iter()
                        .any(|one| clause.contains(one) || one.contains(clause));
                    let of_body = body.read(&text);
                    let mut of_body = complaints.there.iter().chain(&of_body.denied);
                    let hurts = of_body.any(|c| c.span.start < at.end && at.start < c.span.end);
                    let again = note.telling.contains(at);
                    prop_assert!(there || hurts || again, "{clause:?} of {text:?} is lost");
                }
            }
            Ok(())
        };
        let config = Config {
            cases: 96,
            failure_persistence: None,
            ..Config::default()
        };
        TestRunner::new(config).run(&text(), run).unwrap();
    }
}

/// What a clause means alone, by its findings; none where part of it is not understood.
fn meant(base: &KnowledgeBase, reader: &Reader, text: &str) -> Option<Vec<(String, Said)>> {
    let note = reader.note(text, &Lesson::default(), &[]);
    let findings = note.findings.iter().map(|finding| match finding.reading {
        Reading::Clear { condition, .. } => {
            Some((base.condition(condition).id.clone(), finding.said))
        }
        _ => None,
    });
    let whole = note.not_understood.is_empty();
    findings.collect::<Option<Vec<_>>>().filter(|_| whole)
}

/// When, how often, how badly and where something happens is no part of what it is.
#[test]
fn what_stands_beside_a_name_changes_nothing() {
    let base = base();
    let reader = Reader::new(&base);
    let ways = base.conditions.iter().flat_map(|condition| {
        let said = std::iter::once(&condition.name).chain(condition.aliases.iter().take(6));
        said.map(move |said| (&condition.id, said.to_lowercase()))
    });
    let beside: [fn(&str) -> String; 6] = [
        |said| format!("still {said}"),
        |said| format!("massive {said} every time"),
        |said| format!("{said} under pressure"),
        |said| format!("the odd {said} on the course"),
        |said| format!("sometimes {said}"),
        |said| format!("I saw {said} again last week"),
    ];
    let (mut asked, mut other) = (0, Vec::new());
    for (number, (id, said)) in ways.step_by(11).enumerate() {
        let alone = meant(&base, &reader, &said);
        if !alone.is_some_and(|found| matches!(&found[..], [(one, Said::Seen)] if one == id)) {
            continue;
        }
        asked += 1;
        let text = beside[number % beside.len()](&said);
        let with = meant(&base, &reader, &text);
        if !with.is_some_and(|found| matches!(&found[..], [(one, _)] if one == id)) {
            other.push(text);
        }
    }
    // Some ways of saying are of two entries, and one word more tips the scale.
    assert!(
        asked > 100 && other.len() * 25 < asked,
        "{asked}: {other:?}"
    );
}

/// Of too little of something, that there is hardly any of it is a report, and that there is no lack of it none.
#[test]
fn little_of_something_is_not_its_denial() {
    let base = base();
    let reader = Reader::new(&base);
    let state = |text: &str, id: &str| {
        let found = meant(&base, &reader, text).unwrap_or_default();
        let one = found.into_iter().find(|(one, _)| one == id);
        one.map(|(_, said)| said)
    };
    let hinge = "too-little-wrist-hinge";
    assert_eq!(state("barely any hinge", hinge), Some(Said::Seen));
    assert_eq!(state("wrists hardly set at all", hinge), Some(Said::Seen));
    assert_eq!(
        state("not too little wrist hinge", hinge),
        Some(Said::NotSeen)
    );
    let turn = "shoulder-turn-too-short";
    assert_eq!(
        state("shoulder turn isn't short", turn),
        Some(Said::NotSeen)
    );
    assert_eq!(
        state("no shoulder turn to speak of", turn),
        Some(Said::Seen)
    );
}

/// A bare denial is of what was said before it, and no finding of its own.
#[test]
fn a_bare_denial_means_nothing_alone() {
    let base = base();
    let reader = Reader::new(&base);
    let note = reader.note("thinks he slices but he isn't", &Lesson::default(), &[]);
    assert!(
        note.findings
            .iter()
            .all(|finding| finding.said == Said::NotSeen),
        "{note:?}"
    );
    let states = |text: &str| {
        let found = meant(&base, &reader, text).unwrap_or_default();
        found.into_iter().map(|(_, said)| said).collect::<Vec<_>>()
    };
    // The answer to a question that nobody wrote down.
    assert_eq!(states("no not the back"), [Said::NotSeen]);
    assert_eq!(states("slice is better"), [Said::Slight]);
    let contrary = read(&base, &reader, "wrist flat, no cup").expect("no contradiction");
    assert!(contrary.observations.iter().all(|seen| {
        let id = &base.condition(seen.condition).id;
        id != "lead-wrist-cupped-at-top" || seen.state == State::NotSeen
    }));
}
