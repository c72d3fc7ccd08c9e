//! Imports point one way, and DEVELOPERS.md names every folder in that order.
//!
//! Source: DEVELOPERS.md. Data walks down the road, from folder to folder below src, and a folder may use only
//! what comes before it. Two exceptions: scene may use suspension's names of sides and bodies, which come after it; and
//! findings, types that are filled in from sweep on, may use numbers, suspension and limits only.
//!
//! What the reader of imports sees is `crate::` and `super::`. The binary's own folder, commands, reaches the library by
//! `bindpoint::`, which isn't read: it is the last and may use every folder.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// The road, first to last. `findings` stands where its types may be used from: before sweep.
const ROAD: [&str; 19] = [
    "numbers",
    "scene",
    "suspension",
    "setups",
    "driveline",
    "kinematics",
    "limits",
    "shapes",
    "clearance",
    "plausibility",
    "truck",
    "findings",
    "sweep",
    "ground",
    "space",
    "compare",
    "output",
    "viewer",
    "commands",
];

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// Every Rust file below a folder.
fn rust_files(folder: &Path, into: &mut Vec<PathBuf>) {
    let entries = std::fs::read_dir(folder).unwrap_or_else(|e| panic!("{}: {e}", folder.display()));
    for entry in entries {
        let path = entry.expect("a folder entry").path();
        if path.is_dir() {
            rust_files(&path, into);
        } else if path.extension().is_some_and(|e| e == "rs") {
            into.push(path);
        }
    }
}

/// Source without comments and strings: blanks keep the rest in place.
fn code_only(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut chars = text.chars().peekable();
    let mut depth = 0;
    while let Some(c) = chars.next() {
        let next = chars.peek().copied();
        if depth > 0 {
            match (c, next) {
                ('*', Some('/')) => {
                    chars.next();
                    depth -= 1;
                }
                ('/', Some('*')) => {
                    chars.next();
                    depth += 1;
                }
                _ => {}
            }
        } else if c == '/' && next == Some('/') {
            for c in chars.by_ref() {
                if c == '\n' {
                    out.push(c);
                    break;
                }
            }
        } else if c == '/' && next == Some('*') {
            chars.next();
            depth = 1;
        } else if c == '\'' {
            // A character, '"' above all; a lifetime has no closing quote two or three on.
            let rest: Vec<char> = chars.clone().take(3).collect();
            match rest[..] {
                ['\\', _, '\''] => _ = chars.nth(2),
                [_, '\'', ..] => _ = chars.nth(1),
                _ => {}
            }
            out.push(' ');
        } else if c == '"' {
            while let Some(c) = chars.next() {
                match c {
                    '\\' => _ = chars.next(),
                    '"' => break,
                    _ => {}
                }
            }
            out.push(' ');
        } else {
            out.push(c);
        }
    }
    out
}

/// The names that follow a path's start: one, or each of a brace list's first names.
fn first_names(after: &str) -> Vec<String> {
    let name = |s: &str| -> String {
        s.trim_start()
            .chars()
            .take_while(|c| c.is_alphanumeric() || *c == '_')
            .collect()
    };
    let after = after.trim_start();
    let Some(list) = after.strip_prefix('{') else {
        return vec![name(after)];
    };
    let mut names = vec![];
    let mut depth = 0;
    let mut start = 0;
    for (i, c) in list.char_indices() {
        match c {
            '{' => depth += 1,
            '}' if depth > 0 => depth -= 1,
            ',' | '}' if depth == 0 => {
                names.push(name(&list[start..i]));
                start = i + 1;
                if c == '}' {
                    break;
                }
            }
            _ => {}
        }
    }
    names.retain(|n| !n.is_empty());
    names
}

/// The folders that a file's code names by `crate::` or, from its own place, by `super::`. `depth` is how
/// many `super::` lead out of the file's module to the crate.
fn folders_used(code: &str, depth: usize) -> BTreeMap<String, String> {
    let mut used = BTreeMap::new();
    let mut note = |at: usize, after: &str| {
        for folder in first_names(after) {
            if ROAD.contains(&folder.as_str()) {
                let line = code[..at].rfind('\n').map_or(0, |i| i + 1);
                let end = code[at..].find('\n').map_or(code.len(), |i| at + i);
                used.entry(folder)
                    .or_insert_with(|| code[line..end].trim().to_owned());
            }
        }
    };
    for (at, found) in code.match_indices("crate::") {
        note(at, &code[at + found.len()..]);
    }
    let up = "super::".repeat(depth);
    if depth > 0 {
        for (at, found) in code.match_indices(&up) {
            note(at, &code[at + found.len()..]);
        }
    }
    used
}

/// Each file below src that lies in a folder: its path from src, that folder, its code.
fn files_in_folders() -> Vec<(String, String, String)> {
    let src = root().join("src");
    let mut files = vec![];
    rust_files(&src, &mut files);
    files.sort();
    let mut out = vec![];
    for file in files {
        let inside = file.strip_prefix(&src).expect("below src");
        let parts: Vec<String> = inside
            .components()
            .map(|c| c.as_os_str().to_string_lossy().into_owned())
            .collect();
        let folder = parts[0].trim_end_matches(".rs").to_owned();
        let text = std::fs::read_to_string(&file).expect("UTF-8 source");
        if folder != "lib" && folder != "main" {
            out.push((parts.join("/"), folder, code_only(&text)));
        }
    }
    assert!(out.len() >= 40, "only {} files found below src", out.len());
    out
}

