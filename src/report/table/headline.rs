//! The first lines: when it is complete, what it costs, how good that is.
//!
//! Knows: the plan's sums. Must not know: single runs.
//! Promises: the cost is shown with all its parts, which add up to the total as shown.

use crate::plan::{Plan, Since, Sums};
use crate::scenario::Scenario;

use crate::report::Look;
use crate::report::grid::{Fit, Grid, TIE, Text, Tone, paragraph};
use crate::report::local::{Local, day_and_year};
use crate::report::money::{Hundredths, Shown, gap};
use crate::report::words;

/// So many late stages or idle machines are named, and the rest counted.
const MOST_NAMES: usize = 4;

/// Of a plan whose search somebody ended.
const STOPPED: &str = "the search was stopped before its end; a longer one may find a better plan";

pub(super) fn headline(scenario: &Scenario, plan: &Plan, look: &Look) -> String {
    let title = Text::from(scenario.build.name.as_str()).tone(Tone::Strong);
    let mut grid = Grid::new([Fit::Upto(8)]);
    let mut line = |label: &str, text: Text| {
        grid.row([Text::from(label).tone(Tone::Quiet), text]);
    };
    line("Complete", complete(scenario, plan));
    let mut spools = Some("Spools");
    for text in stands(scenario, plan).chain(stops(plan)) {
        line(spools.take().unwrap_or_default(), text.tone(Tone::Mark));
    }
    if let Some(stages) = stages(scenario, plan) {
        line("Stages", stages);
    }
    line("Queue", queue(scenario, plan));
    line("Filament", filament(plan));
    if let Some(since) = &plan.since {
        line("From", from(scenario, since));
    }
    line("Cost", cost(scenario, plan));
    line("Bound", bound(scenario, plan));
    if plan.stopped {
        line("Stopped", Text::from(STOPPED).tone(Tone::Mark));
    }
    paragraph(look, 0, title) + &grid.render(look, 0)
}

fn complete(scenario: &Scenario, plan: &Plan) -> Text {
    let local = Local(scenario.build.zone);
    let taken = (plan.finish - scenario.build.start).num_minutes() as f64 / 1440.0;
    Text::from(format!(
        "{}{TIE}{}, {} after the start",
        day_and_year(local.date(plan.finish)),
        local.clock(plan.finish),
        words::days(taken)
    ))
    .tone(Tone::Strong)
}

/// What prints and will stand before its end, which the dates include.
fn stands(scenario: &Scenario, plan: &Plan) -> impl Iterator<Item = Text> {
    let local = Local(scenario.build.zone);
    let today = local.date(plan.begins(scenario));
    plan.standing().iter().filter_map(move |run| {
        let at = local.seen_from(today, run.stops?);
        let told = words::stops(&at);
        Some(format!("{} prints: {told}; dates include it", run.id).into())
    })
}

/// How many runs stop before their end, which no date includes; `None` where none does.
fn stops(plan: &Plan) -> Option<Text> {
    let text = match plan.sums().stop {
        0 => return None,
        1 => format!("1{TIE}run stops when its spool ends; dates do not include it"),
        runs => format!("{runs}{TIE}runs stop when their spool ends; dates do not include it"),
    };
    Some(text.into())
}

/// How many stages are late, which, and by how much; `None` where nothing has a due date.
fn stages(scenario: &Scenario, plan: &Plan) -> Option<Text> {
    let due =
        |dates: &&crate::plan::AssemblyDates| scenario.assemblies[dates.assembly.0].due.is_some();
    let stages: Vec<_> = plan.assemblies.iter().filter(due).collect();
    if stages.is_empty() {
        return None;
    }
    let late: Vec<String> = stages
        .iter()
        .filter(|dates| dates.late_days > 0.0)
        .map(|dates| {
            let id = &scenario.assemblies[dates.assembly.0].id;
            format!("{id} by {}", words::late(dates))
        })
        .collect();
    Some(if late.is_empty() {
        let unless = match plan.sums().stop {
            0 => "",
            _ => words::UNLESS_ONE_STOPS,
        };
        match stages.len() {
            1 => format!("in time{unless}").into(),
            count => format!("all {count} in time{unless}").into(),
        }
    } else {
        let (named, more) = late.split_at(late.len().min(MOST_NAMES));
        let more = match more.len() {
            0 => String::new(),
            more => format!(", and {more} more"),
        };
        let (late, of) = (late.len(), stages.len());
        Text::from(format!("{late} of {of} late: {}{more}", named.join(", "))).tone(Tone::Mark)
    })
}

fn queue(scenario: &Scenario, plan: &Plan) -> Text {
    let (busy, idle): (Vec<usize>, Vec<usize>) = (0..scenario.machines.len())
        .partition(|&machine| plan.runs.iter().any(|run| run.machine.0 == machine));
    let Sums { hours, alone, .. } = plan.sums();
    let mut text = format!(
        "{} on {}, {hours:.0}{TIE}h of printing",
        words::count(plan.runs.len(), "run", "runs"),
        words::count(busy.len(), "machine", "machines"),
    );
    if alone > 0 {
        text.push_str(&format!(", {alone}{TIE}unattended"));
    }
    if idle.is_empty() {
        return text.into();
    }
    let (named, more) = idle.split_at(idle.len().min(MOST_NAMES));
    let named: Vec<&str> = named
        .iter()
        .map(|&machine| scenario.machines[machine].id.as_str())
        .collect();
    let more = match more.len() {
        0 => String::new(),
        more => format!(" and {more} more"),
    };
    Text::lines([text, format!("not used: {}{more}", named.join(", "))])
}

fn filament(plan: &Plan) -> Text {
    let sums = plan.sums();
    format!(
        "{} printed, {}",
        words::mass(sums.printed),
        words::changes(&sums)
    )
    .into()
}

/// What the plan goes on from, and what its cost leaves out.
fn from(scenario: &Scenario, since: &Since) -> Text {
    let local = Local(scenario.build.zone);
    Text::lines([
        format!(
            "{}{TIE}{}: {} there or printing, {} printing",
            day_and_year(local.date(since.now)),
            local.clock(since.now),
            words::count(since.pieces.len(), "piece is", "pieces are"),
            words::count(since.running.len(), "run", "runs"),
        ),
        "the cost is of what is left: what is printed, or printing, is paid".to_owned(),
    ])
}

fn cost(scenario: &Scenario, plan: &Plan) -> Text {
    let shown = Shown::new(&plan.cost);
    let parts: Vec<String> = shown
        .parts()
        .iter()
        .map(|(name, part)| format!("{name}{TIE}{part}"))
        .collect();
    Text::lines([
        format!("{}{TIE}{}", shown.total(), scenario.currency),
        parts.join(" + "),
    ])
}

fn bound(scenario: &Scenario, plan: &Plan) -> Text {
    format!(
        "{} of the {}{TIE}{} that planning decides cannot be avoided: gap{TIE}{:.1}{TIE}%",
        Hundredths::down(plan.bound),
        Hundredths::nearest(plan.decided),
        scenario.currency,
        gap(plan.decided, plan.bound) * 100.0,
    )
    .into()
}
