//! Key figures of a trial, each beside its closed form where there is one.

use crate::builds::{KeyFigure, Spread};
use crate::course::Told;
use crate::figures::short;
use crate::judge::locked_current;
use crate::record::Kept;
use crate::run::Course;
use crate::simulation::total;
use crate::trial::{Outcome, Trial};
use drive::assembly::limits::{delay, seen};
use drive::bus::{energy_of_braking_torque, voltage_after_stop};
use drive::constants::zero;
use drive::load::At;
use finding::sheet::{Block, Table};
use worked::{Dimension, Effort, Number, Unit, Worked, format};

/// A key figure: what the simulation gave, and what a closed form gives.
pub(crate) struct Key {
    pub(crate) what: String,
    pub(crate) simulated: Worked,
    pub(crate) closed: Option<Worked>,
    /// Lowest and highest of all builds that were played.
    pub(crate) range: Option<String>,
    /// What it is with the faults that were put in.
    pub(crate) faulty: Option<String>,
}

impl Key {
    /// A way of the load.
    pub(crate) fn is_way(&self) -> bool {
        self.what.starts_with("way ")
    }
}

/// Puts what key figures come to with faults beside them.
pub(crate) fn set_beside(keys: &mut [Key], with: Vec<Key>) {
    for key in keys {
        let same = with.iter().find(|with| with.what == key.what);
        key.faulty = same.map(|with| with.simulated.text());
    }
}

/// Words of the levels of a staircase.
pub(crate) const LEVEL: &str = "level";
/// A staircase has so many levels at least.
const LEVELS: usize = 2;

/// Where the bridge stops driving.
struct Ending<'k> {
    /// Since when, in words.
    words: &'static str,
    before: &'k Kept,
    after: &'k Kept,
    /// By a ramp to zero.
    ramps: bool,
    /// When the shaft rests, s since the start, and its angle there, rad.
    rest: Option<(f64, f64)>,
}

impl Trial {
    pub(crate) fn keys(&self, outcome: &Outcome, spread: Option<&Spread>) -> Vec<Key> {
        let mut keys = Keys::new(spread);
        let kept = &outcome.stages;
        let words = "largest motor current";
        let simulated = self.current("peak_current", words, "I_pk", peak_current(kept));
        keys.spans(KeyFigure::PeakCurrent, words, simulated, Some(self.peak_current.clone()));
        if let (Some((_, first)), false) = (self.first_drive(kept), self.has_levels()) {
            self.drive(&mut keys, first, outcome);
        }
        self.trip(&mut keys, kept);
        self.way(&mut keys, kept);
        self.ends(&mut keys, kept);
        self.energies(&mut keys, kept);
        keys.all
    }

    /// A key figure of a run, SI; a way as the angle of the motor, a rise of the winding as the heat behind it.
    pub(crate) fn reading(&self, key: KeyFigure, outcome: &Outcome) -> Option<f64> {
        let kept = &outcome.stages;
        let drive = || self.first_drive(kept).map(|(_, drive)| drive).filter(|kept| kept.tripped.is_none());
        let turns = !self.set_up.locked;
        match key {
            KeyFigure::PeakCurrent => Some(peak_current(kept)),
            KeyFigure::Ripple => drive().map(|drive| drive.ripple),
            KeyFigure::LastCurrent => drive().filter(|_| !turns).map(|drive| drive.current.abs()),
            KeyFigure::Speed => drive().filter(|_| turns).map(|drive| drive.speed.abs()),
            KeyFigure::RiseTime => outcome.rise_time,
            KeyFigure::Settled => outcome.settled,
            KeyFigure::TripTime => kept.iter().find_map(|kept| kept.tripped).map(|(time, _)| time),
            KeyFigure::Way => turns.then(|| turned(kept)),
            KeyFigure::ShaftTorque => self.set_up.twist.map(|_| shaft_torque(kept)),
            KeyFigure::StoppingTime => self.first_ending(kept)?.stopping().map(|(time, _)| time),
            KeyFigure::StoppingWay => self.first_ending(kept)?.stopping().map(|(_, way)| way),
            KeyFigure::RampReturned => self.first_ramp(kept).map(|ending| ending.after.returned),
            KeyFigure::RampBus => self.set_up.bus.and(self.first_ramp(kept)).map(|ending| ending.after.bus.1),
            KeyFigure::Taken => Some(self.taken(kept)),
            KeyFigure::Returned => Some(returned(kept)),
            KeyFigure::WindingRise => {
                let sum = total(kept);
                Some(sum.winding + sum.brushes)
            }
            KeyFigure::HottestWinding => hottest(kept),
            // Those of other kinds of trials.
            _ => None,
        }
    }

