"""How much of a zone no disc, one, two and more discs hit, by overlay with a geometry library; needs shapely.
Independent of this program: it knows no arcs and no integrals along them. Made zones.csv, spots.csv and areas.csv in
tests/against_published/coverage with shapely 2.2.0 on GEOS 3.14.1: run from the top directory.

Each disc becomes a polygon of SIDES sides and of the disc's own area, turned by an angle of its own. All edges, the
zone's too, are noded against each other and made into faces; a place inside each face tells how many true circles hold
it. A polygon strays from its circle by h^2 r / 3 with h = pi / SIDES, now out, now in, so that an arc that ends anywhere
is off by 0.064 h^3 r^2 at most and one that touches an edge by less than h^3 r^2: the tolerance is h^3 r^2 summed over
all places where two circles, or a circle and an edge, cross or touch, and once for every disc."""
import csv, math, pathlib
import numpy as np
import shapely
from shapely import LineString, Point, Polygon

SIDES = 2880
H = math.pi/SIDES
OUT = pathlib.Path("tests/against_published/coverage")

class Random:
    """Numerical Recipes' 64-bit linear congruence, high bits: the same numbers everywhere."""
    def __init__(self, seed): self.s = seed
    def __call__(self, low=0.0, high=1.0):
        self.s = (self.s*6364136223846793005+1442695040888963407) % 2**64
        return low+(high-low)*(self.s >> 11)/2**53

def short(x): return round(x, 6)

def turned(ring, turn, x, y):
    c, s = math.cos(turn), math.sin(turn)
    return [(short(c*u-s*v+x), short(s*u+c*v+y)) for u, v in ring]

def polar(n, radius, start=0.0):
    return [(short(radius(i)*math.cos(start+2*math.pi*i/n)), short(radius(i)*math.sin(start+2*math.pi*i/n)))
            for i in range(n)]

RECTANGLE = [(-15, -10), (15, -10), (15, 10), (-15, 10)]
L = [(0, 0), (30, 0), (30, 8), (9, 8), (9, 24), (0, 24)]
ZONES = {   # rings: outer counter-clockwise, holes clockwise
    "rectangle": [RECTANGLE],
    "triangle": [[(0, 0), (28, 3), (9, 25)]],
    "l": [L],
    "star": [polar(14, lambda i: 18 if i % 2 == 0 else 6.5, 0.2)],
    "holes": [[(-18, -12), (18, -13), (21, 4), (10, 14), (-16, 12)],
              [(-10, -5), (-11, 4), (-4, 5), (-3, -4)], [(5, -6), (8, 3), (13, -3)]],
    "far": [turned(L, 0.7, 41234.5, -27654.25)],
    "ellipse": [[(short(17*math.cos(2*math.pi*i/200)), short(9*math.sin(2*math.pi*i/200))) for i in range(200)]],
}

def lists(name, rings):
    """Named lists of (x, y, r) for a zone."""
    rnd = Random(1+sum(map(ord, name)))
    zone = Polygon(rings[0], rings[1:])
    x0, y0, x1, y1 = zone.bounds
    corners = [p for ring in rings for p in ring][::8 if name == "ellipse" else 1]
    edges = [(a, b) for ring in rings for a, b in zip(ring, ring[1:]+ring[:1])][::10 if name == "ellipse" else 1]
    def anywhere(r): return (short(rnd(x0-r, x1+r)), short(rnd(y0-r, y1+r)), r)
    yield "random", [anywhere(2.0) for _ in range(60)]
    yield "crowded", [anywhere(3.5) for _ in range(50)]
    yield "mixed", [anywhere(short(math.exp(rnd(-1.5, 2.0)))) for _ in range(50)]
    r, pitch = 2.0, 3.6
    rows = math.ceil((y1-y0)/(pitch*math.sqrt(0.75)))+1
    yield "lattice", [(short(x0+(i+j % 2/2)*pitch+rnd(-0.05, 0.05)), short(y0+j*pitch*math.sqrt(0.75)), r)
                      for j in range(rows) for i in range(math.ceil((x1-x0)/pitch)+1)]
    # A square lattice without noise: four circles of pitch d / sqrt 2 meet in one place, rows touch each other.
    yield "square", [(x0+1+3*i, y0+1+4*j, 2.5 if (i+j) % 3 else 2.0)
                     for j in range(math.ceil((y1-y0)/4)) for i in range(math.ceil((x1-x0)/3))]
    places = [anywhere(2.0) for _ in range(6)]
    yield "stacked", ([p for k, p in enumerate(places) for _ in range(k+1)]+[(x, y, 3.0) for x, y, _ in places[:3]]
                      + [(x+1.0, y, 1.0) for x, y, _ in places])       # and touching from within
    yield "corners", [(x, y, 2.25) for x, y in corners]
    # On either side of the middle of each edge, and the width of a hair over and short of it.
    tangent = []
    for (ax, ay), (bx, by) in edges:
        long = math.hypot(bx-ax, by-ay)
        for t, off in ((0.5, 1.5), (0.4, -1.5), (0.6, 1.5-1e-4), (0.3, 1.5+1e-4)):
            tangent.append((ax+t*(bx-ax)-off*(by-ay)/long, ay+t*(by-ay)+off*(bx-ax)/long, 1.5))
    yield "tangent", tangent
    mx, my = short((x0+x1)/2), short((y0+y1)/2)
    yield "larger", [(mx, my, 60.0), (mx+3, my-1, 4.0), (mx-30, my, 31.0)]+[anywhere(2.0) for _ in range(12)]

