//! What the lines of a dump tell beside what the bench says, with a verdict on each figure.

use super::encoder::Seen;
use super::grid::{Even, Pulses};
use super::{Survey, reverses};
use crate::gate::{Remark, Sign, Spoils, Strength};
use crate::measured::columns::Column;
use crate::measured::said::{Said, band};
use crate::parameter::Parameter;
use drive::assembly::EncoderPath;
use drive::assembly::encoder::Counted;
use logs::quadrature::Estimate;
use std::f64::consts::TAU;
use worked::format::{choose_unit, plain, sensible};
use worked::{Dimension, Unit, Worked};

/// What the lines of a dump tell.
#[derive(Clone, Debug)]
pub struct Lines {
    /// The dump.
    pub log: String,
    /// The axis.
    pub axis: String,
    /// Figures, each beside what the bench says.
    pub figures: Vec<Figure>,
    /// What is wrong.
    pub wrong: Vec<Wrong>,
    /// Signals of the dump, and those that were taken.
    pub signals: usize,
    /// Signals that were taken.
    pub columns: Vec<Column>,
    /// Whether it is a log that can be fitted.
    pub fits: bool,
    /// A step of the dump, the step in which edges come, and its length, s.
    pub steps: [f64; 3],
    /// What was noticed while it was read.
    pub notes: Vec<String>,
    /// Speeds: time, value, bound.
    pub(in crate::measured) speeds: Vec<[f64; 3]>,
    /// Duty over time.
    pub(in crate::measured) duty: Vec<[f64; 2]>,
    lost: Vec<f64>,
    edges: u64,
    losses: u64,
}

/// A figure of the lines.
#[derive(Clone, PartialEq, Debug)]
pub struct Figure {
    /// What it is.
    pub name: String,
    /// The value in SI, and its half 95 % interval where it has one.
    pub value: f64,
    /// Half of its 95 % interval; none of what was counted.
    pub half: Option<f64>,
    /// SI unit; empty for pure numbers.
    pub unit: &'static str,
    /// As they are shown.
    pub shown: [String; 2],
    /// What the bench says; empty where it is silent.
    pub bench: String,
    /// The verdict.
    pub verdict: String,
}

/// Something that is wrong with the lines.
#[derive(Clone, PartialEq, Debug)]
pub struct Wrong {
    /// Its name: `lost-edges`.
    pub name: &'static str,
    /// What is wrong, with its number.
    pub says: String,
    /// What to do.
    pub remedy: &'static str,
    /// What it is of the signs that spoil a log.
    sign: Option<Sign>,
}

/// Edges there and back, closer than those of an encoder, that a shaft may make where it stops (common practice, no source).
const SPIKES: u64 = 2;
/// Edges of one line from which the other has to have some too; a shaft that comes to rest on an edge has fewer (common
/// practice, no source).
const ALONE: u64 = 8;
/// Part of the edges that may be lost before what turns is spoiled.
const LOST: f64 = 0.01;
/// Part by which the frequency of a PWM may be off: the clock of a controller (common practice, no source).
const CLOCK: f64 = 1e-3;
/// Part of a value below which an interval by the steps of the dump is not told: the clock of the instrument itself.
const FINEST: f64 = 1e-5;
/// Times its limit that an error of marks may be: sheets round (common practice, no source).
const ROUNDED: f64 = 1.01;
/// What hangs on the way that the shaft went.
const TURNING: &[Parameter] =
    &[Parameter::Constant, Parameter::Inertia, Parameter::CoulombFriction, Parameter::ViscousFriction];

impl Lines {
    pub(super) fn of(
        log: &str,
        said: &Said,
        encoder: Option<&EncoderPath>,
        columns: &[Column],
        signals: usize,
        survey: &Survey,
        seen: Option<&Seen>,
    ) -> Self {
        let length = (survey.span.1 - survey.span.0) as f64 * survey.step;
        let mut lines = Self {
            log: log.to_owned(),
            axis: said.axis.clone(),
            figures: Vec::new(),
            wrong: Vec::new(),
            signals,
            columns: columns.to_vec(),
            fits: false,
            steps: [survey.step, survey.grain as f64 * survey.step, length],
            notes: Vec::new(),
            speeds: Vec::new(),
            duty: Vec::new(),
            lost: Vec::new(),
            edges: 0,
            losses: 0,
        };
        if let Some(seen) = seen {
            lines.counts(seen, said);
            lines.rates(seen, encoder);
            lines.marks(seen, encoder);
            lines.index(seen, encoder);
        }
        if let Some(pulses) = &survey.pulses {
            lines.pwm(pulses, said, survey.step);
        }
        lines
    }

