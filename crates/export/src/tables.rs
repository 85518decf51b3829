//! The intervals as a table, and the gains for programs.

use crate::Handover;
use crate::scaling::Scaling;
use controller::Bus;
use finding::Table;
use serde_json::{Map, Value, json};

/// Every intermediate value of the whole-number loops with its interval.
pub(crate) fn intervals(scaling: &Scaling) -> Table {
    let rows = scaling.proof().into_iter().map(|row| {
        vec![
            row.name.to_owned(),
            row.unit.to_owned(),
            format!("{:e}", row.step),
            row.range.low.to_string(),
            row.range.high.to_string(),
            row.c_type().to_owned(),
            row.to_spare().to_string(),
        ]
    });
    let headings = ["value", "unit", "#one step is", "#lowest", "#highest", "type", "#bits to spare"];
    Table::of("intervals", "Intervals of all values", &headings, rows.collect())
}

/// Each figure of the loops by its key, which ends with its unit.
fn figures(of: &Handover) -> Vec<(&'static str, f64)> {
    let (f, p) = (&of.speed, &of.position);
    let mut all = vec![
        ("sample_time_s", f.sample_time),
        ("counts_per_rad", f.counts),
        ("counter_bits", f.counter_bits.into()),
        ("window_samples", f.window as f64),
        ("gain_v_s_per_rad", f.pi.gain),
        ("integral_time_s", f.pi.integral_time),
        ("setpoint_weight", f.pi.weight),
        ("tracking_time_s", f.pi.tracking_time),
        ("forward_speed_v_s_per_rad", f.feed_forward.speed),
        ("forward_acceleration_v_s2_per_rad", f.feed_forward.acceleration),
        ("forward_friction_v", f.feed_forward.friction),
        ("full_friction_speed_rad_per_s", f.feed_forward.full_friction_speed),
        ("ke_v_s_per_rad", f.constant),
        ("voltage_from_back_emf_v", f.voltage_from_back_emf),
        ("current_limit_a", of.current_limit),
        ("highest_duty", f.highest_duty),
        ("duty_counts", of.ranges.duty_counts.into()),
        ("position_gain_per_s", p.gain),
        ("top_speed_rad_per_s", p.top_speed),
    ];
    match f.bus {
        Bus::Taken(voltage) => all.push(("bus_v", voltage)),
        Bus::Measured { per_code, zero, lowest } => {
            all.extend([("bus_v_per_code", per_code), ("bus_zero_code", zero), ("bus_lowest_v", lowest)]);
        }
    }
    for (line, [per_code, zero]) in [
        (of.current, ["current_a_per_code", "current_zero_code"]),
        (of.voltage, ["voltage_v_per_code", "voltage_zero_code"]),
    ] {
        if let Some(line) = line {
            all.extend([(per_code, line.per_code), (zero, line.zero)]);
        }
    }
    let g = &of.guard;
    all.extend([
        ("guard_stall_current_a", g.stall_current),
        ("guard_stall_time_s", g.stall_time),
        ("guard_against_speed_rad_per_s", g.against_speed),
        ("guard_against_time_s", g.against_time),
        ("guard_fast_speed_rad_per_s", g.fast_speed),
        ("guard_fast_time_s", g.fast_time),
    ]);
    all
}

pub(crate) fn json(of: &Handover) -> String {
    let gain = |(key, value): (&str, f64)| match whole(key, value) {
        Some(value) => (key.to_owned(), json!(value)),
        None => (key.to_owned(), json!(value)),
    };
    let gains: Map<String, Value> = figures(of).into_iter().map(gain).collect();
    let told = json!({ "bench": of.bench, "axis": of.axis, "date": of.dated, "gains": gains });
    format!("{told:#}\n")
}

pub(crate) fn toml(of: &Handover) -> String {
    // A JSON string without control characters is a TOML string too.
    let quoted = |text: &str| Value::from(text).to_string();
    let mut out = format!("bench = {}\naxis = {}\n", quoted(&of.bench), quoted(&of.axis));
    if let Some(date) = &of.dated {
        out.push_str(&format!("date = {}\n", quoted(date)));
    }
    out.push_str("\n[gains]\n");
    for (key, value) in figures(of) {
        match whole(key, value) {
            Some(value) => out.push_str(&format!("{key} = {value}\n")),
            None => out.push_str(&format!("{key} = {value:?}\n")),
        }
    }
    out
}

/// What is counted is a whole number.
fn whole(key: &str, value: f64) -> Option<u32> {
    ["counter_bits", "window_samples", "duty_counts"].contains(&key).then_some(value as u32)
}
