"""Lives and a burst of boards with a film cell, every burst stepped by scipy: an independent solution.

The equations are written down here a second time, from docs/theory/life.md:

    dd/dt = I/Q   dv/dt = (r R0 I - v)/tau   dphi/dt = (1 - phi)/tau_g - phi I/q_b
    V = E(d) - (R0 + R_f phi) I - v          P = V I for a load of constant power

Prints rows: case, end in seconds, depth there, energy lost in the film in joules; then the burst as rows
wave, seconds, rail volts, film.

    python3 -m pip install scipy
    python3 crates/lastvolt-core/tests/it/data/film.py > crates/lastvolt-core/tests/it/data/film.csv
"""

from math import sqrt

from scipy.integrate import solve_ivp

DAY, HOUR = 86400.0, 3600.0
OHMS, RATIO, TAU = 8.0, 0.5, 20.0
HIGH, LOW = 3.7, 3.1


def amps_of(cell, law, y):
    kind, value = law
    if kind == "amps":
        return value
    inner = HIGH - (HIGH - LOW) * y[0] - y[1]
    ohms = OHMS + cell["ohms"] * y[2]
    return (inner - sqrt(inner * inner - 4.0 * ohms * value)) / (2.0 * ohms)


def volts_of(cell, law, y):
    amps = amps_of(cell, law, y)
    return HIGH - (HIGH - LOW) * y[0] - y[1] - (OHMS + cell["ohms"] * y[2]) * amps


def slopes(cell, law, y):
    amps = amps_of(cell, law, y)
    return [
        amps / cell["coulombs"],
        (RATIO * OHMS * amps - y[1]) / TAU,
        (1.0 - y[2]) / cell["growth"] - y[2] * amps / cell["burn_off"],
        cell["ohms"] * y[2] * amps * amps,
    ]


def edges(case):
    """Law by law: (seconds it lasts, law, voltage needed)."""
    t = 0.0
    while True:
        window = case.get("window")
        if window:
            t_in = t % window[0]
            if t_in >= window[1] - 1e-6:
                yield window[0] - t_in, case["base"], case["need"]
                t += window[0] - t_in
                t = round(t / window[0]) * window[0]
                continue
        first = case.get("offset", 0.0) if t == 0.0 else 0.0
        if first:
            yield first, case["base"], case["need"]
            t += first
        busy = 0.0
        for span, law in case["steps"]:
            yield span, law, case["need"]
            busy += span
        rest = case["every"] - busy
        yield rest, case["base"], case["need"]
        t += case["every"]


def life(case):
    cell = case["cell"]
    y, t = [0.0, 0.0, 1.0, 0.0], 0.0
    for span, law, need in edges(case):
        below = lambda s, y: volts_of(cell, law, y) - need
        below.terminal, below.direction = True, -1.0
        empty = lambda s, y: 1.0 - y[0]
        empty.terminal = True
        if below(0.0, y) < 0.0:
            return t, y
        out = solve_ivp(
            lambda s, y: slopes(cell, law, y),
            (0.0, span),
            y,
            method="LSODA",
            rtol=1e-9,
            atol=[1e-12, 1e-11, 1e-11, 1e-12],
            events=[below, empty],
        )
        y = list(out.y[:, -1])
        t += out.t[-1]
        if out.status == 1:
            return t, y


def film(ohms, growth, burn_off):
    return {"ohms": ohms, "growth": growth, "burn_off": burn_off, "coulombs": 72.0}


CASES = {
    # Often and little: the film stands where the mean current leaves it.
    "often": {
        "cell": film(40.0, 2.0 * DAY, 3.6),
        "base": ("watts", 150e-6),
        "steps": [(2.0, ("amps", 5e-3)), (0.5, ("amps", 12e-3))],
        "every": 600.0,
        "need": 2.95,
    },
    # Once a day, and each burst burns off more than half of what has grown since the last.
    "daily": {
        "cell": film(40.0, 2.0 * DAY, 0.72),
        "base": ("amps", 4e-6),
        "steps": [(10.0, ("amps", 4e-3)), (30.0, ("amps", 20e-3))],
        "every": DAY,
        "need": 2.73,
    },
    # The first burst after the shelf is too much, though the mean current would do.
    "shelf": {
        "cell": film(90.0, 2.0 * DAY, 0.72),
        "base": ("amps", 4e-6),
        "steps": [(30.0, ("amps", 20e-3))],
        "every": DAY,
        "need": 2.6,
    },
    # A day of bursts in ten: the first of them after the rest feels the film that has grown.
    "window": {
        "cell": film(40.0, 8.0 * DAY, 2.0),
        "base": ("amps", 3e-6),
        "steps": [(4.0, ("amps", 20e-3))],
        "every": HOUR,
        "window": (10.0 * DAY, DAY),
        "need": 2.65,
    },
    # So few that each is followed: brown-out at the first burst after a rest, at a known time.
    "rare": {
        "cell": film(60.0, 4.0 * DAY, 0.5),
        "base": ("amps", 1e-6),
        "steps": [(180.0, ("watts", 40e-3))],
        "every": 5.0 * DAY,
        "offset": 0.25 * DAY,
        "need": 2.55,
    },
}


def wave():
    """A burst of 20 mA for 30 s out of a rested cell, then 40 s of rest."""
    cell = film(40.0, 2.0 * DAY, 0.72)
    y = [0.2, 0.0, 1.0, 0.0]
    start = 0.0
    for law, stops in [(("amps", 20e-3), [0.5, 2.0, 8.0, 20.0, 29.9, 30.0]), (("amps", 4e-6), [31.0, 45.0, 70.0])]:
        for stop in stops:
            out = solve_ivp(lambda s, y: slopes(cell, law, y), (start, stop), y, method="LSODA", rtol=1e-10, atol=1e-12)
            y, start = list(out.y[:, -1]), stop
            print(f"wave,{stop},{volts_of(cell, law, y):.9f},{y[2]:.9f}")


for name, case in CASES.items():
    secs, y = life(case)
    print(f"{name},{secs:.3f},{y[0]:.9f},{y[3]:.9g}")
wave()