    fn counts(&mut self, seen: &Seen, said: &Said) {
        let [a, b] = seen.edges;
        self.edges = a + b;
        self.losses = seen.illegal + seen.unknown;
        self.lost.clone_from(&seen.lost_at);
        for (name, own, other) in [("A", a, b), ("B", b, a)] {
            let dead = own == 0 && other >= ALONE;
            let verdict = if dead {
                "it never changes"
            } else if own == 0 {
                "none"
            } else {
                ""
            };
            self.number(&format!("edges of {name}"), own as f64, "", verdict);
            if dead {
                self.fault(
                    "counter-stands",
                    format!("line {name} never changes while the other has {other} edges"),
                    "look at its wire, plug and pull-up, and whether its probe is on: one line alone tells neither count nor sense",
                    Some(Sign::CounterStands),
                );
            }
        }
        let [x4, x2, x1] = seen.counts;
        self.number("count (x4)", x4 as f64, "", "");
        self.number("count (x2, of A)", x2 as f64, "", "");
        self.number("count (x1)", x1 as f64, "", "");
        if let Some((per_radian, _)) = said.counts {
            let per_turn = per_radian * TAU;
            let bench = format!("{per_turn:.0} counts a turn");
            self.number("turns of the motor", x4 as f64 / per_turn, &bench, "");
        }
        let at = |seconds: &f64| plain(*seconds, &Unit::si(Dimension::TIME));
        let when: Vec<String> = seen.lost_at.iter().map(at).collect();
        let verdict = if seen.illegal == 0 { "none" } else { "edges are lost" };
        self.number("both lines at once", seen.illegal as f64, "", verdict);
        if seen.unknown > 0 {
            self.number("lines not known (x, z)", seen.unknown as f64, "", "edges are lost");
        }
        if self.losses > 0 {
            let more = if self.losses > when.len() as u64 { ", the first" } else { "" };
            self.fault(
                "lost-edges",
                format!(
                    "the way was lost {} times{more} at {}: both lines changed at once, or one was not known, and nobody can \
                     say which way the shaft went",
                    self.losses,
                    finding::words::listed(&when)
                ),
                "sample faster than the shortest time between two edges, shorten or terminate the line of the encoder, and look \
                 for noise on both lines",
                Some(Sign::LostEdges),
            );
        }
        self.number("changes of the sense", seen.turns as f64, "", "");
        for (name, other, count) in [("A", "B", seen.alone[0]), ("B", "A", seen.alone[1])] {
            let is_dead = seen.edges.contains(&0);
            if count >= ALONE && !is_dead {
                self.fault(
                    "one-channel",
                    format!("line {name} has {count} edges in a line while {other} has none"),
                    "look at both lines while somebody turns the shaft: one stays at its level, or the shaft trembles on an edge",
                    None,
                );
            }
        }
        let [a, b] = seen.spikes;
        let verdict = |count: u64| if count > SPIKES { "jitter" } else { "none to speak of" };
        for (name, count) in [("A", a), ("B", b)] {
            self.number(&format!("spikes on {name}"), count as f64, "", verdict(count));
        }
        if a.max(b) > SPIKES {
            let (name, count) = if a >= b { ("A", a) } else { ("B", b) };
            self.fault(
                "channel-jitter",
                format!(
                    "line {name} goes there and back {count} times in less than half of the shortest time between two edges of the \
                     encoder"
                ),
                "look for a missing pull-up, a slow edge or noise on the line, and let the decoder filter what is shorter than any \
                 true edge",
                Some(Sign::ChannelJitter),
            );
        }
        let fits = |s: &&logs::quadrature::Speed| s.value.is_finite() && s.bound.is_finite();
        self.speeds = seen.speeds.iter().filter(fits).map(|s| [s.time, s.value, s.bound]).collect();
        let fastest = self.speeds.iter().max_by(|a, b| a[1].abs().total_cmp(&b[1].abs())).copied();
        if let Some([_, value, bound]) = fastest {
            let top = said.dc.top_speed();
            let unit = Unit::parse("rpm").unwrap_or(Unit::si(Dimension::ANGULAR_SPEED));
            let limit = high(&top);
            let verdict = match limit {
                Some(limit) if value.abs() - bound > limit => "faster than the bench can",
                Some(_) => "within",
                None => "",
            };
            let bench = limit.map(|limit| format!("{} at most", plain(limit, &unit))).unwrap_or_default();
            self.measured("fastest mean speed", (value, bound), "rad/s", &unit, (&bench, verdict));
        }
    }

