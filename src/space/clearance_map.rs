//! A part's clearance map: the least gap of every corner and every face to everything that moves near it.
//!
//! The idea in five lines. The part's own tree is walked from the top: for the ball around each node the cells of
//! positions that can matter are sifted out, and nodes that nothing comes near drop out whole. In the small groups that
//! remain every corner's least room is found, each starting from its neighbour's answer. Edges are split where something
//! comes near, finest along the line on which the required gap is just kept. Last come the faces, each starting from
//! its corners. Groups are shared between threads, and nothing in one depends on another.

use super::least_gap::{Candidate, Found, Movers, Target};
use super::part_mesh::{Edge, PartMesh, TreeMesh, edges};
use super::patches::{Of, Patch, cut_back, patches};
use super::stages::{ClearanceError, ClearanceOptions, KnownTravels, MoverName, Plan, Scenery};
use super::too_near::{Search, TooNear};
use crate::findings::{AcrossMiddle, LeftOut, OpenEnd};
use crate::kinematics::wheel_angles;
use crate::shapes::ElementKind;
use crate::suspension::{Body, Side};
use crate::truck::Truck;
use nalgebra::Vector3;
use rayon::prelude::*;
use std::collections::{HashMap, HashSet};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

type V = Vector3<f64>;

/// How near something comes to a corner or face.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spot {
    /// Number among the map's movers; none: nothing comes nearer than the cutoff.
    pub to: Option<u32>,
    /// The gap, not below zero; the cutoff where there is none nearer, mm.
    pub gap_mm: f64,
    /// The gap less what must remain, or less the tolerance where that is more; below zero where it is missing, mm.
    pub room_mm: f64,
    /// How far at least the surface must recede here, mm: deeper than the room is short of where parts go into each other.
    pub cut_mm: f64,
    /// Whether the cut may have to be deeper: wherever any is needed, since which way a side goes back decides. A patch
    /// says what is enough.
    pub cut_is_at_least: bool,
    /// Wheel travel, mm.
    pub travel_mm: f64,
    /// Rack, toward +y positive, mm.
    pub rack_mm: f64,
}

/// A place of the part with all that is known of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// How near.
    pub spot: Spot,
    /// The part's point, mm.
    pub at: V,
    /// That wheel's steer, left positive, degrees.
    pub steer_deg: f64,
}

const NOWHERE: Place = Place {
    spot: Spot {
        to: None,
        gap_mm: f64::INFINITY,
        room_mm: f64::INFINITY,
        cut_mm: 0.0,
        cut_is_at_least: false,
        travel_mm: 0.0,
        rack_mm: 0.0,
    },
    at: V::new(0.0, 0.0, 0.0),
    steer_deg: 0.0,
};

/// The map.
#[derive(Clone, Debug)]
pub struct ClearanceMap {
    /// The part's name.
    pub part: String,
    /// The body that carries it.
    pub on: Body,
    /// Setups mapped over.
    pub setups: Vec<Option<String>>,
    /// Sides looked at.
    pub sides: Vec<Side>,
    /// The part, split where something comes near; vehicle coordinates as measured.
    pub mesh: PartMesh,
    /// Of each corner.
    pub at_point: Vec<Spot>,
    /// Of each face.
    pub at_face: Vec<Spot>,
    /// On the edges that it crosses, where the required gap is just kept.
    pub line: HashMap<Edge, V>,
    /// Its tight regions, deepest cut first.
    pub patches: Vec<Patch>,
    /// The material that is too near.
    pub(super) too_near: TooNear,
    /// Who moves.
    pub movers: Vec<MoverName>,
    /// Where each mover comes nearest; none: not within the cutoff.
    pub nearest: Vec<Option<Place>>,
    /// Where most must be cut, else where there is the least room.
    pub tightest: Option<Place>,
    /// Faces as drawn.
    pub faces_drawn: usize,
    /// What was asked.
    pub options: ClearanceOptions,
    /// Parts not looked at.
    pub left_out: Vec<LeftOut>,
    /// Cells that couldn't be proved.
    pub unproved_cells: usize,
    /// Where the free travel that was looked at ends because the search did.
    pub open_ends: Vec<OpenEnd>,
    /// Parts of one side that come to the truck's middle, where what the other side moves wasn't looked at.
    pub across_middle: Vec<AcrossMiddle>,
    /// What a person should know.
    pub notes: Vec<String>,
    /// What the trucks that were built want said, each once, with its setup where there are several.
    pub warnings: Vec<String>,
}

