//! Where a rigid unit goes when some of its mounts are moved and others hold it.
//!
//! The idea in five lines. A differential's rear mount stays where it is; spacers push its front ears away
//! from the frame's brackets. One rear mount is a ball to turn about, two are a hinge, none lets the unit
//! shift. What is wanted is the rigid motion that keeps the pivots and brings the ears nearest to where the
//! spacers put them, by least squares. Rigid ears can't always get there: what they miss by is told.
//! About a ball it is Wahba's problem, solved by singular values (G. Wahba, SIAM Review 7(3), 1965, 409;
//! J. L. Farrell et al., SIAM Review 8(3), 1966, 384-386); about a hinge one angle, in closed form.

use nalgebra::{Isometry3, Matrix3, Rotation3, Translation3, UnitQuaternion, Vector3};

/// A rigid motion with what each mount misses its wanted place by.
#[derive(Clone, Debug, PartialEq)]
pub struct MountFit {
    /// Vehicle coordinates now, from the same as measured.
    pub motion: Isometry3<f64>,
    /// Distance of each moved mount from its wanted place, mm, in the order given.
    pub misses_mm: Vec<f64>,
}

/// Pivots closer than this are one, mm; mounts closer than this to the pivots' line say nothing of the turn.
const LEAST_ARM_MM: f64 = 10.0;

impl MountFit {
    /// Turns a unit about its pivots so that `mounts` come nearest to `wanted`. `None` where the mounts lie on
    /// the pivots' line, or none are given.
    pub fn about(
        pivots: &[Vector3<f64>],
        mounts: &[Vector3<f64>],
        wanted: &[Vector3<f64>],
    ) -> Option<MountFit> {
        let n = mounts.len().min(wanted.len());
        if n == 0 {
            return None;
        }
        let middle = |points: &[Vector3<f64>]| points.iter().sum::<Vector3<f64>>() / n as f64;
        let motion = match pivots {
            [] => {
                let shift = middle(&wanted[..n]) - middle(&mounts[..n]);
                Isometry3::from_parts(Translation3::from(shift), UnitQuaternion::identity())
            }
            [first, .., last] if (last - first).norm() >= LEAST_ARM_MM => {
                let axis = (last - first).normalize();
                let across = |v: Vector3<f64>| v - axis * axis.dot(&v);
                let (mut sin, mut cos) = (0.0, 0.0);
                for (mount, goal) in mounts.iter().zip(wanted) {
                    let (arm, goal) = (across(mount - first), across(goal - first));
                    if arm.norm() < LEAST_ARM_MM {
                        return None;
                    }
                    // Greatest sum of (turned arm) . goal over the angle: its derivative is zero here.
                    sin += axis.dot(&arm.cross(&goal));
                    cos += arm.dot(&goal);
                }
                let turn = Rotation3::from_axis_angle(
                    &nalgebra::Unit::new_unchecked(axis),
                    sin.atan2(cos),
                );
                fixed_point(*first, turn)
            }
            [pivot, ..] => {
                let arms: Vec<_> = mounts.iter().map(|m| m - pivot).collect();
                let goals: Vec<_> = wanted.iter().map(|w| w - pivot).collect();
                fixed_point(*pivot, ball_turn(&arms, &goals)?)
            }
        };
        let misses_mm = mounts
            .iter()
            .zip(wanted)
            .map(|(m, w)| ((motion * nalgebra::Point3::from(*m)).coords - w).norm())
            .collect();
        Some(MountFit { motion, misses_mm })
    }

    /// Brings `points` nearest to `wanted`, free to shift and turn. `None` for fewer than three, or where they lie on
    /// one line: then the turn about it is open.
    pub fn onto(points: &[Vector3<f64>], wanted: &[Vector3<f64>]) -> Option<MountFit> {
        if points.len() < 3 || points.len() != wanted.len() {
            return None;
        }
        let middle = |p: &[Vector3<f64>]| p.iter().sum::<Vector3<f64>>() / p.len() as f64;
        let (from, to) = (middle(points), middle(wanted));
        let flat = |p: &[Vector3<f64>], m: Vector3<f64>| {
            let arms = || p.iter().map(|q| q - m);
            let longest = arms().map(|a| a.norm()).fold(0.0, f64::max);
            let widest = arms()
                .flat_map(|a| arms().map(move |b| a.cross(&b).norm()))
                .fold(0.0, f64::max);
            longest <= 0.0 || widest < LEAST_SPREAD * longest * longest
        };
        if flat(points, from) || flat(wanted, to) {
            return None;
        }
        // The best shift brings middle to middle, whatever the turn.
        let arms: Vec<_> = points.iter().map(|p| p - from).collect();
        let goals: Vec<_> = wanted.iter().map(|w| w - to).collect();
        let mut product = Matrix3::zeros();
        for (arm, goal) in arms.iter().zip(&goals) {
            product += goal * arm.transpose();
        }
        let turn = nearest_turn(product)?;
        let motion = Isometry3::from_parts(
            Translation3::from(to - turn * from),
            UnitQuaternion::from_rotation_matrix(&turn),
        );
        let misses_mm = points
            .iter()
            .zip(wanted)
            .map(|(p, w)| ((motion * nalgebra::Point3::from(*p)).coords - w).norm())
            .collect();
        Some(MountFit { motion, misses_mm })
    }
}

