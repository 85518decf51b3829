//! The sheets of every starter and of the draft: complete, finite, the same twice, and true to the bench.

use bench::builtin::starter;
use finding::Sheet;
use finding::chart::{Chart, LevelRole, Plot};
use finding::sheet::Block;
use std::collections::BTreeSet;

const BENCHES: [&str; 5] = ["seed-tray-shuttle", "lead-screw-stage", "turntable", "lift-arm", "draft-bench"];

fn sheets(name: &str) -> Vec<Sheet> {
    let bench = bench::load_from(&starter(name).expect("a starter of that name")).value.expect("it loads");
    let checked = check::check(&bench);
    check::sheets(&bench, &checked.value.expect("a judgement"), &checked.findings, &check::Beside::new())
}

fn charts(sheets: &[Sheet]) -> Vec<&Chart> {
    let blocks = sheets.iter().flat_map(|sheet| &sheet.blocks);
    blocks.filter_map(|block| if let Block::Chart(chart) = block { Some(chart) } else { None }).collect()
}

fn chart<'s>(sheets: &'s [Sheet], id: &str) -> &'s Chart {
    charts(sheets).into_iter().find(|c| c.id == id).unwrap_or_else(|| panic!("no chart {id}"))
}

#[test]
fn every_sheet_is_there_and_in_order() {
    for name in BENCHES {
        let ids: Vec<String> = sheets(name).into_iter().map(|sheet| sheet.id).collect();
        let wanted = [
            "bench",
            "findings",
            "cautions",
            "levels",
            "trips",
            "torque-speed",
            "scaling",
            "parts",
            "questions",
            "figures",
            "sources",
        ];
        assert_eq!(ids, wanted, "{name}");
    }
}

#[test]
fn ids_are_unique_tables_are_square_and_charts_hold_numbers() {
    for name in BENCHES {
        let all = sheets(name);
        let mut ids = BTreeSet::new();
        for block in all.iter().flat_map(|sheet| &sheet.blocks) {
            match block {
                Block::Table(table) => {
                    assert!(ids.insert(table.id.clone()), "{name}: table {} twice", table.id);
                    assert!(
                        table.rows.iter().all(|row| row.len() == table.columns.len()),
                        "{name}: {}",
                        table.id
                    );
                }
                Block::Chart(chart) => {
                    assert!(ids.insert(chart.id.clone()), "{name}: chart {} twice", chart.id);
                    assert!(!chart.alt.is_empty() && !chart.alt.contains("NaN"), "{name}: {}", chart.id);
                    assert!(holds_numbers(&chart.plot), "{name}: {}", chart.id);
                }
                _ => {}
            }
        }
    }
}

fn holds_numbers(plot: &Plot) -> bool {
    match plot {
        Plot::Lines(lines) => {
            let points = lines.series.iter().flat_map(|s| &s.points);
            !lines.series.is_empty() && points.flatten().all(|x| x.is_finite())
        }
        Plot::Levels(levels) => levels
            .paths
            .iter()
            .all(|p| p.spans.iter().all(|s| s.low <= s.high) && p.marks.iter().all(|m| m.at.is_finite())),
        Plot::Scales(scales) => scales.scales.iter().all(|s| s.bottom.is_finite() && s.top.is_finite()),
        Plot::Shares(shares) => shares.totals.iter().all(|t| {
            let sum: f64 = t.parts.iter().map(|p| p.share).sum();
            (sum - 1.0).abs() < 1e-9
        }),
        Plot::Traces(traces) => {
            let series = traces.panels.iter().flat_map(|p| &p.series);
            traces.panels.iter().all(|p| !p.series.is_empty())
                && series.flat_map(|s| &s.points).flatten().all(|x| x.is_finite())
        }
    }
}

#[test]
fn the_same_bench_gives_the_same_sheets() {
    assert!(sheets("lift-arm") == sheets("lift-arm"));
}

