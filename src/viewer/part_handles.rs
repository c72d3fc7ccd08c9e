//! Handles on the picked mesh part while the page Room is open: three arrows to drag it along the axes of the body that
//! carries it, three rings to turn it. The part follows the hand.

use super::document::Document;
use super::drive::suspension_is_shown;
use super::frame;
use super::labels::{Label, Labels};
use super::look::{OverLines, TruckCamera};
use super::motion::{Motion, MotionSet};
use super::palette;
use super::panels::PointerOverPicture;
use super::placing::{Handle, Placing, Sight};
use super::shown::{Page, Shown};
use super::suspension::{PartChoice, PartView, PartsBuilt, place};
use crate::suspension::Placement;
use bevy::prelude::*;
use bevy::window::RequestRedraw;
use nalgebra::Vector3;

/// Handles by mouse; for a window.
pub struct PartHandlesPlugin;

impl Plugin for PartHandlesPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Placing>()
            .add_systems(Update, handle.after(MotionSet).run_if(suspension_is_shown))
            .add_systems(
                PostUpdate,
                carry
                    .in_set(PartsBuilt)
                    .after(place)
                    .before(TransformSystems::Propagate),
            );
    }
}

/// Length of an arrow on the screen, logical pixels.
const ARROW_PX: f32 = 95.0;
/// Radius of a ring, against an arrow: they don't meet.
const RING: f32 = 0.72;
/// Arrows start this far out, against their length: the part's middle stays in sight.
const INNER: f32 = 0.2;
/// The pointer is on a handle within this, logical pixels.
const REACH_PX: f32 = 8.0;
/// Corners of a ring that is looked for under the pointer.
const RING_CORNERS: usize = 48;

/// The handles, world coordinates.
struct Handles {
    middle: Vec3,
    axes: [Vec3; 3],
    length: f32,
}

impl Handles {
    /// A handle as a line.
    fn line(&self, handle: Handle) -> Vec<Vec3> {
        let axis = |k: usize| self.axes[k % 3] * self.length;
        match handle {
            Handle::Arrow(k) => vec![self.middle + axis(k) * INNER, self.middle + axis(k)],
            Handle::Ring(k) => (0..=RING_CORNERS)
                .map(|i| {
                    let angle = std::f32::consts::TAU * i as f32 / RING_CORNERS as f32;
                    let (sin, cos) = angle.sin_cos();
                    self.middle + RING * (axis(k + 1) * cos + axis(k + 2) * sin)
                })
                .collect(),
        }
    }

    /// The handle nearest to the pointer, if it is on one.
    fn under(&self, pointer: Vec2, on_screen: impl Fn(Vec3) -> Option<Vec2>) -> Option<Handle> {
        let distance = |handle: Handle| {
            let line = self.line(handle);
            let points: Vec<Vec2> = line.into_iter().filter_map(&on_screen).collect();
            points
                .windows(2)
                .map(|ends| {
                    let way = ends[1] - ends[0];
                    let along = (pointer - ends[0]).dot(way) / way.length_squared().max(1.0e-6);
                    pointer.distance(ends[0] + way * along.clamp(0.0, 1.0))
                })
                .fold(f32::INFINITY, f32::min)
        };
        ALL.into_iter()
            .map(|handle| (handle, distance(handle)))
            .filter(|(_, distance)| *distance < REACH_PX)
            .min_by(|a, b| a.1.total_cmp(&b.1))
            .map(|(handle, _)| handle)
    }
}

const ALL: [Handle; 6] = [
    Handle::Arrow(0),
    Handle::Arrow(1),
    Handle::Arrow(2),
    Handle::Ring(0),
    Handle::Ring(1),
    Handle::Ring(2),
];

/// A line of sight in the coordinates of a body.
fn sight(ray: Ray3d, placement: &Placement<f64>) -> Sight {
    let from = frame::vehicle(ray.origin);
    let to = frame::vehicle(ray.origin + *ray.direction);
    let along = placement.rotation.tr_mul(&(to - from));
    Sight {
        from: placement.point_in_body(&from),
        along,
    }
}