/// A group's triangles are at most this many, or lie within this of each other, mm.
const GROUP_FACES: u32 = 16;
/// See `GROUP_FACES`.
const GROUP_RADIUS_MM: f64 = 4.0;
/// Groups that nothing comes near.
const FAR: u32 = u32::MAX;
/// Edges may be this share of the gap, where that is more than the resolution.
const EDGE_FOR_GAP: f64 = 0.5;
/// Edges along the line of the required gap are no longer than this, mm.
const LINE_EDGE_MM: f64 = 2.0;
/// The line's pieces lie this near the true line where that takes no more than `LINE_ROUNDS` further splits, mm.
const LINE_ERROR_MM: f64 = 0.2;
/// See `LINE_ERROR_MM`.
const LINE_ROUNDS: usize = 3;
/// Rounds of splitting: from the longest edge asked about to far below the finest.
const MOST_ROUNDS: usize = 16;
/// The line is found on an edge to within this, mm, in at most `LINE_STEPS` steps.
const ON_EDGE_MM: f64 = 0.02;
/// See `ON_EDGE_MM`.
const LINE_STEPS: usize = 8;
/// More faces aren't kept.
const MOST_FACES: usize = 6_000_000;
/// Levels of the part's tree that are asked which movers come near at all.
const CULL_LEVELS: usize = 5;

/// Makes the map of a part over its trucks: one scene in one or several setups. `progress` is told the step and the
/// share done and answers whether to go on.
///
/// # Errors
/// [`ClearanceError`].
pub fn clearance_map(
    trucks: &[Truck],
    options: &ClearanceOptions,
    progress: &(dyn Fn(&str, f64) -> bool + Sync),
) -> Result<ClearanceMap, ClearanceError> {
    let known = KnownTravels::default();
    clearance_map_again(trucks, options, &known, &|_| (), progress)
}

/// The corners of a map whose faces are still being asked.
#[derive(Clone, Debug)]
pub struct MapCorners {
    /// As [`ClearanceMap::mesh`].
    pub mesh: PartMesh,
    /// As [`ClearanceMap::at_point`], but for depths: a cut is told no deeper than what must remain.
    pub at_point: Vec<Spot>,
}

/// The same map, sooner where only the part was moved since the last with the same `known`. `early` is told the corners as
/// soon as they are found, about half way.
///
/// # Errors
/// [`ClearanceError`].
pub fn clearance_map_again(
    trucks: &[Truck],
    options: &ClearanceOptions,
    known: &KnownTravels,
    early: &(dyn Fn(MapCorners) + Sync),
    progress: &(dyn Fn(&str, f64) -> bool + Sync),
) -> Result<ClearanceMap, ClearanceError> {
    check(options)?;
    let scenery = Scenery::new(trucks, options, known, progress)?;
    map_of(
        &scenery,
        &seeing_far_enough(options, &scenery),
        early,
        progress,
    )
}

/// [`clearance_map`] with its motion bounds multiplied: a test's way to show that too small a bound is caught.
///
/// # Errors
/// [`ClearanceError`].
pub fn clearance_map_with_bound_factor(
    trucks: &[Truck],
    options: &ClearanceOptions,
    bound_factor: f64,
) -> Result<ClearanceMap, ClearanceError> {
    check(options)?;
    let progress = |_: &str, _| true;
    let known = KnownTravels::default();
    let scenery = Scenery {
        bound_factor,
        ..Scenery::new(trucks, options, &known, &progress)?
    };
    map_of(
        &scenery,
        &seeing_far_enough(options, &scenery),
        &|_| (),
        &progress,
    )
}

/// The cutoff is at least this many times the greatest gap that must remain, so that a gap that is kept is told as a number.
const CUTOFF_SHARE: f64 = 1.25;

/// The options with a cutoff beyond the gaps that the scene asks for: what is missing of one must not lie beyond it.
fn seeing_far_enough(options: &ClearanceOptions, scenery: &Scenery) -> ClearanceOptions {
    let greatest = scenery.greatest_required_mm() + options.tolerance_mm;
    ClearanceOptions {
        cutoff_mm: if options.cutoff_mm > greatest {
            options.cutoff_mm
        } else {
            CUTOFF_SHARE * greatest
        },
        ..options.clone()
    }
}

