//! One paragraph for each stage, from the names and numbers of the bench.

use super::Stage;
use super::layout::{Kind, Sign};
use super::plan::{Machine, PinLine, Plan, Row, written};
use crate::svg::number;
use bench::{Bench, Feed};
use finding::words::listed;

pub(super) fn words(bench: &Bench, plan: &Plan<'_>, stage: Stage) -> String {
    let (begin, said) = match stage {
        Stage::Power => ("First the way of the power.", power(bench, plan)),
        Stage::Logic => ("Then what decides.", logic(bench, plan)),
        Stage::Drive => ("Then what commands the bridges.", drive(bench, plan)),
        Stage::Feedback => ("Then what is measured.", feedback(bench, plan)),
        Stage::Protection => ("Last what protects.", protection(bench, plan)),
    };
    format!("{begin} {said}{}", planned(bench, plan, stage))
}

/// What the plan of the wiring does to lines of a stage.
fn planned(bench: &Bench, plan: &Plan<'_>, stage: Stage) -> String {
    let mut lines: Vec<(String, Vec<Sign>)> = pin_lines(plan, stage)
        .into_iter()
        .map(|(board, line)| (format!("{board}:{}", line.name), line.signs.clone()))
        .collect();
    for row in rows(plan) {
        for side in row.sides.iter().filter(|side| side.stage == stage) {
            let kind = side.kind;
            let named = |line: &super::sides::SideLine| {
                (format!("{} of {kind} {}", line.name, side.name), line.signs.clone())
            };
            lines.extend(side.lines.iter().map(named));
        }
        if let (Stage::Drive, Some(Machine::Servo(servo)), None) = (stage, row.machine, &row.output) {
            lines.push((format!("{}:pulse", servo.name), plan.pulse(bench, servo).signs));
        }
    }
    let with = |sign: Sign| -> Vec<String> {
        lines.iter().filter(|(_, signs)| signs.contains(&sign)).map(|(name, _)| name.clone()).collect()
    };
    let mut text = String::new();
    for (sign, one, more) in [
        (Sign::Planned, "is planned and does not lie yet", "are planned and do not lie yet"),
        (
            Sign::Moves,
            "the plan leads to another pin than the bench file",
            "the plan leads to other pins than the bench file",
        ),
        (Sign::Goes, "the plan takes away", "the plan takes away"),
    ] {
        let names = with(sign);
        match names.len() {
            0 => {}
            1 => text.push_str(&format!(" {} {one}.", listed(&names))),
            _ => text.push_str(&format!(" {} {more}.", listed(&names))),
        }
    }
    text
}

