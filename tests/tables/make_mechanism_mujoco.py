"""Whole-mechanism poses of a double wishbone corner from MuJoCo.

    pip install numpy==2.4.6 mujoco==4.0.0
    python make_mechanism_mujoco.py

Writes mechanism_mujoco.csv beside this file.

Method. The corner is built as a MuJoCo model: hinges for the arms, a ball joint between lower arm
and knuckle, a slide for the rack, a ball joint for the tie rod on the rack, a slide along the output
flange for the spider and a ball joint for the halfshaft on it. Three `connect` equality constraints
close the loops at the upper ball joint, the tie rod's outer end and the outer joint's centre. MuJoCo
gives the forward kinematics, the loop residuals (efc_pos) and their Jacobian (efc_J); a Gauss-Newton
loop with minimum-norm steps closes them, with the rack held and either the wheel centre's height or
the lower arm's angle driven, in small steps from the measured position. The tie rod and the shaft may
spin about themselves; the minimum-norm step leaves that spin alone. No dynamics is run. MuJoCo works
in metres here; the table is in millimetres.
"""

import csv
import math
import os

import mujoco
import numpy as np

SEED = 20260302
MM = 1e-3
RESIDUAL = 1e-9       # mm
STEP = 4.0            # mm of travel or rack (and 0.5 deg of arm) per continuation step
HERE = os.path.dirname(os.path.abspath(__file__))
POINTS = ["lower_front", "lower_rear", "lower_ball", "upper_front", "upper_rear", "upper_ball",
          "tie_rod_inner", "tie_rod_outer", "wheel_centre", "outer_joint", "inner_joint",
          "damper_lower", "damper_upper"]

BASE = {
    "lower_front": (180, 335, 345), "lower_rear": (-190, 335, 335), "lower_ball": (8, 722, 290),
    "upper_front": (95, 440, 655), "upper_rear": (-125, 445, 640), "upper_ball": (-22, 668, 682),
    "tie_rod_inner": (-135, 330, 395), "tie_rod_outer": (-140, 705, 372),
    "wheel_centre": (0, 815, 400), "outer_joint": (0, 700, 400), "inner_joint": (0, 235, 420),
    "damper_lower": (10, 560, 325), "damper_upper": (-20, 470, 790),
}


def corner(**changes):
    g = {k: np.array(v, float) for k, v in BASE.items()}
    g["spindle"] = np.array([0.0, 1.0, 0.0])
    g["flange"] = np.array([0.0, 1.0, 0.0])
    for k, v in changes.items():
        g[k] = np.array(v, float)
    return g


def unit(v):
    return np.array(v, float) / np.linalg.norm(v)


def geometries(rng):
    out = [("as_given", corner()),
           ("low_bump_steer", corner(tie_rod_outer=(-140, 685, 372), tie_rod_inner=(-135, 366, 396))),
           ("rack_ahead", corner(tie_rod_inner=(140, 352, 372), tie_rod_outer=(150, 719, 345))),
           ("tall_knuckle", corner(upper_front=(85, 430, 850), upper_rear=(-140, 440, 825),
                                   upper_ball=(-45, 720, 872), damper_upper=(-20, 470, 960))),
           ("tilted_axes", corner(lower_front=(190, 300, 370), lower_rear=(-180, 365, 320),
                                  upper_front=(110, 465, 630), upper_rear=(-130, 430, 660),
                                  inner_joint=(15, 240, 425), spindle=unit((0.02, 1, -0.03)),
                                  flange=unit((-0.05, 1, 0.08))))]
    g = corner()
    for k in POINTS:
        g[k] = np.round(g[k] + rng.normal(0, 15, 3), 3)
    g["spindle"] = unit([rng.normal(0, 0.015), 1, rng.normal(0, 0.02)])
    g["flange"] = unit([rng.normal(0, 0.03), 1, rng.normal(0, 0.03)])
    out.append(("perturbed", g))
    return out


