#!/usr/bin/env python3
"""Reference distances between parts of the demo trucks and the obstacles they are driven over.

    pip install coal==3.0.3 numpy==2.4.6
    python make_drive_distances.py

Written with Python 3.11. Writes drive_distances_coal.csv beside this file.

Parts are built from the sizes in scenes/*.ron, meshes from assets/*.stl (floats widened to double, equal
vertices merged). Obstacles are built from what their names mean, not from the library's drawing of them:
curves are coal's own cylinders and ellipsoids, everything else boxes and one convex wedge, and an obstacle is the
union of its pieces:

* ledge: ground, a block up to the beginning of the rounding, a block behind it, a cylinder along the edge;
* ramp: ground and a convex wedge with the high ground behind it;
* log: ground, a cylinder lying on it, and the block under its middle (nothing rolls or reaches under there: the
  library's ground has no overhang);
* ditch: ground before and behind, its floor;
* boulder: an ellipsoid, its middle at ground level;
* hump: one wave of a cosine, which no primitive is: triangles with corners on the wave, finer than HUMP_FACET;
* side slope: the ground, turned about x.

Every distance is told as a range that holds the true one:

* convex part, convex piece: coal's nearest points, moved into both solids where they are off them, have the true
  distance or more between them (coal swells boxes by a share of 1e-10 or so and comes out a little low); the slab
  between the two support planes square to their line parts both solids, so the true distance isn't below its
  width. Planes and moving use functions written here, not coal's.
* mesh part: above, by coal's mesh against primitive likewise; below, by coal's mesh against mesh (triangle against triangle,
  in closed form) with the obstacle's curves drawn with inscribed facets, less what these facets miss.
* hump: coal's part against the triangles, with what these miss on both sides (its feet are hollow: there facets
  stand outside).
"""

import csv
import io
import sys
from pathlib import Path

import coal
import numpy as np

SEED = 20260419
HERE = Path(__file__).resolve().parent
ASSETS = HERE.parent.parent / "assets"
INCH = 25.4
# Ground and obstacles are drawn this far along, across and below, mm. Across, the library has the same; along and
# below no part comes near their ends.
ALONG, ACROSS, BELOW = 8_000.0, 4_000.0, 1_000.0
# Facets of the second drawing miss their curves by less than this, mm; a boulder's and the hump's own.
FACET, BOULDER_FACET, HUMP_FACET = 1e-3, 0.02, 1e-4
EYE = np.eye(3)
# Rows by kind for each part and obstacle.
PLAN = ["near"] * 9 + ["middle"] * 5 + ["far"] * 3 + ["overlapping"] * 5
# The ranges told must be narrower than this, mm, but for what facets miss; see REQUEST.
NARROW = 2e-4
# Rounding at coordinates of 10 m.
ROUNDING = 1e-9

REQUEST = coal.DistanceRequest()
# At the default of 1e-6 an ellipsoid's distance can be off by more than a micron.
REQUEST.gjk_tolerance = 1e-9
REQUEST.gjk_max_iterations = 10_000


def nearest(a, ta, b, tb):
    """Nearest points; none where they overlap."""
    if coal.collide(a, ta, b, tb, coal.CollisionRequest(), coal.CollisionResult()):
        return None
    result = coal.DistanceResult()
    if coal.distance(a, ta, b, tb, REQUEST, result) <= 0.0:
        return None
    return result.getNearestPoint1(), result.getNearestPoint2()


def transform(rotation, offset):
    return coal.Transform3s(rotation, offset)


def bvh(v, f):
    model = coal.BVHModelOBBRSS()
    model.beginModel(len(f), len(v))
    vs, fs = coal.StdVec_Vec3s(), coal.StdVec_Triangle()
    for p in v:
        vs.append(p)
    for t in f:
        fs.append(coal.Triangle(*map(int, t)))
    model.addSubModel(vs, fs)
    model.endModel()
    return model


def frame_along(direction):
    z = direction / np.linalg.norm(direction)
    x = np.cross(z, EYE[np.argmin(abs(z))])
    x /= np.linalg.norm(x)
    return np.column_stack([x, np.cross(z, x), z])


