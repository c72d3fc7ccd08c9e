//! Pictures drawn off screen hold what the library says: the shaft where it is, colours by gap, a ghost where
//! another setup differs.
//!
//! Drawn by the program as a user runs it, on whatever Vulkan driver there is; `.ci/run` installs Mesa's
//! software driver and sets BINDPOINT_NEEDS_SCREEN, with which a missing driver fails the test instead of
//! skipping it. Expected pixels come from the poses by a parallel projection, computed here.
#![cfg(feature = "viewer")]

mod pixels;

use assert_cmd::cargo::cargo_bin_cmd;
use bindpoint::ground::drive;
use bindpoint::truck::Truck;
use bindpoint::viewer::drive::Setting;
use bindpoint::viewer::drive_marks::contact_marks;
use bindpoint::viewer::framing::{Framing, View};
use bindpoint::viewer::palette::{self, GapState};
use bindpoint::viewer::picture::find_backends;
use image::RgbaImage;
use nalgebra::Vector3;
use pixels::pixel_of;
use std::path::{Path, PathBuf};
use std::process::Output;

const SIZE: [u32; 2] = [640, 360];

fn scene(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("scenes")
        .join(format!("{name}.ron"))
}

/// Whether there is a driver; fails where one is required.
fn can_draw() -> bool {
    let can = find_backends().is_ok();
    let needed = std::env::var_os("BINDPOINT_NEEDS_SCREEN").is_some();
    assert!(
        can || !needed,
        "no Vulkan driver, and the environment asks for one"
    );
    if !can {
        eprintln!("skipped: no Vulkan driver (install mesa-vulkan-drivers)");
    }
    can
}

fn picture(name: &str, arguments: &[&str]) -> Output {
    let output = cargo_bin_cmd!("bindpoint")
        .arg("picture")
        .arg(scene(name))
        .args(arguments)
        .env("NO_COLOR", "1")
        .output()
        .expect("bindpoint starts");
    let stderr = String::from_utf8_lossy(&output.stderr);
    assert!(!stderr.contains("panicked"), "{stderr}");
    output
}

fn drawn(name: &str, arguments: &[&str]) -> RgbaImage {
    let folder = tempfile::tempdir().expect("a folder");
    let out = folder.path().join("picture.png");
    let size = format!("{}x{}", SIZE[0], SIZE[1]);
    let out_text = out.display().to_string();
    let mut all = vec!["--out", &out_text, "--size", &size];
    all.extend_from_slice(arguments);
    let output = picture(name, &all);
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let image = image::open(&out).expect("a PNG").to_rgba8();
    assert_eq!([image.width(), image.height()], SIZE);
    image
}

const BARE: [&str; 5] = [
    "--no-labels",
    "--no-joints",
    "--no-marks",
    "--no-ground",
    "--solid-wheel",
];

/// Pixels that aren't background.
fn part_pixels(image: &RgbaImage) -> Vec<(u32, u32, [u8; 3])> {
    let background = image.get_pixel(2, 2).0;
    let far = |a: [u8; 4]| {
        a.iter()
            .zip(background)
            .map(|(x, y)| i32::from(*x).abs_diff(i32::from(y)))
            .max()
            > Some(12)
    };
    image
        .enumerate_pixels()
        .filter(|(_, _, p)| far(p.0))
        .map(|(x, y, p)| (x, y, [p[0], p[1], p[2]]))
        .collect()
}

fn centre(pixels: &[(u32, u32, [u8; 3])]) -> [f64; 2] {
    let n = pixels.len() as f64;
    // A pixel's middle is half a pixel in.
    [
        pixels.iter().map(|p| f64::from(p.0) + 0.5).sum::<f64>() / n,
        pixels.iter().map(|p| f64::from(p.1) + 0.5).sum::<f64>() / n,
    ]
}

fn load(name: &str) -> Truck {
    bindpoint::truck::load(&scene(name)).expect("a demo scene loads")
}

