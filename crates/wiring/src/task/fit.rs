//! Which pins go with a line electrically, and on which something could move before the firmware runs.

use bench::Bench;
use bench::model::{Board, PortPin};
use bench::part::{Level, ResetPull, Role, Signal, Takes, Undriven};
use drive::assembly::levels::{AtRest, Stage, at_rest, leakage};
use drive::assembly::nets::{Member, Net};
use drive::constants::zero;
use drive::logic::{high_margin, low_margin, undriven_voltage};
use worked::{Claim, Outcome, Worked};

/// Pins whose levels do not go with a line.
pub(super) fn unfit<'b>(bench: &'b Bench, line: &Member<'b>, pins: &[&'b PortPin]) -> Vec<usize> {
    failing(&each_kind(bench, pins, |pin| misfit(bench, line, pin).is_none()))
}

/// Pins that leave a line, until the firmware runs, where something moves. The pins opposite in its plug stay on the
/// line, wherever a wire leads it.
pub(super) fn unsafe_at<'b>(
    bench: &'b Bench,
    line: &Member<'b>,
    pins: &[&'b PortPin],
    opposite: &[&'b PortPin],
) -> Vec<usize> {
    let tried = |pin: &'b PortPin| is_safe(bench, &joined(line, opposite, Some(pin)), line);
    let mut safe = each_kind(bench, pins, tried);
    // On a pin opposite itself there is one pin fewer.
    for (at, pin) in pins.iter().enumerate().filter(|(_, pin)| is_among(opposite, pin)) {
        safe[at] = tried(pin);
    }
    failing(&safe)
}

/// A line with all pins that hang on it: those opposite in its plug, and the one that it goes to.
pub(super) fn joined<'b>(line: &Member<'b>, opposite: &[&'b PortPin], pin: Option<&'b PortPin>) -> Net<'b> {
    let led = pin.filter(|pin| !is_among(opposite, pin));
    let pins = led.into_iter().chain(opposite.iter().copied());
    Net { members: [line.clone()].into_iter().chain(pins.map(Member::Pin)).collect() }
}

fn is_among(pins: &[&PortPin], pin: &PortPin) -> bool {
    pins.iter().any(|other| other.port == pin.port && other.position == pin.position)
}

/// What holds of each pin, asked once for all pins that are alike.
fn each_kind<'b>(
    bench: &Bench,
    pins: &[&'b PortPin],
    mut holds: impl FnMut(&'b PortPin) -> bool,
) -> Vec<bool> {
    let mut kinds: Vec<(&PortPin, bool)> = Vec::new();
    let mut all = Vec::with_capacity(pins.len());
    for pin in pins {
        let known = kinds.iter().find(|(other, _)| alike(bench, other, pin)).map(|(_, known)| *known);
        let held = known.unwrap_or_else(|| {
            let held = holds(pin);
            kinds.push((pin, held));
            held
        });
        all.push(held);
    }
    all
}

/// Numbers of the pins of which it does not hold.
fn failing(holds: &[bool]) -> Vec<usize> {
    holds.iter().enumerate().filter(|(_, holds)| !**holds).map(|(at, _)| at).collect()
}

/// Whether two pins do the same to any line.
fn alike(bench: &Bench, a: &PortPin, b: &PortPin) -> bool {
    let Some(controller) = bench.controller() else { return false };
    let pull = |pin: &PortPin| pin.reset_resistance(&controller.part).value();
    a.bank == b.bank
        && a.reset.value == b.reset.value
        && a.boot_strap == b.boot_strap
        && a.input_only == b.input_only
        && a.levels.path() == b.levels.path()
        && (pull(a) == pull(b) || pull(a).is_nan() && pull(b).is_nan())
}

/// Why levels of a line and a pin do not go together, as far as the sheets tell, with the figures of the worst corner;
/// what they do not tell is for the rules to ask.
pub(super) fn misfit<'b>(bench: &Bench, line: &Member<'b>, pin: &'b PortPin) -> Option<String> {
    let net = Net { members: vec![line.clone(), Member::Pin(pin)] };
    let mut stages = net.hops(bench).into_iter().flat_map(|hop| Stage::of(bench, hop));
    stages.find_map(|stage| {
        let input = stage.to.levels()?;
        let (from, to) = (stage.from.name(), stage.to.name());
        let apart = match stage.shift.worst_case() {
            Some((_, most)) if most > 0.0 => {
                format!(", and the grounds may lie {} apart", stage.shift.text_of(most))
            }
            _ => String::new(),
        };
        if !stage.carries_a_quantity() {
            if let Some(high) = stage.high_level().filter(|_| !stage.from.is_open_drain()) {
                let margin = high_margin(high.clone(), input.high_above(), stage.shift.clone());
                if is_broken(&margin.must_stay_above(zero("V"))) {
                    let (gives, needs) = (lowest(&high), highest(&input.high_above()));
                    return Some(format!(
                        "`{to}` reads high above {needs}, and `{from}` gives no more than {gives} at the worst{apart}"
                    ));
                }
            }
            if let Some(low) = stage.low_level() {
                let margin = low_margin(low.clone(), input.low_below(), stage.shift.clone());
                if is_broken(&margin.must_stay_above(zero("V"))) {
                    let (gives, needs) = (highest(&low), lowest(&input.low_below()));
                    return Some(format!(
                        "`{to}` reads low below {needs}, and `{from}` gives no less than {gives} at the worst{apart}"
                    ));
                }
            }
        }
        // A resistor in the line turns the voltage into a current, which the rules judge.
        let most = stage.highest(bench).filter(|_| stage.series.is_none())?;
        is_broken(&most.clone().must_stay_below(input.max_input())).then(|| {
            let (puts, stands) = (highest(&most), lowest(&input.max_input()));
            format!("`{from}` can put {puts} on `{to}`, which stands {stands}")
        })
    })
}

