//! A terminal of a given width that the program runs on.

use super::run::{Said, program};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{Winsize, tcsetwinsize};
use std::fs::File;
use std::io::Read;
use std::path::Path;
use std::process::Stdio;

/// Runs the program with its output on a terminal of that many columns. Both streams come back as `out`.
pub(crate) fn run_on_terminal(folder: &Path, columns: u16, args: &[&str]) -> Said {
    let near = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).expect("a terminal");
    grantpt(&near).expect("granted");
    unlockpt(&near).expect("unlocked");
    let name = ptsname(&near, Vec::new()).expect("a name").into_string().expect("UTF-8");
    let far = File::options().read(true).write(true).open(name).expect("the other end");
    let size = Winsize { ws_row: 40, ws_col: columns, ws_xpixel: 0, ws_ypixel: 0 };
    tcsetwinsize(&far, size).expect("a size");

    let mut command = program(folder);
    command.args(args).env("TERM", "xterm-256color");
    command.stdout(Stdio::from(far.try_clone().expect("another handle"))).stderr(Stdio::from(far));
    let mut child = command.spawn().expect("the program starts");
    // The far end has to close with the program, or reading the near one never ends.
    drop(command);
    let mut near = File::from(near);
    let mut bytes = Vec::new();
    let mut piece = [0; 4096];
    // Reading fails where the last writer has gone: that is the end.
    while let Ok(n @ 1..) = near.read(&mut piece) {
        bytes.extend_from_slice(&piece[..n]);
    }
    let status = child.wait().expect("it ends").code();
    let out = String::from_utf8(bytes).expect("UTF-8").replace("\r\n", "\n");
    Said { status, out, err: String::new() }
}

/// Text without the codes for colour.
pub(crate) fn plain(text: &str) -> String {
    let mut plain = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once("\u{1b}[") {
        plain.push_str(before);
        rest = after.split_once('m').map_or("", |(_, rest)| rest);
    }
    plain + rest
}
