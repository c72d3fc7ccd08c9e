//! A full disk, a folder that can't be written, a reader that has gone away, an output that is an input: a
//! clear message or a quiet end, never a panic, and what was there before stays as it was.
//!
//! Source: README.md (exit statuses). Every kind of file that a command writes is in `tests/written`. A small
//! disk of its own needs root and leave to mount, and a folder closed to root needs `setpriv`: without, those checks
//! say so and are skipped, and the file-size limit, which needs neither, still cuts writes short. Where
//! `BINDPOINT_NEEDS_HOSTILE` is set, as in `.ci/run`, a check that would be skipped fails.
#![cfg(unix)]

mod written;

use std::io::{BufRead, BufReader, Read};
use std::os::unix::fs::{FileTypeExt, PermissionsExt, symlink};
use std::os::unix::process::ExitStatusExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use written::{CASES, Case};

const SCENE: &str = "scenes/crake.ron";
/// SIGXFSZ on every Unix that this runs on.
const FILE_TOO_LARGE: i32 = 25;

/// Every command that prints, without the files that it writes: these get a name in a folder of their own.
const PRINTING: [&[&str]; 15] = [
    &["--help"],
    &["sweep", "--help"],
    &["schema"],
    &["check", SCENE],
    &["sweep", SCENE],
    &["sweep", SCENE, "--json", "-"],
    &["compare", SCENE, "bracket off"],
    &["tyre", SCENE],
    &["damper", SCENE],
    &["ground", SCENE],
    &["drive", SCENE, "--over", "log"],
    &[
        "keepout",
        SCENE,
        "--parts",
        "tie rod",
        "--resolution",
        "4mm",
        "--out",
        "@room.stl",
    ],
    &["animate", SCENE, "--path", "droop", "--out", "@motion.glb"],
    &[
        "clearance",
        SCENE,
        "--part",
        "sway bar bracket",
        "--resolution",
        "20mm",
    ],
    &[
        "export", SCENE, "--travel", "0", "--rack", "0", "--out", "@",
    ],
];

fn bindpoint() -> Command {
    let mut command = Command::new(assert_cmd::cargo::cargo_bin!("bindpoint"));
    command
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .env("NO_COLOR", "1")
        .stdin(Stdio::null());
    command
}

/// The program started by a shell after `before`, which may set limits and redirect.
fn through_shell(before: &str, redirect: &str, run: &Command) -> Output {
    let mut shell = Command::new("sh");
    shell
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .env("NO_COLOR", "1")
        .stdin(Stdio::null())
        .arg("-c")
        .arg(format!("{before}exec \"$0\" \"$@\" {redirect}"))
        .arg(run.get_program())
        .args(run.get_args());
    shell.output().expect("a shell")
}

