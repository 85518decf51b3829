//! Gains of an axis: the fastest that keep their margins over the whole box, or the safest that do what is wanted.
//!
//! The crossover of the speed loop is chosen; window, gains and position gain follow from it by the rules of
//! `controller::gains`, with an integral time up to 2.5 times longer and a position loop up to 2.5 times slower than those
//! have it. Gains are taken where every margin is proven over the whole box of figures. Where something
//! is wanted of the axis, it also has to be met at nominal figures and at every corner of the box, and of those that meet
//! it the one farthest from −1 is taken.

use crate::axis::Seen;
use crate::enclosed::{Effort, Enclosed, Output, Ranges, met};
use crate::law::{Law, Loop};
use crate::margins::{Grid, Margins};
use crate::plant::Figures;
use crate::step::{Dip, Step};
use controller::count::LONGEST_WINDOW;
use controller::gains::{SPEED_OVER_POSITION, encoder_ceiling, quiet_window, speed_loop_at};
use controller::{Drive, Encoder, SpeedFigures};
use rayon::prelude::*;

/// Margins that a loop has to keep.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Kept {
    /// Gain margin, a factor.
    pub gain: f64,
    /// Phase margin, rad.
    pub phase: f64,
    /// Peak of the sensitivity.
    pub sensitivity: f64,
}

impl Kept {
    /// 6 dB, 45° and 2. Common practice, no source.
    pub const USUAL: Self =
        Self { gain: 1.995_262_314_968_88, phase: std::f64::consts::FRAC_PI_4, sensitivity: 2.0 };

    fn by(&self, margins: &Margins) -> bool {
        margins.gain >= self.gain && margins.phase >= self.phase && margins.sensitivity <= self.sensitivity
    }

    fn proven(&self, worst: &Enclosed) -> bool {
        worst.gain.bound >= self.gain
            && worst.phase.bound >= self.phase
            && worst.sensitivity() <= self.sensitivity
    }

    fn met(&self, worst: &Enclosed) -> bool {
        // What a corner breaks needs no proof.
        worst.gain.met >= self.gain
            && worst.phase.met >= self.phase
            && worst.distance.met * self.sensitivity >= 1.0
    }
}

/// What is wanted of the axis; `None` where it does not matter. Angles are those of the motor shaft.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct Wanted {
    /// Longest rise of a step from 10 % to 90 %, s.
    pub rise: Option<f64>,
    /// Largest overshoot of a step, as a part of it.
    pub overshoot: Option<f64>,
    /// Longest time until a step stays within 2 %, s.
    pub settling: Option<f64>,
    /// Lowest crossover of the speed loop, rad/s.
    pub bandwidth: Option<f64>,
    /// Largest distance behind a ramp of the speed, rad, and the acceleration of the ramp, rad/s².
    pub following: Option<(f64, f64)>,
    /// Least torque over the largest angle that it turns the shaft, N·m/rad.
    pub stiffness: Option<f64>,
}

impl Wanted {
    /// Whether anything is wanted.
    pub fn is_any(&self) -> bool {
        self != &Self::default()
    }
}

/// What moves, what counts it, and how often: all that gains are made from.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Task {
    /// The drive at nominal figures.
    pub drive: Drive,
    /// The encoder.
    pub encoder: Encoder,
    /// Sample time, s.
    pub sample_time: f64,
    /// Figures for the model of the loop.
    pub figures: Figures,
    /// Their ranges.
    pub ranges: Ranges,
    /// Inertia of rotor and gear, kg·m²; the rest turns with the square of the ratio.
    pub rotor_inertia: f64,
    /// Steps are those of a position; else of a speed.
    pub controls_position: bool,
    /// A position loop goes around the speed loop.
    pub holds_position: bool,
}

/// Gains of both loops.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Gains {
    /// The speed loop.
    pub speed: SpeedFigures,
    /// Gain of the position loop, 1/s; `None` where a speed is controlled.
    pub position: Option<f64>,
}

impl Gains {
    /// Crossover that the speed loop was made for, rad/s.
    pub fn crossover(&self) -> f64 {
        self.speed.pi.gain / self.speed.feed_forward.acceleration
    }

    /// As a simulated motion takes them.
    pub fn for_motion(&self) -> simulate::moves::Gains {
        simulate::moves::Gains {
            pi: self.speed.pi,
            window: self.speed.window,
            full_friction_speed: self.speed.feed_forward.full_friction_speed,
            position: self.position,
        }
    }

    /// The speed loop alone.
    pub fn speed_law(&self) -> Law {
        Law::of_speed(&self.speed)
    }

