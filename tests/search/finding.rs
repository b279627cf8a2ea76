//! What a search for drills promises, beyond its ranking.

use super::shipped;
use fairwhy::knowledge::{ConditionKey, KnowledgeBase, Place, Shot};
use fairwhy::lesson::{AtHand, Lesson, LessonTrouble};
use fairwhy::search::{
    DrillFilters, DrillIndex, DrillQuery, DrillQueryError, Found, MOST_QUERY_WORDS, Question,
    behind_shares,
};
use std::collections::BTreeSet;

fn find(
    base: &KnowledgeBase,
    index: &DrillIndex,
    query: &DrillQuery,
) -> Result<Found, DrillQueryError> {
    let likely = |typed: &[(ConditionKey, f64)]| behind_shares(base, typed);
    index.search(base, query, &likely)
}

fn query(words: &str) -> DrillQuery {
    DrillQuery {
        words: words.to_owned(),
        limit: 10,
        ..DrillQuery::default()
    }
}

/// A word that at most so many drills hold is one to look for a drill by.
const TELLING: usize = 10;

#[test]
fn every_word_of_every_drill_finds_it() {
    let base = shipped();
    let index = DrillIndex::new(&base).expect("memory");
    let mut missed = Vec::new();
    let mut found_by: std::collections::BTreeMap<String, Vec<usize>> = Default::default();
    for key in base.drill_keys() {
        let drill = base.drill(key);
        if drill.retired_for.is_some() {
            continue;
        }
        let mut text = vec![
            drill.name.as_str(),
            &drill.id,
            &drill.purpose,
            &drill.setup,
            &drill.check,
        ];
        text.extend(drill.aliases.iter().map(String::as_str));
        text.extend(drill.steps.iter().map(String::as_str));
        text.extend(drill.feel.iter().map(String::as_str));
        text.extend(drill.goes_wrong.iter().map(String::as_str));
        for word in text.join(" ").split(|c: char| !c.is_alphanumeric()) {
            if !word.is_empty() {
                let keys = found_by.entry(word.to_lowercase()).or_default();
                if keys.last() != Some(&key.0) {
                    keys.push(key.0);
                }
            }
        }
    }
    // A word that hundreds of drills hold says nothing of any of them; every tenth of the others is asked for.
    let telling = found_by
        .into_iter()
        .filter(|(_, keys)| keys.len() <= TELLING);
    for (word, keys) in telling.step_by(10) {
        // A letter left of `don't` is not a word, and pain is answered by referral alone.
        if word.len() < 2 || matches!(word.as_str(), "ll" | "re" | "ve") {
            continue;
        }
        let found = find(
            &base,
            &index,
            &DrillQuery {
                limit: usize::MAX,
                ..query(&word)
            },
        );
        let found = found.unwrap_or_else(|error| panic!("{word}: {error:?}"));
        if found.complaints.refer().is_some() || found.by_filters_alone {
            continue;
        }
        // What is only for juniors is found when a junior is spoken of.
        let barred = |key: usize| {
            if !base.drills[key].only_for.is_empty() {
                return true;
            }
            let not_with = &base.drills[key].not_with;
            found
                .read_as
                .iter()
                .any(|read| not_with.contains(&read.condition))
        };
        for key in keys {
            if !barred(key) && !found.drills.iter().any(|hit| hit.drill.0 == key) {
                missed.push(format!("{word}: {}", base.drills[key].id));
            }
        }
    }
    assert!(
        missed.is_empty(),
        "{} {:?}",
        missed.len(),
        &missed[..missed.len().min(20)]
    );
}