fn with_arguments(arguments: &[&str], folder: &Path) -> Command {
    let mut command = bindpoint();
    command.args(arguments.iter().map(|a| match a.strip_prefix('@') {
        Some(name) => folder.join(name),
        None => PathBuf::from(a),
    }));
    command
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// A message as one line, without the frame that it is set in.
fn plain(bytes: &[u8]) -> String {
    let bare = text(bytes).replace(['│', '|'], " ");
    bare.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Ends with status 2 and a message with these words.
fn refused(output: &Output, words: &[&str], what: &str) {
    let message = plain(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{what}: {message}");
    assert!(!message.contains("panicked"), "{what}: {message}");
    for word in words {
        assert!(message.contains(word), "{what}: no `{word}` in: {message}");
    }
}

fn left_in(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).expect("the folder");
    let mut names: Vec<String> = entries
        .map(|e| {
            e.expect("an entry")
                .file_name()
                .to_string_lossy()
                .into_owned()
        })
        .collect();
    names.sort();
    names
}

/// A check that can't be made here: said, and failed where it has to be made.
fn skip(what: &str) {
    let is_needed = std::env::var_os("BINDPOINT_NEEDS_HOSTILE").is_some();
    assert!(!is_needed, "BINDPOINT_NEEDS_HOSTILE is set, but {what}");
    println!("skipped: {what}");
}

/// The same run without root's right to write where the permissions say no.
fn without_override(run: &Command) -> Command {
    let mut bound = Command::new("setpriv");
    bound
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .env("NO_COLOR", "1")
        .stdin(Stdio::null())
        .arg("--bounding-set=-dac_override,-dac_read_search")
        .arg(run.get_program())
        .args(run.get_args());
    bound
}

/// Whether a program can be run so that it may not write to a folder that is closed.
fn override_can_be_dropped(closed: &Path) -> bool {
    let mut touch = Command::new("touch");
    touch.arg(closed.join("tried"));
    let tried = without_override(&touch).stderr(Stdio::null()).status();
    tried.is_ok_and(|status| !status.success()) && !closed.join("tried").exists() && {
        let plain = without_override(&Command::new("true")).status();
        plain.is_ok_and(|status| status.success())
    }
}

fn lay_old_files(case: &Case, folder: &Path) {
    for name in case.files {
        std::fs::write(folder.join(name), "old").expect("written");
    }
}

// ---------------------------------------------------------------- what is printed

#[test]
fn a_reader_that_goes_away_ends_every_command_quietly() {
    let folder = tempfile::tempdir().expect("a folder");
    for arguments in PRINTING {
        let usual = with_arguments(arguments, folder.path())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status()
            .expect("it starts")
            .code();
        // The truck binds: some answers are not fully checked.
        assert!(matches!(usual, Some(0..=2)), "{arguments:?}: {usual:?}");
        for lines in [0, 1] {
            let mut run = with_arguments(arguments, folder.path())
                .stdout(Stdio::piped())
                .stderr(Stdio::piped())
                .spawn()
                .expect("it starts");
            let mut reader = BufReader::new(run.stdout.take().expect("piped"));
            for _ in 0..lines {
                reader.read_line(&mut String::new()).expect("a line");
            }
            drop(reader);
            let mut said = String::new();
            let mut stderr = run.stderr.take().expect("piped");
            stderr.read_to_string(&mut said).expect("text");
            let ended = run.wait().expect("it ends").code();
            assert_eq!((ended, said.as_str()), (usual, ""), "{arguments:?}");
        }
        let closed = through_shell("", ">&- 2>&-", &with_arguments(arguments, folder.path()));
        assert_eq!(closed.status.code(), usual, "{arguments:?}");
    }
}

#[test]
fn printing_to_a_full_disk_is_said() {
    let folder = tempfile::tempdir().expect("a folder");
    for arguments in &PRINTING[2..6] {
        let run = with_arguments(arguments, folder.path());
        let output = through_shell("", "> /dev/full", &run);
        let words = ["cannot write to standard output", "No space left"];
        refused(&output, &words, arguments[0]);
        // Nobody can be told, which is no reason to panic.
        let output = through_shell("", "> /dev/full 2> /dev/full", &run);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
    }
}

// ---------------------------------------------------------------- full disks

/// Each command writes its files one after the other; the first that doesn't fit ends it.
#[test]
fn a_file_size_limit_leaves_every_old_file_whole() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut cut_short = 0;
    for case in &CASES {
        lay_old_files(case, folder.path());
        // Blocks of 512 bytes.
        let output = through_shell(
            "ulimit -f 1; ulimit -c 0; ",
            "",
            &case.command(folder.path()),
        );
        let killed = output.status.signal() == Some(FILE_TOO_LARGE);
        let small = matches!(output.status.code(), Some(0 | 1));
        assert!(killed || small, "{}: {:?}", case.name, output.status);
        cut_short += usize::from(killed);
        for name in case.files {
            let bytes = std::fs::read(folder.path().join(name)).expect("it is there");
            // A file of fewer bytes than the limit may be the new one.
            assert!(
                bytes == b"old" || bytes.len() <= 512,
                "{}: {name}",
                case.name
            );
            assert!(
                !killed || bytes == b"old" || case.files.len() > 1,
                "{}",
                case.name
            );
        }
        // What a cut-off run left is in nobody's way.
        case.finished(folder.path(), None);
    }
    assert!(
        cut_short >= CASES.len() - 2,
        "only {cut_short} were cut short"
    );
}

/// A small disk, unmounted at the end.
struct SmallDisk(PathBuf);

impl SmallDisk {
    fn new(at: &Path, options: &str) -> Option<SmallDisk> {
        let mounted = Command::new("mount")
            .args(["-t", "tmpfs", "-o", options, "bindpoint-test"])
            .arg(at)
            .output();
        match mounted {
            Ok(output) if output.status.success() => Some(SmallDisk(at.to_owned())),
            Ok(output) => {
                let why = text(&output.stderr);
                skip(&format!("no disk can be mounted here: {why}"));
                None
            }
            Err(error) => {
                skip(&format!("there is no `mount` here: {error}"));
                None
            }
        }
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(&self.0).status();
    }
}

#[test]
fn a_full_disk_is_said_and_leaves_the_old_file_and_nothing_else() {
    let folder = tempfile::tempdir().expect("a folder");
    for case in &CASES {
        let Some(disk) = SmallDisk::new(folder.path(), "size=64k") else {
            return;
        };
        lay_old_files(case, folder.path());
        // Whatever is left of the disk is filled.
        let mut block = 0;
        while std::fs::write(folder.path().join(format!("full{block}")), [0; 4096]).is_ok() {
            block += 1;
        }
        let before = left_in(folder.path());
        let output = case
            .command(folder.path())
            .stderr(Stdio::piped())
            .output()
            .expect("it starts");
        refused(
            &output,
            &["cannot write", "No space left", "make room"],
            case.name,
        );
        for name in case.files {
            let bytes = std::fs::read(folder.path().join(name)).expect("it is there");
            assert_eq!(bytes, b"old", "{}: {name}", case.name);
        }
        assert_eq!(before, left_in(folder.path()), "{}", case.name);
        drop(disk);
    }
}

#[test]
fn a_full_device_is_said_for_every_kind_of_file() {
    let folder = tempfile::tempdir().expect("a folder");
    for case in CASES.iter().filter(|c| c.files.len() == 1) {
        // Formats go by a name's ending.
        let target = folder.path().join(case.files[0]);
        symlink("/dev/full", &target).expect("a link");
        let output = case
            .command(folder.path())
            .stderr(Stdio::piped())
            .output()
            .expect("it starts");
        refused(&output, &["cannot write", "No space left"], case.name);
        assert!(
            std::fs::symlink_metadata(&target)
                .expect("there")
                .is_symlink()
        );
    }
    let kind = std::fs::metadata("/dev/full").expect("there").file_type();
    assert!(kind.is_char_device());
}

// ---------------------------------------------------------------- folders and names

#[test]
fn a_missing_folder_is_said_before_the_work() {
    let folder = tempfile::tempdir().expect("a folder");
    for case in CASES.iter().filter(|c| !c.arguments.contains(&"@")) {
        let missing = folder.path().join("nowhere");
        let output = case
            .command(&missing)
            .stderr(Stdio::piped())
            .output()
            .expect("it starts");
        let words = [
            "cannot write",
            "No such file",
            "check that the folder exists",
        ];
        refused(&output, &words, case.name);
        assert!(!missing.exists(), "{}", case.name);
    }
    assert_eq!(left_in(folder.path()), Vec::<String>::new());
}

#[test]
fn a_folder_that_is_a_file_is_said() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("file");
    std::fs::write(&file, "old").expect("written");
    for case in &CASES {
        let output = case
            .command(&file)
            .stderr(Stdio::piped())
            .output()
            .expect("it starts");
        refused(&output, &["cannot write"], case.name);
        assert_eq!(
            std::fs::read(&file).expect("there"),
            b"old",
            "{}",
            case.name
        );
    }
}

