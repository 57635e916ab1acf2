//! The bench in the calendar: spools that are changed, trial copies to approve, gluing, assembly, finishing.
//!
//! Knows: what is done by hand besides setups. Must not know: how it was dated.
//! Promises: every line of the day sheets about such work has its entry at the same moment; work that is interrupted has an entry
//! for each of its stretches, which are told apart by their order.

use icalendar::{Component, EventLike, Todo};

use super::{NUMBER, STAMP, Writer, folded, plain};
use crate::plan::{AssemblyDates, Gluing, Run, SpareWork, SpoolEnd, Trial, Work};
use crate::report::words;

impl Writer<'_> {
    /// Every such component with its UID.
    pub(super) fn bench(&self) -> Vec<(String, String)> {
        let plan = self.plan;
        let mut all = Vec::new();
        for run in &plan.runs {
            let ends = run.spool.ends.iter().zip(1..);
            all.extend(ends.map(|(end, which)| self.spool(run, end, which)));
        }
        all.extend(plan.trials.iter().map(|trial| self.trial(trial)));
        for gluing in &plan.gluings {
            all.extend(self.gluing(gluing));
        }
        for dates in &plan.assemblies {
            all.extend(self.assembling(dates));
        }
        for spare in &plan.spare_work {
            all.extend(self.spares(spare));
        }
        all
    }

    /// The end of a spool, or its change before that; with a bell where somebody is there to hear it.
    fn spool(&self, run: &Run, end: &SpoolEnd, which: usize) -> (String, String) {
        let id = format!("{}\n{which}", run.id);
        let uid = self.uid("spool", &id);
        let (machine, filament) = (self.machine(run), self.filament(run));
        let what = if end.attended {
            format!("Change the spool on {machine}: {filament}")
        } else {
            format!("The spool on {machine} ends with nobody there: {filament}")
        };
        let mut lines = vec![format!(
            "While {} prints. Put on {}.",
            run.id,
            words::next_spool(self.scenario, run, end)
        )];
        if end.left.0 > 0.0 {
            lines.push(format!(
                "About {} is left on the one that comes off: it goes back on the shelf.",
                words::mass(end.left)
            ));
        }
        if !end.attended {
            lines.push("It stands still until somebody changes the spool.".to_owned());
        }
        let mut event = self.event(&uid, &plain(&what), &lines);
        // A moment: no time is planned for it.
        event
            .starts(self.moment(end.at))
            .location(machine)
            .add_property("TRANSP", "TRANSPARENT");
        if end.attended {
            event.alarm(self.alarm(&what, &id));
        }
        (uid, folded(&event.to_string()))
    }

    fn trial(&self, trial: &Trial) -> (String, String) {
        let part = &self.scenario.parts[trial.part.0];
        let uid = self.uid("approval", &part.id);
        let what = format!("Try and approve {}", part.id);
        let mut about = format!(
            "{} of them: {}{}.",
            part.trial,
            words::trial_from(self.scenario, self.plan, trial),
            words::to_choose(part)
        );
        if part.trial < part.copies() {
            about.push_str(" The rest is set up after that.");
        }
        // Due at a moment, and no start: see the orders.
        let mut todo = Todo::new();
        todo.uid(&uid)
            .add_property("DTSTAMP", STAMP)
            .add_property("SEQUENCE", NUMBER)
            .summary(&plain(&what))
            .description(&plain(&about))
            .due(self.moment(trial.approved))
            .add_property("STATUS", "NEEDS-ACTION");
        (uid, folded(&todo.to_string()))
    }

    fn gluing(&self, gluing: &Gluing) -> Vec<(String, String)> {
        let part = &self.scenario.parts[gluing.part.0].id;
        let joint = &self.scenario.joints[gluing.joint.0].id;
        let id = format!("{part}\n{}", gluing.number);
        let what = format!("{part} {} with {joint}", gluing.number);
        let names = [format!("Glue {what}"), format!("Go on with gluing {what}")];
        let cured = format!("Cured {}.", self.local.full(gluing.ready));
        self.stretches("gluing", &id, &gluing.work, &names, &cured)
    }

    fn assembling(&self, dates: &AssemblyDates) -> Vec<(String, String)> {
        let id = &self.scenario.assemblies[dates.assembly.0].id;
        let names = [
            format!("Deburr and assemble {id}"),
            format!("Go on with {id}"),
        ];
        let complete = format!("Complete {}.", self.local.full(dates.complete));
        self.stretches("assembly", id, &dates.work, &names, &complete)
    }

    fn spares(&self, spare: &SpareWork) -> Vec<(String, String)> {
        let id = &self.scenario.parts[spare.part.0].id;
        let names = [
            format!("Deburr spares of {id}"),
            format!("Go on with the spares of {id}"),
        ];
        self.stretches("spares", id, &spare.work, &names, "")
    }

    /// A work's stretches, named as its first and as any later one; what is to be said of its end stands with the last.
    fn stretches(
        &self,
        kind: &str,
        id: &str,
        work: &[Work],
        [first, later]: &[String; 2],
        end: &str,
    ) -> Vec<(String, String)> {
        let stretch = |(at, stretch): (usize, &Work)| {
            let uid = self.uid(kind, &format!("{id}\n{}", at + 1));
            let about = work.get(at + 1).map_or_else(
                || end.to_owned(),
                |next| format!("It goes on {}.", self.local.full(next.from)),
            );
            let what = if at == 0 { first } else { later };
            let mut event = self.event(&uid, &plain(what), &[about]);
            event
                .starts(self.moment(stretch.from))
                .add_property("TRANSP", "OPAQUE");
            if stretch.to > stretch.from {
                event.ends(self.moment(stretch.to));
            }
            (uid, folded(&event.to_string()))
        };
        work.iter().enumerate().map(stretch).collect()
    }
}
