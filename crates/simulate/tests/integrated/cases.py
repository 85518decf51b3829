"""The drives that are computed twice: changes of one of them, what it is told, and when it is looked at."""

BASE = dict(
    supply_voltage=24.0, supply_resistance=0.15, frequency=5e3, off_state="brake", diode_drop=0.8, resistance=2.6,
    winding_resistance=2.3, inductance=1.2e-3, constant=0.03, brush_drop=0.5, inertia=4e-6, friction=4e-3,
    viscous_friction=3e-6, ratio=12.0, efficiency=0.75, back_efficiency=0.6, load_inertia=4e-4, load_friction=0.01,
    load_viscous=1e-4, load_torque=0.0, locked=False, bus=None, dead_time=0.0, limits=[], lockout=None, twist=None,
)


def limit(threshold, sees, acts, time=None, timer=0.0, blanking=0.0):
    return dict(threshold=threshold, sees=sees, timer=timer, blanking=blanking, acts=acts, time=time)


def bus(capacitance, bleed=0.0, quiescent=0.0, sinks=False, most=None, off=None, clamps=()):
    limited = most and dict(current=most[0], short_current=most[1], off=off)
    return dict(capacitance=capacitance, bleed=bleed, quiescent=quiescent, sinks=sinks, limit=limited,
                clamps=list(clamps))


def off(timer, retry_after=None):
    return dict(timer=timer, retry_after=retry_after)


def clamp(threshold, release, resistance):
    return dict(threshold=threshold, release=release, resistance=resistance)


def lockout(off, on, over=None):
    return dict(off=off, on=on, over=over)


def twist(stiffness, backlash=0.0, damping=0.0):
    return dict(stiffness=stiffness, backlash=backlash, damping=damping)


