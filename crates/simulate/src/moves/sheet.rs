//! `move` as a sheet: verdict, legs, loops, checks, key figures beside their closed forms.

use super::follow::{Followed, Outcome, Runaway, WithFaults};
use super::plan::{Move, as_way, current};
use crate::acted::acted;
use crate::builds::{KeyFigure, NoSpread, Spread};
use crate::contents::{OTHER_AXES, followed};
use crate::keys::{self, Key, Keys, peak_current, returned, shaft_torque};
use crate::on_demand::{Faulted, points_table};
use crate::page::{self, Played};
use crate::record::Kept;
use crate::run::told_of_means;
use crate::simulation::total;
use controller::Bus;
use drive::assembly::Sense;
use drive::bus::voltage_after_stop;
use drive::constants::zero;
use drive::control::following_error;
use drive::load::Load;
use drive::motion::rms;
use finding::Sheet;
use finding::sheet::{Block, Table};
use worked::format::{self, choose_unit};
use worked::{Dimension, Effort, Input, Number, Origin, Unit, Worked};

/// What a loop does whose encoder counts the wrong way, and what to do before.
const SIGN: &str = "Prove the sign of the encoder before this trial, with a small duty and no loop (`spin-up`): a loop whose encoder \
counts the wrong way runs away at once. Its clamp of the current does not stop that.";
/// What the simulation leaves out.
const NO_GUARD: &str = "The loop has no guard that opens the switches where it follows no more.";

impl Move {
    /// The verdict in a sentence: whether it may be done.
    pub fn verdict(&self) -> String {
        page::verdict(&self.name, &format!("axis {}", self.axis), &self.checks)
    }

    /// What is asked, what was judged, and what comes of it: nothing where the trial is refused. Builds of its axis stand
    /// beside where they were asked for, and what comes of its faults where it has any.
    pub fn sheet(
        &self,
        outcome: Option<&Outcome>,
        builds: Option<&Result<Spread, NoSpread>>,
        faulted: Option<&Faulted<WithFaults>>,
    ) -> Sheet {
        let blocks = page::with_workings(self.told(outcome, builds, faulted), outcome.is_some());
        Sheet { id: "predict".to_owned(), title: self.title(), summary: self.summary(outcome), blocks }
    }

    /// Its name and what happens in it.
    pub(crate) fn title(&self) -> String {
        format!("{}: {}", self.name, self.caption)
    }

    /// The verdict, and whether the axis does what is wanted of it.
    pub(crate) fn summary(&self, outcome: Option<&Outcome>) -> Vec<String> {
        let mut summary: Vec<String> = self.faults.told().into_iter().chain([self.verdict()]).collect();
        summary.extend(outcome.map(|outcome| self.whether_it_follows(&outcome.followed)));
        summary
    }

    /// Tables and remarks, and the figures behind them.
    pub(crate) fn told(
        &self,
        outcome: Option<&Outcome>,
        builds: Option<&Result<Spread, NoSpread>>,
        faulted: Option<&Faulted<WithFaults>>,
    ) -> page::Told {
        let on_builds = |builds| self.remarks_on_builds(builds);
        let spread = builds.and_then(|builds| builds.as_ref().ok());
        let played = outcome.map(|outcome| Played {
            cautions: vec![SIGN],
            keys: self.all_keys(outcome, spread, faulted),
            tables: [self.loops_table()].into_iter().chain(faulted.map(points_table)).collect(),
            remarks: [builds.map_or_else(Vec::new, on_builds), self.remarks(outcome, faulted)].concat(),
        });
        page::told(self.legs_table(), &self.checks, played)
    }

    fn legs_table(&self) -> Block {
        let mut start = 0.0;
        let row = |(words, time): (&'static str, f64)| {
            let text = |si: f64| self.figure("time", "time", "t", Dimension::TIME, si).text();
            let way = match words {
                "there" => self.way("end", self.path.end() / self.set_up.ratio).text(),
                "back" => self.way("end", 0.0).text(),
                _ => String::new(),
            };
            let cells = vec![words.to_owned(), way, text(start), text(time)];
            start += time;
            cells
        };
        let rows = self.legs().into_iter().map(row).collect();
        let headings = ["stage", "#to", "#from", "#for"];
        Block::Table(Table::of("stages", "Where the axis is to be", &headings, rows))
    }