    /// All of it as one loop, broken at the voltage.
    pub fn law(&self) -> Law {
        self.speed_law().around_position(self.position.unwrap_or(0.0))
    }

    /// How far the position stays behind while the speed of the reference changes at a rate (rad/s²), rad of the motor.
    ///
    /// Source: derived in `docs/models/control.md`.
    pub fn behind(&self, acceleration: f64) -> f64 {
        let speed = &self.speed;
        let window = speed.window as f64 * speed.sample_time;
        let lag = speed.constant * speed.pi.integral_time / speed.pi.gain - window / 2.0;
        self.position.map_or(f64::INFINITY, |gain| (acceleration * lag / gain).abs())
    }
}

/// How steps go.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Steps {
    /// Of the reference.
    pub step: Step,
    /// Of the load, by [`Task::load`].
    pub dip: Dip,
}

/// Gains with all that is known of them.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Judged {
    /// The gains.
    pub gains: Gains,
    /// Margins at nominal figures; `None` where the loop does not settle.
    pub nominal: Option<Margins>,
    /// Margins over the box.
    pub worst: Enclosed,
    /// Steps at nominal figures.
    pub steps: Steps,
    /// The worst of each at the corners of the box.
    pub at_corners: Steps,
    /// The margins are kept over the whole box, proven.
    pub keeps: bool,
    /// What is wanted is met at nominal figures and at every corner.
    pub meets: bool,
    /// How far the worst of what is wanted is missed, as a factor; 1 or less where all is met.
    pub miss: f64,
}

/// What came of looking for gains.
#[derive(Clone, Debug)]
pub struct Designed {
    /// The best gains; where nothing does, the fastest that keep their margins, or the slowest of all.
    pub best: Judged,
    /// Every crossover that was looked at, slowest first.
    pub looked_at: Vec<Judged>,
}

impl Designed {
    /// Whether the best keep their margins and do what is wanted.
    pub fn does(&self) -> bool {
        self.best.keeps && self.best.meets
    }
}

/// Crossovers that are looked at.
const LOOKS: usize = 24;
/// Lowest of them over the highest.
const REACH: f64 = 0.01;
/// Gains of which a proof is tried, best first, before it is given up.
const PROOFS: usize = 12;
/// How long steps are looked at, over the time constant of the outer loop.
const LOOK: f64 = 12.0;
/// Most samples of that.
const MOST_SAMPLES: f64 = 8_000.0;

/// What gains for a crossover look like.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Shape {
    /// Integral time over that of the rule.
    pub integral: f64,
    /// Crossover of the speed loop over the gain of the position loop.
    pub position: f64,
}

impl Shape {
    /// As the rules have it.
    pub const BY_RULE: Self = Self { integral: 1.0, position: SPEED_OVER_POSITION };
}

impl Task {
    /// Of an axis.
    pub fn of(seen: &Seen, wanted: &Wanted) -> Self {
        Self {
            drive: seen.drive,
            encoder: seen.encoder,
            sample_time: seen.sample_time,
            figures: seen.figures,
            ranges: seen.ranges,
            rotor_inertia: seen.rotor_inertia,
            controls_position: seen.controls_position,
            holds_position: seen.controls_position
                || wanted.following.is_some()
                || wanted.stiffness.is_some(),
        }
    }

    /// The load step that steps are told for: half of the torque at the rated current, N·m.
    pub fn load(&self) -> f64 {
        0.5 * self.drive.constant * self.drive.rated_current
    }

    /// Highest crossover that delay and encoder leave any gains for, rad/s.
    pub fn highest(&self) -> f64 {
        let delay = |window: usize| {
            self.sample_time * (1.5 + 0.5 * window as f64) + self.drive.inductance / self.drive.resistance
        };
        // λ = 0 at the shortest window.
        let by_delay = 1.0 / delay(self.encoder.window.unwrap_or(1));
        by_delay.min(encoder_ceiling(&self.drive, &self.encoder))
    }

    /// Gains for a crossover; `None` where no window is quiet enough.
    ///
    /// # Errors
    /// Where a figure is none that a loop can have.
    pub fn gains(&self, crossover: f64, shape: Shape) -> Result<Option<Gains>, controller::Unusable> {
        let quiet = quiet_window(&self.drive, &self.encoder, self.sample_time, crossover);
        let window = match self.encoder.window {
            Some(window) if quiet > window => return Ok(None),
            Some(window) => window,
            None if quiet > LONGEST_WINDOW => return Ok(None),
            None => quiet,
        };
        let mut speed = speed_loop_at(&self.drive, &self.encoder, self.sample_time, (window, crossover))?;
        speed.stretch(shape.integral);
        let position = self.holds_position.then(|| crossover / shape.position);
        Ok(Some(Gains { speed, position }))
    }

