//! The largest tyre that clears arm, knuckle, frame and all else over the whole free travel.
//!
//! The idea in five lines. A tyre of a given width is scaled to a diameter and fitted; the truck is swept with
//! the tyre's required gaps as the only gaps that count, so that its whole free travel at every steering angle is
//! proved to keep them, or not. A bigger tyre is not in the way everywhere that a smaller one is (its bulge sits
//! further out), so sizes are asked step by step outward from the fitted one until one fails, and that step is
//! halved down to a bracket. For the same reason larger ones are asked first where the fitted one fails, and smaller ones where
//! none of them clears. A tyre that would stop the wheel before the other stops doesn't clear. The answer is
//! the smaller end of the bracket: that tyre is proved; so are those asked on the way, not those between.

use super::tyre_surroundings::tyre_surroundings;
use crate::findings::{Obligation, OpenEnd, Outcome, Requirement, TyreSurroundings};
use crate::scene::{AS_MEASURED, Problem, Scene};
use crate::setups::{TyreMeasures, check_drawn_tyre, fitted_measures, resized, with_setup};
use crate::suspension::{Body, Side};
use crate::sweep::{
    MappedTravel, Reached, first_across, first_unkept, mapped, own_side, standing_obligations,
};
use crate::truck::{Corner, MeshStore, blamed_in_setup, refit};
use rayon::prelude::*;
use std::cell::RefCell;
use std::sync::{Mutex, PoisonError};

/// What a tyre one step larger meets.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct TyreLimit {
    /// Which corner.
    pub side: Side,
    /// The pair whose gap is missing, or that touches.
    pub stop: String,
    /// Wheel travel there, bump positive.
    pub travel_mm: f64,
    /// Rack there.
    pub rack_mm: f64,
}

/// A size that was looked at.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct TyreTried {
    /// Its diameter.
    pub diameter_mm: f64,
    /// Whether it is proved to clear.
    pub clears: bool,
}

/// The largest tyre that clears.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct LargestTyre {
    /// The truck.
    pub truck: String,
    /// Diameter of the tyre that is fitted.
    pub fitted_diameter_mm: f64,
    /// Section width looked at.
    pub width_mm: f64,
    /// Proved to clear at every travel and steering angle; none where not even the smallest looked at does.
    pub clears_diameter_mm: Option<f64>,
    /// The next larger one looked at isn't proved to; none where the largest looked at clears.
    pub not_proved_diameter_mm: Option<f64>,
    /// What a tyre of `limits_diameter_mm` meets.
    pub limits: Vec<TyreLimit>,
    /// The one that `limits` are of: one step larger than what clears, or, where none does, the fitted one.
    pub limits_diameter_mm: Option<f64>,
    /// Every size that was looked at, the smallest first.
    pub sizes: Vec<TyreTried>,
    /// Where the free travel that was looked at ends at nothing that is meant to end it.
    pub open_ends: Vec<OpenEnd>,
    /// The tyre's pairs that the scene leaves out by name, and whether each corner's own parts keep to their side.
    pub standing: Vec<Obligation>,
    /// Where nothing is drawn around the tyre that clears, or around the fitted one where none does: there nothing is
    /// known about it.
    pub surroundings: Option<TyreSurroundings>,
    /// What the truck that was built wants said.
    pub warnings: Vec<String>,
}

impl LargestTyre {
    /// Whether the fitted diameter is proved to clear at this width.
    pub fn fitted_clears(&self) -> bool {
        let mut sizes = self.sizes.iter();
        sizes.any(|size| size.clears && size.diameter_mm == self.fitted_diameter_mm)
    }
}

/// The bracket's width, mm: no tyre is made to it.
const DIAMETER_TOLERANCE_MM: f64 = 0.5;
/// Sizes asked before halving, mm of diameter: half an inch.
const STEP_MM: f64 = 12.7;
/// Share of the fitted tyre's section height added at most where the fitted one clears.
const HEIGHT_SHARE: f64 = 1.0;
/// Share of it added or taken off at most where the fitted one doesn't.
const HEIGHT_SHARE_OFF: f64 = 0.5;

