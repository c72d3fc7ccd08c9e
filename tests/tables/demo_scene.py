"""Demo scenes read, drawn and posed by means of their own, for the tables that check the demo trucks.

Needs numpy==2.4.6 scipy==1.17.1 manifold3d==3.5.4 trimesh==5.2.0. Written with Python 3.11. The scripts that use it
say what they make of it.

Nothing here comes from the library: RON is read by the few rules below, shapes are drawn with manifold3d's own primitives,
hulls and revolutions, STL files are read by trimesh, and a corner is posed by solving its constraint equations (the
knuckle is one free body, six equations hold it) from the measured position outward in small steps.
"""

import math
import re
from pathlib import Path

import manifold3d as m3
import numpy as np
import trimesh
from scipy.optimize import root
from scipy.spatial.transform import Rotation

ROOT = Path(__file__).resolve().parent.parent.parent
INCH = 25.4
# Segments round a full turn: a circle of 450 mm is missed by 450 (1 - cos(pi / 720)) = 0.0043 mm.
SEGMENTS = 720
# Longest step of travel or rack on the way to a position, mm, and what may be left of an equation, mm.
STEP, RESIDUAL = 8.0, 1e-9


# ---------------------------------------------------------------- RON

TOKEN = re.compile(
    r"""\s+|//[^\n]*|(?P<word>[A-Za-z_]\w*)|(?P<number>[-+]?\d[\d_]*\.?\d*(?:[eE][-+]?\d+)?)"""
    r"""|(?P<text>"(?:[^"\\]|\\.)*")|(?P<mark>[()\[\]:,])"""
)


class Named(tuple):
    """An enum's variant: its name and what it holds."""


def read_ron(text):
    tokens, at = [], 0
    while at < len(text):
        found = TOKEN.match(text, at)
        if not found:
            raise ValueError(f"no RON at {text[at:at + 40]!r}")
        if found.lastgroup:
            tokens.append((found.lastgroup, found.group()))
        at = found.end()
    value, rest = _value(tokens, 0)
    assert rest == len(tokens)
    return value


def _value(tokens, at):
    kind, text = tokens[at]
    if kind == "number":
        return float(text.replace("_", "")), at + 1
    if kind == "text":
        return text[1:-1], at + 1
    if kind == "word":
        if at + 1 < len(tokens) and tokens[at + 1][1] == "(":
            held, at = _group(tokens, at + 1, ")")
            return Named((text, held)), at
        return {"true": True, "false": False}.get(text, text), at + 1
    return _group(tokens, at, {"(": ")", "[": "]"}[text])


def _group(tokens, at, end):
    fields, items = {}, []
    at += 1
    while tokens[at][1] != end:
        if tokens[at][0] == "word" and tokens[at + 1][1] == ":":
            fields[tokens[at][1]], at = _value(tokens, at + 2)
        else:
            item, at = _value(tokens, at)
            items.append(item)
        if tokens[at][1] == ",":
            at += 1
    assert not (fields and items)
    if end == "]":
        return items, at + 1
    return (fields if fields else tuple(items)), at + 1


# ---------------------------------------------------------------- shapes


def turned_onto(axis):
    """Columns: two directions across the axis, and the axis."""
    w = np.asarray(axis, float)
    w = w / np.linalg.norm(w)
    helper = np.eye(3)[np.argmin(np.abs(w))]
    u = np.cross(helper, w)
    u /= np.linalg.norm(u)
    return np.column_stack([u, np.cross(w, u), w])


def frustum(a, b, ra, rb):
    a, b = np.asarray(a, float), np.asarray(b, float)
    length = np.linalg.norm(b - a)
    return m3.Manifold.cylinder(length, ra, rb, SEGMENTS).transform(np.column_stack([turned_onto(b - a), a]))


def lathe(start, axis, profile):
    """A closed outline (along, radius) turned about an axis."""
    outline = np.array([(r, along) for along, r in profile])
    shift = np.roll(outline, -1, axis=0)
    area = np.sum(outline[:, 0] * shift[:, 1] - shift[:, 0] * outline[:, 1])
    if area < 0:
        outline = outline[::-1]
    solid = m3.Manifold.revolve(m3.CrossSection([outline]), SEGMENTS)
    return solid.transform(np.column_stack([turned_onto(axis), np.asarray(start, float)]))


BALL_SEGMENTS = 96


def ball(centre, radius):
    return m3.Manifold.sphere(radius, BALL_SEGMENTS).translate(np.asarray(centre, float))


