"""Reference poses of double wishbone corners put together from parts that were not drawn together.

    pip install numpy==2.4.6 scipy==1.17.1
    python make_refitted_scipy.py

Writes refitted_scipy.csv beside this file.

Method. A random corner is measured; then some of its parts are exchanged for others with drawings of
their own: another upper or lower arm, another knuckle, another tie rod, a differential that was
lowered and turned. Every part keeps the lengths of its own drawing. For a given turn of the lower arm
and a rack position eight unknowns (the knuckle as a free rigid body: six; the turn of the upper arm;
the spider's place on the moved flange axis) obey eight equations:

  1-3  the knuckle's lower ball joint is where the lower arm has it
  4-6  the knuckle's upper ball joint is where the upper arm has it
  7    the tie rod has its own length
  8    the halfshaft has its own length

scipy.optimize.least_squares solves them (exact Jacobian, Newton steps to polish). The assembly nearest to the
drawing is reached by two ways that must agree: the measured corner changed little by little into the
refitted one, then arm and rack moved together; and the drawing as it is, solved at once, then the rack moved,
then the arm. It is also held against assemblies found from random starts: none may be nearer. A pose is
dropped where the scaled Jacobian comes near to singular or changes its sign on a way.
"""

import csv
import math
import os

import numpy as np
import scipy
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from make_suspensions_scipy import (POINTS, angle, base, base_low_bump_steer, left_jacobian, number,
                                    skew, unit)

SEED = 20260413
STEP_MM = 5.0
STEP_RAD = math.radians(1.0)
BLEND = 12            # steps from the measured to the refitted corner
MIN_SIGMA = 0.06      # smallest allowed singular value of the scaled Jacobian
RESIDUAL = 1e-10      # mm
ARM_MM = 300.0        # makes angles comparable to millimetres
HERE = os.path.dirname(os.path.abspath(__file__))

OWN = ["own_knuckle_lower", "own_knuckle_upper", "own_tie_rod_inner", "own_tie_rod_outer",
       "own_halfshaft_inner", "own_halfshaft_outer", "own_damper_upper", "own_damper_lower"]
AXES = ["spindle", "outer_axis", "flange"]
KNUCKLE = ["own_knuckle_lower", "own_knuckle_upper", "tie_rod_outer", "wheel_centre", "outer_joint"]


def with_own(g):
    """Every part as measured: its own drawing is the corner's."""
    g = dict(g)
    for own, name in zip(OWN, ["lower_ball", "upper_ball", "tie_rod_inner", "tie_rod_outer",
                               "inner_joint", "outer_joint", "damper_upper", "damper_lower"]):
        g[own] = g[name]
    g["wheel_height"] = g["wheel_centre"][2]
    return g


def measured(rng):
    g = base() if rng.random() < 0.5 else base_low_bump_steer()
    spread = rng.uniform(2, 14)
    for k in POINTS:
        g[k] = np.round(g[k] + rng.normal(0, spread, 3), 3)
    g["spindle"] = unit([rng.normal(0, 0.02), 1, rng.normal(0, 0.03)])
    g["outer_axis"] = unit([rng.normal(0, 0.02), 1, rng.normal(0, 0.02)])
    g["flange"] = unit([rng.normal(0, 0.03), 1, rng.normal(0, 0.03)])
    return with_own(g)


def change_upper_arm(g, rng):
    for k in ("upper_front", "upper_rear"):
        g[k] = np.round(g[k] + rng.normal(0, 8, 3), 3)
    g["upper_ball"] = np.round(g["upper_ball"] + rng.normal(0, [10, 12, 10]), 3)


def change_lower_arm(g, rng):
    for k in ("lower_front", "lower_rear"):
        g[k] = np.round(g[k] + rng.normal(0, 8, 3), 3)
    g["lower_ball"] = np.round(g["lower_ball"] + rng.normal(0, [10, 12, 10]), 3)
    g["damper_lower"] = np.round(g["damper_lower"] + rng.normal(0, 8, 3), 3)


