//! `report`: whole or not at all, over nothing but its own, the same bytes for the same bench.

use super::run::{Own, Said, content, empty, run_in, skip, starters};
use std::fs;
use std::path::{Path, PathBuf};

fn report(folder: &Path, bench: &Path, out: &str) -> Said {
    run_in(folder, ["report", bench.to_str().unwrap(), "--out", out])
}

/// Files below a folder by their path in it.
fn below(folder: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    let strip = |(path, bytes): (PathBuf, _)| (path.strip_prefix(folder).unwrap().to_owned(), bytes);
    content(folder).into_iter().map(strip).collect()
}

#[test]
fn every_starter_has_pages_and_data() {
    for starter in starters() {
        let (own, dir) = (Own::of(starter.name()), empty());
        let (checked, said) = (own.check(), report(dir.path(), own.path(), "pages"));
        assert_eq!(said.status, checked.status, "{said:?}");
        said.no_wider_than(100);
        if checked.status == Some(2) {
            assert!(said.err.contains("No report was written."), "{said:?}");
            assert!(said.out.contains(checked.out.lines().next().unwrap()), "{said:?}");
            assert_eq!(content(dir.path()), []);
            continue;
        }
        let files = below(&dir.path().join("pages"));
        let names: Vec<&str> = files.iter().map(|(path, _)| path.to_str().unwrap()).collect();
        assert!(names.contains(&"index.html") && names.contains(&"data/more/check.json"), "{names:?}");
        let (_, json) = files.iter().find(|(path, _)| path.ends_with("check.json")).unwrap();
        let told = own.run(["check", "--format", "json"]).json();
        assert_eq!(serde_json::from_slice::<serde_json::Value>(json).unwrap(), told);
        // A second run into the same folder replaces it.
        let json = run_in(
            dir.path(),
            ["report", own.path().to_str().unwrap(), "--out", "pages", "--format", "json"],
        );
        let told = json.json();
        assert_eq!(below(&dir.path().join("pages")), files);
        for name in told["files"].as_array().unwrap() {
            assert!(names.contains(&name.as_str().unwrap()), "{name} is not there");
        }
        assert_eq!(told["index"], "pages/index.html");
    }
}

/// What the plan adds, moves and takes away is in the picture, wire by wire; once it is written down, no sign is left.
#[test]
fn the_picture_shows_what_the_plan_does() {
    for starter in starters() {
        let own = Own::of(starter.name());
        let text = own.read("bench.toml");
        // The last wire is missing, and of the shuttle one leads to a wrong pin.
        if let Some((before, last)) = text.rsplit_once("[[wires]]") {
            let after = last.find("\n[").map_or("", |at| &last[at..]);
            let changed = before.replacen("controller.J2.13", "controller.J2.14", 1);
            own.write("bench.toml", changed + after);
        }
        let count = |plan: &serde_json::Value, states: &[&str]| {
            let wires = plan["wires"].as_array().map(Vec::as_slice).unwrap_or_default();
            wires.iter().filter(|wire| states.iter().any(|state| wire["state"] == *state)).count()
        };
        let drawn = || {
            report(own.path(), Path::new("."), "pages");
            let svg =
                fs::read_to_string(own.path().join("pages/data/picture-connectors.svg")).expect("a picture");
            let (legend, planned) =
                (svg.contains("planned: does not lie yet"), svg.matches("\"w-loose w-planned\"").count());
            (planned - usize::from(legend), svg.matches("<circle class=\"sign\"").count())
        };
        let plan = || run_in(own.path(), ["wire", "--format", "json"]).json()["plan"].take();
        let wanted = plan();
        let (added, gone) = (count(&wanted, &["new", "move"]), count(&wanted, &["move", "take away"]));
        let (planned, signs) = drawn();
        assert_eq!(planned, added, "{}", starter.name());
        let samples = usize::from(added > 0) + usize::from(gone > 0);
        assert_eq!(signs, added + gone + samples, "{}", starter.name());
        if !wanted.is_null() {
            run_in(own.path(), ["wire", "--write"]);
            assert_eq!(drawn(), (0, 0), "{}", starter.name());
        }
    }
}

