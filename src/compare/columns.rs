//! Setups built, swept and laid side by side.

use super::duties::{duties, notes};
use super::measures::{Reading, corner_readings};
use super::words::{self, Misfits};
use crate::findings::{
    Comparison, CornerFindings, Measure, MeasureGroup, Measured, SetupColumn, SweepFindings,
    cautions,
};
use crate::limits::Needs;
use crate::scene::{Problem, Scene};
use crate::setups::setup_names;
use crate::suspension::Side;
use crate::sweep::{SweepOptions, status, sweep};
use crate::truck::{MeshStore, Truck, assemble_setup, needs_of_setup};
use rayon::prelude::*;
use std::sync::atomic::{AtomicUsize, Ordering};

/// The first column's name where it is no setup.
pub(super) const AS_MEASURED: &str = "as measured";

/// Said where running clearance can't be.
const NO_REAR_AXLE: &str = "The scene has no rear axle, so running clearance (49 CFR 523.2) is not known. In its place stands the lowest \
     of this corner's sprung parts over level ground under the front tyre: without pitch and without the rest of the \
     truck, which may hang lower. Add `rear` and `underbody` to the scene.";

/// A setup that could be built, swept.
#[derive(Clone, Debug)]
pub struct SweptSetup {
    /// The truck in it.
    pub truck: Truck,
    /// Its sweep, with the map's cells where they were asked for.
    pub findings: SweepFindings,
}

/// A comparison with the sweeps behind it, column by column.
#[derive(Clone, Debug)]
pub struct Compared {
    /// What is printed and written.
    pub comparison: Comparison,
    /// The sweeps; none where a setup can't be built.
    pub swept: Vec<Option<SweptSetup>>,
}

/// Compares setups with the first of them. `setups` names the columns; none is the truck as measured. With no
/// columns named: the truck as measured and every setup of the scene. `with_map` keeps the maps' cells and
/// outlines. `progress` is told the share that is done.
///
/// # Errors
/// [`Problem`] for a name that no setup has, and where the first column can't be built.
pub fn compare(
    scene: &Scene,
    setups: &[Option<String>],
    meshes: &MeshStore,
    with_map: bool,
    progress: &(dyn Fn(f64) + Sync),
) -> Result<Compared, Problem> {
    let columns: Vec<Option<String>> = if setups.is_empty() {
        let all = setup_names(scene).into_iter().map(|n| Some(n.to_owned()));
        std::iter::once(None).chain(all).collect()
    } else {
        setups.to_vec()
    };
    for name in columns.iter().flatten() {
        // A name that isn't there is a mistake; a setup that can't be built is an answer.
        let known = setup_names(scene).contains(&name.as_str());
        if !known {
            crate::setups::with_setup(scene, name)?;
        }
    }
    let duties = duties(scene)?;
    let options = SweepOptions {
        rack_positions: 3,
        with_map_cells: with_map,
        ..SweepOptions::default()
    };
    // Setups that come to the same truck are swept once.
    let twins: Vec<usize> = (0..columns.len())
        .map(|i| {
            (0..i)
                .find(|j| is_same_truck(scene, &columns[*j], &columns[i]))
                .unwrap_or(i)
        })
        .collect();
    let done = AtomicUsize::new(0);
    let build = |i: usize| {
        let truck = assemble_setup(scene, columns[i].as_deref(), meshes)?;
        let findings = sweep(&truck, &options, &|_, _| {});
        let finished = done.fetch_add(1, Ordering::Relaxed) + 1;
        progress(finished as f64 / columns.len() as f64);
        Ok(SweptSetup { truck, findings })
    };
    // The first alone: the others share what is worked out about how it moves.
    let mut built: Vec<Result<SweptSetup, Problem>> = vec![build(0)];
    let others = (1..columns.len()).into_par_iter();
    built.par_extend(others.filter(|i| twins[*i] == *i).map(build));
    for (i, twin) in twins.iter().enumerate() {
        if *twin != i {
            let copy = built[*twin].clone();
            built.insert(i, copy);
        }
    }
    let mut swept = Vec::new();
    let mut heads = Vec::new();
    for (i, (name, result)) in columns.iter().zip(built).enumerate() {
        let mut head = SetupColumn {
            name: name.clone().unwrap_or_else(|| AS_MEASURED.to_owned()),
            changes: words::changes(scene, name.as_deref()),
            cannot_be_built: None,
            needs: Needs::default(),
            verdict: None,
            better: Vec::new(),
            worse: Vec::new(),
            no_longer_fits: Vec::new(),
            undecided: Vec::new(),
        };
        match result {
            Ok(setup) => {
                head.needs = setup.truck.needs.clone();
                head.verdict = Some(status(&setup.findings));
                for corner in corners(&setup.findings) {
                    let all = corner.undecided.iter().cloned();
                    head.undecided.extend(all.map(|why| (corner.side, why)));
                }
                swept.push(Some(setup));
            }
            Err(problem) if i == 0 => return Err(problem),
            Err(problem) => {
                head.needs = name
                    .as_deref()
                    .and_then(|name| needs_of_setup(scene, name))
                    .unwrap_or_default();
                head.cannot_be_built = Some(format!("{} ({})", problem.what, problem.help));
                swept.push(None);
            }
        }
        heads.push(head);
    }
    let Some(Some(first)) = swept.first() else {
        unreachable!("the first column was built");
    };
    let leading_side = first.findings.worse.side;
    let sides_differ = swept.iter().flatten().any(|s| s.findings.other.is_some());
    let mut sides = vec![leading_side];
    if sides_differ {
        sides.push(leading_side.opposite());
    }
    let mut measures = Vec::new();
    for side in sides {
        let sheets: Vec<Option<Vec<Reading>>> = swept
            .par_iter()
            .map(|setup| setup.as_ref().map(|s| sheet(s, side, &duties, scene)))
            .collect();
        measures.extend(lay_side_by_side(side, &sheets));
    }
    let mut warnings: Vec<String> = Vec::new();
    if first.truck.whole.is_none() {
        warnings.push(NO_REAR_AXLE.to_owned());
    }
    for (head, setup) in heads.iter().zip(&swept) {
        for warning in setup.iter().flat_map(|s| &s.findings.warnings) {
            // What the first column says too is said once.
            if first.findings.warnings.contains(warning) {
                if !warnings.contains(warning) {
                    warnings.push(warning.clone());
                }
            } else {
                warnings.push(format!("{}: {warning}", head.name));
            }
        }
    }
    let fits: Vec<Misfits> = swept
        .iter()
        .map(|setup| setup.as_ref().map(words::misfits).unwrap_or_default())
        .collect();
    for (i, head) in heads.iter_mut().enumerate().skip(1) {
        let words = words::better_and_worse(&measures, i, leading_side, &words::in_mm);
        [head.better, head.worse] = words;
        head.no_longer_fits = fits[i].beyond(&fits[0]);
    }
    let comparison = Comparison {
        truck: scene.name.clone(),
        leading_side,
        sides_differ,
        columns: heads,
        measures,
        wear_notes: notes(),
        warnings,
        cautions: cautions(),
    };
    Ok(Compared { comparison, swept })
}

