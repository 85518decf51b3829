//! How long loading takes: one starter, and benches of many axes to see that the cost grows in proportion.

use bench::{Memory, builtin};
use std::fmt::Write as _;

fn main() {
    divan::main();
}

#[divan::bench]
fn starter(bencher: divan::Bencher<'_, '_>) {
    let files = builtin::starter("seed-tray-shuttle").expect("a starter of that name").memory();
    bencher.bench(|| bench::load_from(&files).value.expect("a bench"));
}

#[divan::bench(args = [2, 50, 100, 200])]
fn axes(bencher: divan::Bencher<'_, '_>, count: usize) {
    let files = many(count);
    bencher.bench(|| bench::load_from(&files).value.expect("a bench"));
}

/// The shuttle with its board, axes and cables `count / 2` times.
fn many(count: usize) -> Memory {
    let starter = builtin::starter("seed-tray-shuttle").expect("a starter of that name");
    let mut memory = starter.memory();
    let mut text = String::from(
        "[bench]\nname = \"many\"\nambient = \"8 .. 35 °C\"\n[controller]\npart = \"parts/two-port-controller.toml\"\nsupply = \"drive\"\n\
         [supplies.drive]\npart = \"parts/supply-24v.toml\"\n\
         [loads.disc]\nkind = \"disc\"\ninertia = \"3 g·m²\"\n\
         [motions.turn]\nkind = \"trapezoid\"\ndistance = \"1 rev\"\ntop_speed = \"60 rpm\"\nacceleration = \"30 rad/s²\"\n",
    );
    for n in 0..count / 2 {
        // Writing to a `String` cannot fail.
        let _ = write!(
            text,
            "[drivers.b{n}]\npart = \"parts/twin-bridge.toml\"\nuse = \"two motors\"\n\
             supplies = {{ motor = \"drive\", logic = \"controller.5V\", io = \"controller.3V3\" }}\npwm_frequency = \"18 kHz\"\nlimits = {{ input = \"high\" }}\n\
             [cables.f{n}]\npart = \"builtin:cable-1.0\"\nfrom = \"drive\"\nto = \"b{n}.motor\"\nlength = \"1 m\"\n"
        );
        for channel in ["A", "B"] {
            let _ = write!(
                text,
                "[axes.x{n}{channel}]\ndriver = \"b{n}.{channel}\"\nmotor = \"parts/motor-24.toml\"\ngearbox = \"parts/planetary-27.toml\"\n\
                 encoder = \"parts/encoder-16.toml\"\nload = \"disc\"\nmoves = \"turn\"\ncontrols = \"speed\"\nduty_limit = 0.9\n\
                 [cables.m{n}{channel}]\npart = \"builtin:cable-0.5\"\nfrom = \"b{n}.{channel}\"\nto = \"axes.x{n}{channel}.motor\"\nlength = \"1 m\"\n"
            );
        }
    }
    memory.insert("bench.toml", text);
    memory
}