#[test]
fn the_halfshaft_is_drawn_where_the_library_puts_it() {
    if !can_draw() {
        return;
    }
    let truck = load("tarnwood");
    let corner = &truck.corners[0];
    let aspect = f64::from(SIZE[0]) / f64::from(SIZE[1]);
    let mut middles: Vec<[f64; 2]> = Vec::new();
    for (view_name, view) in [
        ("front", View::Front),
        ("top", View::Top),
        ("side", View::Side),
    ] {
        let framing = Framing::fit(corner, view, aspect);
        for (travel, rack) in [("-75", "0"), ("60", "40")] {
            let mut arguments = vec!["--only", "halfshaft", "--view", view_name];
            arguments.extend(["--travel", travel, "--rack", rack]);
            arguments.extend(BARE);
            let pixels = part_pixels(&drawn("tarnwood", &arguments));
            assert!(pixels.len() > 100, "{view_name}: the shaft is seen");
            let position = corner
                .position(travel.parse().expect("mm"), rack.parse().expect("mm"))
                .expect("reached");
            // The shaft is a bar between its joints: its picture's middle is its middle's picture.
            let linkage = &position.linkage;
            let middle: Vector3<f64> = 0.5 * (linkage.inner_joint + linkage.outer_joint);
            let expected = pixel_of(&framing, &middle, SIZE);
            let found = centre(&pixels);
            let off = (found[0] - expected[0]).hypot(found[1] - expected[1]);
            // Coverage of edge pixels moves the middle by less than one.
            assert!(
                off < 1.0,
                "{view_name} {travel}: {found:?}, not {expected:?}"
            );
            // Its thickness: area over length is the diameter, in pixels.
            let [a, b] =
                [linkage.inner_joint, linkage.outer_joint].map(|p| pixel_of(&framing, &p, SIZE));
            let length = (a[0] - b[0]).hypot(a[1] - b[1]);
            let scale = f64::from(SIZE[1]) / (2.0 * framing.half_height_mm);
            if view == View::Front {
                // Round ends reach a radius beyond both joints; together they are a disc.
                let d = 28.0 * scale;
                let area = length * d + std::f64::consts::PI * d * d / 4.0;
                let rim = 2.0 * length + std::f64::consts::PI * d;
                // Pixels that the rim cuts count as whole or not at all.
                let off = pixels.len() as f64 - area;
                assert!(off.abs() < 0.5 * rim, "{} of {area}", pixels.len());
            }
            middles.push(found);
        }
    }
    // It moves: 135 mm of travel at half the shaft's length.
    assert!((middles[0][1] - middles[1][1]).abs() > 10.0);
}

/// Hue angle in degrees and saturation of the middle colour of a part's pixels.
fn hue(pixels: &[(u32, u32, [u8; 3])]) -> (f64, f64) {
    let mut sums = [0.0; 3];
    for (_, _, rgb) in pixels {
        for k in 0..3 {
            sums[k] += f64::from(rgb[k]);
        }
    }
    hue_of(sums.map(|s| s / pixels.len() as f64))
}

fn hue_of([r, g, b]: [f64; 3]) -> (f64, f64) {
    let (most, least) = (r.max(g).max(b), r.min(g).min(b));
    let c = most - least;
    let h = if c == 0.0 {
        0.0
    } else if most == r {
        60.0 * ((g - b) / c).rem_euclid(6.0)
    } else if most == g {
        60.0 * ((b - r) / c + 2.0)
    } else {
        60.0 * ((r - g) / c + 4.0)
    };
    (h, c / most.max(1.0))
}