def change_knuckle(g, rng):
    # Another shape, drawn a little beside its place.
    r = Rotation.from_rotvec(rng.normal(0, 0.03, 3))
    pivot = g["wheel_centre"]
    shift = rng.normal(0, 5, 3)
    for k in KNUCKLE:
        shape = rng.normal(0, 9, 3)
        g[k] = np.round(pivot + r.apply(g[k] + shape - pivot) + shift, 3)
    for k in ("spindle", "outer_axis"):
        g[k] = unit(r.apply(g[k]) + rng.normal(0, 0.02, 3))
    # Either the rod is set anew to the drawings, or it keeps its length.
    if rng.random() < 0.5:
        g["own_tie_rod_outer"] = g["tie_rod_outer"]


def change_tie_rod(g, rng):
    g["own_tie_rod_outer"] = np.round(g["own_tie_rod_outer"] + rng.normal(0, [8, 6, 8]), 3)
    g["own_tie_rod_inner"] = np.round(g["own_tie_rod_inner"] + rng.normal(0, [8, 6, 8]), 3)


def change_differential(g, rng):
    r = Rotation.from_rotvec(rng.normal(0, [0.01, 0.06, 0.01]))
    rear = np.array([-120.0, 0.0, 455.0])
    drop = np.array([0.0, 0.0, -rng.uniform(0, 40)])
    g["inner_joint"] = np.round(rear + r.apply(g["inner_joint"] - rear) + drop, 3)
    g["flange"] = unit(r.apply(g["flange"]))


def change_damper(g, rng):
    for k in ("damper_upper", "damper_lower"):
        g[k] = np.round(g[k] + rng.normal(0, 12, 3), 3)


CHANGES = {
    "upper arm": [change_upper_arm],
    "lower arm": [change_lower_arm],
    "knuckle": [change_knuckle],
    "tie rod": [change_tie_rod],
    "differential": [change_differential],
    "all": [change_upper_arm, change_lower_arm, change_knuckle, change_tie_rod, change_differential,
            change_damper],
}
CASES = {"upper arm": 10, "lower arm": 5, "knuckle": 10, "tie rod": 4, "differential": 10, "all": 13}


def blend(a, b, t):
    g = {}
    for k, v in a.items():
        g[k] = v + (b[k] - v) * t if k in b else v
    for k in AXES:
        g[k] = unit(g[k])
    return g


