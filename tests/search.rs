//! Reading words and finding drills, judged on phrases and queries of our own.

#[path = "search/readings.rs"]
mod readings;
