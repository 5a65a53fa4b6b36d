"""Lives and bursts of small boards, every burst stepped by SUNDIALS through scikit-sundae.

The equations of docs/theory/circuit.md and docs/theory/life.md are written here a second time, with
capacitors and regulators in time, and integrated with CVODE (BDF, rtol 1e-9) from edge to edge.
What is algebraic (node voltages, currents of regulators) is solved inside the right-hand side.

    cell        d, s, v1, v2 as in docs/theory/life.md, all four states in every burst
    capacitor   i = (V - u)/ESR into the plates, C du/dt = i, leakage G V across the terminals
    load        constant current or power, fading in proportion below a voltage
    regulator   e = V_set - V_out, i_req = w + K e, K = 2 C/t_r, C = nominal capacitance at the output,
                dw/dt = C/t_r^2 e + (io - i_req)/t_r, min(io, max(io - i_req, dropout)) = 0,
                power balance as in circuit.md eq. (10); off for good once its input is below the
                lowest running voltage or its source cannot give the power

A life ends at the first internal step of the solver at which a load is below its working range or the
converter stops. Tasks start at t = 0, `two-tasks` has its second task 2.1 s later. There the worst
alignment is taken as occurring at once: before a burst of the first task the same state is also
followed through a burst in which both tasks end together, and the life ends when that fails.

Run `python3 brute.py lives`, `python3 brute.py waves`, `python3 brute.py work` in this order (names of
cases may follow `lives`); they write brute.csv, brute_states.csv, waveforms.csv and brute_work.csv
beside this file. `python3 brute.py proof` sets the waveforms beside those of scipy's Radau. Done with
Python 3.11, scikit-sundae 1.2.0, scipy 1.17.1 and numba 0.68. The column `wall_secs` of brute.csv says
how long each life took on one core of a shared machine: 6 to 100 s.
"""

import csv
from pathlib import Path
import sys
import time

import numba
import numpy as np
from scipy.integrate import solve_ivp
from scipy.interpolate import PchipInterpolator
from sksundae.cvode import CVODE

HERE = Path(__file__).parent
CELSIUS = 20.0
# Leakages are stated at 25 degC and double per 10 K.
LEAK = 2.0 ** ((CELSIUS - 25.0) / 10.0)

# Places of the parameters.
NAMES = (
    "charge available rate ratio1 tau1 ratio2 tau2 series own act_volts act_amps "
    "amps watts siemens fade "
    "farads1 ohms1 leak1 farads2 ohms2 leak2 shunt "
    "kind set share path winding quiescent_in quiescent_out dropout ground gain tau farads_out on"
).split()
AT = {name: k for k, name in enumerate(NAMES)}
(CHARGE, AVAILABLE, RATE, RATIO1, TAU1, RATIO2, TAU2, SERIES, OWN, ACT_VOLTS, ACT_AMPS,
 AMPS, WATTS, SIEMENS, FADE,
 FARADS1, OHMS1, LEAK1, FARADS2, OHMS2, LEAK2, SHUNT,
 KIND, SET, SHARE, PATH, WINDING, QUIESCENT_IN, QUIESCENT_OUT, DROPOUT, GROUND, GAIN, TAU,
 FARADS_OUT, ON) = range(len(NAMES))
DIRECT, BOOST, BUCK_BOOST, LINEAR = 0.0, 1.0, 2.0, 3.0

jit = numba.njit


@jit
def table(x, xs, c):
    """Monotone cubic table, held outside."""
    n = xs.size
    if x <= xs[0]:
        return c[3, 0]
    k = n - 2
    if x < xs[n - 1]:
        k = np.searchsorted(xs, x, side="right") - 1
    else:
        x = xs[n - 1]
    t = x - xs[k]
    return ((c[0, k] * t + c[1, k]) * t + c[2, k]) * t + c[3, k]


@jit
def cell(y, p, ex, ec, rx, rc):
    """Open voltage less polarisation, and resistance, of the whole string."""
    x = y[0] + (1.0 - p[AVAILABLE]) * y[1]
    emf = table(x, ex, ec)
    if x > 1.0:
        emf = max(emf + (-0.6 - emf) / 0.02 * (x - 1.0), -0.6)
    return p[SERIES] * (emf - y[2] - y[3]), p[SERIES] * table(x, rx, rc)