/// How many `super::` lead from a file's module to the crate: folders are its children.
fn depth(path: &str) -> usize {
    let levels = path.split('/').count();
    if path.ends_with("/mod.rs") {
        levels - 1
    } else {
        levels
    }
}

#[test]
fn imports_point_down_the_road() {
    let place = |folder: &str| ROAD.iter().position(|r| *r == folder);
    let mut wrong = vec![];
    let mut imports = 0;
    for (path, folder, code) in files_in_folders() {
        let here =
            place(&folder).unwrap_or_else(|| panic!("src/{path}: {folder} isn't on the road"));
        for (used, line) in folders_used(&code, depth(&path)) {
            if used == folder {
                continue;
            }
            imports += 1;
            let fine = match (folder.as_str(), used.as_str()) {
                // Checked by name below.
                ("scene", "suspension") => true,
                // Findings are types, whoever fills them in.
                ("findings", "numbers" | "suspension" | "limits") => true,
                ("findings", _) => false,
                (_, "findings") => here > place("findings").expect("on the road"),
                (_, other) => place(other).is_some_and(|there| there < here),
            };
            if !fine {
                wrong.push(format!("src/{path}: {line}"));
            }
        }
    }
    assert!(
        wrong.is_empty(),
        "imports that point up the road:\n{}",
        wrong.join("\n")
    );
    assert!(
        imports >= 40,
        "only {imports} imports found: is the reading right?"
    );
}

#[test]
fn scene_knows_of_the_suspension_only_sides_bodies_and_a_tyres_directions() {
    for (path, folder, code) in files_in_folders() {
        if folder != "scene" {
            continue;
        }
        let mut rest = code.as_str();
        while let Some(at) = rest.find("crate::suspension::") {
            rest = &rest[at + "crate::suspension::".len()..];
            for name in first_names(rest) {
                assert!(
                    ["Side", "Body", "TyreSector"].contains(&name.as_str()),
                    "src/{path} uses suspension::{name}"
                );
            }
        }
    }
}

#[test]
fn bevy_is_named_in_the_viewer_only() {
    let src = root().join("src");
    let mut files = vec![];
    rust_files(&src, &mut files);
    for file in files {
        let inside = file.strip_prefix(&src).expect("below src");
        if inside.starts_with("viewer") {
            continue;
        }
        let code = code_only(&std::fs::read_to_string(&file).expect("UTF-8 source"));
        assert!(
            !code.contains("bevy"),
            "src/{} names bevy",
            inside.display()
        );
    }
}

/// What is printed goes through one file, which makes it visible: an output elsewhere could forget that.
#[test]
fn one_file_writes_to_the_terminal() {
    const WAYS: [&str; 7] = [
        "println!",
        "eprintln!",
        "print!",
        "eprint!",
        "dbg!",
        "stdout()",
        "stderr()",
    ];
    // The frame report of `picture --measure` is printed from within the window's loop; tests print as they like.
    const OTHERS: [&str; 2] = ["viewer/window.rs", "shapes/revolve_tests.rs"];
    let src = root().join("src");
    let mut files = vec![];
    rust_files(&src, &mut files);
    let mut seen = false;
    for file in files {
        let inside = file.strip_prefix(&src).expect("below src");
        let code = code_only(&std::fs::read_to_string(&file).expect("UTF-8 source"));
        let found: Vec<&str> = WAYS.into_iter().filter(|w| code.contains(w)).collect();
        if inside == Path::new("commands/terminal.rs") {
            seen = !found.is_empty();
        } else if !OTHERS.iter().any(|other| inside == Path::new(other)) {
            assert!(found.is_empty(), "src/{}: {found:?}", inside.display());
        }
    }
    assert!(seen, "commands/terminal.rs prints");
}

/// The table of folders in DEVELOPERS.md is the road: every folder below src, in this order.
#[test]
fn developers_md_lists_every_folder_of_src_along_the_road() {
    let text = std::fs::read_to_string(root().join("DEVELOPERS.md"))
        .expect("DEVELOPERS.md, with a table of the folders below src");
    let src = root().join("src");
    let mut folders = BTreeSet::new();
    for entry in std::fs::read_dir(&src).expect("src") {
        let entry = entry.expect("a folder entry");
        if entry.path().is_dir() {
            folders.insert(entry.file_name().to_string_lossy().into_owned());
        }
    }
    assert!(folders.len() >= 9, "{folders:?}");
    let road: BTreeSet<String> = ROAD.iter().map(|folder| (*folder).to_owned()).collect();
    assert_eq!(folders, road, "the folders below src are those of the road");
    // A folder is named in the first column of a table, in backquotes.
    let named: Vec<&str> = text
        .lines()
        .filter_map(|line| line.trim().strip_prefix("| `")?.split_once('`'))
        .map(|(name, _)| name)
        .collect();
    assert_eq!(
        named, ROAD,
        "DEVELOPERS.md's rows are the folders of the road"
    );
}

#[test]
fn the_reader_of_imports_sees_what_it_should() {
    let code = code_only(
        "use crate::numbers::Real; // crate::sweep\n/* crate::truck */ let s = \"crate::output\";\n\
         use crate::{limits::Limit, shapes::{Shape, Surface}};\nfn f<'a>(c: char) { c == '\"'; }\n\
         use super::super::clearance::Gap;",
    );
    let found: Vec<String> = folders_used(&code, 2).into_keys().collect();
    assert_eq!(found, ["clearance", "limits", "numbers", "shapes"]);
    assert_eq!(depth("sweep/mod.rs"), 1);
    assert_eq!(depth("sweep/line.rs"), 2);
}
