//! `bindpoint pose`: everything about one position.

use super::length_argument::{LengthArgument, asked};
use super::{SideArgument, UnitsArgument};
use bindpoint::findings::{PositionFindings, Status, status_of};
use bindpoint::output::{PoseText, Units, pose_text, verdict_words};
use bindpoint::suspension::Side;
use bindpoint::sweep::position_findings;
use bindpoint::truck::{Corner, Truck, touches};
use miette::{Result, miette};
use std::path::PathBuf;

#[derive(Debug, clap::Args)]
#[command(after_help = AFTER)]
pub(super) struct Arguments {
    #[command(flatten)]
    scene: super::SceneArguments,
    /// Wheel travel from the measured position, bump positive: in the scene's unit, or as typed: `90mm`, `3.5in`, `"3 1/2"`, `3-1/2in`.
    #[arg(
        long,
        value_name = "T",
        allow_hyphen_values = true,
        default_value = "0"
    )]
    travel: LengthArgument,
    /// Rack from straight ahead, toward the left positive: unit as above.
    #[arg(
        long,
        value_name = "R",
        allow_hyphen_values = true,
        default_value = "0"
    )]
    rack: LengthArgument,
    /// Which corner [default: the one that the scene describes].
    #[arg(long, value_enum)]
    side: Option<SideArgument>,
    /// Write everything found as JSON, in mm and degrees; `-` prints it instead of the text.
    #[arg(long, value_name = "FILE|-")]
    json: Option<PathBuf>,
    /// Unit of printed lengths [default: the scene's].
    #[arg(long, value_enum)]
    units: Option<UnitsArgument>,
}

const AFTER: &str = "Exit status: 0 clear; 1 a limit is exceeded, a gap is below the required one, or \
                     something touches; 2 it could not be checked.";

pub(super) fn run(arguments: &Arguments) -> Result<Status> {
    super::check_targets(&arguments.scene.scene, arguments.json.as_deref())?;
    let truck = super::load(&arguments.scene)?;
    let units = super::units(arguments.units, truck.scene_unit);
    let travel_mm = arguments.travel.in_mm(truck.scene_unit);
    let rack_mm = arguments.rack.in_mm(truck.scene_unit);
    let (corner, mirrored) = corner(&truck, arguments.side.map(SideArgument::side))?;
    // The mirror image of a rack toward the left is a rack toward the right.
    let [low, high] = corner.rack_mm;
    let rack_mm = super::within_locks(
        rack_mm,
        if mirrored { [-high, -low] } else { [low, high] },
        units,
    )?;
    let own_rack_mm = if mirrored { -rack_mm } else { rack_mm };
    let position = corner.position(travel_mm, own_rack_mm).map_err(|error| {
        miette!(
            help = format!(
                "travel counts from the measured position, bump positive; {} was asked for",
                arguments.travel.told(truck.scene_unit)
            ),
            "{}",
            super::told_in(units, &error)
        )
    })?;
    let mut findings = position_findings(&truck, corner, &position);
    if mirrored {
        mirror(&mut findings);
    }
    let status = status(&findings);
    if let Some(target) = &arguments.json {
        super::write_json(target, &findings)?;
    }
    if !arguments.json.as_deref().is_some_and(super::is_stdout) {
        let style = PoseText {
            units,
            ride_height_mm: corner.ride_height_mm,
            status,
            notes: notes(corner, &findings, mirrored, units),
        };
        let lengths = [("travel", &arguments.travel), ("rack", &arguments.rack)];
        let asked = asked(truck.scene_unit, lengths.map(|(name, l)| (name, Some(l))));
        super::print_answer(&truck, units, &(asked + &pose_text(&findings, &style)))?;
    }
    Ok(status)
}

