"""Cells in the regimes of makers' tests, every window stepped by scipy: an independent solution.

The equations are written down here a second time, from docs/theory/life.md and docs/theory/circuit.md:

    dd/dt = I/Q + lost   ds/dt = I/(c Q) - k s   dv_n/dt = (r_n R I - v_n)/tau_n   x = d + (1 - c) s
    dphi/dt = (1 - phi)/tau_g - phi I/q_b
    V = E(x) + shift - (R + R_f phi) I - sum v_n - b asinh(I/(2 i_0))        R = R0(x) f(T) (1 + aged)

E and R0 are scipy's monotone cubics. At rest the states relax in closed form. A power ends where no
current gives it.

Prints rows: case, what, where, value. `time`, `charge` and `count` are what was given down to the voltage
`where`; `at_time`, `at_charge` and `at_share` are loaded voltages (the last with its end behind the
share); `rest`, `pulse` and `ohms` are read on a rested cell after a charge; `log` is a voltage of a log.

    python3 -m pip install scipy
    python3 crates/lastvolt-core/tests/it/data/fit.py > crates/lastvolt-core/tests/it/data/fit.csv
"""

from math import asinh, exp, inf, log, sqrt

import numpy as np
from scipy.integrate import solve_ivp
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

HOUR, DAY, YEAR = 3600.0, 86400.0, 365.25 * 86400.0

ROUND = {
    "charge": 9000.0,
    "open": [(0, 1.60), (0.05, 1.52), (0.3, 1.35), (0.6, 1.24), (0.85, 1.12), (0.95, 1.0), (1, 0.7)],
    "ohms": [(0, 0.10), (0.5, 0.13), (0.8, 0.2), (0.95, 0.5), (1, 1.0)],
    "wells": (0.6, 4e-5),
    "branches": [(0.6, 20.0), (0.9, 900.0), (1.2, 20000.0)],
    "activation": (0.02, 0.05),
    "celsius": [-20.0, 0.0, 20.0, 40.0],
    "factors": {
        "ohms": [4.0, 1.8, 1.0, 0.8],
        "rate": [0.2, 0.5, 1.0, 1.5],
        "branches": [[5.0, 2.0, 1.0, 0.7], [3.0, 1.6, 1.0, 0.9], [6.0, 2.5, 1.0, 0.6]],
    },
    "shift": [-0.06, -0.03, 0.0, 0.01],
    "lost": 0.03 / YEAR,
    "ageing": 0.15 / YEAR,
}
COIN = {
    "charge": 820.0,
    "open": [(0, 3.25), (0.04, 3.08), (0.5, 2.98), (0.85, 2.85), (0.95, 2.6), (1, 2.2)],
    "ohms": [(0, 12.0), (0.6, 16.0), (0.9, 40.0), (1, 90.0)],
    "wells": (0.75, 1e-5),
    "branches": [(0.8, 2.0), (1.5, 300.0), (4.0, 30000.0)],
    "lost": 0.01 / YEAR,
    "ageing": 0.1 / YEAR,
}
FILM = {
    "charge": 430.0,
    "open": [(0, 3.67), (0.9, 3.6), (0.97, 3.4), (1, 2.9)],
    "ohms": [(0, 9.0), (0.8, 12.0), (1, 40.0)],
    "branches": [(1.0, 60.0)],
    "film": (60.0, 3.0 * DAY, 2.0),
    "lost": 0.01 / YEAR,
    "ageing": 0.0,
}
# A cell whose voltage is still high where its charge ends.
STEEP = {
    "charge": 100.0,
    "open": [(0, 3.0), (0.5, 2.9), (1, 2.6)],
    "ohms": [(0, 20.0), (1, 20.0)],
    "lost": 0.0,
    "ageing": 0.0,
}


def table(points):
    if all(y == points[0][1] for _, y in points):
        return lambda x: points[0][1]
    x, y = zip(*points)
    f = PchipInterpolator(x, y)
    # Its pieces as plain numbers: many times faster one point at a time.
    edges, c = list(f.x), [tuple(map(float, c)) for c in f.c.T]

    def at(u):
        if u <= x[0]:
            return y[0]
        if u >= x[-1]:
            return y[-1]
        k = int(np.searchsorted(edges, u, side="right")) - 1
        t = u - edges[k]
        a, b, d, e = c[k]
        return ((a * t + b) * t + d) * t + e

    return at


