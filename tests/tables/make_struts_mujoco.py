"""Whole-mechanism poses of strut corners from MuJoCo.

    pip install numpy==2.4.6 scipy==1.17.1 mujoco==4.0.0
    python make_struts_mujoco.py

Writes struts_mujoco.csv beside this file.

Method. As make_mechanism_mujoco.py, whose loop of steps is used here. The damper's rod is a body that slides in the knuckle
along the strut's axis; its upper eye is connected to the top mount, a point of the frame. With that connection, the tie rod's
and the halfshaft's three loops are closed. Geometries are those that make_struts_scipy.py draws, from another seed.
"""

import csv
import math
import os

import mujoco
import numpy as np

from make_mechanism_mujoco import MM, Linkage, angle, number, unit
from make_struts_scipy import FAMILIES, POINTS, make

SEED = 20261129
CASES = 3
HERE = os.path.dirname(os.path.abspath(__file__))


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
      <body name="knuckle">{inert}
        <joint name="lower_ball" type="ball" pos="{v(m["lower_ball"])}"/>
        {site("lower_ball", m["lower_ball"])}
        {site("damper_lower", m["damper_lower"])}
        {site("tie_rod_outer_knuckle", m["tie_rod_outer"])}
        {site("wheel_centre", m["wheel_centre"])}
        {site("outer_joint_knuckle", m["outer_joint"])}
        <body name="rod">{inert}
          <joint name="slide" type="slide" axis="{v(unit(g["damper_upper"] - g["damper_lower"]))}"/>
          {site("rod_eye", m["damper_upper"])}
        </body>
      </body>
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
    <connect site1="rod_eye" site2="damper_upper"/>
    <connect site1="tie_rod_outer_knuckle" site2="tie_rod_outer_rod"/>
    <connect site1="outer_joint_knuckle" site2="outer_joint_shaft"/>
  </equality>
</mujoco>"""


class StrutLinkage(Linkage):
    def __init__(self, g):
        self.g = g
        self.m = mujoco.MjModel.from_xml_string(xml(g))
        self.d = mujoco.MjData(self.m)
        m = self.m
        ids = {n: mujoco.mj_name2id(m, mujoco.mjtObj.mjOBJ_JOINT, n) for n in ("lower_hinge", "slide", "rack", "plunge")}
        self.dof = {n: m.jnt_dofadr[i] for n, i in ids.items()}
        self.qpos = {n: m.jnt_qposadr[i] for n, i in ids.items()}
        self.reset()

    def results(self):
        g, d = self.g, self.d
        deg = math.degrees

        def at(name):
            return d.site(name).xpos / MM

        rot = d.body("knuckle").xmat.reshape(3, 3)
        spindle = rot @ g["spindle"]
        axis = at("rod_eye") - at("damper_lower")
        out = {"lower_ball": at("lower_ball"), "tie_rod_outer": at("tie_rod_outer_knuckle"),
               "wheel_centre": at("wheel_centre"), "outer_joint": at("outer_joint_knuckle"),
               "inner_joint": at("inner_joint"), "damper_lower": at("damper_lower"), "spindle": spindle}
        for i, r in enumerate(rot):
            out[f"knuckle_r{i + 1}"] = r
        shaft = out["outer_joint"] - out["inner_joint"]
        k = at("rod_eye") - out["lower_ball"]
        out["travel_mm"] = (d.site("wheel_centre").xpos[2] - self.wheel0[2]) / MM
        out["lower_arm_deg"] = deg(d.qpos[self.qpos["lower_hinge"]])
        out["plunge_mm"] = d.qpos[self.qpos["plunge"]] / MM
        out["inner_joint_deg"] = deg(angle(shaft, g["flange"]))
        out["outer_joint_deg"] = deg(angle(shaft, spindle))
        out["damper_mm"] = np.linalg.norm(axis)
        out["slid_mm"] = d.qpos[self.qpos["slide"]] / MM
        out["top_mount_deg"] = deg(angle(axis, g["damper_upper"] - g["damper_lower"]))
        out["camber_deg"] = -deg(math.atan2(spindle[2], math.hypot(spindle[0], spindle[1])))
        out["steer_deg"] = deg(math.atan2(-spindle[0], spindle[1]))
        out["caster_deg"] = deg(math.atan2(-k[0], k[2]))
        out["kingpin_inclination_deg"] = deg(math.atan2(-k[1], k[2]))
        return out


def main():
    rng = np.random.default_rng(SEED)
    rows, worst, low, count, case, dropped = [], 0.0, 9.9, {}, 0, 0
    for family in FAMILIES:
        for _ in range(1 if family == "as_given" else CASES):
            g = make(family, rng)
            link = StrutLinkage(g)
            wants = [("travel", t, r) for t in (-105.0, 0.0, 70.0) for r in (-62.0, 0.0, 62.0)]
            wants += [("lower_arm", a, r) for a in (-14.0, 9.0) for r in (-40.0, 51.5)]
            for drive, target, rack in wants:
                got = link.walk(drive, target, rack)
                out = link.results() if got is not None else None
                # keep poses a real truck could have
                if out is None or max(out["inner_joint_deg"], out["outer_joint_deg"]) > 75 or abs(out["camber_deg"]) > 50:
                    dropped += 1
                    continue
                worst, low = max(worst, got), min(low, link.sigma)
                row = {"case": case, "family": family, "drive": drive}
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
                count[family] = count.get(family, 0) + 1
            case += 1

    head = f"""generator: make_struts_mujoco.py
libraries: mujoco {mujoco.__version__}, numpy {np.__version__}
seed: {SEED}
one left front corner on a strut; ISO 8855 axes (x forward, y left, z up), vehicle coordinates
in_ columns: the measured position (points mm, spindle and flange unit vectors pointing outboard) and the inputs; damper_upper
  is the top mount, and the strut's axis runs from it to damper_lower
  in_travel_mm: wheel centre height above its measured height; in_rack_mm: rack moved along +y
  drive: travel where the height was driven; lower_arm where the lower arm's angle was (the height is then what came out)
out_ columns: points and lengths mm, angles deg, as in mechanism_mujoco.csv
  out_slid_mm: how far the rod slid out of the knuckle's tube; out_damper_mm: from damper_lower to the top mount
  out_top_mount_deg: the strut's axis against its measured direction; kingpin from the lower ball joint to the top mount
method: hinges, slides, ball joints and connect constraints; loops closed by Gauss-Newton on efc_pos and efc_J,
  in metres, with continuation from the measured position
largest loop closure residual: {worst:.1e} mm; smallest singular value of the Jacobian (metres, radians): {low:.3f}
suggested tolerance: as mechanism_mujoco.csv, for its reasons
rows by family: {', '.join(f'{k} {v}' for k, v in count.items())}; {len(rows)} rows, {dropped} dropped"""
    with open(os.path.join(HERE, "struts_mujoco.csv"), "w", newline="") as f:
        for line in head.splitlines():
            f.write("# " + line + "\n")
        w = csv.DictWriter(f, list(rows[0]), lineterminator="\n")
        w.writeheader()
        w.writerows(rows)
    print(head)


if __name__ == "__main__":
    main()