class Convex:
    """A convex solid: coal's, where it stands, its support function, and what moves points near it into it."""

    def __init__(self, geometry, rotation, offset, own_support, own_inside):
        self.geometry, self.rotation, self.offset = geometry, rotation, np.asarray(offset, float)
        self.own_support, self.own_inside = own_support, own_inside

    def at(self, rotation, offset):
        return transform(rotation @ self.rotation, rotation @ self.offset + offset)

    def support(self, n, rotation=EYE, offset=np.zeros(3)):
        """Greatest n . p over the solid."""
        return self.own_support((rotation @ self.rotation).T @ n) + n @ (rotation @ self.offset + offset)

    def inside(self, p, rotation=EYE, offset=np.zeros(3)):
        turn, origin = rotation @ self.rotation, rotation @ self.offset + offset
        return turn @ self.own_inside(turn.T @ (p - origin)) + origin


def shortened(p, length):
    return p * min(1.0, length / max(np.linalg.norm(p), 1e-300))


def box(low, high, rotation=EYE):
    low, high = np.asarray(low, float), np.asarray(high, float)
    h = 0.5 * (high - low)
    return Convex(coal.Box(*(2 * h)), rotation, rotation @ (0.5 * (low + high)), lambda n: h @ abs(n), lambda p: np.clip(p, -h, h))


def ball(centre, r):
    return Convex(coal.Sphere(r), EYE, centre, lambda n: r, lambda p: shortened(p, r))


def capsule(a, b, r):
    a, b = np.asarray(a, float), np.asarray(b, float)
    h = 0.5 * np.linalg.norm(b - a)

    def inside(p):
        axis = np.array([0.0, 0.0, np.clip(p[2], -h, h)])
        return axis + shortened(p - axis, r)

    return Convex(coal.Capsule(r, 2 * h), frame_along(b - a), 0.5 * (a + b), lambda n: h * abs(n[2]) + r, inside)


def cylinder(a, b, r):
    a, b = np.asarray(a, float), np.asarray(b, float)
    h = 0.5 * np.linalg.norm(b - a)

    def support(n):
        return h * abs(n[2]) + r * np.hypot(n[0], n[1])

    def inside(p):
        return np.array([*shortened(p[:2], r), np.clip(p[2], -h, h)])

    return Convex(coal.Cylinder(r, 2 * h), frame_along(b - a), 0.5 * (a + b), support, inside)


def ellipsoid(centre, half):
    half = np.asarray(half, float)
    return Convex(coal.Ellipsoid(*half), EYE, centre, lambda n: np.linalg.norm(half * n), lambda p: half * shortened(p / half, 1.0))


def extruded(outline, across):
    """A convex outline (x, z), clockwise seen from the right, drawn across the track."""
    n = len(outline)
    v = np.array([[x, y, z] for y in across for x, z in outline], float)
    f = []
    for i in range(n):
        j = (i + 1) % n
        f += [(i, j, n + j), (i, n + j, n + i)]
    for i in range(1, n - 1):
        f += [(0, i + 1, i), (n, n + i, n + i + 1)]
    points, triangles = coal.StdVec_Vec3s(), coal.StdVec_Triangle()
    for p in v:
        points.append(p)
    for t in f:
        triangles.append(coal.Triangle(*t))
    return Convex(coal.Convex(points, triangles), EYE, np.zeros(3), lambda n: float((v @ n).max()), lambda p: p)


def prism(profile, across):
    """Triangles of the solid below a profile, upright walls allowed."""
    line = np.array([(-ALONG, profile[0][1]), *profile, (ALONG, profile[-1][1])], float)
    n = len(line)
    v = []
    for y in across:
        v += [(x, y, z) for x, z in line] + [(x, y, -BELOW) for x, _ in line]
    f = []

    def quad(a, b, c, d):
        f.extend([(a, b, c), (a, c, d)])

    for i in range(n - 1):
        quad(i, i + 1, 2 * n + i + 1, 2 * n + i)
        if line[i + 1][0] > line[i][0]:
            for side in (0, 2 * n):
                quad(side + i, side + i + 1, side + n + i + 1, side + n + i)
    return bvh(np.array(v), f)


def arc(x, z, r, begin, end, facet):
    """Corners on a circle from an angle to an angle (degrees from +x toward +z), facets finer than told."""
    n = int(np.ceil(abs(np.radians(end - begin)) / (2 * np.arccos(1 - facet / r))))
    angles = np.radians(np.linspace(begin, end, n + 1))
    return [(x + r * np.cos(a), z + r * np.sin(a)) for a in angles]


