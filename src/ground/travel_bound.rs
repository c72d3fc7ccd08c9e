//! How far unsprung parts of a front corner can be from their places over a range of its wheel's travel.
//!
//! The idea in five lines. The range of travel is a range of the lower arm's angle, whose ends Newton's method finds.
//! Over it, with the rack straight ahead, a body's displacement is its exact rate in the middle plus its greatest bending
//! (see [`crate::kinematics`]). Bending is enclosed over patches of arm angle, each once, when it is first asked for. Where
//! a patch reaches past the end of reach the range itself is enclosed; where that can't be done nothing is said, and the
//! drive is looked at in shorter stretches.

use super::vehicle::FrontCorner;
use crate::kinematics::{CellField, LEAST_HALF, Position, RateField, RelativeBend};
use crate::numbers::{Dual, Enclosure, Real};
use crate::suspension::{Linkage, Mechanism, Motion, Placement};
use nalgebra::Vector3;
use std::sync::{Arc, OnceLock};

/// One front corner over a range of travel.
pub(super) struct TravelBound {
    /// What holds over the range, together.
    patches: Vec<Arc<Patch>>,
    duals: Linkage<Dual>,
    /// Half of the range, radians.
    half: f64,
    mirrored: bool,
}

/// The linkage enclosed over a range of arm angle, straight ahead.
#[derive(Debug)]
struct Patch {
    linkage: Linkage<Enclosure>,
    half: [f64; 2],
}

/// A patch's width, radians: about 8 mm of wheel travel.
const PATCH_RAD: f64 = 0.02;
/// Patches to each side of the measured position: beyond a radian no arm goes.
const PATCHES: i32 = 50;
/// A range of more patches than this is enclosed by itself.
const MOST_PATCHES: i32 = 8;

/// The patches of one corner, each enclosed when it is first asked for; none that isn't within reach.
#[derive(Debug)]
pub(super) struct TravelPatches(Vec<OnceLock<Option<Arc<Patch>>>>);

impl TravelPatches {
    pub(super) fn new() -> TravelPatches {
        TravelPatches((-PATCHES..PATCHES).map(|_| OnceLock::new()).collect())
    }

    /// The patches that hold a range of arm angle; none where one of them isn't within reach, or they are too many.
    fn over(&self, design: &Mechanism, [from, to]: [f64; 2]) -> Option<Vec<Arc<Patch>>> {
        let number = |alpha: f64| (alpha / PATCH_RAD).floor() as i32;
        let (first, last) = (number(from), number(to));
        if last - first >= MOST_PATCHES {
            return None;
        }
        let patch = |n: i32| {
            let slot = self.0.get(usize::try_from(n + PATCHES).ok()?)?;
            let enclose = || {
                // The widest rounding of an end leaves no gap to the next.
                let half = 0.5 * PATCH_RAD * (1.0 + 1.0e-9);
                Patch::enclose(design, (f64::from(n) + 0.5) * PATCH_RAD, half).map(Arc::new)
            };
            slot.get_or_init(enclose).clone()
        };
        (first..=last).map(patch).collect()
    }
}

impl Patch {
    /// None where not all of it is proved within reach.
    fn enclose(design: &Mechanism, middle: f64, half: f64) -> Option<Patch> {
        let half = [half.max(LEAST_HALF[0]), LEAST_HALF[1]];
        let linkage = design.solve(
            Enclosure::variable(middle, half[0], 0),
            Enclosure::variable(0.0, half[1], 1),
        );
        linkage.is_within_reach().then_some(Patch { linkage, half })
    }

    /// Greatest second derivatives of the wheel centre's coordinates by the arm's angle, mm.
    fn wheel_bend(&self) -> Vector3<f64> {
        let unit = 1.0 / (self.half[0] * self.half[0]);
        let bend = |e: Enclosure| e.bend[0].scale(unit).magnitude();
        self.linkage.wheel_centre.map(bend)
    }

    /// How the motion of a body's points bends.
    fn field(&self, motion: Motion, about: Vector3<f64>) -> RateField {
        let moving = self.linkage.placement(motion);
        let bend = RelativeBend::between(&Placement::identity(), &moving, true);
        RateField::about(about, &bend, self.half)
    }
}

impl TravelBound {
    /// Within `by_mm` of the wheel travel at `middle`. None where the linkage can't be enclosed or can't go there.
    pub(super) fn around(
        corner: &FrontCorner,
        middle: &Position,
        by_mm: f64,
    ) -> Option<TravelBound> {
        let positioner = &corner.positioner;
        let mut half = LEAST_HALF[0];
        for end in [-by_mm, by_mm] {
            let there = positioner.position(middle.travel_mm + end, 0.0).ok()?;
            // A little more than the angle between, for Newton's last digit.
            half = f64::max(half, (there.alpha - middle.alpha).abs() * (1.0 + 1.0e-9));
        }
        let design = &positioner.linkage;
        let range = [middle.alpha - half, middle.alpha + half];
        let patches = match corner.patches.over(design, range) {
            Some(patches) => patches,
            None => vec![Arc::new(Patch::enclose(design, middle.alpha, half)?)],
        };
        Some(TravelBound {
            patches,
            duals: design.solve(Dual::variable(middle.alpha, 0), Dual::constant(0.0)),
            half,
            mirrored: corner.mirrored,
        })
    }

    /// What a body's points can move by from the middle; `about` is a measured point amid what is asked about.
    fn field(&self, motion: Motion, about: Vector3<f64>) -> CellField {
        let mut fields = self.patches.iter().map(|patch| patch.field(motion, about));
        let first = fields.next();
        let first = first.unwrap_or_else(|| unreachable!("a range lies in a patch at least"));
        let field = fields.fold(first, |hull, field| hull.hull(&field));
        let moves = self.duals.placement(motion);
        CellField::new(&field, &Placement::identity(), &moves, [self.half, 0.0])
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
        let bends = self.patches.iter().map(|patch| patch.wheel_bend());
        let bend = bends.fold(Vector3::zeros(), |most: Vector3<f64>, bend| most.sup(&bend));
        let rate = self.duals.wheel_centre.map(|d: Dual| d.rate[0].abs());
        let most = (rate + bend * (0.5 * self.half)) * self.half;
        most.into()
    }
}
