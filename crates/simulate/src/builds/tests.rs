//! Builds at corners, against what is worked out from the inputs there.

use super::*;
use crate::plan::Plan;
use crate::prepared::set_up_by;
use crate::set_up::{Acts, Sees};
use crate::simulation::{Command, Simulation};
use crate::trial::{Trial, Wish};
use crate::{NoLog, Stage};
use bench::builtin::{self, Starter};
use bench::{Files, ReadError};
use worked::Number;

/// The shuttle with texts of its files changed.
struct Changed {
    starter: Starter,
    changes: &'static [(&'static str, &'static str)],
}

impl Files for Changed {
    fn read(&self, path: &str) -> Result<Vec<u8>, ReadError> {
        let text = String::from_utf8(self.starter.read(path)?).expect("text");
        let changed = self.changes.iter().fold(text, |text, (from, to)| text.replace(from, to));
        Ok(changed.into_bytes())
    }

    fn names(&self) -> Vec<String> {
        self.starter.names()
    }
}

fn planned(plan: Plan, changes: &'static [(&'static str, &'static str)]) -> Trial {
    let starter = builtin::starter("seed-tray-shuttle").expect("a starter");
    let bench = bench::load_from(&Changed { starter, changes }).value.expect("usable");
    Trial::plan(&bench, bench.axis("left").expect("the axis"), plan, Wish::default()).expect("a trial")
}

fn builds<'t>(trial: &'t Trial, besides: &[Worked]) -> Builds<'t, SetUp> {
    let set_up = |value: Reader<'_>| {
        set_up_by(&trial.figures, &trial.bench_axis, trial.bus.as_ref(), &trial.shaft, value)
    };
    Builds::new(set_up, besides)
}

fn close(a: f64, b: f64) {
    assert!((a - b).abs() <= 1e-12 * b.abs(), "{a} for {b}");
}

/// Springs in series, capacitors side by side, and the damping of two masses on the spring between them.
#[test]
fn what_stands_around_a_build_follows_from_its_own_inputs() {
    let trial = planned(Plan::SpinUp, &[]);
    let builds = builds(&trial, &[]);
    for corner in 0..20 {
        let point = builds.joint.corner(3, corner);
        let at = |path: &str| {
            let known = builds.joint.inputs().iter().position(|input| &*input.path == path);
            point[known.unwrap_or_else(|| panic!("{path}"))]
        };
        let (build, _) = builds.at(&point);
        let twist = build.twist.expect("a twist");
        let (gear, hub) = (at("axes.left.gearbox.stiffness"), at("axes.left.coupling.stiffness"));
        close(twist.stiffness, gear * hub / (gear + hub));
        close(twist.backlash, at("axes.left.gearbox.backlash"));
        let motor = (at("axes.left.motor.inertia") + at("axes.left.gearbox.inertia")) * 27.04 * 27.04;
        // Of two axes each carries half.
        let radius = at("loads.vehicle.wheel_radius");
        let load = at("loads.vehicle.mass") / 2.0 * radius * radius + at("loads.vehicle.wheel_inertia");
        close(build.load_inertia, load);
        close(twist.damping, 2.0 * 0.05 * (twist.stiffness * motor * load / (motor + load)).sqrt());
        let (board, bus) = (build.board, build.bus.expect("a bus"));
        let input = |key: &str| at(&format!("drivers.board.supply_inputs.motor.{key}"));
        close(bus.capacitance, input("capacitance") + at("supplies.drive.output_capacitance"));
        close(bus.bleed, 1.0 / input("bleed_resistance"));
        close(bus.quiescent, input("current"));
        close(bus.limit.expect("a limit").current, at("supplies.drive.limit"));
        let lockout = board.lockout.expect("a lockout");
        close(lockout.off, input("lockout.off"));
        close(lockout.on, input("lockout.on"));
        close(board.dead_time, at("drivers.board.channels.A.dead_time"));
        let limit = |number: usize| board.limits[number].expect("a limit");
        let (chopper, trip) = (limit(0), limit(1));
        close(chopper.threshold, at("drivers.board.limits.A.chop.value"));
        close(chopper.blanking, at("drivers.board.limits.A.chop.blanking"));
        assert_eq!(chopper.acts, Acts::Chop(Some(at("drivers.board.limits.A.chop.off_time"))));
        close(trip.threshold, at("drivers.board.limits.input.settings.high"));
        close(trip.timer, at("drivers.board.limits.input.timer"));
        assert_eq!((trip.sees, trip.acts), (Sees::Supply, Acts::Latch));
        let warmth = build.curved.warmth.expect("a winding that warms");
        let motor = |key: &str| at(&format!("axes.left.motor.{key}"));
        close(warmth.heat.thermal.winding_to_case, motor("thermal_resistance_winding_case"));
        close(warmth.heat.thermal.case_time, motor("thermal_time_case"));
        close(warmth.ambient, at("bench.ambient"));
        close(warmth.start.winding, at("axes.left.winding_temperature"));
        close(warmth.heat.resistance_at(warmth.start.winding), build.winding_resistance);
        let shutdown = build.curved.shutdown.expect("a shutdown");
        close(shutdown.thermal_resistance, at("drivers.board.channels.A.thermal_resistance"));
    }
}

