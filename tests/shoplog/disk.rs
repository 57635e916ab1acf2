//! Disks that are full, and folders in which nothing can be written.
//!
//! For some of it one has to be root, for some one must not be. Where the system allows it a test runs itself again as the other: as root of
//! a name space of its own, or as nobody.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::Command;

use beamyard::shoplog::Log;

use crate::bench::{ids, lamp, note};

/// Says that a test runs itself again already.
const AGAIN: &str = "BEAMYARD_TEST_AS_ANOTHER";

/// Ways to be root that whoever may not mount anything may have.
const AS_ROOT: [&[&str]; 1] = [&["unshare", "--user", "--map-root-user", "--mount"]];

/// Ways for root to be nobody.
const AS_NOBODY: [&[&str]; 2] = [
    &[
        "setpriv",
        "--reuid=65534",
        "--regid=65534",
        "--clear-groups",
    ],
    &["runuser", "-u", "nobody", "--"],
];

/// Runs a test of this file again in one of some ways; where there is none, or that does not help, it is skipped, and that is said past
/// whatever keeps what tests print.
fn again(test: &str, ways: &[&[&str]], why: &str) {
    let own = std::env::current_exe().expect("this program");
    let run = |way: &[&str], arguments: &[&str]| {
        let (program, rest) = way.split_first().expect("a way has a program");
        Command::new(program)
            .args(rest)
            .arg(&own)
            .args(arguments)
            .env(AGAIN, "1")
            // The folder for temporary files of whoever started this may be nobody else's.
            .env("TMPDIR", "/tmp")
            .output()
    };
    let mut possible = ways.iter().filter(|way| {
        let tried = run(way, &["--list"]);
        tried.is_ok_and(|output| output.status.success())
    });
    match possible
        .next()
        .filter(|_| std::env::var_os(AGAIN).is_none())
    {
        Some(way) => {
            let name = format!("disk::{test}");
            let output = run(way, &["--exact", &name, "--nocapture"]).expect("it ran before");
            let said = String::from_utf8_lossy(&output.stdout).into_owned()
                + &String::from_utf8_lossy(&output.stderr);
            assert!(output.status.success(), "{said}");
            assert!(said.contains("1 passed"), "{said}");
            // It may be skipped there, too.
            if said.contains(SKIPPED) {
                skipped(test, why);
            }
        }
        None => skipped(test, why),
    }
}

const SKIPPED: &str = "SKIPPED";

fn skipped(test: &str, why: &str) {
    let said = format!("\n*** {SKIPPED}: {test}: {why}\n");
    let _ = std::io::stderr().write_all(said.as_bytes());
}

/// A small file system of its own; gone with the value.
struct Small {
    folder: tempfile::TempDir,
}

impl Small {
    /// `None` where nothing may be mounted: then the test runs itself again where it may, or says that it is skipped.
    fn mount(size: &str, test: &str) -> Option<Self> {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let mounted = Command::new("mount")
            .args(["-t", "tmpfs", "-o", &format!("size={size}"), "tmpfs"])
            .arg(folder.path())
            .output();
        if mounted.is_ok_and(|output| output.status.success()) {
            return Some(Self { folder });
        }
        again(test, &AS_ROOT, "only root may mount a small file system");
        None
    }

    fn again(&self, options: &str) {
        let output = Command::new("mount")
            // With its source no other options of before are set again, as the owner would be, who has another number in a name space.
            .args(["-o", &format!("remount,{options}"), "tmpfs"])
            .arg(self.folder.path())
            .output()
            .expect("it mounted before");
        assert!(
            output.status.success(),
            "{}",
            String::from_utf8_lossy(&output.stderr)
        );
    }

    fn log(&self) -> PathBuf {
        self.folder.path().join("lamp.log.sqlite")
    }
}