class Bed:
    """A cell at one temperature after a time on the shelf at 20 degC."""

    def __init__(self, cell, celsius=20.0, age=0.0, loses=True):
        self.q = cell["charge"]
        self.e, self.r = table(cell["open"]), table(cell["ohms"])
        factor = lambda row: 1.0
        self.shift = 0.0
        if "celsius" in cell:
            t = cell["celsius"]
            factor = lambda row: exp(np.interp(celsius, t, [log(f) for f in row]))
            self.shift = float(np.interp(celsius, t, cell["shift"]))
        rows = cell.get("factors", {"ohms": [1.0], "rate": [1.0], "branches": [[1.0]] * 8})
        self.c, self.k = cell.get("wells", (1.0, 0.0))
        self.k *= factor(rows["rate"])
        cold = factor(rows["ohms"])
        # The row of a branch is a factor on its resistance, which is a ratio of R0.
        self.ratio = [b[0] * factor(row) / cold for b, row in zip(cell["branches"], rows["branches"])] if "branches" in cell else []
        self.tau = [b[1] for b in cell.get("branches", [])]
        self.ohms_factor = cold * (1.0 + cell["ageing"] * age)
        self.b, self.i0 = cell.get("activation", (0.0, 1.0))
        self.film = cell.get("film")
        warm = 2.0 ** ((celsius - 20.0) / 10.0)
        self.grow = warm / self.film[1] if self.film else 0.0
        self.lost = cell["lost"] * warm if loses else 0.0
        self.shelf = cell["lost"] * age

    def rested(self, depth):
        return [depth, 0.0] + [0.0] * len(self.tau) + [1.0 if self.film else 0.0]

    def parts(self, y):
        x = y[0] + (1.0 - self.c) * y[1]
        if x <= 1.0:
            e = self.e(x)
        else:
            end = self.e(1.0)
            e = max(end + (-0.6 - end) / 0.02 * (x - 1.0), -0.6)
        ohms = self.r(x) * self.ohms_factor
        film = self.film[0] * y[-1] if self.film else 0.0
        return e + self.shift - sum(y[2:-1]), ohms, ohms + film

    def activation(self, amps):
        return self.b * asinh(amps / (2.0 * self.i0)) if self.b else 0.0

    def most_watts(self, behind, ohms):
        """The most that can be had and the current there."""
        if not self.b:
            return behind * behind / (4.0 * ohms), behind / (2.0 * ohms)
        slope = lambda i: behind - 2.0 * i * ohms - self.activation(i) - i * self.b / sqrt(i * i + 4.0 * self.i0**2)
        i = brentq(slope, 0.0, behind / (2.0 * ohms), xtol=1e-15)
        return i * (behind - i * ohms - self.activation(i)), i

    def amps(self, y, demand):
        kind, value = demand
        if kind == "amps":
            return value
        behind, _, ohms = self.parts(y)
        if kind == "ohms":
            if not self.b:
                return behind / (ohms + value)
            return brentq(lambda i: behind - self.activation(i) - i * (ohms + value), 0.0, behind / (ohms + value), xtol=1e-15)
        most, there = self.most_watts(behind, ohms)
        if value >= most:
            return there
        if not self.b:
            return 2.0 * value / (behind + sqrt(behind * behind - 4.0 * ohms * value))
        return brentq(lambda i: i * (behind - i * ohms - self.activation(i)) - value, 0.0, there, xtol=1e-15)

    def volts(self, y, demand):
        amps = self.amps(y, demand)
        behind, _, ohms = self.parts(y)
        return behind - amps * ohms - self.activation(amps)

    def spare(self, y, demand):
        """Above zero as long as a power can be given."""
        if demand[0] != "watts":
            return 1.0
        behind, _, ohms = self.parts(y)
        return self.most_watts(behind, ohms)[0] / demand[1] - 1.0 if behind > 0.0 else -1.0

    def slopes(self, y, demand):
        amps = self.amps(y, demand)
        _, ohms, _ = self.parts(y)
        out = [amps / self.q + self.lost, amps / (self.c * self.q) - self.k * y[1]]
        out += [(r * ohms * amps - v) / tau for r, v, tau in zip(self.ratio, y[2:-1], self.tau)]
        out.append((1.0 - y[-1]) * self.grow - (y[-1] * amps / self.film[2] if self.film else 0.0))
        return out

    def rest(self, y, secs):
        out = [y[0] + self.lost * secs, y[1] * exp(-self.k * secs)]
        out += [v * exp(-secs / tau) for v, tau in zip(y[2:-1], self.tau)]
        out.append(1.0 - (1.0 - y[-1]) * exp(-self.grow * secs) if self.film else 0.0)
        return out

    def hold(self, y, demand, secs, ends=()):
        """The state after a span of a demand or where it can no longer be given; seconds and charges at which the ends are met."""
        with_charge = lambda t, z: self.slopes(z[:-1], demand) + [self.amps(z[:-1], demand)]
        fold = lambda t, z: self.spare(z[:-1], demand)
        fold.terminal, fold.direction = True, -1.0
        events = [fold]
        for end in ends:
            below = lambda t, z, end=end: self.volts(z[:-1], demand) - end
            below.direction = -1.0
            events.append(below)
        flat = lambda t, z: self.volts(z[:-1], demand) - 0.05
        flat.terminal, flat.direction = True, -1.0
        events.append(flat)
        first = min(secs, min(self.tau, default=secs)) / 50.0
        out = solve_ivp(with_charge, (0.0, secs), list(y) + [0.0], method="LSODA", rtol=1e-8, atol=1e-11, events=events, dense_output=True, first_step=first)
        return out


