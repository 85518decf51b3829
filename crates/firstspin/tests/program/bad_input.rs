//! Input that nobody should have: status 2, what is wrong, where, and the way out; soon, and nothing changed.

use super::run::{Own, Said, content, empty, program, run_in, skip};
use std::fs;
use std::path::Path;
use std::process::Command;

/// The program run by a user who is not allowed everything: this one, or, where this is root, nobody. `None`,
/// with a printed line, where nobody cannot run it.
#[cfg(unix)]
pub(crate) fn as_ordinary_user(folder: &Path) -> Option<Command> {
    use std::os::unix::process::CommandExt;
    if !rustix::process::geteuid().is_root() {
        return Some(program(folder));
    }
    // The number of the user `nobody` on Debian; any without rights of its own serves.
    let nobody = |mut command: Command| {
        command.uid(65534).gid(65534);
        command
    };
    if nobody(program(folder)).arg("--version").output().is_ok_and(|output| output.status.success()) {
        Some(nobody(program(folder)))
    } else {
        skip("root is refused nothing, and nobody cannot run the program from where it is");
        None
    }
}

/// Runs `check` with a bench file of these bytes in the place of the shuttle's.
fn checked(bytes: impl AsRef<[u8]>) -> Said {
    let own = Own::new();
    own.write("bench.toml", bytes);
    own.check()
}

/// A bench file that is sound up to here.
const HEAD: &str = "[bench]\nname = \"x\"\nambient = \"8 .. 35 °C\"\n";

#[test]
fn an_empty_file_is_told_what_it_lacks() {
    for text in ["", "\n", "# nothing yet\n", "\u{feff}"] {
        checked(text).refused(&["key-missing", "`bench`", "The files cannot be used"]);
    }
}

#[test]
fn binary_files_and_other_encodings_are_told() {
    let random: Vec<u8> =
        (1..10_000_u64).map(|n| (n.wrapping_mul(0x9e37_79b9_7f4a_7c15) >> 56) as u8).collect();
    checked(random).refused(&["file-not-text", "bench.toml"]);
    checked(b"\x7fELF\x02\x01\x01\0\0\0\0\0\0").refused(&[
        "file-not-text",
        "NUL bytes",
        "text file that was meant",
    ]);
    let sound = Own::new().read("bench.toml");
    let wide = |bytes: fn(u16) -> [u8; 2]| sound.encode_utf16().flat_map(bytes).collect::<Vec<u8>>();
    let little = [vec![0xff, 0xfe], wide(u16::to_le_bytes)].concat();
    let big = [vec![0xfe, 0xff], wide(u16::to_be_bytes)].concat();
    for text in [little, big] {
        checked(text).refused(&["file-not-text", "UTF-16", "save it again as UTF-8"]);
    }
    checked(wide(u16::to_le_bytes)).refused(&["file-not-text"]);
    // Latin-1 has one byte for the degree sign.
    let latin: Vec<u8> = sound.chars().map(|c| u8::try_from(u32::from(c)).unwrap_or(b'?')).collect();
    let line = sound.lines().position(|line| !line.is_ascii()).unwrap() + 1;
    let said = format!("line {line} holds a byte that is no UTF-8");
    checked(latin).refused(&["file-not-text", &said, "save the file again as UTF-8"]);
}

#[test]
fn marks_and_line_ends_of_other_systems_are_accepted() {
    let own = Own::new();
    let before = own.run(["check", "--format", "json"]).json();
    for (path, _) in bench::builtin::starter("seed-tray-shuttle").unwrap().files() {
        own.write(path, format!("\u{feff}{}", own.read(path).replace('\n', "\r\n")));
    }
    let said = own.run(["check", "--format", "json"]);
    said.done();
    let after = said.json();
    assert_eq!((&after["verdict"], &after["cases"]), (&before["verdict"], &before["cases"]));
    // Places stay the same too: the mark is no column, the line end no character.
    own.change("bench.toml", "ambient", "ambiant");
    own.check().refused(&["key-unknown", &own.place("bench.toml", "ambiant"), "`ambient`"]);
}

#[test]
fn large_files_are_not_read() {
    let own = Own::new();
    let hundred = 100 << 20;
    fs::File::create(own.file("bench.toml")).unwrap().set_len(hundred).unwrap();
    run_in(own.path(), ["check"]).refused(&["file-too-large", "104857600 bytes", "4 MB"]);
    let own = Own::new();
    fs::File::create(own.file("parts/motor-24.toml")).unwrap().set_len(hundred).unwrap();
    run_in(own.path(), ["check"]).refused(&[
        "file-too-large",
        "parts/motor-24.toml",
        "bench.toml:",
        "a few kB",
    ]);
    // Text, not a hole, just over the limit and just below it.
    checked(vec![b'#'; (4 << 20) + 1]).refused(&["file-too-large"]);
    checked(vec![b'#'; 4 << 20]).refused(&["key-missing"]);
}

