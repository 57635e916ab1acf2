//! How long one question to the packer takes, in nanoseconds: `cargo bench --bench packing`.
//!
//! Each row first says how many of its plates were packed, then how long one took on average. The plates are drawn at
//! random from a fixed seed: a 290 × 290 mm bed is cut from edge to edge into so many rectangles, which are then
//! thinned on both sides to the share given, so that each set is known to fit; and sets with one rectangle too many,
//! which do not.

use std::hint::black_box;
use std::time::Instant;

use beamyard::plates::{
    Area, Effort, Packer, PlateMemo, Rectangle, bins_needed, pack_diagonal, room_for,
};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;

const BED: Area = Area {
    width: 290.0,
    depth: 290.0,
};
const SPACING: f64 = 4.0;
const SETS: usize = 100;

/// Cuts the bed into `count` rectangles, a spacing lost at each cut.
fn cut(random: &mut Pcg64, count: usize, share: f64) -> Vec<Rectangle> {
    let mut parts = vec![(BED.width, BED.depth)];
    while parts.len() < count {
        let which = random.random_range(0..parts.len());
        let at = random.random_range(0.2..0.8);
        let (width, depth) = parts[which];
        let across = random.random_bool(width / (width + depth));
        let long = if across { width } else { depth };
        if long < 30.0 {
            continue;
        }
        let first = (long - SPACING) * at;
        let second = long - SPACING - first;
        let halves = if across {
            [(first, depth), (second, depth)]
        } else {
            [(width, first), (width, second)]
        };
        parts[which] = halves[0];
        parts.push(halves[1]);
    }
    parts
        .into_iter()
        .map(|(width, depth)| Rectangle {
            width: width * share,
            depth: depth * share,
            straight: true,
            turned: true,
        })
        .collect()
}

/// Runs the question on every set, over and over for a tenth of a second, and prints the row.
fn row(name: &str, sets: &[Vec<Rectangle>], mut question: impl FnMut(&[Rectangle]) -> bool) {
    let packed = sets.iter().filter(|set| question(set)).count();
    let start = Instant::now();
    let mut rounds = 0;
    while rounds == 0 || start.elapsed().as_millis() < 100 {
        for set in sets {
            black_box(question(black_box(set)));
        }
        rounds += 1;
    }
    let nanoseconds = start.elapsed().as_nanos() as f64 / f64::from(rounds) / sets.len() as f64;
    println!(
        "{name:<44} {packed:>4}/{:<4} {nanoseconds:>12.0} ns",
        sets.len()
    );
}

fn main() {
    let mut random = Pcg64::seed_from_u64(1);
    let mut packer = Packer::default();
    let thorough = Effort::Thorough { tries: 100 };
    for count in [1, 5, 10, 20, 40] {
        for share in [0.85, 0.92, 1.0] {
            let sets: Vec<_> = (0..SETS).map(|_| cut(&mut random, count, share)).collect();
            for (name, effort) in [("quick", Effort::Quick), ("thorough", thorough)] {
                let name = format!("{count} rectangles at {share}, {name}");
                row(&name, &sets, |set| {
                    packer.pack(BED, SPACING, set, effort).is_some()
                });
            }
        }
        let mut sets: Vec<_> = (0..SETS).map(|_| cut(&mut random, count, 0.92)).collect();
        for set in &mut sets {
            // Half the free surface again: not refused by surface at once.
            let side = (290.0f64 * 290.0 * (1.0 - 0.92 * 0.92) / 2.0).sqrt();
            set.push(Rectangle {
                width: 2.0 * side,
                depth: side / 2.0,
                straight: true,
                turned: true,
            });
        }
        for (name, effort) in [("quick", Effort::Quick), ("thorough", thorough)] {
            let name = format!("{count} and one more, {name}");
            row(&name, &sets, |set| {
                packer.pack(BED, SPACING, set, effort).is_some()
            });
        }
        let sets: Vec<_> = (0..SETS).map(|_| cut(&mut random, count, 0.92)).collect();
        row(
            &format!("{count} rectangles on a belt, quick"),
            &sets,
            |set| {
                packer
                    .pack_belt(240.0, 2400.0, SPACING, set, Effort::Quick)
                    .is_some()
            },
        );
        let beam = Rectangle {
            width: 20.0,
            depth: 135.0,
            straight: true,
            turned: true,
        };
        row(
            &format!("{count} equal beams, quick"),
            &[vec![beam; count]],
            |set| packer.pack(BED, SPACING, set, Effort::Quick).is_some(),
        );
    }
    let kinds: Vec<u32> = (0..10).map(|i| i / 3).collect();
    let mut memo = PlateMemo::new(1000);
    row("10 rectangles in the memo", &[vec![]], |_| {
        memo.fits(0, &kinds, || true)
    });
    let odd = Rectangle {
        width: 83.0,
        depth: 37.0,
        straight: true,
        turned: true,
    };
    row("room for 83 × 37", &[vec![odd]], |set| {
        room_for(BED, SPACING, &set[0]) > 0
    });
    for (name, length) in [
        ("4 beams on the diagonal", 318.0),
        ("4 beams too long for it", 340.0),
    ] {
        let beams = [(length, 20.0); 4];
        row(name, &[vec![]], |_| {
            pack_diagonal(BED, SPACING, &beams).is_some()
        });
    }
    let list: Vec<Rectangle> = (0..10).flat_map(|_| cut(&mut random, 10, 0.9)).collect();
    for (name, effort) in [("quick", Effort::Quick), ("thorough", thorough)] {
        let bins = bins_needed(BED, SPACING, &list, effort).map_or(0, |bins| bins.len());
        row(
            &format!("100 rectangles onto plates ({bins}), {name}"),
            std::slice::from_ref(&list),
            |set| bins_needed(BED, SPACING, set, effort).is_some(),
        );
    }
}