fn map_of(
    scenery: &Scenery,
    options: &ClearanceOptions,
    early: &(dyn Fn(MapCorners) + Sync),
    progress: &(dyn Fn(&str, f64) -> bool + Sync),
) -> Result<ClearanceMap, ClearanceError> {
    let drawn = PartMesh::of(scenery.surface);
    let near = near_plans(scenery, &drawn, options);
    let movers = scenery.movers_of(&near, options);
    // Movers that never come near are listed too, behind the others.
    let mut names: Vec<MoverName> = Vec::new();
    let mut first = Vec::new();
    for plan in &near {
        first.push(names.len() as u32);
        names.extend((0..plan.movers.len()).map(|m| scenery.name(plan, m)));
    }
    let work = Work {
        movers: &movers,
        first,
        options,
        stop: AtomicBool::new(false),
        progress,
    };
    let (mut mesh, mut groups) = work.groups(&drawn)?;
    let mut found = work.points(&mesh, &groups)?;
    work.refine(&mut mesh, &mut groups, &mut found)?;
    early(MapCorners {
        mesh: mesh.clone(),
        at_point: found.iter().map(|f| work.spot(f)).collect(),
    });
    let line = work.line(&mesh, &groups, &found);
    let faces = work.faces(&mesh, &groups, &found)?;
    let mut nearest = work.nearest(&drawn)?;
    for plan in &scenery.plans {
        for m in 0..plan.movers.len() {
            let name = scenery.name(plan, m);
            if !names.contains(&name) {
                names.push(name);
                nearest.push(None);
            }
        }
    }
    let at_point = work.corner_spots(&mesh, &groups, &mut found);
    let at_face = faces.iter().map(|f| work.spot(f)).collect();
    let mut notes = scenery.notes.clone();
    if scenery.is_revolved {
        notes.push(
            "The part turns with its shaft or wheel: mapped is the full revolution that it sweeps."
                .to_owned(),
        );
    }
    let mut sides: Vec<Side> = movers.stages.iter().map(|s| s.side).collect();
    sides.sort_by_key(|s| s.name());
    sides.dedup();
    let mut setups: Vec<Option<String>> = Vec::new();
    for stage in &movers.stages {
        if !setups.contains(&stage.setup) {
            setups.push(stage.setup.clone());
        }
    }
    let mut map = ClearanceMap {
        part: options.part.clone(),
        on: scenery.body,
        setups,
        sides,
        at_point,
        at_face,
        line,
        movers: names,
        nearest,
        tightest: None,
        faces_drawn: if scenery.surface.kind == ElementKind::Triangle {
            scenery.surface.elements.len()
        } else {
            drawn.mesh.triangles.len()
        },
        options: options.clone(),
        left_out: scenery.left_out.clone(),
        unproved_cells: movers.unproved(),
        open_ends: scenery.open_ends(),
        across_middle: scenery.across_middle.clone(),
        notes,
        warnings: scenery.warnings.clone(),
        mesh,
        patches: Vec::new(),
        too_near: TooNear::none(),
    };
    map.patches = patches(&map, &|of| {
        let (found, target) = match of {
            Of::Corner(i) => (
                found[i as usize],
                Target::point(map.mesh.points[i as usize]),
            ),
            Of::Face(t) => (
                faces[t as usize],
                Target::triangle(map.mesh.corners(t as usize)),
            ),
        };
        // Only what something comes near to is in a patch.
        found.map_or(NOWHERE, |f| work.place(&f, &target))
    });
    if map.patches.iter().any(|p| p.violated) {
        let surface = scenery.surface;
        let is_closed = surface.kind != ElementKind::Triangle || surface.closed;
        let search = Search::new(&movers, &drawn, is_closed, &|| work.go_on(0.95));
        work.done()?;
        cut_back(&mut map, &search);
        map.too_near = search.found;
        map.unproved_cells = movers.unproved();
    }
    let least = (0..faces.len())
        .filter_map(|t| faces[t].map(|f| (t, f)))
        .min_by(|a, b| a.1.room_mm.total_cmp(&b.1.room_mm).then(a.0.cmp(&b.0)));
    map.tightest = match map.patches.first() {
        Some(patch) if patch.violated => Some(patch.tightest),
        _ => least.map(|(t, f)| work.place(&f, &Target::triangle(map.mesh.corners(t)))),
    };
    Ok(map)
}

/// A finer tolerance than this is not proved in any useful time, and no tape measures it, mm.
const LEAST_TOLERANCE_MM: f64 = 0.001;