fn power(bench: &Bench, plan: &Plan<'_>) -> String {
    let mut said = Vec::new();
    for supply in &plan.supplies {
        let feeds: Vec<String> = supply
            .targets
            .iter()
            .filter_map(|target| match target {
                super::plan::Target::Rows { board, .. } => {
                    plan.boards.get(*board).map(|b| called("board", &b.board.name))
                }
                super::plan::Target::Free(row) => match plan.free.get(*row)?.machine {
                    Some(Machine::Servo(servo)) => Some(called("servo", &servo.name)),
                    _ => None,
                },
                _ => None,
            })
            .collect();
        if !feeds.is_empty() {
            let voltage = Some(&supply.voltage)
                .filter(|v| !v.is_empty())
                .map(|v| format!(" ({v})"))
                .unwrap_or_default();
            said.push(format!("{}{voltage} feeds {}", called("supply", &supply.name), listed(&feeds)));
        }
    }
    let mut text = sentence(&listed(&said));
    for axis in bench.axes() {
        let by: Vec<String> = axis
            .channels
            .iter()
            .map(|c| format!("bridge {} of {}", c.channel.name(), c.board.name))
            .collect();
        let kind = if axis.stepper().is_some() { "the stepper" } else { "the motor" };
        let gear = axis.gearbox.as_ref().map(|gear| gear.ratio()).filter(|ratio| !ratio.is_missing());
        let gear = gear.map(|ratio| number(ratio.value()));
        let through = match (&axis.gearbox, gear) {
            (Some(_), Some(ratio)) => format!(" through a gear of {ratio} : 1"),
            (Some(_), None) => " through a gear".to_owned(),
            _ => String::new(),
        };
        let moves = axis.load.as_ref().map(|c| format!(", which moves {}{through}", c.name));
        let moves = moves.unwrap_or(if through.is_empty() {
            String::new()
        } else {
            format!(", which turns{through}")
        });
        if by.is_empty() {
            text.push_str(&format!(" No bridge drives {kind} of axis {}{moves}.", axis.name));
        } else {
            let verb = if by.len() > 1 { "drive" } else { "drives" };
            text.push_str(&sentence(&format!(" {} {verb} {kind} of axis {}{moves}", listed(&by), axis.name)));
        }
    }
    let idle: Vec<String> = plan
        .boards
        .iter()
        .flat_map(|b| {
            let idle = b.rows.iter().filter(|row| row.machine.is_none());
            idle.filter_map(|row| row.output.as_ref())
                .map(|o| format!("bridge {} of {}", o.name, b.board.name))
        })
        .collect();
    if !idle.is_empty() {
        text.push_str(&sentence(&format!(
            " {} {} nothing",
            listed(&idle),
            if idle.len() > 1 { "drive" } else { "drives" }
        )));
    }
    let text = text.trim().to_owned();
    if text.is_empty() { "No supply of this bench feeds a board or a servo yet.".to_owned() } else { text }
}

fn logic(bench: &Bench, plan: &Plan<'_>) -> String {
    let Some(controller) = bench.controller() else {
        return "The bench names no controller: there is nothing that the lines of the boards could go to."
            .to_owned();
    };
    let fed = match &controller.feed {
        Some(Feed::Supply(name)) => format!("{} feeds it", called("supply", name)),
        Some(feed) => format!("{feed} feeds it"),
        None => "what feeds it the bench does not say".to_owned(),
    };
    let about = controller.part.about();
    let name = about.name().map(|name| format!(" ({name})")).unwrap_or_default();
    let mut text = format!("The controller joins in{name}; {fed}.");
    let mut rails: Vec<(String, Vec<String>)> = Vec::new();
    for board in &plan.boards {
        let common = board.common.iter().filter(|line| line.kind == Kind::Rail);
        for line in common {
            let Some(rail) = &line.to else { continue };
            let what = format!("input {} of {}", line.name, board.board.name);
            match rails.iter_mut().find(|(name, _)| name == rail) {
                Some((_, fed)) => fed.push(what),
                None => rails.push((rail.clone(), vec![what])),
            }
        }
    }
    for (rail, fed) in rails {
        text.push_str(&format!(" Its rail {rail} feeds {}.", listed(&fed)));
    }
    text
}

fn drive(bench: &Bench, plan: &Plan<'_>) -> String {
    let lines = pin_lines(plan, Stage::Drive);
    let loose = loose_pulses(bench, plan);
    if lines.is_empty() && loose.is_empty() {
        return "No line commands a board: the bench names neither pulses nor enables.".to_owned();
    }
    let mut text =
        counted(lines.len(), "command line goes", "command lines go") + " from the controller to the boards";
    text.push_str(&format!(": {}.", listed(&names(&lines))));
    if lines.is_empty() {
        text = String::new();
    }
    if !loose.is_empty() {
        text.push_str(&format!(" The pulse of servo {} comes straight from a pin.", listed(&loose)));
    }
    text.push_str(&open_ends(&lines));
    text.trim().to_owned()
}

