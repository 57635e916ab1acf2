//! Every plan of tiny shops, made the slow and obvious way: the cheapest is never below the bound.
//!
//! A shop has one or two machines and up to four single pieces. A bed or a stretch of belt of 100 × 100 mm holds four quarters of 48 × 48
//! mm, or halves of 98 × 48 in place of two. A plan is an order of runs on each machine, each run as soon as it may; with hands
//! unlimited nothing is gained by waiting.

use proptest::prelude::*;

use super::super::{LADDER, LIMITS, Limits, bound_within};
use super::scenario;
use crate::calendar::Calendar;
use crate::routes::routes;
use crate::scenario::Scenario;

/// One piece of the shop.
#[derive(Clone, Debug)]
struct Piece {
    blue: bool,
    /// Takes two quarters of a bed.
    half: bool,
    /// Own printing minutes on each machine.
    minutes: [u32; 2],
    tall: bool,
    alone: bool,
    ready_hours: u32,
    /// Which of the two assemblies takes it; 2: none.
    assembly: usize,
}

/// What lies on a bed: a piece, or one of the two lengths of a half that was split.
#[derive(Clone, Debug)]
struct Item {
    piece: usize,
    lengths: u32,
}

#[derive(Clone, Debug)]
struct Shop {
    pieces: Vec<Piece>,
    machines: usize,
    second_is_belt: bool,
    unattended: [bool; 2],
    outage: bool,
    split_day: bool,
    each_day: u32,
    late: [u32; 2],
    due_hours: [u32; 2],
    bench: [u32; 2],
    cure: [u32; 2],
    /// A limit that nothing reaches: two setups, two assemblies and a gluing at once.
    many_hands: bool,
    /// The first piece, where it is a half, may be split into two quarters with a joint of so many minutes of glue and of cure.
    joint: Option<[u32; 2]>,
}

const WARM_UP: u32 = 4;
const TURNAROUND: u32 = 10;
const SWAP: u32 = 7;
const HOURLY: [f64; 2] = [0.6, 0.9];
const BENCH_HOUR: f64 = 12.0;
const PURGE_COST: f64 = 0.5;
/// 10 mm in layers of 0.2 mm at 6 s.
const LAYERS: f64 = 5.0;
/// Hardware of a joint.
const ROD: f64 = 0.3;

impl Shop {
    fn text(&self) -> String {
        let word = |allowed: bool| if allowed { "allowed" } else { "forbidden" };
        let hours = if self.split_day {
            r#"["07:00-10:00", "16:00-21:00"]"#
        } else {
            r#"["07:00-19:00"]"#
        };
        let hands = if self.many_hands { "5" } else { "unlimited" };
        let mut text = format!(
            "
build: {{name: tiny, start: 2027-01-04 06:00, timezone: UTC, each_day: {}}}
bench: {{hours: {{mon-sun: {hours}}}, hands: {hands}, bench_hour: {BENCH_HOUR}, energy_kwh: 0}}
machines:
",
            self.each_day
        );
        for (machine, hourly) in HOURLY.iter().enumerate().take(self.machines) {
            let kind = if machine == 1 && self.second_is_belt {
                "kind: belt, section: [100, 100], longest: 100, gap: 0"
            } else {
                "kind: bed, bed: [100, 100], height: 100"
            };
            let outage = if self.outage {
                "[{from: 2027-01-04 12:00, to: 2027-01-04 15:00, why: x}]"
            } else {
                "[]"
            };
            text += &format!(
                "  - {{id: m{machine}, {kind}, margin: 0, spacing: 2, nozzle: 0.4, flow: 10, layer_time: 6 s, materials: [PLA], loaded: red,
     warm_up: {WARM_UP} min, turnaround: {TURNAROUND} min, swap: {SWAP} min, purge: 10, watts: 0, hourly: {}, unattended: {}, offline: {outage}}}\n",
                hourly,
                word(self.unattended[machine]),
            );
        }
        text += "filaments:
  - {id: red, material: PLA, density: 1, price_kg: 50}
  - {id: blue, material: PLA, density: 1, price_kg: 50}
