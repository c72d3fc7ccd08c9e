#!/usr/bin/env python3
"""Demo part meshes for bindpoint: two differential housings, two skid plates, one frame
crossmember, one coarse steering knuckle, and a fender and a wheel-arch liner for two of the trucks.
Every shape is invented; none is measured from a real vehicle.

Written with Python 3.11, numpy 2.4.6, manifold3d 3.5.4, pymeshlab 2025.7.post1, trimesh 5.2.0.
Seed: 1 (only the random points of the closing clearance figures use it; the shapes have no
random part).

Output: binary STL in millimetres, vehicle axes (x forward, y left, z up), parts at the
measured position. Solids are joined exactly with manifold3d, then given even triangles with
pymeshlab's isotropic remeshing; skid plates, liners and fenders are meshed directly on a grid.
Vertices are rounded to 1/1024 mm, which a 32-bit float holds exactly at this size, so a reader
that merges equal vertices gets a closed surface back.

Run:  python make_meshes.py [output folder]      (default: the folder of this file)
"""

import math
import struct
import sys
from pathlib import Path

import manifold3d as m3
import numpy as np
import pymeshlab
import trimesh

SEED = 1
GRID = 1024.0  # vertices are whole multiples of 1/GRID mm


# ---------------------------------------------------------------- solids


def frustum(a, b, ra, rb, n=48):
    """Cone frustum or cylinder (ra == rb) from point a to point b."""
    a, b = np.asarray(a, float), np.asarray(b, float)
    w = b - a
    length = np.linalg.norm(w)
    w = w / length
    helper = np.array([1.0, 0, 0]) if abs(w[0]) < 0.7 else np.array([0, 0, 1.0])
    u = np.cross(helper, w)
    u /= np.linalg.norm(u)
    v = np.cross(w, u)
    frame = np.column_stack([u, v, w, a])
    return m3.Manifold.cylinder(length, ra, rb, n).transform(frame)


def ball(c, r, n=48):
    return m3.Manifold.sphere(r, n).translate(c)


def capsule(a, b, ra, rb=None, n=40):
    """Hull of two balls."""
    return m3.Manifold.batch_hull([ball(a, ra, n), ball(b, ra if rb is None else rb, n)])


def ellipsoid(c, semi, n=64):
    return m3.Manifold.sphere(1.0, n).scale(semi).translate(c)


def box(lo, hi):
    lo, hi = np.asarray(lo, float), np.asarray(hi, float)
    return m3.Manifold.cube(hi - lo).translate(lo)


def union(parts):
    return m3.Manifold.batch_boolean(parts, m3.OpType.Add)


# ---------------------------------------------------------------- meshes


def to_solid(v, f):
    solid = m3.Manifold(m3.Mesh64(vert_properties=v, tri_verts=np.asarray(f).astype(np.uint64)))
    assert solid.status() == m3.Error.NoError
    return solid


def to_arrays(solid):
    mesh = solid.to_mesh64()
    return np.array(mesh.vert_properties)[:, :3].copy(), np.array(mesh.tri_verts, dtype=np.int64)


def remesh(solid, length, feature_deg=32.0, dist=0.5, rounds=12):
    """Even triangles of about the given edge length; sharp edges stay, the surface moves by
    no more than about dist. Two passes, then the few leftover slivers are collapsed."""
    for tolerance in (0.02, 0.4):
        v, f = to_arrays(solid.simplify(tolerance))
        ms = pymeshlab.MeshSet()
        ms.add_mesh(pymeshlab.Mesh(v, f))
        ms.meshing_isotropic_explicit_remeshing(
            iterations=rounds,
            targetlen=pymeshlab.PureValue(length),
            featuredeg=feature_deg,
            checksurfdist=True,
            maxsurfdist=pymeshlab.PureValue(dist),
        )
        m = ms.current_mesh()
        solid = to_solid(m.vertex_matrix(), m.face_matrix())
    ms.meshing_remove_t_vertices(method="Edge Collapse", threshold=12, repeat=True)
    m = ms.current_mesh()
    return m.vertex_matrix(), m.face_matrix()


