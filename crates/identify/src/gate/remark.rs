//! What the gate says.

use crate::parameter::Parameter;
use finding::Chart;
use std::ops::Range;

/// Something that a record shows, and that spoils what is told from it.
#[derive(Clone, PartialEq, Debug)]
pub struct Remark {
    /// What it is a sign of.
    pub sign: Sign,
    /// The number that it rests on.
    pub strength: Strength,
    /// Rows where it shows, in stretches that rise; none where it is in all of them.
    pub rows: Vec<Range<usize>>,
    /// What must not be told from this record.
    pub spoils: Spoils,
    /// One sentence: what is wrong, with the worked number.
    pub says: String,
    /// What to change, or which trial to make.
    pub remedy: String,
    /// The evidence as a chart of at most a thousand points.
    pub picture: Chart,
}

/// What a record may show.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Sign {
    /// Rows are missing, or time does not go on.
    TimeGap,
    /// Rows do not follow evenly.
    TimeJitter,
    /// The converter of the current stood at an end of its range.
    Clipping,
    /// A limit or a protection acted.
    LimitActive,
    /// The bus was below what the board works at.
    Lockout,
    /// The bus fell further than the resistance of its source explains.
    SupplySag,
    /// The current has the other sign.
    CurrentInverted,
    /// The current does not answer to the voltage: another circuit, a dead sensor, an open lead.
    CurrentElsewhere,
    /// The counter stands while the motor turns.
    CounterStands,
    /// One channel of the encoder goes to and fro.
    ChannelJitter,
    /// The counter runs against the voltage: A and B or the leads are swapped.
    CounterBackward,
    /// The counts per turn are not those of the encoder.
    CountsPerTurn,
    /// The torque constant lies off its band, and no factor of the counts explains it.
    ConstantOffBand,
    /// Edges were lost, or the encoder slips.
    LostEdges,
    /// The current is taken at the same wrong instant of each PWM period.
    PwmBias,
    /// The ripple of the PWM appears as a slow wave of the current.
    Aliasing,
    /// The winding warmed during the run.
    Warming,
}

/// The number that a remark rests on.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Strength {
    /// What was measured.
    pub measured: f64,
    /// What it was held against.
    pub against: f64,
    /// SI unit of both; empty for pure numbers.
    pub unit: &'static str,
}

/// What must not be told from a record.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Spoils {
    /// Anything.
    All,
    /// These parameters.
    These(&'static [Parameter]),
    /// Nothing, once the rows that are named are left out.
    Rows,
}

impl Sign {
    /// All of them.
    pub const ALL: [Self; 17] = [
        Self::TimeGap,
        Self::TimeJitter,
        Self::Clipping,
        Self::LimitActive,
        Self::Lockout,
        Self::SupplySag,
        Self::CurrentInverted,
        Self::CurrentElsewhere,
        Self::CounterStands,
        Self::ChannelJitter,
        Self::CounterBackward,
        Self::CountsPerTurn,
        Self::ConstantOffBand,
        Self::LostEdges,
        Self::PwmBias,
        Self::Aliasing,
        Self::Warming,
    ];

    /// Its name, as reports have it.
    pub fn name(self) -> &'static str {
        match self {
            Self::TimeGap => "time-gap",
            Self::TimeJitter => "time-jitter",
            Self::Clipping => "clipping",
            Self::LimitActive => "limit-active",
            Self::Lockout => "lockout",
            Self::SupplySag => "supply-sag",
            Self::CurrentInverted => "current-inverted",
            Self::CurrentElsewhere => "current-elsewhere",
            Self::CounterStands => "counter-stands",
            Self::ChannelJitter => "channel-jitter",
            Self::CounterBackward => "counter-backward",
            Self::CountsPerTurn => "counts-per-turn",
            Self::ConstantOffBand => "constant-off-band",
            Self::LostEdges => "lost-edges",
            Self::PwmBias => "pwm-bias",
            Self::Aliasing => "aliasing",
            Self::Warming => "warming",
        }
    }

    /// Whether its rows are left out of an estimate.
    pub(super) fn cuts(self) -> bool {
        matches!(
            self,
            Self::TimeGap
                | Self::Clipping
                | Self::LimitActive
                | Self::Lockout
                | Self::CounterStands
                | Self::LostEdges
        )
    }
}
