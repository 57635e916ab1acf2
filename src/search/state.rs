//! A whole queue while it is searched: run sheets, their dates, and the exact cost of both.
//!
//! Knows: sheets, dating, bench work, prices. Must not know: which moves exist, how the result is shown.
//! Promises: after every `propose` that is taken or dropped, dates and cost are those of the sheets held; a dropped
//! proposal leaves no trace. What touches one machine dates that machine only, against the hands that others take.

use std::sync::Arc;

use crate::calendar::Minute;

use super::bench_work::{BenchWork, GlueTask, Stretch};
use super::dating::{Dated, Dating};
use super::hands::HandsProfile;
use super::plate::{Fit, Fitter, Load, MANY, PlateId, PlateStore};
use super::shop::{ItemId, NOWHERE, NodeId, Shop};
use super::snapshot::SavedRun;

/// A change of some sheets, and of how many copies are made in each form.
#[derive(Clone, Debug, Default)]
pub struct Edit {
    /// New sheets; each machine at most once.
    pub sheets: Vec<(usize, Vec<PlateId>)>,
    /// Plates made for this edit; given back if it is dropped.
    pub fresh: Vec<PlateId>,
    /// Plates that it takes off; given back if it is taken.
    pub gone: Vec<PlateId>,
    /// Copies made more (or fewer) in an item's form.
    pub copies: Vec<(ItemId, i32)>,
    /// Room of sheets of earlier edits, used again.
    spare: Vec<Vec<PlateId>>,
}

impl Edit {
    /// Empties the edit for the next use.
    pub fn clear(&mut self) {
        self.spare.extend(self.sheets.drain(..).map(|s| s.1));
        self.fresh.clear();
        self.gone.clear();
        self.copies.clear();
    }

    /// The new sheet of a machine, begun as a copy of its present one.
    pub fn sheet<'a>(&'a mut self, state: &State, machine: usize) -> &'a mut Vec<PlateId> {
        let at = match self.sheets.iter().position(|s| s.0 == machine) {
            Some(at) => at,
            None => {
                let mut sheet = self.spare.pop().unwrap_or_default();
                sheet.clone_from(&state.sheets[machine]);
                self.sheets.push((machine, sheet));
                self.sheets.len() - 1
            }
        };
        &mut self.sheets[at].1
    }
}

/// Lengths of split copies that end at one moment on one machine.
#[derive(Clone, Copy, Debug)]
struct LengthsEnd {
    run: u32,
    item: ItemId,
    end: Minute,
    count: u32,
}

/// What a dated sheet comes to.
#[derive(Clone, Debug, Default)]
struct SheetFacts {
    dates: Vec<Dated>,
    /// Money of the runs up to each: setups, changes, printing, plastic.
    money: Vec<f64>,
    /// Last end of whole pieces for each node; 0 where none is printed here.
    last: Vec<Minute>,
    lengths: Vec<LengthsEnd>,
    /// Run, trial, end of its trial pieces.
    trials: Vec<(u32, u32, Minute)>,
}

impl SheetFacts {
    fn new(nodes: usize) -> Self {
        Self {
            last: vec![0; nodes],
            ..Self::default()
        }
    }

    fn cost(&self) -> f64 {
        self.money.last().copied().unwrap_or(0.0)
    }

    /// Takes over the first `same` runs of another sheet's facts; what the later ones printed is left out.
    fn begin_as(&mut self, other: &SheetFacts, same: usize) {
        self.dates.clear();
        self.dates.extend_from_slice(&other.dates[..same]);
        self.money.clear();
        self.money.extend_from_slice(&other.money[..same]);
        self.last.clone_from(&other.last);
        self.lengths.clear();
        let kept = other.lengths.partition_point(|l| (l.run as usize) < same);
        self.lengths.extend_from_slice(&other.lengths[..kept]);
        self.trials.clear();
        let kept = other.trials.partition_point(|t| (t.0 as usize) < same);
        self.trials.extend_from_slice(&other.trials[..kept]);
    }
}

