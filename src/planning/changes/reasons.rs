//! Why a run of the accepted plan stands elsewhere than it stood.
//!
//! Knows: the run as it was and as it is, the scenario as it is now, what has been done. Must not know: the search.
//! Promises: what is said is so; what made its place impossible comes before what it costs.

use chrono::{DateTime, Utc};

use super::{Case, Then};
use crate::plan::{Run, Trial};
use crate::progress::{Gone, PieceName, PreviousRun, Progress};
use crate::scenario::{MachineIndex, Scenario};

/// What was said of a run that was scrapped.
const AGAIN: &str = "it was scrapped, and is printed again";

/// Why a run is otherwise than it was; of the new plan: all runs, by machine and time, and its trials.
pub(super) fn why(case: &Case, then: &Then, run: &Run, new: (&[Run], &[Trial])) -> String {
    if let Some(gone) = then.gone {
        return match gone {
            Gone::Machine => format!("machine {} is gone", then.named),
            Gone::Filament(was) => format!("{}; filament {was} is gone", printed_in(case, run)),
            // It has no pieces, so nothing is like it.
            Gone::Parts(parts) => wanted_no_more(parts),
        };
    }
    // What is not gone has a run.
    let Some(before) = then.run else {
        return String::new();
    };
    if before.filament != run.filament {
        let was = &case.scenario.filaments[before.filament.0].id;
        return format!("{}, was {was}", printed_in(case, run));
    }
    if !then.without.is_empty() {
        let lost = wanted_no_more(then.without);
        let stands = before.machine == run.machine && before.start == run.start;
        if stands {
            return format!("of what was on it {lost}");
        }
        return format!(
            "of what was on it {lost}; {}",
            elsewhere(case, before, run, new)
        );
    }
    elsewhere(case, before, run, new)
}

fn printed_in(case: &Case, run: &Run) -> String {
    let filament = &case.scenario.filaments[run.filament.0].id;
    format!("it is printed in {filament} now")
}

/// `peg is wanted no more`, `peg and lid are wanted no more`.
pub(super) fn wanted_no_more(parts: &[String]) -> String {
    match parts {
        [one] => format!("{one} is wanted no more"),
        all => format!("{} are wanted no more", all.join(", ")),
    }
}

/// Why it stands elsewhere, of the same pieces.
fn elsewhere(
    case: &Case,
    before: &PreviousRun,
    run: &Run,
    (runs, trials): (&[Run], &[Trial]),
) -> String {
    let (scenario, progress) = (case.scenario, case.progress);
    let id = |machine: MachineIndex| &scenario.machines[machine.0].id;
    if before.scrapped {
        return AGAIN.into();
    }
    if before.start < run.start
        && let Some(waits) = waits(scenario, run)
    {
        return waits;
    }
    if let Some(impossible) = impossible(case, before) {
        return impossible;
    }
    if before.start <= progress.now {
        return "it did not start when it should".into();
    }
    if begins(before) < progress.now {
        return "its setup should have begun before".into();
    }
    if before.start < run.start
        && let Some(waits) = tried(scenario, run, trials, begins(before))
    {
        return waits;
    }
    if before.machine != run.machine {
        let on = id(run.machine);
        return match case.cheaper {
            true => format!("the whole costs less with it on {on}"),
            false => format!("nothing cheaper was found than with it on {on}"),
        };
    }
    if run.put_off {
        return "somebody is there then when its spool ends".into();
    }
    if run.start < before.start {
        return "it can begin earlier".into();
    }
    in_its_way(scenario, before, run, runs)
}

/// Why a run cannot be where and when it was, as the scenario and the machines are now.
pub(super) fn impossible(case: &Case, before: &PreviousRun) -> Option<String> {
    let machine = &case.scenario.machines[before.machine.0].id;
    let down = down(case.progress, before).then(|| format!("{machine} is out of order then"));
    refused(case, before)
        .or(down)
        .or_else(|| out_of_use(case.scenario, before))
        .or_else(|| nobody_there(case, before))
        .or_else(|| not_ready(case.scenario, before))
        .or_else(|| prints_there(case.progress, before))
}

