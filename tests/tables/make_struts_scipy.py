"""Reference poses of random strut corners, solved from constraint equations.

    pip install numpy==2.4.6 scipy==1.17.1
    python make_struts_scipy.py

Writes struts_scipy.csv beside this file.

Method. As make_suspensions_scipy.py, whose walks and checks are used here: the knuckle is one free rigid body and the
halfshaft's spider one more unknown. Where a control arm held the upper ball joint, two equations say that the top mount, a
point of the frame, lies on the strut's axis, a line of the knuckle: seen from the knuckle its distance from that line along two
directions square to it is zero. How far the strut has slid is no unknown; it is read off afterwards. Nothing here uses a closed
form.
"""

import csv
import math
import os

import numpy as np
import scipy
from scipy.spatial.transform import Rotation

from make_suspensions_scipy import (
    HERE, MIN_SIGMA, ROWS_PER_CASE, STEP, Corner, angle, left_jacobian, number, skew, unit)

SEED = 20261128
POINTS = ["lower_front", "lower_rear", "lower_ball", "tie_rod_inner", "tie_rod_outer", "wheel_centre", "outer_joint",
          "inner_joint", "damper_lower", "damper_upper"]

BASE = {
    "lower_front": (150, 360, 292), "lower_rear": (-190, 368, 300), "lower_ball": (5, 705, 275),
    "tie_rod_inner": (-126, 384, 345), "tie_rod_outer": (-132, 676, 332),
    "wheel_centre": (0, 790, 350), "outer_joint": (0, 690, 350), "inner_joint": (2, 228, 368),
    "damper_lower": (0, 644, 440), "damper_upper": (-30, 588, 960),
}


class Strut(Corner):
    def __init__(self, g):
        self.g = g
        o = g["wheel_centre"]
        self.local = {k: g[k] - o for k in ("lower_ball", "tie_rod_outer", "outer_joint", "damper_lower")}
        self.ties = [("lower_ball", g[p], np.linalg.norm(g["lower_ball"] - g[p])) for p in ("lower_front", "lower_rear")]
        axis = unit(g["damper_upper"] - g["damper_lower"])
        first = unit(np.cross(axis, [1.0, 0.0, 0.0]))
        self.square = [first, np.cross(axis, first)]
        self.rod = np.linalg.norm(g["tie_rod_outer"] - g["tie_rod_inner"])
        self.shaft = np.linalg.norm(g["outer_joint"] - g["inner_joint"])
        self.size = np.linalg.norm(g["damper_upper"] - g["lower_ball"])
        self.scale = np.array([1, 1, 1, 1 / self.size, 1 / self.size, 1 / self.size, 1.0])

    def equations(self, x, r0, travel, rack):
        """x = wheel centre (3), rotation vector from r0 (3), plunge."""
        g = self.g
        r = (Rotation.from_rotvec(x[3:6]) * r0).as_matrix()
        jl = left_jacobian(x[3:6])
        f = np.empty(7)
        j = np.zeros((7, 7))

        def distance(row, name, other, length):
            arm = r @ self.local[name]
            d = x[:3] + arm - other
            n = np.linalg.norm(d)
            u = d / n
            f[row] = n - length
            j[row, :3] = u
            j[row, 3:6] = -u @ skew(arm) @ jl
            return u

        for i, (ball, pivot, length) in enumerate(self.ties):
            distance(i, ball, pivot, length)
        for i, n in enumerate(self.square):
            turned = r @ n
            from_centre = g["damper_upper"] - x[:3]
            f[2 + i] = turned @ from_centre - n @ self.local["damper_lower"]
            j[2 + i, :3] = -turned
            j[2 + i, 3:6] = -from_centre @ skew(turned) @ jl
        distance(4, "tie_rod_outer", g["tie_rod_inner"] + np.array([0.0, rack, 0.0]), self.rod)
        f[5] = x[2] - g["wheel_centre"][2] - travel
        j[5, 2] = 1.0
        u = distance(6, "outer_joint", g["inner_joint"] + x[6] * g["flange"], self.shaft)
        j[6, 6] = -u @ g["flange"]
        return f, j

    def results(self, state):
        g = self.g
        c, r, plunge = state
        out = {"wheel_centre": c}
        for name, v in self.local.items():
            out[name] = c + r.apply(v)
        spindle = r.apply(g["spindle"])
        out["inner_joint"] = g["inner_joint"] + plunge * g["flange"]
        out["spindle"] = spindle
        shaft = out["outer_joint"] - out["inner_joint"]
        k = g["damper_upper"] - out["lower_ball"]
        strut = g["damper_upper"] - out["damper_lower"]
        deg = math.degrees
        out["plunge_mm"] = plunge
        out["inner_joint_deg"] = deg(angle(shaft, g["flange"]))
        out["outer_joint_deg"] = deg(angle(shaft, spindle))
        out["damper_mm"] = np.linalg.norm(strut)
        out["top_mount_deg"] = deg(angle(strut, g["damper_upper"] - g["damper_lower"]))
        out["camber_deg"] = -deg(math.atan2(spindle[2], math.hypot(spindle[0], spindle[1])))
        out["steer_deg"] = deg(math.atan2(-spindle[0], spindle[1]))
        out["caster_deg"] = deg(math.atan2(-k[0], k[2]))
        out["kingpin_inclination_deg"] = deg(math.atan2(-k[1], k[2]))
        return out


