//! Another setup beside the one shown: which, where it stands, and which of its parts differ.
//!
//! It stands at the travel and rack of the truck that is shown. A part that is the same in both, at the same
//! place, is not drawn again: what is left is what the setup changes. Plain logic; [`super::ghost_parts`]
//! draws it, [`super::truck_worker`] builds it off the main thread.

use super::document::{Document, Made, truck_of};
use super::motion::{Motion, MotionSet};
use super::suspension::{same_surface, stand_ins};
use crate::findings::FreeMap;
use crate::kinematics::ReachError;
use crate::limits::Limit;
use crate::output::Units;
use crate::scene::SceneError;
use crate::shapes::{SAME_PLACE_MM, Surface, in_same_place, moved_alike};
use crate::suspension::{Body, Linkage, Placement, Side};
use crate::sweep::free_map;
use crate::sweep::rate_atlas::Atlas;
use crate::sweep::stops::Guard;
use crate::truck::{Corner, Truck};
use bevy::prelude::*;
use std::sync::Arc;

/// Stops named in one line.
const MOST_NAMED: usize = 3;

/// What the shown truck is compared with.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum GhostOf {
    /// The truck as measured.
    AsMeasured,
    /// One of the scene's setups.
    Setup(String),
}

impl GhostOf {
    /// How the truck as measured is typed.
    pub const AS_MEASURED: &str = "as-measured";

    /// As typed: a setup's name, or [`GhostOf::AS_MEASURED`].
    pub fn typed(text: &str) -> GhostOf {
        if text == GhostOf::AS_MEASURED {
            GhostOf::AsMeasured
        } else {
            GhostOf::Setup(text.to_owned())
        }
    }

    /// The setup's name; none: as measured.
    pub fn setup(&self) -> Option<&str> {
        match self {
            GhostOf::AsMeasured => None,
            GhostOf::Setup(name) => Some(name),
        }
    }

    /// As shown.
    pub fn name(&self) -> &str {
        self.setup().unwrap_or("as measured")
    }
}

/// Where the other truck is.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum GhostPlace {
    /// Not known yet: it is being built, or there is none.
    #[default]
    Unknown,
    /// At the travel and rack of the truck shown. It may be past limits of its own there, as any truck may
    /// that is moved by hand; which.
    Here(Vec<String>),
    /// Its linkage can't go there.
    OutOfReach(ReachError),
    /// Its rack ends before.
    BeyondLock,
}

/// A part of the other truck.
#[derive(Clone, Debug)]
pub struct GhostPart {
    /// Its name; a body's, for a bar that stands in for one without parts.
    pub name: String,
    /// What carries it.
    pub body: Body,
    /// Whether it is the truck's body, such as a fender.
    pub is_bodywork: bool,
    /// Its surface, body coordinates, on the side that is shown.
    pub surface: Arc<Surface>,
    /// Where its body stands.
    pub placement: Placement<f64>,
    /// Whether the truck shown has no such part at this place.
    pub differs: bool,
    twin: Option<Twin>,
}

/// The part of the same name in the truck shown.
#[derive(Clone, Debug)]
struct Twin {
    surface: Arc<Surface>,
    body: Body,
    /// Whether both are one surface in body coordinates: then only the bodies' places can differ.
    is_same: bool,
}

/// What a pose of the ghost belongs to.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Stood {
    ghost: u64,
    shown: u64,
    side: Side,
    travel_mm: f64,
    rack_mm: f64,
    /// Whether it is left from a text that it can't be built from any more, while the truck shown can.
    is_stale: bool,
}

/// Another setup, for comparing.
#[derive(Resource, Clone, Debug, Default)]
pub struct Ghost {
    of: Option<GhostOf>,
    truck: Option<Arc<Truck>>,
    /// The text that it, or why there is none, came from.
    made_from: Option<u64>,
    problem: Option<String>,
    map: Option<Arc<FreeMap>>,
    parts: Vec<GhostPart>,
    place: GhostPlace,
    stood: Option<Stood>,
    notice: Option<String>,
    generation: u64,
    pairing: u64,
    answers: u64,
}

