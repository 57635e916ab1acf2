//! Joins run sheets of several queues: the pool becomes columns of the master, its choice becomes a queue again.
//!
//! Knows: the shop, snapshots, the master. Must not know: moves, temperatures, solvers.
//! Promises: what comes back makes every piece exactly once, is dated afresh by the calendar and costs less than the
//! incumbent; otherwise nothing comes back.

use std::collections::HashMap;

use crate::calendar::Minute;
use crate::model::master::{
    Assembly, Column, Effort, Incumbent, MasterProblem, Part, Route, recombine,
};
use crate::search::fitter::Fitter;
use crate::search::plate::{Fit, Load, PlateStore};
use crate::search::portfolio::PooledSheet;
use crate::search::shop::{EMPTY, ItemId, NOWHERE, Shop};
use crate::search::snapshot::{SavedRun, Snapshot};
use crate::search::state::State;

/// Columns that the integer master sees, and nodes that it may look at.
const EFFORT: Effort = Effort {
    columns: 160,
    nodes: 60,
};

/// Kinds of piece beyond which the integer master is not asked: on pools of real searches it then took seconds and found
/// nothing (400 kinds on 12 machines: 2 s and none in nine tries; 150 on 8: 0.5 s and 0.02 of 318 once).
const MOST_KINDS: usize = 250;

/// A cheaper queue from the pool's sheets; `None` if the master finds none, or dating it afresh does not bear it out.
pub fn join(shop: &Shop, best: &Snapshot, pool: &[PooledSheet]) -> Option<Snapshot> {
    if shop.items.len() > MOST_KINDS {
        return None;
    }
    let mut costing = Costing::new(shop);
    let mut sheets: Vec<PooledSheet> = best
        .sheets
        .iter()
        .enumerate()
        .map(|(machine, sheet)| (machine, sheet.clone()))
        .collect();
    sheets.extend(pool.iter().cloned());
    let mut problem = problem(shop);
    for (machine, sheet) in &sheets {
        problem.columns.push(costing.column(*machine, sheet)?);
    }
    for machine in 0..shop.machines.len() {
        sheets.push((machine, Vec::new().into()));
        problem.columns.push(Column::empty(machine));
    }
    let incumbent = Incumbent {
        columns: (0..shop.machines.len()).collect(),
        routes: leaders(shop)
            .map(|leader| best.copies[leader as usize])
            .collect(),
    };
    let chosen = recombine(&problem, &incumbent, EFFORT)?;
    if chosen.columns == incumbent.columns {
        return None;
    }
    let mut copies = vec![0; shop.items.len()];
    for (leader, &number) in leaders(shop).zip(&chosen.routes) {
        for item in shop.team(leader) {
            copies[item as usize] = number;
        }
    }
    let picked: Vec<&[SavedRun]> = chosen
        .columns
        .iter()
        .map(|&column| sheets[column].1.as_slice())
        .collect();
    let state = State::of_sheets(
        shop,
        &mut costing.fitter,
        &without_surplus(shop, &picked, &copies),
        &copies,
    )?;
    (state.cost() < best.cost()).then(|| Snapshot::of(&state))
}

/// The leading items, in order: one for each class and form.
fn leaders(shop: &Shop) -> impl Iterator<Item = ItemId> + '_ {
    let numbered = (0..).zip(&shop.items);
    numbered
        .filter(|(id, item)| item.leader == *id)
        .map(|(id, _)| id)
}

/// The master without its columns: classes of copies are its parts, their forms its routes, items its kinds.
fn problem(shop: &Shop) -> MasterProblem {
    // Spares wait for nothing, so their nodes are none of the master's.
    let real: Vec<usize> = (0..shop.nodes.len())
        .filter(|&n| shop.nodes[n].assembly.is_some())
        .collect();
    debug_assert!(
        real.iter().enumerate().all(|(i, &n)| i == n),
        "spares come last"
    );
    MasterProblem {
        machines: (0..shop.machines.len()).map(|m| format!("{m}")).collect(),
        kinds: (0..shop.items.len()).map(|i| format!("{i}")).collect(),
        parts: shop
            .classes
            .iter()
            .enumerate()
            .map(|(c, class)| Part {
                name: format!("{c}"),
                copies: class.copies,
            })
            .collect(),
        routes: leaders(shop)
            .map(|leader| {
                let item = &shop.items[leader as usize];
                let class = &shop.classes[item.class as usize];
                let bench = f64::from(item.glue) + class.finishing / 60.0 * f64::from(item.lengths);
                let each = |item: ItemId| (item as usize, shop.items[item as usize].each);
                Route {
                    part: item.class as usize,
                    cost: item.hardware + bench * shop.bench_minute,
                    pieces: shop.team(leader).map(each).collect(),
                }
            })
            .collect(),
        assemblies: real
            .iter()
            .map(|&n| {
                let node = &shop.nodes[n];
                let due = (node.due != Minute::MAX).then_some(node.due);
                Assembly {
                    name: format!("{n}"),
                    needs: node.needs.iter().map(|&b| b as usize).collect(),
                    work: shop.least_node_minutes(n) + node.cure,
                    bench: shop.least_node_minutes(n),
                    due,
                    late_per_day: node.late * 1440.0,
                }
            })
            .collect(),
        each_day: shop.each_minute * 1440.0,
        windows: shop
            .calendar
            .windows()
            .iter()
            .map(|w| shop.hands.map(|h| w.length().saturating_mul(h as Minute)))
            .collect(),
        columns: Vec::new(),
    }
}

