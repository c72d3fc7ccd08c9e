//! Scenes that were once answered wrongly: a bare left corner, what is changed on it, and what is drawn, watched and asked.

/// A scene, and what was once answered wrongly about it.
pub struct Case {
    /// Lines of the bare corner in another form.
    pub changed: &'static [(&'static str, &'static str)],
    /// What follows the bare corner's lines.
    pub rest: &'static str,
    /// What is asked.
    pub asked: &'static [Asked],
}

/// A question, with the answer that is right.
pub struct Asked {
    /// What the answer hangs on.
    pub what: &'static str,
    /// The command; the scene comes after its name.
    pub command: &'static [&'static str],
    /// The exit status that is right.
    pub status: i32,
    /// What the answer has to say.
    pub says: &'static str,
}

/// The bare corner's lines.
pub const BARE: &str = r#"(
    name: "Corner", units: mm, side: left,
    search: (droop: 140, bump: 120),
    lower_arm: (front_pivot: (180.0, 335.0, 345.0), rear_pivot: (-190.0, 335.0, 335.0), ball_joint: (8.0, 722.0, 290.0)),
    upper_arm: (front_pivot: (95.0, 440.0, 655.0), rear_pivot: (-125.0, 445.0, 640.0), ball_joint: (-22.0, 668.0, 682.0)),
    knuckle: (
        wheel_centre: (0.0, 815.0, 400.0), spindle: Static(toe_deg: 0.0, camber_deg: 0.0),
        tie_rod_outer: (-140.0, 685.0, 372.0), loaded_radius: 387,
    ),
    rack: (tie_rod_inner: (-135.0, 366.0, 396.0), travel: (left: 60, right: 60), ),
    damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 500, compressed: 440, bump_stop: (contact: 452, crushed: 448)),
    halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),
    hoses: [],
"#;

/// Every scene. Each comment says what is true of it, as found by distances worked out apart from this program.
pub const CASES: &[Case] = &[
    Case {
        // Right rack lug is carried over the middle: at rack +60, travel 0 it lies 7.6 mm inside the left arm nose.
        changed: &[],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "right lug", on: rack, fitted: right, shape: Ball(centre: (60, -40, 300), radius: 10)),
(name: "arm nose", on: lower_arm, fitted: left, shape: Ball(centre: (60, 30, 320), radius: 20)),
],
watch: [
(a: "*", b: "*", gap: 2),
],"#,
        asked: &[Asked {
            what: "a rack part of the other side that comes over the middle",
            command: &["sweep"],
            status: 1,
            says: "right lug",
        }],
    },
    Case {
        // Watched gap 40 between right lug and left arm nose is 13 at rest, 12.2 least.
        changed: &[],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "right lug", on: frame, fitted: right, shape: Box(centre: (60, -8, 320), size: (30,10,200))),
(name: "arm nose", on: lower_arm, fitted: left, shape: Ball(centre: (60, 30, 320), radius: 20)),
],
watch: [
(a: "*", b: "*", gap: 2),
(a: "right lug", b: "*", gap: 40),
],"#,
        asked: &[
            Asked {
                what: "a gap watched to a part of the other side",
                command: &["sweep"],
                status: 1,
                says: "",
            },
            Asked {
                what: "the same gap on a clearance map",
                command: &["clearance", "--part", "right lug"],
                status: 1,
                says: "",
            },
        ],
    },
    Case {
        // The other side's arm nose is 20 mm away at rest; neither looked at nor named.
        changed: &[],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "arm nose", on: lower_arm, shape: Ball(centre: (60, 30, 320), radius: 20)),
],
watch: [
(a: "*", b: "*", gap: 2),
],"#,
        asked: &[Asked {
            what: "an arm that comes near the other sides arm on a clearance map",
            command: &["clearance", "--part", "arm nose", "--gap", "40"],
            status: 2,
            says: "middle",
        }],
    },
    Case {
        // Rack part drawn once overlaps the right lower arm leg by 24 mm (sweep FOUND; clearance --side right
        // TOUCHED).
        changed: &[],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "rack lug", on: rack, fitted: once, shape: Ball(centre: (-100, -420, 310), radius: 20)),
],
watch: [
(a: "lower*", b: "*", gap: 2),
],"#,
        asked: &[Asked {
            what: "a rack part and the other sides arm on a clearance map",
            command: &["clearance", "--part", "rack lug", "--gap", "10"],
            status: 1,
            says: "",
        }],
    },
    Case {
        // Left and right arm nose overlap 10 mm as measured; sweep says NOT FULLY CHECKED.
        changed: &[],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "arm nose", on: lower_arm, shape: Ball(centre: (60, 15, 320), radius: 20)),
(name: "bracket", on: frame, shape: Box(centre: (300, 300, 600), size: (30,30,30))),
(name: "tyre", on: wheel, shape: Lathe(from: (0, 815, 400), axis: (0, 1, 0), profile: [(-120, 228), (120, 228), (132, 300), (128, 350), (116, 386), (96, 401.4), (-96, 401.4), (-116, 386), (-128, 350), (-132, 300)])),
],
watch: [
(a: "*", b: "*", gap: 2),
],
tyre: (size: Code("265/70R17")),setups: [(name:"s",changes:[Damper(longer:-2)])]"#,
        asked: &[
            Asked {
                what: "both sides parts that overlap at the middle and a damper",
                command: &["damper"],
                status: 2,
                says: "middle",
            },
            Asked {
                what: "both sides parts that overlap at the middle at one position",
                command: &["pose", "--travel", "0", "--rack", "0"],
                status: 2,
                says: "middle",
            },
            Asked {
                what: "both sides parts that overlap at the middle in a check",
                command: &["check"],
                status: 0,
                says: "NOT CHECKED",
            },
        ],
    },
    Case {
        // Left and right cup touch at (0,0,420): gap 0.
        changed: &[],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "cup", on: inner_joint_housing, shape: Ball(centre: (0, 20, 420), radius: 20)),
],
watch: [
(a: "*", b: "*", gap: 0),
],
joined: [(a:"cup",b:"halfshaft",why:"x")],"#,
        asked: &[Asked {
            what: "both sides parts that touch at the middle with a gap of zero",
            command: &["sweep"],
            status: 2,
            says: "middle",
        }],
    },
    Case {
        // In setup `fat` the gap is 1.6 of 2 (clearance --setup fat rc 1, sweep --setup fat FOUND).
        changed: &[],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "post", on: frame, fitted: left, shape: Ball(centre: (-100, 500, 230), radius: 10)),
],
watch: [
(a: "*", b: "*", gap: 2),
],
setups: [(name: "fat", changes: [ReplacePart(name: "post", shape: Ball(centre: (-100, 500, 230), radius: 45))])],"#,
        asked: &[Asked {
            what: "a setups ball of a larger radius on a clearance map",
            command: &["clearance", "--part", "post", "--all-setups"],
            status: 2,
            says: "another shape",
        }],
    },
    Case {
        // Tube grown to radius 80 stands 20 mm in the differential (150 apart, 80+90); as measured it had 40.
        changed: &[],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "diff", on: differential, fitted: once, shape: Ball(centre: (0, 0, 450), radius: 90)),
(name: "tube", on: frame, fitted: once, shape: Capsule(from: (150,-200,450), to: (150,200,450), radius: 20)),
],
watch: [
(a: "lower*", b: "*", gap: 2),
],
differential: (front_mounts: [(215, 180, 470), (215, -180, 470)], rear_mounts: [(-120, 0, 455)]),setups: [(name: "fat tube", changes: [ReplacePart(name: "tube", shape: Capsule(from: (150,-200,450), to: (150,200,450), radius: 80))]),(name: "near tube", changes: [MovePart(name: "tube", by: (-50,0,0))])],"#,
        asked: &[Asked {
            what: "a setups tube that grows into the differential",
            command: &["sweep", "--setup", "fat tube"],
            status: 1,
            says: "",
        }],
    },
    Case {
        // The drum (underbody lathe) has corners alike on both sides but is thick on the right only: the right ball
        // lies inside.
        changed: &[],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "arm horn", on: lower_arm, shape: Ball(centre: (0, 230, 390), radius: 8)),
],
watch: [
(a: "arm horn", b: "drum", gap: 2),
],
joined: [], underbody: [(name: "drum", shape: Lathe(from: (0, 0, 620), axis: (0, 1, 0), profile: [(100.0,10.0),(120.0,280.0),(300.0,300.0),(100.0,300.0),(-100.0,300.0),(-120.0,280.0),(-300.0,300.0),(-100.0,10.0)]))],"#,
        asked: &[Asked {
            what: "a lathe with corners alike on both sides and solid on one",
            command: &["sweep"],
            status: 1,
            says: "",
        }],
    },
    Case {
        // The right side's mirrored drum is thick on the left: the left ball lies inside it; it is taken for the
        // left's own.
        changed: &[],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "drum", on: frame, shape: Lathe(from: (0, 0, 620), axis: (0, 1, 0), profile: [(100.0,10.0),(120.0,280.0),(300.0,300.0),(100.0,300.0),(-100.0,300.0),(-120.0,280.0),(-300.0,300.0),(-100.0,10.0)])),
(name: "arm horn", on: lower_arm, shape: Ball(centre: (0, 230, 390), radius: 8)),
],
watch: [
(a: "arm horn", b: "drum", gap: 2),
],"#,
        asked: &[Asked {
            what: "a mirrored lathe with the same corners and another solid",
            command: &["sweep"],
            status: 1,
            says: "",
        }],
    },
    Case {
        // Scene watches 80, least gap is 67.5 (sweep: FOUND TOO SMALL); the cutoff of 50 hides it.
        changed: &[],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "post", on: frame, shape: Box(centre: (-100, 500, 200), size: (30,30,10))),
],
watch: [
(a: "post", b: "lower*", gap: 80),
],"#,
        asked: &[Asked {
            what: "a watched gap beyond the cutoff of a clearance map",
            command: &["clearance", "--part", "post"],
            status: 1,
            says: "",
        }],
    },
    Case {
        // Least gap is 28.65.
        changed: &[],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "post", on: frame, shape: Box(centre: (-100, 500, 240), size: (30,30,10))),
],
watch: [
(a: "*", b: "*", gap: 2),
],"#,
        asked: &[Asked {
            what: "a gap within the tolerance of a clearance map",
            command: &[
                "clearance",
                "--part",
                "post",
                "--gap",
                "29.147",
                "--tolerance",
                "3",
            ],
            status: 2,
            says: "tolerance",
        }],
    },
    Case {
        // Only the own side is joined: sweep FOUND contact right bracket - lower arm leg (same geometry mirrored).
        changed: &[(
            "damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 500, compressed: 440, bump_stop: (contact: 452, crushed: 448)),",
            "damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 520, compressed: 440, bump_stop: (contact: 452, crushed: 448)),",
        )],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "bracket", on: frame, shape: Box(centre: (-120, -60, 250), size: (60, 920, 20))),
],
watch: [
(a: "lower*", b: "*", gap: 12),
],
joined: [(a: "bracket", b: "lower arm leg", why: "bump pad")],"#,
        asked: &[Asked {
            what: "a joint of the own side alone on a clearance map",
            command: &["clearance", "--part", "bracket", "--resolution", "40"],
            status: 1,
            says: "",
        }],
    },
    Case {
        // Drawn 100 wide: a 265 wide one reaches 22 mm into the guard as measured.
        changed: &[(
            "rack: (tie_rod_inner: (-135.0, 366.0, 396.0), travel: (left: 60, right: 60), ),",
            "rack: (tie_rod_inner: (-135.0, 366.0, 396.0), travel: (left: 10, right: 10), ),",
        )],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "tyre", on: wheel, shape: Lathe(from: (0, 815, 400), axis: (0, 1, 0), profile: [(-50, 228), (50, 228), (50, 386), (30, 401.4), (-30, 401.4), (-50, 386)])),
