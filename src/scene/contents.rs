//! What a scene names and how much of it: the mesh files that belong to it, and the most that it may hold.

use super::read::Problem;
use super::{Change, ObstacleShape, PartEntry, Roll, Scene, ShapeEntry};

type Result = std::result::Result<(), Problem>;

/// Most parts of a scene, those of its setups and of its underbody counted. A scene watches pairs of them,
/// half as many as the square; a corner of the demos has about twenty.
pub const MOST_PARTS: usize = 1000;
/// Most entries of any other list of a scene.
pub const MOST_ENTRIES: usize = 500;
/// Most points of a hull or a height profile, which are written out; a mesh file takes more.
pub const MOST_POINTS: usize = 10_000;
/// Most corners of a lathe's outline: each is turned into hundreds of facets.
pub const MOST_OUTLINE: usize = 500;
/// Longest name, in characters: it has to fit on a line, and into a file's name.
pub const LONGEST_NAME: usize = 100;
/// Longest name of a mesh file, in characters.
pub const LONGEST_FILE_NAME: usize = 1000;

/// The truck without any setup, as commands take it.
pub const AS_MEASURED: &str = "as-measured";

/// Every shape of a scene with its path, those of its setups too.
fn shapes(scene: &Scene) -> Vec<(String, &ShapeEntry)> {
    let mut out = Vec::new();
    for (path, part) in parts(scene) {
        out.push((format!("{path}.shape"), &part.shape));
    }
    for (i, part) in scene.underbody.iter().enumerate() {
        out.push((format!("underbody[{i}].shape"), &part.shape));
    }
    for (path, change) in changes(scene) {
        out.extend(change.new_shape().map(|s| (format!("{path}.shape"), s)));
    }
    out
}

/// Every part of a scene with its path, those of its setups too.
fn parts(scene: &Scene) -> Vec<(String, &PartEntry)> {
    let mut out = Vec::new();
    for (i, part) in scene.parts.iter().enumerate() {
        out.push((format!("parts[{i}]"), part));
    }
    for (i, part) in scene.other_side.parts.iter().enumerate() {
        out.push((format!("other_side.parts[{i}]"), part));
    }
    for (path, change) in changes(scene) {
        for (i, part) in change.parts().iter().enumerate() {
            let path = match change {
                Change::AddPart { .. } => format!("{path}.part"),
                _ => format!("{path}.parts[{i}]"),
            };
            out.push((path, part));
        }
    }
    out
}

/// Every change of every setup with its path.
fn changes(scene: &Scene) -> impl Iterator<Item = (String, &Change)> {
    scene.setups.iter().enumerate().flat_map(|(i, setup)| {
        let paths = (0..).map(move |j| format!("setups[{i}].changes[{j}]"));
        paths.zip(&setup.changes)
    })
}

/// Every mesh file that a scene names, as it names it, those of its setups too.
pub fn mesh_files(scene: &Scene) -> Vec<&str> {
    let parts = shapes(scene).into_iter().filter_map(|(_, s)| match s {
        ShapeEntry::Mesh { file, .. } => Some(file.as_str()),
        _ => None,
    });
    let obstacles = scene.obstacles.iter().filter_map(|o| match &o.shape {
        ObstacleShape::Mesh { file, .. } => Some(file.as_str()),
        _ => None,
    });
    let mut files: Vec<&str> = parts.chain(obstacles).collect();
    files.sort_unstable();
    files.dedup();
    files
}

fn at_most(path: impl Into<String>, held: usize, most: usize, of_what: &str, help: &str) -> Result {
    if held <= most {
        return Ok(());
    }
    let what = format!("{held} {of_what}, more than the {most} that are taken");
    Err(Problem::at(path, what, help))
}

