//! What is drawn around the tyre, and where nothing is.

use crate::suspension::{Side, TyreSector};
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// A place of the wheel at which it was looked around.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct TyrePlace {
    /// Where the steering is.
    pub steer: TyreSteer,
    /// Where the wheel's travel is.
    pub travel: TyreTravel,
}

impl TyrePlace {
    /// As it is said: `full left, full bump`.
    pub fn name(self) -> String {
        let steer = match self.steer {
            TyreSteer::Straight => "straight ahead",
            TyreSteer::FullLeft => "full left",
            TyreSteer::FullRight => "full right",
        };
        let travel = match self.travel {
            TyreTravel::Measured => "as measured",
            TyreTravel::FullBump => "full bump",
        };
        format!("{steer}, {travel}")
    }
}

/// Where the steering is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TyreSteer {
    /// Straight ahead.
    Straight,
    /// At the lock that steers left.
    FullLeft,
    /// At the lock that steers right.
    FullRight,
}

/// Where the wheel's travel is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TyreTravel {
    /// As measured.
    Measured,
    /// At the end of the free travel in bump.
    FullBump,
}

/// A direction in which nothing that the tyre is watched against is drawn.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NothingDrawn {
    /// Which corner.
    pub side: Side,
    /// Which direction.
    pub sector: TyreSector,
    /// At these places of the wheel.
    pub at: Vec<TyrePlace>,
    /// What to draw.
    pub draw: Cow<'static, str>,
}

/// What is drawn around the tyre.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TyreSurroundings {
    /// How far from the wheel's centre was looked in its plane: twice the tyre's radius.
    pub within_mm: f64,
    /// How far from each of the tyre's faces was looked: its radius.
    pub beside_mm: f64,
    /// Every place of the wheel that was looked at.
    pub places: Vec<TyrePlace>,
    /// Where nothing is drawn: what is there on the truck is not known to clear.
    pub nothing_drawn: Vec<NothingDrawn>,
    /// Where nothing is drawn and nothing is, as the scene says.
    pub nothing_there: Vec<NothingDrawn>,
}
