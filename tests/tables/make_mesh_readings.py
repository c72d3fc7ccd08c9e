#!/usr/bin/env python3
"""Mesh files as another program writes them, and what it makes of them when it reads them back.

    pip install numpy==2.4.6 trimesh==4.12.2 lxml==6.1.3 networkx==3.6.1
    python make_mesh_readings.py

Written with Python 3.11. Writes meshes/ and mesh_readings.csv beside this file. Bodies: u_bracket.obj; a ring of few facets;
a ball with a ball in it, turned inward (a hollow one); and `dirty` ones of the bracket: `holed` lacks two faces and has one
twice, `flipped` is closed but has three faces turned over and one twice. trimesh writes each as STL (text, binary), OBJ,
PLY (text, binary), 3MF and GLB, and reads the file back; equal corners are merged, a face that is there twice counts once.

GLB is in metres with y up and z forward: a vehicle point (x, y, z) in mm is written as (y, z, x) / 1000, and turned back here
after reading.
"""

import csv
from pathlib import Path

import lxml.etree
import networkx
import numpy as np
import trimesh

HERE = Path(__file__).resolve().parent
OUT = HERE / "meshes"
TURN = [1, 2, 0]


def bodies():
    bracket = trimesh.load(HERE / "u_bracket.obj", process=False)
    v, f = bracket.vertices, bracket.faces
    yield "bracket", v, f
    ring = trimesh.creation.torus(40.0, 12.0, major_sections=7, minor_sections=4)
    yield "ring", ring.vertices + [10, -300, 420], ring.faces
    outer, inner = (trimesh.creation.icosphere(0, r) for r in (30.0, 21.0))
    yield ("hollow", np.vstack([outer.vertices, inner.vertices]),
           np.vstack([outer.faces, inner.faces[:, ::-1] + len(outer.vertices)]))
    yield "holed", v, np.vstack([np.delete(f, [3, 17], 0), f[5:6]])
    flipped = f.copy()
    flipped[[2, 11, 20]] = flipped[[2, 11, 20]][:, ::-1]
    yield "flipped", v, np.vstack([flipped, flipped[7:8]])


def write(name, v, f):
    mesh = trimesh.Trimesh(v, f, process=False)
    for ending, options in (("text.stl", {"file_type": "stl_ascii"}), ("binary.stl", {}), ("obj", {"include_normals": False}),
                            ("text.ply", {"encoding": "ascii"}), ("binary.ply", {}), ("3mf", {})):
        mesh.export(OUT / f"{name}.{ending}", **options)
    trimesh.Trimesh(v[:, TURN] / 1000, f, process=False).export(OUT / f"{name}.glb")


def read(path):
    mesh = trimesh.load(path, force="mesh", process=False)
    v = mesh.vertices
    if path.suffix == ".glb":
        v = 1000 * v[:, np.argsort(TURN)]
    mesh = trimesh.Trimesh(v, mesh.faces, process=False)
    read_faces = len(mesh.faces)
    mesh.merge_vertices(digits_vertex=4)
    mesh.update_faces(mesh.unique_faces())
    edges = mesh.edges_sorted
    open_edges = len(trimesh.grouping.group_rows(edges, require_count=1))
    # Faces turned over among the rest are turned back.
    mesh.fix_normals(multibody=False)
    closed = mesh.is_watertight
    return [path.name, read_faces, len(mesh.faces), len(mesh.vertices), open_edges, *mesh.bounds[0], *mesh.extents,
            float(mesh.volume) if closed else "", float(mesh.area)]


def main():
    OUT.mkdir(exist_ok=True)
    rows = []
    for name, v, f in bodies():
        write(name, np.asarray(v, float), np.asarray(f))
        rows += [read(p) for p in sorted(OUT.glob(f"{name}.*"))]
    with open(HERE / "mesh_readings.csv", "w", newline="") as file:
        file.write("# generator: make_mesh_readings.py\n")
        file.write(f"# libraries: numpy {np.__version__}, trimesh {trimesh.__version__}, lxml {lxml.etree.__version__}, "
                   f"networkx {networkx.__version__}\n")
        file.write("# files of meshes/ as trimesh wrote them, and as it read them back; mm. Volume where watertight\n")
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["file", "out_read", "out_triangles", "out_corners", "out_open_edges"]
                        + [f"out_{n}_{a}" for n in ("low", "size") for a in "xyz"] + ["out_volume", "out_area"])
        writer.writerows([x if isinstance(x, (str, int)) else repr(float(x) + 0.0) for x in r] for r in rows)
    print(len(rows), "files,", sum(p.stat().st_size for p in OUT.iterdir()), "bytes")


if __name__ == "__main__":
    main()