/// Whether a scene holds no more than can be worked with.
///
/// # Errors
/// [`Problem`] at the first list or name that is too long.
pub(super) fn check(scene: &Scene) -> Result {
    let parts = parts(scene);
    at_most(
        "parts",
        parts.len() + scene.underbody.len(),
        MOST_PARTS,
        "parts, those of the setups and the underbody counted",
        "leave out what can't come near the suspension; what is bolted together can be one mesh",
    )?;
    let other = &scene.other_side;
    let mut lists = vec![
        ("watch".to_owned(), scene.watch.len()),
        ("joined".to_owned(), scene.joined.len()),
        ("measured".to_owned(), scene.measured.len()),
        ("hoses".to_owned(), scene.hoses.len()),
        ("damper.spacers".to_owned(), scene.damper.spacers.len()),
        (
            "halfshaft.plunge_polygon".to_owned(),
            scene.halfshaft.plunge_polygon.len(),
        ),
        ("obstacles".to_owned(), scene.obstacles.len()),
        ("setups".to_owned(), scene.setups.len()),
        ("duties".to_owned(), scene.duties.len()),
    ];
    if let Some(hoses) = &other.hoses {
        lists.push(("other_side.hoses".to_owned(), hoses.len()));
    }
    if let Some(damper) = &other.damper {
        lists.push(("other_side.damper.spacers".to_owned(), damper.spacers.len()));
    }
    if let Some(shaft) = &other.halfshaft {
        let path = "other_side.halfshaft.plunge_polygon".to_owned();
        lists.push((path, shaft.plunge_polygon.len()));
    }
    for (i, setup) in scene.setups.iter().enumerate() {
        lists.push((format!("setups[{i}].changes"), setup.changes.len()));
    }
    for (i, duty) in scene.duties.iter().enumerate() {
        lists.push((format!("duties[{i}].travel"), duty.travel.len()));
        lists.push((format!("duties[{i}].steer"), duty.steer.len()));
    }
    for (path, change) in changes(scene) {
        if let Change::AddPart { watch, joined, .. } = change {
            lists.push((format!("{path}.watch"), watch.len()));
            lists.push((format!("{path}.joined"), joined.len()));
        }
        if let Change::Halfshaft { plunge_polygon, .. } = change {
            lists.push((format!("{path}.plunge_polygon"), plunge_polygon.len()));
        }
        if let Change::DropBrackets { frame_parts, .. } = change {
            lists.push((format!("{path}.frame_parts"), frame_parts.len()));
        }
    }
    for (path, held) in lists {
        at_most(
            path,
            held,
            MOST_ENTRIES,
            "entries",
            "say it shorter: `*` in a name stands for anything, and a scene describes one truck",
        )?;
    }
    for (path, shape) in shapes(scene) {
        check_shape(&path, shape)?;
    }
    for (i, obstacle) in scene.obstacles.iter().enumerate() {
        let path = format!("obstacles[{i}].shape");
        match &obstacle.shape {
            ObstacleShape::Profile { points } => at_most(
                format!("{path}.points"),
                points.len(),
                MOST_POINTS,
                "points",
                "leave out those that lie on a line between their neighbours",
            )?,
            ObstacleShape::Mesh { file, .. } => file_name(&format!("{path}.file"), file)?,
            _ => {}
        }
    }
    check_names(scene, &parts)?;
    check_given_names(scene, &parts)
}

/// Whether everything that is asked for by name has one, and each setup and underbody part one of its own. Other parts are
/// compared where each side's are put together.
fn check_given_names(scene: &Scene, parts: &[(String, &PartEntry)]) -> Result {
    let part_names = parts
        .iter()
        .map(|(path, part)| (format!("{path}.name"), &part.name));
    let listed = |list: &'static str| move |i: usize| format!("{list}[{i}].name");
    let under = scene.underbody.iter().map(|u| &u.name);
    let under: Vec<_> = (0..).map(listed("underbody")).zip(under).collect();
    let setups = scene.setups.iter().map(|s| &s.name);
    let setups: Vec<_> = (0..).map(listed("setups")).zip(setups).collect();
    let obstacles = scene.obstacles.iter().map(|o| &o.name);
    let obstacles = (0..).map(listed("obstacles")).zip(obstacles);
    let duties = scene.duties.iter().map(|d| &d.name);
    let duties = (0..).map(listed("duties")).zip(duties);
    let hoses = scene.hoses.iter().map(|h| &h.name);
    let hoses = (0..).map(listed("hoses")).zip(hoses);
    let given = part_names.chain(under.iter().cloned());
    let given = given.chain(setups.iter().cloned());
    for (path, name) in given.chain(obstacles).chain(duties).chain(hoses) {
        if name.trim().is_empty() {
            return Err(Problem::at(
                path,
                "an empty name",
                "give it a name: that is how answers call it, and how it is asked for",
            ));
        }
    }
    for (path, name) in &setups {
        if name.as_str() == AS_MEASURED {
            return Err(Problem::at(
                path,
                format!("no setup can be named `{AS_MEASURED}`"),
                "that stands for the truck without any: give the setup another name",
            ));
        }
    }
    no_second("setups", &setups)?;
    no_second("underbody parts", &under)
}