@jit
def load(v, p):
    """Current of all loads and its slope."""
    siemens = p[SIEMENS]
    amps, slope = siemens * v, siemens
    if v >= p[FADE]:
        amps += p[AMPS]
        if p[WATTS] != 0.0:
            amps += p[WATTS] / v
            slope -= p[WATTS] / (v * v)
    else:
        slope += p[AMPS] / p[FADE] + p[WATTS] / (p[FADE] * p[FADE])
        amps += v * (p[AMPS] / p[FADE] + p[WATTS] / (p[FADE] * p[FADE]))
    return amps, slope


@jit
def direct(y, p, ex, ec, rx, rc):
    """Cell, capacitor, shunt and load on one net: cell current and voltage of the net."""
    emf, ohms = cell(y, p, ex, ec, rx, rc)
    u = y[4]
    g = 1.0 / p[OHMS1]
    fixed = p[LEAK1] + p[SHUNT]
    i = (emf - u) / ohms
    v = u
    b, scale = p[SERIES] * p[ACT_VOLTS], 2.0 * p[ACT_AMPS]
    for _ in range(60):
        act, act_slope = 0.0, 0.0
        if b != 0.0:
            act = b * np.arcsinh(i / scale)
            act_slope = b / np.sqrt(scale * scale + i * i)
        v = emf - ohms * i - act
        amps, slope = load(v, p)
        miss = i + g * (u - v) - fixed * v - amps
        step = miss / (1.0 + (ohms + act_slope) * (g + fixed + slope))
        i -= step
        if abs(step) <= 1e-15 + 1e-14 * abs(i):
            break
    act = 0.0
    if b != 0.0:
        act = b * np.arcsinh(i / scale)
    return i, emf - ohms * i - act


@jit
def output(io, u, p):
    """Voltage of the output net at a current into it, and its slope."""
    g = 1.0 / p[OHMS2]
    v, slope = u, 0.0
    for _ in range(60):
        amps, slope = load(v, p)
        step = (io + g * (u - v) - p[LEAK2] * v - amps) / (g + p[LEAK2] + slope)
        v += step
        if abs(step) <= 1e-15 * abs(v) + 1e-16:
            break
    return v, 1.0 / (g + p[LEAK2] + slope)


@jit
def low_root(a, b, c):
    """Smaller root of a x^2 - b x + c = 0; its peak and True where there is none."""
    inner = b * b - 4.0 * a * c
    if inner < 0.0:
        return b / (2.0 * a), True
    return 2.0 * c / (b + np.sqrt(inner)), False


@jit
def regulated(y, p, ex, ec, rx, rc):
    """Cell current, input and output voltage, output current, requested current, and whether the
    source cannot give the power."""
    emf, ohms = cell(y, p, ex, ec, rx, rc)
    on = p[ON] > 0.5
    g = 1.0 / p[OHMS1]
    iq = p[QUIESCENT_IN] if on else 0.0
    b = 1.0 / (1.0 / ohms + g + p[LEAK1])
    a = b * (emf / ohms + g * y[4] - iq)
    if a < 0.2:
        b = 1.0 / (1.0 / ohms + g + p[LEAK1] + iq / 0.2)
        a = b * (emf / ohms + g * y[4])
    u, w, k = y[5], y[6], p[GAIN]
    io, over = 0.0, False
    vo, slope = output(0.0, u, p)
    if on:
        for _ in range(60):
            vo, slope = output(io, u, p)
            step = (io - w - k * (p[SET] - vo)) / (1.0 + k * slope)
            io -= step
            if abs(step) <= 1e-15 + 1e-14 * abs(io):
                break
        io = max(io, 0.0)
        vo, slope = output(io, u, p)
    ip = 0.0
    if on and p[KIND] == LINEAR:
        io, vo, ip = linear(io, a, b, u, p)
    elif on:
        fading = min(vo / 0.2, 1.0)
        watts = (1.0 + p[SHARE]) * vo * io + vo * p[QUIESCENT_OUT] * fading
        r = p[PATH] + p[WINDING]
        if p[KIND] == BOOST:
            ip, over = low_root(b + r, a, watts)
        else:
            ip, over = low_root(b, a, watts + r * io * io)
            if ip + iq > io:
                ip, over = low_root(b + r, a - 2.0 * r * iq, watts + r * iq * iq)
        if p[PATH] > 0.0:
            level = a - b * ip
            if p[KIND] == BOOST:
                level -= p[WINDING] * ip
            over = over or ip > level / (2.0 * p[PATH])
    vin = a - b * ip
    return (emf - vin) / ohms, vin, vo, io, w + k * (p[SET] - vo), over


