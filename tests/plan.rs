//! Plans: what is chosen, in which order, what is never in, and how it is put on paper.

#[path = "plan/choosing.rs"]
mod choosing;
#[path = "plan/coach.rs"]
mod coach;
#[path = "plan/command.rs"]
mod command;
#[path = "plan/fixture.rs"]
mod fixture;
#[path = "plan/panel.rs"]
mod panel;
#[path = "plan/paper.rs"]
mod paper;
#[path = "plan/properties.rs"]
mod properties;
#[path = "plan/safety.rs"]
mod safety;
#[path = "plan/shipped.rs"]
mod shipped;