#[test]
fn a_pair_that_touches_changes_colour_and_one_under_its_gap_too() {
    if !can_draw() {
        return;
    }
    // Hollin's knuckle foot against its lower arm: clear, under the required gap, touching.
    let at = [
        ("0", "0", GapState::Clear),
        ("-157.5", "70", GapState::UnderGap),
        ("-185", "74", GapState::Touching),
    ];
    let truck = load("hollin");
    let corner = &truck.corners[0];
    for (travel, rack, state) in at {
        // The library says so too.
        let position = corner
            .position(travel.parse().expect("mm"), rack.parse().expect("mm"))
            .expect("reached");
        let found = bindpoint::sweep::position_findings(&truck, corner, &position);
        let worst = found
            .gaps
            .iter()
            .filter(|g| g.a == "knuckle foot" || g.b == "knuckle foot")
            .map(GapState::of)
            .max();
        assert_eq!(worst, Some(state), "at {travel} / {rack}");
        let mut arguments = vec!["--only", "knuckle foot", "--view", "front"];
        arguments.extend(["--travel", travel, "--rack", rack]);
        arguments.extend(BARE);
        let pixels = part_pixels(&drawn("hollin", &arguments));
        assert!(pixels.len() > 50);
        let (seen, strength) = hue(&pixels);
        let (wanted, _) = hue_of(state.rgb().map(f64::from));
        // Light changes lightness, hardly hue.
        let off = (seen - wanted + 180.0).rem_euclid(360.0) - 180.0;
        assert!(off.abs() < 12.0, "{state:?}: hue {seen}, not {wanted}");
        assert!(strength > 0.3, "{state:?} is washed out: {strength}");
    }
}

#[test]
fn a_cut_opens_the_joint_and_labels_are_drawn_when_asked() {
    if !can_draw() {
        return;
    }
    let cup = |more: &[&str]| {
        let first = ["--only", "inner joint housing", "--view", "front"];
        drawn("tarnwood", &[&first, more, &BARE].concat())
    };
    let (whole, cut) = (cup(&[]), cup(&["--cut", "inner-joint"]));
    let (outside, opened) = (part_pixels(&whole), part_pixels(&cut));
    // Cut across through its own axis a round cup keeps its outline and shows its inside.
    let ratio = opened.len() as f64 / outside.len() as f64;
    assert!(
        (0.95..1.05).contains(&ratio),
        "{} of {}",
        opened.len(),
        outside.len()
    );
    let changed = whole
        .pixels()
        .zip(cut.pixels())
        .filter(|(a, b)| (0..3).any(|k| a[k].abs_diff(b[k]) > 20))
        .count();
    assert!(
        changed as f64 > 0.25 * outside.len() as f64,
        "{changed} of {}",
        outside.len()
    );
    let plain = drawn("tarnwood", &["--view", "front", "--no-labels"]);
    let labelled = drawn("tarnwood", &["--view", "front"]);
    let differing = plain
        .pixels()
        .zip(labelled.pixels())
        .filter(|(a, b)| a != b)
        .count();
    assert!(
        differing > 2000,
        "labels, caption and legend cover {differing} pixels"
    );
}