def windows(duty):
    """Pairs (seconds on, seconds off after) for ever; None for on without an end."""
    if not duty:
        while True:
            yield inf, 0.0

    def within(level, span):
        on, every = duty[level]
        for _ in range(int(span / every + 1e-9)):
            if level == 0:
                yield on, every - on
            else:
                pending = None
                for a, b in within(level - 1, on):
                    if pending:
                        yield pending
                    pending = (a, b)
                yield pending[0], pending[1] + every - on

    yield from within(len(duty) - 1, 1e12)


def follow(bed, steps, duty, wanted):
    """What was given down to each end and the loaded voltages asked for, by every window in turn."""
    down_to = [w[1][1] if w[0] == "at_share" else w[1] for w in wanted if w[0] in ("time", "charge", "count", "at_share")]
    ends = sorted(set(down_to), reverse=True)
    met = {}
    lows = [bed.volts(bed.rested(bed.shelf), steps[0][0])]
    pieces = []  # on-time and charge at the start of each stretch, its solution
    y, on_secs, given, count = bed.rested(bed.shelf), 0.0, 0.0, 0
    last_time = max([w[1] for w in wanted if w[0] == "at_time"], default=0.0)
    last_charge = max([w[1] for w in wanted if w[0] == "at_charge"], default=0.0)

    def span(demand, secs):
        nonlocal y, on_secs, given
        out = bed.hold(y, demand, secs, ends)
        pieces.append((on_secs, given, out, demand))
        folded = len(out.t_events[0]) > 0
        for end, times, states in zip(ends, out.t_events[1:], out.y_events[1:]):
            if end in met:
                continue
            at = None
            if bed.volts(y, demand) < end:
                at = (on_secs, given)
            elif len(times):
                at = (on_secs + times[0], given + states[0][-1])
            elif folded:
                at = (on_secs + out.t[-1], given + out.y[-1, -1])
            if at:
                met[end] = at + (count,)
        y = list(out.y[:-1, -1])
        on_secs += out.t[-1]
        given += out.y[-1, -1]
        stop = out.status == 1 or (len(met) == len(ends) and on_secs > last_time and given > last_charge)
        return 0.0 if folded else min(bed.volts(list(out.y[:-1, 0]), demand), bed.volts(y, demand)), stop

    for on, off in windows(duty):
        left, stop = on, False
        while left > 1e-6 and not stop:
            count += 1
            low = inf
            for demand, secs in steps:
                if left > 1e-6 and not stop:
                    secs = min(left, 1e9 if secs is None else secs)
                    here, stop = span(demand, secs)
                    low = min(low, here)
                    left -= secs
            lows.append(low)
        if stop:
            break
        y = bed.rest(y, off)
    return met, pieces, lows