#[test]
fn bad_queries_are_refused_with_words_of_advice() {
    let base = shipped();
    let index = DrillIndex::new(&base).expect("memory");
    let refused = |query: &DrillQuery| find(&base, &index, query).expect_err("refused");
    for words in ["", "   ", "?!...", "\u{1F3CC}"] {
        let error = refused(&query(words));
        assert!(matches!(error, DrillQueryError::NoWords(_)), "{words:?}");
    }
    for (text, count) in [
        ("slice ".repeat(10_000), 10_000),
        ("slice/".repeat(120), 120),
    ] {
        let error = refused(&query(&text));
        assert!(
            matches!(error, DrillQueryError::TooManyWords { words, .. } if words == count),
            "{error:?}"
        );
    }
    // Shorthand that is long when written out is still as short as it was typed.
    let within = query(&"overrotate ".repeat(60));
    assert!(find(&base, &index, &within).is_ok());
    let error = refused(&query("\u{441}\u{440}\u{435}\u{437}\u{43a}\u{430}"));
    assert!(matches!(error, DrillQueryError::OtherScript(_)));
    let error = refused(&DrillQuery {
        lesson: Lesson {
            at_hand: Some(AtHand::of(&["towle"])),
            ..Lesson::default()
        },
        ..query("slice")
    });
    assert!(
        matches!(&error, DrillQueryError::Lesson(LessonTrouble::Thing { nearest, .. }) if nearest[0] == "towel"),
        "{error:?}"
    );
    let minutes = |minutes| DrillQuery {
        filters: DrillFilters {
            minutes: Some(minutes),
            ..DrillFilters::default()
        },
        ..query("slice")
    };
    for wrong in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        let error = refused(&minutes(wrong));
        assert!(matches!(error, DrillQueryError::NoTime(_)), "{error:?}");
    }
}

#[test]
fn filters_alone_find_what_fits_and_read_no_fault_into_it() {
    let base = shipped();
    let index = DrillIndex::new(&base).expect("memory");
    for words in ["something for home", "home", "homework for him"] {
        let found = find(&base, &index, &query(words)).expect("found");
        assert!(
            found.by_filters_alone && found.read_as.is_empty(),
            "{words}"
        );
        assert_eq!(found.filters, ["home"], "{words}");
        let mut on = BTreeSet::new();
        for hit in &found.drills {
            let drill = base.drill(hit.drill);
            assert!(drill.places.contains(&Place::Home), "{words}: {}", drill.id);
            on.insert(hit.works_on.first().map(|on| on.condition));
        }
        assert_eq!(on.len(), 10, "one for each fault first");
    }
    let hurts = find(&base, &index, &query("something for home with a sore back")).expect("found");
    assert!(!hurts.by_filters_alone && hurts.complaints.refer().is_some());
}

#[test]
fn filters_keep_their_word_and_the_facets_count_what_is_there() {
    let base = shipped();
    let index = DrillIndex::new(&base).expect("memory");
    let all = find(
        &base,
        &index,
        &DrillQuery {
            limit: usize::MAX,
            ..query("slice")
        },
    )
    .expect("found");
    let lesson = Lesson {
        place: Some(Place::Home),
        at_hand: Some(AtHand::of(&["mirrors", "alignment stick"])),
        shot: Some(Shot::Driver),
        ..Lesson::default()
    };
    let some = DrillQuery {
        lesson,
        limit: usize::MAX,
        ..query("slice")
    };
    let some = find(&base, &index, &some).expect("found");
    assert!(!some.drills.is_empty() && some.drills.len() < all.drills.len());
    assert_eq!(some.total, some.drills.len());
    for hit in &some.drills {
        let drill = base.drill(hit.drill);
        assert!(drill.places.contains(&Place::Home), "{}", drill.id);
        assert!(drill.applies_to(Some(Shot::Driver)), "{}", drill.id);
        assert!(
            drill
                .equipment
                .iter()
                .all(|e| ["mirror", "stick", "club", "ball"]
                    .iter()
                    .any(|own| e.contains(own))),
            "{}: {:?}",
            drill.id,
            drill.equipment
        );
    }
    assert_eq!(some.facets.place.get("home"), Some(&some.total));
    assert_eq!(all.facets.ladder.values().sum::<usize>(), all.total);
}

#[test]
fn nothing_is_found_for_nothing_and_the_nearest_words_are_called_guesses() {
    let base = shipped();
    let index = DrillIndex::new(&base).expect("memory");
    let found = find(&base, &index, &query("qwxzv")).expect("answered");
    assert!(found.drills.is_empty() && !found.guesses.is_empty());
    let found = find(&base, &index, &query("towl uner leed foot")).expect("answered");
    assert_eq!(
        base.drill(found.drills[0].drill).id,
        "towel-under-the-lead-foot"
    );
    assert!(found.guesses.iter().any(|g| g.typed == "towl" && g.taken));
}

