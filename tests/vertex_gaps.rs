//! Distances of a part's corners to everything that moves, position by position, and the clearance map's least gaps,
//! against coal's.
//!
//! `vertex_gaps_coal.csv` has a corner's distance to a moving part's triangles as `bindpoint export` placed both. What the
//! triangles miss of round parts is told by the surfaces; what the files miss is single precision.

mod table;

use bindpoint::clearance::{PairWalk, Relative, placement};
use bindpoint::shapes::{ElementKind, Surface};
use bindpoint::space::{ClearanceMap, ClearanceOptions, NearestPlace, clearance_map};
use bindpoint::suspension::{Body, Side};
use bindpoint::truck::{Corner, Truck, load};
use nalgebra::{Matrix3, Vector3};
use std::collections::BTreeMap;
use std::path::PathBuf;
use table::{Row, Table};

const TOLERANCE_MM: f64 = 0.1;
const CUTOFF_MM: f64 = 50.0;
/// Coordinates below 1024 mm in single precision: half a unit in the last place is 2^-15 mm for each of three
/// coordinates, on the corner and on the part.
const FILES_MM: f64 = 2.0 * 1.732_1 / 32_768.0;
/// Balls and round bars are exported with facets inside their surface by no more: `Surface::triangles_in_body`.
const EXPORTED_FACETS_MM: f64 = 2.0 * 0.02;
/// Travel and rack of reported places come from a file in single precision: 2^-18 mm below 128 mm, times two, and no point
/// of these parts moves by more than three times the wheel's or rack's way.
const PLACES_MM: f64 = 6.0 / 262_144.0;

/// Part name and its line in the scene.
fn drawn(part: &str) -> String {
    let bracket = format!(
        "{}/tests/tables/u_bracket.obj",
        env!("CARGO_MANIFEST_DIR").replace('\\', "/")
    );
    match part {
        "wing" => r#"(name: "wing", on: frame, fitted: left, shape: Box(centre: (-120, 558, 299), size: (20, 50, 6))),"#.to_owned(),
        "tab" => r#"(name: "tab", on: lower_arm, shape: Box(centre: (28, 510, 368), size: (20, 20, 12))),"#.to_owned(),
        "channel" => format!(r#"(name: "channel", on: frame, fitted: left, shape: Mesh(file: "{bracket}", unit: mm)),"#),
        other => panic!("no part {other}"),
    }
}

fn planted(part: &str) -> Truck {
    let root = PathBuf::from(env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(root.join("scenes/tarnwood.ron")).expect("a demo scene");
    let assets = format!("\"{}/assets/", root.display());
    let text = text.replace("\"../assets/", &assets).replacen(
        "    parts: [\n",
        &format!("    parts: [\n{}\n", drawn(part)),
        1,
    );
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("planted.ron");
    std::fs::write(&path, text).expect("written");
    load(&path).expect("it reads")
}

fn number(corner: &Corner, name: &str) -> usize {
    let found = corner.parts.iter().position(|p| p.name == name);
    found.unwrap_or_else(|| panic!("no part `{name}`"))
}

/// What the library makes of a row's corner and part at its position.
struct Seen<'c> {
    /// To the elements, thickness taken off, as the sweep's walk of both trees has it.
    walked_mm: f64,
    /// To the part as the clearance map's and keep-out solid's own query has it.
    nearest_mm: f64,
    surface: &'c Surface,
    /// How much the tripod's orbit takes.
    orbit_mm: f64,
}

fn seen<'c>(corner: &'c Corner, row: &Row) -> Seen<'c> {
    let at = corner
        .position(row.number("in_travel"), row.number("in_rack"))
        .expect("within reach");
    let own = &corner.parts[number(corner, row.text("part"))];
    let moving = &corner.parts[number(corner, row.text("to"))];
    // The corner as measured; its body as it stands.
    let home = corner.positioner.place(0.0, 0.0).linkage;
    let in_body = home
        .placement(own.body.motion())
        .point_in_body(&row.vector("in_p"));
    let p = at.linkage.placement(own.body.motion()).point(&in_body);
    let point = Surface::new(
        Matrix3::identity(),
        Vector3::zeros(),
        vec![p],
        vec![[0; 3]],
        ElementKind::Point,
        false,
    );
    let placed = placement(moving, &at.linkage);
    let walk = PairWalk {
        fixed: &point,
        moving: &moving.surface,
    };
    let relative = Relative {
        rotation: placed.rotation,
        offset: placed.origin,
    };
    let from_part = at.linkage.placement(moving.body.motion()).point_in_body(&p);
    Seen {
        walked_mm: walk.gap(&relative, 0.0, f64::INFINITY, None).core_mm - moving.surface.radius_mm,
        nearest_mm: NearestPlace::find(&moving.surface, &from_part, f64::INFINITY).distance_mm,
        surface: &moving.surface,
        orbit_mm: if moving.body == Body::Halfshaft {
            corner.orbit_mm(&at.linkage)
        } else {
            0.0
        },
    }
}

