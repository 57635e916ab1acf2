//! What no plan can beat: the relaxation over pieces always, column generation where the runs are packed by rule.
//!
//! Knows: the shop, the two bounds of `model`. Must not know: how the plan was found.
//! Promises: the bound is at most the decided cost of every plan of the scenario.

use std::time::{Duration, Instant};

use crate::calendar::Minute;
use crate::model::columns::{Known, prove};
use crate::model::packed::{PackedMachine, PackedNode, PackedRun, PackedShop};
use crate::model::relaxation::{self, RelaxationBound};
use crate::plan::Plan;
use crate::routes::PartRoutes;
use crate::scenario::Scenario;
use crate::search::apart::{Part, parts, together};
use crate::search::fitter::Fitter;
use crate::search::plate::{Fit, Load, PlateStore};
use crate::search::portfolio::{PooledSheet, Watch};
use crate::search::shop::{EMPTY, ItemId, Shop};
use crate::search::snapshot::Snapshot;
use crate::search::state::State;
use crate::units::{Minutes, Money};

use super::finish::Ground;

/// How long a proof may take; no time at all leaves the relaxation over pieces.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Patience {
    /// Some seconds at most: a few rounds of pricing where the runs are few, none where they are many; reproducible.
    Usual,
    /// So many rounds of pricing; reproducible.
    Rounds(usize),
    /// So much time.
    Time(Duration),
}

impl Patience {
    /// Rounds of pricing for so many runs, or the clock's span.
    fn for_runs(self, runs: usize) -> Self {
        match self {
            // What the search may have proved already is proved again: both must come to the same end.
            Self::Usual if runs <= SMALL => Self::Rounds(SMALL_ROUNDS),
            Self::Usual if runs <= FEW_OF_MANY => Self::Rounds(2 * SMALL_ROUNDS / 3),
            Self::Usual if runs <= FEW => Self::Rounds(USUAL_ROUNDS),
            Self::Usual => Self::Rounds(0),
            given => given,
        }
    }

    /// Whether there is none: even the first round needs columns, which take time and memory on a large farm.
    fn is_over(self) -> bool {
        self == Self::Rounds(0) || self == Self::Time(Duration::ZERO)
    }
}

/// What has been proved of a plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Proved {
    /// No plan decides less than this.
    pub bound: Money,
    /// Whether the plan is proven best.
    pub optimal: bool,
    /// A cheaper queue that the proof came upon.
    pub better: Option<Snapshot>,
}

/// What is known before a plan is there, and who may end a proof.
pub struct Beforehand<'a> {
    /// The relaxation over pieces: no plan decides less.
    pub relaxed: Money,
    /// Who may end it.
    pub watch: &'a dyn Watch,
}

/// Whether a run is printing on a belt, so that the next one there may need no setup.
pub fn goes_on(shop: &Shop) -> bool {
    shop.machines
        .iter()
        .any(|machine| machine.printing.is_some())
}

/// The relaxation over pieces: no plan of what is left decides less.
///
/// Where a run is printing on a belt, what follows it there may need no setup, and may begin with nobody there, which no row
/// knows of. Then setups of such belts are free and no day is charged. Valid: of the costs of any plan that leaves out lateness, the
/// time until the end and some setups, and what is left is at least what is left of the cheapest such plan without those rules; no row is
/// about dates where no day costs anything.
pub fn relaxed(left: &Scenario, shop: &Shop, routes: &[PartRoutes]) -> RelaxationBound {
    if !goes_on(shop) {
        return relaxation::bound(left, &shop.calendar, routes);
    }
    let mut eased = left.clone();
    for (machine, facts) in eased.machines.iter_mut().zip(&shop.machines) {
        if facts.printing.is_some() {
            machine.turnaround = Minutes::ZERO;
        }
    }
    eased.build.each_day = Money::ZERO;
    for assembly in &mut eased.assemblies {
        assembly.late = Money::ZERO;
    }
    relaxation::bound(&eased, &shop.calendar, routes)
}

/// The best bound that is to be had with this patience.
pub fn bound(
    ground: &Ground,
    plan: &Plan,
    queue: &Snapshot,
    pool: &[PooledSheet],
    patience: Patience,
    known: &Beforehand,
) -> Proved {
    let mut proved = Proved {
        bound: known.relaxed,
        optimal: false,
        better: None,
    };
    let shop = ground.shop;
    let parts = parts(shop);
    let proof = if parts.is_empty() {
        prove_whole(shop, queue, pool, patience, known.watch)
    } else {
        prove_each(shop, &parts, queue, pool, patience, known.watch)
    };
    if let Some(proof) = proof {
        proved.bound.0 = proved.bound.0.max(plan.decided.0 - proof.at_most_saved);
        // With hands unlimited and filament for all, the packed shop is the shop; otherwise only the bound itself can tell:
        // what waits for hands or filament is later, never earlier.
        let alike = !shop.contended() && shop.holds.is_empty();
        proved.optimal = proof.optimal && proof.better.is_none() && alike;
        proved.better = proof
            .better
            .filter(|better| alike && better.cost() < queue.cost());
    }
    // Sums of many terms: what exceeds the plan by rounding is the plan's own cost.
    if proved.bound.0 > plan.decided.0 - 1e-6 * (1.0 + plan.decided.0.abs()) || proved.optimal {
        proved.bound = plan.decided;
        proved.optimal = true;
    }
    proved
}

