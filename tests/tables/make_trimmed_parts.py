"""Parts cut along their trim sheets, and whether what is left is clear.

    pip install numpy==2.4.6 trimesh==5.2.0 manifold3d==3.5.4
    cargo build --release
    python make_trimmed_parts.py ../../target/release/bindpoint

Writes trimmed_parts.csv and the folder trimmed beside this file. In each case a plate or block is planted on the frame of
the demo scene tarnwood, in the way of what moves. `bindpoint clearance --json` says where to cut it, sheet by sheet. Each
sheet of every patch is cut by itself, or the side that it lies on goes back by the patch's reported cut: manifold3d takes
a prism off the part, as wide as the sheet's outlines and down to its depth, or all that lies less deep than the cut below
the side. trimesh finds the result watertight; it is written as OBJ. `bindpoint clearance` is asked again of that mesh, with
the same required gap. One cut must be enough for every patch that it is said to clear: a row takes one sheet of each patch
that isn't cleared yet, the first sheet of the first with the first of the second, and so on.

Columns: case, kind of cut and number of the sheet among its patch's, the mesh, its volume before and after as manifold3d
has it, mm^3, the depth that the sheet says and the patch's cut, mm, and the least room left by bindpoint's answer about
the mesh, mm: the gap less what must remain.
"""

import csv
import json
import os
import shutil
import subprocess
import sys
import tempfile

import manifold3d as m3
import numpy as np
import trimesh

HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = os.path.join(HERE, "..", "..")
OUT = os.path.join(HERE, "trimmed")
KNOB = '(name: "knob", on: lower_arm, shape: Ball(centre: (60, 600, 220), radius: %g)),'
# A part of less than this is gone, mm^3.
NOTHING_MM3 = 1e-3
# Slivers thinner than this are left out of a mesh: the file's digits would fold them. A hundredth of the map's tolerance.
SIMPLIFIED_MM = 1e-3
# Name, other parts, what comes near, required gap, then the block: middle, size, turned about x, y, z in degrees.
CASES = [
    ("thick plate edgewise", KNOB % 11, "knob", 3, (60, 600, 170), (24, 120, 40), (0, 0, 0)),
    ("edge beyond the rod's axis", "", "tie rod", 5, (-161, 560, 328), (78, 40, 6), (0, 0, 0)),
    ("turned block", "", "tie rod", 4, (-150, 560, 318), (60, 40, 30), (20, 30, 10)),
    ("hole through a plate", KNOB % 8, "knob", 2, (60, 590, 188), (60, 80, 5), (10, 5, 0)),
    ("block under an arm", "", "lower arm*", 3, (90, 560, 255), (40, 60, 50), (0, 15, 25)),
    ("two movers", KNOB % 11, "knob,tie rod", 3, (-30, 590, 318), (210, 40, 10), (0, 0, 0)),
]


def scene(folder, part, more):
    """The demo scene with a part planted, as tests/clearance_map.rs does."""
    with open(os.path.join(ROOT, "scenes", "tarnwood.ron"), encoding="utf-8") as f:
        text = f.read()
    assets = os.path.abspath(os.path.join(ROOT, "assets"))
    text = text.replace('"../assets/', f'"{assets}/')
    text = text.replace("    parts: [\n", f"    parts: [\n{more}\n{part}\n", 1)
    path = os.path.join(folder, "planted.ron")
    with open(path, "w", encoding="utf-8") as f:
        f.write(text)
    return path


def asked(program, folder, part, more, against, gap):
    path = scene(folder, part, more)
    out = os.path.join(folder, "found.json")
    command = [program, "clearance", path, "--part", "plate", "--against", against, "--gap", str(gap), "--json", out]
    done = subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
    assert done.returncode in (0, 1), done.stderr
    with open(out, encoding="utf-8") as f:
        return done.returncode, json.load(f)


def turned(deg):
    """About x, then y, then z, as a scene's turned_deg."""
    x, y, z = np.radians(deg)
    about_x = np.array([[1, 0, 0], [0, np.cos(x), -np.sin(x)], [0, np.sin(x), np.cos(x)]])
    about_y = np.array([[np.cos(y), 0, np.sin(y)], [0, 1, 0], [-np.sin(y), 0, np.cos(y)]])
    about_z = np.array([[np.cos(z), -np.sin(z), 0], [np.sin(z), np.cos(z), 0], [0, 0, 1]])
    return about_z @ about_y @ about_x


def block(middle, size, deg):
    cube = m3.Manifold.cube(np.array(size, float), True)
    return cube.transform(np.column_stack([turned(deg), middle]))


