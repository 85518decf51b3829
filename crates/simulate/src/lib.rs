//! The bench in time: one drive channel, switched, exact between its events.
//!
//! A [`SetUp`] holds the figures of one drive in SI. A [`Simulation`] plays [`Stage`]s of it: PWM period by PWM
//! period, each mode of bridge, current and shaft being a linear system that is solved in closed form. Where the current
//! ends, the shaft stops or breaks away, or the power through the gear turns, the instant is located and the next mode
//! begins. The time loop allocates nothing; rows go to a [`Sink`] as they come.
//!
//! A [`Trial`] is such a course on the user's bench: planned from its figures, judged before it is offered, and told as
//! key figures.
//!
//! [`Averaged`] goes by the means over the PWM period, for long runs. [`Trial::spread`] plays a trial with corners and
//! seeded [`builds`] of its axis, [`SpeedLoop`] thousands of builds under a loop: `docs/builds.md`.
//!
//! Steppers and hobby servos are no such chains of linear modes; [`stepper`] and [`servo`] integrate them within a tolerance.
//!
//! The model, its limits and its sources: `docs/simulate.md`.

mod acted;
mod asked;
mod averaged;
mod axis;
mod bounds;
pub mod builds;
mod circuit;
mod contents;
mod controlled;
mod course;
mod curved;
mod edges;
mod engine;
mod event;
mod exponential;
mod fault;
mod figures;
mod guard;
mod judge;
mod keys;
mod lash;
mod ledger;
mod linear;
mod lines;
mod log;
mod mode;
pub mod moves;
mod nominal;
mod on_demand;
mod page;
mod plan;
mod planned;
mod planner;
mod points;
mod predicted;
mod prepared;
mod record;
mod rise;
mod run;
mod sensing;
pub mod servo;
mod set_up;
mod shaft;
mod simulation;
mod speed_loop;
pub mod stepper;
mod surroundings;
mod trial;
mod waves;

pub use averaged::{Averaged, CannotAverage};
pub use builds::{Band, Depth, KeyFigure, NoSpread, Samples, Span, Spread, Tolerances};
pub use controlled::{Clock, Delay};
pub use curved::{Curved, Shutdown, Stribeck, Swing, Warmth};
pub use fault::Fault;
pub use lines::sensing;
pub use log::{Rows, columns};
pub use on_demand::{AskedFault, FaultKind, FaultValue, Faulted, NoFault};
pub use plan::Plan;
pub use planned::Planned;
pub use predicted::predicted;
pub use record::{Bent, Energy, Flags, Kept, NoLog, Row, SetAnew, Sink};
pub use run::Course;
pub use sensing::{EncoderLine, Readings, Sampling, SenseLine, Sensed, Sensing, Stuck, Taken};
pub use set_up::{
    Acts, Board, Bus, Clamp, Limit, Lockout, MOST_CLAMPS, MOST_LIMITS, Sees, SetUp, SupplyLimit, SupplyOff,
    Twist, Unusable,
};
pub use simulation::{Command, Ended, Simulation, Stage, total};
pub use speed_loop::{CannotPlay, Response, SpeedLoop};
pub use trial::{CannotPlan, Outcome, Trial, Wish};
pub use waves::{About, Waves};