#[test]
fn folders_that_take_no_files_are_said() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut places = vec![PathBuf::from("/proc")];
    let closed = folder.path().join("closed");
    std::fs::create_dir(&closed).expect("made");
    std::fs::set_permissions(&closed, std::fs::Permissions::from_mode(0o555)).expect("set");
    let tried = closed.join("tried");
    if std::fs::write(&tried, "").is_err() {
        places.push(closed);
    } else {
        // Root may write where others may not, unless that right is dropped.
        std::fs::remove_file(&tried).expect("removed");
        if override_can_be_dropped(&closed) {
            for case in &CASES {
                let output = without_override(&case.command(&closed))
                    .output()
                    .expect("it starts");
                refused(&output, &["cannot write"], case.name);
                assert_eq!(left_in(&closed), Vec::<String>::new(), "{}", case.name);
            }
        } else {
            skip("this user may write to a closed folder");
        }
    }
    let read_only = folder.path().join("read-only");
    std::fs::create_dir(&read_only).expect("made");
    let disk = SmallDisk::new(&read_only, "ro,size=16k");
    if disk.is_some() {
        places.push(read_only);
    }
    for place in &places {
        for case in &CASES {
            let output = case
                .command(place)
                .stderr(Stdio::piped())
                .output()
                .expect("it starts");
            refused(&output, &["cannot write"], case.name);
        }
    }
}

