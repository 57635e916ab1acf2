//! What is done by hand, for other programs: trials, gluing, assembly, finishing of spares, and what the end waits for.
//!
//! Knows: the keys of bench work. Must not know: how it was dated.
//! Promises: work has a stretch for each time without interruption, in order.

use serde::Serialize;

use super::decimals;
use crate::lifting::Centre;
use crate::plan::{
    AssemblyDates, CriticalPath, Gluing, Link, LinkOf, Plan, SpareWork, Trial, Work,
};
use crate::report::local::Local;
use crate::scenario::{PartIndex, Scenario};

/// A stretch of work.
#[derive(Serialize)]
struct WorkFile {
    from: String,
    to: String,
}

#[derive(Serialize)]
pub(super) struct TrialFile<'a> {
    part: &'a str,
    copies: u32,
    printed: String,
    approved: String,
}

#[derive(Serialize)]
pub(super) struct GluingFile<'a> {
    part: &'a str,
    number: u32,
    assembly: Option<&'a str>,
    joint: &'a str,
    printed: String,
    work: Vec<WorkFile>,
    ready: String,
}

#[derive(Serialize)]
pub(super) struct AssemblyFile<'a> {
    id: &'a str,
    printed: String,
    start: String,
    work: Vec<WorkFile>,
    complete: String,
    due: Option<String>,
    late_days: f64,
    float_hours: f64,
    mass_g: Option<f64>,
    centre: Option<[f64; 3]>,
    centre_lacks: Vec<&'a str>,
    one_person_g: Option<f64>,
}

#[derive(Serialize)]
pub(super) struct SpareWorkFile<'a> {
    part: &'a str,
    work: Vec<WorkFile>,
}

/// A link of the critical path.
#[derive(Serialize)]
pub(super) struct LinkFile<'a> {
    what: &'a str,
    /// Of a run or its setup the run's, of an assembly its own, of joining the part's.
    id: &'a str,
    /// Which copy is joined.
    #[serde(skip_serializing_if = "Option::is_none")]
    number: Option<u32>,
    until: String,
    /// Whether the next link waited only for the hands that this took.
    hands: bool,
}

fn work(local: Local, work: &[Work]) -> Vec<WorkFile> {
    let stretches = work.iter();
    stretches
        .map(|stretch| WorkFile {
            from: local.rfc3339(stretch.from),
            to: local.rfc3339(stretch.to),
        })
        .collect()
}

pub(super) fn trial<'a>(scenario: &'a Scenario, local: Local, trial: &Trial) -> TrialFile<'a> {
    let part = &scenario.parts[trial.part.0];
    TrialFile {
        part: &part.id,
        copies: part.trial,
        printed: local.rfc3339(trial.printed),
        approved: local.rfc3339(trial.approved),
    }
}

pub(super) fn gluing<'a>(scenario: &'a Scenario, local: Local, gluing: &Gluing) -> GluingFile<'a> {
    GluingFile {
        part: part(scenario, gluing.part),
        number: gluing.number,
        assembly: (gluing.assembly).map(|assembly| scenario.assemblies[assembly.0].id.as_str()),
        joint: &scenario.joints[gluing.joint.0].id,
        printed: local.rfc3339(gluing.printed),
        work: work(local, &gluing.work),
        ready: local.rfc3339(gluing.ready),
    }
}

pub(super) fn assembly<'a>(
    scenario: &'a Scenario,
    local: Local,
    plan: &'a Plan,
    dates: &AssemblyDates,
) -> AssemblyFile<'a> {
    let mut lifts = plan.lifts.iter();
    let lift = lifts.find(|lift| lift.assembly == dates.assembly);
    let (centre, lacks) = match lift.map(|lift| &lift.centre) {
        Some(Centre::At(centre)) => (Some(centre.map(|axis| decimals(axis.0, 3))), &[][..]),
        Some(Centre::NotKnown(lacking)) => (None, lacking.as_slice()),
        None => (None, &[][..]),
    };
    let assembly = &scenario.assemblies[dates.assembly.0];
    AssemblyFile {
        id: &assembly.id,
        printed: local.rfc3339(dates.printed),
        start: local.rfc3339(dates.start),
        work: work(local, &dates.work),
        complete: local.rfc3339(dates.complete),
        due: assembly.due.map(|moment| local.rfc3339(moment)),
        late_days: decimals(dates.late_days, 6),
        float_hours: decimals(dates.float.hours(), 4),
        mass_g: lift.map(|lift| decimals(lift.mass.0, 1)),
        centre,
        centre_lacks: lacks.iter().map(String::as_str).collect(),
        one_person_g: lift
            .and_then(|lift| lift.limit)
            .map(|limit| decimals(limit.0, 1)),
    }
}

pub(super) fn spares<'a>(
    scenario: &'a Scenario,
    local: Local,
    spares: &SpareWork,
) -> SpareWorkFile<'a> {
    SpareWorkFile {
        part: part(scenario, spares.part),
        work: work(local, &spares.work),
    }
}

pub(super) fn critical_path<'a>(
    scenario: &'a Scenario,
    local: Local,
    plan: &'a Plan,
    path: &CriticalPath,
) -> Vec<LinkFile<'a>> {
    let links = path.links.iter();
    links
        .filter_map(|link| self::link(scenario, local, plan, link))
        .collect()
}

/// `None` only of a link that names nothing of the plan.
fn link<'a>(
    scenario: &'a Scenario,
    local: Local,
    plan: &'a Plan,
    link: &Link,
) -> Option<LinkFile<'a>> {
    let mut number = None;
    let (what, id, work, until) = match link.what {
        LinkOf::Run(at) => {
            let run = plan.runs.get(at)?;
            ("run", run.id.as_str(), &[][..], run.end)
        }
        LinkOf::Standing(at) => {
            let run = plan.standing().get(at)?;
            ("printing", run.id.as_str(), &[][..], run.end)
        }
        LinkOf::Setup(at) => {
            let run = plan.runs.get(at)?;
            ("setup", run.id.as_str(), &[][..], run.start)
        }
        LinkOf::Joining(at) => {
            let gluing = plan.gluings.get(at)?;
            number = Some(gluing.number);
            let id = part(scenario, gluing.part);
            ("joining", id, &gluing.work[..], gluing.ready)
        }
        LinkOf::Assembly(at) => {
            let dates = plan.assemblies.get(at.0)?;
            let id = scenario.assemblies[at.0].id.as_str();
            ("assembly", id, &dates.work[..], dates.complete)
        }
    };
    // Cure takes no hands.
    let hands = work.last().filter(|_| link.hands).map(|last| last.to);
    Some(LinkFile {
        what,
        id,
        number,
        until: local.rfc3339(hands.unwrap_or(until)),
        hands: link.hands,
    })
}

fn part(scenario: &Scenario, part: PartIndex) -> &str {
    &scenario.parts[part.0].id
}
