//! Numbers and geometry: ball and club at impact, body points in a frame, before and after.
//!
//! Angles are in degrees, out and up are plus, and every number carries how far it may be off. No
//! finding and no threshold of the trade stands here: what a number amounts to, the library says.

pub mod arc;
mod camera;
mod change;
pub mod collision;
mod contradictions;
mod frame_quantities;
mod landmarks;
mod range;
mod shifts;
mod skeleton;
mod strike;
mod strike_number;
mod strike_solver;
mod swing;
mod table;
mod wilson;

pub use camera::{BY_EYE, CameraView, FrameClub, Lead, Moment, Setting, joint_error, line_error};
pub use change::{
    BallCount, Change, Summary, Verdict, balls_needed, count_change, fisher, mean_change,
    reading_change, share_difference, summary,
};
pub use frame_quantities::{FrameError, FrameReading, MeasuredFrame, frame};
pub use range::Range;
pub use shifts::{Shift, shifts};
pub use skeleton::{NAMES, POINTS, Point, PointsError, Skeleton};
pub use strike::{
    Caveat, Club, Contradiction, Curve, Flight, FlightError, ObservedStrike, StrikeSpot,
};
pub use strike_number::{Number, possible, read_number};
pub use strike_solver::flight;
pub use table::{Column, MOST_BYTES, ShotTable, TableError};
pub use wilson::wilson;
