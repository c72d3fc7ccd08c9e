"""Reference speed fluctuation of shafts with Cardan joints, by moving the crosses in space.

    pip install numpy==2.4.6 scipy==1.17.1
    python make_cardan_scipy.py

Writes cardan_scipy.csv beside this file.

Method. Every shaft is an axis through space, every yoke a unit vector across its shaft's axis (the
line through its two bearings), turned with the shaft. A cross has two pins at right angles, one in
each yoke: the two yoke vectors must be perpendicular. For each angle of the driving shaft
scipy.optimize.brentq turns the driven one until they are; the next joint follows in the same way.
Nothing here knows how a Cardan joint's angle or speed is written in closed form.

The driven angle less the driving one is periodic: its Fourier sum (numpy.fft, 512 places on a turn)
is differentiated term by term, the greatest and the least speed are refined on it by
scipy.optimize.minimize_scalar, and checked by five-point differences of freshly solved angles.
Fluctuation U = (fastest - slowest) / mean.

A double Cardan joint is two crosses with a short yoke between them, which its centring device keeps
on the bisector of both shafts; the short yoke's own bearings lie in one plane.
"""

import csv
import math
import os

import numpy as np
import scipy
from scipy.optimize import brentq, minimize_scalar
from scipy.spatial.transform import Rotation

from make_suspensions_scipy import number, unit

SEED = 20260412
PLACES = 512
HERE = os.path.dirname(os.path.abspath(__file__))


def turned(v, axis, by):
    """v turned right-handed about a unit axis."""
    return Rotation.from_rotvec(axis * by).apply(v)


def any_across(axis):
    v = np.cross(axis, np.eye(3)[np.argmin(np.abs(axis))])
    return v / np.linalg.norm(v)


class Chain:
    """Shafts joined by crosses. `axes`: unit, each in the sense from driving to driven end.
    `phases`: of each shaft between two crosses, its far yoke turned on from its near one."""

    def __init__(self, axes, phases):
        self.axes = axes
        self.near = []      # yoke at the driving end, at angle 0; none on the first shaft
        self.far = []       # yoke at the driven end, at angle 0
        first = any_across(axes[0])
        self.near.append(None)
        self.far.append(first)
        for i in range(1, len(axes)):
            # Angle 0 of a driven shaft: where its yoke stands when the shaft before is at 0.
            a = axes[i]
            pin = np.cross(self.far[i - 1], a)
            pin /= np.linalg.norm(pin)
            self.near.append(pin)
            phase = phases[i - 1] if i - 1 < len(phases) else 0.0
            self.far.append(turned(pin, a, phase))

    def driven(self, theta):
        """Angle of the last shaft for an angle of the first."""
        angle = theta
        for i in range(1, len(self.axes)):
            pin = turned(self.far[i - 1], self.axes[i - 1], angle)
            near, axis = self.near[i], self.axes[i]
            e1, e2 = near, np.cross(axis, near)

            def square(x):
                return pin @ (e1 * math.cos(x) + e2 * math.sin(x))

            # The driven shaft never leads or lags by a quarter turn.
            low, high = angle - 0.5 * math.pi, angle + 0.5 * math.pi
            angle = brentq(square, low, high, xtol=1e-15, rtol=8.9e-16)
        return angle


