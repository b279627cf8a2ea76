//! What was seen of each student, what was done about it, and what came of it.
//!
//! A [`Student`] goes by a handle. Every check-up is a [`LessonRecord`]: what was seen and ruled out,
//! our order, the start as the coach calls it, what was prescribed, what was counted and measured. An
//! [`Outcome`] says how a drill went. A [`Store`] keeps them in one SQLite file, or on a PostgreSQL
//! server that several coaches share; the statements are the same.
//!
//! ```
//! use fairwhy::records::{LessonRecord, Store, StorePlace, Student};
//!
//! let folder = tempfile::tempdir().expect("a folder");
//! let place = StorePlace::File(folder.path().join("records.db"));
//! let mut store = Store::to_write(&place, "robin").expect("opens");
//! let day = "2026-05-04".parse().expect("a day");
//! store.add_student(&Student::new("heron", day), Some("stiff neck")).expect("kept");
//! let lesson = LessonRecord { day, seen: vec!["slice".into()], ..LessonRecord::new(day) };
//! let kept = store.add_lesson("heron", &lesson).expect("kept and read back");
//! assert_eq!((kept.number, kept.coach.as_str()), (1, "robin"));
//!
//! let mut store = Store::to_read(&place).expect("opens").expect("is there");
//! assert_eq!(store.history("heron").expect("read").lessons, [kept]);
//! ```

mod called;
mod error;
mod eval;
mod exchange;
mod handle;
mod held;
mod history;
mod journal;
mod keeping;
mod learning;
mod lesson_record;
mod opening;
mod outcome;
mod place;
mod record;
mod seen;
mod sql;
mod store;
mod student_record;

pub use error::StoreError;
pub use eval::{Agreement, Bin, Evaluation, Rate, agreement, evaluate};
pub use exchange::{EXPORT_FORMAT, ExchangeError, from_csv, from_lines, to_csv, to_lines};
pub use handle::mistaken_for;
pub use held::{
    Advice, CountChange, Held, QuantityChange, Since, SinceLast, counts_since, measured_since,
    since_last,
};
pub use history::{History, StudentSummary};
pub use journal::Undone;
pub use keeping::{Forgotten, Restored, StoreCheck};
pub use learning::{
    CallFor, EFFECT_WEIGHT, LearnedEffect, LearnedRow, OWN_WEIGHT, ROW_WEIGHT, call_holds,
    dirichlet_mean, learned_effect, learned_row, learned_rows, move_effects,
};
pub use lesson_record::{LessonRecord, MeasuredNumber, Picture, Prescribed, Ranked, Tally};
pub use outcome::{DrillResult, Outcome};
pub use place::StorePlace;
pub use record::Record;
pub use store::Store;
pub use student_record::{KEPT_MONTHS, Student, shape_of_handle};
