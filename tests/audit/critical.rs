//! The critical path of a finished plan.

use beamyard::plan::{CriticalPath, LinkOf, Plan, critical_path};
use beamyard::scenario::{AssemblyIndex, Scenario};
use chrono::TimeDelta;

use crate::tide_clock::{self, CLOCK, STAND, at, work};

fn path(shop: &Scenario, plan: &Plan) -> CriticalPath {
    critical_path(shop, &plan.ledger()).expect("there are assemblies")
}

/// The links, and which of them only took hands.
fn links(path: &CriticalPath) -> (Vec<LinkOf>, Vec<LinkOf>) {
    let all = path.links.iter().map(|link| link.what);
    let hands = path.links.iter().filter(|link| link.hands);
    (all.collect(), hands.map(|link| link.what).collect())
}

/// The first run that has pieces for an assembly and for no other.
fn run_for(plan: &Plan, assembly: AssemblyIndex) -> usize {
    let is_for =
        |run: &beamyard::plan::Run| run.pieces.iter().all(|p| p.assembly == Some(assembly));
    plan.runs.iter().position(is_for).expect("it has pieces")
}

#[test]
fn the_clock_waits_for_its_stand_and_the_stand_for_its_joined_pillar() {
    let (shop, plan) = (tide_clock::shop(), tide_clock::plan());
    // The first pillar is joined at 16:25 on the 11th and has cured at 00:25: later than anything else of the stand is
    // printed; and the clock needs the stand.
    let (links, hands) = links(&path(&shop, &plan));
    let [LinkOf::Run(run), joining, stand, clock] = links[..] else {
        panic!("{links:?}");
    };
    assert_eq!(joining, LinkOf::Joining(0));
    assert_eq!(plan.runs[run].end, plan.gluings[0].printed);
    assert_eq!([stand, clock], [STAND, CLOCK].map(LinkOf::Assembly));
    assert!(hands.is_empty());
}

#[test]
fn where_the_needed_assembly_is_there_first_the_path_begins_with_the_last_run() {
    let (shop, mut plan) = (tide_clock::shop(), tide_clock::plan());
    // Its dial comes a week later than all else.
    let last = run_for(&plan, CLOCK);
    plan.runs[last].end += TimeDelta::days(7);
    let end = plan.runs[last].end;
    plan.assemblies[CLOCK.0].printed = end;
    for stretch in &mut plan.assemblies[CLOCK.0].work {
        stretch.from += TimeDelta::days(7);
        stretch.to += TimeDelta::days(7);
    }
    let (links, _) = links(&path(&shop, &plan));
    assert_eq!(links, [LinkOf::Run(last), LinkOf::Assembly(CLOCK)]);
}

#[test]
fn an_assembly_that_found_the_hands_taken_waits_for_what_the_other_waited_for() {
    // The clock needs nothing and is printed at 10:00; from 09:30 on the stand is worked on, which was printed then.
    let (mut shop, mut plan) = (tide_clock::shop(), tide_clock::plan());
    shop.assemblies[CLOCK.0].needs.clear();
    plan.gluings.clear();
    for run in &mut plan.runs {
        run.setup = None;
        run.end = at("11 08:00");
    }
    let (stand, clock) = (run_for(&plan, STAND), run_for(&plan, CLOCK));
    assert_ne!(stand, clock);
    for (run, assembly, printed, from, to) in [
        (stand, STAND, "12 09:30", "12 09:30", "11:00"),
        (clock, CLOCK, "12 10:00", "12 11:00", "12:00"),
    ] {
        plan.runs[run].end = at(printed);
        let dates = &mut plan.assemblies[assembly.0];
        dates.printed = at(printed);
        dates.work = vec![work(from, to)];
        dates.complete = dates.work[0].to;
    }
    let (all, hands) = links(&path(&shop, &plan));
    assert_eq!(
        all,
        [
            LinkOf::Run(stand),
            LinkOf::Assembly(STAND),
            LinkOf::Assembly(CLOCK)
        ]
    );
    assert_eq!(hands, [LinkOf::Assembly(STAND)]);

    // With a setup from 09:50 to 11:00 in the stand's place, the setup is what it waits for.
    plan.assemblies[STAND.0].work = vec![work("12 09:30", "09:40")];
    plan.runs[stand].setup = Some(at("12 09:50"));
    plan.runs[stand].start = at("12 11:00");
    let (all, hands) = links(&path(&shop, &plan));
    assert_eq!(all, [LinkOf::Setup(stand), LinkOf::Assembly(CLOCK)]);
    assert_eq!(hands, [LinkOf::Setup(stand)]);
}