def ball_missed(radius):
    """By how much the facets of a ball lie inside it at most: told by those of the unit ball, whose corners lie on it, so
    that no point of a facet is nearer to the middle than the foot of the perpendicular on its plane."""
    mesh = m3.Manifold.sphere(1.0, BALL_SEGMENTS).to_mesh64()
    a, b, c = np.array(mesh.vert_properties)[:, :3][np.array(mesh.tri_verts)].transpose(1, 0, 2)
    across = np.cross(b - a, c - a)
    return radius * (1 - np.abs((across * a).sum(1) / np.linalg.norm(across, axis=1)).min())


class Solid:
    """A closed solid, how far its facets lie inside what they stand for, and a point inside it."""

    def __init__(self, solid, facet_mm):
        assert solid.status() == m3.Error.NoError and solid.volume() > 0
        self.solid, self.facet_mm = solid, facet_mm

    def box(self):
        b = np.array(self.solid.bounding_box())
        return b[:3], b[3:]

    def arrays(self):
        mesh = self.solid.to_mesh64()
        return np.array(mesh.vert_properties)[:, :3].copy(), np.array(mesh.tri_verts, dtype=np.int64)


def missed(radius, segments=SEGMENTS):
    return radius * (1 - math.cos(math.pi / segments))


def mesh_solid(path, unit):
    mesh = trimesh.load_mesh(path)
    mesh.merge_vertices(digits_vertex=9)
    assert mesh.is_watertight and mesh.volume > 0, path
    v = np.asarray(mesh.vertices, float) * unit
    solid = m3.Manifold(m3.Mesh64(vert_properties=v, tri_verts=np.asarray(mesh.faces).astype(np.uint64)))
    assert solid.status() == m3.Error.NoError, path
    return solid


UNITS = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "inch": INCH, "foot": 12 * INCH}


def drawn(shape, scale, folder):
    """A shape entry as a solid in mm, where it is drawn."""
    kind, s = shape
    p = lambda name: np.array(s[name], float) * scale
    if kind == "Ball":
        r = s["radius"] * scale
        return Solid(ball(p("centre"), r), ball_missed(r))
    if kind == "Capsule":
        r = s["radius"] * scale
        ends = [ball(p(e), r) for e in ("from", "to")]
        return Solid(m3.Manifold.batch_hull(ends + [frustum(p("from"), p("to"), r, r)]), ball_missed(r))
    if kind == "Cylinder":
        r = s["radius"] * scale
        return Solid(frustum(p("from"), p("to"), r, r), missed(r))
    if kind == "Cone":
        a, b = s["radius_from"] * scale, s["radius_to"] * scale
        return Solid(frustum(p("from"), p("to"), a, b), missed(max(a, b)))
    if kind == "Box":
        size = p("size")
        cube = m3.Manifold.cube(size, True)
        x, y, z = s.get("turned_deg", (0, 0, 0))
        turn = Rotation.from_euler("xyz", (x, y, z), degrees=True).as_matrix()
        return Solid(cube.transform(np.column_stack([turn, p("centre")])), 0.0)
    if kind == "Hull":
        points = np.array(s["points"], float) * scale
        return Solid(m3.Manifold.hull_points(points), 0.0)
    if kind == "Lathe":
        profile = np.array(s["profile"], float) * scale
        return Solid(lathe(p("from"), s["axis"], profile), missed(profile[:, 1].max()))
    if kind == "Mesh":
        assert not {"at", "turned_deg", "holes"} & set(s), "the demos' meshes are drawn in place"
        return Solid(mesh_solid(folder / s["file"], UNITS[s["unit"]]), 0.0)
    raise ValueError(kind)


def mirrored(solid):
    return Solid(solid.solid.mirror((0, 1, 0)), solid.facet_mm)


def swept_full_turn(solid, point, axis, steps=720):
    """What a convex solid sweeps in a full turn: hulls of every two neighbouring places."""
    v = solid.arrays()[0] - point
    axis = axis / np.linalg.norm(axis)
    places = [Rotation.from_rotvec(axis * a).apply(v) + point for a in np.linspace(0, 2 * np.pi, steps, endpoint=False)]
    pieces = [m3.Manifold.hull_points(np.vstack([a, b])) for a, b in zip(places, places[1:] + places[:1])]
    far = np.linalg.norm(np.cross(v, axis), axis=1).max()
    return Solid(m3.Manifold.batch_boolean(pieces, m3.OpType.Add), missed(far, steps))