(name: "guard", on: lower_arm, shape: Box(centre: (0, 690, 120), size: (60, 30, 60))),
],
watch: [
(a: "tyre", b: "*", gap: 8),
],
tyre: (size: Code("265/70R17")),"#,
        asked: &[Asked {
            what: "a tyre drawn too narrow",
            command: &["tyre"],
            status: 1,
            says: "",
        }],
    },
    Case {
        // The right tyre is drawn with radius 300: a tyre of 802.8 comes within 3.4 mm of the fender (8 required),
        // one of 1171 goes 180 through it.
        changed: &[],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "tyre", on: wheel, fitted: left, shape: Lathe(from: (0, 815, 400), axis: (0, 1, 0), profile: [(-132, 228), (132, 228), (132, 386), (30, 401.4), (-30, 401.4), (-132, 386)])),
(name: "tyre", on: wheel, fitted: right, shape: Lathe(from: (0, -815, 400), axis: (0, -1, 0), profile: [(-132, 228), (132, 228), (132, 300), (-132, 300)])),
(name: "fender", on: frame, fitted: right, shape: Box(centre: (0, -815, 860), size: (900, 300, 10))),
],
watch: [
(a: "tyre", b: "*", gap: 8),
],
tyre: (size: Code("265/70R17")),"#,
        asked: &[Asked {
            what: "a tyre drawn small on one side",
            command: &["tyre"],
            status: 2,
            says: "drawn",
        }],
    },
    Case {
        // As t2, drawn in other_side.parts.
        changed: &[],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "tyre", on: wheel, shape: Lathe(from: (0, 815, 400), axis: (0, 1, 0), profile: [(-132, 228), (132, 228), (132, 386), (30, 401.4), (-30, 401.4), (-132, 386)])),
(name: "fender", on: frame, fitted: right, shape: Box(centre: (0, -815, 860), size: (900, 300, 10))),
],
watch: [
(a: "tyre", b: "*", gap: 8),
],
other_side: (parts: [(name: "tyre", on: wheel, shape: Lathe(from: (0, -815, 400), axis: (0, -1, 0), profile: [(-132, 228), (132, 228), (132, 300), (-132, 300)])),]), tyre: (size: Code("265/70R17")),"#,
        asked: &[Asked {
            what: "a tyre drawn small among the other sides parts",
            command: &["tyre"],
            status: 2,
            says: "drawn",
        }],
    },
    Case {
        // The size says 802.8, drawn 780: one of its size keeps 3.4 of 8 mm.
        changed: &[],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "tyre", on: wheel, shape: Lathe(from: (0, 815, 400), axis: (0, 1, 0), profile: [(-120, 228), (120, 228), (132, 300), (128, 350), (116, 376), (96, 390.0), (-96, 390.0), (-116, 376), (-128, 350), (-132, 300)])),
(name: "fender", on: frame, shape: Box(centre: (0, 815, 860), size: (900, 300, 10))),
],
watch: [
(a: "tyre", b: "*", gap: 8),
],
tyre: (size: Code("265/70R17")),"#,
        asked: &[Asked {
            what: "a tyre drawn a little smaller than its size",
            command: &["tyre"],
            status: 1,
            says: "",
        }],
    },
    Case {
        // Arm guard stands 41 mm in the fitted tyre; the pair isn't watched and isn't named.
        changed: &[],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "tyre", on: wheel, shape: Lathe(from: (0, 815, 400), axis: (0, 1, 0), profile: [(-120, 228), (120, 228), (132, 300), (128, 350), (116, 386), (96, 401.4), (-96, 401.4), (-116, 386), (-128, 350), (-132, 300)])),
(name: "frame rail", on: frame, shape: Box(centre: (0, 382, 560), size: (1500, 66, 110))),
(name: "arm guard", on: lower_arm, shape: Ball(centre: (0, 700, 110), radius: 25)),
],
watch: [
(a: "tyre", b: "frame rail", gap: 8),
],
tyre: (size: Code("265/70R17")),"#,
        asked: &[Asked {
            what: "a tyre in a guard on an arm that nothing watches",
            command: &["tyre"],
            status: 1,
            says: "arm guard",
        }],
    },
    Case {
        // Tripod orbit of 6.4 mm (pose) isn't added to the halfshaft on a drive.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 720.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), track_pitch_radius: 60),",
        )],
        rest: r#"parts: [
(name: "tyre", on: wheel, shape: Lathe(from: (0, 815, 400), axis: (0, 1, 0), profile: [(-120, 228), (120, 228), (132, 300), (128, 350), (116, 386), (96, 401.4), (-96, 401.4), (-116, 386), (-128, 350), (-132, 300)])),
],
watch: [
(a: "tyre", b: "*", gap: 2),
(a: "halfshaft", b: "*", gap: 2),
],
rear: (wheelbase: 2900, half_track: 815, wheel_centre_z: 400, loaded_radius: 387, tyre_width: 265),
tyre: (size: Code("265/70R17")),
obstacles: [(name: "rib", across: (244, 252), shape: Ledge(height: 675)),(name: "rib2", across: (244, 252), shape: Hump(height: 675, length: 40))],"#,
        asked: &[Asked {
            what: "a tripods orbit on a drive",
            command: &["drive", "--over", "rib", "--suspension", "hold"],
            status: 1,
            says: "halfshaft",
        }],
    },
    Case {
        // Row `bar` is FOUND (drive --setup bar: rc 1); drive --setup long: NOT FULLY CHECKED rc 2.
        changed: &[],
        rest: r#"parts: [
(name: "tyre", on: wheel, shape: Lathe(from: (0, 815, 400), axis: (0, 1, 0), profile: [(-120, 228), (120, 228), (132, 300), (128, 350), (116, 386), (96, 401.4), (-96, 401.4), (-116, 386), (-128, 350), (-132, 300)])),
],
watch: [
(a: "tyre", b: "*", gap: 2),
(a: "halfshaft", b: "*", gap: 2),
],
rear: (wheelbase: 2900, half_track: 815, wheel_centre_z: 400, loaded_radius: 387, tyre_width: 265, travel: (120, 95)),
wheel_springs: (front: (load: 6300, rate: 36), rear: (load: 5400, rate: 29)),
tyre: (size: Code("265/70R17")),
obstacles: [(name: "ledge", shape: Ledge(height: 100))],
setups: [(name: "long", changes: [Damper(longer: 120, body_gains: 0)]), (name: "bar", changes: [AddPart(part: (name: "bar", on: frame, fitted: once, shape: Box(centre: (500,0,55), size: (50,400,50))))])],"#,
        asked: &[Asked {
            what: "a setup that hits on a drive",
            command: &["drive", "--over", "ledge", "--all-setups"],
            status: 2,
            says: "",
        }],
    },
    Case {
        // Watch of an AddPart ("besides those of the scene") replaces the scene's gap 30 by 0: leg - post is 28.6.
        changed: &[],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "post", on: frame, shape: Box(centre: (-100, 500, 240), size: (30,30,10))),
],
watch: [
(a: "*", b: "*", gap: 30),
],
setups: [(name: "light", changes: [AddPart(part: (name: "lamp", on: frame, shape: Ball(centre: (400, 500, 700), radius: 20)), watch: [(a: "*", b: "*", gap: 0)])])],"#,
        asked: &[Asked {
            what: "a gap that an added parts watch would lower",
            command: &["sweep", "--setup", "light"],
            status: 1,
            says: "",
        }],
    },
    Case {
        // The bracket added stands in the lower arm leg as measured; no watch entry names it and no answer says so.
        changed: &[],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "post", on: frame, shape: Box(centre: (-100, 500, 200), size: (30,30,10))),
],
watch: [
(a: "lower arm leg", b: "post", gap: 2),
],
setups: [(name: "s", changes: [AddPart(part: (name: "bracket", on: frame, shape: Box(centre: (-100, 500, 320), size: (30,30,100))))])],"#,
        asked: &[Asked {
            what: "an added part that nothing watches",
            command: &["sweep", "--setup", "s"],
            status: 0,
            says: "no entry of `watch` names it",
        }],
    },
    Case {
        // Tyre and arm guard overlap as measured; joined leaves them out; only sweep, check, clearance say so.
        changed: &[],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "tyre", on: wheel, shape: Lathe(from: (0, 815, 400), axis: (0, 1, 0), profile: [(-120, 228), (120, 228), (132, 300), (128, 350), (116, 386), (96, 401.4), (-96, 401.4), (-116, 386), (-128, 350), (-132, 300)])),
(name: "frame rail", on: frame, shape: Box(centre: (0, 382, 560), size: (1500, 66, 110))),
(name: "arm guard", on: lower_arm, shape: Ball(centre: (0, 700, 110), radius: 25)),
],
watch: [
(a: "*", b: "*", gap: 2),
],
tyre: (size: Code("265/70R17")),joined: [(a: "tyre", b: "arm guard", why: "bends away")], setups: [(name:"s",changes:[Damper(longer:-2)])],"#,
        asked: &[
            Asked {
                what: "a pair left out by name and a tyre",
                command: &["tyre"],
                status: 0,
                says: "left out by name",
            },
            Asked {
                what: "a pair left out by name at one position",
                command: &["pose", "--travel", "0", "--rack", "0"],
                status: 0,
                says: "left out by name",
            },
            Asked {
                what: "a pair left out by name and a damper",
                command: &["damper"],
                status: 0,
                says: "left out by name",
            },
        ],
    },
    Case {
        // Front driveshaft joint at the transfer case is past its 20 deg at every position (sweep: FOUND).
        changed: &[],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
],
watch: [
(a: "*", b: "*", gap: 2),
],
front_driveshaft: (transfer_case: (-905, 25, 480), transfer_case_axis: (1, 0, 0.43), pinion: (-262, 25, 455), pinion_axis: (1, 0, -0.025), joint_at_transfer_case: double_cardan, joint_at_pinion: cardan, joint_limit_deg: 20),"#,
        asked: &[
            Asked {
                what: "a driveshaft joint past its limit and a damper",
                command: &["damper"],
                status: 2,
                says: "front driveshaft",
            },
            Asked {
                what: "a driveshaft joint past its limit at one position",
                command: &["pose", "--travel", "0", "--rack", "0"],
                status: 1,
                says: "front driveshaft",
            },
        ],
    },
    Case {
        // Every pair is left out by joined: nothing was asked (sweep: NOT FULLY CHECKED).
        changed: &[],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "post", on: frame, shape: Box(centre: (-100, 500, 240), size: (30,30,10))),
],
watch: [
(a: "*", b: "*", gap: 2),
],
joined: [(a: "*", b: "*", why: "x")],"#,
        asked: &[Asked {
            what: "nothing watched at one position",
            command: &["pose", "--travel", "0", "--rack", "0"],
            status: 2,
            says: "no pair is watched",
        }],
    },
    Case {
        // Yoke (other_side.parts, on front_driveshaft) and left arm horn overlap 16.6 mm as measured.
        changed: &[],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "arm horn", on: lower_arm, fitted: left, shape: Ball(centre: (-270, 60, 440), radius: 15)),
],
watch: [
(a: "*", b: "*", gap: 2),
],
front_driveshaft: (transfer_case: (-905, 25, 480), transfer_case_axis: (1, 0, 0.03), pinion: (-262, 25, 455), pinion_axis: (1, 0, -0.025), joint_at_transfer_case: double_cardan, joint_at_pinion: cardan, joint_limit_deg: 20),other_side: (parts: [(name: "yoke", on: front_driveshaft, shape: Ball(centre: (-265, 25, 455), radius: 40))]),"#,
        asked: &[Asked {
            what: "a driveshaft part drawn for the other side",
            command: &["sweep"],
            status: 1,
            says: "",
        }],
    },
    Case {
        // Two parts are named so (own part and the bar of `diameter`); the bar is 1.5 mm from the arm horn, 2
        // required (clearance --part "arm horn" finds it).
        changed: &[],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "front driveshaft", on: front_driveshaft, shape: Ball(centre: (-900, 25, 480), radius: 40)),
