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
        }
    }

    /// Its unit, SI, where a way is one of length or of angle.
    pub(crate) fn unit(self, way: &'static str) -> &'static str {
        match self {
            Self::PeakCurrent | Self::Ripple | Self::LastCurrent => "A",
            Self::Speed => "rad/s",
            Self::RiseTime | Self::Settled | Self::TripTime | Self::StoppingTime => "s",
            Self::Way | Self::StoppingWay => way,
            Self::ShaftTorque => "N·m",
            Self::RampBus => "V",
            Self::RampReturned | Self::Taken | Self::Returned => "J",
            Self::WindingRise | Self::HottestWinding => "K",
        }
    }
}
