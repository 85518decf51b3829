//! A current line must show the current of the winding, in the off-time of the PWM too.

use super::of_axis;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::file::Sampling;
use drive::assembly::off_state;
use drive::assembly::sense::Tells;
use drive::bridge::OffState;
use drive::sense::{SensePoint, seen_mean};
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("sense-sees-motor-current", row "Sense observes motor current?", Signals, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let sampling = view.bench.controller().and_then(|c| c.entry.r#loop().adc().stated());
    let in_step = matches!(sampling, Some(Sampling::CentreOfOnTime | Sampling::Synchronous));
    for line in view.sense_lines().iter().filter(|line| line.tells == Tells::Current) {
        let Some(axis) = line.axis.as_ref().and_then(|name| view.bench.axis(name)) else { continue };
        let Some(point) = line.point else {
            let place = format!("{}.senses", line.path);
            ruling.missing(&line.path, &[&place]).weakness(Harm::Function).done();
            continue;
        };
        let state = axis.channel().map_or(OffState::Brake, off_state);
        let holds = match point {
            SensePoint::MotorLead => true,
            SensePoint::LowLeg => in_step,
            SensePoint::SupplyInput => false,
        };
        let sees = match (point, state) {
            (SensePoint::MotorLead, _) => "all of it",
            (SensePoint::LowLeg, OffState::Brake | OffState::Diode) => "nothing in the off-time",
            (SensePoint::LowLeg, OffState::Coast | OffState::Reverse) => "it reversed in the off-time",
            (SensePoint::SupplyInput, OffState::Brake | OffState::Diode) => {
                "the duty times the current of the winding, smoothed by the capacitor"
            }
            (SensePoint::SupplyInput, OffState::Coast | OffState::Reverse) => {
                "what goes in less what comes back in the off-time, smoothed by the capacitor"
            }
        };
        let duty = Worked::known(0.3, "", "D", "duty, as an example", Origin::assumed("a slow start"));
        let one = Worked::known(
            1.0,
            "A",
            "I",
            "current in the winding, as an example",
            Origin::assumed("to compare with"),
        );
        ruling
            .fact(&line.path, holds)
            .weakness(Harm::Function)
            .says(format!("`{}`{}: of the winding's current it sees {sees}", line.name, of_axis(line)))
            .at(format!("{}.senses", line.path))
            .because("a locked motor at a small duty carries far more than such a line shows")
            .with(seen_mean(point, state, duty, one))
            .or_do(match point {
                SensePoint::LowLeg => {
                    "sample in the on-time and say so with `adc = \"centre of on-time\"` in [controller.loop]"
                }
                _ => "sense in the motor lead, or work the winding's current out from duty and speed",
            })
            .done();
    }
}
