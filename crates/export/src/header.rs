//! The header that all forms share, and the words that go with the folder.

use crate::Handover;
use crate::handover::CodeLine;
use crate::names::{define, double, text};
use crate::scaling::{NoScaling, Scaling};
use controller::Bus;
use finding::Table;

/// What has to be tried before a load is coupled, in this order.
const TESTS: [&str; 8] = [
    "default states: with the motor plug off, every line of the table of pins reads its undriven level while the controller \
     is unpowered, in reset, and in its boot loader",
    "stop: the stop device takes the power of the motor away while the controller runs on; measured, not believed",
    "proof of signs, motor plugged, load off, supply in its current limit: a small positive duty gives positive counts and a \
     positive current; else the leads or the channels are changed, or the sign where they are read, before a loop is closed",
    "locked rotor: a small duty on the held shaft gives the current that the sheet of first power foretells",
    "guard: the encoder unplugged, a small speed asked for: the switches open within the stall time; then the leads of the \
     motor swapped: they open as a runaway",
    "speed loop without load at a tenth, a quarter and all of its gains; then a reversal",
    "position loop without load, short and slow moves first",
    "only then the load, with the same tests at reduced limits before the full ones",
];

pub(crate) fn header(of: &Handover, axis: &str, title: &str) -> String {
    let name = axis.to_uppercase();
    let mut out = format!(
        "/* {axis}.h - {title}: figures, scaling of its signals, pins.\n *\n * Made by `firstspin export`{}. SI units at the \
         motor shaft; the unit ends each name.\n *\n * NO SAFETY FUNCTION. Neither the loops nor their guard protect people: \
         what does has to cut the power without this\n * program. Before a load is coupled, in this order:\n",
        of.dated.as_ref().map(|date| format!(", {}", text(date))).unwrap_or_default()
    );
    for (number, test) in TESTS.iter().enumerate() {
        out.push_str(&wrapped(&format!("{}. {test}", number + 1), " *   "));
    }
    out.push_str(" *\n * The loops are called once a sample from a timer, in step with the PWM; the duty that they give takes effect \
        with the\n * next sample.\n");
    if let Some(why) = &of.refused {
        out.push_str(" *\n");
        out.push_str(&wrapped(
            &format!("THE MOTION OF THIS AXIS IS REFUSED WITH THESE LOOPS: {}", text(why)),
            " * ",
        ));
    }
    for pins in &of.pins {
        out.push_str(&table(pins));
    }
    out.push_str(&format!(
        " */\n#ifndef {name}_H\n#define {name}_H\n\n#include <stdbool.h>\n#include <stdint.h>\n\n"
    ));
    let mut line = |key: &str, value: String, comment: &str| {
        out.push_str(&define(&format!("{name}_{key}"), &value, comment));
    };
    let (f, p) = (&of.speed, &of.position);
    line("SAMPLE_TIME_S", double(f.sample_time), "from one sample to the next");
    line("COUNTS_PER_RAD", double(f.counts), "all edges of both channels");
    line("COUNTER_BITS", f.counter_bits.to_string(), "width of the counter");
    let mask = if f.counter_bits >= 64 { u64::MAX } else { (1 << f.counter_bits) - 1 };
    line("COUNTER_MASK", format!("UINT64_C({mask})"), "its bits");
    line("WINDOW_SAMPLES", format!("{}u", f.window), "over which the speed is measured");
    line("GAIN_V_S_PER_RAD", double(f.pi.gain), "of the speed loop");
    line("INTEGRAL_TIME_S", double(f.pi.integral_time), "of the speed loop");
    line("SETPOINT_WEIGHT", double(f.pi.weight), "part of the reference that the gain acts on");
    line("TRACKING_TIME_S", double(f.pi.tracking_time), "in which the integrator gives way at a limit");
    line("FORWARD_SPEED_V_S_PER_RAD", double(f.feed_forward.speed), "fed forward for a speed");
    line("FORWARD_ACCELERATION_V_S2_PER_RAD", double(f.feed_forward.acceleration), "and for an acceleration");
    line("FORWARD_FRICTION_V", double(f.feed_forward.friction), "and against friction and brushes");
    line("FULL_FRICTION_SPEED_RAD_PER_S", double(f.feed_forward.full_friction_speed), "from here on in full");
    line("KE_V_S_PER_RAD", double(f.constant), "motor constant");
    line(
        "VOLTAGE_FROM_BACK_EMF_V",
        double(f.voltage_from_back_emf),
        "at most: it keeps the current at its limit",
    );
    line("CURRENT_LIMIT_A", double(of.current_limit), "that which it keeps");
    line("HIGHEST_DUTY", double(f.highest_duty), "at most");
    line(
        "DUTY_COUNTS",
        format!("INT32_C({})", of.ranges.duty_counts),
        "counts of the PWM timer at a duty of 1",
    );
    line("POSITION_GAIN_PER_S", double(p.gain), "of the position loop");
    line("TOP_SPEED_RAD_PER_S", double(p.top_speed), "that the position loop asks for at most");
    match f.bus {
        Bus::Taken(voltage) => {
            line("MEASURES_BUS", "0".to_owned(), "the loops take the bus for what is said here");
            line("BUS_V", double(voltage), "the bus, not measured: a bus that is lower gives less voltage");
        }
        Bus::Measured { per_code, zero, lowest } => {
            line("MEASURES_BUS", "1".to_owned(), "the loops read the voltage of the bus");
            line("BUS_V_PER_CODE", double(per_code), "voltage of the bus");
            line(
                "BUS_ZERO_CODE",
                double(zero),
                "code at 0 V; the middle of a step lies half a code above its code",
            );
            line("BUS_LOWEST_V", double(lowest), "below it all switches are opened");
        }
    }
    for (line, quantity, unit, what) in [
        (&of.current, "CURRENT", "A", "current of the motor"),
        (&of.voltage, "VOLTAGE", "V", "voltage of the motor"),
    ] {
        if let Some(line) = line {
            out.push_str(&scaling(&name, quantity, unit, what, line));
        }
    }
    // C asserts whole numbers alone.
    let nanoseconds = libm::round(1e9 * f.sample_time).clamp(0.0, 9e18) as i64;
    out.push_str(&format!(
        "\n/* For assertions against the set-up of the timer and of the counter. */\n\
         #define {name}_SAMPLE_TIME_NS INT64_C({nanoseconds})\n\n\
         _Static_assert({name}_COUNTER_BITS >= 2 && {name}_COUNTER_BITS <= 64, \"width of the counter\");\n\
         _Static_assert({name}_SAMPLE_TIME_NS > 0 && {name}_SAMPLE_TIME_NS < 1000000000, \"sample time\");\n\
         _Static_assert({name}_WINDOW_SAMPLES >= 1 && {name}_WINDOW_SAMPLES <= 64, \"window of the speed\");\n\
         _Static_assert({name}_DUTY_COUNTS >= 1, \"counts of the PWM timer\");\n\
         _Static_assert(sizeof(double) >= 8, \"double has to be of 64 bits\");\n\n#endif\n"
    ));
    out
}