/// What column generation has shown of a queue.
struct ProofOfQueue {
    /// Money: no queue of the shop costs less than this one by more.
    at_most_saved: f64,
    /// Whether nothing cheaper than the queue, or than `better`, is left.
    optimal: bool,
    /// A cheaper queue, hands not heeded.
    better: Option<Snapshot>,
}

/// A proof over a whole shop; `None` where its runs are not packed by rule, or there is no patience for so many.
fn prove_whole(
    shop: &Shop,
    queue: &Snapshot,
    pool: &[PooledSheet],
    patience: Patience,
    watch: &dyn Watch,
) -> Option<ProofOfQueue> {
    let packed = Packed::of(shop)?;
    let patience = patience.for_runs(packed.shop.runs.len());
    if patience.is_over() {
        return None;
    }
    let sheets = packed.sheets(queue, pool);
    let begun = Instant::now();
    let cost = packed.cost_of(queue.cost(), shop);
    let known = Known {
        cost,
        sheets: &sheets,
    };
    let proof = prove(&packed.shop, &known, |progress| match patience {
        _ if watch.stop() => false,
        Patience::Usual => false,
        Patience::Rounds(most) => progress.iterations < most,
        Patience::Time(most) => begun.elapsed() < most,
    });
    let better = proof
        .best
        .and_then(|(_, sheets)| packed.queue(shop, &sheets, &queue.copies));
    Some(ProofOfQueue {
        at_most_saved: cost - proof.bound,
        optimal: proof.optimal,
        better,
    })
}

/// A proof part by part. What a plan of the whole costs less than the queue, it costs less in the parts, so the sum of what
/// can be saved in each bounds what can be saved at all; a tree for each part is far smaller than one for all.
fn prove_each(
    shop: &Shop,
    parts: &[Part],
    queue: &Snapshot,
    pool: &[PooledSheet],
    patience: Patience,
    watch: &dyn Watch,
) -> Option<ProofOfQueue> {
    let begun = Instant::now();
    let runs: Vec<usize> = parts.iter().map(|part| wanted(&part.shop)).collect();
    let many = runs.iter().sum::<usize>() > FEW;
    let mut sum = ProofOfQueue {
        at_most_saved: 0.0,
        optimal: true,
        better: None,
    };
    let mut queues: Vec<Snapshot> = parts.iter().map(|part| part.share_of(queue)).collect();
    let mut bettered = false;
    for (at, part) in parts.iter().enumerate() {
        let patience = match patience {
            Patience::Usual if many && runs[at] > FEW_OF_MANY => return None,
            Patience::Time(total) => {
                let of_rest = runs[at] as f64 / runs[at..].iter().sum::<usize>() as f64;
                Patience::Time(total.saturating_sub(begun.elapsed()).mul_f64(of_rest))
            }
            given => given,
        };
        let own = part.sheets_of(pool);
        let proof = prove_whole(&part.shop, &queues[at], &own, patience, watch)?;
        sum.at_most_saved += proof.at_most_saved;
        sum.optimal &= proof.optimal;
        if let Some(better) = proof.better {
            queues[at] = better;
            bettered = true;
        }
    }
    if bettered {
        sum.better = together(shop, &parts.iter().zip(&queues).collect::<Vec<_>>());
    }
    Some(sum)
}

/// Copies that are to be made.
fn wanted(shop: &Shop) -> usize {
    shop.classes.iter().map(|c| c.copies as usize).sum()
}

/// Whether the usual proof is more than the relaxation: few runs, each packed by rule.
pub fn has_usual_proof(shop: &Shop) -> bool {
    let few = wanted(shop) <= FEW || {
        let parts = parts(shop);
        !parts.is_empty() && parts.iter().all(|part| wanted(&part.shop) <= FEW_OF_MANY)
    };
    few && Packed::of(shop).is_some()
}

/// Whether a queue is proven best, where that takes little: few runs, each packed by rule.
pub fn proves_small(shop: &Shop, queue: &Snapshot, pool: &[PooledSheet]) -> bool {
    if wanted(shop) > SMALL {
        return false;
    }
    let Some(packed) = Packed::of(shop) else {
        return false;
    };
    let sheets = packed.sheets(queue, pool);
    let known = Known {
        cost: packed.cost_of(queue.cost(), shop),
        sheets: &sheets,
    };
    let proof = prove(&packed.shop, &known, |progress| {
        progress.iterations < SMALL_ROUNDS
    });
    proof.optimal && proof.best.is_none()
}

