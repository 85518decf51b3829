//! The order of the house: each crate may use only those above it.

use std::env;
use std::path::Path;
use std::process::Command;

use serde_json::Value;

/// The rooms from top to bottom, as ARCHITECTURE.md lists them.
const ROOMS: [&str; 18] = [
    "worked",
    "finding",
    "numeric",
    "bench",
    "drive",
    "logs",
    "controller",
    "wiring",
    "sizing",
    "simulate",
    "control",
    "export",
    "identify",
    "check",
    "commission",
    "report",
    "page",
    "firstspin",
];

#[test]
fn each_crate_uses_only_rooms_above_it() {
    let metadata = workspace_metadata();
    let packages = metadata["packages"].as_array().map_or(0, Vec::len);
    assert!(packages > 1, "cargo metadata shows {packages} crates of the workspace");

    let wrong = misplaced(&metadata);
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn a_crate_that_looks_down_or_has_no_room_is_found() {
    let house = serde_json::json!({ "packages": [
        { "name": "firstspin-worked", "dependencies": [] },
        { "name": "firstspin-bench", "dependencies": [
            { "name": "firstspin-worked", "kind": null },
            { "name": "serde", "kind": null },
            { "name": "firstspin-check", "kind": "dev" },
        ]},
        { "name": "firstspin-check", "dependencies": [
            { "name": "firstspin-bench", "kind": null },
            { "name": "firstspin-cellar", "kind": null },
        ]},
        { "name": "firstspin-cellar", "dependencies": [] },
    ]});
    assert_eq!(
        misplaced(&house),
        [
            "`bench` uses `check`, which stands below it",
            "`check` uses `cellar`, which has no room in the list",
            "`cellar` has no room in the list",
        ]
    );
}

/// One line for each crate without a room, and for each dependency (build and test ones too) that does not
/// point up.
fn misplaced(metadata: &Value) -> Vec<String> {
    let mut wrong = Vec::new();
    let packages = metadata["packages"].as_array().map(Vec::as_slice).unwrap_or_default();
    let ours = |name: &str| packages.iter().any(|package| package["name"] == name);
    for package in packages {
        let user = package["name"].as_str().unwrap_or_default();
        let Some(user_floor) = floor(user) else {
            wrong.push(format!("`{}` has no room in the list", room(user)));
            continue;
        };
        for dependency in package["dependencies"].as_array().map(Vec::as_slice).unwrap_or_default() {
            let used = dependency["name"].as_str().unwrap_or_default();
            if !ours(used) {
                continue;
            }
            match floor(used) {
                None => wrong.push(format!(
                    "`{}` uses `{}`, which has no room in the list",
                    room(user),
                    room(used)
                )),
                Some(used_floor) if used_floor >= user_floor => {
                    wrong.push(format!("`{}` uses `{}`, which stands below it", room(user), room(used)))
                }
                Some(_) => {}
            }
        }
    }
    wrong
}

fn room(package: &str) -> &str {
    package.strip_prefix("firstspin-").unwrap_or(package)
}

fn floor(package: &str) -> Option<usize> {
    ROOMS.iter().position(|name| *name == room(package))
}

fn workspace_metadata() -> Value {
    let cargo = env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let manifest = Path::new(env!("CARGO_MANIFEST_DIR")).join("Cargo.toml");
    let output = Command::new(cargo)
        .args(["metadata", "--no-deps", "--offline", "--format-version", "1", "--manifest-path"])
        .arg(manifest)
        .output()
        .expect("cargo starts");
    assert!(output.status.success(), "cargo metadata: {}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).expect("cargo metadata prints JSON")
}