fn feedback(bench: &Bench, plan: &Plan<'_>) -> String {
    let mut text = Vec::new();
    let (mut through, mut straight) = (Vec::new(), Vec::new());
    for axis in bench.axes().iter().filter(|axis| axis.encoder.is_some()) {
        match &axis.encoder_at {
            Some((board, _)) => {
                through.push(format!("{} by way of {}", axis.name, called("board", &board.name)))
            }
            None => straight.push(axis.name.to_string()),
        }
    }
    let encoders: Vec<String> = through
        .into_iter()
        .chain(straight.into_iter().map(|name| format!("{name} straight to the controller")))
        .collect();
    if encoders.is_empty() {
        text.push("No axis has an encoder.".to_owned());
    } else {
        text.push(format!(
            "{} on the shafts: {}.",
            counted(encoders.len(), "encoder sits", "encoders sit"),
            listed(&encoders)
        ));
    }
    let lines = pin_lines(plan, Stage::Feedback);
    let of_role: Vec<&PinLine> = lines.iter().map(|(_, line)| *line).collect();
    if !of_role.is_empty() {
        text.push(format!(
            "{} to the controller: {}.",
            counted(lines.len(), "line of the boards goes", "lines of the boards go"),
            listed(&names(&lines))
        ));
    }
    let rerouted: Vec<String> = lines
        .iter()
        .filter(|(_, l)| l.signs.contains(&Sign::Leaves))
        .map(|(b, l)| format!("{b}:{}", l.name))
        .collect();
    if !rerouted.is_empty() {
        let count = counted(rerouted.len(), "line leaves the plug and goes", "lines leave the plug and go");
        let by = if rerouted.len() > 1 { "wires of their own" } else { "a wire of its own" };
        text.push(format!("{count} by {by}, marked with a diamond: {}.", listed(&rerouted)));
    }
    let others: Vec<String> = sides(plan, Stage::Feedback)
        .filter(|(kind, _)| *kind != "encoder")
        .map(|(kind, name)| format!("{kind} {name}"))
        .collect();
    if !others.is_empty() {
        text.push(format!("Beside them: {}.", listed(&others)));
    }
    text.push(open_ends(&lines).trim().to_owned());
    text.join(" ").trim().to_owned()
}

fn protection(bench: &Bench, plan: &Plan<'_>) -> String {
    let mut text = Vec::new();
    let fuses: Vec<String> = bench
        .fuses()
        .iter()
        .map(|(name, fuse)| {
            format!("{name} of {} on {}", written(fuse, "rating"), fuse.on().unwrap_or("nothing"))
        })
        .collect();
    text.push(if fuses.is_empty() {
        "No fuse is named.".to_owned()
    } else {
        format!("{}: {}.", counted(fuses.len(), "fuse", "fuses"), listed(&fuses))
    });
    let cut: Vec<String> = plan.supplies.iter().filter(|s| s.cut).map(|s| s.name.clone()).collect();
    text.push(match bench.stop().device() {
        Some(device) if !cut.is_empty() => {
            format!("The stop ({device}) cuts {} without software.", listed(&cut))
        }
        _ if !cut.is_empty() => format!("The stop cuts {} without software.", listed(&cut)),
        _ => "Nothing is named that cuts motor power without software.".to_owned(),
    });
    let hanging: Vec<String> = plan
        .supplies
        .iter()
        .flat_map(|s| {
            s.hanging.iter().map(move |(kind, name, ..)| format!("{kind} {name} on the line of {}", s.name))
        })
        .collect();
    if !hanging.is_empty() {
        text.push(sentence(&listed(&hanging)));
    }
    let limits: usize = plan.boards.iter().map(|b| b.board.limits.len()).sum();
    if limits > 0 {
        text.push(
            counted(limits, "limit of the current is", "limits of the current are")
                + " built into the boards.",
        );
    }
    let lines = pin_lines(plan, Stage::Protection);
    if !lines.is_empty() {
        text.push(format!("Flags and selections: {}.", listed(&names(&lines))));
    }
    let others: Vec<String> =
        sides(plan, Stage::Protection).map(|(kind, name)| format!("{kind} {name}")).collect();
    if !others.is_empty() {
        text.push(sentence(&listed(&others)));
    }
    text.push(open_ends(&lines).trim().to_owned());
    text.join(" ").trim().to_owned()
}

