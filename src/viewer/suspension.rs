//! The parts, where they are, coloured by the room they have left.

use super::background::Found;
use super::document::Document;
use super::frame::{self, world_from_vehicle};
use super::motion::Motion;
use super::palette::{self, GapState};
use super::part_material::PartMaterial;
use super::{surface_mesh, tyre};
use crate::clearance::Part;
use crate::findings::PositionFindings;
use crate::shapes::{ElementKind, Shape, Surface};
use crate::suspension::{Body, Motion as Carried};
use crate::truck::Corner;
use bevy::light::NotShadowCaster;
use bevy::prelude::*;
use nalgebra::Vector3;
use std::collections::BTreeSet;
use std::sync::Arc;

/// A part of the corner, drawn.
#[derive(Component, Clone, Debug)]
pub struct PartView {
    /// Its number in the corner; nothing for a stand-in that is drawn only.
    pub part: Option<usize>,
    /// What carries it.
    pub carried: Carried,
    /// What it is, for its shade.
    pub body: Body,
}

/// The root of everything in vehicle coordinates.
#[derive(Component)]
pub struct VehicleRoot;

/// What a person picked, hid or left alone on screen. Parts by name, so that it survives an edit.
#[derive(Resource, Debug, Clone, PartialEq)]
pub struct PartChoice {
    /// The part whose gaps are listed.
    pub picked: Option<String>,
    /// Not drawn.
    pub hidden: BTreeSet<String>,
    /// If any: only these are drawn solid.
    pub isolated: BTreeSet<String>,
    /// Whether tyre, rim and the truck's body are seen through.
    pub see_through_wheel: bool,
}

impl Default for PartChoice {
    fn default() -> Self {
        PartChoice {
            picked: None,
            hidden: BTreeSet::new(),
            isolated: BTreeSet::new(),
            // Joints and arms are what one looks for; wheel, fender and bumper stand before them in most views.
            see_through_wheel: true,
        }
    }
}

impl PartChoice {
    /// Whether a part is seen through.
    pub fn sees_through(&self, part: &Part) -> bool {
        self.sees_through_what_is(part.body, part.is_bodywork)
    }

    /// The same of a part of another truck.
    pub fn sees_through_what_is(&self, body: Body, is_bodywork: bool) -> bool {
        self.see_through_wheel && (body == Body::Wheel || is_bodywork)
    }

    /// Whether a part is drawn.
    pub fn shows(&self, name: &str) -> bool {
        !self.hidden.contains(name) && (self.isolated.is_empty() || self.isolated.contains(name))
    }
}

/// Parts are made, placed and coloured after this.
#[derive(SystemSet, Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct PartsBuilt;

/// Draws the parts.
pub struct SuspensionPlugin;

impl Plugin for SuspensionPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<PartChoice>()
            .add_systems(Startup, plant_root)
            .add_systems(
                PostUpdate,
                (build, place, colour)
                    .chain()
                    .in_set(PartsBuilt)
                    .before(TransformSystems::Propagate),
            );
    }
}

fn plant_root(mut commands: Commands) {
    commands.spawn((VehicleRoot, world_from_vehicle(), Visibility::default()));
}

/// What is drawn, and the surface it was made from.
struct Drawn {
    entity: Entity,
    surface: Arc<Surface>,
    look: PartMaterial,
    is_tyre: bool,
}

impl Drawn {
    fn shows(&self, wanted: &Wanted) -> bool {
        self.is_tyre == wanted.is_tyre
            && self.look == wanted.look
            && same_surface(&self.surface, &wanted.surface)
    }
}

/// Whether two surfaces are drawn alike, each on its body.
pub(super) fn same_surface(a: &Surface, b: &Surface) -> bool {
    a.origin == b.origin
        && a.rotation == b.rotation
        && a.radius_mm == b.radius_mm
        && a.elements == b.elements
        && a.vertices == b.vertices
}

/// What is to be drawn.
struct Wanted {
    view: PartView,
    surface: Arc<Surface>,
    /// Before gaps colour it.
    look: PartMaterial,
    is_tyre: bool,
}

/// Draws what the truck has. An edit changes few parts: the others stay as they are.
fn build(
    mut commands: Commands,
    document: Res<Document>,
    root: Query<Entity, With<VehicleRoot>>,
    mut meshes: ResMut<Assets<Mesh>>,
    mut materials: ResMut<Assets<PartMaterial>>,
    mut built: Local<Option<u64>>,
    mut drawn: Local<Vec<Drawn>>,
) {
    if *built == Some(document.generation()) {
        return;
    }
    let Ok(root) = root.single() else {
        return;
    };
    *built = Some(document.generation());
    let corner = document.corner();
    let mut last = std::mem::take(&mut *drawn);
    for wanted in wanted(corner) {
        if let Some(i) = last.iter().position(|d| d.shows(&wanted)) {
            let kept = last.swap_remove(i);
            commands.entity(kept.entity).insert(wanted.view);
            drawn.push(kept);
            continue;
        }
        let with_tread = wanted
            .view
            .part
            .filter(|_| wanted.is_tyre)
            .and_then(|i| tread(&document, &corner.parts[i]));
        let triangles = with_tread.unwrap_or_else(|| wanted.surface.triangles_in_body());
        let entity = commands
            .spawn((
                wanted.view,
                Mesh3d(meshes.add(surface_mesh::mesh(&triangles))),
                MeshMaterial3d(materials.add(wanted.look.clone())),
                Transform::default(),
                Visibility::default(),
            ))
            .id();
        commands.entity(root).add_child(entity);
        drawn.push(Drawn {
            entity,
            surface: wanted.surface,
            look: wanted.look,
            is_tyre: wanted.is_tyre,
        });
    }
    for gone in last {
        commands.entity(gone.entity).despawn();
    }
}

