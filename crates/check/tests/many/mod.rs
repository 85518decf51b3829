//! Benches of many axes.

use bench::{Memory, builtin};
use std::fmt::Write as _;

/// A bench of so many axes: the shuttle's board with its two axes and cables, again and again, so many boards on one
/// supply.
pub(crate) fn axes(count: usize, boards_on_a_supply: usize) -> Memory {
    let starter = builtin::starter("seed-tray-shuttle").expect("a starter of that name");
    let mut memory = starter.memory();
    let mut text = String::from(
        r#"[bench]
name = "many"
ambient = "8 .. 35 °C"
[controller]
part = "parts/two-port-controller.toml"
supply = "logic"
[supplies.logic]
part = "builtin:supply-12v"
[loads.disc]
kind = "disc"
inertia = "3 g·m²"
[motions.turn]
kind = "trapezoid"
distance = "1 rev"
top_speed = "60 rpm"
acceleration = "30 rad/s²"
"#,
    );
    for n in 0..count / 2 {
        let supply = n / boards_on_a_supply;
        if n % boards_on_a_supply == 0 {
            // Writing to a `String` cannot fail.
            let _ = write!(
                text,
                r#"[supplies.s{supply}]
part = "parts/supply-24v.toml"
[clamps.c{supply}]
on = "s{supply}"
threshold = "26.5 V ± 1.5 %"
release = "25.8 V ± 1.5 %"
resistance = "33 Ω ± 5 %"
power = "10 W"
pulse_energy = "60 J"
switch_current = "3 A"
"#
            );
        }
        let _ = write!(
            text,
            r#"[drivers.b{n}]
part = "parts/twin-bridge.toml"
use = "two motors"
supplies = {{ motor = "s{supply}", logic = "controller.5V", io = "controller.3V3" }}
pwm_frequency = "18 kHz"
limits = {{ input = "high" }}
[cables.f{n}]
part = "builtin:cable-1.0"
from = "s{supply}"
to = "b{n}.motor"
length = "1 m"
"#
        );
        for channel in ["A", "B"] {
            let _ = write!(
                text,
                r#"[axes.x{n}{channel}]
driver = "b{n}.{channel}"
motor = "parts/motor-24.toml"
gearbox = "parts/planetary-27.toml"
encoder = "parts/encoder-16.toml"
load = "disc"
moves = "turn"
controls = "speed"
duty_limit = 0.9
[cables.m{n}{channel}]
part = "builtin:cable-0.5"
from = "b{n}.{channel}"
to = "axes.x{n}{channel}.motor"
length = "1 m"
"#
            );
        }
    }
    memory.insert("bench.toml", text);
    memory
}
