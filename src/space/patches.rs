//! A clearance map's tight regions as connected patches, and the map in numbers.
//!
//! Two faces belong together where they share a corner that is tight too. A region that is only near is listed where no
//! part of it misses a required gap; where some does, each part that does is listed for itself, its area cut at the line on
//! which the required gap is just kept.

use super::clearance_map::{ClearanceMap, Place, Spot};
use super::part_mesh::{edge, edges};
use super::too_near::{PatchSide, Search};
use super::trim_marks::{MOST_TURN_DEG, TrimMark, smooth_sides, way_out};
use crate::findings::{ClearanceFindings, MoverGap, TightPatch, TightSpot, TrimSheet, cautions};
use crate::truck::touches;
use nalgebra::Vector3;
use rayon::prelude::*;

type V = Vector3<f64>;

/// A connected region of a map.
#[derive(Clone, Debug, PartialEq)]
pub struct Patch {
    /// Its faces.
    pub faces: Vec<u32>,
    /// Whether a required gap is missing in it.
    pub violated: bool,
    /// Whether it is touched.
    pub touched: bool,
    /// Area, mm^2: of a violated one, where the gap is missing.
    pub area_mm2: f64,
    /// The middle of that area.
    pub middle: V,
    /// Its face with the least room.
    pub tightest_face: u32,
    /// What is known there, or at the corner where most must be cut.
    pub tightest: Place,
    /// How far the surface must recede, mm.
    pub cut_mm: f64,
    /// Whether that may be more.
    pub cut_is_at_least: bool,
    /// Numbers of the movers that come too near, or near.
    pub against: Vec<u32>,
    /// Of a violated one: its smooth sides, with how far each must go back.
    pub sides: Vec<PatchSide>,
    /// Numbers of the pieces of material that are too near it.
    pub(super) pieces: Vec<u32>,
}

/// A corner or a face of a map.
#[derive(Clone, Copy, Debug)]
pub(super) enum Of {
    Corner(u32),
    Face(u32),
}

/// What has no more room than this is near, mm.
const NEAR_MM: f64 = 10.0;

/// Groups of numbers that belong together, by path halving; the least number stands for its group.
pub(super) struct Union(Vec<u32>);

impl Union {
    pub(super) fn new(count: usize) -> Union {
        Union((0..count as u32).collect())
    }

    pub(super) fn root(&mut self, mut i: u32) -> u32 {
        while self.0[i as usize] != i {
            self.0[i as usize] = self.0[self.0[i as usize] as usize];
            i = self.0[i as usize];
        }
        i
    }

    pub(super) fn join(&mut self, a: u32, b: u32) {
        let (a, b) = (self.root(a), self.root(b));
        self.0[a.max(b) as usize] = a.min(b);
    }
}

/// Faces with room below a level, in groups that share corners with room below it.
fn connected(map: &ClearanceMap, level_mm: f64) -> Vec<Vec<u32>> {
    let tight = |spot: &Spot| spot.room_mm < level_mm;
    let faces: Vec<u32> = (0..map.mesh.triangles.len() as u32)
        .filter(|t| tight(&map.at_face[*t as usize]))
        .collect();
    let mut first_at: Vec<Option<u32>> = vec![None; map.mesh.points.len()];
    let mut union = Union::new(faces.len());
    for (n, t) in faces.iter().enumerate() {
        for corner in map.mesh.triangles[*t as usize] {
            if !tight(&map.at_point[corner as usize]) {
                continue;
            }
            match first_at[corner as usize] {
                Some(other) => union.join(n as u32, other),
                None => first_at[corner as usize] = Some(n as u32),
            }
        }
    }
    let mut groups: Vec<Vec<u32>> = vec![Vec::new(); faces.len()];
    for (n, t) in faces.iter().enumerate() {
        groups[union.root(n as u32) as usize].push(*t);
    }
    groups.retain(|g| !g.is_empty());
    groups
}

