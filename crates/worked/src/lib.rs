//! Numbers that carry their working.
//!
//! An engineering figure is built as an expression of named, sourced inputs. From that one expression come
//! the value, the worst case over all tolerances, the standard uncertainty, a dimension check and the
//! explanation. This crate never reads a file, never prints, and knows nothing of motors.

mod bounds;
pub mod claim;
pub mod conductors;
pub mod dimension;
pub mod draws;
mod explain;
pub mod expression;
pub mod figure;
pub mod format;
pub mod input;
mod interval;
pub mod joint;
pub mod number;
pub mod origin;
pub mod preferred;
pub mod quantity;
mod tape;
mod turn;
pub mod uncertainty;
pub mod unit;

pub use claim::{Change, Claim, Corridor, Deciding, Outcome, Side, Stand, Verdict, corridor};
pub use dimension::Dimension;
pub use draws::Stream;
pub use explain::{Chapter, Effort};
pub use expression::{Fault, Worked};
pub use figure::{Bounds, Figure, Share, Source, Step};
pub use input::{Group, Input, Setting, correlated};
pub use joint::Joint;
pub use number::Number;
pub use origin::{How, Origin};
pub use quantity::{Parts, PartsError, Quantity, QuantityError};
pub use uncertainty::{Drawn, Draws, Uncertainty, covariance};
pub use unit::{Unit, UnitError};
