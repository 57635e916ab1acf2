//! How much bed outlines save against boxes, and how long a nest takes: `cargo bench --bench nesting`.
//!
//! First the crane of `scenarios/`: every piece of a mesh that a bed can take whole, in its quickest way there, on as few
//! plates as first fit by decreasing area finds, once by boxes and once by outlines, filaments and settings apart; and on
//! one strip of each bed's width, which does not round up to plates. Then forty invented outlines (brackets, gussets,
//! hooks, forks, half rings, cheeks), on a strip and on a bed. Each row says first what was packed, then the time of one
//! question, the median of several; the nester's memory is empty in the first question ("cold") and filled in the others.

use std::sync::Arc;
use std::time::{Duration, Instant};

use beamyard::geometry::Outline;
use std::path::Path;

use beamyard::plates::{Area, Effort, FigureId, Figures, Nester, Packer, Rectangle, pack_belt};
use beamyard::routes::routes;
use beamyard::scenario::{self, MachineIndex, MachineKind};
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

/// A piece of a mesh: its outline, and its box.
type Meshed = (Arc<Outline>, Rectangle);

/// Plates that first fit needs, where `fits` says whether pieces share one.
fn plates(pieces: &[usize], mut fits: impl FnMut(&[usize]) -> bool) -> usize {
    let mut plates: Vec<Vec<usize>> = Vec::new();
    for &piece in pieces {
        let found = plates.iter_mut().any(|plate| {
            plate.push(piece);
            let may = fits(plate);
            if !may {
                plate.pop();
            }
            may
        });
        if !found {
            plates.push(vec![piece]);
        }
    }
    plates.len()
}

/// Bed area that the crane's meshes take, by boxes and by outlines: of all that a bed can make, or only of those that it
/// can make whole (the others go to the belt in every plan).
fn crane_on_beds(only_whole: bool) {
    let path = Path::new(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/scenarios/quayside-crane.yaml"
    ));
    let shop = scenario::read(path).expect("an example that runs").scenario;
    let routes = routes(&shop);
    let which = if only_whole {
        "that a bed makes whole"
    } else {
        "that a bed makes whole or in lengths"
    };
    println!("the quayside crane's meshes {which}, bed area by boxes and by outlines");
    let mut all = [0.0; 4];
    for (index, machine) in shop.machines.iter().enumerate() {
        let MachineKind::Bed { bed, .. } = &machine.kind else {
            continue;
        };
        let [width, depth] = bed.map(|side| side.value() - 2.0 * machine.margin.value());
        let area = Area { width, depth };
        let mut groups: Vec<((usize, usize), Vec<Meshed>)> = Vec::new();
        for part in &routes {
            let drawn = &shop.parts[part.part.0];
            // The fewest lengths that this bed can make, each length in its quickest square way.
            let form = part.forms.iter().find_map(|form| {
                let mut pieces = Vec::new();
                for (at, kind) in form.kinds.iter().enumerate() {
                    let mut ways = form.ways_of(at, MachineIndex(index));
                    let way = ways.find(|way| way.straight || way.turned)?;
                    let rectangle = Rectangle {
                        width: way.size[0].value(),
                        depth: way.size[1].value(),
                        straight: way.straight,
                        turned: way.turned,
                    };
                    let outline = Arc::clone(way.outline.as_ref()?);
                    pieces.extend(std::iter::repeat_n(
                        (outline, rectangle),
                        kind.positions.len(),
                    ));
                }
                Some(pieces)
            });
            let whole = |form: &Vec<Meshed>| !only_whole || form.len() == 1;
            let Some(form) = form.filter(whole) else {
                continue;
            };
            let key = (drawn.filament.0, drawn.settings.0);
            let at = groups
                .iter()
                .position(|(k, _)| *k == key)
                .unwrap_or_else(|| {
                    groups.push((key, Vec::new()));
                    groups.len() - 1
                });
            for _ in 0..drawn.copies() {
                groups[at].1.extend(form.iter().cloned());
            }
        }
        let (mut sums, mut count) = ([0.0; 4], 0);
        for (_, pieces) in &mut groups {
            pieces.sort_by(|a, b| b.0.area().total_cmp(&a.0.area()));
            count += pieces.len();
            let mut figures = Figures::default();
            let ids: Vec<FigureId> = pieces
                .iter()
                .map(|p| figures.add(&p.0, &QUARTERS))
                .collect();
            let boxes: Vec<Rectangle> = pieces.iter().map(|p| p.1).collect();
            let order: Vec<usize> = (0..pieces.len()).collect();
            let spacing = machine.spacing.value();
            let (mut packer, mut nester) = (Packer::default(), Nester::default());
            let mut boxed = |plate: &[usize]| {
                let plate: Vec<Rectangle> = plate.iter().map(|&at| boxes[at]).collect();
                packer.pack(area, spacing, &plate, Effort::Quick).is_some()
            };
            let by_boxes = plates(&order, &mut boxed);
            // As the search does: boxes first, outlines where those do not fit.
            let by_outlines = plates(&order, |plate| {
                let ids: Vec<FigureId> = plate.iter().map(|&at| ids[at]).collect();
                boxed(plate)
                    || nester
                        .nest(&figures, area, spacing, &ids, Effort::Quick)
                        .is_some()
            });
            let effort = Effort::Thorough { tries: 200 };
            let long =
                pack_belt(width, 20_000.0, spacing, &boxes, effort).map_or(f64::NAN, |s| s.0);
            let short = nester.strip(&figures, width, 20_000.0, spacing, &ids, 20);
            let short = short.map_or(f64::NAN, |s| s.0).min(long);
            for (sum, value) in sums.iter_mut().zip([
                by_boxes as f64 * width * depth,
                by_outlines as f64 * width * depth,
                long * width,
                short * width,
            ]) {
                *sum += value / 1e6;
            }
        }
        show(&machine.id, count, sums);
        for (all, sum) in all.iter_mut().zip(sums) {
            *all += sum;
        }
    }
    show("all beds", 0, all);
}

fn show(name: &str, count: usize, [boxes, outlines, long, short]: [f64; 4]) {
    println!(
        "  {name:<10} {count:>3} pieces: plates {boxes:.3} m² by boxes, {outlines:.3} by outlines, {:.1} % less; strips {long:.3} and {short:.3}, {:.1} % less",
        100.0 * (1.0 - outlines / boxes),
        100.0 * (1.0 - short / long),
    );
}

fn main() {
    crane_on_beds(true);
    crane_on_beds(false);
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
