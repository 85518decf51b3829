//! Whether an axis has to know its position, or only its speed: timer stamps of edges give the speed alone.

use bench::file::{Controls, HomingMethod, LoadKind, MotionKind};
use bench::model::Axis;

/// What the bench file says of it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Position {
    /// Something asks for a place.
    Needed,
    /// It holds a speed or a torque, and nothing asks for a place.
    Spare,
    /// It does not say.
    Untold,
}

impl Position {
    /// Read off what the axis controls and makes, how far it may go, and what is wanted of it.
    pub(super) fn of(axis: &Axis) -> Self {
        let motion = axis.motion.as_ref().and_then(|(_, motion)| motion.kind().value);
        let homed = axis.homing.as_ref().is_some_and(|(_, homing)| !homing.method().is(HomingMethod::None));
        // A nut, a carriage, an arm and what hangs on a drum end somewhere.
        let load = axis.load.as_ref().and_then(|carried| carried.load.kind().value);
        let ends = matches!(load, Some(LoadKind::Screw | LoadKind::Belt | LoadKind::Arm | LoadKind::Drum));
        let wanted = axis.requirements();
        let places = ["following_error", "tolerance", "repeatability"];
        let needed = axis.entry.controls().is(Controls::Position)
            || motion.is_some_and(|kind| kind != MotionKind::Constant)
            || homed
            || ends
            || !axis.end_stops.is_empty()
            || places.iter().any(|key| wanted.has(key));
        let spare = [Controls::Speed, Controls::Torque, Controls::Nothing]
            .iter()
            .any(|controls| axis.entry.controls().is(*controls));
        match (needed, spare || motion == Some(MotionKind::Constant)) {
            (true, _) => Self::Needed,
            (false, true) => Self::Spare,
            (false, false) => Self::Untold,
        }
    }
}