FAMILIES = ["as_given", "perturbed", "scaled", "rack_ahead", "rod_on_the_tube", "axis_beside_the_ball", "short_strut",
            "tilted_axes"]


def make(family, rng):
    g = {k: np.array(v, float) for k, v in BASE.items()}
    g["spindle"] = np.array([0.0, 1.0, 0.0])
    g["flange"] = np.array([0.0, 1.0, 0.0])
    if family == "as_given":
        return g

    def jitter(s):
        for k in POINTS:
            g[k] = g[k] + rng.normal(0, s, 3)

    def scale(low, high):
        s = rng.uniform(low, high)
        for k in POINTS:
            g[k] = g[k] * s

    if family == "perturbed":
        jitter(rng.uniform(3, 25))
    elif family == "scaled":
        jitter(10)
        scale(0.6, 1.6)
    elif family == "rack_ahead":
        for k in ("tie_rod_inner", "tie_rod_outer"):
            g[k] = g[k] * np.array([-1, 1, 1]) + np.array([0, 0, rng.uniform(-60, 80)])
        g["tie_rod_outer"] = g["tie_rod_outer"] + np.array([0, rng.uniform(0, 40), 0])
        jitter(10)
    elif family == "rod_on_the_tube":
        up = rng.uniform(120, 330)
        for k in ("tie_rod_inner", "tie_rod_outer"):
            g[k] = g[k] + np.array([0, 0, up])
        g["tie_rod_outer"] = g["tie_rod_outer"] + np.array([0, -rng.uniform(20, 70), 0])
        jitter(8)
    elif family == "axis_beside_the_ball":
        for k in ("damper_lower", "damper_upper"):
            g[k] = g[k] + np.array([rng.uniform(-60, 60), rng.uniform(-80, 40), 0])
        jitter(8)
    elif family == "short_strut":
        g["damper_upper"] = g["damper_lower"] + (g["damper_upper"] - g["damper_lower"]) * rng.uniform(0.4, 0.7)
        jitter(8)
    elif family == "tilted_axes":
        g["lower_front"] = g["lower_front"] + np.array([0, rng.uniform(-70, 70), rng.uniform(-60, 60)])
        jitter(15)
        scale(0.8, 1.4)
    for k in POINTS:
        g[k] = np.round(g[k], 3)
    big = 0.18 if family == "tilted_axes" else 0.04
    g["spindle"] = unit([rng.normal(0, big / 3), 1, rng.normal(0, big / 2)])
    g["flange"] = unit([rng.normal(0, big), 1, rng.normal(0, big)])
    return g


