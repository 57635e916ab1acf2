//! The queue by day and machine.
//!
//! Knows: runs, local days. Must not know: bench hours, costs.
//! Promises: a run stands under the day of its setup (or of its start, where it follows another without one); each
//! day begins with what still prints from the days before.

use std::collections::BTreeSet;

use chrono::{Days, NaiveDate};

use crate::plan::{Plan, Run};
use crate::scenario::Scenario;

use crate::report::Look;
use crate::report::grid::{Fit, GUTTER, Grid, TIE, Text, Tone, heading, paragraph};
use crate::report::local::{Local, day};
use crate::report::words;

/// Days shown without `all`.
const DAYS: u64 = 7;

/// Columns by which the runs of a day are set in.
const INDENT: u16 = 2;

/// From this width on there is room for how long a run takes and how much it weighs.
const ROOMY: u16 = 100;

pub(super) fn queue(scenario: &Scenario, plan: &Plan, look: &Look) -> String {
    let local = Local(scenario.build.zone);
    let prints = !plan.standing().is_empty();
    let today = prints.then(|| local.date(plan.begins(scenario)));
    let runs = plan.runs.iter().map(|run| date(local, run));
    let days: BTreeSet<NaiveDate> = runs.chain(today).collect();
    let (Some(&first), Some(&last)) = (days.first(), days.last()) else {
        return heading(look, "Queue") + &paragraph(look, 0, "Nothing is to be printed.");
    };
    let until = first.checked_add_days(Days::new(DAYS)).unwrap_or(last);
    let shown: Vec<NaiveDate> = first
        .iter_days()
        .take_while(|&date| date <= last && (look.all || date < until))
        .collect();
    let rest = plan
        .runs
        .iter()
        .filter(|run| !look.all && date(local, run) >= until)
        .count();

    let title = match shown.last() {
        Some(&end) if end != first => format!("Queue, {} to {}", day(first), day(end)),
        _ => format!("Queue, {}", day(first)),
    };
    // All days share their columns, so that the eye finds the same thing in the same place every evening.
    let mut every_row = columns(look);
    every_row.row(names(look));
    for run in plan
        .runs
        .iter()
        .filter(|run| shown.contains(&date(local, run)))
    {
        every_row.row(cells(scenario, local, look, date(local, run), run));
    }
    let widths = every_row.widths(look, INDENT);
    let mut heads = columns(look);
    heads.row(names(look));
    let mut text = heading(look, &title) + &heads.render_in(&widths, look, INDENT);
    for date in shown {
        text.push_str(&one_day(scenario, plan, look, &widths, date));
    }
    if rest > 0 {
        let more = words::count(rest, "more run", "more runs");
        let note = format!("{more} after that; --all shows every run.");
        text.push('\n');
        text.push_str(&paragraph(look, 0, Text::from(note).tone(Tone::Quiet)));
    }
    text
}

/// The day under which a run stands.
fn date(local: Local, run: &Run) -> NaiveDate {
    local.date(run.setup.unwrap_or(run.start))
}