fn check(options: &ClearanceOptions) -> Result<(), ClearanceError> {
    let bad = |what, must: &str| Err(ClearanceError::BadOption(what, must.to_owned()));
    let above_zero = |v: f64| v.is_finite() && v > 0.0;
    if !above_zero(options.tolerance_mm) {
        return bad("the tolerance", "above zero");
    }
    if options.tolerance_mm < LEAST_TOLERANCE_MM {
        let must = format!("at least {LEAST_TOLERANCE_MM} mm");
        return bad("the tolerance", &must);
    }
    if !above_zero(options.resolution_mm) {
        return bad("the resolution", "above zero");
    }
    if options
        .required_mm
        .is_some_and(|r| !(r.is_finite() && r >= 0.0))
    {
        return bad("the required gap", "zero or more");
    }
    if !(options.cutoff_mm.is_finite() && options.cutoff_mm > options.tolerance_mm) {
        return bad("the cutoff", "more than the tolerance");
    }
    if options.required_mm.is_some_and(|r| r >= options.cutoff_mm) {
        return bad("the cutoff", "more than the required gap");
    }
    Ok(())
}

/// The plans with the movers that come nearer than the cutoff to some ball around a part of the part.
fn near_plans(scenery: &Scenery, drawn: &TreeMesh, options: &ClearanceOptions) -> Vec<Plan> {
    let movers = scenery.movers_of(&scenery.plans, options);
    let mut balls = vec![0_u32];
    for _ in 0..CULL_LEVELS {
        balls = balls
            .into_iter()
            .flat_map(|n| {
                let node = &drawn.tree.nodes[n as usize];
                if node.count > 0 {
                    vec![n]
                } else {
                    vec![node.first, node.first + 1]
                }
            })
            .collect();
    }
    let roots = movers.roots();
    let near: Vec<(u16, u16)> = roots
        .par_iter()
        .filter(|c| {
            balls.iter().any(|n| {
                let (middle, radius) = drawn.ball(*n);
                movers.comes_near(**c, &middle, radius)
            })
        })
        .map(|c| (c.stage, c.mover))
        .collect();
    let plans = scenery.plans.iter().enumerate();
    plans
        .map(|(s, plan)| Scenery::keep(plan, |m| near.contains(&(s as u16, m as u16))))
        .collect()
}

impl TreeMesh {
    /// A ball around a node, in the mesh's coordinates.
    fn ball(&self, node: u32) -> (V, f64) {
        let node = &self.tree.nodes[node as usize];
        let middle = self.origin + self.rotation * node.bounds.middle;
        (middle, node.radius)
    }

    /// A node's triangles, from and to.
    fn triangles_of(&self, node: u32) -> [u32; 2] {
        let nodes = &self.tree.nodes;
        let first = nodes[node as usize].first_element(nodes);
        let mut last = &nodes[node as usize];
        while last.count == 0 {
            last = &nodes[last.first as usize + 1];
        }
        [first, last.first + last.count]
    }

    /// Whether a node is a group: few triangles, or close together.
    fn is_group(&self, node: u32) -> bool {
        let own = &self.tree.nodes[node as usize];
        let [first, last] = self.triangles_of(node);
        own.count > 0 || last - first <= GROUP_FACES || own.radius <= GROUP_RADIUS_MM
    }
}

/// What may matter to the triangles and corners of each group.
struct Groups<'n> {
    candidates: Vec<Vec<Candidate<'n>>>,
    of_point: Vec<u32>,
}

struct Work<'m, 'a> {
    movers: &'m Movers<'a>,
    /// Number of each stage's first mover among all.
    first: Vec<u32>,
    options: &'m ClearanceOptions,
    stop: AtomicBool,
    progress: &'m (dyn Fn(&str, f64) -> bool + Sync),
}