    /// Where the bridge stops driving, in order.
    fn endings<'k>(&self, kept: &'k [Kept]) -> Vec<Ending<'k>> {
        let mut endings = Vec::new();
        for (at, pair) in kept.windows(2).enumerate() {
            let [before, after] = pair else { continue };
            let (was, leg) = (&self.legs[at], &self.legs[at + 1]);
            let words = match leg.told() {
                Told::Open => "time from opening the switches to rest",
                Told::Between(_, 0.0) => "time from the begin of the ramp to rest",
                Told::One(0.0) if !matches!(was.told(), Told::Between(..)) => "time from duty zero to rest",
                _ => continue,
            };
            // A ramp is over before the shaft stands: what follows it counts too.
            let rest =
                kept[at + 1..].iter().find_map(|kept| kept.at_rest_since.map(|time| (time, kept.angle)));
            let ramps = matches!(leg.told(), Told::Between(_, 0.0));
            endings.push(Ending { words, before, after, ramps, rest });
        }
        endings
    }

    fn first_ending<'k>(&self, kept: &'k [Kept]) -> Option<Ending<'k>> {
        self.endings(kept).into_iter().next().filter(|ending| ending.turns(self))
    }

    fn first_ramp<'k>(&self, kept: &'k [Kept]) -> Option<Ending<'k>> {
        self.endings(kept).into_iter().find(|ending| ending.ramps).filter(|ending| ending.turns(self))
    }

    /// The first leg at one duty: ripple, speed, how it comes there.
    fn drive(&self, keys: &mut Keys<'_>, first: &Kept, outcome: &Outcome) {
        let dc = &self.figures.dc;
        let bus = dc.power.open_voltage.clone();
        let duty = self.duty_of_first();
        if first.tripped.is_some() {
            return;
        }
        let words = "current ripple at the end of the drive, peak to peak";
        let ripple = self.figures.bridge.ripple(duty.clone(), bus.clone(), dc.motor.inductance.clone());
        let free = first.chops == 0;
        let simulated = self.current("ripple", words, "ΔI", first.ripple);
        keys.spans(KeyFigure::Ripple, words, simulated, free.then_some(ripple));
        let moves = !self.set_up.locked;
        if !moves {
            let words = "current at the end of the drive";
            let closed = free.then(|| locked_current(&self.figures, dc.armature(), duty.clone(), bus));
            let simulated = self.current("last_current", words, "I", first.current.abs());
            keys.spans(KeyFigure::LastCurrent, words, simulated, closed);
        }
        if moves {
            // The closed form counts on a current without gaps, and on a shaft that turns.
            let closed =
                (first.gaps == 0 && first.speed != 0.0).then(|| self.steady_speed(duty, first.speed < 0.0));
            let words = "speed of the motor at the end of the drive";
            keys.spans(KeyFigure::Speed, words, self.speed("speed", words, first.speed.abs()), closed);
        }
        let motor = dc.free_armature().turning(self.figures.inertia());
        if let Some(rise) = outcome.rise_time {
            let closed = if moves { motor.mechanical_time() } else { motor.electrical_time() };
            let words = if moves { "time to 63 % of that" } else { "time to 63 % of the last current" };
            let simulated = self.time("rise_time", words, rise);
            keys.spans_in_time(self, KeyFigure::RiseTime, words, simulated, free.then_some(closed));
        }
        if let Some(settled) = outcome.settled {
            let words = "within 2 % of that from this time on";
            let simulated = self.time("settled", words, settled);
            keys.spans_in_time(self, KeyFigure::Settled, words, simulated, None);
        }
    }

    /// When the limit trips that is to: `τ_e·ln(I/(I − I_t)) + t_timer`.
    fn trip(&self, keys: &mut Keys<'_>, kept: &[Kept]) {
        let Some(limit) = &self.trips else { return };
        let Some((time, _)) = kept.iter().find_map(|kept| kept.tripped) else { return };
        let dc = &self.figures.dc;
        let bus = dc.power.open_voltage.clone();
        let current = locked_current(&self.figures, dc.armature(), self.duty.clone(), bus);
        let seen = seen(limit, dc, self.duty.clone(), current);
        let left = seen.clone() - limit.threshold.clone();
        let rise = dc.free_armature().electrical_time() * (seen / left).ln();
        let closed = (rise + delay(limit)).called("time until the limit trips", "t_trip").shown_in("ms");
        let words = "time until the limit trips";
        keys.spans(KeyFigure::TripTime, words, self.time("trip_time", words, time), Some(closed));
    }

    fn way(&self, keys: &mut Keys<'_>, kept: &[Kept]) {
        if self.set_up.locked {
            return;
        }
        keys.spans(KeyFigure::Way, "way from end to end", self.way_of("angle", turned(kept)), None);
        if self.set_up.twist.is_some() && self.means.is_none() {
            let torque = shaft_torque(kept);
            let words = "largest torque at the shaft that drives the load";
            let simulated = self.input("shaft_torque", words, "M", Dimension::TORQUE, torque);
            keys.spans(KeyFigure::ShaftTorque, words, simulated, None);
        }
    }

    /// What comes after the drive: how long it takes to rest, and how far it goes meanwhile.
    fn ends(&self, keys: &mut Keys<'_>, kept: &[Kept]) {
        // Builds have the first of each alone.
        let mut first = true;
        let mut first_ramp = true;
        for ending in self.endings(kept) {
            let spans = std::mem::take(&mut first);
            let ramp_spans = ending.ramps && std::mem::take(&mut first_ramp);
            if !ending.turns(self) {
                continue;
            }
            if let Some((time, angle)) = ending.stopping() {
                let sense = if ending.before.speed < 0.0 { ", backwards" } else { "" };
                let words = format!("{}{sense}", ending.words);
                let time = self.time("stopping", &words, time);
                keys.spans_where(spans, KeyFigure::StoppingTime, &words, time, None);
                let words = format!("way from there to rest{sense}");
                let way = self.way_of("stopping_angle", angle);
                keys.spans_where(spans, KeyFigure::StoppingWay, &words, way, None);
            }
            if ending.ramps {
                self.braked(keys, ending.before, ending.after, ramp_spans);
            }
        }
    }

    /// What a ramp to zero gives back, beside the energy of an even stop in its time.
    fn braked(&self, keys: &mut Keys<'_>, before: &Kept, after: &Kept, spans: bool) {
        let dc = &self.figures.dc;
        let words = "speed before the stop";
        let speed = self.input("stop_speed", words, "ω", Dimension::ANGULAR_SPEED, before.speed.abs());
        let time = self.time("stop_time", "time of the ramp", after.end - before.end);
        let braking = self.figures.gear.braking_inertia(dc.rotor_inertia(), self.load_inertia());
        let friction = self.figures.slow_torque() + dc.motor.coulomb_friction.clone();
        let torque = (braking * speed.clone() / time.clone() - friction).or_zero();
        let torque = torque.called("braking torque of the motor", "M_brk");
        let energy = energy_of_braking_torque(&dc.armature(), speed, time, torque);
        let words = "energy back into the bus in the ramp";
        let simulated = self.energy("ramp_returned", words, "W_r", after.returned);
        keys.spans_where(spans, KeyFigure::RampReturned, words, simulated, Some(energy.clone()));
        if let (Some(bus), Some(simulated)) = (&self.bus, self.set_up.bus) {
            let words = "highest voltage of the bus in the ramp";
            let reached = self.input("bus", words, "U_1", Dimension::VOLTAGE, after.bus.1);
            let (open, capacitance) = (bus.open_voltage.clone(), bus.capacitance.clone());
            let closed = voltage_after_stop(open, energy, zero("J"), capacitance);
            let closed = (!simulated.sinks).then_some(closed);
            keys.spans_where(spans, KeyFigure::RampBus, words, reached, closed);
        }
    }

    fn energies(&self, keys: &mut Keys<'_>, kept: &[Kept]) {
        let words = "energy out of the supply";
        keys.spans(KeyFigure::Taken, words, self.energy("taken", words, "W_s", self.taken(kept)), None);
        let words = "energy back into the bus";
        keys.spans(KeyFigure::Returned, words, self.energy("returned", words, "W_r", returned(kept)), None);
        let hottest = hottest(kept);
        // Over a long trial most of the heat leaves.
        let stays = hottest.is_none() || self.course() == Course::Switched;
        if let Some(rise) = self.temperature_rise(&total(kept)).filter(|_| stays) {
            keys.spans(KeyFigure::WindingRise, "rise of the winding, no heat leaving it", rise, None);
        }
        if let Some(hottest) = hottest {
            let words = "highest temperature of the winding";
            let simulated = self.input("winding", words, "ϑ_w", Dimension::TEMPERATURE, hottest);
            keys.spans(KeyFigure::HottestWinding, words, simulated, None);
        }
    }

    /// Energy out of the supply, J.
    fn taken(&self, kept: &[Kept]) -> f64 {
        let sum = total(kept).supply;
        // Without capacitors what comes back goes into the supply and counts against what came out of it.
        if self.set_up.bus.is_some() { sum } else { sum + returned(kept) }
    }

    /// Steady speeds of the levels of a staircase beside `(D·U − R·M/K − U_b)/K`.
    pub(crate) fn levels_table(&self, outcome: &Outcome) -> Option<Block> {
        if !self.has_levels() {
            return None;
        }
        let levels = self.legs.iter().zip(&outcome.stages).filter(|(leg, _)| leg.words == LEVEL);
        let rows = levels.map(|(leg, kept)| {
            let share = leg.last_share().unwrap_or(0.0);
            let duty = self.duty_at(share.abs());
            let speed = self.speed("level_speed", "speed at the end of a level", kept.speed);
            let closed = (kept.gaps == 0 && kept.speed != 0.0).then(|| match kept.speed < 0.0 {
                true => (-self.steady_speed(duty, true)).shown_in("rpm").text(),
                false => self.steady_speed(duty, false).text(),
            });
            let current = self.current("level_current", "current at the end of a level", "I", kept.current);
            vec![short(share * self.amount), speed.text(), closed.unwrap_or_default(), current.text()]
        });
        let headings = ["#duty", "#speed", "#closed form", "#current"];
        let title = "Levels, at nominal values";
        Some(Block::Table(Table::of("levels", title, &headings, rows.collect())))
    }

    pub(crate) fn has_levels(&self) -> bool {
        !self.set_up.locked && self.legs.iter().filter(|leg| leg.words == LEVEL).count() >= LEVELS
    }

    /// Amount of the steady speed at a duty of the bridge, against the slow torque of the load that way.
    fn steady_speed(&self, duty: Worked, backwards: bool) -> Worked {
        let (dc, gear) = (&self.figures.dc, &self.figures.gear);
        let torque = self.figures.load.as_ref().map_or_else(
            || zero("N·m"),
            |load| {
                let load = if backwards { load.reversed() } else { load.clone() };
                load.friction_torque() + load.standing_torque(At::Worst)
            },
        );
        let bus = dc.power.open_voltage.clone();
        let bridge = &self.figures.bridge;
        let voltage = bridge.mean_voltage(duty, bus.clone()) - bridge.dead_time_loss(bus);
        dc.armature().speed(voltage, gear.input_torque(torque)).shown_in("rpm")
    }

    /// Duty of the bridge in the first leg at one duty.
    fn duty_of_first(&self) -> Worked {
        let steady = self.legs.iter().find_map(|leg| match leg.told() {
            Told::One(share) if share != 0.0 => Some(share),
            // Those of other kinds of trials.
            _ => None,
        });
        self.duty_at(steady.unwrap_or(1.0).abs())
    }

    /// Duty of the bridge at a share of the largest duty.
    fn duty_at(&self, share: f64) -> Worked {
        if share == 1.0 {
            return self.duty.clone();
        }
        match self.set_up.off_state {
            // Half of the time is a duty of zero.
            drive::bridge::OffState::Reverse => (self.duty.clone() * 2.0 - 1.0) * share / 2.0 + 0.5,
            _ => self.duty.clone() * share,
        }
    }

    /// What the losses of winding and brushes warm the winding by. `None` where its heat capacity is not known.
    fn temperature_rise(&self, sum: &crate::Energy) -> Option<Worked> {
        let motor = &self.figures.dc.motor;
        let words = "heat of winding and brushes";
        let heat = self.energy("heat", words, "W_Cu", sum.winding + sum.brushes);
        let rise = heat / motor.heat().thermal.winding_capacity();
        rise.value().is_finite().then(|| rise.called("rise of the winding", "Δϑ_w"))
    }

    fn load_inertia(&self) -> Worked {
        self.figures.load.as_ref().map_or_else(|| zero("kg·m²/rad²"), |load| load.inertia())
    }

    /// Angle of the motor as a way of the load, or as an angle of the shaft that drives it.
    fn way_of(&self, key: &str, angle: f64) -> Worked {
        let at_motor = self.input(key, "way of the motor", "φ_m", Dimension::ANGLE, angle);
        let angle =
            (at_motor / self.figures.gear.ratio.clone()).called("way at the shaft that drives the load", "φ");
        match self.figures.load.as_ref().and_then(drive::load::Load::travel) {
            Some(travel) => (angle * travel).called("way of the load", "s"),
            None => angle,
        }
    }

    fn current(&self, key: &str, words: &str, symbol: &str, si: f64) -> Worked {
        self.input(key, words, symbol, Dimension::CURRENT, si)
    }

    fn speed(&self, key: &str, words: &str, si: f64) -> Worked {
        self.input(key, words, "ω", Dimension::ANGULAR_SPEED, si).shown_in("rpm")
    }

    fn time(&self, key: &str, words: &str, si: f64) -> Worked {
        self.input(key, words, "t", Dimension::TIME, si)
    }

    fn energy(&self, key: &str, words: &str, symbol: &str, si: f64) -> Worked {
        self.input(key, words, symbol, Dimension::ENERGY, si)
    }
}