class Corner:
    def __init__(self, g):
        self.g = g
        self.origin = g["wheel_centre"]
        self.local = {k: g[k] - self.origin for k in KNUCKLE}
        self.rod = np.linalg.norm(g["own_tie_rod_outer"] - g["own_tie_rod_inner"])
        self.shaft = np.linalg.norm(g["own_halfshaft_outer"] - g["own_halfshaft_inner"])
        self.lower_axis = unit(g["lower_rear"] - g["lower_front"])
        if np.cross(self.lower_axis, g["lower_ball"] - g["lower_front"])[2] < 0:
            self.lower_axis = -self.lower_axis      # a positive turn lifts the ball joint
        self.upper_axis = unit(g["upper_rear"] - g["upper_front"])

    def on_lower(self, p, alpha):
        f = self.g["lower_front"]
        return f + Rotation.from_rotvec(self.lower_axis * alpha).apply(p - f)

    def on_upper(self, p, beta):
        f = self.g["upper_front"]
        return f + Rotation.from_rotvec(self.upper_axis * beta).apply(p - f)

    def equations(self, x, r0, alpha, rack):
        """x = wheel centre (3), rotation vector from r0 (3), upper arm's turn, plunge."""
        g = self.g
        r = (Rotation.from_rotvec(x[3:6]) * r0).as_matrix()
        jl = left_jacobian(x[3:6])
        f = np.empty(8)
        j = np.zeros((8, 8))
        arm = {k: r @ v for k, v in self.local.items()}
        f[0:3] = x[:3] + arm["own_knuckle_lower"] - self.on_lower(g["lower_ball"], alpha)
        j[0:3, 0:3] = np.eye(3)
        j[0:3, 3:6] = -skew(arm["own_knuckle_lower"]) @ jl
        upper = self.on_upper(g["upper_ball"], x[6])
        f[3:6] = x[:3] + arm["own_knuckle_upper"] - upper
        j[3:6, 0:3] = np.eye(3)
        j[3:6, 3:6] = -skew(arm["own_knuckle_upper"]) @ jl
        j[3:6, 6] = -np.cross(self.upper_axis, upper - g["upper_front"])

        def distance(row, name, other, length):
            d = x[:3] + arm[name] - other
            n = np.linalg.norm(d)
            u = d / n
            f[row] = n - length
            j[row, :3] = u
            j[row, 3:6] = -u @ skew(arm[name]) @ jl
            return u

        distance(6, "tie_rod_outer", g["tie_rod_inner"] + np.array([0.0, rack, 0.0]), self.rod)
        u = distance(7, "outer_joint", g["inner_joint"] + x[7] * g["flange"], self.shaft)
        j[7, 7] = -u @ g["flange"]
        return f, j

    def solve(self, state, alpha, rack):
        """From a near pose; None when in doubt."""
        c, r0, beta, plunge = state
        x0 = np.concatenate([c, np.zeros(3), [beta, plunge]])
        s = least_squares(lambda x: self.equations(x, r0, alpha, rack)[0], x0,
                          jac=lambda x: self.equations(x, r0, alpha, rack)[1],
                          x_scale=[1, 1, 1, 1 / ARM_MM, 1 / ARM_MM, 1 / ARM_MM, 1 / ARM_MM, 1],
                          xtol=1e-14, ftol=1e-14, gtol=1e-14, max_nfev=200)
        x = s.x
        if np.max(np.abs(s.fun)) > 1e-3:
            return None
        for _ in range(3):
            f, j = self.equations(x, r0, alpha, rack)
            scaled = j * np.array([1, 1, 1, 1 / ARM_MM, 1 / ARM_MM, 1 / ARM_MM, 1 / ARM_MM, 1])
            sigma = np.linalg.svd(scaled, compute_uv=False)[-1]
            if sigma < MIN_SIGMA:
                return None
            x = x - np.linalg.solve(j, f)
        f, j = self.equations(x, r0, alpha, rack)
        worst = float(np.max(np.abs(f)))
        if worst > RESIDUAL:
            return None
        state = x[:3], Rotation.from_rotvec(x[3:6]) * r0, x[6], x[7]
        return state, worst, float(sigma), math.copysign(1, np.linalg.det(j))

    def drawing(self):
        return self.origin.copy(), Rotation.identity(), 0.0, 0.0

    def sign(self, state):
        x = np.concatenate([state[0], np.zeros(3), [state[2], state[3]]])
        return math.copysign(1, np.linalg.det(self.equations(x, state[1], 0.0, 0.0)[1]))

    def far(self, a, b):
        """How far two assemblies are from each other, mm."""
        out = abs(a[3] - b[3]) + np.linalg.norm(self.on_upper(self.g["upper_ball"], a[2])
                                                - self.on_upper(self.g["upper_ball"], b[2]))
        for v in self.local.values():
            out = max(out, np.linalg.norm(a[0] + a[1].apply(v) - b[0] - b[1].apply(v)))
        return out


class Walk:
    """Keeps the worst of what it meets; ends on a changed sign or a leap."""

    def __init__(self, corner):
        self.corner = corner
        self.state = corner.drawing()
        self.sign = corner.sign(self.state)
        self.worst, self.low = 0.0, 9.9

    def step(self, corner, alpha, rack, longest):
        out = corner.solve(self.state, alpha, rack)
        if out is None or out[3] != self.sign or corner.far(out[0], self.state) > longest:
            return False
        self.corner = corner
        self.state = out[0]
        self.worst, self.low = max(self.worst, out[1]), min(self.low, out[2])
        return True

    def move(self, start, end):
        n = max(1, math.ceil(abs(end[0] - start[0]) / STEP_RAD), math.ceil(abs(end[1] - start[1]) / STEP_MM))
        for i in range(1, n + 1):
            t = i / n
            alpha, rack = (start[0] + (end[0] - start[0]) * t, start[1] + (end[1] - start[1]) * t) \
                if i < n else end
            if not self.step(self.corner, alpha, rack, 60.0):
                return False
        return True


