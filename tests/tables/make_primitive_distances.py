#!/usr/bin/env python3
"""Reference distances between simple solids, worked out without GJK.

Written with Python 3.11, numpy 2.4.6, scipy 1.17.1, clarabel 0.11.1. Seed: 30.

Methods, by pair:
  * ball, capsule: distance of the core (point or segment) minus the radius. Point against a
    convex solid: closed-form projection. Segment against a convex solid: bisection on the
    slope of half the squared distance along the segment, which never falls.
  * box and hull among themselves: every corner against every face, every edge against every edge.
  * cylinder and cone against cylinder, cone, box, hull: second-order cone program (clarabel),
    closest points then put exactly on the solids by projection and drawn together
    by accelerated alternating projections.
  * lathe (solid of revolution of a closed polygon, may be hollow) against ball and capsule:
    the exact distance in the half plane, least value over the segment by dense samples and
    local search; against cylinder and box: dense samples of the lathe's surface and local search.

For convex pairs the error is certified: the closest points give a value that is not too small,
the gap between the two support planes square to their difference one that is not too large.
The table holds the former, error_mm the difference of both plus 1e-12.
For lathes the error is an estimate.

Run:  python make_primitive_distances.py   (writes primitive_distances.csv and
published_distances.csv beside this file)
"""

import csv
import io
import itertools
import json
from pathlib import Path

import clarabel
import numpy as np
from scipy import sparse
from scipy.optimize import minimize, minimize_scalar
from scipy.spatial import ConvexHull
from scipy.spatial.transform import Rotation

SEED = 30
HERE = Path(__file__).resolve().parent


# ---------------------------------------------------------------- shapes


def frame(w):
    helper = np.eye(3)[int(np.argmin(abs(w)))]
    u = np.cross(helper, w)
    u /= np.linalg.norm(u)
    return u, np.cross(w, u)


class Core:
    """A convex core plus a radius."""

    radius = 0.0
    interior = True  # the core is a solid


class Segment(Core):
    """Ball (a == b) and capsule."""

    interior = False

    def __init__(self, a, b, radius):
        self.a, self.b, self.radius = np.array(a, float), np.array(b, float), float(radius)
        self.middle = (self.a + self.b) / 2

    def support(self, d):
        return max(self.a @ d, self.b @ d)

    def project(self, p):
        w = self.b - self.a
        n = w @ w
        t = 0.0 if n == 0 else np.clip((p - self.a) @ w / n, 0, 1)
        return self.a + t * w


class Turned(Core):
    """Cylinder or cone frustum."""

    def __init__(self, a, b, ra, rb):
        self.a, self.b = np.array(a, float), np.array(b, float)
        self.ra, self.rb = float(ra), float(rb)
        w = self.b - self.a
        self.length = np.linalg.norm(w)
        self.w = w / self.length
        self.u, self.v = frame(self.w)
        self.middle = (self.a + self.b) / 2

    def support(self, d):
        side = np.linalg.norm(d - (d @ self.w) * self.w)
        return max(self.a @ d + self.ra * side, self.b @ d + self.rb * side)

    def project(self, p):
        q = np.atleast_2d(p) - self.a
        s = q @ self.w
        out = q - s[:, None] * self.w
        rho = np.linalg.norm(out, axis=1)
        unit = np.where(rho[:, None] > 0, out / np.where(rho > 0, rho, 1)[:, None], self.u)
        slope = (self.rb - self.ra) / self.length
        inside = (s >= 0) & (s <= self.length) & (rho <= self.ra + slope * np.clip(s, 0, self.length))
        best = np.full(len(s), np.inf)
        bs, br = s.copy(), rho.copy()
        walls = [((0, 0), (0, self.ra)), ((0, self.ra), (self.length, self.rb)), ((self.length, self.rb), (self.length, 0))]
        for (s0, r0), (s1, r1) in walls:
            n = (s1 - s0) ** 2 + (r1 - r0) ** 2
            t = np.zeros_like(s) if n == 0 else np.clip(((s - s0) * (s1 - s0) + (rho - r0) * (r1 - r0)) / n, 0, 1)
            cs, cr = s0 + t * (s1 - s0), r0 + t * (r1 - r0)
            d = np.hypot(s - cs, rho - cr)
            take = (d < best) & ~inside
            best = np.where(take, d, best)
            bs, br = np.where(take, cs, bs), np.where(take, cr, br)
        r = self.a + bs[:, None] * self.w + br[:, None] * unit
        return r[0] if np.ndim(p) == 1 else r

    def cone_rows(self):
        """Rows (A, b, cone) with b - A x in the cone."""
        slope = (self.rb - self.ra) / self.length
        a0 = self.a @ self.w
        yield np.array([-self.w, self.w]), np.array([-a0, a0 + self.length]), clarabel.NonnegativeConeT(2)
        rows = np.array([-slope * self.w, -self.u, -self.v])
        yield rows, np.array([self.ra - slope * a0, -self.a @ self.u, -self.a @ self.v]), clarabel.SecondOrderConeT(3)


