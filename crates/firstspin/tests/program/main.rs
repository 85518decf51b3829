//! The built program, run as a user runs it: every verb, every end, on a terminal and into a pipe, and on input that
//! nobody should have.

mod bad_input;
mod calibrate;
mod export;
mod identify;
mod identify_dump;
mod layout;
mod new_bench;
mod predict;
mod report_folder;
mod run;
mod size;
#[cfg(target_os = "linux")]
mod terminal;
mod tune;
mod verbs;
mod wire;