impl<'m> Work<'m, '_> {
    fn go_on(&self, share: f64) -> bool {
        if !(self.progress)("clearance map", share) {
            self.stop.store(true, Ordering::Relaxed);
        }
        !self.stop.load(Ordering::Relaxed)
    }

    fn done(&self) -> Result<(), ClearanceError> {
        if self.stop.load(Ordering::Relaxed) {
            return Err(ClearanceError::Cancelled);
        }
        Ok(())
    }

    /// Walks the part's tree down to groups that something comes near.
    fn groups(&self, drawn: &TreeMesh) -> Result<(PartMesh, Groups<'m>), ClearanceError> {
        enum Part<'n> {
            Group(u32, Vec<Candidate<'n>>),
            Inner(u32, Vec<Candidate<'n>>),
        }
        let mut mesh = drawn.mesh.clone();
        mesh.group = vec![FAR; mesh.triangles.len()];
        let mut candidates = Vec::new();
        let mut level = vec![(0_u32, self.movers.roots())];
        while !level.is_empty() {
            let parts: Vec<Part> = level
                .into_par_iter()
                .filter_map(|(node, above)| {
                    let (middle, radius) = drawn.ball(node);
                    let (_, kept) = self.movers.sift(&middle, radius, &above, f64::INFINITY);
                    if kept.is_empty() {
                        None
                    } else if drawn.is_group(node) {
                        Some(Part::Group(node, kept))
                    } else {
                        Some(Part::Inner(node, kept))
                    }
                })
                .collect();
            level = Vec::new();
            for part in parts {
                match part {
                    Part::Group(node, kept) => {
                        let [first, last] = drawn.triangles_of(node);
                        let group = candidates.len() as u32;
                        mesh.group[first as usize..last as usize].fill(group);
                        candidates.push(kept);
                    }
                    Part::Inner(node, kept) => {
                        let first = drawn.tree.nodes[node as usize].first;
                        level.push((first, kept.clone()));
                        level.push((first + 1, kept));
                    }
                }
            }
            self.go_on(0.1);
            self.done()?;
        }
        let mut of_point = vec![FAR; mesh.points.len()];
        for (triangle, group) in mesh.triangles.iter().zip(&mesh.group) {
            for corner in triangle {
                let own = &mut of_point[*corner as usize];
                if *own == FAR {
                    *own = *group;
                }
            }
        }
        let groups = Groups {
            candidates,
            of_point,
        };
        Ok((mesh, groups))
    }

    /// Every corner's least room, group by group.
    fn points(
        &self,
        mesh: &PartMesh,
        groups: &Groups<'m>,
    ) -> Result<Vec<Option<Found<'m>>>, ClearanceError> {
        let mut members: Vec<Vec<u32>> = vec![Vec::new(); groups.candidates.len()];
        for (i, group) in groups.of_point.iter().enumerate() {
            if *group != FAR {
                members[*group as usize].push(i as u32);
            }
        }
        let done = AtomicUsize::new(0);
        let in_groups: Vec<Vec<Option<Found>>> = members
            .par_iter()
            .zip(&groups.candidates)
            .map(|(members, candidates)| {
                let share = done.fetch_add(1, Ordering::Relaxed) as f64;
                if !self.go_on(0.1 + 0.35 * share / groups.candidates.len() as f64) {
                    return Vec::new();
                }
                let mut before: Option<Candidate> = None;
                members
                    .iter()
                    .map(|i| {
                        let target = Target::point(mesh.points[*i as usize]);
                        let found = self.movers.least(&target, candidates, None, before);
                        before = found.map(|f| f.at).or(before);
                        found
                    })
                    .collect()
            })
            .collect();
        self.done()?;
        let mut out = vec![None; mesh.points.len()];
        for (members, found) in members.iter().zip(in_groups) {
            for (i, f) in members.iter().zip(found) {
                out[*i as usize] = f;
            }
        }
        Ok(out)
    }

    /// The least room at a new point between two known ones.
    fn between(
        &self,
        p: V,
        group: u32,
        groups: &Groups<'m>,
        known: [&Option<Found<'m>>; 2],
    ) -> Option<Found<'m>> {
        let candidates = groups.candidates.get(group as usize)?;
        let start = match known {
            [Some(a), Some(b)] if a.room_mm <= b.room_mm => Some(a.at),
            [_, Some(b)] => Some(b.at),
            [Some(a), None] => Some(a.at),
            [None, None] => None,
        };
        self.movers
            .least(&Target::point(p), candidates, None, start)
    }

    /// Splits edges where something comes near.
    fn refine(
        &self,
        mesh: &mut PartMesh,
        groups: &mut Groups<'m>,
        found: &mut Vec<Option<Found<'m>>>,
    ) -> Result<(), ClearanceError> {
        // Edges that need no split, so that they aren't asked again.
        let mut kept: HashSet<Edge> = HashSet::new();
        let mut line_rounds = 0;
        for round in 0..MOST_ROUNDS {
            let asked = mesh.unique_edges(|e, group| {
                group != FAR && self.may_split(mesh, *e, found) && !kept.contains(e)
            });
            let middles = self.middles(mesh, groups, found, &asked);
            let mut marked = Vec::new();
            let mut added = Vec::new();
            for (asked, middle) in asked.into_iter().zip(middles) {
                let (e, _) = asked;
                if middle.is_some_and(|f| wants_split(mesh.length(e.0, e.1), &f, self.options)) {
                    marked.push(asked);
                    added.push(middle);
                } else {
                    kept.insert(e);
                }
            }
            if marked.is_empty() && line_rounds < LINE_ROUNDS {
                line_rounds += 1;
                marked = self.bent_line(mesh, groups, found);
                added = self.middles(mesh, groups, found, &marked);
            }
            if marked.is_empty() {
                break;
            }
            found.extend(added);
            groups
                .of_point
                .extend(marked.iter().map(|(_, group)| group));
            mesh.split(&marked);
            if mesh.triangles.len() > MOST_FACES {
                let millions = MOST_FACES / 1_000_000;
                return Err(ClearanceError::TooFine(
                    self.options.resolution_mm,
                    millions,
                ));
            }
            self.go_on(0.45 + 0.2 * round as f64 / MOST_ROUNDS as f64);
            self.done()?;
        }
        Ok(())
    }

    /// The least room in the middles of edges.
    fn middles(
        &self,
        mesh: &PartMesh,
        groups: &Groups<'m>,
        found: &[Option<Found<'m>>],
        of: &[(Edge, u32)],
    ) -> Vec<Option<Found<'m>>> {
        of.par_iter()
            .map(|(e, group)| {
                let known = [&found[e.0 as usize], &found[e.1 as usize]];
                self.between(mesh.middle(*e), *group, groups, known)
            })
            .collect()
    }

    /// Whether an edge could want a split, from its ends alone: room changes by no more than the way.
    fn may_split(&self, mesh: &PartMesh, (a, b): Edge, found: &[Option<Found>]) -> bool {
        let length = mesh.length(a, b);
        if length <= LINE_EDGE_MM.min(self.options.resolution_mm) {
            return false;
        }
        let ends = [a, b].map(|i| found[i as usize].as_ref());
        let gap = ends.map(|f| f.map_or(self.options.cutoff_mm, |f| f.gap_mm));
        let room = ends.map(|f| f.map_or(f64::INFINITY, |f| f.room_mm));
        let near = EDGE_FOR_GAP * (gap[0].max(gap[1]) - 0.5 * length) < length;
        let at_least = room[0].max(room[1]) - 0.5 * length;
        (length > self.options.resolution_mm && near)
            || (length > LINE_EDGE_MM && at_least <= length)
    }

    /// Edges of triangles in which the line, taken straight, lies too far from where it is.
    fn bent_line(
        &self,
        mesh: &PartMesh,
        groups: &Groups<'m>,
        found: &[Option<Found<'m>>],
    ) -> Vec<(Edge, u32)> {
        let crossed: Vec<usize> = (0..mesh.triangles.len())
            .filter(|t| mesh.group[*t] != FAR)
            .filter(|t| {
                let short = mesh.triangles[*t].map(|i| room(&found[i as usize]) < 0.0);
                short.iter().any(|s| *s) && short.iter().any(|s| !*s)
            })
            .collect();
        let bent: Vec<bool> = crossed
            .par_iter()
            .map(|t| {
                let crossings: Vec<(V, f64, Edge)> = edges(mesh.triangles[*t])
                    .into_iter()
                    .filter_map(|e| {
                        let [a, b] = [e.0, e.1].map(|i| room(&found[i as usize]));
                        let length = mesh.length(e.0, e.1);
                        ((a < 0.0) != (b < 0.0)).then(|| {
                            let (p, q) = (mesh.points[e.0 as usize], mesh.points[e.1 as usize]);
                            let (a, b) = (a.min(length), b.min(length));
                            (p + (q - p) * (a / (a - b)), (a - b).abs() / length, e)
                        })
                    })
                    .collect();
                let [(p, s, e), (q, r, _)] = crossings[..] else {
                    return false;
                };
                let longest = edges(mesh.triangles[*t])
                    .map(|e| mesh.length(e.0, e.1))
                    .into_iter()
                    .fold(0.0, f64::max);
                if longest < LINE_EDGE_MM / 8.0 {
                    return false;
                }
                let known = [&found[e.0 as usize], &found[e.1 as usize]];
                let middle = self.between(0.5 * (p + q), mesh.group[*t], groups, known);
                room(&middle).abs() > LINE_ERROR_MM * s.max(r)
            })
            .collect();
        let mut out = Vec::new();
        let mut seen = HashSet::new();
        for (t, _) in crossed.iter().zip(bent).filter(|(_, bent)| *bent) {
            let own = edges(mesh.triangles[*t]).into_iter();
            out.extend(own.filter(|e| seen.insert(*e)).map(|e| (e, mesh.group[*t])));
        }
        out
    }

    /// Where the line crosses edges.
    fn line(
        &self,
        mesh: &PartMesh,
        groups: &Groups<'m>,
        found: &[Option<Found<'m>>],
    ) -> HashMap<Edge, V> {
        let crossed = mesh.unique_edges(|e, group| {
            let [a, b] = [e.0, e.1].map(|i| room(&found[i as usize]) < 0.0);
            group != FAR && a != b
        });
        crossed
            .into_par_iter()
            .map(|(e, group)| {
                let (a, b) = (mesh.points[e.0 as usize], mesh.points[e.1 as usize]);
                let length = (b - a).norm();
                let mut ends = [(0.0, found[e.0 as usize]), (1.0, found[e.1 as usize])];
                let mut place = 0.5;
                for step in 0..LINE_STEPS {
                    let [(s, x), (t, y)] = ends;
                    if (t - s) * length <= ON_EDGE_MM {
                        place = 0.5 * (s + t);
                        break;
                    }
                    // Along a straight line, and halved now and then lest one end never moves.
                    let (u, v) = (room(&x).min(length), room(&y).min(length));
                    let share = if step % 3 == 2 { 0.5 } else { u / (u - v) };
                    place = s + (t - s) * share.clamp(0.05, 0.95);
                    let middle = self.between(a + (b - a) * place, group, groups, [&x, &y]);
                    let same = (room(&middle) < 0.0) == (room(&x) < 0.0);
                    ends[usize::from(!same)] = (place, middle);
                }
                (e, a + (b - a) * place)
            })
            .collect()
    }

    /// Every face's least room.
    fn faces(
        &self,
        mesh: &PartMesh,
        groups: &Groups<'m>,
        found: &[Option<Found<'m>>],
    ) -> Result<Vec<Option<Found<'m>>>, ClearanceError> {
        let count = mesh.triangles.len();
        let done = AtomicUsize::new(0);
        let out: Vec<Option<Found>> = (0..count)
            .into_par_iter()
            .map(|t| {
                let candidates = groups.candidates.get(mesh.group[t] as usize)?;
                let number = done.fetch_add(1, Ordering::Relaxed);
                if number.is_multiple_of(256)
                    && !self.go_on(0.65 + 0.25 * number as f64 / count as f64)
                    || self.stop.load(Ordering::Relaxed)
                {
                    return None;
                }
                // A face comes as near as its corners do at least.
                let corners = mesh.triangles[t].map(|i| found[i as usize]);
                let best = corners
                    .into_iter()
                    .flatten()
                    .min_by(|a, b| a.room_mm.total_cmp(&b.room_mm));
                let target = Target::triangle(mesh.corners(t));
                self.movers
                    .least(&target, candidates, best, best.map(|b| b.at))
            })
            .collect();
        self.done()?;
        Ok(out)
    }

    /// Where each mover comes nearest, in the movers' order.
    fn nearest(&self, drawn: &TreeMesh) -> Result<Vec<Option<Place>>, ClearanceError> {
        let count = *self.first.last().unwrap_or(&0) as usize
            + self.movers.stages.last().map_or(0, |s| s.tree.movers.len());
        let out = (0..count as u32)
            .into_par_iter()
            .map(|mover| {
                self.go_on(0.9);
                let stage = self.first.partition_point(|f| *f <= mover) - 1;
                let own = (mover - self.first[stage]) as u16;
                let roots = self.movers.roots().into_iter();
                let roots: Vec<Candidate> = roots
                    .filter(|c| usize::from(c.stage) == stage && c.mover == own)
                    .collect();
                self.nearest_of(drawn, roots)
            })
            .collect();
        self.done()?;
        Ok(out)
    }

    fn nearest_of(&self, drawn: &TreeMesh, roots: Vec<Candidate<'m>>) -> Option<Place> {
        let mut best: Option<(Found, usize)> = None;
        let mut stack = vec![(f64::NEG_INFINITY, 0_u32, roots)];
        while let Some((bound, node, candidates)) = stack.pop() {
            let level = |best: &Option<(Found, usize)>| {
                best.as_ref()
                    .map_or(f64::INFINITY, |b| b.0.room_mm - self.options.tolerance_mm)
            };
            if bound >= level(&best) || self.stop.load(Ordering::Relaxed) {
                continue;
            }
            if drawn.is_group(node) {
                let [first, last] = drawn.triangles_of(node);
                for t in first as usize..last as usize {
                    let target = Target::triangle(drawn.mesh.corners(t));
                    let (before, start) = (best.map(|b| b.0), best.map(|b| b.0.at));
                    let found = self.movers.least(&target, &candidates, before, start);
                    if let Some(found) = found
                        && before.is_none_or(|b| found.room_mm < b.room_mm)
                    {
                        best = Some((found, t));
                    }
                }
                continue;
            }
            let first = drawn.tree.nodes[node as usize].first;
            let mut halves = [first, first + 1].map(|child| {
                let (middle, radius) = drawn.ball(child);
                let most = level(&best);
                let (least, kept) = self.movers.sift(&middle, radius, &candidates, most);
                (least, child, kept)
            });
            // Nearer half on top.
            halves.sort_by(|a, b| b.0.total_cmp(&a.0));
            stack.extend(halves.into_iter().filter(|h| !h.2.is_empty()));
        }
        best.map(|(found, t)| self.place(&found, &Target::triangle(drawn.mesh.corners(t))))
    }

    /// Every corner's spot; where something goes into the part it is told for the deepest place, which `found` then holds
    /// too.
    fn corner_spots(
        &self,
        mesh: &PartMesh,
        groups: &Groups<'m>,
        found: &mut [Option<Found<'m>>],
    ) -> Vec<Spot> {
        let movers = self.movers;
        found
            .par_iter_mut()
            .enumerate()
            .map(|(i, f)| {
                let cut = f.as_ref().filter(|f| f.gap_mm <= 0.0).and_then(|f| {
                    let candidates = groups.candidates.get(groups.of_point[i] as usize)?;
                    movers.cut_mm(&mesh.points[i], f.at, candidates)
                });
                let Some((cut_mm, at)) = cut else {
                    return self.spot(f);
                };
                *f = Some(Found {
                    gap_mm: 0.0,
                    room_mm: -movers.required_mm(at),
                    at,
                });
                Spot {
                    cut_mm,
                    ..self.spot(f)
                }
            })
            .collect()
    }

    fn spot(&self, found: &Option<Found>) -> Spot {
        let Some(found) = found else {
            return Spot {
                gap_mm: self.options.cutoff_mm,
                ..NOWHERE.spot
            };
        };
        let stage = &self.movers.stages[usize::from(found.at.stage)];
        let rack = found.at.node.middle.1;
        Spot {
            to: Some(self.first[usize::from(found.at.stage)] + u32::from(found.at.mover)),
            gap_mm: found.gap_mm,
            room_mm: found.room_mm,
            cut_mm: (-found.room_mm).max(0.0),
            cut_is_at_least: found.room_mm < 0.0,
            travel_mm: found.at.node.travel_mm,
            rack_mm: if stage.is_mirrored() { -rack } else { rack },
        }
    }

    fn place(&self, found: &Found, target: &Target) -> Place {
        let stage = &self.movers.stages[usize::from(found.at.stage)];
        let corner = stage.tree.corner;
        let (alpha, rack) = found.at.node.middle;
        let position = corner.positioner.place(alpha, rack);
        let design = &corner.positioner.linkage;
        let angles = wheel_angles(design, &position, corner.side, corner.loaded_radius_mm);
        let points = self.movers.nearest_points(found.at, target);
        Place {
            spot: self.spot(&Some(*found)),
            at: points.map_or(V::zeros(), |p| p[0]),
            steer_deg: if stage.is_mirrored() {
                -angles.steer_deg
            } else {
                angles.steer_deg
            },
        }
    }
}

fn room(found: &Option<Found>) -> f64 {
    found.as_ref().map_or(f64::INFINITY, |f| f.room_mm)
}

fn wants_split(length: f64, middle: &Found, options: &ClearanceOptions) -> bool {
    length > options.resolution_mm.max(EDGE_FOR_GAP * middle.gap_mm)
        || (length > LINE_EDGE_MM && middle.room_mm.abs() <= length)
}
