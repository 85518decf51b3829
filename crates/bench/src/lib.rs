//! The bench description: parts, bench file, schema, overlays, loader.

pub mod file;
mod kind;
pub mod part;
mod record;