class Polytope(Core):
    def __init__(self, points):
        self.points = np.array(points, float)
        h = ConvexHull(self.points)
        self.corners = self.points[h.vertices]
        self.middle = self.corners.mean(0)
        self.planes = h.equations
        self.tris = self.points[h.simplices]
        self.edges = [self.points[list(e)] for e in {tuple(sorted(e)) for s in h.simplices for e in itertools.combinations(map(int, s), 2)}]

    def support(self, d):
        return (self.points @ d).max()

    def project(self, p):
        if (self.planes[:, :3] @ p + self.planes[:, 3]).max() <= 0:
            return p
        c = np.array([nearest_on_triangle(p, t) for t in self.tris])
        return c[np.argmin(np.linalg.norm(c - p, axis=1))]

    def cone_rows(self):
        yield self.planes[:, :3], -self.planes[:, 3], clarabel.NonnegativeConeT(len(self.planes))


class Block(Polytope):
    def __init__(self, centre, size, turned_deg):
        self.rot = Rotation.from_euler("xyz", turned_deg, degrees=True).as_matrix()  # Rz(yaw) Ry(pitch) Rx(roll)
        self.half = np.array(size, float) / 2
        self.mid = np.array(centre, float)
        signs = np.array(list(itertools.product([-1, 1], repeat=3)))
        super().__init__(self.mid + (signs * self.half) @ self.rot.T)

    def project(self, p):
        q = (p - self.mid) @ self.rot
        return self.mid + np.clip(q, -self.half, self.half) @ self.rot.T


class Lathe:
    radius = 0.0

    def __init__(self, a, axis, profile):
        self.a = np.array(a, float)
        self.w = np.array(axis, float) / np.linalg.norm(axis)
        self.u, self.v = frame(self.w)
        self.poly = np.array(profile, float)
        self.next = np.roll(self.poly, -1, axis=0)
        self.middle = self.a + self.w * self.poly[:, 0].mean()

    def distance(self, p):
        """Exact distance of points to the solid, 0 inside."""
        q = np.atleast_2d(p) - self.a
        s = q @ self.w
        rho = np.linalg.norm(q - s[:, None] * self.w, axis=1)
        z = np.column_stack([s, rho])
        best = np.full(len(s), np.inf)
        inside = np.zeros(len(s), bool)
        for p0, p1 in zip(self.poly, self.next):
            e = p1 - p0
            t = np.clip((z - p0) @ e / (e @ e), 0, 1)
            best = np.minimum(best, np.linalg.norm(z - p0 - t[:, None] * e, axis=1))
            cross = (p0[1] > rho) != (p1[1] > rho)
            if p1[1] != p0[1]:
                inside ^= cross & (s < p0[0] + (rho - p0[1]) * e[0] / e[1])
        return np.where(inside, 0.0, best)

    def surface(self, edge, t, th):
        q = self.poly[edge] + np.multiply.outer(t, self.next[edge] - self.poly[edge])
        return self.a + q[..., :1] * self.w + q[..., 1:] * (np.cos(th)[..., None] * self.u + np.sin(th)[..., None] * self.v)