def tidy(v, f):
    """Round to the grid, merge equal vertices, drop collapsed triangles."""
    v = np.round(np.asarray(v) * GRID) / GRID + 0.0
    v, inverse = np.unique(v, axis=0, return_inverse=True)
    f = inverse.reshape(-1)[np.asarray(f)]
    keep = (f[:, 0] != f[:, 1]) & (f[:, 1] != f[:, 2]) & (f[:, 2] != f[:, 0])
    return v, f[keep]


def self_crossings(v, f):
    ms = pymeshlab.MeshSet()
    ms.add_mesh(pymeshlab.Mesh(v, f))
    ms.compute_selection_by_self_intersections_per_face()
    return int(ms.current_mesh().selected_face_number())


def shape_figures(v, f):
    t = v[f]
    e = np.stack([t[:, 1] - t[:, 0], t[:, 2] - t[:, 1], t[:, 0] - t[:, 2]], axis=1)
    l = np.linalg.norm(e, axis=2)
    area = 0.5 * np.linalg.norm(np.cross(e[:, 0], -e[:, 2]), axis=1)
    ang = []
    for k in range(3):
        c = (e[:, k] * -e[:, k - 1]).sum(1) / (l[:, k] * l[:, k - 1])
        ang.append(np.degrees(np.arccos(np.clip(c, -1, 1))))
    return np.min(ang, axis=0), area, 2 * area / l.max(axis=1)


def write_stl(path, v, f):
    t = v[f].astype("<f4")
    assert np.array_equal(t.astype(float), v[f])
    n = np.cross(v[f][:, 1] - v[f][:, 0], v[f][:, 2] - v[f][:, 0])
    n /= np.linalg.norm(n, axis=1, keepdims=True)
    rec = np.zeros(len(f), dtype=np.dtype([("n", "<f4", 3), ("t", "<f4", (3, 3)), ("a", "<u2")]))
    rec["n"] = n + 0.0
    rec["t"] = t
    head = f"bindpoint demo part {path.stem}, mm, x forward y left z up".encode("ascii")
    assert len(head) <= 80 and not head.startswith(b"solid")
    path.write_bytes(head.ljust(80, b" ") + struct.pack("<I", len(f)) + rec.tobytes())


# ---------------------------------------------------------------- parts


