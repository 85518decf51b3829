//! Torque over speed at the output of each axis: what can be had, what limits leave, what the motion asks for.

use super::build::{figures, unit};
use crate::view::View;
use bench::model::Axis;
use drive::assembly::DcAxis;
use finding::Sheet;
use finding::chart::{self, Area, Band, Chart, Limit, LimitAt, Lines, Plot, Purpose, Region, Series};
use finding::sheet::Block;
use worked::{Number, Origin, Unit, Worked, format};

/// The sheet of torque–speed lines.
pub(super) fn sheet(view: &View<'_>) -> Sheet {
    let mut blocks = Vec::new();
    let mut drawn: Vec<(&Axis, Vec<f64>)> = Vec::new();
    for (axis, dc) in view.dc_axes() {
        blocks.push(Block::Heading(format!("Axis {}", axis.name)));
        let parts = Parts::of(axis, dc);
        let key = parts.key(dc);
        if let Some((like, _)) = drawn.iter().find(|(_, other)| *other == key) {
            blocks.push(Block::Text(format!(
                "The same as axis {}: motor, gear, load and limits are alike.",
                like.name
            )));
            continue;
        }
        drawn.push((axis, key));
        match parts.chart(axis, dc) {
            Some(chart) => blocks.push(Block::Chart(chart)),
            None => blocks.push(Block::Text(
                "The figures of motor, gear and supply do not suffice for a line: the findings name what is missing.".to_owned(),
            )),
        }
        blocks.push(figures(&parts.shown()));
    }
    for axis in view.stepper_axes() {
        blocks.push(Block::Text(format!(
            "Axis {} has a stepper: torque over its step rate is the maker's pull-out curve, which no formula gives.",
            axis.name
        )));
    }
    Sheet {
        id: "torque-speed".to_owned(),
        title: "Torque and speed".to_owned(),
        summary: vec![
            "At the output of the gear, for the largest duty. The band holds over all tolerances, from the coldest air to \
             the winding at its limit, at low and at high supply."
                .to_owned(),
        ],
        blocks,
    }
}

/// Speeds at which the band is worked out.
const POINTS: usize = 9;

struct Parts {
    limited: Option<Worked>,
    lasting: Worked,
    gear_peak: Option<Worked>,
    gear_lasting: Option<Worked>,
    stall: Worked,
    needed: Option<Worked>,
    speed_unit: Unit,
    torque_unit: Unit,
}

impl Parts {
    fn of(axis: &Axis, dc: &DcAxis) -> Self {
        let gearbox = axis.gearbox.as_ref();
        let own = |record: &bench::Record, key: &str| record.datum(key).map(|datum| datum.unit.clone());
        let motor = axis.motor();
        let torque_unit = gearbox
            .and_then(|g| own(g, "peak_torque").or_else(|| own(g, "continuous_torque")))
            .or_else(|| motor.and_then(|m| own(m, "stall_torque").or_else(|| own(m, "rated_torque"))));
        let speed_unit = motor.and_then(|m| own(m, "no_load_speed").or_else(|| own(m, "rated_speed")));
        let known = |figure: Worked| Some(figure).filter(|f| !f.is_missing());
        let behind_stage = |torque| drive::assembly::torque_behind_stage(axis, torque);
        let still = drive::constants::zero("rad/s");
        Self {
            limited: dc.limited_output_torque(),
            lasting: dc.lasting_output_torque(),
            gear_peak: gearbox.and_then(|g| known(g.peak_torque())).map(behind_stage),
            gear_lasting: gearbox.and_then(|g| known(g.continuous_torque())).map(behind_stage),
            stall: dc
                .driven_output_torque(still)
                .called("torque with the output locked, no limit counted", "M_st"),
            needed: dc
                .accelerating_load_torque()
                .map(|t| t.called("torque of the load while it accelerates", "M_load")),
            speed_unit: speed_unit.unwrap_or_else(|| unit("rpm")),
            torque_unit: torque_unit.unwrap_or_else(|| unit("N·m")),
        }
    }

