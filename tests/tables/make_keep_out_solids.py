"""What other programs' readers make of keep-out solids as written: closed, manifold, volume.

    pip install numpy==2.4.6 trimesh==4.12.2 manifold3d==3.4.1
    cargo build --release
    python make_keep_out_solids.py ../../target/release/bindpoint

Writes keep_out_solids.csv beside this file. Each row is a solid that `bindpoint keepout` wrote as binary STL: trimesh
reads it, joins equal corners and says whether it is watertight, how large it is and in how many pieces; manifold3d
takes the same triangles, which it refuses unless they make an oriented manifold, and gives its own volume and genus.
"""

import csv
import os
import subprocess
import sys
import tempfile

import manifold3d
import numpy as np
import trimesh

HERE = os.path.dirname(os.path.abspath(__file__))
SCENES = os.path.join(HERE, "..", "..", "scenes")
SOLIDS = [
    ("tarnwood", "halfshaft", "frame", 5, 4),
    ("tarnwood", "halfshaft", "knuckle", 0, 4),
    ("tarnwood", "lower arm*,upper arm*", "frame", 5, 4),
    ("tarnwood", "tyre", "frame", 10, 12),
    ("tarnwood", "knuckle", "frame", 3, 6),
    ("hollin", "halfshaft,tie rod", "frame", 4, 6),
    ("crake", "tyre", "frame", 8, 10),
    ("crake", "lower arm*", "frame", 0, 3),
]


def main():
    program = sys.argv[1]
    rows = []
    for scene, parts, on, margin, resolution in SOLIDS:
        with tempfile.TemporaryDirectory() as folder:
            out = os.path.join(folder, "solid.stl")
            subprocess.run(
                [program, "keepout", os.path.join(SCENES, scene + ".ron"), "--parts", parts, "--on", on,
                 "--margin", str(margin), "--resolution", str(resolution), "--units", "mm", "--out", out],
                check=True, stdout=subprocess.DEVNULL)
            mesh = trimesh.load(out)
        solid = manifold3d.Manifold(manifold3d.Mesh(
            vert_properties=mesh.vertices.astype(np.float32), tri_verts=mesh.faces.astype(np.uint32)))
        assert mesh.is_watertight and mesh.is_winding_consistent, (scene, parts)
        assert solid.status() == manifold3d.Error.NoError, (scene, parts, solid.status())
        rows.append([scene, parts, on, margin, resolution, len(mesh.faces), repr(float(mesh.volume)),
                     repr(float(solid.volume())), mesh.body_count, solid.genus()])
        print(rows[-1])
    with open(os.path.join(HERE, "keep_out_solids.csv"), "w", newline="") as file:
        file.write("# generator: make_keep_out_solids.py\n")
        file.write(f"# libraries: numpy {np.__version__}, trimesh {trimesh.__version__}, manifold3d 3.4.1\n")
        file.write("# solids as `bindpoint keepout` wrote them, read back: every one watertight by trimesh and an oriented "
                   "manifold by manifold3d; mm\n")
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["scene", "parts", "on", "in_margin", "in_resolution", "out_triangles", "out_trimesh_volume",
                         "out_manifold3d_volume", "out_pieces", "out_genus"])
        writer.writerows(rows)


if __name__ == "__main__":
    main()
