//! Every file that a command writes is the same to the last bit with one thread and with four, and from run to
//! run.
//!
//! Source: README.md; the runs are those of `tests/written`.

mod written;

use written::CASES;

#[test]
fn files_are_the_same_bytes_with_any_number_of_threads_and_from_run_to_run() {
    let mut files = 0;
    for case in &CASES {
        let runs = [Some("1"), Some("4"), Some("4"), None].map(|threads| {
            let folder = tempfile::tempdir().expect("a folder");
            case.finished(folder.path(), threads)
        });
        for other in &runs[1..] {
            for (name, bytes) in other {
                let first = &runs[0][name];
                let differs = first.iter().zip(bytes).position(|(a, b)| a != b);
                assert!(
                    first == bytes,
                    "{}: {name} has {} bytes with one thread and {}, first different at {differs:?}",
                    case.name,
                    first.len(),
                    bytes.len()
                );
            }
        }
        files += runs[0].len();
    }
    assert_eq!(files, CASES.iter().map(|c| c.files.len()).sum::<usize>());
}
