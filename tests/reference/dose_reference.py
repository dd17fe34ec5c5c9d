"""How much light the places of a zone got, by plain sums on a grid three times as fine as the program's; needs numpy
and shapely. Independent of this program: no cut tails, no windows, 64-bit sums, the zone's inside from shapely, the
mean of flat beams from the overlay in areas.csv and that of Gaussian beams over the rectangle from error functions.
Takes the zones and spots of coverage_reference.py and made dose.csv beside them with numpy 2.4.6 and shapely 2.2.0:
run from the top directory.

Doses are in multiples of one pulse's energy over the area of its spot. A flat beam gives 1 within its spot; a
Gaussian one, whose spot is its 1/e2 diameter 2 w, gives 2 exp(-2 r^2 / w^2). `grid_error` is the largest difference
between any figure but the peak and its value on a grid twice as coarse."""
import csv, math, pathlib
import numpy as np
import shapely
from shapely import Polygon
from coverage_reference import curved_zone

DIR = pathlib.Path("tests/against_published/coverage")
ZONES = ("rectangle", "l", "star", "holes", "oval_turned", "script")
LISTS = ("random", "crowded", "lattice")
STEPS_PER_SPOT = 124

def read(name):
    with open(DIR/name) as f: return list(csv.DictReader(f))

def zone_of(name):
    for row in read("curved.csv"):
        if row["zone"] == name: return curved_zone(row["kind"], *(float(v) for v in list(row.values())[2:]))
    rings = {}
    for row in read("zones.csv"):
        if row["zone"] == name: rings.setdefault(row["ring"], []).append((float(row["x_mm"]), float(row["y_mm"])))
    outer, *holes = rings.values()
    return Polygon(outer, holes)

def figures(zone, xy, w, profile, step):
    x0, y0, x1, y1 = zone.bounds
    # Half a step in, so that no middle lies on an upright edge.
    x, y = np.meshgrid(np.arange(x0+step/2, x1, step), np.arange(y0+step/2, y1, step))
    shapely.prepare(zone)
    inside = shapely.contains_xy(zone, x.ravel(), y.ravel())
    x, y = x.ravel()[inside], y.ravel()[inside]
    dose = np.zeros(len(x))
    for u, v in xy:
        q = ((x-u)**2+(y-v)**2)/w**2
        dose += (q < 1) if profile == "flat" else 2*np.exp(-2*q)
    shares = [float((dose > k).mean()) for k in (0.5, 1.5, 2.5)]
    return [dose.mean(), np.quantile(dose, 0.5), np.quantile(dose, 0.95), *shares, dose.max()]

def gaussian_mean_on_rectangle(zone, xy, w):
    x0, y0, x1, y1 = zone.bounds
    def part(a, b, u): return math.sqrt(math.pi/8)*w*(math.erf(math.sqrt(2)*(b-u)/w)-math.erf(math.sqrt(2)*(a-u)/w))
    return sum(2*part(x0, x1, u)*part(y0, y1, v) for u, v in xy)/zone.area

def main():
    landed = {(r["zone"], r["list"]): float(r["landed_mm2"])/float(r["area_mm2"]) for r in read("areas.csv")}
    with open(DIR/"dose.csv", "w") as f:
        out = csv.writer(f, lineterminator="\n")
        out.writerow(("zone", "list", "profile", "spot_mm", "mean", "median", "p95", "above_half", "above_one_and_half",
                      "above_two_and_half", "peak", "grid_error"))
        for name in ZONES:
            zone = zone_of(name)
            for kind in LISTS:
                rows = [r for r in read("spots.csv") if r["zone"] == name and r["list"] == kind]
                xy = [(float(r["x_mm"]), float(r["y_mm"])) for r in rows]
                w, = {float(r["radius_mm"]) for r in rows}
                for profile in ("flat", "gaussian"):
                    step = 2*w/STEPS_PER_SPOT
                    fine, coarse = (figures(zone, xy, w, profile, s) for s in (step, 2*step))
                    error = max(abs(a-b) for a, b in zip(fine[:-1], coarse[:-1]))
                    exact = landed[name, kind] if profile == "flat" else (
                        gaussian_mean_on_rectangle(zone, xy, w) if name == "rectangle" else fine[0])
                    assert abs(exact-fine[0]) < 2e-3, (name, kind, profile, exact, fine[0])
                    fine[0] = exact
                    out.writerow((name, kind, profile, 2*w, *(f"{v:.6f}" for v in fine), f"{error:.1e}"))

if __name__ == "__main__":
    main()