/// Solves for the largest diameter at a section width (none: the fitted one's), with one of the scene's setups.
///
/// # Errors
/// [`Problem`] where the truck can't be built or the scene says nothing of its tyre.
pub fn largest_tyre(
    scene: &Scene,
    setup: Option<&str>,
    width_mm: Option<f64>,
    meshes: &MeshStore,
) -> Result<LargestTyre, Problem> {
    let blamed = |problem: Problem| match setup {
        Some(name) if name != AS_MEASURED => blamed_in_setup(problem, scene, name),
        _ => problem,
    };
    let fitted = match setup {
        Some(name) => with_setup(scene, name).map_err(blamed)?,
        None => scene.clone(),
    };
    check_drawn_tyre(&fitted)?;
    let now = fitted_measures(&fitted)?;
    let width_mm = width_mm.unwrap_or(now.width_mm);
    let tyre = fitted.tyre.as_ref().map_or("tyre", |t| t.part.as_str());
    let said_empty = (fitted.tyre.as_ref()).map_or(&[][..], |t| &t.nothing_there);
    let watched = |corner: &Corner, part: &str| {
        let is = |i: usize| corner.parts[i].name == part && corner.parts[i].body == Body::Wheel;
        let overlaps = corner.overlaps.iter().any(|o| o.a == part || o.b == part);
        let resting = corner.resting.iter().map(|r| &r.pair);
        overlaps
            || corner
                .pairs
                .iter()
                .chain(resting)
                .any(|p| p.is_named && (is(p.a) || is(p.b)))
    };
    let reached: [Mutex<Reached>; 2] = Default::default();
    let hits = |diameter_mm: f64| -> Result<Vec<TyreLimit>, Problem> {
        let larger = resized(&fitted, diameter_mm, width_mm)?;
        let truck = refit(scene, &larger, meshes).map_err(blamed)?;
        if let Some(corner) = truck.corners.iter().find(|c| !watched(c, tyre)) {
            return Err(Problem::at(
                "watch",
                format!(
                    "nothing is watched against the {} corner's `{tyre}`, so nothing is known about it",
                    corner.side.name()
                ),
                format!(
                    "add `(a: \"{tyre}\", b: \"*\", gap: ..)` to `watch`; the part has to be on the wheel"
                ),
            ));
        }
        let found: Vec<Option<TyreLimit>> = truck
            .corners
            .par_iter()
            .zip(&reached)
            .map(|(c, reached)| {
                let mut reached = reached.lock().unwrap_or_else(PoisonError::into_inner);
                tyre_limit(c, tyre, &mut reached)
            })
            .collect();
        Ok(found.into_iter().flatten().collect())
    };
    let mut out = LargestTyre {
        truck: fitted.name.clone(),
        fitted_diameter_mm: now.diameter_mm,
        width_mm,
        clears_diameter_mm: None,
        not_proved_diameter_mm: None,
        limits: Vec::new(),
        limits_diameter_mm: None,
        sizes: Vec::new(),
        open_ends: Vec::new(),
        standing: Vec::new(),
        surroundings: None,
        warnings: Vec::new(),
    };
    solve(&mut out, &now, &hits)?;
    let shown = out.clears_diameter_mm.unwrap_or(now.diameter_mm);
    let truck = refit(scene, &resized(&fitted, shown, width_mm)?, meshes)?;
    out.surroundings = tyre_surroundings(&truck, tyre, said_empty);
    out.warnings = truck.warnings;
    for corner in &truck.corners {
        let MappedTravel { region, open_ends } = mapped(corner, &[]);
        out.open_ends.extend(open_ends);
        let is_of_tyre = |o: &Obligation| match &o.requirement {
            Requirement::Gap { a, b, .. } => {
                (a == tyre || b == tyre) && matches!(o.outcome, Outcome::Excluded { .. })
            }
            _ => false,
        };
        let across = first_across(corner, &region, corner.greatest_gap_mm());
        let of_corner = standing_obligations(corner).into_iter().filter(is_of_tyre);
        for one in of_corner.chain([own_side(corner, across)]) {
            if !out.standing.contains(&one) {
                out.standing.push(one);
            }
        }
    }
    Ok(out)
}