/// 24 V ± 5 %, 90 % duty: 0.9 · 25.2 V = 22.68 V at the motor (the table of the starters' page).
#[test]
fn levels_of_the_shuttle_are_those_of_its_page() {
    let all = sheets("seed-tray-shuttle");
    let Plot::Levels(levels) = &chart(&all, "voltage-levels").plot else { panic!("levels") };
    let path = &levels.paths[0];
    let span = |start: &str| {
        path.spans.iter().find(|s| s.label.starts_with(start)).unwrap_or_else(|| panic!("{start}"))
    };
    assert_eq!((span("supply").low, span("supply").high), (22.8, 25.2));
    let mean = span("mean at the motor");
    assert!((22.68..22.8).contains(&mean.high) && mean.role == LevelRole::Excursion, "{mean:?}");
    // The clamp holds a stop at 26.9 V.
    assert!((26.8..27.0).contains(&span("after a stop").high));
    assert!(path.marks.iter().any(|m| m.role == LevelRole::Destroys && m.at == 34.0));
}

/// The shuttle's motor on 0.9 · 24 V, cold, gear 27.04 at 78 %, worked by hand:
/// loop 3.9 + 0.31 Ω and 0.6 m of 0.5 mm² pair (0.041 Ω) = 4.251 Ω; I = (21.6 − 0.6)/4.251 = 4.940 A;
/// M = 38.5·4.940 − 3.2 − 0.6 = 186.4 mN·m; at the output 186.4 · 27.04 · 0.78 = 3.93 N·m.
/// A limit that a sheet states without a band is no exact figure.
#[test]
fn what_a_part_promises_without_a_band_is_taken_as_stated() {
    let all = sheets("seed-tray-shuttle");
    let parts = all.iter().find(|sheet| sheet.id == "parts").expect("the parts");
    let tables =
        parts.blocks.iter().filter_map(|block| if let Block::Table(t) = block { Some(t) } else { None });
    let rows: Vec<&Vec<String>> = tables.flat_map(|table| &table.rows).collect();
    let band =
        |key: &str| rows.iter().find(|row| row[1] == key).unwrap_or_else(|| panic!("{key}"))[3].clone();
    assert_eq!((band("survives").as_str(), band("ratio").as_str()), ("taken as stated", "exact"));
}

#[test]
fn the_torque_line_of_the_shuttle_is_worked_by_hand() {
    let all = sheets("seed-tray-shuttle");
    let Plot::Lines(lines) = &chart(&all, "torque-speed-left").plot else { panic!("lines") };
    let nominal = lines.series.iter().find(|s| s.name.starts_with("nominal")).expect("a nominal line");
    assert!((nominal.points[0][1] - 3.93).abs() < 0.04, "{:?}", nominal.points);
    let band = &lines.bands[0];
    assert!(band.lower[0][1] < 3.9 && band.upper[0][1] > 3.94, "the band encloses the line");
}

/// Draft, hoist: the trip sees the supply, so that at half duty nothing ends the stall current of the winding.
#[test]
fn the_trip_chart_of_the_draft_says_what_the_trip_does_not_protect() {
    let all = sheets("draft-bench");
    let tables = all
        .iter()
        .flat_map(|s| &s.blocks)
        .filter_map(|b| if let Block::Table(t) = b { Some(t) } else { None });
    let table = tables.into_iter().find(|t| t.id == "protects-hoist").expect("the table");
    let warm = table.rows.iter().find(|row| row[0] == "winding, from warm").expect("the winding");
    assert!(warm[2].starts_with("protection input after 4 ms"), "{warm:?}");
    assert!(warm[3].starts_with("no hardware"), "{warm:?}");
    let gear = table.rows.iter().find(|row| row[0].starts_with("gear")).expect("the gear");
    assert!(gear[2].starts_with("no hardware"), "the gear breaks before the trip acts: {gear:?}");
}

#[test]
fn the_slip_in_the_draft_is_named() {
    let all = sheets("draft-bench");
    let parts = all.iter().find(|s| s.id == "parts").expect("the sheet of parts");
    let said = parts
        .blocks
        .iter()
        .any(|b| matches!(b, Block::Text(t) if t.contains("stall torque") && t.contains("kgf·cm")));
    assert!(said, "the motor of the hoist has a stall torque in the wrong unit");
}
