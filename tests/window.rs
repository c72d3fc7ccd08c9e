//! A real window on a virtual screen, driven by mouse and keys from outside: what it then shows is read from
//! its trace and compared with the library.
//!
//! Needs Xvfb and xdotool and a Vulkan driver; `.ci/run` installs them and sets BINDPOINT_NEEDS_SCREEN, with
//! which a missing one fails the test instead of skipping it.
#![cfg(feature = "viewer")]

use bindpoint::viewer::picture::find_backends;
use serde_json::Value;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// Waits are generous: a software driver on shared cores draws a few frames a second.
const PATIENCE: Duration = Duration::from_secs(90);

struct Desk {
    screen: Child,
    display: String,
    folder: TempDir,
}

impl Drop for Desk {
    fn drop(&mut self) {
        // Gone already, or going with the test: both are fine.
        let _ = self.screen.kill();
        let _ = self.screen.wait();
    }
}

fn has(program: &str) -> bool {
    Command::new(program)
        .arg("-version")
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok()
}

impl Desk {
    /// A virtual screen; `None` where there can be none and none is required.
    fn set_up() -> Option<Desk> {
        let can = has("Xvfb") && has("xdotool") && find_backends().is_ok();
        let needed = std::env::var_os("BINDPOINT_NEEDS_SCREEN").is_some();
        assert!(
            can || !needed,
            "Xvfb, xdotool or a Vulkan driver is missing"
        );
        if !can {
            eprintln!("skipped: needs Xvfb, xdotool and a Vulkan driver");
            return None;
        }
        let mut screen = Command::new("Xvfb")
            .args([
                "-displayfd",
                "1",
                "-screen",
                "0",
                "1600x1000x24",
                "-nolisten",
                "tcp",
            ])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("Xvfb starts");
        let mut number = String::new();
        BufReader::new(screen.stdout.take().expect("its output"))
            .read_line(&mut number)
            .expect("the number of its display");
        let display = format!(":{}", number.trim());
        let folder = tempfile::tempdir().expect("a folder");
        Some(Desk {
            screen,
            display,
            folder,
        })
    }

    fn trace(&self) -> PathBuf {
        self.folder.path().join("trace.jsonl")
    }

    fn scene(&self) -> PathBuf {
        self.folder.path().join("scene.ron")
    }

    fn open(&self, name: &str) -> Window<'_> {
        self.open_with(name, &[])
    }

    fn open_with(&self, name: &str, more: &[&str]) -> Window<'_> {
        // Meshes stay where they are.
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        let source = root.join("scenes").join(format!("{name}.ron"));
        let text = std::fs::read_to_string(source).expect("a demo scene");
        let assets = format!("\"{}/assets/", root.display());
        let text = text.replace("\"../assets/", &assets);
        std::fs::write(self.scene(), text).expect("written");
        let program = Command::new(env!("CARGO_BIN_EXE_bindpoint"))
            .arg("view")
            .arg(self.scene())
            .args(["--size", "1280x720", "--trace"])
            .arg(self.trace())
            .args(more)
            .env("DISPLAY", &self.display)
            .env_remove("WAYLAND_DISPLAY")
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("bindpoint starts");
        Window {
            desk: self,
            program,
        }
    }

    fn xdotool(&self, arguments: &[&str]) {
        let status = Command::new("xdotool")
            .args(arguments)
            .env("DISPLAY", &self.display)
            .status()
            .expect("xdotool runs");
        assert!(status.success(), "xdotool {arguments:?}");
    }
}

struct Window<'a> {
    desk: &'a Desk,
    program: Child,
}

impl Drop for Window<'_> {
    fn drop(&mut self) {
        let _ = self.program.kill();
        let _ = self.program.wait();
    }
}