impl Ghost {
    /// Builds the other truck at once.
    ///
    /// # Errors
    /// As [`crate::truck::load_setup`]: a name that no setup has, or a setup that can't be built.
    pub fn open(document: &Document, of: Option<GhostOf>) -> Result<Ghost, SceneError> {
        let mut ghost = Ghost::default();
        if let Some(of) = of {
            let made = truck_of(document.text(), document.path(), of.setup())?;
            ghost.choose(Some(of.clone()));
            ghost.receive(document.text_revision(), &of, Ok(made));
        }
        Ok(ghost)
    }

    /// What the shown truck is compared with, if with anything.
    pub fn of(&self) -> Option<&GhostOf> {
        self.of.as_ref()
    }

    /// Compares with another setup, or with none.
    pub fn choose(&mut self, of: Option<GhostOf>) {
        if self.of != of {
            *self = Ghost {
                of,
                generation: self.generation + 1,
                pairing: self.pairing + 1,
                answers: self.answers + 1,
                ..Ghost::default()
            };
        }
    }

    /// Whether its truck must be built from the document's text, as far as it knows.
    pub fn is_waiting(&self, document: &Document) -> bool {
        self.of.is_some() && self.made_from != Some(document.text_revision())
    }

    /// Takes what was made from the text of a revision. A setup that the text has lost is compared no more.
    pub fn receive(&mut self, text_revision: u64, of: &GhostOf, made: Result<Made, String>) {
        if self.of.as_ref() != Some(of) {
            return;
        }
        self.made_from = Some(text_revision);
        self.generation += 1;
        self.answers += 1;
        match made {
            Ok(made) if made.lost.is_some() => {
                self.choose(None);
                self.notice = Some(format!(
                    "the setup `{}` is gone from the scene: nothing is compared any more",
                    of.name()
                ));
            }
            Ok(made) => {
                self.truck = Some(Arc::new(made.truck));
                self.problem = None;
            }
            Err(problem) => self.problem = Some(problem),
        }
    }

    /// What a person should be told, if anything, once.
    pub fn take_notice(&mut self) -> Option<String> {
        self.notice.take()
    }

    /// Its truck.
    pub fn truck(&self) -> Option<&Arc<Truck>> {
        self.truck.as_ref()
    }

    /// Its corner on a side, by number, and whether that one must be mirrored.
    pub fn corner_on(&self, side: Side) -> Option<(usize, bool)> {
        let corners = &self.truck.as_ref()?.corners;
        match corners.iter().position(|c| c.side == side) {
            Some(i) => Some((i, false)),
            None => Some((0, true)),
        }
    }

    /// Its parts, as last placed.
    pub fn parts(&self) -> &[GhostPart] {
        &self.parts
    }

    /// Where it is.
    pub fn place(&self) -> &GhostPlace {
        &self.place
    }

    /// The parts that differ where both trucks stand.
    pub fn differing(&self) -> impl Iterator<Item = &GhostPart> {
        let here = matches!(self.place, GhostPlace::Here(_));
        self.parts.iter().filter(move |p| here && p.differs)
    }

    /// Grows whenever other parts may have to be drawn.
    pub fn pairing(&self) -> u64 {
        self.pairing
    }

    /// Grows with every new truck of it.
    pub fn generation(&self) -> u64 {
        self.generation
    }

    /// Grows with everything that is new about it.
    pub fn answers(&self) -> u64 {
        self.answers
    }

    /// Takes its free-travel map.
    pub fn take_map(&mut self, map: Arc<FreeMap>) {
        self.map = Some(map);
        self.answers += 1;
    }

    /// Finds its free-travel map where it stands.
    pub fn find_map(&mut self, side: Side) {
        if let (Some(truck), Some((corner, _))) = (&self.truck, self.corner_on(side)) {
            self.map = Some(Arc::new(map_of(&truck.corners[corner])));
        }
    }

    /// The outline of its free travel, corners as (rack, travel), mm, on the side that is shown. Empty until it
    /// is found.
    pub fn outline(&self, side: Side) -> Vec<[f64; 2]> {
        let stale = self.stood.is_some_and(|s| s.is_stale);
        let Some(map) = self.map.as_ref().filter(|_| !stale) else {
            return Vec::new();
        };
        // Mirrored, the rack goes the other way.
        let mirrored = self.corner_on(side).is_some_and(|(_, mirrored)| mirrored);
        let sign = if mirrored { -1.0 } else { 1.0 };
        let at = |p: &crate::findings::OutlinePoint| [sign * p.rack_mm, p.travel_mm];
        let mut corners: Vec<[f64; 2]> = map.outline.iter().map(at).collect();
        corners.extend(corners.first().copied());
        corners
    }

