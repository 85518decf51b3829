//! What the bench says of a line, as its pin sees it.

use bench::Bench;
use bench::file::AdapterKind;
use drive::assembly::sense::SenseLine;
use drive::sense::Converter;
use worked::{Dimension, Worked};

/// The line with its figures.
pub(super) struct Known {
    /// As the bench writes it.
    pub(super) name: String,
    /// Dimension of what it tells.
    pub(super) dimension: Dimension,
    /// Voltage at the pin at zero.
    pub(super) zero: Worked,
    /// Volts at the pin for one unit of what it tells; below zero where they fall.
    pub(super) scale: Worked,
    /// The converter behind the pin, at nominal values; none where no analogue pin reads the line.
    pub(super) converter: Option<Converter<f64>>,
    /// A divider sits in the line.
    pub(super) divider: bool,
}

impl Known {
    /// A line by its name.
    pub(super) fn of(bench: &Bench, name: &str) -> Option<Self> {
        let sensed = bench.sensed().into_iter().find(|line| line.name == name)?;
        let axes: Vec<_> = bench.axes().iter().map(|axis| (axis, None)).collect();
        let line = SenseLine::all(bench, &axes, &[]).into_iter().find(|line| line.name == name);
        let (device, signal) = name.split_once(':')?;
        let own = name.to_owned();
        let adapters = bench.adapters_on(device, signal);
        let divider = adapters.iter().any(|(_, adapter)| adapter.kind().is(AdapterKind::Divider));
        let Some(line) = line else {
            let (zero, scale) = (sensed.zero, sensed.scale);
            return Some(Self {
                name: own,
                dimension: sensed.dimension,
                zero,
                scale,
                converter: None,
                divider,
            });
        };
        let converter = line.nominal().1;
        let is_known = [converter.reference, converter.lowest, converter.codes].iter().all(|x| x.is_finite());
        let drive::sense::Sensor { zero, scale } = line.as_wired();
        let converter = is_known.then_some(converter);
        Some(Self { name: own, dimension: sensed.dimension, zero, scale, converter, divider })
    }
}