settings: {plain: {layer: 0.2, line: 0.45}}\n";
        let [glue, joint_cure] = self.joint.unwrap_or_default();
        text += &format!(
            "joints: {{rod: {{hardware: {{item: rod, g_per_mm: 0, price_per_mm: 0.01, length: 30}}, shortest: 20, bench: {glue} min, cure: {joint_cure} min}}}}
parts:\n"
        );
        for (index, piece) in self.pieces.iter().enumerate() {
            let minutes: Vec<String> = (0..self.machines)
                .filter(|_| piece.tall)
                .map(|m| format!("m{m}: {}", piece.minutes[m]))
                .collect();
            // A tall piece has measured minutes, which hold its layers; the others have 6 g a minute through a flow of 10 mm³/s.
            text += &format!(
                "  - {{id: p{index}, quantity: 1, size: [{}, 48, 10], lie: [z], filament: {}, settings: plain, finishing: 0 min, grams: {}, minutes: {{{}}}, alone: {}, split: {}, belt: allowed, ready: 2027-01-04 {:02}:00}}\n",
                if piece.half { 98 } else { 48 },
                if piece.blue { "blue" } else { "red" },
                f64::from(piece.minutes[0]) * 0.6,
                minutes.join(", "),
                piece.alone,
                if index == 0 && self.may_split() {
                    "{joint: rod, into: 2..2}"
                } else {
                    "never"
                },
                6 + piece.ready_hours,
            );
        }
        text += "assemblies:\n";
        for assembly in 0..2 {
            let parts: Vec<String> = (0..self.pieces.len())
                .filter(|&p| self.pieces[p].assembly == assembly)
                .map(|p| format!("p{p}: 1"))
                .collect();
            let due = self.due_hours[assembly];
            text += &format!(
                "  - {{id: a{assembly}, parts: {{{}}}, needs: [{}], bench: {} min, cure: {} min, due: 2027-01-{:02} {:02}:00, late: {}}}\n",
                parts.join(", "),
                if assembly == 1 { "a0" } else { "" },
                self.bench[assembly],
                self.cure[assembly],
                4 + (6 + due) / 24,
                (6 + due) % 24,
                self.late[assembly],
            );
        }
        text
    }

    /// Whether somebody is there; minutes from 06:00 of the first day.
    fn there(&self, minute: u32) -> bool {
        let hour = (minute / 60 + 6) % 24;
        if self.split_day {
            (7..10).contains(&hour) || (16..21).contains(&hour)
        } else {
            (7..19).contains(&hour)
        }
    }

    fn out(&self, minute: u32) -> bool {
        self.outage && (6 * 60..9 * 60).contains(&minute)
    }

    fn may_split(&self) -> bool {
        self.joint.is_some() && self.pieces[0].half
    }

    fn own(&self, item: &Item, machine: usize) -> f64 {
        let piece = &self.pieces[item.piece];
        let copy = if piece.tall {
            piece.minutes[machine]
        } else {
            piece.minutes[0]
        };
        f64::from(copy) / f64::from(item.lengths)
    }

    fn run_minutes(&self, run: &[Item], machine: usize) -> u32 {
        let own: f64 = run.iter().map(|item| self.own(item, machine)).sum();
        let layers = run.iter().map(|item| {
            if self.pieces[item.piece].tall {
                0.0
            } else {
                LAYERS
            }
        });
        (f64::from(WARM_UP) + own + layers.fold(0.0, f64::max)).ceil() as u32
    }

    fn may_share(&self, run: &[Item]) -> bool {
        let pieces = || run.iter().map(|item| &self.pieces[item.piece]);
        let quarters: u32 = run
            .iter()
            .map(|item| {
                if self.pieces[item.piece].half {
                    2 / item.lengths
                } else {
                    1
                }
            })
            .sum();
        run.len() == 1
            || (quarters <= 4
                && pieces().all(|piece| !piece.alone)
                && pieces().all(|piece| piece.blue == self.pieces[run[0].piece].blue))
    }

    /// Prints runs in order, each as soon as it may; returns money and, by piece, when it is printed.
    fn queue(&self, machine: usize, runs: &[Vec<Item>], printed: &mut [u32]) -> f64 {
        let belt = machine == 1 && self.second_is_belt;
        let (mut free, mut blue, mut cost, mut first) = (0, false, 0.0, true);
        for run in runs {
            let change = self.pieces[run[0].piece].blue != blue;
            blue = self.pieces[run[0].piece].blue;
            let minutes = self.run_minutes(run, machine);
            let ready = run
                .iter()
                .map(|p| self.pieces[p.piece].ready_hours * 60)
                .max()
                .unwrap_or(0);
            // A belt goes on by itself only the minute at which the run before ends.
            let at_once = ready <= free
                && (self.unattended[machine] || (free..free + minutes).all(|m| self.there(m)))
                && !(free..free + minutes).any(|m| self.out(m));
            let setup = match (belt && !first && !change && at_once, change) {
                (true, _) => 0,
                (false, true) => TURNAROUND + SWAP,
                (false, false) => TURNAROUND,
            };
            first = false;
            let may = |from: u32| {
                let (start, end) = (from + setup, from + setup + minutes);
                let attended = if self.unattended[machine] { start } else { end };
                start >= ready
                    && (from..attended).all(|m| self.there(m))
                    && !(from..end).any(|m| self.out(m))
            };
            // No run is so long that a week does not hold it, or none ever may.
            let Some(from) = (free..free + 10_080).find(|&from| may(from)) else {
                return f64::INFINITY;
            };
            free = from + setup + minutes;
            for item in run {
                printed[item.piece] = free.max(printed[item.piece]);
            }
            cost +=
                HOURLY[machine] * f64::from(minutes) / 60.0 + BENCH_HOUR * f64::from(setup) / 60.0;
            cost += if change { PURGE_COST } else { 0.0 };
        }
        cost
    }

    /// When so many minutes of bench work are done that begin no earlier than `from`.
    fn worked(&self, from: u32, mut minutes: u32) -> u32 {
        let mut at = from;
        while minutes > 0 {
            minutes -= u32::from(self.there(at));
            at += 1;
        }
        at
    }

    /// Money by the day, for gluing and for assembling, given when each piece (its last length) is printed.
    fn dated(&self, printed: &[u32], is_split: bool) -> f64 {
        let (mut before, mut cost) = (0, 0.0);
        let there: Vec<u32> = printed
            .iter()
            .enumerate()
            .map(|(piece, &printed)| match self.joint {
                Some([glue, cure]) if is_split && piece == 0 => self.worked(printed, glue) + cure,
                _ => printed,
            })
            .collect();
        if let (Some([glue, _]), true) = (self.joint, is_split) {
            cost += ROD + BENCH_HOUR * f64::from(glue) / 60.0;
        }
        for assembly in 0..2 {
            let pieces = (0..there.len()).filter(|&p| self.pieces[p].assembly == assembly);
            let start = pieces.map(|p| there[p]).max().unwrap_or(0).max(before);
            before = self.worked(start, self.bench[assembly]) + self.cure[assembly];
            let late = before.saturating_sub(self.due_hours[assembly] * 60);
            cost += f64::from(self.late[assembly]) * f64::from(late) / 1440.0
                + BENCH_HOUR * f64::from(self.bench[assembly]) / 60.0;
        }
        cost + f64::from(self.each_day) * f64::from(before) / 1440.0
    }

    fn cheapest(&self) -> f64 {
        let whole: Vec<Item> = (0..self.pieces.len())
            .map(|piece| Item { piece, lengths: 1 })
            .collect();
        let mut best = self.cheapest_of(&whole, false);
        if self.may_split() {
            let length = Item {
                piece: 0,
                lengths: 2,
            };
            let split = [&[length.clone(), length], &whole[1..]].concat();
            best = best.min(self.cheapest_of(&split, true));
        }
        best
    }

    fn cheapest_of(&self, items: &[Item], is_split: bool) -> f64 {
        let mut best = f64::INFINITY;
        for assignment in 0..self.machines.pow(items.len() as u32) {
            let on = |machine: usize| -> Vec<Item> {
                let here = |&(index, _): &(usize, &Item)| {
                    assignment / self.machines.pow(index as u32) % self.machines == machine
                };
                items
                    .iter()
                    .enumerate()
                    .filter(here)
                    .map(|(_, item)| item.clone())
                    .collect()
            };
            for first in orders(&on(0)) {
                for second in orders(&on(1)) {
                    if !first.iter().chain(&second).all(|run| self.may_share(run)) {
                        continue;
                    }
                    let mut printed = vec![0; self.pieces.len()];
                    let cost =
                        self.queue(0, &first, &mut printed) + self.queue(1, &second, &mut printed);
                    if cost.is_finite() {
                        best = best.min(cost + self.dated(&printed, is_split));
                    }
                }
            }
        }
        best
    }
}

