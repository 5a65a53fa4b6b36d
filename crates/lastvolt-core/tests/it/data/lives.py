"""Lives of small boards with every burst stepped, by SUNDIALS through scikit-sundae.

The equations of design and docs/theory/life.md are written here a second time and integrated from
edge to edge with CVODE at rtol 1e-9. Run `python3 lives.py > lives.csv` (scikit-sundae 1.2,
numpy, scipy 1.17). Each row: case, life in seconds, depth at the end, charge given in coulombs.
"""

from bisect import bisect_right
from math import sqrt
import sys

import numpy as np
from scipy.interpolate import PchipInterpolator
from sksundae.cvode import CVODE


class Table:
    """A monotone cubic table, evaluated without overhead."""

    def __init__(self, points):
        self.x = [p[0] for p in points]
        spline = PchipInterpolator(self.x, [p[1] for p in points])
        self.c = [[float(v) for v in spline.c[:, k]] for k in range(len(points) - 1)]
        self.ends = (points[0][1], points[-1][1])

    def __call__(self, x):
        if x <= self.x[0]:
            return self.ends[0]
        if x >= self.x[-1]:
            return self.ends[1]
        k = bisect_right(self.x, x) - 1
        t = x - self.x[k]
        a, b, c, d = self.c[k]
        return ((a * t + b) * t + c) * t + d


class Cell:
    def __init__(self, charge, emf, ohms, c, k, branches):
        self.q, self.emf, self.ohms = charge, Table(emf), Table(ohms)
        self.c, self.k, self.branches = c, k, branches

    def terms(self, y):
        x = y[0] + (1 - self.c) * y[1]
        return self.emf(x) - y[2] - y[3], self.ohms(x)

    def slopes(self, y, amps, ohms, yp):
        yp[0] = amps / self.q
        yp[1] = amps / (self.c * self.q) - self.k * y[1]
        for n, (ratio, tau) in enumerate(self.branches):
            yp[2 + n] = (ratio * ohms * amps - y[2 + n]) / tau


def coin_cell(charge):
    emf = [(0, 3.2), (0.05, 3.05), (0.5, 2.95), (0.85, 2.8), (0.95, 2.5), (1, 2.0)]
    ohms = [(0, 12), (0.6, 18), (0.9, 40), (1, 80)]
    return Cell(charge, emf, ohms, 0.7, 2e-4, [(0.8, 4.0), (2.5, 1800.0)])


def alkaline_cell(charge):
    emf = [(0, 1.6), (0.05, 1.52), (0.5, 1.27), (0.95, 1.0), (1, 0.6)]
    ohms = [(0, 0.5), (0.6, 0.7), (0.9, 1.6), (1, 3.0)]
    return Cell(charge, emf, ohms, 0.6, 1.5e-5, [(0.6, 8.0), (0.9, 9000.0)])


SLEEP, SENSE, TRANSMIT = 3e-6, 1e-3, 0.011
BYPASS, LEAK = 10e-6, 2.2e6


def coin(charge, schedule):
    """Cell, bypass and leak on one net; the life ends when a burst pulls the net below 2.0 V."""
    cell = coin_cell(charge)
    load = [SLEEP]

    def rhs(t, y, yp):
        emf, ohms = cell.terms(y)
        amps = (emf - y[4]) / ohms
        cell.slopes(y, amps, ohms, yp)
        yp[4] = (amps - y[4] / LEAK - load[0]) / BYPASS

    start = np.array([0, 0, 0, 0, 3.2])
    return follow(rhs, start, load, schedule, lambda y: y[4] < 2.0, cell)


def step_up(charge, schedule):
    """Constant power behind cell, winding and path resistance; ends where the quadratic has no root
    or the converter's input is below 0.4 V."""
    cell = alkaline_cell(charge)
    load = [0.0]
    behind = 0.1 + 0.3

    def current(y):
        emf, ohms = cell.terms(y)
        total = ohms + behind
        watts = 1.06 * load[0] + 3.0 * 15e-6
        inner = emf * emf - 4 * total * watts
        if inner < 0:
            return None, ohms
        amps = 2 * watts / (emf + sqrt(inner))
        return amps, ohms

    def rhs(t, y, yp):
        amps, ohms = current(y)
        if amps is None:
            amps = 0.0
        cell.slopes(y, amps, ohms, yp)

    def over(y):
        amps, ohms = current(y)
        if amps is None:
            return True
        return cell.terms(y)[0] - amps * ohms < 0.4

    return follow(rhs, np.array([0.0, 0, 0, 0]), load, schedule, over, cell)


def follow(rhs, y, load, schedule, over, cell):
    """Integrates from edge to edge; `schedule` yields (span, load)."""
    solver = CVODE(rhs, rtol=1e-9, atol=1e-13, method="BDF", max_num_steps=100000)
    now = 0.0
    for span, value in schedule:
        load[0] = value
        if over(y):
            return now, y
        result = solver.solve(np.array([0.0, span]), y)
        y = np.array(result.y[-1])
        now += span
        if over(y):
            return now, y
    raise SystemExit("the schedule ended before the life")


def bursts(period, steps, rest):
    busy = sum(span for span, _ in steps)
    while True:
        yield from steps
        yield period - busy, rest


def windows(period, steps, rest, opened, cycle):
    busy = sum(span for span, _ in steps)
    while True:
        for _ in range(round(opened / period)):
            yield from steps
            yield period - busy, rest
        yield cycle - opened, rest


def main():
    report = [(0.012, SENSE), (0.0032, TRANSMIT)]
    watts = [(0.012, 5e-3), (0.0032, 40e-3)]
    listen = [(0.04, TRANSMIT)]
    cases = {
        "coin-bypass": lambda: coin(1.0, bursts(5.0, report, SLEEP)),
        "step-up": lambda: step_up(3.0, bursts(5.0, watts, 20e-6)),
        "coin-window": lambda: coin(4.0, windows(60.0, listen, SLEEP, 28800.0, 86400.0)),
        # Long enough for whole days to be leapt over.
        "coin-months": lambda: coin(40.0, windows(60.0, listen, SLEEP, 28800.0, 86400.0)),
        "step-up-months": lambda: step_up(
            150.0, windows(60.0, [(0.04, 40e-3)], 20e-6, 28800.0, 86400.0)
        ),
    }
    print("case,life_secs,depth")
    for name, case in cases.items():
        if len(sys.argv) > 1 and name not in sys.argv[1:]:
            continue
        secs, y = case()
        print(f"{name},{secs!r},{float(y[0])!r}", flush=True)


main()