fn handle(
    buttons: Res<ButtonInput<MouseButton>>,
    windows: Query<&Window>,
    cameras: Query<(&Camera, &GlobalTransform), With<TruckCamera>>,
    over: Res<PointerOverPicture>,
    motion: Res<Motion>,
    choice: Res<PartChoice>,
    shown: Res<Shown>,
    mut document: ResMut<Document>,
    mut placing: ResMut<Placing>,
    mut gizmos: Gizmos<OverLines>,
    mut labels: ResMut<Labels>,
    mut redraw: MessageWriter<RequestRedraw>,
) {
    placing.look_at(&document);
    placing.settle(&document);
    let before = placing.under_pointer.take();
    let Some(name) = choice.picked.as_ref().filter(|_| shown.page == Page::Room) else {
        placing.forget();
        return;
    };
    let part = document.corner().parts.iter().find(|p| p.name == *name);
    let (Some(part), Some(_), Ok((camera, eye))) =
        (part, placing.with_handles(name), cameras.single())
    else {
        placing.forget();
        return;
    };
    let placement = motion.position().linkage.placement(part.body.motion());
    let surface = &part.surface;
    let at_rest = surface.origin + surface.rotation * surface.bounds().middle;
    let pointer = windows.single().ok().and_then(Window::cursor_position);
    let ray = pointer.and_then(|at| camera.viewport_to_world(eye, at).ok());
    let sight = ray.map(|ray| sight(ray, &placement));
    if placing.held().is_some() {
        if let Some(sight) = &sight {
            placing.drag(sight);
        }
        if !buttons.pressed(MouseButton::Left) {
            placing.let_go(&mut document);
            redraw.write(RequestRedraw);
        }
    }
    let displaced = placing.motion_of(name);
    let middle = displaced.map_or(at_rest, |m| (m * nalgebra::Point3::from(at_rest)).coords);
    let Some(handles) = handles(&middle, &placement, camera, eye) else {
        return;
    };
    let on_screen = |p: Vec3| camera.world_to_viewport(eye, p).ok();
    if placing.held().is_none() && over.0 {
        let under = pointer.and_then(|at| handles.under(at, on_screen));
        placing.under_pointer = under;
        if let (Some(under), Some(sight)) = (under, &sight)
            && buttons.just_pressed(MouseButton::Left)
        {
            placing.take(name, middle, under, sight);
        }
        if under != before {
            redraw.write(RequestRedraw);
        }
    }
    draw(
        &handles,
        placing.held().or(placing.under_pointer),
        &mut gizmos,
    );
    if placing.held().is_some()
        && let Some(part) = placing.with_handles(name)
    {
        let (at, turned) = placing.numbers(part);
        let list = |values: [f64; 3]| {
            values
                .map(|v| {
                    format!("{v:.4}")
                        .trim_end_matches('0')
                        .trim_end_matches('.')
                        .to_owned()
                })
                .join(", ")
        };
        labels.0.push(Label {
            at: handles.middle,
            text: format!(
                "{name}: at {} {}, turned {}\u{b0}",
                list(at),
                part.unit.name(),
                list(turned)
            ),
            rgb: palette::INK,
            weight: 9,
        });
    }
}

/// The handles of a part, of one size on the screen however far away it is.
fn handles(
    middle: &Vector3<f64>,
    placement: &Placement<f64>,
    camera: &Camera,
    eye: &GlobalTransform,
) -> Option<Handles> {
    let middle = frame::world(&placement.point(middle));
    let beside = middle + eye.right() * frame::METRE_PER_MM * 10.0;
    let [a, b] = [middle, beside].map(|p| camera.world_to_viewport(eye, p).ok());
    let metre_per_px = frame::METRE_PER_MM * 10.0 / a?.distance(b?).max(1.0e-3);
    Some(Handles {
        middle,
        axes: [0, 1, 2]
            .map(|k| frame::world_direction(&placement.direction(&Vector3::ith(k, 1.0)))),
        length: ARROW_PX * metre_per_px,
    })
}

fn draw(handles: &Handles, lit: Option<Handle>, gizmos: &mut Gizmos<OverLines>) {
    for handle in ALL {
        let (Handle::Arrow(axis) | Handle::Ring(axis)) = handle;
        let colour = if lit == Some(handle) {
            palette::LIT_HANDLE
        } else {
            palette::AXES[axis]
        };
        let colour = palette::color(colour);
        let line = handles.line(handle);
        match handle {
            Handle::Arrow(_) => {
                gizmos
                    .arrow(line[0], line[1], colour)
                    .with_tip_length(0.16 * handles.length);
            }
            Handle::Ring(_) => gizmos.linestrip(line, colour),
        }
    }
}

/// Shows the part where the hand has it.
fn carry(
    placing: Res<Placing>,
    document: Res<Document>,
    mut views: Query<(&PartView, &mut Transform)>,
) {
    let parts = &document.corner().parts;
    for (view, mut transform) in &mut views {
        let motion = view
            .part
            .and_then(|i| placing.motion_of(&parts.get(i)?.name));
        if let Some(motion) = motion {
            let [x, y, z, w] = motion.rotation.coords.map(|c| c as f32).into();
            *transform = transform.mul_transform(Transform {
                translation: frame::vec3(&motion.translation.vector),
                rotation: Quat::from_xyzw(x, y, z, w),
                scale: Vec3::ONE,
            });
        }
    }
}