/// A queue under search.
#[derive(Clone, Debug)]
pub struct State {
    /// Run sheets: plates in order, by machine.
    pub sheets: Vec<Vec<PlateId>>,
    /// The plates.
    pub plates: PlateStore,
    /// How many copies are made in each item's form.
    pub copies: Vec<u32>,
    facts: Vec<SheetFacts>,
    hands: HandsProfile,
    approved: Vec<Minute>,
    work: BenchWork,
    /// When the last whole piece of each node is printed.
    printed: Vec<Minute>,
    /// Nodes whose pieces moved in the present proposal.
    touched: Vec<NodeId>,
    is_touched: Vec<bool>,
    /// Bench minutes of each node, finishing included.
    minutes: Vec<Minute>,
    glue: Vec<GlueTask>,
    glue_ends: Vec<LengthsEnd>,
    /// Money by form: hardware and bench minutes of gluing, finishing and assembly.
    form_cost: f64,
    cost: f64,
    undo: Undo,
}

/// What a dropped proposal restores.
#[derive(Clone, Debug, Default)]
struct Undo {
    /// Machine, the facts set aside, and how many of its first dates stayed.
    facts: Vec<(usize, SheetFacts, usize)>,
    printed: Vec<(NodeId, Minute)>,
    approved: Vec<Minute>,
    form_cost: f64,
    cost: f64,
    spare: Vec<SheetFacts>,
}

/// More than any plan costs: what cannot be dated.
pub const IMPOSSIBLE: f64 = f64::INFINITY;
/// Rounds in which approvals must settle.
const APPROVAL_ROUNDS: usize = 12;

impl State {
    /// No runs yet; every class is made in its first form.
    pub fn empty(shop: &Shop) -> Self {
        let mut copies = vec![0; shop.items.len()];
        for class in &shop.classes {
            copies[class.items[0] as usize] = class.copies;
        }
        let mut state = Self {
            sheets: vec![Vec::new(); shop.machines.len()],
            plates: PlateStore::new(shop.machines.len()),
            copies,
            facts: vec![SheetFacts::new(shop.nodes.len()); shop.machines.len()],
            hands: HandsProfile::new(shop.hands, shop.calendar.windows().len()),
            approved: vec![0; shop.trials.len()],
            work: BenchWork::new(shop),
            printed: vec![0; shop.nodes.len()],
            touched: Vec::new(),
            is_touched: vec![false; shop.nodes.len()],
            minutes: Vec::new(),
            glue: Vec::new(),
            glue_ends: Vec::new(),
            form_cost: 0.0,
            cost: 0.0,
            undo: Undo::default(),
        };
        state.recount_forms(shop);
        state.cost = state.total(shop, None);
        state
    }

    /// The exact cost of the queue as it stands.
    pub fn cost(&self) -> f64 {
        self.cost
    }

    /// A queue set aside, again as it was.
    pub fn restored(
        shop: &Shop,
        fitter: &mut Fitter,
        sheets: &[Arc<Vec<SavedRun>>],
        copies: &[u32],
    ) -> Self {
        let mut state = Self::empty(shop);
        state.copies.copy_from_slice(copies);
        for (machine, runs) in sheets.iter().enumerate() {
            for run in runs.iter() {
                // It was made and fitted once, by the same rules.
                let Some(plate) = state.plates.make(shop, &run.loads) else {
                    continue;
                };
                state.plates.fit(shop, fitter, plate, machine);
                state.sheets[machine].push(plate);
                state.enter(shop, machine, run.date);
            }
        }
        state.note_approvals(shop);
        state.recount_printed();
        state.recount_forms(shop);
        state.cost = state.total(shop, None);
        state
    }

    /// Whether some runs wait for an approval.
    pub fn has_trials(&self) -> bool {
        !self.approved.is_empty()
    }

    /// Dates of a machine's runs, in order.
    pub fn dates(&self, machine: usize) -> &[Dated] {
        &self.facts[machine].dates
    }

    /// Money that a sheet carries alone.
    pub fn sheet_cost(&self, machine: usize) -> f64 {
        self.facts[machine].cost()
    }

    /// When each node is complete.
    pub fn complete(&self, node: NodeId) -> Minute {
        self.work.complete[node as usize]
    }

    /// Makes a plate that the edit then owns; `None` if by rule or size it does not fit the machine.
    pub fn make(
        &mut self,
        shop: &Shop,
        fitter: &mut Fitter,
        edit: &mut Edit,
        loads: &[Load],
        machine: usize,
    ) -> Option<PlateId> {
        let plate = self.plates.make(shop, loads)?;
        if matches!(
            self.plates.fit(shop, fitter, plate, machine),
            Fit::Yes { .. }
        ) {
            edit.fresh.push(plate);
            Some(plate)
        } else {
            self.plates.release(plate);
            None
        }
    }