#[test]
fn a_read_only_file_stays() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("pose.json");
    std::fs::write(&file, "old").expect("written");
    std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o444)).expect("set");
    let pose = CASES
        .iter()
        .find(|c| c.name == "pose as JSON")
        .expect("a case");
    let output = pose
        .command(folder.path())
        .stderr(Stdio::piped())
        .output()
        .expect("it starts");
    refused(
        &output,
        &["cannot write", "the file that is there is read"],
        pose.name,
    );
    assert_eq!(std::fs::read(&file).expect("there"), b"old");
}

#[test]
fn devices_and_links_are_written_through() {
    let pose = ["pose", SCENE, "--travel", "0", "--rack", "0", "--json"];
    let output = bindpoint()
        .args(pose)
        .arg("/dev/null")
        .output()
        .expect("it starts");
    assert!(output.status.success(), "{}", text(&output.stderr));
    let kind = std::fs::metadata("/dev/null").expect("there").file_type();
    assert!(kind.is_char_device());

    let printed = bindpoint().args(pose).arg("-").output().expect("it starts");
    let output = bindpoint()
        .args(pose)
        .arg("/dev/stdout")
        .output()
        .expect("it starts");
    assert!(output.status.success(), "{}", text(&output.stderr));
    assert!(output.stdout.starts_with(&printed.stdout));

    let folder = tempfile::tempdir().expect("a folder");
    let (real, link) = (folder.path().join("real"), folder.path().join("link"));
    std::fs::write(&real, "old").expect("written");
    symlink("real", &link).expect("a link");
    let output = bindpoint()
        .args(pose)
        .arg(&link)
        .output()
        .expect("it starts");
    assert!(output.status.success(), "{}", text(&output.stderr));
    assert_eq!(std::fs::read(&real).expect("there"), printed.stdout);
    assert!(
        std::fs::symlink_metadata(&link)
            .expect("there")
            .is_symlink()
    );
}

// ---------------------------------------------------------------- outputs that are inputs

/// A scene with a mesh file, in a folder of its own.
fn scene_with_a_mesh(folder: &Path) -> PathBuf {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    std::fs::create_dir(folder.join("meshes")).expect("made");
    std::fs::copy(
        root.join("assets/hollin_skid_plate.stl"),
        folder.join("meshes/skid_plate.stl"),
    )
    .expect("copied");
    let scene = std::fs::read_to_string(root.join(SCENE)).expect("a demo scene");
    let part = "(name: \"skid plate\", on: frame, fitted: once, shape: Mesh(file: \"meshes/skid_plate.stl\", unit: mm)),";
    let in_setup = format!(
        "(name: \"plate\", changes: [AddPart(part: {})]),",
        part.trim_end_matches(',')
    );
    let path = folder.join("scene.ron");
    // Named by a setup only: it belongs to the scene all the same.
    let scene = scene.replacen("    setups: [", &format!("    setups: [{in_setup}"), 1);
    std::fs::write(&path, scene).expect("written");
    path
}

