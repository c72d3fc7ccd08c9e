//! Which limit: its identity, compared as a value and named in one place.

use serde::{Deserialize, Serialize};

/// A limit of one corner.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LimitId {
    /// The damper pulled out.
    DamperExtended,
    /// The damper's body closed.
    DamperCompressed,
    /// The bump stop just touched: no stop, but where it begins.
    BumpStopTouched,
    /// The bump stop fully crushed.
    BumpStopCrushed,
    /// The limit strap pulled tight.
    LimitStrap,
    /// The lower arm on its droop stop.
    LowerArmDroopStop,
    /// The upper arm on its droop stop.
    UpperArmDroopStop,
    /// The inner joint's greatest angle.
    InnerJointAngle,
    /// The outer joint's greatest angle.
    OuterJointAngle,
    /// The inboard end of the plunge.
    PlungeIn,
    /// The outboard end of the plunge.
    PlungeOut,
    /// The inner joint's field of plunge against angle.
    PlungeField,
    /// The upper ball joint's cone.
    UpperBallJoint,
    /// A strut's axis in its top mount.
    TopMount,
    /// The lower ball joint's cone.
    LowerBallJoint,
    /// The tie rod's outer end on its pin.
    TieRodOuterEnd,
    /// The tie rod's inner end in its cone.
    TieRodInnerEnd,
    /// The damper's upper eye on its pin.
    DamperUpperEye,
    /// The damper's lower eye on its pin.
    DamperLowerEye,
    /// The steering stop toward the left.
    SteeringStopLeft,
    /// The steering stop toward the right.
    SteeringStopRight,
    /// The front driveshaft's joint at the transfer case; it doesn't change with travel or steering.
    FrontDriveshaftCaseJoint,
    /// The front driveshaft's joint at the pinion; it doesn't change with travel or steering.
    FrontDriveshaftPinionJoint,
    /// How unevenly the front driveshaft turns its pinion; it doesn't change with travel or steering.
    FrontDriveshaftFluctuation,
    /// A hose, wire or breather pulled tight, by the scene's name for it.
    Hose(String),
    /// A spring's turns on each other, by the scene's name for it.
    CoilBind(String),
    /// A boot stretched tight along the outer side of its bend, by the scene's name for it.
    BootStretched(String),
    /// A boot folded flat along the inner side of its bend, likewise.
    BootFolded(String),
}

impl LimitId {
    /// As printed, and as `sweep --without` takes it.
    pub fn name(&self) -> String {
        match self {
            LimitId::DamperExtended => "damper extended",
            LimitId::DamperCompressed => "damper compressed",
            LimitId::BumpStopTouched => "bump stop touched",
            LimitId::BumpStopCrushed => "bump stop crushed",
            LimitId::LimitStrap => "limit strap",
            LimitId::LowerArmDroopStop => "lower arm droop stop",
            LimitId::UpperArmDroopStop => "upper arm droop stop",
            LimitId::InnerJointAngle => "inner joint angle",
            LimitId::OuterJointAngle => "outer joint angle",
            LimitId::PlungeIn => "plunge in",
            LimitId::PlungeOut => "plunge out",
            LimitId::PlungeField => "plunge field",
            LimitId::UpperBallJoint => "upper ball joint",
            LimitId::TopMount => "top mount",
            LimitId::LowerBallJoint => "lower ball joint",
            LimitId::TieRodOuterEnd => "tie rod outer end",
            LimitId::TieRodInnerEnd => "tie rod inner end",
            LimitId::DamperUpperEye => "damper upper eye",
            LimitId::DamperLowerEye => "damper lower eye",
            LimitId::SteeringStopLeft => "steering stop left",
            LimitId::SteeringStopRight => "steering stop right",
            LimitId::FrontDriveshaftCaseJoint => "front driveshaft joint at the transfer case",
            LimitId::FrontDriveshaftPinionJoint => "front driveshaft joint at the pinion",
            LimitId::FrontDriveshaftFluctuation => "front driveshaft speed fluctuation",
            LimitId::Hose(hose) => return format!("hose {hose}"),
            LimitId::CoilBind(spring) => return format!("coil bind {spring}"),
            LimitId::BootStretched(boot) => return format!("stretched boot {boot}"),
            LimitId::BootFolded(boot) => return format!("folded boot {boot}"),
        }
        .to_owned()
    }
}
