//! How much bed outlines save against boxes, and how long a nest takes: `cargo bench --bench nesting`.
//!
//! The pieces are those of a quayside crane, invented: brackets, gussets, hooks, forks, half rings, cheeks. Each row
//! says first what was packed, then the time of one question, the median of several; the nester's memory is empty in
//! the first question ("cold") and filled in the others.

use std::sync::Arc;
use std::time::{Duration, Instant};

use beamyard::geometry::Outline;
use beamyard::plates::{Area, Effort, FigureId, Figures, Nester, Rectangle, pack_belt};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;

const BED: Area = Area {
    width: 290.0,
    depth: 290.0,
};
const SPACING: f64 = 4.0;
const QUARTERS: [f64; 4] = [0.0, 90.0, 180.0, 270.0];

/// Half a ring from 0 to 180°, outer and inner radius, in steps of 15°.
fn half_ring(outer: f64, inner: f64) -> Vec<[f64; 2]> {
    let on = |radius: f64, step: u32| {
        let (sin, cos) = (f64::from(step) * 15.0).to_radians().sin_cos();
        [radius * cos, radius * sin]
    };
    let there = (0..=12).map(|step| on(outer, step));
    there
        .chain((0..=12).rev().map(|step| on(inner, step)))
        .collect()
}

/// A disc as a polygon of 48 corners.
fn disc(radius: f64) -> Vec<[f64; 2]> {
    let corner = |step: u32| {
        let (sin, cos) = (f64::from(step) * 7.5).to_radians().sin_cos();
        [radius * cos, radius * sin]
    };
    (0..48).map(corner).collect()
}

/// The crane's outlines, each with its name.
fn crane() -> Vec<(&'static str, Arc<Outline>)> {
    let shapes: Vec<(&str, Vec<[f64; 2]>)> = vec![
        (
            "leg bracket",
            vec![
                [0.0, 0.0],
                [90.0, 0.0],
                [90.0, 24.0],
                [24.0, 24.0],
                [24.0, 90.0],
                [0.0, 90.0],
            ],
        ),
        (
            "gusset",
            vec![
                [0.0, 0.0],
                [80.0, 0.0],
                [80.0, 10.0],
                [10.0, 80.0],
                [0.0, 80.0],
            ],
        ),
        (
            "hook",
            vec![
                [0.0, 30.0],
                [14.0, 30.0],
                [14.0, 16.0],
                [46.0, 16.0],
                [46.0, 70.0],
                [28.0, 70.0],
                [28.0, 110.0],
                [46.0, 110.0],
                [60.0, 96.0],
                [60.0, 0.0],
                [0.0, 0.0],
            ],
        ),
        (
            "fork",
            vec![
                [0.0, 0.0],
                [70.0, 0.0],
                [70.0, 60.0],
                [54.0, 60.0],
                [54.0, 18.0],
                [16.0, 18.0],
                [16.0, 60.0],
                [0.0, 60.0],
            ],
        ),
        ("half ring", half_ring(50.0, 34.0)),
        ("sheave", disc(22.0)),
        (
            "cheek",
            vec![
                [0.0, 0.0],
                [110.0, 0.0],
                [110.0, 20.0],
                [64.0, 66.0],
                [46.0, 66.0],
                [0.0, 20.0],
            ],
        ),
        (
            "tee",
            vec![
                [0.0, 60.0],
                [0.0, 80.0],
                [80.0, 80.0],
                [80.0, 60.0],
                [49.0, 60.0],
                [49.0, 0.0],
                [31.0, 0.0],
                [31.0, 60.0],
            ],
        ),
        (
            "stay",
            vec![[0.0, 0.0], [130.0, 0.0], [130.0, 12.0], [0.0, 12.0]],
        ),
        ("wedge", vec![[0.0, 0.0], [95.0, 0.0], [0.0, 40.0]]),
    ];
    shapes
        .into_iter()
        .map(|(name, corners)| {
            // Each of them encloses an area.
            let outline = Outline::new(corners).expect("an outline with an area");
            (name, Arc::new(outline))
        })
        .collect()
}

