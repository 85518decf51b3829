//! Pictures of a sizing: the motion over the field of torque and speed, the winding over cycles, the bus over the move.

use crate::axis::{Course, SizedAxis};
use crate::bus_course::BusCourse;
use crate::warmth;
use drive::assembly::DcAxis;
use finding::chart::{
    Area, Axis, AxisScale, Band, Chart, Limit, LimitAt, Lines, Named, Panel, Plot, Point, Purpose, Region,
    Series, Traces,
};
use worked::{Number, Origin, Unit, Worked, format};

/// Speeds at which the field is worked out.
const SPEEDS: usize = 9;
/// Points of the winding's course from cold.
const WARMING: u32 = 48;

/// A unit by its symbol; every symbol here is written in this crate.
fn unit(symbol: &str) -> Unit {
    Unit::parse(symbol).unwrap_or_else(|_| Unit::one())
}

fn axis(label: &str, unit: &Unit) -> Axis {
    Axis { label: label.to_owned(), unit: unit.symbol().to_owned(), ..Axis::default() }
}

/// The cycle as a path over the field of torque and speed at the shaft of the motor.
pub(crate) fn operating(sized: &SizedAxis, dc: &DcAxis, course: &Course) -> Option<Chart> {
    let (rpm, mnm) = (unit("rpm"), unit("mN·m"));
    let point = |speed: f64, torque: f64| [rpm.from_si(speed), mnm.from_si(torque)];
    let asked = course.demands.iter().map(|d| d.torque).fold(0.0, f64::max);
    let fastest = course.demands.iter().map(|d| d.speed).fold(0.0, f64::max);
    let free = dc.armature().no_load_speed(dc.motor_voltage_at_most()).value();
    let width = (1.25 * fastest).max(1.15 * free);
    if !(width > 0.0 && width.is_finite() && asked.is_finite()) {
        return None;
    }
    let known = |x: f64| {
        Worked::known(x, "rad/s", "ω_m", "speed of the motor", Origin::assumed("a point of the line"))
    };
    let (mut driven, mut left) = (Band::default(), Band::default());
    driven.name = "largest duty, cold to hot, low to high supply".to_owned();
    left.name = "what limits leave of it, winding hot".to_owned();
    for k in 0..SPEEDS {
        let x = width * k as f64 / (SPEEDS - 1) as f64;
        let speed = known(x);
        let motor = dc.armature();
        let current = motor.current_at(dc.motor_voltage_at_most(), speed.clone());
        let put = |band: &mut Band, torque: Worked| {
            if let Some((low, high)) = torque.worst_case() {
                band.lower.push(point(x, low.max(0.0)));
                band.upper.push(point(x, high.max(0.0)));
            }
        };
        put(&mut driven, motor.torque(current, speed.clone()));
        put(&mut left, dc.torque_available(&speed));
    }
    let lasting = dc
        .hot_rotor()
        .torque(dc.motor.heat().continuous_current(dc.ambient.clone()), crate::charts::still())
        .worst_case();
    let mut lines = Lines {
        x: axis("speed of the motor", &rpm),
        y: axis("torque at its shaft", &mnm),
        bands: [driven, left].into_iter().filter(|band| band.upper.len() > 1).collect(),
        ..Lines::default()
    };
    let path: Vec<Point> = course.demands.iter().map(|d| point(d.speed, d.torque)).collect();
    let name = sized.motion.as_deref().map_or_else(|| "motion".to_owned(), |name| format!("motion {name}"));
    lines.series.push(Series { name, purpose: Purpose::Course, points: path });
    let mut highest = asked;
    if let Some((low, _)) = lasting.filter(|(low, _)| *low > 0.0) {
        let label = format!("winding, for ever, at its worst {}", format::plain(low, &mnm));
        lines.limits.push(Limit { label, at: LimitAt::Y(mnm.from_si(low)) });
        highest = highest.max(low);
    }
    let limited =
        dc.usable_current(&known(0.0)).map(|current| dc.hot_rotor().torque(current, still()).value());
    if let Some(torque) = limited.filter(|torque| torque.is_finite() && *torque > 0.0) {
        let label = format!("current limit {}", format::plain(torque, &mnm));
        lines.limits.push(Limit { label, at: LimitAt::Y(mnm.from_si(torque)) });
        highest = highest.max(torque);
    }
    let lowest = course.demands.iter().map(|d| d.torque).fold(0.0, f64::min);
    lines.y.range = Some([mnm.from_si(1.2 * lowest), mnm.from_si(1.6 * highest)]);
    Some(Chart {
        id: format!("operating-{}", sized.name),
        title: format!("Axis {}: the motion over torque and speed of the motor", sized.name),
        alt: format!(
            "The motion asks the motor for up to {} and {}.",
            format::plain(asked, &mnm),
            format::plain(fastest, &rpm)
        ),
        caption: "The path of one cycle at nominal values, below zero while the motor brakes. It must lie below the lower edge of \
                  the band that limits leave; what is above the level of the winding may last only for a part of the cycle."
            .to_owned(),
        plot: Plot::Lines(lines),
    })
}

