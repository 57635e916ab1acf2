//! The plan for a calendar: setups, runs, bench work, approvals, stages and orders as `queue.ics` (RFC 5545).
//!
//! Knows: what of a plan belongs into a calendar, an earlier calendar of the same build. Must not know: files, clocks.
//! Promises: the same thing of the same build has the same UID in every plan, so that a calendar that takes in a later file
//! changes what it has; what began before the rest was planned stays in a later file as it was; what else a later plan no longer
//! has is cancelled there; what did not change keeps its number and date of revision.

mod bench;
mod earlier;
mod standing;
mod zone;

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Days, NaiveDate, TimeDelta, Utc};
use chrono_tz::Tz;
use icalendar::{Alarm, Calendar, CalendarDateTime, Component, Event, EventLike, Property, Todo};
use uuid::Uuid;

use crate::plan::{AssemblyDates, Job, Off, Order, Plan, Run};
use crate::scenario::Scenario;

use super::grid::TIE;
use super::html::Plate;
use super::local::{Local, day};
use super::words;
use earlier::{Earlier, PRINTS};

/// When a plan's files are written, and what they take the place of.
#[derive(Clone, Debug)]
pub struct Issue {
    /// The moment of writing; of it the calendar says that its changes are.
    pub now: DateTime<Utc>,
    /// The moment from which is planned, where one was named; else the same. What began before it happened.
    pub planned: DateTime<Utc>,
    /// The calendar of the plan that is replaced, if there was one.
    pub earlier: Option<String>,
}

impl Issue {
    /// Files that take the place of none.
    pub fn first(now: DateTime<Utc>) -> Self {
        Self {
            now,
            planned: now,
            earlier: None,
        }
    }
}

/// Names of this program's calendars, among all names that become UIDs (RFC 9562, version 5). Drawn at random once.
const NAMES: Uuid = Uuid::from_u128(0x5d0f_8f5b_27d1_4c0e_9a63_1b7e_42ce_9f10);

/// So long before a setup or the change of a spool its alarm sounds, for the way to the bench. Common practice, no source.
const NOTICE: TimeDelta = TimeDelta::minutes(10);

/// The plan as a calendar.
pub fn calendar(scenario: &Scenario, plan: &Plan, issue: &Issue) -> String {
    let writer = Writer {
        scenario,
        plan,
        local: Local(scenario.build.zone),
    };
    let zone = scenario.build.zone;
    let earlier = issue.earlier.as_deref();
    let earlier = earlier.map_or_else(Earlier::default, |text| Earlier::read(text, zone));
    let mut head = Calendar::empty();
    head.append_property(("VERSION", "2.0"))
        .append_property(("PRODID", "-//beamyard//queue//EN"))
        .append_property(("CALSCALE", "GREGORIAN"))
        .name(&scenario.build.name)
        .timezone(zone.name());
    let empty = folded(&head.done().to_string());
    let (head, foot) = empty
        .split_once("END:VCALENDAR")
        .map_or((empty.as_str(), ""), |(head, foot)| (head, foot));

    let mut components = writer.all();
    let planned = components.iter().map(|(uid, _)| uid.clone()).collect();
    let begun = writer.begun(&earlier, &planned);
    // What began before the rest was planned lies where it was noted, which the plan's own extent need not hold.
    let moved: String = begun.iter().map(|(_, text)| text.as_str()).collect();
    let moved = Earlier::read(&moved, zone);
    components.extend(begun);
    let written: BTreeSet<&str> = components.iter().map(|(uid, _)| uid.as_str()).collect();
    let mut text = head.to_owned();
    let none = BTreeSet::new();
    let told = earlier.told(&written).chain(moved.told(&none));
    for definition in writer.zones(told) {
        text.push_str(&definition);
    }
    for (uid, component) in &components {
        text.push_str(&earlier.revised(uid, component, issue.now));
    }
    // A plan without a log goes by nothing that happened. Of one before the start nothing has.
    let past = plan.since.as_ref();
    let past = past.map(|since| since.now.min(issue.planned));
    text.push_str(&earlier.gone(&written, past, issue.now));
    text.push_str("END:VCALENDAR");
    text.push_str(foot);
    text
}

