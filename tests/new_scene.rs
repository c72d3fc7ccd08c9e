//! `bindpoint new`, and what `check` says of a scene that isn't whole: every missing field, where meshes were looked for,
//! and which format it is.

use assert_cmd::cargo::cargo_bin_cmd;
use bindpoint::scene::{FrontEnd, LengthUnit, new_scene, scene_from_text};
use std::path::Path;
use std::process::Output;
use tempfile::{TempDir, tempdir};

fn bindpoint(folder: &Path, arguments: &[&str]) -> Output {
    let output = cargo_bin_cmd!("bindpoint")
        .args(arguments)
        .current_dir(folder)
        .env("NO_COLOR", "1")
        .output()
        .expect("bindpoint starts");
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(!said.contains("panicked"), "{said}");
    output
}

/// Words of a text, whatever the line breaks and frames.
fn words(text: &[u8]) -> String {
    let bare = String::from_utf8_lossy(text).replace(['│', '|', '×'], " ");
    bare.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn done(folder: &Path, arguments: &[&str]) -> String {
    let output = bindpoint(folder, arguments);
    let failed = words(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{arguments:?}: {failed}");
    words(&output.stdout)
}

fn refused(folder: &Path, arguments: &[&str]) -> String {
    let output = bindpoint(folder, arguments);
    assert_eq!(output.status.code(), Some(2), "{arguments:?}");
    assert!(output.stdout.is_empty(), "{arguments:?}");
    words(&output.stderr)
}

/// A folder with this scene in it, as a.ron.
fn folder_with(text: &str) -> TempDir {
    let folder = tempdir().expect("a folder");
    std::fs::write(folder.path().join("a.ron"), text).expect("written");
    folder
}

#[test]
fn a_new_scene_checks_and_sweeps_as_it_is_in_both_units_on_arms_and_on_struts() {
    let folder = tempdir().expect("a folder");
    let folder = folder.path();
    for (name, units, front_end) in [
        ("in mm", "mm", "arms"),
        ("in inches", "inch", "arms"),
        ("struts in mm", "mm", "strut"),
        ("struts in inches", "inch", "strut"),
    ] {
        let said = done(
            folder,
            &["new", name, "--units", units, "--front-end", front_end],
        );
        let file = format!("{name}.ron");
        assert!(said.starts_with(&format!("{file}: written")), "{said}");
        let said = done(folder, &["check", &file]);
        assert!(
            said.starts_with(&format!("{name}: usable, nothing overlaps.")),
            "{said}"
        );
        assert!(!said.contains("can't be built"), "{said}");
        let said = done(folder, &["sweep", &file]);
        assert!(said.contains("CLEAR"), "{said}");
        // No number of it looks wrong.
        assert!(!said.contains("looks wrong"), "{said}");
        let text = std::fs::read_to_string(folder.join(&file)).expect("written");
        assert_eq!(text.contains("upper_arm: ("), front_end == "arms");
        assert!(!text.contains('|'), "a mark of the template is left");
    }
    // Millimetres unless inches are asked for.
    done(folder, &["new", "plain"]);
    let text = std::fs::read_to_string(folder.join("plain.ron")).expect("written");
    assert_eq!(text, new_scene("plain", LengthUnit::Mm, FrontEnd::Arms));
    assert!(text.contains("units: mm,"), "{text}");
    // What to measure, from where.
    for words in [
        "x  forward from the line through the front wheel centres",
        "y  to the left from the truck's middle",
        "z  up from the ground",
        "CENTRE of each bolt",
    ] {
        assert!(text.contains(words), "{words}");
    }
    let inches = std::fs::read_to_string(folder.join("in inches.ron")).expect("written");
    assert!(
        inches.contains("units: inch,")
            && inches.contains("wheel_centre: (0, \"32 1/16\", \"15 1/4\")")
    );
    // Comment lines fit on a screen.
    for line in text
        .lines()
        .chain(inches.lines())
        .filter(|l| l.trim().starts_with("//"))
    {
        assert!(line.chars().count() <= 125, "{line}");
    }
}

#[test]
fn a_new_scene_is_never_written_over_anything() {
    let folder = folder_with("mine");
    let folder = folder.path();
    let said = refused(folder, &["new", "a"]);
    assert!(
        said.contains("a.ron is there already, and stays as it is"),
        "{said}"
    );
    let said = refused(folder, &["new", "a.ron"]);
    assert!(said.contains("is there already"), "{said}");
    assert_eq!(
        std::fs::read_to_string(folder.join("a.ron")).expect("there"),
        "mine"
    );
    #[cfg(unix)]
    {
        // A link to nowhere is something too.
        std::os::unix::fs::symlink("nowhere", folder.join("b.ron")).expect("a link");
        assert!(refused(folder, &["new", "b"]).contains("is there already"));
        assert!(!folder.join("nowhere").exists());
    }
    let said = refused(folder, &["new", "no/such/folder"]);
    assert!(
        said.contains("cannot write") && said.contains("check that the folder exists"),
        "{said}"
    );
    for name in ["", ".ron", "two\nlines", &"long ".repeat(40)] {
        let said = refused(folder, &["new", name]);
        assert!(said.to_lowercase().contains("name"), "{said}");
    }
    // Whatever can be typed is read back as it was.
    done(folder, &["new", "Uncle \"Bob's\" \\ truck {name}"]);
    let text = std::fs::read_to_string(folder.join("Uncle \"Bob's\" \\ truck {name}.ron"));
    let scene = scene_from_text(&text.expect("written"), Path::new("x.ron")).expect("reads");
    assert_eq!(scene.name, "Uncle \"Bob's\" \\ truck {name}");
    let left = std::fs::read_dir(folder)
        .expect("listed")
        .filter_map(Result::ok);
    let hidden = left
        .filter(|e| e.file_name().to_string_lossy().starts_with('.'))
        .count();
    assert_eq!(hidden, 0, "nothing unfinished is left");
}

#[test]
fn check_lists_every_missing_field_with_its_place_meaning_and_an_example() {
    let whole = new_scene("a", LengthUnit::Inch, FrontEnd::Arms);
    let mut text = whole.clone();
    let gone = [
        "        ball_joint: (\"5/16\", \"28 7/16\", \"10 7/8\"),\n",
        "        loaded_radius: \"15 1/4\",\n",
        "        diameter: \"1 1/8\",\n",
        "        inner_limit_deg: 26,\n",
        "outside: \"3 15/16\", ",
        ", gap: \"5/16\"),\n",
    ];
    for (i, passage) in gone.into_iter().enumerate() {
        assert_eq!(text.matches(passage).count(), 1, "{passage}");
        text = text.replacen(passage, ["", "", "", "", "", "),\n"][i], 1);
    }
    let folder = folder_with(&text);
    for command in ["check", "sweep"] {
        let said = refused(folder.path(), &[command, "a.ron"]);
        for wanted in [
            "6 missing fields:",
            "lower_arm.ball_joint (its bracket closes on line 26): Centre of the ball joint.",
            "knuckle.loaded_radius",
            "static loaded radius: wheel centre to ground.",
            "halfshaft.diameter",
            "halfshaft.inner_limit_deg",
            "Greatest angle of the inner joint.",
            "parts[1].shape.outside",
            "watch[1].gap",
            "ball_joint: (\"5/16\", \"28 7/16\", \"10 7/8\")",
            "inner_limit_deg: 26",
            "outside: \"3 15/16\"",
            "bindpoint schema",
        ] {
            assert!(said.contains(wanted), "no `{wanted}` in {said}");
        }
        assert!(!said.contains("upper_arm"), "{said}");
    }
    // Whole components: each with what belongs to it.
    let said = refused(
        folder_with("(name: \"a\", side: left)").path(),
        &["check", "a.ron"],
    );
    for wanted in [
        "8 missing fields: `units`, `lower_arm`, `upper_arm`, `knuckle`, `rack`, `damper`, `halfshaft`, `watch`",
        "rack: (tie_rod_inner: (-135, 366, 383), travel: (left: 62, right: 62))",
    ] {
        assert!(said.contains(wanted), "no `{wanted}` in {said}");
    }
    // A mistake further down doesn't hide what is missing further up, nor the other way round.
    let broken = text.replace("setups: [", "setups: [(((");
    let said = refused(folder_with(&broken).path(), &["check", "a.ron"]);
    assert!(
        said.contains("lower_arm.ball_joint") && said.contains("watch[1].gap"),
        "{said}"
    );
    let deep = text.replace("setups: [", &format!("setups: [{}", "(".repeat(200_000)));
    let said = refused(folder_with(&deep).path(), &["check", "a.ron"]);
    assert!(said.contains("lower_arm.ball_joint"), "{said}");
}

#[test]
fn a_missing_mesh_is_told_with_the_folder_it_was_looked_for_in() {
    let text = new_scene("a", LengthUnit::Mm, FrontEnd::Arms).replace(
        "    parts: [\n",
        "    parts: [\n        (name: \"hub\", on: knuckle, shape: Mesh(file: \"meshes/hub.stl\", unit: mm)),\n",
    );
    let folder = folder_with(&text);
    let place = folder.path().canonicalize().expect("there");
    let bare = |text: &str| -> String { text.split_whitespace().collect() };
    for (from, file) in [
        (folder.path(), "a.ron"),
        (
            Path::new("/"),
            &*folder.path().join("a.ron").display().to_string(),
        ),
    ] {
        let said = bare(&refused(from, &["check", file]));
        let wanted = bare(&format!("looked for in the folder {}", place.display()));
        assert!(
            said.contains("meshes/hub.stl") && said.contains(&wanted),
            "no {wanted} in {said}"
        );
        assert!(!said.contains(&format!("{}/.", place.display())), "{said}");
    }
}

#[test]
fn a_scene_names_its_format_and_a_newer_one_is_refused() {
    let first = new_scene("a", LengthUnit::Mm, FrontEnd::Arms);
    assert!(first.contains("format: 1,"));
    let read = |text: &str| scene_from_text(text, Path::new("a.ron"));
    let [named, unnamed] = [first.clone(), first.replace("    format: 1,\n", "")]
        .map(|text| read(&text).unwrap_or_else(|e| panic!("{e:?}")));
    assert_eq!((named.format, unnamed.format), (Some(1), None));
    assert_eq!(named.lower_arm, unnamed.lower_arm);
    // A newer one has fields that nobody knows yet: its number is what counts.
    let newer = first.replace("format: 1,", "format: 2,\n    subframe: (bolts: 4),");
    let said = refused(folder_with(&newer).path(), &["check", "a.ron"]);
    assert!(
        said.contains("the scene is of format 2, and this program reads format 1"),
        "{said}"
    );
    assert!(said.contains("get that one"), "{said}");
    // Whatever comes after it.
    let deep = format!("(format: 2, a: {}", "(".repeat(200_000));
    let said = refused(folder_with(&deep).path(), &["check", "a.ron"]);
    assert!(said.contains("the scene is of format 2"), "{said}");
    let said = refused(
        folder_with(&first.replace("format: 1,", "format: 0,")).path(),
        &["check", "a.ron"],
    );
    assert!(
        said.contains("there is no format 0") && said.contains("`format: 1`"),
        "{said}"
    );
    assert!(read(&first.replace("format: 1,", "format: \"one\",")).is_err());
}

#[test]
fn older_fields_are_read_as_meant_or_refused_with_what_to_write() {
    let scene = new_scene("a", LengthUnit::Mm, FrontEnd::Arms);
    let with = |more: &str| scene.replace("    watch: [\n", &format!("    {more}\n    watch: [\n"));
    let rear = "rear: (wheelbase: 2900, half_track: 800, wheel_centre_z: 400, loaded_radius: 387, tyre_width: 265, travel: ";
    let read = |more: &str| {
        let read = scene_from_text(&with(more), Path::new("a.ron"));
        read.unwrap_or_else(|e| panic!("{e:?}")).rear
    };
    let older = read(&format!("{rear}(droop: 110, bump: 90)),"));
    assert_eq!(older, read(&format!("{rear}(110, 90)),")));
    assert_eq!(older.and_then(|r| r.travel), Some((110.0, 90.0)));
    let said = refused(
        folder_with(&with("wheel_rates: (front: 30, rear: 28),")).path(),
        &["check", "a.ron"],
    );
    assert!(
        said.contains("`wheel_rates`")
            && said.contains("write `wheel_springs: (front: (load: .., rate: ..)"),
        "{said}"
    );
}
