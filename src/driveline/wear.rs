//! How fast a halfshaft's joints slide under load.
//!
//! The idea in five lines. A joint at an angle slides a little back and forth in every turn. In a fixed
//! ball joint, concentric model, the balls stay in the half-angle plane: with pitch radius r and shaft speed
//! w the peak track speed is r w tan(a/2) and each race is slid over by 2 r a a turn. In a tripod the rollers
//! stroke plus and minus r tan(a) once a turn: peak r w tan(a), mean 4 r tan(a) a turn. The contact load is
//! torque over pitch radius, so load times speed, the wear index, holds no radius: ratios need none.
//!
//! Sources: half-angle plane, TM 9-8000, "Principles of Automotive Vehicles", US Army 1985, paragraph 28-6;
//! tripod, O. Durum, J. Eng. Ind. 97(2), 1975, 708-713, and E. Akbil, T. W. Lee, J. Mech. Trans. Autom. Des.
//! 106, 1984, 228-234; the formulas are derived from those. The index is pressure times velocity with the
//! contact area left out, since it is only compared within one joint. It knows nothing of grease, heat,
//! hardness, dirt or boots, and is no life.

use std::f64::consts::TAU;

/// Which of the halfshaft's joints.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HalfshaftJointKind {
    /// The outer, fixed ball joint.
    FixedBall,
    /// The inner, plunging tripod.
    Tripod,
}

/// Sliding in one joint at one angle: per pitch radius and shaft speed, so without unit.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Sliding {
    /// Greatest speed over (pitch radius times shaft speed in rad/s).
    pub peak: f64,
    /// Mean speed over the same.
    pub mean: f64,
}

impl Sliding {
    /// At a joint angle, radians.
    pub fn at(kind: HalfshaftJointKind, angle: f64) -> Sliding {
        match kind {
            HalfshaftJointKind::FixedBall => Sliding {
                peak: (0.5 * angle).tan(),
                mean: 2.0 * angle / TAU,
            },
            HalfshaftJointKind::Tripod => Sliding {
                peak: angle.tan(),
                mean: 4.0 * angle.tan() / TAU,
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The balls' path by brute force: on the track, a ball's angle from the half plane swings as
    /// atan(tan(a/2) cos(turn)); its speed over a turn gives peak and mean.
    #[test]
    fn ball_track_sliding_matches_the_swing_of_the_half_angle_plane() {
        for deg in [5.0_f64, 20.0, 40.0] {
            let a = deg.to_radians();
            let swing = |turn: f64| ((0.5 * a).tan() * turn.cos()).atan();
            let n = 100_000;
            let step = TAU / f64::from(n);
            let speeds = (0..n).map(|i| {
                let t = f64::from(i) * step;
                (swing(t + 0.5 * step) - swing(t - 0.5 * step)).abs() / step
            });
            let (peak, sum) = speeds.fold((0.0_f64, 0.0), |(p, s), v| (p.max(v), s + v));
            let found = Sliding::at(HalfshaftJointKind::FixedBall, a);
            assert!((found.peak - peak).abs() < 1.0e-6, "{deg}: {peak}");
            assert!((found.mean - sum / f64::from(n)).abs() < 1.0e-6, "{deg}");
        }
    }

    /// Roller stroke plus and minus R tan a: R = 25, from the same source as the orbit's table.
    #[test]
    fn the_tripod_strokes_as_its_table_says() {
        for (deg, stroke_mm) in [
            (10.0_f64, 4.408),
            (15.0, 6.699),
            (20.0, 9.099),
            (26.0, 12.193),
        ] {
            let s = Sliding::at(HalfshaftJointKind::Tripod, deg.to_radians());
            assert!((25.0 * s.peak - stroke_mm).abs() < 5.1e-4, "{deg}");
            // There and back twice the stroke's length in a turn.
            assert!((s.mean * TAU - 4.0 * s.peak).abs() < 1.0e-12);
        }
    }

    #[test]
    fn sliding_grows_with_the_angle_and_starts_at_zero() {
        for kind in [HalfshaftJointKind::FixedBall, HalfshaftJointKind::Tripod] {
            assert_eq!(Sliding::at(kind, 0.0), Sliding::default());
            let mut before = Sliding::default();
            for deg in 1..50 {
                let now = Sliding::at(kind, f64::from(deg).to_radians());
                assert!(now.peak > before.peak && now.mean > before.mean);
                before = now;
            }
        }
    }
}
