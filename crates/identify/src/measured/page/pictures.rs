//! Courses of logs with those of the model over them, and what single logs tell by ways of their own.

use crate::measured::{Measured, Taken};
use crate::told::Told;
use finding::Chart;
use finding::chart::Purpose;
use finding::sheet::{Block, Table};
use logs::{Outline, Picture, Sink, TestPoint};
use worked::format::{choose_unit, plain, range, sensible};
use worked::{Dimension, Unit};

/// Stretches of a picture.
const STRETCHES: usize = 300;

/// What single logs tell by ways of their own.
pub(super) fn beside(measured: &Measured) -> Vec<Block> {
    let mut rows = Vec::new();
    let mut blocks = Vec::new();
    for (k, beside) in measured.beside.iter().enumerate() {
        for figure in &beside.figures {
            let Told { value: si, .. } = figure.told;
            let half = figure.told.half_width(0.95);
            let usual = (figure.dimension == Dimension::INERTIA).then(|| Unit::parse("g·cm²").ok()).flatten();
            let usual = usual.and_then(|unit| unit.fit(figure.dimension));
            let unit = choose_unit(si, figure.dimension, usual.as_ref());
            let band = half.is_finite().then_some((si - half, si + half));
            rows.push(vec![
                figure.name.to_owned(),
                sensible(si, &unit, band),
                if half.is_finite() { plain(half, &unit) } else { "—".to_owned() },
                figure.said.map_or_else(String::new, |(low, high)| range(low, high, &unit)),
                beside.way.to_owned(),
                beside.log.clone(),
            ]);
        }
        blocks.extend(beside.remark.as_ref().map(|remark| Block::Text(format!("{}: {remark}.", beside.log))));
        blocks.extend(beside.pictures.iter().enumerate().map(|(n, chart)| {
            let id = format!("beside-{}-{}-{}", measured.axis, k + 1, n + 1);
            Block::Chart(Chart { id, ..chart.clone() })
        }));
    }
    if rows.is_empty() {
        return blocks;
    }
    let headings = ["what", "#value", "#± 95 %", "bench says", "by", "log"];
    blocks.insert(0, Block::Table(Table::of("beside", "By ways of single logs", &headings, rows)));
    blocks
}

/// The course of each log with that of the model laid over it.
pub(super) fn pictures(measured: &Measured) -> Vec<Block> {
    let picture = |(k, log): (usize, &Taken)| {
        let replay = measured.replays.get(k)?;
        let real = |name: &str, unit: &str, at| logs::Column::real(name, unit, at, "");
        let columns = [
            real("time", "s", None),
            real("motor voltage", "V", Some(TestPoint::Tp6)),
            real("current", "A", Some(TestPoint::Tp6)),
            real("speed", "rad/s", Some(TestPoint::Tp11)),
            real("current that is left over", "A", Some(TestPoint::Tp6)).of("left over"),
        ];
        let (mut read, mut played) = (Outline::new(&columns, STRETCHES), Outline::new(&columns, STRETCHES));
        let speed = log.angle.as_deref().map(|angle| speeds(&log.time, angle, log.resolution));
        for row in 0..log.time.len() {
            let at = |column: Option<&Vec<f64>>| column.map_or(f64::NAN, |column| column[row]);
            let voltage = match measured.by_duty {
                false => at(log.motor_voltage.as_ref()),
                true => {
                    at(log.duty.as_ref())
                        * log.bus.as_ref().map_or(measured.said.open_voltage, |bus| bus[row])
                }
            };
            let current = at(log.current.as_ref());
            let left = current - replay.current[row];
            read.take(&[log.time[row], voltage, current, at(speed.as_ref()), left]).ok()?;
            let course = [log.time[row], f64::NAN, replay.current[row], replay.speed[row], f64::NAN];
            played.take(&course).ok()?;
        }
        let chart = Picture::default().log(&read, Purpose::Measured).log(&played, Purpose::Nominal).chart(
            &format!("identified-{}-{}", measured.axis, k + 1),
            &format!("{}: measured, and the model that was identified", log.name),
            "The model was driven by the voltage of the log from its start on; no reading was fed back. Where both courses lie \
             on one another the model explains what was measured.",
        );
        Some(Block::Chart(chart))
    };
    measured.logs.iter().enumerate().filter_map(picture).collect()
}

/// Speed over windows in which the count moves by some tens, rad/s.
fn speeds(time: &[f64], angle: &[f64], resolution: f64) -> Vec<f64> {
    let rows = time.len();
    let way = angle.windows(2).map(|pair| (pair[1] - pair[0]).abs()).filter(|way| way.is_finite());
    let usual = way.sum::<f64>() / rows as f64;
    let half =
        if usual > 0.0 { (15.0 * resolution / usual) as usize } else { 0 }.clamp(1, (rows / 100).max(1));
    (0..rows)
        .map(|row| {
            let (from, to) = (row.saturating_sub(half), (row + half).min(rows - 1));
            (angle[to] - angle[from]) / (time[to] - time[from])
        })
        .collect()
}