def xml(g):
    def v(p):
        return " ".join(repr(float(c)) for c in p)

    # Every body's frame stands at the vehicle's origin, unturned, at the measured position, so that
    # the points below are written in vehicle coordinates (metres).
    m = {k: g[k] * MM for k in POINTS}
    inert = '<inertial pos="0 0 0" mass="1" diaginertia="1 1 1"/>'

    def site(name, p):
        return f'<site name="{name}" pos="{v(p)}"/>'

    return f"""
<mujoco>
  <compiler angle="radian" autolimits="true"/>
  <option gravity="0 0 0" jacobian="dense"/>
  <worldbody>
    {site("damper_upper", m["damper_upper"])}
    <body name="lower_arm">{inert}
      <joint name="lower_hinge" type="hinge" pos="{v(m["lower_front"])}"
             axis="{v(unit(g["lower_front"] - g["lower_rear"]))}"/>
      {site("damper_lower", m["damper_lower"])}
      <body name="knuckle">{inert}
        <joint name="lower_ball" type="ball" pos="{v(m["lower_ball"])}"/>
        {site("lower_ball", m["lower_ball"])}
        {site("upper_ball_knuckle", m["upper_ball"])}
        {site("tie_rod_outer_knuckle", m["tie_rod_outer"])}
        {site("wheel_centre", m["wheel_centre"])}
        {site("outer_joint_knuckle", m["outer_joint"])}
      </body>
    </body>
    <body name="upper_arm">{inert}
      <joint name="upper_hinge" type="hinge" pos="{v(m["upper_front"])}"
             axis="{v(unit(g["upper_front"] - g["upper_rear"]))}"/>
      {site("upper_ball_arm", m["upper_ball"])}
    </body>
    <body name="rack">{inert}
      <joint name="rack" type="slide" axis="0 1 0"/>
      <body name="tie_rod">{inert}
        <joint name="tie_rod_inner" type="ball" pos="{v(m["tie_rod_inner"])}"/>
        {site("tie_rod_outer_rod", m["tie_rod_outer"])}
      </body>
    </body>
    <body name="spider">{inert}
      <joint name="plunge" type="slide" axis="{v(g["flange"])}"/>
      {site("inner_joint", m["inner_joint"])}
      <body name="shaft">{inert}
        <joint name="spider_ball" type="ball" pos="{v(m["inner_joint"])}"/>
        {site("outer_joint_shaft", m["outer_joint"])}
      </body>
    </body>
  </worldbody>
  <equality>
    <connect site1="upper_ball_knuckle" site2="upper_ball_arm"/>
    <connect site1="tie_rod_outer_knuckle" site2="tie_rod_outer_rod"/>
    <connect site1="outer_joint_knuckle" site2="outer_joint_shaft"/>
  </equality>
</mujoco>"""