def polygon(disc):
    x, y, r = disc
    # The phase depends on the disc alone, so that the same disc is the same polygon.
    start = 2*H*math.modf(abs(x*0.618+y*0.387+r*0.241))[0]
    angle = start+2*H*np.arange(SIDES)
    true = r*math.sqrt(2*H/math.sin(2*H))
    return Polygon(np.column_stack((x+true*np.cos(angle), y+true*np.sin(angle))))

def contacts(discs, rings):
    """Sum of r^2 over the places where circles and edges cross or touch."""
    near, total = 1e-3, sum(r*r for _, _, r in discs)
    for i, (x, y, r) in enumerate(discs):
        for u, v, s in discs[:i]:
            d = math.hypot(x-u, y-v)
            if abs(r-s)-near <= d <= r+s+near: total += 2*max(r, s)**2
        for ring in rings:
            for a, b in zip(ring, ring[1:]+ring[:1]):
                edge = LineString([a, b])
                far = max(math.hypot(x-p[0], y-p[1]) for p in (a, b))
                if edge.distance(Point(x, y)) <= r+near and far >= r-near: total += 2*r*r
    return total

def areas(rings, spots):
    zone = Polygon(rings[0], rings[1:])
    discs = sorted(set(spots))
    count = np.array([spots.count(d) for d in discs])
    shapes = [polygon(d) for d in discs]
    lines = shapely.unary_union([zone.boundary]+[s.exterior for s in shapes])
    faces = [f for f in shapely.polygonize([lines]).geoms]
    inner = shapely.point_on_surface(faces)
    shapely.prepare(zone)
    held = [(f, p.x, p.y) for f, p, inside in zip(faces, inner, shapely.contains(zone, inner)) if inside]
    xyr = np.array(discs)
    by_count = [0.0]*4
    for face, x, y in held:
        hits = int(count[(xyr[:, 0]-x)**2+(xyr[:, 1]-y)**2 < xyr[:, 2]**2].sum())
        by_count[min(hits, 3)] += face.area
    assert abs(sum(by_count)-zone.area) < 1e-7, (sum(by_count), zone.area)
    union = shapely.unary_union(shapes).area
    landed = sum(n*zone.intersection(s).area for n, s in zip(count, shapes))
    return zone.area, *by_count, union, landed, H**3*contacts(discs, rings)*max(1, count.max()) + 1e-8

def main():
    with open(OUT/"zones.csv", "w") as z, open(OUT/"spots.csv", "w") as s, open(OUT/"areas.csv", "w") as a:
        zones, spots, out = (csv.writer(f, lineterminator="\n") for f in (z, s, a))
        zones.writerow(("zone", "ring", "x_mm", "y_mm"))
        spots.writerow(("zone", "list", "x_mm", "y_mm", "radius_mm"))
        out.writerow(("zone", "list", "area_mm2", "bare_mm2", "once_mm2", "twice_mm2", "thrice_or_more_mm2", "union_mm2",
                      "landed_mm2", "tolerance_mm2"))
        for name, rings in ZONES.items():
            rings = [[(float(x), float(y)) for x, y in ring] for ring in rings]
            for k, ring in enumerate(rings):
                assert Polygon(ring).exterior.is_ccw == (k == 0), name
                zones.writerows((name, k, x, y) for x, y in ring)
            assert Polygon(rings[0], rings[1:]).is_valid, name
            for kind, discs in lists(name, rings):
                discs = [tuple(map(float, d)) for d in discs]
                spots.writerows((name, kind, *d) for d in discs)
                *values, tolerance = areas(rings, discs)
                out.writerow((name, kind, *(f"{v:.9f}" for v in values), f"{tolerance:.1e}"))

if __name__ == "__main__":
    main()