    /// Puts it where the truck shown stands, and tells which parts differ there.
    pub fn stand(&mut self, document: &Document, motion: &Motion) {
        let shown = document.corner();
        let stood = Stood {
            ghost: self.generation,
            shown: document.generation(),
            side: shown.side,
            travel_mm: motion.travel_mm(),
            rack_mm: motion.rack_mm(),
            is_stale: self.problem.is_some() && document.problem().is_none(),
        };
        if self.stood == Some(stood) {
            return;
        }
        let last = self.stood.replace(stood);
        self.place = GhostPlace::Unknown;
        let Some(truck) = self.truck.clone().filter(|_| !stood.is_stale) else {
            return;
        };
        let Some((number, mirrored)) = self.corner_on(shown.side) else {
            return;
        };
        let corner = &truck.corners[number];
        let same_pair = last.is_some_and(|l| {
            l.ghost == stood.ghost && l.shown == stood.shown && l.side == stood.side
        });
        if !same_pair {
            self.parts = pair(shown, corner, mirrored);
            self.pairing += 1;
        }
        let rack_mm = if mirrored {
            -stood.rack_mm
        } else {
            stood.rack_mm
        };
        self.place = if is_beyond(rack_mm, corner.rack_mm) {
            GhostPlace::BeyondLock
        } else {
            match corner.position(stood.travel_mm, rack_mm) {
                Ok(position) => {
                    let at = &position.linkage;
                    for part in &mut self.parts {
                        part.stand(at, &motion.position().linkage, mirrored);
                    }
                    GhostPlace::Here(past(corner, at))
                }
                Err(error) => GhostPlace::OutOfReach(error),
            }
        };
    }

    /// In a line, how it compares with the truck shown: what a person must know who sees it, or doesn't.
    pub fn words(&self, units: Units) -> Option<String> {
        let name = self.of.as_ref()?.name();
        // What the truck shown can't be built from either is told of once.
        let stale = self.stood.is_some_and(|s| s.is_stale);
        if let Some(problem) = self.problem.as_ref().filter(|_| stale) {
            return Some(format!("{name}: can't be built: {problem}"));
        }
        if let Some(hidden) = self.hidden(units) {
            return Some(hidden);
        }
        if !matches!(self.place, GhostPlace::Here(_)) {
            return Some(format!("{name}: being built..."));
        }
        let past = self
            .past_stops()
            .map(|p| format!("{p}; "))
            .unwrap_or_default();
        let mut names: Vec<&str> = self.differing().map(|p| p.name.as_str()).collect();
        // Several bars may stand in for one body.
        names.dedup();
        let differ = match names.len() {
            0 => "no part differs here".to_owned(),
            1 => format!("1 part differs here: {}", names[0]),
            n => format!("{n} parts differ here: {}", names.join(", ")),
        };
        Some(format!("{name}: {past}{differ}"))
    }

    /// Which stops of its own it is past, if any.
    pub fn past_stops(&self) -> Option<String> {
        match &self.place {
            GhostPlace::Here(past) if !past.is_empty() => {
                let stops = if past.len() == 1 { "stop" } else { "stops" };
                let mut named = past[..past.len().min(MOST_NAMED)].join(", ");
                if past.len() > MOST_NAMED {
                    named.push_str(&format!(" and {} more", past.len() - MOST_NAMED));
                }
                Some(format!("past its {stops} here ({named})"))
            }
            _ => None,
        }
    }

    /// Why it isn't drawn where the truck shown stands, if it can't go there.
    pub fn hidden(&self, units: Units) -> Option<String> {
        let name = self.of.as_ref()?.name();
        match &self.place {
            GhostPlace::OutOfReach(error) => Some(format!(
                "{name}: not drawn, it can't go here (end of reach, {}, at {} {})",
                error.limit.name(),
                units.signed_free_to(error.reached_mm, error.reached_mm),
                units.name()
            )),
            GhostPlace::BeyondLock => {
                Some(format!("{name}: not drawn, its rack doesn't go this far"))
            }
            GhostPlace::Unknown | GhostPlace::Here(_) => None,
        }
    }
}