    /// Judges gains: margins proven over the box, steps at its corners.
    pub fn judge(&self, gains: Gains, wanted: &Wanted, kept: &Kept, grid: &Grid) -> Judged {
        self.proven(self.look(gains, wanted, None, grid), kept)
    }

    /// Gains with their margins and steps at nominal figures and at the corners of the box; nothing is proven. Where nominal
    /// figures do not keep some margins, corners are not looked at, and where corners do not, their steps are not.
    fn look(&self, gains: Gains, wanted: &Wanted, kept: Option<&Kept>, grid: &Grid) -> Judged {
        let laws = self.laws(&gains);
        let nominal = laws
            .iter()
            .map(|law| grid.margins(&Loop::new(*law, &self.figures.speed())))
            .reduce(|a, b| a.zip(b).map(|(a, b)| a.less(&b)))
            .flatten();
        let keeps = nominal.is_some_and(|nominal| kept.is_none_or(|kept| kept.by(&nominal)));
        let corners = laws.iter().filter(|_| keeps).map(|law| met(grid, law, Output::Speed, &self.ranges));
        let worst = corners.reduce(|a, b| a.less(&b)).unwrap_or(Enclosed::NONE);
        let keeps = keeps && kept.is_none_or(|kept| kept.met(&worst));
        let samples = self.samples(&gains);
        let stepped = if self.controls_position { gains.law() } else { gains.speed_law() };
        let steps = |figures: &Figures| {
            let of = |law: Law| Loop::new(law, &figures.speed());
            let load = figures.load_step(self.load());
            Steps { step: of(stepped).step(samples), dip: of(gains.law()).dip(load, samples) }
        };
        let at_nominal = steps(&self.figures);
        let settles = keeps && worst.distance.met > 0.0;
        let at_corners = match settles {
            true => self
                .ranges
                .corners()
                .map(|bits| steps(&self.ranges.corner(bits)))
                .fold(at_nominal, Steps::worse),
            false => at_nominal,
        };
        let miss = if settles { self.miss(&gains, &at_corners, wanted) } else { f64::INFINITY };
        Judged {
            gains,
            nominal,
            worst,
            steps: at_nominal,
            at_corners,
            keeps: false,
            meets: miss <= 1.0,
            miss,
        }
    }

    /// The same with its margins proven, where the corners leave anything to prove.
    fn proven(&self, mut judged: Judged, kept: &Kept) -> Judged {
        if judged.nominal.is_none() || judged.worst.distance.met <= 0.0 {
            return judged;
        }
        let over = |law: &Law| judged.worst.proven(law, Output::Speed, &self.ranges, Effort::default());
        let worst = self.laws(&judged.gains).iter().map(over).reduce(|a, b| a.less(&b));
        judged.worst = worst.unwrap_or(Enclosed::NONE);
        judged.keeps = judged.nominal.is_some_and(|nominal| kept.by(&nominal)) && kept.proven(&judged.worst);
        judged
    }

    /// The loops that are closed with gains: all of it, and the speed loop alone where that is used too.
    pub fn laws(&self, gains: &Gains) -> Vec<Law> {
        match self.holds_position && !self.controls_position {
            true => vec![gains.law(), gains.speed_law()],
            false => vec![gains.law()],
        }
    }

    /// Samples over which steps of a loop are looked at.
    pub fn samples(&self, gains: &Gains) -> usize {
        let slowest = gains.position.unwrap_or(gains.crossover()).min(1.0 / gains.speed.pi.integral_time);
        (LOOK / (slowest * self.sample_time)).clamp(50.0, MOST_SAMPLES) as usize
    }

    /// How far the worst of what is wanted is missed, as a factor; 1 or less where all is met.
    fn miss(&self, gains: &Gains, steps: &Steps, wanted: &Wanted) -> f64 {
        let most = |limit: Option<f64>, value: f64| limit.map_or(0.0, |limit| ratio(value, limit));
        let least = |limit: Option<f64>, value: f64| limit.map_or(0.0, |limit| ratio(limit, value));
        let behind = wanted.following.map_or(0.0, |(limit, rate)| ratio(gains.behind(rate), limit));
        let all = [
            most(wanted.rise, steps.step.rise),
            most(wanted.overshoot, steps.step.overshoot),
            most(wanted.settling, steps.step.settling),
            least(wanted.bandwidth, gains.crossover()),
            behind,
            least(wanted.stiffness, self.stiffness(steps)),
        ];
        all.into_iter().fold(0.0, f64::max)
    }