impl Ending<'_> {
    /// Whether there is anything to stop.
    fn turns(&self, trial: &Trial) -> bool {
        self.before.speed != 0.0 && !trial.set_up.locked
    }

    /// Time and angle to rest, where it comes to rest.
    fn stopping(&self) -> Option<(f64, f64)> {
        self.rest.map(|(time, angle)| (time - self.before.end, (angle - self.before.angle).abs()))
    }
}

/// Largest current by amount.
pub(crate) fn peak_current(kept: &[Kept]) -> f64 {
    kept.iter().map(|kept| kept.peak_current.abs()).fold(0.0, f64::max)
}

/// Highest temperature of a winding that warms.
fn hottest(kept: &[Kept]) -> Option<f64> {
    kept.iter().filter_map(|kept| kept.hottest_winding).reduce(f64::max)
}

/// Largest torque in a gear with twist by amount.
pub(crate) fn shaft_torque(kept: &[Kept]) -> f64 {
    kept.iter().map(|kept| kept.peak_shaft_torque.abs()).fold(0.0, f64::max)
}

/// Energy that came back.
pub(crate) fn returned(kept: &[Kept]) -> f64 {
    kept.iter().map(|kept| kept.returned).sum()
}

/// From the lowest to the highest angle of the motor.
pub(crate) fn turned(kept: &[Kept]) -> f64 {
    let angles = kept.iter().map(|kept| kept.angles);
    let (low, high) = angles.fold((0.0f64, 0.0f64), |(low, high), (a, b)| (low.min(a), high.max(b)));
    high - low
}

