//! The chart of the weeks: machines down, time across.
//!
//! Knows: runs, setups, bench hours, spans out of use, stages. Must not know: plates, prices.
//! Promises: everything lies at its moment's share of the width, so that the chart is widened without being drawn again; a run
//! is told apart by its edge, mark and number on any ground, never by its colour alone; the shortest bar shows its colour; a number
//! that is shown is whole and meets no other; each machine is a lane of its own, which the script may lay out later than the rest; on paper each
//! week is a strip of its own.

use std::collections::BTreeMap;

use chrono::{DateTime, Datelike, Utc, Weekday};
use maud::{Markup, html};

use super::axis::{Axis, Stretch, per_cent};
use super::code::quoted;
use super::colour::shade;
use super::{Page, dates, marks};
use crate::plan::{AssemblyDates, Run, Standing};
use crate::report::local::day;
use crate::report::words;
use crate::scenario::{FilamentIndex, MachineIndex};

/// Heights in px: the head with days, a machine, the bench, a stage.
const HEAD: u32 = 44;
const MACHINE: u32 = 46;
const BENCH: u32 = 26;
const STAGE: u32 = 26;

/// Of a machine's row: where its bars begin, and how high they are; numbers have room below.
const BAR: u32 = 9;
const HIGH: u32 = 23;

/// How wide a day is at least, px: where all days, one week, one day fill the width, on a wide screen, a middling and a narrow one.
/// Each has a letter, by which `look.css` knows when to show what. All days depend on how many there are; see there for the rest.
fn day_widths(days: u64) -> [(char, f64); 7] {
    let all = |width: f64, least: f64| (width / days.max(1) as f64).max(least);
    [
        ('a', all(1010.0, 12.0)),
        ('b', all(545.0, 12.0)),
        ('c', all(235.0, 24.0)),
        ('w', 144.0),
        ('x', 96.0),
        ('d', 1010.0),
        ('e', 700.0),
    ]
}

/// How wide a day is on paper, px.
const PAPER: f64 = 85.0;

/// How wide figures, letters and the room about them are, px: on a screen in a bar, below it, and on paper.
const FIGURE: f64 = 9.2;
const SMALL_FIGURE: f64 = 7.2;
const PAPER_FIGURE: f64 = 6.5;
const LETTER: f64 = 7.8;
const ROOM: f64 = 6.0;

pub(super) fn section(page: &Page) -> Option<Markup> {
    let ends = page.plan.runs.iter().map(|run| run.end);
    let stages = stages(page);
    let dues = stages.iter().filter_map(|dates| due(page, dates));
    // A due date far beyond the end would leave the plan a corner of the chart.
    let last = ends.chain([page.plan.finish]).max()?;
    let begins = page.plan.begins(page.scenario);
    let near = dues.filter(|&due| due <= last + (last - begins) / 2);
    let axis = Axis::of(page.local, begins, near.fold(last, DateTime::max));
    let chart = Chart {
        page,
        axis,
        stages: &stages,
        live: true,
    };
    let days = axis.day_count();
    Some(html! {
        p.lead {
            "Bars are runs, in their filament's colour, with their number in it or below; where one has no room, point at it, or look for its hour in the queue below. "
            span.lamp-key {} " somebody is at the bench; "
            span.notch-key {} " a setup; "
            b { "⇄" } " a colour change; " (marks::key(&marks::alone())) " a spool ends with nobody there; " svg.hatch-key aria-hidden="true" focusable="false" { rect.offline width="100%" height="100%" {} } " out of use; a dashed line: a stage is due; "
            b { "◆" } " it is complete. Full and hollow blocks at the foot: assembly, gluing."
        }
        div.zoomable {
            fieldset.zoom {
                legend { "Show" }
                @for (id, name, key) in [("all", "all weeks", "A"), ("week", "a week", "W"), ("day", "a day", "D")] {
                    input type="radio" name="zoom" id={ "z-" (id) } value=(id) checked[id == "all"];
                    label for={ "z-" (id) } { (name) kbd { (key) } }
                }
                span.hint { "arrow keys: from run to run" }
                span.further { "↔ scrolls sideways" }
            }
            // The dates and the names stay in sight, so they and the drawing scroll in one box.
            div.chart tabindex="0" role="region" aria-label="Chart of the weeks; scrolls sideways" {
                div.plan style={ "--days:" (days) ";--letters:" (chart.longest_name()) ";--least:" (chart.least()) "px" } {
                    div.head { div.corner {} (dates::ruler(&axis)) }
                    div.rows { (chart.names()) div.drawing { (chart.drawing()) (chart.lanes()) } }
                }
            }
            div #detail .detail role="status" aria-live="polite" {}
        }
        div.strips aria-hidden="true" {
            @for week in axis.weeks() {
                // Only the stages of that week, so that more weeks have room on a sheet.
                @let stages: Vec<&AssemblyDates> = stages.iter().copied().filter(|dates| shows(&week, dates, due(page, dates))).collect();
                @let strip = Chart { axis: week, live: false, stages: &stages, ..chart };
                div.strip { (strip.names()) (strip.drawing()) }
            }
        }
        @if !page.plan.idle.is_empty() {
            h3 { "Machines without work" }
            ul.plain {
                @for idle in &page.plan.idle { li { (quoted(&words::idle(page.scenario, page.local, idle))) } }
            }
        }
    })
}