#[test]
fn the_same_bench_gives_the_same_bytes_wherever_and_whenever() {
    let (own, here, there) = (Own::new(), empty(), empty());
    report(here.path(), own.path(), "a").done();
    // No clock: seconds later, from the bench's own folder, with other words of locale and zone.
    std::thread::sleep(std::time::Duration::from_millis(1100));
    let deep = there.path().join("deep/er");
    let output = super::run::program(own.path())
        .args(["report", "--out", deep.to_str().unwrap()])
        .envs([("TZ", "Pacific/Auckland"), ("LC_ALL", "de_DE.UTF-8"), ("COLUMNS", "60")])
        .output()
        .unwrap();
    Said::of(output).done();
    let (a, b) = (below(&here.path().join("a")), below(&deep));
    for (a, b) in a.iter().zip(&b) {
        assert_eq!(a.0, b.0);
        assert!(a.1 == b.1, "{} differs", a.0.display());
    }
    assert_eq!(a.len(), b.len());
    let text = own.run(["check", "--format", "json"]).out;
    assert_eq!(run_in(there.path(), ["check", own.path().to_str().unwrap(), "--format", "json"]).out, text);
}

#[test]
fn a_date_comes_from_the_bench_or_the_option() {
    let (own, dir) = (Own::new(), empty());
    let pages = |out: &str, more: &[&str]| {
        let args = ["report", own.path().to_str().unwrap(), "--out", out];
        run_in(dir.path(), args.iter().chain(more)).done();
        String::from_utf8(fs::read(dir.path().join(out).join("index.html")).unwrap()).unwrap()
    };
    assert!(!pages("none", &[]).contains("2031"));
    assert!(pages("option", &["--date", "3 May 2031"]).contains("3 May 2031"));
    own.change("bench.toml", "[bench]\n", "[bench]\ndate = \"2032-01-02\"\n");
    let page = pages("both", &["--date", "3 May 2031"]);
    assert!(page.contains("2032-01-02") && !page.contains("2031"), "the bench's own date counts");
}

#[test]
fn nothing_of_others_is_touched() {
    let (own, dir) = (Own::new(), empty());
    let at = |path: &str| dir.path().join(path);
    fs::create_dir_all(at("photos/deep")).unwrap();
    fs::write(at("photos/deep/one.jpg"), "mine").unwrap();
    fs::write(at("file"), "mine").unwrap();
    report(dir.path(), own.path(), "mixed").done();
    fs::write(at("mixed/notes.txt"), "mine").unwrap();
    report(dir.path(), own.path(), "edited").done();
    fs::write(at("edited/index.html"), "with my remarks").unwrap();
    let before = content(dir.path());
    let way_out = "give another path for the report, or move it away";
    for (out, said) in [
        ("photos", ["photos holds deep/one.jpg, which no report wrote", way_out]),
        ("mixed", ["mixed holds notes.txt, which no report wrote", way_out]),
        ("edited", ["index.html in", "was changed after the report was written"]),
        ("file", ["file exists and is not a folder", way_out]),
        ("file/below", ["cannot", "file/below"]),
        (".", ["holds", way_out]),
        ("/", ["names no folder", "give a path such as"]),
    ] {
        report(dir.path(), own.path(), out).refused(&said);
        assert_eq!(content(dir.path()), before, "{out}");
    }
    // The bench's own folder is none of a report's.
    own.run(["report", "--out", "."]).refused(&["which no report wrote"]);
}

#[cfg(unix)]
#[test]
fn links_are_followed_to_folders_only() {
    use std::os::unix::fs::symlink;
    let (own, dir) = (Own::new(), empty());
    symlink("nowhere", dir.path().join("dangling")).unwrap();
    let before = content(dir.path());
    report(dir.path(), own.path(), "dangling").refused(&["dangling exists and is not a folder"]);
    assert_eq!(content(dir.path()), before);
}

#[test]
fn missing_parents_are_made() {
    let (own, dir) = (Own::new(), empty());
    report(dir.path(), own.path(), "to/the/customer").done();
    assert!(dir.path().join("to/the/customer/index.html").exists());
}

#[cfg(unix)]
#[test]
fn a_parent_that_cannot_be_written_is_told() {
    use super::bad_input::as_ordinary_user;
    use std::os::unix::fs::PermissionsExt;
    let (own, dir) = (Own::new(), empty());
    fs::set_permissions(own.path(), fs::Permissions::from_mode(0o755)).unwrap();
    fs::set_permissions(dir.path(), fs::Permissions::from_mode(0o555)).unwrap();
    let Some(mut command) = as_ordinary_user(dir.path()) else { return };
    let said =
        Said::of(command.args(["report", own.path().to_str().unwrap(), "--out", "pages"]).output().unwrap());
    said.refused(&["cannot create", "pages", "ermission denied"]);
    let Some(mut command) = as_ordinary_user(dir.path()) else { return };
    let said = Said::of(command.args(["new", "bench"]).output().unwrap());
    said.refused(&["cannot write bench", "ermission denied", "nothing is left there"]);
    assert_eq!(content(dir.path()), []);
    fs::set_permissions(dir.path(), fs::Permissions::from_mode(0o755)).unwrap();
}

