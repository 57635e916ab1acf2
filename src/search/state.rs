//! A whole queue while it is searched: run sheets, their dates, and the exact cost of both.
//!
//! Knows: sheets, dating, bench work, prices. Must not know: which moves exist, how the result is shown.
//! Promises: after every `propose` that is taken or dropped, dates and cost are those of the sheets held; a dropped
//! proposal leaves no trace. What touches one machine dates that machine only, against the hands that others take.

use std::sync::Arc;

use crate::calendar::Minute;

use super::bench_work::{BenchWork, GlueTask, Stretch};
use super::completion::Completion;
use super::dating::{Dated, Dating};
use super::edit::Edit;
use super::facts::{LengthsEnd, SheetFacts, TrialEnd};
use super::hands::HandsProfile;
use super::plate::{Fit, Fitter, Load, PlateId, PlateStore};
use super::shop::{ItemId, Shop};
use super::snapshot::SavedRun;

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
    completion: Completion,
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
    approved: Vec<Minute>,
    form_cost: f64,
    cost: f64,
    spare: Vec<SheetFacts>,
}

/// More than any plan costs: what cannot be dated.
pub const IMPOSSIBLE: f64 = f64::INFINITY;
/// Rounds in which approvals must settle, beyond one for each trial: each round settles one link of a chain of trials that
/// wait for each other.
const APPROVAL_ROUNDS: usize = 4;

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
            completion: Completion::new(shop),
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
                    debug_assert!(false, "a saved run can be made again");
                    continue;
                };
                state.plates.fit(shop, fitter, plate, machine);
                state.sheets[machine].push(plate);
                let loaded = state.loaded_after(shop, machine, state.sheets[machine].len() - 1);
                state.enter(shop, machine, run.date, loaded);
            }
            state.note_feeds(machine, 0, state.sheets[machine].len(), &[], Minute::MAX);
        }
        state.note_approvals(shop);
        state.completion.note_all(&state.facts);
        state.recount_forms(shop);
        state.cost = state.total(shop, None);
        state
    }

    /// A queue of these loads on these machines, dated afresh; `None` if a plate does not fit or the horizon is too near.
    pub fn of_sheets(
        shop: &Shop,
        fitter: &mut Fitter,
        sheets: &[Vec<Vec<Load>>],
        copies: &[u32],
    ) -> Option<Self> {
        let mut state = Self::empty(shop);
        state.copies.copy_from_slice(copies);
        for (machine, runs) in sheets.iter().enumerate() {
            for loads in runs {
                let plate = state.plates.make(shop, loads)?;
                if !matches!(
                    state.plates.fit(shop, fitter, plate, machine),
                    Fit::Yes { .. }
                ) {
                    return None;
                }
                state.sheets[machine].push(plate);
            }
        }
        state.refresh(shop).is_finite().then_some(state)
    }

    /// Whether some runs wait for an approval.
    pub fn has_trials(&self) -> bool {
        !self.approved.is_empty()
    }

    /// Dates of a machine's runs, in order.
    pub fn dates(&self, machine: usize) -> &[Dated] {
        &self.facts[machine].dates
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
        self.completion.begin();
        for (machine, sheet) in &mut edit.sheets {
            let same = sheet
                .iter()
                .zip(&self.sheets[*machine])
                .take_while(|(a, b)| a == b)
                .count();
            let again = edit.again.iter().filter(|again| again.0 == *machine);
            let same = again.map(|again| again.1).fold(same, usize::min);
            std::mem::swap(&mut self.sheets[*machine], sheet);
            self.set_aside(*machine, same);
        }
        self.change_forms(shop, &edit.copies, 1);
        let mut possible = true;
        for (machine, old) in &edit.sheets {
            possible = possible && self.date(shop, *machine, old);
        }
        possible = possible && self.settle_approvals(shop);
        self.completion.note(&self.facts, &self.undo.facts);
        self.cost = if !possible {
            IMPOSSIBLE
        } else if shop.has_bench_work {
            self.total(shop, None)
        } else {
            self.completion.settle(shop);
            self.sum()
        };
        self.cost
    }

    /// Makes the proposal stand.
    pub fn keep(&mut self, edit: &mut Edit) {
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
        self.completion.take_back();
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
        self.completion.note_all(&self.facts);
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
        (stretches, self.glue.clone(), self.completion.work.clone())
    }

    /// Puts a run at the end of a sheet and dates it; `false` if the horizon is too near. The cost is not brought up to
    /// date: [`State::refresh`] does that when the queue is whole.
    pub fn append(&mut self, shop: &Shop, machine: usize, plate: PlateId) -> bool {
        self.sheets[machine].push(plate);
        if !self.date(shop, machine, &[]) {
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
        fresh.begin_as(&self.facts[machine], same);
        let old = std::mem::replace(&mut self.facts[machine], fresh);
        self.undo.facts.push((machine, old, same));
    }

    /// Puts a dated run at the end of a machine's facts; what it feeds is noted by [`State::note_feeds`].
    fn enter(&mut self, shop: &Shop, machine: usize, date: Dated, loaded: u32) {
        let facts = &mut self.facts[machine];
        let run = facts.dates.len();
        let plate = self.sheets[machine][run];
        let hot = self.plates.hot(plate);
        let mut money = self.plates.known(plate, machine).1
            + f64::from(date.start - date.setup) * shop.bench_minute;
        if hot.filament != loaded {
            money += shop.machines[machine].purge[hot.filament as usize];
        }
        facts.money.push(money);
        facts.cost += money;
        facts.dates.push(date);
        if self.hands.limited()
            && let Some((window, span)) = date.setup_span()
        {
            self.hands.add(window, span);
        }
        if !hot.special {
            return;
        }
        let content = self.plates.get(plate);
        let run = run as u32;
        if content.has_lengths {
            let items = content.loads.iter();
            let lengths = items.filter(|l| shop.items[l.item as usize].lengths > 1);
            facts.lengths.extend(lengths.map(|load| LengthsEnd {
                run,
                item: load.item,
                end: date.end,
                count: load.count,
            }));
        }
        facts
            .trials
            .extend(content.tries.iter().map(|&trial| TrialEnd {
                run,
                trial,
                end: date.end,
            }));
    }

    /// Notes what changed for the nodes that runs `from..to` feed now, or the old runs `from..old_to` fed before.
    ///
    /// `kept` is the end from which on old runs stand unchanged at the end of the sheet: what they print last stays.
    fn note_feeds(
        &mut self,
        machine: usize,
        from: usize,
        to: usize,
        old: &[PlateId],
        kept: Minute,
    ) {
        let facts = &mut self.facts[machine];
        let mut reset = false;
        let completion = &mut self.completion;
        for &plate in old {
            self.plates.each_feed(plate, |node| {
                completion.touch(node);
                let last = &mut facts.last[node as usize];
                if *last <= kept && *last > 0 {
                    *last = 0;
                    reset = true;
                }
            });
        }
        for run in from..to {
            let end = facts.dates[run].end;
            self.plates.each_feed(self.sheets[machine][run], |node| {
                completion.touch(node);
                let last = &mut facts.last[node as usize];
                if *last <= kept {
                    *last = end;
                }
            });
        }
        // What only runs that go fed last is now printed last by a run that stays, if by any.
        if reset {
            self.look_back(machine, from, old);
        }
    }

    /// Finds what the first `same` runs of a machine print last for nodes that the `old` runs fed and no later run does.
    fn look_back(&mut self, machine: usize, same: usize, old: &[PlateId]) {
        let facts = &mut self.facts[machine];
        let sheet = &self.sheets[machine];
        for &plate in old {
            self.plates.each_feed(plate, |node| {
                let last = &mut facts.last[node as usize];
                if *last == 0 {
                    let mut earlier = (0..same).rev();
                    let found = earlier.find(|&run| self.plates.feeds(sheet[run], node));
                    *last = found.map_or(0, |run| facts.dates[run].end);
                }
            });
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

    /// Dates the runs of a machine that have no dates yet. `old` is the sheet that its facts set aside belong to, if any.
    /// `false` if the horizon is too near.
    ///
    /// Where a run ends when an old one did, on the same filament and with the same runs to follow, all the rest is as it
    /// was; with hands short that does not hold, since other machines of the same edit may take them now.
    fn date(&mut self, shop: &Shop, machine: usize, old: &[PlateId]) -> bool {
        let from = self.facts[machine].dates.len();
        let length = self.sheets[machine].len();
        let aside = self.undo.facts.iter().rposition(|e| e.0 == machine);
        let old = if aside.is_some() { old } else { &[] };
        let alike = if self.hands.limited() || !self.approved.is_empty() {
            0
        } else {
            let tail = length.min(old.len()) - from.min(length.min(old.len()));
            let ends = self.sheets[machine].iter().rev().zip(old.iter().rev());
            ends.take(tail).take_while(|(a, b)| a == b).count()
        };
        let mut loaded = self.loaded_after(shop, machine, from);
        let mut stop = (length, old.len());
        for run in from..length {
            let before = self.facts[machine].dates.last().copied();
            if run + alike >= length
                && let (Some(aside), Some(before)) = (aside, before)
            {
                let at = run + old.len() - length;
                let earlier = at
                    .checked_sub(1)
                    .map(|i| (old[i], self.undo.facts[aside].1.dates[i]));
                if earlier.is_some_and(|(plate, date)| {
                    date.end == before.end && self.plates.hot(plate).filament == loaded
                }) {
                    stop = (run, at);
                    break;
                }
            }
            let plate = self.sheets[machine][run];
            let dating = Dating {
                shop,
                plates: &self.plates,
                approved: &self.approved,
            };
            let Some(date) = dating.next(machine, &self.hands, before, loaded, plate) else {
                return false;
            };
            self.enter(shop, machine, date, loaded);
            loaded = self.plates.hot(plate).filament;
        }
        let kept = if stop.1 < old.len() {
            self.facts[machine].dates.last().map_or(0, |d| d.end)
        } else {
            Minute::MAX
        };
        if let Some(aside) = aside {
            let other = &self.undo.facts[aside].1;
            let facts = &mut self.facts[machine];
            facts.cost -= other.money[from..stop.1.max(from)].iter().sum::<f64>();
            if stop.1 < old.len() {
                facts.end_as(other, stop.1);
            }
        }
        self.note_feeds(
            machine,
            from,
            stop.0,
            &old[from.min(old.len())..stop.1],
            kept,
        );
        true
    }

    /// What is loaded on a machine after its first `runs` runs.
    fn loaded_after(&self, shop: &Shop, machine: usize, runs: usize) -> u32 {
        match runs.checked_sub(1) {
            Some(last) => self.plates.hot(self.sheets[machine][last]).filament,
            None => shop.machines[machine].loaded,
        }
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
            let loaded = self.loaded_after(shop, machine, at);
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
            self.enter(shop, machine, next, loaded);
            if at + 1 < self.sheets[machine].len() {
                heap.push(std::cmp::Reverse((next.end, machine)));
            }
        }
        for machine in 0..self.sheets.len() {
            self.note_feeds(machine, 0, self.sheets[machine].len(), &[], Minute::MAX);
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
        for _ in 0..APPROVAL_ROUNDS + shop.trials.len() {
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
                    let sheet = self.sheets[machine].clone();
                    if !self.date(shop, machine, &sheet) {
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
                .filter(|t| t.trial == trial as u32)
                .map(|t| t.end)
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
    fn total(&mut self, shop: &Shop, record: Option<&mut Vec<Stretch>>) -> f64 {
        self.collect_glue(shop);
        let done = self
            .completion
            .settle_all(shop, &self.hands, &self.minutes, &self.glue, record);
        if done { self.sum() } else { IMPOSSIBLE }
    }

    /// The sum of what forms, sheets and dates cost.
    fn sum(&self) -> f64 {
        let sheets: f64 = self.facts.iter().map(|facts| facts.cost).sum();
        self.form_cost + sheets + self.completion.cost()
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