FIXED = [(0, 0), (-60, 0), (-110, 0), (60, 0), (95, 0), (-110, 66), (-110, -66), (0, 66), (0, -66), (95, 66), (95, -66),
         (-41.25, 33.5)]


def main():
    rng = np.random.default_rng(SEED)
    rows, summary = [], {}
    dropped_cases = dropped_rows = case = 0
    worst, gap, low = 0.0, 0.0, 9.9
    for family in ["as_given"] + [f for _ in range(30) for f in FAMILIES[1:]]:
        fixed = family == "as_given"
        while True:
            g = make(family, rng)
            corner = Strut(g)
            found = []
            wants = FIXED if fixed else [(round(rng.uniform(-130, 100), 3), round(rng.uniform(-70, 70), 3)) for _ in range(14)]
            for travel, rack in wants:
                if len(found) >= ROWS_PER_CASE and not fixed:
                    break
                got = corner.pose(float(travel), float(rack))
                if got is None:
                    dropped_rows += 1
                    continue
                out = corner.results(got[0])
                # keep poses a real truck could have
                if max(out["inner_joint_deg"], out["outer_joint_deg"]) > 75 or abs(out["camber_deg"]) > 50:
                    dropped_rows += 1
                    continue
                found.append((travel, rack, out, got))
            if fixed or len(found) >= ROWS_PER_CASE:
                break
            dropped_cases += 1
        for travel, rack, out, got in found:
            worst, low, gap = max(worst, got[1]), min(low, got[2]), max(gap, got[3])
            row = {"case": case, "family": family}
            for k in POINTS + ["spindle", "flange"]:
                for a, v in zip("xyz", g[k]):
                    row[f"in_{k}_{a}"] = number(v)
            row["in_travel_mm"] = number(travel)
            row["in_rack_mm"] = number(rack)
            for k in ("lower_ball", "tie_rod_outer", "wheel_centre", "outer_joint", "inner_joint", "damper_lower", "spindle"):
                for a, v in zip("xyz", out[k]):
                    row[f"out_{k}_{a}"] = number(v)
            for k in ("plunge_mm", "inner_joint_deg", "outer_joint_deg", "damper_mm", "top_mount_deg", "camber_deg",
                      "steer_deg", "caster_deg", "kingpin_inclination_deg"):
                row["out_" + k] = number(out[k])
            rows.append(row)
        summary[family] = summary.get(family, 0) + len(found)
        case += 1

    head = f"""generator: make_struts_scipy.py
libraries: numpy {np.__version__}, scipy {scipy.__version__}
seed: {SEED}
one left front corner on a strut; ISO 8855 axes (x forward, y left, z up), vehicle coordinates
in_ columns: the measured position (points mm, spindle and flange unit vectors pointing outboard) and the inputs
  in_damper_upper: the top mount; in_damper_lower: a point of the strut's axis, on the knuckle
  in_travel_mm: wheel centre height above its measured height; in_rack_mm: rack moved along +y
out_ columns: the as-built branch at that travel and rack; points and lengths mm, angles deg
  out_damper_mm: top mount to damper_lower; out_top_mount_deg: the strut's axis against where it was measured
  others as in suspensions_scipy.csv
method: constraint equations by scipy.optimize.root with continuation from the measured position; no closed form
largest equation residual: {worst:.1e} mm; largest difference between two walks to a pose: {gap:.1e} mm
smallest singular value of the scaled Jacobian met on any walk: {low:.3f} (walks stop below {MIN_SIGMA}; steps of {STEP} mm)
suggested tolerance: as suspensions_scipy.csv
rows by family: {', '.join(f'{k} {v}' for k, v in summary.items())}; {case} cases, {len(rows)} rows"""
    with open(os.path.join(HERE, "struts_scipy.csv"), "w", newline="") as f:
        for line in head.splitlines():
            f.write("# " + line + "\n")
        w = csv.DictWriter(f, list(rows[0]), lineterminator="\n")
        w.writeheader()
        w.writerows(rows)
    print(head)
    print("dropped cases", dropped_cases, "dropped poses", dropped_rows)


if __name__ == "__main__":
    main()
