"""The same questions to bindpoint and to general libraries, in one run, one thread each.

    python -m venv peers && peers/bin/pip install numpy==2.4.6 coal==3.0.3 python-fcl==0.7.0.11 mujoco==4.0.0
    cargo build --release --no-default-features --example peer_answers
    peers/bin/python benches/peers/peers.py target/release/examples/peer_answers

1. Least distance of two meshes at the same 10,000 positions of the mid-size scene, in the order of a sweep: the knuckle
   as it moves past the differential housing, both brought to 2,000, 20,000 and 200,000 triangles. FCL and coal are given
   their objects and transforms beforehand; only the calls are timed. The slow ones answer every n-th position only (the
   table says how many), which costs bindpoint's warm start nothing since it still answers all.
2. The free-travel map of the mid-size scene: bindpoint's guarded sweep against a grid of 0.05 mm in travel and rack at
   which the peer is asked, pair by pair, whether it is nearer than the required gap. The grid isn't gone through: a
   sample of its positions is timed and multiplied, and says so.
3. Positions a second of the linkage, against MuJoCo's kinematics with its loops closed by Gauss-Newton (the method of
   tests/tables/make_mechanism_mujoco.py, warm-started from the position before).
4. How many distance queries a search for a contact asks, against the fewest that prove as much with the same motion
   bound: every walk of two trees, and every position examined as a witness. Pieces that the last two elements in the way
   settle by themselves, without the trees, aren't counted.

Prints a table; ratios are the figures to quote, since both sides ran on the same machine at the same time of day.
Not counted: start of the program, reading files, building trees.
"""

import csv
import importlib.util
import json
import math
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

# One thread, before numpy is there.
for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"

import coal  # noqa: E402
import fcl  # noqa: E402
import numpy as np  # noqa: E402

ROOT = Path(__file__).resolve().parent.parent.parent
SCENE = ROOT / "scenes" / "tarnwood.ron"
COVERED = ["scenes/crake.ron", SCENE, "scenes/hollin.ron"]
POSITIONS = 10_000
TRIANGLES = (2_000, 20_000, 200_000)
FIXED, MOVING, BODY = "differential_housing", "knuckle", "knuckle"
# A peer is given this long for a pair of meshes.
PATIENCE_S = 20.0
GRID_MM = 0.05
# Pairs and positions of the grid that are timed.
SAMPLE = 40


def ours(program, *arguments):
    out = subprocess.run([program, *map(str, arguments)], check=True, capture_output=True, text=True, cwd=ROOT)
    return json.loads(out.stdout)


def read_stl(path):
    data = Path(path).read_bytes()
    count = int.from_bytes(data[80:84], "little")
    kind = np.dtype([("n", "<f4", 3), ("t", "<f4", (3, 3)), ("a", "<u2")])
    points = np.frombuffer(data, dtype=kind, count=count, offset=84)["t"].reshape(-1, 3).astype(float)
    vertices, inverse = np.unique(points, axis=0, return_inverse=True)
    return vertices, inverse.reshape(-1, 3)


def write_stl(path, vertices, faces):
    kind = np.dtype([("n", "<f4", 3), ("t", "<f4", (3, 3)), ("a", "<u2")])
    rows = np.zeros(len(faces), kind)
    rows["t"] = vertices[faces]
    Path(path).write_bytes(bytes(80) + len(faces).to_bytes(4, "little") + rows.tobytes())


