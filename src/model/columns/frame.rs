//! The shop laid out for pricing: clocks, fares, ladders; and the columns that live on it.
//!
//! Knows: dating, goals, ladders. Must not know: prices, the LP, branching.
//! Promises: a column's ends and money are those of its earliest dates.

use std::ops::Range;

use super::super::packed::PackedShop;
use super::dating::{Change, Track, latest_end};
use super::domain::Domain;
use super::goals::Goals;
use super::ladder::{Ladder, Reach, reaches};
use super::pricing::Fare;
use crate::calendar::Minute;

/// Two years. Where a run waits for hours that come once a year, or hardly anything costs money for being late, plans may
/// last as long as the calendar, and clocks laid out for that take minutes to make.
const LONGEST: Minute = 2 * 365 * 1440;

/// The shop as pricing sees it.
#[derive(Debug)]
pub struct Frame<'a> {
    /// The shop.
    pub shop: &'a PackedShop,
    /// What costs money when it is late.
    pub goals: Goals<'a>,
    /// The cells of each goal.
    pub ladders: Vec<Ladder>,
    /// For each run the goals above it and how it reaches them.
    pub above: Vec<Vec<Above>>,
    /// Number of the first late row of each goal, and of all rows.
    first_row: Vec<usize>,
    /// The machines' clocks.
    pub tracks: Vec<Track>,
    /// For each machine its runs.
    pub fares: Vec<Vec<Fare>>,
    /// Number of colours.
    pub colours: usize,
    /// The latest end that is looked at.
    pub horizon: Minute,
}

/// How far a column passes one row.
#[derive(Clone, Copy, Debug)]
pub struct Late {
    /// The row.
    pub row: usize,
    /// The part of the cell passed, 0 to 1.
    pub share: f64,
}

/// A goal above a run.
#[derive(Debug)]
pub struct Above {
    /// The goal.
    pub goal: usize,
    /// The run's place among the goal's runs.
    pub place: usize,
    /// How the run's end reaches it.
    pub reach: Reach,
}

/// A dated sheet of one machine.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// The machine.
    pub machine: usize,
    /// The runs in order; a relaxed column may hold one twice.
    pub runs: Vec<usize>,
    /// End of each.
    pub ends: Vec<Minute>,
    /// Money of runs and setups.
    pub cost: f64,
}

impl<'a> Frame<'a> {
    /// Lays the shop out for plans that cost less than `below`; `None` if some of them may last longer than is laid out
    /// minute by minute.
    pub fn new(shop: &'a PackedShop, below: f64, step: Minute) -> Option<Self> {
        let goals = Goals::new(shop);
        let colours = shop.runs.iter().map(|r| r.colour + 1).max().unwrap_or(1);
        let fares: Vec<Vec<Fare>> = (0..shop.machines.len()).map(|m| fares(shop, m)).collect();
        let cheapest = |r: usize| {
            let ways = fares.iter().flatten().filter(|f| f.run == r);
            ways.map(|f| f.cost[0].min(f.cost[1]))
                .fold(f64::INFINITY, f64::min)
        };
        let least: f64 = (0..shop.runs.len())
            .map(cheapest)
            .filter(|c| c.is_finite())
            .sum::<f64>()
            + goals.list.iter().map(|g| g.cost(g.floor)).sum::<f64>();
        // A plan below `below` has at most `below − least` left for one goal beyond its least cost.
        let last = (0..shop.machines.len())
            .map(|m| latest_end(shop, m))
            .max()
            .unwrap_or(0);
        let tops: Vec<Minute> = goals
            .list
            .iter()
            .map(|g| {
                let spare = (below - least).max(0.0) + g.cost(g.floor);
                let minutes = (spare / g.rate).ceil().min(f64::from(Minute::MAX / 4));
                let latest = g
                    .runs
                    .iter()
                    .map(|&r| goals.reach(g, r, last))
                    .max()
                    .unwrap_or(0)
                    .max(g.floor);
                g.due
                    .saturating_add(minutes as Minute)
                    .min(latest)
                    .max(g.due.max(g.floor))
            })
            .collect();
        let bound_by_goal = |r: usize| {
            let over = goals
                .list
                .iter()
                .zip(&tops)
                .filter(|(g, _)| g.runs.contains(&r));
            over.map(|(_, &top)| top).min().unwrap_or(last)
        };
        let horizon = (0..shop.runs.len())
            .map(bound_by_goal)
            .max()
            .unwrap_or(0)
            .min(last);
        if horizon > LONGEST {
            return None;
        }
        let ladders: Vec<Ladder> = goals
            .list
            .iter()
            .zip(&tops)
            .map(|(g, &top)| Ladder::new(g, top, step))
            .collect();
        let mut above: Vec<Vec<Above>> = shop.runs.iter().map(|_| Vec::new()).collect();
        for (goal, g) in goals.list.iter().enumerate() {
            let reaches = reaches(&goals, g, shop, horizon);
            for (place, (&run, reach)) in g.runs.iter().zip(reaches).enumerate() {
                above[run].push(Above { goal, place, reach });
            }
        }
        let mut first_row = vec![0];
        for (g, ladder) in goals.list.iter().zip(&ladders) {
            first_row.push(first_row[first_row.len() - 1] + g.runs.len() * ladder.cells());
        }
        let tracks = (0..shop.machines.len())
            .map(|m| Track::new(shop, m, horizon))
            .collect();
        Some(Self {
            shop,
            goals,
            ladders,
            above,
            first_row,
            tracks,
            fares,
            colours,
            horizon,
        })
    }

