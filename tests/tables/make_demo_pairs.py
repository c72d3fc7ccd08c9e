"""Every pair of parts on different bodies of the demo trucks at the measured position: how far apart, how much they overlap.

    pip install numpy==2.4.6 scipy==1.17.1 manifold3d==3.5.4 trimesh==5.2.0
    python make_demo_pairs.py

Written with Python 3.11. Writes demo_pairs.csv beside this file.

Method. Scenes and STL files are read, and shapes drawn, by demo_scene.py, which knows nothing of the library. At the
measured position every part stands where it is drawn, so nothing has to be posed. A part that turns stands as the full
turn it sweeps: a lathe as it is, any other as the hulls of 720 neighbouring places about its body's own axis. manifold3d
tells the volume that two solids share (`^`, exact booleans) and the least distance of their triangles (`min_gap`).
What the body carries stands on the frame. Pairs further apart than FAR are left at "FAR or more".

facet_mm: curved parts are drawn with facets whose corners lie on them; the true gap differs from gap_mm by no more.
"""

import csv
import io
import re
import sys
from importlib.metadata import version
from pathlib import Path

from demo_scene import FRAME, Scene

HERE = Path(__file__).resolve().parent
FAR = 60.0
# Bodies that don't move against each other.
AT_REST = [{"frame", "differential", "inner_joint_housing", "front_driveshaft"}, {"knuckle", "wheel", "outer_joint_housing"}]
CORNERS = {"tarnwood": ("left", "right"), "hollin": ("left", "right"), "crake": ("right",)}
FIELDS = ["scene", "side", "a", "a_on", "b", "b_on", "at_rest", "joined", "far", "gap_mm", "overlap_mm3", "facet_mm"]


def like(pattern, name):
    return re.fullmatch(re.escape(pattern).replace(r"\*", ".*").replace(r"\?", "."), name) is not None


def joined(scene, a, b):
    return any(
        like(j["a"], x) and like(j["b"], y) for j in scene.entries.get("joined", []) for x, y in ((a, b), (b, a))
    )


def apart(a, b):
    """Least distance of two boxes."""
    (al, ah), (bl, bh) = a.solid.box(), b.solid.box()
    return sum(max(0.0, l2 - h1, l1 - h2) ** 2 for l1, h1, l2, h2 in zip(al, ah, bl, bh)) ** 0.5


def rows(name, side):
    scene = Scene(name)
    parts = scene.parts(side) + scene.body()
    for i, a in enumerate(parts):
        for b in parts[i + 1 :]:
            if a.body == b.body:
                continue
            far = apart(a, b) >= FAR
            gap, shared = FAR, 0.0
            if not far:
                shared = (a.solid.solid ^ b.solid.solid).volume()
                gap = 0.0 if shared > 0 else a.solid.solid.min_gap(b.solid.solid, FAR)
                far = gap >= FAR
            yield {
                "scene": name, "side": side, "a": a.name, "a_on": a.body, "b": b.name, "b_on": b.body,
                "at_rest": any({a.body, b.body} <= group for group in AT_REST), "joined": joined(scene, a.name, b.name),
                "far": far, "gap_mm": f"{gap:.9g}", "overlap_mm3": f"{max(0.0, shared):.6g}",
                "facet_mm": f"{a.solid.facet_mm + b.solid.facet_mm:.3g}",
            }  # fmt: skip


def main():
    out = io.StringIO()
    versions = ", ".join(f"{p} {version(p)}" for p in ("manifold3d", "trimesh", "numpy"))
    out.write(f"# made by make_demo_pairs.py with {versions}, Python {sys.version.split()[0]}\n")
    out.write("# pairs of parts on different bodies at the measured position, turning parts as their full turn: least gap of their\n")
    out.write("# triangles (`far`: that or more), shared volume, and by how much facets may have the gap differ from the true one\n")
    table = csv.DictWriter(out, FIELDS, lineterminator="\n")
    table.writeheader()
    bad = []
    for name, sides in CORNERS.items():
        for side in sides:
            for row in rows(name, side):
                table.writerow(row)
                if float(row["gap_mm"]) == 0 and not row["joined"]:
                    bad.append((name, side, row["a"], row["b"], row["overlap_mm3"], row["at_rest"]))
                elif row["at_rest"] and float(row["gap_mm"]) < 12:
                    print(name, side, row["a"], "-", row["b"], row["gap_mm"], "joined" if row["joined"] else "")
    (HERE / "demo_pairs.csv").write_text(out.getvalue())
    for pair in bad:
        print("overlaps:", *pair)
    if bad:
        sys.exit(f"{len(bad)} pairs overlap that no `joined` entry names")


if __name__ == "__main__":
    main()