/// Assemblies with a due date; where there are none, the last to be complete.
fn stages<'a>(page: &Page<'a>) -> Vec<&'a AssemblyDates> {
    let all = &page.plan.assemblies;
    let with_date: Vec<_> = all
        .iter()
        .filter(|dates| due(page, dates).is_some())
        .collect();
    if with_date.is_empty() {
        all.iter()
            .max_by_key(|dates| dates.complete)
            .into_iter()
            .collect()
    } else {
        with_date
    }
}

fn due(page: &Page, dates: &AssemblyDates) -> Option<DateTime<Utc>> {
    page.scenario.assemblies[dates.assembly.0].due
}

/// Whether a stage has a mark on an axis: due, complete, or between the two.
fn shows(axis: &Axis, dates: &AssemblyDates, due: Option<DateTime<Utc>>) -> bool {
    let due = due.unwrap_or(dates.complete);
    let (first, last) = (due.min(dates.complete), due.max(dates.complete));
    axis.holds(first) || axis.holds(last) || axis.stretch(first, last).is_some()
}

/// A bar of a run: where it is, and what is written on it.
struct Bar<'a> {
    at: Stretch,
    number: &'a str,
    filament: Option<FilamentIndex>,
}

impl Bar<'_> {
    /// How wide its number is with the room about it, px.
    fn least(&self, figure: f64) -> f64 {
        ROOM + figure * self.number.chars().count() as f64
    }
}

/// Which of a machine's bars have room for their number below, in a drawing so wide, px: of those that have none in them. One that does not
/// follow the number before it comes first: after planning again it may be any.
fn below(
    bars: &[Option<Bar>],
    width: f64,
    figure: f64,
    inside: impl Fn(&Bar) -> bool,
) -> Vec<bool> {
    let value = |bar: &Option<Bar>| bar.as_ref().and_then(|bar| bar.number.parse::<u64>().ok());
    let counted = |at: usize| {
        let before = at.checked_sub(1).and_then(|before| value(&bars[before]));
        before.and_then(|before| before.checked_add(1)) == value(&bars[at])
    };
    let wants = |at: &usize| bars[*at].as_ref().is_some_and(|bar| !inside(bar));
    let (rest, first): (Vec<usize>, Vec<usize>) =
        (0..bars.len()).filter(wants).partition(|&at| counted(at));
    // What is taken of the row below, by where it begins; half a figure is between two numbers.
    let mut taken: BTreeMap<i64, i64> = BTreeMap::new();
    let mut placed = vec![false; bars.len()];
    for at in first.into_iter().chain(rest) {
        let Some(bar) = &bars[at] else { continue };
        let from = bar.at.x / 100.0 * width;
        let to = from + figure * (bar.number.chars().count() as f64 + 0.5);
        let (from, to) = (from.floor() as i64, to.ceil() as i64);
        let free = taken
            .range(..to)
            .next_back()
            .is_none_or(|(_, &end)| end <= from);
        // What is beyond the end would be cut off.
        if free && to as f64 <= width {
            taken.insert(from, to);
            placed[at] = true;
        }
    }
    placed
}

#[derive(Clone, Copy)]
struct Chart<'a> {
    page: &'a Page<'a>,
    axis: Axis,
    stages: &'a [&'a AssemblyDates],
    /// Whether it can be pointed at; strips for paper cannot.
    live: bool,
}