/// Adds up what sheets cost by themselves.
struct Costing<'a> {
    shop: &'a Shop,
    plates: PlateStore,
    fitter: Fitter,
}

impl<'a> Costing<'a> {
    fn new(shop: &'a Shop) -> Self {
        Self {
            shop,
            plates: PlateStore::new(shop.machines.len()),
            fitter: Fitter::default(),
        }
    }

    fn column(&mut self, machine: usize, sheet: &[SavedRun]) -> Option<Column> {
        let shop = self.shop;
        let m = &shop.machines[machine];
        let mut column = Column::empty(machine);
        let mut yields: HashMap<u32, u32> = HashMap::new();
        let mut last: HashMap<u32, Minute> = HashMap::new();
        let mut loaded = m.loaded;
        for run in sheet {
            let plate = self.plates.make(shop, &run.loads)?;
            let fit = self.plates.fit(shop, &mut self.fitter, plate, machine);
            let filament = self.plates.get(plate).filament;
            self.plates.release(plate);
            let Fit::Yes { cost, .. } = fit else {
                return None;
            };
            column.cost += cost + f64::from(run.date.start - run.date.setup) * shop.bench_minute;
            if filament != loaded {
                column.cost += m.purge[filament as usize];
            }
            loaded = filament;
            if let Some((window, span)) = run.date.setup_span() {
                column.setups.push((window, span.length()));
            }
            for load in run.loads.iter() {
                let item = &shop.items[load.item as usize];
                *yields.entry(load.item).or_default() += load.count;
                let node = shop.classes[item.class as usize].node;
                if node != NOWHERE && shop.nodes[node as usize].assembly.is_some() {
                    let usable = run.date.end
                        + if item.lengths > 1 {
                            item.glue + item.cure
                        } else {
                            0
                        };
                    let entry = last.entry(node).or_default();
                    *entry = usable.max(*entry);
                }
            }
        }
        debug_assert!(loaded != EMPTY || sheet.is_empty());
        column.yields = yields.into_iter().map(|(i, n)| (i as usize, n)).collect();
        column.yields.sort_unstable();
        column.last = last.into_iter().map(|(n, t)| (n as usize, t)).collect();
        column.last.sort_unstable();
        Some(column)
    }
}

/// The chosen sheets' loads with pieces beyond the demand taken off, from the runs that end last.
fn without_surplus(shop: &Shop, sheets: &[&[SavedRun]], copies: &[u32]) -> Vec<Vec<Vec<Load>>> {
    let mut loads: Vec<Vec<Vec<Load>>> = sheets
        .iter()
        .map(|sheet| sheet.iter().map(|run| run.loads.to_vec()).collect())
        .collect();
    let mut surplus: Vec<i64> = vec![0; shop.items.len()];
    for load in loads.iter().flatten().flatten() {
        surplus[load.item as usize] += i64::from(load.count);
    }
    for (item, extra) in surplus.iter_mut().enumerate() {
        *extra -= i64::from(copies[item] * shop.items[item].each);
    }
    let mut latest: Vec<(Minute, usize, usize)> = sheets
        .iter()
        .enumerate()
        .flat_map(|(m, sheet)| {
            sheet
                .iter()
                .enumerate()
                .map(move |(i, run)| (run.date.end, m, i))
        })
        .collect();
    latest.sort_unstable_by(|a, b| b.cmp(a));
    for (_, machine, run) in latest {
        for load in &mut loads[machine][run] {
            let off = surplus[load.item as usize].clamp(0, i64::from(load.count));
            surplus[load.item as usize] -= off;
            load.count -= off as u32;
        }
        loads[machine][run].retain(|load| load.count > 0);
    }
    for sheet in &mut loads {
        sheet.retain(|run| !run.is_empty());
    }
    loads
}