# ---------------------------------------------------------------- scenes

FRAME = "frame"
TURNING = {"halfshaft", "inner_joint_housing", "outer_joint_housing", "wheel"}


class Part:
    def __init__(self, name, body, solid):
        self.name, self.body, self.solid = name, body, solid


class Scene:
    def __init__(self, name):
        self.path = ROOT / "scenes" / f"{name}.ron"
        self.name, self.entries = name, read_ron(self.path.read_text())
        self.scale = INCH if self.entries["units"] == "inch" else 1.0
        self.side = self.entries["side"]
        self.cache = {}

    def solid(self, shape, mirror):
        key = (repr(shape), mirror)
        if key not in self.cache:
            solid = drawn(shape, self.scale, self.path.parent)
            self.cache[key] = mirrored(solid) if mirror else solid
        return self.cache[key]

    def points(self, side):
        """The corner's points, mm, in vehicle coordinates of its side."""
        e = dict(self.entries)
        mirror = side != self.side
        own = e.get("other_side", {}) if mirror else {}
        flip = np.array([1, -1, 1]) if mirror else np.ones(3)
        pick = lambda field: (own[field], np.ones(3)) if field in own else (e[field], flip)
        at = lambda held, *way: np.array(_deep(held[0], way), float) * self.scale * held[1]
        la, ua, kn, rk, da, hs = (pick(f) for f in ("lower_arm", "upper_arm", "knuckle", "rack", "damper", "halfshaft"))
        out = {
            "lower_front": at(la, "front_pivot"), "lower_rear": at(la, "rear_pivot"), "lower_ball": at(la, "ball_joint"),
            "upper_front": at(ua, "front_pivot"), "upper_rear": at(ua, "rear_pivot"), "upper_ball": at(ua, "ball_joint"),
            "wheel_centre": at(kn, "wheel_centre"), "tie_rod_outer": at(kn, "tie_rod_outer"),
            "tie_rod_inner": at(rk, "tie_rod_inner"),
            "damper_lower": at(da, "lower_mount"), "damper_upper": at(da, "upper_mount"),
            "outer_joint": at(hs, "outer_joint"), "inner_joint": at(hs, "inner_joint"),
        }  # fmt: skip
        assert da[0]["lower_mount_on"] == "lower_arm"
        kind, spindle = kn[0]["spindle"]
        outboard = 1.0 if side == "left" else -1.0
        if kind == "Static":
            assert spindle["toe_deg"] == 0 and spindle["camber_deg"] == 0
            out["spindle"] = np.array([0.0, outboard, 0.0])
        else:
            out["spindle"] = np.array(spindle[0], float) * kn[1]
        for axis in ("flange_axis", "outer_axis"):
            assert axis not in hs[0]
        out["flange"] = np.array([0.0, outboard, 0.0])
        return out

    def parts(self, side):
        """Every part of a corner and everything that the body carries, at the measured position."""
        e, mirror = self.entries, side != self.side
        # Of the points only the halfshaft's differ on the demos' other sides, and of these only the inner joint.
        assert set(e.get("other_side", {})) <= {"halfshaft", "parts"}
        own = {p["name"]: p for p in e.get("other_side", {}).get("parts", [])} if mirror else {}
        p = self.points(side)
        spin = {
            "halfshaft": (p["inner_joint"], p["outer_joint"] - p["inner_joint"]),
            "inner_joint_housing": (p["inner_joint"], p["flange"]),
            "outer_joint_housing": (p["outer_joint"], p["spindle"]),
            "wheel": (p["wheel_centre"], p["spindle"]),
        }
        out = []
        for entry in e["parts"]:
            fitted = entry.get("fitted", "each_side")
            if fitted in ("left", "right") and fitted != side:
                continue
            turn_over = mirror and fitted == "each_side"
            if entry["name"] in own:
                entry, turn_over = own[entry["name"]], False
            solid = self.solid(entry["shape"], turn_over)
            if turn_over and entry["on"] == "inner_joint_housing":
                # A mirrored housing sits where its own side's joint does.
                joint = self.points(self.side)["inner_joint"] * [1, -1, 1]
                solid = Solid(solid.solid.translate(p["inner_joint"] - joint), solid.facet_mm)
            if entry["on"] in TURNING and entry["shape"][0] != "Lathe":
                point, axis = spin[entry["on"]]
                solid = swept_full_turn(solid, point, axis)
            out.append(Part(entry["name"], entry["on"], solid))
        if not any(q.name == "halfshaft" for q in out):
            r = 0.5 * e["halfshaft"]["diameter"] * self.scale
            ends = [p["inner_joint"], p["outer_joint"]]
            solid = m3.Manifold.batch_hull([ball(c, r) for c in ends] + [frustum(*ends, r, r)])
            out.append(Part("halfshaft", "halfshaft", Solid(solid, ball_missed(r))))
        shaft = e.get("front_driveshaft", {})
        if "diameter" in shaft:
            r = 0.5 * shaft["diameter"] * self.scale
            ends = [np.array(shaft[k], float) * self.scale for k in ("transfer_case", "pinion")]
            solid = m3.Manifold.batch_hull([ball(c, r) for c in ends] + [frustum(*ends, r, r)])
            out.append(Part("front driveshaft", "front_driveshaft", Solid(solid, ball_missed(r))))
        return out

    def body(self):
        """What the body carries: each entry once, and its mirror image where it has one."""
        out = []
        for entry in self.entries.get("underbody", []):
            if entry.get("on", FRAME) != FRAME:
                continue
            both = entry.get("both_sides", False)
            for mirror in (False, True) if both else (False,):
                solid = self.solid(entry["shape"], mirror)
                side = "left " if solid.arrays()[0][:, 1].mean() > 0 else "right "
                out.append(Part(side * both + entry["name"], FRAME, solid))
        return out