    /// Takes the sheets of an edit, dates them and returns the new cost; [`State::keep`] or [`State::take_back`] must follow.
    ///
    /// Every plate on a new sheet must be known to fit. Where hands are short the sheets are dated in the edit's order.
    pub fn propose(&mut self, shop: &Shop, edit: &mut Edit) -> f64 {
        debug_assert!(self.undo.facts.is_empty(), "one proposal at a time");
        self.undo.cost = self.cost;
        self.undo.form_cost = self.form_cost;
        self.undo.approved.clone_from(&self.approved);
        for (machine, sheet) in &mut edit.sheets {
            let same = sheet
                .iter()
                .zip(&self.sheets[*machine])
                .take_while(|(a, b)| a == b)
                .count();
            std::mem::swap(&mut self.sheets[*machine], sheet);
            self.set_aside(*machine, same);
        }
        self.change_forms(shop, &edit.copies, 1);
        let mut possible = true;
        for &(machine, _) in &edit.sheets {
            possible = possible && self.date(shop, machine);
        }
        possible = possible && self.settle_approvals(shop);
        self.note_printed();
        self.cost = if possible {
            self.total(shop, None)
        } else {
            IMPOSSIBLE
        };
        self.cost
    }

    /// Makes the proposal stand.
    pub fn keep(&mut self, edit: &mut Edit) {
        self.undo.printed.clear();
        let spare = &mut self.undo.spare;
        spare.extend(self.undo.facts.drain(..).map(|(_, facts, _)| facts));
        for plate in edit.gone.drain(..) {
            self.plates.release(plate);
        }
    }

    /// Takes the proposal back.
    pub fn take_back(&mut self, shop: &Shop, edit: &mut Edit) {
        // In reverse, since settling approvals may have set a machine aside more than once.
        while let Some((machine, facts, same)) = self.undo.facts.pop() {
            self.forget_setups(machine, same);
            let newer = std::mem::replace(&mut self.facts[machine], facts);
            self.undo.spare.push(newer);
            if self.hands.limited() {
                for date in &self.facts[machine].dates[same..] {
                    if let Some((window, span)) = date.setup_span() {
                        self.hands.add(window, span);
                    }
                }
            }
        }
        for (node, printed) in self.undo.printed.drain(..) {
            self.printed[node as usize] = printed;
        }
        for (machine, sheet) in &mut edit.sheets {
            std::mem::swap(&mut self.sheets[*machine], sheet);
        }
        self.change_forms(shop, &edit.copies, -1);
        self.approved.clone_from(&self.undo.approved);
        self.form_cost = self.undo.form_cost;
        self.cost = self.undo.cost;
        for plate in edit.fresh.drain(..) {
            self.plates.release(plate);
        }
    }

    /// Dates all sheets afresh, whoever is free first going first, and returns the new cost.
    ///
    /// Sheets stay as they are; hands that earlier moves freed are used. The dates before are lost.
    pub fn redate(&mut self, shop: &Shop) -> f64 {
        self.hands.clear();
        for facts in &mut self.facts {
            *facts = SheetFacts::new(shop.nodes.len());
        }
        self.approved.fill(0);
        let mut possible = self.date_all(shop);
        possible = possible && self.settle_approvals(shop);
        self.keep(&mut Edit::default());
        self.recount_printed();
        self.cost = if possible {
            self.total(shop, None)
        } else {
            IMPOSSIBLE
        };
        self.cost
    }

    /// The stretches of bench work of the queue as it stands, and the glue tasks they speak of.
    pub fn bench_work(&mut self, shop: &Shop) -> (Vec<Stretch>, Vec<GlueTask>, BenchWork) {
        let mut stretches = Vec::new();
        self.total(shop, Some(&mut stretches));
        (stretches, self.glue.clone(), self.work.clone())
    }