    fn loops_table(&self) -> Block {
        let (loops, f) = (&self.loops, &self.loops.speed);
        let text =
            |key: &str, dimension: Dimension, si: f64| self.figure(key, key, "x", dimension, si).text();
        let seconds = |key: &str, si: f64| text(key, Dimension::TIME, si);
        let per_second = |si: f64| format!("{} 1/s", rounded(si));
        let bus = match f.bus {
            Bus::Taken(volts) => format!("taken as {}", text("bus", Dimension::VOLTAGE, volts)),
            Bus::Measured { lowest, .. } => {
                format!("measured; switches open below {}", text("bus", Dimension::VOLTAGE, lowest))
            }
        };
        let row = |what: &str, value: String| vec![what.to_owned(), value];
        let mut rows = vec![
            row("sample time", seconds("sample_time", f.sample_time)),
            row("window of the speed", format!("{} samples", f.window)),
            row("crossover of the speed loop", format!("{} rad/s", rounded(loops.crossover()))),
            row("gain of the speed loop", format!("{} V·s/rad", rounded(f.pi.gain))),
            row("integral time", seconds("integral_time", f.pi.integral_time)),
            row("gain of the position loop", per_second(loops.gain)),
            row("current that the clamp keeps", self.limit.text()),
            row("highest duty", format!("{}", f.highest_duty)),
            row("voltage of the bus", bus),
        ];
        if let Some(counts) = loops.clock.duty_counts {
            rows.push(row("counts of the PWM timer in a period", format!("{counts:.0}")));
        }
        Block::Table(Table::of("loops", "The loops, at the motor shaft", &["figure", "#value"], rows))
    }

    fn whether_it_follows(&self, followed: &Followed) -> String {
        let mut said = Vec::new();
        if let Some(allowed) = &self.following_error {
            let error = self.way("following_error", followed.peak.abs()).text();
            let limit = self.as_way(allowed.clone()).text();
            said.push(match followed.peak.abs() <= allowed.value() {
                true => format!("It stays within {error} of its motion, where {limit} are allowed."),
                false => format!("It is up to {error} away from its motion, where {limit} are allowed."),
            });
        }
        let tolerance = self.as_way(self.tolerance.clone()).text();
        said.push(match followed.settled {
            Some(time) => {
                let time = self.figure("settled", "time", "t", Dimension::TIME, time).text();
                format!("It stays within {tolerance} from {time} after the end of a move on.")
            }
            None => format!("It does not come to stay within {tolerance} of where a move ends."),
        });
        said.join(" ")
    }

    /// Key figures, and what each of them is with the faults.
    fn all_keys(
        &self,
        outcome: &Outcome,
        spread: Option<&Spread>,
        faulted: Option<&Faulted<WithFaults>>,
    ) -> Vec<Key> {
        let mut keys = self.keys((&outcome.legs, &outcome.followed), spread);
        if let Some(Faulted { kept: (legs, followed), .. }) = faulted {
            keys::set_beside(&mut keys, self.keys((legs, followed), None));
        }
        keys.extend(self.keys_of_runaway(&outcome.runaway));
        keys
    }