impl ClearanceMap {
    /// The part of a face in which the required gap is missing: corners in order. All of it where only its inside is short.
    pub(super) fn short_part(&self, face: u32) -> Vec<V> {
        short_part(self, face)
    }
}

fn short_part(map: &ClearanceMap, face: u32) -> Vec<V> {
    let triangle = map.mesh.triangles[face as usize];
    let short = triangle.map(|i| map.at_point[i as usize].room_mm < 0.0);
    if !short.iter().any(|s| *s) {
        return map.mesh.corners(face as usize).to_vec();
    }
    let mut out = Vec::new();
    for i in 0..3 {
        let (a, b) = (triangle[i], triangle[(i + 1) % 3]);
        if short[i] {
            out.push(map.mesh.points[a as usize]);
        }
        if short[i] != short[(i + 1) % 3] {
            out.extend(map.line.get(&edge(a, b)));
        }
    }
    out
}

/// All patches, deepest cut first, then by room. `place` says what is known of a corner or face.
pub(super) fn patches(map: &ClearanceMap, place: &dyn Fn(Of) -> Place) -> Vec<Patch> {
    let mut out = Vec::new();
    for faces in connected(map, NEAR_MM) {
        if faces
            .iter()
            .all(|t| map.at_face[*t as usize].room_mm >= 0.0)
        {
            out.push(patch(map, faces, false, place));
        }
    }
    for faces in connected(map, 0.0) {
        out.push(patch(map, faces, true, place));
    }
    sort(&mut out);
    out
}

fn sort(patches: &mut [Patch]) {
    let room = |p: &Patch| p.tightest.spot.room_mm;
    patches.sort_by(|a, b| {
        let deeper = b.cut_mm.total_cmp(&a.cut_mm);
        deeper
            .then(room(a).total_cmp(&room(b)))
            .then(a.tightest_face.cmp(&b.tightest_face))
    });
}

/// Tells every violated patch how far its sides must go back, from the material that is too near.
pub(super) fn cut_back(map: &mut ClearanceMap, search: &Search) {
    let regions = smooth_regions(map, MOST_TURN_DEG);
    let mut patches = std::mem::take(&mut map.patches);
    for patch in patches.iter_mut().filter(|p| p.violated) {
        patch.pieces = search.found.pieces_of(&map.mesh, &patch.faces);
        let sides: Vec<(Vec<u32>, V)> = smooth_sides(patch, &regions)
            .into_iter()
            .map(|faces| {
                let out = way_out(map, &faces, patch.tightest_face);
                (faces, out)
            })
            .collect();
        let pieces = &patch.pieces;
        let of_map = &*map;
        patch.sides = sides
            .into_par_iter()
            .map(|(faces, out)| {
                let points = faces.iter().flat_map(|t| short_part(of_map, *t));
                let top = points
                    .map(|p| p.dot(&out))
                    .fold(f64::NEG_INFINITY, f64::max);
                search.side(pieces, faces, out, top)
            })
            .collect();
        // A plate that is met at its edge isn't cut back from its face, which would take all of it.
        let stays = patch.sides.iter().any(|s| !s.is_through);
        let counted = patch.sides.iter().filter(|s| !(stays && s.is_through));
        let deepest = counted.map(|s| s.cut_mm).fold(0.0, f64::max);
        patch.cut_is_at_least = search.found.is_at_least || patch.pieces.is_empty();
        if !patch.pieces.is_empty() {
            patch.cut_mm = deepest;
        }
    }
    sort(&mut patches);
    map.patches = patches;
}

