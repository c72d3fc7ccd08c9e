//! A shape as a scene writes it, moved rigidly: the result is again a shape as a scene writes it.

use crate::scene::{Place, Point, Problem, ShapeEntry};
use nalgebra::{Isometry3, Point3, Rotation3, UnitQuaternion, Vector3};

/// The same motion for the mirror image of what it moves.
pub(super) fn mirrored(motion: &Isometry3<f64>) -> Isometry3<f64> {
    let t = motion.translation.vector;
    // Mirrored in y, turns about x and z change sense.
    let q = motion.rotation.quaternion();
    let turn = nalgebra::Quaternion::new(q.w, -q.i, q.j, -q.k);
    Isometry3::from_parts(
        Vector3::new(t.x, -t.y, t.z).into(),
        UnitQuaternion::from_quaternion(turn),
    )
}

fn point(p: &mut Point, motion: &Isometry3<f64>) {
    let q = motion * Point3::new(p.0, p.1, p.2);
    *p = Point(q.x, q.y, q.z);
}

fn direction(p: &mut Point, motion: &Isometry3<f64>) {
    let q = motion.rotation * Vector3::new(p.0, p.1, p.2);
    *p = Point(q.x, q.y, q.z);
}

/// Turned about x, then y, then z, as scenes write it.
fn turns(p: &Option<Point>) -> Rotation3<f64> {
    match p {
        None => Rotation3::identity(),
        Some(Point(x, y, z)) => {
            Rotation3::from_euler_angles(x.to_radians(), y.to_radians(), z.to_radians())
        }
    }
}

fn turned(p: &mut Option<Point>, motion: &Isometry3<f64>) {
    if motion.rotation == UnitQuaternion::identity() {
        return;
    }
    let (x, y, z) = (motion.rotation.to_rotation_matrix() * turns(p)).euler_angles();
    *p = Some(Point(x.to_degrees(), y.to_degrees(), z.to_degrees()));
}

/// Moves a shape, its lengths and the motion's in the same unit.
pub(super) fn move_shape(shape: &mut ShapeEntry, motion: &Isometry3<f64>) {
    match shape {
        ShapeEntry::Ball { centre, .. } => point(centre, motion),
        ShapeEntry::Capsule { from, to, .. }
        | ShapeEntry::Cylinder { from, to, .. }
        | ShapeEntry::Cone { from, to, .. } => {
            point(from, motion);
            point(to, motion);
        }
        ShapeEntry::Box {
            centre, turned_deg, ..
        } => {
            point(centre, motion);
            turned(turned_deg, motion);
        }
        ShapeEntry::Hull { points } => points.iter_mut().for_each(|p| point(p, motion)),
        // What is left out goes where the body goes.
        ShapeEntry::Lathe { from, axis, .. } => {
            from.iter_mut().for_each(|from| point(from, motion));
            axis.iter_mut().for_each(|axis| direction(axis, motion));
        }
        ShapeEntry::Mesh {
            holes: Some(holes), ..
        } => holes.iter_mut().for_each(|(_, to)| point(to, motion)),
        ShapeEntry::Mesh { at, turned_deg, .. } => {
            let mut place = at.unwrap_or(Point(0.0, 0.0, 0.0));
            point(&mut place, motion);
            *at = Some(place);
            turned(turned_deg, motion);
        }
        // A named point goes where the scene has it.
        ShapeEntry::Bar { from, to, .. } => {
            each_point(from.iter_mut().chain(to), |p| point(p, motion));
        }
        ShapeEntry::Link { from, to, .. } => each_point([from, &mut to.at], |p| point(p, motion)),
        ShapeEntry::Cup { .. }
        | ShapeEntry::Tyre { .. }
        | ShapeEntry::Spring { .. }
        | ShapeEntry::Boot { .. } => {}
    }
}

/// Does something to those ends that are coordinates.
fn each_point<'p>(ends: impl IntoIterator<Item = &'p mut Place>, change: impl Fn(&mut Point)) {
    for end in ends {
        if let Place::At(p) = end {
            change(p);
        }
    }
}