    fn keys(&self, (legs, followed): (&[Kept], &Followed), spread: Option<&Spread>) -> Vec<Key> {
        let mut keys = Keys::new(spread);
        let words = "largest following error (closed form: without feed-forward)";
        let (simulated, lag) =
            (self.way("following_error", followed.peak.abs()), self.lag_without_feed_forward());
        keys.spans(KeyFigure::FollowingError, words, simulated, Some(lag));
        let words = "following error while it moves, rms";
        keys.spans(KeyFigure::FollowingRms, words, self.way("following_rms", followed.rms), None);
        let words = "overshoot past the end of a move";
        keys.spans(KeyFigure::Overshoot, words, self.way("overshoot", followed.overshoot), None);
        if let Some(time) = followed.settled {
            let words = "within the tolerance of the end after";
            keys.spans(KeyFigure::WithinTolerance, words, self.time("settled", words, time), None);
        }
        let words = "error at the end";
        keys.spans(KeyFigure::EndError, words, self.way("end_error", followed.end_error.abs()), None);
        let counts = (followed.end_error_of_motor * self.loops.speed.counts).abs();
        let words = "the same at the motor, in counts of the encoder";
        let simulated = self.figure("end_counts", words, "n", Dimension::NONE, rounded(counts));
        keys.spans(KeyFigure::EndCounts, words, simulated, None);
        let words = "largest motor current";
        let simulated = self.current("peak_current", words, "I_pk", peak_current(legs));
        keys.spans(KeyFigure::PeakCurrent, words, simulated, Some(self.demand.current.clone()));
        let words = "motor current while it moves, rms";
        let simulated = self.current("rms_current", words, "I_rms", rms_of(legs));
        keys.spans(KeyFigure::RmsCurrent, words, simulated, self.rms_of_motion());
        let speed = legs.iter().map(|kept| kept.peak_speed.abs()).fold(0.0, f64::max);
        let words = "highest speed of the motor";
        let simulated = self.figure("speed", words, "ω", Dimension::ANGULAR_SPEED, speed).shown_in("rpm");
        keys.spans(KeyFigure::TopSpeed, words, simulated, Some(self.demand.speed.clone()));
        if self.set_up.twist.is_some() {
            let words = "largest torque at the shaft that drives the load";
            let simulated = self.figure("shaft_torque", words, "M", Dimension::TORQUE, shaft_torque(legs));
            keys.spans(KeyFigure::ShaftTorque, words, simulated, None);
        }
        let (sum, returned) = (total(legs), returned(legs));
        let taken = if self.set_up.bus.is_some() { sum.supply } else { sum.supply + returned };
        let words = "energy out of the supply";
        let simulated = self.figure("taken", words, "W_s", Dimension::ENERGY, taken);
        keys.spans(KeyFigure::Taken, words, simulated, None);
        let words = "energy back into the bus";
        let closed = self.returned();
        let simulated = self.figure("returned", words, "W_r", Dimension::ENERGY, returned);
        keys.spans(KeyFigure::Returned, words, simulated, closed.clone());
        if let (Some(bus), Some(simulated)) = (&self.bus, self.set_up.bus) {
            let highest = legs.iter().map(|kept| kept.bus.1).fold(0.0, f64::max);
            let words = "highest voltage of the bus";
            let closed = closed.filter(|_| !simulated.sinks && !self.path.returns).map(|energy| {
                voltage_after_stop(bus.open_voltage.clone(), energy, zero("J"), bus.capacitance.clone())
            });
            let simulated = self.figure("bus", words, "U_1", Dimension::VOLTAGE, highest);
            keys.spans(KeyFigure::HighestBus, words, simulated, closed);
        }
        keys.all
    }

    /// What the ranges over builds are, or why there are none; whether every build does what is wanted.
    fn remarks_on_builds(&self, builds: &Result<Spread, NoSpread>) -> Vec<String> {
        let spread = match builds {
            Ok(spread) => spread,
            Err(why) => return vec![why.remark()],
        };
        let mut remarks = spread.remarks("twist and play");
        let of = |key: KeyFigure| spread.of(key);
        if let (Some(allowed), Some(span)) = (&self.following_error, of(KeyFigure::FollowingError)) {
            let allowed = self.as_way(allowed.clone());
            if span.high > allowed.value() {
                let farthest = figure_like(&allowed, span.high);
                remarks.push(format!(
                    "Not every build stays so near to its motion as is allowed: the farthest is {farthest} away."
                ));
            }
        }
        let outside = of(KeyFigure::WithinTolerance).map_or(spread.builds().0, |span| span.without);
        if outside > 0 {
            remarks.push(format!(
                "{outside} of these builds do not come to stay within the tolerance of where a move ends."
            ));
        }
        if let Some(span) = of(KeyFigure::TripTime) {
            let tripped = spread.builds().0 - span.without;
            let first = self.time("trip_time", "time", span.low).text();
            remarks
                .push(format!("In {tripped} of these builds a limit trips, after {first} at the earliest."));
        }
        remarks
    }

