//! Key figures that builds have as well as the nominal one.

/// A key figure of a trial.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum KeyFigure {
    /// Largest current of the motor by amount, half of the ripple counted, A.
    PeakCurrent,
    /// Peak to peak of the current at the end of the drive, the first leg at one duty, A.
    Ripple,
    /// Current at the end of the drive by amount, of a held shaft, A.
    LastCurrent,
    /// Speed of the motor at the end of the drive by amount, rad/s.
    Speed,
    /// Time until 1 − 1/e of the last value of the drive, s: of the speed, or of the current of a held shaft.
    RiseTime,
    /// Time from which it stays within 2 % of that value, s.
    Settled,
    /// First time that a limit opens all switches, s.
    TripTime,
    /// From end to end, at the load: m, or rad where it turns.
    Way,
    /// Largest torque in a gear with twist, at the shaft that drives the load, N·m.
    ShaftTorque,
    /// Time from the first end of a drive to rest, s.
    StoppingTime,
    /// Way from there to rest, at the load: m, or rad where it turns.
    StoppingWay,
    /// Energy back into the bus in the first ramp to zero, J.
    RampReturned,
    /// Highest voltage of the bus in it, V.
    RampBus,
    /// Energy out of the supply, J.
    Taken,
    /// Energy back into it, J.
    Returned,
    /// What the heat of winding and brushes warms the winding by, none leaving it, K.
    WindingRise,
    /// Highest temperature of a winding that warms, K.
    HottestWinding,
    /// Largest distance of a motion from its path by amount, at the load: m, or rad where it turns.
    FollowingError,
    /// Effective distance while it moves: m or rad.
    FollowingRms,
    /// How far it passes the end of a move: m or rad.
    Overshoot,
    /// Longest time after the end of a move until it stays within its tolerance, s.
    WithinTolerance,
    /// Distance from the path at the end by amount: m or rad.
    EndError,
    /// The same at the motor, in counts of the encoder.
    EndCounts,
    /// Effective current of the motor while it moves, A.
    RmsCurrent,
    /// Highest speed of the motor by amount, rad/s.
    TopSpeed,
    /// Highest voltage of the bus, V.
    HighestBus,
    /// Full steps by which the rotor of a stepper stands behind those commanded at the end.
    StepsLost,
    /// Farthest from the field by amount, full steps.
    FarthestFromField,
    /// Mean lead of the field while the rate was held, full steps.
    MeanLead,
    /// What the load turns the rotor from the field by at rest, rad.
    LoadAngle,
    /// Frequency of small swings about a step, Hz.
    Resonance,
    /// Heat of both phases of a stepper, J.
    PhaseHeat,
    /// Time of a leg of a servo, from the start of its first pulse until it stays within the dead band of where it ends, s.
    LegTime(Leg),
    /// Farthest that a servo is from its target at the end of a leg, rad.
    OffTarget,
    /// Lowest voltage at a servo, V.
    LowestRail,
    /// Largest current of a servo at the end of a leg, A.
    EndCurrent,
}

/// A leg of the sweep of a servo.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Leg {
    /// To the far end.
    Far,
    /// To the other end.
    Other,
    /// Back to the middle.
    Middle,
}

