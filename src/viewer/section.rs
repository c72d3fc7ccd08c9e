//! The section plane: the truck cut open through a joint.

use super::document::Document;
use super::frame;
use super::look::Ground;
use super::motion::Motion;
use super::part_material::PartMaterial;
use super::whole_truck::TruckPiece;
use bevy::prelude::*;
use nalgebra::Vector3;

/// A joint that can be cut through.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CutAt {
    /// Inner halfshaft joint.
    InnerJoint,
    /// Outer halfshaft joint.
    OuterJoint,
    /// Upper ball joint.
    UpperBallJoint,
    /// Lower ball joint.
    LowerBallJoint,
}

impl CutAt {
    /// Every place.
    pub const ALL: [CutAt; 4] = [
        CutAt::InnerJoint,
        CutAt::OuterJoint,
        CutAt::UpperBallJoint,
        CutAt::LowerBallJoint,
    ];

    /// As shown.
    pub fn name(self) -> &'static str {
        match self {
            CutAt::InnerJoint => "inner joint",
            CutAt::OuterJoint => "outer joint",
            CutAt::UpperBallJoint => "upper ball joint",
            CutAt::LowerBallJoint => "lower ball joint",
        }
    }
}

/// How the plane lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CutAcross {
    /// Upright across the truck: what is ahead of it is left out.
    Truck,
    /// Upright along the truck: what is outboard of it is left out.
    Side,
    /// Level: what is above it is left out.
    Level,
}

impl CutAcross {
    /// Every way.
    pub const ALL: [CutAcross; 3] = [CutAcross::Truck, CutAcross::Side, CutAcross::Level];

    /// As shown.
    pub fn name(self) -> &'static str {
        match self {
            CutAcross::Truck => "across",
            CutAcross::Side => "along",
            CutAcross::Level => "level",
        }
    }
}

/// Where the truck is cut, if it is.
#[derive(Resource, Clone, Copy, Debug, PartialEq)]
pub struct Section {
    /// Whether it is.
    pub on: bool,
    /// Through which joint.
    pub at: CutAt,
    /// Which way.
    pub across: CutAcross,
    /// Moved from the joint's centre, mm along the plane's normal.
    pub offset_mm: f64,
}

impl Default for Section {
    fn default() -> Self {
        Section {
            on: false,
            at: CutAt::InnerJoint,
            across: CutAcross::Truck,
            offset_mm: 0.0,
        }
    }
}

impl Section {
    /// The plane, world coordinates: unit normal toward what is left out, and its offset.
    pub(super) fn plane(&self, document: &Document, motion: &Motion) -> Option<Vec4> {
        if !self.on {
            return None;
        }
        let linkage = &motion.position().linkage;
        let through = match self.at {
            CutAt::InnerJoint => linkage.inner_joint,
            CutAt::OuterJoint => linkage.outer_joint,
            CutAt::UpperBallJoint => linkage.kingpin_top,
            CutAt::LowerBallJoint => linkage.lower_ball,
        };
        let normal = match self.across {
            CutAcross::Truck => Vector3::x(),
            CutAcross::Side => Vector3::y() * document.corner().side.outboard(),
            CutAcross::Level => Vector3::z(),
        };
        let n = frame::world_direction(&normal);
        let d = n.dot(frame::world(&(through + normal * self.offset_mm)));
        Some(n.extend(d))
    }
}

/// Cuts the parts.
pub struct SectionPlugin;

impl Plugin for SectionPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Section>()
            .add_systems(PostUpdate, cut.after(super::suspension::PartsBuilt));
    }
}

fn cut(
    section: Res<Section>,
    document: Res<Document>,
    motion: Res<Motion>,
    parts: Query<&MeshMaterial3d<PartMaterial>, (Without<Ground>, Without<TruckPiece>)>,
    mut materials: ResMut<Assets<PartMaterial>>,
    mut lights: Query<&mut DirectionalLight>,
    mut was_on: Local<bool>,
) {
    let plane = section.plane(&document, &motion);
    for handle in &parts {
        let differs = materials.get(&handle.0).is_some_and(|m| m.plane != plane);
        if differs && let Some(mut material) = materials.get_mut(&handle.0) {
            material.plane = plane;
        }
    }
    if *was_on != section.on {
        *was_on = section.on;
        // What is left out must not throw its shadow on what is shown.
        if let Some(mut sun) = lights
            .iter_mut()
            .max_by(|a, b| a.illuminance.total_cmp(&b.illuminance))
        {
            sun.shadow_maps_enabled = !section.on;
        }
    }
}