    fn rates(&mut self, seen: &Seen, encoder: Option<&EncoderPath>) {
        if seen.rate <= 0.0 {
            return;
        }
        let mut limits: Vec<(&str, f64)> = Vec::new();
        if let Some(path) = encoder {
            match &path.counted {
                Counted::Counter(counter) if counter.has("max_edge_rate") => {
                    limits.extend(low(&counter.max_edge_rate()).map(|limit| ("the counter", limit)));
                }
                Counted::Interrupt(time) => {
                    limits.extend(high(time).filter(|t| *t > 0.0).map(|time| ("the interrupt", 1.0 / time)));
                }
                _ => {}
            }
            if path.part.has("max_frequency") {
                limits.extend(low(&path.part.max_frequency()).map(|limit| ("the encoder", 4.0 * limit)));
            }
        }
        let limit = limits.iter().copied().min_by(|a, b| a.1.total_cmp(&b.1));
        let hertz = |si: f64| plain(si, &choose_unit(si, Dimension::FREQUENCY, None));
        let bench = limit.map(|(who, limit)| format!("{} of {who}", hertz(limit))).unwrap_or_default();
        let verdict = match limit {
            Some((_, limit)) if seen.rate > limit => "too fast",
            Some(_) => "within",
            None => "the bench states no limit",
        };
        let unit = choose_unit(seen.rate, Dimension::FREQUENCY, None);
        self.push("highest edge rate", seen.rate, "Hz", plain(seen.rate, &unit), (&bench, verdict));
        if let Some((who, limit)) = limit.filter(|(_, limit)| seen.rate > *limit) {
            self.fault(
                "edge-rate",
                format!("edges come at {}, and {who} takes {}", hertz(seen.rate), hertz(limit)),
                "turn slower, take an encoder with fewer lines, or one and a counter that are faster",
                None,
            );
        }
        let grain = self.steps[1];
        let unit = choose_unit(seen.gap, Dimension::TIME, None);
        let stated = encoder.map(|path| path.shortest_gap().value()).filter(|gap| gap.is_finite());
        let bench = stated
            .map(|gap| format!("{} at top speed", plain(gap, &choose_unit(gap, Dimension::TIME, None))))
            .unwrap_or_default();
        let verdict = if seen.gap < 4.0 * grain { "close to the steps of the dump" } else { "" };
        self.push("shortest edge gap", seen.gap, "s", plain(seen.gap, &unit), (&bench, verdict));
    }

    fn marks(&mut self, seen: &Seen, encoder: Option<&EncoderPath>) {
        let limit = |key: &str, of: &dyn Fn(&EncoderPath) -> Worked| {
            encoder.filter(|path| path.part.has(key)).and_then(|path| high(&of(path)))
        };
        let phase = limit("phase_error", &|path| path.part.phase_error());
        let duty = limit("duty_error", &|path| path.part.duty_error());
        let phase_remedy = "adjust the gap and the place of the encoder's head, or state the phase error that it has: the time between \
                            two edges gets shorter, and a speed from neighbouring edges ripples";
        let duty_remedy = "look at the supply and the pull-ups of the encoder and at the threshold of whoever reads it, or state the \
                           duty error that it has";
        for (flaws, sense) in seen.flaws.iter().zip(["forward", "backward"]) {
            let Some(flaws) = flaws else { continue };
            self.mark(
                format!("phase error of B, {sense}"),
                flaws.phase,
                phase,
                ("phase-error", phase_remedy),
            );
            self.mark(format!("duty error of A, {sense}"), flaws.duty_a, duty, ("duty-error", duty_remedy));
            self.mark(format!("duty error of B, {sense}"), flaws.duty_b, duty, ("duty-error", duty_remedy));
        }
    }

