//! A program that is killed leaves every file whole: the old one or the new one, never a piece.
//!
//! Source: `output::replace_file`. Every kind of file that a command writes (`tests/written`) is written over
//! an old one, and the program is ended by SIGKILL: a third of the times at any moment of its run, a third
//! near its end, a third as soon as an unfinished file is seen, after a random wait of a few milliseconds.
//! The moments come from one seed. `BINDPOINT_KILLS` asks for more than the 200 of a plain run.
#![cfg(unix)]

mod written;

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};
use written::{CASES, Case};

/// Kills of a plain run.
const KILLS: usize = 200;
/// Cases whose run takes seconds, and whose file is written like another case's: few kills.
const SLOW: [&str; 2] = ["tyre as JSON", "drive as JSON"];
/// How many each of these gets of a hundred.
const SLOW_SHARE: usize = 2;
/// How many kills at least have to fall between the first byte of a file and its renaming, of a hundred: else
/// nothing was proved.
const WHILE_WRITING: usize = 10;
/// Longest wait after an unfinished file was seen, microseconds.
const AFTER_SEEN: u64 = 3000;

/// Steele, Lea, Flood: Fast splittable pseudorandom number generators (2014), the finaliser of SplitMix64.
fn random(state: &mut u64) -> u64 {
    *state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let mut z = *state;
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

fn share(state: &mut u64) -> f64 {
    (random(state) >> 11) as f64 / (1u64 << 53) as f64
}

fn is_unfinished(name: &str) -> bool {
    name.starts_with('.') && name.ends_with(".unfinished")
}

fn names(folder: &Path) -> BTreeSet<String> {
    let entries = std::fs::read_dir(folder).expect("the folder");
    entries
        .map(|e| {
            e.expect("an entry")
                .file_name()
                .to_string_lossy()
                .into_owned()
        })
        .collect()
}

/// What stands in a file before: nothing that a run writes.
fn old(name: &str) -> Vec<u8> {
    format!("the old {name}, every line of it\n")
        .repeat(500)
        .into_bytes()
}

#[derive(Default)]
struct Tally {
    kills: AtomicUsize,
    /// The program had ended before it could be killed.
    too_late: AtomicUsize,
    /// An unfinished file was left: it was killed in the middle of a write.
    while_writing: AtomicUsize,
    old_files: AtomicUsize,
    new_files: AtomicUsize,
}

/// Kills one run, and looks at what it leaves.
fn kill_once(
    case: &Case,
    folder: &Path,
    new: &BTreeMap<String, Vec<u8>>,
    took: Duration,
    seed: u64,
    tally: &Tally,
) {
    for name in case.files {
        std::fs::write(folder.join(name), old(name)).expect("the old file");
    }
    let left_before = names(folder);
    let mut state = seed;
    let how = random(&mut state) % 3;
    let at = share(&mut state);
    let mut run = case.command(folder).spawn().expect("bindpoint starts");
    let started = Instant::now();
    match how {
        0 => std::thread::sleep(took.mul_f64(at)),
        1 => std::thread::sleep(took.mul_f64(0.8 + 0.3 * at)),
        _ => {
            while run.try_wait().expect("it can be asked").is_none()
                && started.elapsed() < 20 * took
                && !names(folder)
                    .difference(&left_before)
                    .any(|n| is_unfinished(n))
            {
                std::thread::sleep(Duration::from_micros(100));
            }
            let wait = random(&mut state) % AFTER_SEEN;
            std::thread::sleep(Duration::from_micros(wait));
        }
    }
    if run.try_wait().expect("it can be asked").is_some() {
        tally.too_late.fetch_add(1, Ordering::Relaxed);
    }
    // SIGKILL. It may have ended meanwhile, which is one of the moments too.
    let _ = run.kill();
    let _ = run.wait();
    tally.kills.fetch_add(1, Ordering::Relaxed);
    for name in case.files {
        let found = std::fs::read(folder.join(name));
        let found = found.unwrap_or_else(|e| panic!("{}: {name} is gone: {e}", case.name));
        if found == new[*name] {
            tally.new_files.fetch_add(1, Ordering::Relaxed);
        } else if found == old(name) {
            tally.old_files.fetch_add(1, Ordering::Relaxed);
        } else {
            panic!(
                "{}: {name} is neither old nor new: {} bytes, new {}, old {}, seed {seed}, {how} at {at}",
                case.name,
                found.len(),
                new[*name].len(),
                old(name).len()
            );
        }
    }
    let left = names(folder);
    let mut unfinished = 0;
    for name in left.difference(&left_before) {
        let ours = is_unfinished(name) && case.files.iter().any(|f| name[1..].starts_with(f));
        // `export` writes more parts than are looked at.
        let whole = name.ends_with(".stl") && !name.starts_with('.');
        assert!(
            ours || whole || case.name == "parts as STL",
            "{}: {name} is left",
            case.name
        );
        unfinished += usize::from(is_unfinished(name));
    }
    tally
        .while_writing
        .fetch_add(unfinished.min(1), Ordering::Relaxed);
}

#[test]
fn a_killed_run_leaves_the_old_file_or_the_new_one_whole() {
    let kills = std::env::var("BINDPOINT_KILLS")
        .ok()
        .map_or(KILLS, |n| n.parse().expect("a number of kills"));
    let slow = (kills * SLOW_SHARE / 100).max(1);
    let quick = CASES.len() - SLOW.len();
    let rest = kills - slow * SLOW.len();
    let mut number = 0;
    let work: Vec<(&Case, usize, usize)> = CASES
        .iter()
        .map(|case| {
            if SLOW.contains(&case.name) {
                return (case, slow, 0);
            }
            number += 1;
            // The shares differ by one at most and make up the whole.
            (
                case,
                rest * number / quick - rest * (number - 1) / quick,
                number,
            )
        })
        .collect();
    assert_eq!(work.iter().map(|w| w.1).sum::<usize>(), kills);

    let tally = Tally::default();
    let queue = Mutex::new(work.into_iter());
    std::thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                loop {
                    let next = queue.lock().expect("no worker failed").next();
                    let Some((case, kills, number)) = next else {
                        break;
                    };
                    let folder = tempfile::tempdir().expect("a folder");
                    let new = case.finished(folder.path(), None);
                    let started = Instant::now();
                    assert!(new == case.finished(folder.path(), None), "{}", case.name);
                    let took = started.elapsed();
                    for kill in 0..kills {
                        let seed = (number as u64) << 32 | kill as u64;
                        kill_once(case, folder.path(), &new, took, seed, &tally);
                    }
                    // What killed runs left is in nobody's way.
                    assert!(new == case.finished(folder.path(), None), "{}", case.name);
                }
            });
        }
    });
    let count = |n: &AtomicUsize| n.load(Ordering::Relaxed);
    println!(
        "{} kills, {} after the end, {} in the middle of a write; {} old files, {} new ones",
        count(&tally.kills),
        count(&tally.too_late),
        count(&tally.while_writing),
        count(&tally.old_files),
        count(&tally.new_files),
    );
    assert_eq!(count(&tally.kills), kills);
    assert!(count(&tally.while_writing) * 100 >= WHILE_WRITING * kills);
    assert!(count(&tally.old_files) > 0 && count(&tally.new_files) > 0);
}
