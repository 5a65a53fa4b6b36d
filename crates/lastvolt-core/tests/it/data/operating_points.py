"""Operating points of small boards, from the equations of docs/theory/circuit.md written down a second time.

Nothing is shared with the Rust code: fits use numpy and scipy, each board is reduced by hand to nested
scalar equations that are solved by bisection (Brent), and closed forms are used where there are any.
Prints `board,quantity,value` in SI units. Run with scipy 1.17:

    python3 operating_points.py > operating_points.csv
"""

import math

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

BOLTZMANN_OVER_CHARGE = 1.380649e-23 / 1.602176634e-19


def thermal_volts(celsius):
    return BOLTZMANN_OVER_CHARGE * (celsius + 273.15)


def root(f, a, b):
    return brentq(f, a, b, xtol=1e-300, rtol=8.9e-16, maxiter=1000)


class Junction:
    """I = Is (exp(V / nVt) - 1) through two forward points; falls by 2 mV/K above 25 degC."""

    def __init__(self, points, celsius):
        (i1, v1), (i2, v2) = points

        def miss(nvt):
            return i1 * math.expm1(v2 / nvt) / math.expm1(v1 / nvt) / i2 - 1.0

        guess = (v2 - v1) / math.log(i2 / i1)
        self.nvt = root(miss, 0.5 * guess, 2.0 * guess)
        self.sat = i1 / math.expm1(v1 / self.nvt) * math.exp(2e-3 * (celsius - 25.0) / self.nvt)

    def amps(self, volts):
        return self.sat * math.expm1(volts / self.nvt)

    def volts(self, amps):
        return self.nvt * math.log1p(amps / self.sat)


class Transistor:
    """Channel and body diode in the sense of an n-channel part, drain towards source."""

    SLOPE = 1.5

    def __init__(self, threshold, threshold_amps, table, leak, celsius):
        at25 = self.SLOPE * thermal_volts(25.0)

        def line(vt0):
            x = np.array([1.0 / (v - vt0) for v, _ in table])
            r = np.array([r for _, r in table])
            # Relative least squares.
            b, rs = np.polyfit(x, r, 1, w=1.0 / r)
            assert b > 0.0 and rs > 0.0
            return b, rs

        def mismatch(vt0):
            b, _ = line(vt0)
            q = math.sqrt(threshold_amps * b / (2.0 * at25**2))
            return threshold - vt0 - 2.0 * at25 * math.log(math.expm1(q))

        vt0 = root(mismatch, 1e-3, table[0][0] - 0.02)
        b, rs = line(vt0)
        hot = 1.0 + 0.51 * (celsius - 25.0) / 100.0
        self.vt0 = vt0 - 1e-3 * (celsius - 25.0)
        self.b, self.rs = b * hot, rs * hot
        self.slope = self.SLOPE * thermal_volts(celsius)
        self.leak = leak * 2.0 ** ((celsius - 25.0) / 10.0)
        self.body_nvt = 1.2 * thermal_volts(25.0)
        self.body_sat = 0.1 * math.exp((2e-3 * (celsius - 25.0) - 0.7) / self.body_nvt)
        self.body_rs = max(self.rs, 0.01)

    def half(self, volts):
        u = volts / (2.0 * self.slope)
        return np.logaddexp(0.0, u) ** 2

    def channel(self, gate, drain, source):
        """Current into the drain; the series resistance sits at the drain."""
        scale = 2.0 * self.slope**2 / self.b

        def excess(i):
            inner = drain - self.rs * i
            flow = scale * (self.half(gate - source - self.vt0) - self.half(gate - inner - self.vt0))
            return i - flow - self.leak * math.tanh((inner - source) / 0.1)

        most = (drain - source) / self.rs
        if most == 0.0:
            return 0.0
        return root(excess, min(most, 0.0) - 1e-9, max(most, 0.0) + 1e-9)

    def body(self, forward_volts):
        """Current of the body diode at a voltage in its forward direction (source to drain)."""

        def excess(u):
            return u + self.body_rs * self.body_sat * math.expm1(u / self.body_nvt) - forward_volts

        low = min(forward_volts, 0.0) - 1e-3
        u = root(excess, low, max(forward_volts, 0.0) + 1e-3)
        return self.body_sat * math.expm1(u / self.body_nvt)

    def p_amps(self, drain, source, gate):
        """Current into the drain of a p-channel part: every sign turned."""
        return -self.channel(-gate, -drain, -source) + self.body(drain - source)


def show(board, **quantities):
    for name, value in quantities.items():
        print(f"{board},{name},{value:.15e}")


P_FET = dict(threshold=0.7, threshold_amps=250e-6, table=[(1.8, 0.095), (2.5, 0.066), (4.5, 0.047)], leak=0.5e-6)


def coin(celsius):
    """A worn coin cell behind a p-channel transistor and a switch feeds a load, an LED and a capacitor."""
    depth = 0.4
    emf = float(PchipInterpolator([0, 0.1, 0.7, 1.0], [3.25, 3.0, 2.9, 2.0])(depth))
    ohms = float(PchipInterpolator([0, 0.7, 1.0], [15.0, 20.0, 60.0])(depth)) + 0.05
    q1 = Transistor(celsius=celsius, **P_FET)
    led = Junction([(1e-3, 1.85), (10e-3, 2.05)], celsius)
    # Class 2 ceramic of 10 uF and 6.3 V: a twentieth of 50 ohm farad's current.
    leak_siemens = 10e-6 / 50.0 / 20.0 * 2.0 ** ((celsius - 25.0) / 10.0)
    load = 9.8e-3

    def led_amps(vdd):
        return root(lambda i: vdd - 470.0 * i - led.volts(i), 0.0, vdd / 470.0)

    def total(vdd):
        return load + led_amps(vdd) + leak_siemens * vdd

    def mismatch(vdd):
        i = total(vdd)
        return q1.p_amps(emf - ohms * i, vdd + 0.05 * i, 0.0) - i

    vdd = root(mismatch, 2.5, emf)
    i = total(vdd)
    show(
        f"coin_{celsius}",
        vdd_v=vdd,
        bat_v=emf - ohms * i,
        batp_v=vdd + 0.05 * i,
        cell_a=i,
        led_a=led_amps(vdd),
        leak_a=leak_siemens * vdd,
        fet_v=emf - ohms * i - vdd - 0.05 * i,
    )