# Name, changes of the base, stages (duty or None for open switches, PWM periods), periods between samples.
CASES = [
    ("across zero, short off-time", dict(), [(0.7, 100), (-0.5, 120)], 10),
    ("current with gaps, then out to rest", dict(off_state="coast", inductance=3e-4, efficiency=1.0,
     back_efficiency=1.0), [(0.3, 150), (None, 600)], 15),
    ("weight, one diode, breaking away in every period", dict(off_state="diode", load_torque=0.05, inductance=4e-4,
     frequency=2e3, inertia=1e-6, load_inertia=5e-5), [(0.045, 40), (0.45, 40), (-0.3, 40)], 4),
    ("both legs switched", dict(off_state="reverse"), [(0.4, 80), (0.0, 80), (-0.6, 40)], 10),
    ("weight that drives through a gear", dict(load_torque=0.35, friction=1e-3, load_friction=0.0),
     [(0.3, 100), (0.0, 100)], 10),
    ("chopper in the motor lead, fixed off-time, blanking",
     dict(limits=[limit(3.0, "motor", "chop", 40e-6, blanking=8e-6)]), [(0.95, 60), (-0.7, 60)], 5),
    ("chopper to the end of the period, both places", dict(load_inertia=4e-3, limits=[
        limit(2.4, "motor", "chop"), limit(2.0, "low leg", "chop", timer=10e-6, blanking=4e-6)]),
     [(0.8, 50), (-0.6, 50)], 5),
    ("latch in the motor lead after its timer", dict(limits=[limit(3.5, "motor", "latch", timer=2.2e-3)]),
     [(0.6, 80), (0.3, 20)], 5),
    ("latch after a timer that ripple starts anew", dict(inductance=4e-4, load_inertia=2e-3, limits=[
        limit(2.2, "motor", "latch", timer=60e-6, blanking=5e-6)]), [(0.2, 30), (0.4, 50)], 5),
    ("retry in the low leg, again and again", dict(load_inertia=2e-3, limits=[
        limit(4.0, "low leg", "retry", 2.5e-3, timer=30e-6, blanking=5e-6)]), [(0.8, 100), (-0.8, 100)], 5),
    ("limit on the mean of the supply current", dict(load_inertia=2e-3, limits=[
        limit(1.2, "supply", "retry", 3e-3, timer=1.1e-3), limit(9.0, "motor", "latch")]),
     [(0.6, 120), (-0.6, 40)], 5),
    ("dead time of one leg, pulses and gaps lost", dict(dead_time=5e-6, friction=5e-4, load_friction=0.0),
     [(0.4, 60), (0.02, 60), (-0.2, 60), (0.985, 20), (0.96, 20)], 5),
    ("dead time of both legs, pulses and gaps lost", dict(off_state="reverse", dead_time=6e-6),
     [(0.3, 60), (0.0, 60), (-0.95, 40), (0.96, 20)], 5),
    ("bus that braking lifts off its supply", dict(bus=bus(330e-6, bleed=1e-3, quiescent=0.02), load_inertia=5e-4),
     [(0.8, 150), (0.3, 80), (-0.3, 40)], 10),
    ("bus whose supply takes back", dict(off_state="reverse", bus=bus(47e-6, sinks=True), supply_resistance=0.4),
     [(0.7, 60), (-0.2, 60)], 5),
    ("supply of constant current", dict(bus=bus(220e-6, quiescent=0.03, most=(1.5, 1.5)), supply_resistance=0.3),
     [(0.9, 120), (0.2, 60)], 6),
    ("supply that folds back", dict(bus=bus(470e-6, bleed=2e-3, most=(2.0, 0.6)), load_inertia=1e-3),
     [(0.5, 100), (0.9, 60)], 5),
    ("bus that runs empty", dict(bus=bus(30e-6, quiescent=0.05, most=(1.0, 0.3)), supply_resistance=0.3),
     [(0.6, 60), (-0.9, 60)], 5),
    ("lockout that comes and goes", dict(bus=bus(100e-6, quiescent=0.02), supply_resistance=1.2,
     lockout=lockout(17.0, 21.0), load_inertia=2e-3), [(0.95, 80), (-0.95, 80)], 4),
    ("stop above a voltage", dict(bus=bus(47e-6, bleed=4e-3, quiescent=0.3), lockout=lockout(8.0, 9.0, 28.0),
     load_friction=0.0), [(0.8, 150), (0.2, 120)], 6),
    ("two masses", dict(twist=twist(6.0), load_inertia=1.5e-3), [(0.6, 150), (-0.4, 100)], 5),
    ("play through a reversal", dict(twist=twist(8.0, 0.03), load_inertia=1e-3, load_friction=0.03),
     [(0.4, 120), (-0.4, 120)], 5),
    ("damped flanks that let go", dict(twist=twist(8.0, 0.02, 0.03), load_inertia=3e-4, load_friction=0.02),
     [(0.4, 100), (-0.4, 100), (None, 40)], 5),
    ("damped twist without play", dict(twist=twist(5.0, 0.0, 0.05), load_torque=0.1, load_inertia=1e-3),
     [(0.5, 100), (-0.2, 60)], 5),
    ("both shafts stick", dict(twist=twist(3.0, 0.02), load_friction=0.12, friction=8e-3, load_inertia=2e-4,
     efficiency=0.9, back_efficiency=0.5), [(0.15, 60), (0.05, 40), (0.3, 40), (0.0, 60), (-0.12, 60)], 4),
    ("weight that hangs on a flank", dict(twist=twist(10.0, 0.02), load_torque=0.25, load_inertia=1e-3,
     friction=2e-3), [(None, 60), (0.4, 80), (None, 100)], 10),
    ("chopper that falls faster than it rises, in coast", dict(off_state="coast", bus=bus(100e-6, quiescent=0.05),
     limits=[limit(3.0, "motor", "chop", 30e-6, blanking=4e-6)]), [(0.9, 60)], 5),
    ("clamps that take what braking gives back", dict(bus=bus(100e-6, quiescent=0.02, clamps=[
        clamp(26.0, 25.0, 60.0), clamp(27.0, 26.3, 15.0)]), load_inertia=2e-3, load_friction=0.0),
     [(0.9, 150), (0.2, 80), (-0.5, 60)], 5),
    ("supply that switches off and tries again", dict(bus=bus(150e-6, quiescent=0.1, most=(1.5, 1.5),
     off=off(3e-3, 9e-3)), supply_resistance=0.3, load_inertia=3e-3), [(0.8, 160), (-0.4, 60)], 5),
    ("supply that stays off until the bus is empty", dict(bus=bus(60e-6, quiescent=0.2, bleed=2e-3,
     most=(2.0, 1.0), off=off(2e-3)), supply_resistance=0.3, load_inertia=3e-3), [(0.7, 120), (-0.7, 60)], 5),
    ("limit in the motor lead that folds back", dict(load_inertia=4e-3, limits=[
        limit(4.0, "motor", "fold", 1.5, timer=1.5e-3)]), [(0.7, 140), (0.2, 60), (-0.6, 60)], 5),
    ("limit in the supply that folds back", dict(load_inertia=2e-3, limits=[
        limit(1.2, "supply", "fold", 0.5, timer=2.1e-3)]), [(0.6, 150), (0.1, 40), (0.6, 40)], 5),
    ("all at once", dict(twist=twist(8.0, 0.01, 0.01), bus=bus(100e-6, bleed=1e-3, quiescent=0.05, most=(2.5, 1.5)),
     dead_time=2e-6, lockout=lockout(12.0, 20.0, 27.0), load_torque=0.1, load_inertia=3e-4, limits=[
        limit(3.0, "motor", "chop", 30e-6, blanking=4e-6), limit(1.5, "supply", "retry", 4e-3, timer=2e-3)]),
     [(0.9, 120), (0.2, 50), (-0.9, 100)], 5),
]