def nearest_on_triangle(p, t):
    a, b, c = t
    n = np.cross(b - a, c - a)
    nn = n @ n
    if nn > 0:
        q = p - n * ((p - a) @ n) / nn
        if all(np.cross(y - x, q - x) @ n >= 0 for x, y in ((a, b), (b, c), (c, a))):
            return q
    best = None
    for x, y in ((a, b), (b, c), (c, a)):
        e = y - x
        q = x + np.clip((p - x) @ e / (e @ e), 0, 1) * e
        if best is None or (p - q) @ (p - q) < (p - best) @ (p - best):
            best = q
    return best


def build(j):
    (kind, f), = j.items()
    if kind == "Ball":
        return Segment(f["centre"], f["centre"], f["radius"])
    if kind == "Capsule":
        return Segment(f["from"], f["to"], f["radius"])
    if kind == "Cylinder":
        return Turned(f["from"], f["to"], f["radius"], f["radius"])
    if kind == "Cone":
        return Turned(f["from"], f["to"], f["radius_from"], f["radius_to"])
    if kind == "Box":
        return Block(f["centre"], f["size"], f["turned_deg"])
    if kind == "Hull":
        return Polytope(f["points"])
    return Lathe(f["from"], f["axis"], f["profile"])


# ---------------------------------------------------------------- closest points


def segment_to_convex(seg, c):
    w = seg.b - seg.a

    def slope(t):
        p = seg.a + t * w
        return (p - c.project(p)) @ w

    lo, hi = 0.0, 1.0
    if not w.any() or slope(0.0) >= 0:
        hi = 0.0
    elif slope(1.0) <= 0:
        lo = 1.0
    else:
        for _ in range(200):
            m = (lo + hi) / 2
            if m in (lo, hi):
                break
            if slope(m) >= 0:
                hi = m
            else:
                lo = m
    pairs = [(seg.a + t * w, c.project(seg.a + t * w)) for t in (lo, hi)]
    if isinstance(c, Segment):  # end points too: nearly parallel segments leave the slope all rounding
        pairs += [(e, c.project(e)) for e in (seg.a, seg.b)] + [(seg.project(e), e) for e in (c.a, c.b)]
    best = None
    for p, q in pairs:
        if best is None or np.linalg.norm(p - q) < np.linalg.norm(best[0] - best[1]):
            best = (p, q)
    return best


def polytopes(a, b):
    # a crossing shows in the sign of the best face or edge-pair separation
    axes = [*a.planes[:, :3], *b.planes[:, :3]]
    for e in a.edges:
        for g in b.edges:
            n = np.cross(e[1] - e[0], g[1] - g[0])
            l = np.linalg.norm(n)
            if l > 1e-9 * np.linalg.norm(e[1] - e[0]) * np.linalg.norm(g[1] - g[0]):
                axes.append(n / l)
    axes = np.array(axes)
    pa, pb = axes @ a.corners.T, axes @ b.corners.T
    if np.maximum(pa.min(1) - pb.max(1), pb.min(1) - pa.max(1)).max() <= 0:
        return a.middle, a.middle
    best = (np.inf, None, None)
    for swap, (s, t) in enumerate(((a, b), (b, a))):
        for p in s.corners:
            for tri in t.tris:
                q = nearest_on_triangle(p, tri)
                d = np.linalg.norm(p - q)
                if d < best[0]:
                    best = (d, p, q) if not swap else (d, q, p)
    for e in a.edges:
        for g in b.edges:
            p, q = segment_to_convex(Segment(*e, 0), Segment(*g, 0))
            d = np.linalg.norm(p - q)
            if d < best[0]:
                best = (d, p, q)
    return best[1], best[2]


def cone_program(a, b):
    scale = 100.0
    mid = (a.middle + b.middle) / 2
    rows, rhs, cones = [], [], []
    # variables x (3), y (3), s; (s, x - y) in the cone
    top = np.zeros((4, 7))
    top[0, 6] = -1
    top[1:, 0:3] = -np.eye(3)
    top[1:, 3:6] = np.eye(3)
    rows.append(top)
    rhs.append(np.zeros(4))
    cones.append(clarabel.SecondOrderConeT(4))
    for k, c in enumerate((a, b)):
        for m, r, cone in c.cone_rows():
            wide = np.zeros((len(m), 7))
            wide[:, 3 * k : 3 * k + 3] = m
            rows.append(wide)
            rhs.append((r - m @ mid) / scale)
            cones.append(cone)
    st = clarabel.DefaultSettings()
    st.verbose = False
    st.tol_gap_abs = st.tol_gap_rel = st.tol_feas = 1e-14
    st.max_iter = 200
    cost = np.zeros(7)
    cost[6] = 1
    sol = clarabel.DefaultSolver(
        sparse.csc_matrix((7, 7)), cost, sparse.csc_matrix(np.vstack(rows)), np.concatenate(rhs), cones, st
    ).solve()
    x = np.array(sol.x)
    return a.project(mid + scale * x[:3]), b.project(mid + scale * x[3:6])


