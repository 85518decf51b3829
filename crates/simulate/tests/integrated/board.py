"""Board and supply that do something by themselves."""

from balances import FOREVER, I, most


class Supply:
    """A supply that switches off where it stays at its limit, and tries again."""

    def __init__(self, p):
        self.p, self.since, self.off_until, self.offs = p, None, -FOREVER, 0
        self.off = p["bus"]["limit"]["off"] if p["bus"] and p["bus"]["limit"] else None
        p["supply_off"] = False

    def look(self, v, t):
        p = self.p
        if not self.off or p["supply_off"] and t < self.off_until:
            return
        p["supply_off"] = False
        at_limit = p["supply_voltage"] - v - p["supply_resistance"] * most(p, v) >= -1e-12
        self.since = (t if self.since is None else self.since) if at_limit else None
        if at_limit and t >= self.since + self.off["timer"]:
            retry = self.off["retry_after"]
            self.since, self.off_until = None, FOREVER if retry is None else t + retry
            self.offs += 1
            p["supply_off"] = True

    def next(self, t):
        times = [self.off_until] if self.off and self.p["supply_off"] else []
        if self.since is not None:
            times.append(self.since + self.off["timer"])
        return min((time for time in times if time > t), default=FOREVER)


class Board:
    """Limits and lockout, from what their figures mean."""

    def __init__(self, p):
        self.p = p
        self.above = [None] * len(p["limits"])  # since when a limit sees more than its threshold
        self.chopped_until = self.stopped_until = self.switched_on = -FOREVER
        self.is_low = self.is_over = False
        self.chops, self.trip, self.lockouts, self.folds = 0, None, 0, 0
        # Limits that have folded back: what was drawn beyond what they allow, and whether they acted in this period.
        self.owed, self.acted = [None] * len(p["limits"]), [False] * len(p["limits"])
        self.now = ("open", 1)

    def threshold(self, j):
        limit = self.p["limits"][j]
        return limit["threshold"] if self.owed[j] is None else limit["time"]

    def timer(self, j):
        return self.p["limits"][j]["timer"] if self.owed[j] is None else 0.0

    def is_blind(self, limit, t):
        return t < self.switched_on + limit["blanking"]

    def seen(self, limit, y, k, t):
        """What a limit sees at an instant; the mean of the supply comes once a period."""
        if self.is_blind(limit, t):
            return 0.0
        return abs(y[I]) if limit["sees"] == "motor" else max(k * y[I], 0.0)

    def look(self, y, k, t):
        """After the gate changed, or a blanking ended: what a limit sees may have jumped."""
        for j, limit in enumerate(self.p["limits"]):
            if limit["sees"] != "supply":
                is_above = self.seen(limit, y, k, t) > self.threshold(j)
                self.above[j] = (t if self.above[j] is None else self.above[j]) if is_above else None

    def act(self, t, period_end):
        """Limits that saw enough for long enough act, unless they hold already what they do."""
        acted = False
        for j, limit in enumerate(self.p["limits"]):
            since, does = self.above[j], limit["acts"]
            stopped = t < self.stopped_until
            if does in ("chop", "fold"):
                holds = stopped or self.is_low or self.is_over or t < self.chopped_until
            else:
                holds = stopped
            if since is None or t < since + self.timer(j) or (holds and self.timer(j) == 0):
                continue
            if does == "fold" and t >= period_end:  # the next period asks for it again
                continue
            acted = True
            self.above[j] = t  # its timer begins anew
            if does == "chop":
                self.chopped_until = period_end if limit["time"] is None else t + limit["time"]
                self.chops += 1
            elif does == "fold":
                self.chopped_until, self.acted[j] = period_end, True
                if self.owed[j] is None:
                    self.owed[j] = 0.0
                    self.folds += 1
                else:
                    self.chops += 1
            else:
                self.stopped_until = FOREVER if does == "latch" else t + limit["time"]
                self.trip = self.trip or [t, j]
        return acted

    def gate(self, asked, t):
        gate, sense = asked
        if t < self.stopped_until or self.is_low or self.is_over:
            gate, sense = "open", 1
        elif gate in ("on", "dead") and t < self.chopped_until:
            gate = "off"
        if gate == "on" and self.now != (gate, sense):
            self.switched_on = t
        changed, self.now = self.now != (gate, sense), (gate, sense)
        return changed

    def next(self, t):
        times = [self.chopped_until, self.stopped_until]
        for j, (limit, since) in enumerate(zip(self.p["limits"], self.above)):
            times.append(self.switched_on + limit["blanking"])
            if since is not None:
                times.append(since + self.timer(j))
        return min((time for time in times if time > t), default=FOREVER)

    def period(self, drawn, v, t):
        """A PWM period has ended."""
        if self.is_over and v < self.p["lockout"]["over"]:
            self.is_over = False
        for j, limit in enumerate(self.p["limits"]):
            is_above = drawn > limit["threshold"]
            if self.owed[j] is not None:
                of_supply = limit["sees"] == "supply"
                self.owed[j] = max(self.owed[j] + drawn - limit["time"], 0.0) if of_supply else 0.0
                is_above = self.owed[j] > 0
                if not is_above and not self.acted[j]:
                    self.owed[j] = None
                self.acted[j] = False
            if limit["sees"] == "supply":
                self.above[j] = (t if self.above[j] is None else self.above[j]) if is_above else None