def boulder_mesh(centre, half, facet):
    """Triangles with corners on the ellipsoid, down to well below the ground, and what they miss it by at most."""
    rings = int(np.ceil(0.5 * np.pi * np.sqrt(max(half) / facet)))
    used = int(rings * 0.6)
    theta = np.pi * np.arange(used + 1) / rings
    phi = np.pi * np.arange(2 * rings) / rings
    unit = np.stack(
        [np.outer(np.sin(theta), np.cos(phi)), np.outer(np.sin(theta), np.sin(phi)), np.outer(np.cos(theta), np.ones(len(phi)))], -1
    ).reshape(-1, 3)
    m = len(phi)
    i, j = np.meshgrid(np.arange(used), np.arange(m), indexing="ij")
    a, b = i * m + j, i * m + (j + 1) % m
    f = np.concatenate([np.stack([a, a + m, b + m], -1).reshape(-1, 3), np.stack([a, b + m, b], -1)[1:].reshape(-1, 3)])
    p, q, r = (unit[f[:, k]] for k in range(3))
    normal = np.cross(q - p, r - p)
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    missed = max(half) * (1 - abs((normal * p).sum(1))).max()
    return bvh(unit * half + centre, f), missed


class Obstacle:
    """Pieces (convex) whose union it is, or none; triangles with facets, and what these miss: outside of them, inside.
    `aims` are points on it that parts are brought near to."""

    def __init__(self, name, against, pieces, mesh, outside, inside, aims):
        self.name, self.against, self.pieces, self.aims = name, against, pieces, aims
        self.mesh, self.outside, self.inside = mesh, outside, inside


WHOLE = (-ACROSS, ACROSS)


def ground(across, until=ALONG, begin=-ALONG, top=0.0):
    return box((begin, across[0], -BELOW), (until, across[1], top))


def ledge(name, height, r, across=WHOLE):
    pieces = [ground(across), box((r, across[0], -BELOW), (ALONG, across[1], height))]
    profile = [(0.0, 0.0), (0.0, height - r)]
    if r > 0:
        pieces.append(box((0, across[0], -BELOW), (ALONG, across[1], height - r)))
        pieces.append(cylinder((r, across[0], height - r), (r, across[1], height - r), r))
        profile += arc(r, height - r, r, 180, 90, FACET)[1:]
    low, high = (across[0], across[1]) if across is not WHOLE else (-900, 900)

    def aims(rng):
        a = rng.uniform(0, 0.5 * np.pi)
        edge = (r * (1 - np.cos(a)), height - r + r * np.sin(a))
        x, z = [edge, (0.0, rng.uniform(0, height - r)), (rng.uniform(r, 600), height)][rng.choice(3, p=[0.6, 0.2, 0.2])]
        return np.array([x, rng.uniform(low, high), z])

    return Obstacle(name, name, pieces, prism(profile, across), FACET if r > 0 else 0.0, 0.0, aims)


def ramp(name, height, length):
    outline = [(0, 0), (length, height), (ALONG, height), (ALONG, -BELOW), (0, -BELOW)]

    def aims(rng):
        x, z = [(length, height), (0.0, 0.0), (length * (s := rng.uniform()), height * s)][rng.choice(3, p=[0.4, 0.2, 0.4])]
        return np.array([x, rng.uniform(-900, 900), z])

    return Obstacle(name, name, [ground(WHOLE), extruded(outline, WHOLE)], prism([(0, 0), (length, height)], WHOLE), 0.0, 0.0, aims)


def log(name, diameter):
    r = 0.5 * diameter
    pieces = [ground(WHOLE), ground(WHOLE, 2 * r, 0.0, r), cylinder((r, -ACROSS, r), (r, ACROSS, r), r)]
    profile = [(0, 0), (0, r), *arc(r, r, r, 180, 0, FACET)[1:-1], (2 * r, r), (2 * r, 0)]

    def aims(rng):
        a = rng.uniform(0, np.pi)
        return np.array([r - r * np.cos(a), rng.uniform(-900, 900), r + r * np.sin(a)])

    return Obstacle(name, name, pieces, prism(profile, WHOLE), FACET, 0.0, aims)


def ditch(name, depth, width):
    pieces = [ground(WHOLE, 0.0), ground(WHOLE, top=-depth), ground(WHOLE, begin=width)]
    profile = [(0, 0), (0, -depth), (width, -depth), (width, 0)]

    def aims(rng):
        x, z = [(0.0, 0.0), (width, 0.0), (rng.uniform(0, width), -depth)][rng.choice(3, p=[0.35, 0.35, 0.3])]
        return np.array([x, rng.uniform(-900, 900), z])

    return Obstacle(name, name, pieces, prism(profile, WHOLE), 0.0, 0.0, aims)


