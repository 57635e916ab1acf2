//! A whole list of rectangles onto as few equal areas as can be found.
//!
//! Knows: one area, and whether rectangles share it. Must not know: dates, colours, which plates are worth their time.
//! Promises: each rectangle on exactly one plate, each plate packable with the effort asked; the same rectangles in
//! any order make plates with the same contents; not that no fewer would do.
//!
//! The improvement takes a plate away and lets its rectangles push others out, those first that have proved easiest
//! to place, after Y. Nagata, O. Bräysy, "A powerful route minimization heuristic for the vehicle routing problem
//! with time windows", Operations Research Letters 37 (2009) 333–338 (from memory).

use rand::seq::SliceRandom;
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg32;

use super::grains::{Bin, Item};
use super::{Area, Effort, Packer, PlateMemo, Rectangle};

/// Any number serves; a fixed one makes the plates repeatable.
const SEED: u64 = 1;

/// Tries that one question whether rectangles share a plate is worth at most: very many such questions are asked.
const TRIES_PER_PLATE: u32 = 60;

/// Ways to push others out that are looked into for one rectangle.
const PUSHES: usize = 300;

/// Exchanges between plates that are tried after each push, so that the search does not run in circles.
const EXCHANGES: u32 = 10;

/// Answers kept of which rectangles share a plate.
const ANSWERS: usize = 100_000;

/// Shares the rectangles out to as few areas as can be found; each inner list holds positions in the list given.
///
/// [`super::pack`] packs each of them with the same effort. `Thorough { tries }` looks for a plate for so many
/// single rectangles, pushing others out where there is none.
///
/// `None` if a rectangle does not fit the area alone, or as for [`super::pack`].
pub fn bins_needed(
    area: Area,
    spacing: f64,
    rectangles: &[Rectangle],
    effort: Effort,
) -> Option<Vec<Vec<usize>>> {
    let mut sharing = Sharing::new(area, spacing, rectangles, effort)?;
    let mut plates = sharing.first_fit();
    if let Effort::Thorough { tries } = effort {
        let mut left = tries;
        while plates.len() > sharing.floor() {
            let Some(fewer) = sharing.with_one_less(&plates, &mut left) else {
                break;
            };
            plates = fewer;
        }
    }
    let mut named: Vec<Vec<usize>> = plates
        .iter()
        .map(|plate| plate.iter().map(|&i| sharing.items[i].index).collect())
        .collect();
    named.iter_mut().for_each(|plate| plate.sort_unstable());
    Some(named)
}

/// Who shares a plate with whom. Rectangles go by their position in `items`.
struct Sharing {
    area: Area,
    spacing: f64,
    bin: Bin,
    /// How hard each single plate is looked into.
    effort: Effort,
    /// Sorted by kind.
    items: Vec<Item>,
    rectangles: Vec<Rectangle>,
    /// Equal numbers for equal kinds.
    kinds: Vec<u32>,
    packer: Packer,
    memo: PlateMemo,
    random: Pcg32,
    asked: Vec<u32>,
    laid: Vec<Rectangle>,
}

/// Rectangles pushed out of a plate to make room for another: one, or two.
struct Push {
    /// How hard they have proved to place, together.
    hardness: u32,
    surface: f64,
    plate: usize,
    out: [usize; 2],
}

impl Sharing {
    fn new(area: Area, spacing: f64, rectangles: &[Rectangle], effort: Effort) -> Option<Self> {
        let bin = Bin::new(area, spacing)?;
        let mut items = vec![];
        for (index, rectangle) in rectangles.iter().enumerate() {
            items.push(Item::new(rectangle, spacing, bin, index)?);
        }
        items.sort_unstable_by_key(|item| (item.kind(), item.index));
        let mut kinds = vec![];
        for alike in items.chunk_by(|a, b| a.kind() == b.kind()) {
            let kind = kinds.len() as u32;
            kinds.extend(alike.iter().map(|_| kind));
        }
        let effort = match effort {
            Effort::Quick => Effort::Quick,
            Effort::Thorough { tries } => Effort::Thorough {
                tries: tries.min(TRIES_PER_PLATE),
            },
        };
        Some(Self {
            area,
            spacing,
            bin,
            effort,
            rectangles: items.iter().map(|item| rectangles[item.index]).collect(),
            items,
            kinds,
            packer: Packer::default(),
            memo: PlateMemo::new(ANSWERS),
            random: Pcg32::seed_from_u64(SEED),
            asked: vec![],
            laid: vec![],
        })
    }

    /// Fewer plates have not enough surface.
    fn floor(&self) -> usize {
        let surface: f64 = self.items.iter().map(Item::surface).sum();
        (surface / self.bin.surface() - 1e-9).ceil() as usize
    }

    /// Whether these rectangles fit one area together.
    fn share(&mut self, plate: impl Iterator<Item = usize> + Clone) -> bool {
        let surface: f64 = plate.clone().map(|i| self.items[i].surface()).sum();
        if surface > self.bin.surface() * (1.0 + 1e-12) {
            return false;
        }
        self.asked.clear();
        self.asked.extend(plate.clone().map(|i| self.kinds[i]));
        self.memo.fits(0, &self.asked, || {
            self.laid.clear();
            self.laid.extend(plate.map(|i| self.rectangles[i]));
            self.packer
                .pack(self.area, self.spacing, &self.laid, self.effort)
                .is_some()
        })
    }

