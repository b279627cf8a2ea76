//! From what a coach saw, to why, to what to do.
//!
//! Data flows one way, and the modules say so: [`knowledge`] reads and checks layers of YAML,
//! [`causal`] makes the graph of what brings about what, [`inference`] computes over numbers alone,
//! [`words`] reads what a coach says, [`search`] finds drills, [`diagnosis`] ranks the root causes of what was
//! seen, [`plan`] makes a lesson of them, [`records`] keeps what came of it for each student, and [`report`]
//! puts answers on paper. [`authoring`] takes in a coach's own entries. [`cli`] and [`web`] are the doors to all
//! of it, and compute nothing.
//!
//! ```
//! use fairwhy::diagnosis::{Reported, diagnose, observe};
//! use fairwhy::knowledge::{Strictness, load, shipped};
//! use fairwhy::lesson::Lesson;
//! use fairwhy::words::Readers;
//!
//! let base = load(&[shipped()], Strictness::ErrorsOnly).expect("what ships is sound").base;
//! let reported = Reported {
//!     seen: vec!["weak slice".to_owned()],
//!     ..Reported::default()
//! };
//! let mut nobody_to_ask = |_: &str, _: &[_]| None;
//! let asked = observe(
//!     &Readers::new(&base),
//!     &Lesson::default(),
//!     &reported,
//!     &mut nobody_to_ask,
//! )
//! .expect("it means one entry");
//! let diagnosis = diagnose(&base, &asked).expect("one finding fits every budget");
//! assert_eq!(base.condition(diagnosis.causes[0].condition).id, "grip-too-weak");
//! ```

pub mod authoring;
pub mod causal;
pub mod cli;
pub mod diagnosis;
pub mod inference;
pub mod knowledge;
pub mod lesson;
pub mod measure;
pub mod plan;
pub mod records;
pub mod report;
pub mod search;
pub mod web;
pub mod words;