(name: "arm horn", on: lower_arm, fitted: left, shape: Ball(centre: (-270, 69, 440), radius: 15)),
],
watch: [
(a: "*", b: "*", gap: 2),
],
front_driveshaft: (transfer_case: (-905, 25, 480), transfer_case_axis: (1, 0, 0.03), pinion: (-262, 25, 455), pinion_axis: (1, 0, -0.025), joint_at_transfer_case: double_cardan, joint_at_pinion: cardan, joint_limit_deg: 20, diameter: 60),"#,
        asked: &[Asked {
            what: "two parts named front driveshaft",
            command: &["clearance", "--part", "front driveshaft"],
            status: 2,
            says: "another name",
        }],
    },
    Case {
        // Nothing but maker's steering stops come first: should be CLEAR.
        changed: &[(
            "tie_rod_outer: (-140.0, 685.0, 372.0), loaded_radius: 387,",
            "tie_rod_outer: (-140.0, 685.0, 372.0), loaded_radius: 387, steering_stop_deg: (left: 20, right: 15),",
        )],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
],
watch: [
(a: "*", b: "*", gap: 2),
],"#,
        asked: &[
            Asked {
                what: "steering stops before the racks ends",
                command: &["sweep"],
                status: 0,
                says: "",
            },
            Asked {
                what: "steering stops before the racks ends and a damper",
                command: &["damper"],
                status: 0,
                says: "",
            },
        ],
    },
    Case {
        // No position within the steering stops comes nearer than 15.3 mm; the text itself says "A maker's stop comes
        // before it".
        changed: &[(
            "tie_rod_outer: (-140.0, 685.0, 372.0), loaded_radius: 387,",
            "tie_rod_outer: (-140.0, 685.0, 372.0), loaded_radius: 387, steering_stop_deg: (left: 15, right: 12),",
        )],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "lugk", on: knuckle, shape: Ball(centre: (-170, 690, 480), radius: 10)),
(name: "post", on: frame, shape: Ball(centre: (-150, 615, 480), radius: 10)),
],
watch: [
(a: "*", b: "*", gap: 2),
],"#,
        asked: &[Asked {
            what: "a contact beyond a steering stop",
            command: &["sweep"],
            status: 0,
            says: "",
        }],
    },
    Case {
        // The one bar runs from the changed left pivot (-190,335,305): 2.70 mm deep in the right peg.
        changed: &[
            (
                "damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 500, compressed: 440, bump_stop: (contact: 452, crushed: 448)),",
                "damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 490, compressed: 440, bump_stop: (contact: 470, crushed: 468)),",
            ),
            (
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
            ),
        ],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "far", on: frame, shape: Ball(centre: (600, 300, 900), radius: 10)),
(name: "peg", on: lower_arm, fitted: right, shape: Ball(centre: (-190, -400, 309), radius: 10)),
(name: "bar", on: frame, fitted: once, shape: Bar(from: "lower_arm.rear_pivot", to: (-190, -700, 335), diameter: 20)),
],
watch: [
(a: "bar", b: "peg", gap: 0),
(a: "lower arm leg", b: "far", gap: 0),
],
setups: [(name: "s", changes: [LowerArm((side: left, rear_pivot: (-190, 335, 305)))]),],"#,
        asked: &[
            Asked {
                what: "a bar named after a pivot that one side changed",
                command: &["sweep", "--setup", "s"],
                status: 1,
                says: "",
            },
            Asked {
                what: "the same bar at one position of the other side",
                command: &[
                    "pose", "--setup", "s", "--travel", "0", "--rack", "0", "--side", "right",
                ],
                status: 1,
                says: "",
            },
        ],
    },
    Case {
        // As before, with the bar on each side, the left one reaching over.
        changed: &[
            (
                "damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 500, compressed: 440, bump_stop: (contact: 452, crushed: 448)),",
                "damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 490, compressed: 440, bump_stop: (contact: 470, crushed: 468)),",
            ),
            (
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
            ),
        ],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "far", on: frame, shape: Ball(centre: (600, 300, 900), radius: 10)),
(name: "peg", on: lower_arm, fitted: right, shape: Ball(centre: (-190, -400, 309), radius: 10)),
(name: "bar", on: frame, shape: Bar(from: "lower_arm.rear_pivot", to: (-190, -700, 335), diameter: 20)),
],
watch: [
(a: "bar", b: "peg", gap: 0),
(a: "lower arm leg", b: "far", gap: 0),
],
setups: [(name: "s", changes: [LowerArm((side: left, rear_pivot: (-190, 335, 305)))]),],"#,
        asked: &[Asked {
            what: "the same bar on each side",
            command: &["sweep", "--setup", "s"],
            status: 1,
            says: "",
        }],
    },
    Case {
        // The coil comes to 5.44 mm; the coil reaches down to z 402.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
(name: "spring", on: damper_upper, shape: Spring(upper_seat: 30, lower_seat: 120, wire: 12, mean_diameter: 80, turns: 8)),
(name: "body", on: damper_lower, shape: Bar(diameter: 50, short_to: 40, short_from: 200)),
(name: "lug", on: frame, shape: Ball(centre: (60.4, 530.83, 475.7), radius: 8)),
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
],
watch: [
(a: "spring", b: "*", gap: 15),
],
joined: [(a: "spring", b: "body", why: "x")],"#,
        asked: &[Asked {
            what: "a spring in two halves on a clearance map",
            command: &[
                "clearance",
                "--part",
                "lug",
                "--gap",
                "15",
                "--against",
                "spring",
            ],
            status: 1,
            says: "",
        }],
    },
    Case {
        // Slices 5 and 6 of the boot touch the lug.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
(name: "boot", on: inner_joint_housing, shape: Boot(cup_at: 30, cup_diameter: 84, shaft_at: 130, shaft_diameter: 32, longest: 140, shortest: 40)),
(name: "cup", on: inner_joint_housing, shape: Cup(bore: 60, outside: 80, depth: 60, mouth: 30)),
(name: "lug", on: frame, shape: Ball(centre: (0, 350, 455), radius: 8)),
],
watch: [
(a: "boot", b: "*", gap: 6),
(a: "halfshaft", b: "*", gap: 0),
],
joined: [(a: "boot", b: "cup", why: "x"), (a: "boot", b: "halfshaft", why: "x")],"#,
        asked: &[
            Asked {
                what: "a boot in slices on a clearance map",
                command: &[
                    "clearance",
                    "--part",
                    "lug",
                    "--gap",
                    "6",
                    "--against",
                    "boot",
                ],
                status: 1,
                says: "",
            },
            Asked {
                what: "a boot that would be mapped in part",
                command: &["clearance", "--part", "boot"],
                status: 2,
                says: "in pieces",
            },
        ],
    },
    Case {
        // The right lug stays 21.36 mm from the right arm leg, 25 are watched.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -80, outer: 80), ),",
        )],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "lug", on: frame, fitted: right, shape: Ball(centre: (-102, -505, 379), radius: 5)),
],
watch: [
(a: "*", b: "*", gap: 25),
],
setups: [(name: "br", changes: [AddPart(side: left, part: (name: "bracket", on: frame, shape: Ball(centre: (600, 300, 900), radius: 10)), watch: [(a: "*", b: "*", gap: 0)])]),
(name: "br2", changes: [AddPart(part: (name: "bracket", on: frame, shape: Ball(centre: (600, 300, 900), radius: 10)), watch: [(a: "*", b: "*", gap: 0)])])],"#,
        asked: &[Asked {
            what: "a gap that the other sides added part would lower",
            command: &["sweep", "--setup", "br"],
            status: 1,
            says: "",
        }],
    },
    Case {
        // The bar between the lower pivots goes down 50 mm with them and by frame_parts, 19.9 mm deep into the skid.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -80, outer: 80), ),",
        )],
        rest: r#"parts: [
