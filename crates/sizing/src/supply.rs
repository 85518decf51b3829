//! What feeds the axes: the motions of all axes of a supply at once, and what their stops bring back.

use crate::axis::SizedAxis;
use crate::bus_course::{self, BusCourse, OnBus};
use crate::question::Question;
use bench::Bench;
use bench::model::{Axis, Feed};
use drive::assembly::drawn::{Drawn, Over, at_once};
use drive::assembly::power::supply_cable;
use drive::assembly::{Bus, DcAxis};
use worked::{Number, Worked};

/// A supply that feeds axes, with what was asked of it.
pub struct SizedSupply {
    /// Its path: of the supply, rail or input.
    pub path: String,
    /// Axes that it feeds.
    pub axes: Vec<String>,
    /// What was asked.
    pub questions: Vec<Question>,
    /// What was not asked, as a rating is not stated.
    pub not_stated: Vec<String>,
    /// Its bus in time, at nominal values, all axes with a DC motor on it together; `None` where data are missing.
    pub course: Option<BusCourse>,
    /// What stops bring back, and what that takes.
    pub figures: Vec<Worked>,
    /// Lowest voltage that a board on it survives, V.
    pub(crate) ceiling: Option<f64>,
}

/// Supplies that feed the axes that were sized.
pub(crate) fn all(bench: &Bench, axes: &[(&Axis, Option<DcAxis>)], sized: &[SizedAxis]) -> Vec<SizedSupply> {
    let drawn = Drawn { bench, axes };
    let feeds_one = |bus: &Bus| sized.iter().any(|axis| bus.axes.iter().any(|name| **name == *axis.name));
    let buses = Bus::all(bench, axes);
    buses.iter().filter(|bus| feeds_one(bus)).map(|bus| SizedSupply::of(bench, bus, &drawn, sized)).collect()
}

impl SizedSupply {
    fn of(bench: &Bench, bus: &Bus, drawn: &Drawn<'_>, sized: &[SizedAxis]) -> Self {
        let on_it = |axis: &&SizedAxis| bus.axes.iter().any(|name| **name == *axis.name);
        let moving = |axis: &'_ SizedAxis| axis.dc.is_some() && axis.course.is_ok();
        let here: Vec<&SizedAxis> = sized.iter().filter(on_it).collect();
        let each = here
            .iter()
            .filter_map(|axis| Some(OnBus { course: axis.course.as_ref().ok()?, dc: axis.dc.as_ref()? }));
        let each: Vec<OnBus<'_>> = each.collect();
        // A part of the axes would tell too little, and nobody would see it.
        let whole = here.len() == bus.axes.len() && here.iter().all(|axis| moving(axis));
        let survives = bus.inputs.iter().map(|input| input.survives().value());
        let mut supply = Self {
            path: bus.path.clone(),
            axes: bus.axes.iter().map(|name| name.to_string()).collect(),
            questions: Vec::new(),
            not_stated: Vec::new(),
            course: if whole { BusCourse::of(bus, &each) } else { None },
            figures: if bus.lacking.is_empty() { bus_course::figures(bus) } else { Vec::new() },
            ceiling: survives.filter(|value| value.is_finite()).reduce(f64::min),
        };
        supply.currents(bus, drawn);
        supply.cables(bench, bus, drawn);
        supply.returns(bus);
        supply
    }

    fn rating(&mut self, id: &'static str, what: &str, value: Worked, rating: Worked, advice: &'static str) {
        match rating.as_input().filter(|input| input.is_missing()) {
            Some(input) => self.not_stated.push(format!("{what} (`{}`)", input.path)),
            None => {
                let claim = value.must_stay_below(rating);
                self.questions.push(Question::of(id, &self.path, what, claim, advice));
            }
        }
    }

    fn currents(&mut self, bus: &Bus, drawn: &Drawn<'_>) {
        let Some(unit) = &bus.supply else { return };
        let feed = Feed::Supply(unit.name.clone());
        let peak = at_once(unit, drawn.on_feed(&feed, Over::Motion), "current of all motions at once");
        let lasting = at_once(unit, drawn.on_feed(&feed, Over::Cycle), "current of all cycles, rms");
        let advice = "let the axes start one after another, accelerate less, or take a stronger supply";
        let given = if unit.part.has("peak_current") { unit.part.peak_current() } else { unit.limit() };
        self.rating("supply-peak", "supply at the hardest moment of all axes", peak, given, advice);
        let advice = "rest longer, accelerate less, or take a stronger supply";
        self.rating("supply-cycle", "supply over the cycles, rms", lasting, unit.part.current(), advice);
    }

    fn cables(&mut self, bench: &Bench, bus: &Bus, drawn: &Drawn<'_>) {
        let mut seen: Vec<&str> = Vec::new();
        for axis in bus.axes.iter().filter_map(|name| bench.axis(name)) {
            let Some(run) = supply_cable(bench, axis).filter(|run| !seen.contains(&&*run.name)) else {
                continue;
            };
            seen.push(&run.name);
            let on_it = |other: &Axis| supply_cable(bench, other).is_some_and(|own| own.name == run.name);
            let currents = drawn.axes.iter().filter(|(other, _)| on_it(other)).filter_map(|(_, dc)| {
                let dc = dc.as_ref()?;
                Some(dc.supply_current(dc.duty_limit.clone(), dc.effective_current()))
            });
            let current = drive::assembly::current::together(currents.collect(), "current of the axes, rms");
            let carries = match run.entry.has("parallel") {
                true => run.part.current_rating() * run.entry.parallel(),
                false => run.part.current_rating(),
            };
            let what = format!("cable `{}` over the cycle, rms", run.name);
            self.rating(
                "supply-cable",
                &what,
                current,
                carries,
                "take a thicker cable, or cores in parallel",
            );
        }
    }

    fn returns(&mut self, bus: &Bus) {
        if let Some(lacking) = bus.lacking.first() {
            let (what, path) = ("what stops return", lacking.clone());
            let question = Question::without("bus-rise", &self.path, what, path, "plan a motion");
            return self.questions.push(question);
        }
        for input in &bus.inputs {
            let what = format!("bus after a stop of all axes, at `{}`", input.name());
            let advice = "add capacitance or a clamp, or decelerate less";
            self.rating("bus-rise", &what, bus.highest_voltage(), input.survives(), advice);
        }
        for (name, clamp) in &bus.clamps {
            let what = format!("clamp `{name}`, energy of one stop of all axes");
            let advice = "take a wire-wound resistor of more mass, or decelerate less";
            self.rating("clamp-energy", &what, bus.energy(), clamp.pulse_energy(), advice);
        }
        if let Some(unit) = bus.supply.as_ref().filter(|unit| unit.part.has("survives") && !bus.blocked) {
            let advice = "add a clamp, or a diode behind the supply";
            let highest = bus.highest_voltage().at_least(bus.open_voltage.clone());
            self.rating(
                "supply-rise",
                "supply while the bus is at its highest",
                highest,
                unit.part.survives(),
                advice,
            );
        }
    }
}
