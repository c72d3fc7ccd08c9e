#!/usr/bin/env python3
"""Distances of a part's corners to everything that moves, at positions of the free travel, by coal.

    pip install coal==3.0.3 numpy==2.4.6
    cargo build --release --no-default-features
    python make_vertex_gaps.py ../../target/release/bindpoint

Written with Python 3.11. Writes vertex_gaps_coal.csv beside this file.

Each of three parts (a box on the frame, a box on the lower arm, a channel on the frame as a mesh, u_bracket.obj) is put
into scenes/tarnwood.ron. At random positions of the free travel, of which `bindpoint sweep` says where it is, every part
is taken from the files that `bindpoint export` writes there; coal's BVH of a moving part's triangles against a ball of
BALL_MM about one of the mapped part's corners gives the distance, with a closed form by hand beside it. The two agree to
AGREE_MM, or the script stops (both project onto the plane or edge, so they tend to round alike). Rows:

* `seen`: a random corner to each moving part at each position, beyond FAR_MM left out;
* `reported`: each corner at the travel and rack where `bindpoint clearance` says that something comes nearest, to what it
  names. The map's own gap isn't written: the test makes its own.

The distance is to the triangles as exported. What these miss of a round part is the checked program's to take off.
"""

import csv
import io
import json
import subprocess
import sys
import tempfile
from pathlib import Path

import coal
import numpy as np

SEED = 20261126
HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
POSITIONS = 40
FAR_MM = 250.0
BALL_MM = 1e-3
# coal's ball against a triangle is closed form; coordinates up to 1 m.
AGREE_MM = 1e-6
PARTS = {
    "wing": '(name: "wing", on: frame, fitted: left, shape: Box(centre: (-120, 558, 299), size: (20, 50, 6))),',
    "tab": '(name: "tab", on: lower_arm, shape: Box(centre: (28, 510, 368), size: (20, 20, 12))),',
    "channel": f'(name: "channel", on: frame, fitted: left, shape: Mesh(file: "{HERE}/u_bracket.obj", unit: mm)),',
}


def run(*arguments):
    done = subprocess.run([*map(str, arguments)], capture_output=True, text=True)
    assert done.returncode in (0, 1), done.stderr
    return done.stdout


def read_stl(path):
    data = path.read_bytes()
    count = int.from_bytes(data[80:84], "little")
    rec = np.frombuffer(data, dtype=np.dtype([("n", "<f4", 3), ("t", "<f4", (3, 3)), ("a", "<u2")]), count=count, offset=84)
    return rec["t"].astype(float)


def bvh(triangles):
    model = coal.BVHModelOBBRSS()
    model.beginModel(len(triangles), 3 * len(triangles))
    vs, fs = coal.StdVec_Vec3s(), coal.StdVec_Triangle()
    for i, t in enumerate(triangles):
        for p in t:
            vs.append(p)
        fs.append(coal.Triangle(3 * i, 3 * i + 1, 3 * i + 2))
    model.addSubModel(vs, fs)
    model.endModel()
    return model


def by_hand(p, t):
    """Least distance of a point to triangles: to their planes where it stands over them, else to their edges."""
    a, b, c = t[:, 0], t[:, 1], t[:, 2]
    best = np.inf
    for u, v in ((a, b), (b, c), (c, a)):
        d = v - u
        s = np.clip(((p - u) * d).sum(1) / np.maximum((d * d).sum(1), 1e-300), 0, 1)
        best = min(best, np.linalg.norm(p - u - s[:, None] * d, axis=1).min())
    n = np.cross(b - a, c - a)
    size = np.linalg.norm(n, axis=1)
    fine = size > 1e-12
    n = n[fine] / size[fine, None]
    over = np.ones(fine.sum(), bool)
    for u, v in ((a, b), (b, c), (c, a)):
        over &= (np.cross(n, (v - u)[fine]) * (p - u[fine])).sum(1) >= 0
    if over.any():
        best = min(best, abs(((p - a[fine]) * n).sum(1)[over]).min())
    return best


def is_inside(p, t):
    """By the solid angle that closed triangles fill. Source: A. van Oosterom, J. Strackee, "The solid angle of a plane
    triangle", IEEE Trans. Biomed. Eng. 30, 1983, 125."""
    a, b, c = (t[:, k] - p for k in range(3))
    la, lb, lc = (np.linalg.norm(x, axis=1) for x in (a, b, c))
    up = (a * np.cross(b, c)).sum(1)
    down = la * lb * lc + (a * b).sum(1) * lc + (b * c).sum(1) * la + (c * a).sum(1) * lb
    turns = np.arctan2(up, down).sum() / (2 * np.pi)
    assert abs(turns - round(turns)) < 1e-3, turns
    return round(turns) != 0


EYE = coal.Transform3s(np.eye(3), np.zeros(3))


def distance(p, part):
    triangles, model = part
    request, result = coal.DistanceRequest(), coal.DistanceResult()
    found = coal.distance(coal.Sphere(BALL_MM), coal.Transform3s(np.eye(3), p), model, EYE, request, result) + BALL_MM
    hand = by_hand(p, triangles)
    global worst
    worst = max(worst, abs(found - hand))
    assert abs(found - hand) < AGREE_MM, (p, found, hand)
    return -found if is_inside(p, triangles) else found


worst = 0.0


def stem(name):
    return name.replace(" ", "_")


