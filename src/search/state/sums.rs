//! Adds a state up: what forms cost, when split copies can be joined, the whole.
//!
//! Knows: forms, glue tasks, completion. Must not know: how sheets are dated.
//! Promises: the sum is the objective, nothing weighted.

use crate::search::bench_work::{GlueTask, NO_ITEM, Stretch};
use crate::search::shop::{ItemId, Shop};

use super::{IMPOSSIBLE, State};

impl State {
    pub(super) fn change_forms(&mut self, shop: &Shop, copies: &[(ItemId, i32)], sign: i32) {
        if copies.is_empty() {
            return;
        }
        for &(item, more) in copies {
            for item in shop.team(item) {
                let n = &mut self.copies[item as usize];
                *n = n.wrapping_add_signed(sign * more);
            }
        }
        self.recount_forms(shop);
    }

    /// Bench minutes of every node and the money that depends on forms alone.
    pub(super) fn recount_forms(&mut self, shop: &Shop) {
        self.minutes.clear();
        let mut money = shop.join_money;
        let mut bench = 0;
        for (n, node) in shop.nodes.iter().enumerate() {
            let mut finishing = 0.0;
            for &class in &node.classes {
                let class = &shop.classes[class as usize];
                for &item in &class.items {
                    let copies = self.copies[item as usize];
                    let item = &shop.items[item as usize];
                    finishing += class.finishing * f64::from(copies) * f64::from(item.lengths);
                    money += item.hardware * f64::from(copies);
                    bench += i64::from(item.glue) * i64::from(copies);
                }
            }
            let minutes = shop.node_minutes(n, finishing);
            bench += i64::from(minutes);
            self.minutes.push(minutes);
        }
        self.form_cost = money + bench as f64 * shop.bench_minute;
    }

    /// Dates the bench work and adds everything up.
    pub(super) fn total(&mut self, shop: &Shop, record: Option<&mut Vec<Stretch>>) -> f64 {
        self.collect_glue(shop);
        let done = self
            .completion
            .settle_all(shop, &self.hands, &self.minutes, &self.glue, record);
        if done { self.sum() } else { IMPOSSIBLE }
    }

    /// The sum of what forms, sheets and dates cost.
    pub(super) fn sum(&self) -> f64 {
        let sheets: f64 = self.facts.iter().map(|facts| facts.cost).sum();
        self.form_cost + sheets + self.completion.cost()
    }

    /// One task for each split copy: its lengths are those that end first among its like.
    ///
    /// Copies of a class are alike, so pairing the k-th group of lengths to end with the k-th copy is best; of each kind of
    /// length by itself.
    fn collect_glue(&mut self, shop: &Shop) {
        self.glue.clear();
        if !shop.has_splits {
            return;
        }
        self.glue.extend(shop.joins.iter().map(|join| GlueTask {
            item: NO_ITEM,
            release: join.copy.printed,
            work: join.work,
            cure: join.cure,
            node: join.node,
        }));
        self.glue_ends.clear();
        for facts in &self.facts {
            self.glue_ends.extend_from_slice(&facts.lengths);
        }
        self.glue_ends.sort_unstable_by_key(|e| (e.item, e.end));
        let mut at = 0;
        let mut team = (ItemId::MAX, 0); // a leader, and where its copies begin among the tasks
        while at < self.glue_ends.len() {
            let id = self.glue_ends[at].item;
            let item = &shop.items[id as usize];
            let class = &shop.classes[item.class as usize];
            let node = class.node;
            // Lengths that exist already are printed by then.
            let there = class.open.as_ref().map_or(0, |open| open.printed);
            if item.leader != team.0 {
                team = (item.leader, self.glue.len());
            }
            let (mut have, mut copy) = (0, team.1);
            while at < self.glue_ends.len() && self.glue_ends[at].item == id {
                have += self.glue_ends[at].count;
                let end = self.glue_ends[at].end;
                while have >= item.each {
                    have -= item.each;
                    // Items of a team stand side by side, so its tasks are the last ones.
                    match self.glue.get_mut(copy) {
                        Some(task) => task.release = task.release.max(end),
                        None => self.glue.push(GlueTask {
                            item: item.leader,
                            release: end.max(there),
                            work: item.glue,
                            cure: item.cure,
                            node,
                        }),
                    }
                    copy += 1;
                }
                at += 1;
            }
        }
    }
}
