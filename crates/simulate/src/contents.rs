//! What the simulation of a trial holds, and what it leaves out, in words.

use crate::sensing::Sensing;
use crate::set_up::SetUp;
use crate::trial::{Shaft, Trial};

/// What no trial holds, as long as it does not.
const LEFT_OUT: &str = "clamps of the bus, fault lines between channels, limits that fold back, and supplies that \
switch off or try again; `firstspin check` judges them";

impl Trial {
    /// What is in it, and what is not, for want of data or at all.
    pub(crate) fn contents(&self) -> [String; 2] {
        let SetUp { bus, board, twist, curved, supply_resistance, .. } = self.set_up;
        let mut held = vec![if board.dead_time > 0.0 {
            "each PWM period of the bridge with its dead time".to_owned()
        } else {
            "each PWM period of the bridge".to_owned()
        }];
        let mut absent = Vec::new();
        match bus {
            Some(bus) if bus.limit.is_some() => {
                held.push("the capacitors of the bus and the current limit of its supply".to_owned());
            }
            Some(_) => held.push("the capacitors of the bus".to_owned()),
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
        let absent: Vec<String> = absent.into_iter().map(|what| format!("{what}; ")).collect();
        [format!("Simulated: {}.", listed(&held)), format!("Not simulated: {}{LEFT_OUT}.", absent.concat())]
    }

    /// What builds leave out of it where they are played without what no mean follows.
    pub(crate) fn left_out_of_builds(&self) -> Vec<&'static str> {
        let curved = self.set_up.curved;
        [
            (self.set_up.twist.is_some(), "twist and play"),
            (curved.warmth.is_some(), "the warming of the winding"),
            (curved.stribeck.is_some(), "friction that falls with speed"),
            (curved.shutdown.is_some(), "shutdown by temperature"),
        ]
        .into_iter()
        .filter_map(|(is_there, what)| is_there.then_some(what))
        .collect()
    }
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
