//! Every kind of file that the commands write, each by a run of a demo scene that takes about a second or less.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// A run that writes files.
pub struct Case {
    /// What is written.
    pub name: &'static str,
    /// Arguments; `@` at the start of one stands for the folder that is written to.
    pub arguments: &'static [&'static str],
    /// The files below that folder.
    pub files: &'static [&'static str],
}

/// The smallest demo scene: it has obstacles, setups and a part to map.
const SCENE: &str = "scenes/crake.ron";
const BRACKET: &str = "sway bar bracket";

/// Every kind of output of every command that writes.
pub const CASES: [Case; 15] = [
    Case {
        name: "sweep as JSON and CSV",
        arguments: &["sweep", SCENE, "--json", "@sweep.json", "--csv", "@"],
        files: &[
            "sweep.json",
            "stop_order.csv",
            "free_travel.csv",
            "tightest_gaps.csv",
            "first_contact.csv",
            "limits.csv",
            "map.csv",
        ],
    },
    Case {
        name: "comparison as JSON, CSV and SVG",
        arguments: &[
            "compare",
            SCENE,
            "bracket off",
            "--json",
            "@compare.json",
            "--csv",
            "@compare.csv",
            "--picture",
            "@compare.svg",
        ],
        files: &["compare.json", "compare.csv", "compare.svg"],
    },
    Case {
        name: "comparison as PNG",
        arguments: &["compare", SCENE, "bracket off", "--picture", "@compare.png"],
        files: &["compare.png"],
    },
    Case {
        name: "tyre as JSON",
        arguments: &["tyre", SCENE, "--json", "@tyre.json"],
        files: &["tyre.json"],
    },
    Case {
        name: "damper as JSON",
        arguments: &["damper", SCENE, "--json", "@damper.json"],
        files: &["damper.json"],
    },
    Case {
        name: "ground as JSON",
        arguments: &["ground", SCENE, "--json", "@ground.json"],
        files: &["ground.json"],
    },
    Case {
        name: "drive as JSON",
        arguments: &["drive", SCENE, "--over", "log", "--json", "@drive.json"],
        files: &["drive.json"],
    },
    Case {
        name: "pose as JSON",
        arguments: &[
            "pose",
            SCENE,
            "--travel",
            "0",
            "--rack",
            "0",
            "--json",
            "@pose.json",
        ],
        files: &["pose.json"],
    },
    Case {
        name: "parts as STL",
        arguments: &[
            "export", SCENE, "--travel", "0", "--rack", "0", "--out", "@",
        ],
        files: &["tyre.stl", "halfshaft.stl", "lower_arm.stl"],
    },
    Case {
        name: "keep-out solid as STL",
        arguments: &[
            "keepout",
            SCENE,
            "--parts",
            "tie rod",
            "--resolution",
            "4mm",
            "--out",
            "@room.stl",
        ],
        files: &["room.stl"],
    },
    Case {
        name: "keep-out solid as 3MF",
        arguments: &[
            "keepout",
            SCENE,
            "--parts",
            "tie rod",
            "--resolution",
            "4mm",
            "--out",
            "@room.3mf",
        ],
        files: &["room.3mf"],
    },
    Case {
        name: "keep-out solid as GLB",
        arguments: &[
            "keepout",
            SCENE,
            "--parts",
            "tie rod",
            "--resolution",
            "4mm",
            "--out",
            "@room.glb",
        ],
        files: &["room.glb"],
    },
    Case {
        name: "animation as GLB",
        arguments: &["animate", SCENE, "--path", "droop", "--out", "@motion.glb"],
        files: &["motion.glb"],
    },
    Case {
        name: "clearance map as PLY with trim marks and JSON",
        arguments: &[
            "clearance",
            SCENE,
            "--part",
            BRACKET,
            "--resolution",
            "20mm",
            "--out",
            "@map.ply",
            "--trim",
            "@trim.dxf",
            "--trim",
            "@trim.svg",
            "--trim",
            "@trim.glb",
            "--json",
            "@map.json",
        ],
        files: &["map.ply", "trim.dxf", "trim.svg", "trim.glb", "map.json"],
    },
    Case {
        name: "clearance map as GLB",
        arguments: &[
            "clearance",
            SCENE,
            "--part",
            BRACKET,
            "--resolution",
            "20mm",
            "--out",
            "@map.glb",
        ],
        files: &["map.glb"],
    },
];

impl Case {
    /// The command, writing to a folder.
    pub fn command(&self, folder: &Path) -> Command {
        let mut command = Command::new(assert_cmd::cargo::cargo_bin!("bindpoint"));
        command
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .args(self.arguments.iter().map(|a| match a.strip_prefix('@') {
                Some(name) => folder.join(name),
                None => PathBuf::from(a),
            }))
            .env("NO_COLOR", "1")
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null());
        command
    }

    /// Runs it to its end, and reads what it wrote.
    pub fn finished(&self, folder: &Path, threads: Option<&str>) -> BTreeMap<String, Vec<u8>> {
        let mut command = self.command(folder);
        if let Some(threads) = threads {
            command.env("RAYON_NUM_THREADS", threads);
        }
        let ended = command.status().expect("bindpoint starts");
        assert!(
            // The truck that writes them binds: some answers are not fully checked.
            matches!(ended.code(), Some(0..=2)),
            "{}: {ended}",
            self.name
        );
        let read = |file: &&str| {
            let bytes = std::fs::read(folder.join(file));
            let bytes = bytes.unwrap_or_else(|e| panic!("{}: {file}: {e}", self.name));
            assert!(!bytes.is_empty(), "{}: {file} is empty", self.name);
            ((*file).to_owned(), bytes)
        };
        self.files.iter().map(read).collect()
    }
}
