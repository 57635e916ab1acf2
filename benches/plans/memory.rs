//! How much memory a process has held at most.
//!
//! Knows: `/proc`. Must not know: what the process did.
//! Promises: the kernel's own high-water mark, in kilobytes; `None` where there is no such thing.

use std::fs;

/// The most that this process has held so far.
pub fn own_peak() -> Option<u64> {
    peak("self")
}

/// The most that a running process has held so far; `None` also once it has ended.
pub fn peak_of(process: u32) -> Option<u64> {
    peak(&process.to_string())
}

fn peak(process: &str) -> Option<u64> {
    let status = fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let line = status
        .lines()
        .find_map(|line| line.strip_prefix("VmHWM:"))?;
    line.trim().strip_suffix(" kB")?.parse().ok()
}
