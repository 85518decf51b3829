//! Random problems: small ones for brute force, larger ones as controllers and boards look.
#![allow(dead_code, unreachable_pub)] // Each test file uses its part of this one.

use std::sync::Arc;
use wiring::{Ability, Encoder, Group, Input, Line, Need, Pin, Plug, Problem, Rate, Risk, Seat, Unit, Way};

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
    let mut units: Vec<Unit> = ["T0", "T1", "Q0", "A0", "A1", "D0"].iter().map(|name| unit(*name)).collect();
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
            offer(&mut dice, 50, Ability::Give(5));
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
        let closed = [Way::Counter, Way::Stamp, Way::Program].into_iter();
        let closed = closed.filter(|way| !ways.contains(way) && dice.chance(30)).collect();
        problem.encoders.push(Encoder {
            axis: "e".into(),
            lines: vec![first, first + 1],
            ways,
            closed,
            edge_rate: 1e4,
            interrupt_share: [0.1, 0.3][dice.below(2)],
        });
        problem.pairs.push((first, first + 1));
    }
    for at in 0..(1 + dice.below(4)) {
        let need = match dice.below(9) {
            0 | 1 => Need::Read,
            2 | 3 => Need::Drive,
            4 | 5 => Need::Measure,
            6 => Need::Give,
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
        if ports == 2 && dice.chance(50) {
            second_plug(&mut problem, &mut dice);
        }
        risks(&mut problem, &mut dice);
    }
    problem
}

/// Pins opposite that hold a line on the moving side wherever it is led, and others that do so on one pin.
fn risks(problem: &mut Problem, dice: &mut Dice) {
    let pins = problem.pins.len();
    for (number, plug) in problem.plugs.iter().enumerate() {
        for (_, seat) in &plug.seats {
            let Seat::Line(line) = *seat else { continue };
            let port = plug.ports[dice.below(plug.ports.len())];
            let risk = |pin| Risk { line, plug: number, port, pin };
            match dice.below(6) {
                0 => problem.risks.extend((0..pins).map(risk)),
                1 => problem.risks.push(risk(dice.below(pins))),
                _ => {}
            }
        }
    }
}

/// A second connector of the board on the other port, which carries some lines of the first once more, and others.
fn second_plug(problem: &mut Problem, dice: &mut Dice) {
    let first = &mut problem.plugs[0];
    first.ports = vec![0];
    let mut seats: Vec<(Arc<str>, Seat)> = Vec::new();
    for line in 0..problem.lines.len() {
        let again = first.seats.iter().any(|(_, seat)| *seat == Seat::Line(line));
        // Which of several optional lines is left out may depend on how many seats each has.
        if problem.lines[line].required && dice.chance(if again { 50 } else { 20 }) {
            seats.push(((seats.len() + 1).to_string().into(), Seat::Line(line)));
        }
    }
    let free = first.breakout.is_none() || dice.chance(50);
    let breakout = free.then(|| "board.other breakout".into());
    problem.plugs.push(Plug { name: "board.second".into(), ports: vec![1], seats, breakout });
}

/// A bench as people have them, of about so many lines: axes with pulse, direction, two analogue lines, an encoder,
/// an enable and a fault line each, on a controller with twice as many pins.
///
/// What makes it like real ones, and not easy:
/// - lines of one role are alike: what moves something at reset depends on the pull of a pin and on the line's role;
///   encoders of 5 V do not go onto analogue pins;
/// - three of four axes have a plan from last time, made while other pins were free; new axes have come since;
/// - encoders and pulses want the same timers, pulses come at two frequencies, converters share pins.
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
            closed: Vec::new(),
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
    levels(&mut problem, &mut dice);
    last_plan(&mut problem, &mut dice);
    problem
}