def tighten(a, b, p, q, rounds=3000):
    """Accelerated alternating projections with restart, kept only where they help."""
    best = (np.linalg.norm(p - q), p, q)
    x, y, k = p, p, 1.0
    last = best[0]
    still = 0
    for _ in range(rounds):
        q2 = b.project(y)
        x2 = a.project(q2)
        q2 = b.project(x2)
        d = np.linalg.norm(x2 - q2)
        still = still + 1 if d >= best[0] - 1e-14 else 0
        if d < best[0]:
            best = (d, x2, q2)
        if still > 60:
            break
        if d > last:
            y, k = x2, 1.0
        else:
            k2 = (1 + np.sqrt(1 + 4 * k * k)) / 2
            y, k = x2 + (k - 1) / k2 * (x2 - x), k2
        x, last = x2, d
    return best[1], best[2]


def plane_gap(a, b, n):
    return -b.support(-n) - a.support(n)


def best_plane_gap(a, b, n):
    """The widest pair of parallel support planes near direction n."""
    u, v = frame(n)
    turn = lambda h: (n + h[0] * u + h[1] * v) / np.sqrt(1 + h[0] ** 2 + h[1] ** 2)
    x, best = np.zeros(2), plane_gap(a, b, n)
    for step in (1e-4, 1e-6, 1e-8):
        simplex = [x, x + [step, 0], x + [0, step]]
        r = minimize(lambda h: -plane_gap(a, b, turn(h)), x, method="Nelder-Mead",
                     options=dict(xatol=1e-15, fatol=1e-15, maxiter=600, initial_simplex=simplex))  # fmt: skip
        if -r.fun > best:
            best, x = -r.fun, r.x
    return best


def convex_distance(a, b, sharp=True):
    """Distance and certified error of two convex solids."""
    if isinstance(a, Segment):
        p, q = segment_to_convex(a, b)
    elif isinstance(b, Segment):
        q, p = segment_to_convex(b, a)
    elif isinstance(a, Polytope) and isinstance(b, Polytope):
        p, q = polytopes(a, b)
    else:
        p, q = cone_program(a, b)
        if np.linalg.norm(p - q) < 1e-6:
            return 0.0, float(np.linalg.norm(p - q))
        if sharp:
            p, q = tighten(a, b, p, q)
    d = np.linalg.norm(p - q)
    total = d - a.radius - b.radius
    if total <= 0:
        return 0.0, 1e-12
    n = (q - p) / d
    low = plane_gap(a, b, n)
    if sharp and d - low > 1e-10:
        low = max(low, best_plane_gap(a, b, n))
    low -= a.radius + b.radius
    return float(total), float(abs(total - low)) + 1e-12


