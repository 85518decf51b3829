"""The same drives by a general integrator: SciPy's DOP853 at its tightest tolerance, restarted at every event.

Written from the force and voltage balance (balances.py) and from what the figures of a set-up mean (board.py). The bridge
is its four switches and four diodes; supply and gear are functions of the state with kinks, at which the integrator is
started anew. Only what has a memory is kept: the current that flows or not, the shafts that turn or stick, the flanks
that bear, the bus that is empty, the board.

Without arguments it writes integrated.json anew; with --check it compares, and leaves with status 0 where they agree.
With names after --only it does these cases and prints how long each took.
"""

import json
import sys
import time as clock
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp

from balances import (
    A, AL, CHARGE, DRAWN, GEAR, I, V, W, WL, bus_voltage, held, loop, most, pressed, rigid, slopes, surplus,
    twist_energy, twist_torque,
)
from board import Board, Supply
from cases import BASE, CASES

NUDGE = 1e-10  # s, off an event that was just met, or it would be met again
RESULT = Path(__file__).with_name("integrated.json")


def integrate(p, y, span, k, drop, way, events=(), **options):
    def slope(_, y):
        return slopes(p, y.tolist(), k, drop, way)

    return solve_ivp(slope, span, y, method="DOP853", rtol=2.3e-14, atol=1e-15, events=events, **options)