impl Window<'_> {
    /// The newest state.
    fn state(&self) -> Value {
        let text = std::fs::read_to_string(self.desk.trace()).unwrap_or_default();
        // The last line may be half written.
        text.lines()
            .rev()
            .find_map(|line| serde_json::from_str(line).ok())
            .unwrap_or(Value::Null)
    }

    fn wait_for(&mut self, what: &str, holds: impl Fn(&Value) -> bool) -> Value {
        let end = Instant::now() + PATIENCE;
        loop {
            let state = self.state();
            if holds(&state) {
                return state;
            }
            if let Some(status) = self.program.try_wait().expect("its status") {
                panic!("the window closed ({status}) while waiting for {what}");
            }
            assert!(Instant::now() < end, "waited too long for {what}: {state}");
            std::thread::sleep(Duration::from_millis(100));
        }
    }

    /// Where a widget is: left, top, right, bottom.
    fn widget(&self, name: &str) -> [f64; 4] {
        let state = self.state();
        let place = &state["widgets"][name];
        [0, 1, 2, 3].map(|i| {
            place[i]
                .as_f64()
                .unwrap_or_else(|| panic!("no widget {name} in {state}"))
        })
    }

    fn move_to(&self, x: f64, y: f64) {
        let (x, y) = (x.round().to_string(), y.round().to_string());
        self.desk.xdotool(&["mousemove", &x, &y]);
        std::thread::sleep(Duration::from_millis(400));
    }

    fn click(&self, x: f64, y: f64) {
        self.move_to(x, y);
        self.desk.xdotool(&["mousedown", "1"]);
        std::thread::sleep(Duration::from_millis(300));
        self.desk.xdotool(&["mouseup", "1"]);
    }

    /// Gives the window the keyboard, as a window manager does on a click; there is none here.
    fn focus(&self) {
        self.desk
            .xdotool(&["search", "--name", "bindpoint", "windowfocus"]);
    }

    fn key(&self, key: &str) {
        self.focus();
        self.desk.xdotool(&["key", key]);
        std::thread::sleep(Duration::from_millis(300));
    }
}

fn number(state: &Value, key: &str) -> f64 {
    state[key].as_f64().unwrap_or(f64::NAN)
}