    /// Puts a run at the end of a sheet and dates it; `false` if the horizon is too near. The cost is not brought up to
    /// date: [`State::refresh`] does that when the queue is whole.
    pub fn append(&mut self, shop: &Shop, machine: usize, plate: PlateId) -> bool {
        self.sheets[machine].push(plate);
        if !self.date(shop, machine) {
            return false;
        }
        // Approvals only ever come later while a queue grows, and only runs not yet placed wait for them.
        self.note_approvals(shop).is_some()
    }

    /// Adds the whole queue up afresh, forms included.
    pub fn refresh(&mut self, shop: &Shop) -> f64 {
        self.recount_forms(shop);
        self.redate(shop)
    }

    /// Puts a machine's facts away and begins new ones with its first `same` runs.
    fn set_aside(&mut self, machine: usize, same: usize) {
        let mut fresh = self.undo.spare.pop().unwrap_or_default();
        let same = same.min(self.facts[machine].dates.len());
        self.forget_setups(machine, same);
        let old = &self.facts[machine];
        fresh.begin_as(old, same);
        // Runs of a machine end one after another: what ended after the runs that stay was printed by those that go.
        let stays = same.checked_sub(1).map_or(0, |last| old.dates[last].end);
        for (node, last) in fresh.last.iter_mut().enumerate() {
            if *last > stays {
                *last = 0;
                if !self.is_touched[node] {
                    self.is_touched[node] = true;
                    self.touched.push(node as NodeId);
                }
            }
        }
        let old = std::mem::replace(&mut self.facts[machine], fresh);
        self.undo.facts.push((machine, old, same));
    }

    /// Puts a dated run at the end of a machine's facts.
    fn enter(&mut self, shop: &Shop, machine: usize, date: Dated) {
        let facts = &mut self.facts[machine];
        let m = &shop.machines[machine];
        let sheet = &self.sheets[machine];
        let run = facts.dates.len();
        let plate = sheet[run];
        let hot = self.plates.hot(plate);
        let (before, loaded) = match run.checked_sub(1) {
            Some(last) => (facts.money[last], self.plates.hot(sheet[last]).filament),
            None => (0.0, m.loaded),
        };
        let mut money = self.plates.known(plate, machine).1
            + f64::from(date.start - date.setup) * shop.bench_minute;
        if hot.filament != loaded {
            money += m.purge[hot.filament as usize];
        }
        facts.money.push(before + money);
        facts.dates.push(date);
        if self.hands.limited()
            && let Some((window, span)) = date.setup_span()
        {
            self.hands.add(window, span);
        }
        let mut feed = |node: NodeId| {
            facts.last[node as usize] = date.end;
            if !self.is_touched[node as usize] {
                self.is_touched[node as usize] = true;
                self.touched.push(node);
            }
        };
        match hot.feeds {
            NOWHERE => {}
            MANY => self.plates.get(plate).feeds.iter().copied().for_each(feed),
            node => feed(node),
        }
        if hot.special {
            let content = self.plates.get(plate);
            for load in content.loads.iter() {
                if shop.items[load.item as usize].lengths > 1 {
                    facts.lengths.push(LengthsEnd {
                        run: run as u32,
                        item: load.item,
                        end: date.end,
                        count: load.count,
                    });
                }
            }
            for &trial in &content.tries {
                facts.trials.push((run as u32, trial, date.end));
            }
        }
    }

    /// Finds what the first `same` runs of a machine printed last for nodes that no later run feeds any more.
    fn look_back(&mut self, machine: usize, same: usize) {
        let facts = &mut self.facts[machine];
        let set_aside = self.undo.facts.iter().rev();
        let old = set_aside
            .filter(|entry| entry.0 == machine)
            .map(|entry| &entry.1)
            .next();
        let mut open = self
            .touched
            .iter()
            .filter(|&&node| {
                facts.last[node as usize] == 0 && old.is_some_and(|old| old.last[node as usize] > 0)
            })
            .count();
        for run in (0..same).rev() {
            if open == 0 {
                return;
            }
            let end = facts.dates[run].end;
            let plate = self.sheets[machine][run];
            for &node in &self.plates.get(plate).feeds {
                let last = &mut facts.last[node as usize];
                if *last == 0 {
                    *last = end;
                    open = open.saturating_sub(1);
                }
            }
        }
    }