#[test]
fn the_keep_out_solid_covers_the_shaft_at_other_positions_and_is_cut_open() {
    if !can_draw() {
        return;
    }
    let shaft = |more: &[&str]| {
        let first = ["--only", "halfshaft", "--view", "front"];
        drawn("tarnwood", &[&first, more, &BARE].concat())
    };
    let solid = [
        "--keepout",
        "halfshaft",
        "--margin",
        "5",
        "--resolution",
        "8",
    ];
    let (without, with) = (shaft(&[]), shaft(&solid));
    let cut = shaft(&[&solid[..], &["--cut", "inner-joint", "--cut-way", "level"]].concat());
    let truck = load("tarnwood");
    let corner = &truck.corners[0];
    let aspect = f64::from(SIZE[0]) / f64::from(SIZE[1]);
    let framing = Framing::fit(corner, View::Front, aspect);
    let inner = corner.positioner.linkage.hardpoints.inner_joint;
    let mut covered = 0;
    for travel in [-70.0, -40.0, 40.0, 60.0] {
        let linkage = corner.position(travel, 0.0).expect("reached").linkage;
        for share in [0.6, 0.75, 0.9] {
            let at: Vector3<f64> =
                linkage.inner_joint * (1.0 - share) + linkage.outer_joint * share;
            let [x, y] = pixel_of(&framing, &at, SIZE).map(|v| v as u32);
            let [bare, seen, opened] = [&without, &with, &cut].map(|i| i.get_pixel(x, y).0);
            if bare != without.get_pixel(2, 2).0 {
                // The shaft itself stands here now.
                continue;
            }
            covered += 1;
            // Translucent, so that light and what is behind count in its colour: told by how it differs.
            let differs: i32 = (0..3)
                .map(|k| (i32::from(seen[k]) - i32::from(bare[k])).abs())
                .sum();
            assert!(
                differs > 30,
                "travel {travel}, {share}: {seen:?} on {bare:?}"
            );
            // Cut level through the inner joint, what is above is gone.
            assert_eq!(
                opened == bare,
                at.z > inner.z + 5.0,
                "travel {travel}, {share}"
            );
        }
    }
    assert!(covered >= 6, "{covered} places beside the shaft");
    // Seen from the knuckle it goes with the knuckle.
    let on = [
        "--keepout",
        "halfshaft",
        "--on",
        "knuckle",
        "--resolution",
        "12",
    ];
    let middle = |travel: &str| {
        let more = [&on[..], &["--travel", travel]].concat();
        let (bare, all) = (shaft(&["--travel", travel]), shaft(&more));
        let pixels = part_pixels(&all);
        let own: Vec<_> = pixels
            .into_iter()
            .filter(|(x, y, _)| bare.get_pixel(*x, *y) == bare.get_pixel(2, 2))
            .collect();
        assert!(own.len() > 100, "travel {travel}: the solid is seen");
        centre(&own)
    };
    let (low, high) = (middle("-60"), middle("50"));
    assert!(low[1] > high[1] + 5.0, "{low:?} and {high:?}");
}

#[test]
fn a_ghost_is_drawn_in_its_own_hue_where_the_setups_differ_and_nowhere_else() {
    if !can_draw() {
        return;
    }
    let spacers = ["--setup", "differential spacers", "--view", "rear"];
    let plain = drawn("tarnwood", &[&spacers[..], &BARE].concat());
    let ghosted = ["--ghost", "as-measured"];
    let compared = drawn("tarnwood", &[&spacers[..], &ghosted, &BARE].concat());
    let (wanted, _) = hue_of(bindpoint::viewer::palette::GHOST.map(f64::from));
    let is_ghostly = |rgb: [u8; 3]| {
        let (hue, strength) = hue_of(rgb.map(f64::from));
        let off = (hue - wanted + 180.0).rem_euclid(360.0) - 180.0;
        // See-through: what is behind pulls the hue a little.
        off.abs() < 15.0 && strength > 0.12
    };
    let rgb = |p: &image::Rgba<u8>| [p[0], p[1], p[2]];
    assert!(!plain.pixels().any(|p| is_ghostly(rgb(p))));
    let truck = bindpoint::truck::load_setup(&scene("tarnwood"), Some("differential spacers"));
    let corner = &truck.expect("loads").corners[0];
    let framing = Framing::fit(corner, View::Rear, f64::from(SIZE[0]) / f64::from(SIZE[1]));
    let at = corner.position(0.0, 0.0).expect("reached");
    // What the spacers turn lies inboard of the outer joint.
    let outer = pixel_of(&framing, &at.linkage.outer_joint, SIZE)[0];
    let mut ghostly = 0;
    for ((x, _, a), b) in plain.enumerate_pixels().zip(compared.pixels()) {
        if a != b {
            assert!(f64::from(x) > outer - 30.0, "{x} is outboard");
            ghostly += usize::from(is_ghostly(rgb(b)));
        }
    }
    assert!(ghostly > 300, "{ghostly} pixels");
    // The same truck under another name: not even a legend.
    let whole = ["--view", "front"];
    let alone = drawn("tarnwood", &whole);
    let same = drawn("tarnwood", &[&whole[..], &["--ghost", "factory"]].concat());
    assert_eq!(alone, same);
}

