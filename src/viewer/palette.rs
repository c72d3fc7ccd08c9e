//! Colours, the same in the picture, the map and the legend.
//!
//! States hold for every kind of colour vision: yellow differs from the two others in lightness, blue from
//! vermilion in hue; all after M. Okabe, K. Ito, "Color universal design", 2008; the map's
//! scale is cividis (J. R. Nunez, C. R. Anderton, R. S. Renslow, PLoS ONE 13(7), 2018).

use crate::findings::GapFound;
use crate::truck::touches;
use bevy::prelude::{Color, Srgba};
use bevy_egui::egui::Color32;

/// A part's state by its gaps.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum GapState {
    /// No gap of it is watched.
    NotWatched,
    /// Every required gap is kept.
    Clear,
    /// A gap is below the required one.
    UnderGap,
    /// It touches.
    Touching,
}

impl GapState {
    /// Every state, as the legend lists them.
    pub const ALL: [GapState; 4] = [
        GapState::Clear,
        GapState::UnderGap,
        GapState::Touching,
        GapState::NotWatched,
    ];

    /// Of one gap.
    pub fn of(gap: &GapFound) -> GapState {
        if touches(gap.gap_mm) {
            GapState::Touching
        } else if gap.gap_mm < gap.required_mm {
            GapState::UnderGap
        } else {
            GapState::Clear
        }
    }

    /// As shown.
    pub fn name(self) -> &'static str {
        match self {
            GapState::NotWatched => "not watched",
            GapState::Clear => "clear",
            GapState::UnderGap => "under the required gap",
            GapState::Touching => "touching",
        }
    }

    /// Its colour, sRGB.
    pub fn rgb(self) -> [u8; 3] {
        match self {
            GapState::NotWatched => [150, 150, 150],
            GapState::Clear => [86, 140, 190],
            GapState::UnderGap => [240, 228, 66],
            GapState::Touching => [213, 94, 0],
        }
    }
}

/// For the picture.
pub fn color([r, g, b]: [u8; 3]) -> Color {
    Color::Srgba(Srgba::rgb_u8(r, g, b))
}

/// For panels.
pub fn color32([r, g, b]: [u8; 3]) -> Color32 {
    Color32::from_rgb(r, g, b)
}

/// The background behind the truck.
pub const BACKGROUND: [u8; 3] = [232, 235, 238];
/// Lines and letters over the picture.
pub const INK: [u8; 3] = [25, 30, 38];
/// Rubber.
pub const RUBBER: [u8; 3] = [52, 54, 58];
/// The free region's outline where a maker means the wheel to stop.
pub const INTENDED: [u8; 3] = [0, 158, 115];
/// The outline where something else stops it.
pub const BIND: [u8; 3] = [213, 94, 0];
/// The required-gap line on the map.
pub const GAP_LINE: [u8; 3] = [240, 228, 66];
/// The present position on map and curves.
pub const HERE: [u8; 3] = [204, 60, 140];
/// Another setup's parts over the truck, and its free travel on the map.
pub const GHOST: [u8; 3] = [140, 62, 200];

/// The keep-out solid.
pub const KEEP_OUT: [u8; 3] = [0, 150, 120];

/// Handles along and about x, y, z.
pub const AXES: [[u8; 3]; 3] = [[196, 40, 60], [30, 140, 60], [30, 80, 200]];
/// The handle under the pointer.
pub const LIT_HANDLE: [u8; 3] = [255, 170, 0];

/// Parts on the frame, where the whole truck is shown.
pub const FRAME: [u8; 3] = [92, 112, 132];
/// What the rear axle carries.
pub const AXLE: [u8; 3] = [128, 150, 140];
/// Level ground.
pub const GROUND: [u8; 3] = [198, 190, 176];
/// An obstacle.
pub const EARTH: [u8; 3] = [158, 122, 82];
/// A contact's marks on a drive, against parts that touch.
pub const CONTACT: [u8; 3] = [168, 0, 60];
/// The lines of approach, breakover and departure.
pub const ANGLE: [u8; 3] = [0, 105, 92];

/// The map's colour for a share from 0 (no gap) to 1 (the largest shown).
pub fn gap_scale(share: f64) -> [u8; 3] {
    let c = colorous::CIVIDIS.eval_continuous(share.clamp(0.0, 1.0));
    [c.r, c.g, c.b]
}
