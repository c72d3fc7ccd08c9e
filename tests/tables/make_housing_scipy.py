"""Reference places of a rigid differential housing whose front ears are pushed off by spacers.

    pip install numpy==2.4.6 scipy==1.17.1
    python make_housing_scipy.py

Writes housing_scipy.csv beside this file.

Method. The housing is a rigid body. Its rear pivots stay; the wanted motion brings its front ears
nearest to where the spacers put them (least sum of squared distances). scipy.optimize.least_squares
searches for it with residuals that are just "moved ear minus wanted place":

  ball        one rear pivot, two ears: three unknowns, a rotation vector about the pivot
  ball, 1 ear one rear pivot, one ear: every turn about the ear's own arm is as good; the rotation
              vector is kept at right angles to the arm (two unknowns), which is the least turn
              among the minima; that it is the least is checked by turning on from there
  in line     one rear pivot and two ears on one line with it: the same, with both ears' residuals
  hinge       two rear pivots: one unknown, the angle about their line
  free        no rear pivot: three unknowns, a shift

No singular values and no arc tangents of sums here. Every search starts from several places, the
least sum wins, and Gauss-Newton steps polish it until nothing moves. Where it applies the result is
held against scipy.spatial.transform.Rotation.align_vectors (ball and hinge; the hinge by an infinite
weight on its axis).
"""

import csv
import math
import os

import numpy as np
import scipy
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from make_suspensions_scipy import left_jacobian, number, skew

SEED = 20260411
AGREE = 1e-11         # largest difference of rotation matrices between the two ways
HERE = os.path.dirname(os.path.abspath(__file__))

TRUCK = {"pivots": [(-120, 0, 455)], "mounts": [(215, 180, 470), (215, -180, 470)], "spacer": 25.4}
# Inner joint and a point of the pinion, carried along in every row.
POINTS = [np.array([0.0, 235.0, 420.0]), np.array([-260.0, 0.0, 430.0])]


def search(residuals, jacobian, starts, move):
    """Least squares from several starts. `move(state, dx)` takes a step; residuals and jacobian are
    those of a small step from `state`."""
    best = None
    for state in starts:
        n = jacobian(state).shape[1]
        s = least_squares(lambda x: residuals(move(state, x)), np.zeros(n), method="lm",
                          xtol=1e-15, ftol=1e-15, gtol=1e-15)
        state = move(state, s.x)
        for _ in range(60):
            dx = np.linalg.lstsq(jacobian(state), -residuals(state), rcond=None)[0]
            state = move(state, dx)
        cost = float(np.sum(residuals(state) ** 2))
        if best is None or cost < best[0] * (1 - 1e-9):
            best = cost, state, float(np.max(np.abs(dx)))
    return best


def turn_about(pivot, mounts, wanted, axes, rng):
    """The best rotation about `pivot` whose rotation vector is a sum of the columns of `axes`."""
    arms = mounts - pivot
    goals = wanted - pivot

    def residuals(w):
        return (Rotation.from_rotvec(axes @ w).apply(arms) - goals).ravel()

    def jacobian(w):
        r = Rotation.from_rotvec(axes @ w)
        j = left_jacobian(axes @ w) @ axes
        return np.vstack([-skew(v) @ j for v in r.apply(arms)])

    starts = [np.zeros(axes.shape[1])] + [rng.uniform(-1.5, 1.5, axes.shape[1]) for _ in range(3)]
    cost, w, step = search(residuals, jacobian, starts, lambda s, dx: s + dx)
    return cost, Rotation.from_rotvec(axes @ w), step


def across(direction):
    """Two unit columns at right angles to a direction."""
    u = direction / np.linalg.norm(direction)
    a = np.cross(u, np.eye(3)[np.argmin(np.abs(u))])
    a /= np.linalg.norm(a)
    return np.column_stack([a, np.cross(u, a)])