#[test]
fn wheels_and_the_first_contact_are_drawn_where_the_library_puts_them_on_a_drive() {
    if !can_draw() {
        return;
    }
    for (name, over) in [("tarnwood", "log"), ("hollin", "hump")] {
        let setting = Setting::make(&load(name), Some(over), None).expect("stands");
        let course = setting.course.as_ref().expect("a drive");
        let found = drive(course).expect("drives");
        let first = found.contacts.first().expect("something touches");
        let aspect = f64::from(SIZE[0]) / f64::from(SIZE[1]);
        let framing = Framing::of_truck(setting.bounds_mm(), View::Side, aspect);
        let there = first.front_axle_mm[1];
        let pixel =
            |p: Vector3<f64>, x: f64| pixel_of(&framing, &(p - Vector3::new(x, 0.0, 0.0)), SIZE);
        let off = |a: [f64; 2], b: [f64; 2]| (a[0] - b[0]).hypot(a[1] - b[1]);

        // Rubber is the darkest there is; each side's two tyres lie one behind the other.
        let bare = ["--over", over, "--no-labels", "--no-marks", "--no-ground"];
        for (at, x) in [("contact", there), ("start", found.from_to_mm[0])] {
            let image = drawn(name, &[&bare[..], &["--at", at]].concat());
            let stance = course.stand(x, None).expect("stands");
            let centres = [1, 3].map(|i| {
                let own = stance.posture.wheels[i];
                pixel(stance.point(&course.vehicle, &own), x)
            });
            let between = 0.5 * (centres[0][0] + centres[1][0]);
            for (wheel, ahead) in [(0, true), (1, false)] {
                let dark: Vec<_> = part_pixels(&image)
                    .into_iter()
                    .filter(|p| p.2.iter().all(|c| *c < 60))
                    .filter(|p| (f64::from(p.0) > between) == ahead)
                    .collect();
                assert!(dark.len() > 300, "{name}: {} pixels of rubber", dark.len());
                let seen = centre(&dark);
                let wanted = centres[wheel];
                assert!(
                    off(seen, wanted) < 1.5,
                    "{name} {at}: {seen:?}, not {wanted:?}"
                );
            }
        }

        // The first contact's marks: where both bodies meet, and on each where they are still apart.
        let mark = palette::CONTACT;
        for x in [there, there - 300.0] {
            let at = x.to_string();
            let image = drawn(
                name,
                &["--over", over, "--no-labels", "--no-ground", "--at", &at],
            );
            let stance = course.stand(x, None).expect("stands");
            let points = contact_marks(&setting, &stance, first).expect("a part of the truck");
            for point in points {
                let wanted = pixel(point, x);
                let near: Vec<_> = part_pixels(&image)
                    .into_iter()
                    .filter(|p| (0..3).all(|k| p.2[k].abs_diff(mark[k]) < 40))
                    .filter(|p| off([f64::from(p.0) + 0.5, f64::from(p.1) + 0.5], wanted) < 4.0)
                    .collect();
                assert!(near.len() > 12, "{name} {x}: {} pixels", near.len());
                let seen = centre(&near);
                assert!(
                    off(seen, wanted) < 1.5,
                    "{name} {x}: {seen:?}, not {wanted:?}"
                );
            }
        }
    }
}

