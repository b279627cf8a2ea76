//! What strangers hand in, each as one function of bytes: it may refuse them, and nothing else.
//!
//! Shared by the bounded run in `tests/fuzz.rs` and the guided one in `tests/fuzz/guided.rs`.

use fairwhy::authoring::{Draft, EntryKind, check, share};
use fairwhy::diagnosis::makes_likely;
use fairwhy::knowledge::{
    ConditionKey, KnowledgeBase, LayerText, Level, Paint, Place, RemedyKind, Rung, Shot,
    Strictness, Suits, library_file, library_text, load, report_problems, steers,
};
use fairwhy::lesson::{AtHand, Handed, Lesson};
use fairwhy::search::{DrillFilters, DrillIndex, DrillQuery, DrillQueryError};
use fairwhy::words::{Reader, Reading};
use std::sync::OnceLock;

/// A way in for strangers.
pub type Target = fn(&[u8]);

/// Every way in, by name.
pub const TARGETS: &[(&str, Target)] = &[
    ("library", library),
    ("indexed", indexed),
    ("shared", shared),
    ("draft", draft),
    ("words", words),
    ("query", query),
];

/// A library small enough to be loaded thousands of times.
pub const SMALL: &str = include_str!("small.yaml");

fn small_layer() -> LayerText {
    LayerText::new("small", [("small.yaml", SMALL)])
}

/// The base that words are read against, loaded once.
fn base() -> &'static KnowledgeBase {
    static BASE: OnceLock<KnowledgeBase> = OnceLock::new();
    BASE.get_or_init(|| {
        load(&[small_layer()], Strictness::Lesson)
            .expect("the small library loads")
            .base
    })
}

/// Two texts from one input, parted at the first NUL.
fn two(bytes: &[u8]) -> (String, String) {
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    let at = bytes.iter().position(|byte| *byte == 0);
    match at {
        Some(at) => (text(&bytes[..at]), text(&bytes[at + 1..])),
        None => (text(bytes), String::new()),
    }
}

/// A stranger's library from one input, in two files.
fn stranger(bytes: &[u8]) -> LayerText {
    let (one, two) = two(bytes);
    LayerText::new("stranger", [("a.yaml", one), ("b.yaml", two)])
}

/// Files of a library, alone and on top of another; what can be read can be written.
fn library(bytes: &[u8]) {
    let stranger = stranger(bytes);
    for layers in [
        vec![stranger.clone()],
        vec![small_layer(), stranger.clone()],
    ] {
        match load(&layers, Strictness::Lesson) {
            Err(problems) => said(&problems, &layers),
            Ok(loaded) => said(&loaded.warnings, &layers),
        }
    }
    for file in &stranger.files {
        if let Ok(read) = library_file(&file.text) {
            let text = library_text(&read).expect("what was read can be written");
            let again =
                library_file(&text).unwrap_or_else(|problems| panic!("{problems:?}\n{text}"));
            assert_eq!(again, read, "{text}");
        }
    }
}

/// Whatever loads can be searched, with words of its own too.
fn indexed(bytes: &[u8]) {
    let layers = [small_layer(), stranger(bytes)];
    let Ok(loaded) = load(&layers, Strictness::ErrorsOnly) else {
        return;
    };
    let own = loaded.base.drills.last().map(|drill| drill.name.clone());
    searched(&loaded.base, "hangs back heel towel");
    searched(&loaded.base, &own.unwrap_or_default());
}

/// Every problem has a place inside its file, and the page of them steers no terminal.
fn said(problems: &[fairwhy::knowledge::Problem], layers: &[LayerText]) {
    let page = report_problems(problems, layers, Paint::Plain);
    assert!(!page.chars().any(|c| steers(c) && c != '\n'), "{page:?}");
    for problem in problems {
        let layer = layers.iter().find(|layer| layer.name == problem.layer);
        let file =
            layer.and_then(|layer| layer.files.iter().find(|file| file.path == problem.file));
        if let Some(file) = file {
            let lines = file.text.lines().count() + 1;
            assert!(problem.line <= lines, "{problem:?} of {lines} lines");
        }
    }
}