(name: "pivot bolt", on: frame, shape: Bar(from: "lower_arm.front_pivot", to: "lower_arm.rear_pivot", diameter: 30)),
(name: "skid", on: frame, shape: Ball(centre: (0, 335, 270), radius: 25)),
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
],
watch: [
(a: "skid", b: "*", gap: 5),(a: "lower arm leg", b: "skid", gap: 0),
],
setups: [(name: "drop", changes: [DropBrackets(by: 50, of: [lower_arm, upper_arm, rack, damper], frame_parts: ["pivot bolt"])]),
(name: "drop0", changes: [DropBrackets(by: 50, of: [lower_arm, upper_arm, rack, damper])]),],"#,
        asked: &[
            Asked {
                what: "a bar between pivots that drop brackets would leave",
                command: &["sweep", "--setup", "drop"],
                status: 2,
                says: "goes where the points",
            },
            Asked {
                what: "a bar between pivots on drop brackets",
                command: &["sweep", "--setup", "drop0"],
                status: 1,
                says: "",
            },
        ],
    },
    Case {
        // Link and post overlap by 3.00 mm at travel 0.
        changed: &[
            (
                "damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 500, compressed: 440, bump_stop: (contact: 452, crushed: 448)),",
                "damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 475.2, compressed: 440, bump_stop: (contact: 473.8, crushed: 473.2)),",
            ),
            (
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
            ),
        ],
        rest: r#"parts: [
(name: "sway link", on: frame, shape: Link(from: (120, 520, 520), to: (on: lower_arm, at: (100, 560, 310)), diameter: 12)),
(name: "post", on: frame, shape: Ball(centre: (96.04, 567.47, 266.92), radius: 6)),
],
watch: [
(a: "sway link", b: "*", gap: 0),
],
setups: [(name: "drop", changes: [DropBrackets(by: 40, of: [lower_arm, upper_arm, rack, damper], frame_parts: ["sway link"])]),],"#,
        asked: &[Asked {
            what: "a link that drop brackets would lower twice",
            command: &["sweep", "--setup", "drop"],
            status: 2,
            says: "goes where the points",
        }],
    },
    Case {
        // Extended and compressed are 2 micrometres apart about the measured length: no position but that one is free.
        changed: &[(
            "damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 500, compressed: 440, bump_stop: (contact: 452, crushed: 448)),",
            "damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 474.5797605, compressed: 474.5777605),",
        )],
        rest: r#"parts: [
(name: "skid", on: frame, shape: Box(centre: (0, 300, 260), size: (200, 200, 10))),
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
],
watch: [
(a: "skid", b: "*", gap: 5),
],"#,
        asked: &[Asked {
            what: "a clearance map over no free travel",
            command: &["clearance", "--part", "skid", "--gap", "5"],
            status: 2,
            says: "no free travel",
        }],
    },
    Case {
        // Joined to the other side's lug, the nose still meets its own: 0 mm at bump 46 and rack +60.
        changed: &[],
        rest: r#"parts: [
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "lug", on: rack, shape: Ball(centre: (60, 40, 300), radius: 10)),
(name: "arm nose", on: lower_arm, fitted: left, shape: Ball(centre: (60, 80, 350), radius: 20)),
],
watch: [
(a: "*", b: "*", gap: 2),
],
joined: [(a: "right lug", b: "arm nose", why: "test")],"#,
        asked: &[Asked {
            what: "a part of the other side joined by its side's name",
            command: &["sweep"],
            status: 1,
            says: "arm nose - right lug: test",
        }],
    },
    Case {
        // The rail's long edges end beyond both axles; midway 2 (atan2(201 - 387, 1700) + asin(387 / hypot)) = 13.67 degrees.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
        (name: "tyre", on: wheel, shape: Tyre()),
    ],
    watch: [
        (a: "*", b: "*", gap: 0),
    ],
    rear: (wheelbase: 3400, half_track: 800, wheel_centre_z: 400, loaded_radius: 387, tyre_width: 265), tyre: (size: Code("265/70R17")),underbody: [(name: "rail", on: frame, shape: Box(centre: (-1700, 0, 264), size: (4200, 60, 100))),(name: "hitch", on: frame, shape: Box(centre: (-4800, 0, 400), size: (20, 60, 20)))],"#,
        asked: &[Asked {
            what: "breakover along an edge with both ends beyond the axles",
            command: &["ground"],
            status: 1,
            says: "MISSED",
        }],
    },
    Case {
        // The tyre is drawn 22.8 mm smaller than its size: scaled from that, a size 34 mm too large cleared the right fender.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
        (name: "tyre", on: wheel, shape: Lathe(profile: [(-130,220),(-130,390),(130,390),(130,220)])),
(name: "fender", on: frame, fitted: right, shape: Box(centre: (0, -815, 950), size: (900, 300, 20))),
    ],
    watch: [
        (a: "tyre", b: "*", gap: 5),
    ],
    rear: (wheelbase: 2500, half_track: 800, wheel_centre_z: 400, loaded_radius: 387, tyre_width: 265), tyre: (size: Code("265/70R17")),setups: [(name: "one", changes: [AddPart(side: left, part: (name: "lug", on: frame, shape: Ball(centre: (0, 300, 900), radius: 5)))]),(name: "both", changes: [AddPart(part: (name: "lug", on: frame, shape: Ball(centre: (0, 300, 900), radius: 5)))])],"#,
        asked: &[Asked {
            what: "a drawn tyre scaled on a corner of its own",
            command: &["tyre", "--setup", "one"],
            status: 0,
            says: "952.0",
        }],
    },
    Case {
        // The plate hangs 300 mm below the ground from the start.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
        (name: "tyre", on: wheel, shape: Tyre()),
    ],
    watch: [
        (a: "*", b: "*", gap: 0),
    ],
    rear: (wheelbase: 2500, half_track: 800, wheel_centre_z: 400, loaded_radius: 387, tyre_width: 265), tyre: (size: Code("265/70R17")),obstacles: [(name: "ledge", shape: Ledge(height: 100)),],underbody: [(name: "plate", on: frame, shape: Box(centre: (-1250, 0, -300), size: (400, 400, 10)))],"#,
        asked: &[Asked {
            what: "a part below the ground where a drive begins",
            command: &["drive", "--over", "ledge"],
            status: 2,
            says: "already touches",
        }],
    },
    Case {
        // Of the right fender 150 mm are asked, and 81 are there.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
        (name: "tyre", on: wheel, shape: Tyre()),
    ],
    watch: [
        (a: "tyre", b: "left fender", gap: 5),(a: "tyre", b: "right fender", gap: 150),
    ],
    rear: (wheelbase: 2500, half_track: 800, wheel_centre_z: 400, loaded_radius: 387, tyre_width: 265), tyre: (size: Code("265/70R17")),underbody: [(name: "fender", on: frame, both_sides: true, shape: Box(centre: (0, 815, 950), size: (900, 300, 20)))],"#,
        asked: &[Asked {
            what: "a gap watched to one side's part by its side",
            command: &["sweep"],
            status: 1,
            says: "right fender",
        }],
    },
    Case {
        // Only the left fender is joined to the tyre.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
        (name: "tyre", on: wheel, shape: Tyre()),
    ],
    watch: [
        (a: "tyre", b: "*", gap: 150),
    ],
    rear: (wheelbase: 2500, half_track: 800, wheel_centre_z: 400, loaded_radius: 387, tyre_width: 265), tyre: (size: Code("265/70R17")),underbody: [(name: "fender", on: frame, both_sides: true, shape: Box(centre: (0, 815, 950), size: (900, 300, 20)))],joined: [(a: "tyre", b: "left fender", why: "cut away on the left")],"#,
        asked: &[
            Asked {
                what: "one side's part joined by its side",
                command: &["sweep"],
                status: 1,
                says: "right fender",
            },
            Asked {
                what: "a damper where one side's part is joined",
                command: &["damper", "--margin", "5"],
                status: 1,
                says: "",
            },
        ],
    },
    Case {
        // The rod, 80 mm longer inboard, hits the post at the right lock.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
        (name: "tie rod", on: tie_rod, shape: Capsule(from: (-135, 366, 396), to: (-140, 685, 372), radius: 9)),
(name: "lug", on: frame, shape: Box(centre: (-135, 265, 378), size: (30, 40, 20))),
    ],
    watch: [
        (a: "tie rod", b: "*", gap: 3),
    ],
    setups: [(name: "r", changes: [Rack(tie_rod_inner: (-135, 286, 402))])],"#,
        asked: &[Asked {
            what: "a drawn tie rod that a rack makes longer",
            command: &["sweep", "--setup", "r"],
            status: 1,
            says: "",
        }],
    },
    Case {
        // The shaft, 30 mm longer, hits the post at droop 33.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
        (name: "halfshaft", on: halfshaft, shape: Lathe(profile: [(0,0),(0,14),(300,14),(300,30),(460,30),(460,0)])),
(name: "post", on: frame, shape: Ball(centre: (0, 688, 330), radius: 10)),
(name: "stud", on: frame, shape: Ball(centre: (0, 205, 385), radius: 2)),
    ],
    watch: [
        (a: "halfshaft", b: "*", gap: 2),
    ],
    setups: [(name: "l", changes: [Halfshaft(longer: 30)])],"#,
        asked: &[Asked {
            what: "a lathe on the halfshaft that a setup makes longer",
            command: &["sweep", "--setup", "l"],
            status: 1,
            says: "",
        }],
    },
    Case {
        // A shaft of 60 mm touches at droop 30.4; one of 28 doesn't.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
        (name: "halfshaft", on: halfshaft, shape: Bar(diameter: 28)),
(name: "post", on: frame, shape: Ball(centre: (0, 600, 340), radius: 10)),
    ],
    watch: [
        (a: "*", b: "*", gap: 3),
    ],
    setups: [(name: "thick", changes: [Halfshaft(diameter: 60)])],"#,
        asked: &[Asked {
            what: "a drawn halfshaft that a setup makes thicker",
            command: &["sweep", "--setup", "thick"],
            status: 1,
            says: "",
        }],
    },
    Case {
        // At the start the truck's front is past the log.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
        (name: "tyre", on: wheel, shape: Tyre()),
    ],
    watch: [
        (a: "*", b: "*", gap: 0),
    ],
    rear: (wheelbase: 2500, half_track: 800, wheel_centre_z: 400, loaded_radius: 387, tyre_width: 265), tyre: (size: Code("265/70R17")),underbody: [(name: "belly", on: frame, shape: Box(centre: (-1250,0,150), size: (300,200,20)))],obstacles: [(name: "log", shape: Log(diameter: 200), ahead: -2000),(name: "l2", shape: Log(diameter: 200))],"#,
        asked: &[Asked {
            what: "a drive that begins past its obstacle",
            command: &["drive", "--over", "log"],
            status: 2,
            says: "ahead",
        }],
    },
    Case {
        // The rack is bolted to the frame: its tube hangs 127 mm over the ground.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
        (name: "tyre", on: wheel, shape: Tyre()),
(name: "rack tube", on: rack, fitted: once, shape: Box(centre: (-135, 0, 160), size: (60,600,40))),
    ],
    watch: [
        (a: "*", b: "*", gap: 0),
    ],
    rear: (wheelbase: 2500, half_track: 800, wheel_centre_z: 400, loaded_radius: 387, tyre_width: 265), tyre: (size: Code("265/70R17")),underbody: [(name: "hitch", on: frame, shape: Box(centre: (-3600,0,395), size: (60,200,20))),(name: "ra", on: rear_axle, shape: Ball(centre: (-2500,0,320), radius: 20))],"#,
        asked: &[Asked {
            what: "what the rack carries over the ground",
            command: &["ground"],
            status: 1,
            says: "MISSED",
        }],
    },
    Case {
        // The right nose goes with its own tie rod's end, 40 mm lower: 1.66 mm inside the left leg as measured.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
        (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "nose", on: rack, shape: Capsule(from: (-150,200,396), to: (-150,-420,396), radius: 14)),
    ],
    watch: [
        (a: "lower arm leg", b: "nose", gap: 3),
    ],
    other_side: (tie_rod_inner: (-135.0, -366.0, 356.0)),"#,
        asked: &[Asked {
            what: "the other side's part with points of its own",
            command: &["sweep"],
            status: 1,
            says: "nose",
        }],
    },
    Case {
        // The drop makes the driveshaft 15.7 mm longer, and its capsule is as long as before.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
        (name: "front driveshaft", on: front_driveshaft, shape: Capsule(from: (-905,25,480), to: (-262,25,455), radius: 25)),
(name: "post", on: frame, fitted: once, shape: Ball(centre: (-230,25,330), radius: 8)),
    ],
    watch: [
        (a: "front driveshaft", b: "post", gap: 8),
    ],
    front_driveshaft: (transfer_case: (-905, 25, 480), transfer_case_axis: (1, 0, -0.1), pinion: (-262, 25, 455), pinion_axis: (1,0,-0.1), joint_at_transfer_case: constant_velocity, joint_at_pinion: constant_velocity, joint_limit_deg: 30, ),differential: (front_mounts: [(215,180,470),(215,-180,470)], rear_mounts: [(-120,0,455)]),setups: [(name: "drop", changes: [DifferentialDrop(by: 120)])],"#,
        asked: &[Asked {
            what: "a drawn front driveshaft that a drop makes longer",
            command: &["sweep", "--setup", "drop"],
            status: 0,
            says: "the front driveshaft slides",
        }],
    },
    Case {
        // The arm's rear pivot is elsewhere and its leg is drawn as the old one.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
        (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "lug", on: frame, shape: Ball(centre: (-165,383,290), radius: 5)),
    ],
    watch: [
        (a: "lower arm leg", b: "lug", gap: 2),
    ],
    setups: [(name: "arm", changes: [LowerArm((rear_pivot: (-190, 335, 300)))]),(name: "arm drawn", changes: [LowerArm((rear_pivot: (-190, 335, 300), parts: [(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 300), to: (-14, 678, 295), radius: 17))]))])],"#,
        asked: &[
            Asked {
                what: "an arm drawn as before on a map",
                command: &["clearance", "--part", "lug", "--gap", "2", "--setup", "arm"],
                status: 0,
                says: "drawn as before",
            },
            Asked {
                what: "an arm drawn as before at one position",
                command: &["pose", "--setup", "arm", "--travel", "0", "--rack", "0"],
                status: 0,
                says: "drawn as before",
            },
        ],
    },
    Case {
        // The damper ends the droop 47.9 mm below ride height as measured; the setup asks for 100 more.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
        (name: "tyre", on: wheel, shape: Tyre()),
    ],
    watch: [
        (a: "tyre", b: "halfshaft", gap: 0),
    ],
    rear: (wheelbase: 2500, half_track: 800, wheel_centre_z: 400, loaded_radius: 387, tyre_width: 265), tyre: (size: Code("265/70R17")),obstacles: [(name: "log", shape: Log(diameter: 420))],underbody: [(name: "skid", on: frame, shape: Box(centre: (0,0,160), size: (200,200,20))),(name: "hitch", on: frame, shape: Box(centre: (-3590,0,395), size: (60,200,20)))],setups: [(name: "up", changes: [RideHeight(up: 100, by: preload)]),(name: "as far as it goes", changes: [RideHeight(up: 47.9, by: preload)])],"#,
        asked: &[Asked {
            what: "a truck standing past a stop",
            command: &["ground", "--setup", "up"],
            status: 1,
            says: "past damper extended",
        }],
    },
    Case {
        // One of the setups misses the thresholds.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
        (name: "tyre", on: wheel, shape: Tyre()),
(name: "skid", on: frame, fitted: once, shape: Box(centre: (-1250,0,225), size: (200,200,20))),
    ],
    watch: [
        (a: "tyre", b: "halfshaft", gap: 0),
    ],
    rear: (wheelbase: 2500, half_track: 800, wheel_centre_z: 400, loaded_radius: 387, tyre_width: 265), tyre: (size: Code("265/70R17")),underbody: [(name: "hitch", on: frame, shape: Box(centre: (-3600,0,395), size: (60,200,20)))],setups: [(name: "low", changes: [MovePart(name: "skid", by: (0,0,-100))])],"#,
        asked: &[Asked {
            what: "a setup that misses a threshold",
            command: &["ground", "--all-setups"],
            status: 1,
            says: "MISSED",
        }],
    },
    Case {
        // Of the two parts of the name one is on the arm, which takes it down already.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
        (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "mount", on: frame, fitted: left, shape: Ball(centre: (0,300,300), radius: 10)),
(name: "mount", on: lower_arm, fitted: right, shape: Ball(centre: (-100,-505,350), radius: 10)),
(name: "post", on: frame, fitted: right, shape: Ball(centre: (-100,-505,375), radius: 8)),
    ],
    watch: [
        (a: "mount", b: "post", gap: 2),
    ],
    setups: [(name: "d", changes: [DropBrackets(by: 30, of: [lower_arm, upper_arm, rack, damper], frame_parts: ["mount"])]),(name: "d0", changes: [DropBrackets(by: 30, of: [lower_arm, upper_arm, rack, damper])])],"#,
        asked: &[Asked {
            what: "a part lowered twice on one side",
            command: &[
                "pose", "--side", "right", "--travel", "0", "--rack", "0", "--setup", "d",
            ],
            status: 2,
            says: "takes it",
        }],
    },
    Case {
        // The tripod's orbit takes the boot with it: at the shaft's angle it touches the lug; without the orbit it keeps 0.3 mm.
        changed: &[
            (
                "damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 500, compressed: 440, bump_stop: (contact: 452, crushed: 448)),",
                "damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 474.6, compressed: 440, bump_stop: (contact: 474.4, crushed: 474.2)),",
            ),
            (
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 680.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), track_pitch_radius: 60),",
            ),
        ],
        rest: r#"parts: [
        (name: "boot", on: inner_joint_housing, shape: Boot(cup_at: 5, cup_diameter: 30, shaft_at: 200, shaft_diameter: 28.2)),