def on_curve(bed, pieces, axis, at):
    for on_secs, given, out, demand in pieces:
        begin = on_secs if axis == "time" else given
        length = out.t[-1] if axis == "time" else out.y[-1, -1]
        if begin < at <= begin + length * (1.0 + 1e-12):
            t = at - begin
            if axis == "charge":
                t = brentq(lambda t: out.sol(t)[-1] - (at - begin), 0.0, out.t[-1]) if at < begin + length else out.t[-1]
            return bed.volts(list(out.sol(min(t, out.t[-1]))[:-1]), demand)
    return None


R, I, P = (lambda v: ("ohms", v)), (lambda v: ("amps", v)), (lambda v: ("watts", v))
DAILY = (8.0 * HOUR, DAY)
PULSE = [(P(1.5), 2.0), (P(0.65), 28.0)]

# name, cell, celsius, age, steps, windows inner to outer, wanted
CASES = [
    ("resistance", ROUND, 20.0, 0.0, [(R(10.0), None)], [], [("time", 1.2), ("time", 0.9), ("charge", 0.9), ("at_time", 600.0), ("at_time", 15.0 * HOUR), ("at_charge", 300.0), ("at_charge", 6000.0), ("at_share", (0.1, 0.9)), ("at_share", (0.7, 0.9))]),
    ("current", ROUND, 20.0, 0.0, [(I(0.5), None)], [], [("time", 1.1), ("charge", 0.8), ("at_time", 60.0), ("at_time", 2.0 * HOUR), ("at_share", (0.5, 0.8))]),
    ("heavy", ROUND, 20.0, 0.0, [(I(1.5), None)], [], [("time", 1.0), ("charge", 0.8)]),
    ("light", ROUND, 20.0, 0.0, [(I(5e-3), None)], [], [("time", 1.1), ("charge", 0.9), ("at_time", HOUR), ("at_charge", 4000.0)]),
    ("power", ROUND, 20.0, 0.0, [(P(0.25), None)], [], [("time", 1.1), ("time", 0.8), ("at_time", HOUR)]),
    ("fold", ROUND, 20.0, 0.0, [(P(1.5), None)], [], [("time", 0.9), ("time", 0.4), ("charge", 0.4)]),
    ("minutes", ROUND, 20.0, 0.0, [(R(3.9), None)], [(15.0, 60.0), DAILY], [("time", 1.1), ("time", 0.9), ("charge", 0.9), ("count", 0.9), ("at_time", 7200.0)]),
    ("hours", ROUND, 20.0, 0.0, [(R(3.9), None)], [(240.0, HOUR), DAILY], [("time", 1.1), ("time", 0.9), ("count", 0.9), ("at_time", 240.0 * 8 * 10)]),
    ("halves", ROUND, 20.0, 0.0, [(I(0.1), None)], [(HOUR, 12.0 * HOUR)], [("time", 1.1), ("time", 0.9), ("at_time", 10.0 * HOUR)]),
    ("toy", ROUND, 20.0, 0.0, [(R(3.9), None)], [(HOUR, DAY)], [("time", 1.1), ("time", 0.8)]),
    ("camera", ROUND, 20.0, 0.0, PULSE, [(300.0, HOUR)], [("count", 1.05), ("count", 0.9), ("time", 1.05)]),
    ("always", ROUND, 20.0, 0.0, [(R(6.0), 5.0), (I(0.02), 55.0)], [], [("count", 1.1), ("time", 0.9)]),
    ("ticks", COIN, 20.0, 0.0, [(I(10e-3), None)], [(5.0, 60.0)], [("time", 2.4), ("time", 2.0), ("charge", 2.0), ("count", 2.0), ("at_time", 5.0 * 6000), ("at_charge", 500.0)]),
    ("long", COIN, 20.0, 0.0, [(R(15e3), None)], [], [("time", 2.5), ("time", 2.0), ("at_time", 10.0 * DAY)]),
    ("freezing", ROUND, -12.0, 0.0, [(R(10.0), None)], [], [("time", 1.1), ("time", 0.9), ("at_time", HOUR)]),
    ("warm", ROUND, 35.0, 0.0, [(P(0.4), None)], [(240.0, HOUR)], [("time", 0.9)]),
    ("film", FILM, 20.0, 0.0, [(I(8e-3), None)], [(10.0, 600.0)], [("time", 3.0), ("charge", 2.7), ("at_time", 20.0), ("at_time", 10.0 * 2000)]),
    ("filmday", FILM, 25.0, 0.0, [(R(330.0), None)], [(120.0, DAY)], [("at_time", 120.0 * 5), ("at_time", 120.0 * 100), ("at_time", 120.0 * 240)]),
    ("aged", ROUND, 20.0, 5.0 * YEAR, [(R(5.1), None)], [], [("time", 1.1), ("charge", 0.9), ("at_time", HOUR)]),
    ("agedcoin", COIN, 20.0, 8.0 * YEAR, [(I(6.8e-3), None)], [(15.0, 60.0)], [("time", 2.5), ("time", 2.0)]),
    ("cliff", STEEP, 20.0, 0.0, [(I(1e-3), None)], [], [("time", 2.0), ("time", 1.0)]),
    ("cliffpulse", STEEP, 20.0, 0.0, [(I(5e-3), None)], [(5.0, 60.0)], [("time", 2.0)]),
]
LOG = [(0.0, 0.05), (60.0, 0.8), (90.0, 0.05), (3600.0, 0.0), (7200.0, 0.3), (9000.0, 0.3), (20000.0, 1.0), (20030.0, 0.0), (20090.0, 0.02), (60000.0, 0.02), (150000.0, 0.2), (155000.0, 0.0)]