    /// Brings `printed` up to date for the nodes that the proposal touched, and remembers what it was.
    fn note_printed(&mut self) {
        for &node in &self.touched {
            let n = node as usize;
            self.is_touched[n] = false;
            let before = self.printed[n];
            let (mut was, mut is) = (0, 0);
            for (machine, old, _) in &self.undo.facts {
                was = was.max(old.last[n]);
                is = is.max(self.facts[*machine].last[n]);
            }
            // Only where a sheet that was the last is so no longer must the others be asked.
            let now = if is >= before {
                is
            } else if was < before {
                before
            } else {
                self.facts.iter().map(|f| f.last[n]).max().unwrap_or(0)
            };
            if now != before {
                self.undo.printed.push((node, before));
                self.printed[n] = now;
            }
        }
        self.touched.clear();
    }

    /// Brings `printed` up to date for all nodes.
    fn recount_printed(&mut self) {
        self.touched.clear();
        self.is_touched.fill(false);
        for (n, printed) in self.printed.iter_mut().enumerate() {
            *printed = self.facts.iter().map(|f| f.last[n]).max().unwrap_or(0);
        }
    }

    fn forget_setups(&mut self, machine: usize, from: usize) {
        if !self.hands.limited() {
            return;
        }
        for i in from..self.facts[machine].dates.len() {
            if let Some((window, span)) = self.facts[machine].dates[i].setup_span() {
                self.hands.remove(window, span);
            }
        }
    }

    /// Dates the runs of a machine that have no dates yet; `false` if the horizon is too near.
    fn date(&mut self, shop: &Shop, machine: usize) -> bool {
        let from = self.facts[machine].dates.len();
        let mut loaded = match from.checked_sub(1) {
            Some(last) => self.plates.hot(self.sheets[machine][last]).filament,
            None => shop.machines[machine].loaded,
        };
        for run in from..self.sheets[machine].len() {
            let plate = self.sheets[machine][run];
            let dating = Dating {
                shop,
                plates: &self.plates,
                approved: &self.approved,
            };
            let before = self.facts[machine].dates.last().copied();
            let Some(date) = dating.next(machine, &self.hands, before, loaded, plate) else {
                return false;
            };
            self.enter(shop, machine, date);
            loaded = self.plates.hot(plate).filament;
        }
        if !self.touched.is_empty() && from > 0 {
            self.look_back(machine, from);
        }
        true
    }

    /// Dates all machines side by side: of all next setups the one that can begin first, the lower machine at a tie.
    fn date_all(&mut self, shop: &Shop) -> bool {
        let mut heap = std::collections::BinaryHeap::new();
        for machine in 0..self.sheets.len() {
            if !self.sheets[machine].is_empty() {
                heap.push(std::cmp::Reverse((0, machine)));
            }
        }
        while let Some(std::cmp::Reverse((_, machine))) = heap.pop() {
            let facts = &self.facts[machine];
            let at = facts.dates.len();
            let loaded = match at.checked_sub(1) {
                Some(last) => self.plates.get(self.sheets[machine][last]).filament,
                None => shop.machines[machine].loaded,
            };
            let dating = Dating {
                shop,
                plates: &self.plates,
                approved: &self.approved,
            };
            let before = facts.dates.last().copied();
            let plate = self.sheets[machine][at];
            let Some(next) = dating.next(machine, &self.hands, before, loaded, plate) else {
                return false;
            };
            // Setups of others may have taken the hands since this machine was queued: then it queues again.
            if let Some(&std::cmp::Reverse((other, _))) = heap.peek()
                && next.setup > other
            {
                heap.push(std::cmp::Reverse((next.setup, machine)));
                continue;
            }
            self.enter(shop, machine, next);
            if at + 1 < self.sheets[machine].len() {
                heap.push(std::cmp::Reverse((next.end, machine)));
            }
        }
        true
    }

    /// Dates again whatever waits for an approval that has moved, until nothing moves.
    ///
    /// `false` if it does not settle: then some sheet puts what waits before its own trial.
    fn settle_approvals(&mut self, shop: &Shop) -> bool {
        if shop.trials.is_empty() {
            return true;
        }
        for _ in 0..APPROVAL_ROUNDS {
            match self.note_approvals(shop) {
                Some(true) => {}
                Some(false) => return true,
                None => return false,
            }
            for machine in 0..self.sheets.len() {
                let waits = self.sheets[machine]
                    .iter()
                    .position(|&p| !self.plates.get(p).waits.is_empty());
                if let Some(first) = waits {
                    self.set_aside(machine, first);
                    if !self.date(shop, machine) {
                        return false;
                    }
                }
            }
        }
        false
    }