#[test]
fn frames_go_along_the_drive_and_level_ground_shows_its_angles() {
    if !can_draw() {
        return;
    }
    let folder = tempfile::tempdir().expect("a folder");
    let frames = folder.path().join("frames").display().to_string();
    let arguments = ["--over", "log", "--frames", &frames, "--count", "3"];
    let output = picture("crake", &[&arguments[..], &["--size", "320x200"]].concat());
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let images: Vec<RgbaImage> = (1..=3)
        .map(|i| {
            let file = Path::new(&frames).join(format!("000{i}.png"));
            image::open(file).expect("a PNG").to_rgba8()
        })
        .collect();
    assert_ne!(images[0], images[1]);
    assert_ne!(images[1], images[2]);
    let is_line = |p: &image::Rgba<u8>| (0..3).all(|k| p[k].abs_diff(palette::ANGLE[k]) < 25);
    let lines = |more: &[&str]| {
        let image = drawn("crake", &[&["--ground", "--no-labels"], more].concat());
        image.pixels().filter(|p| is_line(p)).count()
    };
    // Five lines of at least a fifth of the picture's width each.
    assert!(lines(&[]) > SIZE[0] as usize, "{}", lines(&[]));
    assert_eq!(lines(&["--no-marks"]), 0);
}

#[test]
fn frames_are_numbered_and_go_round_the_limit() {
    if !can_draw() {
        return;
    }
    let folder = tempfile::tempdir().expect("a folder");
    let frames = folder.path().join("frames");
    let output = picture(
        "crake",
        &[
            "--frames",
            &frames.display().to_string(),
            "--count",
            "5",
            "--path",
            "limit",
            "--view",
            "front",
            "--size",
            "320x200",
            "--no-labels",
        ],
    );
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let mut files: Vec<_> = std::fs::read_dir(&frames)
        .expect("a folder of frames")
        .map(|e| e.expect("an entry").path())
        .collect();
    files.sort();
    let names: Vec<_> = files
        .iter()
        .map(|f| {
            f.file_name()
                .expect("a name")
                .to_string_lossy()
                .into_owned()
        })
        .collect();
    assert_eq!(
        names,
        ["0001.png", "0002.png", "0003.png", "0004.png", "0005.png"]
    );
    let images: Vec<RgbaImage> = files
        .iter()
        .map(|f| image::open(f).expect("a PNG").to_rgba8())
        .collect();
    for pair in images.windows(2) {
        assert_ne!(pair[0], pair[1], "it moves from frame to frame");
    }
    assert_eq!(images[0], images[4], "round the limit ends where it began");
}