    /// Torques in the unit of the chart; what the gear stands is an input and shows in the parts.
    fn shown(&self) -> Vec<Worked> {
        let optional = [&self.limited, &self.needed].into_iter().flatten();
        let torques = [&self.stall, &self.lasting].into_iter().chain(optional);
        torques.map(|torque| torque.clone().shown_in(self.torque_unit.symbol())).collect()
    }

    /// What tells one axis from another.
    fn key(&self, dc: &DcAxis) -> Vec<f64> {
        let line = dc.cold_output_line();
        let mut key = vec![line[0].1, line[1].0];
        for torque in self.shown() {
            key.push(torque.value());
            key.extend(torque.worst_case().map_or([0.0; 2], <[f64; 2]>::from));
        }
        key.extend(dc.motion_at_output().iter().flatten().flatten());
        key
    }

    fn chart(&self, axis: &Axis, dc: &DcAxis) -> Option<Chart> {
        let point = |x: f64, y: f64| [self.speed_unit.from_si(x), self.torque_unit.from_si(y)];
        let line = dc.cold_output_line();
        if !line.iter().all(|(x, y)| x.is_finite() && y.is_finite()) || line[1].0 <= 0.0 {
            return None;
        }
        let mut lines = Lines {
            x: chart::Axis {
                label: "speed of the output".to_owned(),
                unit: self.speed_unit.symbol().to_owned(),
                ..chart::Axis::default()
            },
            y: chart::Axis {
                label: "torque at the output".to_owned(),
                unit: self.torque_unit.symbol().to_owned(),
                ..chart::Axis::default()
            },
            ..Lines::default()
        };
        let top = self.band(&mut lines, dc, line[1].0, &point);
        let nominal = line.iter().map(|(x, y)| point(*x, *y)).collect();
        lines.series.push(Series {
            name: "nominal, cold".to_owned(),
            purpose: Purpose::Nominal,
            points: nominal,
        });
        let motion = dc.motion_at_output();
        if let Some(points) = &motion {
            let points = points.iter().map(|p| point(p[0], p[1])).collect();
            let name = axis
                .motion
                .as_ref()
                .map_or_else(|| "motion".to_owned(), |(name, _)| format!("motion {name}"));
            lines.series.push(Series { name, purpose: Purpose::Course, points });
        }
        let mut limit = |label: &str, worked: &Worked| {
            let at = worked.value();
            if at.is_finite() {
                let text = format::plain(at, &self.torque_unit);
                lines.limits.push(Limit {
                    label: format!("{label} {text}"),
                    at: LimitAt::Y(self.torque_unit.from_si(at)),
                });
            }
        };
        if let Some(limited) = &self.limited {
            limit("current limit", limited);
        }
        limit("winding, for ever", &self.lasting);
        if let Some(lasting) = &self.gear_lasting {
            limit("gear, for ever", lasting);
        }
        let highest =
            [self.limited.as_ref(), Some(&self.lasting), self.gear_lasting.as_ref(), self.gear_peak.as_ref()];
        let highest =
            highest.into_iter().flatten().map(Worked::value).filter(|v| v.is_finite()).fold(0.0, f64::max);
        let asked = motion.iter().flatten().map(|p| p[1]);
        let lowest = asked.clone().fold(0.0, f64::min);
        // A stall torque far beyond all limits would press everything else to the ground.
        let needed = asked.fold(1.3 * highest, f64::max);
        let ceiling = if highest > 0.0 { top.min(3.0 * needed) } else { top };
        lines.y.range =
            Some([self.torque_unit.from_si(1.1 * lowest), self.torque_unit.from_si(1.05 * ceiling)]);
        if let Some(peak) = &self.gear_peak {
            let y = peak.value();
            if y < ceiling {
                let area = Area::Above(vec![point(0.0, y)]);
                let name = format!("gear above its peak torque, {}", format::plain(y, &self.torque_unit));
                lines.forbidden.push(Region { name, area });
            }
        }
        Some(Chart {
            id: format!("torque-speed-{}", axis.name),
            title: format!("Axis {}: torque over speed at the output", axis.name),
            alt: self.alt(dc, &line),
            caption: "The line falls from the torque of the locked shaft to the speed without load. What a current limit \
                      leaves lies below its level; the motion, with the inertia of rotor and gear counted as torque \
                      asked, must lie inside of the band's lower edge and below every level that it meets for long."
                .to_owned(),
            plot: Plot::Lines(lines),
        })
    }

