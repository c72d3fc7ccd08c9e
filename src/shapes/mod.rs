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

mod known_sides;
mod lathe;
mod mend;
mod mesh_edges;
mod mesh_file;
mod mesh_report;
mod parry_bridge;
mod primitives;
mod revolve;
mod revolve_outline;
mod same_place;
mod shading;
mod surface;
mod tree;

pub use known_sides::KnownSides;
pub use mesh_file::{Mesh, MeshError, MeshFormat, read_mesh, read_mesh_bytes, write_stl};
pub use mesh_report::MeshReport;
pub use parry_bridge::{ParryGap, ParrySolid, hull_overlap_mm};
pub use revolve::REVOLVED_EXCESS_MM;
pub use same_place::{SAME_PLACE_MM, in_place_within, in_same_place, joined_alike, moved_alike};
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
    /// Turned with its shaft or wheel, or rolled with its rod, it would sweep more room than a truck has.
    #[error(
        "it turns with its shaft or wheel (or may roll with its rod), and sweeps metres about that axis"
    )]
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
        let Some((point, axis)) = spin else {
            return self.as_drawn(facet_error_mm);
        };
        let axis = axis.normalize();
        match self.about(&point, &axis) {
            // To the last digit: as it is drawn.
            Some((_, widening_mm)) if widening_mm <= SAME_AXIS_MM => self
                .as_drawn(facet_error_mm)
                .map(|s| widened(s, widening_mm)),
            Some((on_axis, widening_mm)) if widening_mm <= NEARLY_ROUND_MM => on_axis
                .as_drawn(facet_error_mm)
                .map(|s| widened(s, widening_mm)),
            _ => revolve::full_revolution(&self.as_drawn(facet_error_mm)?, point, axis),
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

    /// The shape that stands for this one as it turns about an axis: where it nearly is round about it, drawn about it,
    /// and balls and bars as much wider as they stray; else this one. Of other round shapes the surface's facet error
    /// holds the widening.
    pub fn turning(&self, spin: Option<(Vector3<f64>, Vector3<f64>)>) -> Shape {
        let about = spin.and_then(|(point, axis)| self.about(&point, &axis.normalize()));
        let Some((on_axis, widening_mm)) = about.filter(|(_, mm)| *mm <= NEARLY_ROUND_MM) else {
            return self.clone();
        };
        let base = if widening_mm <= SAME_AXIS_MM {
            self.clone()
        } else {
            on_axis
        };
        match base {
            Shape::Ball { centre, radius } => Shape::Ball {
                centre,
                radius: radius + widening_mm,
            },
            Shape::Capsule { from, to, radius } => Shape::Capsule {
                from,
                to,
                radius: radius + widening_mm,
            },
            other => other,
        }
    }

    /// Whether the shape is round about an axis, or so nearly that the same shape drawn about it and widened by what
    /// it strays (by less than half a millimetre) stands for all that it sweeps. What isn't becomes the full
    /// revolution.
    pub fn is_round_about(&self, point: &Vector3<f64>, axis: &Vector3<f64>) -> bool {
        self.about(point, &axis.normalize())
            .is_some_and(|(_, widening_mm)| widening_mm <= NEARLY_ROUND_MM)
    }

    /// A round shape drawn about a unit axis instead of its own, and how far that has to reach further, mm, to
    /// contain this one at every roll angle. None for shapes that aren't round.
    ///
    /// A roll about the axis moves no point further from the axis' own copy of it than it was before. A point of the
    /// shape is its ring's centre and a spoke; the copy's differs by how far the centre is off and by how far the
    /// spoke tilts, both linear along a side of the outline, so that its corners bound it.
    fn about(&self, point: &Vector3<f64>, axis: &Vector3<f64>) -> Option<(Shape, f64)> {
        let onto = |p: &Vector3<f64>| point + axis * (p - point).dot(axis);
        // Of outlines about `from` along the unit `own`: where they go, and the widening.
        let turned = |from: &Vector3<f64>, own: &Vector3<f64>, corners: &[[f64; 2]]| {
            let to = if own.dot(axis) < 0.0 { -axis } else { *axis };
            let base = onto(from);
            let tilt = (own - to).norm();
            let off = corners.iter().map(|[along, radius]| {
                (from + own * *along - base - to * *along).norm() + radius * tilt
            });
            (base, to, off.fold(0.0, f64::max))
        };
        match self {
            Shape::Ball { centre, radius } => {
                let on_axis = onto(centre);
                let off = (centre - on_axis).norm();
                let shape = Shape::Ball {
                    centre: on_axis,
                    radius: *radius,
                };
                Some((shape, off))
            }
            Shape::Capsule { from, to, radius } => {
                let (a, b) = (onto(from), onto(to));
                let off = (from - a).norm().max((to - b).norm());
                let shape = Shape::Capsule {
                    from: a,
                    to: b,
                    radius: *radius,
                };
                Some((shape, off))
            }
            Shape::Cone {
                from,
                to,
                radius_from,
                radius_to,
            } => {
                let length = (to - from).norm();
                let own = (to - from).try_normalize(0.0)?;
                let corners = [[0.0, *radius_from], [length, *radius_to]];
                let (base, way, off) = turned(from, &own, &corners);
                let shape = Shape::Cone {
                    from: base,
                    to: base + way * length,
                    radius_from: *radius_from,
                    radius_to: *radius_to,
                };
                Some((shape, off))
            }
            Shape::Lathe {
                from,
                axis: own,
                profile,
            } => {
                let (base, way, off) = turned(from, &own.try_normalize(0.0)?, profile);
                let shape = Shape::Lathe {
                    from: base,
                    axis: way,
                    profile: profile.clone(),
                };
                Some((shape, off))
            }
            Shape::Box { .. } | Shape::Hull { .. } | Shape::Mesh { .. } => None,
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

/// A surface that reaches further: balls and bars by their radius, facets by their error, which gaps subtract.
fn widened(surface: Surface, by_mm: f64) -> Surface {
    let (radius_mm, facet_error_mm) = (surface.radius_mm, surface.facet_error_mm);
    let round = surface.round.clone().map(|r| Round {
        error_mm: r.error_mm + by_mm,
        ..r
    });
    match surface.kind {
        ElementKind::Point | ElementKind::Segment => surface.thickened(radius_mm + by_mm),
        ElementKind::Triangle => surface.facetted(facet_error_mm + by_mm).rounded(round),
    }
}

/// A round part that strays from its turning axis by no more than this is drawn about the axis and widened by that,
/// mm, which exceeds what it sweeps by no more: a rod drawn between points in whole millimetres or hundredths of an
/// inch. It is below what a full revolution may exceed by, [`REVOLVED_EXCESS_MM`].
const NEARLY_ROUND_MM: f64 = 0.4;
/// Below this it is about its axis but for rounding, mm.
const SAME_AXIS_MM: f64 = 1.0e-9;