    /// The number of the row that ties a run (by its place) to a cell of a goal.
    pub fn row(&self, goal: usize, cell: usize, place: usize) -> usize {
        self.first_row[goal] + cell * self.goals.list[goal].runs.len() + place
    }

    /// The rows of one cell.
    pub fn rows_of(&self, goal: usize, cell: usize) -> Range<usize> {
        self.row(goal, cell, 0)..self.row(goal, cell + 1, 0)
    }

    /// Number of late rows.
    pub fn rows(&self) -> usize {
        self.first_row[self.first_row.len() - 1]
    }

    /// Calls `each` for every row that a column passes in the domain: the row and the share of its cell.
    pub fn passes(&self, domain: &Domain, column: &Column, mut each: impl FnMut(Late)) {
        for (&run, &end) in column.runs.iter().zip(&column.ends) {
            for above in &self.above[run] {
                let ladder = &self.ladders[above.goal];
                let (low, high) = domain.goals[above.goal];
                let completion = above.reach.at(end);
                for cell in low..high {
                    if ladder.points[cell] >= completion {
                        break;
                    }
                    let row = self.row(above.goal, cell, above.place);
                    each(Late {
                        row,
                        share: ladder.share(cell, completion),
                    });
                }
            }
        }
    }

    /// The column of a sheet; `None` where it cannot be dated up to the horizon.
    pub fn column(&self, machine: usize, runs: &[usize]) -> Option<Column> {
        let track = &self.tracks[machine];
        let mut loaded = self.shop.machines[machine].loaded;
        let (mut ends, mut cost) = (Vec::with_capacity(runs.len()), 0.0);
        let mut end: Option<Minute> = None;
        for &run in runs {
            let fare = self.fares[machine].iter().find(|f| f.run == run)?;
            let change = if loaded == Some(fare.colour) {
                Change::Same
            } else {
                Change::Swap
            };
            let next = match end {
                None => track.first_end(run)?,
                Some(end) => {
                    let slot = track.slot_at(end);
                    if slot == track.slots() {
                        return None;
                    }
                    track.end(slot, change, run)
                }
            };
            if next > self.horizon {
                return None;
            }
            cost += if end.is_none() {
                fare.first
            } else {
                fare.cost[change as usize]
            };
            loaded = Some(fare.colour);
            end = Some(next);
            ends.push(next);
        }
        Some(Column {
            machine,
            runs: runs.to_vec(),
            ends,
            cost,
        })
    }
}

fn fares(shop: &PackedShop, machine: usize) -> Vec<Fare> {
    let m = &shop.machines[machine];
    let setup = f64::from(m.turnaround) * m.setup_minute;
    let on = |run: usize| {
        let (_, money) = shop.runs[run].on.get(machine).copied().flatten()?;
        let colour = shop.runs[run].colour;
        let change = m.change_cost.get(colour).copied().unwrap_or(0.0);
        let same = if m.belt { money } else { money + setup };
        let swap = money + setup + f64::from(m.swap) * m.setup_minute + change;
        // On a belt, too, the first run is set up, whatever is loaded.
        let first = if m.loaded == Some(colour) {
            money + setup
        } else {
            swap
        };
        Some(Fare {
            run,
            colour,
            cost: [same, swap],
            first,
        })
    };
    (0..shop.runs.len()).filter_map(on).collect()
}