def nearest_is(corner, state, rng):
    """Whether no assembly found from random starts is nearer to the drawing than this one."""
    mine = corner.far(state, corner.drawing())
    others = 0
    for _ in range(14):
        start = (corner.origin + rng.normal(0, 80, 3), Rotation.from_rotvec(rng.normal(0, 1.3, 3)),
                 rng.uniform(-2.5, 2.5), rng.uniform(-60, 60) - (0 if rng.random() < 0.7 else 900))
        out = corner.solve(start, 0.0, 0.0)
        if out is None:
            continue
        if corner.far(out[0], state) > 1e-6:
            others += 1
            if corner.far(out[0], corner.drawing()) < mine:
                return None
    return others


def assemble(before, after, rng):
    """The refitted corner at its lower arm's measured place, by both ways; None when in doubt."""
    slow = Walk(Corner(before))
    for i in range(1, BLEND + 1):
        g = after if i == BLEND else blend(before, after, i / BLEND)
        if not slow.step(Corner(g), 0.0, 0.0, 60.0):
            return None
    at_once = Walk(Corner(after))
    if not at_once.step(at_once.corner, 0.0, 0.0, 400.0):
        return None
    if slow.corner.far(slow.state, at_once.state) > 1e-9:
        return None
    others = nearest_is(slow.corner, slow.state, rng)
    if others is None:
        return None
    return slow, at_once, others


def copy_of(walk):
    w = Walk.__new__(Walk)
    w.__dict__.update(walk.__dict__)
    return w


def pose(slow, at_once, alpha, rack):
    a, b = copy_of(slow), copy_of(at_once)
    if not a.move((0.0, 0.0), (alpha, rack)):
        return None
    if not b.move((0.0, 0.0), (0.0, rack)) or not b.move((0.0, rack), (alpha, rack)):
        return None
    gap = a.corner.far(a.state, b.state)
    if gap > 1e-9:
        return None
    return a.state, max(a.worst, b.worst), min(a.low, b.low), gap


def results(corner, state, alpha, foot):
    g = corner.g
    c, r, beta, plunge = state
    out = {"lower_ball": c + r.apply(corner.local["own_knuckle_lower"]),
           "upper_ball": c + r.apply(corner.local["own_knuckle_upper"])}
    for k in ("tie_rod_outer", "wheel_centre", "outer_joint"):
        out[k] = c + r.apply(corner.local[k])
    out["inner_joint"] = g["inner_joint"] + plunge * g["flange"]
    eye = g["damper_lower"]
    out["damper_lower"] = {"lower_arm": lambda: corner.on_lower(eye, alpha),
                           "upper_arm": lambda: corner.on_upper(eye, beta),
                           "knuckle": lambda: c + r.apply(eye - corner.origin)}[foot]()
    for i, v in enumerate(r.as_matrix()):
        out[f"knuckle_r{i + 1}"] = v
    shaft = out["outer_joint"] - out["inner_joint"]
    numbers = {
        "upper_arm_deg": math.degrees(beta),
        "plunge_mm": plunge,
        "inner_joint_deg": math.degrees(angle(shaft, g["flange"])),
        "outer_joint_deg": math.degrees(angle(shaft, r.apply(g["outer_axis"]))),
        "damper_mm": np.linalg.norm(out["damper_lower"] - g["damper_upper"]),
        "travel_mm": out["wheel_centre"][2] - g["wheel_height"],
    }
    return out, numbers