class Linkage:
    def __init__(self, g):
        self.g = g
        self.m = mujoco.MjModel.from_xml_string(xml(g))
        self.d = mujoco.MjData(self.m)
        m = self.m
        self.dof = {n: m.jnt_dofadr[mujoco.mj_name2id(m, mujoco.mjtObj.mjOBJ_JOINT, n)]
                    for n in ("lower_hinge", "upper_hinge", "rack", "plunge")}
        self.qpos = {n: m.jnt_qposadr[mujoco.mj_name2id(m, mujoco.mjtObj.mjOBJ_JOINT, n)]
                     for n in self.dof}
        self.reset()

    def reset(self):
        mujoco.mj_resetData(self.m, self.d)
        mujoco.mj_fwdPosition(self.m, self.d)
        self.wheel0 = self.d.site("wheel_centre").xpos.copy()

    def system(self, drive, target, rack):
        d, m = self.d, self.m
        mujoco.mj_fwdPosition(m, d)
        assert d.ne == 9 and d.nefc == 9
        j = np.array(d.efc_J).reshape(-1, m.nv)[:9]
        f = np.array(d.efc_pos[:9])
        extra_f = [d.qpos[self.qpos["rack"]] - rack * MM]
        row = np.zeros(m.nv)
        row[self.dof["rack"]] = 1
        extra_j = [row]
        if drive == "travel":
            jac = np.zeros((3, m.nv))
            site = mujoco.mj_name2id(m, mujoco.mjtObj.mjOBJ_SITE, "wheel_centre")
            mujoco.mj_jacSite(m, d, jac, None, site)
            extra_j.append(jac[2])
            extra_f.append(d.site("wheel_centre").xpos[2] - self.wheel0[2] - target * MM)
        else:
            row = np.zeros(m.nv)
            row[self.dof["lower_hinge"]] = 1
            extra_j.append(row)
            extra_f.append(d.qpos[self.qpos["lower_hinge"]] - math.radians(target))
        return np.concatenate([f, extra_f]), np.vstack([j] + extra_j)

    def close(self, drive, target, rack):
        """Gauss-Newton; returns the largest loop residual in mm."""
        for _ in range(30):
            f, j = self.system(drive, target, rack)
            if np.max(np.abs(f)) < 1e-15:
                break
            step = np.linalg.lstsq(j, -f, rcond=1e-9)[0]
            if np.max(np.abs(step)) > 0.5:
                return None
            mujoco.mj_integratePos(self.m, self.d.qpos, step, 1.0)
            if np.max(np.abs(step)) < 1e-15:
                break
        f, j = self.system(drive, target, rack)
        # 11 equations for 13 freedoms, two of them idle spins
        self.sigma = np.linalg.svd(j, compute_uv=False)[10]
        worst = np.max(np.abs(f[:9])) / MM
        return worst if worst < RESIDUAL and abs(f[9]) / MM < RESIDUAL and abs(f[10]) / MM < RESIDUAL \
            and self.sigma > 0.01 else None

    def walk(self, drive, target, rack):
        self.reset()
        per = STEP if drive == "travel" else 0.5
        n = max(1, math.ceil(max(abs(target) / per, abs(rack) / STEP)))
        worst = 0.0
        for i in range(1, n + 1):
            worst = self.close(drive, target * i / n, rack * i / n)
            if worst is None:
                return None
        return worst

    def results(self):
        g, d = self.g, self.d
        deg = math.degrees

        def at(name):
            return d.site(name).xpos / MM

        rot = d.body("knuckle").xmat.reshape(3, 3)
        spindle = rot @ g["spindle"]
        out = {"lower_ball": at("lower_ball"), "upper_ball": at("upper_ball_knuckle"),
               "tie_rod_outer": at("tie_rod_outer_knuckle"), "wheel_centre": at("wheel_centre"),
               "outer_joint": at("outer_joint_knuckle"), "inner_joint": at("inner_joint"),
               "damper_lower": at("damper_lower"), "spindle": spindle}
        for i, r in enumerate(rot):
            out[f"knuckle_r{i + 1}"] = r
        shaft = out["outer_joint"] - out["inner_joint"]
        k = out["upper_ball"] - out["lower_ball"]
        out["travel_mm"] = (d.site("wheel_centre").xpos[2] - self.wheel0[2]) / MM
        out["lower_arm_deg"] = deg(d.qpos[self.qpos["lower_hinge"]])
        out["upper_arm_deg"] = deg(d.qpos[self.qpos["upper_hinge"]])
        out["plunge_mm"] = d.qpos[self.qpos["plunge"]] / MM
        out["inner_joint_deg"] = deg(angle(shaft, g["flange"]))
        out["outer_joint_deg"] = deg(angle(shaft, spindle))
        out["damper_mm"] = np.linalg.norm(out["damper_lower"] - at("damper_upper"))
        out["camber_deg"] = -deg(math.atan2(spindle[2], math.hypot(spindle[0], spindle[1])))
        out["steer_deg"] = deg(math.atan2(-spindle[0], spindle[1]))
        out["caster_deg"] = deg(math.atan2(-k[0], k[2]))
        out["kingpin_inclination_deg"] = deg(math.atan2(-k[1], k[2]))
        return out


def angle(a, b):
    return math.atan2(np.linalg.norm(np.cross(a, b)), a @ b)


