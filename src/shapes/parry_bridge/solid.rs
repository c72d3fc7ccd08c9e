//! A part in parry's own shapes, made from what the scene draws, and the gap of two of them.
//!
//! Ball and capsule are kept as their point and segment with a radius: parry's search is exact on those, and
//! reports too much on round ends. Cylinder, cone, box and hull are exact; a hull is the drawn points themselves.
//! A lathe, and the full revolution of a part that turns, are the triangles of our surface in parry's tree: the
//! same facets, but none of our trees and distances.

use super::convex::{Span, distance};
use super::meshes::{holds, mesh_to_convex, mesh_to_mesh};
use super::{to_parry, to_pose};
use crate::shapes::{Shape, Surface};
use nalgebra::{Matrix3, Rotation3, Vector3};
use parry3d::math::{Pose, Rotation, Vector};
use parry3d::shape::{Cone, Cuboid, Cylinder, Segment, SupportMap, TriMesh};
use parry3d::utils::point_cloud_support_point;

/// A part in parry's shapes, body coordinates.
#[derive(Clone, Debug)]
pub struct ParrySolid {
    /// Body from the core's own frame.
    pose: Pose,
    core: Core,
    /// The solid reaches this far beyond its core, mm.
    radius_mm: f64,
    has_our_facets: bool,
}

/// A gap as parry sees it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ParryGap {
    /// Certified: no less than this, mm; zero where the parts meet, or one holds the other.
    pub lower_mm: f64,
    /// Points this close were found, mm; without limit where none were within the greatest distance.
    pub upper_mm: f64,
    /// What it took, in tests of two boxes.
    pub work: u64,
}

#[derive(Clone, Debug)]
enum Core {
    Convex(Convex),
    /// With one corner of each connected piece.
    Mesh(Box<TriMesh>, Vec<Vector>),
}

#[derive(Clone, Debug)]
enum Convex {
    Segment(Segment),
    Cylinder(Cylinder),
    Cone(Cone),
    Frustum(Frustum),
    Cuboid(Cuboid),
    Points(Points),
}

/// A frustum about the y axis, for parry's search: parry has none.
#[derive(Clone, Debug)]
struct Frustum {
    half_height: f64,
    /// Radius at the low end and at the high end.
    radii: [f64; 2],
}

impl SupportMap for Frustum {
    fn local_support_point(&self, dir: Vector) -> Vector {
        let outward = Vector::new(dir.x, 0.0, dir.z).normalize_or_zero();
        let [low, high] = self.radii;
        let low = outward * low - Vector::Y * self.half_height;
        let high = outward * high + Vector::Y * self.half_height;
        if low.dot(dir) > high.dot(dir) {
            low
        } else {
            high
        }
    }
}

/// The convex hull of points, for parry's search: it needs no more than the points. parry's own hull would drop those
/// that lie almost in a face.
#[derive(Clone, Debug)]
struct Points(Vec<Vector>);

impl SupportMap for Points {
    fn local_support_point(&self, dir: Vector) -> Vector {
        point_cloud_support_point(dir, &self.0)
    }
}

impl SupportMap for Convex {
    fn local_support_point(&self, dir: Vector) -> Vector {
        match self {
            Convex::Segment(s) => s.local_support_point(dir),
            Convex::Cylinder(s) => s.local_support_point(dir),
            Convex::Cone(s) => s.local_support_point(dir),
            Convex::Frustum(s) => s.local_support_point(dir),
            Convex::Cuboid(s) => s.local_support_point(dir),
            Convex::Points(s) => s.local_support_point(dir),
        }
    }
}

/// What one search of parry's takes, in tests of two boxes.
const SEARCH_WORK: u64 = 30;
/// What a triangle takes to be put into parry's tree, in tests of two boxes.
const TRIANGLE_WORK: u64 = 30;

impl ParrySolid {
    /// The solid of a shape as drawn; where parry has none for it, of its surface's triangles. `revolved`: the surface is
    /// what the shape sweeps as it turns, not the shape. `None` for what has no triangles.
    pub fn of(shape: &Shape, surface: &Surface, revolved: bool) -> Option<ParrySolid> {
        if revolved {
            return ParrySolid::of_surface(surface);
        }
        Some(match shape {
            Shape::Ball { centre, radius } => {
                let centre = to_parry(centre);
                ParrySolid::convex(Convex::Segment(Segment::new(centre, centre)), *radius)
            }
            Shape::Capsule { from, to, radius } => {
                let axis = Segment::new(to_parry(from), to_parry(to));
                ParrySolid::convex(Convex::Segment(axis), *radius)
            }
            Shape::Cone {
                from,
                to,
                radius_from,
                radius_to,
            } => cone(from, to, *radius_from, *radius_to),
            Shape::Box {
                centre,
                size,
                turned,
            } => {
                let turn = Rotation3::from_euler_angles(turned.x, turned.y, turned.z);
                ParrySolid {
                    pose: to_pose(turn.matrix(), centre),
                    ..ParrySolid::convex(Convex::Cuboid(Cuboid::new(to_parry(size) * 0.5)), 0.0)
                }
            }
            Shape::Hull { points } => {
                let points = points.iter().map(to_parry).collect();
                ParrySolid::convex(Convex::Points(Points(points)), 0.0)
            }
            Shape::Lathe { .. } => return ParrySolid::of_surface(surface),
            Shape::Mesh {
                vertices,
                triangles,
            } => {
                let corners = vertices.iter().map(to_parry).collect();
                ParrySolid::mesh(corners, triangles, surface)?
            }
        })
    }