class Run:
    def __init__(self, p):
        self.p, self.board, self.supply = p, Board(p), Supply(p)
        p["clamped"] = []
        self.y = np.zeros(11)
        self.way = (0, 0, 0, False)
        p["lead"], p["flank"] = 0.0, {1: "out", -1: "out"}
        if p["bus"]:  # the board is on already
            conductance = 1 / p["supply_resistance"]
            total = p["supply_voltage"] * conductance - p["bus"]["quiescent"]
            self.y[V] = total / (conductance + p["bus"]["bleed"])
        if p["twist"] and abs(p["load_torque"]) > p["load_friction"]:  # it hangs on its flank
            side = 1 if p["load_torque"] > 0 else -1
            p["lead"] = side * p["twist"]["backlash"] / 2 + p["load_torque"] / p["twist"]["stiffness"]
            p["flank"][side] = "bears"

    def start(self):
        """What begins to flow or to turn by itself."""
        p, y = self.p, self.y
        flows, turns, load_turns, empty = self.way
        gate, sense = self.board.now
        if not flows:
            for sign in (1, -1):
                k, drop = loop(p, gate, sense, sign)
                if sign * (k * bus_voltage(p, y) + drop - p["constant"] * y[W]) > 1e-13:
                    flows = sign
        if not turns:
            low, high = held(p, y)
            push = p["constant"] * y[I]
            turns = 1 if push > high + 1e-16 else -1 if push < low - 1e-16 else 0
        if p["twist"] and not load_turns:
            push = twist_torque(p, y) - p["load_torque"]
            load_turns = int(np.sign(push)) if abs(push) > p["load_friction"] + 1e-15 else 0
        self.way = (flows, turns, load_turns, empty)

    def conditions(self, t):
        """What holds now, each with a function that is above zero while it does."""
        p, board = self.p, self.board
        flows, turns, load_turns, empty = self.way
        gate, sense = board.now
        found = []
        if flows:
            found.append(("flows", lambda y: y[I] * flows))
        else:
            for sign in (1, -1):
                k, drop = loop(p, gate, sense, sign)
                found.append(("conducts", lambda y, k=k, drop=drop, sign=sign:
                              -sign * (k * bus_voltage(p, y) + drop - p["constant"] * y[W])))
        if turns:
            found.append(("turns", lambda y: y[W] * turns))
        elif not p["locked"]:
            found.append(("rests", lambda y: held(p, y)[1] - p["constant"] * y[I]))
            found.append(("rests", lambda y: p["constant"] * y[I] - held(p, y)[0]))
        kinks = []
        if p["twist"]:
            # A flank pushes and never pulls. What stays at zero must not count as leaving it.
            for side in (1, -1):
                def depth(y, side=side):
                    return pressed(p, y, side)[0]

                def push(y, side=side):
                    return pressed(p, y, side)[1]

                found += {
                    "out": [((side, "bears"), lambda y, depth=depth: 1e-14 - depth(y))],
                    "bears": [((side, "lets go"), lambda y, push=push: push(y) + 1e-14)],
                    "lets go": [((side, "bears"), lambda y, push=push: 1e-14 - push(y)),
                                ((side, "out"), lambda y, depth=depth: depth(y) + 1e-14)],
                }[p["flank"][side]]
            if load_turns:
                found.append(("load turns", lambda y: y[WL] * load_turns))
            else:
                for s in (1, -1):
                    found.append(("load rests", lambda y, s=s:
                                  p["load_friction"] - s * (twist_torque(p, y) - p["load_torque"])))
        elif turns:
            kinks.append(lambda y: rigid(p, y[I], y[W], turns)[1])
        if p["bus"]:
            if not p["bus"]["sinks"] and not p["supply_off"]:
                kinks.append(lambda y: p["supply_voltage"] - y[V])
            if p["bus"]["limit"] and not p["supply_off"]:
                kinks.append(lambda y: p["supply_voltage"] - y[V] - p["supply_resistance"] * most(p, y[V]))
        for kink in kinks:
            side = 1 if kink(self.y) >= 0 else -1
            # What stays on a kink must not count as leaving it.
            found.append(("kink", lambda y, kink=kink, side=side: side * kink(y) + 1e-14))
        k = loop(p, gate, sense, flows)[0] if flows else 0
        if p["bus"]:
            found.append(("empty", lambda y: -surplus(p, y, k)) if empty else ("filled", lambda y: y[V]))
        for j, limit in enumerate(p["limits"]):
            if limit["sees"] != "supply" and flows and not board.is_blind(limit, t):
                side = -1 if board.above[j] is None else 1
                c = flows if limit["sees"] == "motor" else k
                level = board.threshold(j)
                found.append((j, lambda y, c=c, side=side, level=level: side * (c * y[I] - level)))
        for clamp in p["bus"]["clamps"] if p["bus"] else []:
            if clamp in p["clamped"]:
                found.append((("clamp", clamp), lambda y, clamp=clamp: y[V] - clamp["release"]))
            else:
                found.append((("clamp", clamp), lambda y, clamp=clamp: clamp["threshold"] - y[V]))
        if p["bus"] and p["lockout"]:
            off, on, over = (p["lockout"][key] for key in ("off", "on", "over"))
            found.append(("low", (lambda y: on - y[V]) if board.is_low else (lambda y: y[V] - off)))
            if over is not None and not board.is_over:
                found.append(("over", lambda y: over - y[V]))
        return found

    def meet(self, what, t):
        """A condition has ended."""
        p, y, board = self.p, self.y, self.board
        flows, turns, load_turns, empty = self.way
        if what == "flows":
            y[I] = 0.0
            k, drop = loop(p, *board.now, -flows)
            goes_on = -flows * (k * bus_voltage(p, y) + drop - p["constant"] * y[W]) > 0
            flows = -flows if goes_on else 0
        elif what == "conducts":
            def driven(sign):
                k, drop = loop(p, *board.now, sign)
                return sign * (k * bus_voltage(p, y) + drop - p["constant"] * y[W])
            flows = 1 if driven(1) > driven(-1) else -1
        elif what == "turns":
            y[W] = 0.0
            low, high = held(p, y)
            push = p["constant"] * y[I]
            turns = -1 if turns > 0 and push < low else 1 if turns < 0 and push > high else 0
        elif what == "rests":
            low, high = held(p, y)
            turns = 1 if high - p["constant"] * y[I] < p["constant"] * y[I] - low else -1
        elif what == "load turns":
            y[WL] = 0.0
            push = -load_turns * (twist_torque(p, y) - p["load_torque"])
            load_turns = -load_turns if push > p["load_friction"] else 0
        elif what == "load rests":
            load_turns = 1 if twist_torque(p, y) > p["load_torque"] else -1
        elif isinstance(what, tuple) and what[0] == "clamp":
            if what[1] in p["clamped"]:
                p["clamped"].remove(what[1])
            else:
                p["clamped"].append(what[1])
        elif isinstance(what, tuple):
            side, p["flank"][side] = what
        elif what in ("empty", "filled"):
            y[V], empty = 0.0, what == "filled"
        elif what == "low":
            board.is_low = not board.is_low
            board.lockouts += board.is_low
        elif what == "over":
            board.is_over = True
            board.lockouts += 1
        elif what != "kink":
            board.above[what] = t if board.above[what] is None else None
        self.way = (flows, turns, load_turns, empty)

    def window(self, asked, t, end, period_end):
        """From an edge of the PWM to the next."""
        p, board = self.p, self.board
        met = False
        for _ in range(2000):
            while True:
                changed = board.gate(asked, t)
                self.start()
                k = loop(p, *board.now, self.way[0])[0] if self.way[0] else 0
                if changed or not met:
                    board.look(self.y, k, t)
                if not board.act(t, period_end):
                    break
            if t >= end:
                return
            self.supply.look(self.y[V], t)
            k, drop = loop(p, *board.now, self.way[0]) if self.way[0] else (0, 0.0)
            until = min(end, board.next(t), self.supply.next(t))
            if met:  # off it
                ahead = min(until, t + NUDGE)
                self.y = integrate(p, self.y, (t, ahead), k, drop, self.way).y[:, -1].copy()
                t, met = ahead, False
                self.supply.look(self.y[V], t)
            conditions = self.conditions(t)
            over = next((what for what, f in conditions if f(self.y) < -1e-13), None)
            if over is not None:
                self.meet(over, t)
                met = True
                continue
            if t >= until:
                continue
            events = []
            for _, f in conditions:
                def event(_, y, f=f):
                    return f(y)
                event.terminal, event.direction = True, -1
                events.append(event)
            s = integrate(p, self.y, (t, until), k, drop, self.way, events, max_step=(until - t) / 2)
            t, self.y = float(s.t[-1]), s.y[:, -1].copy()
            if s.status == 1:
                self.meet(next(what for (what, _), hit in zip(conditions, s.t_events) if len(hit)), t)
                met = True
            else:
                t = until
        raise RuntimeError("too many events")

    def windows(self, duty):
        """Edges of the PWM: on in the middle of the period. Each switch of a leg that takes turns goes on a dead time
        after it is told, and off at once; as if every period were like this one."""
        p = self.p
        span = 1 / p["frequency"]
        if duty is None:
            return [(("open", 1), 0.0, span)]
        sense, on = (1, 0.5 * (1 + duty)) if p["off_state"] == "reverse" else (1 if duty >= 0 else -1, abs(duty))
        rise, fall = 0.5 * (1 - on) * span, 0.5 * (1 - on) * span + on * span
        dead = p["dead_time"] if p["off_state"] in ("brake", "reverse") and 0 < on < 1 else 0.0
        late = (e for e in (fall + dead - span, fall + dead) if 0 < e < span)
        edges = sorted({0.0, rise, fall, min(rise + dead, fall), *late, span})
        found = []
        for a, b in zip(edges, edges[1:]):
            middle = 0.5 * (a + b)
            if rise < middle < fall:
                gate = "on" if middle > rise + dead else "dead"
            else:
                since = middle - fall if middle > fall else middle - fall + span
                gate = "off" if since > dead else "dead"
            found.append(((gate, sense), a, b))
        return found

    def play(self, stages, every):
        p = self.p
        span, period, samples, sums = 1 / p["frequency"], 0, [], []
        stored = twist_energy(p, self.y) if p["twist"] else 0.0
        for duty, periods in stages:
            windows = self.windows(duty)
            for _ in range(periods):
                start, drawn = period * span, self.y[DRAWN]
                for asked, a, b in windows:
                    self.window(asked, start + a, start + b, start + span)
                period += 1
                self.board.period((self.y[DRAWN] - drawn) / span, bus_voltage(p, self.y), period * span)
                if period % every == 0:
                    y = self.y
                    load = y[WL] if p["twist"] else y[W] / p["ratio"]
                    sample = [period * span, y[I], y[W], y[A], bus_voltage(p, y), load, y[AL]]
                    samples.append([float(x) for x in sample])
            y = self.y.copy()
            if p["twist"]:
                y[GEAR] -= twist_energy(p, y) - stored
            sums.append([float(x) for x in y[CHARGE:]])
        board = self.board
        return dict(samples=samples, sums=sums, chops=board.chops, trip=board.trip, lockouts=board.lockouts,
                    folds=board.folds, supply_offs=self.supply.offs)