fn still() -> Worked {
    drive::constants::zero("rad/s")
}

/// The winding from cold over very many cycles, at nominal values.
pub(crate) fn temperature(sized: &SizedAxis, dc: &DcAxis, course: &Course) -> Option<Chart> {
    if !course.lacking.is_empty() {
        return None;
    }
    let (celsius, seconds) = (unit("°C"), unit("s"));
    let heat = dc.motor.heat().map(&mut Worked::value);
    let states = warmth::warming(&heat, course.ambient, &course.demands, WARMING);
    let place = |time: f64, kelvin: f64| [seconds.from_si(time), celsius.from_si(kelvin)];
    let line = |name: &str, of: fn(&warmth::Warming) -> f64| Series {
        name: name.to_owned(),
        purpose: Purpose::Nominal,
        points: states.iter().map(|state| place(state.time, of(state))).collect(),
    };
    let limit = course.limit;
    let last = states.last()?;
    let mut lines = Lines {
        x: Axis { scale: AxisScale::Log, ..axis("time from cold", &seconds) },
        y: axis("temperature", &celsius),
        series: vec![line("winding, hottest of the cycle", |s| s.hottest), line("case", |s| s.case)],
        ..Lines::default()
    };
    if last.hottest < 4.0 * limit && 2.0 * limit > course.ambient {
        lines.limits.push(Limit {
            label: format!("limit of the winding {}", format::plain(limit, &celsius)),
            at: LimitAt::Y(celsius.from_si(limit)),
        });
    }
    if last.hottest > limit {
        let name = "winding above its limit".to_owned();
        lines.forbidden.push(Region { name, area: Area::Above(vec![place(states[0].time, limit)]) });
        let top = limit + 1.5 * (limit - course.ambient);
        lines.y.range = Some([celsius.from_si(course.ambient) - 5.0, celsius.from_si(top)]);
    }
    let hottest = course.figure("winding_hottest").and_then(Worked::worst_case);
    let met = hottest.map_or_else(String::new, |(low, high)| {
        format!(" At corners of the tolerances it was met from {}.", format::range(low, high, &celsius))
    });
    Some(Chart {
        id: format!("warming-{}", sized.name),
        title: format!("Axis {}: the winding over many cycles", sized.name),
        alt: format!(
            "From {} the winding comes to {} over many cycles; its limit is {}.{met}",
            format::plain(course.ambient, &celsius),
            format::plain(last.hottest, &celsius),
            format::plain(limit, &celsius)
        ),
        caption: "Nominal values, the air in the middle of its range, two bodies. The currents are those of the last cycles, so \
                  that the beginning is a little too warm."
            .to_owned(),
        plot: Plot::Lines(lines),
    })
}

/// The bus over the longest cycle.
pub(crate) fn bus(id: &str, path: &str, course: &BusCourse, ceiling: Option<f64>) -> Chart {
    let plain = |value: f64, symbol: &str| format::plain(value, &unit(symbol));
    let series = |name: &str, points: &[Point]| Series {
        name: name.to_owned(),
        purpose: Purpose::Nominal,
        points: points.to_vec(),
    };
    // A limit far above would press the course to the ground.
    let near = ceiling.filter(|ceiling| *ceiling < 1.5 * course.highest);
    let limit = |at: f64| Named { label: format!("the board survives {}", plain(at, "V")), at };
    let panels = vec![
        Panel {
            title: "voltage of the bus".to_owned(),
            unit: "V".to_owned(),
            series: vec![series("bus", &course.voltage)],
            limits: near.map(limit).into_iter().collect(),
            ..Panel::default()
        },
        Panel {
            title: "current of the supply".to_owned(),
            unit: "A".to_owned(),
            series: vec![series("supply", &course.current)],
            ..Panel::default()
        },
    ];
    Chart {
        id: format!("bus-{id}"),
        title: format!("{path}: the bus over the motions of its axes"),
        alt: format!(
            "The bus stays between {} and {}; the supply gives up to {}.",
            plain(course.lowest, "V"),
            plain(course.highest, "V"),
            plain(course.peak_current, "A")
        ),
        caption: "All motions begin together, at nominal values. What braking brings back lifts the capacitors; the supply gives \
                  again once they are down at its voltage."
            .to_owned(),
        plot: Plot::Traces(Traces { time: axis("time", &unit("s")), panels, moments: Vec::new() }),
    }
}
