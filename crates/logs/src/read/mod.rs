//! Tables as real instruments write them, read back: dialects are guessed, shown, and overridden where they are told.

mod account;
pub(crate) mod dialect;
pub(crate) mod error;
pub(crate) mod feed;
mod form;
mod guess;
pub(crate) mod heading;
pub(crate) mod number;
mod pieces;
mod reader;
mod rows;
mod stamp;
mod target;
mod timekeeper;

pub use account::{Account, Course, Held, Places};
pub use dialect::{Encoding, Mark, Separator};
pub use error::Unreadable;
pub use form::{Clock, Form, Guess, Heading, Told};
pub use reader::{Columns, Reader, Rows};
pub use stamp::Order;
