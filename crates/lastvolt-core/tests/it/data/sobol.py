"""Sobol' points and a normal distribution cut off at three standard deviations, by scipy.

Run `python3 sobol.py > sobol.csv` (scipy 1.17). Rows `point`: the first 64 points of the sequence in ten
dimensions with the direction numbers of Joe and Kuo (2008), not scrambled. Rows `normal`: a share, and
the standard deviations below which it lies.
"""

from scipy.stats import qmc, truncnorm

for point in qmc.Sobol(d=10, scramble=False).random_base2(6):
    print("point," + ",".join(repr(float(x)) for x in point))
for k in range(64):
    share = (k + 0.5) / 64
    print(f"normal,{share!r},{float(truncnorm(-3, 3).ppf(share))!r}")
