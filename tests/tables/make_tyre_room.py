"""How near the demo trucks' tyres come to what is drawn round them, at random positions inside the maker's stops.

    pip install numpy==2.4.6 scipy==1.17.1 manifold3d==3.5.4 trimesh==5.2.0 python-fcl==0.7.0.11
    python make_tyre_room.py

Written with Python 3.11. Writes tyre_room_fcl.csv beside this file.

Method. demo_scene.py reads the scenes, draws the shapes and poses the knuckle by its constraint equations
(scipy.optimize.root); nothing comes from the library. A position counts where the scene's own stops allow it: the damper's
and the bump stop's lengths, the strap, the lower arm's droop stop, the steering stops. Travel and rack are random, a third
of them pushed out to the ends of the bump or to a lock, where tyres rub. FCL tells the least distance of the tyre's and the
rim's triangles, moved with the knuckle, to those of each part of the body; where surfaces meet it is 0.

out_facet: both are drawn with facets whose corners lie on the curves; true gaps differ by no more.
"""

import csv
import io
import math
import sys
from importlib.metadata import version
from pathlib import Path

import fcl
import numpy as np

from demo_scene import Linkage, Scene

HERE = Path(__file__).resolve().parent
SEED = 20261127
POSITIONS = 200
# Scene, side, span of travel tried (mm).
CORNERS = [("tarnwood", "left", (-95, 120)), ("hollin", "left", (-230, 150)), ("crake", "right", (-140, 90))]
# The body's parts that are asked for; of those on both sides the corner's own.
AROUND = ["fender", "liner", "body mount", "cab", "front bumper"]


class Stops:
    """The scene's own stops, asked of a pose."""

    def __init__(self, scene, linkage):
        e, k = scene.entries, scene.scale
        self.linkage, self.k = linkage, k
        damper = e["damper"]
        adds = sum(s["thickness"] for s in damper.get("spacers", []) if s["adds"] == "total_length")
        self.longest = (damper["extended"] + adds) * k
        bump = damper.get("bump_stop", {"crushed": 0.0})
        # A bump stop on the damper's rod goes with its spacers; elsewhere its lengths are mount to mount.
        crushed = bump["crushed"] + (adds if bump.get("on") == "rod" else 0.0)
        self.shortest = max(damper["compressed"] + adds, crushed) * k
        self.strap = damper.get("strap")
        self.droop = e["lower_arm"].get("droop_stop_deg")
        self.steer = e["knuckle"].get("steering_stop_deg")

    def allow(self, pose):
        link = self.linkage
        if not self.shortest <= link.damper_mm(pose) <= self.longest:
            return False
        if self.strap:
            (a, b), most = self.strap["ends"], self.strap["length"] * self.k
            assert a["on"] == "frame" and b["on"] == "lower_arm"
            now = link.arm_point(pose, np.array(b["at"], float) * self.k)
            if np.linalg.norm(now - np.array(a["at"], float) * self.k) > most:
                return False
        if self.droop is not None:
            angle, _ = link.arm_turn_rad(pose)
            below = link.arm_point(pose, link.p["lower_ball"])[2] < link.p["lower_ball"][2]
            if below and abs(math.degrees(angle)) > self.droop:
                return False
        if self.steer:
            spindle = pose[0] @ link.p["spindle"]
            outboard = np.sign(link.p["spindle"][1])
            steer = math.degrees(math.atan2(-spindle[0] * outboard, spindle[1] * outboard))
            if not -self.steer["right"] <= steer <= self.steer["left"]:
                return False
        return True


def positions(scene, linkage, span, rng):
    stops, k = Stops(scene, linkage), scene.scale
    locks = scene.entries["rack"]["travel"]
    locks = (-locks["right"] * k, locks["left"] * k)
    assert locks[0] == -locks[1]
    found = []
    while len(found) < POSITIONS:
        travel, rack = rng.uniform(*span), rng.uniform(*locks)
        kind = rng.integers(6)
        if kind == 0:
            rack = locks[rng.integers(2)]
        try:
            pose = linkage.pose(travel, rack)
            if not stops.allow(pose):
                continue
            while kind == 1:  # on upward to the end of the bump
                higher = linkage.pose(travel + 1.0, rack)
                if not stops.allow(higher):
                    break
                travel, pose = travel + 1.0, higher
        except ValueError:
            continue
        found.append((travel, rack, pose))
    return found


def model(solid):
    v, f = solid.arrays()
    made = fcl.BVHModel()
    made.beginModel(len(v), len(f))
    made.addSubModel(v, f)
    made.endModel()
    return made


def distance(moving, pose, fixed):
    turn, shift = pose
    a = fcl.CollisionObject(moving, fcl.Transform(turn, shift))
    b = fcl.CollisionObject(fixed, fcl.Transform())
    met = fcl.collide(a, b, fcl.CollisionRequest(), fcl.CollisionResult())
    return 0.0 if met else fcl.distance(a, b, fcl.DistanceRequest(), fcl.DistanceResult())


def main():
    rng = np.random.default_rng(SEED)
    out = io.StringIO()
    versions = ", ".join(f"{p} {version(p)}" for p in ("python-fcl", "scipy", "manifold3d", "trimesh", "numpy"))
    out.write(f"# made by make_tyre_room.py with {versions}, Python {sys.version.split()[0]}\n")
    out.write("# at random positions inside the maker's stops: least distance of a wheel part to a part of the body, and by how much\n")
    out.write("# facets may have it differ from the true one, mm; travel from the measured position, rack along +y\n")
    table = csv.writer(out, lineterminator="\n")
    table.writerow(["scene", "side", "wheel_part", "body_part", "in_travel", "in_rack", "out_gap", "out_facet"])
    for name, side, span in CORNERS:
        scene = Scene(name)
        wheel = [p for p in scene.parts(side) if p.body == "wheel"]
        around = [p for p in scene.body() if p.name.removeprefix(side + " ") in AROUND]
        moving = [(p, model(p.solid)) for p in wheel]
        fixed = [(p, model(p.solid)) for p in around]
        least = {}
        for travel, rack, pose in positions(scene, Linkage(scene.points(side)), span, rng):
            for w, wm in moving:
                for b, bm in fixed:
                    gap = distance(wm, pose, bm)
                    facet = w.solid.facet_mm + b.solid.facet_mm
                    table.writerow([name, side, w.name, b.name, repr(travel), repr(rack), f"{gap:.10g}", f"{facet:.3g}"])
                    least[w.name, b.name] = min(gap, least.get((w.name, b.name), math.inf))
        for (w, b), gap in least.items():
            print(f"{name} {w} - {b}: {gap:.2f}")
    (HERE / "tyre_room_fcl.csv").write_text(out.getvalue())


if __name__ == "__main__":
    main()