(name: "lug", on: frame, shape: Ball(centre: (0, 389.394, 556.448), radius: 8)),
    ],
    watch: [
        (a: "boot", b: "lug", gap: 0),
    ],
    joined: [(a: "boot", b: "halfshaft", why: "x")],"#,
        asked: &[Asked {
            what: "the orbit of a boot",
            command: &["sweep"],
            status: 1,
            says: "boot",
        }],
    },
    Case {
        // The bumper reaches down 210 mm and the hole is 250 deep, whether it is as wide as the track or wider.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
        (name: "tyre", on: wheel, shape: Tyre()),
    ],
    watch: [
        (a: "tyre", b: "halfshaft", gap: 0),
    ],
    rear: (wheelbase: 2500, half_track: 800, wheel_centre_z: 400, loaded_radius: 387, tyre_width: 265), tyre: (size: Code("265/70R17")),obstacles: [(name: "hole", across: (300,1500), shape: Profile(points: [(0,-250),(900,-250),(900,0)])),(name: "hole wide", shape: Profile(points: [(0,-250),(900,-250),(900,0)])),(name: "all across", across: (-3000,3000), shape: Profile(points: [(0,-250),(900,-250),(900,0)]))],underbody: [(name: "sill", on: frame, shape: Box(centre: (-600,500,190), size: (300,60,20))),(name: "bumper", on: frame, shape: Box(centre: (600,500,230), size: (60,300,40)))],"#,
        asked: &[Asked {
            what: "a hole of some width in the ground",
            command: &["drive", "--over", "all across"],
            status: 1,
            says: "bumper",
        }],
    },
    Case {
        // Left and right lugs are added apart: 20 mm are asked of the left one, which keeps 18.3, and 2 of the right one.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
        (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
    ],
    watch: [
        (a: "halfshaft", b: "*", gap: 1),
    ],
    setups: [(name: "a", changes: [AddPart(side: left, part: (name: "lug", on: frame, shape: Ball(centre: (-100,505,250), radius: 8)), watch: [(a: "lug", b: "lower arm leg", gap: 20)]),AddPart(side: right, part: (name: "lug", on: frame, shape: Ball(centre: (-100,-505,250), radius: 8)), watch: [(a: "lug", b: "lower arm leg", gap: 2)])]),(name: "b", changes: [AddPart(side: right, part: (name: "lug", on: frame, shape: Ball(centre: (-100,-505,250), radius: 8)), watch: [(a: "lug", b: "lower arm leg", gap: 2)]),AddPart(side: left, part: (name: "lug", on: frame, shape: Ball(centre: (-100,505,250), radius: 8)), watch: [(a: "lug", b: "lower arm leg", gap: 20)])]),(name: "l", changes: [AddPart(side: left, part: (name: "lug", on: frame, shape: Ball(centre: (-100,505,250), radius: 8)), watch: [(a: "lug", b: "lower arm leg", gap: 20)])])],"#,
        asked: &[Asked {
            what: "an entry of one side's added part for its namesake",
            command: &["sweep", "--setup", "a"],
            status: 1,
            says: "lug",
        }],
    },
    Case {
        // The right lug is joined to its arm; of the left one 20 mm are asked, and 18.3 are there.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
        (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
    ],
    watch: [
        (a: "*", b: "*", gap: 1),
    ],
    setups: [(name: "a", changes: [AddPart(side: left, part: (name: "lug", on: frame, shape: Ball(centre: (-100,505,250), radius: 8)), watch: [(a: "lug", b: "lower arm leg", gap: 20)]),AddPart(side: right, part: (name: "lug", on: frame, shape: Ball(centre: (-100,-505,250), radius: 8)), watch: [(a: "lug", b: "lower arm leg", gap: 2)], joined: [(a: "lug", b: "lower arm leg", why: "bolted on the right")])]),(name: "l", changes: [AddPart(side: left, part: (name: "lug", on: frame, shape: Ball(centre: (-100,505,250), radius: 8)), watch: [(a: "lug", b: "lower arm leg", gap: 20)])])],"#,
        asked: &[Asked {
            what: "one side's added part joined for its namesake",
            command: &["sweep", "--setup", "a"],
            status: 1,
            says: "lug",
        }],
    },
    Case {
        // The left shaft alone is replaced, then both: the right one too is 60 thick.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
        (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "post", on: frame, shape: Ball(centre: (0, 600, 340), radius: 10)),
    ],
    watch: [
        (a: "halfshaft", b: "*", gap: 3),
    ],
    setups: [(name: "a", changes: [ReplacePart(side: left, name: "halfshaft", shape: Bar(diameter: 30))]),(name: "b", on: "a", changes: [ReplacePart(name: "halfshaft", shape: Bar(diameter: 60)),RemovePart(side: left, name: "post")]),(name: "c", changes: [ReplacePart(name: "halfshaft", shape: Bar(diameter: 60)),RemovePart(side: left, name: "post")])],"#,
        asked: &[Asked {
            what: "a shaft that one side alone has replaced before both",
            command: &["sweep", "--setup", "b"],
            status: 1,
            says: "",
        }],
    },
    Case {
        // The lower arm meets the lug at droop 23: ride height 100 up is past it.
        changed: &[
            (
                "damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 500, compressed: 440, bump_stop: (contact: 452, crushed: 448)),",
                "damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 540, compressed: 440, bump_stop: (contact: 452, crushed: 448)),",
            ),
            (
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
            ),
        ],
        rest: r#"parts: [
        (name: "tyre", on: wheel, shape: Tyre()),
(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "lug", on: frame, shape: Ball(centre: (-100,505,280), radius: 8)),
    ],
    watch: [
        (a: "*", b: "*", gap: 2),
    ],
    rear: (wheelbase: 2500, half_track: 800, wheel_centre_z: 400, loaded_radius: 387, tyre_width: 265, travel: (120,95)), tyre: (size: Code("265/70R17")),underbody: [(name: "belly", on: frame, shape: Box(centre: (-1250,0,150), size: (300,200,20)))],setups: [(name: "up", changes: [RideHeight(up: 60, by: preload)]),(name: "as far as it goes", changes: [RideHeight(up: 22.9, by: preload)])],obstacles: [(name: "log", shape: Log(diameter: 120))],"#,
        asked: &[Asked {
            what: "a truck standing past a contact",
            command: &["ground", "--setup", "up"],
            status: 1,
            says: "past contact",
        }],
    },
    Case {
        // The right knuckle sits 40 mm lower, and the mirrored hose's end with it.
        changed: &[
            (
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
            ),
            (
                "hoses: [],",
                "hoses: [(name: \"brake\", ends: ((on: frame, at: (-70,415,590)), (on: knuckle, at: (-60,700,540))), longest: 325),],",
            ),
        ],
        rest: r#"parts: [
        (name: "bracket", on: knuckle, shape: Ball(centre: (-60,700,540), radius: 6)),
(name: "post", on: frame, shape: Ball(centre: (-60,415,800), radius: 6)),
    ],
    watch: [
        (a: "*", b: "*", gap: 0),
    ],
    other_side: (lower_arm: (front_pivot: (180,-335,305), rear_pivot: (-190,-335,295), ball_joint: (8,-722,250)), upper_arm: (front_pivot: (95,-440,615), rear_pivot: (-125,-445,600), ball_joint: (-22,-668,642)), knuckle: (wheel_centre: (0,-815,360), spindle: Static(toe_deg: 0, camber_deg: 0), tie_rod_outer: (-140,-685,332), loaded_radius: 387), tie_rod_inner: (-135,-366,356), damper: (upper_mount: (-20,-470,750), lower_mount: (10,-560,285), lower_mount_on: lower_arm, extended: 500, compressed: 440, bump_stop: (contact: 452, crushed: 448)), halfshaft: (outer_joint: (0,-700,360), inner_joint: (0,-235,380), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60))),"#,
        asked: &[Asked {
            what: "a hose's end on a body with points of its own side",
            command: &["sweep"],
            status: 1,
            says: "hose",
        }],
    },
    Case {
        // A hose for both sides comes after one for the left alone: the right one is 300 long too.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
        (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "post", on: frame, shape: Ball(centre: (0,600,320), radius: 9)),
    ],
    watch: [
        (a: "*", b: "*", gap: 0),
    ],
    setups: [(name: "a", changes: [Hose(side: left, name: "new", ends: ((on: frame, at: (-70,415,590)),(on: knuckle, at: (-60,700,540))), longest: 340)]),(name: "d", on: "a", changes: [Hose(name: "new", ends: ((on: frame, at: (-70,415,590)),(on: knuckle, at: (-60,700,540))), longest: 300),Hose(side: left, name: "new", longest: 340)]),(name: "e", changes: [Hose(name: "new", ends: ((on: frame, at: (-70,415,590)),(on: knuckle, at: (-60,700,540))), longest: 300),Hose(side: left, name: "new", longest: 340)])],"#,
        asked: &[Asked {
            what: "a hose that one side alone had before",
            command: &["sweep", "--setup", "d"],
            status: 1,
            says: "hose",
        }],
    },
    Case {
        // The bracket that was joined is taken off, and another of its name stands elsewhere: touched at droop 20.9.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
        (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
    ],
    watch: [
        (a: "halfshaft", b: "*", gap: 1),
    ],
    setups: [(name: "a", changes: [AddPart(part: (name: "bracket", on: frame, shape: Ball(centre: (-190,335,335), radius: 25)), joined: [(a: "bracket", b: "lower arm leg", why: "its pivot")])]),(name: "b", on: "a", changes: [RemovePart(name: "bracket"),AddPart(part: (name: "bracket", on: frame, shape: Ball(centre: (-100,505,280), radius: 8)), watch: [(a: "bracket", b: "*", gap: 5)])]),(name: "c", changes: [AddPart(part: (name: "bracket", on: frame, shape: Ball(centre: (-100,505,280), radius: 8)), watch: [(a: "bracket", b: "*", gap: 5)])])],"#,
        asked: &[Asked {
            what: "what a part that was taken off was joined to",
            command: &["sweep", "--setup", "b"],
            status: 1,
            says: "bracket",
        }],
    },
    Case {
        // The left shaft is drawn and the right one implied: both are replaced by one of 60.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
        (name: "halfshaft", on: halfshaft, fitted: left, shape: Bar(diameter: 28)),
(name: "far", on: frame, shape: Ball(centre: (300, 500, 700), radius: 10)),
(name: "post", on: frame, fitted: right, shape: Ball(centre: (0, -600, 340), radius: 10)),
    ],
    watch: [
        (a: "halfshaft", b: "*", gap: 3),
    ],
    setups: [(name: "b", changes: [ReplacePart(name: "halfshaft", shape: Bar(diameter: 60))])],"#,
        asked: &[Asked {
            what: "an implied shaft on the side that draws none",
            command: &["sweep", "--setup", "b"],
            status: 1,
            says: "",
        }],
    },
    Case {
        // A differential lowered as measured makes the drawn driveshaft 15.7 mm too short.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
        (name: "front driveshaft", on: front_driveshaft, shape: Capsule(from: (-905,25,480), to: (-262,25,455), radius: 25)),
(name: "post", on: frame, fitted: once, shape: Ball(centre: (-230,25,330), radius: 8)),
    ],
    watch: [
        (a: "front driveshaft", b: "post", gap: 8),
    ],
    front_driveshaft: (transfer_case: (-905, 25, 480), transfer_case_axis: (1, 0, -0.1), pinion: (-262, 25, 455), pinion_axis: (1,0,-0.1), joint_at_transfer_case: constant_velocity, joint_at_pinion: constant_velocity, joint_limit_deg: 30, ),differential: (drop: 120, front_mounts: [(215,180,470),(215,-180,470)], rear_mounts: [(-120,0,455)]),"#,
        asked: &[Asked {
            what: "a drawn front driveshaft under a differential that is lowered as measured",
            command: &["sweep"],
            status: 0,
            says: "the front driveshaft slides",
        }],
    },
    Case {
        // Beam and leg are joined on each side; the left beam hits the right leg 68.7 mm in droop.
        changed: &[
            (
                "damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 500, compressed: 440, bump_stop: (contact: 452, crushed: 448)),",
                "damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 540, compressed: 440, bump_stop: (contact: 452, crushed: 448)),",
            ),
            (
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
            ),
        ],
        rest: r#"parts: [
        (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "beam", on: frame, fitted: left, shape: Capsule(from: (-190,335,335), to: (-100,-505,255), radius: 12)),
    ],
    watch: [
        (a: "*", b: "*", gap: 2),
    ],
    joined: [(a: "lower arm leg", b: "beam", why: "its pivot sits in it")],"#,
        asked: &[Asked {
            what: "a pair joined on each side, across the middle",
            command: &["sweep"],
            status: 1,
            says: "beam",
        }],
    },
    Case {
        // The shaft that an earlier change drew is 30 mm thick, and the later one says 60.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
        (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "post", on: frame, shape: Ball(centre: (0, 600, 340), radius: 10)),
    ],
    watch: [
        (a: "halfshaft", b: "*", gap: 3),
    ],
    setups: [(name: "a", changes: [ReplacePart(name: "halfshaft", shape: Bar(diameter: 30))]),(name: "b", on: "a", changes: [Halfshaft(diameter: 60)]),(name: "c", changes: [Halfshaft(diameter: 60)])],"#,
        asked: &[Asked {
            what: "a shaft drawn by an earlier change that a later one makes thicker",
            command: &["sweep", "--setup", "b"],
            status: 0,
            says: "drawn as before",
        }],
    },
    Case {
        // The leg that an earlier change drew is that of the arm before.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
        (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "lug", on: frame, shape: Ball(centre: (-150,420,281), radius: 8)),
    ],
    watch: [
        (a: "lower arm leg", b: "*", gap: 2),
    ],
    setups: [(name: "a", changes: [LowerArm((parts: [(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17.5))]))]),(name: "b", on: "a", changes: [LowerArm((rear_pivot: (-190,335,295)))]),(name: "b0", changes: [LowerArm((rear_pivot: (-190,335,295)))]),(name: "drawn", changes: [LowerArm((rear_pivot: (-190,335,295), parts: [(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 295), to: (-14, 678, 295), radius: 17.5))]))])],"#,
        asked: &[Asked {
            what: "an arm drawn by an earlier change",
            command: &["sweep", "--setup", "b"],
            status: 0,
            says: "drawn as before",
        }],
    },
    Case {
        // The rod's inner end is elsewhere on the rack, and what the rack carries is drawn as it was.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), ),",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60), ),",
        )],
        rest: r#"parts: [
        (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
(name: "nose", on: rack, shape: Capsule(from: (-150,420,402), to: (-150,340,402), radius: 14)),
    ],
    watch: [
        (a: "lower arm leg", b: "nose", gap: 3),
    ],
    setups: [(name: "r", changes: [Rack(tie_rod_inner: (-135,366,356))]),(name: "rr", changes: [Rack(side: right, tie_rod_inner: (-135,-366,356))])],"#,
        asked: &[Asked {
            what: "what another rack carries",
            command: &["sweep", "--setup", "rr"],
            status: 0,
            says: "the rack is another",
        }],
    },
    Case {
        // The hose binds at bump 15; once it is longer a tyre of 746.8 is the largest, and the fender is hit.
        changed: &[
            (
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), )",
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60))",
            ),
            (
                "hoses: []",
                "hoses: [(name: \"brake\", ends: ((on: frame, at: (0,600,300)), (on: knuckle, at: (0,700,500))), longest: 232)]",
            ),
        ],
        rest: r#"parts: [
  (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
  (name: "tyre", on: wheel, shape: Tyre()),
  (name: "fender", on: frame, shape: Box(centre: (0,815,838), size: (400,300,10)))
 ],
