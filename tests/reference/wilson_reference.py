"""Wilson's score intervals, 95 %, by statsmodels and, as a second opinion, by scipy; needs both. Made wilson.csv beside
the tests with statsmodels and scipy of the versions that it prints: run from the top directory."""
import csv, pathlib
import scipy, statsmodels
from scipy.stats import binomtest
from statsmodels.stats.proportion import proportion_confint

CASES = [(0, 1), (1, 1), (0, 10), (1, 10), (5, 10), (9, 10), (10, 10), (1, 29), (3, 148), (15, 148), (81, 263),
         (50, 100), (2, 1000), (999, 1000), (0, 100000), (17, 100000), (31234, 100000)]

with open(pathlib.Path("tests/against_published/wilson.csv"), "w", newline="") as f:
    out = csv.writer(f, lineterminator="\n")
    out.writerow(["seen", "of", "low", "high"])
    for seen, of in CASES:
        low, high = proportion_confint(seen, of, alpha=0.05, method="wilson")
        other = binomtest(seen, of).proportion_ci(0.95, method="wilson")
        assert abs(low - other.low) < 1e-12 and abs(high - other.high) < 1e-12, (seen, of)
        out.writerow([seen, of, repr(float(low)), repr(float(high))])
print("statsmodels", statsmodels.__version__, "scipy", scipy.__version__)
