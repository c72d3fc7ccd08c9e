//! Input that was made to harm, or by someone who doesn't know the format yet: refused early, in words that mend it, and
//! nothing that it holds commands the terminal.

use bindpoint::output::is_hidden;
use bindpoint::scene::{read_scene, scene_from_text};
use bindpoint::shapes::{MeshFormat, read_mesh_bytes};
use std::io::{Read as _, Seek as _, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

/// Longer than any refusal takes on a loaded machine; what waits for ever is found by it.
const PATIENCE: Duration = Duration::from_secs(60);

fn crake() -> String {
    let text =
        std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("scenes/crake.ron"));
    let assets = format!("\"{}/assets/", env!("CARGO_MANIFEST_DIR"));
    text.expect("a demo scene").replace("\"../assets/", &assets)
}

/// The demo scene with one text replaced, which it must have.
#[track_caller]
fn crake_with(old: &str, new: &str) -> String {
    let text = crake();
    assert!(text.contains(old), "the demo has no {old}");
    text.replacen(old, new, 1)
}

fn bindpoint() -> Command {
    let mut command = Command::new(assert_cmd::cargo::cargo_bin!("bindpoint"));
    command.env("NO_COLOR", "1").stdin(Stdio::null());
    command
}

fn written(folder: &Path, name: &str, text: &str) -> PathBuf {
    let path = folder.join(name);
    std::fs::write(&path, text).expect("written");
    path
}

