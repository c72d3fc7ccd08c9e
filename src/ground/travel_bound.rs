//! How far unsprung parts of a front corner can be from their places over a range of its wheel's travel.
//!
//! The idea in five lines. The range of travel is a range of the lower arm's angle, whose ends Newton's method finds.
//! Over that range, and the rack straight ahead, the linkage is enclosed as the sweep does it; a body's
//! displacement is then its exact rate in the middle plus its greatest bending (see [`crate::kinematics`]). Where
//! the linkage can't be enclosed over so much travel nothing is said, and the drive is looked at in shorter
//! stretches.

use super::vehicle::FrontCorner;
use crate::kinematics::{CellField, LEAST_HALF, Position, RateField, RelativeBend};
use crate::numbers::{Dual, Enclosure, Interval, Real};
use crate::suspension::{Linkage, Motion, Placement};
use nalgebra::Vector3;

/// One front corner over a range of travel.
pub(super) struct TravelBound {
    enclosed: Linkage<Enclosure>,
    duals: Linkage<Dual>,
    half: [f64; 2],
    mirrored: bool,
}

impl TravelBound {
    /// Within `by_mm` of the wheel travel at `middle`. None where the linkage can't be enclosed or can't go there.
    pub(super) fn around(
        corner: &FrontCorner,
        middle: &Position,
        by_mm: f64,
    ) -> Option<TravelBound> {
        let positioner = &corner.positioner;
        let mut reach = LEAST_HALF[0];
        for end in [-by_mm, by_mm] {
            let there = positioner.position(middle.travel_mm + end, 0.0).ok()?;
            // A little more than the angle between, for Newton's last digit.
            reach = f64::max(reach, (there.alpha - middle.alpha).abs() * (1.0 + 1.0e-9));
        }
        let half = [reach, LEAST_HALF[1]];
        let design = &positioner.linkage;
        let enclosed = design.solve(
            Enclosure::variable(middle.alpha, half[0], 0),
            Enclosure::variable(0.0, half[1], 1),
        );
        enclosed.is_within_reach().then(|| TravelBound {
            enclosed,
            duals: design.solve(Dual::variable(middle.alpha, 0), Dual::constant(0.0)),
            half,
            mirrored: corner.mirrored,
        })
    }

    /// What a body's points can move by from the middle; `about` is a measured point amid what is asked about.
    fn field(&self, motion: Motion, about: Vector3<f64>) -> CellField {
        let moving = self.enclosed.placement(motion);
        let rest = Placement::identity();
        let bend = RelativeBend::between(&rest, &moving, true);
        let field = RateField::about(about, &bend, self.half);
        let moves = self.duals.placement(motion);
        CellField::new(&field, &Placement::identity(), &moves, [self.half[0], 0.0])
    }

    fn on_built_side(&self, point: &Vector3<f64>) -> Vector3<f64> {
        let sign = if self.mirrored { -1.0 } else { 1.0 };
        Vector3::new(point.x, sign * point.y, point.z)
    }

    /// Greatest displacement of a point within `radius` of `centre`, both as measured, mm.
    pub(super) fn displacement_mm(
        &self,
        motion: Motion,
        centre: &Vector3<f64>,
        radius: f64,
    ) -> f64 {
        let centre = self.on_built_side(centre);
        self.field(motion, centre)
            .displacement_of_ball(&centre, radius)
    }

    /// Greatest displacement of the wheel centre along x, along y and along z, mm.
    pub(super) fn wheel_centre_mm(&self) -> [f64; 3] {
        let centre = &self.enclosed.wheel_centre;
        let middle = &self.duals.wheel_centre;
        [0, 1, 2].map(|i| (centre[i].range - Interval::point(middle[i].value)).magnitude())
    }
}