struct Writer<'a> {
    scenario: &'a Scenario,
    plan: &'a Plan,
    local: Local,
}

impl Writer<'_> {
    /// Every component with its UID; without the number and the date of its revision.
    fn all(&self) -> Vec<(String, String)> {
        let setups = self.plan.sheets.days.iter().flat_map(|day| &day.tasks);
        let setups = setups.filter_map(|task| match &task.what {
            Job::SetUp { run, clears } => Some(self.setup(&self.plan.runs[*run], clears)),
            _ => None,
        });
        let runs = self.plan.runs.iter().map(|run| self.run(run));
        let stages = self
            .plan
            .assemblies
            .iter()
            .filter_map(|dates| self.stage(dates));
        let orders = self
            .plan
            .orders
            .iter()
            .filter_map(|order| self.order(order));
        let all = setups.chain(runs).chain(self.bench()).chain(stages);
        all.chain(orders).collect()
    }

    /// From the first moment of the plan that is told by the clock to the last.
    fn extent(&self) -> (DateTime<Utc>, DateTime<Utc>) {
        let plan = self.plan;
        let runs = plan.runs.iter();
        let runs = runs.flat_map(|run| [run.setup.unwrap_or(run.start), run.end]);
        let gluing = plan.gluings.iter().flat_map(|gluing| &gluing.work);
        let assembly = plan.assemblies.iter().flat_map(|dates| &dates.work);
        let spares = plan.spare_work.iter().flat_map(|spare| &spare.work);
        let work = gluing.chain(assembly).chain(spares);
        let work = work.flat_map(|stretch| [stretch.from, stretch.to]);
        let trials = plan.trials.iter().map(|trial| trial.approved);
        let moments = runs.chain(work).chain(trials);
        let start = self.scenario.build.start;
        moments
            .fold(None, |extent: Option<(_, _)>, moment| {
                let (from, to) = extent.unwrap_or((moment, moment));
                Some((from.min(moment), to.max(moment)))
            })
            .unwrap_or((start, start))
    }

    /// What its zone's clocks do while it goes on, and at moments that stay of an earlier calendar, first; then what those of others do by
    /// which that told some.
    fn zones(&self, told: impl Iterator<Item = (Tz, DateTime<Utc>)>) -> Vec<String> {
        let own = self.scenario.build.zone;
        let mut spans = BTreeMap::from([((false, own.name()), (own, self.extent()))]);
        for (zone, moment) in told {
            let new = (zone, (moment, moment));
            let (_, (from, to)) = spans.entry((zone != own, zone.name())).or_insert(new);
            (*from, *to) = (moment.min(*from), moment.max(*to));
        }
        let spans = spans.into_values();
        spans
            .map(|(zone, (from, to))| zone::definition(zone, from, to))
            .collect()
    }

    /// The same for the same thing of the same build, whatever the plan.
    fn uid(&self, kind: &str, id: &str) -> String {
        let name = format!("{}\n{kind}\n{id}", self.scenario.build.name);
        Uuid::new_v5(&NAMES, name.as_bytes()).to_string()
    }

    /// A moment by the clock on the wall; in UTC where that clock shows it a second time, which its time alone cannot tell.
    fn moment(&self, moment: DateTime<Utc>) -> CalendarDateTime {
        let wall = moment.with_timezone(&self.local.0).naive_local();
        let first = wall.and_local_timezone(self.local.0).earliest();
        if first.is_some_and(|first| first.to_utc() == moment) {
            CalendarDateTime::WithTimezone {
                date_time: wall,
                tzid: self.local.0.name().to_owned(),
            }
        } else {
            CalendarDateTime::Utc(moment)
        }
    }

    fn setup(&self, run: &Run, clears: &[Off]) -> (String, String) {
        let uid = self.uid("setup", &run.id);
        let mut what = format!("Set up {}: {}", run.id, self.filament(run));
        match words::changed_from(self.scenario, run) {
            None => {}
            Some("") => what.push_str(", first load"),
            Some(from) => what.push_str(&format!(", change from {from}")),
        }
        if !clears.is_empty() {
            let ids: Vec<&str> = clears
                .iter()
                .map(|&off| Plate::of(self.plan, off).id)
                .collect();
            what = format!("Clear {}. {what}", ids.join(", "));
        }
        let from = run.setup.unwrap_or(run.start);
        let mut lines = vec![self.times(run.start, run.end)];
        if let Some(spool) = words::put_on(self.scenario, run) {
            lines.push(format!("Put on {spool}."));
        }
        if let Some(comes) = run.waits {
            let filament = self.filament(run);
            let comes = self.local.full(comes);
            lines.push(format!("It waited for {filament}, which is there {comes}."));
        }
        if run.put_off {
            lines.push(format!("It is {}.", words::PUT_OFF));
        }
        lines.push(self.contents(run));
        let alarm = self.alarm(&what, &run.id);
        let mut event = self.event(&uid, &plain(&what), &lines);
        event
            .starts(self.moment(from))
            .location(self.machine(run))
            .add_property("TRANSP", "OPAQUE")
            .alarm(alarm);
        // An event that takes no time has no end; one with an end must be longer than nothing.
        if run.start > from {
            event.ends(self.moment(run.start));
        }
        (uid, folded(&event.to_string()))
    }

    fn run(&self, run: &Run) -> (String, String) {
        let uid = self.uid("run", &run.id);
        let pieces = words::count(run.pieces.len(), "piece", "pieces");
        let what = format!("{}{PRINTS}{}, {pieces}", run.id, self.filament(run));
        let mut lines = vec![self.contents(run)];
        for end in run.spool.ends.iter().filter(|end| end.left.0 > 0.0) {
            lines.push(format!(
                "Change the spool {}, about {} left on it; then {}.",
                self.local.full(end.at),
                words::mass(end.left),
                words::next_spool(self.scenario, run, end)
            ));
        }
        for end in run.spool.alone() {
            lines.push(format!(
                "The spool ends {} with nobody there; then {}.",
                self.local.full(end.at),
                words::next_spool(self.scenario, run, end)
            ));
        }
        let mut event = self.event(&uid, &what, &lines);
        event
            .starts(self.moment(run.start))
            .location(self.machine(run))
            .add_property("TRANSP", "TRANSPARENT");
        if run.end > run.start {
            event.ends(self.moment(run.end));
        }
        (uid, folded(&event.to_string()))
    }

    fn stage(&self, dates: &AssemblyDates) -> Option<(String, String)> {
        let assembly = &self.scenario.assemblies[dates.assembly.0];
        let due = assembly.due?;
        let uid = self.uid("stage", &assembly.id);
        let standing = words::standing(dates, Some(due));
        let what = format!(
            "{} is due, {}: {standing}",
            assembly.id,
            self.local.clock(due)
        );
        let lines = [format!("Complete {}.", self.local.full(dates.complete))];
        let date = self.local.date(due);
        let mut event = self.event(&uid, &what, &lines);
        event
            .starts(date)
            .ends(date.checked_add_days(Days::new(1)).unwrap_or(date))
            .add_property("TRANSP", "TRANSPARENT");
        Some((uid, folded(&event.to_string())))
    }

    fn order(&self, order: &Order) -> Option<(String, String)> {
        let by: NaiveDate = order.order_by?;
        let filament = &self.scenario.filaments[order.filament.0];
        let uid = self.uid("order", &filament.id);
        let what = format!(
            "Order {} of {} {} ({})",
            words::count(order.spools as usize, "spool", "spools"),
            words::mass(filament.spool),
            filament.id,
            filament.material
        );
        let about = format!(
            "{} needed, {} on hand; by the end of {}.",
            words::mass(order.grams),
            words::mass(order.on_hand),
            day(by)
        );
        // A to-do without a start is due and no more (RFC 5545, 3.6.2): it may be done any time before, and a calendar lists it under its
        // day. A start would have to be earlier than that (3.8.2.3), and would say that it must not be done before.
        let todo = Todo::new()
            .uid(&uid)
            .add_property("DTSTAMP", STAMP)
            .add_property("SEQUENCE", NUMBER)
            .summary(&plain(&what))
            .description(&plain(&about))
            .append_property(date_property("DUE", by))
            .add_property("STATUS", "NEEDS-ACTION")
            .done();
        Some((uid, folded(&todo.to_string())))
    }

    fn event(&self, uid: &str, what: &str, lines: &[String]) -> Event {
        Event::new()
            .uid(uid)
            .add_property("DTSTAMP", STAMP)
            .add_property("SEQUENCE", NUMBER)
            .add_property("STATUS", "CONFIRMED")
            .summary(&plain(what))
            .description(&plain(&lines.join("\n")))
            .done()
    }

    /// A bell before something that somebody has to be there for.
    fn alarm(&self, what: &str, id: &str) -> Alarm {
        Alarm::display(what, -NOTICE)
            .add_property("UID", self.uid("alarm", id))
            .add_property("DTSTAMP", STAMP)
            .done()
    }

    fn contents(&self, run: &Run) -> String {
        words::contents(self.scenario, self.plan, &run.pieces).join(", ")
    }

    fn filament(&self, run: &Run) -> &str {
        &self.scenario.filaments[run.filament.0].id
    }

    /// When a run that is set up starts and ends.
    fn times(&self, start: DateTime<Utc>, end: DateTime<Utc>) -> String {
        let (start, end) = (self.local.full(start), self.local.full(end));
        format!("Starts {start}, ends {end}.")
    }

    fn machine(&self, run: &Run) -> &str {
        &self.scenario.machines[run.machine.0].id
    }
}

