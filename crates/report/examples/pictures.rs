//! Draws the starter benches, each stage as a file of its own, into a folder, to be looked at.
//!
//! `cargo run -p firstspin-report --example pictures -- FOLDER`

use finding::Severity;
use report::picture::{Figure, Mark, Planned, Power, Side, connectors, figures};
use std::path::PathBuf;

fn main() -> std::io::Result<()> {
    let folder = PathBuf::from(std::env::args().nth(1).unwrap_or_else(|| "target/pictures".to_owned()));
    std::fs::create_dir_all(&folder)?;
    for starter in bench::builtin::starters() {
        let Some(bench) = bench::load_from(&starter).value else { continue };
        let mut figures = figures(&bench, &Planned::default(), &power(&bench), &marks(&bench));
        let drawing = connectors(&bench, &Planned::default(), Side::Behind);
        figures.push(Figure { id: "picture-connectors-behind".to_owned(), title: String::new(), drawing });
        for figure in figures {
            let file = folder.join(format!("{}-{}", starter.name(), figure.id));
            std::fs::write(file.with_extension("svg"), figure.drawing.standalone())?;
            std::fs::write(file.with_extension("txt"), figure.drawing.words)?;
        }
    }
    Ok(())
}

/// Invented figures that fall from element to element.
fn power(bench: &bench::Bench) -> Power {
    let mut watts = std::collections::BTreeMap::new();
    let mut all = 0.0;
    for (at, axis) in bench.axes().iter().enumerate() {
        let into = 24.0 - 9.0 * at as f64;
        for channel in &axis.channels {
            watts.insert(
                format!("drivers.{}.{}", channel.board.name, channel.channel.name()),
                into / axis.channels.len() as f64,
            );
        }
        watts.insert(format!("axes.{}.motor", axis.name), into * 0.96);
        watts.insert(format!("axes.{}.gearbox", axis.name), into * 0.7);
        watts.insert(format!("axes.{}.load", axis.name), into * 0.5);
        all += into;
    }
    for (at, board) in bench.boards().iter().enumerate() {
        if at == 0 {
            watts.insert(format!("drivers.{}.motor", board.name), all);
        }
    }
    if let Some(supply) = bench.supplies().first() {
        watts.insert(format!("supplies.{}", supply.name), all + 1.0);
    }
    watts.insert("controller".to_owned(), 2.1);
    for servo in bench.servos() {
        watts.insert(format!("servos.{}", servo.name), 1.4);
    }
    Power { moment: "top speed, uphill".to_owned(), watts }
}

fn marks(bench: &bench::Bench) -> Vec<Mark> {
    let mark = |path: String, severity, id: &str| Mark { path, severity, id: id.to_owned() };
    let mut marks = Vec::new();
    for axis in bench.axes() {
        marks.push(mark(
            format!("axes.{}.motor.max_voltage", axis.name),
            Severity::Blocker,
            "motor-voltage-against-bus",
        ));
        marks.push(mark(
            format!("axes.{}.gearbox", axis.name),
            Severity::Weakness,
            "backlash-against-tolerance",
        ));
        marks.push(mark(format!("axes.{}.encoder", axis.name), Severity::Note, "encoder-counts"));
    }
    for (name, _) in bench.fuses() {
        marks.push(mark(format!("fuses.{name}"), Severity::Blocker, "fuse-protects-cable"));
    }
    marks.push(mark("controller.J1.3".to_owned(), Severity::Weakness, "level-not-reached"));
    marks.push(mark("declarations".to_owned(), Severity::Blocker, "nobody-vouches"));
    marks
}