/// Whether two columns come to the same truck, whatever they are called.
fn is_same_truck(scene: &Scene, a: &Option<String>, b: &Option<String>) -> bool {
    let fitted = |name: &Option<String>| -> Result<Scene, Problem> {
        let mut fitted = match name {
            Some(name) => crate::setups::with_setup(scene, name)?,
            None => scene.clone(),
        };
        fitted.name.clear();
        if let Some(other) = &mut fitted.other_corner {
            other.name.clear();
        }
        Ok(fitted)
    };
    matches!((fitted(a), fitted(b)), (Ok(a), Ok(b)) if a == b)
}

/// Both corners' findings, the worse first.
pub(super) fn corners(findings: &SweepFindings) -> impl Iterator<Item = &CornerFindings> {
    std::iter::once(&findings.worse).chain(&findings.other)
}

/// The readings of one side; where both sides mirror each other, those of the one that was built.
fn sheet(
    setup: &SweptSetup,
    side: Side,
    duties: &[crate::scene::Duty],
    scene: &Scene,
) -> Vec<Reading> {
    let truck = &setup.truck;
    let found = corners(&setup.findings)
        .find(|c| c.side == side)
        .unwrap_or(&setup.findings.worse);
    let corner = truck.corner(found.side).unwrap_or(&truck.corners[0]);
    corner_readings(truck, side, corner, found, duties, scene.units.in_mm())
}

/// Readings by key, in the order in which they first appear; wear as ratios to the first column.
fn lay_side_by_side(side: Side, sheets: &[Option<Vec<Reading>>]) -> Vec<Measure> {
    let mut out: Vec<Measure> = Vec::new();
    for (i, sheet) in sheets.iter().enumerate() {
        let mut after = 0;
        for reading in sheet.iter().flatten() {
            let place = out.iter().position(|m| m.key == reading.key);
            let place = place.unwrap_or_else(|| {
                // A row that the first column lacks stands behind the one it follows in its own sheet.
                let new = Measure {
                    key: reading.key.clone(),
                    group: reading.group,
                    label: reading.label.clone(),
                    quantity: reading.quantity,
                    better: reading.better,
                    side: Some(side),
                    detail: reading.detail,
                    values: vec![None; sheets.len()],
                };
                out.insert(after, new);
                after
            });
            after = place + 1;
            out[place].detail &= reading.detail;
            out[place].values[i] = Some(Measured {
                value: reading.value,
                at_least: reading.at_least,
                by: reading.by.clone(),
            });
        }
    }
    for measure in &mut out {
        if measure.key.starts_with("wear_") || measure.key.starts_with("peak_wear_") {
            let first = measure.values[0].as_ref().map(|m| m.value);
            for slot in &mut measure.values {
                let now = slot.as_ref().map(|m| m.value);
                // Nothing over nothing is nothing: no load, no wear. Something over nothing has no ratio.
                let ratio = match (now, first) {
                    (Some(0.0), Some(_)) => Some(0.0),
                    (Some(now), Some(first)) if first > 0.0 => Some(now / first),
                    _ => None,
                };
                match (slot.as_mut(), ratio) {
                    (Some(measured), Some(ratio)) => measured.value = ratio,
                    _ => *slot = None,
                }
            }
        }
    }
    // Groups stay together, in the order in which they first appear.
    let mut groups: Vec<MeasureGroup> = Vec::new();
    for measure in &out {
        if !groups.contains(&measure.group) {
            groups.push(measure.group);
        }
    }
    out.sort_by_key(|m| groups.iter().position(|g| *g == m.group));
    out
}
