//! Reading words and finding drills, judged on phrases and queries of our own.

use fairwhy::knowledge::{self, KnowledgeBase, Strictness};

#[path = "search/command.rs"]
mod command;
#[path = "search/finding.rs"]
mod finding;
#[path = "search/keeping.rs"]
mod keeping;
#[path = "search/queries.rs"]
mod queries;
#[path = "search/ranking.rs"]
mod ranking;
#[path = "search/readings.rs"]
mod readings;

/// The library that ships.
fn shipped() -> KnowledgeBase {
    knowledge::load(&[knowledge::shipped()], Strictness::Lesson)
        .unwrap_or_else(|problems| panic!("{:#?}", &problems[..problems.len().min(5)]))
        .base
}
