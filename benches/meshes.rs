//! How long a mesh takes from its bytes to its measures, and how much memory: `cargo bench --bench meshes`.
//!
//! Each row first says what was measured (the volume against the closed form of the faceted torus), then how long it took
//! at best and in the middle of several rounds, and the most memory that the process had until then.

use std::time::Instant;

use beamyard::scenario::meshes::{Split, measure};

/// A torus of N × M quads as a binary STL file.
fn torus(n: u32, m: u32) -> Vec<u8> {
    const RING: f64 = 40.0;
    const TUBE: f64 = 10.0;
    let at = |i: u32, j: u32| {
        let (u, v) = (
            std::f64::consts::TAU * f64::from(i % n) / f64::from(n),
            std::f64::consts::TAU * f64::from(j % m) / f64::from(m),
        );
        let reach = RING + TUBE * v.cos();
        [reach * u.cos(), reach * u.sin(), TUBE * v.sin()]
    };
    let mut bytes = vec![0; 80];
    bytes.extend((2 * n * m).to_le_bytes());
    for i in 0..n {
        for j in 0..m {
            let (a, b, c, d) = (at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1));
            for triangle in [[a, b, c], [a, c, d]] {
                bytes.extend([0; 12]);
                for value in triangle.iter().flatten() {
                    bytes.extend((*value as f32).to_le_bytes());
                }
                bytes.extend([0; 2]);
            }
        }
    }
    bytes
}

/// N·sin(2π/N) · R · ½·M·r²·sin(2π/M): the volume of the faceted torus (our own).
fn exact(n: u32, m: u32) -> f64 {
    let part = |n: u32| f64::from(n) * (std::f64::consts::TAU / f64::from(n)).sin();
    part(n) * 40.0 * 0.5 * 100.0 * part(m)
}

/// The most memory that the process has had, MB; Linux only.
fn peak() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let kilobytes = line.and_then(|line| line.split_whitespace().next()?.parse::<f64>().ok());
    kilobytes.map_or(f64::NAN, |kilobytes| kilobytes / 1024.0)
}

fn row(name: &str, n: u32, m: u32, split: Option<&Split>, rounds: usize) {
    let bytes = torus(n, m);
    let mut times = Vec::new();
    let mut off = 0.0;
    for _ in 0..rounds {
        let bytes = bytes.clone();
        let start = Instant::now();
        let shape = measure(bytes, 1.0, split);
        times.push(start.elapsed().as_secs_f64());
        let volume = shape.map_or(f64::NAN, |shape| shape.whole.volume);
        off = volume / exact(n, m) - 1.0;
    }
    times.sort_by(f64::total_cmp);
    println!(
        "{name:<28} {:>9} triangles, volume off by {off:+.1e}: best {:.3} s, median {:.3} s; peak {:.0} MB",
        2 * n * m,
        times[0],
        times[rounds / 2],
        peak()
    );
}

fn main() {
    row("small", 48, 24, None, 21);
    row("usual", 200, 100, None, 11);
    row("large", 1000, 250, None, 7);
    let split = Split {
        into: 2..=6,
        shortest: 1.0,
    };
    row("large, cut in 2 to 6", 1000, 250, Some(&split), 3);
}