/// Each limit of the supply trips a build at its own time: `t_timer + L/R·ln(I/(I − I_t/D))`, with the resistance and the
/// voltage of that build.
#[test]
fn at_each_corner_a_limit_trips_when_the_closed_form_of_that_corner_says() {
    let trial = planned(
        Plan::StallUntilTrip,
        &[
            ("name = \"A.chop\"\nacts = \"chop\"", "name = \"A.chop\"\nacts = \"latch\""),
            ("value = \"1.5 A ± 10 %\"", "value = \"20 A ± 10 %\""),
            ("lines = { limit_select = \"high\" }", "lines = { limit_select = \"low\" }"),
            ("peak_current = \"4.5 A\"", "peak_current = \"8 A\""),
        ],
    );
    let Command::Duty(duty) = trial.stages().next().expect("a stage").1.command else { panic!("a duty") };
    let (dc, bridge) = (&trial.figures.dc, &trial.figures.bridge);
    let (armature, limit) = (dc.armature(), trial.trips.as_ref().expect("a limit"));
    let bus = dc.power.open_voltage.clone() - dc.power.series_drop.clone();
    // Capacitors before the bridge: the supply gives the mean.
    let resistance =
        armature.resistance.clone() + trial.figures.supply_resistance() * Worked::pure(duty * duty);
    let driven = bus.clone() * Worked::pure(duty) - bridge.dead_time_loss(bus) - armature.brush_drop.clone();
    let end = driven / resistance.clone();
    let left = end.clone() - limit.threshold.clone() / Worked::pure(duty);
    let closed = limit.limit.timer() + armature.inductance.clone() / resistance * (end / left).ln();
    let builds = builds(&trial, &[closed]);
    let mut times = Vec::new();
    for corner in 0..30 {
        let (build, besides) = builds.at(&builds.joint.corner(8, corner));
        let mut simulation = Simulation::new(build).expect("a drive");
        let stage = Stage { command: Command::Duty(duty), periods: (20e-3 * build.frequency) as u64 };
        let kept = simulation.play(&stage, u64::MAX, &mut NoLog).unwrap_or_else(|_| panic!("it plays"));
        let (time, _) = kept.tripped.expect("it trips");
        // The mean over a PWM period lags by half of one, and is known at its end; so is that the time is over.
        let late = (time - besides[0]) * build.frequency;
        assert!(late > -0.5 && late < 2.5, "{time} for {}", besides[0]);
        times.push(time);
    }
    let (low, high) = times.iter().fold((f64::INFINITY, 0.0f64), |(a, b), t| (a.min(*t), b.max(*t)));
    assert!(high - low > 1.4e-3, "{low} .. {high}: the timer alone has ±20 %");
}