/// A message as one line, without the frame that it is set in.
fn plain(bytes: &[u8]) -> String {
    let bare = String::from_utf8_lossy(bytes).replace(['│', '|'], " ");
    bare.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Runs to its end, or is stopped and fails the test.
#[track_caller]
fn ends(command: &mut Command) -> Output {
    // Into files: a pipe that is full would be waited for.
    let [mut out, mut err] = [(); 2].map(|()| tempfile::tempfile().expect("a file"));
    let mut run = command
        .stdout(out.try_clone().expect("a file"))
        .stderr(err.try_clone().expect("a file"))
        .spawn()
        .expect("it starts");
    let started = Instant::now();
    while run.try_wait().expect("asked").is_none() {
        if started.elapsed() > PATIENCE {
            run.kill().expect("stopped");
            panic!("it waits for ever");
        }
        std::thread::sleep(Duration::from_millis(10));
    }
    let [stdout, stderr] = [&mut out, &mut err].map(|file| {
        let mut bytes = Vec::new();
        file.rewind().expect("a file");
        file.read_to_end(&mut bytes).expect("read");
        bytes
    });
    Output {
        status: run.wait().expect("ended"),
        stdout,
        stderr,
    }
}

/// The message and help that a scene's text is refused with, and the text that is pointed at.
#[track_caller]
fn refused(text: &str) -> (String, String, String) {
    use miette::Diagnostic;
    let error = scene_from_text(text, Path::new("a.ron")).expect_err("refused");
    let help = error.help().map(|h| h.to_string()).unwrap_or_default();
    let label = error.labels().into_iter().flatten().next();
    let pointed = label.map_or("", |l| &text[l.offset()..l.offset() + l.len()]);
    (error.to_string(), help, pointed.to_owned())
}

#[track_caller]
fn says(text: &str, message: &str, help: &str, pointed: &str) {
    let found = refused(text);
    assert!(found.0.contains(message), "no `{message}` in: {}", found.0);
    assert!(found.1.contains(help), "no `{help}` in: {}", found.1);
    assert_eq!(found.2, pointed, "{}", found.0);
}

// Files that unfold

/// An archive whose model is `line` often enough to expand to `bytes`.
fn unfolding(line: &str, bytes: usize) -> Vec<u8> {
    let mut file = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    let deflated = zip::write::SimpleFileOptions::default()
        .compression_method(zip::CompressionMethod::Deflated);
    file.start_file("3D/3dmodel.model", deflated)
        .expect("begun");
    file.write_all(b"<model><resources><object id=\"1\"><mesh><vertices>")
        .expect("written");
    let block = line.repeat(1024 * 1024 / line.len());
    for _ in 0..bytes / block.len() {
        file.write_all(block.as_bytes()).expect("written");
    }
    file.finish().expect("ended").into_inner()
}

const VERTEX: &str = "<vertex x=\"1\" y=\"1\" z=\"1\"/>";

/// The file: a few megabytes that unfold to 1.1 GB ran for half a minute in 571 MiB. The memory that may be
/// addressed, program and file included, is less than the corners of such a file take.
#[cfg(target_os = "linux")]
#[test]
fn a_3mf_of_megabytes_that_unfolds_to_a_gigabyte_is_refused_in_little_memory() {
    const ADDRESSED_KIB: u32 = 400_000;
    let folder = tempfile::tempdir().expect("a folder");
    let bomb = unfolding(VERTEX, 1_100_000_000);
    assert!(bomb.len() < 8_000_000, "{}", bomb.len());
    std::fs::write(folder.path().join("a.3mf"), &bomb).expect("written");
    let part = "(name: \"bomb\", on: knuckle, shape: Mesh(file: \"a.3mf\")), (name: \"tyre\"";
    let text = crake().replace("name: \"tyre\"", "NAME");
    let start = text.find("(\n            NAME").expect("the tyre");
    let text = text.replace("NAME", "name: \"tyre\"");
    let text = format!(
        "{}{}, {}",
        &text[..start],
        part.split(", (name: \"tyre\"").next().expect("the part"),
        &text[start..]
    );
    let scene = written(folder.path(), "a.ron", &text);
    let program = bindpoint();
    let limited = format!("ulimit -v {ADDRESSED_KIB}; exec \"$0\" check \"$1\"");
    let mut shell = Command::new("sh");
    shell.env("NO_COLOR", "1").args(["-c", &limited]);
    let output = ends(shell.arg(program.get_program()).arg(&scene));
    let message = plain(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{message}");
    assert!(message.contains("a.3mf"), "{message}");
    assert!(message.contains("unpacks to more than"), "{message}");
    assert!(message.contains("someone you trust"), "{message}");
}

/// An archive may say anything of its parts' sizes: one that goes on beyond is given up there.
#[test]
fn a_3mf_that_lies_about_its_size_is_refused_too() {
    let mut bomb = unfolding(VERTEX, 128 * 1024 * 1024);
    for (head, size_at) in [(b"PK\x01\x02", 24), (b"PK\x03\x04", 22)] {
        let at = bomb.windows(4).position(|w| w == head).expect("a header");
        bomb[at + size_at..at + size_at + 4].copy_from_slice(&1000_u32.to_le_bytes());
    }
    let error = read_mesh_bytes(&bomb, MeshFormat::ThreeMf, None).expect_err("refused");
    let text = error.to_string();
    assert!(text.contains("larger than its declared"), "{text}");
}

// What reaches the terminal

/// ESC sequences that set a window's title and clear it, BEL, the C1 introducer, a right-to-left override.
const HOSTILE: &str = "\u{1b}]0;owned\u{7}\u{1b}[2J\u{9b}31m\u{202e}\u{2066}";

#[track_caller]
fn shows_nothing_hidden(output: &Output, what: &str) -> String {
    let text = [&output.stdout[..], &output.stderr].concat();
    let text = String::from_utf8(text).expect("UTF-8");
    let hidden = text.chars().find(|c| *c != '\n' && is_hidden(*c));
    assert_eq!(hidden, None, "{what}: {text}");
    text
}

#[test]
fn a_reason_in_the_scene_commands_no_terminal() {
    let folder = tempfile::tempdir().expect("a folder");
    let joined = format!("joined: [(a: \"tie rod\", b: \"tyre\", why: \"bolted{HOSTILE}\"), ");
    let text = crake();
    let text = match text.contains("joined: [") {
        true => text.replacen("joined: [", &joined, 1),
        false => text.replacen(
            "    setups: [",
            &format!("    {joined}],\n    setups: ["),
            1,
        ),
    };
    let scene = written(folder.path(), "a.ron", &text);
    let output = ends(bindpoint().arg("check").arg(&scene));
    let shown = shows_nothing_hidden(&output, "check");
    assert!(shown.contains("bolted\\u{1b}]0;owned\\u{7}"), "{shown}");
    for command in [
        &["sweep", "--json", "-"][..],
        &["pose", "--travel", "0", "--rack", "0"],
        &["pose", "--travel", "0", "--rack", "0", "--json", "-"],
        &["damper"],
        &["compare"],
    ] {
        let output = ends(bindpoint().args(command).arg(&scene));
        shows_nothing_hidden(&output, &command.join(" "));
    }
}

#[cfg(unix)]
#[test]
fn names_of_files_command_no_terminal() {
    let folder = tempfile::tempdir().expect("a folder");
    // The scene's own name, in a message about it, in one that shows its text, and on a mistyped command line.
    let name = format!("a{HOSTILE}.ron");
    let scene = written(folder.path(), &name, &crake_with("side: right", "side: up"));
    for arguments in [
        vec![scene.as_os_str()],
        vec![scene.as_os_str(), "second.ron".as_ref()],
        vec![folder.path().as_os_str(), scene.as_os_str()],
        vec!["none.ron".as_ref(), "--setup".as_ref(), scene.as_os_str()],
    ] {
        let output = ends(bindpoint().arg("check").args(&arguments));
        assert_eq!(output.status.code(), Some(2));
        shows_nothing_hidden(&output, "a path");
    }
    let output = ends(bindpoint().arg("check").arg(&scene));
    let shown = shows_nothing_hidden(&output, "a path");
    assert!(shown.contains("\\u{202e}"), "{shown}");
    let gone = ends(bindpoint().arg("check").arg(folder.path().join(&name[1..])));
    assert!(shows_nothing_hidden(&gone, "gone").contains("cannot open"));

    // A mesh file's name: once as one that isn't there, once as one that is, in the table of meshes.
    let mesh = format!("m{HOSTILE}.stl");
    let escaped = mesh.replace('\u{1b}', "\\u{1b}");
    let shape = format!(
        "shape: Mesh(file: \"{escaped}\", unit: mm), fitted: once),\n        (name: \"tie rod\", on: tie_rod,"
    );
    let part = format!("(name: \"hostile\", on: frame, {shape}");
    let text = crake_with("(name: \"tie rod\", on: tie_rod,", &part);
    let scene = written(folder.path(), "b.ron", &text);
    let output = ends(bindpoint().arg("check").arg(&scene));
    assert_eq!(output.status.code(), Some(2));
    let shown = shows_nothing_hidden(&output, "a mesh that isn't there");
    assert!(shown.contains("cannot open the mesh file"), "{shown}");
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/tables/meshes/bracket.binary.stl");
    std::fs::copy(demo, folder.path().join(&mesh)).expect("copied");
    let output = ends(bindpoint().arg("check").arg(&scene));
    let shown = shows_nothing_hidden(&output, "a mesh");
    assert!(output.status.code() != Some(2), "{shown}");
    assert!(shown.contains("\\u{9b}31m"), "{shown}");
}

#[test]
fn an_excerpt_of_the_scene_commands_no_terminal_and_its_mark_stays_in_place() {
    let folder = tempfile::tempdir().expect("a folder");
    let text = crake_with("side: right", &format!("/* {HOSTILE} */ side: up"));
    let scene = written(folder.path(), "a.ron", &text);
    let output = ends(bindpoint().arg("check").arg(&scene));
    let shown = shows_nothing_hidden(&output, "an excerpt");
    let line = shown
        .lines()
        .find(|l| l.contains("side: up"))
        .expect("the line");
    let mark = shown
        .lines()
        .find(|l| l.contains(['┬', '▲']))
        .expect("the mark");
    let column = |text: &str, at: usize| text[..at].chars().count();
    let at = column(line, line.find("up").expect("the word"));
    let under = column(mark, mark.find(['┬', '▲', '─']).expect("the mark"));
    // The mark may begin behind the word, where the reader stopped, but not columns away.
    assert!((at..=at + 2).contains(&under), "{shown}");

    // With colours there are escapes of the program's own, and none of the scene's.
    let output = ends(
        bindpoint()
            .env_remove("NO_COLOR")
            .env("FORCE_COLOR", "1")
            .arg("check")
            .arg(&scene),
    );
    let shown = String::from_utf8(output.stderr).expect("UTF-8");
    for hostile in ["\u{1b}]", "\u{1b}[2J", "\u{7}", "\u{9b}", "\u{202e}"] {
        assert!(!shown.contains(hostile), "{shown:?}");
    }
}

// Spreadsheets

#[test]
fn no_cell_of_a_csv_is_a_formula() {
    let folder = tempfile::tempdir().expect("a folder");
    let text = crake()
        .replace("\"tie rod\"", "\"=1+1\"")
        .replace("\"lower arm\"", "\"@SUM(A1)\"")
        .replace("\"bracket off\"", "\"+off\"")
        .replace("\"lowered\"", "\"-lowered\"");
    let scene = written(folder.path(), "a.ron", &text);
    let tables = folder.path().join("tables");
    ends(
        bindpoint()
            .arg("sweep")
            .arg(&scene)
            .arg("--csv")
            .arg(&tables),
    );
    let setups = folder.path().join("setups.csv");
    ends(
        bindpoint()
            .arg("compare")
            .arg(&scene)
            .arg("--csv")
            .arg(&setups)
            .args(["--", "+off", "-lowered"]),
    );
    let mut files: Vec<PathBuf> = std::fs::read_dir(&tables)
        .expect("tables")
        .map(|entry| entry.expect("a file").path())
        .collect();
    files.push(setups);
    let (mut quoted, mut numbers) = (0, 0);
    for file in files {
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .from_path(&file)
            .expect("a table");
        for row in reader.records() {
            for cell in &row.expect("a row") {
                let number = cell.parse::<f64>().is_ok();
                assert!(
                    number || !cell.starts_with(['=', '+', '-', '@']),
                    "{}: {cell}",
                    file.display()
                );
                quoted += usize::from(cell.starts_with('\''));
                numbers += usize::from(number && cell.starts_with('-'));
            }
        }
    }
    assert!(quoted > 0 && numbers > 0, "{quoted} {numbers}");
}

// Files that are none

#[cfg(unix)]
#[test]
fn a_pipe_or_a_device_as_scene_or_mesh_is_refused_at_once() {
    let folder = tempfile::tempdir().expect("a folder");
    for pipe in ["scene.ron", "mesh.stl"] {
        let made = Command::new("mkfifo")
            .arg(folder.path().join(pipe))
            .status();
        assert!(made.expect("mkfifo").success());
    }
    for (path, command) in [
        (folder.path().join("scene.ron"), "check"),
        (folder.path().join("scene.ron"), "sweep"),
        (PathBuf::from("/dev/zero"), "check"),
        (PathBuf::from("/dev/null"), "check"),
    ] {
        let output = ends(bindpoint().arg(command).arg(&path));
        let message = plain(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{message}");
        assert!(
            message.contains("a pipe or a device, not a file"),
            "{message}"
        );
    }
    let part = "(name: \"pipe\", on: frame, shape: Mesh(file: \"mesh.stl\", unit: mm)),\n        (name: \"tie rod\", on: tie_rod,";
    let text = crake_with("(name: \"tie rod\", on: tie_rod,", part);
    let scene = written(folder.path(), "b.ron", &text);
    let output = ends(bindpoint().arg("check").arg(&scene));
    let message = plain(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{message}");
    assert!(message.contains("it is not a plain file"), "{message}");
}

/// A pipe that a shell opened is read, as far as a scene goes.
#[cfg(unix)]
#[test]
fn a_scene_from_a_pipe_without_an_end_is_refused() {
    let program = bindpoint();
    let mut shell = Command::new("sh");
    shell
        .args(["-c", "yes | \"$0\" check /dev/stdin"])
        .arg(program.get_program())
        .env("NO_COLOR", "1");
    let message = plain(&ends(&mut shell).stderr);
    assert!(message.contains("goes on"), "{message}");
}

// Names

#[test]
fn parts_without_a_name_are_errors() {
    let empty = "an empty name";
    for (old, path) in [
        ("name: \"tie rod\"", "parts["),
        ("name: \"lowered\"", "setups["),
    ] {
        for name in ["", "  "] {
            let text = crake_with(old, &format!("name: \"{name}\""));
            let (message, help, pointed) = refused(&text);
            assert!(
                message.starts_with(path) && message.contains(empty),
                "{message}"
            );
            assert!(help.contains("give it a name"), "{help}");
            assert_eq!(pointed, format!("\"{name}\""));
        }
    }
}

#[test]
fn a_setup_named_as_the_truck_without_any_is_an_error() {
    says(
        &crake_with("name: \"lowered\"", "name: \"as-measured\""),
        "no setup can be named `as-measured`",
        "another name",
        "\"as-measured\"",
    );
}

#[test]
fn of_two_setups_of_one_name_the_second_is_shown_and_the_first_told() {
    let text = crake_with("name: \"lowered\"", "name: \"bracket off\"");
    let (message, help, pointed) = refused(&text);
    assert!(
        message.contains("two setups are named `bracket off`"),
        "{message}"
    );
    assert_eq!(pointed, "\"bracket off\"");
    let lines: Vec<usize> = (1..)
        .zip(text.lines())
        .filter(|(_, line)| line.contains("name: \"bracket off\""))
        .map(|(number, _)| number)
        .collect();
    let error = scene_from_text(&text, Path::new("a.ron")).expect_err("refused");
    assert_eq!(
        error.line_and_column().map(|(line, _)| line),
        Some(lines[1])
    );
    let first = format!("the first is in line {}, column ", lines[0]);
    assert!(help.contains(&first), "{help}");
}

#[test]
fn two_underbody_parts_of_one_name_are_an_error() {
    let ball = |on: &str| {
        format!("(name: \"hitch\", on: {on}, shape: Ball(centre: (-100, 0, 20), radius: 2))")
    };
    for on in ["frame", "rear_axle"] {
        let list = format!("underbody: [{}, {}, ", ball("rear_axle"), ball(on));
        says(
            &crake_with("underbody: [", &list),
            "underbody[1].name: two underbody parts are named `hitch`",
            "the first is in line",
            "\"hitch\"",
        );
    }
}

#[test]
fn a_part_named_as_a_device_of_windows_is_exported_under_another_name() {
    let folder = tempfile::tempdir().expect("a folder");
    let text = crake()
        .replace("\"tie rod\"", "\"con\"")
        .replace("\"lower arm\"", "\"COM1\"");
    let scene = written(folder.path(), "a.ron", &text);
    let out = folder.path().join("parts");
    let place = ["--travel", "0", "--rack", "0", "--out"];
    let output = ends(bindpoint().arg("export").arg(&scene).args(place).arg(&out));
    assert_eq!(output.status.code(), Some(0), "{}", plain(&output.stderr));
    for (kept, none) in [("con_part.stl", "con.stl"), ("com1_part.stl", "com1.stl")] {
        assert!(out.join(kept).is_file(), "{kept}");
        assert!(!out.join(none).exists(), "{none}");
    }
}

// Messages

#[test]
fn a_decimal_comma_is_named() {
    let point = "write decimals with a point: ";
    says(
        &crake_with("loaded_radius: 12.27,", "loaded_radius: 517,05,"),
        "`517,05` are two values",
        &format!("{point}517.05"),
        "517,05",
    );
    says(
        &crake_with(
            "ball_joint: (0.26, -23.31, 9.36)",
            "ball_joint: (180,5, 335, 345)",
        ),
        "4 numbers in one bracket are too many: `180,5` counts as two",
        &format!("{point}180.5"),
        "180,5",
    );
    says(
        &crake_with(
            "ball_joint: (0.26, -23.31, 9.36)",
            "ball_joint: (180, -335,5, 345)",
        ),
        "4 numbers in one bracket are too many: `-335,5` counts as two",
        &format!("{point}-335.5"),
        "-335,5",
    );
    // A point written without blanks is one.
    let tight = crake_with(
        "ball_joint: (0.26, -23.31, 9.36)",
        "ball_joint: (0.26,-23.31,9.36)",
    );
    scene_from_text(&tight, Path::new("a.ron")).expect("three numbers");
    // Four numbers without a decimal comma are not taken for one.
    let (message, ..) = refused(&crake_with(
        "ball_joint: (0.26, -23.31, 9.36)",
        "ball_joint: (0.26, -23.31, 9.36, 1)",
    ));
    assert!(!message.contains("counts as two"), "{message}");
}

#[test]
fn quotes_of_a_word_processor_are_named() {
    let straight = "straight double quotes";
    says(
        &crake_with("name: \"Crake Mini\"", "name: “Crake Mini”"),
        "`“` is no quote here",
        straight,
        "“",
    );
    says(
        &crake_with("name: \"Crake Mini\"", "name: 'Crake Mini'"),
        "`'` is no quote here",
        straight,
        "'",
    );
    // Begun straight and ended curly, it runs on to the next name.
    says(
        &crake_with("name: \"Crake Mini\"", "name: \"Crake Mini”"),
        "`”` is no quote here",
        straight,
        "”",
    );
    // Within a name, and within a comment, they are letters like others.
    let fine = crake_with("name: \"Crake Mini\"", "/* “ */ name: \"“Crake” Mini\"");
    scene_from_text(&fine, Path::new("a.ron")).expect("a name");
}

#[test]
fn a_word_in_quotes_is_named() {
    says(
        &crake_with("units: inch", "units: \"mm\""),
        "`\"mm\"` is a text, but a plain word is expected",
        "without quotes: mm",
        "\"mm\"",
    );
    says(
        &crake_with("inner_limit_deg: 23", "inner_limit_deg: \"twenty\""),
        "`twenty` is no angle",
        "bindpoint schema",
        "twenty\"",
    );
    // A number in quotes is read: fractions stand in them.
    let quoted = crake_with("inner_limit_deg: 23", "inner_limit_deg: \"23\"");
    let read = |text: &str| scene_from_text(text, Path::new("a.ron")).expect("it reads");
    assert_eq!(read(&quoted), read(&crake()));
}

#[test]
fn a_comment_with_a_hash_is_named() {
    for text in [
        format!("# my truck\n{}", crake()),
        crake_with("    side: right", "    # which side\n    side: right"),
        crake_with("side: right,", "side: right, # looking forward"),
        crake_with("units: inch,", "units: inch # or mm\n,"),
    ] {
        says(&text, "a `#` begins no comment here", "`//`", "#");
    }
    // In a name it is a letter.
    let fine = crake_with("name: \"Crake Mini\"", "name: \"Crake #2\"");
    scene_from_text(&fine, Path::new("a.ron")).expect("a name");
}

#[test]
fn an_empty_file_is_called_empty() {
    for (text, message) in [
        ("", "the file is empty"),
        (" \n\t\n", "the file is empty"),
        ("// later\n", "nothing but comments"),
        ("/* later */", "nothing but comments"),
    ] {
        says(text, message, "`bindpoint schema`", "");
    }
    let folder = tempfile::tempdir().expect("a folder");
    let path = written(folder.path(), "a.ron", "");
    let error = read_scene(&path).expect_err("empty");
    assert!(error.to_string().contains("the file is empty"), "{error}");
}

#[test]
fn a_misspelt_setup_is_answered_with_the_nearest() {
    let folder = tempfile::tempdir().expect("a folder");
    let scene = written(folder.path(), "a.ron", &crake());
    for (typed, meant) in [
        ("lowerd", "did you mean `lowered`"),
        ("Short Damper", "did you mean `short damper`"),
        ("27 tyres", "did you mean `27 in tyres`"),
        ("tyres", "did you mean `27 in tyres`"),
        ("as-mesured", "did you mean `as-measured`"),
    ] {
        let output = ends(
            bindpoint()
                .arg("check")
                .arg(&scene)
                .args(["--setup", typed]),
        );
        let message = plain(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{message}");
        let meant = plain(meant.as_bytes());
        assert!(message.contains(&meant), "{typed}: {message}");
        assert!(message.contains("the setups are:"), "{message}");
    }
    let output = ends(
        bindpoint()
            .arg("check")
            .arg(&scene)
            .args(["--setup", "qqq"]),
    );
    assert!(!plain(&output.stderr).contains("did you mean"));
}

#[test]
fn a_gap_below_zero_is_told_in_words() {
    let folder = tempfile::tempdir().expect("a folder");
    let scene = written(folder.path(), "a.ron", &crake());
    for gap in [&["--gap", "-3"][..], &["--gap=-3"]] {
        let part = ["--part", "sway bar bracket"];
        let output = ends(
            bindpoint()
                .arg("clearance")
                .arg(&scene)
                .args(part)
                .args(gap),
        );
        let message = plain(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{message}");
        assert!(
            message.contains("--gap -3: a gap can't be below zero"),
            "{message}"
        );
        assert!(message.contains("zero or more"), "{message}");
    }
}

// The terminal's width

/// What the program prints on a terminal of so many columns, and how many its longest line takes.
#[cfg(target_os = "linux")]
fn on_terminal(columns: usize, arguments: &str, scene: &Path) -> (String, usize) {
    let program = bindpoint();
    let line = format!(
        "stty rows 40 cols {columns}; exec '{}' {arguments} '{}'",
        program.get_program().to_string_lossy(),
        scene.display()
    );
    let output = ends(
        Command::new("script")
            .args(["-qec", &line, "/dev/null"])
            .env("NO_COLOR", "1")
            .env("TERM", "dumb")
            .stdin(Stdio::null()),
    );
    let text = String::from_utf8(output.stdout)
        .expect("UTF-8")
        .replace('\r', "");
    let longest = text.lines().map(|l| l.trim_end().chars().count()).max();
    (text, longest.unwrap_or(0))
}

#[cfg(target_os = "linux")]
#[test]
fn output_follows_the_terminals_width() {
    let folder = tempfile::tempdir().expect("a folder");
    // Names of files are never broken: none here.
    let scene = written(folder.path(), "a.ron", &crake());
    let pose = "pose --travel 0 --rack 0";
    for arguments in ["check", pose, "damper"] {
        let (narrow_text, narrow) = on_terminal(60, arguments, &scene);
        let (wide_text, wide) = on_terminal(140, arguments, &scene);
        assert!(narrow <= 60, "{arguments}: {narrow}\n{narrow_text}");
        assert!(
            (101..=140).contains(&wide),
            "{arguments}: {wide}\n{wide_text}"
        );
        // Not on a terminal: a hundred, whoever started it.
        let output = ends(bindpoint().args(arguments.split(' ')).arg(&scene));
        let text = String::from_utf8(output.stdout).expect("UTF-8");
        let longest = text.lines().map(|l| l.chars().count()).max().unwrap_or(0);
        assert!(
            (90..=100).contains(&longest),
            "{arguments}: {longest}\n{text}"
        );
    }
    // Messages too.
    let (text, longest) = on_terminal(60, "check --setup lowerd", &scene);
    assert!(text.contains("did you mean"), "{text}");
    let help = text.lines().skip_while(|l| !l.contains("help:"));
    let longest_help = help.map(|l| l.chars().count()).max().unwrap_or(longest);
    assert!(longest_help <= 60, "{text}");
}
