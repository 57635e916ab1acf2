//! The weeks in characters: machines down, days across.
//!
//! Knows: runs, bench hours, spans out of use, due dates. Must not know: plates, prices.
//! Promises: as many signs to a day as the width allows, a space between two days; a run is seen however short it is, unless a
//! longer one begins under the same sign; a day on which the clocks change has as many signs as any other.

use chrono::{DateTime, Datelike, Days, NaiveDate, Utc};

use crate::plan::{Plan, Run};
use crate::scenario::{MachineIndex, Scenario};

use crate::report::Look;
use crate::report::grid::{TIE, Text, Tone, clean, heading, paragraph, width_of};
use crate::report::local::{Local, day};

/// Signs to a day, the most that fit: one is an hour, two hours, and so on.
const SIGNS: [usize; 8] = [24, 12, 8, 6, 4, 3, 2, 1];
const DAYS: usize = 7;
/// Names of machines are cut off there.
const NAME: usize = 14;

const GOES_ON: char = '━';
const THERE: char = '▂';
const OUT: char = '×';
const DUE: char = '╎';
const LATE: char = '!';
const NOTHING: char = '·';

/// The first seven days with a run, those that print already included; with `all`, every week.
pub(super) fn week(scenario: &Scenario, plan: &Plan, look: &Look) -> String {
    let local = Local(scenario.build.zone);
    let begins = |run: &Run| local.date(run.setup.unwrap_or(run.start));
    let prints = !plan.standing().is_empty();
    let now = prints.then(|| local.date(plan.begins(scenario)));
    let Some(first) = plan.runs.iter().map(begins).chain(now).min() else {
        return String::new();
    };
    let standing = plan.standing().iter().map(|run| run.end);
    let ends = plan.runs.iter().map(|run| run.end).chain(standing);
    let last = ends.map(|end| local.date(end)).max();
    let last = last.filter(|_| look.all).unwrap_or(first);
    let names = scenario.machines.iter().map(|m| width_of(&clean(&m.id)));
    let name = names.max().unwrap_or(0).clamp(6, NAME);
    let room = usize::from(look.columns()).saturating_sub(name + 2);
    let signs = SIGNS
        .into_iter()
        .find(|signs| DAYS * (signs + 1) <= room + 1)
        .unwrap_or(1);
    let letters = letters(scenario);
    let mut text = heading(look, if look.all { "The weeks" } else { "The week" });
    let mut from = first;
    while from <= last {
        let strip = Strip {
            scenario,
            plan,
            days: (0..=DAYS as u64)
                .filter_map(|ahead| from.checked_add_days(Days::new(ahead)))
                .map(|date| (date, local.midnight(date)))
                .collect(),
            signs,
            name,
            letters: &letters,
        };
        text.push_str(&strip.render(look));
        let Some(next) = from.checked_add_days(Days::new(DAYS as u64)) else {
            break;
        };
        from = next;
        if from <= last {
            text.push('\n');
        }
    }
    text + &paragraph(
        look,
        0,
        Text::from(key(scenario, plan, signs, &letters)).tone(Tone::Quiet),
    )
}

/// A letter for each filament: the first of its name that is not taken, else any that is free.
fn letters(scenario: &Scenario) -> Vec<char> {
    let mut taken = Vec::new();
    for filament in &scenario.filaments {
        let own = filament.id.chars().filter(char::is_ascii_alphabetic);
        let own = own.map(|c| c.to_ascii_uppercase());
        let free = own
            .chain('A'..='Z')
            .chain('0'..='9')
            .find(|c| !taken.contains(c));
        taken.push(free.unwrap_or('#'));
    }
    taken
}

fn key(scenario: &Scenario, plan: &Plan, signs: usize, letters: &[char]) -> String {
    let used = |at: &usize| plan.runs.iter().any(|run| run.filament.0 == *at);
    let filaments: Vec<String> = (0..scenario.filaments.len())
        .filter(used)
        .map(|at| format!("{}{TIE}{}", letters[at], scenario.filaments[at].id))
        .collect();
    let hours = 24 / signs;
    let hours = if hours == 1 {
        "an hour".to_owned()
    } else {
        format!("{hours}{TIE}h")
    };
    format!(
        "A run begins at its letter: {}; {GOES_ON}{TIE}goes on; {THERE}{TIE}somebody at the bench; {DUE}{TIE}due, {LATE}{TIE}late; \
         {OUT}{TIE}out of use. A sign is {hours}.",
        filaments.join(", ")
    )
}

struct Strip<'a> {
    scenario: &'a Scenario,
    plan: &'a Plan,
    /// The days with their first moments, and the one after them.
    days: Vec<(NaiveDate, DateTime<Utc>)>,
    signs: usize,
    name: usize,
    letters: &'a [char],
}