def along_sheet(part, sheet):
    """All that lies in the outlines' columns, from above down to the sheet's depth."""
    frame = np.column_stack([sheet[k] for k in ("right", "up", "out")] + [sheet["origin_mm"]])
    outline = m3.CrossSection([np.array(o) for o in sheet["outlines_mm"]], m3.FillRule.EvenOdd)
    height = 2000.0
    prism = outline.extrude(height + sheet["depth_mm"]).translate([0, 0, -sheet["depth_mm"]])
    return part - prism.transform(frame)


def back(part, drawn, sheet, cut):
    """All that lies less deep than the cut below the side's highest place as drawn."""
    out = np.array(sheet["out"])
    corners = drawn.to_mesh().vert_properties[:, :3].astype(float)
    top = max(corners @ out)
    return part.trim_by_plane(-out, -(top - cut))


def write(part, name):
    """As OBJ, which keeps what belongs together together."""
    mesh = part.simplify(SIMPLIFIED_MM).to_mesh64()
    out = trimesh.Trimesh(mesh.vert_properties[:, :3], mesh.tri_verts, process=False)
    assert out.is_watertight, name
    path = os.path.join(OUT, name)
    with open(path, "w", encoding="utf-8") as f:
        f.writelines("v %.6f %.6f %.6f\n" % tuple(v) for v in out.vertices)
        f.writelines("f %d %d %d\n" % tuple(t + 1) for t in out.faces)
    return path


def least_room(found):
    room = [m["nearest"]["gap_mm"] - m["required_mm"] for m in found["movers"] if m["nearest"]]
    return min(room, default=found["cutoff_mm"])


def main():
    program = os.path.abspath(sys.argv[1])
    shutil.rmtree(OUT, ignore_errors=True)
    os.makedirs(OUT)
    rows = []
    for number, (name, more, against, gap, middle, size, deg) in enumerate(CASES):
        place = f"centre: {tuple(middle)}, size: {tuple(size)}, turned_deg: {tuple(deg)}"
        drawn = f'(name: "plate", on: frame, fitted: left, shape: Box({place})),'
        with tempfile.TemporaryDirectory() as folder:
            status, found = asked(program, folder, drawn, more, against, gap)
            assert status == 1, (name, status)
            violated = [p for p in found["patches"] if p["violated"]]
            of_patch = [[s for s in found["sheets"] if s["patch"] == n + 1] for n in range(len(violated))]
            assert all(of_patch), name
            before = block(middle, size, deg)
            for sheet in range(max(len(sheets) for sheets in of_patch)):
                for kind in ("sheet", "back"):
                    own = of_patch[0][min(sheet, len(of_patch[0]) - 1)]
                    if kind == "back" and own["is_through"]:
                        # All of the part would go: the patch's cut doesn't count such a side.
                        continue
                    after, told, cleared = before, [], set()
                    for n, (patch, sheets) in enumerate(zip(violated, of_patch)):
                        if n + 1 in cleared:
                            continue
                        own = sheets[min(sheet, len(sheets) - 1)]
                        cleared.update(own["clears"])
                        told.append((own["depth_mm"], patch["cut_mm"]))
                        if kind == "sheet":
                            after = along_sheet(after, own)
                        else:
                            after = back(after, before, own, patch["cut_mm"])
                    if after.volume() < NOTHING_MM3:
                        # The side went back as far as the other one: nothing is left to be in the way.
                        continue
                    file = f"{number}_{kind}_{sheet}.obj"
                    path = write(after, file)
                    mesh = f'(name: "plate", on: frame, fitted: left, shape: Mesh(file: "{path}", unit: mm)),'
                    status, left = asked(program, folder, mesh, more, against, gap)
                    assert status == 0, (name, kind, sheet, [p for p in left["patches"] if p["violated"]])
                    rows.append({
                        "case": name,
                        "in_more": more,
                        "in_against": against.replace(",", ";"),
                        "in_gap": gap,
                        "in_centre": " ".join(map(str, middle)),
                        "in_size": " ".join(map(str, size)),
                        "in_turned_deg": " ".join(map(str, deg)),
                        "kind": kind,
                        "sheet": sheet,
                        "mesh": file,
                        "out_depth": max(d for d, _ in told),
                        "out_cut": max(c for _, c in told),
                        "out_volume_before": before.volume(),
                        "out_volume_after": after.volume(),
                        "out_room": least_room(left),
                    })
                    print(name, kind, sheet, rows[-1]["out_room"])
    with open(os.path.join(HERE, "trimmed_parts.csv"), "w", newline="", encoding="utf-8") as f:
        f.write("# Made by make_trimmed_parts.py: numpy 2.4.6, trimesh 5.2.0, manifold3d 3.5.4\n")
        writer = csv.DictWriter(f, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    main()