    fn keys_of_runaway(&self, runaway: &Runaway) -> Vec<Key> {
        let mut keys = Keys::new(None);
        let words = "speed of the motor with the channels of the encoder swapped";
        let speed = self.figure("runaway", words, "ω_run", Dimension::ANGULAR_SPEED, runaway.speed);
        keys.add(words, speed.shown_in("rpm"), Some(self.runaway_speed()));
        let way = self.way("runaway_way", runaway.way / self.set_up.ratio);
        keys.add("way with them swapped, until the trial is over", way, None);
        keys.all
    }

    /// `ω_p/K_φ`: how far a position loop stays behind without feed-forward.
    fn lag_without_feed_forward(&self) -> Worked {
        let gain = Worked::known(
            self.loops.gain,
            "1/s",
            "K_φ",
            "gain of the position loop",
            Origin::computed("worked out from the nominal figures"),
        );
        let at_motor = following_error(self.demand.speed.clone(), gain);
        self.as_way((at_motor / self.figures.gear.ratio.clone()).called("lag without feed-forward", "e_f"))
    }

    /// Effective current of the moves by their stretches of one acceleration; none where the motion has no such.
    fn rms_of_motion(&self) -> Option<Worked> {
        let figures = &self.figures;
        let pieces: Vec<(Worked, Worked)> = figures
            .dc
            .cycle
            .iter()
            .filter(|stretch| stretch.sense == Sense::Forward)
            .map(|stretch| {
                let speed = figures.dc.gear.input_speed(stretch.phase.mean_speed());
                let now =
                    |load: Option<Load<Worked>>| current(figures, load, &speed, &stretch.phase.acceleration);
                (now(figures.load.clone()), stretch.phase.time.clone())
            })
            .collect();
        let one_way = figures
            .load
            .as_ref()
            .is_some_and(|load| load.standing_torque(drive::load::At::Worst).value() != 0.0);
        let known = pieces.iter().all(|(current, _)| current.value().is_finite());
        (known && !one_way)
            .then(|| rms(pieces))
            .flatten()
            .map(|rms| rms.called("motor current over the move, rms", "I_mov"))
    }

    /// What all stops return by the closed form of one; none where gravity drives as well.
    fn returned(&self) -> Option<Worked> {
        let bus = self.bus.as_ref().filter(|_| self.figures.load.is_some())?;
        let (_, returned) = bus.returned.iter().find(|(name, _)| **name == *self.axis)?;
        if returned.way_down.is_some() {
            return None;
        }
        let stops = if self.path.returns { 2.0 } else { 1.0 };
        Some((returned.energy.clone() * stops).called("energy returned by the stops", "W_r"))
    }

    /// Speed at which a loop whose encoder counts the wrong way comes to rest: there the clamp, which takes the back-EMF
    /// for its opposite, leaves what friction takes, `R·(I_lim − M/K)/(2·K)`; no more than the bus can drive.
    fn runaway_speed(&self) -> Worked {
        let (dc, figures) = (&self.figures.dc, &self.figures);
        let motor = dc.armature();
        let friction = (figures.slow_torque() + motor.coulomb_friction.clone()) / motor.constant.clone();
        let left = (self.limit.clone() - friction.clone()).or_zero();
        let by_clamp = motor.resistance.clone() * left / (motor.constant.clone() * 2.0);
        let driven = dc.duty_limit.clone() * dc.power.open_voltage.clone() - motor.brush_drop.clone();
        let by_bus = (driven - motor.resistance * friction).or_zero() / motor.constant;
        by_clamp.at_most(by_bus).called("speed of a runaway", "ω_run").shown_in("rpm")
    }