@jit
def linear(wanted, a, b, u, p):
    """Output current, output voltage and input current of a linear regulator asked for a current:
    what it is asked for, or what dropout leaves."""
    low, high, io = 0.0, wanted, wanted
    vo, ip = 0.0, 0.0
    for _ in range(100):
        vo, slope = output(io, u, p)
        short = (p[SET] - vo) / (0.02 * p[SET])
        bend = 0.0
        if short >= 1.0:
            short = 1.0
        elif short <= 0.0:
            short = 0.0
        else:
            bend = -slope / (0.02 * p[SET])
        ip = io * (1.0 + p[GROUND] * short)
        ip_slope = 1.0 + p[GROUND] * (short + io * bend)
        drop = vo - (a - b * ip) + p[DROPOUT] * io
        if io == wanted and drop <= 0.0:
            break
        if drop > 0.0:
            high = io
        else:
            low = io
        step = drop / (slope + b * ip_slope + p[DROPOUT])
        following = io - step
        if following <= low or following >= high:
            following = 0.5 * (low + high)
        if abs(following - io) <= 1e-15 + 1e-14 * abs(io):
            break
        io = following
    return io, vo, ip


@jit
def slopes(y, yp, p, ex, ec, rx, rc):
    if p[KIND] == DIRECT:
        i, v = direct(y, p, ex, ec, rx, rc)
        yp[4] = (v - y[4]) / (p[OHMS1] * p[FARADS1])
    else:
        i, vin, vo, io, asked, over = regulated(y, p, ex, ec, rx, rc)
        yp[4] = (vin - y[4]) / (p[OHMS1] * p[FARADS1])
        yp[5] = (vo - y[5]) / (p[OHMS2] * p[FARADS2])
        t = p[TAU]
        if p[ON] > 0.5:
            yp[6] = p[FARADS_OUT] / (t * t) * (p[SET] - vo) + (io - asked) / t
        else:
            yp[6] = 0.0
    x = y[0] + (1.0 - p[AVAILABLE]) * y[1]
    drop = table(x, rx, rc) * i
    # A primary cell takes no charge back.
    drawn = max(i, 0.0)
    yp[0] = drawn / p[CHARGE] + p[OWN]
    yp[1] = drawn / (p[AVAILABLE] * p[CHARGE]) - p[RATE] * y[1]
    yp[2] = (p[RATIO1] * drop - y[2]) / p[TAU1]
    yp[3] = (p[RATIO2] * drop - y[3]) / p[TAU2]


@jit
def seen(ys, p, ex, ec, rx, rc):
    """Rail, input of the regulator (or rail), cell current, and 1 where the source gives up."""
    n = ys.shape[0]
    out = np.zeros((n, 4))
    for k in range(n):
        if p[KIND] == DIRECT:
            i, v = direct(ys[k], p, ex, ec, rx, rc)
            out[k] = (v, v, i, 0.0)
        else:
            i, vin, vo, io, asked, over = regulated(ys[k], p, ex, ec, rx, rc)
            out[k] = (vo, vin, i, 1.0 if over else 0.0)
    return out


def pchip(points):
    spline = PchipInterpolator([q[0] for q in points], [q[1] for q in points])
    return spline.x.copy(), np.ascontiguousarray(spline.c)


COIN = dict(
    emf=[(0, 3.2), (0.05, 3.05), (0.5, 2.95), (0.85, 2.8), (0.95, 2.5), (1, 2.0)],
    ohms=[(0, 12), (0.6, 18), (0.9, 40), (1, 80)],
)
ALKALINE = dict(
    emf=[(0, 1.6), (0.05, 1.52), (0.5, 1.27), (0.95, 1.0), (1, 0.6)],
    ohms=[(0, 0.5), (0.6, 0.7), (0.9, 1.6), (1, 3.0)],
)