/// A shape on a rod that was made longer at one end: points nearer to that end, `near`, than to the other go with it.
/// Bars are drawn out so; what can't be drawn out goes as a whole, by where its middle is.
pub(super) fn draw_out(
    shape: &mut ShapeEntry,
    [near, far]: [Vector3<f64>; 2],
    shift: &Vector3<f64>,
) {
    let vector = |p: &Point| Vector3::new(p.0, p.1, p.2);
    let goes = |v: &Vector3<f64>| (v - near).dot(&(far - near)) < 0.5 * (far - near).norm_squared();
    let pull = |p: &mut Point| {
        let v = vector(p);
        if goes(&v) {
            let to = v + shift;
            *p = Point(to.x, to.y, to.z);
        }
    };
    let whole = |shape: &mut ShapeEntry| {
        move_shape(
            shape,
            &Isometry3::from_parts((*shift).into(), UnitQuaternion::identity()),
        )
    };
    match shape {
        ShapeEntry::Ball { centre, .. } => pull(centre),
        ShapeEntry::Capsule { from, to, .. }
        | ShapeEntry::Cylinder { from, to, .. }
        | ShapeEntry::Cone { from, to, .. } => {
            pull(from);
            pull(to);
        }
        ShapeEntry::Hull { points } => points.iter_mut().for_each(pull),
        // Ends that are named go with the points that they are named after.
        ShapeEntry::Bar { from, to, .. } => each_point(from.iter_mut().chain(to), pull),
        // What is drawn about its body's own axis or hangs on others goes where these go.
        ShapeEntry::Cup { .. }
        | ShapeEntry::Tyre { .. }
        | ShapeEntry::Link { .. }
        | ShapeEntry::Spring { .. }
        | ShapeEntry::Boot { .. } => {}
        ShapeEntry::Box { centre, .. } => {
            if goes(&vector(centre)) {
                whole(shape);
            }
        }
        // What is left out is the body's own: it begins at the end that has gone, so what stays lies that much further on.
        ShapeEntry::Lathe {
            from,
            axis,
            profile,
        } => {
            let along = axis.as_ref().map_or(far - near, vector).normalize();
            let slide = along.dot(shift);
            let begins_at_end = from.is_none();
            let start = from.as_ref().map_or(near, vector);
            for corner in profile.iter_mut() {
                let is_pulled = goes(&(start + along * corner.0));
                if is_pulled && !begins_at_end {
                    corner.0 += slide;
                } else if !is_pulled && begins_at_end {
                    corner.0 -= slide;
                }
            }
        }
        ShapeEntry::Mesh {
            at, holes: None, ..
        } => {
            if at.as_ref().is_some_and(|at| goes(&vector(at))) {
                whole(shape);
            }
        }
        ShapeEntry::Mesh {
            holes: Some(holes), ..
        } => holes.iter_mut().for_each(|(_, to)| pull(to)),
    }
}

/// Turns a shape into its mirror image, left for right.
///
/// # Errors
/// A mesh has no mirror image in a scene.
pub(super) fn mirror_shape(shape: &mut ShapeEntry, path: &str) -> super::Result<()> {
    let flip = |p: &mut Point| p.1 = -p.1;
    match shape {
        ShapeEntry::Ball { centre, .. } => flip(centre),
        ShapeEntry::Capsule { from, to, .. }
        | ShapeEntry::Cylinder { from, to, .. }
        | ShapeEntry::Cone { from, to, .. } => {
            flip(from);
            flip(to);
        }
        ShapeEntry::Box {
            centre, turned_deg, ..
        } => {
            flip(centre);
            // Mirrored in y, turns about x and z change sense.
            if let Some(turn) = turned_deg {
                (turn.0, turn.2) = (-turn.0, -turn.2);
            }
        }
        ShapeEntry::Hull { points } => points.iter_mut().for_each(flip),
        ShapeEntry::Lathe { from, axis, .. } => {
            from.iter_mut().for_each(flip);
            axis.iter_mut().for_each(flip);
        }
        ShapeEntry::Bar { from, to, .. } => each_point(from.iter_mut().chain(to), flip),
        ShapeEntry::Link { from, to, .. } => each_point([from, &mut to.at], flip),
        // The same on both sides.
        ShapeEntry::Cup { .. }
        | ShapeEntry::Tyre { .. }
        | ShapeEntry::Spring { .. }
        | ShapeEntry::Boot { .. } => {}
        ShapeEntry::Mesh { .. } => {
            return Err(Problem::at(
                path,
                "this part is fitted left and right by entries of their own, and a mesh has no mirror image here",
                "take the part off with RemovePart and add a left and a right one with AddPart",
            ));
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Moving a box's corners is moving the box: turned about all three axes, then moved.
    #[test]
    fn a_turned_box_moves_as_its_corners_do() {
        let mut shape = ShapeEntry::Box {
            centre: Point(10.0, -20.0, 30.0),
            size: Point(4.0, 6.0, 8.0),
            turned_deg: Some(Point(20.0, -35.0, 50.0)),
        };
        let corner = |shape: &ShapeEntry| match shape {
            ShapeEntry::Box {
                centre, turned_deg, ..
            } => {
                turns(turned_deg) * Vector3::new(2.0, 3.0, 4.0)
                    + Vector3::new(centre.0, centre.1, centre.2)
            }
            _ => unreachable!("it stays a box"),
        };
        let motion = Isometry3::new(Vector3::new(5.0, 6.0, 7.0), Vector3::new(0.3, -0.2, 0.9));
        let expected = motion * Point3::from(corner(&shape));
        move_shape(&mut shape, &motion);
        assert!((corner(&shape) - expected.coords).norm() < 1.0e-12);
    }

    #[test]
    fn the_mirrored_motion_moves_mirror_images() {
        let motion = Isometry3::new(Vector3::new(5.0, 6.0, 7.0), Vector3::new(0.3, -0.2, 0.9));
        let p = Point3::new(1.0, 2.0, 3.0);
        let flip = |p: Point3<f64>| Point3::new(p.x, -p.y, p.z);
        let moved = mirrored(&motion) * flip(p);
        assert!((moved - flip(motion * p)).norm() < 1.0e-12);
    }
}
