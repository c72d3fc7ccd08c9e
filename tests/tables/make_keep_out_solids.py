"""What other programs' readers make of keep-out solids as written: closed, manifold, volume.

    pip install numpy==2.4.6 scipy==1.17.1 trimesh==4.12.2 manifold3d==3.4.1 lxml==6.1.3 networkx==3.6.1
    cargo build --release
    python make_keep_out_solids.py ../../target/release/bindpoint

Writes keep_out_solids.csv beside this file. Each row is a solid that `bindpoint keepout` wrote as binary STL: trimesh
reads it, joins equal corners and says whether it is watertight, how large it is and in how many pieces; manifold3d
takes the same triangles, which it refuses unless they make an oriented manifold, and gives its own volume and genus.
The same solid written as 3MF and GLB must read as the STL does: as many triangles, watertight, the same box and volume but
for single precision. A clearance map's PLY and GLB must have the same corners, faces and colours (GLB's are linear).
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


# Half a unit in the last place of a coordinate below 2048 mm, and of the same in metres.
ROUNDING_MM = 2.0**-13


def in_vehicle(vertices):
    """From glTF's metres, y up and z forward."""
    return 1000.0 * vertices[:, [2, 0, 1]]


def write(program, arguments, out):
    """A solid; status 2 says that something unintended ends the travel, and the solid is written all the same."""
    done = subprocess.run([program, "keepout", *arguments, "--out", out], stdout=subprocess.DEVNULL)
    assert done.returncode in (0, 2), done


def check_others(program, arguments, mesh, folder):
    """Other formats of a solid read as its STL does."""
    for ending in ("3mf", "glb"):
        out = os.path.join(folder, "solid." + ending)
        write(program, arguments, out)
        other = trimesh.load(out, force="mesh")
        if ending == "glb":
            other = trimesh.Trimesh(in_vehicle(other.vertices), other.faces)
        assert other.is_watertight and len(other.faces) == len(mesh.faces), (ending, len(other.faces))
        assert abs(other.bounds - mesh.bounds).max() <= 2 * ROUNDING_MM, (ending, other.bounds - mesh.bounds)
        assert abs(other.volume - mesh.volume) <= 4 * ROUNDING_MM * mesh.area, (ending, other.volume, mesh.volume)


def check_map(program):
    """A clearance map's two files have the same corners, faces and colours."""
    with tempfile.TemporaryDirectory() as folder:
        ply, glb = (os.path.join(folder, "map." + e) for e in ("ply", "glb"))
        for out in (ply, glb):
            done = subprocess.run([program, "clearance", os.path.join(SCENES, "tarnwood.ron"), "--part", "frame rail",
                                   "--gap", "20", "--out", out], stdout=subprocess.DEVNULL)
            assert done.returncode in (0, 1)
        a = trimesh.load(ply, process=False)
        b = trimesh.load(glb, process=False)
        b = next(m for m in b.geometry.values() if isinstance(m, trimesh.Trimesh))
        # The .glb repeats corners where creases give them several normals: compared face by face.
        assert len(a.faces) == len(b.faces), (len(a.faces), len(b.faces))
        assert abs(a.vertices[a.faces] - in_vehicle(b.vertices)[b.faces]).max() <= 2 * ROUNDING_MM
        # sRGB to linear: IEC 61966-2-1:1999.
        s = a.visual.vertex_colors[:, :3] / 255.0
        linear = np.where(s <= 0.04045, s / 12.92, ((s + 0.055) / 1.055) ** 2.4)
        # With a material beside them trimesh keeps a file's colours as an attribute.
        theirs = np.asarray(b.visual.vertex_attributes["color"])
        assert theirs.dtype == np.uint16, theirs.dtype
        off = abs(65535.0 * linear[a.faces] - theirs[:, :3].astype(float)[b.faces]).max()
        # Rounded to a whole number, from single precision.
        assert off <= 0.5 + 0.01, off
        colours = len(np.unique(a.visual.vertex_colors, axis=0))
        assert colours > 10, colours
        print(f"map: {len(a.vertices)} corners, {len(a.faces)} faces, {colours} colours alike in PLY and GLB")


def main():
    program = sys.argv[1]
    check_map(program)
    rows = []
    for scene, parts, on, margin, resolution in SOLIDS:
        with tempfile.TemporaryDirectory() as folder:
            out = os.path.join(folder, "solid.stl")
            arguments = [os.path.join(SCENES, scene + ".ron"), "--parts", parts, "--on", on, "--margin", f"{margin}mm",
                         "--resolution", f"{resolution}mm"]
            write(program, arguments, out)
            mesh = trimesh.load(out)
            check_others(program, arguments, mesh, folder)
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