#[test]
fn deep_nesting_is_told() {
    let n = 10_000;
    for text in [
        format!("{HEAD}a = {}1{}", "[".repeat(n), "]".repeat(n)),
        format!("{HEAD}a = {}", "[".repeat(n)),
        format!("{HEAD}a = {}1{}", "{ b = ".repeat(n), "}".repeat(n)),
        format!("{HEAD}[{}]", vec!["a"; n].join(".")),
        format!("{HEAD}{} = 1", vec!["a"; n].join(".")),
        format!("{HEAD}[[{}]]", vec!["a"; n].join(".")),
    ] {
        let said = checked(&text);
        said.refused(&["nested-too-deep", "bench.toml:4:", "see to the brackets"]);
        said.no_wider_than(100);
        assert!(said.out.len() < 100_000, "{} bytes", said.out.len());
    }
}

#[test]
fn half_written_files_are_told() {
    let text = Own::new().read("bench.toml");
    // Cut inside a key, a text, a table header and a list.
    for (at, id) in
        [("ambient = \"8 ..", "notation"), ("[supplies.dr", "notation"), ("cuts = [\"drive\"", "notation")]
    {
        let end = text.find(at).unwrap() + at.len();
        checked(&text[..end]).refused(&[id, "bench.toml:", "see to quotation marks"]);
    }
    // Cut between two tables it is sound, and the verdict says how little there is.
    let end = text.find("[drivers.board]").unwrap();
    let said = checked(&text[..end]);
    assert_eq!(said.status, Some(0), "{said:?}");
    assert!(said.out.contains("describes nothing that moves yet"), "{said:?}");
}

#[test]
fn numbers_that_are_none_are_told() {
    let cases = [
        ("duty_limit = 0.9", "duty_limit = nan", ""),
        ("duty_limit = 0.9", "duty_limit = inf", ""),
        ("duty_limit = 0.9", "duty_limit = -0.5", ""),
        ("duty_limit = 0.9", "duty_limit = 1e999", ""),
        ("rating = \"5 A\"", "rating = \"NaN A\"", ""),
        ("rating = \"5 A\"", "rating = \"inf A\"", ""),
        ("rating = \"5 A\"", "rating = \"1e999 A\"", ""),
        ("rating = \"5 A\"", "rating = \"1e300 A\"", ""),
        ("rating = \"5 A\"", "rating = \"5e99999999999999999999 A\"", ""),
        ("rating = \"5 A\"", "rating = \"0 A\"", ""),
        ("rating = \"5 A\"", "rating = \"-5 A\"", ""),
        ("rating = \"5 A\"", "rating = \"\"", ""),
        ("rating = \"5 A\"", "rating = \"5\"", ""),
        ("rating = \"5 A\"", "rating = 5", ""),
        ("wheel_radius = \"45 mm ± 1 %\"", "wheel_radius = \"45 mm ± 100 %\"", ""),
        ("wheel_radius = \"45 mm ± 1 %\"", "wheel_radius = \"45 mm ± -1 %\"", ""),
        ("wheel_radius = \"45 mm ± 1 %\"", "wheel_radius = \"0 mm\"", ""),
        ("mass = \"12 kg ± 5 %\"", "mass = \"-12 kg\"", ""),
        ("angles = \"-35 .. 35 deg\"", "angles = \"35 .. -35 deg\"", ""),
        ("driven_wheels = 1", "driven_wheels = 99999999999999999999", ""),
        ("driven_wheels = 1", "driven_wheels = -1", ""),
    ];
    for (old, new, id) in cases {
        let own = Own::new();
        own.change("bench.toml", old, new);
        let place = own.place("bench.toml", new);
        let line = place.rsplit_once(':').unwrap().0;
        let key = new.split(" = ").next().unwrap();
        let said = own.check();
        assert_eq!(said.status, Some(2), "{new} is accepted");
        said.refused(&[id, line, key, " = ", "The files cannot be used"]);
    }
}

#[test]
fn missing_parts_and_folders_in_their_place_are_told() {
    let own = Own::new();
    fs::remove_file(own.file("parts/motor-24.toml")).unwrap();
    let place = own.place("bench.toml", "\"parts/motor-24.toml\"");
    own.check().refused(&["file-missing", "`parts/motor-24.toml`", &place]);
    own.write("parts/motor-24-old.toml", "kind = \"dc-motor\"\n");
    own.check().refused(&["file-missing", "name `parts/motor-24-old.toml`"]);
    fs::create_dir(own.file("parts/motor-24.toml")).unwrap();
    own.check().refused(&["file-is-a-folder", "`parts/motor-24.toml`", "name a file in it"]);

    let own = Own::new();
    fs::remove_file(own.file("bench.toml")).unwrap();
    fs::create_dir(own.file("bench.toml")).unwrap();
    own.check().refused(&["file-is-a-folder", "bench.toml"]);
}