/// All ways to put pieces on runs and these in order.
fn orders(items: &[Item]) -> Vec<Vec<Vec<Item>>> {
    let Some((last, rest)) = items.split_last() else {
        return vec![Vec::new()];
    };
    let mut all = Vec::new();
    for runs in orders(rest) {
        for place in 0..=runs.len() {
            let mut own = runs.clone();
            own.insert(place, vec![last.clone()]);
            all.push(own);
        }
        for place in 0..runs.len() {
            let mut joined = runs.clone();
            joined[place].push(last.clone());
            all.push(joined);
        }
    }
    all
}

fn pieces() -> impl Strategy<Value = Vec<Piece>> {
    let piece = (
        any::<bool>(),
        any::<bool>(),
        [20u32..400, 20..400],
        any::<bool>(),
        prop::bool::weighted(0.2),
        0u32..12,
        0usize..3,
    );
    let piece = piece.prop_map(
        |(blue, half, minutes, tall, alone, ready_hours, assembly)| Piece {
            blue,
            half,
            minutes,
            tall,
            alone,
            ready_hours: ready_hours.saturating_sub(7),
            assembly,
        },
    );
    prop::collection::vec(piece, 1..5)
}

fn shop() -> impl Strategy<Value = Shop> {
    let machines = (
        1usize..3,
        any::<bool>(),
        any::<[bool; 2]>(),
        any::<bool>(),
        any::<bool>(),
        any::<bool>(),
    );
    let money = (
        0u32..20,
        [0u32..30, 0..30],
        [4u32..60, 4..60],
        [0u32..200, 0..200],
        [0u32..300, 0..300],
    );
    let joint = prop::option::of([0u32..60, 0..200]);
    (pieces(), machines, money, joint).prop_map(
        |(pieces, machines, (each_day, late, due_hours, bench, cure), joint)| Shop {
            // With four pieces a fifth, from a split, would take too long to enumerate.
            joint: joint.filter(|_| pieces.len() < 4),
            pieces,
            machines: machines.0,
            second_is_belt: machines.1,
            unattended: machines.2,
            outage: machines.3,
            split_day: machines.4,
            many_hands: machines.5,
            each_day,
            late,
            due_hours,
            bench,
            cure,
        },
    )
}

proptest! {
    #[test]
    fn no_plan_of_a_tiny_shop_is_below_the_bound(shop in shop(), step in 0..LADDER.len(), groups in 1usize..3, single in any::<bool>()) {
        let scenario: Scenario = scenario(&shop.text());
        let (calendar, routes) = (Calendar::new(&scenario), routes(&scenario));
        let best = shop.cheapest();
        let coarse = Limits { groups, single_rows: if single { 1_000 } else { 0 }, step, ..LIMITS };
        for limits in [LIMITS, coarse] {
            let found = bound_within(&scenario, &calendar, &routes, &limits).decided.value();
            prop_assert!(found <= best, "{found} > {best} with {limits:?}\n{}", shop.text());
        }
    }
}
