//! Whether current and counter answer to the voltage: with the right sign, and as much as they should.

use super::CHANCE;
use super::balance::{Balance, PER_COUNT, RESISTANCE, Window, windows};
use super::course::{Course, rms};
use super::known::{Known, usable};
use super::picture::{axis, chart, curve, percent, said};
use super::remark::{Remark, Sign, Spoils, Strength};
use crate::pulse::Band;
use crate::refusal::MOST_ATTENUATION;
use finding::Chart;
use finding::chart::Purpose;
use numeric::distribution::student_t_quantile;
use worked::Dimension;

/// Back-EMF, as a part of the voltage, below which a row counts as slow: a counter that is wrong by a factor of four hides
/// no more than 0.4.
const SLOW: f64 = 0.1;
/// Answer of the current below which it has the other sign, and below which it does not answer at all. What is right lies
/// between 0.4 (four times too many counts, a resistance at twice its value) and 1.5.
const INVERTED: f64 = -0.3;
const ELSEWHERE: f64 = 0.1;
/// Largest deviation of the answer that is judged: five of them are half of what lies between the thresholds.
const CLEAR: f64 = 0.03;
/// Fewest slow rows.
const LEAST_ROWS: usize = 4;
/// Part of the voltage that a term of the balance takes at least where its sign is judged.
const SHARE: f64 = 0.1;
/// Agreement of speed and voltage below which a counter runs backward where no current was recorded, rows of a window,
/// and fewest windows.
const BLIND: f64 = -0.8;
const BLIND_ROWS: usize = 8;
const BLIND_WINDOWS: usize = 12;
/// Part by which the constant may be off besides, by temperatures of the magnets that are not recorded (20 K of ferrite).
const WARM_MAGNETS: f64 = 0.04;
/// Ratios beyond which no constant is off, but the counts are.
const MOST_OFF: f64 = 1.8;

/// Current against what voltage, resistance and inductance of the sheet make of it in rows where the motor hardly turns.
/// A current that is inverted counts the other way from then on.
pub(super) fn current(course: &mut Course<'_>, known: &Known<'_>) -> Option<Remark> {
    let (answer, points) = answer(course, known).or_else(|| sign_of_resistance(course, known))?;
    let of_sheet = "voltage, resistance and inductance";
    let (sign, spoils, against, says, remedy) = if answer < INVERTED {
        let says = format!(
            "the current is {} of what {of_sheet} make of it while the motor hardly turns: it flows against the voltage",
            percent(answer)
        );
        let remedy =
            "swap the sense lines or the leads through the sensor, or give the sensor the other sign";
        (Sign::CurrentInverted, Spoils::All, INVERTED, says, remedy)
    } else if answer.abs() < ELSEWHERE {
        let says = format!(
            "the current is {} of what {of_sheet} make of it while the motor hardly turns: it does not answer to the \
             voltage",
            percent(answer)
        );
        let remedy = "look whether the sensor sits in the circuit of this motor and is fed, and whether a lead is open";
        (Sign::CurrentElsewhere, Spoils::All, ELSEWHERE, says, remedy)
    } else {
        return None;
    };
    if sign == Sign::CurrentInverted {
        course.flip_current();
    }
    let picture = points.picture(sign.name(), "Current against what the voltage makes of it", &says);
    let strength = Strength { measured: answer, against, unit: "" };
    Some(Remark { sign, strength, rows: Vec::new(), spoils, says, remedy: remedy.to_owned(), picture })
}

/// Pairs of what is expected and what was read.
struct Pairs {
    points: Vec<[f64; 2]>,
    quantity: &'static str,
    unit: &'static str,
}

impl Pairs {
    fn picture(self, id: &str, title: &str, says: &str) -> Chart {
        let most = self.points.iter().map(|p| p[0].abs()).fold(0.0, f64::max);
        let as_it_should =
            curve("as it should be", Purpose::Nominal, [[-most, -most], [most, most]].into_iter());
        let mut points = self.points;
        points.sort_by(|a, b| a[0].total_cmp(&b[0]));
        let read = curve("read", Purpose::Measured, points.into_iter());
        let axes = (axis("expected", self.unit), axis(self.quantity, self.unit));
        chart(id, title, says, axes, vec![as_it_should, read])
    }
}