#[test]
fn a_word_half_typed_already_finds() {
    let base = shipped();
    let index = DrillIndex::new(&base).expect("memory");
    let found = find(&base, &index, &query("knuckl")).expect("answered");
    assert!(
        found
            .drills
            .iter()
            .any(|hit| base.drill(hit.drill).id == "count-the-knuckles")
    );
}

#[test]
fn pain_is_answered_by_referral_alone() {
    let base = shipped();
    let index = DrillIndex::new(&base).expect("memory");
    for words in [
        "low back pain",
        "hurts",
        "it hurts when he slices",
        "slices and hurts",
        "his back hurts and he slices",
        "fat shots, sore wrist",
        "painfull elbow",
        "golf after an injury",
        "sprained wrist",
        "pulled hamstring",
        "broken finger, slices",
        "bad hip, hooks",
        "neck hurts",
        "elbow bothers him",
        "bad back, slices",
    ] {
        let found = find(&base, &index, &query(words)).expect("answered");
        assert!(found.complaints.refer().is_some(), "{words}");
        for hit in &found.drills {
            assert_eq!(base.drill(hit.drill).kind.as_str(), "referral", "{words}");
        }
    }
    for words in [
        "slices",
        "no pain, but slices",
        "kills it",
        "bad lie, ball too far back",
        "pulled it back left",
        "bad contact and the wind bothers him",
    ] {
        assert!(
            find(&base, &index, &query(words))
                .expect("answered")
                .complaints
                .refer()
                .is_none(),
            "{words}"
        );
    }
}

#[test]
fn how_many_fit_does_not_hang_on_how_many_are_asked_for() {
    let base = shipped();
    let index = DrillIndex::new(&base).expect("memory");
    let asked = |limit| {
        let query = DrillQuery {
            limit,
            ..query("ball")
        };
        let found = find(&base, &index, &query).expect("found");
        (found.total, found.without_filters, found.facets)
    };
    assert_eq!(asked(1), asked(1_000));
}

#[test]
fn the_same_question_has_the_same_answer() {
    let base = shipped();
    let one = DrillIndex::new(&base).expect("memory");
    let other = DrillIndex::new(&base).expect("memory");
    for words in ["slice", "fat then thin", "towel"] {
        let ask = |index| find(&base, index, &query(words)).expect("found");
        assert_eq!(ask(&one), ask(&other));
    }
}

/// A known word, several, one slip, a beginning, shorthand, a number, two readings at once, fillers
/// alone, a word of nobody's, another script, nothing, and more than is read.
#[test]
fn a_question_asked_once_has_the_answer_of_the_whole_index() {
    let base = shipped();
    let index = DrillIndex::new(&base).expect("memory");
    let likely = |typed: &[(ConditionKey, f64)]| behind_shares(&base, typed);
    let too_many = "slice ".repeat(MOST_QUERY_WORDS + 1);
    for words in [
        "towel",
        "chunked wedges from a tight lie",
        "slcie",
        "alig",
        "ott w/ 7i",
        "9 to 3",
        "fat then thin",
        "what to do",
        "xylophone",
        "\u{441}\u{43b}\u{430}\u{439}\u{441}",
        "...",
        &too_many,
    ] {
        let once = Question::new(&base, query(words)).expect("memory");
        let (whole, once) = (
            find(&base, &index, &query(words)),
            once.answer(&base, &likely),
        );
        match (whole, once) {
            (Ok(whole), Ok(once)) => assert_eq!(whole, once, "{words}"),
            (whole, once) => assert_eq!(
                format!("{:?}", whole.expect_err(words)),
                format!("{:?}", once.expect_err(words))
            ),
        }
    }
}

#[test]
fn parts_of_a_score_add_up() {
    let base = shipped();
    let index = DrillIndex::new(&base).expect("memory");
    for hit in find(&base, &index, &query("weak slice"))
        .expect("found")
        .drills
    {
        assert!((hit.by_meaning + hit.by_text - hit.score).abs() < 1e-12);
        assert!((0.0..=1.0).contains(&hit.score), "{}", hit.score);
    }
}