impl Strip<'_> {
    fn render(&self, look: &Look) -> String {
        let heads: Vec<String> = self
            .days
            .iter()
            .take(DAYS)
            .map(|(date, _)| self.head(*date))
            .collect();
        let heads = self.line("", &heads);
        let mut lines = vec![self.row("bench", &self.bench())];
        for (at, machine) in self.scenario.machines.iter().enumerate() {
            lines.push(self.row(&machine.id, &self.machine(at)));
        }
        let stages = self.stages();
        if stages.iter().any(|&sign| sign != NOTHING) {
            lines.push(self.row("stages", &stages));
        }
        paragraph(look, 0, Text::from(heads).tone(Tone::Quiet))
            + &paragraph(look, 0, Text::lines(lines))
    }

    fn head(&self, date: NaiveDate) -> String {
        let full = if date.day() == 1 || self.days.first().is_some_and(|first| first.0 == date) {
            day(date)
        } else {
            date.format("%a %-d").to_string()
        };
        let forms = [
            full,
            date.format("%a %-d").to_string(),
            date.format("%-d").to_string(),
        ];
        let head = forms
            .into_iter()
            .find(|form| form.chars().count() <= self.signs);
        let head = head
            .unwrap_or_default()
            .replace(' ', TIE.encode_utf8(&mut [0; 4]));
        let blank = self.signs - head.chars().count();
        head + &TIE.to_string().repeat(blank)
    }

    fn row(&self, name: &str, signs: &[char]) -> String {
        let days: Vec<String> = signs
            .chunks(self.signs)
            .map(|day| day.iter().collect())
            .collect();
        self.line(name, &days)
    }

    fn line(&self, name: &str, days: &[String]) -> String {
        let mut shown = String::new();
        for c in clean(name).chars() {
            if width_of(&shown) + width_of(c.encode_utf8(&mut [0; 4])) > self.name {
                break;
            }
            shown.push(c);
        }
        let blank = self.name + 2 - width_of(&shown);
        let tie = TIE.to_string();
        format!(
            "{}{}{}",
            shown.replace(' ', &tie),
            tie.repeat(blank),
            days.join(&tie)
        )
    }

    /// Where a moment is: beyond the ends, the end.
    fn sign_at(&self, moment: DateTime<Utc>) -> usize {
        let day = self.days.partition_point(|(_, from)| *from <= moment);
        let (Some(before), Some((_, end))) = (day.checked_sub(1), self.days.get(day)) else {
            return if day == 0 { 0 } else { DAYS * self.signs };
        };
        let from = self.days[before].1;
        let share =
            (moment - from).num_minutes() as f64 / (*end - from).num_minutes().max(1) as f64;
        before * self.signs + ((share * self.signs as f64) as usize).min(self.signs - 1)
    }

    /// The signs that a span touches.
    fn signs_of(&self, from: DateTime<Utc>, to: DateTime<Utc>) -> std::ops::Range<usize> {
        let (Some(first), Some(last)) = (self.days.first(), self.days.last()) else {
            return 0..0;
        };
        if to <= first.1 || from >= last.1 {
            return 0..0;
        }
        // The minute after a span is not in it.
        let end = self.sign_at(to - chrono::TimeDelta::minutes(1)) + 1;
        self.sign_at(from)..end.min(DAYS * self.signs)
    }

    fn empty(&self) -> Vec<char> {
        vec![NOTHING; DAYS * self.signs]
    }

    fn bench(&self) -> Vec<char> {
        let mut signs = self.empty();
        for span in &self.plan.sheets.hours {
            signs[self.signs_of(span.from, span.to)].fill(THERE);
        }
        signs
    }

    fn machine(&self, machine: usize) -> Vec<char> {
        let mut signs = self.empty();
        for span in self.plan.out_of_use(self.scenario, MachineIndex(machine)) {
            signs[self.signs_of(span.from, span.to)].fill(OUT);
        }
        let mut begun = vec![0i64; signs.len()];
        let runs = self.plan.runs.iter().filter(|run| run.machine.0 == machine);
        let ours: Vec<&Run> = runs.collect();
        let standing = self.plan.standing().iter();
        for run in standing.filter(|run| run.machine.0 == machine) {
            signs[self.signs_of(run.start, run.end)].fill(GOES_ON);
        }
        for run in &ours {
            signs[self.signs_of(run.start, run.end)].fill(GOES_ON);
        }
        let starts = self.days.first().map(|first| first.1);
        for run in ours {
            let range = self.signs_of(run.start, run.end);
            let minutes = run.minutes.value();
            // Of several that begin under one sign the longest is named; what came from the week before began there.
            if !range.is_empty() && starts <= Some(run.start) && minutes >= begun[range.start] {
                begun[range.start] = minutes;
                signs[range.start] = self.letters[run.filament.0];
            }
        }
        signs
    }

    fn stages(&self) -> Vec<char> {
        let mut signs = self.empty();
        for dates in &self.plan.assemblies {
            let Some(due) = self.scenario.assemblies[dates.assembly.0].due else {
                continue;
            };
            let range = self.signs_of(due - chrono::TimeDelta::minutes(1), due);
            if let Some(sign) = signs.get_mut(range.start).filter(|_| !range.is_empty()) {
                let late = dates.late_days > 0.0 || *sign == LATE;
                *sign = if late { LATE } else { DUE };
            }
        }
        signs
    }
}
