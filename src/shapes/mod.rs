//! Part shapes, and the surfaces that distances are measured on.
//!
//! A person describes a part as one of the [`Shape`]s below, in vehicle coordinates at the measured
//! position. Every shape becomes a [`Surface`]: points, segments or triangles with a rounding radius,
//! in a tree. So there is one distance algorithm for all pairs, made of closed forms, and every lower
//! bound is certified by a separating plane (see [`crate::clearance`]). Ball and capsule are exact.
//! Box, hull and mesh are exact. Cylinder, cone and lathe are facetted finely enough that the true
//! round surface lies within [`Surface::facet_error_mm`], which the gaps subtract.
//!
//! Reads: shapes. Produces: surfaces. Next: [`crate::clearance`].

mod lathe;
mod mend;
mod mesh_edges;
mod mesh_file;
mod mesh_report;
mod parry_bridge;
mod primitives;
mod revolve;
mod same_place;
mod shading;
mod surface;
mod tree;

pub use mesh_file::{Mesh, MeshError, MeshFormat, read_mesh, read_mesh_bytes, write_stl};
pub use mesh_report::MeshReport;
pub use parry_bridge::{ParryGap, ParrySolid, hull_overlap_mm};
pub use same_place::{SAME_PLACE_MM, in_same_place, moved_alike};
pub use shading::{Shaded, join, shade, weld};
pub use surface::{Element, ElementKind, Round, Surface};
pub use tree::{Bounds, Node, Tree};

use nalgebra::{Isometry3, Rotation3, Vector3};
use std::sync::Arc;

/// The shape of a part: vehicle coordinates at the measured position, millimetres.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// A ball.
    Ball {
        /// Centre.
        centre: Vector3<f64>,
        /// Radius.
        radius: f64,
    },
    /// A round bar with round ends, `radius` beyond both ends.
    Capsule {
        /// One end of the axis.
        from: Vector3<f64>,
        /// Its other end.
        to: Vector3<f64>,
        /// Radius.
        radius: f64,
    },
    /// A round bar with flat ends, or a frustum where the radii differ.
    Cone {
        /// Middle of one end.
        from: Vector3<f64>,
        /// Middle of the other.
        to: Vector3<f64>,
        /// Radius there.
        radius_from: f64,
        /// Radius here.
        radius_to: f64,
    },
    /// A box.
    Box {
        /// Middle.
        centre: Vector3<f64>,
        /// Edge lengths.
        size: Vector3<f64>,
        /// Turned about x, then y, then z (vehicle axes), radians.
        turned: Vector3<f64>,
    },
    /// The convex hull of points.
    Hull {
        /// The points.
        points: Vec<Vector3<f64>>,
    },
    /// A solid of revolution: a closed outline of (along, radius) turned about an axis.
    Lathe {
        /// Where `along` is zero.
        from: Vector3<f64>,
        /// Direction of the axis (any length).
        axis: Vector3<f64>,
        /// The outline's corners, in order.
        profile: Vec<[f64; 2]>,
    },
    /// Triangles.
    Mesh {
        /// Corners.
        vertices: Arc<Vec<Vector3<f64>>>,
        /// Corner numbers of each triangle.
        triangles: Arc<Vec<[u32; 3]>>,
    },
}

/// A shape that can't be made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ShapeError {
    /// A size that must be above zero isn't.
    #[error("{0} must be above zero")]
    NotPositive(&'static str),
    /// Hull points that span no volume.
    #[error("the hull's points lie in one plane, on one line, or are fewer than four")]
    FlatHull,
    /// Lathe outline with fewer than three corners, a radius below zero, or no area.
    #[error("the lathe profile needs at least three corners, radii of at least zero and some area")]
    BadProfile,
    /// A lathe outline that crosses itself bounds no solid.
    #[error("the lathe profile crosses itself")]
    CrossingProfile,
    /// A mesh without triangles.
    #[error("the mesh has no triangles")]
    EmptyMesh,
    /// Turned with its shaft or wheel, it would sweep more room than a truck has.
    #[error("it turns with its shaft or wheel, and sweeps metres about that axis")]
    TooLargeToTurn,
    /// An obstacle that no truck drives over; the most, m.
    #[error("it is larger than {0} m")]
    LargerThan(f64),
    /// Two ends at one point.
    #[error("both ends are at the same point")]
    NoLength,
}

impl Shape {
    /// Builds the surface. `spin` is the axis (point, direction) that the part turns about with its
    /// shaft or wheel, if it does: a shape that isn't round about it becomes the full revolution that
    /// it sweeps.
    ///
    /// # Errors
    /// [`ShapeError`] for sizes that make no shape.
    pub fn surface(
        &self,
        spin: Option<(Vector3<f64>, Vector3<f64>)>,
    ) -> Result<Surface, ShapeError> {
        self.surface_within(spin, None)
    }

