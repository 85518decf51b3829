//! What a gear tells that is wound up against a held output: its stiffness, play and friction.

use super::beside::{Beside, Context, Figure};
use super::said::band;
use super::taken::Taken;
use crate::parameter::Parameter;
use crate::two_mass::{Play, Winding, play};
use finding::Chart;
use finding::chart::{Axis, AxisScale, Lines, Plot, Point, Purpose, Series};
use std::f64::consts::PI;
use worked::{Dimension, Worked};

/// Points of a picture at most.
const POINTS: usize = 1000;

impl Context<'_> {
    pub(super) fn winds_up(&self, log: &Taken) -> Option<Beside> {
        let (current, motor) = (log.current.as_deref()?, log.angle.as_deref()?);
        if !log.conditions.winds_up {
            return None;
        }
        let (constant, u) = self.known(Parameter::Constant).or_else(|| self.constant_of_sheet())?;
        let torque_gain = libm::hypot(u / constant, self.sensors.current.gain);
        let (resolution, ratio) = (log.resolution, self.said.ratio);
        let winding = Winding { current, motor, resolution, output: None, ratio, constant, torque_gain };
        let (figures, remark) = match play(&winding) {
            Ok(found) => {
                let figures = self.figures(&found);
                let remark = (figures.len() < 4).then(|| {
                    "what is told above is all that it carries: wind up slowly to both sides, with more torque, several times"
                        .to_owned()
                });
                (figures, remark)
            }
            Err(why) => (Vec::new(), Some(why.to_string())),
        };
        let pictures = vec![picture(&log.name, &winding)];
        Some(Beside { log: log.name.clone(), way: "winding up", figures, remark, pictures })
    }

    fn constant_of_sheet(&self) -> Option<(f64, f64)> {
        let figure = self.said.figure(Parameter::Constant, self.by_duty, false)?;
        Some((figure.value(), figure.uncertainty().map_or(0.0, |of| of.u)))
    }

    /// Those that are carried.
    fn figures(&self, found: &Play) -> Vec<Figure> {
        let said = |figure: Option<Worked>| band(&figure?);
        let friction = self.said.figure(Parameter::CoulombFriction, self.by_duty, false);
        let figures = [
            Figure {
                name: "stiffness at the shaft that drives the load",
                dimension: Dimension::TORSIONAL_STIFFNESS,
                told: found.stiffness,
                said: said(self.said.stiffness.clone()),
            },
            Figure {
                name: "play at the shaft that drives the load",
                dimension: Dimension::ANGLE,
                told: found.backlash,
                said: band(&self.said.play),
            },
            Figure {
                name: "dry friction of motor and gear, at the motor",
                dimension: Dimension::TORQUE,
                told: found.friction,
                said: said(friction),
            },
            Figure {
                name: "efficiency of the gear, motor driving",
                dimension: Dimension::NONE,
                told: found.efficiency,
                said: band(&self.said.dc.gear.efficiency),
            },
        ];
        figures.into_iter().filter(|figure| figure.told.is_carried()).collect()
    }
}

/// Torque of the motor over the angle by which it winds up.
fn picture(log: &str, winding: &Winding<'_>) -> Chart {
    let every = (winding.current.len() / POINTS).max(1);
    let degrees = 180.0 / PI / winding.ratio;
    let start = winding.motor.iter().copied().find(|angle| angle.is_finite()).unwrap_or(0.0);
    let rows = winding.motor.iter().zip(winding.current).step_by(every);
    let points: Vec<Point> = rows
        .map(|(angle, current)| [degrees * (angle - start), winding.constant * winding.ratio * current])
        .filter(|[x, y]| x.is_finite() && y.is_finite())
        .collect();
    let axis = |label: &str, unit: &str| Axis {
        label: label.to_owned(),
        unit: unit.to_owned(),
        scale: AxisScale::Linear,
        range: None,
    };
    let lines = Lines {
        x: axis("angle of the motor over the ratio", "°"),
        y: axis("torque of the motor times the ratio", "N·m"),
        series: vec![Series { name: "measured".to_owned(), purpose: Purpose::Measured, points }],
        ..Lines::default()
    };
    Chart {
        id: String::new(),
        title: format!("{log}: torque over the angle of winding up"),
        alt: "torque against angle as the gear is wound up to both sides against its held output".to_owned(),
        caption: "The flat stretch about zero torque is the play, the slopes are the stiffness, and the way up lies above the way \
                  back by twice the dry friction."
            .to_owned(),
        plot: Plot::Lines(lines),
    }
}
