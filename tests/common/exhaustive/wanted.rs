//! What must be made: copies that are alike, how each may be divided, and who waits for it.

use beamyard::graph::Network;
use beamyard::scenario::{Scenario, precedence};

use super::clock::{Clock, Minute};

/// Copies of a part that are alike in every way.
pub struct Copies {
    pub part: usize,
    /// Position in [`Wanted::tasks`] of what takes them.
    pub taker: usize,
    pub count: u32,
    /// Part of the trial that the part's other copies wait for.
    pub trial: bool,
    /// Wait for the part's trial.
    pub waits: bool,
}

/// An assembly, or the finishing of one part's spares.
pub struct Task {
    /// `None`: spares.
    pub assembly: Option<usize>,
    /// Tasks that must be complete first.
    pub needs: Vec<usize>,
    /// The smaller the more urgent.
    pub rank: usize,
}

/// All that is wanted.
pub struct Wanted {
    pub copies: Vec<Copies>,
    pub tasks: Vec<Task>,
    /// For each of `copies`, the numbers of lengths that are allowed.
    lengths: Vec<Vec<u32>>,
}

/// For each of [`Wanted::copies`]: so many copies in so many lengths.
pub type Division = Vec<Vec<(u32, u32)>>;

impl Wanted {
    pub fn of(shop: &Scenario, clock: &Clock) -> Self {
        let ranks = ranks(shop, clock);
        let mut tasks: Vec<Task> = shop
            .assemblies
            .iter()
            .enumerate()
            .map(|(at, assembly)| Task {
                assembly: Some(at),
                needs: assembly.needs.iter().map(|need| need.0).collect(),
                rank: ranks[at],
            })
            .collect();
        let mut copies = Vec::new();
        for (at, part) in shop.parts.iter().enumerate() {
            let mut takers: Vec<(usize, u32)> = Vec::new();
            for (taker, assembly) in shop.assemblies.iter().enumerate() {
                let taken = assembly.parts.iter().filter(|(p, _)| p.0 == at);
                takers.extend(taken.map(|&(_, count)| (taker, count)));
            }
            takers.sort_by_key(|&(taker, _)| ranks[taker]);
            let taken: u32 = takers.iter().map(|&(_, count)| count).sum();
            if part.copies() > taken {
                takers.push((tasks.len(), part.copies() - taken));
                tasks.push(Task {
                    assembly: None,
                    needs: Vec::new(),
                    // After every assembly.
                    rank: tasks.len(),
                });
            }
            // Whoever is most urgent gets the trial copies. A trial of all copies holds nothing back.
            let waits = part.trial > 0 && part.trial < part.copies();
            let mut trial = if waits { part.trial } else { 0 };
            for (taker, count) in takers {
                let first = trial.min(count);
                trial -= first;
                for (count, trial) in [(first, true), (count - first, false)] {
                    if count > 0 {
                        copies.push(Copies {
                            part: at,
                            taker,
                            count,
                            trial,
                            waits: waits && !trial,
                        });
                    }
                }
            }
        }
        let lengths = copies.iter().map(|c| lengths(shop, c.part)).collect();
        Self {
            copies,
            tasks,
            lengths,
        }
    }

    /// Every way to divide all copies.
    pub fn divisions(&self) -> Vec<Division> {
        let mut all: Vec<Division> = vec![Vec::new()];
        for (copies, lengths) in self.copies.iter().zip(&self.lengths) {
            let shares = shares(copies.count, lengths);
            all = all
                .iter()
                .flat_map(|head| {
                    shares.iter().map(|share| {
                        let mut longer = head.clone();
                        longer.push(share.clone());
                        longer
                    })
                })
                .collect();
        }
        all
    }
}

/// Numbers of lengths that a part may be made in: its joint's shortest is kept.
fn lengths(shop: &Scenario, part: usize) -> Vec<u32> {
    let part = &shop.parts[part];
    let longest = part.size.iter().map(|side| side.0).fold(0.0, f64::max);
    let mut lengths = vec![1];
    if let Some(split) = &part.split {
        let shortest = shop.joints[split.joint.0].shortest.0;
        let allowed = |n: &u32| longest / f64::from(*n) >= shortest - 1e-6;
        lengths.extend(split.into.clone().filter(allowed));
    }
    lengths
}

/// Every way to share `count` copies among the numbers of lengths.
fn shares(count: u32, lengths: &[u32]) -> Vec<Vec<(u32, u32)>> {
    let Some((&first, rest)) = lengths.split_first() else {
        return if count == 0 {
            vec![Vec::new()]
        } else {
            Vec::new()
        };
    };
    (0..=count)
        .flat_map(|here| {
            shares(count - here, rest).into_iter().map(move |mut more| {
                more.insert(0, (here, first));
                more
            })
        })
        .collect()
}

/// Urgency of each assembly: the latest moment at which it may be complete for every stage after it to be in time.
fn ranks(shop: &Scenario, clock: &Clock) -> Vec<usize> {
    let count = shop.assemblies.len();
    let never = i64::from(i32::MAX);
    let mut latest: Vec<Minute> = shop
        .assemblies
        .iter()
        .map(|assembly| assembly.due.map_or(never, |due| clock.minute(due)))
        .collect();
    let network = Network::new(count, &precedence(&shop.assemblies)).expect("needs has no ring");
    for &at in network.order().iter().rev() {
        let assembly = &shop.assemblies[at];
        for need in &assembly.needs {
            let before = latest[at] - assembly.bench.0 - assembly.cure.0;
            latest[need.0] = latest[need.0].min(before);
        }
    }
    let mut order = network.order().to_vec();
    order.sort_by_key(|&at| latest[at]);
    (0..count)
        .map(|at| {
            order
                .iter()
                .position(|&other| other == at)
                .expect("all are there")
        })
        .collect()
}