def lathe_distance(c, b):
    if isinstance(b, Segment):
        w = b.b - b.a
        f = lambda t: float(c.distance(b.a + t * w)[0])
        if not w.any():
            best = f(0.0)
        else:
            n = 20001
            t = np.linspace(0, 1, n)
            d = c.distance(b.a + t[:, None] * w)
            best = d.min()
            step = np.linalg.norm(w) / (n - 1)
            for i in range(n):
                lo, hi = max(i - 1, 0), min(i + 1, n - 1)
                if d[i] <= d[lo] and d[i] <= d[hi] and d[i] < best + 2 * step and d[i] > 0:
                    r = minimize_scalar(f, bounds=(t[lo], t[hi]), method="bounded", options={"xatol": 1e-13})
                    best = min(best, r.fun)
        return max(0.0, float(best - b.radius)), 1e-9
    # surface samples of the lathe against a convex solid
    proj = b.project if isinstance(b, Turned) else (lambda p: b.mid + np.clip((p - b.mid) @ b.rot, -b.half, b.half) @ b.rot.T)
    gap = lambda p: np.linalg.norm(p - proj(p), axis=-1)
    if c.distance(b.middle)[0] == 0:
        return 0.0, 1e-12  # the solids overlap
    best, top = np.inf, []
    th = np.linspace(0, 2 * np.pi, 361)[:-1]
    for e in range(len(c.poly)):
        if c.poly[e][1] == 0 and c.next[e][1] == 0:
            continue
        length = np.linalg.norm(c.next[e] - c.poly[e])
        t = np.linspace(0, 1, max(3, int(length / 0.8)))
        tt, hh = np.meshgrid(t, th, indexing="ij")
        d = gap(c.surface(e, tt.ravel(), hh.ravel())).reshape(tt.shape)
        if d.min() < 1e-9:
            return 0.0, 1e-12
        pad = np.pad(d, ((1, 1), (0, 0)), constant_values=np.inf)
        near = [np.roll(pad[1 + i : len(pad) - 1 + i], j, axis=1) for i in (-1, 0, 1) for j in (-1, 0, 1)]
        for i, j in zip(*np.where(d <= np.min(near, axis=0) + 1e-12)):
            top.append((d[i, j], e, tt[i, j], hh[i, j]))
    top.sort()
    for d, e, t0, h0 in top[:40]:
        if d > top[0][0] + 2.0:
            break
        f = lambda h: float(gap(c.surface(e, np.array([np.clip(h[0], 0, 1)]), np.array([h[1]])))[0])
        x = np.array([t0, h0])
        for _ in range(3):  # restarts
            r = minimize(f, x, method="Nelder-Mead", options=dict(xatol=1e-13, fatol=1e-13, maxiter=4000,
                         initial_simplex=[x, x + [0.02 if x[0] < 0.5 else -0.02, 0], x + [0, 0.02]]))  # fmt: skip
            x = np.array([np.clip(r.x[0], 0, 1), r.x[1]])
        best = min(best, r.fun)
        for edge_t in (0.0, 1.0):  # along the rims on their own
            if abs(x[0] - edge_t) < 0.3:
                r = minimize_scalar(lambda h: f([edge_t, h]), bounds=(x[1] - 0.1, x[1] + 0.1), method="bounded", options={"xatol": 1e-13})
                best = min(best, r.fun)
    return (0.0, 1e-7) if best < 1e-7 else (float(best), 1e-7)


def distance(ja, jb, sharp=True):
    a, b = build(ja), build(jb)
    if isinstance(a, Lathe):
        return lathe_distance(a, b)
    return convex_distance(a, b, sharp)


# ---------------------------------------------------------------- poses


def r6(x):
    return [round(float(v), 6) + 0.0 for v in x]


def moved(j, t):
    (kind, f), = json.loads(json.dumps(j)).items()
    for key in ("centre", "from", "to"):
        if key in f:
            f[key] = r6(np.array(f[key]) + t)
    if kind == "Hull":
        f["points"] = [r6(np.array(p) + t) for p in f["points"]]
    return {kind: f}


CUPS = [
    # blind cup with a square bottom, mouth at along = 38 (a joint housing)
    [[0, 0], [0, 46], [38, 46], [38, 37.5], [12, 37.5], [12, 0]],
    # with a chamfered mouth
    [[-10, 0], [-10, 40], [5, 48], [60, 48], [60, 42], [54, 36], [14, 36], [8, 20], [8, 0]],
    # open ring
    [[0, 50], [0, 75], [60, 75], [60, 50]],
    # bell with a lip turned inward
    [[0, 0], [0, 55], [70, 62], [82, 62], [82, 44], [76, 44], [70, 52], [10, 45], [10, 0]],
]