/// Key figures as they come, with what builds span where some were played.
pub(crate) struct Keys<'a> {
    pub(crate) all: Vec<Key>,
    spread: Option<&'a Spread>,
}

impl<'a> Keys<'a> {
    pub(crate) fn new(spread: Option<&'a Spread>) -> Self {
        Self { all: Vec::new(), spread }
    }

    /// One that builds do not have.
    pub(crate) fn add(&mut self, what: &str, simulated: Worked, closed: Option<Worked>) {
        self.all.push(Key { what: what.to_owned(), simulated, closed, range: None, faulty: None });
    }

    /// A time that builds have as well. Over a long trial the rows of a build lie too far apart for it.
    fn spans_in_time(
        &mut self,
        trial: &Trial,
        key: KeyFigure,
        what: &str,
        simulated: Worked,
        closed: Option<Worked>,
    ) {
        match trial.course() {
            Course::Switched => self.spans(key, what, simulated, closed),
            Course::Averaged => self.add(what, simulated, closed),
        }
    }

    /// One that builds have as well.
    pub(crate) fn spans(&mut self, key: KeyFigure, what: &str, simulated: Worked, closed: Option<Worked>) {
        let range = self.spread.and_then(|spread| range(spread, key, &simulated));
        self.all.push(Key { what: what.to_owned(), simulated, closed, range, faulty: None });
    }

    /// One that builds may have as well.
    fn spans_where(
        &mut self,
        spans: bool,
        key: KeyFigure,
        what: &str,
        simulated: Worked,
        closed: Option<Worked>,
    ) {
        match spans {
            true => self.spans(key, what, simulated, closed),
            false => self.add(what, simulated, closed),
        }
    }
}

/// What a key figure spans, in the unit in which it is shown, or one that suits its ends where these are far from it. The
/// nominal one that stands beside is a build too.
fn range(spread: &Spread, key: KeyFigure, simulated: &Worked) -> Option<String> {
    let span = spread.of(key)?;
    let (nominal, shown) = (simulated.value(), simulated.figure(Effort::FirstOrder).unit);
    let unit = Unit::parse(&shown).unwrap_or_else(|_| Unit::si(simulated.dimension()));
    let (low, high) = (span.low.min(nominal), span.high.max(nominal));
    let unit = format::choose_unit(low.abs().max(high.abs()), simulated.dimension(), Some(&unit));
    Some(format::range(low, high, &unit))
}