/// Pins in ports of forty. Timers have four pins, some of them a second time elsewhere; the first two of a timer that
/// counts are its inputs for an encoder. There is one counting timer for nine of ten axes, and some more for pulses.
/// Analogue pins come in runs, of one converter or of both; serial buses sit on pins that do other things as well.
fn controller(problem: &mut Problem, pins: usize, axes: usize, dice: &mut Dice) {
    let counting = (axes * 9).div_ceil(10);
    let timers = counting + axes.div_ceil(4) + 1;
    problem.units = (0..timers).map(|n| unit(format!("T{n}"))).collect();
    problem.units.extend((0..2).map(|n| unit(format!("A{n}"))));
    for at in 0..pins {
        let (port, at_port) = (at / 40, at % 40);
        if at_port == 0 {
            problem.ports.push(format!("J{port}").into());
        }
        let mut abilities = vec![Ability::Read];
        if !dice.chance(5) {
            abilities.push(Ability::Drive);
        }
        // A run of analogue pins in every port.
        if (6..20).contains(&at_port) {
            let both = at_port < 9;
            let converters = (0..2).filter(|n| both || *n == (at_port / 2) % 2);
            abilities.extend(converters.map(|n| Ability::Measure(timers + n)));
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
    for timer in 0..timers {
        let mut offer = |first: usize| {
            for channel in 0..4 {
                let abilities = &mut problem.pins[(first + channel) % pins].abilities;
                let input = [Input::A, Input::B].get(channel).filter(|_| timer < counting);
                let counts = input.map(|input| Ability::Count(timer, *input));
                for ability in [Ability::Pulse(timer)].into_iter().chain(counts) {
                    if !abilities.contains(&ability) {
                        abilities.push(ability);
                    }
                }
            }
        };
        offer(dice.below(pins));
        if dice.chance(50) {
            offer(dice.below(pins));
        }
    }
    for wire in 0..(pins / 12) {
        let pin = dice.below(pins);
        problem.pins[pin].abilities.push(Ability::Serial(0, wire as u8));
    }
}

/// Pins that are pulled up or down at reset, and what that does to lines: drives start on a high pulse or enable, every
/// third board is enabled by a low level; every other encoder has 5 V, which analogue pins do not bear.
fn levels(problem: &mut Problem, dice: &mut Dice) {
    let pulls: Vec<usize> = problem.pins.iter().map(|_| dice.below(10)).collect();
    let pulled = |to: usize| (0..pulls.len()).filter(|pin| pulls[*pin] == to).collect::<Vec<usize>>();
    let (high, low) = (pulled(0), pulled(1));
    let measures = |pin: &Pin| pin.abilities.iter().any(|ability| matches!(ability, Ability::Measure(_)));
    let analogue: Vec<usize> = (0..problem.pins.len()).filter(|pin| measures(&problem.pins[*pin])).collect();
    for (at, line) in problem.lines.iter_mut().enumerate() {
        let axis = at / 8;
        match at % 8 {
            0 => line.unsafe_at.clone_from(&high),
            6 => line.unsafe_at.clone_from(if axis % 3 == 2 { &low } else { &high }),
            4 | 5 if axis % 2 == 1 => line.unfit.clone_from(&analogue),
            _ => {}
        }
    }
}

/// Puts lines of three of four axes where a plan of last time had them: on pins that can do it, encoders on one counter,
/// as far as it went by taking one after the other. It knew nothing of what lies side by side, nor of pins reserved since.
fn last_plan(problem: &mut Problem, dice: &mut Dice) {
    let mut used = vec![false; problem.pins.len()];
    let mut busy = vec![false; problem.units.len()];
    for axis in 0..problem.lines.len().div_ceil(8) {
        if dice.chance(25) {
            continue;
        }
        let mut counter = None;
        for line in (axis * 8)..(axis * 8 + 8).min(problem.lines.len()) {
            let does = |ability: &Ability| match (problem.lines[line].need, *ability) {
                (Need::Read, Ability::Read) | (Need::Drive, Ability::Drive) => true,
                (Need::Measure, Ability::Measure(_)) => true,
                (Need::Pulse { .. }, Ability::Pulse(timer)) => !busy[timer],
                (Need::Count { input, .. }, Ability::Count(unit, at)) => {
                    at == input && if at == Input::A { !busy[unit] } else { counter == Some(unit) }
                }
                _ => false,
            };
            let is_bus =
                |pin: usize| problem.pins[pin].abilities.iter().any(|a| matches!(a, Ability::Serial(..)));
            let entry = &problem.lines[line];
            let fits =
                |pin: &usize| !entry.unsafe_at.contains(pin) && !entry.unfit.contains(pin) && !is_bus(*pin);
            let able =
                |pin: &usize| !used[*pin] && fits(pin) && problem.pins[*pin].abilities.iter().any(does);
            let pins: Vec<usize> = (0..problem.pins.len()).filter(able).collect();
            if pins.is_empty() {
                continue;
            }
            let pin = pins[dice.below(pins.len())];
            used[pin] = true;
            let ability = problem.pins[pin].abilities.iter().copied().find(does);
            if let Some(Ability::Count(unit, _) | Ability::Pulse(unit)) = ability {
                busy[unit] = true;
                counter = Some(unit);
            }
            problem.lines[line].was = Some(pin);
        }
    }
}

/// A bench like the others that has no plan from last time.
pub fn first_time(lines: usize, seed: u64) -> Problem {
    let mut problem = bench_like(lines, seed);
    problem.lines.iter_mut().for_each(|line| line.was = None);
    problem
}

/// A bench like the others with a board for every two axes that sits on a port by a plug, and brings its pins out for
/// single wires: made for such a port, so that most of its lines lie opposite pins that can serve them.
pub fn with_boards(lines: usize, seed: u64) -> Problem {
    let mut problem = bench_like(lines, seed);
    let mut dice = Dice(seed ^ 0xb0a2d);
    let ports = problem.ports.len();
    let first = dice.below(ports);
    for board in 0..(lines / 16).min(ports) {
        let made_for = (first + board) % ports;
        let mut seats: Vec<(Arc<str>, Seat)> =
            vec![("1".into(), Seat::Other), ("20".into(), Seat::Other), ("40".into(), Seat::Other)];
        for line in (board * 16)..(board * 16 + 16) {
            let does = |pin: &Pin| {
                pin.abilities.iter().any(|ability| match problem.lines[line].need {
                    Need::Read => *ability == Ability::Read,
                    Need::Drive => *ability == Ability::Drive,
                    Need::Measure => matches!(ability, Ability::Measure(_)),
                    Need::Give => matches!(ability, Ability::Give(_)),
                    Need::Pulse { .. } => matches!(ability, Ability::Pulse(_)),
                    Need::Count { input, .. } => matches!(ability, Ability::Count(_, at) if *at == input),
                })
            };
            let free = |position: &Arc<str>| seats.iter().all(|(taken, _)| taken != position);
            let pins =
                problem.pins.iter().filter(|pin| pin.port == made_for && free(&pin.position) && does(pin));
            let pins: Vec<&Pin> = pins.collect();
            if !pins.is_empty() && dice.chance(90) {
                seats.push((pins[dice.below(pins.len())].position.clone(), Seat::Line(line)));
            }
        }
        let ports = (0..ports).filter(|port| *port == made_for || dice.chance(50)).collect();
        let breakout = Some(format!("board {board}.breakout").into());
        problem.plugs.push(Plug { name: format!("board {board}.host").into(), ports, seats, breakout });
    }
    problem
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
