//! What prints when the rest is planned: it began before the plan, and its entries go on.
//!
//! Knows: runs that stand, what the calendar before had of them. Must not know: what is on them, the log.
//! Promises: such a run has its entry at the moments at which it really prints, in the words of the plan that it was started from,
//! where there are any; changes of its spool stand as long after its start as they did.

use chrono::{DateTime, TimeDelta, Utc};
use icalendar::{Component, Event, EventLike};

use super::earlier::{Earlier, property};
use super::{Writer, folded, plain};
use crate::plan::Standing;

impl Writer<'_> {
    /// Every such component with its UID.
    pub(super) fn standing(&self, earlier: &Earlier) -> Vec<(String, String)> {
        let runs = self.plan.standing().iter();
        runs.flat_map(|run| self.stands(run, earlier)).collect()
    }

    fn stands(&self, run: &Standing, earlier: &Earlier) -> Vec<(String, String)> {
        let uid = self.uid("run", &run.id);
        let late = (earlier.begins(&uid)).map_or(TimeDelta::zero(), |planned| run.start - planned);
        let text = match earlier.text(&uid) {
            Some(text) => self.moved(text, run.start, Some(run.end)),
            None => self.began_before(&uid, run),
        };
        let mut all = vec![(uid, text)];
        match run.stops {
            Some(at) => all.push(self.stands_still(run, at)),
            None => {
                let ends = (1..).map(|which| self.uid("spool", &format!("{}\n{which}", run.id)));
                let known = ends.map_while(|uid| {
                    let at = earlier.begins(&uid)?.checked_add_signed(late)?;
                    let text = self.moved(earlier.text(&uid)?, at, None);
                    Some((uid, text))
                });
                all.extend(known);
            }
        }
        all
    }

    /// A run of which no calendar is known that has it.
    fn began_before(&self, uid: &str, run: &Standing) -> String {
        let filament = &self.scenario.filaments[run.filament.0].id;
        let what = format!("{} prints: {filament}", run.id);
        let lines = ["It was started before this plan was made.".to_owned()];
        let mut event = self.event(uid, &what, &lines);
        event
            .starts(self.moment(run.start))
            .location(&self.scenario.machines[run.machine.0].id)
            .add_property("TRANSP", "TRANSPARENT");
        if run.end > run.start {
            event.ends(self.moment(run.end));
        }
        folded(&event.to_string())
    }

    /// Its spool ends with nobody there, otherwise than was planned.
    fn stands_still(&self, run: &Standing, at: DateTime<Utc>) -> (String, String) {
        let uid = self.uid("stop", &run.id);
        let machine = &self.scenario.machines[run.machine.0].id;
        let filament = &self.scenario.filaments[run.filament.0].id;
        let what = format!("The spool on {machine} ends with nobody there: {filament}");
        let lines = [
            format!("While {} prints.", run.id),
            "It stands still until somebody changes the spool.".to_owned(),
        ];
        let mut event = self.event(&uid, &plain(&what), &lines);
        event
            .starts(self.moment(at))
            .location(machine)
            .add_property("TRANSP", "TRANSPARENT");
        (uid, folded(&event.to_string()))
    }

    /// A component of the calendar before, at another time; it is not cancelled, if it was.
    fn moved(&self, text: &str, from: DateTime<Utc>, to: Option<DateTime<Utc>>) -> String {
        let mut at = Event::new();
        at.starts(self.moment(from));
        if let Some(to) = to {
            at.ends(self.moment(to));
        }
        let at = at.to_string();
        let lines = text
            .split_inclusive("\r\n")
            .map(|line| match property(line) {
                key @ ("DTSTART" | "DTEND") => {
                    let mut now = at.split_inclusive("\r\n");
                    now.find(|line| property(line) == key).unwrap_or(line)
                }
                "STATUS" => "STATUS:CONFIRMED\r\n",
                _ => line,
            });
        lines.collect()
    }
}