/// The lower end of the worst case.
fn lowest(worked: &Worked) -> String {
    worked.worst_case().map_or_else(|| worked.text(), |(low, _)| worked.text_of(low))
}

/// The upper end of the worst case.
fn highest(worked: &Worked) -> String {
    worked.worst_case().map_or_else(|| worked.text(), |(_, high)| worked.text_of(high))
}

fn is_broken(claim: &Claim) -> bool {
    matches!(claim.judge().outcome, Outcome::Never | Outcome::NotEverywhere | Outcome::NotAsStated)
}

/// Whether the pins of a net leave a line, until the firmware runs, where nothing moves; lines that move nothing are
/// safe.
fn is_safe(bench: &Bench, net: &Net<'_>, line: &Member<'_>) -> bool {
    if net.pins().any(|pin| pin.boot_strap) {
        return false;
    }
    let (Some(level), Some(levels)) = (still_level(bench, line), line.levels()) else { return true };
    match at_rest(bench, net, true) {
        AtRest::Driven(driven) => {
            matches!((driven, level), (ResetPull::Low, Level::Low) | (ResetPull::High, Level::High))
        }
        AtRest::Pulled(pulls) => {
            let leak = leakage(net);
            let claim = match level {
                Level::Low => undriven_voltage(&pulls, leak).map(|u| u.must_stay_below(levels.low_below())),
                Level::High => {
                    undriven_voltage(&pulls, -leak).map(|u| u.must_stay_above(levels.high_above()))
                }
            };
            claim.is_none_or(|claim| !is_broken(&claim))
        }
        AtRest::Floats => match line {
            Member::Signal(_, signal) => match signal.undriven().stated() {
                Some(Undriven::Low) => level == Level::Low,
                Some(Undriven::High) => level == Level::High,
                Some(Undriven::Floating) | None => false,
            },
            _ => true,
        },
    }
}

/// The level of a line at which nothing moves; `None` where no level of it moves anything by itself.
pub(crate) fn still_level(bench: &Bench, line: &Member<'_>) -> Option<Level> {
    let Member::Signal(board, signal) = line else { return None };
    if let Some(said) = signal.safe().stated() {
        return Some(said);
    }
    let active = signal.active().or(Level::High);
    match signal.role().value? {
        Role::Enable => Some(active.other()),
        Role::Sleep => Some(active),
        Role::Pwm if !is_anti_phase(board, signal) => Some(active.other()),
        Role::ServoPulse if bench.servos().iter().any(|servo| servo.output.is_some()) => Some(active.other()),
        _ => None,
    }
}

fn is_anti_phase(board: &Board, signal: &Signal) -> bool {
    let channel = board.channel_of(signal).and_then(|name| board.channel(&name));
    channel.is_some_and(|channel| channel.takes().is(Takes::LockedAntiPhase))
}
