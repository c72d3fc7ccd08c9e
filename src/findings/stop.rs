//! What stops a wheel, as a value. Words for it are made in [`crate::output`] alone.

use crate::limits::LimitId;
use crate::suspension::drawn_part;
use serde::{Deserialize, Serialize};

/// What stops a wheel, or what it must keep.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum StopId {
    /// The arms, tie rod or halfshaft reach no further.
    EndOfReach,
    /// A limit of the corner.
    Limit {
        /// Which.
        id: LimitId,
    },
    /// Two parts come nearer than the gap that must remain between them. The wheel goes on.
    Gap {
        /// First part.
        a: String,
        /// Second part.
        b: String,
    },
    /// Two parts touch.
    Contact {
        /// First part.
        a: String,
        /// Second part.
        b: String,
    },
}

impl StopId {
    /// Its name as printed, and as `sweep --without` takes it.
    pub fn name(&self) -> String {
        match self {
            StopId::EndOfReach => "end of reach".to_owned(),
            StopId::Limit { id } => id.name(),
            StopId::Gap { a, b } => format!("gap {a} - {b}"),
            StopId::Contact { a, b } => format!("contact {a} - {b}"),
        }
    }

    /// Both parts, if it is a pair's.
    pub fn pair(&self) -> Option<(&str, &str)> {
        match self {
            StopId::Gap { a, b } | StopId::Contact { a, b } => Some((a, b)),
            StopId::EndOfReach | StopId::Limit { .. } => None,
        }
    }

    /// What it is on the other corner of a truck whose sides mirror each other.
    #[must_use]
    pub fn mirrored(self) -> StopId {
        let id = match self {
            StopId::Limit { id } => id,
            other => return other,
        };
        let id = match id {
            LimitId::SteeringStopLeft => LimitId::SteeringStopRight,
            LimitId::SteeringStopRight => LimitId::SteeringStopLeft,
            other => other,
        };
        StopId::Limit { id }
    }

    /// The same between the parts that were drawn, of which these may be slices.
    pub fn of_drawn_parts(&self) -> StopId {
        let drawn = |name: &str| drawn_part(name).to_owned();
        match self {
            StopId::Gap { a, b } => StopId::Gap {
                a: drawn(a),
                b: drawn(b),
            },
            StopId::Contact { a, b } => StopId::Contact {
                a: drawn(a),
                b: drawn(b),
            },
            other => other.clone(),
        }
    }

    /// Whether it is this limit.
    pub fn is_limit(&self, limit: &LimitId) -> bool {
        matches!(self, StopId::Limit { id } if id == limit)
    }

    /// Whether the wheel can't pass. A gap below the required one doesn't stop it.
    pub fn blocks(&self) -> bool {
        !matches!(self, StopId::Gap { .. })
    }
}

/// What kind of contact a pair makes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ContactClass {
    /// Neither part is on the wheel.
    Metal,
    /// Tyre or rim against another part.
    TyreRub,
}

impl ContactClass {
    /// Both.
    pub const BOTH: [ContactClass; 2] = [ContactClass::Metal, ContactClass::TyreRub];
}
