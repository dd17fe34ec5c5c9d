"""How much of a zone no disc, one, two and more discs hit, by overlay with a geometry library; needs shapely.
Independent of this program: it knows no arcs and no integrals along them. Made zones.csv, curved.csv, spots.csv and
areas.csv in tests/against_published/coverage with shapely 2.2.0 on GEOS 3.14.1: run from the top directory.

Each disc becomes a polygon of SIDES sides and of the disc's own area, turned by an angle of its own. All edges, the
zone's too, are noded against each other and made into faces; a place inside each face tells how many polygons hold it:
not how many circles, because a narrow face beside a touching circle may have its place between circle and polygon. A polygon strays from its circle by h^2 r / 3 with h = pi / SIDES, now out, now in, so that an arc that ends anywhere
is off by 0.064 h^3 r^2 at most and one that touches an edge by less than h^3 r^2: the tolerance is h^3 r^2 summed over
all places where two circles, or a circle and an edge, cross or touch, and once for every disc.

Ellipses and strokes with round ends become polygons of EDGE_SIDES sides to a full turn, of the ellipse's own area too;
they add the same bound with their own h and the square of their largest radius of curvature at every place where a
circle meets them, and h^2 r^2 pi for a circle that lies on a round end all along."""
import csv, math, pathlib
import numpy as np
import shapely
from shapely import LineString, Point, Polygon, affinity

SIDES, EDGE_SIDES = 2880, 11520
H, EDGE_H = math.pi/SIDES, math.pi/EDGE_SIDES
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

CURVED = {  # kind, width or length, height or width, turn in radians, middle
    "oval": ("ellipse", 34.0, 18.0, 0.0, 0.0, 0.0),
    "oval_turned": ("ellipse", 11.0, 42.0, 0.6, 312.5, -121.0),
    "circle": ("ellipse", 22.0, 22.0, 0.3, -4.0, 7.5),
    "script": ("stroke", 50.0, 8.0, 0.4, 63.0, 21.0),
    "dot": ("stroke", 5.0, 12.0, 0.0, 0.0, 0.0),   # shorter than it is wide: a disc of its width
}

def lists(name, rings):
    """Named lists of (x, y, r) for a zone of straight edges."""
    zone = Polygon(rings[0], rings[1:])
    corners = [p for ring in rings for p in ring][::8 if name == "ellipse" else 1]
    edges = [(a, b) for ring in rings for a, b in zip(ring, ring[1:]+ring[:1])][::10 if name == "ellipse" else 1]
    yield from everywhere(name, zone.bounds)
    yield "corners", [(x, y, 2.25) for x, y in corners]
    # On either side of the middle of each edge, and the width of a hair over and short of it.
    tangent = []
    for (ax, ay), (bx, by) in edges:
        long = math.hypot(bx-ax, by-ay)
        for t, off in ((0.5, 1.5), (0.4, -1.5), (0.6, 1.5-1e-4), (0.3, 1.5+1e-4)):
            tangent.append((ax+t*(bx-ax)-off*(by-ay)/long, ay+t*(by-ay)+off*(bx-ax)/long, 1.5))
    yield "tangent", tangent

def curved_lists(name, kind, w, h, turn, x, y):
    """The same for a zone of curves."""
    yield from everywhere(name, curved_zone(kind, w, h, turn, x, y).bounds)
    def placed(u, v): return (math.cos(turn)*u-math.sin(turn)*v+x, math.sin(turn)*u+math.cos(turn)*v+y)
    half = max(w-h, 0)/2 if kind == "stroke" else 0
    def edge(t):    # a place on the edge and the normal there
        if kind == "ellipse":
            u, v, n = w/2*math.cos(t), h/2*math.sin(t), (h*math.cos(t), w*math.sin(t))
        else:
            u, v, n = h/2*math.cos(t)+math.copysign(half, math.cos(t)), h/2*math.sin(t), (math.cos(t), math.sin(t))
        return u, v, n[0]/math.hypot(*n), n[1]/math.hypot(*n)
    places = [edge(2*math.pi*(i+0.25)/16) for i in range(16)]
    yield "corners", [(*placed(u, v), 2.25) for u, v, _, _ in places]
    yield "tangent", [(*placed(u+off*n, v+off*m), 1.5) for u, v, n, m in places
                      for off in (1.5, -1.5, 1.5-1e-4, 1.5+1e-4)]
    if kind == "stroke":    # spots as wide as the line, the first and the last on its round ends
        yield "along", [(*placed(-half+2*half*i/9, 0), h/2) for i in range(10)]
    else:                   # spots as wide as the shorter axis, the middle one touching both its ends
        yield "along", [(*placed(*((c, 0) if w > h else (0, c))), min(w, h)/2) for c in (-5, -2.5, 0, 2.5, 5)]

def everywhere(name, bounds):
    rnd = Random(1+sum(map(ord, name)))
    x0, y0, x1, y1 = bounds
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
    mx, my = short((x0+x1)/2), short((y0+y1)/2)
    yield "larger", [(mx, my, 60.0), (mx+3, my-1, 4.0), (mx-30, my, 31.0)]+[anywhere(2.0) for _ in range(12)]

def polygon(disc, sides=SIDES):
    x, y, r = disc
    h = math.pi/sides
    # The phase depends on the disc alone, so that the same disc is the same polygon.
    start = 2*h*math.modf(abs(x*0.618+y*0.387+r*0.241))[0]
    angle = start+2*h*np.arange(sides)
    true = r*math.sqrt(2*h/math.sin(2*h))
    return Polygon(np.column_stack((x+true*np.cos(angle), y+true*np.sin(angle))))