    /// The band over all tolerances; the result is its highest torque.
    fn band(
        &self,
        lines: &mut Lines,
        dc: &DcAxis,
        fastest: f64,
        point: &dyn Fn(f64, f64) -> [f64; 2],
    ) -> f64 {
        let speed = |x: f64| {
            Worked::known(x, "rad/s", "ω_L", "speed of the output", Origin::assumed("a point of the line"))
        };
        let mut band = Band { name: "all tolerances, cold to hot".to_owned(), ..Band::default() };
        let mut top: f64 = dc.cold_output_line()[0].1;
        let mut ends = Vec::new();
        for k in 0..POINTS {
            let x = 1.3 * fastest * k as f64 / (POINTS - 1) as f64;
            let Some((low, high)) = dc.driven_output_torque(speed(x)).worst_case() else { continue };
            top = top.max(high);
            ends.push((x, low, high));
        }
        band.lower =
            above_zero(ends.iter().map(|(x, low, _)| [*x, *low])).iter().map(|p| point(p[0], p[1])).collect();
        band.upper = above_zero(ends.iter().map(|(x, _, high)| [*x, *high]))
            .iter()
            .map(|p| point(p[0], p[1]))
            .collect();
        if band.upper.len() > 1 {
            lines.bands.push(band);
        }
        top
    }

    fn alt(&self, dc: &DcAxis, line: &[(f64, f64); 2]) -> String {
        let mut words = format!(
            "Nominal and cold: {} locked, {} without load.",
            format::plain(line[0].1, &self.torque_unit),
            format::plain(line[1].0, &self.speed_unit)
        );
        if let Some(limited) = &self.limited {
            words.push_str(&format!(
                " The current limit leaves {}.",
                format::plain(limited.value(), &self.torque_unit)
            ));
        }
        let asked = dc.motion_at_output().and_then(|points| points.iter().map(|p| p[1]).reduce(f64::max));
        if let (Some(asked), Some(motion)) = (asked, &dc.motion) {
            words.push_str(&format!(
                " The motion asks for up to {} and {}.",
                format::plain(asked, &self.torque_unit),
                format::plain(motion.speed.value(), &self.speed_unit)
            ));
        }
        words
    }
}

/// An edge down to the ground and along it: the point where it meets the ground is put in.
fn above_zero(points: impl Iterator<Item = [f64; 2]>) -> Vec<[f64; 2]> {
    let mut edge: Vec<[f64; 2]> = Vec::new();
    let mut before: Option<[f64; 2]> = None;
    for [x, y] in points {
        if let Some([x0, y0]) = before
            && y0 > 0.0
            && y < 0.0
        {
            edge.push([x0 + (x - x0) * y0 / (y0 - y), 0.0]);
        }
        edge.push([x, y.max(0.0)]);
        before = Some([x, y]);
    }
    edge
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_edge_meets_the_ground_where_it_crosses_it() {
        let edge = above_zero([[0.0, 3.0], [1.0, 1.0], [2.0, -1.0], [3.0, -3.0]].into_iter());
        assert_eq!(edge, [[0.0, 3.0], [1.0, 1.0], [1.5, 0.0], [2.0, 0.0], [3.0, 0.0]]);
    }
}
