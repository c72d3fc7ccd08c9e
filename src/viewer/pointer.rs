//! What is under the pointer: the first part that is seen there, and whether it was clicked.

use super::clearance_map::ShownMap;
use super::document::Document;
use super::drive::suspension_is_shown;
use super::look::TruckCamera;
use super::motion::{Motion, MotionSet};
use super::panels::PointerOverPicture;
use super::section::Section;
use super::suspension::{PartChoice, PartView};
use bevy::picking::mesh_picking::ray_cast::{MeshRayCast, MeshRayCastSettings};
use bevy::prelude::*;

/// A place of a part.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PartHit {
    /// The part's number in the corner.
    pub part: usize,
    /// Number of the triangle as drawn.
    pub triangle: Option<usize>,
    /// The place, world coordinates.
    pub at: Vec3,
}

/// What the pointer does in this frame.
#[derive(Resource, Debug, Default)]
pub struct Pointed {
    /// The part under it; looked for on a click, and while a map is shown.
    pub hit: Option<PartHit>,
    /// Whether it was clicked: pressed and let go without a drag.
    pub clicked: bool,
}

/// What the pointer does is known after this.
#[derive(SystemSet, Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct PointerRead;

/// Reads the pointer; for a window.
pub struct PointerPlugin;

impl Plugin for PointerPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Pointed>().add_systems(
            Update,
            read.in_set(PointerRead)
                .after(MotionSet)
                .run_if(suspension_is_shown),
        );
    }
}

/// A press that moves less than this is a click, pixels.
const CLICK_PX: f32 = 4.0;

fn read(
    buttons: Res<ButtonInput<MouseButton>>,
    windows: Query<&Window>,
    cameras: Query<(&Camera, &GlobalTransform), With<TruckCamera>>,
    over: Res<PointerOverPicture>,
    document: Res<Document>,
    motion: Res<Motion>,
    section: Res<Section>,
    choice: Res<PartChoice>,
    map: Res<ShownMap>,
    views: Query<&PartView>,
    mut ray_cast: MeshRayCast,
    mut pointed: ResMut<Pointed>,
    mut pressed_at: Local<Option<Vec2>>,
) {
    *pointed = Pointed::default();
    let Some(cursor) = windows.single().ok().and_then(Window::cursor_position) else {
        return;
    };
    if buttons.just_pressed(MouseButton::Left) {
        *pressed_at = over.0.then_some(cursor);
    }
    pointed.clicked = buttons.just_released(MouseButton::Left)
        && pressed_at
            .take()
            .is_some_and(|at| at.distance(cursor) < CLICK_PX);
    // While it plays or is turned round nobody reads what is under a moving pointer.
    let busy = motion.play.is_some() || buttons.get_pressed().next().is_some();
    let probing = map.choice.on && map.made().is_some() && over.0 && !busy;
    if !pointed.clicked && !probing {
        return;
    }
    let Ok((camera, eye)) = cameras.single() else {
        return;
    };
    let Ok(ray) = camera.viewport_to_world(eye, cursor) else {
        return;
    };
    let plane = section.plane(&document, &motion);
    let Some(ray) = from_cut(ray, plane) else {
        return;
    };
    let parts = &document.corner().parts;
    let is_seen = |entity: Entity| {
        views
            .get(entity)
            .ok()
            .and_then(|view| parts.get(view.part?))
            .is_some_and(|part| choice.shows(&part.name) && !choice.sees_through(part))
    };
    let settings = MeshRayCastSettings::default().with_filter(&is_seen);
    let cast = ray_cast.cast_ray(ray, &settings).first();
    pointed.hit = cast.and_then(|(entity, hit)| {
        let cut_off = plane.is_some_and(|p| p.truncate().dot(hit.point) > p.w + CUT_M);
        Some(PartHit {
            part: views.get(*entity).ok()?.part.filter(|_| !cut_off)?,
            triangle: hit.triangle_index,
            at: hit.point,
        })
    });
}

/// What lies on the cutting plane is seen, metres.
const CUT_M: f32 = 1.0e-6;

/// A line of sight from where the truck isn't cut away; none where all of it is.
fn from_cut(ray: Ray3d, plane: Option<Vec4>) -> Option<Ray3d> {
    let Some(plane) = plane else {
        return Some(ray);
    };
    let before = plane.truncate().dot(ray.origin) - plane.w;
    if before <= 0.0 {
        return Some(ray);
    }
    let closing = -plane.truncate().dot(*ray.direction);
    (closing > 0.0).then(|| Ray3d {
        origin: ray.origin + *ray.direction * (before / closing),
        ..ray
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_of_sight_begins_where_the_truck_is_cut() {
        let ray = |z: f32| Ray3d::new(Vec3::new(1.0, 2.0, 5.0), Dir3::new(Vec3::Z * z).unwrap());
        let plane = Some(Vec4::new(0.0, 0.0, 1.0, 2.0));
        assert_eq!(
            from_cut(ray(-1.0), plane).map(|r| r.origin),
            Some(Vec3::new(1.0, 2.0, 2.0))
        );
        assert_eq!(from_cut(ray(1.0), plane), None);
        assert_eq!(from_cut(ray(1.0), None), Some(ray(1.0)));
        let behind = Some(Vec4::new(0.0, 0.0, 1.0, 7.0));
        assert_eq!(from_cut(ray(1.0), behind), Some(ray(1.0)));
    }
}