def main():
    rng = np.random.default_rng(SEED)
    rows, summary = [], {}
    worst, low, gap = 0.0, 9.9, 0.0
    dropped_cases = dropped_rows = others = case = 0
    feet = ["lower_arm", "lower_arm", "upper_arm", "knuckle"]
    for family, count in CASES.items():
        for i in range(count):
            foot = feet[i % 4]
            while True:
                before = measured(rng)
                after = dict(before)
                for change in CHANGES[family]:
                    change(after, rng)
                built = assemble(before, after, rng)
                if built is None:
                    dropped_cases += 1
                    continue
                slow, at_once, found = built
                poses = []
                for n in range(9):
                    alpha = round(rng.uniform(-0.30, 0.22), 4) if n or i % 3 else 0.0
                    rack = round(rng.uniform(-70, 70), 3) if n or i % 3 else 0.0
                    got = pose(slow, at_once, alpha, rack)
                    if got is None:
                        dropped_rows += 1
                        continue
                    out, numbers = results(slow.corner, got[0], alpha, foot)
                    # keep poses a real truck could have
                    if not 1.0 < numbers["inner_joint_deg"] < 60 or not 1.0 < numbers["outer_joint_deg"] < 60:
                        dropped_rows += 1
                        continue
                    poses.append((alpha, rack, out, numbers, got))
                    if len(poses) == 3:
                        break
                if len(poses) == 3:
                    break
                dropped_cases += 1
            others += found
            for alpha, rack, out, numbers, got in poses:
                worst, low, gap = max(worst, got[1]), min(low, got[2]), max(gap, got[3])
                row = {"case": case, "family": family, "damper_foot": foot}
                for k in POINTS + AXES + OWN:
                    for a, v in zip("xyz", after[k]):
                        row[f"in_{k}_{a}"] = number(v)
                row["in_wheel_height_mm"] = number(after["wheel_height"])
                row["in_lower_arm_rad"] = number(alpha)
                row["in_rack_mm"] = number(rack)
                for k, v in out.items():
                    for a, c in zip("xyz", v):
                        row[f"out_{k}_{a}"] = number(c)
                for k, v in numbers.items():
                    row["out_" + k] = number(v)
                rows.append(row)
            summary[family] = summary.get(family, 0) + len(poses)
            case += 1

    head = f"""generator: make_refitted_scipy.py
libraries: numpy {np.__version__}, scipy {scipy.__version__}
seed: {SEED}
one left front corner with parts that were not drawn together; ISO 8855 axes (x forward, y left, z up), vehicle
  coordinates; family: which parts are others than measured
in_ columns: points mm as drawn (arms with their ball joints; the knuckle's tie-rod end, wheel centre, outer joint;
  the moved differential's inner joint), unit axes: spindle and outer_axis in the knuckle, flange on the differential
in_own_ columns: the same joints in the drawing of the part on their other side
  in_wheel_height_mm: height of the wheel centre at zero travel; damper_foot: body that carries the lower eye
  in_lower_arm_rad: turn of the lower arm from its drawing, positive lifts its ball joint; in_rack_mm: rack along +y
out_ columns: the assembly nearest to the drawing; points and lengths mm, angles deg
  out_inner_joint: the spider, moved along the flange axis by out_plunge_mm (positive outboard)
  out_knuckle_r1 to r3: rows of the knuckle's rotation, vehicle from its drawing
  out_upper_arm_deg: turn of the upper arm from its drawing, right-handed about front to rear pivot
  out_inner_joint_deg: shaft against flange axis; out_outer_joint_deg: shaft against the moved outer axis
method: rigid-body and distance constraints by scipy.optimize.least_squares with continuation; no closed form
largest equation residual: {worst:.1e} mm; largest difference between two walks to a pose: {gap:.1e} mm
smallest singular value of the scaled Jacobian met on any walk: {low:.3f}
other assemblies found from random starts, all further from the drawing: {others}
suggested tolerance: 1e-9 mm for points and lengths, 1e-11 for unit vectors, 1e-9 deg for angles
  why: double rounding of coordinates near 1000 mm is about 1e-13 mm, divided by the smallest singular value it is
  2e-12 mm, over arms of 100 mm and more 2e-14; more than two decades of room are left for another method
rows by family: {', '.join(f'{k} {v}' for k, v in summary.items())}; {case} cases, {len(rows)} rows"""
    with open(os.path.join(HERE, "refitted_scipy.csv"), "w", newline="") as f:
        for line in head.splitlines():
            f.write("# " + line + "\n")
        w = csv.DictWriter(f, list(rows[0]), lineterminator="\n")
        w.writeheader()
        w.writerows(rows)
    print(head)
    print("dropped cases", dropped_cases, "dropped poses", dropped_rows)


if __name__ == "__main__":
    main()