/// That its machine prints something else until after it was to be set up.
fn prints_there(progress: &Progress, before: &PreviousRun) -> Option<String> {
    let mut running = progress.running.iter();
    let printing = running
        .find(|one| one.machine == before.machine && one.end.max(progress.now) > begins(before))?;
    Some(format!("{} prints there still", printing.id))
}

/// That a trial it waits for is neither there nor printing, and was to be printed by no run of the accepted plan before it.
pub(super) fn untried(case: &Case, before: &PreviousRun) -> Option<String> {
    let Case {
        scenario, progress, ..
    } = case;
    let waits = before.pieces.iter().find(|placed| {
        let part = placed.piece.part;
        let trial = scenario.parts[part.0].trial;
        let approved = (progress.trials.get(part.0)).is_some_and(|known| known.approved.is_some());
        let is_trial = |piece: PieceName| piece.part == part && piece.number <= trial;
        let made = progress.made.iter().map(|made| made.piece);
        let printing = progress.running.iter().flat_map(|run| &run.pieces);
        let earlier = case.previous.runs.iter();
        let earlier = earlier.filter(|run| !run.scrapped && run.start < before.start);
        let planned = earlier.flat_map(|run| &run.pieces);
        let mut pieces = made.chain(printing.chain(planned).map(|placed| placed.piece));
        trial > 0 && placed.piece.number > trial && !approved && !pieces.any(is_trial)
    })?;
    let part = &scenario.parts[waits.piece.part.0].id;
    Some(format!("the trial of {part} is to be printed again first"))
}

/// When a run was to take its machine.
fn begins(before: &PreviousRun) -> DateTime<Utc> {
    before.setup.unwrap_or(before.start)
}

/// A moment on the local clock.
fn shown(scenario: &Scenario, moment: DateTime<Utc>) -> String {
    let local = moment.with_timezone(&scenario.build.zone);
    local.format("%a %-d %b %H:%M").to_string()
}

/// Why a run waits for its filament, if it does.
pub(super) fn waits(scenario: &Scenario, run: &Run) -> Option<String> {
    let comes = shown(scenario, run.waits?);
    let filament = &scenario.filaments[run.filament.0].id;
    Some(format!("it waits for {filament}, which is there {comes}"))
}

/// Why its machine makes it no more: a part of it by itself, or all of them together.
fn refused(case: &Case, before: &PreviousRun) -> Option<String> {
    let machine = before.machine;
    let name = &case.scenario.machines[machine.0];
    for placed in &before.pieces {
        let piece = placed.piece;
        let (part, routes) = (
            &case.scenario.parts[piece.part.0],
            &case.routes[piece.part.0],
        );
        let mut forms = routes.forms.iter();
        let Some(form) = forms.find(|form| form.lengths == piece.of) else {
            continue; // That it is made otherwise is another reason.
        };
        let mut kinds = form.kinds.iter();
        let kind = kinds.position(|kind| kind.positions.contains(&piece.length));
        if kind.is_some_and(|kind| form.ways_of(kind, machine).next().is_some()) {
            continue;
        }
        let filament = &case.scenario.filaments[part.filament.0];
        if !name.materials.contains(&filament.material) {
            return Some(format!("{} takes no {} now", name.id, filament.material));
        }
        if part.only.get(machine.0) == Some(&false) {
            return Some(format!("{} is not to be made on {} now", part.id, name.id));
        }
        return Some(format!("{} fits {} no more", part.id, name.id));
    }
    // Where no run is so long as the hours now let it be, nothing is said of its size.
    let hours = nobody_there(case, before).is_none();
    (hours && !(case.fits)(before)).then(|| format!("it fits {} no more", name.id))
}