#[test]
fn mouse_and_keys_move_the_suspension_and_the_scene_reloads() {
    let Some(desk) = Desk::set_up() else {
        return;
    };
    let mut window = desk.open("crake");
    window.wait_for("the map", |s| {
        s["map"] == true && s["gaps_at"].is_array() && s["map_place"].is_object()
    });
    // Panels take their strips in the first frames.
    std::thread::sleep(Duration::from_secs(2));

    // Drag the travel slider from its middle to a third: the suspension droops, and gaps follow.
    let [left, top, right, bottom] = window.widget("travel");
    let middle = 0.5 * (top + bottom);
    let share = |travel: f64| {
        let truck = bindpoint::truck::load(&desk.scene()).expect("loads");
        let [down, up] = truck.corners[0].search_mm;
        (travel + down) / (down + up)
    };
    // The rail ends half a handle inside.
    let handle = 0.5 * (bottom - top) / 2.5;
    let at = |travel: f64| left + handle + share(travel) * (right - left - 2.0 * handle);
    window.move_to(at(0.0), middle);
    desk.xdotool(&["mousedown", "1"]);
    std::thread::sleep(Duration::from_millis(300));
    for travel in [-15.0, -30.0, -45.0] {
        window.move_to(at(travel), middle);
        // A pixel of the slider is about a millimetre, and it catches at round numbers of inches.
        window.wait_for("the drag", |s| {
            (number(s, "travel_mm") - travel).abs() < 4.0
        });
    }
    desk.xdotool(&["mouseup", "1"]);
    let travel = number(&window.state(), "travel_mm");
    window.wait_for("the gaps there", |s| {
        s["gaps_at"][0]
            .as_f64()
            .is_some_and(|t| (t - travel).abs() < 0.01)
    });

    // Click the map: rack and travel go there together.
    let ready = window.state();
    let place = |key: &str| {
        ready["map_place"][key]
            .as_f64()
            .expect("pixels a millimetre")
    };
    let zero = [0, 1].map(|i| ready["map_place"]["zero"][i].as_f64().expect("pixels"));
    let (rack, travel) = (20.0, -30.0);
    window.click(
        zero[0] + rack * place("right"),
        zero[1] - travel * place("up"),
    );
    let clicked = window.wait_for("the click on the map", |s| number(s, "rack_mm") > 10.0);
    // A pixel of the map is about 2 mm of travel.
    assert!((number(&clicked, "rack_mm") - rack).abs() < 2.0 / place("right"));
    assert!((number(&clicked, "travel_mm") - travel).abs() < 2.0 / place("up"));

    // Keys: home, then the next stop below, as the library has it.
    window.key("Home");
    window.wait_for("home", |s| {
        number(s, "travel_mm") == 0.0 && number(s, "rack_mm") == 0.0
    });
    window.wait_for("the stops there", |s| s["gaps_at"][1].as_f64() == Some(0.0));
    std::thread::sleep(Duration::from_secs(1));
    window.key("Page_Down");
    let truck = bindpoint::truck::load(&desk.scene()).expect("loads");
    let first = first_stop_below(&truck);
    let stepped = window.wait_for("the next stop", |s| number(s, "travel_mm") < -1.0);
    assert!(
        (number(&stepped, "travel_mm") - first).abs() < 0.02,
        "{stepped}"
    );

    // Play and pause.
    window.key("space");
    window.wait_for("play", |s| s["playing"] == true);
    window.key("space");
    window.wait_for("the pause", |s| s["playing"] == false);

    // The file changed in an editor is read again; a mistake is shown and the last good truck kept.
    let generation = number(&window.state(), "generation");
    let text = std::fs::read_to_string(desk.scene()).expect("read");
    std::fs::write(desk.scene(), text.replacen("name: ", "nome: ", 1)).expect("written");
    let wrong = window.wait_for("the message", |s| s["problem"].is_string());
    assert_eq!(number(&wrong, "generation"), generation);
    assert!(
        wrong["problem"]
            .as_str()
            .is_some_and(|p| p.contains("nome"))
    );
    std::fs::write(desk.scene(), &text).expect("written");
    window.wait_for("the file put right", |s| {
        s["problem"].is_null() && number(s, "generation") > generation
    });
}

#[test]
fn a_drive_plays_and_its_curve_moves_the_truck() {
    let Some(desk) = Desk::set_up() else {
        return;
    };
    let mut window = desk.open_with("crake", &["--over", "wall"]);
    let ready = window.wait_for("the drive", |s| {
        s["driven"] == true && s["widgets"]["clearance"].is_array()
    });
    let truck = bindpoint::truck::load(&desk.scene()).expect("loads");
    let usual = bindpoint::ground::Suspension::usual(&truck);
    let course = bindpoint::ground::Course::new(&truck, "wall", 1.0, usual).expect("stands");
    let found = bindpoint::ground::drive(&course).expect("drives");
    assert_eq!(ready["subject"], "wall");
    assert_eq!(ready["hits_first"], found.contacts[0].part.as_str());
    std::thread::sleep(Duration::from_secs(2));

    // The next contact, by its key.
    window.key("Page_Up");
    let place = found.contacts[0].front_axle_mm[1];
    window.wait_for("the contact", |s| number(s, "front_axle_mm") == place);

    // Press on the curve: the truck goes there.
    let [left, top, right, bottom] = window.widget("clearance");
    window.click(0.5 * (left + right), 0.5 * (top + bottom));
    let clicked = window.wait_for("the click on the curve", |s| {
        number(s, "front_axle_mm") != place
    });
    let [start, end] = found.from_to_mm;
    assert!((start..=end).contains(&number(&clicked, "front_axle_mm")));

    // Play drives on, pause stops.
    window.key("Home");
    window.wait_for("the start", |s| number(s, "front_axle_mm") == start);
    window.key("space");
    window.wait_for("the drive playing", |s| {
        s["driving"] == true && number(s, "front_axle_mm") > start
    });
    window.key("space");
    window.wait_for("the pause", |s| s["driving"] == false);
}