    /// Brings the approvals up to the trials' dates; whether any moved, `None` if one falls past the horizon.
    fn note_approvals(&mut self, shop: &Shop) -> Option<bool> {
        let mut moved = false;
        for trial in 0..shop.trials.len() {
            let end = self
                .facts
                .iter()
                .flat_map(|f| &f.trials)
                .filter(|t| t.1 == trial as u32)
                .map(|t| t.2)
                .max();
            // A trial not on any sheet (a queue under construction) holds nothing back yet.
            let approval = match end {
                Some(end) => shop.calendar.next_presence(end)?,
                None => 0,
            };
            moved |= self.approved[trial] != approval;
            self.approved[trial] = approval;
        }
        Some(moved)
    }

    fn change_forms(&mut self, shop: &Shop, copies: &[(ItemId, i32)], sign: i32) {
        if copies.is_empty() {
            return;
        }
        for &(item, more) in copies {
            let n = &mut self.copies[item as usize];
            *n = n.wrapping_add_signed(sign * more);
        }
        self.recount_forms(shop);
    }

    /// Bench minutes of every node and the money that depends on forms alone.
    fn recount_forms(&mut self, shop: &Shop) {
        self.minutes.clear();
        let mut money = 0.0;
        let mut bench = 0;
        for node in &shop.nodes {
            let mut finishing = 0.0;
            for &class in &node.classes {
                let class = &shop.classes[class as usize];
                for &item in &class.items {
                    let copies = self.copies[item as usize];
                    let item = &shop.items[item as usize];
                    finishing += class.finishing * f64::from(copies * item.lengths);
                    money += item.hardware * f64::from(copies);
                    bench += i64::from(item.glue) * i64::from(copies);
                }
            }
            let minutes = node.bench + crate::units::Seconds(finishing).whole_minutes().0 as Minute;
            bench += i64::from(minutes);
            self.minutes.push(minutes);
        }
        self.form_cost = money + bench as f64 * shop.bench_minute;
    }

    /// Dates the bench work and adds everything up.
    fn total(&mut self, shop: &Shop, record: Option<&mut Vec<Stretch>>) -> f64 {
        let mut cost = self.form_cost;
        for facts in &self.facts {
            cost += facts.cost();
        }
        self.collect_glue(shop);
        if shop.has_bench_work {
            let done = self.work.date(
                shop,
                &self.hands,
                &self.printed,
                &self.minutes,
                &self.glue,
                record,
            );
            if !done {
                return IMPOSSIBLE;
            }
        } else {
            self.work.without_work(shop, &self.printed);
        }
        let mut finish = 0;
        for (node, &complete) in shop.nodes.iter().zip(&self.work.complete) {
            if complete > node.due {
                cost += f64::from(complete - node.due) * node.late;
            }
            if node.assembly.is_some() {
                finish = finish.max(complete);
            }
        }
        cost + f64::from(finish) * shop.each_minute
    }

    /// One task for each split copy: its lengths are those that end first among its like.
    ///
    /// Copies of a class are alike, so pairing the k-th group of lengths to end with the k-th copy is best.
    fn collect_glue(&mut self, shop: &Shop) {
        self.glue.clear();
        if !shop.has_splits {
            return;
        }
        self.glue_ends.clear();
        for facts in &self.facts {
            self.glue_ends.extend_from_slice(&facts.lengths);
        }
        self.glue_ends.sort_unstable_by_key(|e| (e.item, e.end));
        let mut at = 0;
        while at < self.glue_ends.len() {
            let id = self.glue_ends[at].item;
            let item = &shop.items[id as usize];
            let node = shop.classes[item.class as usize].node;
            let mut have = 0;
            while at < self.glue_ends.len() && self.glue_ends[at].item == id {
                have += self.glue_ends[at].count;
                while have >= item.lengths {
                    have -= item.lengths;
                    self.glue.push(GlueTask {
                        item: id,
                        release: self.glue_ends[at].end,
                        work: item.glue,
                        cure: item.cure,
                        node,
                    });
                }
                at += 1;
            }
        }
    }
}