/// The corner asked for, and whether it is the mirror image of the one that was built.
fn corner(truck: &Truck, side: Option<Side>) -> Result<(&Corner, bool)> {
    let described = truck
        .corners
        .first()
        .ok_or_else(|| miette!("the scene has no corner"))?;
    Ok(match side {
        None => (described, false),
        Some(side) => match truck.corner(side) {
            Some(corner) => (corner, false),
            None => (described, true),
        },
    })
}

/// Turns one corner's findings into those of its mirror image.
fn mirror(findings: &mut PositionFindings) {
    let flip = |v: &mut [f64; 3]| v[1] = -v[1];
    findings.side = findings.side.opposite();
    findings.rack_mm = -findings.rack_mm;
    findings.steer_deg = -findings.steer_deg;
    findings.points_mm.values_mut().for_each(flip);
    for gap in &mut findings.gaps {
        flip(&mut gap.point_a_mm);
        flip(&mut gap.point_b_mm);
        flip(&mut gap.normal);
    }
    for row in &mut findings.second_look.disagreements {
        row.rack_mm = -row.rack_mm;
    }
}

fn status(findings: &PositionFindings) -> Status {
    let unknown = findings.stops.iter().any(|s| s.margin.is_nan())
        || findings.gaps.iter().any(|g| g.gap_mm.is_nan())
        || !findings.second_look.disagreements.is_empty();
    let found = findings.stops.iter().any(|s| s.margin < 0.0)
        || findings
            .gaps
            .iter()
            .any(|g| touches(g.gap_mm) || g.gap_mm < g.required_mm);
    match (unknown, found, status_of(&findings.standing)) {
        (true, _, _) => Status::NotChecked,
        (false, true, _) => Status::Found,
        (false, false, standing) => standing,
    }
}

fn notes(
    corner: &Corner,
    findings: &PositionFindings,
    mirrored: bool,
    units: Units,
) -> Vec<String> {
    let mut notes = verdict_words::standing(&findings.standing, units, 0.0);
    let contradicted = findings.second_look.disagreements.iter();
    notes.extend(contradicted.map(|by| verdict_words::disagreement(by, Units::Mm, 0.0)));
    if mirrored {
        notes.push(format!(
            "this corner is the mirror image of the {} one, which the scene describes",
            corner.side.name()
        ));
    }
    notes
}

#[cfg(test)]
mod tests {
    use super::*;
    use bindpoint::findings::{Disagreement, Reported, SaidOfGap};
    use std::path::Path;

    #[test]
    fn a_gap_that_parry_contradicts_is_not_checked_and_told() {
        let truck = bindpoint::truck::load(Path::new("scenes/tarnwood.ron")).expect("demo scene");
        let corner = &truck.corners[0];
        let position = corner.position(0.0, 0.0).expect("measured");
        let mut findings = position_findings(&truck, corner, &position);
        assert_eq!(status(&findings), Status::Clear);
        findings.second_look.disagreements.push(Disagreement {
            a: "tie rod".to_owned(),
            b: "rim".to_owned(),
            reported: Reported::Gap,
            travel_mm: 0.0,
            rack_mm: 0.0,
            ours: SaidOfGap::Is(21.0),
            theirs_mm: (20.9, Some(20.9)),
            difference_mm: 0.1,
        });
        assert_eq!(status(&findings), Status::NotChecked);
        let style = PoseText {
            units: Units::Mm,
            ride_height_mm: corner.ride_height_mm,
            status: status(&findings),
            notes: notes(corner, &findings, false, Units::Mm),
        };
        let text = pose_text(&findings, &style);
        let text: Vec<&str> = text.split_whitespace().collect();
        let text = text.join(" ");
        assert!(text.contains("NOT FULLY CHECKED, see the notes."), "{text}");
        assert!(
            text.contains(
                "tie rod - rim, gap at travel 0.0, rack 0.0 mm: the gap is 21.0000 mm by one way"
            ),
            "{text}"
        );
        assert!(text.contains("1 in disagreement"), "{text}");
    }
}
