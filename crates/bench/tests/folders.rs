//! Benches on a disk: what only a file system can do to the loader.

use bench::{Files, Folder, ReadError};
use std::fs;

fn folder() -> tempfile::TempDir {
    tempfile::tempdir().expect("a temporary folder")
}

#[test]
fn a_starter_loads_from_disk_as_from_memory() {
    let starter = bench::builtin::starter("seed-tray-shuttle").expect("a starter of that name");
    let dir = folder();
    for (path, text) in starter.files() {
        let full = dir.path().join(path);
        fs::create_dir_all(full.parent().expect("a folder")).expect("made");
        fs::write(full, text).expect("written");
    }
    let loaded = bench::load(dir.path());
    assert!(loaded.checked.findings.is_empty(), "{:?}", loaded.checked.findings);
    let (disk, memory) =
        (loaded.checked.value.expect("a bench"), bench::load_from(&starter).value.expect("a bench"));
    assert_eq!(disk.name(), memory.name());
    assert_eq!(disk.axes().len(), memory.axes().len());
    let names = Folder::new(dir.path()).names();
    assert!(names.contains(&"parts/motor-24.toml".to_owned()), "{names:?}");
}

#[test]
fn a_folder_that_is_not_there_is_told() {
    let dir = folder();
    let loaded = bench::load(&dir.path().join("nowhere"));
    assert_eq!(loaded.checked.findings.len(), 1);
    assert_eq!(loaded.checked.findings[0].id, "bench-file-missing");
}

#[test]
fn folders_large_files_and_missing_ones_are_told_apart() {
    let dir = folder();
    fs::create_dir(dir.path().join("parts")).expect("made");
    fs::write(dir.path().join("small.toml"), "x").expect("written");
    let large = fs::File::create(dir.path().join("large.toml")).expect("made");
    // 100 GB without a block on the disk: a reader that looks at the size first stays fast.
    large.set_len(100 << 30).expect("a sparse file");
    let files = Folder::new(dir.path());
    assert_eq!(files.read("small.toml"), Ok(b"x".to_vec()));
    assert_eq!(files.read("./parts/../small.toml"), Ok(b"x".to_vec()));
    assert_eq!(files.read("parts"), Err(ReadError::Folder));
    assert_eq!(files.read("none.toml"), Err(ReadError::Missing));
    assert_eq!(files.read("large.toml"), Err(ReadError::TooLarge { size: 100 << 30 }));
}

#[cfg(unix)]
#[test]
fn links_out_of_the_bench_are_refused() {
    use std::os::unix::fs::symlink;
    let (outside, dir) = (folder(), folder());
    fs::write(outside.path().join("motor.toml"), "kind = \"dc-motor\"").expect("written");
    symlink(outside.path().join("motor.toml"), dir.path().join("motor.toml")).expect("linked");
    symlink(outside.path(), dir.path().join("parts")).expect("linked");
    symlink("loop.toml", dir.path().join("loop.toml")).expect("linked");
    fs::write(dir.path().join("real.toml"), "x").expect("written");
    symlink("real.toml", dir.path().join("inside.toml")).expect("linked");
    let files = Folder::new(dir.path());
    assert_eq!(files.read("motor.toml"), Err(ReadError::Outside));
    assert_eq!(files.read("parts/motor.toml"), Err(ReadError::Outside));
    assert_eq!(files.read("inside.toml"), Ok(b"x".to_vec()));
    assert!(matches!(files.read("loop.toml"), Err(ReadError::Refused(_))));
    fs::write(dir.path().join("bench.toml"), "[bench]\nname = \"x\"\n[supplies.a]\npart = \"loop.toml\"\n")
        .expect("written");
    let found = bench::load(dir.path()).checked.findings;
    assert_eq!(found.iter().map(|f| f.id.as_str()).collect::<Vec<_>>(), ["file-not-readable"]);
}

#[cfg(unix)]
#[test]
fn pipes_and_devices_are_not_waited_for() {
    use std::os::unix::fs::symlink;
    let dir = folder();
    symlink("/dev/zero", dir.path().join("zero.toml")).expect("linked");
    assert_eq!(Folder::new(dir.path()).read("zero.toml"), Err(ReadError::Outside));
    assert!(matches!(Folder::new(std::path::Path::new("/dev")).read("zero"), Err(ReadError::Special)));
}