def random_shape(kind, rng):
    u = lambda lo, hi: round(float(rng.uniform(lo, hi)), 3)
    axis = rng.normal(size=3)
    axis /= np.linalg.norm(axis)
    half = axis * rng.uniform(15, 160)
    if kind == "Ball":
        return {"Ball": {"centre": [0.0, 0.0, 0.0], "radius": u(5, 60)}}
    if kind == "Capsule":
        return {"Capsule": {"from": r6(-half), "to": r6(half), "radius": u(4, 50)}}
    if kind == "Cylinder":
        return {"Cylinder": {"from": r6(-half), "to": r6(half), "radius": u(5, 90)}}
    if kind == "Cone":
        return {"Cone": {"from": r6(-half), "to": r6(half), "radius_from": u(5, 80), "radius_to": u(5, 80)}}
    if kind == "Box":
        return {"Box": {"centre": [0.0, 0.0, 0.0], "size": [u(8, 300) for _ in range(3)], "turned_deg": [u(-180, 180), u(-80, 80), u(-180, 180)]}}
    if kind == "Hull":
        p = rng.normal(size=(int(rng.integers(5, 15)), 3))
        p /= np.linalg.norm(p, axis=1, keepdims=True)
        p = p * rng.uniform(20, 120, size=3) @ Rotation.random(random_state=rng).as_matrix().T
        return {"Hull": {"points": [[round(float(v), 3) for v in q] for q in p]}}
    return {"Lathe": {"from": [0.0, 0.0, 0.0], "axis": r6(axis), "profile": CUPS[int(rng.integers(len(CUPS)))]}}


def random_pose(ka, kb, rng, crossing=False):
    """Shape b comes along a line until the gap is about a chosen size."""
    a = moved(random_shape(ka, rng), np.array([rng.uniform(-300, 300), rng.uniform(-700, 700), rng.uniform(200, 700)]))
    b = random_shape(kb, rng)
    target = float(np.exp(rng.uniform(np.log(0.05), np.log(150))))
    d = rng.normal(size=3)
    d /= np.linalg.norm(d)
    aim = build(a).middle + rng.normal(size=3) * 12
    at = aim + d * (700 + target)
    for _ in range(60):
        gap = distance(a, moved(b, at), sharp=False)[0]
        if gap <= target * 1.01 + 0.01:
            break
        at = at - d * (gap - target)
        if (at - aim) @ d < -50:
            return None
    if crossing:
        at = at - d * (target + rng.uniform(3, 25))
    return a, moved(b, at)


def aligned_shape(kind, axis, variant):
    """Round sizes, axis exactly along x, y or z, middle at the origin."""
    e = np.eye(3)["xyz".index(axis)]
    if kind == "Ball":
        return {"Ball": {"centre": [0.0, 0.0, 0.0], "radius": 20.0}}
    if kind == "Capsule":
        return {"Capsule": {"from": r6(-60 * e), "to": r6(60 * e), "radius": 15.0}}
    if kind == "Cylinder":
        return {"Cylinder": {"from": r6(-50 * e), "to": r6(50 * e), "radius": 30.0}}
    if kind == "Cone":
        return {"Cone": {"from": r6(-50 * e), "to": r6(50 * e), "radius_from": 40.0, "radius_to": 16.0}}
    if kind == "Box":
        turn = [[0.0, 0.0, 0.0], [0.0, 0.0, 90.0], [0.0, 90.0, 0.0], [0.0, 0.0, 45.0], [45.0, 0.0, 0.0]][variant % 5]
        return {"Box": {"centre": [0.0, 0.0, 0.0], "size": [80.0, 50.0, 30.0], "turned_deg": turn}}
    if kind == "Hull":
        if variant % 2:
            p = [[s * 40.0 if i == k else 0.0 for i in range(3)] for k in range(3) for s in (-1, 1)]
        else:  # wedge prism along the axis
            k = "xyz".index(axis)
            p = [list(np.roll([s * 45.0, *q], k)) for s in (-1, 1) for q in ((-30.0, -20.0), (30.0, -20.0), (0.0, 25.0))]
        return {"Hull": {"points": [[float(v) for v in q] for q in p]}}
    return {"Lathe": {"from": r6(-19 * e), "axis": r6(e), "profile": CUPS[variant % len(CUPS)]}}


OFFSETS = [(150, 0, 0), (0, 0, 150), (0, 150, 0), (130, 130, 0), (120, 120, 120), (0, 30, 140), (110, 0, 0), (0, 0, 90.5), (65, 0, 0)]


