//! From where the truck is seen, and how it fits the picture.
//!
//! Named views are parallel projections, so that lengths can be compared across the picture; the three-quarter
//! view has perspective.

use super::frame;
use crate::clearance::Part;
use crate::truck::Corner;
use bevy::camera::ScalingMode;
use bevy::prelude::*;
use nalgebra::Vector3;

/// A named view.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum View {
    /// From ahead.
    Front,
    /// From behind.
    Rear,
    /// From the corner's own side.
    Side,
    /// From above, forward up.
    Top,
    /// From below, forward up.
    Bottom,
    /// From ahead, outboard and above.
    #[default]
    ThreeQuarter,
}

impl View {
    /// Every view.
    pub const ALL: [View; 6] = [
        View::Front,
        View::Rear,
        View::Side,
        View::Top,
        View::Bottom,
        View::ThreeQuarter,
    ];

    /// As shown and typed.
    pub fn name(self) -> &'static str {
        match self {
            View::Front => "front",
            View::Rear => "rear",
            View::Side => "side",
            View::Top => "top",
            View::Bottom => "bottom",
            View::ThreeQuarter => "three-quarter",
        }
    }

    /// Yaw about the vertical and pitch of the camera's place, radians: yaw 0 is behind the truck, and
    /// positive pitch above it.
    pub fn yaw_pitch(self, outboard: f64) -> (f32, f32) {
        use std::f32::consts::{FRAC_PI_2, PI};
        let out = outboard as f32;
        match self {
            View::Front => (PI, 0.0),
            View::Rear => (0.0, 0.0),
            View::Side => (-out * FRAC_PI_2, 0.0),
            View::Top => (0.0, FRAC_PI_2),
            View::Bottom => (PI, -FRAC_PI_2),
            View::ThreeQuarter => (PI + out * 0.55, 0.32),
        }
    }

    /// Whether it is a parallel projection.
    pub fn is_parallel(self) -> bool {
        self != View::ThreeQuarter
    }
}

/// A view fitted to a corner.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Framing {
    /// From where.
    pub view: View,
    /// The vehicle point in the middle of the picture, mm.
    pub middle_mm: Vector3<f64>,
    /// Half the height of what is seen there, mm.
    pub half_height_mm: f64,
    /// The corner's outboard direction along y.
    pub outboard: f64,
}

/// Vertical opening of the perspective view, radians.
pub const OPENING: f32 = 0.36;
/// Room left round what is framed, as a share.
const ROOM: f64 = 1.12;
/// The side from which the whole truck is seen: its right.
pub const TRUCK_SEEN_FROM: f64 = -1.0;
/// Room behind and ahead of a whole truck, below and above it, as shares of its length.
const ROOM_BEHIND: f64 = 0.05;
/// See [`ROOM_BEHIND`].
const ROOM_AHEAD: f64 = 0.16;
/// See [`ROOM_BEHIND`].
const ROOM_BELOW: f64 = 0.04;
/// See [`ROOM_BEHIND`]: labels and headline stand above it.
const ROOM_ABOVE: f64 = 0.10;
/// Room around a part that is seen from near by: this, or this share of its greatest side if that is more, mm.
const ROOM_AROUND_MM: f64 = 60.0;
/// See [`ROOM_AROUND_MM`].
const ROOM_AROUND: f64 = 0.25;
/// The camera of a parallel view stands this far off, metres: beyond any part.
const FAR_OFF_M: f32 = 8.0;

impl Framing {
    /// Fits a corner's linkage, wheel and ground into a picture of `aspect` (width over height).
    pub fn fit(corner: &Corner, view: View, aspect: f64) -> Framing {
        let h = &corner.positioner.linkage.hardpoints;
        let radius = corner.loaded_radius_mm;
        let wheel = h.wheel_centre;
        let mut points = vec![
            h.inner_joint,
            h.damper_upper,
            h.lower_front,
            h.lower_rear,
            h.tie_rod_inner,
        ];
        points.extend(h.upper_arm().iter().flat_map(|arm| [arm.front, arm.rear]));
        // The wheel, and the way it goes down and up as far as most do.
        for [x, z] in [
            [radius, 0.0],
            [-radius, 0.0],
            [0.0, radius + 60.0],
            [0.0, -radius - 100.0],
        ] {
            points.push(wheel + Vector3::new(x, 0.35 * radius * corner.side.outboard(), z));
        }
        Framing::around(&points, view, corner.side.outboard(), aspect)
    }

    /// Fits a part where it was measured, with what is around it.
    pub fn of_part(corner: &Corner, part: &Part, view: View, aspect: f64) -> Framing {
        let surface = &part.surface;
        let points = (0..surface.vertices.len()).map(|i| surface.vertex_in_body(i));
        let (mut low, mut high) = (
            Vector3::repeat(f64::INFINITY),
            Vector3::repeat(f64::NEG_INFINITY),
        );
        for p in points {
            low = low.inf(&p);
            high = high.sup(&p);
        }
        let around = surface.radius_mm + ROOM_AROUND_MM.max(ROOM_AROUND * (high - low).max());
        let ends = [low.add_scalar(-around), high.add_scalar(around)];
        Framing::around(&ends, view, corner.side.outboard(), aspect)
    }