def curved_zone(kind, w, h, turn, x, y):
    if kind == "ellipse":
        zone = affinity.scale(polygon((0, 0, 1), EDGE_SIDES), w/2, h/2, origin=(0, 0))
    else:
        half = max(w-h, 0)/2
        caps = [polygon((c, 0, h/2), EDGE_SIDES) for c in (-half, half)]
        zone = shapely.unary_union([shapely.box(-half, -h/2, half, h/2), *caps]) if half else caps[0]
    return affinity.translate(affinity.rotate(zone, turn, origin=(0, 0), use_radians=True), x, y)

def curved_contacts(discs, zone, kind, w, h, turn, x, y):
    """What meets a curved edge, as a bound of the area that may be off."""
    bend = max(w, h)**2/min(w, h)/2 if kind == "ellipse" else h/2
    half = max(w-h, 0)/2 if kind == "stroke" else 0
    caps = [(x+c*math.cos(turn), y+c*math.sin(turn)) for c in (-half, half)]
    end = h/2 if kind == "stroke" or w == h else None
    total = EDGE_H**3*bend**2*4
    for u, v, r in discs:
        if zone.boundary.distance(Point(u, v)) <= r+1e-3:
            total += 4*(EDGE_H**3*bend**2+H**3*r*r)
        on_end = end and min(math.hypot(u-p, v-q) for p, q in caps) < 1e-3 and abs(r-end) < 1e-3
        if on_end: total += math.pi*H**2*r*r
    return total

def contacts(discs):
    """Sum of r^2 over the places where circles cross or touch."""
    near, total = 1e-3, sum(r*r for _, _, r in discs)
    for i, (x, y, r) in enumerate(discs):
        for u, v, s in discs[:i]:
            d = math.hypot(x-u, y-v)
            if abs(r-s)-near <= d <= r+s+near: total += 2*max(r, s)**2
    return total

def straight_contacts(discs, rings):
    """What meets straight edges, as a bound of the area that may be off."""
    near, total = 1e-3, 0
    for x, y, r in discs:
        for ring in rings:
            for a, b in zip(ring, ring[1:]+ring[:1]):
                edge = LineString([a, b])
                far = max(math.hypot(x-p[0], y-p[1]) for p in (a, b))
                if edge.distance(Point(x, y)) <= r+near and far >= r-near: total += 2*r*r
    return H**3*total

def areas(zone, spots, off_at_edge):
    discs = sorted(set(spots))
    count = np.array([spots.count(d) for d in discs])
    shapes = [polygon(d) for d in discs]
    lines = shapely.unary_union([zone.boundary]+[s.exterior for s in shapes])
    faces = [f for f in shapely.polygonize([lines]).geoms]
    inner = shapely.point_on_surface(faces)
    shapely.prepare(zone)
    hits = np.zeros(len(faces), int)
    for n, s in zip(count, shapes):
        shapely.prepare(s)
        hits += n*shapely.contains(s, inner)
    by_count = [0.0]*4
    for face, h, inside in zip(faces, hits, shapely.contains(zone, inner)):
        if inside: by_count[min(h, 3)] += face.area
    assert abs(sum(by_count)-zone.area) < 1e-7, (sum(by_count), zone.area)
    union = shapely.unary_union(shapes).area
    landed = sum(n*zone.intersection(s).area for n, s in zip(count, shapes))
    return zone.area, *by_count, union, landed, (H**3*contacts(discs)+off_at_edge(discs))*max(1, count.max())+1e-8

def main():
    with (open(OUT/"zones.csv", "w") as z, open(OUT/"curved.csv", "w") as c, open(OUT/"spots.csv", "w") as s,
          open(OUT/"areas.csv", "w") as a):
        zones, curved, spots, out = (csv.writer(f, lineterminator="\n") for f in (z, c, s, a))
        zones.writerow(("zone", "ring", "x_mm", "y_mm"))
        curved.writerow(("zone", "kind", "width_mm", "height_mm", "turn_radians", "x_mm", "y_mm"))
        spots.writerow(("zone", "list", "x_mm", "y_mm", "radius_mm"))
        out.writerow(("zone", "list", "area_mm2", "bare_mm2", "once_mm2", "twice_mm2", "thrice_or_more_mm2",
                      "union_mm2", "landed_mm2", "tolerance_mm2"))
        def write(name, zone, kinds, off_at_edge):
            assert zone.is_valid, name
            for kind, discs in kinds:
                discs = [tuple(map(float, d)) for d in discs]
                spots.writerows((name, kind, *d) for d in discs)
                *values, tolerance = areas(zone, discs, off_at_edge)
                out.writerow((name, kind, *(f"{v:.9f}" for v in values), f"{tolerance:.1e}"))
        for name, rings in ZONES.items():
            rings = [[(float(x), float(y)) for x, y in ring] for ring in rings]
            for k, ring in enumerate(rings):
                assert Polygon(ring).exterior.is_ccw == (k == 0), name
                zones.writerows((name, k, x, y) for x, y in ring)
            zone = Polygon(rings[0], rings[1:])
            write(name, zone, lists(name, rings), lambda discs: straight_contacts(discs, rings))
        for name, curve in CURVED.items():
            curved.writerow((name, *curve))
            zone = curved_zone(*curve)
            write(name, zone, curved_lists(name, *curve), lambda discs: curved_contacts(discs, zone, *curve))

if __name__ == "__main__":
    main()