fn searched(base: &KnowledgeBase, words: &str) {
    let index = DrillIndex::new(base).expect("memory for it");
    let query = DrillQuery {
        words: words.to_owned(),
        limit: 8,
        ..DrillQuery::default()
    };
    let likely = |typed: &[(ConditionKey, f64)]| makes_likely(base, &query.lesson, typed);
    if let Ok(found) = index.search(base, &query, &likely) {
        assert!(found.drills.len() <= 8);
        assert!(
            found
                .drills
                .iter()
                .all(|hit| (0.0..=1.0).contains(&hit.score))
        );
    }
}

/// What is shared can be read by whoever gets it, and says the same.
fn shared(bytes: &[u8]) {
    let layer = stranger(bytes);
    if let Ok((text, count)) = share(&layer) {
        let again = LayerText::new("again", [("a.yaml", text.as_str())]);
        assert_eq!(share(&again), Ok((text, count)));
    }
}

/// What `fairwhy add` is given, for every sort of entry.
fn draft(bytes: &[u8]) {
    for kind in EntryKind::ALL {
        let Ok(mut draft) = Draft::from_bytes(*kind, bytes) else {
            continue;
        };
        draft.set_on_trial();
        let read = library_file(draft.text()).expect("what will be saved can be read");
        assert_eq!(&read, draft.file());
        let file = fairwhy::knowledge::FileText {
            path: draft.path(),
            text: draft.text().to_owned().into(),
        };
        let own = LayerText::new("own", [] as [(&str, &str); 0]);
        let layers = [small_layer(), own];
        match check(&layers, 1, &[file]) {
            Ok(checked) => searched(&checked.after, "hangs back heel towel"),
            Err(problems) => {
                let moved: Vec<_> = problems.into_iter().map(|p| draft.as_given(p)).collect();
                let page = report_problems(&moved, &[draft.given_layer("draft")], Paint::Plain);
                assert!(!page.is_empty());
            }
        }
    }
}

/// Words of a coach, read as an entry.
fn words(bytes: &[u8]) {
    static READER: OnceLock<Reader> = OnceLock::new();
    let reader = READER.get_or_init(|| Reader::new(base()));
    let typed = String::from_utf8_lossy(bytes);
    for lesson in [
        Lesson::default(),
        Lesson {
            shot: Some(Shot::Chip),
            handed: Some(Handed::Left),
            ..Lesson::default()
        },
    ] {
        let candidates = match reader.read(&typed, &lesson) {
            Reading::Clear { .. } => continue,
            Reading::Several(candidates) => {
                assert!(!candidates.is_empty());
                candidates
            }
            Reading::Unknown(candidates) => candidates,
        };
        for candidate in candidates {
            assert!((0.0..=1.0).contains(&candidate.score), "{candidate:?}");
        }
    }
}

/// A search for drills: the first bytes are filters, the rest are words.
fn query(bytes: &[u8]) {
    static INDEX: OnceLock<DrillIndex> = OnceLock::new();
    let index = INDEX.get_or_init(|| DrillIndex::new(base()).expect("memory for it"));
    let Some((head, rest)) = bytes.split_at_checked(8) else {
        return;
    };
    fn one_of<T: Copy>(all: &[T], byte: u8) -> Option<T> {
        all.get(usize::from(byte)).copied()
    }
    let (words, things) = two(rest);
    let query = DrillQuery {
        words,
        lesson: Lesson {
            shot: one_of(Shot::ALL, head[0]),
            place: one_of(Place::ALL, head[1]),
            at_hand: (head[2] == 1).then(|| AtHand::of(&things.split(',').collect::<Vec<_>>())),
            suits: one_of(Suits::ALL, head[5]).into_iter().collect(),
            level: one_of(Level::ALL, head[6]),
            ..Lesson::default()
        },
        filters: DrillFilters {
            rung: one_of(Rung::ALL, head[3]),
            kind: one_of(RemedyKind::ALL, head[4]),
            minutes: (head[7] > 0).then(|| f64::from(head[7]) - 100.0),
            limits: None,
            without: Vec::new(),
        },
        limit: 5,
    };
    let likely = |typed: &[(ConditionKey, f64)]| makes_likely(base(), &query.lesson, typed);
    match index.search(base(), &query, &likely) {
        Ok(found) => {
            assert!(found.drills.len() <= 5);
            assert!(found.drills.is_sorted_by(|a, b| a.score >= b.score));
            assert!(found.total <= found.without_filters, "{found:?}");
        }
        Err(error) => assert!(!matches!(error, DrillQueryError::Index(_)), "{error:?}"),
    }
}