def show(where):
    return ";".join(repr(w) for w in where) if isinstance(where, tuple) else repr(where)


def regimes():
    for name, cell, celsius, age, steps, duty, wanted in CASES:
        bed = Bed(cell, celsius, age)
        met, pieces, lows = follow(bed, steps, duty, wanted)
        for what, where in wanted:
            if what in ("time", "charge"):
                value = met[where][0 if what == "time" else 1]
            elif what == "count" and steps[0][1] is None:
                value = met[where][0] / duty[0][0]
            elif what == "count":
                # Between the last number with no voltage below the end and the next, in proportion.
                k = next(k for k, low in enumerate(lows) if low < where)
                value = k - 1 + (lows[k - 1] - where) / (lows[k - 1] - lows[k])
            elif what == "at_share":
                value = on_curve(bed, pieces, "charge", where[0] * met[where[1]][1])
            else:
                value = on_curve(bed, pieces, what[3:], where)
            print(f"{name},{what},{show(where)},{value:.9g}", flush=True)


def rested():
    bed = Bed(ROUND, 5.0, YEAR)
    for charge in (0.0, 2000.0, 8000.0):
        rest = bed.rested(bed.shelf + charge / bed.q)
        before = bed.volts(rest, I(0.0))
        print(f"rested,rest,{charge},{before:.9g}")
        for amps, secs in ((0.5, 0.1), (0.5, 60.0), (1.0, 0.0)):
            after = list(bed.hold(rest, I(amps), secs).y[:-1, -1]) if secs else rest
            under = bed.volts(after, I(amps))
            print(f"rested,pulse,{charge};{amps};{secs},{under:.9g}")
            print(f"rested,ohms,{charge};{amps};{secs},{(before - under) / amps:.9g}")


def logged():
    bed = Bed(ROUND, 20.0, 0.0)
    y = bed.rested(0.0)
    for k, (t, amps) in enumerate(LOG):
        print(f"log,{t},{amps},{bed.volts(y, I(amps)):.9g}")
        if k + 1 < len(LOG):
            y = list(bed.hold(y, I(amps), LOG[k + 1][0] - t).y[:-1, -1])


if __name__ == "__main__":
    regimes()
    rested()
    logged()