    /// Each rectangle onto the first plate with room for it, long ones first or large ones first, whichever takes
    /// fewer plates.
    fn first_fit(&mut self) -> Vec<Vec<usize>> {
        let by_length: Vec<usize> = (0..self.items.len()).collect();
        let mut by_surface = by_length.clone();
        let items = &self.items;
        by_surface.sort_by(|&a, &b| items[b].surface().total_cmp(&items[a].surface()));
        let long_first = self.first_fit_of(&by_length);
        let large_first = self.first_fit_of(&by_surface);
        if large_first.len() < long_first.len() {
            large_first
        } else {
            long_first
        }
    }

    fn first_fit_of(&mut self, order: &[usize]) -> Vec<Vec<usize>> {
        let mut plates: Vec<Vec<usize>> = vec![];
        for &item in order {
            let room = plates
                .iter()
                .position(|plate| self.share(plate.iter().copied().chain([item])));
            match room {
                Some(p) => plates[p].push(item),
                None => plates.push(vec![item]),
            }
        }
        plates
    }

    /// The same rectangles on one plate less, if that is found before `tries` are used up.
    fn with_one_less(&mut self, plates: &[Vec<usize>], tries: &mut u32) -> Option<Vec<Vec<usize>>> {
        let mut plates = plates.to_vec();
        let surface =
            |plate: &Vec<usize>| -> f64 { plate.iter().map(|&i| self.items[i].surface()).sum() };
        let emptiest = (0..plates.len())
            .min_by(|&a, &b| surface(&plates[a]).total_cmp(&surface(&plates[b])))?;
        let mut loose = plates.remove(emptiest);
        let mut hardness = vec![1u32; self.items.len()];
        while let Some(item) = loose.pop() {
            *tries = tries.checked_sub(1)?;
            let room = plates
                .iter()
                .position(|plate| self.share(plate.iter().copied().chain([item])));
            if let Some(p) = room {
                plates[p].push(item);
                continue;
            }
            hardness[item] += 1;
            match self.push(&plates, &hardness, item) {
                Some(Push { plate, out, .. }) => {
                    plates[plate].retain(|i| !out.contains(i));
                    plates[plate].push(item);
                    loose.push(out[0]);
                    if out[1] != out[0] {
                        loose.push(out[1]);
                    }
                }
                None => loose.insert(0, item),
            }
            for _ in 0..EXCHANGES {
                self.exchange(&mut plates);
            }
        }
        Some(plates)
    }

    /// The easiest one or two to push out of a plate so that `item` finds room there.
    fn push(&mut self, plates: &[Vec<usize>], hardness: &[u32], item: usize) -> Option<Push> {
        let mut pushes = vec![];
        for (p, plate) in plates.iter().enumerate() {
            for (at, &one) in plate.iter().enumerate() {
                for &other in &plate[at..] {
                    let out = if one == other {
                        &plate[at..=at]
                    } else {
                        &[one, other][..]
                    };
                    pushes.push(Push {
                        hardness: out.iter().map(|&i| hardness[i]).sum(),
                        surface: out.iter().map(|&i| self.items[i].surface()).sum(),
                        plate: p,
                        out: [one, other],
                    });
                }
            }
        }
        // Among equals chance decides.
        pushes.shuffle(&mut self.random);
        pushes.sort_by(|a, b| {
            let easier = a.hardness.cmp(&b.hardness);
            easier.then(a.surface.total_cmp(&b.surface))
        });
        pushes.into_iter().take(PUSHES).find(|push| {
            let stay = plates[push.plate].iter().copied();
            self.share(stay.filter(|i| !push.out.contains(i)).chain([item]))
        })
    }

    /// Exchanges two rectangles between two plates, if both plates can take that.
    fn exchange(&mut self, plates: &mut [Vec<usize>]) {
        if plates.len() < 2 {
            return;
        }
        let a = self.random.random_range(0..plates.len());
        let b = self.random.random_range(0..plates.len());
        // No plate is empty: each push leaves the newcomer there.
        let i = self.random.random_range(0..plates[a].len());
        let j = self.random.random_range(0..plates[b].len());
        let (from_a, from_b) = (plates[a][i], plates[b][j]);
        if a == b || self.kinds[from_a] == self.kinds[from_b] {
            return;
        }
        let swapped = |plate: &[usize], out: usize, new: usize| -> Vec<usize> {
            plate
                .iter()
                .map(|&k| if k == out { new } else { k })
                .collect()
        };
        let new_a = swapped(&plates[a], from_a, from_b);
        let new_b = swapped(&plates[b], from_b, from_a);
        if self.share(new_a.iter().copied()) && self.share(new_b.iter().copied()) {
            plates[a] = new_a;
            plates[b] = new_b;
        }
    }
}
