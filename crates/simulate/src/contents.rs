//! What the simulation of a trial holds, and what it leaves out, in words.

use crate::curved::Curved;
use crate::record::{Bent, Kept, SetAnew};
use crate::run::Course;
use crate::sensing::Sensing;
use crate::set_up::SetUp;
use crate::trial::{Shaft, Trial};

/// What no trial holds.
pub(crate) const OTHER_AXES: &str = "other axes at the same time";

impl Trial {
    /// What is in it, and what is not, for want of data or at all.
    pub(crate) fn contents(&self) -> [String; 2] {
        let SetUp { bus, board, twist, curved, supply_resistance, .. } = self.set_up;
        let bridge = match self.course() {
            Course::Switched => "each PWM period of the bridge",
            Course::Averaged => "the bridge as its means over a PWM period",
        };
        let dead_time = if board.dead_time > 0.0 { " with its dead time" } else { "" };
        let mut held = vec![format!("{bridge}{dead_time}")];
        let mut absent = Vec::new();
        match bus {
            Some(bus) => {
                let mut around = vec!["the capacitors of the bus"];
                if bus.clamps.iter().any(Option::is_some) {
                    around.push("its clamp");
                }
                match bus.limit {
                    Some(limit) if limit.off.is_some() => {
                        around.push("the current limit of its supply, which switches off");
                    }
                    Some(_) => around.push("the current limit of its supply"),
                    None => {}
                }
                held.push(listed(&around));
            }
            None if supply_resistance > 0.0 => {
                absent.push("a bus that rises and falls (its capacitance is not stated)");
            }
            None => absent.push("a bus that rises and falls (no resistance before it is stated)"),
        }
        let limits: Vec<String> =
            self.limits.iter().map(|limit| format!("`{}`", limit.limit.name())).collect();
        match limits.as_slice() {
            [] => {}
            [limit] => held.push(format!("limit {limit}")),
            limits => held.push(format!("limits {}", listed(limits))),
        }
        if board.lockout.is_some() {
            held.push("lockout of the board".to_owned());
        }
        if curved.shutdown.is_some() {
            held.push("its shutdown by temperature".to_owned());
        }
        match twist {
            Some(_) if self.means.is_some() => {
                absent.push("twist and play before the load (no mean follows them)");
            }
            Some(twist) if twist.backlash > 0.0 => held.push("twist and play before the load".to_owned()),
            Some(_) => held.push("twist before the load".to_owned()),
            None if matches!(self.shaft, Shaft::Coupled) && self.set_up.load_inertia > 0.0 => {
                absent.push("twist and play before the load (no stiffness is stated)");
            }
            None => {}
        }
        if curved.swing.is_some() {
            held.push("the arm as it swings, from level on".to_owned());
        }
        match curved.warmth {
            Some(_) => held.push("the winding as it warms".to_owned()),
            None => absent.push("a winding that warms (its heat is not all stated)"),
        }
        let lines = lines(&self.sensing);
        if !lines.is_empty() {
            held.push(format!("what the controller reads of {}", listed(&lines)));
        }
        let absent = absent.into_iter().map(str::to_owned).chain(self.left_out.iter().cloned());
        let absent: Vec<String> = absent.chain([OTHER_AXES.to_owned()]).collect();
        [format!("Simulated: {}.", listed(&held)), format!("Not simulated: {}.", absent.join("; "))]
    }
}

/// How exactly a run followed what bends in it; `None` where nothing does.
pub(crate) fn followed(curved: &Curved, kept: &[Kept]) -> Option<String> {
    let bent = kept.iter().map(|kept| kept.bent).fold(Bent::default(), Bent::and);
    let top_speed = kept.iter().map(|kept| kept.peak_speed.abs()).fold(0.0, f64::max);
    let times = |set: SetAnew| match set.times {
        0 => "never set anew".to_owned(),
        1 => "set anew once".to_owned(),
        times => format!("set anew {times} times"),
    };
    let within = |what: &str, set: SetAnew| format!("{what} within {} ({})", percent(set.off), times(set));
    let told: Vec<String> = [
        curved.warmth.map(|_| within("the resistance of the winding", bent.winding)),
        curved.swing.map(|_| within("the torque of the arm, in parts of the largest,", bent.arm)),
        curved.stribeck.map(|stribeck| {
            let off = percent(stribeck.off_up_to(top_speed));
            format!("the friction that falls with speed within {off} of what it is more at rest")
        }),
        (bent.bus.times > 0).then(|| within("the voltage of the bus while it is lifted", bent.bus)),
    ]
    .into_iter()
    .flatten()
    .collect();
    (!told.is_empty()).then(|| format!("In this run what bends was followed in steps: {}.", listed(&told)))
}

/// A part in percent, of two digits, rounded up: what it is said of stays below.
fn percent(part: f64) -> String {
    let percent = 100.0 * part;
    if percent.is_nan() || percent < 1e-4 {
        return "0.0001 %".to_owned();
    }
    let scale = libm::pow(10.0, 1.0 - libm::floor(libm::log10(percent)));
    format!("{} %", libm::ceil(percent * scale * (1.0 - 1e-9)) / scale)
}

fn lines(sensing: &Sensing) -> Vec<&'static str> {
    let lines = [
        (sensing.current.is_some(), "current"),
        (sensing.voltage.is_some(), "voltage"),
        (sensing.encoder.is_some(), "encoder"),
    ];
    lines.into_iter().filter_map(|(is_there, line)| is_there.then_some(line)).collect()
}

/// `a, b and c`.
pub(crate) fn listed<S: AsRef<str>>(items: &[S]) -> String {
    let items: Vec<&str> = items.iter().map(AsRef::as_ref).collect();
    match items.as_slice() {
        [] => String::new(),
        [only] => (*only).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_are_told_in_two_digits_that_they_do_not_pass() {
        let told = [0.0, 1.81e-4, 1.8e-4, 0.0116, 0.999, 2e-7].map(percent);
        assert_eq!(told, ["0.0001 %", "0.019 %", "0.018 %", "1.2 %", "100 %", "0.0001 %"]);
    }
}