watch: [
  (a: "*", b: "*", gap: 2)
 ],
rear: (wheelbase: 2500, half_track: 800, wheel_centre_z: 400, loaded_radius: 387, tyre_width: 265, travel: (120,95)),
tyre: (size: Code("265/70R17")),"#,
        asked: &[
            Asked {
                what: "a tyre search that a hose ends",
                command: &["tyre"],
                status: 2,
                says: "hose brake ends the travel",
            },
            Asked {
                what: "a clearance map that a hose ends",
                command: &["clearance", "--part", "fender", "--gap", "5"],
                status: 2,
                says: "hose brake ends the travel",
            },
        ],
    },
    Case {
        // Another bracket ends the droop at 36.7 of 48; without it 7.3 are left to this one.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), )",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60))",
        )],
        rest: r#"parts: [
  (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
  (name: "stopper", on: frame, shape: Ball(centre: (-102, 505, 270), radius: 12)),
  (name: "brk", on: frame, shape: Ball(centre: (-60, 585, 238), radius: 12))
 ],
watch: [
  (a: "*", b: "*", gap: 2)
 ],
setups: [(name: "off", changes: [RemovePart(name: "stopper")])],"#,
        asked: &[Asked {
            what: "a clearance map that another bracket ends",
            command: &["clearance", "--part", "brk", "--gap", "5"],
            status: 2,
            says: "contact lower arm leg - stopper ends the travel",
        }],
    },
    Case {
        // Without the damper nothing ends the droop within the search.
        changed: &[
            (
                "search: (droop: 140, bump: 120)",
                "search: (droop: 60, bump: 120)",
            ),
            (
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), )",
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60))",
            ),
        ],
        rest: r#"parts: [
  (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
  (name: "post", on: frame, shape: Ball(centre: (-100, 500, 100), radius: 10))
 ],
watch: [
  (a: "*", b: "*", gap: 2)
 ],"#,
        asked: &[Asked {
            what: "a stop taken off, and none behind it",
            command: &["sweep", "--without", "damper extended"],
            status: 2,
            says: "the search ended in droop",
        }],
    },
    Case {
        // The link's lower end goes with the arm, whose rear pivot is 40 mm lower.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), )",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60))",
        )],
        rest: r#"parts: [
  (name: "link", on: frame, shape: Link(from: (120, 520, 520), to: (on: lower_arm, at: (100, 560, 310)), diameter: 12))
 ],
watch: [
  (a: "*", b: "*", gap: 2)
 ],
setups: [(name: "a", changes: [LowerArm((rear_pivot: (-190,335,295)))])],"#,
        asked: &[Asked {
            what: "a link's far end on another arm",
            command: &["sweep", "--setup", "a"],
            status: 0,
            says: "drawn as before",
        }],
    },
    Case {
        // The link's lower end is on an arm of another shape there.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), )",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60))",
        )],
        rest: r#"parts: [
  (name: "link", on: frame, shape: Link(from: (120, 520, 520), to: (on: lower_arm, at: (100, 560, 310)), diameter: 12))
 ],
watch: [
  (a: "*", b: "*", gap: 2)
 ],