def housing(p):
    """Differential housing: body with an offset bulge and a split flange, side tubes, pinion
    nose, two front ears, a rear ear on top of the nose, cooling ribs underneath."""
    cx, cy, cz = p["centre"]
    sx, sy, sz = p["semi"]
    tz, ty, tr = p["tube_z"], p["tube_y"], p["tube_r"]
    k = p["scale"]
    parts = [
        ellipsoid((cx, cy, cz), (sx, sy, sz)),
        # bulge over the ring gear, to the left of the middle
        ellipsoid((cx + 30 * k, cy + 38 * k, cz + 6 * k), (0.74 * sx, 0.62 * sy, 0.90 * sz)),
        # split flange of the two housing halves
        frustum((0, cy + 22 * k, 0), (0, cy + 36 * k, 0), 1.0, 1.0, 72)
        .scale((sx * 1.03, 1.0, sz * 1.045))
        .translate((cx, 0, cz)),
        # filler plug on the front face
        frustum((cx + sx - 25 * k, cy - 12 * k, cz), (cx + sx + 11 * k, cy - 12 * k, cz), 17 * k, 17 * k, 24),
    ]
    for s in (1, -1):
        parts.append(frustum((0, s * 40 * k, tz), (0, s * 0.62 * ty, tz), tr * 1.24, tr * 1.08))
        parts.append(frustum((0, s * 0.60 * ty, tz), (0, s * ty, tz), tr * 1.08, tr))
        parts.append(frustum((0, s * (ty - 9 * k), tz), (0, s * ty, tz), tr * 1.12, tr * 1.12))
    nx, nz, nr = p["nose_x"], p["nose_z"], p["nose_r"]
    parts += [
        frustum((-40 * k, 8 * k, nz - 5 * k), (0.72 * nx, 0, nz), nr * 1.75, nr),
        frustum((0.70 * nx, 0, nz), (nx, 0, nz), nr, nr),
        frustum((nx + 11 * k, 0, nz), (nx, 0, nz), nr * 1.06, nr * 1.06),
    ]
    ex, ey, ez = p["ear"]
    for s in (1, -1):
        boss = frustum((ex, s * ey, ez - 20 * k), (ex, s * ey, ez + 20 * k), 22 * k, 22 * k, 36)
        root = box(
            (cx + 20 * k, cy + s * 62 * k - 15 * k, ez - 18 * k), (cx + 75 * k, cy + s * 62 * k + 15 * k, ez + 12 * k)
        )
        slim = frustum((ex, s * ey, ez - 13 * k), (ex, s * ey, ez + 13 * k), 22 * k, 22 * k, 36)
        parts.append(boss)
        parts.append(m3.Manifold.batch_hull([slim, root]))
    rx, ry, rz = p["rear_ear"]
    parts.append(frustum((rx, ry, rz), (rx, ry, rz + nr * 1.75), 23 * k, 23 * k, 36))
    # cooling ribs: slices of a slightly larger ellipsoid, lower side only
    larger = ellipsoid((cx, cy, cz), (sx * 1.03, sy * 1.08, sz + p["rib"]), 96)
    for j in (-2, -1, 0, 1, 2):
        y = cy + j * 30 * k
        slab = box((cx - 0.62 * sx, y - 5.5 * k, cz - 2 * sz), (cx + 0.62 * sx, y + 5.5 * k, cz - 0.45 * sz))
        parts.append(larger ^ slab)
    solid = union(parts)
    # through holes for the mounting bolts
    for s in (1, -1):
        solid -= frustum((ex, s * ey, ez - 40 * k), (ex, s * ey, ez + 40 * k), 8 * k, 8 * k, 16)
    return remesh(solid, p["edge"])


TARNWOOD_HOUSING = dict(
    centre=(30, 25, 440), semi=(150, 110, 92), scale=1.0, rib=9.0,
    tube_y=186, tube_z=420, tube_r=50, nose_x=-260, nose_z=455, nose_r=45,
    ear=(215, 180, 470), rear_ear=(-120, 0, 455), edge=13.5,
)  # fmt: skip

HOLLIN_HOUSING = dict(
    centre=(40, 30, 530), semi=(192, 132, 112), scale=1.22, rib=10.0,
    tube_y=225, tube_z=505, tube_r=60, nose_x=-318, nose_z=548, nose_r=56,
    ear=(270, 215, 560), rear_ear=(-150, 0, 550), edge=17.0,
)  # fmt: skip


def smooth_step(t):
    t = np.clip(t, 0.0, 1.0)
    return t * t * (3 - 2 * t)


