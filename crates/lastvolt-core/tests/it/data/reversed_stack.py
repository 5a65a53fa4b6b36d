"""A cell backwards on one board under a second board that holds the rail up.

Each board: a cell of 3.0 V and 15 ohm, and a p-channel transistor with its drain to the cell, its gate
to ground and its source to the rail VDD. The cell of board A is in backwards. The transistor of A
then has its gate below its source and stays on; the cells drive a current round through both.

Independent of the library: the equations are written down by hand for this one circuit and solved by
scipy's fsolve. Run with `python3 reversed_stack.py`; it prints what the test
`ref_scipy_reversed_cell_under_a_second_board` holds.

Transistor: threshold 0.7 V at 250 uA, 0.108 / 0.071 / 0.052 ohm at 1.8 / 2.5 / 4.5 V; channel after
Enz, Krummenacher & Vittoz (1995) with slope factor 1.5; body diode 0.7 V at 100 mA, emission 1.2.
"""
import numpy as np
from scipy.optimize import brentq, fsolve

VT = 1.380649e-23 / 1.602176634e-19 * (25 + 273.15)
M = 1.5 * VT
POINTS = [(1.8, 0.108), (2.5, 0.071), (4.5, 0.052)]
E, R = 3.0, 15.0


def line(vt0):
    """B and Rs of R = Rs + B / (Vgs - Vt0), least relative squares."""
    a = np.array([[1 / (v - vt0) / r, 1 / r] for v, r in POINTS])
    (b, rs), *_ = np.linalg.lstsq(a, np.ones(len(POINTS)), rcond=None)
    if rs < 0:
        a = a[:, :1]
        (b,), *_ = np.linalg.lstsq(a, np.ones(len(POINTS)), rcond=None)
        rs = 0.0
    return b, rs


def miss(vt0):
    b, _ = line(vt0)
    return 0.7 - vt0 - 2 * M * np.log(np.expm1(np.sqrt(250e-6 * b / (2 * M * M))))


VT0 = brentq(miss, 1e-3, 1.78, xtol=1e-14)
B, RS = line(VT0)
ISAT = 0.1 * np.exp(-0.7 / (1.2 * VT))


def channel(gate, source, drain):
    """Current from source to drain of the p-channel part, all voltages against ground."""
    f = lambda to: np.logaddexp(0, (to - gate - VT0) / (2 * M)) ** 2
    return 2 * M * M / B * (f(source) - f(drain))


def residual(x):
    vdd, a, b, ch_a, ch_b, u_a, u_b = x
    rs = max(RS, 0.01)
    body_a, body_b = (ISAT * np.expm1(u / (1.2 * VT)) for u in (u_a, u_b))
    return [
        ch_a + ch_b - body_a - body_b,
        (-E - a) / R + ch_a - body_a,
        (E - b) / R + ch_b - body_b,
        ch_a - channel(0.0, vdd, a + RS * ch_a),
        ch_b - channel(0.0, vdd, b + RS * ch_b),
        a - vdd - u_a - rs * body_a,
        b - vdd - u_b - rs * body_b,
    ]


x, _, found, says = fsolve(residual, [1.0, -1.0, 1.05, 0.13, -0.13, -2.0, 0.05], xtol=1e-14, full_output=True)
assert max(abs(r) for r in residual(x)) < 1e-12, says
print(f"VT0 {VT0:.9f} B {B:.9f} Rs {RS:.9f}")
print(f"vdd_v {x[0]:.12f}")
print(f"round_a {(E - x[2]) / R:.12f}")
