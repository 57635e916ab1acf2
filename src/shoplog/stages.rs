//! When assemblies are expected to be complete, and when they were.
//!
//! Knows: the state, the accepted plan, bench hours, by how much runs are late. Must not know: how it is shown.
//! Promises: no assembly is expected before it was planned, before now, or, where somebody completes it, with nobody there.

use std::collections::BTreeSet;

use chrono::{DateTime, TimeDelta, Utc};

use super::accepted::PlannedAssembly;
use super::forecast::Forecast;
use super::state::State;
use super::status::Stage;
use crate::calendar::Calendar;

/// When assemblies are complete.
pub(super) struct Ends<'a> {
    pub(super) calendar: &'a Calendar,
    pub(super) state: &'a State,
    pub(super) forecast: &'a Forecast,
    pub(super) now: DateTime<Utc>,
}

impl Ends<'_> {
    /// Assemblies by the plan that is followed; one that it no longer has, being complete, is told by the last plan that had it.
    fn planned(&self) -> impl Iterator<Item = &PlannedAssembly> {
        let followed = self.state.plan().into_iter();
        let followed = followed.flat_map(|plan| &plan.assemblies);
        followed.chain(self.state.past.assemblies.values())
    }

    /// When an assembly is expected to be complete; when it was, if it is.
    pub(super) fn of(&self, id: &str) -> Option<DateTime<Utc>> {
        let planned = self.planned().find(|planned| planned.id == id);
        match planned {
            Some(planned) => Some(self.expected(planned)),
            None => self.complete(id),
        }
    }

    /// Its cure counts from the end of its bench work, and is planned.
    fn complete(&self, id: &str) -> Option<DateTime<Utc>> {
        let done = self.state.assemblies.get(id)?.complete?;
        let known = self.state.shop.assemblies.get(id);
        let cured = known.and_then(|known| done.checked_add_signed(known.cure));
        cured.or(Some(done))
    }

    fn expected(&self, planned: &PlannedAssembly) -> DateTime<Utc> {
        let there = |at: DateTime<Utc>| {
            let minute = self.calendar.minute_from(at).max(0);
            let there = self.calendar.next_presence(minute);
            there.map(|at| self.calendar.moment(at))
        };
        // The last minute of work lies in bench hours, so its end may be their end.
        let by_somebody = |at: DateTime<Utc>| {
            let before = at - TimeDelta::minutes(1);
            there(before) == Some(before)
        };
        if let Some(complete) = self.complete(&planned.id) {
            return complete;
        }
        let mut seen = BTreeSet::new();
        // What is not noted as complete is not complete yet.
        let behind = behind(self.state, self.forecast, &planned.id, &mut seen);
        let then = planned.complete.checked_add_signed(behind);
        let then = then.map_or(planned.complete, |then| then.max(self.now));
        // What somebody was to complete at the bench is completed when somebody is there.
        match by_somebody(planned.complete) && !by_somebody(then) {
            true => there(then).unwrap_or(then),
            false => then,
        }
    }

    /// Assemblies with a date.
    pub(super) fn stages(&self) -> Vec<Stage> {
        let mut stages: Vec<Stage> = Vec::new();
        for assembly in self.planned() {
            let Some(due) = assembly.due else {
                continue;
            };
            if stages.iter().any(|stage| stage.assembly == assembly.id) {
                continue;
            }
            stages.push(Stage {
                assembly: assembly.id.clone(),
                due,
                planned: assembly.complete,
                expected: self.expected(assembly),
                complete: self.complete(&assembly.id).is_some(),
            });
        }
        stages.sort_by(|a, b| (a.due, &a.assembly).cmp(&(b.due, &b.assembly)));
        stages
    }
}

/// By how much an assembly, or one that it needs, waits longer than planned for its pieces.
fn behind<'a>(
    state: &'a State,
    forecast: &Forecast,
    id: &'a str,
    seen: &mut BTreeSet<&'a str>,
) -> TimeDelta {
    // The build graph has no ring; still none would be walked twice.
    if !seen.insert(id) {
        return TimeDelta::zero();
    }
    let own = forecast.behind.get(id).copied().unwrap_or_default();
    let known = state.shop.assemblies.get(id);
    let needs = known.into_iter().flat_map(|assembly| &assembly.needs);
    let needs: Vec<TimeDelta> = needs
        .map(|need| behind(state, forecast, need, seen))
        .collect();
    needs.into_iter().fold(own, TimeDelta::max)
}
