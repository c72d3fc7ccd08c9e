#!/usr/bin/env python3
"""Reference distances between the demo part meshes, by two independent libraries.

Written with Python 3.11, numpy 2.4.6, scipy 1.17.1, coal 3.0.3, python-fcl 0.7.0.11,
manifold3d 3.5.4. Seed: 20.

Mesh a stays where its STL file has it. Mesh b is turned and moved: b_world = R b + t.
Both libraries get the same triangles (STL floats widened to double, equal vertices merged)
and the same pose. A distance of 0 means that the two surfaces cross; both libraries decide
that by their own collision query. For the rows with a gap up to 200 mm a third figure comes
from manifold3d's gap search; it is only used for the summary in the header.

Run:  python make_mesh_distances.py      (writes mesh_distances.csv beside this file)
"""

import csv
import io
from pathlib import Path

import coal
import fcl
import manifold3d as m3
import numpy as np
from scipy.spatial.transform import Rotation

SEED = 20
HERE = Path(__file__).resolve().parent
ASSETS = HERE.parent.parent / "assets"
PAIRS = [
    ("tarnwood_differential_housing", "tarnwood_skid_plate"),
    ("tarnwood_skid_plate", "coarse_knuckle"),
    ("tarnwood_differential_housing", "coarse_knuckle"),
    ("tarnwood_crossmember", "coarse_knuckle"),
    ("tarnwood_crossmember", "tarnwood_differential_housing"),
    ("hollin_differential_housing", "hollin_skid_plate"),
]
AGREE = 1e-6


def read_stl(path):
    data = path.read_bytes()
    count = int.from_bytes(data[80:84], "little")
    rec = np.frombuffer(data, dtype=np.dtype([("n", "<f4", 3), ("t", "<f4", (3, 3)), ("a", "<u2")]), count=count, offset=84)
    points = rec["t"].reshape(-1, 3).astype(float)
    v, inverse = np.unique(points, axis=0, return_inverse=True)
    return v, inverse.reshape(-1, 3)


class Part:
    def __init__(self, name):
        self.name = name
        self.v, self.f = v, f = read_stl(ASSETS / f"{name}.stl")
        self.centre = 0.5 * (v.min(0) + v.max(0))
        self.size = float(np.linalg.norm(v.max(0) - v.min(0)))
        self.coal = coal.BVHModelOBBRSS()
        self.coal.beginModel(len(f), len(v))
        vs, fs = coal.StdVec_Vec3s(), coal.StdVec_Triangle()
        for p in v:
            vs.append(p)
        for t in f:
            fs.append(coal.Triangle(*map(int, t)))
        self.coal.addSubModel(vs, fs)
        self.coal.endModel()
        self.fcl = fcl.BVHModel()
        self.fcl.beginModel(len(v), len(f))
        self.fcl.addSubModel(v, f)
        self.fcl.endModel()
        self.solid = m3.Manifold(m3.Mesh64(vert_properties=v, tri_verts=f.astype(np.uint64)))
        assert self.solid.status() == m3.Error.NoError


def coal_distance(a, b, r, t):
    ta, tb = coal.Transform3s(), coal.Transform3s(r, t)
    hit = coal.CollisionResult()
    if coal.collide(a.coal, ta, b.coal, tb, coal.CollisionRequest(), hit):
        return 0.0
    res = coal.DistanceResult()
    return coal.distance(a.coal, ta, b.coal, tb, coal.DistanceRequest(), res)


def fcl_distance(a, b, r, t):
    oa = fcl.CollisionObject(a.fcl, fcl.Transform())
    ob = fcl.CollisionObject(b.fcl, fcl.Transform(r, t))
    if fcl.collide(oa, ob, fcl.CollisionRequest(), fcl.CollisionResult()):
        return 0.0
    return fcl.distance(oa, ob, fcl.DistanceRequest(), fcl.DistanceResult())


def approach(a, b, r, direction, target):
    """Slide b along a line towards a until the gap is about target (never through)."""
    start = a.centre + direction * (a.size + b.size + target)
    for _ in range(200):
        t = start - r @ b.centre
        gap = coal_distance(a, b, r, t)
        if gap <= target * 1.001 + 1e-3:
            break
        start = start - direction * (gap - target)
        if np.dot(start - a.centre, direction) < -0.2 * a.size:
            return None
    return start


