//! Numbers that carry their working.
//!
//! An engineering figure is built as an expression of named, sourced inputs. From that one expression come
//! the value, the worst case over all tolerances, the standard uncertainty, a dimension check and the
//! explanation. This crate never reads a file, never prints, and knows nothing of motors.

pub mod dimension;
pub mod figure;
pub mod quantity;
pub mod unit;
pub mod origin;

pub use dimension::Dimension;
pub use figure::{Bounds, Figure, Share, Source, Step};
pub use origin::{How, Origin};
pub use quantity::Quantity;
pub use unit::Unit;