def fit(pivots, mounts, wanted, rng):
    """Rotation, offset, last polishing step, difference to the second way (None where there is none)."""
    pivots, mounts, wanted = (np.array(v, float) for v in (pivots, mounts, wanted))
    if len(pivots) == 0:
        def residuals(t):
            return (mounts + t - wanted).ravel()

        def jacobian(t):
            return np.vstack([np.eye(3)] * len(mounts))

        _, t, step = search(residuals, jacobian, [np.zeros(3)], lambda s, dx: s + dx)
        return np.eye(3), t, step, None
    pivot = pivots[0]
    arms, goals = mounts - pivot, wanted - pivot
    if len(pivots) == 2:
        axis = pivots[1] - pivots[0]
        axis = axis / np.linalg.norm(axis)
        _, r, step = turn_about(pivot, mounts, wanted, axis[:, None], rng)
        other, _ = Rotation.align_vectors(np.vstack([axis, goals]), np.vstack([axis, arms]),
                                          weights=[np.inf] + [1.0] * len(arms))
    else:
        in_line = np.linalg.matrix_rank(arms, tol=1e-6) == 1
        axes = across(arms[0]) if in_line else np.eye(3)
        cost, r, step = turn_about(pivot, mounts, wanted, axes, rng)
        if in_line:
            # Turning on about the moved line changes no residual and must only turn further.
            line = r.apply(arms[0]) / np.linalg.norm(arms[0])
            for more in np.linspace(-math.pi, math.pi, 41):
                further = Rotation.from_rotvec(line * more) * r
                same = np.sum((further.apply(arms) - goals) ** 2)
                assert abs(same - cost) < 1e-8 * (1 + cost)
                assert further.magnitude() >= r.magnitude() - 1e-12
        if in_line and len(arms) == 2:
            other = None    # align_vectors leaves the turn about the line to rounding
        else:
            other, _ = Rotation.align_vectors(goals, arms)
    r = r.as_matrix()
    gap = None if other is None else float(np.max(np.abs(other.as_matrix() - r)))
    return r, pivot - r @ pivot, step, gap


def random_truck(rng, ears, pivots):
    """Mounts and pivots like a truck's, anywhere near it."""
    front_x = rng.uniform(80, 320)
    z = rng.uniform(400, 520)
    half = rng.uniform(60, 260)
    mounts = [np.array([front_x, half, z]) + rng.normal(0, 12, 3),
              np.array([front_x, -half, z]) + rng.normal(0, 12, 3)][:ears]
    rear = np.array([rng.uniform(-260, -60), rng.uniform(-60, 60), z + rng.uniform(-60, 40)])
    if pivots == 2:
        width = rng.uniform(40, 200)
        rear = [rear + [0, width, 0] + rng.normal(0, 10, 3), rear - [0, width, 0] + rng.normal(0, 10, 3)]
        if rng.random() < 0.5:
            rear.reverse()
    else:
        rear = [rear][:pivots]
    return [np.round(p, 3) for p in rear], [np.round(m, 3) for m in mounts]


def plan(rng):
    """family, pivots, mounts, wanted"""
    down = np.array([0.0, 0.0, -1.0])

    def both(family, pivots, mounts, how):
        mounts = [np.array(m, float) for m in mounts]
        if how == "same":
            t = round(rng.uniform(-20, 60), 2)
            wanted = [m + down * t for m in mounts]
        elif how == "each its own":
            wanted = [m + down * round(rng.uniform(0, 50), 2) for m in mounts]
        else:
            wanted = [np.round(m + rng.normal(0, 20, 3), 3) for m in mounts]
        return family, [np.array(p, float) for p in pivots], mounts, wanted

    t = TRUCK
    truck = [np.array(m, float) for m in t["mounts"]]
    yield "invented truck", [np.array(p, float) for p in t["pivots"]], truck, \
        [m + down * t["spacer"] for m in truck]
    hows = ["same", "same", "each its own", "any way"]
    for family, ears, pivots, count in [("ball", 2, 1, 80), ("ball, 1 ear", 1, 1, 40),
                                        ("hinge", 2, 2, 48), ("hinge, 1 ear", 1, 2, 24),
                                        ("free", 2, 0, 8), ("free, 1 ear", 1, 0, 4)]:
        for i in range(count):
            yield both(family, *random_truck(rng, ears, pivots), hows[i % 4])
    for i in range(12):
        # Whole millimetres times whole numbers: on the line to the last digit. The ears lie on one
        # side of the pivot (near and far), or one on each side.
        unit = np.round(rng.uniform(-60, 60, 3)) + np.array([70.0, 0.0, 0.0])
        pivot = np.round(rng.uniform(-150, 150, 3)) + np.array([0.0, 0.0, 450.0])
        near, far = (1, 3) if i % 3 == 0 else (1, -2) if i % 3 == 1 else (-3, 2)
        yield both("in line", [pivot], [pivot + near * unit, pivot + far * unit], hows[i % 4])