fn one_day(
    scenario: &Scenario,
    plan: &Plan,
    look: &Look,
    widths: &[u16],
    today: NaiveDate,
) -> String {
    let local = Local(scenario.build.zone);
    let until = |id: &str, end| format!("{id} until {}", local.seen_from(today, end));
    let began = plan.standing().iter();
    let began = began
        .filter(|run| local.date(run.end) >= today)
        .map(|run| match run.stops {
            None => match run.overdue {
                None => until(&run.id, run.end),
                Some(due) => format!("{} (! since {})", run.id, local.seen_from(today, due)),
            },
            Some(at) => {
                let at = local.seen_from(today, at);
                format!("{} (! {})", until(&run.id, run.end), words::stops(&at))
            }
        });
    let before = plan.runs.iter();
    let before = before
        .filter(|run| date(local, run) < today && local.date(run.end) >= today)
        .map(|run| until(&run.id, run.end));
    let goes_on: Vec<String> = began.chain(before).collect();
    let runs: Vec<&Run> = plan
        .runs
        .iter()
        .filter(|run| date(local, run) == today)
        .collect();
    if goes_on.is_empty() && runs.is_empty() {
        return String::new();
    }
    let name = Text::from(day(today)).tone(Tone::Strong);
    let mut text = format!("\n{}", paragraph(look, 0, name));
    if !goes_on.is_empty() {
        let note = format!("still printing: {}", goes_on.join(", "));
        text.push_str(&paragraph(look, INDENT, Text::from(note).tone(Tone::Quiet)));
    }
    // What is on a run stands below its times, under the second column: a night's plate holds a dozen kinds of pieces.
    let below = INDENT + widths.first().map_or(0, |width| width + GUTTER);
    for run in runs {
        let mut grid = columns(look);
        grid.row(cells(scenario, local, look, today, run));
        text.push_str(&grid.render_in(widths, look, INDENT));
        let contents = words::contents(scenario, plan, &run.pieces).join(", ");
        text.push_str(&paragraph(look, below, contents));
    }
    text
}

fn names(look: &Look) -> Vec<Text> {
    let mut names = vec!["Run", "Setup", "Start", "End", ""];
    if look.width >= ROOMY {
        names.extend(["Takes", "Mass"]);
    }
    names.push("Filament");
    let quiet = |name| Text::from(name).tone(Tone::Quiet);
    names.into_iter().map(quiet).collect()
}

fn columns(look: &Look) -> Grid {
    let mut fits = vec![
        Fit::Upto(14),
        Fit::Upto(5),
        Fit::Upto(5),
        Fit::Upto(12),
        Fit::Upto(5),
    ];
    if look.width >= ROOMY {
        fits.extend([Fit::Number(8), Fit::Number(7)]);
    }
    Grid::new(fits)
}

fn cells(scenario: &Scenario, local: Local, look: &Look, today: NaiveDate, run: &Run) -> Vec<Text> {
    let mut cells = vec![
        Text::from(run.id.as_str()).tone(Tone::Strong),
        run.setup
            .map_or("none".into(), |moment| local.clock(moment).into()),
        local.clock(run.start).into(),
        local.seen_from(today, run.end).into(),
        Text::from(if run.alone { "alone" } else { "" }).tone(Tone::Alone),
    ];
    if look.width >= ROOMY {
        cells.push(words::span(run.minutes).into());
        cells.push(words::mass(run.grams).into());
    }
    cells.push(filament(scenario, local, today, run));
    cells
}

/// The filament with what is to be done about it at the setup or later.
fn filament(scenario: &Scenario, local: Local, today: NaiveDate, run: &Run) -> Text {
    let mut text = scenario.filaments[run.filament.0].id.clone();
    match words::changed_from(scenario, run) {
        None => {}
        Some("") => text.push_str(", first load"),
        Some(from) => text.push_str(&format!(" from {from}")),
    }
    if let Some(spool) = words::put_on(scenario, run) {
        text.push_str(&format!(", {spool}"));
    }
    for end in &run.spool.ends {
        let at = local.seen_from(today, end.at);
        let next = words::next_spool(scenario, run, end);
        text.push_str(&if end.left.0 > 0.0 {
            let left = words::mass(end.left);
            format!(
                ", change{TIE}the{TIE}spool at{TIE}{at}, about{TIE}{left} left on it, then {next}"
            )
        } else if end.attended {
            format!(", next{TIE}spool{TIE}{at}: {next}")
        } else {
            format!(", !{TIE}out{TIE}{at}, then {next}")
        });
    }
    if let Some(comes) = run.waits {
        let comes = local.seen_from(today, comes);
        text.push_str(&format!(", waited for it: it is there{TIE}{comes}"));
    }
    if run.put_off {
        text.push_str(&format!(", {}", words::PUT_OFF));
    }
    let marked = run.stops();
    Text::from(text).tone(if marked { Tone::Mark } else { Tone::Plain })
}
