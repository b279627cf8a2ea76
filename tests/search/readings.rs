//! How often a coach's words are read as meant: `tests/search/readings.yaml` on the shipped library.

use super::shipped;
use fairwhy::knowledge::{self, KnowledgeBase, Shot, Strictness};
use fairwhy::lesson::{Handed, Lesson};
use fairwhy::words::{ReadBy, Reader, Reading};
use serde::Deserialize;

#[derive(Deserialize)]
struct Readings {
    tuned: Vec<Phrase>,
    fresh: Vec<Phrase>,
    unrelated: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Phrase {
    words: String,
    #[serde(default)]
    means: Option<OneOrMore>,
    #[serde(default)]
    asks: Vec<String>,
    #[serde(default)]
    shot: Option<Shot>,
    #[serde(default)]
    handed: Option<String>,
}

#[derive(Deserialize)]
#[serde(untagged)]
enum OneOrMore {
    One(String),
    More(Vec<String>),
}

fn readings() -> Readings {
    serde_yaml::from_str(include_str!("readings.yaml")).expect("the file is well-formed")
}

#[derive(Debug, Default)]
struct Tally {
    meant: usize,
    asked: usize,
    refused: usize,
    wrong: usize,
    all: usize,
}

impl Tally {
    fn share(part: usize, all: usize) -> f64 {
        #[allow(clippy::cast_precision_loss, reason = "a few hundred phrases")]
        let share = part as f64 / all as f64;
        share
    }
}

/// Read as meant: the one entry, or, where the words mean several, a question that offers them.
/// Asked: a question that has the entry among its candidates. Refused: neither. Wrong: taken for
/// another entry.
fn tally(base: &KnowledgeBase, reader: &Reader, phrases: &[Phrase]) -> Tally {
    let mut tally = Tally::default();
    for phrase in phrases {
        let lesson = Lesson {
            shot: phrase.shot,
            handed: phrase
                .handed
                .as_deref()
                .map(|h| Handed::parse(h).expect("a hand")),
            ..Lesson::default()
        };
        let meant: Vec<&str> = match &phrase.means {
            Some(OneOrMore::One(id)) => vec![id],
            Some(OneOrMore::More(ids)) => ids.iter().map(String::as_str).collect(),
            None => phrase.asks.iter().map(String::as_str).collect(),
        };
        for id in &meant {
            assert!(base.find(id).is_some(), "{id} is not in the library");
        }
        let id = |key| base.condition(key).id.as_str();
        let reading = reader.read(&phrase.words, &lesson);
        tally.all += 1;
        let (slot, said) = match &reading {
            Reading::Clear { condition, .. }
                if phrase.asks.is_empty() && meant.contains(&id(*condition)) =>
            {
                tally.meant += 1;
                continue;
            }
            Reading::Clear {
                condition, matched, ..
            } => (
                &mut tally.wrong,
                format!("WRONG {} by {matched:?}", id(*condition)),
            ),
            Reading::Several(list) => {
                let ids: Vec<String> = list
                    .iter()
                    .map(|c| format!("{} {:.2} {:?}", id(c.condition), c.score, c.nearest))
                    .collect();
                let offered = |wanted: &&str| list.iter().any(|c| id(c.condition) == *wanted);
                if phrase.asks.is_empty() {
                    if meant.iter().any(offered) {
                        (&mut tally.asked, format!("asked {ids:?}"))
                    } else {
                        (&mut tally.refused, format!("REFUSED asked {ids:?}"))
                    }
                } else if meant.iter().all(offered) {
                    tally.meant += 1;
                    continue;
                } else {
                    (&mut tally.asked, format!("asked without all {ids:?}"))
                }
            }
            Reading::Unknown(list) => {
                let ids: Vec<String> = list
                    .iter()
                    .take(3)
                    .map(|c| format!("{} {:.2} {:?}", id(c.condition), c.score, c.nearest))
                    .collect();
                (&mut tally.refused, format!("REFUSED {ids:?}"))
            }
        };
        *slot += 1;
        println!("{:45} meant {meant:?}: {said}", phrase.words);
    }
    tally
}

/// Run with `--nocapture` to see every phrase that was not read as meant.
#[test]
fn most_phrases_are_read_as_meant_and_few_are_refused() {
    let base = shipped();
    let reader = Reader::new(&base);
    let readings = readings();
    for (name, phrases, least_meant, most_wrong) in [
        ("tuned", &readings.tuned, 0.90, 0.03),
        ("fresh", &readings.fresh, 0.70, 0.10),
    ] {
        let tally = tally(&base, &reader, phrases);
        println!("== {name}: {tally:?}");
        let share = |part| Tally::share(part, tally.all);
        assert!(share(tally.meant) >= least_meant, "{name}: {tally:?}");
        assert!(share(tally.refused) < 0.05, "{name}: {tally:?}");
        assert!(share(tally.wrong) < most_wrong, "{name}: {tally:?}");
    }
}

#[test]
fn what_has_nothing_to_do_with_golf_is_unknown() {
    let base = shipped();
    let reader = Reader::new(&base);
    let mut taken = Vec::new();
    for words in readings().unrelated {
        match reader.read(&words, &Lesson::default()) {
            Reading::Unknown(_) => {}
            other => taken.push((words, other)),
        }
    }
    assert!(taken.is_empty(), "{taken:#?}");
}

#[test]
fn every_id_and_every_name_is_read_as_its_own_entry() {
    let base = shipped();
    let reader = Reader::new(&base);
    for key in base.condition_keys() {
        let condition = base.condition(key);
        for words in [&condition.id, &condition.name] {
            match reader.read(words, &Lesson::default()) {
                Reading::Clear { condition, .. } => assert_eq!(condition, key, "{words}"),
                other => panic!("{words}: {other:?}"),
            }
        }
    }
}

#[test]
fn every_alias_is_read_as_its_own_entry_or_asked_about() {
    let base = shipped();
    let reader = Reader::new(&base);
    let mut astray = Vec::new();
    for key in base.condition_keys() {
        for alias in &base.condition(key).aliases {
            match reader.read(alias, &Lesson::default()) {
                // An alias may be another entry's id or name, which goes first.
                Reading::Clear {
                    by: ReadBy::Id | ReadBy::Name,
                    ..
                } => {}
                Reading::Clear { condition, .. } if condition == key => {}
                Reading::Several(list) if list.iter().any(|c| c.condition == key) => {}
                Reading::Clear { condition, .. } => {
                    astray.push((alias, base.condition(condition).id.as_str()));
                }
                Reading::Several(_) | Reading::Unknown(_) => {
                    astray.push((alias, "several or none"))
                }
            }
        }
    }
    assert!(astray.is_empty(), "{astray:#?}");
}

#[test]
fn odd_input_is_unknown_and_does_no_harm() {
    let base = shipped();
    let reader = Reader::new(&base);
    let long = "slice ".repeat(20_000);
    for words in [
        "",
        " ",
        "?!",
        "\u{1F3CC}",
        "\u{440}\u{435}\u{437}",
        "\u{0}",
        "'",
        "the a of it",
    ] {
        assert!(
            matches!(reader.read(words, &Lesson::default()), Reading::Unknown(_)),
            "{words:?}"
        );
    }
    let _ = reader.read(&long, &Lesson::default());
    let _ = reader.read(&"x".repeat(1_000_000), &Lesson::default());
}

#[test]
fn what_is_retired_is_read_as_what_took_its_place() {
    let mine = knowledge::LayerText::new(
        "mine",
        [(
            "faults.yaml",
            "faults:\n  - {id: new-name, name: New name, stage: top}\n  - {id: old-name, name: Old name, stage: top, aliases: [an old saying], retired_for: new-name}\n",
        )],
    );
    let base = knowledge::load(&[mine], Strictness::Lesson)
        .expect("a library")
        .base;
    let reader = Reader::new(&base);
    for words in ["old-name", "Old name"] {
        let Reading::Clear { condition, .. } = reader.read(words, &Lesson::default()) else {
            panic!("{words} is not read");
        };
        assert_eq!(base.condition(condition).id, "new-name");
    }
    // Free words are for what is alive.
    for words in ["name old", "saying an old"] {
        let reading = reader.read(words, &Lesson::default());
        let old = |key| base.condition(key).id == "old-name";
        assert!(
            !matches!(reading, Reading::Clear { condition, .. } if old(condition)),
            "{words}"
        );
    }
}
