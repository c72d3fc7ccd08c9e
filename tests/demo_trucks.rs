//! The demo trucks are clear of themselves, by other means than the library's: `demo_pairs.csv` (manifold3d, at the measured
//! position) and `tyre_room_fcl.csv` (scipy's poses, FCL's distances) say so, and the library's gaps agree with them.

mod table;

use bindpoint::clearance::WatchedPair;
use bindpoint::shapes::REVOLVED_EXCESS_MM;
use bindpoint::suspension::{Body, Side};
use bindpoint::truck::{Corner, Truck, load};
use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;
use table::{Row, Table};

/// Both ways of posing solve their equations to 1e-9 mm; distances are rounded to ten digits, and STL files hold their
/// corners exactly.
const SOLVED_MM: f64 = 1.0e-6;

fn trucks() -> BTreeMap<&'static str, Truck> {
    let root = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("scenes");
    ["tarnwood", "hollin", "crake"]
        .map(|name| {
            let truck = load(&root.join(format!("{name}.ron"))).expect("a demo scene");
            (name, truck)
        })
        .into()
}

fn side(row: &Row) -> Side {
    match row.text("side") {
        "left" => Side::Left,
        "right" => Side::Right,
        other => panic!("{}: no side {other}", row.place()),
    }
}

fn number(corner: &Corner, name: &str, row: &Row) -> usize {
    let found = corner.parts.iter().position(|p| p.name == name);
    found.unwrap_or_else(|| panic!("{}: no part `{name}`", row.place()))
}

/// What the library's gap may differ by: it takes both parts' facet errors off, and the facets may miss as much on the
/// other side; the room of a part that turns and isn't round is drawn larger than it is by no more than its stated excess;
/// the table's own facets come to what it says, either way.
fn allowed_mm(corner: &Corner, pair: &WatchedPair, table_facets_mm: f64) -> [f64; 2] {
    let own: f64 = [pair.a, pair.b]
        .map(|i| {
            let part = &corner.parts[i];
            let turns_unround = if part.revolved {
                REVOLVED_EXCESS_MM
            } else {
                0.0
            };
            2.0 * part.surface.facet_error_mm + turns_unround
        })
        .iter()
        .sum();
    [
        own + table_facets_mm + SOLVED_MM,
        table_facets_mm + SOLVED_MM,
    ]
}

#[test]
fn no_two_parts_of_a_demo_truck_overlap_by_another_library_but_joined_ones() {
    let mut joined = 0;
    let table = Table::read("demo_pairs.csv", 2_049);
    for row in table.rows() {
        let overlap_mm3 = row.number("overlap_mm3");
        let gap_mm = row.number("gap_mm");
        if row.text("joined") == "True" {
            joined += 1;
            continue;
        }
        assert!(
            overlap_mm3 == 0.0 && gap_mm > row.number("facet_mm"),
            "{}: {} and {} overlap by {overlap_mm3} mm3, gap {gap_mm} mm",
            row.place(),
            row.text("a"),
            row.text("b")
        );
    }
    assert!(joined > 0);
}