def results(names):
    cases = []
    for name, changes, stages, every in CASES:
        if names and not any(part in name for part in names):
            continue
        p, began = {**BASE, **changes}, clock.time()
        case = dict(name=name, set_up=p, stages=[list(s) for s in stages], every=every)
        case.update(Run({**p}).play(stages, every))
        if names:
            found = {key: case[key] for key in ("chops", "trip", "lockouts", "folds", "supply_offs")}
            print(f"{clock.time() - began:6.1f} s  {name}: {found}, last {case['samples'][-1]}")
        cases.append(case)
    return cases


def main():
    if "--only" in sys.argv:
        results(sys.argv[sys.argv.index("--only") + 1:])
        return
    found = results([])
    if "--check" not in sys.argv:
        RESULT.write_text("[\n" + ",\n".join(json.dumps(case) for case in found) + "\n]\n")
        return
    kept = json.loads(RESULT.read_text())
    for a, b in zip(found, kept, strict=True):
        for key in ("name", "set_up", "stages", "every", "chops", "lockouts", "folds", "supply_offs"):
            assert a[key] == b[key], a["name"]
        assert (a["trip"] is None) == (b["trip"] is None), a["name"]
        for key in ("samples", "sums"):
            x, y = np.array(a[key]), np.array(b[key])
            # The step control of another processor may differ in its last bits; sums gather that.
            off = np.abs(x - y).max(axis=0) / (np.abs(y).max(axis=0) + 1e-12)
            assert off.max() < (1e-8 if key == "sums" else 1e-9), f"{a['name']}: {key} {off}"


if __name__ == "__main__":
    main()
