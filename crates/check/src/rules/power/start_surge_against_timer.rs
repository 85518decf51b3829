//! A start at full duty must be over before the trip's timer is.

use super::{at_most, customary, listed, trips};
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::{Axis, LimitInForce};
use drive::assembly::DcAxis;
use drive::assembly::current::together;
use drive::assembly::limits::{chopper, delay, seen};
use drive::limit::{ramp_current, soft_start_time, start_current, time_above};
use finding::Harm;
use worked::{Number, Worked};

rule!("start-surge-against-timer", row "Surge vs timer", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for trip in trips::of(view) {
        let unchopped: Vec<Start<'_>> = trip
            .axes
            .iter()
            .filter(|(axis, _)| chopper(axis).is_none())
            .map(|(axis, dc)| Start::of(axis, dc, trip.limit))
            .collect();
        if unchopped.is_empty() {
            continue;
        }
        let groups: Vec<&[Start<'_>]> =
            if trip.limit.limit.each().is(true) { unchopped.chunks(1).collect() } else { vec![&unchopped] };
        for group in groups {
            let half =
                delay(trip.limit) * customary(0.5, "", "k_t", "part of the timer that a start may use");
            let left: Vec<Worked> = group.iter().map(|start| start.seen_after(half.clone())).collect();
            let left = together(left, "current that the trip sees after half its timer");
            let mut draft = ruling
                .judge(&trip.path(), left.must_stay_below(trip.limit.threshold.clone()))
                .blocker(Harm::Function)
                .says(format!(
                    "{}: when {} start{} at full duty it still sees {{value}} after half its timer, and acts at {{limit}}",
                    trip.name(),
                    listed(group.iter().map(|start| &*start.axis.name)),
                    if group.len() == 1 { "s" } else { " together" },
                ))
                .at(trip.threshold_path())
                .because("it trips at each start, and works when started gently: the fault that costs an evening");
            for start in group.iter().filter(|_| draft.is_open()).collect::<Vec<_>>() {
                draft = start.explained(draft);
            }
            draft.done();
        }
    }
}

/// A start at full duty as a trip sees it.
struct Start<'v> {
    axis: &'v Axis,
    dc: &'v DcAxis,
    limit: &'v LimitInForce,
    mechanical_time: Worked,
    voltage: Worked,
    stall: Worked,
    steady: Worked,
}

impl<'v> Start<'v> {
    fn of(axis: &'v Axis, dc: &'v DcAxis, limit: &'v LimitInForce) -> Self {
        let motor = dc.armature().turning(dc.accelerating_inertia());
        let voltage = dc.motor_voltage_at_most();
        let friction = dc.load.as_ref().map(|load| {
            let standing = load.standing_torque(drive::load::At::Worst);
            dc.gear.input_torque(standing.or_zero() + load.friction_torque()) - dc.gear.drag.clone()
        });
        let load = friction.unwrap_or_else(|| drive::constants::zero("N·m"));
        Self {
            stall: motor.stall_current(voltage.clone()),
            steady: motor.steady_current(voltage.clone(), load),
            mechanical_time: motor.mechanical_time(),
            voltage,
            axis,
            dc,
            limit,
        }
    }

    /// Seen by the trip, a time after the start; along the declared ramp, where one is declared.
    fn seen_after(&self, time: Worked) -> Worked {
        let firmware = self.axis.firmware();
        let stepped =
            start_current(self.mechanical_time.clone(), self.stall.clone(), self.steady.clone(), time);
        let current = if firmware.has("ramp_time") {
            let ramped = ramp_current(
                self.mechanical_time.clone(),
                self.voltage.clone(),
                self.dc.armature().resistance,
                self.steady.clone(),
                firmware.ramp_time(),
            );
            ramped.at_most(self.stall.clone())
        } else {
            stepped
        };
        seen(self.limit, self.dc, self.dc.duty_limit.clone(), current)
    }

    /// With how long this axis alone stays above the trip, and the ramp that cures it.
    fn explained<'r, 'a>(&self, draft: crate::ruling::Draft<'r, 'a>) -> crate::ruling::Draft<'r, 'a> {
        let duty = self.dc.duty_limit.clone();
        let see = |current: &Worked| seen(self.limit, self.dc, duty.clone(), current.clone());
        let trip = self.limit.threshold.clone();
        let above =
            time_above(self.mechanical_time.clone(), see(&self.stall), see(&self.steady), trip.clone());
        let name = &self.axis.name;
        let in_winding = match &self.dc.bridge {
            Some(bridge) if !drive::assembly::limits::sees_winding(self.limit) => {
                bridge.motor_current_at_supply_limit(duty.clone(), trip)
            }
            _ => trip,
        };
        let soft = soft_start_time(
            self.mechanical_time.clone(),
            self.voltage.clone(),
            self.dc.armature().resistance,
            self.steady.clone(),
            in_winding,
        );
        draft
            .because(format!("axis `{name}` alone stays above it for {} (nominal), the timer is {}", above.text(), delay(self.limit).text()))
            .with(above)
            .with(soft.clone())
            .or_do(format!(
                "ramp the duty of `{name}` from zero over no less than {} where it starts alone, and declare it: `ramp_time = \"…\"` under [axes.{name}.firmware]",
                at_most(&soft)
            ))
    }
}