/// Every part, and bars along the linkage for bodies without one.
fn wanted(corner: &Corner) -> Vec<Wanted> {
    let tyre = tyre_of(corner);
    let mut out: Vec<Wanted> = corner
        .parts
        .iter()
        .enumerate()
        .map(|(i, part)| Wanted {
            view: PartView {
                part: Some(i),
                carried: part.body.motion(),
                body: part.body,
            },
            surface: Arc::clone(&part.surface),
            look: PartMaterial {
                gloss: gloss(part.body, tyre == Some(i)),
                closed: part.surface.closed || part.surface.kind != ElementKind::Triangle,
                ..default()
            },
            is_tyre: tyre == Some(i),
        })
        .collect();
    for (body, shape) in stand_ins(corner) {
        let Ok(surface) = shape.surface(None) else {
            continue;
        };
        out.push(Wanted {
            view: PartView {
                part: None,
                carried: body.motion(),
                body,
            },
            surface: Arc::new(surface),
            look: PartMaterial {
                colour: palette::color(GapState::NotWatched.rgb()).with_alpha(0.45),
                ..default()
            },
            is_tyre: false,
        });
    }
    out
}

fn tyre_of(corner: &Corner) -> Option<usize> {
    let h = &corner.positioner.linkage.hardpoints;
    tyre::tyre_part(
        &corner.parts,
        &h.wheel_centre,
        &h.spindle_axis,
        corner.loaded_radius_mm,
    )
}

/// The tyre's outline with a tread cut into it, body coordinates.
fn tread(document: &Document, part: &Part) -> Option<Vec<[Vector3<f64>; 3]>> {
    let mut scene = crate::scene::scene_from_text(document.text(), document.path()).ok()?;
    if let Some(setup) = &document.truck().setup {
        // The setup may fit another tyre.
        scene = crate::setups::with_setup(&scene, setup).ok()?;
    }
    let outline = tyre::outline(&scene, &part.name)?;
    let corner = document.corner();
    let h = &corner.positioner.linkage.hardpoints;
    let turn = nalgebra::Rotation3::rotation_between(&Vector3::y(), &h.spindle_axis)
        .unwrap_or_else(|| {
            nalgebra::Rotation3::from_axis_angle(&Vector3::z_axis(), std::f64::consts::PI)
        });
    // The tyre as drawn may sit beside the wheel centre: its own middle counts.
    let surface = &part.surface;
    let along = |v: usize| (surface.vertex_in_body(v) - h.wheel_centre).dot(&h.spindle_axis);
    let (low, high) = (0..surface.vertices.len())
        .map(along)
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, g), a| {
            (l.min(a), g.max(a))
        });
    let (first, last) = outline
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, g), p| {
            (l.min(p.0), g.max(p.0))
        });
    let middle = 0.5 * (low + high) - 0.5 * (first + last);
    let centre = h.wheel_centre + h.spindle_axis * middle;
    Some(
        tyre::triangles(&outline)
            .into_iter()
            .map(|t| t.map(|p| centre + turn * p))
            .collect(),
    )
}

fn gloss(body: Body, is_tyre: bool) -> f32 {
    match body {
        Body::Halfshaft | Body::TieRod => 0.35,
        _ if is_tyre => 0.0,
        _ => 0.15,
    }
}

/// Bars along the linkage for bodies that the scene gives no part: drawn only, never checked.
pub(super) fn stand_ins(corner: &Corner) -> Vec<(Body, Shape)> {
    let h = &corner.positioner.linkage.hardpoints;
    let has = |body: Body| corner.parts.iter().any(|p| p.body == body);
    let bar =
        |from: Vector3<f64>, to: Vector3<f64>, radius: f64| Shape::Capsule { from, to, radius };
    let mut out = Vec::new();
    let mut add = |body: Body, bars: Vec<Shape>| {
        if !has(body) {
            out.extend(bars.into_iter().map(|shape| (body, shape)));
        }
    };
    add(
        Body::LowerArm,
        vec![
            bar(h.lower_front, h.lower_ball, 10.0),
            bar(h.lower_rear, h.lower_ball, 10.0),
        ],
    );
    if let Some(arm) = h.upper_arm() {
        add(
            Body::UpperArm,
            vec![bar(arm.front, arm.ball, 8.0), bar(arm.rear, arm.ball, 8.0)],
        );
    }
    let upper_end = h.upper_arm().map_or(h.damper_lower, |arm| arm.ball);
    add(
        Body::Knuckle,
        vec![
            bar(h.lower_ball, upper_end, 12.0),
            bar(h.lower_ball, h.tie_rod_outer, 8.0),
        ],
    );
    add(
        Body::TieRod,
        vec![bar(h.tie_rod_inner, h.tie_rod_outer, 7.0)],
    );
    let inboard = Vector3::new(h.tie_rod_inner.x, 0.0, h.tie_rod_inner.z);
    add(Body::Rack, vec![bar(inboard, h.tie_rod_inner, 12.0)]);
    let damper = h.damper_lower - h.damper_upper;
    add(
        Body::DamperUpper,
        vec![bar(h.damper_upper, h.damper_upper + damper * 0.6, 12.0)],
    );
    add(
        Body::DamperLower,
        vec![bar(h.damper_lower, h.damper_lower - damper * 0.6, 20.0)],
    );
    out
}

