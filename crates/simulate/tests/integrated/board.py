"""The board that does something by itself."""

from balances import FOREVER, I


class Board:
    """Limits and lockout, from what their figures mean."""

    def __init__(self, p):
        self.p = p
        self.above = [None] * len(p["limits"])  # since when a limit sees more than its threshold
        self.chopped_until = self.stopped_until = self.switched_on = -FOREVER
        self.is_low = self.is_over = False
        self.chops, self.trip, self.lockouts = 0, None, 0
        self.now = ("open", 1)

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
                is_above = self.seen(limit, y, k, t) > limit["threshold"]
                self.above[j] = (t if self.above[j] is None else self.above[j]) if is_above else None

    def act(self, t, period_end):
        """Limits that saw enough for long enough act, unless they hold already what they do."""
        acted = False
        for j, limit in enumerate(self.p["limits"]):
            since, does = self.above[j], limit["acts"]
            stopped = t < self.stopped_until
            holds = (stopped or self.is_low or self.is_over or t < self.chopped_until) if does == "chop" else stopped
            if since is None or t < since + limit["timer"] or (holds and limit["timer"] == 0):
                continue
            acted = True
            self.above[j] = t  # its timer begins anew
            if does == "chop":
                self.chopped_until = period_end if limit["time"] is None else t + limit["time"]
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
        for limit, since in zip(self.p["limits"], self.above):
            times.append(self.switched_on + limit["blanking"])
            if since is not None:
                times.append(since + limit["timer"])
        return min((time for time in times if time > t), default=FOREVER)

    def period(self, drawn, v, t):
        """A PWM period has ended."""
        if self.is_over and v < self.p["lockout"]["over"]:
            self.is_over = False
        for j, limit in enumerate(self.p["limits"]):
            if limit["sees"] == "supply":
                is_above = drawn > limit["threshold"]
                self.above[j] = (t if self.above[j] is None else self.above[j]) if is_above else None