def boulder(name, length, width, height, middle_y=0.0):
    half, centre = np.array([0.5 * length, 0.5 * width, height]), np.array([0.5 * length, middle_y, 0.0])
    mesh, missed = boulder_mesh(centre, half, BOULDER_FACET)

    def aims(rng):
        n = rng.normal(size=3)
        n[2] = abs(n[2])
        return centre + half * n / np.linalg.norm(n)

    return Obstacle(name, name, [ellipsoid(centre, half)], mesh, missed, 0.0, aims)


def hump(name, height, length):
    bend = 0.5 * height * (2 * np.pi / length) ** 2
    n = int(np.ceil(np.sqrt(bend * length**2 / (8 * HUMP_FACET))))
    x = np.linspace(0, length, n + 1)

    def wave(x):
        return 0.5 * height * (1 - np.cos(2 * np.pi * x / length))

    def aims(rng):
        x = rng.uniform(0, length)
        return np.array([x, rng.uniform(-900, 900), wave(x)])

    return Obstacle(name, name, None, prism(list(zip(x, wave(x))), WHOLE), HUMP_FACET, HUMP_FACET, aims)


def side_slope(name, degrees):
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    turn = np.array([[1, 0, 0], [0, c, -s], [0, s, c]])
    v = [turn @ (x, y, 0.0) for x in (-ALONG, ALONG) for y in WHOLE]
    mesh = bvh(np.array(v), [(0, 2, 3), (0, 3, 1)])

    def aims(rng):
        return turn @ (rng.uniform(-900, 900), rng.uniform(-900, 900), 0.0)

    return Obstacle(name, "the ground", [box((-ALONG, -ACROSS, -BELOW), (ALONG, ACROSS, 0), turn)], mesh, 0.0, 0.0, aims)


class MeshPart:
    """A part from an STL file."""

    def __init__(self, file):
        data = (ASSETS / f"{file}.stl").read_bytes()
        count = int.from_bytes(data[80:84], "little")
        kind = np.dtype([("n", "<f4", 3), ("t", "<f4", (3, 3)), ("a", "<u2")])
        points = np.frombuffer(data, dtype=kind, count=count, offset=84)["t"].reshape(-1, 3).astype(float)
        self.v, inverse = np.unique(points, axis=0, return_inverse=True)
        self.geometry = bvh(self.v, inverse.reshape(-1, 3))

    def at(self, rotation, offset):
        return transform(rotation, offset)

    def inside(self, p, rotation, offset):
        return p

    def point(self, rng):
        return self.v[rng.integers(len(self.v))]


def point_of(part, rng):
    """A vehicle point on the part, to be brought near to an obstacle."""
    if isinstance(part, MeshPart):
        return part.point(rng)
    n = rng.normal(size=3)
    n /= np.linalg.norm(n)
    # The support point by differences of the support function: it is the function's gradient.
    return np.array([(part.support(n + h) - part.support(n - h)) / 2e-6 for h in 1e-6 * EYE])


def millimetre_box(centre, size, unit=1.0):
    centre, size = np.asarray(centre, float) * unit, np.asarray(size, float) * unit
    return box(centre - 0.5 * size, centre + 0.5 * size)


def inches(*p):
    return np.array(p) * INCH