/// Asks sizes outward from the fitted one, and brackets the first that fails.
fn solve(
    out: &mut LargestTyre,
    now: &TyreMeasures,
    hits: &dyn Fn(f64) -> Result<Vec<TyreLimit>, Problem>,
) -> Result<(), Problem> {
    let tried = RefCell::new(Vec::new());
    let hits = |diameter_mm: f64| -> Result<Vec<TyreLimit>, Problem> {
        let found = hits(diameter_mm)?;
        tried.borrow_mut().push(TyreTried {
            diameter_mm,
            clears: found.is_empty(),
        });
        Ok(found)
    };
    let solved = bracketed(out, now, &hits);
    out.sizes = tried.into_inner();
    out.sizes
        .sort_by(|a, b| a.diameter_mm.total_cmp(&b.diameter_mm));
    solved
}

fn bracketed(
    out: &mut LargestTyre,
    now: &TyreMeasures,
    hits: &dyn Fn(f64) -> Result<Vec<TyreLimit>, Problem>,
) -> Result<(), Problem> {
    let height = now.diameter_mm - now.rim_diameter_mm;
    let [smallest, largest_off] =
        [-HEIGHT_SHARE_OFF, HEIGHT_SHARE_OFF].map(|share| now.diameter_mm + share * height);
    let at_fitted = hits(now.diameter_mm)?;
    // Where to go on from outward, and how far.
    let from = if at_fitted.is_empty() {
        Some((now.diameter_mm, now.diameter_mm + HEIGHT_SHARE * height))
    } else {
        let steps = (1..).map(|i| now.diameter_mm + f64::from(i) * STEP_MM);
        // A size that the truck can't be put together with ends the looking.
        steps
            .take_while(|size| *size <= largest_off)
            .map_while(|size| Some((size, hits(size).ok()?)))
            .find(|(_, met)| met.is_empty())
            .map(|(size, _)| (size, largest_off))
    };
    let (mut low, mut high);
    if let Some((start, largest)) = from {
        low = start;
        loop {
            high = low + STEP_MM;
            if high > largest {
                out.clears_diameter_mm = Some(low);
                return Ok(());
            }
            out.limits = hits(high)?;
            if !out.limits.is_empty() {
                break;
            }
            low = high;
        }
    } else {
        high = now.diameter_mm;
        let mut met = at_fitted.clone();
        loop {
            low = high - STEP_MM;
            if low < smallest {
                out.not_proved_diameter_mm = Some(high);
                out.limits = at_fitted;
                out.limits_diameter_mm = Some(now.diameter_mm);
                return Ok(());
            }
            let found = hits(low)?;
            if found.is_empty() {
                break;
            }
            met = found;
            high = low;
        }
        out.limits = met;
    }
    while high - low > DIAMETER_TOLERANCE_MM {
        let middle = 0.5 * (low + high);
        let found = hits(middle)?;
        if found.is_empty() {
            low = middle;
        } else {
            high = middle;
            out.limits = found;
        }
    }
    out.clears_diameter_mm = Some(low);
    out.not_proved_diameter_mm = Some(high);
    out.limits_diameter_mm = Some(high);
    Ok(())
}

/// What the tyre meets on one corner, if anything.
fn tyre_limit(corner: &Corner, part: &str, reached: &mut Reached) -> Option<TyreLimit> {
    let (stop, at) = first_unkept(corner, part, reached)?;
    Some(TyreLimit {
        side: corner.side,
        stop: stop.name(),
        travel_mm: at.and_then(|at| at.travel_mm).unwrap_or(0.0),
        rack_mm: at.map_or(0.0, |at| at.rack_mm),
    })
}