fn rows<'a, 'b>(plan: &'a Plan<'b>) -> impl Iterator<Item = &'a Row<'b>> {
    plan.boards.iter().flat_map(|b| b.rows.iter()).chain(&plan.free)
}

fn sides<'a>(plan: &'a Plan<'_>, stage: Stage) -> impl Iterator<Item = (&'static str, &'a str)> {
    rows(plan)
        .flat_map(|row| row.sides.iter())
        .filter(move |side| side.stage == stage)
        .map(|side| (side.kind, &*side.name))
}

fn pin_lines<'a>(plan: &'a Plan<'_>, stage: Stage) -> Vec<(&'a str, &'a PinLine)> {
    let of_board = |b: &'a super::plan::BoardPlan<'_>| {
        let lines = b.rows.iter().flat_map(|row| row.lines.iter()).chain(&b.common);
        lines.filter(move |line| line.stage == stage).map(|line| (&*b.board.name, line)).collect::<Vec<_>>()
    };
    plan.boards.iter().flat_map(of_board).collect()
}

fn loose_pulses(bench: &Bench, plan: &Plan<'_>) -> Vec<String> {
    let servos = plan.free.iter().filter_map(|row| match row.machine {
        Some(Machine::Servo(servo)) => Some(servo),
        _ => None,
    });
    servos.filter(|servo| plan.pulse(bench, servo).to.is_some()).map(|servo| servo.name.to_string()).collect()
}

fn names(lines: &[(&str, &PinLine)]) -> Vec<String> {
    let mut boards: Vec<&str> = lines.iter().map(|(board, _)| *board).collect();
    boards.dedup();
    let several = boards.len() > 1;
    lines
        .iter()
        .map(|(board, line)| if several { format!("{board}:{}", line.name) } else { line.name.clone() })
        .collect()
}

/// Lines that go to no pin.
fn open_ends(lines: &[(&str, &PinLine)]) -> String {
    let open: Vec<String> = lines
        .iter()
        .filter(|(_, l)| l.to.is_none() && l.fed.is_none())
        .map(|(b, l)| format!("{b}:{}", l.name))
        .collect();
    match open.len() {
        0 => String::new(),
        1 => sentence(&format!(" {} has no pin yet", listed(&open))),
        _ => sentence(&format!(" {} have no pin yet", listed(&open))),
    }
}

/// `supply drive`; of a board that is called `board`, `the board`.
fn called(kind: &str, name: &str) -> String {
    if kind == name { format!("the {kind}") } else { format!("{kind} {name}") }
}

fn counted(count: usize, one: &str, more: &str) -> String {
    let number = match count {
        1 => "One".to_owned(),
        2 => "Two".to_owned(),
        3 => "Three".to_owned(),
        4 => "Four".to_owned(),
        5 => "Five".to_owned(),
        6 => "Six".to_owned(),
        7 => "Seven".to_owned(),
        8 => "Eight".to_owned(),
        9 => "Nine".to_owned(),
        10 => "Ten".to_owned(),
        11 => "Eleven".to_owned(),
        12 => "Twelve".to_owned(),
        n => n.to_string(),
    };
    format!("{number} {}", if count == 1 { one } else { more })
}

/// With a capital at the beginning and a full stop at the end.
fn sentence(text: &str) -> String {
    let begin = text.len() - text.trim_start().len();
    let mut chars = text.get(begin..).unwrap_or("").chars();
    match chars.next() {
        Some(first) => {
            format!("{}{}{}.", text.get(..begin).unwrap_or(""), first.to_uppercase(), chars.as_str())
        }
        None => String::new(),
    }
}