#[test]
fn paths_stay_inside_the_bench() {
    let outside = empty();
    fs::write(outside.path().join("motor.toml"), Own::new().read("parts/motor-24.toml")).unwrap();
    let absolute = outside.path().join("motor.toml");
    let mut paths = vec!["../motor.toml".to_owned(), "parts/../../motor.toml".into(), "..".into()];
    paths.extend(["C:\\\\motor.toml".to_owned(), "\\\\\\\\host\\\\motor.toml".into()]);
    paths.push(absolute.to_str().unwrap().replace('\\', "\\\\"));
    for path in paths {
        let own = Own::new();
        own.change("bench.toml", "motor = \"parts/motor-24.toml\"", &format!("motor = \"{path}\""));
        let place = own.place("bench.toml", &format!("\"{path}\""));
        own.check().refused(&["path-leaves-the-bench", &place, "copy the file into the bench folder"]);
    }
    #[cfg(unix)]
    {
        let own = Own::new();
        fs::remove_file(own.file("parts/motor-24.toml")).unwrap();
        std::os::unix::fs::symlink(&absolute, own.file("parts/motor-24.toml")).unwrap();
        own.check().refused(&["path-leaves-the-bench", "copy the file into the bench folder"]);
        // A link that stays inside is a file like any other.
        let own = Own::new();
        fs::rename(own.file("parts/motor-24.toml"), own.file("motor.toml")).unwrap();
        std::os::unix::fs::symlink("../motor.toml", own.file("parts/motor-24.toml")).unwrap();
        own.check().done();
    }
}

#[cfg(unix)]
#[test]
fn unreadable_files_are_told() {
    use std::os::unix::fs::PermissionsExt;
    let mode = |path: &Path, mode| fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
    for (path, said) in [
        ("bench.toml", "`bench.toml` cannot be read"),
        ("parts/motor-24.toml", "`parts/motor-24.toml` cannot be read"),
    ] {
        let own = Own::new();
        mode(own.path(), 0o755);
        let Some(mut command) = as_ordinary_user(own.path()) else { return };
        mode(&own.file(path), 0o000);
        Said::of(command.arg("check").output().unwrap()).refused(&[
            "file-not-readable",
            said,
            "see to its permissions",
        ]);
    }
    // The folder itself.
    let (own, dir) = (Own::new(), empty());
    mode(dir.path(), 0o755);
    mode(own.path(), 0o000);
    let Some(mut command) = as_ordinary_user(dir.path()) else { return };
    let said = Said::of(command.arg("check").arg(own.path()).output().unwrap());
    mode(own.path(), 0o755);
    said.refused(&["cannot be read", "permissions"]);
}

#[cfg(target_os = "linux")]
#[test]
fn pipes_and_devices_are_not_waited_for() {
    use rustix::fs::{CWD, Mode, mkfifoat};
    for path in ["bench.toml", "parts/motor-24.toml"] {
        let own = Own::new();
        fs::remove_file(own.file(path)).unwrap();
        mkfifoat(CWD, own.file(path), Mode::RUSR | Mode::WUSR).unwrap();
        run_in(own.path(), ["check"]).refused(&[
            "file-not-readable",
            path,
            "no plain file",
            "name a plain file",
        ]);
        run_in(own.path(), ["report"]).refused(&["No report was written"]);
    }
    let dir = empty();
    for device in ["/dev/zero", "/dev/stdin"] {
        if Path::new(device).exists() {
            run_in(dir.path(), ["check", device])
                .refused(&["is no bench", "name the folder that holds bench.toml"]);
        }
    }
    std::os::unix::fs::symlink("/dev/zero", dir.path().join("bench.toml")).unwrap();
    run_in(dir.path(), ["check"]).refused(&["path-leaves-the-bench"]);
}