    fn of_surface(surface: &Surface) -> Option<ParrySolid> {
        let corners = (0..surface.vertices.len()).map(|i| to_parry(&surface.vertex_in_body(i)));
        let solid = ParrySolid::mesh(corners.collect(), &surface.elements, surface)?;
        Some(ParrySolid {
            has_our_facets: true,
            ..solid
        })
    }

    fn mesh(corners: Vec<Vector>, triangles: &[[u32; 3]], surface: &Surface) -> Option<ParrySolid> {
        let pieces = surface.pieces.iter();
        let pieces = pieces.map(|i| corners[*i as usize]).collect();
        let mesh = TriMesh::new(corners, triangles.to_vec()).ok()?;
        Some(ParrySolid {
            pose: Pose::IDENTITY,
            core: Core::Mesh(Box::new(mesh), pieces),
            radius_mm: 0.0,
            has_our_facets: false,
        })
    }

    fn convex(core: Convex, radius_mm: f64) -> ParrySolid {
        ParrySolid {
            pose: Pose::IDENTITY,
            core: Core::Convex(core),
            radius_mm,
            has_our_facets: false,
        }
    }

    /// Whether it has our surface's facets, and with them their error; else it is the shape as drawn.
    pub fn has_our_facets(&self) -> bool {
        self.has_our_facets
    }

    /// What making the solid of a shape takes, in tests of two boxes.
    pub fn making_work(shape: &Shape, surface: &Surface, revolved: bool) -> u64 {
        match shape {
            Shape::Mesh { .. } | Shape::Lathe { .. } => {}
            _ if revolved => {}
            _ => return 0,
        }
        TRIANGLE_WORK * surface.elements.len() as u64
    }

    /// The gap to another solid, whose body stands at `rotation`, `offset` seen from this one's, looked for up to
    /// `greatest_mm`. Solids further apart have a lower bound of at least that and no upper one.
    pub fn gap_to(
        &self,
        other: &ParrySolid,
        rotation: &Matrix3<f64>,
        offset: &Vector3<f64>,
        greatest_mm: f64,
    ) -> ParryGap {
        let pos12 = self.pose.inverse() * to_pose(rotation, offset) * other.pose;
        let radii = self.radius_mm + other.radius_mm;
        let greatest = (greatest_mm + radii).max(0.0);
        let (span, boxes) = match (&self.core, &other.core) {
            (Core::Mesh(a, pieces), Core::Mesh(b, other_pieces)) => {
                let back = pos12.inverse();
                let (span, boxes) = mesh_to_mesh(&pos12, a, b, greatest);
                let held = span.upper > 0.0
                    && (other_pieces
                        .iter()
                        .any(|p| holds(a, pos12.transform_point(*p)))
                        || pieces.iter().any(|p| holds(b, back.transform_point(*p))));
                (if held { within(span) } else { span }, boxes)
            }
            (Core::Mesh(a, _), Core::Convex(b)) => mesh_and_convex(&pos12, a, b, greatest),
            (Core::Convex(a), Core::Mesh(b, _)) => {
                mesh_and_convex(&pos12.inverse(), b, a, greatest)
            }
            (Core::Convex(a), Core::Convex(b)) => {
                (distance(&pos12, a, b, greatest, -pos12.translation), 0)
            }
        };
        ParryGap {
            lower_mm: (span.lower - radii).max(0.0),
            upper_mm: (span.upper - radii).max(0.0),
            work: boxes + SEARCH_WORK * span.searches,
        }
    }
}

/// A cylinder, cone or frustum: parry draws them about the y axis, a cone with its tip up.
fn cone(from: &Vector3<f64>, to: &Vector3<f64>, radius_from: f64, radius_to: f64) -> ParrySolid {
    let (from, to) = (to_parry(from), to_parry(to));
    let half_height = 0.5 * (to - from).length();
    let tip_at_start = radius_from == 0.0;
    let up = if tip_at_start { from - to } else { to - from };
    let core = if radius_from == radius_to {
        Convex::Cylinder(Cylinder::new(half_height, radius_from))
    } else if radius_from == 0.0 || radius_to == 0.0 {
        Convex::Cone(Cone::new(half_height, radius_from.max(radius_to)))
    } else {
        Convex::Frustum(Frustum {
            half_height,
            radii: [radius_from, radius_to],
        })
    };
    let turn = Rotation::from_rotation_arc(Vector::Y, up.normalize_or(Vector::Y));
    ParrySolid {
        pose: Pose::from_parts((from + to) * 0.5, turn),
        ..ParrySolid::convex(core, 0.0)
    }
}

/// A mesh and a convex shape, at `pos12` in the mesh's frame.
fn mesh_and_convex(pos12: &Pose, mesh: &TriMesh, convex: &Convex, greatest: f64) -> (Span, u64) {
    let (span, boxes) = mesh_to_convex(pos12, mesh, convex, greatest);
    let any = convex.support_point(pos12, Vector::X);
    let held = span.upper > 0.0 && holds(mesh, any);
    (if held { within(span) } else { span }, boxes)
}

/// One holds the other: no room, however far their surfaces are apart.
fn within(span: Span) -> Span {
    Span {
        lower: 0.0,
        upper: 0.0,
        ..span
    }
}