impl KeyFigure {
    /// Those of an axis with a DC motor under duties.
    pub(crate) const OF_DUTIES: [Self; 17] = [
        Self::PeakCurrent,
        Self::Ripple,
        Self::LastCurrent,
        Self::Speed,
        Self::RiseTime,
        Self::Settled,
        Self::TripTime,
        Self::Way,
        Self::ShaftTorque,
        Self::StoppingTime,
        Self::StoppingWay,
        Self::RampReturned,
        Self::RampBus,
        Self::Taken,
        Self::Returned,
        Self::WindingRise,
        Self::HottestWinding,
    ];
    /// Those of a motion under a loop.
    pub(crate) const OF_MOVES: [Self; 14] = [
        Self::FollowingError,
        Self::FollowingRms,
        Self::Overshoot,
        Self::WithinTolerance,
        Self::EndError,
        Self::EndCounts,
        Self::PeakCurrent,
        Self::RmsCurrent,
        Self::TopSpeed,
        Self::ShaftTorque,
        Self::Taken,
        Self::Returned,
        Self::HighestBus,
        Self::TripTime,
    ];
    /// Those of a stepper.
    pub(crate) const OF_STEPS: [Self; 8] = [
        Self::StepsLost,
        Self::FarthestFromField,
        Self::MeanLead,
        Self::LoadAngle,
        Self::Resonance,
        Self::PeakCurrent,
        Self::Taken,
        Self::PhaseHeat,
    ];
    /// Those of a servo.
    pub(crate) const OF_SWEEP: [Self; 7] = [
        Self::LegTime(Leg::Far),
        Self::LegTime(Leg::Other),
        Self::LegTime(Leg::Middle),
        Self::OffTarget,
        Self::PeakCurrent,
        Self::LowestRail,
        Self::EndCurrent,
    ];

    /// Its name for programs.
    pub fn name(self) -> &'static str {
        match self {
            Self::PeakCurrent => "peak_current",
            Self::Ripple => "ripple",
            Self::LastCurrent => "last_current",
            Self::Speed => "speed",
            Self::RiseTime => "rise_time",
            Self::Settled => "settled",
            Self::TripTime => "trip_time",
            Self::Way => "way",
            Self::ShaftTorque => "shaft_torque",
            Self::StoppingTime => "stopping_time",
            Self::StoppingWay => "stopping_way",
            Self::RampReturned => "ramp_returned",
            Self::RampBus => "ramp_bus",
            Self::Taken => "taken",
            Self::Returned => "returned",
            Self::WindingRise => "winding_rise",
            Self::HottestWinding => "hottest_winding",
            Self::FollowingError => "following_error",
            Self::FollowingRms => "following_rms",
            Self::Overshoot => "overshoot",
            Self::WithinTolerance => "within_tolerance",
            Self::EndError => "end_error",
            Self::EndCounts => "end_counts",
            Self::RmsCurrent => "rms_current",
            Self::TopSpeed => "top_speed",
            Self::HighestBus => "highest_bus",
            Self::StepsLost => "steps_lost",
            Self::FarthestFromField => "farthest_from_field",
            Self::MeanLead => "mean_lead",
            Self::LoadAngle => "load_angle",
            Self::Resonance => "resonance",
            Self::PhaseHeat => "phase_heat",
            Self::LegTime(Leg::Far) => "time_to_far_end",
            Self::LegTime(Leg::Other) => "time_to_other_end",
            Self::LegTime(Leg::Middle) => "time_to_middle",
            Self::OffTarget => "off_target",
            Self::LowestRail => "lowest_rail",
            Self::EndCurrent => "end_current",
        }
    }

    /// Its unit, SI, where a way is one of length or of angle.
    pub(crate) fn unit(self, way: &'static str) -> &'static str {
        match self {
            Self::PeakCurrent | Self::Ripple | Self::LastCurrent | Self::RmsCurrent | Self::EndCurrent => "A",
            Self::Speed | Self::TopSpeed => "rad/s",
            Self::RiseTime
            | Self::Settled
            | Self::TripTime
            | Self::StoppingTime
            | Self::WithinTolerance
            | Self::LegTime(_) => "s",
            Self::Way
            | Self::StoppingWay
            | Self::FollowingError
            | Self::FollowingRms
            | Self::Overshoot
            | Self::EndError => way,
            Self::ShaftTorque => "N·m",
            Self::RampBus | Self::HighestBus | Self::LowestRail => "V",
            Self::RampReturned | Self::Taken | Self::Returned | Self::PhaseHeat => "J",
            Self::WindingRise | Self::HottestWinding => "K",
            Self::EndCounts | Self::StepsLost | Self::FarthestFromField | Self::MeanLead => "1",
            Self::LoadAngle | Self::OffTarget => "rad",
            Self::Resonance => "Hz",
        }
    }
}