/// What the codes of a line stand for.
fn scaling(name: &str, quantity: &str, unit: &str, what: &str, line: &CodeLine) -> String {
    let mut out = String::from("\n");
    let zero = format!("code at 0 {unit}");
    out.push_str(&define(&format!("{name}_{quantity}_{unit}_PER_CODE"), &double(line.per_code), what));
    out.push_str(&define(&format!("{name}_{quantity}_ZERO_CODE"), &double(line.zero), &zero));
    out.push_str(&define(
        &format!("{name}_{quantity}_HIGHEST_CODE"),
        &format!("{}u", line.highest),
        "of the converter",
    ));
    out.push_str(&format!(
        "#define {name}_{quantity}_{unit}(code) ({name}_{quantity}_{unit}_PER_CODE * ((double)(code) - \
         {name}_{quantity}_ZERO_CODE))\n"
    ));
    out
}

/// A table as lines of a comment.
fn table(table: &Table) -> String {
    let filled = table.filled();
    let cell = |row: &[String], column: usize| row.get(column).map(|cell| text(cell)).unwrap_or_default();
    let wide = |column: usize| {
        let heading = table.columns[column].heading.chars().count();
        table.rows.iter().map(|row| cell(row, column).chars().count()).fold(heading, usize::max)
    };
    let widths: Vec<usize> = filled.iter().map(|column| wide(*column)).collect();
    let line = |cells: Vec<String>| {
        let padded: Vec<String> =
            cells.iter().zip(&widths).map(|(cell, width)| format!("{cell:width$}", width = *width)).collect();
        format!(" *   {}\n", padded.join("  ").trim_end())
    };
    let mut out = format!(" *\n * {}\n", text(&table.title));
    out.push_str(&line(filled.iter().map(|column| text(&table.columns[*column].heading)).collect()));
    for row in &table.rows {
        out.push_str(&line(filled.iter().map(|column| cell(row, *column)).collect()));
    }
    out
}