def fluctuation(chain):
    theta = np.arange(PLACES) * (2 * math.pi / PLACES)
    lead = np.array([chain.driven(t) - t for t in theta])
    c = np.fft.rfft(lead) / PLACES
    k = np.arange(len(c))
    assert np.max(np.abs(c[PLACES // 4:])) < 1e-15, "more places needed"
    keep = np.abs(c) > 1e-15
    c, k = np.where(keep, c, 0)[: PLACES // 4], k[: PLACES // 4]

    def speed(t):
        return 1.0 + 2.0 * float(np.sum((1j * k * c * np.exp(1j * k * t)).real))

    grid = np.array([speed(t) for t in theta])
    step = 2 * math.pi / PLACES
    out, error = [], 0.0
    for sign, i in ((-1.0, int(np.argmax(grid))), (1.0, int(np.argmin(grid)))):
        s = minimize_scalar(lambda t: sign * speed(t), bounds=(theta[i] - step, theta[i] + step),
                            method="bounded", options={"xatol": 1e-10})
        value = speed(s.x)
        h = 4e-3
        d = [chain.driven(s.x + n * h) for n in (-2, -1, 1, 2)]
        d2 = [chain.driven(s.x + n * 2 * h) for n in (-2, -1, 1, 2)]
        coarse = (d2[0] - 8 * d2[1] + 8 * d2[2] - d2[3]) / (24 * h)
        fine = (d[0] - 8 * d[1] + 8 * d[2] - d[3]) / (12 * h)
        error = max(error, abs((16 * fine - coarse) / 15 - value))
        out.append(value)
    mean = (chain.driven(2 * math.pi) - chain.driven(0.0)) / (2 * math.pi)
    fast, slow = out
    return fast, slow, (fast - slow) / mean, error, abs(mean - 1.0)


def axis_at(shaft, deg, round_deg):
    """A unit axis at an angle to the shaft, in the plane turned by round_deg about it."""
    side = turned(any_across(shaft), shaft, math.radians(round_deg))
    b = math.radians(deg)
    return shaft * math.cos(b) + side * math.sin(b)


def plan(rng):
    """family, joints, transfer case, pinion, first axis, last axis, phase_deg"""
    cardan, double = "cardan", "double_cardan"

    def ends():
        case = np.round([rng.uniform(-900, -500), rng.uniform(-150, 250), rng.uniform(450, 600)], 3)
        pinion = np.round([rng.uniform(-330, -200), rng.uniform(-150, 150), rng.uniform(380, 520)], 3)
        if rng.random() < 0.3:      # a rear driveshaft's sense of looking
            case, pinion = pinion, case
        return case, pinion, unit(pinion - case)

    for deg in (5, 10, 15, 20, 25, 30, 45):
        case, pinion, s = ends()
        yield "single at the transfer case", (cardan, cardan), case, pinion, \
            axis_at(s, deg, rng.uniform(0, 360)), s, round(rng.uniform(-180, 180), 3)
    for deg in (3, 12, 30):
        case, pinion, s = ends()
        yield "single at the pinion", (cardan, cardan), case, pinion, \
            s, axis_at(s, deg, rng.uniform(0, 360)), round(rng.uniform(-180, 180), 3)
    # The first axis stands at an angle off the shaft's line, in a plane. Z: the last one on the same side,
    # so that equal angles make both end shafts parallel. W: on the other side, both bent the same way.
    for kind, turn in (("Z", 0.0), ("W", 180.0)):
        for first, last, phase in ((12, 12, 0), (25, 25, 0), (12, 12, 90), (12, 7, 0), (8, 21, 90),
                                   (15, 15, 35), (15, 15, -35), (20, 11, -120)):
            case, pinion, s = ends()
            around = rng.uniform(0, 360)
            yield f"planar {kind}", (cardan, cardan), case, pinion, axis_at(s, first, around), \
                axis_at(s, last, around + turn), phase
    for _ in range(30):
        case, pinion, s = ends()
        yield "in space", (cardan, cardan), case, pinion, \
            axis_at(s, rng.uniform(1, 32), rng.uniform(0, 360)), \
            axis_at(s, rng.uniform(1, 32), rng.uniform(0, 360)), round(rng.uniform(-180, 180), 3)
    for i in range(8):
        case, pinion, s = ends()
        joints = ((double, cardan), (cardan, double), (double, double))[i % 3]
        yield "with a double Cardan joint", joints, case, pinion, \
            axis_at(s, rng.uniform(1, 32), rng.uniform(0, 360)), \
            axis_at(s, rng.uniform(1, 32), rng.uniform(0, 360)), round(rng.uniform(-180, 180), 3)


def chain_of(joints, first, shaft, last, phase):
    axes, phases = [first], []
    if joints[0] == "double_cardan":
        axes.append(unit(first + shaft))
        phases.append(0.0)
    axes.append(shaft)
    phases.append(phase)
    if joints[1] == "double_cardan":
        axes.append(unit(shaft + last))
        phases.append(0.0)
    axes.append(last)
    return Chain(axes, phases)


def main():
    rng = np.random.default_rng(SEED)
    rows, summary = [], {}
    worst = worst_mean = 0.0
    for family, joints, case, pinion, first, last, phase in plan(rng):
        shaft = unit(pinion - case)
        fast, slow, u, error, mean = fluctuation(chain_of(joints, first, shaft, last, math.radians(phase)))
        worst, worst_mean = max(worst, error), max(worst_mean, mean)
        bends = [math.degrees(math.atan2(np.linalg.norm(np.cross(a, shaft)), a @ shaft))
                 for a in (first, last)]
        if family.startswith("single") and abs(max(bends) - 30) < 1e-9:
            # Published in many places for 30 deg.
            assert abs(fast - 1.154701) < 1e-6 and abs(slow - 0.866025) < 1e-6, (fast, slow)
        row = {"family": family, "joint_at_transfer_case": joints[0], "joint_at_pinion": joints[1]}
        for name, v in (("transfer_case", case), ("pinion", pinion), ("transfer_case_axis", first),
                        ("pinion_axis", last)):
            for a, c in zip("xyz", v):
                row[f"in_{name}_{a}"] = number(c)
        row["in_phase_deg"] = number(phase)
        row["out_joint_at_transfer_case_deg"] = number(bends[0])
        row["out_joint_at_pinion_deg"] = number(bends[1])
        row["out_fastest"] = number(fast)
        row["out_slowest"] = number(slow)
        row["out_fluctuation"] = number(u)
        rows.append(row)
        summary[family] = summary.get(family, 0) + 1

    head = f"""generator: make_cardan_scipy.py
libraries: numpy {np.__version__}, scipy {scipy.__version__}
seed: {SEED}
a driveshaft from a transfer case to a pinion, its joints' centres in mm, axes as unit vectors
in_transfer_case_axis: toward the shaft; in_pinion_axis: from the shaft on into the differential
in_phase_deg: the shaft's yoke at the pinion against its yoke at the transfer case; 0 where both lie in one
  plane, positive turned right-handed along the shaft toward the pinion
out_joint_: angle between shaft and end axis; out_fastest, out_slowest: speed of the pinion over that of the
  transfer case; out_fluctuation: their difference over the mean
method: pins of each cross kept perpendicular by brentq over a turn, the driven angle's Fourier sum
  differentiated and searched; no closed form of a Cardan joint
largest difference of a speed to five-point differences: {worst:.1e}; of the mean speed to 1: {worst_mean:.1e}
suggested tolerance: 1e-11 for speeds and fluctuation, 1e-12 deg for angles
  why: brentq is good to 1e-15 rad; terms up to the {PLACES // 4}th make at most 1e-12 of it; a decade of room
rows by family: {', '.join(f'{k} {v}' for k, v in summary.items())}; {len(rows)} rows"""
    with open(os.path.join(HERE, "cardan_scipy.csv"), "w", newline="") as f:
        for line in head.splitlines():
            f.write("# " + line + "\n")
        w = csv.DictWriter(f, list(rows[0]), lineterminator="\n")
        w.writeheader()
        w.writerows(rows)
    print(head)
    for r in rows:
        print(r["family"], r["in_phase_deg"], r["out_joint_at_transfer_case_deg"][:7],
              r["out_joint_at_pinion_deg"][:7], r["out_fluctuation"])


if __name__ == "__main__":
    main()