def free_positions(program, scene, folder, rng):
    """Positions in free cells: the outermost of travel and rack, and random ones."""
    run(program, "sweep", scene, "--csv", folder)
    with open(folder / "map.csv") as file:
        cells = [r for r in csv.DictReader(file) if r["state"] == "free" and r["side"] == "left"]
    ends = []
    for key, pick in (("travel_from_mm", min), ("travel_to_mm", max)):
        for want in (-1, 1):
            half = [c for c in cells if want * (float(c["rack_from_mm"]) + float(c["rack_to_mm"])) > 0]
            ends.append(pick(half, key=lambda c: float(c[key])))
    chosen = ends + [cells[i] for i in rng.integers(len(cells), size=POSITIONS - len(ends))]
    out = []
    for cell in chosen:
        # A cell's corners by travel lean a little with the rack: its inner half is surely inside.
        t, r = rng.uniform(0.25, 0.75, 2)
        mix = lambda axis, s: (1 - s) * float(cell[f"{axis}_from_mm"]) + s * float(cell[f"{axis}_to_mm"])
        out.append((round(mix("travel", t), 3), round(mix("rack", r), 3)))
    return out


def read_map(path):
    """Corner, travel, rack and part of each corner of a map, and the parts' names."""
    data = path.read_bytes()
    end = data.index(b"end_header\n") + len(b"end_header\n")
    head = data[:end].decode()
    count = int(head.split("element vertex ")[1].split()[0])
    spot = [("rgb", "u1", 3), ("gap", "<f4"), ("room", "<f4"), ("travel", "<f4"), ("rack", "<f4"), ("part", "<i4")]
    rows = np.frombuffer(data, dtype=np.dtype([("p", "<f4", 3), *spot]), count=count, offset=end)
    names = {}
    for line in head.splitlines():
        if line.startswith("comment part ") and ": " in line:
            number, rest = line[len("comment part "):].split(": ", 1)
            names[int(number)] = rest.rsplit(", ", 1)
    return rows, names


def main():
    program = sys.argv[1]
    rng = np.random.default_rng(SEED)
    rows = []
    for part, drawn in PARTS.items():
        with tempfile.TemporaryDirectory() as folder:
            folder = Path(folder)
            text = (ROOT / "scenes" / "tarnwood.ron").read_text().replace('"../assets/', f'"{ROOT}/assets/')
            scene = folder / "planted.ron"
            scene.write_text(text.replace("    parts: [\n", f"    parts: [\n        {drawn}\n", 1))

            def export(travel, rack):
                out = folder / f"{travel} {rack}"
                run(program, "export", scene, f"--travel={float(travel)!r}", f"--rack={float(rack)!r}", "--side", "left", "--out", out)
                return {f.stem: read_stl(f) for f in out.glob("*.stl")}

            # Its corners, as measured and where they stand: the triangles keep their order.
            home = export(0.0, 0.0)[part].reshape(-1, 3)
            _, first = np.unique(home, axis=0, return_index=True)
            found = folder / "found.json"
            run(program, "clearance", scene, "--part", part, "--gap", 0, "--out", folder / "map.ply", "--json", found)
            movers = sorted({m["part"] for m in json.loads(found.read_text())["movers"]})
            spots, names = read_map(folder / "map.ply")

            def add(kind, travel, rack, corner, to, placed, models):
                p = placed[part].reshape(-1, 3)[corner]
                key = stem(to)
                if key not in models:
                    models[key] = (placed[key], bvh(placed[key]))
                gap = distance(p, models[key])
                if gap < FAR_MM or kind == "reported":
                    rows.append([part, kind, travel, rack, *home[corner], to, gap])

            for travel, rack in free_positions(program, scene, folder, rng):
                placed, models = export(travel, rack), {}
                for to in movers:
                    add("seen", travel, rack, rng.choice(first), to, placed, models)
            for corner in first:
                at = np.argmin(abs(spots["p"] - home[corner]).sum(1))
                assert abs(spots["p"][at] - home[corner]).max() < 1e-3
                spot = spots[at]
                if spot["part"] < 0 or names[int(spot["part"])][1] != "left side":
                    continue
                travel, rack = float(spot["travel"]), float(spot["rack"])
                add("reported", travel, rack, corner, names[int(spot["part"])][0], export(travel, rack), {})
            print(part, len(rows), flush=True)
    kinds = ", ".join(f"{k} {sum(r[1] == k for r in rows)}" for k in ("seen", "reported"))
    buf = io.StringIO()
    buf.write(
        "# generator: make_vertex_gaps.py\n"
        f"# libraries: coal {coal.__version__}, numpy {np.__version__}\n"
        f"# seed: {SEED}\n"
        "# distances of a corner (in_p, vehicle coordinates as measured) of a part planted in scenes/tarnwood.ron to a moving\n"
        "#   part's triangles, both as `bindpoint export` placed them at a travel and rack; left side, mm\n"
        "# seen: at random places of the free travel; reported: where `bindpoint clearance` found that corner's least gap\n"
        "# out_gap: below zero where the corner is inside the part, by the solid angle that its triangles fill\n"
        f"#   by coal, its BVH against a ball of {BALL_MM} mm; a closed form by hand differs by {worst:.1e} mm at most\n"
        "# files are in single precision: half a unit in the last place below 1024 mm is 3.1e-5 mm a coordinate\n"
        f"# {len(rows)} rows: {kinds}\n"
    )
    w = csv.writer(buf, lineterminator="\n")
    w.writerow(["part", "kind", "in_travel", "in_rack", "in_p_x", "in_p_y", "in_p_z", "to", "out_gap"])
    for r in rows:
        w.writerow([x if isinstance(x, str) else repr(float(x) + 0.0) for x in r])
    (HERE / "vertex_gaps_coal.csv").write_text(buf.getvalue())
    print(kinds, worst)


if __name__ == "__main__":
    main()