def plate(p):
    """Sheet-metal skid plate: a grid of the middle surface with eight-sided drain holes, given
    its thickness along the surface normals and closed at the rims."""
    xs, ys = np.asarray(p["xs"], float), np.asarray(p["ys"], float)
    nx, ny = len(xs), len(ys)
    half = p["thick"] / 2

    def height(x, y):
        z = np.full_like(x, p["z"] + half)
        # front lip: a rounded bend, then a straight rise
        x0, x1, rise, bend = p["lip"]
        slope = rise / (x1 - x0 - bend / 2)
        t = np.clip(x - x0, 0, None)
        z += np.where(t < bend, slope * t * t / (2 * bend), slope * (t - bend / 2))
        # pressed ribs, faded out at both ends
        fade = smooth_step((x - p["rib_x"][0]) / 38.0) * smooth_step((p["rib_x"][1] - x) / 38.0)
        for yc in p["rib_y"]:
            z += p["rib_h"] * fade * smooth_step((p["rib_half"] - abs(y - yc)) / (p["rib_half"] - p["rib_top"]))
        # folded side edges
        t = np.clip(abs(y) - p["side"][0], 0, None)
        z += p["side"][1] * (t / (ys[-1] - p["side"][0])) ** 1.35
        return z

    gx, gy = np.meshgrid(xs, ys, indexing="ij")
    pts = [np.array([x, y]) for x, y in zip(gx.ravel(), gy.ravel())]
    index = lambda i, j: i * ny + j
    skip, tris = set(), []
    for xh, yh, rh in p["holes"]:
        i, j = int(np.argmin(abs(xs - xh))), int(np.argmin(abs(ys - yh)))
        ring = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1)]
        outer = [index(i + a, j + b) for a, b in ring]
        inner = []
        for k in range(8):
            ang = k * np.pi / 4
            inner.append(len(pts))
            pts.append(np.array([xs[i] + rh * np.cos(ang), ys[j] + rh * np.sin(ang)]))
        for k in range(8):
            a, b, c, d = outer[k], outer[(k + 1) % 8], inner[(k + 1) % 8], inner[k]
            tris += [(a, b, c), (a, c, d)] if k % 2 else [(a, b, d), (b, c, d)]
        for a in (-1, 0):
            for b in (-1, 0):
                assert (i + a, j + b) not in skip
                skip.add((i + a, j + b))
    for i in range(nx - 1):
        for j in range(ny - 1):
            if (i, j) in skip:
                continue
            a, b, c, d = index(i, j), index(i + 1, j), index(i + 1, j + 1), index(i, j + 1)
            tris += [(a, b, c), (a, c, d)] if (i + j) % 2 else [(a, b, d), (b, c, d)]
    pts = np.array(pts)
    tris = np.array(tris)
    h = 1e-3

    def surface(q):
        # the lip gets narrower towards the front
        y = q[:, 1] * (1 - p["taper"] * smooth_step((q[:, 0] - p["lip"][0]) / (p["lip"][1] - p["lip"][0])))
        return np.column_stack([q[:, 0], y, height(q[:, 0], q[:, 1])])

    mid = surface(pts)
    du = surface(pts + [h, 0]) - surface(pts - [h, 0])
    dv = surface(pts + [0, h]) - surface(pts - [0, h])
    n = np.cross(du, dv)
    n /= np.linalg.norm(n, axis=1, keepdims=True)
    top, low = mid + half * n, mid - half * n
    used = np.unique(tris)
    count = len(mid)
    v = np.vstack([top, low])
    f = [tris, tris[:, ::-1] + count]
    edges = {(a, b) for t in tris for a, b in ((t[0], t[1]), (t[1], t[2]), (t[2], t[0]))}
    rim = sorted((a, b) for a, b in edges if (b, a) not in edges)
    f.append(np.array([t for a, b in rim for t in ((b, a, a + count), (b, a + count, b + count))]))
    f = np.vstack(f)
    # leave out grid points that lie inside a hole
    new = np.full(2 * count, -1)
    keep = np.concatenate([used, used + count])
    new[keep] = np.arange(len(keep))
    return v[keep], new[f]


def stations(lo, hi, step):
    return list(np.linspace(lo, hi, max(1, int(round((hi - lo) / step))) + 1))


def plate_grid(x_lo, x_hi, y_hi, step, ribs, rib_half, rib_top, side):
    """Stations along x (even) and along y (with lines on every rib edge and on the fold)."""
    xs = stations(x_lo, x_hi, step)
    marks = {-y_hi, y_hi, -side, side}
    for yc in ribs:
        marks |= {yc - rib_half, yc - rib_top, yc + rib_top, yc + rib_half}
    marks = sorted(marks)
    ys = [marks[0]]
    for a, b in zip(marks, marks[1:]):
        ys += stations(a, b, step)[1:]
    return xs, ys


def tarnwood_plate():
    ribs = (-165.0, -55.0, 55.0, 165.0)
    xs, ys = plate_grid(-230, 428, 268, 22, ribs, 20.0, 8.0, 244.0)
    rows = [xs[3], xs[8], xs[13], xs[18]]
    holes = [(x, y, 9.0) for x in rows for y in (-110.0, 0.0, 110.0)]
    return plate(dict(xs=xs, ys=ys, z=300.0, thick=5.0, lip=(260.0, 430.0, 95.0, 44.0), taper=0.10,
                      rib_x=(-205.0, 235.0), rib_y=ribs, rib_half=20.0, rib_top=8.0, rib_h=6.0,
                      side=(244.0, 19.0), holes=holes))  # fmt: skip