    /// Torque over the largest angle that it turns the motor shaft, N·m/rad.
    pub fn stiffness(&self, steps: &Steps) -> f64 {
        match self.holds_position {
            true => self.load() / steps.dip.depth,
            false => self.load() / steps.dip.way,
        }
    }

    /// Looks for gains.
    ///
    /// # Errors
    /// Where no crossover gives any, or a figure is none that a loop can have.
    pub fn design(&self, wanted: &Wanted, kept: &Kept, grid: &Grid) -> Result<Designed, String> {
        let highest = self.highest();
        let crossover = |k: usize| highest * libm::pow(REACH, 1.0 - k as f64 / (LOOKS - 1) as f64);
        let mut all: Vec<Gains> = Vec::new();
        for k in 0..LOOKS {
            for shape in self.shapes() {
                all.extend(self.gains(crossover(k), shape).map_err(|why| why.to_string())?);
            }
        }
        let mut looked_at: Vec<Judged> =
            all.into_par_iter().map(|gains| self.look(gains, wanted, Some(kept), grid)).collect();
        // Those that the corners leave, best first: what is not proven gives way to the next.
        let may = |judged: &Judged| judged.nominal.is_some_and(|n| kept.by(&n)) && kept.met(&judged.worst);
        let farthest = |a: &Judged, b: &Judged| b.worst.distance.met.total_cmp(&a.worst.distance.met);
        let fastest = |a: &Judged, b: &Judged| {
            b.gains.crossover().total_cmp(&a.gains.crossover()).then_with(|| farthest(a, b))
        };
        let mut meet: Vec<Judged> = looked_at.iter().filter(|j| may(j) && j.meets).copied().collect();
        if wanted.is_any() {
            meet.sort_by(farthest);
        } else {
            meet.sort_by(fastest);
        }
        let prove = |of: Vec<Judged>| {
            of.into_iter().take(PROOFS).map(|judged| self.proven(judged, kept)).find(|judged| judged.keeps)
        };
        let mut best = prove(meet);
        if best.is_none() && wanted.is_any() {
            // Those that come nearest to what is wanted.
            let mut keep: Vec<Judged> = looked_at.iter().filter(|j| may(j)).copied().collect();
            keep.sort_by(|a, b| a.miss.total_cmp(&b.miss).then_with(|| farthest(a, b)));
            best = prove(keep);
        }
        if best.is_none() {
            // Nothing keeps its margins: what comes nearest to it at nominal figures.
            let peak = |judged: &Judged| judged.nominal.map_or(f64::INFINITY, |nominal| nominal.sensitivity);
            let nearest = looked_at.iter().min_by(|a, b| peak(a).total_cmp(&peak(b)));
            best = nearest.map(|judged| self.judge(judged.gains, wanted, kept, grid));
        }
        looked_at.sort_by(|a, b| a.gains.crossover().total_cmp(&b.gains.crossover()));
        match best {
            Some(best) => Ok(Designed { best, looked_at }),
            None => Err(format!(
                "no window of {} samples or less is long enough for its encoder: one count makes more than {} of the \
                 rated current at every crossover from {:.3} rad/s on; take an encoder with more lines, or a longer window",
                self.encoder.window.unwrap_or(LONGEST_WINDOW),
                controller::gains::CURRENT_OF_A_COUNT,
                crossover(0),
            )),
        }
    }

    /// What gains for a crossover may look like: the integral time over that of the rule, the crossover over the gain of the
    /// position loop.
    fn shapes(&self) -> Vec<Shape> {
        let stretched = [1.0, 1.6, 2.5].map(|integral| Shape { integral, ..Shape::BY_RULE });
        match self.holds_position {
            false => stretched.to_vec(),
            true => stretched
                .into_iter()
                .flat_map(|shape| {
                    [1.0, 1.5, 2.5].map(|slower| Shape { position: slower * shape.position, ..shape })
                })
                .collect(),
        }
    }
}

/// A quotient; infinite where something stands over nothing.
fn ratio(value: f64, over: f64) -> f64 {
    if value <= 0.0 { 0.0 } else { value / over }
}

impl Steps {
    /// The worse of each figure.
    fn worse(self, other: Self) -> Self {
        Self {
            step: Step {
                rise: self.step.rise.max(other.step.rise),
                overshoot: self.step.overshoot.max(other.step.overshoot),
                settling: self.step.settling.max(other.step.settling),
            },
            dip: Dip {
                depth: self.dip.depth.max(other.dip.depth),
                time: self.dip.time.max(other.dip.time),
                recovery: self.dip.recovery.max(other.dip.recovery),
                way: self.dip.way.max(other.dip.way),
            },
        }
    }
}