class Board:
    """Parameters of one board, its rest load, its tasks and what ends its life."""

    def __init__(self, cell, rest, tasks, lowest, stops=0.0, window=None, **values):
        self.tables = (*pchip(cell["emf"]), *pchip(cell["ohms"]))
        self.p = np.zeros(len(NAMES))
        base = dict(series=1, act_amps=1.0, ohms1=1.0, ohms2=1.0, farads1=1.0, farads2=1.0, tau=1.0, on=1.0)
        for name, value in {**base, **values}.items():
            self.p[AT[name]] = value
        self.is_direct = self.p[KIND] == DIRECT
        if not self.is_direct:
            t = self.p[TAU]
            self.p[FARADS_OUT] = max(self.p[FARADS2], t * 1e-3)
            self.p[GAIN] = 2.0 * self.p[FARADS_OUT] / t
        self.rest, self.tasks, self.window = rest, tasks, window
        self.lowest, self.stops = lowest, stops
        self.steps = self.calls = 0
        states = 5 if self.is_direct else 7
        atol = np.array([1e-14, 1e-13, 1e-11, 1e-11, 1e-10, 1e-10, 1e-11][:states])
        # Bound early: a thin Python call round compiled equations.
        p, tables = self.p, self.tables
        self.solver = CVODE(
            lambda t, y, yp: slopes(y, yp, p, *tables),
            rtol=1e-9, atol=atol, method="BDF", max_num_steps=1000000,
        )

    def put(self, law):
        """Loads draw what the law says: currents, powers or conductances."""
        self.p[AMPS] = law.get("amps", 0.0)
        self.p[WATTS] = law.get("watts", 0.0)
        self.p[SIEMENS] = law.get("siemens", 0.0)

    def step(self, span, y, law):
        self.put(law)
        result = self.solver.solve(np.array([0.0, span]), y)
        if not result.success:
            raise SystemExit(f"no success: {result.message}")
        self.steps += len(result.t) - 1
        self.calls += result.nfev
        return result.t, result.y

    def settled(self, cells):
        """All states with the cells as they are and the rest in balance with them at rest load."""
        kept = self.p.copy()
        self.p[CHARGE], self.p[RATE], self.p[OWN] = 1e30, 0.0, 0.0
        self.p[TAU1] = self.p[TAU2] = 1e30
        emf, _ = cell(np.array(cells), self.p, *self.tables)
        y = np.array([*cells, emf] if self.is_direct else [*cells, emf, min(emf, self.p[SET]), 1e-6])
        count = self.steps, self.calls
        _, ys = self.step(1000.0, y, self.rest)
        self.steps, self.calls = count
        self.p[:] = kept
        return np.array([*cells, *ys[-1][4:]])

    def over(self, ts, ys):
        """First instant at which a need fails, with the cause; the lowest rail."""
        view = seen(ys, self.p, *self.tables)
        brown = view[:, 0] < self.lowest
        stop = (view[:, 3] > 0.5) | (view[:, 1] < self.stops)
        bad = brown | stop
        low = view[:, 0].min()
        if not bad.any():
            return None, low
        k = int(np.argmax(bad))
        return (float(ts[k]), "converter-stopped" if stop[k] else "brown-out", ys[k]), low


def added(*laws):
    total = {}
    for law in laws:
        for name, value in law.items():
            total[name] = total.get(name, 0.0) + value
    return total