def hollin_plate():
    ribs = (-220.0, -110.0, 0.0, 110.0, 220.0)
    xs, ys = plate_grid(-286, 528, 317, 26, ribs, 22.0, 9.0, 290.0)
    rows = [xs[3], xs[8], xs[13], xs[18]]
    holes = [(x, y, 11.0) for x in rows for y in (-165.0, -55.0, 55.0, 165.0)]
    return plate(dict(xs=xs, ys=ys, z=370.0, thick=6.0, lip=(325.0, 530.0, 112.0, 52.0), taper=0.12,
                      rib_x=(-258.0, 300.0), rib_y=ribs, rib_half=22.0, rib_top=9.0, rib_h=7.0,
                      side=(290.0, 22.0), holes=holes))  # fmt: skip


def crossmember():
    """Welded box beam, 5 mm walls, arched down under the pinion; holes let one into the hollow."""
    outline = np.array([(-420, 360), (420, 360), (420, 420), (130, 420), (84, 387), (-84, 387), (-130, 420), (-420, 420)])
    outer = m3.CrossSection([outline.astype(float)])
    inner = outer.offset(-5.0, m3.JoinType.Miter, 4.0)
    # drawn in (y, z), extruded along x
    turn = np.array([[0.0, 0, 1, 0], [1, 0, 0, 0], [0, 1, 0, 0]])
    solid = outer.extrude(90).transform(turn).translate((-320, 0, 0))
    solid -= inner.extrude(80).transform(turn).translate((-315, 0, 0))
    for y in (-340, -250, -160, 160, 250, 340):  # lightening holes, right through along x
        solid -= frustum((-340, y, 390), (-210, y, 390), 17, 17, 24)
    for y in (-295, -60, 60, 295):  # drain holes in the floor
        solid -= frustum((-275, y, 350), (-275, y, 364), 11, 11, 16)
    for y in (-395, 395):  # bolt holes to the frame, right through along z
        solid -= frustum((-275, y, 340), (-275, y, 440), 10, 10, 16)
    return remesh(solid, 31.0, dist=0.6)


def coarse_knuckle():
    """Left knuckle: a bearing ring inside the rim's barrel, a foot at the lower ball joint, a tie rod arm, and a
    neck that leaves the barrel inboard of rim and tyre and goes up to the upper ball joint: from there on all of it
    lies inboard of the tyre's sidewall, which the neck's flat, narrow section is for."""
    lower, upper, rod = np.array([8.0, 722, 290]), np.array([-22.0, 668, 682]), np.array([-140.0, 685, 372])

    def stand_off(tip, root, gap):
        w = np.asarray(root, float) - tip
        return tip + gap * w / np.linalg.norm(w)

    def blade(sections):
        """A bar of flat section: at each place two balls side by side along x, joined by hulls."""
        pairs = [[ball((x - half, y, z), r, 24), ball((x + half, y, z), r, 24)] for (x, y, z), half, r in sections]
        return [m3.Manifold.batch_hull(a + b) for a, b in zip(pairs, pairs[1:])]

    parts = [
        frustum((0, 715, 400), (0, 775, 400), 75, 75, 48),
        *blade([
            ((0, 741, 462), 34, 22),
            ((-8, 706, 530), 24, 17),
            ((-16, 668, 590), 18, 14),
            ((-20, 663, 640), 9, 11.5),
            ((-21, 664, 656), 3, 11),
        ]),
        capsule((4, 745, 345), stand_off(lower, (5, 732, 345), 25), 27, 22, 24),
        capsule((-60, 745, 385), stand_off(rod, (-60, 745, 385), 23), 22, 16, 24),
        capsule((-40, 745, 345), stand_off(rod, (-60, 745, 385), 30), 14, 13, 20),
    ]  # fmt: skip
    solid = union(parts)
    solid -= frustum((0, 560, 400), (0, 800, 400), 50.5, 50.5, 48)
    for c in (lower, upper, rod):
        solid -= ball(c, 22.0, 40)
    return remesh(solid, 17.0, dist=0.5)