fn patch(
    map: &ClearanceMap,
    faces: Vec<u32>,
    violated: bool,
    place: &dyn Fn(Of) -> Place,
) -> Patch {
    let mut area = 0.0;
    let mut moment = V::zeros();
    let mut cut: f64 = 0.0;
    let mut cut_is_at_least = false;
    let mut tightest = faces[0];
    let mut deepest = Of::Face(tightest);
    let mut touched = false;
    let mut against = Vec::new();
    for t in &faces {
        let spot = &map.at_face[*t as usize];
        let corners = if violated {
            short_part(map, *t)
        } else {
            map.mesh.corners(*t as usize).to_vec()
        };
        for i in 1..corners.len().saturating_sub(1) {
            let [a, b, c] = [corners[0], corners[i], corners[i + 1]];
            let own = 0.5 * (b - a).cross(&(c - a)).norm();
            area += own;
            moment += (a + b + c) * (own / 3.0);
        }
        if spot.room_mm < map.at_face[tightest as usize].room_mm {
            tightest = *t;
        }
        touched |= touches(spot.gap_mm);
        against.extend(spot.to);
        // Depths are known at corners; a face that only its inside is touched at has its own, which is a least one.
        let short = map.mesh.triangles[*t as usize]
            .into_iter()
            .filter(|i| map.at_point[*i as usize].room_mm < 0.0)
            .max_by(|a, b| {
                let cut = |i: &u32| map.at_point[*i as usize].cut_mm;
                cut(a).total_cmp(&cut(b))
            });
        let (own, of) = match short.map(|i| (&map.at_point[i as usize], Of::Corner(i))) {
            Some(corner) if corner.0.cut_mm >= spot.cut_mm => corner,
            _ => (spot, Of::Face(*t)),
        };
        if own.cut_mm > cut {
            (cut, deepest) = (own.cut_mm, of);
        }
        cut_is_at_least |= own.cut_is_at_least;
    }
    against.sort_unstable();
    against.dedup();
    Patch {
        middle: if area > 0.0 {
            moment / area
        } else {
            map.mesh.corners(tightest as usize)[0]
        },
        faces,
        violated,
        touched,
        area_mm2: area,
        tightest_face: tightest,
        tightest: place(if cut > 0.0 {
            deepest
        } else {
            Of::Face(tightest)
        }),
        cut_mm: cut,
        cut_is_at_least,
        against,
        sides: Vec::new(),
        pieces: Vec::new(),
    }
}

/// Near patches listed, at most.
const MOST_NEAR_PATCHES: usize = 8;

/// The map in numbers. `marks` are the violated patches' outlines.
pub fn clearance_findings(
    truck: &str,
    map: &ClearanceMap,
    marks: &[TrimMark],
) -> ClearanceFindings {
    let mut listed = Vec::new();
    let mut near = 0;
    let mut not_listed = 0;
    for (n, patch) in map.patches.iter().enumerate() {
        if !patch.violated {
            near += 1;
            if near > MOST_NEAR_PATCHES {
                not_listed += 1;
                continue;
            }
        }
        let outlines = marks.iter().filter(|m| m.patch == n);
        let mut against: Vec<String> = Vec::new();
        for mover in &patch.against {
            let name = &map.movers[*mover as usize].part;
            if !against.contains(name) {
                against.push(name.clone());
            }
        }
        listed.push(TightPatch {
            violated: patch.violated,
            touched: patch.touched,
            area_mm2: patch.area_mm2,
            middle_mm: patch.middle.into(),
            tightest: tight_spot(map, &patch.tightest),
            cut_mm: patch.cut_mm,
            cut_is_at_least: patch.cut_is_at_least,
            against,
            outline_mm: outlines
                .map(TrimMark::length_mm)
                .fold(0.0, |sum, mm| sum + mm),
        });
    }
    let mut movers: Vec<MoverGap> = map
        .movers
        .iter()
        .zip(&map.nearest)
        .map(|(name, place)| MoverGap {
            part: name.part.clone(),
            side: name.side,
            setup: name.setup.clone(),
            required_mm: name.required_mm,
            nearest: place.as_ref().map(|p| tight_spot(map, p)),
        })
        .collect();
    let gap = |m: &MoverGap| m.nearest.as_ref().map_or(f64::INFINITY, |n| n.gap_mm);
    movers.sort_by(|a, b| gap(a).total_cmp(&gap(b)));
    ClearanceFindings {
        truck: truck.to_owned(),
        part: map.part.clone(),
        on: map.on,
        setups: map.setups.iter().flatten().cloned().collect(),
        sides: map.sides.clone(),
        faces_drawn: map.faces_drawn,
        faces: map.mesh.triangles.len(),
        vertices: map.mesh.points.len(),
        tolerance_mm: map.options.tolerance_mm,
        cutoff_mm: map.options.cutoff_mm,
        tightest: map.tightest.as_ref().map(|p| tight_spot(map, p)),
        movers,
        patches: listed,
        patches_not_listed: not_listed,
        sheets: marks.iter().map(|mark| trim_sheet(map, mark)).collect(),
        left_out: map.left_out.clone(),
        unproved_cells: map.unproved_cells,
        open_ends: map.open_ends.clone(),
        across_middle: map.across_middle.clone(),
        notes: map.notes.clone(),
        warnings: map.warnings.clone(),
        cautions: cautions(),
    }
}

