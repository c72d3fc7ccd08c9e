//! Common parts drawn by few numbers: bars between points of the suspension, joint cups, the tyre by its size.
//!
//! The idea: what is left out or named is the body's own, on its own side and in its own drawing (see
//! [`SidePoints`]), so that the part follows a setup or the other side's points without being drawn again. What is given
//! by coordinates goes where the side's body goes, like any other shape.

use super::assemble::Reader;
use super::own_side::SidePoints;
use crate::scene::{Place, Problem, Scene, ShapeEntry};
use crate::setups::tyre_outline;
use crate::shapes::Shape;
use crate::suspension::Body;
use nalgebra::{Isometry3, Vector3};

type Result<T> = std::result::Result<T, Problem>;

/// What a shape is drawn with.
pub(super) struct Drawing<'a> {
    pub scene: &'a Scene,
    pub body: Body,
    pub reader: Reader,
    /// Where the part's own side takes what is given by coordinates.
    pub own_side: &'a Isometry3<f64>,
    /// The points of the side that the part belongs to.
    pub points: &'a SidePoints,
    /// The shape's path in the scene.
    pub path: &'a str,
}

impl Drawing<'_> {
    /// Where an end is, in the body's own drawing.
    pub fn place(&self, place: &Place, field: &str) -> Result<Vector3<f64>> {
        match place {
            Place::At(p) => {
                let p = self.reader.point(p, &format!("{}.{field}", self.path))?;
                Ok(self.own_side.rotation * p + self.own_side.translation.vector)
            }
            Place::Named(name) => Ok(self.points.place(*name, self.body)),
        }
    }
}

/// The shape of a common part on one body; none for a shape that is given by coordinates alone, and for one on two.
pub(super) fn common_part(entry: &ShapeEntry, d: &Drawing) -> Result<Option<Shape>> {
    match entry {
        ShapeEntry::Bar {
            from,
            to,
            diameter,
            short_from,
            short_to,
        } => {
            let own = d.points.ends(d.body);
            let end = |place: &Option<Place>, i: usize, field: &str| match (place, own) {
                (Some(place), _) => d.place(place, field),
                (None, Some(ends)) => Ok(ends[i]),
                (None, None) => Err(no_end(d, field)),
            };
            let ends = [end(from, 0, "from")?, end(to, 1, "to")?];
            bar(ends, *diameter, [*short_from, *short_to], d.reader, d.path).map(Some)
        }
        ShapeEntry::Cup {
            bore,
            outside,
            depth,
            mouth,
            bottom,
        } => {
            let toward_shaft = match d.body {
                Body::InnerJointHousing => 1.0,
                Body::OuterJointHousing => -1.0,
                _ => return Err(misplaced(d.body, d.path, "cup", CUP_BODIES)),
            };
            let Some((from, axis)) = d.points.axis(d.body) else {
                return Err(misplaced(d.body, d.path, "cup", CUP_BODIES));
            };
            let size = |value: f64, field: &str| -> Result<f64> {
                d.reader.positive(value, &format!("{}.{field}", d.path))
            };
            let cup = CupSizes {
                bore_mm: size(*bore, "bore")?,
                outside_mm: size(*outside, "outside")?,
                depth_mm: size(*depth, "depth")?,
                mouth_mm: d.reader.length(*mouth, &format!("{}.mouth", d.path))?,
                bottom_mm: bottom.map(|b| size(b, "bottom")).transpose()?,
            };
            Ok(Some(Shape::Lathe {
                from,
                axis: axis * toward_shaft,
                profile: cup.outline(d.path)?,
            }))
        }
        ShapeEntry::Tyre {
            tread_width,
            shoulder_drop,
        } => match (d.body, d.points.axis(d.body)) {
            (Body::Wheel, Some((from, axis))) => Ok(Some(Shape::Lathe {
                from,
                axis,
                profile: tyre_outline(d.scene, *tread_width, *shoulder_drop, d.path)?,
            })),
            _ => Err(misplaced(d.body, d.path, "tyre", "wheel")),
        },
        ShapeEntry::Ball { .. }
        | ShapeEntry::Capsule { .. }
        | ShapeEntry::Cylinder { .. }
        | ShapeEntry::Cone { .. }
        | ShapeEntry::Box { .. }
        | ShapeEntry::Hull { .. }
        | ShapeEntry::Lathe { .. }
        | ShapeEntry::Mesh { .. }
        // These are held by two bodies.
        | ShapeEntry::Link { .. }
        | ShapeEntry::Boot { .. }
        | ShapeEntry::Spring { .. } => Ok(None),
    }
}