def liner(p):
    """Wheel-arch liner: a sheet bent round the wheel's axis, on a grid of angle and y."""
    cz, r, thick = p["centre_z"], p["r"], p["thick"]
    angles = np.radians(stations(*p["liner_deg"], math.degrees(p["edge"] / r)))
    # Straight along y: one strip is the same sheet as many.
    ys = list(p["liner_y"])
    na, ny = len(angles), len(ys)
    sheet = lambda radius: np.array([(radius * np.cos(a), y, cz + radius * np.sin(a)) for a in angles for y in ys])
    v = np.vstack([sheet(r), sheet(r + thick)])
    at = lambda i, j: i * ny + j
    tris = []
    for i in range(na - 1):
        for j in range(ny - 1):
            a, b, c, d = at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)
            tris += [(a, b, c), (a, c, d)] if (i + j) % 2 else [(a, b, d), (b, c, d)]
    return closed_sheet(v, np.array(tris))


def closed_sheet(v, tris):
    """Both faces of a sheet, the second half of `v` the second face, with its rims closed."""
    count = len(v) // 2
    edges = {(a, b) for t in tris for a, b in ((t[0], t[1]), (t[1], t[2]), (t[2], t[0]))}
    rim = sorted((a, b) for a, b in edges if (b, a) not in edges)
    walls = np.array([t for a, b in rim for t in ((b, a, a + count), (b, a + count, b + count))])
    f = np.vstack([tris, tris[:, ::-1] + count, walls])
    return (v, f) if trimesh.Trimesh(v, f, process=False).volume > 0 else (v, f[:, ::-1])


def fender(p):
    """Fender: a sheet on a grid of rays from the wheel's axis. Each ray comes in along the arch's lip, which stands out
    over the tyre, turns into the side panel, and ends where that does: at its top, its front or its rear."""
    (x0, x1), top_z, cz = p["fender_x"], p["fender_top_z"], p["centre_z"]
    skin, lip, r, t = p["skin_y"], p["lip_y"], p["r"] + 2.0, p["thick"]
    corners = [math.atan2(top_z - cz, x) for x in (x1, x0)]
    ends = [math.radians(p["fender_deg"][0]), *corners, math.radians(p["fender_deg"][1])]
    step = p["edge"] / r
    angles = [ends[0]]
    for a, b in zip(ends, ends[1:]):
        angles += stations(a, b, step)[1:]
    inner, outer = [], []
    for angle in angles:
        c, s = math.cos(angle), math.sin(angle)
        reach = min((top_z - cz) / s, (x1 if c > 0 else x0) / c if abs(c) > 1e-9 else math.inf)
        point = lambda rho, y: (rho * c, y, cz + rho * s)
        for y in np.linspace(lip, skin, 3):
            inner.append(point(r, y))
            outer.append(point(r + t, max(y, skin + t)))
        for rho in np.linspace(r + t, reach, p["rows"] + 1)[1:]:
            inner.append(point(rho, skin))
            outer.append(point(rho, skin + t))
    n = len(inner) // len(angles)
    tris = []
    for i in range(len(angles) - 1):
        for j in range(n - 1):
            a, b, c, d = i * n + j, (i + 1) * n + j, (i + 1) * n + j + 1, i * n + j + 1
            tris += [(a, b, c), (a, c, d)] if (i + j) % 2 else [(a, b, d), (b, c, d)]
    return closed_sheet(np.array(inner + outer), np.array(tris))


# Radius of the arch about the wheel's axis as measured: what the tyre needs over its whole travel and steering, its gap,
# and room for the next size of tyre on Tarnwood 4 only.
TARNWOOD_ARCH = dict(
    centre_z=400, r=542, thick=3.0, liner_deg=(8, 158), liner_y=(600, 897), edge=36.0,
    fender_deg=(16, 174), fender_x=(-585, 640), fender_top_z=1000, skin_y=901, lip_y=950, rows=4,
)  # fmt: skip