def _deep(value, way):
    for step in way:
        value = value[step]
    return value


# ---------------------------------------------------------------- poses


class Linkage:
    """One corner's knuckle by six equations: both ball joints keep their distances to their arm's pivots, the tie rod its
    length, and the wheel centre stands at the travel asked for."""

    def __init__(self, points):
        self.p = points
        p = points
        d = lambda a, b: np.linalg.norm(p[a] - p[b])
        self.lengths = [
            d("lower_ball", "lower_front"), d("lower_ball", "lower_rear"),
            d("upper_ball", "upper_front"), d("upper_ball", "upper_rear"), d("tie_rod_outer", "tie_rod_inner"),
        ]  # fmt: skip
        self.carried = ("lower_ball", "upper_ball", "tie_rod_outer")

    def _equations(self, x, travel, rack):
        p, c = self.p, self.p["wheel_centre"]
        turn = Rotation.from_rotvec(x[3:] / 300.0)
        now = [turn.apply(p[k] - c) + c + x[:3] for k in self.carried]
        lower, upper, rod = now
        n = np.linalg.norm
        got = [
            n(lower - p["lower_front"]), n(lower - p["lower_rear"]), n(upper - p["upper_front"]),
            n(upper - p["upper_rear"]), n(rod - p["tie_rod_inner"] - (0, rack, 0)),
        ]  # fmt: skip
        return [a - b for a, b in zip(got, self.lengths)] + [x[2] - travel]

    def pose(self, travel, rack):
        """The knuckle's motion from the measured position: turn and shift of vehicle coordinates."""
        steps = max(1, math.ceil(max(abs(travel), abs(rack)) / STEP))
        x = np.zeros(6)
        for k in range(1, steps + 1):
            s = root(self._equations, x, args=(travel * k / steps, rack * k / steps), tol=1e-13)
            x = s.x
        if np.abs(self._equations(x, travel, rack)).max() > RESIDUAL:
            raise ValueError(f"no pose at travel {travel}, rack {rack}")
        turn, c = Rotation.from_rotvec(x[3:] / 300.0).as_matrix(), self.p["wheel_centre"]
        return turn, c + x[:3] - turn @ c

    def arm_turn_rad(self, pose):
        """How far the lower arm has turned about its pivots' line, as far as its ball joint was, and that line."""
        turn, shift = pose
        a, b = self.p["lower_front"], self.p["lower_rear"]
        axis = (b - a) / np.linalg.norm(b - a)
        across = lambda q: q - a - axis * np.dot(q - a, axis)
        was, now = across(self.p["lower_ball"]), across(turn @ self.p["lower_ball"] + shift)
        return math.atan2(np.dot(axis, np.cross(was, now)), np.dot(was, now)), axis

    def arm_point(self, pose, point):
        """Where a point of the lower arm is."""
        angle, axis = self.arm_turn_rad(pose)
        a = self.p["lower_front"]
        return Rotation.from_rotvec(axis * angle).apply(point - a) + a

    def damper_mm(self, pose):
        return np.linalg.norm(self.arm_point(pose, self.p["damper_lower"]) - self.p["damper_upper"])
