//! Packing by patience: one order of the rectangles after another, each a small change of the best one so far.
//!
//! Knows: one plate, ways to fill it. Must not know: where the number of tries comes from.
//! Promises: the same rectangles and tries give the same packing; no clock decides anything.

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg32;

use super::filling::{Filling, Order};
use super::grains::{Bin, Item, Spot};
use super::max_rects::Rule;

/// Any number serves; a fixed one makes packings repeatable.
const SEED: u64 = 1;

/// Where the search starts: each with each rule.
const ORDERS: [Order; 4] = [
    Order::Length,
    Order::Surface,
    Order::Girth,
    Order::Thickness,
];

/// How often a try takes another rule than the best so far.
const OTHER_RULE: f64 = 0.2;

/// How often a try moves a rectangle that was left out forward, rather than exchanging any two.
const FORWARD: f64 = 0.5;

/// The search's memory, kept from plate to plate.
#[derive(Clone, Debug, Default)]
pub(super) struct Improver {
    best: Filling,
    trial: Filling,
}

impl Improver {
    /// Looks for a packing of all `items` and writes it to `spots`; takes each try from `tries`.
    pub fn search(
        &mut self,
        bin: Bin,
        items: &[Item],
        rules: &[Rule],
        tries: &mut u32,
        spots: &mut [Spot],
    ) -> bool {
        let mut random = Pcg32::seed_from_u64(SEED);
        // Surface put down by the best order, and the rule that did it.
        let mut most = -1.0;
        let mut best_rule = Rule::ShortSide;
        let mut starts = ORDERS
            .iter()
            .flat_map(|&order| rules.iter().map(move |&rule| (order, rule)));
        while *tries > 0 {
            *tries -= 1;
            let rule = if let Some((order, rule)) = starts.next() {
                self.trial.arrange(items, order);
                rule
            } else {
                self.vary(items.len(), &mut random);
                if random.random_bool(OTHER_RULE) {
                    rules[random.random_range(0..rules.len())]
                } else {
                    best_rule
                }
            };
            let packed = self.trial.fill_most(bin, items, rule, spots);
            if self.trial.left_out.is_empty() {
                return true;
            }
            // Equally good ones are taken too: standing still is how the search gets stuck.
            if packed >= most {
                most = packed;
                best_rule = rule;
                std::mem::swap(&mut self.best, &mut self.trial);
            }
        }
        false
    }

    /// Makes `trial` the best order with one small change. Something was left out by it, or the search would be over.
    fn vary(&mut self, items: usize, random: &mut Pcg32) {
        let order = &mut self.trial.order;
        order.clone_from(&self.best.order);
        let left_out = &self.best.left_out;
        if random.random_bool(FORWARD) {
            let item = left_out[random.random_range(0..left_out.len())];
            if let Some(from) = order.iter().position(|&i| i == item) {
                let to = random.random_range(0..=from);
                order[to..=from].rotate_right(1);
            }
        } else {
            order.swap(random.random_range(0..items), random.random_range(0..items));
        }
    }
}
