//! Answers on paper: the same facts for a person at a terminal, for a document and for a program.
//!
//! A [`Page`] is what a command has to say to a person, in blocks; it is laid out as text that fits
//! a width, or written as Markdown. What a program gets is JSON, made from the same answer. This
//! room decides nothing and computes nothing.

mod change_page;
mod comparison;
mod drills_page;
mod entry_page;
mod flight_page;
mod frame_page;
mod handout;
mod json;
mod page;
mod percent;
mod picture;
mod plan;
mod plan_json;
mod progress_page;
mod sentence;
mod since;
mod student_pages;
mod why;

/// The name of a drill, with a word when it is still being tried out.
pub(crate) fn titled(drill: &crate::knowledge::Drill) -> String {
    match drill.status {
        crate::knowledge::Status::Trial => format!("{} (on trial)", drill.name),
        crate::knowledge::Status::Approved => drill.name.clone(),
    }
}

pub use change_page::{
    change_json, change_page, layer_diff_page, layers_json, layers_page, received,
};
pub use comparison::{
    Compared, Sides, compare_json, compare_page, compare_picture, compared_counts,
    compared_students, shots_json, shots_page,
};
pub(crate) use drills_page::{SURELY, because, guesses, nothing_fits};
pub use drills_page::{drills_json, drills_page};
pub use entry_page::{LEAST, LibraryEntry, dose, drill_json, show_json, show_page};
pub use flight_page::{flight_json, flight_page};
pub use frame_page::{frame_json, frame_page, frame_quantities};
pub use handout::{
    Color, Handout, Occasion, Task, contrast, handout, reading_grade, sided, sided_text, with_sides,
};
pub use json::why_json;
pub use page::{Page, PageBlock};
pub use percent::{in_ten, percent};
pub use picture::picture;
pub use plan::plan_page;
pub use plan_json::plan_json;
pub use progress_page::{eval_json, eval_page, progress_json, progress_page, progress_picture};
pub(crate) use sentence::capital;
pub use since::{
    lessons_json, lessons_page, look_first_page, numbers_since, numbers_since_json, since_json,
    since_page,
};
pub use student_pages::{
    checked_page, how_many, last_time, learned_json, learned_line, learned_page, student_json,
    student_page, students_json, students_page,
};
pub(crate) use why::{MARKS, how_likely, look_line, mark, standing, told, would_change};
pub use why::{View, order_page, why_page};