    /// An error of marks, in lines, beside its limit in electrical radians.
    fn mark(
        &mut self,
        name: String,
        error: Estimate,
        limit: Option<f64>,
        (wrong, remedy): (&'static str, &'static str),
    ) {
        let unit = Unit::parse("°").unwrap_or(Unit::si(Dimension::ANGLE));
        let (value, half) = (error.value * TAU, 2.0 * error.u * TAU);
        let bench = limit.map(|limit| format!("{} at most", plain(limit, &unit))).unwrap_or_default();
        let is_beyond = limit.is_some_and(|limit| value.abs() - half > ROUNDED * limit);
        let verdict = match limit {
            _ if is_beyond => "beyond",
            Some(limit) if value.abs() + half <= ROUNDED * limit => "within",
            Some(_) => "not told apart from the limit",
            None if value.abs() > half => "the bench states none",
            None => "none seen",
        };
        if is_beyond {
            let says = format!(
                "the {name} is {} ± {} electrical, and the bench says {bench}",
                plain(value, &unit),
                plain(half, &unit)
            );
            self.fault(wrong, says, remedy, None);
        }
        self.measured(&name, (value, half), "rad", &unit, (&bench, verdict));
    }

    fn index(&mut self, seen: &Seen, encoder: Option<&EncoderPath>) {
        if seen.index == 0 {
            return;
        }
        self.number("index marks", seen.index as f64, "", "");
        let (Some((fewest, most)), Some(path)) = (seen.between, encoder) else { return };
        let turn = libm::round(path.counts.value() * TAU);
        // To and fro over the mark is no turn; the width of the mark is a count or two.
        let is_off = |counts: u64| counts as f64 > 0.5 * turn && (counts as f64 - turn).abs() > 2.0;
        let is_wrong = turn > 0.0 && (is_off(fewest) || is_off(most));
        let verdict =
            if is_wrong { "edges are lost, or the bench states other marks" } else { "as the bench says" };
        let shown = if fewest == most { fewest.to_string() } else { format!("{fewest} to {most}") };
        let bench = format!("{turn:.0}");
        self.push("counts from index to index", most as f64, "", shown.clone(), (&bench, verdict));
        if is_wrong {
            self.fault(
                "index",
                format!("from index to index there are {shown} counts, and a turn has {turn:.0}"),
                "correct `lines_per_rev` of the encoder, or look for edges that are lost",
                None,
            );
        }
    }

    fn pwm(&mut self, pulses: &Pulses, said: &Said, step: f64) {
        self.number("pulses of the PWM", pulses.count as f64, "", "");
        let hertz = 1.0 / (pulses.period * step);
        // The first and the last pulse are known to a step each.
        let half = hertz * 2.0 / (pulses.period * pulses.periods as f64);
        let bridge = said.dc.bridge.as_ref().map(|bridge| &bridge.frequency);
        let bounds = bridge.and_then(|figure| band(figure).or(Some((figure.value(), figure.value()))));
        let bounds = bounds.filter(|(low, high)| *low > 0.0 && high.is_finite());
        let is_off = bounds.is_some_and(|(low, high)| {
            hertz + half < low * (1.0 - CLOCK) || hertz - half > high * (1.0 + CLOCK)
        });
        let unit = choose_unit(hertz, Dimension::FREQUENCY, None);
        let bench = bridge
            .filter(|_| bounds.is_some())
            .map(|figure| plain(figure.value(), &choose_unit(figure.value(), Dimension::FREQUENCY, None)))
            .unwrap_or_default();
        let verdict = match bounds {
            _ if is_off => "another",
            Some(_) => "as the bench says",
            None => "the bench states none",
        };
        self.measured("PWM frequency", (hertz, half), "Hz", &unit, (&bench, verdict));
        if is_off {
            self.fault(
                "pwm-frequency",
                format!("the PWM has {}, and the bench says {bench}", plain(hertz, &unit)),
                "set `pwm_frequency` of the axis to what the timer makes, or the timer to what the bench says: ripple, dead time and \
                 losses hang on it",
                None,
            );
        }
        let deviation = pulses.deviation * step;
        let shown = plain(deviation, &choose_unit(deviation, Dimension::TIME, None));
        let what = match pulses.even {
            Even::Middles => "its middles keep time",
            Even::Rises => "its rising edges keep time",
            Even::Falls => "its falling edges keep time",
        };
        self.push("scatter of its period", deviation, "s", shown, ("", what));
        let [on, off] = pulses.shortest.map(|steps| steps / pulses.period);
        let bridge = if reverses(said) { "half is standstill" } else { "" };
        let percent = |part: f64| format!("{:.2} % of it", 100.0 * part);
        self.push("shortest pulse", on, "", percent(on), (bridge, ""));
        self.push("shortest pause", off, "", percent(off), ("", ""));
    }