fn first_stop_below(truck: &bindpoint::truck::Truck) -> f64 {
    use bindpoint::sweep::rate_atlas::Atlas;
    use bindpoint::sweep::{stops::Guard, stops_at};
    let corner = &truck.corners[0];
    let atlas = Atlas::build(corner);
    let guard = Guard::new(corner, &atlas, 1.0);
    let [droop, _] = stops_at(&guard, 0.0);
    droop.stops.first().expect("something stops it").travel_mm
}

/// Processor time of a process so far, in hundredths of a second (Linux counts ticks of that length).
fn ticks(process: u32) -> Option<u64> {
    let stat = std::fs::read_to_string(format!("/proc/{process}/stat")).ok()?;
    let after = stat.rsplit(')').next()?;
    let fields: Vec<&str> = after.split_whitespace().collect();
    Some(fields.get(11)?.parse::<u64>().ok()? + fields.get(12)?.parse::<u64>().ok()?)
}

#[test]
fn a_window_in_which_nothing_happens_rests() {
    let Some(desk) = Desk::set_up() else {
        return;
    };
    let mut window = desk.open("crake");
    window.wait_for("the whole sweep", |s| s["swept"] == true);
    let process = window.program.id();
    // Curves and colours come after the sweep; then it is quiet.
    std::thread::sleep(Duration::from_secs(6));
    let Some(before) = ticks(process) else {
        return;
    };
    std::thread::sleep(Duration::from_secs(6));
    let used = ticks(process).expect("it still runs") - before;
    // 5 % of one core over six seconds is 30 ticks.
    assert!(used < 30, "{used} ticks in six quiet seconds");
}

#[test]
fn a_click_chooses_the_part_to_map_and_pointing_at_it_reads_the_map() {
    let Some(desk) = Desk::set_up() else {
        return;
    };
    let mut window = desk.open("crake");
    window.wait_for("the gaps", |s| s["gaps_at"].is_array());
    std::thread::sleep(Duration::from_secs(2));
    let middle =
        |[left, top, right, bottom]: [f64; 4]| [0.5 * (left + right), 0.5 * (top + bottom)];
    let [x, y] = middle(window.widget("page Room"));
    window.click(x, y);
    window.wait_for("the page", |s| s["page"] == "Room");
    // Any part will do: from the picture's middle outward until one is under the pointer.
    let mut hit = None;
    for step in 0..24 {
        let (ring, way) = (f64::from(step / 6 + 1), f64::from(step % 6));
        let (sin, cos) = (way * std::f64::consts::FRAC_PI_3).sin_cos();
        let at = [600.0 + 35.0 * ring * cos, 300.0 + 35.0 * ring * sin];
        window.click(at[0], at[1]);
        std::thread::sleep(Duration::from_millis(600));
        if window.state()["picked"].is_string() {
            hit = Some(at);
            break;
        }
    }
    let at = hit.expect("a part near the picture's middle");
    let picked = window.state()["picked"].clone();
    // The box is at the left of its words.
    let [left, top, _, bottom] = window.widget("clearance map");
    window.click(left + 8.0, 0.5 * (top + bottom));
    window.wait_for("its map", |s| s["mapped"] == picked);
    // The colours' legend takes a line from the picture, which is fitted again: the part is near where it was.
    let read = (-8..=8).any(|step| {
        window.move_to(at[0], at[1] + 4.0 * f64::from(step));
        std::thread::sleep(Duration::from_millis(300));
        number(&window.state(), "probed_mm") >= 0.0
    });
    assert!(read, "{}", window.state());
    // A patch in the list takes the suspension there.
    window.wait_for("the list", |s| s["widgets"]["patch 1"].is_array());
    let [x, y] = middle(window.widget("patch 1"));
    window.click(x, y);
    window.wait_for("the tight position", |s| {
        number(s, "travel_mm") != 0.0 || number(s, "rack_mm") != 0.0
    });
    window.click(left + 8.0, 0.5 * (top + bottom));
    window.wait_for("no map", |s| s["mapped"].is_null());
}