/// What the current is of that which is expected, over slow rows.
fn answer(course: &Course<'_>, known: &Known<'_>) -> Option<(f64, Pairs)> {
    let resistance = usable(known.resistance)?;
    let time_constant = usable(known.inductance)?.middle() / resistance.middle();
    let per_count = if course.locked { 0.0 } else { known.per_count()?.middle() };
    let voltage = course.voltage.as_deref()?;
    let current = course.current.as_deref()?;
    let mut points = Vec::new();
    // So many rows about one that a single count in them is little beside the largest voltage.
    let top = voltage.iter().copied().filter(|u| u.is_finite()).fold(0.0, |most: f64, u| most.max(u.abs()));
    let half = (2.0 * per_count / (SLOW * top * course.step)).ceil().clamp(2.0, course.rows() as f64);
    let mut expected = f64::NAN;
    for (k, u) in voltage.iter().enumerate() {
        // Back-EMF, and the most that it may be with a count that is about to come.
        let (back, most) = match course.count_rate(k, half as usize) {
            _ if course.locked => (0.0, 0.0),
            Some((rate, time)) => (per_count * rate, per_count * (rate.abs() + 1.0 / time)),
            None => (f64::NAN, f64::NAN),
        };
        if !(course.whole[k] && u.is_finite() && back.is_finite()) {
            expected = f64::NAN;
            continue;
        }
        // Behind rows that tell nothing it goes on from what was read.
        let from = if expected.is_finite() { expected } else { current[k] };
        let settled = (u - back) / resistance.middle();
        let left = libm::exp(-(course.times[k + 1] - course.times[k]) / time_constant);
        expected = settled + (from - settled) * left;
        if most <= SLOW * u.abs() && expected.is_finite() && current[k + 1].is_finite() {
            points.push([expected, current[k + 1]]);
        }
    }
    let square: f64 = points.iter().map(|p| p[0] * p[0]).sum();
    let product: f64 = points.iter().map(|p| p[0] * p[1]).sum();
    let n = points.len();
    let offset = known.sensors.current.offset * n as f64 / (n as f64 * square).sqrt();
    let deviation = course.noise / square.sqrt() + offset;
    // Where nothing was expected it is 0/0, and not clear.
    let clear = n >= LEAST_ROWS && deviation <= CLEAR;
    clear.then(|| (product / square, Pairs { points, quantity: "current", unit: "A" }))
}

/// The same by the sign of the resistance alone, where no sheet tells it; its answer is −1 or 1.
fn sign_of_resistance(course: &Course<'_>, known: &Known<'_>) -> Option<(f64, Pairs)> {
    let free = Known { resistance: None, ..*known };
    let balance = Balance::of(course, &free)?;
    let far = student_t_quantile(1.0 - CHANCE, balance.fit.degrees_of_freedom);
    let (value, deviation) = (balance.fit.values[RESISTANCE], balance.fit.deviations[RESISTANCE]);
    let taken = value.abs() * rms(balance.fitted().map(|w| w.current));
    let clear = value.abs() > far * deviation && taken > SHARE * rms(balance.fitted().map(|w| w.voltage));
    let points = balance.fitted().map(|w| {
        let others = balance.residual(w) + value * w.current;
        [others, value.abs() * w.current]
    });
    let points = points.collect();
    clear.then_some((value.signum(), Pairs { points, quantity: "R·i", unit: "V" }))
}