/// What stands for the date and the number of a revision until they are known: of the same length and form.
const STAMP: &str = "19700101T000000Z";
const NUMBER: &str = "0";

fn date_property(key: &str, date: NaiveDate) -> Property {
    Property::new(key, date.format("%Y%m%d").to_string())
        .append_parameter(("VALUE", "DATE"))
        .done()
}

/// Blanks that may be broken at; no other control character than a line break.
fn plain(text: &str) -> String {
    let text = text.replace(TIE, " ");
    text.chars()
        .map(|c| {
            if c.is_control() && c != '\n' {
                '\u{fffd}'
            } else {
                c
            }
        })
        .collect()
}

/// The same lines, folded so that none has more than 75 octets (RFC 5545, 3.1). icalendar 0.17 leaves a last line of 76, as it
/// forgets the blank that such a line begins with.
fn folded(text: &str) -> String {
    const MOST: usize = 75;
    let mut folded = String::with_capacity(text.len());
    for line in text.replace("\r\n ", "").split_inclusive("\r\n") {
        let mut length = 0;
        for c in line.trim_end_matches("\r\n").chars() {
            if length + c.len_utf8() > MOST {
                folded.push_str("\r\n ");
                length = 1;
            }
            folded.push(c);
            length += c.len_utf8();
        }
        folded.push_str("\r\n");
    }
    folded
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_folded_before_its_seventy_sixth_octet() {
        // 75 octets stay; of 76 the last goes on, after a blank; of 150 there are 75, then 1 + 74, then 1 + 1.
        let line = |octets: usize| format!("{}\r\n", "x".repeat(octets));
        assert_eq!(folded(&line(75)), line(75));
        assert_eq!(folded(&line(76)), format!("{} x\r\n", line(75)));
        let lengths: Vec<usize> = folded(&line(150)).split("\r\n").map(str::len).collect();
        assert_eq!(lengths, [75, 75, 2, 0]);
        // A letter of two octets is not cut: 74 and it would be 76.
        assert_eq!(
            folded(&format!("{}å\r\n", "x".repeat(74))),
            format!("{}\r\n å\r\n", "x".repeat(74))
        );
        // What was folded otherwise before is the same line.
        assert_eq!(folded("xx\r\n yy\r\n"), "xxyy\r\n");
    }
}