    fn remarks(&self, outcome: &Outcome, faulted: Option<&Faulted<WithFaults>>) -> Vec<String> {
        let mut remarks = Vec::new();
        let way = outcome.runaway.way / self.set_up.ratio;
        if let Some(travel) = self.travel.as_ref().filter(|_| self.figures.load.is_some()) {
            let (way, half) = (self.way("runaway_way", way).text(), self.as_way(travel.clone() / 2.0).text());
            remarks.push(match outcome.runaway.way / self.set_up.ratio > 0.5 * travel.value() {
                true => format!(
                    "With the wrong sign it would go {way} before the trial is over: from the middle of its travel it runs into an \
                     end stop after {half}."
                ),
                false => format!(
                    "With the wrong sign it would go {way} before the trial is over: from the middle of its travel that stays \
                     clear of the end stops, {half} away."
                ),
            });
        }
        if self.demand.current.value() > self.loops.current_limit {
            remarks.push(format!(
                "The motion takes {} at its hardest moment, and the clamp keeps {}: the axis falls behind.",
                self.demand.current.text(),
                self.limit.text()
            ));
        }
        let by_itself = acted(&outcome.legs, &self.limits, &self.stops);
        if let Some(Faulted { kept: (legs, follows), .. }) = faulted {
            let with =
                acted(legs, &self.limits, &self.stops).into_iter().filter(|said| !by_itself.contains(said));
            let with = [self.whether_it_follows(follows)].into_iter().chain(with);
            remarks.extend(with.map(|said| format!("With the fault: {said}")));
        }
        remarks.extend(by_itself);
        if self.means.is_some() {
            remarks.push(told_of_means(&self.set_up, self.steps()));
        }
        let absent: Vec<&str> = self.left_out.iter().map(String::as_str).chain([OTHER_AXES]).collect();
        remarks.push(format!("Not simulated: {}.", absent.join("; ")));
        remarks.push(NO_GUARD.to_owned());
        remarks.extend(followed(&self.set_up.curved, &outcome.legs));
        remarks
    }

    /// An angle of the shaft that drives the load as a way of the load, where it goes along one.
    fn way(&self, key: &str, angle: f64) -> Worked {
        self.as_way(self.figure(key, "angle of the shaft that drives the load", "φ", Dimension::ANGLE, angle))
    }

    fn as_way(&self, angle: Worked) -> Worked {
        as_way(angle, &self.figures.dc)
    }

    fn current(&self, key: &str, words: &str, symbol: &str, si: f64) -> Worked {
        self.figure(key, words, symbol, Dimension::CURRENT, si)
    }

    fn time(&self, key: &str, words: &str, si: f64) -> Worked {
        self.figure(key, words, "t", Dimension::TIME, si)
    }

    fn figure(&self, key: &str, words: &str, symbol: &str, dimension: Dimension, si: f64) -> Worked {
        Input::new(&format!("trials.{}.{key}", self.name), words, symbol, dimension)
            .value(si)
            .unit(choose_unit(si, dimension, None))
            .origin(Origin::computed("simulated at nominal values"))
            .worked()
    }
}

/// A value in words, in the unit of another figure.
fn figure_like(other: &Worked, si: f64) -> String {
    let shown = other.figure(Effort::FirstOrder).unit;
    let unit = Unit::parse(&shown).unwrap_or_else(|_| Unit::si(other.dimension()));
    format::plain(si, &unit)
}

/// Effective current of the legs in which it moves: every other one, the first among them.
pub(super) fn rms_of(legs: &[Kept]) -> f64 {
    let (mut squares, mut time, mut before) = (0.0, 0.0, 0.0);
    for (at, kept) in legs.iter().enumerate() {
        if at.is_multiple_of(2) {
            squares += kept.energy.current_squared;
            time += kept.end - before;
        }
        before = kept.end;
    }
    if time > 0.0 { (squares / time).sqrt() } else { 0.0 }
}

/// Three digits.
fn rounded(value: f64) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return value;
    }
    let scale = libm::pow(10.0, 2.0 - libm::floor(libm::log10(value.abs())));
    (value * scale).round() / scale
}
