//! A whole queue while it is searched: run sheets, their dates, and the exact cost of both.
//!
//! Knows: sheets, dating, bench work, prices. Must not know: which moves exist, how the result is shown.
//! Promises: after every `propose` that is taken or dropped, dates and cost are those of the sheets held; a dropped
//! proposal leaves no trace. What touches one machine dates that machine only, against the hands and the filament that
//! others take.

mod dates;
mod sums;

use std::sync::Arc;

use crate::calendar::Minute;

use crate::search::bench_work::{BenchWork, GlueTask, Stretch};
use crate::search::calm::NONE;
use crate::search::completion::Completion;
use crate::search::dating::Dated;
use crate::search::edit::Edit;
use crate::search::facts::{LengthsEnd, SheetFacts};
use crate::search::fitter::Fitter;
use crate::search::hands::HandsProfile;
use crate::search::plate::{Fit, Load, PlateId, PlateStore};
use crate::search::shop::Shop;
use crate::search::snapshot::SavedRun;
use crate::search::supply::Drawn;

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
    drawn: Drawn,
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

impl State {
    /// No runs yet; every class is made in its first form.
    pub fn empty(shop: &Shop) -> Self {
        let mut copies = vec![0; shop.items.len()];
        for class in &shop.classes {
            for item in shop.team(class.items[0]) {
                copies[item as usize] = class.copies;
            }
        }
        let mut state = Self {
            sheets: vec![Vec::new(); shop.machines.len()],
            plates: PlateStore::new(shop.machines.len()),
            copies,
            facts: vec![SheetFacts::new(shop.nodes.len()); shop.machines.len()],
            hands: HandsProfile::new(shop.hands, shop.calendar.windows().len()),
            drawn: Drawn::new(shop.supply.as_ref()),
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

    /// Of that, what late stages cost.
    pub fn late(&self) -> f64 {
        self.completion.late()
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
        state.completion.note_all(shop, &state.facts);
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

    /// From when on a run that takes so much of a filament may begin on a machine; 0 where that is not short.
    pub fn released(
        &self,
        shop: &Shop,
        machine: usize,
        filament: u32,
        milligrams: i64,
        changes: bool,
    ) -> Minute {
        shop.supply.as_ref().map_or(0, |supply| {
            let takes = supply.takes(machine, milligrams, changes);
            self.drawn.release(supply, filament, takes)
        })
    }

    /// Whether some runs wait for an approval.
    pub fn has_trials(&self) -> bool {
        !self.approved.is_empty()
    }

    /// Dates of a machine's runs, in order.
    pub fn dates(&self, machine: usize) -> &[Dated] {
        &self.facts[machine].dates
    }

    /// The accepted place that a run stands in; [`NONE`] if it stands in none, or a change costs nothing.
    pub fn place(&self, machine: usize, run: usize) -> u32 {
        self.facts[machine].places.get(run).copied().unwrap_or(NONE)
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
        let mut firm = true;
        for (machine, sheet) in &mut edit.sheets {
            let same = sheet
                .iter()
                .zip(&self.sheets[*machine])
                .take_while(|(a, b)| a == b)
                .count();
            let head = shop.calm.firm(*machine);
            firm &= same >= head;
            let again = edit.again.iter().filter(|again| again.0 == *machine);
            // Firm runs yield to nobody.
            let same = again.map(|again| again.1.max(head)).fold(same, usize::min);
            std::mem::swap(&mut self.sheets[*machine], sheet);
            self.set_aside(shop, *machine, same);
        }
        self.change_forms(shop, &edit.copies, 1);
        let mut possible = firm;
        for (machine, old) in &edit.sheets {
            possible = possible && self.date(shop, *machine, old);
        }
        possible = possible && self.settle_approvals(shop);
        // Of firm runs only those that wait for an approval can have moved.
        possible = possible && (self.approved.is_empty() || self.is_firm(shop));
        self.completion.note(shop, &self.facts, &self.undo.facts);
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
            self.forget_draws(shop, machine, same);
            let newer = std::mem::replace(&mut self.facts[machine], facts);
            self.undo.spare.push(newer);
            if self.hands.limited() {
                for date in &self.facts[machine].dates[same..] {
                    if let Some((window, span)) = date.setup_span() {
                        self.hands.add(window, span);
                    }
                }
            }
            if let Some(supply) = &shop.supply {
                let draws = &self.facts[machine].draws;
                for &draw in draws.iter().filter(|draw| draw.run as usize >= same) {
                    self.drawn.add(supply, draw);
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
    /// Sheets stay as they are; hands and filament that earlier moves freed are used. The dates before are lost.
    pub fn redate(&mut self, shop: &Shop) -> f64 {
        debug_assert!(
            self.drawn_is_right(shop),
            "what is taken is what the runs take"
        );
        self.hands.clear();
        self.drawn.clear();
        for facts in &mut self.facts {
            *facts = SheetFacts::new(shop.nodes.len());
        }
        self.approved.fill(0);
        let mut possible = self.date_all(shop);
        possible = possible && self.settle_approvals(shop) && self.is_firm(shop);
        self.keep(&mut Edit::default());
        self.completion.note_all(shop, &self.facts);
        self.cost = if possible {
            self.total(shop, None)
        } else {
            IMPOSSIBLE
        };
        self.cost
    }

    /// Whether firm runs are no later than they must be.
    fn is_firm(&self, shop: &Shop) -> bool {
        let machines = self.facts.iter().enumerate();
        machines.into_iter().all(|(machine, facts)| {
            let starts = facts.dates.iter().map(|date| date.start);
            shop.calm.in_time(machine, starts)
        })
    }

    /// Whether what is counted of filament that is short is what the runs take, counted afresh.
    fn drawn_is_right(&self, shop: &Shop) -> bool {
        let Some(supply) = &shop.supply else {
            return true;
        };
        let mut afresh = Drawn::new(Some(supply));
        for &draw in self.facts.iter().flat_map(|facts| &facts.draws) {
            afresh.add(supply, draw);
        }
        afresh == self.drawn
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
}