other_side: (lower_arm: (front_pivot: (180.0, -335.0, 345.0), rear_pivot: (-190.0, -335.0, 295.0), ball_joint: (8.0, -722.0, 290.0))),"#,
        asked: &[Asked {
            what: "a link's far end on the other side's arm",
            command: &["sweep"],
            status: 0,
            says: "nearest place",
        }],
    },
    Case {
        // The lug stops the rack at +29 of +60; without it the arm comes within 3.9 of the post.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), )",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60))",
        )],
        rest: r#"parts: [
  (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
  (name: "rl", on: rack, shape: Ball(centre: (-160,300,396), radius: 10)),
  (name: "fl", on: frame, shape: Ball(centre: (-160,345,396), radius: 10)),
  (name: "arm", on: knuckle, shape: Ball(centre: (-170, 690, 480), radius: 10)),
  (name: "post", on: frame, shape: Ball(centre: (-150.8, 780.4, 493.9), radius: 10))
 ],
watch: [
  (a: "*", b: "*", gap: 2)
 ],
setups: [(name: "off", changes: [RemovePart(name: "fl")])],"#,
        asked: &[Asked {
            what: "a clearance map whose steering a contact ends",
            command: &[
                "clearance",
                "--part",
                "post",
                "--gap",
                "8",
                "--resolution",
                "20",
            ],
            status: 2,
            says: "contact rl - fl ends the travel",
        }],
    },
    Case {
        // Ride height lies 12 mm past where the damper ends the droop.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), )",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60))",
        )],
        rest: r#"parts: [
  (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
  (name: "tyre", on: wheel, shape: Tyre()),
  (name: "lug", on: frame, shape: Ball(centre: (-102, 505, 240), radius: 12))
 ],
watch: [
  (a: "*", b: "*", gap: 2)
 ],
ride_height: -60,
rear: (wheelbase: 2500, half_track: 800, wheel_centre_z: 400, loaded_radius: 387, tyre_width: 265, travel: (120,95)),
tyre: (size: Code("265/70R17")),"#,
        asked: &[
            Asked {
                what: "a damper on a truck that cannot stand so",
                command: &["damper"],
                status: 2,
                says: "which ride height is past",
            },
            Asked {
                what: "a clearance map of a truck that cannot stand so",
                command: &["clearance", "--part", "lug", "--gap", "3"],
                status: 2,
                says: "ride height is past damper extended",
            },
            Asked {
                what: "a tyre on a truck that cannot stand so",
                command: &["tyre"],
                status: 2,
                says: "ride height is past damper extended",
            },
        ],
    },
    Case {
        // At the new arm's bracket the link comes within 6.9 of the post; drawn as before, within 44.5.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), )",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60))",
        )],
        rest: r#"parts: [
  (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
  (name: "link", on: frame, shape: Link(from: (120, 520, 520), to: (on: lower_arm, at: (100, 560, 310)), diameter: 12)),
  (name: "post", on: frame, shape: Ball(centre: (104, 577, 252), radius: 10))
 ],
watch: [
  (a: "link", b: "*", gap: 10)
 ],
setups: [(name: "a", changes: [LowerArm((front_pivot: (180,335,305), rear_pivot: (-190,335,295), parts: [(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 295), to: (-14, 678, 295), radius: 17))]))]),(name: "drawn", changes: [LowerArm((front_pivot: (180,335,305), rear_pivot: (-190,335,295), parts: [(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 295), to: (-14, 678, 295), radius: 17))])), ReplacePart(name: "link", shape: Link(from: (120, 520, 520), to: (on: lower_arm, at: (100, 560, 270)), diameter: 12))])],"#,
        asked: &[Asked {
            what: "a link to another arm's bracket",
            command: &["sweep", "--setup", "a"],
            status: 0,
            says: "`link` is drawn as before",
        }],
    },
    Case {
        // The hose's end goes with the other arm.
        changed: &[
            (
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), )",
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60))",
            ),
            (
                "hoses: []",
                "hoses: [(name: \"brake\", ends: ((on: frame, at: (0,400,600)), (on: lower_arm, at: (0,600,320))), longest: 420)]",
            ),
        ],
        rest: r#"parts: [
  (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17))
 ],
watch: [
  (a: "*", b: "*", gap: 2)
 ],
setups: [(name: "a", changes: [LowerArm((rear_pivot: (-190,335,295)))])],"#,
        asked: &[Asked {
            what: "a hose's end on another arm",
            command: &["sweep", "--setup", "a"],
            status: 0,
            says: "the end of the hose",
        }],
    },
    Case {
        // The other side's arm has other points, and the hose's end is that of this side's.
        changed: &[
            (
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), )",
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60))",
            ),
            (
                "hoses: []",
                "hoses: [(name: \"brake\", ends: ((on: frame, at: (0,400,600)), (on: lower_arm, at: (0,600,320))), longest: 420)]",
            ),
        ],
        rest: r#"parts: [
  (name: "lug", on: frame, shape: Ball(centre: (500,300,900), radius: 10)),
  (name: "leg", on: lower_arm, shape: Bar(from: "lower_arm.rear_pivot", to: "lower_arm.ball_joint", diameter: 30, short_to: 40))
 ],
watch: [
  (a: "*", b: "*", gap: 2)
 ],
other_side: (lower_arm: (front_pivot: (180.0, -335.0, 345.0), rear_pivot: (-190.0, -335.0, 295.0), ball_joint: (8.0, -722.0, 290.0))),"#,
        asked: &[Asked {
            what: "a hose's end on the other side's arm",
            command: &["sweep"],
            status: 0,
            says: "nearest place",
        }],
    },
    Case {
        // The pad on the frame stays where it is: the stop is crushed at 50.2, and the leg comes within 11.0 of the post.
        changed: &[
            (
                "damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 500, compressed: 440, bump_stop: (contact: 452, crushed: 448))",
                "damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 500, compressed: 400, bump_stop: (on: frame, contact: 452, crushed: 448))",
            ),
            (
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), )",
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60))",
            ),
        ],
        rest: r#"parts: [
  (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
  (name: "post", on: frame, shape: Ball(centre: (-100, 560, 370), radius: 12))
 ],
watch: [
  (a: "*", b: "*", gap: 15)
 ],
differential: (front_mounts: [(215, 180, 470), (215, -180, 470)], rear_mounts: [(-120, 0, 455)]),
setups: [(name: "down", changes: [Damper(upper_mount: (-20, 470, 770), extended: 480, compressed: 380)]), (name: "brk", changes: [DropBrackets(by: 20, of: [damper]), Damper(extended: 480, compressed: 380)]), (name: "arm", changes: [Damper(lower_mount: (10, 560, 345), extended: 480, compressed: 380)]), (name: "downride", changes: [Damper(upper_mount: (-20, 470, 770), extended: 480, compressed: 380), RideHeight(up: 36.5, by: spring)])],"#,
        asked: &[
            Asked {
                what: "a frame's bump stop and an eye that a setup moves",
                command: &["sweep", "--setup", "down"],
                status: 1,
                says: "gap lower arm leg - post",
            },
            Asked {
                what: "a frame's bump stop and an eye that brackets lower",
                command: &["sweep", "--setup", "brk"],
                status: 1,
                says: "gap lower arm leg - post",
            },
            Asked {
                what: "a frame's bump stop and an eye that goes up its arm",
                command: &["sweep", "--setup", "arm"],
                status: 1,
                says: "gap lower arm leg - post",
            },
        ],
    },
    Case {
        // The stop that the setup brings reaches 468 between its damper's eyes near travel +49; leg and post come within 14.1 at
        // +43.6.
        changed: &[
            (
                "damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 500, compressed: 440, bump_stop: (contact: 452, crushed: 448))",
                "damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 500, compressed: 400, bump_stop: (on: frame, contact: 452, crushed: 448))",
            ),
            (
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), )",
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60))",
            ),
        ],
        rest: r#"parts: [
  (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
  (name: "post", on: frame, shape: Ball(centre: (-100, 560, 370), radius: 12))
 ],
watch: [
  (a: "*", b: "*", gap: 15)
 ],
differential: (front_mounts: [(215, 180, 470), (215, -180, 470)], rear_mounts: [(-120, 0, 455)]),
setups: [
 (name: "up", changes: [Damper(upper_mount: (-20, 470, 810), extended: 520, compressed: 420), BumpStop((contact: 472, crushed: 468)), RideHeight(up: 37, by: spring)]),
 (name: "upf", changes: [Damper(upper_mount: (-20, 470, 810), extended: 520, compressed: 420), BumpStop((on: frame, contact: 472, crushed: 468)), RideHeight(up: 37, by: spring)]),
 (name: "uprod", changes: [Damper(upper_mount: (-20, 470, 810), extended: 520, compressed: 420), BumpStop((on: rod, contact: 472, crushed: 468)), RideHeight(up: 37, by: spring)]),
 (name: "upends", changes: [Damper(upper_mount: (-20, 470, 810), extended: 520, compressed: 420), BumpStop((ends: ((on: frame, at: (-20,470,810)),(on: lower_arm, at: (10,560,325))), contact: 472, crushed: 468)), RideHeight(up: 37, by: spring)]),
],"#,
        asked: &[
            Asked {
                what: "a bump stop that comes with moved eyes",
                command: &["sweep", "--setup", "up"],
                status: 1,
                says: "gap lower arm leg - post",
            },
            Asked {
                what: "the same stop on the frame by name",
                command: &["sweep", "--setup", "upf"],
                status: 1,
                says: "gap lower arm leg - post",
            },
            Asked {
                what: "the same stop between ends of its own",
                command: &["sweep", "--setup", "upends"],
                status: 1,
                says: "gap lower arm leg - post",
            },
        ],
    },
    Case {
        // The other side's arm carries its ball joint 25 higher, its damper's eye where the described side's is: the stop is crushed
        // at 49.7 there, whether or not a setup moves something by a hair.
        changed: &[
            (
                "damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 500, compressed: 440, bump_stop: (contact: 452, crushed: 448))",
                "damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 500, compressed: 400, bump_stop: (on: frame, contact: 452, crushed: 448))",
            ),
            (
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), )",
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60))",
            ),
        ],
        rest: r#"parts: [
  (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
  (name: "post", on: frame, fitted: right, shape: Ball(centre: (-100, -560, 385), radius: 12))
 ],
watch: [
  (a: "*", b: "*", gap: 15)
 ],
differential: (front_mounts: [(215, 180, 470), (215, -180, 470)], rear_mounts: [(-120, 0, 455)]),
other_side: (lower_arm: (front_pivot: (180.0, -335.0, 345.0), rear_pivot: (-190.0, -335.0, 335.0), ball_joint: (8.0, -722.0, 315.0))),
setups: [(name: "hair", changes: [Damper(upper_mount: (-20, 470, 790.001))]), (name: "rackdown", changes: [DropBrackets(by: 0.001, of: [rack])])],"#,
        asked: &[
            Asked {
                what: "a frame's bump stop and another arm on the other side",
                command: &["sweep"],
                status: 1,
                says: "gap lower arm leg - post",
            },
            Asked {
                what: "the same with an eye moved by a hair",
                command: &["sweep", "--setup", "hair"],
                status: 1,
                says: "gap lower arm leg - post",
            },
            Asked {
                what: "the same with a rack lowered by a hair",
                command: &["sweep", "--setup", "rackdown"],
                status: 1,
                says: "gap lower arm leg - post",
            },
            Asked {
                what: "the same on a clearance map",
                command: &[
                    "clearance",
                    "--setup",
                    "hair",
                    "--part",
                    "post",
                    "--gap",
                    "15",
                ],
                status: 1,
                says: "12.1 mm",
            },
        ],
    },
    Case {
        // The stop's lengths are between the eyes as the scene's own brackets have them: it is crushed at 49.4.
        changed: &[
            (
                "damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 500, compressed: 440, bump_stop: (contact: 452, crushed: 448))",
                "damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 520, compressed: 420, bump_stop: (on: frame, contact: 472, crushed: 468))",
            ),
            (
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), )",
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60))",
            ),
        ],
        rest: r#"parts: [
  (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
  (name: "post", on: frame, shape: Ball(centre: (-100, 560, 370), radius: 12))
 ],