/// Puts every body where the linkage has it.
pub(super) fn place(motion: Res<Motion>, mut views: Query<(&PartView, &mut Transform)>) {
    let linkage = &motion.position().linkage;
    for (view, mut transform) in &mut views {
        transform.set_if_neq(frame::transform(&linkage.placement(view.carried)));
    }
}

/// Worst state of each part over its gaps.
pub fn part_states(corner: &Corner, position: &PositionFindings) -> Vec<GapState> {
    let mut states = vec![GapState::NotWatched; corner.parts.len()];
    for gap in &position.gaps {
        for name in [&gap.a, &gap.b] {
            if let Some(i) = corner.parts.iter().position(|p| p.name == *name) {
                states[i] = states[i].max(GapState::of(gap));
            }
        }
    }
    states
}

/// How light a body's parts are against its neighbours', so that they can be told apart.
fn shade(body: Body) -> f32 {
    match body {
        Body::Frame => 0.74,
        Body::Differential => 0.84,
        Body::LowerArm | Body::UpperArm => 0.95,
        Body::Knuckle => 1.1,
        Body::Halfshaft | Body::FrontDriveshaft => 1.35,
        Body::InnerJointHousing | Body::OuterJointHousing => 0.85,
        Body::Rack | Body::TieRod | Body::Link(_) => 1.2,
        Body::DamperUpper => 1.0,
        Body::DamperLower => 1.15,
        Body::Wheel => 1.0,
    }
}

/// How much of a wheel that is seen through is seen.
pub(super) const SEE_THROUGH: f32 = 0.16;

fn colour(
    document: Res<Document>,
    found: Res<Found>,
    choice: Res<PartChoice>,
    mut commands: Commands,
    mut tyre: Local<(Option<u64>, Option<usize>)>,
    mut views: Query<(
        Entity,
        &PartView,
        &MeshMaterial3d<PartMaterial>,
        &mut Visibility,
        Has<NotShadowCaster>,
    )>,
    mut materials: ResMut<Assets<PartMaterial>>,
) {
    let corner = document.corner();
    let states = found
        .position
        .as_ref()
        .map(|position| part_states(corner, position));
    if tyre.0 != Some(document.generation()) {
        *tyre = (Some(document.generation()), tyre_of(corner));
    }
    let tyre = tyre.1;
    for (entity, view, handle, mut visibility, shadeless) in &mut views {
        let Some(part) = view.part.and_then(|i| corner.parts.get(i)) else {
            let shown = choice.isolated.is_empty();
            visibility.set_if_neq(visible(shown));
            continue;
        };
        visibility.set_if_neq(visible(choice.shows(&part.name)));
        let state = view
            .part
            .and_then(|i| states.as_ref().and_then(|s| s.get(i).copied()))
            .unwrap_or(GapState::NotWatched);
        let is_tyre = view.part == tyre && view.part.is_some();
        let rgb = match state {
            GapState::Clear | GapState::NotWatched if is_tyre => palette::RUBBER,
            _ => state.rgb(),
        };
        let shade = if state >= GapState::UnderGap || is_tyre {
            1.0
        } else {
            shade(view.body)
        };
        let base = palette::color(rgb).to_srgba() * shade;
        let alpha = if choice.sees_through(part) {
            SEE_THROUGH
        } else {
            1.0
        };
        let colour: Color = Srgba { alpha, ..base }.into();
        let glow = if choice.picked.as_deref() == Some(&part.name) {
            LinearRgba::rgb(0.22, 0.26, 0.30)
        } else {
            LinearRgba::BLACK
        };
        // What is seen through throws no shadow on what is behind it.
        if (alpha < 1.0) != shadeless {
            let mut part = commands.entity(entity);
            if alpha < 1.0 {
                part.insert(NotShadowCaster);
            } else {
                part.remove::<NotShadowCaster>();
            }
        }
        let same = materials
            .get(&handle.0)
            .is_some_and(|m| m.colour == colour && m.glow == glow);
        if !same && let Some(mut material) = materials.get_mut(&handle.0) {
            material.colour = colour;
            material.glow = glow;
        }
    }
}

pub(super) fn visible(shown: bool) -> Visibility {
    if shown {
        Visibility::Inherited
    } else {
        Visibility::Hidden
    }
}