    /// Fits a whole truck, from its least to its greatest corner, with room ahead of it for what it meets, into a
    /// picture of `aspect`. It is seen from its right, so that it drives to the right as its curve runs.
    pub fn of_truck([low, high]: [Vector3<f64>; 2], view: View, aspect: f64) -> Framing {
        let length = high.x - low.x;
        let (behind, ahead) = (ROOM_BEHIND * length, ROOM_AHEAD * length);
        let low = low - Vector3::new(behind, 0.0, ROOM_BELOW * length);
        let high = high + Vector3::new(ahead, 0.0, ROOM_ABOVE * length);
        let points: Vec<Vector3<f64>> = (0..8)
            .map(|i| {
                let at = |k: usize| if i >> k & 1 == 0 { low[k] } else { high[k] };
                Vector3::new(at(0), at(1), at(2))
            })
            .collect();
        Framing::around(&points, view, TRUCK_SEEN_FROM, aspect)
    }

    /// Fits points.
    fn around(points: &[Vector3<f64>], view: View, outboard: f64, aspect: f64) -> Framing {
        let (mut low, mut high) = (points[0], points[0]);
        for p in points {
            low = low.inf(p);
            high = high.sup(p);
        }
        let middle_mm = (low + high) * 0.5;
        let this = Framing {
            view,
            middle_mm,
            half_height_mm: 1.0,
            outboard,
        };
        let (right, up) = this.screen_axes();
        let span = |axis: &Vector3<f64>| {
            points
                .iter()
                .map(|p| (p - middle_mm).dot(axis).abs())
                .fold(0.0, f64::max)
        };
        Framing {
            half_height_mm: span(&up).max(span(&right) / aspect) * ROOM,
            ..this
        }
    }

    /// Where the camera stands, world coordinates.
    pub fn camera(&self) -> Transform {
        let focus = frame::world(&self.middle_mm);
        let (yaw, pitch) = self.view.yaw_pitch(self.outboard);
        let rotation = Quat::from_euler(EulerRot::YXZ, yaw, -pitch, 0.0);
        Transform {
            translation: focus + rotation * Vec3::Z * self.radius_m(),
            rotation,
            scale: Vec3::ONE,
        }
    }

    /// Distance from camera to middle, metres.
    pub fn radius_m(&self) -> f32 {
        if self.view.is_parallel() {
            FAR_OFF_M
        } else {
            self.half_height_mm as f32 * frame::METRE_PER_MM / (0.5 * OPENING).tan()
        }
    }

    /// The projection.
    pub fn projection(&self) -> Projection {
        if self.view.is_parallel() {
            Projection::Orthographic(OrthographicProjection {
                near: 0.0,
                far: 2.0 * FAR_OFF_M,
                scaling_mode: ScalingMode::FixedVertical {
                    viewport_height: 1.0,
                },
                scale: 2.0 * self.half_height_mm as f32 * frame::METRE_PER_MM,
                ..OrthographicProjection::default_3d()
            })
        } else {
            Projection::Perspective(PerspectiveProjection {
                fov: OPENING,
                near: 0.02,
                far: 50.0,
                ..default()
            })
        }
    }

    /// Directions to the right and up in the picture, vehicle coordinates.
    pub fn screen_axes(&self) -> (Vector3<f64>, Vector3<f64>) {
        let (yaw, pitch) = self.view.yaw_pitch(self.outboard);
        let (yaw, pitch) = (f64::from(yaw), f64::from(pitch));
        // Yaw 0, pitch 0: from behind, right is the truck's right (-y), up is up.
        let right = Vector3::new(yaw.sin(), -yaw.cos(), 0.0);
        let toward_camera = Vector3::new(
            -yaw.cos() * pitch.cos(),
            -yaw.sin() * pitch.cos(),
            pitch.sin(),
        );
        (right, toward_camera.cross(&right))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_camera_sees_each_view_the_way_its_axes_say() {
        for outboard in [1.0, -1.0] {
            for view in View::ALL {
                let framing = Framing {
                    view,
                    middle_mm: Vector3::new(10.0, 500.0, 400.0),
                    half_height_mm: 500.0,
                    outboard,
                };
                let camera = framing.camera();
                let (right, up) = framing.screen_axes();
                let (r, u) = (frame::world_direction(&right), frame::world_direction(&up));
                assert!(
                    (r - camera.right().as_vec3()).length() < 1.0e-5,
                    "{view:?} right"
                );
                assert!((u - camera.up().as_vec3()).length() < 1.0e-5, "{view:?} up");
            }
        }
        // Seen from ahead, the truck's left is on the right; from its left side, forward is left.
        let axes = |view| {
            let framing = Framing {
                view,
                middle_mm: Vector3::zeros(),
                half_height_mm: 1.0,
                outboard: 1.0,
            };
            framing.screen_axes()
        };
        assert!((axes(View::Front).0 - Vector3::y()).norm() < 1.0e-6);
        assert!((axes(View::Side).0 + Vector3::x()).norm() < 1.0e-6);
        assert!((axes(View::Top).1 - Vector3::x()).norm() < 1.0e-6);
        assert!((axes(View::Bottom).1 - Vector3::x()).norm() < 1.0e-6);
    }
}
