//! The pages in a real browser: a whole lesson by keyboard and by touch, with script and without, on a
//! phone and on a tablet; what a rule set for accessibility says of each page; one sheet of paper.
//!
//! Needs `chromium` and `chromedriver`; where they are not there, each test says so and passes.

#[path = "browser/axe.rs"]
mod axe;
#[path = "browser/driver.rs"]
mod driver;
#[path = "browser/lesson.rs"]
mod lesson;
#[path = "browser/pictures.rs"]
mod pictures;