HOLLIN_ARCH = dict(
    centre_z=481, r=604, thick=3.0, liner_deg=(8, 160), liner_y=(745, 1077), edge=40.0,
    fender_deg=(16, 173), fender_x=(-652, 850), fender_top_z=1150, skin_y=1081, lip_y=1140, rows=4,
)  # fmt: skip

PARTS = {
    "tarnwood_differential_housing": lambda: housing(TARNWOOD_HOUSING),
    "tarnwood_skid_plate": tarnwood_plate,
    "tarnwood_crossmember": crossmember,
    "hollin_differential_housing": lambda: housing(HOLLIN_HOUSING),
    "hollin_skid_plate": hollin_plate,
    "coarse_knuckle": coarse_knuckle,
    "tarnwood_liner": lambda: liner(TARNWOOD_ARCH),
    "tarnwood_fender": lambda: fender(TARNWOOD_ARCH),
    "hollin_liner": lambda: liner(HOLLIN_ARCH),
    "hollin_fender": lambda: fender(HOLLIN_ARCH),
}


def gap(a, b):
    """Least distance between two meshes: exact by manifold3d, searched up to 200 mm."""
    return to_solid(*a).min_gap(to_solid(*b), 200.0)


def main():
    out = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parent
    rng = np.random.default_rng(SEED)
    made, bad = {}, False
    for name, make in PARTS.items():
        v, f = tidy(*make())
        mesh = trimesh.Trimesh(v, f, process=False)
        small, area, alt = shape_figures(v, f)
        closed = mesh.is_watertight and mesh.is_winding_consistent and mesh.body_count == 1 and mesh.volume > 0
        crossings = self_crossings(v, f)
        write_stl(out / f"{name}.stl", v, f)
        made[name] = (v, f)
        lo, hi = v.min(0), v.max(0)
        print(f"{name}: {len(f)} triangles, {len(v)} vertices")
        print("   x {:.1f}..{:.1f}  y {:.1f}..{:.1f}  z {:.1f}..{:.1f}".format(*np.column_stack([lo, hi]).ravel()))
        print(f"   watertight and consistent: {closed}, self crossings {crossings}, volume {mesh.volume / 1e3:.1f} cm3, "
              f"Euler number {mesh.euler_number}")  # fmt: skip
        print(f"   smallest angle: least {small.min():.1f}, 1 in 100 below {np.percentile(small, 1):.1f}, "
              f"median {np.median(small):.1f} deg; least area {area.min():.3f} mm2, least height {alt.min():.3f} mm")  # fmt: skip
        bad |= not closed or crossings > 0 or alt.min() < 0.05
    for a, b in (
        ("tarnwood_differential_housing", "tarnwood_skid_plate"),
        ("tarnwood_differential_housing", "tarnwood_crossmember"),
        ("tarnwood_skid_plate", "tarnwood_crossmember"),
        ("hollin_differential_housing", "hollin_skid_plate"),
    ):
        print(f"gap {a} / {b}: {gap(made[a], made[b]):.3f} mm")
    v, f = made["coarse_knuckle"]
    knuckle = trimesh.Trimesh(v, f, process=False)
    p, _ = trimesh.sample.sample_surface(knuckle, 200000, seed=int(rng.integers(1 << 31)))
    r = np.hypot(p[:, 0], p[:, 2] - 400)[(p[:, 1] > 640) & (p[:, 1] < 715)]
    print(f"knuckle to the outer joint's axis, y 640..715: {r.min():.2f} mm (bore 50, joint 46)")
    for label, c in (("lower ball joint", (8, 722, 290)), ("upper ball joint", (-22, 668, 682)), ("tie rod end", (-140, 685, 372))):
        print(f"knuckle to the {label}'s centre: {np.linalg.norm(p - c, axis=1).min():.2f} mm")
    if bad:
        sys.exit("a mesh failed its checks")


if __name__ == "__main__":
    main()