# Scene: a vehicle point (front wheel centres' middle as measured), parts by the names they have on the ground, obstacles.
SCENES = {
    "tarnwood": (
        (0.0, 0.0, 400.0),
        {
            "front bumper": millimetre_box((640, 0, 575), (120, 1500, 170)),
            "left slider": capsule((-520, 790, 360), (-2250, 790, 360), 38),
            "fuel tank": millimetre_box((-1900, -330, 420), (800, 420, 220)),
            "rear axle": cylinder((-2900, -690, 400), (-2900, 690, 400), 45),
            "rear axle housing": ball((-2900, 60, 400), 140),
            "left lower arm front leg": capsule((180, 335, 345), (26, 681, 296), 17),
            "skid plate": MeshPart("tarnwood_skid_plate"),
            "differential housing": MeshPart("tarnwood_differential_housing"),
        },
        [
            ledge("ledge", 240, 15),
            ledge("ledge, left wheel", 240, 15, (400, 1400)),
            log("log", 360),
            boulder("boulder", 300, 1500, 400),
            ditch("ditch", 180, 700),
            ramp("ramp", 500, 900),
            side_slope("side slope", 15),
        ],
    ),
    "hollin": (
        (0.0, 0.0, 481.0),
        {
            "front bumper": millimetre_box((790, 0, 700), (140, 1800, 190)),
            "right step": capsule((-620, -930, 470), (-2800, -930, 470), 42),
            "skid plate": MeshPart("hollin_skid_plate"),
        },
        [hump("hump", 450, 2600)],
    ),
    "crake": (
        (0.0, 0.0, 12.91 * INCH),
        {
            "sump": millimetre_box((-20, 0, 11.5), (14, 12, 3), INCH),
            "rear axle": capsule(inches(-94, -22, 12.9), inches(-94, 22, 12.9), 1.6 * INCH),
        },
        [ledge("kerb", 6 * INCH, 0.0), log("log", 9 * INCH)],
    ),
}


def rotation(pitch, roll):
    """Nose up, left side up: a turn by -pitch about y after one by roll about x."""
    cp, sp, cr, sr = np.cos(pitch), np.sin(pitch), np.cos(roll), np.sin(roll)
    return np.array([[cp, -sp * sr, -sp * cr], [0.0, cr, -sr], [sp, cp * sr, cp * cr]])


AT_REST = transform(EYE, np.zeros(3))


def facet_distance(part, obstacle, r, t):
    found = nearest(obstacle.mesh, AT_REST, part.geometry, part.at(r, t))
    return 0.0 if found is None else float(np.linalg.norm(found[1] - found[0]))


def bounds(part, obstacle, r, t):
    """The true distance lies between; both zero where they overlap."""
    if obstacle.pieces is None:
        d = facet_distance(part, obstacle, r, t)
        return (max(d - obstacle.outside - obstacle.inside, 0.0), d + obstacle.inside) if d > 0 else (0.0, 0.0)
    lows, highs = [], []
    for piece in obstacle.pieces:
        found = nearest(piece.geometry, piece.at(EYE, np.zeros(3)), part.geometry, part.at(r, t))
        if found is None:
            return 0.0, 0.0
        p, q = found
        highs.append(float(np.linalg.norm(part.inside(q, r, t) - piece.inside(p))))
        if not isinstance(part, MeshPart):
            n = (q - p) / np.linalg.norm(q - p)
            lows.append(max(float(-part.support(-n, r, t) - piece.support(n)), 0.0))
    if isinstance(part, MeshPart):
        lows.append(max(facet_distance(part, obstacle, r, t) - obstacle.outside, 0.0))
    return min(lows), min(highs)


def approach(part, obstacle, r, t, d, target):
    """Slides the part along -d until the distance is about target; never through."""
    for _ in range(300):
        gap = bounds(part, obstacle, r, t)[1]
        if gap <= target * 1.001 + 1e-4:
            return t if gap > 0 else None
        t = t - d * (gap - target)
    return None


def attitude(rng):
    """Level, pitched, rolled, both; radians."""
    pitch, roll = np.radians(rng.uniform(-30, 30)), np.radians(rng.uniform(-30, 30))
    kind = rng.choice(4, p=[0.12, 0.22, 0.16, 0.5])
    return round([0.0, pitch, 0.0, pitch][kind], 9), round([0.0, 0.0, roll, roll][kind], 9)


def row(kind, part, obstacle, front, rng):
    """One attitude of a kind, or none where the try misses."""
    pitch, roll = attitude(rng)
    r = rotation(pitch, roll)
    d = rng.normal(size=3)
    d[2] = abs(d[2]) + 0.2
    d /= np.linalg.norm(d)
    target = {
        "near": float(np.exp(rng.uniform(np.log(2e-3), np.log(5)))),
        "middle": rng.uniform(8, 95),
        "far": float(np.exp(rng.uniform(np.log(150), np.log(1500)))),
        "overlapping": 0.3,
    }[kind]
    begin = obstacle.aims(rng) + d * (target + 2_500)
    t = approach(part, obstacle, r, begin - r @ point_of(part, rng), d, target)
    if t is None:
        return None
    if kind == "overlapping":
        t = t - d * float(np.exp(rng.uniform(np.log(1), np.log(15))))
    at = np.round(t + r @ front, 6)
    t = at - r @ front
    low, high = bounds(part, obstacle, r, t)
    if (kind == "overlapping") != (high == 0):
        return None
    # Where facets decide, a touch can't be told from a near miss: such a row has no use.
    if kind != "overlapping" and low <= 0:
        return None
    return pitch, roll, at, low, high


