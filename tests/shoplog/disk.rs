//! Disks that are full, and folders in which nothing can be written.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use beamyard::shoplog::Log;

use crate::bench::{ids, lamp, note};

/// A small file system of its own; gone with the value.
struct Small {
    folder: tempfile::TempDir,
}

impl Small {
    /// `None`, with a word on standard error, where nothing may be mounted.
    fn mount(size: &str) -> Option<Self> {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let mounted = Command::new("mount")
            .args(["-t", "tmpfs", "-o", &format!("size={size}"), "tmpfs"])
            .arg(folder.path())
            .output();
        if mounted.is_ok_and(|output| output.status.success()) {
            return Some(Self { folder });
        }
        eprintln!("skipped: only root may mount a small file system");
        None
    }

    fn again(&self, options: &str) {
        let output = Command::new("mount")
            .args(["-o", &format!("remount,{options}")])
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
    let Some(disk) = Small::mount("400k") else {
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
    let Some(disk) = Small::mount("8k") else {
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
    let Some(disk) = Small::mount("4m") else {
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
        eprintln!("skipped: root may write anywhere");
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
