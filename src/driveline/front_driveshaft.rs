//! The front driveshaft: what its joints see and how unevenly it turns the pinion.
//!
//! The idea in five lines. A Cardan joint at angle b turns its driven fork by tan(out) = tan(in) / cos(b),
//! counted from where the driving fork lies in the plane of both shafts. Written for the direction
//! (cos in, sin in) that is the linear map diag(cos b, 1); a turn of the reference plane is a rotation. So a
//! shaft with any joints and any phase is one 2 x 2 matrix, and its speed ratio is det / |M v|^2 for the unit
//! vector v: between s2/s1 and s1/s2 for its singular values s1 >= s2. Fastest less slowest over the mean
//! (which is 1) is U = s1/s2 - s2/s1; for one joint s2/s1 = cos b, and U = tan b sin b.
//!
//! Source of the single joint: any text on mechanisms, for example F. Duditza, "Transmissions cardaniques",
//! Eyrolles 1971, or H. Chr. Seherr-Thoss, F. Schmelz, E. Aucktor, "Universal Joints and Driveshafts",
//! Springer 2006, chapter 1 (from memory); the matrix form is derived here.

use crate::scene::ShaftJoint;
use nalgebra::{Matrix2, Rotation2, Vector3};

/// Greatest speed fluctuation of the whole shaft, (fastest - slowest) / mean: a maker's driveline limit,
/// second-hand, equal to about 3 degrees of one Cardan joint, the customary rule.
pub const FLUCTUATION_LIMIT: f64 = 0.0027;

/// The shaft from the transfer case to the pinion: vehicle coordinates, millimetres, radians.
#[derive(Clone, Debug, PartialEq)]
pub struct FrontDriveshaft {
    /// Centre of the joint at the transfer case.
    pub transfer_case: Vector3<f64>,
    /// Output shaft's axis there, unit, toward the pinion.
    pub transfer_case_axis: Vector3<f64>,
    /// Centre of the joint at the pinion.
    pub pinion: Vector3<f64>,
    /// Pinion's axis, unit, from the shaft on into the differential.
    pub pinion_axis: Vector3<f64>,
    /// The joints: at the transfer case, at the pinion.
    pub joints: [ShaftJoint; 2],
    /// The pinion's yoke turned from the other one's plane, right-handed along the shaft.
    pub phase: f64,
    /// Greatest joint angle.
    pub joint_limit: f64,
    /// Greatest fluctuation.
    pub fluctuation_limit: f64,
    /// Distance of the joints' centres as measured.
    pub length_as_measured_mm: f64,
}

impl FrontDriveshaft {
    fn direction(&self) -> Vector3<f64> {
        (self.pinion - self.transfer_case).normalize()
    }

    /// Joint angles at the transfer case and at the pinion, radians.
    pub fn joint_angles(&self) -> [f64; 2] {
        let shaft = self.direction();
        [self.transfer_case_axis, self.pinion_axis].map(|axis| angle_between(&axis, &shaft))
    }

    /// How much longer the shaft is than as measured: what its slip joint has to give, mm.
    pub fn slip_mm(&self) -> f64 {
        (self.pinion - self.transfer_case).norm() - self.length_as_measured_mm
    }

    /// Speed fluctuation of the pinion against the transfer case's output, (fastest - slowest) / mean.
    pub fn fluctuation(&self) -> f64 {
        let shaft = self.direction();
        let [first, second] = self.joint_angles();
        // The plane of the two shafts at each joint, by its normal; any where they are in line.
        let normals = [
            self.transfer_case_axis.cross(&shaft),
            shaft.cross(&self.pinion_axis),
        ];
        let between_planes = match normals.map(|n| n.try_normalize(1.0e-12)) {
            [Some(a), Some(b)] => shaft.dot(&a.cross(&b)).atan2(a.dot(&b)),
            _ => 0.0,
        };
        // The driven fork of the first joint stands a quarter turn from its driving one, and the second
        // joint's plane is turned by its own angle about the shaft.
        let turn = std::f64::consts::FRAC_PI_2 + self.phase - between_planes;
        let whole = joint_map(self.joints[1], second)
            * Rotation2::new(turn).into_inner()
            * joint_map(self.joints[0], first);
        let values = whole.singular_values();
        let (long, short) = (values.max(), values.min());
        long / short - short / long
    }
}

/// What a joint does to the direction (cos, sin) of its driving fork. A double Cardan joint's centring yoke
/// halves its angle, so that its two crosses cancel.
fn joint_map(joint: ShaftJoint, angle: f64) -> Matrix2<f64> {
    match joint {
        ShaftJoint::Cardan => Matrix2::new(angle.cos(), 0.0, 0.0, 1.0),
        ShaftJoint::DoubleCardan | ShaftJoint::ConstantVelocity => Matrix2::identity(),
    }
}

fn angle_between(a: &Vector3<f64>, b: &Vector3<f64>) -> f64 {
    a.cross(b).norm().atan2(a.dot(b))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shaft(case_deg: f64, pinion_deg: f64, joints: [ShaftJoint; 2]) -> FrontDriveshaft {
        // A shaft along x; both axes in the x-z plane.
        let axis = |deg: f64| {
            let a = deg.to_radians();
            Vector3::new(a.cos(), 0.0, a.sin())
        };
        FrontDriveshaft {
            transfer_case: Vector3::zeros(),
            transfer_case_axis: axis(case_deg),
            pinion: Vector3::new(600.0, 0.0, 0.0),
            pinion_axis: axis(pinion_deg),
            joints,
            phase: 0.0,
            joint_limit: 0.5,
            fluctuation_limit: FLUCTUATION_LIMIT,
            length_as_measured_mm: 600.0,
        }
    }

    use ShaftJoint::{Cardan, ConstantVelocity};

    /// U = tan b sin b, derived from tan out = tan in / cos b.
    #[test]
    fn one_joint_fluctuates_as_its_table_says() {
        for (deg, percent) in [
            (5.0, 0.7625),
            (10.0, 3.0619),
            (15.0, 6.9350),
            (20.0, 12.4485),
            (25.0, 19.7070),
            (30.0, 28.8675),
            (45.0, 70.7107),
        ] {
            let u = 100.0 * shaft(deg, 0.0, [Cardan, ConstantVelocity]).fluctuation();
            assert!((u - percent).abs() < 5.1e-5, "{deg}: {u}");
        }
    }

    /// Two forks in one plane: Z and W arrangement cancel where the angles are equal.
    #[test]
    fn equal_angles_in_phase_cancel_and_out_of_phase_add_up() {
        for pinion_deg in [12.0, -12.0] {
            let even = shaft(12.0, pinion_deg, [Cardan, Cardan]);
            assert!(even.fluctuation() < 1.0e-12, "{pinion_deg}");
            let crossed = FrontDriveshaft {
                phase: std::f64::consts::FRAC_PI_2,
                ..even
            };
            // A quarter turn out of phase both ratios multiply: cos b squared.
            let c2 = 12.0_f64.to_radians().cos().powi(2);
            assert!((crossed.fluctuation() - (1.0 / c2 - c2)).abs() < 1.0e-12);
        }
    }
}
