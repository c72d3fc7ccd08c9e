//! What a part lacks for the truck to stand at ride height, as values and in words.
//!
//! `truck/needs.rs` works them out; findings carry them to clients.

use crate::numbers::Toward;
use crate::suspension::Side;
use serde::{Deserialize, Serialize};

/// Lengths that differ by less are the same as printed, mm.
const SAME_MM: f64 = 0.05;

/// Something that has to be otherwise for the truck to stand at ride height.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Need {
    /// The corner; none for what there is once.
    pub side: Option<Side>,
    /// What it is, as printed: `halfshaft`, `tie rod`, a hose's name.
    pub of: String,
    /// What it lacks.
    #[serde(flatten)]
    pub lack: Lack,
}

/// What a setup lacks, and the ride height at which it does.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Needs {
    /// What is lacked; nothing where the truck stands, and for the truck as measured.
    pub all: Vec<Need>,
    /// The ride height at which they were worked out, corner by corner; none where nothing is lacked.
    pub ride_heights: Vec<RideHeight>,
}

/// The ride height that a setup stands at.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct RideHeight {
    /// The corner.
    pub side: Side,
    /// Wheel travel there from the place where travel begins, bump positive; none where the spring can't hold the truck with
    /// these parts: then they were worked out where travel begins.
    pub travel_mm: Option<f64>,
    /// Whether the setup itself raises or lowers the truck on its springs, with `RideHeight` or `DamperSpacer`. Without, the
    /// spring holds the damper as long as it did.
    pub is_set_by_setup: bool,
}

impl RideHeight {
    fn on_other_side(self) -> RideHeight {
        RideHeight {
            side: self.side.opposite(),
            ..self
        }
    }
}

impl Needs {
    /// With those of another corner.
    pub(crate) fn and(mut self, other: Needs) -> Needs {
        self.all.extend(other.all);
        self.ride_heights.extend(other.ride_heights);
        self
    }

    /// With those of the mirror image that isn't built.
    pub(crate) fn and_mirrored(self) -> Needs {
        let twin = Needs {
            all: self.all.iter().map(Need::on_other_side).collect(),
            ride_heights: (self.ride_heights.iter())
                .map(|height| height.on_other_side())
                .collect(),
        };
        self.and(twin)
    }

    /// The ride height is that of needs: nothing where nothing is needed.
    pub(crate) fn or_nothing(self) -> Needs {
        if self.all.is_empty() {
            Needs::default()
        } else {
            self
        }
    }

    /// All needs as one list, and at which ride height; none where nothing is needed.
    pub(crate) fn listed(&self) -> Option<String> {
        let list = listed(&self.all)?;
        Some(format!("{list}{}", self.height()))
    }

    /// The warning that a truck which goes together carries.
    pub(crate) fn sentence(&self) -> Option<String> {
        let list = self.listed()?;
        Some(format!("to stand at ride height this setup needs: {list}"))
    }

    /// The ride height that they were worked out at, in words.
    fn height(&self) -> String {
        let said = |height: &RideHeight| match height.travel_mm {
            // Not minus nothing.
            Some(mm) => format!("at travel {:+.1} mm", (mm * 10.0).round() / 10.0 + 0.0),
            None => "where travel begins, as the spring holds it nowhere".to_owned(),
        };
        let mut each: Vec<(Side, String)> = Vec::new();
        for height in &self.ride_heights {
            let words = said(height);
            if !each.iter().any(|(_, known)| *known == words) {
                each.push((height.side, words));
            }
        }
        let places = match &each[..] {
            [] => return String::new(),
            [(_, one)] => one.clone(),
            several => {
                let named = several
                    .iter()
                    .map(|(side, words)| format!("{} {words}", side.name()));
                named.collect::<Vec<_>>().join(", ")
            }
        };
        let is_set = self
            .ride_heights
            .iter()
            .any(|height| height.is_set_by_setup);
        let missing = if is_set {
            ""
        } else {
            ", where the spring holds the damper as it did: this setup has neither `DamperSpacer` nor `RideHeight`; if the \
             truck is to stand higher, add it, and more is needed"
        };
        format!(
            ", worked out with the wheels {places} from the measured position (bump +){missing}"
        )
    }
}

