//! Random problems: small ones for brute force, larger ones as controllers and boards look.
#![allow(dead_code, unreachable_pub)] // Each test file uses its part of this one.

use std::sync::Arc;
use wiring::{Ability, Encoder, Group, Input, Line, Need, Pin, Plug, Problem, Rate, Seat, Unit, Way};

/// A generator of random numbers with 64 bits of state (Steele, Lea, Flood 2014).
pub struct Dice(pub u64);

impl Dice {
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A number below.
    pub fn below(&mut self, n: usize) -> usize {
        (self.next() % n as u64) as usize
    }

    /// True so many times of a hundred.
    pub fn chance(&mut self, percent: usize) -> bool {
        self.below(100) < percent
    }
}

fn rate(hertz: f64) -> Rate {
    Rate { name: format!("{hertz} Hz").into(), hertz }
}

fn unit(name: impl Into<Arc<str>>) -> Unit {
    Unit { name: name.into(), ..Unit::default() }
}

fn line(name: impl Into<Arc<str>>, need: Need) -> Line {
    Line {
        name: name.into(),
        need,
        required: true,
        unfit: Vec::new(),
        unsafe_at: Vec::new(),
        was: None,
        kept: false,
    }
}

/// A small problem with a little of everything; about every second one has a plan.
pub fn small(seed: u64) -> Problem {
    let mut dice = Dice(seed);
    let ports = 1 + dice.below(2);
    // Units: two timers, two counters of which one may be the first timer under another hat, two converters.
    let mut units: Vec<Unit> = ["T0", "T1", "Q0", "A0", "A1"].iter().map(|name| unit(*name)).collect();
    if dice.chance(30) {
        units[0].fastest = Some(1000.0);
    }
    if dice.chance(20) {
        units[1].outputs = Some(1);
    }
    let mut pins = Vec::new();
    for port in 0..ports {
        for at in 0..(3 + dice.below(3)) {
            let mut abilities = Vec::new();
            let mut offer = |dice: &mut Dice, percent, ability| {
                if dice.chance(percent) {
                    abilities.push(ability);
                }
            };
            offer(&mut dice, 70, Ability::Read);
            offer(&mut dice, 60, Ability::Drive);
            let timer = dice.below(2);
            offer(&mut dice, 40, Ability::Pulse(timer));
            let counter = [0, 2][dice.below(2)];
            let input = [Input::A, Input::B][dice.below(2)];
            offer(&mut dice, 40, Ability::Count(counter, input));
            offer(&mut dice, 15, Ability::Stamp(1));
            let converter = 3 + dice.below(2);
            offer(&mut dice, 40, Ability::Measure(converter));
            offer(&mut dice, 15, Ability::Serial(0, 0));
            pins.push(Pin {
                port,
                position: (at + 1).to_string().into(),
                cell: Some((at % 2, at / 2)),
                abilities,
                reserved: dice.chance(8),
                taken_by: None,
            });
        }
    }
    let mut problem = Problem {
        ports: (0..ports).map(|port| format!("J{port}").into()).collect(),
        pins,
        units,
        rates: vec![rate(50.0), rate(18_000.0)],
        interrupt_share: 0.2,
        ..Problem::default()
    };
    if dice.chance(60) {
        let first = problem.lines.len();
        for input in [Input::A, Input::B] {
            problem.lines.push(line(format!("e:{input:?}"), Need::Count { encoder: 0, input }));
        }
        let mut ways = vec![Way::Counter];
        if dice.chance(30) {
            ways.push(Way::Stamp);
        }
        if dice.chance(40) {
            ways.push(Way::Program);
        }
        problem.encoders.push(Encoder {
            axis: "e".into(),
            lines: vec![first, first + 1],
            ways,
            edge_rate: 1e4,
            interrupt_share: [0.1, 0.3][dice.below(2)],
        });
        problem.pairs.push((first, first + 1));
    }
    for at in 0..(1 + dice.below(4)) {
        let need = match dice.below(4) {
            0 => Need::Read,
            1 => Need::Drive,
            2 => Need::Measure,
            _ => Need::Pulse { rate: dice.below(2) },
        };
        problem.lines.push(line(format!("l{at}"), need));
    }
    let analogue: Vec<usize> =
        (0..problem.lines.len()).filter(|l| problem.lines[*l].need == Need::Measure).collect();
    if analogue.len() > 1 {
        problem.groups.push(Group { name: "both".into(), lines: analogue[..2].to_vec() });
    }
    let pins = problem.pins.len();
    for line in &mut problem.lines {
        line.required = dice.chance(75);
        if dice.chance(30) {
            line.unsafe_at.push(dice.below(pins));
        }
        if dice.chance(20) {
            line.unfit.push(dice.below(pins));
        }
        if dice.chance(40) {
            line.was = Some(dice.below(pins));
            line.kept = dice.chance(10);
        }
    }
    if dice.chance(40) {
        let mut seats: Vec<(Arc<str>, Seat)> = Vec::new();
        for at in 0..problem.lines.len() {
            if dice.chance(50) {
                seats.push(((seats.len() + 1).to_string().into(), Seat::Line(at)));
            }
        }
        if dice.chance(30) {
            seats.push(((seats.len() + 1).to_string().into(), Seat::Other));
        }
        problem.plugs.push(Plug {
            name: "board.host".into(),
            ports: (0..ports).filter(|port| *port == 0 || dice.chance(60)).collect(),
            seats,
            breakout: dice.chance(60).then(|| "board.breakout".into()),
        });
    }
    problem
}

