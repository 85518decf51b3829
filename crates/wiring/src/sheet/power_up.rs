//! What every control line does from power-up to a pulled cable, and what the motor does then.

use crate::Wiring;
use crate::levels::{Rest, rest};
use crate::task::still_level;
use crate::wires::is_control;
use bench::part::Role;
use drive::assembly::nets::{Member, Net};
use finding::sheet::Block;

pub(super) const INTRODUCTION: &str = "The table below says what each control line does in every state of the \
     controller, from the pulls of the board and the pins; `armed` and `fault` are what the firmware has to make of \
     it. A line that is not safe in a state lets the motor do what stands there: take the motor plug off for that \
     test.";

/// A state of the controller and its cable.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Phase {
    Unpowered,
    Reset,
    Boot,
    Armed,
    Fault,
    CableOff,
}

impl Phase {
    const ALL: [Self; 6] =
        [Self::Unpowered, Self::Reset, Self::Boot, Self::Armed, Self::Fault, Self::CableOff];

    fn word(self) -> &'static str {
        match self {
            Self::Unpowered => "unpowered",
            Self::Reset => "reset",
            Self::Boot => "boot",
            Self::Armed => "armed",
            Self::Fault => "fault",
            Self::CableOff => "cable off",
        }
    }
}

pub(super) fn table(wiring: &Wiring<'_>) -> Block {
    let task = &wiring.task;
    let mut rows = Vec::new();
    for line in (0..task.lines.len()).filter(|line| is_control(task.problem.lines[*line].need)) {
        // States in which the same comes out share a row.
        let mut own: Vec<Vec<String>> = Vec::new();
        for phase in Phase::ALL {
            let state = state(wiring, line, phase);
            let (does, safe) = consequence(wiring, line, phase, &state);
            let said = said(&task.lines[line], phase, &state);
            match own.iter_mut().find(|row| row[2..] == [said.clone(), does.clone(), safe.to_owned()]) {
                Some(row) => row[1] = format!("{}, {}", row[1], phase.word()),
                None => own.push(vec![
                    task.problem.lines[line].name.to_string(),
                    phase.word().to_owned(),
                    said,
                    does,
                    safe.to_owned(),
                ]),
            }
        }
        rows.extend(own);
    }
    super::table(
        "power-up",
        "From power-up to a pulled cable",
        &["line", "state", "level", "the motor", "safe"],
        rows,
    )
}

/// The level of a line in a state; what the firmware gives where it drives.
fn state(wiring: &Wiring<'_>, line: usize, phase: Phase) -> Rest {
    let task = &wiring.task;
    let member = &task.lines[line];
    let still = still_level(task.bench, member);
    let starting = matches!(phase, Phase::Reset | Phase::Boot);
    match phase {
        Phase::CableOff => rest(task.bench, &Net { members: vec![member.clone()] }, member, false),
        Phase::Unpowered | Phase::Reset | Phase::Boot => {
            rest(task.bench, &task.net(&wiring.solved.plan, line), member, starting)
        }
        Phase::Armed | Phase::Fault => match (is_permission(member), still) {
            (true, Some(still)) => {
                Rest::Level(if phase == Phase::Armed { still.other() } else { still }, None)
            }
            (_, Some(still)) => Rest::Level(still, None),
            (_, None) => Rest::Untold,
        },
    }
}

fn said(member: &Member<'_>, phase: Phase, state: &Rest) -> String {
    let driven = matches!(phase, Phase::Armed | Phase::Fault);
    match state {
        // A voltage that means a quantity is neither high nor low.
        Rest::Level(_, Some(voltage)) | Rest::Between(voltage) if member.is_analogue() => voltage.clone(),
        Rest::Level(level, _) if driven => format!("{} by firmware", level.word()),
        Rest::Level(level, Some(voltage)) => format!("{} ({voltage})", level.word()),
        Rest::Level(level, None) => level.word().to_owned(),
        Rest::Between(voltage) => format!("{voltage}: neither level"),
        Rest::Toggles => "toggles".to_owned(),
        Rest::Floats => "floats".to_owned(),
        Rest::Untold if driven => "as commanded".to_owned(),
        Rest::Untold => "not given".to_owned(),
    }
}

/// What the motor does, and whether that is safe by this line alone.
fn consequence(wiring: &Wiring<'_>, line: usize, phase: Phase, state: &Rest) -> (String, &'static str) {
    let member = &wiring.task.lines[line];
    if matches!(member, Member::Signal(_, signal) if signal.role().is(Role::LimitSet)) {
        return ("limited as the board makes of this voltage".to_owned(), "—");
    }
    let Some(still) = still_level(wiring.task.bench, member) else {
        return ("nothing by this line alone".to_owned(), "—");
    };
    let holds = matches!(state, Rest::Level(level, _) if *level == still);
    let moves = match member {
        Member::Signal(_, signal) if signal.role().is(Role::Enable) => {
            "bridges on: moves as the other lines say"
        }
        Member::Signal(_, signal) if signal.role().is(Role::Sleep) => {
            "the board wakes: moves as the other lines say"
        }
        Member::Signal(_, signal) if signal.role().is(Role::Pwm) => "voltage on the motor while enabled",
        _ => "can move",
    };
    match (holds, state, phase) {
        (true, ..) => (stays(member).to_owned(), "yes"),
        (false, Rest::Level(..), Phase::Armed) => (moves.to_owned(), "by firmware"),
        (false, Rest::Untold, _) => ("not known".to_owned(), "not known"),
        (false, ..) => (moves.to_owned(), "no"),
    }
}

fn stays(member: &Member<'_>) -> &'static str {
    match member {
        Member::Signal(_, signal) if signal.role().is(Role::Enable) => "bridges off",
        Member::Signal(_, signal) if signal.role().is(Role::Sleep) => "the board sleeps",
        Member::Signal(_, signal) if signal.role().is(Role::Pwm) => "no voltage on the motor",
        _ => "stays",
    }
}

/// Whether a line permits motion rather than commanding it.
fn is_permission(member: &Member<'_>) -> bool {
    matches!(member, Member::Signal(_, signal) if signal.role().is(Role::Enable) || signal.role().is(Role::Sleep))
}
