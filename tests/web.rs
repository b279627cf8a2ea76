//! The pages, asked for without a network: who is let in, what is bounded, that they say what the
//! commands say, and that they work without script.

#[path = "web/command.rs"]
mod command;
#[path = "web/flows.rs"]
mod flows;
#[path = "web/guard.rs"]
mod guard;
#[path = "web/house.rs"]
mod house;
#[path = "web/own.rs"]
mod own;
#[path = "web/same.rs"]
mod same;
#[path = "web/students.rs"]
mod students;