/// Whether a machine is out of order when a run was to start, and was so before if that is past.
fn down(progress: &Progress, before: &PreviousRun) -> bool {
    let Some(state) = progress.machines.get(before.machine.0) else {
        return false;
    };
    let since = state.down_since;
    let begun = before.start > progress.now || since.is_some_and(|since| since <= before.start);
    let until = state.down_until;
    begun && until.is_some_and(|until| until > progress.now && until > begins(before))
}

/// An outage of the scenario while it was to be set up or to print.
fn out_of_use(scenario: &Scenario, before: &PreviousRun) -> Option<String> {
    let machine = &scenario.machines[before.machine.0];
    let mut outages = machine.offline.iter();
    let outage = outages.find(|out| out.from < before.end && begins(before) < out.to)?;
    let why = match outage.why.as_str() {
        "" => String::new(),
        why => format!(" ({why})"),
    };
    Some(format!("{} is out of use then{why}", machine.id))
}

/// That the hours do not hold its setup, or all of it where its machine must be watched.
fn nobody_there(case: &Case, before: &PreviousRun) -> Option<String> {
    let minute = |at| case.calendar.minute(at);
    let watched = !case.scenario.machines[before.machine.0].unattended;
    let to = if watched { before.end } else { before.start };
    let needed = watched || before.setup.is_some();
    // Hours that are past are not known any more.
    let ahead = begins(before) >= case.progress.now;
    let there = case.calendar.attended(minute(begins(before)), minute(to));
    (needed && ahead && !there)
        .then(|| "by the hours as they are now nobody is there then".to_owned())
}

/// That a part of it is not ready then.
fn not_ready(scenario: &Scenario, before: &PreviousRun) -> Option<String> {
    let parts = before.pieces.iter().map(|placed| placed.piece.part);
    let ready = parts.filter_map(|part| {
        let part = &scenario.parts[part.0];
        Some((part.ready.filter(|&ready| ready > before.start)?, &part.id))
    });
    let (ready, part) = ready.max_by_key(|&(ready, _)| ready)?;
    Some(format!("{part} is ready only {}", shown(scenario, ready)))
}

/// Which trial a run could not begin before that is approved only after a moment, if there is one; of several the last.
fn tried(scenario: &Scenario, run: &Run, trials: &[Trial], since: DateTime<Utc>) -> Option<String> {
    let later = trials.iter().filter(|trial| trial.approved > since);
    let holds = later.filter(|trial| {
        let part = &scenario.parts[trial.part.0];
        let mut pieces = run.pieces.iter();
        pieces.any(|piece| piece.part == trial.part && piece.number > part.trial)
    });
    let last = holds.max_by_key(|trial| trial.approved)?;
    let part = &scenario.parts[last.part.0].id;
    Some(format!("it waits for the approval of {part}"))
}

/// Why a run starts later on its machine though nothing of its own holds it up: what is there until after its setup was to begin.
fn in_its_way(scenario: &Scenario, before: &PreviousRun, run: &Run, runs: &[Run]) -> String {
    let begins = begins(before);
    let here = runs.iter().filter(|one| one.machine == run.machine);
    let earlier = here.filter(|one| one.start < run.start && one.end > begins);
    let earlier: Vec<&Run> = earlier.collect();
    let Some(last) = earlier.iter().max_by_key(|one| one.start) else {
        // Other machines' setups may have had the hands then; which way round would have cost less was not asked.
        return "nothing cheaper was found that keeps its time".into();
    };
    // Of what is there, something may itself wait, and all behind it with it.
    let waiting = earlier
        .iter()
        .find_map(|one| Some((one, waits(scenario, one)?)));
    match waiting {
        Some((one, waits)) => format!("it comes after {}: {waits}", one.id),
        None => {
            let ends = shown(scenario, last.end);
            format!("it comes after {}, which ends {ends}", last.id)
        }
    }
}