#[test]
fn gaps_at_the_measured_position_agree_with_another_library_for_every_pair_of_the_demos() {
    let trucks = trucks();
    let mut seen: BTreeMap<(&str, &str), BTreeSet<[String; 2]>> = BTreeMap::new();
    let table = Table::read("demo_pairs.csv", 2_049);
    for row in table.rows() {
        let corner = trucks[row.text("scene")].corner(side(&row)).expect("built");
        let [a, b] = ["a", "b"].map(|column| number(corner, row.text(column), &row));
        let mut names = [row.text("a").to_owned(), row.text("b").to_owned()];
        names.sort();
        seen.entry((row.text("scene"), row.text("side")))
            .or_default()
            .insert(names);
        let pair = WatchedPair::new(&corner.parts, a.min(b), a.max(b), 0.0, false);
        let linkage = corner.positioner.place(0.0, 0.0).linkage;
        let gap_mm = corner.gap(&pair, &linkage, None).gap_mm;
        let table_mm = row.number("gap_mm");
        let [under, over] = allowed_mm(corner, &pair, row.number("facet_mm"));
        let holds = if row.number("overlap_mm3") > 0.0 {
            let relative = pair.relative(&corner.parts, &linkage);
            gap_mm <= over || pair.walk(&corner.parts).contains(&relative)
        } else if row.text("far") == "True" {
            gap_mm >= table_mm - under
        } else {
            (-under..=over).contains(&(gap_mm - table_mm))
        };
        assert!(
            holds,
            "{}: {} - {}: {gap_mm} mm, the table has {table_mm}, {under} below and {over} above are allowed",
            row.place(),
            row.text("a"),
            row.text("b")
        );
    }
    // And the table leaves no pair out.
    for (name, truck) in &trucks {
        for corner in &truck.corners {
            let side = if corner.side == Side::Left {
                "left"
            } else {
                "right"
            };
            let rows = &seen[&(*name, side)];
            for (i, x) in corner.parts.iter().enumerate() {
                for y in &corner.parts[i + 1..] {
                    let mut names = [x.name.clone(), y.name.clone()];
                    names.sort();
                    assert_eq!(
                        rows.contains(&names),
                        x.body != y.body,
                        "{name} {side}: {names:?}"
                    );
                }
            }
        }
    }
}

#[test]
fn pairs_at_rest_of_the_demos_keep_their_gaps_in_the_table_too() {
    let trucks = trucks();
    let mut at_rest = 0;
    let table = Table::read("demo_pairs.csv", 2_049);
    for row in table.rows() {
        let corner = trucks[row.text("scene")].corner(side(&row)).expect("built");
        let [a, b] = ["a", "b"].map(|column| number(corner, row.text(column), &row));
        let resting = corner
            .resting
            .iter()
            .find(|r| [r.pair.a, r.pair.b] == [a.min(b), a.max(b)]);
        let Some(resting) = resting else { continue };
        assert_eq!(row.text("at_rest"), "True", "{}", row.place());
        at_rest += 1;
        assert!(resting.keeps_gap(), "{}", corner.pair_name(&resting.pair));
        assert!(
            row.number("gap_mm") - row.number("facet_mm") >= resting.pair.required_mm,
            "{}: {} requires {} mm, the table has {}",
            row.place(),
            corner.pair_name(&resting.pair),
            resting.pair.required_mm,
            row.number("gap_mm")
        );
    }
    let all: usize = trucks
        .values()
        .flat_map(|t| &t.corners)
        .map(|c| c.resting.len())
        .sum();
    assert_eq!(at_rest, all, "every pair at rest has its row");
    assert!(at_rest > 20, "{at_rest}");
}

#[test]
fn tyres_clear_fender_liner_and_body_mount_inside_the_stops_by_another_solver_and_library() {
    let trucks = trucks();
    // Rim and tyre of two trucks, the tyre of the third, with five parts each, at 200 positions.
    for row in Table::read("tyre_room_fcl.csv", 4_000).rows() {
        let corner = trucks[row.text("scene")].corner(side(&row)).expect("built");
        let [a, b] =
            ["wheel_part", "body_part"].map(|column| number(corner, row.text(column), &row));
        assert_eq!(corner.parts[a].body, Body::Wheel, "{}", row.place());
        let pair = corner
            .pairs
            .iter()
            .find(|p| [p.a, p.b] == [a.min(b), a.max(b)])
            .unwrap_or_else(|| panic!("{}: not watched", row.place()));
        let table_mm = row.number("out_gap");
        assert!(
            table_mm - row.number("out_facet") >= pair.required_mm,
            "{}: {table_mm} mm, required {}",
            row.place(),
            pair.required_mm
        );
        let at = corner
            .position(row.number("in_travel"), row.number("in_rack"))
            .expect("within reach");
        let gap_mm = corner.gap(pair, &at.linkage, None).gap_mm;
        let [under, over] = allowed_mm(corner, pair, row.number("out_facet"));
        assert!(
            (-under..=over).contains(&(gap_mm - table_mm)),
            "{}: {gap_mm} mm, the table has {table_mm}, {under} below and {over} above are allowed",
            row.place()
        );
    }
}