impl GhostPart {
    fn stand(&mut self, own: &Linkage<f64>, shown: &Linkage<f64>, mirror: bool) {
        let placement = own.placement(self.body.motion());
        self.placement = if mirror {
            placement.mirrored()
        } else {
            placement
        };
        self.differs = match &self.twin {
            None => true,
            Some(twin) => {
                let there = shown.placement(twin.body.motion());
                let same = if twin.is_same {
                    moved_alike(&self.surface, &self.placement, &there)
                } else {
                    in_same_place(&self.surface, &self.placement, &twin.surface, &there)
                };
                !same
            }
        };
    }
}

/// The other corner's parts on the side that is shown, each with its twin there.
fn pair(shown: &Corner, other: &Corner, mirror: bool) -> Vec<GhostPart> {
    let all = |corner: &Corner| -> Vec<(String, Body, Arc<Surface>, bool)> {
        let parts = corner.parts.iter();
        let mut out: Vec<_> = parts
            .map(|p| {
                (
                    p.name.clone(),
                    p.body,
                    Arc::clone(&p.surface),
                    p.is_bodywork,
                )
            })
            .collect();
        out.extend(stand_ins(corner).into_iter().filter_map(|(body, shape)| {
            let surface = Arc::new(shape.surface(None).ok()?);
            Some((body.name().replace('_', " "), body, surface, false))
        }));
        out
    };
    let mut twins = all(shown);
    all(other)
        .into_iter()
        .map(|(name, body, surface, is_bodywork)| {
            let (name, surface) = if mirror {
                (on_the_other_side(name), Arc::new(surface.mirrored()))
            } else {
                (name, surface)
            };
            // A body may have several bars under its name: each is some one's twin.
            let same = |t: &(String, Body, Arc<Surface>, bool)| t.0 == name;
            let twin = twins
                .iter()
                .position(|t| same(t) && same_surface(&t.2, &surface))
                .or_else(|| twins.iter().position(same))
                .map(|i| twins.swap_remove(i))
                .map(|(_, body, twin, _)| Twin {
                    is_same: same_surface(&twin, &surface),
                    surface: twin,
                    body,
                });
            GhostPart {
                name,
                body,
                is_bodywork,
                surface,
                placement: Placement::identity(),
                differs: false,
                twin,
            }
        })
        .collect()
}

/// The name of a part's mirror image: a part that is fitted to both sides names its own first.
fn on_the_other_side(name: String) -> String {
    if let Some(rest) = name.strip_prefix("left ") {
        format!("right {rest}")
    } else if let Some(rest) = name.strip_prefix("right ") {
        format!("left {rest}")
    } else {
        name
    }
}

/// Whether a rack position lies beyond the locks, by more than is printed.
fn is_beyond(rack_mm: f64, [low, high]: [f64; 2]) -> bool {
    rack_mm < low - SAME_PLACE_MM || rack_mm > high + SAME_PLACE_MM
}

/// The limits that a pose exceeds.
fn past(corner: &Corner, at: &Linkage<f64>) -> Vec<String> {
    // Rounding at a limit that was gone to.
    const HAIR: f64 = 1.0e-6;
    let limits = corner.limits.iter();
    limits
        .filter(|l| l.reading(at).margin < -HAIR)
        .map(Limit::name)
        .collect()
}

/// The free-travel map of a corner.
pub(super) fn map_of(corner: &Corner) -> FreeMap {
    let atlas = Atlas::build(corner);
    free_map(&Guard::new(corner, &atlas, 1.0))
}

/// Keeps the ghost beside the truck shown.
pub struct GhostPlugin;

impl Plugin for GhostPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Ghost>()
            .add_systems(Update, follow.after(MotionSet));
    }
}

fn follow(mut ghost: ResMut<Ghost>, document: Res<Document>, motion: Res<Motion>) {
    if ghost.of().is_some() {
        ghost.stand(&document, &motion);
    }
}
