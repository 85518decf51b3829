"""The balances of one drive: its bridge of four switches and four diodes, its supply, its shafts."""

# Places in the state: current, speed, bus, speed of the load, angle of the motor, angle of the load, and the integrals
# of the current either way, of the current out of the bus, of the power of the supply, of the heat of the winding and
# of the loss in the gear.
I, W, V, WL, A, AL, CHARGE, DRAWN, SUPPLY, WINDING, GEAR = range(11)


FOREVER = float("inf")


# --- The bridge: two legs, each with a switch and a diode up and down ---


def switches(off_state, gate, sense):
    """Which switch of leg A and of leg B is on; a current from A to B counts as positive."""
    driven = ("up", "down")
    if gate == "on":
        legs = driven
    elif gate == "open":
        legs = (None, None)
    elif gate == "dead":  # the legs that switch have both switches off
        legs = (None, None) if off_state == "reverse" else (None, "down")
    else:
        legs = {"brake": ("down", "down"), "diode": (None, "down"), "coast": (None, None),
                "reverse": ("down", "up")}[off_state]
    return legs if sense > 0 else legs[::-1]


def loop(p, gate, sense, sign):
    """For a current of a sign: how much of the bus lies in its loop, and the drops that are in it, with their sign."""
    rails, drop = [], 0.0
    for leg, outward in zip(switches(p["off_state"], gate, sense), (sign, -sign)):
        if leg is None:  # out of the leg through the lower diode, into it through the upper one
            rails.append(0 if outward > 0 else 1)
            drop -= sign * p["diode_drop"]
        else:
            rails.append(1 if leg == "up" else 0)
    return rails[0] - rails[1], drop - sign * p["brush_drop"]


def bus_voltage(p, y, k=0):
    return y[V] if p["bus"] else p["supply_voltage"] - p["supply_resistance"] * k * y[I]


def feed(p, v):
    """Current of the supply into a bus with capacitors."""
    bus, open_voltage = p["bus"], p["supply_voltage"]
    if p["supply_off"]:
        return 0.0
    current = (open_voltage - v) / p["supply_resistance"]
    if bus["limit"]:
        current = min(current, most(p, v))
    return current if bus["sinks"] else max(current, 0.0)


def surplus(p, y, k):
    """What the supply gives beyond what is drawn."""
    clamped = sum(y[V] / clamp["resistance"] for clamp in p["clamped"])
    return feed(p, y[V]) - p["bus"]["bleed"] * y[V] - p["bus"]["quiescent"] - clamped - k * y[I]


def most(p, v):
    short, full = p["bus"]["limit"]["short_current"], p["bus"]["limit"]["current"]
    return short + (full - short) * v / p["supply_voltage"]


# --- Shafts ---


def gear_input(p, torque):
    """Torque at the input for one at the output that is counted against the motion."""
    return torque / (p["ratio"] * p["efficiency"]) if torque > 0 else torque * p["back_efficiency"] / p["ratio"]


def rigid(p, i, w, sense):
    """Acceleration and output torque in a sense of motion, J_m·a = K·i − friction − gear_input(J_L·a/N + c), by
    trying both branches."""
    n = p["ratio"]
    i, w = i * sense, w * sense
    push = p["constant"] * i - p["friction"] - p["viscous_friction"] * w
    c = p["load_friction"] + sense * p["load_torque"] + p["load_viscous"] * w / n
    best = None
    for e in (1 / p["efficiency"], p["back_efficiency"]):
        a = (push - e * c / n) / (p["inertia"] + e * p["load_inertia"] / n**2)
        torque = p["load_inertia"] * a / n + c
        residual = abs(p["inertia"] * a - (push - gear_input(p, torque)))
        if best is None or residual < best[0]:
            best = (residual, a, torque)
    return best[1] * sense, best[2] * sense


def lead(p, y):
    """By how much the gear's output is turned ahead of the load."""
    return p["lead"] + y[A] / p["ratio"] - y[AL]


def pressed(p, y, side):
    """How far a flank is pressed in, and the push that stiffness and damping answer with."""
    depth = side * lead(p, y) - 0.5 * p["twist"]["backlash"]
    return depth, p["twist"]["stiffness"] * depth + side * p["twist"]["damping"] * (y[W] / p["ratio"] - y[WL])


def twist_torque(p, y):
    """Of the flanks that bear."""
    return sum(side * pressed(p, y, side)[1] for side in (1, -1) if p["flank"][side] == "bears")


def twist_energy(p, y):
    bearing = (side for side in (1, -1) if p["flank"][side] == "bears")
    return sum(0.5 * p["twist"]["stiffness"] * pressed(p, y, side)[0] ** 2 for side in bearing)


def held(p, y):
    """Between which values of K·i a motor at rest stays so."""
    if p["locked"]:
        return -FOREVER, FOREVER
    if p["twist"]:
        torque = twist_torque(p, y)
        return -(p["friction"] + gear_input(p, -torque)), p["friction"] + gear_input(p, torque)
    up = p["friction"] + gear_input(p, p["load_friction"] + p["load_torque"])
    down = p["friction"] + gear_input(p, p["load_friction"] - p["load_torque"])
    return -down, up


def slopes(p, y, k, drop, way):
    """All balances at once. A sign of zero: no current flows, or the shaft rests. An empty bus stays so while more is drawn
    than given: the diodes of the bridge, taken as ideal there, carry the rest."""
    flows, turns, load_turns, empty = way
    i, w, n = y[I], y[W], p["ratio"]
    di = dv = dw = dwl = lost = 0.0
    if flows:
        di = (k * bus_voltage(p, y, k) + drop - p["resistance"] * i - p["constant"] * w) / p["inductance"]
    if p["bus"]:
        given = feed(p, y[V])
        dv = 0.0 if empty else surplus(p, y, k) / p["bus"]["capacitance"]
    else:
        given = k * i
    if p["twist"]:
        torque = twist_torque(p, y)
        into = turns * gear_input(p, turns * torque)
        if turns:
            dw = (p["constant"] * i - p["viscous_friction"] * w - turns * p["friction"] - into) / p["inertia"]
            lost = (into - torque / n) * w
        if load_turns:
            against = load_turns * p["load_friction"] + p["load_torque"] + p["load_viscous"] * y[WL]
            dwl = (torque - against) / p["load_inertia"]
        # What goes in at one end and not out at the other; what the twist holds is taken off afterwards.
        lost += torque * (w / n - y[WL])
        load_speed = y[WL]
    else:
        load_speed = w / n
        if turns:
            dw, torque = rigid(p, i, w, turns)
            lost = (turns * gear_input(p, turns * torque) - torque / n) * w
    return (di, dw, dv, dwl, w, load_speed, flows * i, k * i, p["supply_voltage"] * given,
            p["winding_resistance"] * i * i, lost)