    /// As [`surface`](Shape::surface), with the facet error of round shapes chosen, mm.
    ///
    /// # Errors
    /// As [`surface`](Shape::surface).
    pub fn surface_within(
        &self,
        spin: Option<(Vector3<f64>, Vector3<f64>)>,
        facet_error_mm: Option<f64>,
    ) -> Result<Surface, ShapeError> {
        let surface = self.as_drawn(facet_error_mm)?;
        match spin {
            Some((point, axis)) if !self.is_round_about(&point, &axis) => {
                revolve::full_revolution(&surface, point, axis.normalize())
            }
            Some((point, axis)) => {
                // Round, but perhaps a little off the axis: the run-out widens what it sweeps.
                let run_out = self.run_out_mm(&point, &axis);
                let facet_error_mm = surface.facet_error_mm + run_out;
                let round = surface.round.clone().map(|r| Round {
                    error_mm: r.error_mm + run_out,
                    ..r
                });
                Ok(surface.facetted(facet_error_mm).rounded(round))
            }
            None => Ok(surface),
        }
    }

    /// The shape moved rigidly.
    #[must_use]
    pub fn moved(&self, motion: &Isometry3<f64>) -> Shape {
        let point = |p: &Vector3<f64>| motion.rotation * p + motion.translation.vector;
        match self {
            Shape::Ball { centre, radius } => Shape::Ball {
                centre: point(centre),
                radius: *radius,
            },
            Shape::Capsule { from, to, radius } => Shape::Capsule {
                from: point(from),
                to: point(to),
                radius: *radius,
            },
            Shape::Cone {
                from,
                to,
                radius_from,
                radius_to,
            } => Shape::Cone {
                from: point(from),
                to: point(to),
                radius_from: *radius_from,
                radius_to: *radius_to,
            },
            Shape::Box {
                centre,
                size,
                turned,
            } => {
                let own = Rotation3::from_euler_angles(turned.x, turned.y, turned.z);
                let (x, y, z) = (motion.rotation.to_rotation_matrix() * own).euler_angles();
                Shape::Box {
                    centre: point(centre),
                    size: *size,
                    turned: Vector3::new(x, y, z),
                }
            }
            Shape::Hull { points } => Shape::Hull {
                points: points.iter().map(point).collect(),
            },
            Shape::Lathe {
                from,
                axis,
                profile,
            } => Shape::Lathe {
                from: point(from),
                axis: motion.rotation * axis,
                profile: profile.clone(),
            },
            Shape::Mesh {
                vertices,
                triangles,
            } => Shape::Mesh {
                vertices: Arc::new(vertices.iter().map(point).collect()),
                triangles: triangles.clone(),
            },
        }
    }

    /// Whether turning the shape about an axis leaves it where it is.
    pub fn is_round_about(&self, point: &Vector3<f64>, axis: &Vector3<f64>) -> bool {
        self.run_out_mm(point, axis) <= ROUND_TOLERANCE_MM
    }

    /// How far the shape's own axis strays from an axis, mm; without limit for one that has none.
    fn run_out_mm(&self, point: &Vector3<f64>, axis: &Vector3<f64>) -> f64 {
        let axis = axis.normalize();
        let off = |p: &Vector3<f64>| {
            let d = p - point;
            (d - axis * d.dot(&axis)).norm()
        };
        match self {
            Shape::Ball { centre, .. } => off(centre),
            Shape::Capsule { from, to, .. } | Shape::Cone { from, to, .. } => {
                off(from).max(off(to))
            }
            Shape::Lathe {
                from,
                axis: own,
                profile,
            } => {
                let own = own.normalize();
                profile
                    .iter()
                    .map(|corner| off(&(from + own * corner[0])))
                    .fold(0.0, f64::max)
            }
            Shape::Box { .. } | Shape::Hull { .. } | Shape::Mesh { .. } => f64::INFINITY,
        }
    }

    fn as_drawn(&self, facet_error_mm: Option<f64>) -> Result<Surface, ShapeError> {
        match self {
            Shape::Ball { centre, radius } => primitives::ball(*centre, *radius),
            Shape::Capsule { from, to, radius } => primitives::capsule(*from, *to, *radius),
            Shape::Cone {
                from,
                to,
                radius_from,
                radius_to,
            } => primitives::cone(*from, *to, *radius_from, *radius_to, facet_error_mm),
            Shape::Box {
                centre,
                size,
                turned,
            } => primitives::cuboid(*centre, *size, *turned),
            Shape::Hull { points } => primitives::hull(points),
            Shape::Lathe {
                from,
                axis,
                profile,
            } => lathe::lathe(*from, *axis, profile, facet_error_mm),
            Shape::Mesh {
                vertices,
                triangles,
            } => primitives::mesh(vertices, triangles),
        }
    }
}

/// A part drawn this close to its turning axis counts as round about it. Set by hardpoints written
/// with two decimals.
const ROUND_TOLERANCE_MM: f64 = 0.02;