impl Drop for Small {
    fn drop(&mut self) {
        // Should it still be busy, the temporary folder stays; that fails no test.
        let _ = Command::new("umount").arg(self.folder.path()).output();
    }
}

#[test]
fn on_a_full_disk_an_event_is_refused_and_all_before_it_are_there() {
    let test = "on_a_full_disk_an_event_is_refused_and_all_before_it_are_there";
    let Some(disk) = Small::mount("400k", test) else {
        return;
    };
    let mut log = Log::open(&disk.log(), &lamp()).expect("a new log");
    let text = "x".repeat(3000);
    let mut told = Vec::new();
    let trouble = loop {
        match note(&mut log, &text) {
            Ok(id) => told.push(id),
            Err(trouble) => break trouble,
        }
        assert!(told.len() < 1000, "400 kB do not hold 3 MB");
    };
    let why = trouble.to_string();
    assert!(why.contains("lamp.log.sqlite: "), "{why}");
    assert!(why.ends_with("nothing was noted"), "{why}");
    assert!(!told.is_empty());
    drop(log);
    assert_eq!(ids(&disk.log()), told);

    disk.again("size=4m");
    let mut log = Log::open(&disk.log(), &lamp()).expect("the log");
    told.push(note(&mut log, "there is room again").expect("room"));
    drop(log);
    assert_eq!(ids(&disk.log()), told);
}

#[test]
fn where_there_is_no_room_for_a_new_log_none_is_left() {
    let test = "where_there_is_no_room_for_a_new_log_none_is_left";
    let Some(disk) = Small::mount("8k", test) else {
        return;
    };
    let trouble = Log::open(&disk.log(), &lamp()).err().expect("no room");
    assert!(
        trouble.to_string().ends_with("nothing was noted"),
        "{trouble}"
    );
    let left = fs::read_dir(disk.folder.path())
        .expect("the folder")
        .count();
    assert_eq!(left, 0);
}

#[test]
fn in_a_read_only_folder_a_log_can_be_read_and_not_written() {
    let test = "in_a_read_only_folder_a_log_can_be_read_and_not_written";
    let Some(disk) = Small::mount("4m", test) else {
        return;
    };
    let mut log = Log::open(&disk.log(), &lamp()).expect("a new log");
    let told = note(&mut log, "before").expect("room");
    drop(log);
    disk.again("ro");
    read_only(&disk.log(), &[told]);
    let missing = disk.folder.path().join("other.log.sqlite");
    let trouble = Log::open(&missing, &lamp()).err().expect("read-only");
    let why = trouble.to_string();
    assert!(
        why.contains("other.log.sqlite: the log cannot be written"),
        "{why}"
    );
    assert!(
        Log::read(&missing, &lamp())
            .expect("nothing wrong")
            .is_none()
    );
}

#[cfg(unix)]
#[test]
fn without_the_right_to_write_a_log_can_be_read() {
    use std::os::unix::fs::PermissionsExt;

    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("lamp.log.sqlite");
    let mut log = Log::open(&path, &lamp()).expect("a new log");
    let told = note(&mut log, "before").expect("room");
    drop(log);
    let rights = |mode| fs::set_permissions(folder.path(), fs::Permissions::from_mode(mode));
    rights(0o555).expect("our own folder");
    if fs::write(folder.path().join("probe"), "").is_ok() {
        let test = "without_the_right_to_write_a_log_can_be_read";
        again(test, &AS_NOBODY, "root may write anywhere");
    } else {
        read_only(&path, &[told]);
    }
    rights(0o755).expect("our own folder");
}

fn read_only(path: &Path, told: &[String]) {
    assert_eq!(ids(path), told);
    let noted = Log::open(path, &lamp()).and_then(|mut log| note(&mut log, "after"));
    let why = noted.expect_err("nothing can be written").to_string();
    assert!(
        why.contains("lamp.log.sqlite: the log cannot be written"),
        "{why}"
    );
    assert_eq!(ids(path), told);
}