def one_cell():
    """One tired alkaline cell feeds a step-up converter through its inductor: at shares of the fold."""
    emf, rs, winding, path, a = 1.25, 0.24, 0.2, 0.35, 0.05
    quiescent_in, quiescent_out = 0.5e-6, 19e-6
    vref, r1, r2, bias = 0.5, 1e6, 180e3, 10e-9
    vout = vref + r1 * (vref / r2 + bias)
    divider = vref / r2 + bias
    inner = emf - rs * quiescent_in
    ohms = rs + winding + path
    most = inner**2 / (4.0 * ohms)
    fold_load = (most - vout * quiescent_out) / ((1.0 + a) * vout) - divider
    show("one_cell", most_w=most, fold_load_a=fold_load, out_v=vout)
    for name, share in [("tenth", 0.1), ("half", 0.5), ("near", 0.999)]:
        load = share * fold_load
        p = (1.0 + a) * vout * (load + divider) + vout * quiescent_out
        # The smaller root of inner I - ohms I^2 = p, without cancellation.
        i = 2.0 * p / (inner + math.sqrt(inner**2 - 4.0 * ohms * p))
        cell = i + quiescent_in
        vin = emf - rs * cell
        show(f"one_cell_{name}", load_a=load, cell_a=cell, in_v=vin, sw_v=vin - winding * i, inductor_a=i)


def reversed_stack():
    """A coin cell put in backwards behind a gate-to-ground p-channel transistor, and a second board that
    holds the rail up: the transistor stays on and both cells drive current through it."""
    emf, ohms, load_ohms = 3.0, 15.0, 1000.0
    q = Transistor(celsius=25.0, **P_FET)

    def from_cell(sign, vdd):
        """Current from a cell of either polarity towards the rail."""

        def mismatch(i):
            return q.p_amps(sign * emf - ohms * i, vdd, 0.0) - i

        return root(mismatch, -0.5, 0.5)

    vdd = root(lambda v: from_cell(1.0, v) + from_cell(-1.0, v) - v / load_ohms, 0.1, 3.0)
    sound, wrong = from_cell(1.0, vdd), from_cell(-1.0, vdd)
    show(
        "reversed_stack",
        vdd_v=vdd,
        sound_cell_a=sound,
        # A cell put in backwards gives current in its own sense while it drives the loop.
        wrong_towards_rail_a=wrong,
        wrong_bat_v=-emf - ohms * wrong,
        sound_bat_v=emf - ohms * sound,
    )


def two_cell():
    """Two alkaline cells with a step-up/down converter, its divider, an enable pull-down and a bias
    current, stepping up and stepping down."""
    contact, winding, path, a = 0.05, 0.08, 0.15, 0.03
    quiescent_in, quiescent_out = 12e-6, 3e-6
    vref, r1, r2, bias, pull = 0.5, 1e6, 200e3, 5e-9, 1e6
    vout = vref + r1 * (vref / r2 + bias)
    for name, emf, ohms, load in [("up", 1.1, 0.25, 40e-3), ("down", 1.6, 0.15, 90e-3)]:
        rs = 2.0 * (ohms + contact)
        out = load + vref / r2 + bias

        def all_amps(power_amps):
            """I = Ip + Iq + V / pull with V = 2 E - rs I."""
            return (power_amps + quiescent_in + 2.0 * emf / pull) / (1.0 + rs / pull)

        def balance(power_amps):
            """Power balance at a current into the power path; pull-down and quiescent current are beside it."""
            vin = 2.0 * emf - rs * all_amps(power_amps)
            inductor = max(power_amps + quiescent_in, out)
            losses = a * vout * out + (path + winding) * inductor**2 + vout * quiescent_out
            return vin * power_amps - vout * out - losses

        power_amps = root(balance, 1e-6, emf / rs)
        total = all_amps(power_amps)
        show(
            f"two_cell_{name}",
            out_v=vout,
            in_v=2.0 * emf - rs * total,
            cell_a=total,
            inductor_a=max(power_amps + quiescent_in, out),
        )


def usb():
    """A USB feed behind its cable, a linear regulator in and out of dropout, a Schottky diode in series."""
    for name, supply in [("regulating", 5.0), ("dropout", 3.5)]:
        schottky = Junction([(1e-3, 0.29), (30e-3, 0.41)], 25.0)
        quiescent, dropout, load_ohms, vset = 55e-6, 2.0, 82.0, 3.3

        def in_volts(i):
            return supply - 0.4 * i - schottky.volts(i)

        regulated = vset / load_ohms
        if in_volts(regulated + quiescent) - dropout * regulated >= vset:
            out = vset
        else:
            out = root(lambda v: in_volts(v / load_ohms + quiescent) - dropout * v / load_ohms - v, 1.0, vset)
        i = out / load_ohms + quiescent
        show(f"usb_{name}", out_v=out, in_v=in_volts(i), supply_a=i)


print("board,quantity,value")
for ambient in (8, 40):
    coin(ambient)
one_cell()
reversed_stack()
two_cell()
usb()