def refined(vertices, faces, wanted, rng):
    """Longest edges halved until there are as many triangles, and corners moved a little as on a scan."""
    vertices, faces = list(map(tuple, vertices)), [tuple(f) for f in faces]
    while len(faces) < wanted:
        v = np.array(vertices)
        f = np.array(faces)
        edges = np.stack([f, np.roll(f, -1, axis=1)], axis=2)
        length = np.linalg.norm(v[edges[:, :, 0]] - v[edges[:, :, 1]], axis=2)
        key = [tuple(sorted(e)) for e in edges.reshape(-1, 2)]
        owner = {}
        for n, k in enumerate(key):
            owner.setdefault(k, []).append(n // 3)
        order = np.argsort(-length.reshape(-1))
        busy, cut = set(), []
        for n in order:
            k = key[n]
            two = owner[k]
            if any(t in busy for t in two):
                continue
            busy.update(two)
            cut.append((k, two))
            if len(faces) + 2 * len(cut) >= wanted:
                break
        gone, new = set(), []
        for (a, b), two in cut:
            middle = len(vertices)
            vertices.append(tuple(0.5 * (np.array(vertices[a]) + np.array(vertices[b]))))
            for t in two:
                gone.add(t)
                for i in range(3):
                    if {faces[t][i], faces[t][(i + 1) % 3]} == {a, b}:
                        p, q, r = faces[t][i], faces[t][(i + 1) % 3], faces[t][(i + 2) % 3]
                        new += [(p, middle, r), (middle, q, r)]
                        break
        faces = [f for t, f in enumerate(faces) if t not in gone] + new
    vertices = np.array(vertices) + rng.normal(0, 0.01, (len(vertices), 3))
    return vertices, np.array(faces)


def coal_model(vertices, faces):
    model = coal.BVHModelOBBRSS()
    model.beginModel(len(faces), len(vertices))
    vs, fs = coal.StdVec_Vec3s(), coal.StdVec_Triangle()
    for p in vertices:
        vs.append(p)
    for t in faces:
        fs.append(coal.Triangle(*map(int, t)))
    model.addSubModel(vs, fs)
    model.endModel()
    return model


def fcl_model(vertices, faces):
    model = fcl.BVHModel()
    model.beginModel(len(vertices), len(faces))
    model.addSubModel(vertices, faces)
    model.endModel()
    return model


def poses(path):
    out = {}
    with open(path, newline="") as file:
        rows = csv.reader(file)
        next(rows)
        for row in rows:
            numbers = np.array(row[3:], float)
            out.setdefault(row[0], []).append((numbers[:9].reshape(3, 3), numbers[9:]))
    return out


def timed(ask, count):
    """Seconds a call, asked evenly over `count` places until patience ends; and the answers by place."""
    answers, step = {}, 1
    started = time.perf_counter()
    ask(0)
    one = time.perf_counter() - started
    step = max(1, math.ceil(one * count / PATIENCE_S))
    spent = 0.0
    for i in range(0, count, step):
        started = time.perf_counter()
        value = ask(i)
        spent += time.perf_counter() - started
        answers[i] = value
        if spent > 2 * PATIENCE_S:
            break
    return spent / len(answers), answers


def mesh_distances(program, folder, moved):
    print("1. Least distance of two meshes at the same positions: queries a second")
    print(f"{'triangles each':>15} {'bindpoint':>10} {'cold':>8} {'coal':>8} {'FCL':>8} {'ratio to faster peer':>22} "
          f"{'peer asked':>11} {'largest difference, mm':>23}")
    rng = np.random.default_rng(7)
    costs = []
    for wanted in TRIANGLES:
        files = []
        meshes = []
        for name in (FIXED, MOVING):
            vertices, faces = read_stl(ROOT / "assets" / ("tarnwood_differential_housing.stl" if name == FIXED
                                                          else "coarse_knuckle.stl"))
            if len(faces) > wanted:
                # The mesh as it is has more: the parts' own of the next size down.
                vertices, faces = read_stl(ROOT / "assets" / "tarnwood_crossmember.stl")
                # Where the housing is.
                vertices = vertices - vertices.mean(0) + np.array([0.0, 150.0, 400.0])
            vertices, faces = refined(vertices, faces, wanted, rng)
            path = folder / f"{name}_{wanted}.stl"
            write_stl(path, vertices, faces)
            files.append(path)
            meshes.append(read_stl(path))
        out = folder / "distances.txt"
        mine = ours(program, "distances", *files, folder / "poses.csv", BODY, out)
        values = np.loadtxt(out)
        a, b = (coal_model(*m) for m in meshes)
        rest, places = coal.Transform3s(), [coal.Transform3s(r, t) for r, t in moved]

        def by_coal(i):
            return coal.distance(a, rest, b, places[i], coal.DistanceRequest(), coal.DistanceResult())

        per_coal, by_place = timed(by_coal, len(moved))
        fa = fcl.CollisionObject(fcl_model(*meshes[0]))
        fb = [fcl.CollisionObject(g, fcl.Transform(r, t)) for g in [fcl_model(*meshes[1])] for r, t in moved]

        def by_fcl(i):
            return fcl.distance(fa, fb[i], fcl.DistanceRequest(), fcl.DistanceResult())

        per_fcl, by_place_fcl = timed(by_fcl, len(moved))
        per_mine = mine["seconds"] / mine["queries"]
        cold = mine["seconds_without_warm_start"] / mine["queries"]
        difference = max(abs(v - values[i]) for answers in (by_place, by_place_fcl) for i, v in answers.items()
                         if v > 0)
        ratio = min(per_coal, per_fcl) / per_mine
        costs.append(per_mine)
        print(f"{len(meshes[0][1]):>7} {len(meshes[1][1]):>7} {1 / per_mine:>10.0f} {1 / cold:>8.0f} {1 / per_coal:>8.0f} "
              f"{1 / per_fcl:>8.0f} {ratio:>22.1f} {len(by_place):>5} {len(by_place_fcl):>5} {difference:>23.1e}",
              flush=True)
    growth = [math.log(costs[i + 1] / costs[i]) / math.log(TRIANGLES[i + 1] / TRIANGLES[i]) for i in range(2)]
    print("   cost of a query grows as the number of triangles to the power "
          + ", then ".join(f"{g:.2f}" for g in growth))


def free_travel(program, folder, bodies):
    runs = [ours(program, "map", SCENE, folder / "parts") for _ in range(3)]
    mine = min(run["seconds"] for run in runs)
    run = runs[0]
    models = {}
    for pair in run["pairs"]:
        for side in ("a", "b"):
            path = pair[side]
            if path not in models:
                vertices, faces = read_stl(path)
                models[path] = (coal_model(vertices, faces), fcl_model(vertices, faces))
    count = len(next(iter(bodies.values())))
    picked = range(0, count, max(1, count // SAMPLE))
    spent = {"coal": 0.0, "FCL": 0.0}
    for i in picked:
        for pair in run["pairs"]:
            (ra, ta), (rb, tb) = bodies[pair["on_a"]][i], bodies[pair["on_b"]][i]
            a, b = models[pair["a"]], models[pair["b"]]
            place_a, place_b = coal.Transform3s(ra, ta), coal.Transform3s(rb, tb)
            request = coal.CollisionRequest()
            request.security_margin = pair["required_mm"]
            result = coal.CollisionResult()
            started = time.perf_counter()
            coal.collide(a[0], place_a, b[0], place_b, request, result)
            spent["coal"] += time.perf_counter() - started
            fa = fcl.CollisionObject(a[1], fcl.Transform(ra, ta))
            fb = fcl.CollisionObject(b[1], fcl.Transform(rb, tb))
            request, result = fcl.CollisionRequest(), fcl.CollisionResult()
            started = time.perf_counter()
            # FCL knows no margin: it is asked for contact alone, which is less work.
            fcl.collide(fa, fb, request, result)
            spent["FCL"] += time.perf_counter() - started
    travel, rack = run["travel_mm"], run["rack_mm"]
    grid = (travel[1] - travel[0]) / GRID_MM * (rack[1] - rack[0]) / GRID_MM * run["free_share"]
    print(f"\n2. Free-travel map, {len(run['pairs'])} pairs: bindpoint {mine:.2f} s, guarded between the samples too, "
          f"{100 * run['undecided_share']:.2f} % of the rectangle undecided")
    for name, seconds in spent.items():
        per_position = seconds / len(picked)
        dense = per_position * grid
        print(f"   {name}: {1e3 * per_position:.2f} ms a position ({len(picked)} timed), so {dense / 3600:.0f} h for the "
              f"{grid / 1e6:.1f} million free positions of a {GRID_MM} mm grid (multiplied, not run): "
              f"{dense / mine:,.0f} times as long")


def linkage(program, folder):
    import mujoco

    spec = importlib.util.spec_from_file_location("made", ROOT / "tests" / "tables" / "make_mechanism_mujoco.py")
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    link = made.Linkage(made.corner())
    link.reset()
    places = [(t, r) for r in np.linspace(-60, 60, 25) for t in np.linspace(-60, 60, 25)]
    # From place to place: back and forth.
    places = [(t if (n // 25) % 2 == 0 else -t, r) for n, (t, r) in enumerate(places)]
    link.walk("travel", *places[0])
    started = time.perf_counter()
    closed = sum(link.close("travel", t, r) is not None for t, r in places)
    whole = (time.perf_counter() - started) / closed
    started = time.perf_counter()
    for _ in range(2000):
        mujoco.mj_fwdPosition(link.m, link.d)
    inner = (time.perf_counter() - started) / 2000
    mine = ours(program, "positions", SCENE, POSITIONS, folder / "again.csv")
    per = mine["seconds"] / mine["positions"]
    print(f"\n3. Positions a second: bindpoint {1 / per:,.0f}; MuJoCo {mujoco.__version__} {1 / whole:,.0f} with numpy closing "
          f"the loops ({closed} of {len(places)} closed), {1 / inner:,.0f} calls of its own position stage alone, of which "
          "a position takes several")
    print(f"   ratio {whole / per:,.0f}; to a single call of the position stage {inner / per:.1f}")


def main():
    program = str(Path(sys.argv[1]).resolve())
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        ours(program, "positions", SCENE, POSITIONS, folder / "poses.csv")
        bodies = poses(folder / "poses.csv")
        print(f"coal {coal.__version__}, python-fcl 0.7.0.11, one thread each; load {os.getloadavg()[0]:.1f}\n")
        mesh_distances(program, folder, bodies[BODY])
        free_travel(program, folder, bodies)
        linkage(program, folder)
        print("\n4. Searches for a contact along travel at nine rack positions: distance queries against the fewest")
        for scene in COVERED:
            cover = ours(program, "cover", scene)
            print(f"   {scene}: {cover['searches']} searches, {cover['queries']} queries, fewest {cover['fewest']}: "
                  f"ratio {cover['ratio']:.2f}, median {cover['median_ratio']:.2f}")


if __name__ == "__main__":
    main()