def aligned_poses(ka, kb):
    k = 0
    for axes in ("xx", "xy", "xz", "zy"):
        for off in OFFSETS:
            k += 1
            base = np.array([10.0, 720.0, 400.0])
            yield moved(aligned_shape(ka, axes[0], k), base), moved(aligned_shape(kb, axes[1], k // 2), base + off)


def into_the_cup(rng):
    """A shaft reaching into a cup, tilted about the middle of the cup."""
    cup = {"Lathe": {"from": [0.0, 197.0, 420.0], "axis": [0.0, 1.0, 0.0], "profile": CUPS[int(rng.integers(2))]}}
    tilt, turn = np.radians(rng.uniform(0, 27)), rng.uniform(0, 2 * np.pi)
    d = np.array([np.sin(tilt) * np.cos(turn), np.cos(tilt), np.sin(tilt) * np.sin(turn)])
    p = np.array([0, 222 + rng.uniform(0, 8), 420.0]) + rng.normal(size=3) * 0.7
    return cup, {"Capsule": {"from": r6(p), "to": r6(p + 460 * d), "radius": round(float(rng.uniform(8, 14)), 3)}}


def pick(rows, want, rng):
    """Keep the wanted number of rows, few of them crossing."""
    free = [r for r in rows if r[4] > 0]
    hit = [r for r in rows if r[4] == 0]
    hit = hit[:: max(1, len(hit) // 3)][:3]
    if len(free) > want - len(hit):
        free = [free[i] for i in sorted(rng.choice(len(free), want - len(hit), replace=False))]
    return free + hit


def write(path, head, names, rows):
    buf = io.StringIO()
    for h in head:
        buf.write(f"# {h}\n")
    w = csv.writer(buf, lineterminator="\n")
    w.writerow(names)
    w.writerows(rows)
    path.write_text(buf.getvalue())


def published():
    z = lambda r, h, at: {"Capsule": {"from": [at[0], at[1], at[2] - h], "to": [at[0], at[1], at[2] + h], "radius": r}}
    o = (0.0, 0.0, 0.0)
    c1 = "FCL, capsule against capsule test"
    c2 = "FCL, capsule against box tests"
    box = {"Box": {"centre": list(o), "size": [1.0, 2.0, 4.0], "turned_deg": list(o)}}
    x = lambda at: {"Capsule": {"from": [at[0] - 2.0, at[1], at[2]], "to": [at[0] + 2.0, at[1], at[2]], "radius": 2.0}}
    yield z(5.0, 5.0, o), z(5.0, 5.0, (20.1, 0.0, 0.0)), 10.1, 1e-9, c1
    yield z(5.0, 5.0, o), z(5.0, 5.0, (20.0, 20.0, 0.0)), float(np.sqrt(800) - 10), 1e-9, c1
    yield z(5.0, 5.0, o), z(5.0, 5.0, (0.0, 0.0, 20.1)), 0.1, 1e-9, c1
    yield z(2.0, 2.0, (3.0, 0.0, 0.0)), box, 0.5, 1e-9, c2
    yield z(2.0, 2.0, (0.0, 0.0, 8.0)), box, 2.0, 1e-9, c2
    yield x((-10.0, 0.0, 0.0)), box, 5.5, 1e-9, c2
    yield x((-10.0, 0.8, 1.5)), box, 5.5, 1e-9, c2
    p1, q1 = [-1.0896217473782599, 9.7236145595088601e-7, 0.0], [0.91220578597858548, -9.4369829432107506e-7, 0.0]
    p2, q2 = [-0.90010447502136237, 9.0671446351334441e-7, 0.0], [1.0730877178721130, -9.8185787633992740e-7, 0.0]
    s = lambda p, q: {"Capsule": {"from": p, "to": q, "radius": 0.0}}
    yield s(p1, q1), s(p2, q2), 1.1575046138574105e-7, 1e-10, "D. Eberly, Robust Computation of Distance Between Line Segments (coordinates from memory)"


def main():
    rng = np.random.default_rng(SEED)
    kinds = ["Ball", "Capsule", "Cylinder", "Cone", "Box", "Hull"]
    pairs = list(itertools.combinations_with_replacement(kinds, 2)) + [("Lathe", k) for k in ("Ball", "Capsule", "Cylinder", "Box")]
    table = []
    for ka, kb in pairs:
        slow = ka == "Lathe" and kb in ("Cylinder", "Box")
        count = 8 if slow else 26
        rows = []

        def add(pose, a, b):
            d, e = distance(a, b)
            rows.append([f"{ka}-{kb}", pose, json.dumps(a), json.dumps(b), d, e])

        if slow:
            got = 0
            while got < count:
                a = moved(random_shape(ka, rng), np.array([0.0, 700.0, 400.0]))
                d = rng.normal(size=3)
                b = moved(random_shape(kb, rng), np.array([0.0, 700.0, 400.0]) + d / np.linalg.norm(d) * rng.uniform(120, 260))
                if distance(a, b)[0] > 0:
                    add("random", a, b)
                    got += 1
        else:
            while len(rows) < count:
                p = random_pose(ka, kb, rng)
                if p is not None and distance(*p, sharp=False)[0] > 0:
                    add("random", *p)
            while len(rows) < count + 3:
                p = random_pose(ka, kb, rng, crossing=True)
                if p is not None and distance(*p, sharp=False)[0] == 0:
                    add("crossing", *p)
        if (ka, kb) == ("Lathe", "Capsule"):
            for _ in range(40):
                add("in_the_cup", *into_the_cup(rng))
        keep = rows
        rows = []
        for a, b in aligned_poses(ka, kb):
            if slow and len(rows) > 14:
                break
            add("aligned", a, b)
        table += keep + pick(rows, 12 if slow else 20, rng)
        part = [r for r in table if r[0] == f"{ka}-{kb}"]
        print(f"{ka}-{kb}: {len(part)} rows, zero {sum(r[4] == 0 for r in part)}, largest error {max(r[5] for r in part):.1e}", flush=True)
    bad = [r for r in table if r[5] > 1e-6]
    for r in bad:
        print("weak:", r)
    out = [[*r[:4], repr(r[4]), f"{r[5]:.1e}"] for r in table]
    worst = max(r[5] for r in table)
    write(
        HERE / "primitive_distances.csv",
        [
            "Distances between simple solids at random, crossing and exactly aligned poses",
            "generator: make_primitive_distances.py; numpy 2.4.6, scipy 1.17.1, clarabel 0.11.1",
            f"seed: {SEED}",
            "units: millimetres, degrees; shapes in vehicle coordinates, as small JSON texts",
            "Box: rotation Rz(yaw) Ry(pitch) Rx(roll) of turned_deg = [roll, pitch, yaw]; size = full edge lengths",
            "Cylinder, Cone: solid, flat ends; Hull: solid convex hull of the points;",
            "Lathe: closed polygon of [along the axis, radius] turned round the axis, solid between its walls",
            "distance_mm 0 = the solids overlap; crossing rows and some aligned rows; one inside the other counts as overlap",
            f"error_mm: certified for convex pairs (closest points against support planes), estimated for lathes; largest {worst:.1e}",
            "suggested tolerance: 1e-6 mm + error_mm; a solver that stops at a relative 1e-6 needs 1e-4 mm on the far rows",
        ],
        ["pair", "pose", "a", "b", "distance_mm", "error_mm"],
        out,
    )
    pub = []
    for a, b, d, tol, source in published():
        mine, _ = convex_distance(build(a), build(b))
        print(f"published {d!r} here {mine!r}")
        pub.append([json.dumps(a), json.dumps(b), repr(d), repr(tol), source, repr(mine)])
    write(
        HERE / "published_distances.csv",
        [
            "Published distances between simple solids",
            "generator: make_primitive_distances.py; numpy 2.4.6, scipy 1.17.1 (recomputed_mm only); no random part",
            "units: as published, read as millimetres; shapes as in primitive_distances.csv",
            "a radius of 0 means the bare segment",
            "suggested tolerance: the column tolerance_mm; 1e-9 where the published values are short decimals or",
            "  closed forms; 1e-10 for the near-parallel segments, whose distance is only 1.2e-7: bisecting the",
            "  slope without trying the end points was 7e-11 off there",
        ],
        ["a", "b", "distance_mm", "tolerance_mm", "source", "recomputed_mm"],
        pub,
    )
    print(len(table), "rows; largest error", worst)


if __name__ == "__main__":
    main()