def poses(a, b, rng):
    """About 90 poses: b as drawn, turned a little or right round; near, middling, far, crossing."""
    yield "as_drawn", np.eye(3), np.zeros(3)
    plan = ["near"] * 34 + ["square_near"] * 12 + ["middle"] * 18 + ["far"] * 8 + ["crossing"] * 17
    for kind in plan:
        while True:
            if kind == "square_near":  # quarter turns, straight approach: faces and edges parallel
                r = Rotation.from_euler("xyz", rng.integers(0, 4, 3) * 90, degrees=True).as_matrix().round()
                d = np.zeros(3)
                d[rng.integers(3)] = rng.choice([-1.0, 1.0])
            else:
                axis = rng.normal(size=3)
                angle = rng.choice([rng.uniform(0, 0.15), rng.uniform(0.15, np.pi)])
                r = Rotation.from_rotvec(axis / np.linalg.norm(axis) * angle).as_matrix()
                d = rng.normal(size=3)
                d /= np.linalg.norm(d)
            target = {
                "near": float(np.exp(rng.uniform(np.log(0.1), np.log(5)))),
                "square_near": float(np.exp(rng.uniform(np.log(0.1), np.log(5)))),
                "middle": rng.uniform(8, 95),
                "far": float(np.exp(rng.uniform(np.log(150), np.log(4000)))),
                "crossing": 0.5,
            }[kind]
            aim = rng.normal(size=3) * 0.15 * min(a.size, b.size) * (kind != "square_near")
            aim -= d * np.dot(aim, d)
            place = approach(a, b, r, d, target) if not aim.any() else None
            if place is None:
                shifted = Shifted(a, aim)
                place = approach(shifted, b, r, d, target)
            if place is None:
                continue
            if kind == "crossing":
                place = place - d * float(np.exp(rng.uniform(np.log(1.5), np.log(80))))
            t = np.round(place - r @ b.centre, 6)
            if kind == "crossing" and coal_distance(a, b, r, t) > 0:
                continue
            yield kind, r, t
            break


class Shifted:
    """Part a with another aiming point."""

    def __init__(self, a, aim):
        self.centre, self.size, self.coal = a.centre + aim, a.size, a.coal


def main():
    rng = np.random.default_rng(SEED)
    parts = {n: Part(n) for pair in PAIRS for n in pair}
    rows, third = [], []
    for na, nb in PAIRS:
        a, b = parts[na], parts[nb]
        for kind, r, t in poses(a, b, rng):
            dc, df = coal_distance(a, b, r, t), fcl_distance(a, b, r, t)
            if 0 < dc < 200:
                moved = b.solid.transform(np.column_stack([r, t]))
                third.append((a.solid.min_gap(moved, 210.0) - dc, df - dc, len(rows)))
            agree = abs(dc - df) < AGREE
            rows.append([na, nb, kind, *r.ravel(), *t, dc, df, str(agree).lower()])
    dc = np.array([r[-3] for r in rows])
    df = np.array([r[-2] for r in rows])
    diff = abs(dc - df)
    agree = diff < AGREE
    third = np.array(third)
    summary = [
        f"rows {len(rows)}; agree {agree.sum()}; not {len(rows) - agree.sum()}; crossing by both {((dc == 0) & (df == 0)).sum()}, "
        f"crossing by one only {((dc == 0) ^ (df == 0)).sum()}",
        f"largest difference of the agreeing rows {diff[agree].max():.2e} mm, of all rows {diff.max():.2e} mm",
        f"manifold3d's gap on {len(third)} rows: within 1e-6 mm of coal on {(abs(third[:, 0]) < 1e-6).sum()}, "
        f"largest difference {abs(third[:, 0]).max():.2e} mm",
    ]
    for i in np.flatnonzero(~agree):
        m = [x[0] + dc[i] for x in third if int(x[2]) == i]
        print("disagree:", rows[i][:3], "coal", dc[i], "fcl", df[i], "manifold3d", m)
    for g in third[abs(third[:, 0]) >= 1e-6]:
        i = int(g[2])
        print("manifold3d off:", rows[i][:3], "coal", dc[i], "fcl", df[i], "manifold3d", g[0] + dc[i])
    buf = io.StringIO()
    buf.write(
        "# Distances between demo part meshes (assets/*.stl) at random relative poses\n"
        "# generator: make_mesh_distances.py; coal 3.0.3, python-fcl 0.7.0.11, manifold3d 3.5.4, numpy 2.4.6, scipy 1.17.1\n"
        f"# seed: {SEED}\n"
        "# units: millimetres; mesh a fixed, b_world = R b + t; r00..r22 row by row\n"
        "# vertices: STL 32-bit floats widened to 64 bit, equal vertices merged\n"
        "# 0 = the surfaces cross (each library's own collision query); agree = the two differ by less than 1e-6 mm\n"
        "# suggested tolerance: 1e-6 mm on rows with agree = true (the two libraries' own spread, see below);\n"
        "#   leave rows with agree = false out\n"
        "# coal grew out of FCL, so the two share ideas; manifold3d's search does not\n"
        "# meshes are compared as surfaces: a part wholly inside another would still show a positive distance\n"
    )
    for s in summary:
        buf.write(f"# {s}\n")
        print(s)
    w = csv.writer(buf, lineterminator="\n")
    w.writerow(["mesh_a", "mesh_b", "pose", *[f"r{i}{j}" for i in range(3) for j in range(3)], "tx", "ty", "tz", "coal_mm", "fcl_mm", "agree"])
    for r in rows:
        w.writerow([x if isinstance(x, str) else repr(float(x) + 0.0) for x in r])
    (HERE / "mesh_distances.csv").write_text(buf.getvalue())
    for na, nb in PAIRS:
        d = np.array([r[-3] for r in rows if r[0] == na and r[1] == nb])
        print(f"{na} / {nb}: {len(d)} rows, crossing {(d == 0).sum()}, under 5 mm {((d > 0) & (d < 5)).sum()}, "
              f"5..100 {((d >= 5) & (d < 100)).sum()}, farther {(d >= 100).sum()}")  # fmt: skip


if __name__ == "__main__":
    main()