def main():
    rng = np.random.default_rng(SEED)
    rows, width = [], {}
    for scene, (front, parts, obstacles) in SCENES.items():
        front = np.array(front)
        for name, part in parts.items():
            for obstacle in obstacles:
                for kind in PLAN:
                    for _ in range(300):
                        if (found := row(kind, part, obstacle, front, rng)) is not None:
                            break
                    else:
                        sys.exit(f"{scene} {name} {obstacle.name}: no {kind}")
                    pitch, roll, at, low, high = found
                    facets = isinstance(part, MeshPart) or obstacle.pieces is None
                    told = obstacle.outside + 2 * obstacle.inside if facets else 0.0
                    assert -ROUNDING <= high - low <= told + NARROW, (scene, name, obstacle.name, low, high, told)
                    key = "hump" if obstacle.pieces is None else "mesh parts" if facets else "primitives"
                    width[key] = max(width.get(key, 0.0), high - low)
                    rows.append([scene, name, obstacle.name, obstacle.against, kind, pitch, roll, *at, *front, min(low, high), high])
            print(scene, name, len(rows), flush=True)
    kinds = ", ".join(f"{k} {sum(r[4] == k for r in rows)}" for k in dict.fromkeys(PLAN))
    boulder_missed = next(o.outside for o in SCENES["tarnwood"][2] if o.name == "boulder")
    buf = io.StringIO()
    buf.write(
        "# generator: make_drive_distances.py\n"
        f"# libraries: coal {coal.__version__}, numpy {np.__version__}\n"
        f"# seed: {SEED}\n"
        "# distances between parts of the demo trucks (sizes as in scenes/*.ron, meshes assets/*.stl) and obstacles\n"
        "# ground coordinates, mm: x forward with the obstacle's front at zero, y left, z up from the level ground\n"
        "# a vehicle point p, mm, stands at in_at + R (p - in_point); the wheels at ride height\n"
        "#   R = Ry(-in_pitch_rad) Rx(in_roll_rad), right-handed turns: nose up and left side up are positive; with cosine\n"
        "#   and sine of pitch cp, sp and of roll cr, sr its rows are (cp, -sp sr, -sp cr), (0, cr, -sr), (sp, cp sr, cp cr)\n"
        "#   in_point: middle of the front wheel centres as measured\n"
        "# against: the obstacle with the ground it stands on (a boulder is taken alone); on a side slope the ground\n"
        "# obstacles are what their names mean: cylinders, ellipsoids, boxes, wedges and their unions (a log has no room\n"
        f"#   under its middle); the hump is triangles that miss its wave by less than {HUMP_FACET:g} mm\n"
        "# the true distance lies in out_low_mm .. out_high_mm; both zero: they overlap\n"
        "#   primitives: above by coal's nearest points, below by the slab between support planes, not coal's\n"
        f"#   mesh parts: above by coal against primitives, below by coal against facets, less what they miss: {FACET:g} mm\n"
        f"#     (ledge, log), {boulder_missed:.4f} mm (boulder), nothing elsewhere\n"
        f"#   widest ranges: {'; '.join(f'{k} {w:.1e} mm' for k, w in width.items())}\n"
        "# suggested tolerance: 1e-6 mm beyond the range (rounding at coordinates of 10 m over some hundred operations is\n"
        "#   below 1e-8 mm), and what the checked library's own facets miss\n"
        f"# {len(rows)} rows: {kinds}\n"
    )
    w = csv.writer(buf, lineterminator="\n")
    w.writerow(
        ["scene", "part", "obstacle", "against", "kind", "in_pitch_rad", "in_roll_rad"]
        + [f"in_{v}_{a}" for v in ("at", "point") for a in "xyz"]
        + ["out_low_mm", "out_high_mm"]
    )
    for r in rows:
        w.writerow([x if isinstance(x, str) else repr(float(x) + 0.0) for x in r])
    (HERE / "drive_distances_coal.csv").write_text(buf.getvalue())
    print(kinds, width)


if __name__ == "__main__":
    main()