def number(v):
    return format(float(v) + 0.0, ".17g")


def main():
    rng = np.random.default_rng(SEED)
    rows, worst, low, count = [], 0.0, 9.9, {}
    for case, (name, g) in enumerate(geometries(rng)):
        link = Linkage(g)
        wants = [("travel", t, r) for t in (-146.0, -80.0, 0.0, 65.0) for r in (-70.0, 0.0, 70.0)]
        wants += [("lower_arm", a, r) for a in (-20.0, -9.0, 6.5, 12.0) for r in (-55.0, 0.0, 62.5)]
        for drive, target, rack in wants:
            got = link.walk(drive, target, rack)
            if got is None:
                print("dropped", name, drive, target, rack)
                continue
            worst, low = max(worst, got), min(low, link.sigma)
            out = link.results()
            row = {"case": case, "family": name, "drive": drive}
            for k in POINTS + ["spindle", "flange"]:
                for a, v in zip("xyz", g[k]):
                    row[f"in_{k}_{a}"] = number(v)
            row["in_travel_mm"] = number(target if drive == "travel" else out["travel_mm"])
            row["in_rack_mm"] = number(rack)
            for k, v in out.items():
                if np.ndim(v):
                    for a, c in zip("xyz", v):
                        row[f"out_{k}_{a}"] = number(c)
                elif k != "travel_mm":
                    row["out_" + k] = number(v)
            rows.append(row)
            count[name] = count.get(name, 0) + 1

    head = f"""generator: make_mechanism_mujoco.py
libraries: mujoco {mujoco.__version__}, numpy {np.__version__}
seed: {SEED}
one left front corner, double wishbone; ISO 8855 axes (x forward, y left, z up), vehicle coordinates
in_ columns: the measured position (points mm, spindle and flange unit vectors pointing outboard) and the inputs
  in_travel_mm: wheel centre height above its measured height; in_rack_mm: rack moved along +y
  drive: travel where the height was driven; lower_arm where the lower arm's angle was (the height is then what came out)
out_ columns: points and lengths mm, angles deg
  out_inner_joint: the spider, moved along the flange axis by out_plunge_mm (positive outboard)
  out_knuckle_r1_x .. out_knuckle_r3_z: the knuckle's rotation matrix from the measured position, row by row
    (v_moved = R v_measured; r1, r2, r3 are its rows)
  out_lower_arm_deg, out_upper_arm_deg: turn of each arm from measured, right-handed about the axis from its rear
    to its front pivot (a left arm's ball joint rises when positive)
  out_inner_joint_deg: shaft against flange axis; out_outer_joint_deg: shaft against the moved spindle
  out_camber_deg: inclination of the wheel plane to the vertical, top outward positive (not the front view reading)
  out_steer_deg: heading of the wheel plane seen from above, left positive
  out_caster_deg: side view, top rearward positive; out_kingpin_inclination_deg: front view, top inward positive
method: hinges, slides, ball joints and connect constraints; loops closed by Gauss-Newton on efc_pos and efc_J,
  in metres, with continuation from the measured position
largest loop closure residual: {worst:.1e} mm; smallest singular value of the Jacobian (metres, radians): {low:.3f}
suggested tolerance: 1e-7 mm for points and lengths, 1e-10 for unit vectors and matrix entries, 1e-8 deg for angles
  why: the loops close to the residual above, rounding of metre values near 1 is 1e-16 m, and the chain of quaternions
  and the smallest singular value cost two or three decades; the rest is room for another method
  (an angle taken by acos near 0 deg loses half its digits: allow 1e-6 deg there)
rows by family: {', '.join(f'{k} {v}' for k, v in count.items())}; {len(rows)} rows"""
    with open(os.path.join(HERE, "mechanism_mujoco.csv"), "w", newline="") as f:
        for line in head.splitlines():
            f.write("# " + line + "\n")
        w = csv.DictWriter(f, list(rows[0]), lineterminator="\n")
        w.writeheader()
        w.writerows(rows)
    print(head)


if __name__ == "__main__":
    main()