watch: [
  (a: "*", b: "*", gap: 15)
 ],
differential: (front_mounts: [(215, 180, 470), (215, -180, 470)], rear_mounts: [(-120, 0, 455)]),
brackets: (damper: -20),
setups: [(name: "hair", changes: [Damper(upper_mount: (-20, 470, 790.001))]), (name: "rackdown", changes: [DropBrackets(by: 0.001, of: [rack])])],"#,
        asked: &[
            Asked {
                what: "a frame's bump stop under the scene's own brackets",
                command: &["sweep"],
                status: 1,
                says: "gap lower arm leg - post",
            },
            Asked {
                what: "the same with an eye moved by a hair",
                command: &["sweep", "--setup", "hair"],
                status: 1,
                says: "gap lower arm leg - post",
            },
        ],
    },
    Case {
        // Left the tab is on the wheel and goes out with it, right another of its name is on the frame: at (-100, -560, 262) it
        // is 6 mm deep in the right arm's leg at rest.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), )",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60))",
        )],
        rest: r#"parts: [
  (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
  (name: "tab", on: wheel, fitted: left, shape: Ball(centre: (0, 815, 400), radius: 20)),
  (name: "tab", on: frame, fitted: right, shape: Ball(centre: (-100, -560, 120), radius: 15))
 ],
watch: [
  (a: "tab", b: "lower arm leg", gap: 2)
 ],
setups: [(name: "wr", changes: [WheelOffset(outboard: 60), ReplacePart(side: right, name: "tab", shape: Ball(centre: (-100, -560, 262), radius: 15))]),
 (name: "rw", changes: [ReplacePart(side: right, name: "tab", shape: Ball(centre: (-100, -560, 262), radius: 15)), WheelOffset(outboard: 60)])],"#,
        asked: &[
            Asked {
                what: "a name that is on the wheel left and on the frame right, and its wheel moved first",
                command: &["sweep", "--setup", "wr"],
                status: 1,
                says: "tab",
            },
            Asked {
                what: "the same with the wheel moved after",
                command: &["sweep", "--setup", "rw"],
                status: 1,
                says: "tab",
            },
        ],
    },
    Case {
        // The same with the right one drawn in `other_side`.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), )",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60))",
        )],
        rest: r#"parts: [
  (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
  (name: "tab", on: wheel, shape: Ball(centre: (0, 815, 400), radius: 20))
 ],
watch: [
  (a: "tab", b: "lower arm leg", gap: 2)
 ],
other_side: (parts: [(name: "tab", on: frame, shape: Ball(centre: (-100, -560, 120), radius: 15))]),setups: [(name: "wr", changes: [WheelOffset(outboard: 60), ReplacePart(side: right, name: "tab", shape: Ball(centre: (-100, -560, 262), radius: 15))]),
 (name: "rw", changes: [ReplacePart(side: right, name: "tab", shape: Ball(centre: (-100, -560, 262), radius: 15)), WheelOffset(outboard: 60)])],"#,
        asked: &[
            Asked {
                what: "a part of the other side on another body, and its wheel moved first",
                command: &["sweep", "--setup", "wr"],
                status: 1,
                says: "tab",
            },
            Asked {
                what: "the same with the wheel moved after",
                command: &["sweep", "--setup", "rw"],
                status: 1,
                says: "tab",
            },
        ],
    },
    Case {
        // The hub cap reaches 67 mm out beyond the tyre's side and passes along the wall, which begins 32 mm from it.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), )",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60))",
        )],
        rest: r#"parts: [
  (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
  (name: "tyre", on: wheel, shape: Tyre()),
  (name: "hub cap", on: wheel, shape: Lathe(profile: [(100,0),(100,60),(200,60),(200,0)]))
 ],
watch: [
  (a: "*", b: "*", gap: 2)
 ],
rear: (wheelbase: 2500, half_track: 800, wheel_centre_z: 400, loaded_radius: 387, tyre_width: 265, travel: (120,95)), tyre: (size: Code("265/70R17")),obstacles: [(name: "wall", across: (980, 1200), shape: Ledge(height: 600)), (name: "post", across: (980, 990), shape: Hump(height: 600, length: 60))],"#,
        asked: &[Asked {
            what: "a hub cap beside the tyre and a wall alongside",
            command: &["drive", "--over", "wall", "--suspension", "hold"],
            status: 1,
            says: "hub cap",
        }],
    },
    Case {
        // The drum hangs inboard of the tyre, 210 mm over level ground; the rib is 240 high.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), )",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60))",
        )],
        rest: r#"parts: [
  (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
  (name: "tyre", on: wheel, shape: Tyre()),
  (name: "drum", on: wheel, shape: Lathe(from: (0,815,400), axis: (0,1,0), profile: [(-210,60),(-210,190),(-150,190),(-150,60)]))
 ],
watch: [
  (a: "tyre", b: "*", gap: 2)
 ],
rear: (wheelbase: 2500, half_track: 800, wheel_centre_z: 400, loaded_radius: 387, tyre_width: 265, travel: (120,95)), tyre: (size: Code("265/70R17")),obstacles: [(name: "rib", across: (615, 655), shape: Ledge(height: 240))],"#,
        asked: &[Asked {
            what: "a brake drum inboard of the tyre and a rib between the wheels",
            command: &["drive", "--over", "rib", "--suspension", "hold"],
            status: 1,
            says: "drum",
        }],
    },
    Case {
        // With spacers under the differential's front the pinion's one joint turns 0.62 % unevenly; without them 0.03 %.
        changed: &[
            (
                "damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 500, compressed: 440, bump_stop: (contact: 452, crushed: 448))",
                "damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 500, compressed: 400, bump_stop: (on: frame, contact: 452, crushed: 448))",
            ),
            (
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), )",
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60))",
            ),
        ],
        rest: r#"parts: [
  (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17))
 ],
watch: [
  (a: "*", b: "*", gap: 2)
 ],
differential: (front_mounts: [(215, 180, 470), (215, -180, 470)], rear_mounts: [(-120, 0, 455)]),
front_driveshaft: (
  transfer_case: (-905, 25, 480), transfer_case_axis: (1, 0, 0.03), pinion: (-262, 25, 455), pinion_axis: (1, 0, -0.025),
  joint_at_transfer_case: double_cardan, joint_at_pinion: cardan, joint_limit_deg: 20,
 ),
setups: [(name: "sp", changes: [DifferentialSpacers(thickness: 25.4)])],"#,
        asked: &[
            Asked {
                what: "a front driveshaft whose pinion turns evenly",
                command: &["sweep"],
                status: 0,
                says: "CLEAR",
            },
            Asked {
                what: "one whose pinion turns unevenly",
                command: &["sweep", "--setup", "sp"],
                status: 1,
                says: "front driveshaft speed fluctuation: at every position",
            },
            Asked {
                what: "the same at one position",
                command: &["pose", "--setup", "sp", "--travel", "0", "--rack", "0"],
                status: 1,
                says: "front driveshaft speed fluctuation",
            },
            Asked {
                what: "the same compared",
                command: &["compare", "sp"],
                status: 1,
                says: "turns more unevenly than its limit",
            },
        ],
    },
    Case {
        // The damper's body is closed at 470, the bump stop would be crushed at 448.
        changed: &[
            (
                "damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 500, compressed: 440, bump_stop: (contact: 452, crushed: 448))",
                "damper: (upper_mount: (-20.0, 470.0, 790.0), lower_mount: (10.0, 560.0, 325.0), lower_mount_on: lower_arm, extended: 500, compressed: 400, bump_stop: (on: frame, contact: 452, crushed: 448))",
            ),
            (
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), )",
                "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60))",
            ),
        ],
        rest: r#"parts: [
  (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
  (name: "post", on: frame, shape: Ball(centre: (-100, 560, 370), radius: 12))
 ],
watch: [
  (a: "*", b: "*", gap: 1)
 ],
differential: (front_mounts: [(215, 180, 470), (215, -180, 470)], rear_mounts: [(-120, 0, 455)]),
setups: [(name: "bot", changes: [Damper(extended: 520, compressed: 470)]), (name: "down", changes: [Damper(upper_mount: (-20, 470, 770), extended: 480, compressed: 380)]), (name: "brk", changes: [DropBrackets(by: 20, of: [damper]), Damper(extended: 480, compressed: 380)]), (name: "arm", changes: [Damper(lower_mount: (10, 560, 345), extended: 480, compressed: 380)]), (name: "downride", changes: [Damper(upper_mount: (-20, 470, 770), extended: 480, compressed: 380), RideHeight(up: 36.5, by: spring)])],"#,
        asked: &[
            Asked {
                what: "a damper that closes before its bump stop is crushed",
                command: &["sweep", "--setup", "bot"],
                status: 1,
                says: "damper compressed, before the bump stop is crushed",
            },
            Asked {
                what: "the same compared",
                command: &["compare", "bot"],
                status: 1,
                says: "bottoms before the bump stop is crushed",
            },
            Asked {
                what: "the same by its lengths",
                command: &["damper", "--setup", "bot"],
                status: 1,
                says: "bottoms",
            },
        ],
    },
    Case {
        // Body and rod sharing what it is longer, it closes at 463.9, and the bump stop is crushed at 448: 15.9 too early.
        changed: &[(
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 60, outer_limit_deg: 75, plunge: (inner: -150, outer: 150), )",
            "halfshaft: (outer_joint: (0.0, 700.0, 400.0), inner_joint: (0.0, 235.0, 420.0), diameter: 28, inner_limit_deg: 40, outer_limit_deg: 60, plunge: (inner: -60, outer: 60))",
        )],
        rest: r#"parts: [
  (name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)),
  (name: "link", on: frame, shape: Link(from: (120, 520, 520), to: (on: lower_arm, at: (100, 560, 310)), diameter: 12)),
  (name: "post", on: frame, shape: Ball(centre: (104, 577, 252), radius: 10))
 ],
watch: [
  (a: "link", b: "*", gap: 10)
 ],
setups: [(name: "a", changes: [LowerArm((front_pivot: (180,335,305), rear_pivot: (-190,335,295), parts: [(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 295), to: (-14, 678, 295), radius: 17))]))]),(name: "drawn", changes: [LowerArm((front_pivot: (180,335,305), rear_pivot: (-190,335,295), parts: [(name: "lower arm leg", on: lower_arm, shape: Capsule(from: (-190, 335, 295), to: (-14, 678, 295), radius: 17))])), ReplacePart(name: "link", shape: Link(from: (120, 520, 520), to: (on: lower_arm, at: (100, 560, 270)), diameter: 12))])],"#,
        asked: &[Asked {
            what: "a damper to order that closes before the bump stop is crushed",
            command: &["damper", "--margin", "5"],
            status: 0,
            says: "extended by itself that closes at 448.0 mm or shorter",
        }],
    },
];