#[test]
fn ten_thousand_problems_are_bounded() {
    let mut text = HEAD.to_owned();
    for n in 0..10_000 {
        text.push_str(&format!("no_such_key_{n} = 1\n"));
    }
    let mut parts = HEAD.to_owned();
    for n in 0..10_000 {
        parts.push_str(&format!("[supplies.s{n}]\npart = \"parts/none-{n}.toml\"\n"));
    }
    let mut values = HEAD.to_owned();
    for n in 0..10_000 {
        values.push_str(&format!("[fuses.f{n}]\non = \"drive\"\nrating = \"-{n} V\"\nstyle = \"medium\"\n"));
    }
    let mut broken = HEAD.to_owned();
    broken.push_str(&"a = [ = ]\n".repeat(10_000));
    for (what, text) in [("keys", text), ("parts", parts), ("values", values), ("notation", broken)] {
        let own = Own::new();
        own.write("bench.toml", text);
        for args in [&["check"][..], &["check", "--format", "json"], &["check", "--brief"]] {
            let said = run_in(own.path(), args);
            assert_eq!(said.status, Some(2), "{what}");
            assert!(said.out.contains("too-many-problems"), "{what}: {}", &said.out[..400]);
            assert!(said.out.len() < 1 << 20, "{what}: {} bytes", said.out.len());
        }
    }
}

#[test]
fn circles_are_told() {
    let own = Own::new();
    own.change("bench.toml", "driver = \"board.A\"", "like = \"right\"\ndriver = \"board.A\"");
    own.check().refused(&["name-circular", "`left`", "`right`", "take `like` away from one of them"]);
    let own = Own::new();
    own.change("bench.toml", "like = \"left\"", "like = \"right\"");
    own.check().refused(&["name-circular", "take `like` away"]);
    let own = Own::new();
    own.change("bench.toml", "like = \"left\"", "like = \"lefd\"");
    own.check().refused(&["name-unknown", "`lefd`", "`left`"]);
}

#[test]
fn what_is_no_bench_is_told_what_would_be() {
    let own = Own::new();
    own.run(["check", "parts/motor-24.toml"])
        .refused(&["parts/motor-24.toml is no bench", "name the folder that holds bench.toml"]);
    own.run(["check", "parts"]).refused(&["bench-file-missing", "there is no `bench.toml` in this folder"]);
    own.run(["check", "nowhere"]).refused(&["nowhere does not exist", "firstspin new nowhere"]);
    own.run(["check", "bench.toml/parts"]).refused(&["bench.toml/parts cannot be read"]);
    let above = empty();
    fs::create_dir(above.path().join("deep")).unwrap();
    fs::write(above.path().join("deep/bench.toml"), HEAD).unwrap();
    run_in(above.path(), ["check", "."])
        .refused(&["bench-file-missing", "there is one at `deep/bench.toml`"]);
    // A part file in the place of the bench file.
    own.write("bench.toml", own.read("parts/motor-24.toml"));
    own.check().refused(&["key-unknown", "bench.toml:"]);
}

#[cfg(unix)]
#[test]
fn a_link_that_leads_nowhere_is_no_reason_to_show_the_example() {
    let dir = empty();
    std::os::unix::fs::symlink("gone.toml", dir.path().join("bench.toml")).unwrap();
    let said = run_in(dir.path(), ["check"]);
    said.refused(&["bench-file-missing"]);
    assert!(!said.out.contains("built-in example"));
    run_in(dir.path(), ["check", "bench.toml"]).refused(&["is a link that leads nowhere"]);
}

#[cfg(target_os = "linux")]
#[test]
fn names_that_are_no_utf_8_do_no_harm() {
    use std::ffi::OsStr;
    use std::os::unix::ffi::OsStrExt;
    let dir = empty();
    let name = OsStr::from_bytes(b"b\xe4nk");
    let said = run_in(dir.path(), [OsStr::new("new"), name]);
    assert_eq!(said.status, Some(0), "{said:?}");
    fs::write(dir.path().join(name).join(OsStr::from_bytes(b"\xff.toml")), "x").unwrap();
    let checked = run_in(dir.path(), [OsStr::new("check"), name]);
    checked.done();
    let out = OsStr::from_bytes(b"p\xe4ges");
    let args =
        [OsStr::new("report"), name, OsStr::new("--out"), out, OsStr::new("--format"), OsStr::new("json")];
    let said = run_in(dir.path(), args);
    said.done();
    said.json();
    assert!(dir.path().join(out).join("index.html").exists());
    run_in(dir.path(), [OsStr::new("check"), OsStr::from_bytes(b"\xe4\xff")]).refused(&["does not exist"]);
    run_in(dir.path(), [OsStr::new("explain"), name]).refused(&["invalid UTF-8"]);
    // Files beside the ones that the bench names are never in the way, and a missing one is still told.
    fs::remove_file(dir.path().join(name).join("parts/motor-24.toml")).unwrap();
    run_in(&dir.path().join(name), ["check"]).refused(&["file-missing", "`parts/motor-24.toml`"]);
    assert!(!content(dir.path()).is_empty());
}