impl Need {
    /// The mirror image's.
    pub(crate) fn on_other_side(&self) -> Need {
        Need {
            side: self.side.map(Side::opposite),
            ..self.clone()
        }
    }
}

/// What a part lacks.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "lack", rename_all = "snake_case")]
pub enum Lack {
    /// Length.
    Length {
        /// How much longer at the least; below zero, how much shorter.
        by_mm: f64,
        /// How much longer for it to stand in its joint where the measured one stood, where that is something else.
        as_before_mm: Option<f64>,
        /// Which length of it.
        when: When,
    },
    /// Angle.
    Angle {
        /// What it stands at, degrees.
        #[serde(rename = "stands_at_deg")]
        deg: f64,
        /// The most that it takes.
        limit_deg: f64,
    },
}

/// Which length of a part is meant, or what for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum When {
    /// Its length.
    Always,
    /// That at ride height.
    AtRideHeight,
    /// That between its ball joints.
    BetweenBallJoints,
    /// Its greatest.
    PulledOut,
    /// Its least.
    Closed,
    /// A bump stop's, fully crushed.
    Crushed,
    /// A spring's, coils together.
    Bound,
    /// A boot's greatest.
    Stretched,
    /// A boot's least.
    Folded,
    /// Its length at which the toe at ride height is what it was; the truck stands with the other too.
    ToKeepToe,
}

impl When {
    /// As printed behind a length.
    fn words(self) -> &'static str {
        match self {
            When::Always => "",
            When::AtRideHeight => " at ride height",
            When::BetweenBallJoints => " between its ball joints",
            When::PulledOut => " pulled out",
            When::Closed => " closed",
            When::Crushed => " crushed",
            When::Bound => " bound",
            When::Stretched => " stretched",
            When::Folded => " folded",
            When::ToKeepToe => " to keep the static toe (`TieRodEnd(longer: ..)`)",
        }
    }
}

/// In words, without its side.
impl std::fmt::Display for Need {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let by = |mm: f64| {
            let way = if mm < 0.0 { "shorter" } else { "longer" };
            format!("{} mm {way}", Toward::More.decimals(mm.abs(), 1))
        };
        match &self.lack {
            Lack::Length {
                by_mm,
                as_before_mm,
                when,
            } => {
                write!(f, "{} {}{}", self.of, by(*by_mm), when.words())?;
                match as_before_mm {
                    Some(mm) if (mm - by_mm).abs() > SAME_MM => {
                        write!(f, " ({} to stand in it where it stood)", by(*mm))
                    }
                    _ => Ok(()),
                }
            }
            Lack::Angle { deg, limit_deg } => write!(
                f,
                "{} that takes {} deg instead of {} deg",
                self.of,
                Toward::More.decimals(*deg, 1),
                Toward::Less.decimals(*limit_deg, 1)
            ),
        }
    }
}

/// Needs in words, alike ones of both sides said once; none where nothing is needed.
fn listed(needs: &[Need]) -> Option<String> {
    let mut said: Vec<(String, Vec<Option<Side>>)> = Vec::new();
    for need in needs {
        let words = need.to_string();
        match said.iter_mut().find(|(known, _)| *known == words) {
            Some((_, sides)) => sides.push(need.side),
            None => said.push((words, vec![need.side])),
        }
    }
    let words: Vec<String> = said
        .into_iter()
        .map(|(words, sides)| match sides[..] {
            [Some(side)] => format!("{} {words}", side.name()),
            [None, ..] => words,
            _ => format!("each {words}"),
        })
        .collect();
    (!words.is_empty()).then(|| words.join(", "))
}