#[test]
fn wrong_requests_say_what_to_do_and_leave_no_file() {
    let folder = tempfile::tempdir().expect("a folder");
    let out = folder.path().join("x.png").display().to_string();
    let lost = folder.path().join("no/such/x.png").display().to_string();
    let cases: [(&[&str], &str); 24] = [
        (&["--out", &out, "--keepout", "nothing"], "the parts are"),
        (&["--out", &out, "--keepout", "frame rail"], "doesn't move"),
        (&["--out", &out, "--margin", "3"], "--keepout"),
        (
            &["--out", &out, "--over", "log", "--keepout", "halfshaft"],
            "--keepout",
        ),
        (
            &["--out", &out, "--ground", "--panels", "room"],
            "--panels stops",
        ),
        (&["--out", &out, "--setup", "longer"], "no setup is named"),
        (&["--out", &out, "--ghost", "longer"], "no setup is named"),
        (&["--out", &out, "--size", "20x20"], "1280x720"),
        (&["--out", &out, "--rack", "500"], "beyond the locks"),
        (&["--out", &out, "--only", "nothing"], "its parts are"),
        (&["--out", &out, "--view", "above"], "three-quarter"),
        (&["--out", &out, "--cut-way", "level"], "--cut"),
        (&[], "--out"),
        (&["--frames", "x", "--travel", "3"], "--travel"),
        (
            &["--out", &out, "--over", "cliff"],
            "`ledge, left wheel`, `log`",
        ),
        (
            &["--out", &out, "--over", "log", "--travel", "9"],
            "--travel",
        ),
        (
            &["--out", &out, "--over", "log", "--cut", "inner-joint"],
            "--cut",
        ),
        (
            &["--out", &out, "--over", "log", "--ghost", "factory"],
            "--ghost",
        ),
        (&["--out", &out, "--over", "log", "--ground"], "--ground"),
        (&["--out", &out, "--at", "start"], "--over"),
        (&["--out", &out, "--suspension", "hold"], "--over"),
        (
            &["--out", &out, "--over", "log", "--at", "middle"],
            "contact",
        ),
        (&["--frames", "x", "--over", "log", "--at", "start"], "--at"),
        (
            &["--out", &out, "--ground", "--panels", "parts"],
            "--panels stops",
        ),
    ];
    for (arguments, said) in cases {
        let output = picture("tarnwood", arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        let text = String::from_utf8_lossy(&output.stderr).replace(['\n', '│'], " ");
        assert!(text.contains(said), "{arguments:?}: {text}");
    }
    if can_draw() {
        for (arguments, said) in [
            (["--rack", "0", "--travel", "-900"], "cannot reach travel"),
            (["--over", "log", "--at", "90000"], "doesn't come to"),
            (["--over", "ditch", "--at", "contact"], "nothing touches"),
            (
                ["--keepout", "halfshaft", "--resolution", "0"],
                "above zero",
            ),
        ] {
            let output = picture("tarnwood", &[&["--out", &out], &arguments[..]].concat());
            assert_eq!(output.status.code(), Some(2), "{arguments:?}");
            let text = String::from_utf8_lossy(&output.stderr).replace(['\n', '│'], " ");
            assert!(text.contains(said), "{arguments:?}: {text}");
        }
        let output = picture("tarnwood", &["--out", &lost]);
        assert_eq!(output.status.code(), Some(2));
        let text = String::from_utf8_lossy(&output.stderr).replace(['\n', '│'], " ");
        assert!(text.contains("cannot write"), "{text}");
    }
    assert_eq!(std::fs::read_dir(folder.path()).expect("listed").count(), 0);
}

#[test]
fn the_window_refuses_an_obstacle_that_the_scene_has_not_and_names_those_it_has() {
    let output = cargo_bin_cmd!("bindpoint")
        .arg("view")
        .arg(scene("crake"))
        .args(["--over", "cliff"])
        .env("NO_COLOR", "1")
        .output()
        .expect("bindpoint starts");
    assert_eq!(output.status.code(), Some(2));
    let text = String::from_utf8_lossy(&output.stderr).replace(['\n', '│'], " ");
    assert!(text.contains("no obstacle is named `cliff`"), "{text}");
    assert!(text.contains("`kerb`, `log`, `wall`"), "{text}");
}

#[test]
fn without_a_driver_it_says_what_to_install() {
    for command in [&["picture", "--out", "x.png"][..], &["view"][..]] {
        let output = cargo_bin_cmd!("bindpoint")
            .arg(command[0])
            .arg(scene("crake"))
            .args(&command[1..])
            .env("NO_COLOR", "1")
            .env("DISPLAY", ":77")
            .env("WGPU_BACKEND", "vulkan")
            .env("VK_DRIVER_FILES", "/nonexistent/driver.json")
            .env("VK_ICD_FILENAMES", "/nonexistent/driver.json")
            .output()
            .expect("bindpoint starts");
        let text = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{text}");
        assert!(text.contains("mesa-vulkan-drivers"), "{text}");
        assert!(!text.contains("panicked"), "{text}");
    }
    let output = cargo_bin_cmd!("bindpoint")
        .arg("view")
        .arg(scene("crake"))
        .env_remove("DISPLAY")
        .env_remove("WAYLAND_DISPLAY")
        .env_remove("WAYLAND_SOCKET")
        .output()
        .expect("bindpoint starts");
    assert_eq!(output.status.code(), Some(2));
    let text = String::from_utf8_lossy(&output.stderr);
    assert!(text.contains("no screen"), "{text}");
    assert!(!Path::new("x.png").exists());
}
