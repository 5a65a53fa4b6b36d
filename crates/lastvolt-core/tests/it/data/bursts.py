"""Closed forms and published figures that an integration of bursts must meet; see bursts.md.

Run `python3 bursts.py`; it writes bursts.csv and robertson.csv beside this file (numpy, scipy 1.17).
"""

import csv
from math import exp, log, pi, sqrt
from pathlib import Path

from scipy.integrate import solve_ivp

HERE = Path(__file__).parent

# examples/ida/serial/idaRoberts_dns.out of SUNDIALS (LLNL, BSD-3-Clause), rtol 1e-4, atol 1e-8 1e-6 1e-6:
# t, y1, y2, y3 as printed.
ROBERTSON = """
4.0000e-01 9.8517e-01 3.3864e-05 1.4794e-02
4.0000e+00 9.0553e-01 2.2406e-05 9.4452e-02
4.0000e+01 7.1579e-01 9.1838e-06 2.8420e-01
4.0000e+02 4.5044e-01 3.2218e-06 5.4956e-01
4.0000e+03 1.8320e-01 8.9444e-07 8.1680e-01
4.0000e+04 3.8992e-02 1.6221e-07 9.6101e-01
4.0000e+05 4.9369e-03 1.9842e-08 9.9506e-01
4.0000e+06 5.1674e-04 2.0684e-09 9.9948e-01
4.0000e+07 5.2009e-05 2.0805e-10 9.9995e-01
4.0000e+08 5.2012e-06 2.0805e-11 9.9999e-01
4.0000e+09 5.1850e-07 2.0740e-12 1.0000e+00
4.0000e+10 4.8641e-08 1.9456e-13 1.0000e+00
"""
# Problem ROBER of the Test Set for IVP Solvers (Mazzia and Magherini, release 2.4), at t = 1e11.
TEST_SET = (1e11, 0.2083340149701255e-07, 0.8333360770334713e-13, 0.9999999791665050)


def robertson():
    def rates(t, y):
        slow, back, fast = 0.04 * y[0], 1e4 * y[1] * y[2], 3e7 * y[1] * y[1]
        return [-slow + back, slow - back - fast, fast]

    def jacobian(t, y):
        return [[-0.04, 1e4 * y[2], 1e4 * y[1]],
                [0.04, -1e4 * y[2] - 6e7 * y[1], -1e4 * y[1]],
                [0.0, 6e7 * y[1], 0.0]]

    published = [[float(v) for v in line.split()] for line in ROBERTSON.split("\n") if line]
    times = [row[0] for row in published] + [TEST_SET[0]]
    found = solve_ivp(rates, (0.0, 1e11), [1.0, 0.0, 0.0], method="Radau", jac=jacobian,
                      t_eval=times, rtol=1e-12, atol=[1e-20, 1e-24, 1e-14])
    assert found.success
    rows = []
    for k, t in enumerate(times):
        source = "idaRoberts_dns" if k < len(published) else "ROBER"
        given = published[k][1:] if k < len(published) else TEST_SET[1:]
        rows.append([source, repr(t), *map(repr, given), *(repr(float(v)) for v in found.y[:, k])])
    head = "source secs published1 published2 published3 radau1 radau2 radau3".split()
    return head, rows


def carried(emf, ohms, farads, series_ohms, start, steps):
    """Voltage of a net fed by a cell and a capacitor behind its resistance, before and after each edge.

    With v the net, u the plates, I the load: (E - v)/R + (u - v)/r = I and C du/dt = (v - u)/r, so u
    relaxes to E - R I with (R + r) C.
    """
    u, out = start, []
    for span, amps in steps:
        net = lambda plates: (emf / ohms + plates / series_ohms - amps) / (1 / ohms + 1 / series_ohms)
        first = net(u)
        u = emf - ohms * amps + (u - (emf - ohms * amps)) * exp(-span / ((ohms + series_ohms) * farads))
        out.append((first, net(u)))
    return out


def charge_needed(low, high, steps):
    """Smallest capacitance with which the net stays above 2.0 V, by bisection on the closed form."""
    for _ in range(200):
        mid = sqrt(low * high)
        ends = min(v for pair in carried(2.7, 1000.0, mid, 1e-3, 2.6, steps) for v in pair)
        low, high = (low, mid) if ends >= 2.0 else (mid, high)
    return high


def cases():
    pulse = [(2e-3, 8e-3), (1e-3, 30e-3), (2e-3, 8e-3)]
    note = "TI SWRA349 appendix A"
    charge = sum(t * i for t, i in pulse)
    yield ("coin-note", "farads", (charge - 2.0 / 1000.0 * 5e-3) / 0.6, 8.7e-5, 0.01, note)
    yield ("coin-note", "recharge_secs", 1000.0 * 8.7e-5 * log(0.7 / 0.1), 0.169, 0.01, note)
    for name, farads in (("87uF", 8.7e-5), ("100uF", 1e-4)):
        for k, (first, last) in enumerate(carried(2.7, 1000.0, farads, 1e-3, 2.6, pulse)):
            yield ("coin-note-exact-" + name, f"net_volts_first_{k + 1}", first, "", 1e-4, "closed form")
            yield ("coin-note-exact-" + name, f"net_volts_last_{k + 1}", last, "", 1e-4, "closed form")
    yield ("coin-note-exact", "farads", charge_needed(1e-6, 1e-2, pulse), "", 1e-3, "closed form, bisected")
    # 3 V behind 20 ohm, 100 uF behind 0.5 ohm, 20 mA for 5 ms and then 5 ms of rest.
    for k, (first, last) in enumerate(carried(3.0, 20.0, 1e-4, 0.5, 3.0, [(5e-3, 0.02), (5e-3, 0.0)])):
        yield ("rc-step", f"net_volts_first_{k + 1}", first, "", 1e-4, "closed form")
        yield ("rc-step", f"net_volts_last_{k + 1}", last, "", 1e-4, "closed form")
    # 1 uH and 0.2 ohm into 10 uF from 0 V at 5 V, of the series circuit.
    l, r, c, e = 1e-6, 0.2, 10e-6, 5.0
    damping, own = r / 2 * sqrt(c / l), 1 / sqrt(l * c)
    ringing = own * sqrt(1 - damping**2)
    yield ("rlc-step", "peak_volts", e * (1 + exp(-pi * damping / sqrt(1 - damping**2))), "", 1e-3, "closed form")
    yield ("rlc-step", "peak_secs", pi / ringing, "", 1e-3, "closed form")
    # Regulator of docs/theory in time without series resistance: x'' + 2 x'/t + x/t^2 = 0 after a step,
    # x = dI t e^(-t/t_r)/C, lowest at t_r.
    step, farads, tau = 10e-3, 22e-6, 50e-6
    yield ("answer", "lowest_secs", tau, "", 1e-2, "closed form")
    yield ("answer", "drop_volts", step * tau / (farads * exp(1.0)), "", 1e-3, "closed form")


def main():
    head, rows = robertson()
    with (HERE / "robertson.csv").open("w", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerows([head, *rows])
    with (HERE / "bursts.csv").open("w", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow("case quantity computed published tolerance source".split())
        for case, quantity, value, published, tolerance, source in cases():
            out.writerow([case, quantity, repr(float(value)), published, tolerance, source])


main()
