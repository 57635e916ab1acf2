//! What was started before the rest is planned: it began before the plan, and its entries go on.
//!
//! Knows: runs that print or have ended, what the calendar before had of them. Must not know: what is on them, the log.
//! Promises: such a run has its entry at the moments at which it really printed or prints, in the words of the plan that it was
//! started from, where there are any, and its setup right before that; changes of its spool stand as long after its start as they did; of
//! a run that was scrapped it is said, as long as the log says so, and what was to come of it is cancelled.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, TimeDelta, Utc};
use icalendar::{Component, Event, EventLike};

use super::earlier::{Earlier, PRINTS, SCRAPPED, cancelled, property};
use super::{Writer, folded, plain};
use crate::plan::{Ended, Standing};
use crate::report::words;

impl Writer<'_> {
    /// Every such component with its UID; `written` are those of the plan.
    pub(super) fn begun(
        &self,
        earlier: &Earlier,
        written: &BTreeSet<String>,
    ) -> Vec<(String, String)> {
        let running = self.plan.standing().iter();
        let all = running.flat_map(|run| self.stands(run, earlier));
        let mut all: Vec<(String, String)> = all.collect();
        let ended = || self.plan.since.iter().flat_map(|since| &since.ended);
        // In the order of their starts, so that the last stays.
        let last = ended().zip(0..).map(|(run, at)| (run.id.as_str(), at));
        let last: BTreeMap<&str, usize> = last.collect();
        let mut starts: BTreeMap<(&str, DateTime<Utc>), usize> = BTreeMap::new();
        for (run, at) in ended().zip(0..) {
            // One that was scrapped may print anew, or be to.
            let prints = self.plan.standing().iter().any(|one| one.id == run.id);
            let again = prints || written.contains(&self.uid("run", &run.id));
            let own = !again && last.get(run.id.as_str()) == Some(&at);
            let which = starts.entry((&run.id, run.start)).or_default();
            *which += 1;
            all.extend(self.ended((run, *which), own, earlier));
        }
        all
    }

    fn stands(&self, run: &Standing, earlier: &Earlier) -> Vec<(String, String)> {
        let uid = self.uid("run", &run.id);
        let late = (earlier.begins(&uid)).map_or(TimeDelta::zero(), |planned| run.start - planned);
        let text = match earlier.text(&uid) {
            Some(text) => called(&self.moved(text, run.start, Some(run.end)), false),
            None => self.began_before(&uid, run),
        };
        let mut all = vec![(uid, text)];
        all.extend(self.was_set_up(&run.id, (run.start, run.end), earlier));
        match run.stops {
            Some(at) => all.push(self.stands_still(run, at)),
            None => all.extend(self.spools(&run.id, late, None, earlier)),
        }
        all
    }

    /// A run that has ended, and which of its starts at that moment it is, from 1. The entry of its name is its `own` unless it was started
    /// again or is to be: then what was is an entry apart.
    fn ended(
        &self,
        (run, which): (&Ended, usize),
        own: bool,
        earlier: &Earlier,
    ) -> Vec<(String, String)> {
        let uid = self.uid("run", &run.id);
        let mut apart = format!("{}\n{}", run.id, run.start.timestamp());
        if which > 1 {
            apart.push_str(&format!("\n{which}"));
        }
        let apart = self.uid("scrapped", &apart);
        let (from, to) = (run.start, Some(run.end));
        if !own && !run.scrapped {
            return Vec::new();
        }
        // A calendar that does not have it never did.
        let Some(text) = earlier.text(&apart).or_else(|| earlier.text(&uid)) else {
            return Vec::new();
        };
        let text = called(&self.moved(text, from, to), run.scrapped);
        // One that stands apart stays there, also once nothing of that name is to come: it would stand twice.
        let stays = run.scrapped && earlier.text(&apart).is_some();
        let uid = if own && !stays { uid } else { apart };
        let mut all = vec![(uid.clone(), rewritten(&text, "UID", |_| uid.clone()))];
        if own && stays {
            all.extend(self.dropped(&run.id, earlier));
        } else if own {
            let late = (earlier.begins(&uid)).map_or(TimeDelta::zero(), |planned| from - planned);
            all.extend(self.was_set_up(&run.id, (run.start, run.end), earlier));
            all.extend(self.spools(&run.id, late, to, earlier));
        }
        all
    }

    /// What was to come of a run, cancelled.
    fn dropped(&self, id: &str, earlier: &Earlier) -> Vec<(String, String)> {
        let ends = (1..).map(|which| self.uid("spool", &format!("{id}\n{which}")));
        let ends = ends.take_while(|uid| earlier.text(uid).is_some());
        let own = [self.uid("run", id), self.uid("setup", id)];
        let known = own.into_iter().chain(ends).filter_map(|uid| {
            let text = cancelled(earlier.text(&uid)?);
            Some((uid, text))
        });
        known.collect()
    }

    /// The setup of a run that has begun: right before it, for as long as it was to take.
    fn was_set_up(
        &self,
        id: &str,
        (start, end): (DateTime<Utc>, DateTime<Utc>),
        earlier: &Earlier,
    ) -> Option<(String, String)> {
        let uid = self.uid("setup", id);
        let text = earlier.text(&uid)?;
        let from = start.checked_sub_signed(earlier.takes(&uid))?;
        let text = self.moved(text, from, Some(start));
        let times = plain(&self.times(start, end)).replace(',', "\\,");
        let told = |about: &str| match about.split_once("\\n") {
            Some((_, rest)) => format!("{times}\\n{rest}"),
            None => times.clone(),
        };
        Some((uid, rewritten(&text, "DESCRIPTION", told)))
    }

    /// The changes of a run's spool, so much later than they were to be; those after its end are none any more.
    fn spools(
        &self,
        id: &str,
        late: TimeDelta,
        end: Option<DateTime<Utc>>,
        earlier: &Earlier,
    ) -> Vec<(String, String)> {
        let ends = (1..).map(|which| self.uid("spool", &format!("{id}\n{which}")));
        let known = ends.map_while(|uid| {
            let at = earlier.begins(&uid)?.checked_add_signed(late)?;
            let text = self.moved(earlier.text(&uid)?, at, None);
            let over = end.is_some_and(|end| at > end);
            let text = if over { cancelled(&text) } else { text };
            Some((uid, text))
        });
        known.collect()
    }

    /// A run of which no calendar is known that has it.
    fn began_before(&self, uid: &str, run: &Standing) -> String {
        let filament = words::filament(self.scenario, run.filament);
        let what = format!("{}{PRINTS}{filament}", run.id);
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
        let filament = words::filament(self.scenario, run.filament);
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
        // An event with an end must be longer than nothing.
        let to = to.filter(|&to| to > from);
        if let Some(to) = to {
            at.ends(self.moment(to));
        }
        let at = at.to_string();
        let lines = text
            .split_inclusive("\r\n")
            .filter(|line| property(line) != "DTEND" || to.is_some())
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

/// The entry of a run, saying whether it was scrapped.
fn called(text: &str, scrapped: bool) -> String {
    let (was, is) = match scrapped {
        true => (PRINTS, SCRAPPED),
        false => (SCRAPPED, PRINTS),
    };
    rewritten(text, "SUMMARY", |what| what.replacen(was, is, 1))
}

/// A component with another value of one of its text properties; what its alarm says stays.
fn rewritten(text: &str, key: &str, value: impl Fn(&str) -> String) -> String {
    let mut alarm = false;
    let mut all = String::with_capacity(text.len());
    for line in text.replace("\r\n ", "").split_inclusive("\r\n") {
        alarm |= line.starts_with("BEGIN:VALARM");
        match line.split_once(':') {
            Some((name, said)) if !alarm && property(name) == key => {
                let said = value(said.trim_end_matches("\r\n"));
                all.push_str(&format!("{name}:{said}\r\n"));
            }
            _ => all.push_str(line),
        }
        alarm &= !line.starts_with("END:VALARM");
    }
    folded(&all)
}