/// How far the exported triangles stand inside a part's thickened elements at most, mm.
fn exported_inside_mm(surface: &Surface) -> f64 {
    if surface.kind == ElementKind::Triangle {
        0.0
    } else {
        EXPORTED_FACETS_MM
    }
}

fn mapped(truck: Truck, part: &str) -> (Truck, ClearanceMap) {
    let options = ClearanceOptions {
        part: part.to_owned(),
        side: None,
        // The same to every part, so that the least room is the least gap.
        required_mm: Some(0.0),
        against: Vec::new(),
        with_overlaps: false,
        cutoff_mm: CUTOFF_MM,
        tolerance_mm: TOLERANCE_MM,
        resolution_mm: 5.0,
    };
    let trucks = [truck];
    let map = clearance_map(&trucks, &options, &|_, _| true).expect("a map");
    let [truck] = trucks;
    (truck, map)
}

#[test]
fn vertex_gaps_match_coal_at_given_positions_and_no_map_is_above_them() {
    let table = Table::read("vertex_gaps_coal.csv", 1_438);
    let mut trucks: BTreeMap<&str, (Truck, ClearanceMap)> = BTreeMap::new();
    let mut counts = [0_usize; 4];
    let [mut walked_off, mut nearest_off, mut over, mut under] =
        [0.0_f64, 0.0, f64::NEG_INFINITY, f64::NEG_INFINITY];
    for row in table.rows() {
        let part = row.text("part");
        let (truck, map) = trucks
            .entry(part)
            .or_insert_with(|| mapped(planted(part), part));
        assert_eq!(map.unproved_cells, 0);
        let corner = truck.corner(Side::Left).expect("both built");
        let seen = seen(corner, &row);
        let coal = row.number("out_gap");
        let place = row.place();

        // At the position: the walk sees coal's triangles, but that round bars have no facets here.
        let inside = exported_inside_mm(seen.surface);
        // Below zero inside; the walk of triangles has no sign.
        let bare = seen.surface.kind == ElementKind::Triangle;
        let off = seen.walked_mm - if bare { coal.abs() } else { coal };
        assert!(
            (-inside - FILES_MM..=FILES_MM).contains(&off),
            "{place}: walked {} coal {coal}",
            seen.walked_mm
        );
        walked_off = walked_off.max(off.abs() - inside);
        // The other query knows round parts exactly; triangles miss them by no more than the surface tells.
        let off = if seen.surface.round.is_some() || !bare {
            seen.nearest_mm - coal
        } else {
            seen.nearest_mm - coal.abs()
        };
        let facets = seen.surface.facet_error_mm;
        assert!(
            (-facets - inside - FILES_MM..=facets + FILES_MM).contains(&off),
            "{place}: nearest {} coal {coal}",
            seen.nearest_mm
        );
        nearest_off = nearest_off.max(off.abs());
        counts[0] += 1;

        // The map: never above any position's gap by more than its tolerance.
        let p = row.vector("in_p");
        let at = map
            .mesh
            .points
            .iter()
            .position(|q| (q - p).norm() < 1.0e-3)
            .unwrap_or_else(|| panic!("{place}: no such corner"));
        let spot = map.at_point[at];
        let most = (coal - seen.orbit_mm).max(0.0) + FILES_MM;
        assert!(
            spot.gap_mm <= most + TOLERANCE_MM,
            "{place}: the map says {}, coal has {most} at most",
            spot.gap_mm
        );
        over = over.max(spot.gap_mm - most);
        counts[1] += usize::from(spot.to.is_some());
        if row.text("kind") == "reported" {
            // Nor far below it where it was reported: coal finds the same gap there, less what is taken off for facets.
            let least = coal - seen.orbit_mm - facets - inside;
            let slack = TOLERANCE_MM + FILES_MM + PLACES_MM;
            assert!(
                spot.gap_mm >= least - slack,
                "{place}: the map says {}, coal has {least} at least",
                spot.gap_mm
            );
            under = under.max(least - spot.gap_mm);
            counts[2] += 1;
        }
        counts[3] += usize::from(coal < 20.0);
    }
    let [all, near, reported, close] = counts;
    println!(
        "{all} rows, {near} at corners that something comes near, {reported} reported places, {close} below 20 mm; walked off by \
         {walked_off:.1e}, nearest by {nearest_off:.1e}, map over by {over:.1e}, under by {under:.1e} mm"
    );
    assert!(near > 800 && reported >= 30 && close >= 20, "{counts:?}");
}