/// Points whose widest triangle about their middle is less than this share of the longest arm's square lie on a line.
const LEAST_SPREAD: f64 = 0.02;

fn fixed_point(pivot: Vector3<f64>, turn: Rotation3<f64>) -> Isometry3<f64> {
    Isometry3::from_parts(
        Translation3::from(pivot - turn * pivot),
        UnitQuaternion::from_rotation_matrix(&turn),
    )
}

/// The rotation that brings `arms` nearest to `goals`. Arms along one line leave the turn about it open: then
/// the shortest turn is taken.
fn ball_turn(arms: &[Vector3<f64>], goals: &[Vector3<f64>]) -> Option<Rotation3<f64>> {
    let longest = arms.iter().map(Vector3::norm).fold(0.0, f64::max);
    if longest < LEAST_ARM_MM {
        return None;
    }
    let mut spread = Matrix3::zeros();
    let mut product = Matrix3::zeros();
    for (arm, goal) in arms.iter().zip(goals) {
        spread += arm * arm.transpose();
        product += goal * arm.transpose();
    }
    let values = spread.symmetric_eigenvalues();
    let mut sizes = [values.x, values.y, values.z];
    sizes.sort_by(f64::total_cmp);
    if sizes[1] < LEAST_ARM_MM * LEAST_ARM_MM {
        // Arms l_i u, goals g_i: the sum of |R l_i u - g_i|^2 is least where R u points along the sum of
        // l_i g_i.
        let line = arms
            .iter()
            .max_by(|a, b| a.norm().total_cmp(&b.norm()))
            .copied()?;
        let sum = |v: &[Vector3<f64>]| {
            v.iter()
                .zip(arms)
                .map(|(v, arm)| v * arm.dot(&line))
                .sum::<Vector3<f64>>()
        };
        return Rotation3::rotation_between(&sum(arms), &sum(goals));
    }
    nearest_turn(product)
}

/// The rotation R that makes the trace of `R^T product` greatest.
fn nearest_turn(product: Matrix3<f64>) -> Option<Rotation3<f64>> {
    let svd = product.svd(true, true);
    let (u, v_t) = (svd.u?, svd.v_t?);
    let sign = (u * v_t).determinant().signum();
    let turn = u * Matrix3::from_diagonal(&Vector3::new(1.0, 1.0, sign)) * v_t;
    Some(Rotation3::from_matrix_unchecked(turn))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn moved(p: &Vector3<f64>) -> Vector3<f64> {
        let turn = Rotation3::from_euler_angles(0.4, -1.1, 2.3);
        turn * p + Vector3::new(50.0, -20.0, 7.0)
    }

    #[test]
    fn holes_find_the_motion_that_moved_them() {
        let holes = [
            Vector3::new(0.0, 0.0, 0.0),
            Vector3::new(80.0, 0.0, 0.0),
            Vector3::new(0.0, 60.0, 5.0),
            Vector3::new(70.0, 55.0, -3.0),
        ];
        let fit = MountFit::onto(&holes, &holes.map(|h| moved(&h))).expect("a motion");
        let p = Vector3::new(13.0, 99.0, -40.0);
        let there = (fit.motion * nalgebra::Point3::from(p)).coords;
        assert!((there - moved(&p)).norm() < 1.0e-9);
        assert!(fit.misses_mm.iter().all(|m| *m < 1.0e-9));
    }

    /// No small turn or shift of the answer comes nearer: it is a least square.
    #[test]
    fn measured_holes_are_met_as_near_as_can_be() {
        let holes = [
            Vector3::new(0.0, 0.0, 0.0),
            Vector3::new(80.0, 0.0, 0.0),
            Vector3::new(0.0, 60.0, 5.0),
        ];
        let mut wanted = holes.map(|h| moved(&h));
        wanted[1].x += 1.5;
        wanted[2].z -= 2.0;
        let fit = MountFit::onto(&holes, &wanted).expect("a motion");
        let sum = |motion: Isometry3<f64>| -> f64 {
            let each = holes.iter().zip(&wanted);
            each.map(|(h, w)| ((motion * nalgebra::Point3::from(*h)).coords - w).norm_squared())
                .sum()
        };
        let best = sum(fit.motion);
        for axis in [Vector3::x(), Vector3::y(), Vector3::z()] {
            for step in [-1.0e-4, 1.0e-4] {
                let turn = Isometry3::from_parts(
                    Translation3::identity(),
                    UnitQuaternion::from_scaled_axis(axis * step),
                );
                let shift = Isometry3::translation(axis.x * step, axis.y * step, axis.z * step);
                assert!(sum(fit.motion * turn) > best && sum(shift * fit.motion) > best);
            }
        }
    }

    #[test]
    fn holes_on_a_line_settle_nothing() {
        let line = [0.0, 40.0, 90.0].map(|x| Vector3::new(x, 2.0 * x, 5.0));
        assert_eq!(MountFit::onto(&line, &line), None);
        assert_eq!(MountFit::onto(&line[..2], &line[..2]), None);
    }
}