/// Runs for which a proof is tried during the search, and how many rounds of pricing it may take.
const SMALL: usize = 12;
/// Runs up to which a plan comes with a short proof, and its rounds; beyond, a round takes seconds and gigabytes.
const FEW: usize = 80;
/// The same for each part of a farm that is several farms, with more than so many in all.
const FEW_OF_MANY: usize = 2 * SMALL;
const USUAL_ROUNDS: usize = 100;
const SMALL_ROUNDS: usize = 1000;

/// A shop in which every copy is a run of its own by rule, so that packing is no choice.
struct Packed {
    shop: PackedShop,
    /// First run of each item.
    first: Vec<usize>,
    copies: Vec<u32>,
}

impl Packed {
    /// `None` where pieces may share a plate, a part may be divided, or runs wait for approvals.
    fn of(shop: &Shop) -> Option<Self> {
        let by_rule = shop.items.iter().all(|i| i.alone && i.lengths == 1)
            && shop.classes.iter().all(|c| c.items.len() == 1)
            && shop.trials.is_empty();
        if !by_rule {
            return None;
        }
        let machines = shop
            .machines
            .iter()
            .map(|m| PackedMachine {
                turnaround: m.turnaround,
                swap: m.swap,
                loaded: (m.loaded != EMPTY).then_some(m.loaded as usize),
                change_cost: m.purge.clone(),
                setup_minute: shop.bench_minute,
                outages: m.outages.clone(),
                unattended: m.unattended,
                belt: m.belt,
            })
            .collect();
        let real = shop.nodes.iter().enumerate();
        let nodes: Vec<PackedNode> = real
            .filter(|(_, node)| node.assembly.is_some())
            .map(|(n, node)| PackedNode {
                needs: node.needs.iter().map(|&n| n as usize).collect(),
                work: shop.least_node_minutes(n),
                cure: node.cure,
                due: (node.due != Minute::MAX).then_some(node.due),
                late: node.late * 1440.0,
            })
            .collect();
        let mut plates = PlateStore::new(shop.machines.len());
        let mut fitter = Fitter::default();
        let (mut runs, mut first, mut copies) = (Vec::new(), Vec::new(), Vec::new());
        for (id, item) in shop.items.iter().enumerate() {
            let class = &shop.classes[item.class as usize];
            let load = Load {
                item: id as ItemId,
                count: 1,
            };
            let plate = plates.make(shop, &[load])?;
            let on = (0..shop.machines.len())
                .map(|m| match plates.fit(shop, &mut fitter, plate, m) {
                    Fit::Yes { minutes, cost, .. } => Some((minutes, cost)),
                    Fit::No | Fit::Unknown => None,
                })
                .collect::<Vec<_>>();
            let feeds = Some(class.node as usize).filter(|&n| n < nodes.len());
            first.push(runs.len());
            copies.push(class.copies);
            for _ in 0..class.copies {
                runs.push(PackedRun {
                    colour: item.filament as usize,
                    ready: class.ready,
                    on: on.clone(),
                    feeds: feeds.into_iter().collect(),
                });
            }
        }
        Some(Self {
            shop: PackedShop {
                windows: shop.calendar.windows().to_vec(),
                machines,
                runs,
                nodes,
                each_day: shop.each_minute * 1440.0,
            },
            first,
            copies,
        })
    }

    /// The part of a queue's cost that the packed shop counts: all but the bench minutes of finishing and assembly.
    fn cost_of(&self, cost: f64, shop: &Shop) -> f64 {
        let nodes = 0..shop.nodes.len();
        let minutes: i64 = nodes.map(|n| i64::from(shop.least_node_minutes(n))).sum();
        cost - minutes as f64 * shop.bench_minute
    }

    /// The queue of sheets given as lists of runs.
    fn queue(&self, shop: &Shop, sheets: &[Vec<usize>], copies: &[u32]) -> Option<Snapshot> {
        let loads: Vec<Vec<Vec<Load>>> = sheets
            .iter()
            .map(|runs| {
                runs.iter()
                    .map(|&run| {
                        let item = self.first.partition_point(|&first| first <= run) - 1;
                        vec![Load {
                            item: item as ItemId,
                            count: 1,
                        }]
                    })
                    .collect()
            })
            .collect();
        let state = State::of_sheets(shop, &mut Fitter::default(), &loads, copies)?;
        Some(Snapshot::of(&state))
    }

    /// Sheets as lists of runs; of like copies each sheet takes the next that its queue has left, or any.
    fn sheets(&self, queue: &Snapshot, pool: &[PooledSheet]) -> Vec<(usize, Vec<usize>)> {
        let mut taken = vec![0; self.first.len()];
        let own = queue.sheets.iter().cloned().enumerate().map(|s| (true, s));
        let others = pool.iter().cloned().map(|s| (false, s));
        own.chain(others)
            .map(|(own, (machine, sheet))| {
                if !own {
                    taken.fill(0);
                }
                let runs = sheet
                    .iter()
                    .flat_map(|run| run.loads.iter())
                    .map(|load| {
                        let item = load.item as usize;
                        let run = self.first[item] + taken[item] % self.copies[item] as usize;
                        taken[item] += 1;
                        run
                    })
                    .collect();
                (machine, runs)
            })
            .collect()
    }
}