#[test]
fn the_scene_and_its_meshes_are_never_written_over() {
    let folder = tempfile::tempdir().expect("a folder");
    let scene = scene_with_a_mesh(folder.path());
    let mesh = folder.path().join("meshes/skid_plate.stl");
    let before = [&scene, &mesh].map(|p| std::fs::read(p).expect("there"));
    let link = folder.path().join("link.json");
    symlink(&scene, &link).expect("a link");
    let other_spelling = folder.path().join("meshes/../scene.ron");
    let (scene, mesh) = (scene.as_path(), mesh.as_path());
    let at_zero = ["--travel", "0", "--rack", "0"].map(Path::new);
    let mut runs: Vec<Vec<&Path>> = Vec::new();
    for target in [scene, &link, &other_spelling] {
        for command in ["sweep", "damper", "ground", "tyre", "compare"] {
            runs.push(vec![Path::new(command), scene, Path::new("--json"), target]);
        }
        let mut pose = vec![Path::new("pose"), scene, Path::new("--json"), target];
        pose.extend(at_zero);
        runs.push(pose);
        runs.push(
            ["drive", "", "--over", "log", "--json", ""]
                .map(Path::new)
                .to_vec(),
        );
        let drive = runs.last_mut().expect("pushed");
        (drive[1], drive[5]) = (scene, target);
        runs.push(vec![
            Path::new("compare"),
            scene,
            Path::new("--csv"),
            target,
        ]);
    }
    let keep_out = ["keepout", "", "--parts", "tyre", "--out", ""].map(Path::new);
    runs.push(keep_out.to_vec());
    let keep_out = runs.last_mut().expect("pushed");
    (keep_out[1], keep_out[5]) = (scene, mesh);
    for run in &runs {
        let output = bindpoint().args(run).output().expect("it starts");
        refused(
            &output,
            &["belongs to the scene", "give another name"],
            &format!("{run:?}"),
        );
    }
    let meshes = folder.path().join("meshes");
    let mut export = vec![Path::new("export"), scene, Path::new("--out"), &meshes];
    export.extend(at_zero);
    export.extend([Path::new("--setup"), Path::new("plate")]);
    let output = bindpoint().args(&export).output().expect("it starts");
    refused(&output, &["skid_plate.stl belongs to the scene"], "export");
    assert_eq!(left_in(&meshes), ["skid_plate.stl"]);
    assert_eq!(
        before,
        [scene, mesh].map(|p| std::fs::read(p).expect("there"))
    );
}

#[test]
fn two_outputs_of_one_name_are_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("a.glb");
    let output = bindpoint()
        .args(["clearance", SCENE, "--part", "sway bar bracket", "--out"])
        .arg(&file)
        .arg("--trim")
        .arg(folder.path().join(".").join("a.glb"))
        .output()
        .expect("it starts");
    refused(&output, &["two outputs", "a name of its own"], "clearance");
    assert!(!file.exists());
}

#[test]
fn a_scene_can_come_from_a_pipe() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("scene.ron");
    let assets = format!("\"{}/assets/", env!("CARGO_MANIFEST_DIR"));
    let scene = std::fs::read_to_string(SCENE).expect("a demo scene");
    let scene = scene.replace("\"../assets/", &assets);
    std::fs::write(&path, &scene).expect("written");
    for command in ["check", "sweep"] {
        let usual = bindpoint()
            .arg(command)
            .arg(&path)
            .output()
            .expect("it starts");
        let mut run = bindpoint()
            .args([command, "/dev/stdin"])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("it starts");
        let mut stdin = run.stdin.take().expect("piped");
        std::io::Write::write_all(&mut stdin, scene.as_bytes()).expect("it reads");
        drop(stdin);
        let piped = run.wait_with_output().expect("it ends");
        assert_eq!(text(&piped.stdout), text(&usual.stdout), "{command}");
    }
}
