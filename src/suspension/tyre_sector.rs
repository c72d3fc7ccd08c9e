//! Directions from a tyre, as a scene names them and a tyre search tells of them.

use serde::{Deserialize, Serialize};

/// A direction from the wheel, as its own plane is seen from its side, or one of the tyre's two faces.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TyreSector {
    /// In front, from 45 degrees below the wheel's middle to 22.5 above.
    Ahead,
    /// In front and above, 22.5 to 67.5 degrees.
    AboveAhead,
    /// Above, 67.5 to 112.5 degrees.
    Above,
    /// Behind and above, 112.5 to 157.5 degrees.
    AboveBehind,
    /// Behind, from 157.5 degrees to 45 below the wheel's middle.
    Behind,
    /// Beside the face that looks to the truck's middle, within the tyre's height.
    Inboard,
    /// Beside the face that looks away from the truck, within the tyre's height.
    Outboard,
}

impl TyreSector {
    /// All of them, from the front over the top to the back, then the faces.
    pub const ALL: [TyreSector; 7] = [
        TyreSector::Ahead,
        TyreSector::AboveAhead,
        TyreSector::Above,
        TyreSector::AboveBehind,
        TyreSector::Behind,
        TyreSector::Inboard,
        TyreSector::Outboard,
    ];

    /// As it is said: `above and ahead`.
    pub fn name(self) -> &'static str {
        match self {
            TyreSector::Ahead => "ahead",
            TyreSector::AboveAhead => "above and ahead",
            TyreSector::Above => "above",
            TyreSector::AboveBehind => "above and behind",
            TyreSector::Behind => "behind",
            TyreSector::Inboard => "inboard",
            TyreSector::Outboard => "outboard",
        }
    }

    /// What is there on a truck, and has to be drawn for the tyre to be known to clear it.
    pub fn to_draw(self) -> &'static str {
        match self {
            TyreSector::Ahead => "the bumper's end, the fender's front and the liner",
            TyreSector::AboveAhead | TyreSector::Above => "the fender's edge and the liner",
            TyreSector::AboveBehind => "the fender's edge, the liner and the pinch weld",
            TyreSector::Behind => {
                "the body mount, the liner, the pinch weld and the cab's or sill's front corner"
            }
            TyreSector::Inboard => "the frame, the arms and the knuckle",
            TyreSector::Outboard => "the fender's edge and flare",
        }
    }
}