fn median(mut times: Vec<Duration>) -> Duration {
    times.sort();
    times[times.len() / 2]
}

fn main() {
    let outlines = crane();
    let mut random = Pcg64::seed_from_u64(1);
    let turns_of =
        |step: u32| -> Vec<f64> { (0..360 / step).map(|at| f64::from(at * step)).collect() };

    println!("40 outlines on a strip of 290 mm: how long it is, against their boxes turned by 90°");
    let mut savings = Vec::new();
    for seed in 0..8 {
        let pieces: Vec<usize> = (0..40)
            .map(|_| random.random_range(0..outlines.len()))
            .collect();
        let mut figures = Figures::default();
        let ids: Vec<FigureId> = pieces
            .iter()
            .map(|&p| figures.add(&outlines[p].1, &QUARTERS))
            .collect();
        let boxes: Vec<Rectangle> = pieces
            .iter()
            .map(|&p| {
                let [width, depth] = outlines[p].1.size();
                Rectangle {
                    width,
                    depth,
                    straight: true,
                    turned: true,
                }
            })
            .collect();
        let effort = Effort::Thorough { tries: 200 };
        let (long, _) =
            pack_belt(BED.width, 5000.0, SPACING, &boxes, effort).expect("all fit the strip");
        let mut nester = Nester::default();
        let start = Instant::now();
        let (short, _) = nester
            .strip(&figures, BED.width, 5000.0, SPACING, &ids, 0)
            .expect("all fit the strip");
        let cold = start.elapsed();
        let area: f64 = pieces.iter().map(|&p| outlines[p].1.area()).sum();
        let saving = 1.0 - short / long;
        savings.push(saving);
        println!(
            "  set {seed}: boxes {long:>6.1} mm, outlines {short:>6.1} mm, {:>4.1} % less; density {:.1} %; {:>6.1} ms cold",
            saving * 100.0,
            area / short / BED.width * 100.0,
            cold.as_secs_f64() * 1e3,
        );
    }
    let mean = savings.iter().sum::<f64>() / savings.len() as f64;
    println!("  in the mean {:.1} % less", mean * 100.0);

    println!("one bed of 290 × 290 mm, quick");
    for step in [90, 45, 15, 1] {
        let mut figures = Figures::default();
        let ids: Vec<FigureId> = outlines
            .iter()
            .map(|(_, o)| figures.add(o, &turns_of(step)))
            .collect();
        for count in [5, 10, 15, 20, 40] {
            let mut sets = Vec::new();
            for _ in 0..9 {
                // Small pieces only where there are many: forty are to fit a bed.
                let small = |random: &mut Pcg64| match count {
                    40 => [1, 5, 5, 5, 8, 9, 5, 9][random.random_range(0..8)],
                    _ => random.random_range(0..ids.len()),
                };
                let pieces: Vec<FigureId> = (0..count).map(|_| ids[small(&mut random)]).collect();
                sets.push(pieces);
            }
            let mut nester = Nester::default();
            let (mut cold, mut warm, mut packed) = (Vec::new(), Vec::new(), 0);
            for pieces in &sets {
                let mut fresh = Nester::default();
                let start = Instant::now();
                packed += usize::from(
                    fresh
                        .nest(&figures, BED, SPACING, pieces, Effort::Quick)
                        .is_some(),
                );
                cold.push(start.elapsed());
                nester.nest(&figures, BED, SPACING, pieces, Effort::Quick);
                let start = Instant::now();
                nester.nest(&figures, BED, SPACING, pieces, Effort::Quick);
                warm.push(start.elapsed());
            }
            println!(
                "  step {step:>2}°, {count:>2} pieces: {packed}/9 packed; {:>7.2} ms cold, {:>7.2} ms warm",
                median(cold).as_secs_f64() * 1e3,
                median(warm).as_secs_f64() * 1e3,
            );
        }
    }
}
