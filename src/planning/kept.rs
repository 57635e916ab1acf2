//! The accepted plan gone on with: as it is, or with only that put right that was lost or is late.
//!
//! Knows: the accepted plan's runs, how a queue becomes a plan. Must not know: moves, how a better queue is sought.
//! Promises: a plan that comes out has passed its audit; its changes are told, and what it costs is what keeping the accepted plan costs.

use crate::plan::Plan;
use crate::plan::audit::audit_since;
use crate::progress::{Previous, Progress};
use crate::scenario::Scenario;
use crate::search::fitter::Fitter;
use crate::search::snapshot::Snapshot;
use crate::search::state::State;
use crate::units::Money;

use super::finish::{Finished, Ground, finish};
use super::replay::{Replay, firm_until};
use super::{attended, changes, supply};

/// The accepted plan, and what goes on from it.
pub struct Accepted<'a> {
    /// The scenario as it is written.
    pub scenario: &'a Scenario,
    /// What has been done.
    pub progress: &'a Progress,
    /// The plan.
    pub previous: &'a Previous,
    /// No plan of the rest decides less.
    pub least: Money,
    /// The seed that the plan tells.
    pub seed: u64,
}

impl Accepted<'_> {
    /// As it is, if it makes all that is left, keeps every rule and lets no run stop without need.
    pub fn as_it_is(&self, ground: &Ground, again: &Replay) -> Option<Plan> {
        if !again.complete {
            return None;
        }
        let shop = ground.shop;
        let sheets = again.sheets.iter();
        let loads = sheets.map(|sheet| sheet.iter().map(|run| run.loads.to_vec()).collect());
        let loads: Vec<_> = loads.collect();
        State::of_sheets(shop, &mut Fitter::default(), &loads, &again.copies)?;
        let sheets: Vec<_> = again
            .sheets
            .iter()
            .cloned()
            .map(std::sync::Arc::new)
            .collect();
        let state = State::restored(shop, &mut Fitter::default(), &sheets, &again.copies);
        if !state.cost().is_finite() {
            return None;
        }
        let queue = Snapshot::of(&state);
        let Finished { plan, short } = finish(ground, &queue, self.seed)?;
        if short.is_some() || attended::attend(ground, &queue).is_some() {
            return None;
        }
        self.told(ground, plan)
    }

    /// In its order, with what was lost or is late where it costs least, and with what spools there are.
    pub fn put_right(&self, ground: &Ground, start: &Snapshot) -> Option<Plan> {
        let settled = supply::settle(ground, start, self.seed)?;
        self.told(ground, settled.plan)
    }

    /// With its changes, if it passes its audit.
    fn told(&self, ground: &Ground, mut plan: Plan) -> Option<Plan> {
        plan.bound = Money(self.least.0.min(plan.decided.0));
        let cost = plan.cost.total();
        if let Some(since) = &mut plan.since {
            since.kept = Some(cost);
            let shop = ground.shop;
            let firm = firm_until(shop, self.scenario.build.firm);
            since.changes = changes::changes(
                ground.scenario,
                self.progress,
                self.previous,
                shop.calendar.moment(firm),
                &plan.runs,
                &plan.trials,
            );
        }
        audit_since(self.scenario, self.progress, &plan)
            .is_empty()
            .then_some(plan)
    }
}