/// Counts against the voltage that turning makes.
pub(super) fn counter(balance: &Balance) -> Option<Remark> {
    let (value, deviation) = (balance.fit.values[PER_COUNT], balance.fit.deviations[PER_COUNT]);
    let far = student_t_quantile(1.0 - CHANCE, balance.fit.degrees_of_freedom);
    let taken = value.abs() * rms(balance.fitted().map(|w| w.rate));
    let is_backward = value < -far * deviation && taken > SHARE * rms(balance.fitted().map(|w| w.voltage));
    let sign = Sign::CounterBackward;
    is_backward.then(|| {
        let says = format!(
            "the counter runs backward: by the balance of voltages a count takes {}, with a deviation of {}",
            said(value, Dimension::VOLTAGE) + "·s",
            said(deviation, Dimension::VOLTAGE) + "·s"
        );
        let points = balance.fitted().map(|w| [balance.back_voltage(w), value.abs() * w.rate]).collect();
        let pairs = Pairs { points, quantity: "by the counter", unit: "V" };
        let picture = pairs.picture(sign.name(), "Back-EMF by the counter and by the voltage", &says);
        backward(says, Strength { measured: value, against: 0.0, unit: "V·s" }, picture)
    })
}

/// The same without a current: speed and voltage go together, and not against one another. A shaft that brakes, or that a
/// weight turns, goes against the voltage for a while, but not for so much of a record.
pub(super) fn counter_alone(course: &Course<'_>) -> Option<Remark> {
    let windows = windows(course, BLIND_ROWS)?;
    let sum = |of: fn(&Window) -> f64| windows.iter().map(of).sum::<f64>();
    let squares = (sum(|w| w.voltage * w.voltage) * sum(|w| w.rate * w.rate)).sqrt();
    let agreement = sum(|w| w.voltage * w.rate) / squares;
    (course.current.is_none() && windows.len() >= BLIND_WINDOWS && agreement < BLIND).then(|| {
        let says = format!(
            "the counter runs backward: speed and voltage agree by {agreement:.2}, where 1 is all and 0 is nothing, in \
             {} windows",
            windows.len()
        );
        let size = (sum(|w| w.voltage * w.voltage) / sum(|w| w.rate * w.rate)).sqrt();
        let points = windows.iter().map(|w| [w.voltage, size * w.rate]).collect();
        let picture = Pairs { points, quantity: "by the counter", unit: "V" }.picture(
            Sign::CounterBackward.name(),
            "Speed by the counter against the voltage",
            &says,
        );
        backward(says, Strength { measured: agreement, against: BLIND, unit: "" }, picture)
    })
}

fn backward(says: String, strength: Strength, picture: Chart) -> Remark {
    Remark {
        sign: Sign::CounterBackward,
        strength,
        rows: Vec::new(),
        spoils: Spoils::All,
        picture,
        says,
        remedy: "swap A and B, or swap the leads of the motor where its shaft turns the wrong way: which of both it is, only \
                 a look at the shaft tells"
            .to_owned(),
    }
}