fn no_second(of_what: &str, names: &[(String, &String)]) -> Result {
    for (i, (path, name)) in names.iter().enumerate() {
        if let Some((first, _)) = names[..i].iter().find(|(_, earlier)| earlier == name) {
            let what = format!("two {of_what} are named `{name}`");
            let problem = Problem::at(path, what, "give each a name of its own");
            return Err(problem.second_of(first));
        }
    }
    Ok(())
}

fn check_shape(path: &str, shape: &ShapeEntry) -> Result {
    match shape {
        ShapeEntry::Hull { points } => at_most(
            format!("{path}.points"),
            points.len(),
            MOST_POINTS,
            "points",
            "only the outermost count; a shape of many points belongs in a mesh file",
        ),
        ShapeEntry::Lathe { profile, .. } => at_most(
            format!("{path}.profile"),
            profile.len(),
            MOST_OUTLINE,
            "corners",
            "leave out those that lie on a line between their neighbours",
        ),
        ShapeEntry::Mesh { file, holes, .. } => {
            file_name(&format!("{path}.file"), file)?;
            at_most(
                format!("{path}.holes"),
                holes.as_ref().map_or(0, Vec::len),
                MOST_ENTRIES,
                "pairs",
                "three that lie well apart settle where the part goes",
            )
        }
        _ => Ok(()),
    }
}

fn file_name(path: &str, name: &str) -> Result {
    at_most(
        path,
        name.chars().count(),
        LONGEST_FILE_NAME,
        "characters",
        "name a file below the scene's folder",
    )
}

fn check_names(scene: &Scene, parts: &[(String, &PartEntry)]) -> Result {
    let mut names = vec![("name".to_owned(), scene.name.as_str())];
    for (path, part) in parts {
        names.push((format!("{path}.name"), &part.name));
    }
    for (i, part) in scene.underbody.iter().enumerate() {
        names.push((format!("underbody[{i}].name"), &part.name));
    }
    for (i, hose) in scene.hoses.iter().enumerate() {
        names.push((format!("hoses[{i}].name"), &hose.name));
    }
    for (i, spacer) in scene.damper.spacers.iter().enumerate() {
        names.push((format!("damper.spacers[{i}].name"), &spacer.name));
    }
    for (i, obstacle) in scene.obstacles.iter().enumerate() {
        names.push((format!("obstacles[{i}].name"), &obstacle.name));
    }
    for (i, setup) in scene.setups.iter().enumerate() {
        names.push((format!("setups[{i}].name"), &setup.name));
    }
    for (i, duty) in scene.duties.iter().enumerate() {
        names.push((format!("duties[{i}].name"), &duty.name));
    }
    for (i, watch) in scene.watch.iter().enumerate() {
        names.push((format!("watch[{i}].a"), &watch.a));
        names.push((format!("watch[{i}].b"), &watch.b));
    }
    for (i, joined) in scene.joined.iter().enumerate() {
        names.push((format!("joined[{i}].a"), &joined.a));
        names.push((format!("joined[{i}].b"), &joined.b));
    }
    for (path, change) in changes(scene) {
        if let Change::Hose { name, .. } = change {
            names.push((format!("{path}.name"), name));
        }
    }
    let other_damper = scene.other_side.damper.iter();
    let dampers = std::iter::once(("damper", &scene.damper))
        .chain(other_damper.map(|damper| ("other_side.damper", damper)));
    let rolls = std::iter::once(("rack", &scene.rack.roll))
        .chain(dampers.map(|(path, damper)| (path, &damper.roll)));
    for (path, roll) in rolls {
        if let Roll::HeldBy(why) = roll {
            names.push((format!("{path}.roll"), why));
        }
    }
    for (path, name) in names {
        // They are printed: an escape would reach the terminal.
        if name.chars().any(char::is_control) {
            return Err(Problem::at(
                path,
                "a name with a control character in it",
                "names are plain text on one line",
            ));
        }
        at_most(
            path,
            name.chars().count(),
            LONGEST_NAME,
            "characters",
            "give it a shorter name",
        )?;
    }
    Ok(())
}