/// A text on lines of a comment.
fn wrapped(text: &str, before: &str) -> String {
    let mut out = String::new();
    let mut line = before.to_owned();
    for word in text.split_whitespace() {
        if line.len() + word.len() > 118 {
            out.push_str(line.trim_end());
            out.push('\n');
            line = format!("{before}   ");
        }
        line.push_str(word);
        line.push(' ');
    }
    out.push_str(line.trim_end());
    out.push('\n');
    out
}

/// What the folder holds and how it is used.
pub(crate) fn read_me(of: &Handover, axis: &str, fixed: &Result<Scaling, NoScaling>) -> String {
    let mut out =
        format!("Controller of axis {} of {}, as C (ISO/IEC 9899:2011)\n", text(&of.axis), text(&of.bench));
    if let Some(date) = &of.dated {
        out.push_str(&format!("Date: {}\n", text(date)));
    }
    out.push_str("\nNO SAFETY FUNCTION. What protects people has to cut the power without this program.\n\n");
    if let Some(why) = &of.refused {
        out.push_str(&wrapped(
            &format!("THE MOTION OF THIS AXIS IS REFUSED WITH THESE LOOPS: {}", text(why)),
            "",
        ));
        out.push('\n');
    }
    let mut held = vec![
        (
            format!("{axis}.h"),
            "figures with their units, scaling of the signals, pins, tests before a load is coupled",
        ),
        (format!("{axis}_double.h, .c"), "both loops and moves in floating point"),
    ];
    if fixed.is_ok() {
        held.extend([
            (format!("{axis}_fixed.h, .c"), "both loops and moves in whole numbers"),
            ("tables/intervals.csv".to_owned(), "the interval of every value in them: none leaves its type"),
        ]);
    }
    held.extend([
        (format!("{axis}_guard.h, .c"), "opens the switches at a stall and at a runaway"),
        (format!("{axis}_vectors.h"), "inputs with the outputs that they have to give"),
        (format!("{axis}_check.c"), "a program for a computer that tries them"),
        ("gains.json, gains.toml".to_owned(), "the figures for programs"),
    ]);
    let wide = held.iter().map(|(name, _)| name.chars().count()).fold(0, usize::max);
    for (name, what) in held {
        out.push_str(&format!("{name:wide$}  {what}\n"));
    }
    if let Err(why) = fixed {
        out.push_str(&format!("\nThere is no form in whole numbers: {why}.\n"));
    }
    out.push_str(&format!(
        "\nTry it:  cc -std=c11 -Wall -Wextra -O2 -o check {axis}_*.c && ./check\n\
         (with -ffp-contract=off where the processor joins products and sums)\n\n\
         In the interrupt of the timer, once every {} s, in step with the PWM:\n\
         \x20 1. latch the counter and the codes of the converters at the same instant;\n\
         \x20 2. put the duty of the last call to the timer;\n\
         \x20 3. call the tick of the loop, then that of the guard;\n\
         \x20 4. where the tick of the loop gives false, open all switches for this sample; where the guard trips, open them\n\
         \x20    and stay there until a person found the reason;\n\
         \x20 5. count interrupts that came while the last one ran: a loop that is late is another loop.\n\n\
         Before a load is coupled:\n",
        of.speed.sample_time
    ));
    for (number, test) in TESTS.iter().enumerate() {
        out.push_str(&wrapped(&format!("{}. {test}", number + 1), "  "));
    }
    out
}
