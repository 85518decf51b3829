//! The lines from an axis to its controller, as the simulation reads them.

use crate::sensing::{EncoderLine, Sampling, SenseLine, Sensed, Sensing};
use bench::Bench;
use bench::file::Sampling as Converting;
use bench::model::Axis;
use drive::assembly::encoder::{EncoderPath, counts_at_motor};
use drive::assembly::sense::Tells;
use drive::assembly::{self, DcAxis};
use drive::sense::SensePoint;
use logs::quadrature::Marks;
use std::f64::consts::TAU;
use worked::Worked;

/// Width of a counter of which no sheet tells.
const USUAL_BITS: u32 = 16;

/// All lines of an axis that a pin reads, at nominal values.
pub fn sensing(bench: &Bench, axis: &Axis, dc: &DcAxis) -> Sensing {
    let value = |figure: &Worked| figure.value();
    let axes = [(axis, Some(dc.clone()))];
    let lines = assembly::sense::SenseLine::all(bench, &axes, &[]);
    let of = |tells: Tells| {
        let line =
            lines.iter().find(|line| line.tells == tells && line.axis.as_deref() == Some(&*axis.name))?;
        let noise = if line.adc.has("noise") { value(&line.adc.noise()) } else { 0.0 };
        let (sensor, converter) = line.nominal();
        let known = [sensor.zero, sensor.scale, converter.reference, converter.lowest, converter.codes];
        let sees = match (tells, line.point) {
            (Tells::Voltage, _) if line.both_signs => Sensed::MotorVoltage,
            (Tells::Voltage, _) => Sensed::BusVoltage,
            (Tells::Current, Some(SensePoint::LowLeg)) => Sensed::LowLegCurrent,
            (Tells::Current, Some(SensePoint::SupplyInput)) => Sensed::SupplyCurrent,
            (Tells::Current, Some(SensePoint::MotorLead) | None) => Sensed::MotorCurrent,
        };
        let filter_time = line.filter.as_ref().map_or(0.0, value);
        let finite = |figure: f64| if figure.is_finite() { figure } else { 0.0 };
        known.iter().all(|figure| figure.is_finite()).then(|| SenseLine {
            sees,
            sensor,
            converter,
            filter_time: finite(filter_time),
            noise: finite(noise),
        })
    };
    let (current, voltage) = (of(Tells::Current), of(Tells::Voltage));
    let encoder = axis.encoder.as_ref().and_then(|part| {
        let lines = value(&counts_at_motor(axis, part)) * TAU / 4.0;
        // A sheet gives the largest error; a line is as many electrical radians as a turn has.
        let error = if part.has("phase_error") { value(&part.phase_error()) / TAU } else { 0.0 };
        let marks = Marks::new(error, 0.0).unwrap_or(Marks::TRUE);
        let bits = EncoderPath::of(bench, axis, Some(dc)).and_then(|path| path.counter_bits());
        let bits = bits.filter(|bits| (2..=62).contains(bits)).unwrap_or(USUAL_BITS);
        (lines > 0.0).then_some(EncoderLine { lines, marks, bits, swapped: false, stuck: None })
    });
    Sensing { current, voltage, encoder, sampling: Sampling::AtRows, seed: 1 }
}

/// The line that tells the controller the voltage of the bus of an axis.
pub(crate) fn bus_line(bench: &Bench, axis: &Axis, dc: &DcAxis) -> Option<assembly::sense::SenseLine> {
    let lines = assembly::sense::SenseLine::all(bench, &[(axis, Some(dc.clone()))], &[]);
    let own = |line: &assembly::sense::SenseLine| {
        line.tells == Tells::Voltage && !line.both_signs && line.axis.as_deref() == Some(&*axis.name)
    };
    lines.into_iter().find(own)
}

/// When the converter of a controller samples.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) enum When {
    /// In the middle of the on-time.
    OnTime,
    /// In the middle of an off-time.
    OffTime,
    /// By a clock of its own, s from one to the next.
    Own(f64),
}

/// As the bench says. A converter that runs free takes a sample with each pass of the loop.
pub(crate) fn sampled(bench: &Bench) -> When {
    let Some(controller) = bench.controller() else { return When::OffTime };
    let entry = controller.entry.r#loop();
    match entry.adc().value {
        Some(Converting::CentreOfOnTime) => When::OnTime,
        Some(Converting::FreeRunning) if entry.has("sample_time") => When::Own(entry.sample_time().value()),
        _ => When::OffTime,
    }
}

impl When {
    /// What is sampled last before each row: so many PWM periods apart.
    pub(crate) fn before(self, every: u64, frequency: f64) -> Sampling {
        let every = every as f64;
        match self {
            // The on-time lies in the middle of its period.
            Self::OnTime => Sampling::Clock { period: every / frequency, offset: (every - 0.5) / frequency },
            Self::OffTime => Sampling::AtRows,
            Self::Own(period) => Sampling::Clock { period, offset: 0.0 },
        }
    }
}