def main():
    rng = np.random.default_rng(SEED)
    rows, summary = [], {}
    worst_step = worst_gap = 0.0
    narrowest = 1.0
    held = 0
    for family, pivots, mounts, wanted in plan(rng):
        r, offset, step, gap = fit(pivots, mounts, wanted, rng)
        worst_step = max(worst_step, step)
        if gap is not None:
            assert gap < AGREE, (family, gap)
            worst_gap = max(worst_gap, gap)
            held += 1
        if family in ("ball", "invented truck"):
            size = np.linalg.svd(np.array(mounts) - pivots[0], compute_uv=False)
            narrowest = min(narrowest, (size[1] / size[0]) ** 2)
        row = {"family": family, "pivots": len(pivots), "mounts": len(mounts)}

        def put(name, v):
            for i, a in enumerate("xyz"):
                row[f"{name}_{a}"] = "" if v is None else number(v[i])

        def pick(v, i):
            return v[i] if i < len(v) else None

        for i in range(2):
            put(f"in_pivot_{i + 1}", pick(pivots, i))
        for i in range(2):
            put(f"in_mount_{i + 1}", pick(mounts, i))
        for i in range(2):
            put(f"in_wanted_{i + 1}", pick(wanted, i))
        points = POINTS if family == "invented truck" else \
            [np.round(p + rng.normal(0, 60, 3), 3) for p in POINTS]
        for i, p in enumerate(points):
            put(f"in_point_{i + 1}", p)
        for i in range(3):
            put(f"out_r{i + 1}", r[i])
        for i, p in enumerate(points):
            put(f"out_point_{i + 1}", r @ p + offset)
        for i in range(2):
            m = pick(mounts, i)
            row[f"out_miss_{i + 1}_mm"] = "" if m is None else \
                number(np.linalg.norm(r @ m + offset - wanted[i]))
        turned = Rotation.from_matrix(r).magnitude()
        row["out_turned_deg"] = number(math.degrees(turned))
        rows.append(row)
        summary[family] = summary.get(family, 0) + 1
        if family == "invented truck":
            inner, pinion = (r @ p + offset - p for p in points)
            print("invented truck: turned", math.degrees(turned), "inner joint", inner, "pinion", pinion)

    head = f"""generator: make_housing_scipy.py
libraries: numpy {np.__version__}, scipy {scipy.__version__}
seed: {SEED}
a rigid differential housing whose front ears are pushed off; ISO 8855 axes (x forward, y left, z up), mm
in_pivot_: rear pivots that stay (none: it shifts; one: a ball; two: a hinge); in_mount_: front ears as
  measured; in_wanted_: where they should go; in_point_: points of the housing that are carried along
out_r1 to r3: rows of the rotation, vehicle from measured; out_point_: the carried points afterwards
out_miss_: distance of each ear from its wanted place; out_turned_deg: angle of the rotation
of all motions that keep the pivots, the one with the least sum of squared misses; where ears in line with
  the pivot leave a turn open, the least turn
method: scipy.optimize.least_squares on a rotation vector, an angle or a shift, from several starts
largest last step of the search: {worst_step:.1e} rad or mm
largest difference to Rotation.align_vectors: {worst_gap:.1e} in the matrix's elements, {held} rows
suggested tolerance: 1e-12 for rotations, 1e-9 mm for points and misses, 1e-9 deg for the angle
  why: a method that stops at 1e-15 of the arms' products loses the spread of two ears about a ball (second over
  first sum of squares, at least {narrowest:.1e} here): below 1e-13, over arms of 1000 mm 1e-10 mm; a decade of room
rows by family: {', '.join(f'{k} {v}' for k, v in summary.items())}; {len(rows)} rows"""
    with open(os.path.join(HERE, "housing_scipy.csv"), "w", newline="") as f:
        for line in head.splitlines():
            f.write("# " + line + "\n")
        w = csv.DictWriter(f, list(rows[0]), lineterminator="\n")
        w.writeheader()
        w.writerows(rows)
    print(head)


if __name__ == "__main__":
    main()