const CUP_BODIES: &str = "inner_joint_housing or outer_joint_housing";

fn misplaced(body: Body, path: &str, what: &str, bodies: &str) -> Problem {
    Problem::at(
        path,
        format!("a {what} on the {}", body.name()),
        format!("put it on {bodies}, or draw another shape"),
    )
}

fn no_end(d: &Drawing, field: &str) -> Problem {
    Problem::at(
        format!("{}.{field}", d.path),
        format!(
            "this bar on the {} doesn't say its `{field}` end",
            d.body.name()
        ),
        "give a point (x, y, z), or the name of one such as \"lower_arm.ball_joint\": an end may be left out on \
         tie_rod, halfshaft, damper_upper and damper_lower only",
    )
}

/// A bar between two points, by its diameter and what it falls short of each.
pub(super) fn bar(
    [from, to]: [Vector3<f64>; 2],
    diameter: f64,
    short: [f64; 2],
    r: Reader,
    path: &str,
) -> Result<Shape> {
    let radius = 0.5 * r.positive(diameter, &format!("{path}.diameter"))?;
    let mut short_mm = [0.0; 2];
    for ((short, mm), field) in short
        .iter()
        .zip(&mut short_mm)
        .zip(["short_from", "short_to"])
    {
        let field = format!("{path}.{field}");
        *mm = r.length(*short, &field)?;
        if *mm < 0.0 {
            return Err(Problem::at(
                field,
                format!("{short} is below zero"),
                "say how far short of its end the bar is, zero or more",
            ));
        }
    }
    let length_mm = (to - from).norm();
    let left_mm = length_mm - short_mm[0] - short_mm[1];
    if left_mm <= 0.0 {
        return Err(Problem::at(
            path,
            format!("nothing is left of this bar: its ends are {length_mm:.1} mm apart"),
            "give two points that lie apart, and less in `short_from` and `short_to`",
        ));
    }
    let along = (to - from) / length_mm;
    Ok(Shape::Capsule {
        from: from + along * short_mm[0],
        to: to - along * short_mm[1],
        radius,
    })
}

/// A cup's measures.
struct CupSizes {
    bore_mm: f64,
    outside_mm: f64,
    depth_mm: f64,
    mouth_mm: f64,
    bottom_mm: Option<f64>,
}

impl CupSizes {
    /// Its outline, `along` from the joint's centre toward the shaft.
    fn outline(&self, path: &str) -> Result<Vec<[f64; 2]>> {
        if self.bore_mm >= self.outside_mm {
            return Err(Problem::at(
                format!("{path}.bore"),
                format!(
                    "a bore of {:.1} mm doesn't fit into a cup of {:.1} mm",
                    self.bore_mm, self.outside_mm
                ),
                "give two diameters, the bore below the outside",
            ));
        }
        let (bore, outer) = (0.5 * self.bore_mm, 0.5 * self.outside_mm);
        let (mouth, floor) = (self.mouth_mm, self.mouth_mm - self.depth_mm);
        let back = floor - self.bottom_mm.unwrap_or(outer - bore);
        Ok(vec![
            [back, 0.0],
            [back, outer],
            [mouth, outer],
            [mouth, bore],
            [floor, bore],
            [floor, 0.0],
        ])
    }
}