/// A disk of so many kB in memory.
#[cfg(target_os = "linux")]
pub(crate) struct SmallDisk(tempfile::TempDir);

#[cfg(target_os = "linux")]
impl SmallDisk {
    pub(crate) fn path(&self) -> &Path {
        self.0.path()
    }
}

#[cfg(target_os = "linux")]
impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = rustix::mount::unmount(self.0.path(), rustix::mount::UnmountFlags::DETACH);
    }
}

/// Mounts one; `None` where this user may not.
#[cfg(target_os = "linux")]
pub(crate) fn small_disk(kilobytes: u32) -> Option<SmallDisk> {
    let dir = empty();
    let size = std::ffi::CString::new(format!("size={kilobytes}k")).ok()?;
    let flags = rustix::mount::MountFlags::empty();
    rustix::mount::mount("none", dir.path(), "tmpfs", flags, size.as_c_str()).ok()?;
    Some(SmallDisk(dir))
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_leaves_what_was_there() {
    let own = Own::new();
    let size: u64 = {
        let dir = empty();
        report(dir.path(), own.path(), "pages");
        let length = |path: &PathBuf| fs::metadata(path).unwrap().len().next_multiple_of(4096);
        content(dir.path()).iter().map(|(path, _)| length(path)).sum()
    };
    // Room for more than one report and less than two: the first fits, its successor does not.
    let Some(disk) = small_disk((size + size * 3 / 4) as u32 / 1024) else {
        return skip("a small disk can be mounted by root only");
    };
    assert_eq!(report(disk.path(), own.path(), "pages").err, "");
    let before = content(disk.path());
    own.change("bench.toml", "Seed-tray shuttle\"", "Seed-tray shuttle, changed\"");
    report(disk.path(), own.path(), "pages").refused(&["cannot write", "No space left"]);
    assert_eq!(content(disk.path()), before, "the earlier report is there, and nothing else");
    report(disk.path(), own.path(), "other").refused(&["cannot write", "No space left"]);
    assert_eq!(content(disk.path()), before);
}

/// Ended in the middle of its work, the program leaves the folder as it was. Between the last look at the flag and the
/// end of the process it may be too late: then the report is whole.
#[cfg(unix)]
#[test]
fn an_interrupted_report_leaves_nothing_behind() {
    use rustix::process::{Pid, Signal, kill_process};
    use std::process::Stdio;
    let own = Own::new();
    let before = content(own.path());
    for _ in 0..20 {
        let mut asked = super::run::program(own.path());
        asked.args(["report", "--out", "pages"]);
        let mut child = asked.stdout(Stdio::null()).stderr(Stdio::piped()).spawn().expect("it starts");
        while content(own.path()).len() == before.len() && child.try_wait().expect("known").is_none() {}
        let _ = kill_process(Pid::from_child(&child), Signal::INT);
        let said = child.wait_with_output().expect("it ends");
        if said.status.code() == Some(130) {
            let words = String::from_utf8_lossy(&said.stderr).into_owned();
            assert_eq!(words, "firstspin: interrupted while writing pages; nothing was changed there\n");
            assert_eq!(content(own.path()), before);
            return;
        }
        assert!(own.path().join("pages/index.html").is_file(), "{said:?}");
        fs::remove_dir_all(own.path().join("pages")).expect("removed");
        assert_eq!(content(own.path()), before);
    }
    panic!("it was never interrupted in time");
}

/// A finding about a line sits on the bridge or board that the line belongs to, not on the bench as a whole.
#[test]
fn a_finding_about_a_line_sits_on_its_board() {
    let own = Own::new();
    let extra = "\n[[wires]]\nid = \"W9\"\nfrom = \"board.breakout.5\"\nto = \"controller.J2.17\"\ncarries = \"board:A.direction\"\n";
    let before = own.read("bench.toml");
    own.write("bench.toml", format!("{before}{extra}"));
    let out = empty();
    let folder = out.path().join("report");
    let said = own.run(["report", "--out", folder.to_str().expect("text")]);
    assert_eq!(said.status, Some(1), "{said:?}");
    let page = std::fs::read_to_string(folder.join("picture.html")).expect("the picture");
    assert!(page.contains("contention, at drivers.board.A.direction"));
    assert!(!page.contains("board:A.direction (the bench as a whole)"));
}
