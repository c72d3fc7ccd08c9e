//! Cameras, light, ground: how the truck is looked at.

use super::document::Document;
use super::drive::Drive;
use super::frame;
use super::framing::{Framing, TRUCK_SEEN_FROM, View};
use super::palette;
use super::part_material::PartMaterial;
use bevy::camera::visibility::RenderLayers;
use bevy::camera::{CameraOutputMode, Viewport};
use bevy::core_pipeline::tonemapping::Tonemapping;
use bevy::light::{CascadeShadowConfigBuilder, DirectionalLightShadowMap, ShadowFilteringMethod};
use bevy::prelude::*;
use bevy::render::render_resource::BlendState;
use bevy::render::renderer::RenderAdapterInfo;
use bevy_egui::{EguiGlobalSettings, PrimaryEguiContext};
use bevy_panorbit_camera::{PanOrbitCamera, PanOrbitCameraPlugin};
use nalgebra::Vector3;
use std::sync::Arc;

/// The camera that sees the truck.
#[derive(Component)]
pub struct TruckCamera;

/// How the truck is looked at.
#[derive(Resource, Debug, Clone, PartialEq)]
pub struct Look {
    /// The last named view.
    pub view: View,
    /// The one to go to where the truck is shown instead of the suspension, or the suspension again.
    pub other_view: View,
    /// Set to go to it.
    pub go: bool,
    /// The part that named views show from near by, instead of the whole corner.
    pub near: Option<String>,
    /// Whether the ground grid is drawn.
    pub grid: bool,
    /// Whether joint arcs, cones and plunge are drawn.
    pub joints: bool,
    /// Whether the tightest gap's line and the first contact's marks are drawn.
    pub marks: bool,
    /// Whether labels are drawn.
    pub labels: bool,
    /// Part of the window left for the picture, pixels: position and size.
    pub picture_px: Option<(UVec2, UVec2)>,
}

impl Default for Look {
    fn default() -> Self {
        Look {
            view: View::default(),
            other_view: View::Side,
            go: true,
            near: None,
            grid: true,
            joints: true,
            marks: true,
            labels: true,
            picture_px: None,
        }
    }
}

/// Where the picture goes: a window with a mouse, or an image.
#[derive(Resource, Clone, Debug, Default)]
pub enum Screen {
    /// A window: the camera orbits by mouse.
    #[default]
    Window,
    /// An image: the camera stands where the view has it.
    Image(Handle<Image>),
}

/// Cameras, light and ground.
pub struct LookPlugin;

impl Plugin for LookPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Look>()
            .init_resource::<Screen>()
            .insert_resource(ClearColor(palette::color(palette::BACKGROUND)))
            .insert_resource(DirectionalLightShadowMap { size: 2048 })
            .add_plugins(PanOrbitCameraPlugin)
            .add_systems(Startup, set_up)
            .add_systems(
                Update,
                (go_to_view, aim_sun, fit_viewport, draw_grid, thicken_lines),
            );
    }
}

fn set_up(
    mut commands: Commands,
    mut meshes: ResMut<Assets<Mesh>>,
    mut materials: ResMut<Assets<PartMaterial>>,
    mut settings: ResMut<EguiGlobalSettings>,
    screen: Res<Screen>,
    adapter: Res<RenderAdapterInfo>,
    document: Res<Document>,
) {
    settings.auto_create_primary_context = false;
    let mut truck = commands.spawn((
        TruckCamera,
        Camera3d::default(),
        Tonemapping::None,
        Msaa::Sample4,
        Transform::default(),
    ));
    match &*screen {
        Screen::Window => {
            // A driver that draws without a card has no time for smooth edges while things move.
            if adapter.device_type == wgpu::DeviceType::Cpu {
                truck.insert((Msaa::Off, ShadowFilteringMethod::Hardware2x2));
            }
            truck.insert(PanOrbitCamera {
                button_pan: MouseButton::Middle,
                zoom_lower_limit: 0.02,
                zoom_upper_limit: Some(40.0),
                allow_upside_down: true,
                ..default()
            });
        }
        Screen::Image(image) => {
            truck.insert(bevy::camera::RenderTarget::Image(image.clone().into()));
        }
    }
    // Panels and letters have a camera of their own over the whole window, so that the truck's may have
    // the rest.
    let mut panels = commands.spawn((
        PrimaryEguiContext,
        Camera2d,
        RenderLayers::none(),
        Msaa::Off,
        Camera {
            order: 1,
            output_mode: CameraOutputMode::Write {
                blend_state: Some(BlendState::ALPHA_BLENDING),
                clear_color: ClearColorConfig::None,
            },
            clear_color: ClearColorConfig::Custom(Color::NONE),
            ..default()
        },
    ));
    if let Screen::Image(image) = &*screen {
        panels.insert(bevy::camera::RenderTarget::Image(image.clone().into()));
    }
    // The sun high ahead on the outboard side. The material's shader takes its direction and its shadow; the
    // weak light from the other side and the sky are the shader's own.
    commands.spawn((
        DirectionalLight {
            shadow_maps_enabled: true,
            ..default()
        },
        CascadeShadowConfigBuilder {
            num_cascades: 1,
            maximum_distance: 12.0,
            ..default()
        }
        .build(),
        sun(document.corner().side.outboard()),
    ));
    // The ground, seen from above alone: from below it would hide the truck.
    commands.spawn((
        Ground,
        Mesh3d(meshes.add(Plane3d::default().mesh().size(12.0, 12.0))),
        MeshMaterial3d(materials.add(PartMaterial {
            colour: Color::srgb(0.80, 0.81, 0.82),
            ..default()
        })),
        Transform::from_translation(ground(&document)),
    ));
}