    /// What spoils the log that was made of the dump, as the gate says it; `time` is that of its rows.
    pub(super) fn remarks(&self, time: &[f64]) -> Vec<Remark> {
        let remark = |wrong: &Wrong| {
            let sign = wrong.sign?;
            let is_small =
                self.losses as f64 * 2.0 <= LOST * self.edges as f64 && self.losses <= self.lost.len() as u64;
            let (spoils, rows) = match sign {
                Sign::LostEdges if is_small => {
                    let row =
                        |at: &f64| time.partition_point(|time| time < at).min(time.len().saturating_sub(1));
                    (Spoils::Rows, self.lost.iter().map(row).map(|row| row..row + 1).collect())
                }
                Sign::LostEdges | Sign::CounterStands => (Spoils::These(TURNING), Vec::new()),
                _ => (Spoils::All, Vec::new()),
            };
            let strength = match sign {
                Sign::LostEdges => (self.losses as f64, 0.0),
                _ => (self.edges as f64, SPIKES as f64),
            };
            Some(Remark {
                sign,
                strength: Strength { measured: strength.0, against: strength.1, unit: "" },
                rows,
                spoils,
                says: wrong.says.clone(),
                remedy: wrong.remedy.to_owned(),
                picture: self.speed_chart(sign.name()),
            })
        };
        self.wrong.iter().filter_map(remark).collect()
    }

    fn number(&mut self, name: &str, value: f64, bench: &str, verdict: &str) {
        let shown = if value == libm::round(value) { format!("{value}") } else { format!("{value:.3}") };
        self.push(name, value, "", shown.replace('-', "−"), (bench, verdict));
    }

    fn measured(
        &mut self,
        name: &str,
        (value, half): (f64, f64),
        si: &'static str,
        unit: &Unit,
        said: (&str, &str),
    ) {
        // No clock of an instrument keeps time so closely that more digits would mean something.
        let told = half.max(FINEST * value.abs());
        let shown = sensible(value, unit, Some((value - told, value + told)));
        let width = if half < FINEST * value.abs() { "below 10 ppm".to_owned() } else { plain(half, unit) };
        let (bench, verdict) = (said.0.to_owned(), said.1.to_owned());
        let (name, shown, half) = (name.to_owned(), [shown, width], Some(half));
        self.figures.push(Figure { name, value, half, unit: si, shown, bench, verdict });
    }

    fn push(
        &mut self,
        name: &str,
        value: f64,
        unit: &'static str,
        shown: String,
        (bench, verdict): (&str, &str),
    ) {
        let (name, bench, verdict) = (name.to_owned(), bench.to_owned(), verdict.to_owned());
        let shown = [shown, String::new()];
        self.figures.push(Figure { name, value, half: None, unit, shown, bench, verdict });
    }

    fn fault(&mut self, name: &'static str, says: String, remedy: &'static str, sign: Option<Sign>) {
        // Forward and backward are one fault.
        if !self.wrong.iter().any(|wrong| wrong.name == name && sign.is_none()) {
            self.wrong.push(Wrong { name, says, remedy, sign });
        }
    }
}

/// The upper end of a figure, where it is known.
fn high(figure: &Worked) -> Option<f64> {
    let value = band(figure).map_or(figure.value(), |(_, high)| high);
    value.is_finite().then_some(value)
}

/// The lower end of a figure.
fn low(figure: &Worked) -> Option<f64> {
    let value = band(figure).map_or(figure.value(), |(low, _)| low);
    value.is_finite().then_some(value)
}