/// A bench as people have them, of about so many lines: axes with pulse, direction, two analogue lines and an
/// encoder each, some flags, on a controller with twice as many pins.
pub fn bench_like(lines: usize, seed: u64) -> Problem {
    let mut dice = Dice(seed);
    let axes = lines.div_ceil(8).max(1);
    let mut problem =
        Problem { rates: vec![rate(18_000.0), rate(50.0)], interrupt_share: 0.2, ..Problem::default() };
    for axis in 0..axes {
        let first = problem.lines.len();
        let mut add = |what: &str, need| problem.lines.push(line(format!("{axis}.{what}"), need));
        add("pulse", Need::Pulse { rate: usize::from(axis % 5 == 4) });
        add("direction", Need::Drive);
        add("current", Need::Measure);
        add("voltage", Need::Measure);
        add("a", Need::Count { encoder: axis, input: Input::A });
        add("b", Need::Count { encoder: axis, input: Input::B });
        add("enable", Need::Drive);
        add("fault", Need::Read);
        problem.encoders.push(Encoder {
            axis: format!("{axis}").into(),
            lines: vec![first + 4, first + 5],
            ways: vec![Way::Counter, Way::Program],
            edge_rate: 2e4,
            interrupt_share: 0.04,
        });
        problem.groups.push(Group { name: format!("{axis}").into(), lines: vec![first + 2, first + 3] });
        problem.pairs.extend([(first, first + 1), (first + 4, first + 5)]);
        problem.lines[first + 7].required = false;
    }
    problem.lines.truncate(lines);
    for encoder in &mut problem.encoders {
        encoder.lines.retain(|line| *line < lines);
    }
    problem.encoders.retain(|encoder| !encoder.lines.is_empty());
    for group in &mut problem.groups {
        group.lines.retain(|line| *line < lines);
    }
    problem.pairs.retain(|(a, b)| *a < lines && *b < lines);
    controller(&mut problem, 2 * lines, axes, &mut dice);
    let pins = problem.pins.len();
    for line in &mut problem.lines {
        for _ in 0..(pins / 10) {
            line.unsafe_at.push(dice.below(pins));
        }
        if dice.chance(20) {
            line.was = Some(dice.below(pins));
        }
    }
    problem
}

/// Pins in ports of forty: counters for nine of ten encoders, analogue pins for a third more lines than ask,
/// serial buses here and there.
fn controller(problem: &mut Problem, pins: usize, axes: usize, dice: &mut Dice) {
    let counters = (axes * 9).div_ceil(10);
    let timers = axes.div_ceil(2) + 1;
    problem.units = (0..counters).map(|n| unit(format!("Q{n}"))).collect();
    problem.units.extend((0..timers).map(|n| unit(format!("T{n}"))));
    problem.units.extend((0..2).map(|n| unit(format!("A{n}"))));
    for at in 0..pins {
        let (port, at_port) = (at / 40, at % 40);
        if at_port == 0 {
            problem.ports.push(format!("J{port}").into());
        }
        let mut abilities = vec![Ability::Read];
        if !dice.chance(10) {
            abilities.push(Ability::Drive);
        }
        if at % 3 == 0 {
            let timer = dice.below(timers);
            abilities.push(Ability::Pulse(counters + timer));
        }
        if at % 3 == 1 {
            abilities.push(Ability::Measure(counters + timers + dice.below(2)));
        }
        if dice.chance(12) {
            abilities.push(Ability::Serial(0, 0));
        }
        problem.pins.push(Pin {
            port,
            position: (at_port + 1).to_string().into(),
            cell: Some((at_port % 2, at_port / 2)),
            abilities,
            reserved: dice.chance(3),
            taken_by: None,
        });
    }
    // Each counter has its two inputs on two pins, sometimes on a second pair as well.
    for counter in 0..counters {
        for _ in 0..(1 + dice.below(2)) {
            let first = dice.below(pins - 2);
            for (offset, input) in [(0, Input::A), (2, Input::B)] {
                let pin = &mut problem.pins[first + offset];
                let ability = Ability::Count(counter, input);
                if !pin.abilities.contains(&ability) {
                    pin.abilities.push(ability);
                }
            }
        }
    }
}

/// A bench like the others whose encoders have to be counted by counters, and one counter too few for them.
pub fn crowded(lines: usize, seed: u64) -> Problem {
    let mut problem = bench_like(lines, seed);
    let encoders = problem.encoders.len();
    for encoder in &mut problem.encoders {
        encoder.ways = vec![Way::Counter];
    }
    for pin in &mut problem.pins {
        pin.abilities.retain(|ability| !matches!(ability, Ability::Count(unit, _) if *unit + 1 >= encoders));
    }
    problem
}