/// The sun's light from the side that is looked at.
fn sun(out: f64) -> Transform {
    let from = frame::world_direction(&Vector3::new(1.2, out, 2.4));
    Transform::from_translation(from).looking_at(Vec3::ZERO, Vec3::Y)
}

/// The side that is looked at: of the corner, or of the whole truck.
fn outboard(document: &Document, drive: &Drive) -> f64 {
    if drive.shows_suspension() {
        document.corner().side.outboard()
    } else {
        TRUCK_SEEN_FROM
    }
}

fn aim_sun(
    document: Res<Document>,
    drive: Res<Drive>,
    mut suns: Query<&mut Transform, With<DirectionalLight>>,
) {
    for mut transform in &mut suns {
        transform.set_if_neq(sun(outboard(&document, &drive)));
    }
}

/// How what is shown is framed; none while it is still to come.
pub fn framing(document: &Document, drive: &Drive, look: &Look, aspect: f64) -> Option<Framing> {
    let view = look.view;
    if drive.shows_suspension() {
        let corner = document.corner();
        let near = look.near.as_ref();
        let part = near.and_then(|name| corner.parts.iter().find(|part| part.name == *name));
        return Some(match part {
            Some(part) => Framing::of_part(corner, part, view, aspect),
            None => Framing::fit(corner, view, aspect),
        });
    }
    let setting = drive.setting()?;
    Some(Framing::of_truck(setting.bounds_mm(), view, aspect))
}

/// The ground.
#[derive(Component)]
pub struct Ground;

/// The ground under the wheel at ride height, world coordinates, in the middle of the truck.
fn ground(document: &Document) -> Vec3 {
    let corner = document.corner();
    let wheel = corner.positioner.linkage.hardpoints.wheel_centre;
    let z = wheel.z + corner.ride_height_mm - corner.loaded_radius_mm;
    frame::world(&Vector3::new(wheel.x, 0.0, z))
}

fn go_to_view(
    mut look: ResMut<Look>,
    document: Res<Document>,
    drive: Res<Drive>,
    mut fitted: Local<Option<Vec2>>,
    mut fitted_to: Local<Option<usize>>,
    mut last_fit: Local<Option<(Vec3, f32)>>,
    mut cameras: Query<
        (
            &Camera,
            &mut Transform,
            &mut Projection,
            Option<&mut PanOrbitCamera>,
        ),
        With<TruckCamera>,
    >,
) {
    let Ok((camera, mut transform, mut projection, orbit)) = cameras.single_mut() else {
        return;
    };
    let Some(size) = camera.logical_viewport_size() else {
        return;
    };
    // Panels take their strips in the first frames, and windows are resized: a view that nobody has turned
    // since is fitted again.
    let resized = *fitted != Some(size);
    let untouched = orbit.as_ref().is_none_or(|o| {
        let (yaw, pitch) = look.view.yaw_pitch(outboard(&document, &drive));
        let as_fitted = last_fit
            .is_some_and(|(focus, radius)| o.target_focus == focus && o.target_radius == radius);
        (o.target_yaw, o.target_pitch) == (yaw, pitch) && as_fitted
    });
    // Another truck may be longer, and another obstacle higher.
    let setting = drive.setting().map(|s| Arc::as_ptr(s).addr());
    let replaced = *fitted_to != setting;
    if !(look.go || ((resized || replaced) && untouched)) {
        return;
    }
    let aspect = f64::from(size.x / size.y.max(1.0));
    let Some(framing) = framing(&document, &drive, &look, aspect) else {
        return;
    };
    *fitted_to = setting;
    *fitted = Some(size);
    look.go = false;
    *projection = framing.projection();
    *transform = framing.camera();
    if let Some(mut orbit) = orbit {
        let (yaw, pitch) = look.view.yaw_pitch(framing.outboard);
        orbit.target_focus = frame::world(&framing.middle_mm);
        orbit.focus = orbit.target_focus;
        (orbit.target_yaw, orbit.target_pitch) = (yaw, pitch);
        (orbit.yaw, orbit.pitch) = (Some(yaw), Some(pitch));
        // For a parallel view the crate's radius is the projection's scale.
        let radius = match &*projection {
            Projection::Orthographic(p) => p.scale,
            _ => framing.radius_m(),
        };
        orbit.radius = Some(radius);
        orbit.target_radius = radius;
        *last_fit = Some((orbit.target_focus, radius));
        orbit.force_update = true;
        orbit.initialized = true;
    }
}