impl Chart<'_> {
    fn machines(&self) -> u32 {
        self.page.scenario.machines.len() as u32
    }

    /// Room for days; beside it in the page, where they are to stay in sight.
    fn head(&self) -> u32 {
        if self.live { 0 } else { HEAD }
    }

    fn machine_top(&self, machine: usize) -> u32 {
        self.head() + MACHINE * machine as u32
    }

    fn bench_top(&self) -> u32 {
        self.head() + MACHINE * self.machines()
    }

    fn height(&self) -> u32 {
        self.bench_top() + BENCH + STAGE * self.stages.len() as u32
    }

    /// The names of the rows, beside the drawing so that they stay when it scrolls.
    fn names(&self) -> Markup {
        let stage = |dates: &AssemblyDates| &self.page.scenario.assemblies[dates.assembly.0].id;
        html! {
            ol.names aria-hidden="true" {
                @for machine in &self.page.scenario.machines { li { span { (machine.id) } } }
                li.bench { "bench" }
                @for dates in self.stages { li.stage title=(stage(dates)) { (stage(dates)) } }
            }
        }
    }

    /// How many letters the longest of them has.
    fn longest_name(&self) -> usize {
        let scenario = self.page.scenario;
        let machines = scenario.machines.iter().map(|machine| &machine.id);
        let stages = self
            .stages
            .iter()
            .map(|dates| &scenario.assemblies[dates.assembly.0].id);
        machines
            .chain(stages)
            .map(|id| id.chars().count())
            .max()
            .unwrap_or(0)
    }

    fn drawing(&self) -> Markup {
        html! {
            svg.weeks data-from=(self.page.local.rfc3339(self.axis.from)) data-to=(self.page.local.rfc3339(self.axis.to)) height=(self.height()) role=(if self.live { "group" } else { "img" })
                aria-label=(if self.live { "Runs by machine and time" } else { "A week of the chart" }) {
                (self.ground())
                @if !self.live {
                    @for row in 0..self.page.scenario.machines.len() { (self.offline(row, self.machine_top(row))) }
                }
                (self.dates())
                @if !self.live {
                    @for row in 0..self.page.scenario.machines.len() { (self.runs(row, self.machine_top(row))) }
                }
                (self.bench())
            }
        }
    }

    /// The machines' rows over the drawing of all else.
    fn lanes(&self) -> Markup {
        html! {
            @for (row, machine) in self.page.scenario.machines.iter().enumerate() {
                div.lane style={ "top:" (self.machine_top(row)) "px" } {
                    svg width="100%" height=(MACHINE) role="group" aria-label=(machine.id) { (self.offline(row, 0)) (self.runs(row, 0)) }
                }
            }
        }
    }

    /// When a machine is out of use.
    fn offline(&self, row: usize, top: u32) -> Markup {
        let machine = &self.page.scenario.machines[row].id;
        html! {
            @for span in self.page.plan.out_of_use(self.page.scenario, MachineIndex(row)) {
                @if let Some(at) = self.axis.stretch(span.from, span.to) {
                    (block(at, top + 3, MACHINE - 6, "offline"))
                    @if self.live {
                        svg x=(per_cent(at.x)) width=(per_cent(at.width)) y=(top + 3) height=(MACHINE - 6) {
                            title { (machine) " out of use, " (self.page.local.full(span.from)) " to " (self.page.local.full(span.to)) ": " (span.why) }
                            text.off x="6" y="20" { (span.why) }
                        }
                    }
                }
            }
        }
    }

    /// All runs of a machine, with their numbers where these have room.
    fn runs(&self, row: usize, top: u32) -> Markup {
        let plan = self.page.plan;
        let here = |machine: MachineIndex| machine.0 == row;
        let standing: Vec<_> = plan
            .standing()
            .iter()
            .filter(|run| here(run.machine))
            .collect();
        // Runs are listed by machine, then by time.
        let first = plan.runs.partition_point(|run| run.machine.0 < row);
        let runs: Vec<_> = plan.runs[first..]
            .iter()
            .take_while(|run| here(run.machine))
            .collect();
        let bar = |start, end, id, filament| {
            self.axis.stretch(start, end).map(|at| Bar {
                at,
                number: self.page.number(id),
                filament,
            })
        };
        let begun = standing
            .iter()
            .map(|run| bar(run.start, run.end, &run.id, run.filament));
        let planned = runs
            .iter()
            .map(|run| bar(run.start, run.end, &run.id, Some(run.filament)));
        let bars: Vec<Option<Bar>> = begun.chain(planned).collect();
        let labels = self.labels(&bars);
        let (begun, planned) = bars.split_at(standing.len());
        let (begun_labels, labels) = labels.split_at(standing.len());
        html! {
            @for ((run, bar), label) in standing.iter().zip(begun).zip(begun_labels) {
                @if let Some(bar) = bar { (self.goes_on(run, bar, label, top)) }
            }
            @for (at, ((run, bar), label)) in runs.iter().zip(planned).zip(labels).enumerate() {
                @if let Some(bar) = bar { (self.run(first + at, run, bar, label, top)) }
            }
        }
    }

    /// Bench hours, days, hours and rows.
    fn ground(&self) -> Markup {
        let bottom = self.height();
        let hours = &self.page.plan.sheets.hours;
        let first = hours.partition_point(|span| span.to <= self.axis.from);
        html! {
            @for span in hours[first..].iter().take_while(|span| span.from < self.axis.to) {
                @if let Some(at) = self.axis.stretch(span.from, span.to) { (block(at, self.head(), bottom - self.head(), "lamp")) }
            }
            @for (date, midnight) in self.axis.days() {
                @let monday = date.weekday() == Weekday::Mon;
                @let x = per_cent(self.axis.at(midnight));
                line.{ (if monday { "monday" } else { "midnight" }) } x1=(x) x2=(x) y1=(if monday || self.live { 0 } else { 22 }) y2=(bottom) {}
                @if !self.live { svg.mark x=(x) { text.day x="5" y="15" { (day(date)) } } }
                @else {
                    @for hour in dates::HOURS {
                        @let x = per_cent(self.axis.at(dates::clock(midnight, hour)));
                        line.hour x1=(x) x2=(x) y1="0" y2=(bottom) {}
                    }
                }
            }
            @for row in 0..=self.page.scenario.machines.len() {
                @let y = self.machine_top(row);
                line.row x1="0" x2="100%" y1=(y) y2=(y) {}
            }
            line.row x1="0" x2="100%" y1=(self.bench_top() + BENCH) y2=(self.bench_top() + BENCH) {}
        }
    }

    /// A run that was printing when the plan was made: until it ends, or as far as the drawing reaches back.
    fn goes_on(&self, run: &Standing, bar: &Bar, label: &str, top: u32) -> Markup {
        let local = self.page.local;
        let told = html! {
            title {
                (run.id) ", printing since " (local.full(run.start)) ", until " (local.full(run.end))
                @if let Some(at) = run.stops { "; " (words::stops(&local.full(at))) }
            }
        };
        html! {
            (self.bar(bar, label, top, &told))
            @if let Some(at) = run.stops { (self.out(at, top)) }
        }
    }

    /// A bar with its mark and its words: an edge behind, which is narrower where the whole is narrow.
    fn bar(&self, bar: &Bar, label: &str, top: u32, told: &Markup) -> Markup {
        let filament = shade(self.page.scenario, bar.filament);
        html! {
            svg.at x=(per_cent(bar.at.x)) width=(per_cent(bar.at.width)) y=(top + BAR) height=(HIGH) {
                (told)
                rect.{ "rim k" (filament) } width="100%" height="100%" {}
                rect.{ "bar f" (filament) } {}
                rect.m fill={ "url(#m" (filament) ")" } {}
                @if !label.is_empty() {
                    text.{ (label) " t" (filament) } x="4" y="14" {
                        (bar.number)
                        @if label.contains('m') { " " tspan dx="2" { (words::filament(self.page.scenario, bar.filament)) } }
                    }
                }
            }
        }
    }

    /// A spool ends with nobody there.
    fn out(&self, at: DateTime<Utc>, top: u32) -> Markup {
        html! {
            @if self.axis.holds(at) {
                svg.mark x=(per_cent(self.axis.at(at))) y=(top) { (marks::alone()) }
            }
        }
    }

    /// For each bar of a machine, the classes of its words: where its number has room in it (`n`), and its filament's name too (`m`),
    /// or below it (`u`), with the letters of [`day_widths`]; nothing where there is nowhere room.
    fn labels(&self, bars: &[Option<Bar>]) -> Vec<String> {
        let mut labels = vec![String::new(); bars.len()];
        let days = self.axis.day_count() as f64;
        if !self.live {
            let inside = |bar: &Bar| bar.at.width / 100.0 * days * PAPER >= bar.least(PAPER_FIGURE);
            let below = below(bars, days * PAPER, PAPER_FIGURE, inside);
            for ((label, bar), below) in labels.iter_mut().zip(bars).zip(below) {
                let inside = bar.as_ref().is_some_and(inside);
                *label = match (inside, below) {
                    (true, _) => "n",
                    (false, true) => "n u",
                    (false, false) => "",
                }
                .to_owned();
            }
            return labels;
        }
        for (letter, day) in day_widths(self.axis.day_count()) {
            let inside = |bar: &Bar| bar.at.width / 100.0 * days * day >= bar.least(FIGURE);
            let below = below(bars, days * day, SMALL_FIGURE, inside);
            for ((label, bar), below) in labels.iter_mut().zip(bars).zip(below) {
                let Some(bar) = bar else { continue };
                let name = words::filament(self.page.scenario, bar.filament);
                let with_name = bar.least(FIGURE) + ROOM + LETTER * name.chars().count() as f64;
                let named = bar.at.width / 100.0 * days * day >= with_name;
                for (kind, holds) in [('n', inside(bar)), ('m', named), ('u', below)] {
                    if holds {
                        label.extend([' ', kind, letter]);
                    }
                }
            }
        }
        for label in labels.iter_mut().filter(|label| !label.is_empty()) {
            label.insert(0, 'n');
        }
        labels
    }

    fn run(&self, at: usize, run: &Run, bar: &Bar, label: &str, top: u32) -> Markup {
        let inside = html! {
            // Behind the bar, so that of the shortest bar it leaves the whole.
            @if let Some(setup) = run.setup.and_then(|setup| self.axis.stretch(setup, run.start)) {
                (block(setup, top + BAR - 3, HIGH + 6, "notch"))
            }
            (self.bar(bar, label, top, &html! {}))
            @if run.swap_from.is_some() && self.axis.holds(run.setup.unwrap_or(run.start)) {
                svg.mark x=(per_cent(self.axis.at(run.setup.unwrap_or(run.start)))) y=(top) { text.change x="-1" y="9" { "⇄" } }
            }
            @for end in run.spool.alone() { (self.out(end.at, top)) }
        };
        if !self.live {
            return inside;
        }
        let local = self.page.local;
        html! {
            a.run id={ "b" (at) } href={ "#q" (at) } data-m=(run.machine.0)
                aria-label={ (run.id) ", " (self.page.number(&run.id)) " " (self.page.filament(run)) ", " (local.full(run.start)) " to " (local.full(run.end)) (if run.alone { ", for some of it alone" } else { "" }) } {
                (inside)
            }
        }
    }

    /// What is glued and assembled when.
    fn bench(&self) -> Markup {
        let plan = self.page.plan;
        let gluing = plan.gluings.iter().flat_map(|gluing| &gluing.work);
        let spares = plan.spare_work.iter().flat_map(|spare| &spare.work);
        let work = plan.assemblies.iter().flat_map(|dates| &dates.work);
        let kinds = gluing
            .map(|work| ("glue", work))
            .chain(spares.chain(work).map(|work| ("work", work)));
        html! {
            @for (class, stretch) in kinds {
                @if let Some(at) = self.axis.stretch(stretch.from, stretch.to) { (block(at, self.bench_top() + 6, 14, class)) }
            }
        }
    }

    /// Stages: due and complete, and what lies between.
    fn dates(&self) -> Markup {
        let bottom = self.height();
        html! {
            // All lines before all words: a later stage's line would run through the words of an earlier one.
            @for (row, dates) in self.stages.iter().enumerate() {
                @let top = self.stage_top(row);
                @let late = dates.late_days > 0.0;
                @let due = due(self.page, dates);
                @if let Some(due) = due {
                    @if self.axis.holds(due) {
                        @let x = per_cent(self.axis.at(due));
                        line.{ (if late { "due late" } else { "due" }) } x1=(x) x2=(x) y1=(self.head()) y2=(bottom) {}
                    }
                    @if let Some(at) = self.axis.stretch(due.min(dates.complete), due.max(dates.complete)) {
                        (block(at, top + STAGE / 2 - 3, 6, if late { "slip late" } else { "slip" }))
                    }
                }
            }
            @for (row, dates) in self.stages.iter().enumerate() {
                @let top = self.stage_top(row);
                @if self.axis.holds(dates.complete) {
                    svg.mark x=(per_cent(self.axis.at(dates.complete))) y=(top + STAGE / 2) { path.done d="M-7 0L0 -7L7 0L0 7Z" {} }
                }
                (self.standing(dates, top))
            }
        }
    }

    fn stage_top(&self, row: usize) -> u32 {
        self.bench_top() + BENCH + STAGE * row as u32
    }

    /// Of a stage: when the first and the last of its marks is, due or complete.
    fn marks(&self, dates: &AssemblyDates) -> (DateTime<Utc>, DateTime<Utc>) {
        let due = due(self.page, dates).unwrap_or(dates.complete);
        (due.min(dates.complete), due.max(dates.complete))
    }

    /// What is said of a stage: how it stands, and when it is due where a line beyond the chart's end would go missing without a word.
    fn said(&self, dates: &AssemblyDates) -> String {
        let due = due(self.page, dates);
        let standing = words::standing(dates, due);
        match due.filter(|&due| due >= self.axis.to) {
            Some(due) => format!("{standing}, due {} →", day(self.page.local.date(due))),
            None => standing,
        }
    }

    /// Where a stage's words stand, in a drawing so wide, px: beyond its last mark or before its first, and between them where neither side has
    /// room; where none has, in the widest.
    fn place(&self, dates: &AssemblyDates, width: f64) -> Place {
        let (first, last) = self.marks(dates);
        let (first, last) = (self.axis.at(first), self.axis.at(last));
        let place = |x, to_the_right, share| Place {
            x,
            to_the_right,
            share,
        };
        let (after, before) = (place(last, true, 100.0 - last), place(first, false, first));
        let sides = match last < 60.0 {
            true => [after, before],
            false => [before, after],
        };
        let all = [sides[0], sides[1], place(first, true, last - first)];
        let needs = least(&self.said(dates));
        let fits = |place: &&Place| place.share / 100.0 * width >= needs;
        let widest = all.iter().max_by(|a, b| a.share.total_cmp(&b.share));
        *all.iter().find(fits).or(widest).unwrap_or(&all[0])
    }

    /// How wide the drawing is at least on a narrow screen, and on a middling one; of a strip, on paper.
    fn widths(&self) -> (f64, f64) {
        let days = self.axis.day_count();
        match day_widths(days) {
            [_, (_, middling), (_, narrow), ..] if self.live => {
                (narrow * days as f64, middling * days as f64)
            }
            _ => (PAPER * days as f64, PAPER * days as f64),
        }
    }

    /// How wide the drawing is to be so that the words of each stage have room, px.
    fn least(&self) -> f64 {
        let stages = self.stages.iter().map(|dates| {
            let place = self.place(dates, self.widths().0);
            least(&self.said(dates)) / place.share.max(1.0) * 100.0
        });
        stages.fold(0.0, f64::max).ceil()
    }

    /// A stage's words.
    fn standing(&self, dates: &AssemblyDates, top: u32) -> Markup {
        let id = &self.page.scenario.assemblies[dates.assembly.0].id;
        let (first, last) = self.marks(dates);
        if !self.axis.holds(first) && !self.axis.holds(last) {
            return html! {};
        }
        let (narrow, middling) = self.widths();
        let place = self.place(dates, narrow);
        let said = self.said(dates);
        // Its row says the name already; here it stands where the chart has room for it on all but narrow screens, and on paper.
        let name = LETTER * (id.chars().count() + 1) as f64;
        let named = name + least(&said) <= place.share / 100.0 * middling;
        let right = place.to_the_right;
        html! {
            svg.mark x=(per_cent(place.x)) y=(top) {
                text.{ (if dates.late_days > 0.0 { "stage warn" } else { "stage" }) } x=(if right { 12 } else { -12 }) y="18" text-anchor=(if right { "start" } else { "end" }) {
                    // On a narrow screen its row says the name already, and there is no room for both.
                    @if named { tspan.id { (id) " " } }
                    (said)
                }
            }
        }
    }
}

/// Where words stand: from there to the right or to the left, and what share of the width they have, in per cent.
#[derive(Clone, Copy, Debug)]
struct Place {
    x: f64,
    to_the_right: bool,
    share: f64,
}

/// What words take with the room about them, px.
fn least(said: &str) -> f64 {
    4.0 * ROOM + LETTER * said.chars().count() as f64
}

fn block(at: Stretch, y: u32, height: u32, class: &str) -> Markup {
    html! { rect.(class) x=(per_cent(at.x)) width=(per_cent(at.width)) y=(y) height=(height) {} }
}