fn trim_sheet(map: &ClearanceMap, mark: &TrimMark) -> TrimSheet {
    let sheet = &mark.sheet;
    let own = &map.patches[mark.patch];
    let is_cleared = |patch: &Patch| patch.pieces.iter().all(|p| own.pieces.contains(p));
    let violated = map.patches.iter().enumerate().filter(|(_, p)| p.violated);
    let flat = mark.outlines.iter();
    TrimSheet {
        patch: mark.patch + 1,
        clears: violated
            .filter(|(n, patch)| *n == mark.patch || is_cleared(patch))
            .map(|(n, _)| n + 1)
            .collect(),
        origin_mm: sheet.origin.into(),
        right: sheet.right.into(),
        up: sheet.up.into(),
        out: sheet.out.into(),
        depth_mm: mark.depth_mm,
        depth_is_at_least: mark.depth_is_at_least,
        is_through: mark.is_through,
        most_excess_mm: mark.most_excess_mm,
        outlines_mm: flat
            .map(|o| o.points.iter().map(|p| sheet.flat(p)).collect())
            .collect(),
    }
}

fn tight_spot(map: &ClearanceMap, place: &Place) -> TightSpot {
    let mover = &map.movers[place.spot.to.unwrap_or(0) as usize];
    TightSpot {
        to: mover.part.clone(),
        side: mover.side,
        setup: mover.setup.clone(),
        gap_mm: place.spot.gap_mm,
        required_mm: mover.required_mm,
        at_mm: place.at.into(),
        travel_mm: place.spot.travel_mm,
        rack_mm: place.spot.rack_mm,
        steer_deg: place.steer_deg,
        at_rest: mover.at_rest,
    }
}

/// Numbers for faces so that smooth neighbours have the same: they share an edge that no other face has, and turn by less
/// than an angle there.
pub(super) fn smooth_regions(map: &ClearanceMap, most_turn_deg: f64) -> Vec<u32> {
    let count = map.mesh.triangles.len();
    let mut sides: Vec<((u32, u32), u32)> = Vec::with_capacity(3 * count);
    for (t, triangle) in map.mesh.triangles.iter().enumerate() {
        sides.extend(edges(*triangle).map(|e| (e, t as u32)));
    }
    sides.sort_unstable();
    let mut union = Union::new(count);
    let flattest = most_turn_deg.to_radians().cos();
    let mut i = 0;
    while i < sides.len() {
        let same = sides[i..].iter().take_while(|s| s.0 == sides[i].0).count();
        if same == 2 {
            let (a, b) = (sides[i].1, sides[i + 1].1);
            let [m, n] = [a, b].map(|t| map.mesh.area_normal(t as usize));
            if m.dot(&n) >= flattest * m.norm() * n.norm() {
                union.join(a, b);
            }
        }
        i += same;
    }
    (0..count as u32).map(|t| union.root(t)).collect()
}