/// Gives the truck what the panels leave of the window.
fn fit_viewport(look: Res<Look>, mut cameras: Query<&mut Camera, With<TruckCamera>>) {
    let Ok(mut camera) = cameras.single_mut() else {
        return;
    };
    let wanted = look.picture_px.filter(|(_, size)| size.x > 0 && size.y > 0);
    let has = camera
        .viewport
        .as_ref()
        .map(|v| (v.physical_position, v.physical_size));
    if wanted != has {
        camera.viewport = wanted.map(|(physical_position, physical_size)| Viewport {
            physical_position,
            physical_size,
            ..default()
        });
    }
}

/// Cells of the ground grid, both ways.
const GRID_CELLS: u32 = 24;
/// Size of one, metres.
const GRID_M: f32 = 0.1;

fn draw_grid(
    look: Res<Look>,
    document: Res<Document>,
    drive: Res<Drive>,
    mut grounds: Query<(&mut Transform, &mut Visibility), With<Ground>>,
    mut gizmos: Gizmos<GroundLines>,
) {
    let at = ground(&document);
    // The whole truck has a ground of its own.
    let drawn = look.grid && drive.shows_suspension();
    for (mut transform, mut visibility) in &mut grounds {
        // A hair below the lines.
        transform.set_if_neq(Transform::from_translation(at - Vec3::Y * 0.001));
        visibility.set_if_neq(if drawn {
            Visibility::Inherited
        } else {
            Visibility::Hidden
        });
    }
    if drawn {
        let wheel = document.corner().positioner.linkage.hardpoints.wheel_centre;
        let below = frame::world(&wheel).with_y(at.y);
        let middle = Vec3::new((below.x * 5.0).round() / 5.0, at.y, below.z);
        gizmos.grid(
            Isometry3d::new(middle, Quat::from_rotation_x(std::f32::consts::FRAC_PI_2)),
            UVec2::splat(GRID_CELLS),
            Vec2::splat(GRID_M),
            Color::srgba(0.35, 0.38, 0.42, 0.35),
        );
    }
}

/// Lines on the ground: hidden by what stands before them.
#[derive(Default, Reflect, GizmoConfigGroup)]
pub struct GroundLines;

/// Lines over the parts: arcs, cones, contacts.
#[derive(Default, Reflect, GizmoConfigGroup)]
pub struct OverLines;

/// Adds the groups of lines.
pub fn add_line_groups(app: &mut App) {
    app.init_gizmo_group::<GroundLines>()
        .init_gizmo_group::<OverLines>();
}

/// Lines as thick on a large screen as on a small one, against the height of the picture.
fn thicken_lines(
    mut store: ResMut<GizmoConfigStore>,
    cameras: Query<&Camera, With<TruckCamera>>,
    mut last: Local<f32>,
) {
    let Some(size) = cameras
        .single()
        .ok()
        .and_then(|camera| camera.physical_target_size())
    else {
        return;
    };
    let scale = (size.y as f32 / 800.0).max(1.0);
    if *last == scale {
        return;
    }
    *last = scale;
    store.config_mut::<GroundLines>().0.line.width = scale;
    let over = store.config_mut::<OverLines>().0;
    over.line.width = 2.5 * scale;
    // On top of everything: an arc inside a housing is there to be read.
    over.depth_bias = -1.0;
}