def segments(board):
    """Span and law from edge to edge, with the start of bursts of the first task marked."""
    edges = []
    for task in board.tasks:
        edges.append([round(task["offset"] * 1e9), task, -1])
    now = 0
    active = [None] * len(board.tasks)
    while True:
        starts = False
        for k, edge in enumerate(edges):
            if edge[0] != now:
                continue
            task, step = edge[1], edge[2] + 1
            starts = starts or (k == 0 and step == 0)
            if step == len(task["steps"]):
                busy = sum(round(s * 1e9) for s, _ in task["steps"])
                edge[0] += round(task["every"] * 1e9) - busy
                edge[2] = -1
                active[k] = None
                if board.window:
                    opened, cycle = (round(w * 1e9) for w in board.window)
                    if edge[0] % cycle >= opened:
                        edge[0] = (edge[0] // cycle + 1) * cycle
            else:
                edge[0] += round(task["steps"][step][0] * 1e9)
                edge[2] = step
                active[k] = task["steps"][step][1]
        following = min(edge[0] for edge in edges)
        busy = [law for law in active if law is not None]
        # A task's law is what it adds to the rest of its own load.
        yield (following - now) * 1e-9, added(board.rest, *busy), starts
        now = following


def together(board):
    """A burst in which all tasks end at once: spans and laws."""
    ends = [sum(s for s, _ in task["steps"]) for task in board.tasks]
    longest = max(ends)
    marks = {0.0, longest}
    laid = []
    for task, end in zip(board.tasks, ends):
        t = longest - end
        for span, law in task["steps"]:
            laid.append((t, t + span, law))
            marks |= {t, t + span}
            t += span
    marks = sorted(marks)
    for a, b in zip(marks, marks[1:]):
        if b - a > 1e-12:
            mid = 0.5 * (a + b)
            yield b - a, added(board.rest, *(law for s, e, law in laid if s < mid < e))


def worst(board, y):
    """Lowest rail in the burst in which all tasks end at once, and how it fails if it does."""
    lowest, t0 = np.inf, 0.0
    for span, law in together(board):
        ts, ys = board.step(span, y, law)
        failed, low = board.over(ts, ys)
        lowest = min(lowest, low)
        if failed:
            return lowest, (t0 + failed[0], failed[1], failed[2])
        y, t0 = np.array(ys[-1]), t0 + span
    return lowest, None


def live(board, most=None):
    """Steps every burst; gives life, cause, states at the end and one row for each burst."""
    y = board.settled([0.0, 0.0, 0.0, 0.0])
    now, rows = 0.0, []
    several = len(board.tasks) > 1
    looked = 1.0
    for span, law, starts in segments(board):
        if starts:
            if several and (looked < 0.08 or len(rows) % 25 == 0):
                low, failed = worst(board, y)
                looked = low - board.lowest
                rows.append([now, y, low])
                if failed:
                    return now + failed[0], failed[1], failed[2], rows
            elif several:
                rows.append([now, y, np.nan])
            else:
                rows.append([now, y, np.inf])
            if most and len(rows) > most:
                return now, "stopped", y, rows
        ts, ys = board.step(span, y, law)
        failed, low = board.over(ts, ys)
        if not several and rows:
            rows[-1][2] = min(rows[-1][2], low)
        if failed:
            return now + failed[0], failed[1], failed[2], rows
        y = np.array(ys[-1])
        now += span


def coin(charge, rate, taus, **more):
    return dict(cell=COIN, charge=charge, available=0.7, rate=rate,
                ratio1=0.8, tau1=taus[0], ratio2=2.5, tau2=taus[1], fade=1.0, **more)


def alkaline(charge, rate, taus, **more):
    return dict(cell=ALKALINE, charge=charge, available=0.6, rate=rate,
                ratio1=0.6, tau1=taus[0], ratio2=0.9, tau2=taus[1], fade=1.0, **more)


def task(every, steps, rest, unit="amps", offset=0.0):
    """Steps as span and what the load draws then in place of its rest."""
    return dict(every=every, offset=offset, steps=[(s, {unit: x - rest}) for s, x in steps])


def capacitor(place, farads, ohms, leak_amps=0.0, rated=6.3):
    return {f"farads{place}": farads, f"ohms{place}": ohms, f"leak{place}": leak_amps / rated * LEAK}


SLEEP = 3e-6


def report(transmit, span=3.2e-3, every=5.0):
    return task(every, [(0.012, 1e-3), (span, transmit)], SLEEP)


def boards():
    """Every board of this file; the slowest cell state is the larger of tau2 and 1/rate."""
    rest = dict(amps=SLEEP)
    bypass = capacitor(1, 10e-6, 0.01, 1e-7)
    return {
        # a: life 100 times the slowest cell state and more
        "coin-direct": lambda: Board(
            **coin(0.35, 5e-3, (4.0, 60.0)), **bypass, shunt=1 / 2.2e6,
            rest=rest, tasks=[report(0.011, 3e-3)], lowest=2.0),
        # b
        "step-up": lambda: Board(
            **alkaline(1.0, 2e-3, (8.0, 90.0)),
            **capacitor(1, 10e-6, 0.01), **capacitor(2, 22e-6, 0.01),
            kind=BOOST, set=3.0, share=0.06, path=0.3, winding=0.1, quiescent_out=15e-6, tau=50e-6,
            rest=dict(watts=20e-6),
            tasks=[task(5.0, [(0.012, 5e-3), (3.2e-3, 40e-3)], 20e-6, "watts")],
            lowest=2.0, stops=0.3),
        # c
        "up-down": lambda: Board(
            **alkaline(0.6, 2e-3, (8.0, 90.0), series=2),
            **capacitor(1, 10e-6, 0.01), **capacitor(2, 22e-6, 0.01),
            kind=BUCK_BOOST, set=2.5, share=0.05, path=0.3, winding=0.1, quiescent_in=2e-6,
            quiescent_out=8e-6, tau=50e-6,
            rest=rest, tasks=[report(0.03)], lowest=2.0, stops=0.9),
        # d
        "linear": lambda: Board(
            **coin(0.35, 5e-3, (4.0, 60.0)),
            **capacitor(1, 10e-6, 0.01), **capacitor(2, 4.7e-6, 0.02),
            kind=LINEAR, set=2.5, dropout=4.0, ground=0.05, quiescent_in=1e-6, tau=10e-6,
            rest=rest, tasks=[report(0.011)], lowest=2.0, stops=0.3),
        # e
        "two-tasks": lambda: Board(
            **coin(0.4, 5e-3, (4.0, 60.0)), **bypass, shunt=1 / 2.2e6,
            rest=dict(amps=SLEEP + 1e-6),
            tasks=[report(0.011), task(7.3, [(0.008, 6e-3)], 1e-6, offset=2.1)], lowest=2.0),
        # f
        "window": lambda: Board(
            **coin(3.27, 1e-4, (4.0, 7200.0), own=2e-8), **capacitor(1, 47e-6, 0.02, 1e-7),
            shunt=1 / 2.2e6, rest=rest, tasks=[task(60.0, [(0.04, 0.011)], SLEEP)],
            window=(28800.0, 86400.0), lowest=2.0),
        # g: life 100 times the slowest cell state and more
        "bypass-220u": lambda: Board(
            **coin(0.35, 1e-2, (4.0, 60.0)), **capacitor(1, 220e-6, 0.1, 2e-6), shunt=1 / 2.2e6,
            rest=rest, tasks=[report(0.025)], lowest=2.0),
        "supercapacitor": lambda: Board(
            **coin(2.0, 2e-2, (4.0, 60.0)), **capacitor(1, 0.1, 1.0, 1e-6, 5.5), shunt=1 / 2.2e6,
            rest=rest, tasks=[task(2.0, [(0.02, 0.03)], SLEEP)], lowest=2.0),
        # h: with activation
        "reset": lambda: Board(
            **{**coin(0.35, 5e-3, (4.0, 60.0), act_volts=8e-3, act_amps=1.4e-3), "fade": 1.7}, **bypass,
            shunt=1 / 2.2e6, rest=rest, tasks=[report(0.011)], lowest=2.0),
    }


SHARES = (0.1, 0.5, 0.8, 0.95)
LIFE_HEAD = "case life_secs cause depth coulombs bursts steps calls wall_secs".split()
STATE_HEAD = "case share secs depth imbalance branch1 branch2 capacitor1 capacitor2 request lowest_volts".split()


def stored(name):
    path = HERE / name
    if not path.exists():
        return {}
    with path.open() as file:
        rows = list(csv.reader(file))
    found = {}
    for row in rows[1:]:
        found.setdefault(row[0], []).append(row)
    return found


def write(name, head, rows):
    order = [k for k in boards() if k in rows] + [k for k in rows if k not in boards()]
    with (HERE / name).open("w", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(head)
        for case in order:
            out.writerows(rows[case])


def lives(names):
    for name, make in boards().items():
        if names and name not in names:
            continue
        board = make()
        begun = time.perf_counter()
        secs, cause, y, rows = live(board)
        wall = time.perf_counter() - begun
        # Self-discharge lowers the depth but gives nothing.
        coulombs = (y[0] - board.p[OWN] * secs) * board.p[CHARGE]
        kept = [[name, repr(secs), cause, repr(float(y[0])), repr(float(coulombs)), len(rows),
                 board.steps, board.calls, round(wall)]]
        print(kept[0], flush=True)
        states = []
        known = [row for row in rows if np.isfinite(row[2])]
        for share in SHARES:
            t, at, low = min(known, key=lambda row: abs(row[0] - share * secs))
            padded = [*at, *[""] * (7 - len(at))]
            states.append([name, share, repr(t), *[repr(float(v)) if v != "" else "" for v in padded],
                           repr(float(low))])
        all_lives, all_states = stored("brute.csv"), stored("brute_states.csv")
        all_lives[name], all_states[name] = kept, states
        write("brute.csv", LIFE_HEAD, all_lives)
        write("brute_states.csv", STATE_HEAD, all_states)


WAVE_HEAD = "case share secs rail_volts cell_amps what".split()
RESET = dict(below=1.7, release=1.9, boot=[(0.03, 6e-3)])
ASLEEP = dict(siemens=1e-8)
AFTER = {"supercapacitor": 1.9}


def instants(span, count=13):
    """Instants inside a segment, dense after its first edge and away from both."""
    return np.geomspace(min(2e-6, 1e-3 * span), 0.98 * span, count)


def sampled(board, name, share, t0, span, law, y):
    """Rows inside one segment, and the states at its end."""
    board.put(law)
    result = board.solver.solve(np.array([0.0, *instants(span), span]), y)
    view = seen(result.y, board.p, *board.tables)
    rows = [[name, share, repr(t0 + float(t)), repr(float(v[0])), repr(float(v[2])), ""]
            for t, v in zip(result.t[1:-1], view[1:-1])]
    return rows, np.array(result.y[-1])


def rest_row(board, name, share, y):
    board.put(board.rest)
    view = seen(np.array([y]), board.p, *board.tables)[0]
    return [name, share, "-0.001", repr(float(view[0])), repr(float(view[2])), "rest"]


def wave(board, name, share, cells):
    """One burst of the first task from cells in a stated state, everything else in balance."""
    y = board.settled(cells)
    rows, t0 = [rest_row(board, name, share, y)], 0.0
    steps = [(span, added(board.rest, law)) for span, law in board.tasks[0]["steps"]]
    for span, law in [*steps, (AFTER.get(name, 0.2), board.rest)]:
        found, y = sampled(board, name, share, t0, span, law, y)
        rows += found
        t0 += span
    return rows


def crossing(board, span, law, y, threshold):
    """Seconds until the rail crosses a threshold, if it does within the span."""
    board.put(law)
    rail = lambda states: seen(np.array([states]), board.p, *board.tables)[0, 0]

    def event(t, y, events):
        events[0] = rail(y) - threshold

    solver = CVODE(lambda t, y, yp: slopes(y, yp, board.p, *board.tables), rtol=1e-10, atol=1e-13,
                   method="BDF", max_num_steps=1000000, eventsfn=event, num_events=1)
    result = solver.solve(np.array([0.0, span]), y)
    return float(result.t_events[0]) if result.t_events is not None and len(result.t_events) else None


def wave_with_reset(board, name, share, cells):
    """As `wave`, with a load that resets below a voltage, starts again above another and boots."""
    y = board.settled(cells)
    rows, now = [rest_row(board, name, share, y)], 0.0
    edges, t = [], 0.0
    for span, law in board.tasks[0]["steps"]:
        edges.append((t, added(board.rest, law)))
        t += span
    edges.append((t, board.rest))
    last = t + 0.2
    mode, boot_end = "awake", None
    while now < last - 1e-12:
        law = [law for start, law in edges if start <= now + 1e-12][-1]
        following = min([start for start, _ in edges if start > now + 1e-12] + [last])
        if mode == "reset":
            law = ASLEEP
        elif mode == "boot":
            law, following = dict(amps=RESET["boot"][0][1]), min(following, boot_end)
        threshold = RESET["release"] if mode == "reset" else RESET["below"]
        at = crossing(board, following - now, law, y, threshold)
        span = following - now if at is None else at
        found, y = sampled(board, name, share, now, span, law, y)
        rows += found
        now += span
        what = None
        if at is not None:
            what = "release" if mode == "reset" else "reset"
            mode = "boot" if mode == "reset" else "reset"
            boot_end = now + RESET["boot"][0][0]
        elif mode == "boot" and now >= boot_end - 1e-12:
            what, mode = "booted", "awake"
        if what:
            view = seen(np.array([y]), board.p, *board.tables)[0]
            rows.append([name, share, repr(now), repr(float(view[0])), repr(float(view[2])), what])
    return rows


def waves():
    all_states, found = stored("brute_states.csv"), {}
    for name, make in boards().items():
        board, rows = make(), []
        kept = [row for row in all_states[name] if row[1] != "reset"]
        for row in kept:
            if row[1] in ("0.5", "0.95"):
                rows += wave(board, name, row[1], [float(v) for v in row[3:7]])
        if name == "reset":
            cells = [float(v) for v in kept[-1][3:7]]
            while True:
                cells[0] += 0.002
                seen_rows = wave_with_reset(board, name, "reset", cells)
                low = min(float(row[3]) for row in seen_rows)
                if any(row[5] == "reset" for row in seen_rows):
                    break
            # A little deeper, so that the reset is no close call.
            cells[0] += 0.006
            seen_rows = wave_with_reset(board, name, "reset", cells)
            rows += seen_rows
            low = min(float(row[3]) for row in seen_rows)
            kept.append([name, "reset", "", *[repr(v) for v in cells], "", "", "", repr(low)])
        all_states[name], found[name] = kept, rows
    write("brute_states.csv", STATE_HEAD, all_states)
    write("waveforms.csv", WAVE_HEAD, found)


def work():
    """Steps that a coin cell of 225 mAh with a burst each 5 s takes for its whole life."""
    board = Board(
        **coin(810.0, 2e-4, (4.0, 1800.0)), **capacitor(1, 10e-6, 0.01, 1e-7), shunt=1 / 2.2e6,
        rest=dict(amps=SLEEP), tasks=[report(0.011)], lowest=2.0)
    begun = time.perf_counter()
    stepped = 1000
    _, _, y, _ = live(board, stepped)
    wall = time.perf_counter() - begun
    # Small cells of this kind end at a depth of 0.93 (lives.csv).
    drawn = y[0] * board.p[CHARGE] / stepped
    whole = 0.93 * board.p[CHARGE] / drawn
    row = ["coin-225mAh", stepped, board.steps, board.calls, round(wall, 1), repr(float(drawn)),
           round(whole), round(whole * board.steps / stepped), round(whole * 5.0),
           round(whole * wall / stepped)]
    head = ("case bursts steps calls wall_secs coulombs_per_burst whole_bursts whole_steps "
            "whole_life_secs whole_wall_secs").split()
    write("brute_work.csv", head, {row[0]: [row]})


def proof():
    """Stored waveforms against scipy's Radau on the same equations: largest differences by case."""
    table_rows = stored("waveforms.csv")
    for name, make in boards().items():
        board, most = make(), [0.0, 0.0]
        for row in stored("brute_states.csv")[name]:
            if row[1] not in ("0.5", "0.95"):
                continue
            y, t0 = board.settled([float(v) for v in row[3:7]]), 0.0
            rows = [r for r in table_rows[name] if r[1] == row[1] and float(r[2]) > 0.0]
            for span, law in [*board.tasks[0]["steps"], (AFTER.get(name, 0.2), {})]:
                board.put(added(board.rest, law))

                def rates(t, y):
                    yp = np.zeros_like(y)
                    slopes(y, yp, board.p, *board.tables)
                    return yp

                inside = [r for r in rows if t0 < float(r[2]) < t0 + span]
                times = [float(r[2]) - t0 for r in inside]
                found = solve_ivp(rates, (0.0, span), y, method="Radau", t_eval=[*times, span],
                                  rtol=1e-9, atol=1e-12)
                view = seen(np.ascontiguousarray(found.y.T), board.p, *board.tables)
                for r, v in zip(inside, view):
                    most[0] = max(most[0], abs(float(r[3]) - v[0]))
                    most[1] = max(most[1], abs(float(r[4]) - v[2]))
                y, t0 = found.y[:, -1].copy(), t0 + span
        print(f"{name}: {most[0]:.1e} V, {most[1]:.1e} A", flush=True)


def main():
    wanted = sys.argv[1:2]
    if wanted == ["lives"]:
        lives(sys.argv[2:])
    elif wanted == ["waves"]:
        waves()
    elif wanted == ["work"]:
        work()
    elif wanted == ["proof"]:
        proof()
    else:
        raise SystemExit(__doc__)


if __name__ == "__main__":
    main()