/// The constant by voltage and counts against its band.
pub(super) fn counts_per_turn(balance: &Balance, known: &Known<'_>) -> Option<Remark> {
    let stated = known.counts_per_turn?;
    let constant = usable(known.constant)?;
    let per_count = known.per_count()?;
    let (value, deviation) = (balance.fit.values[PER_COUNT], balance.fit.deviations[PER_COUNT]);
    let far = student_t_quantile(1.0 - 0.5 * CHANCE, balance.fit.degrees_of_freedom);
    let taken = value * rms(balance.fitted().map(|w| w.rate));
    let attenuations = &balance.fit.attenuations;
    let is_told = far * deviation < 0.2 * value && attenuations[PER_COUNT] <= MOST_ATTENUATION;
    if !(is_told && balance.is_plausible() && taken > SHARE * rms(balance.fitted().map(|w| w.voltage))) {
        return None;
    }
    // What of the current's voltage goes into the constant where the resistance is not what the fit has.
    let square: f64 = balance.fitted().map(|w| w.rate * w.rate).sum();
    let leak = balance.fitted().map(|w| w.rate * w.current).sum::<f64>() / square;
    let resistance = balance.fit.values[RESISTANCE].abs();
    let room = match usable(known.resistance) {
        Some(r) => (r.high - resistance).abs().max((resistance - r.low).abs()),
        None => attenuations[RESISTANCE].min(1.0) * resistance,
    };
    let off = far * deviation / value
        + attenuations[PER_COUNT]
        + room * leak.abs() / value
        + 2.0 * known.sensors.voltage.gain
        + WARM_MAGNETS;
    let ratio = value / per_count.middle();
    let fits = |factor: f64| {
        let (low, high) = (ratio / factor * (1.0 - off), ratio / factor * (1.0 + off));
        low <= constant.high / constant.middle() && high >= constant.low / constant.middle()
    };
    if fits(1.0) {
        return None;
    }
    let fitting: Vec<(f64, String)> =
        factors(known).into_iter().filter(|(factor, _)| fits(*factor)).collect();
    let is_counts = !fitting.is_empty() || !(1.0 / MOST_OFF..=MOST_OFF).contains(&ratio);
    let turn = std::f64::consts::TAU / stated;
    let measured = value / turn;
    // Counts that would give each end of the band.
    let would_fit = [constant.low, constant.high].map(|end| stated * end / measured);
    let mut says = format!(
        "with {stated} counts in a turn the torque constant is {} by voltage and speed, {ratio:.3} times that of the sheet",
        said(measured, Dimension::MACHINE_CONSTANT)
    );
    let range = format!("{:.0} to {:.0} counts in a turn would fit", would_fit[0], would_fit[1]);
    let remedy = match fitting.as_slice() {
        [] => range,
        [(factor, name)] => {
            says += &format!(": the counts are {name}");
            format!("write {} counts in a turn; {range}", plain(stated / factor))
        }
        several => {
            let named: Vec<String> =
                several.iter().map(|(factor, name)| format!("{} ({name})", plain(stated / factor))).collect();
            format!("one of these is right: {} counts in a turn; {range}", named.join(", "))
        }
    };
    let sign = if is_counts { Sign::CountsPerTurn } else { Sign::ConstantOffBand };
    let spoils = if is_counts { Spoils::All } else { Spoils::Rows };
    if !is_counts {
        says += ", and no factor that counters make explains it";
    }
    Some(Remark {
        sign,
        strength: Strength { measured, against: constant.middle(), unit: "V·s/rad" },
        rows: Vec::new(),
        spoils,
        picture: speeds(balance, per_count, sign, &says),
        says,
        remedy,
    })
}

/// Stated counts over true ones, as mistakes make them.
fn factors(known: &Known<'_>) -> Vec<(f64, String)> {
    let mut factors = vec![
        (4.0, "four times too many (edges stated, lines counted)".to_owned()),
        (2.0, "twice too many (both edges stated, one counted)".to_owned()),
        (0.5, "half of the true ones (one edge stated, both counted)".to_owned()),
        (0.25, "a quarter of the true ones (lines stated, edges counted)".to_owned()),
    ];
    if let Some(ratio) = known.gear_ratio.filter(|ratio| *ratio > 0.0 && ratio.is_finite() && *ratio != 1.0) {
        factors.push((
            ratio,
            format!("{ratio} times too many (those of the gear's output, and the motor was counted)"),
        ));
        factors.push((
            1.0 / ratio,
            format!("{ratio} times too few (those of the motor, and the output was stated)"),
        ));
    }
    factors
}

fn plain(counts: f64) -> String {
    if (counts - counts.round()).abs() < 1e-6 * counts {
        format!("{counts:.0}")
    } else {
        format!("{counts:.2}")
    }
}

fn speeds(balance: &Balance, per_count: Band, sign: Sign, says: &str) -> Chart {
    let points = balance.fitted().map(|w| [balance.back_voltage(w), per_count.middle() * w.rate]).collect();
    Pairs { points, quantity: "by constant and counts of the sheet", unit: "V" }.picture(
        sign.name(),
        "Back-EMF by the counter and by the voltage",
        says,
    )
}
