//! Work at the bench: gluing, assembling, finishing spares, hours, hands.

use beamyard::plan::{CriticalPath, Link, LinkOf};
use beamyard::scenario::Hands;
use beamyard::units::{Minutes, Seconds};

use crate::tide_clock::{CLOCK, ROD, STAND, at, plan, shop, work};

planted! {
    a_copy_that_is_not_glued: GluingOnce + CriticalPath => |_, plan| {
        plan.gluings.remove(0);
    }
    a_copy_that_is_glued_twice: GluingOnce + Hands => |_, plan| {
        plan.gluings.push(plan.gluings[0].clone());
    }
    a_copy_in_one_piece_that_is_glued: GluingOnce => |_, plan| {
        let mut needless = plan.gluings[0].clone();
        needless.part = crate::tide_clock::DIAL;
        needless.work = vec![work("11 16:30", "16:40")];
        plan.gluings.push(needless);
    }
    a_gluing_for_another_assembly: GluingNamed + CriticalPath => |_, plan| {
        plan.gluings[0].assembly = Some(CLOCK);
    }
    a_gluing_that_has_its_lengths_too_late: GluingPrinted + CriticalPath => |_, plan| {
        plan.gluings[0].printed = at("11 16:06");
    }
    a_gluing_too_short: GluingWork => |shop, _| {
        shop.joints[ROD.0].bench = Seconds(601.0);
    }
    a_gluing_before_its_lengths_are_printed: GluingAfterPrinted => |_, plan| {
        plan.gluings[0].work = vec![work("11 15:55", "16:05")];
        plan.gluings[0].ready = at("12 00:05");
    }
    a_joint_that_has_not_cured: GluingReady => |_, plan| {
        plan.gluings[0].ready = at("12 00:24");
    }

    assemblies_out_of_order: AssemblyListed + CriticalPath => |_, plan| {
        plan.assemblies.swap(0, 1);
    }
    an_assembly_that_is_printed_too_early: AssemblyPrinted => |_, plan| {
        plan.assemblies[1].printed = at("11 19:58");
    }
    an_assembly_worked_on_too_short: AssemblyWork => |shop, _| {
        shop.assemblies[CLOCK.0].bench = Minutes(31);
    }
    an_assembly_before_what_it_needs: AssemblyAfter => |_, plan| {
        // The stand is complete at 11:21.
        let clock = &mut plan.assemblies[1];
        clock.work = vec![work("12 11:20", "11:58")];
        (clock.start, clock.complete) = (at("12 11:20"), at("12 11:58"));
        clock.late_days = 718.0 / 1440.0;
        plan.finish = at("12 11:58");
    }
    an_assembly_before_its_joints_have_cured: AssemblyAfter + GluingReady => |shop, plan| {
        shop.joints[ROD.0].cure = Minutes(960);
        plan.gluings[0].ready = at("12 08:25");
    }
    an_assembly_that_starts_without_work: AssemblyStart => |_, plan| {
        plan.assemblies[0].start = at("12 08:01");
    }
    an_assembly_that_is_complete_too_late: AssemblyComplete => |shop, _| {
        shop.assemblies[STAND.0].cure = Minutes(119);
    }
    lateness_that_is_less_than_the_truth: LateDays => |_, plan| {
        plan.assemblies[1].late_days = 0.0;
    }
    a_build_that_ends_before_its_last_assembly: Finish => |_, plan| {
        plan.finish = at("12 11:58");
    }
    a_spare_that_is_not_finished: SpareWork => |_, plan| {
        plan.spare_work.clear();
    }
    a_spare_that_is_finished_for_too_long: SpareWork => |_, plan| {
        plan.spare_work[0].work = vec![work("12 09:00", "09:03")];
    }
    a_spare_that_is_finished_before_it_is_printed: SpareAfterPrinted => |_, plan| {
        plan.spare_work[0].work = vec![work("11 17:00", "17:02")];
    }

    work_after_hours: BenchHours => |_, plan| {
        plan.spare_work[0].work = vec![work("12 19:59", "20:01")];
    }
    work_on_a_day_away: BenchHours => |_, plan| {
        plan.spare_work[0].work = vec![work("13 09:00", "09:02")];
    }
    one_job_with_two_pairs_of_hands: OnePairOfHands => |shop, plan| {
        shop.bench.hands = Hands::Count(2);
        let stand = &mut plan.assemblies[0];
        stand.start = at("12 08:20");
        stand.work = vec![work("12 08:20", "09:20"), work("12 09:10", "09:21")];
    }
    a_stretch_of_no_work: OnePairOfHands => |_, plan| {
        plan.assemblies[0].work.insert(1, work("12 09:00", "09:00"));
    }
    two_jobs_with_one_pair_of_hands: Hands => |_, plan| {
        plan.spare_work[0].work = vec![work("12 08:59", "09:01")];
    }
    a_stretch_written_backwards_that_would_free_hands: Hands + OnePairOfHands + SpareWork => |_, plan| {
        let mut backwards = work("12 08:30", "09:30");
        (backwards.from, backwards.to) = (backwards.to, backwards.from);
        plan.spare_work[0].work = vec![work("12 08:59", "09:01"), backwards];
    }
    an_assembly_that_may_not_slip_and_is_said_to: Float => |_, plan| {
        // The stand is cured at 11:21, and the clock, which ends the build, is worked on from that minute.
        plan.assemblies[0].float = Minutes(1);
    }
    the_last_assembly_with_a_float: Float => |_, plan| {
        plan.assemblies[1].float = Minutes(1);
    }
    no_path_though_there_are_assemblies: CriticalPath => |_, plan| {
        plan.critical = None;
    }
    a_path_that_ends_before_the_last_assembly: CriticalPath => |_, plan| {
        let links = vec![Link { what: LinkOf::Assembly(STAND), hands: false }];
        plan.critical = Some(CriticalPath { links });
    }
    a_path_by_hands_that_left_nothing: CriticalPath => |_, plan| {
        // The clock could not begin while the stand was worked on: it waited for its cure.
        let link = |what, hands| Link { what, hands };
        let links = vec![link(LinkOf::Assembly(STAND), true), link(LinkOf::Assembly(CLOCK), false)];
        plan.critical = Some(CriticalPath { links });
    }
    a_path_through_a_run_that_was_not_waited_for: CriticalPath => |_, plan| {
        let link = |what| Link { what, hands: false };
        let links = vec![link(LinkOf::Run(0)), link(LinkOf::Assembly(CLOCK))];
        plan.critical = Some(CriticalPath { links });
    }
    a_setup_while_the_hands_are_gluing: Hands => |_, plan| {
        // The next plate is set up 16:05 to 16:15.
        plan.gluings[0].work = vec![work("11 16:14", "16:24")];
        plan.gluings[0].ready = at("12 00:24");
    }
}

#[test]
fn two_pairs_of_hands_do_two_things() {
    let (mut shop, mut plan) = (shop(), plan());
    plan.spare_work[0].work = vec![work("12 08:59", "09:01")];
    for hands in [Hands::Count(2), Hands::Unlimited] {
        shop.bench.hands = hands;
        assert_eq!(crate::broken(&shop, &plan), [].into());
    }
}

#[test]
fn an_assembly_without_work_or_cure_is_complete_when_the_last_it_needs_is() {
    // Without bench minutes and finishing the clock is complete with the stand, at 11:21: 681 min late.
    let (mut shop, mut plan) = (shop(), plan());
    shop.assemblies[CLOCK.0].bench = Minutes::ZERO;
    for part in &mut shop.parts {
        part.finishing = Seconds::ZERO;
    }
    let [stand, clock] = &mut plan.assemblies[..] else {
        panic!("two assemblies");
    };
    // 60 min of its own: 49 and 11.
    stand.work[0] = work("12 08:00", "08:49");
    clock.work.clear();
    clock.complete = at("12 11:21");
    clock.late_days = 681.0 / 1440.0;
    plan.finish = at("12 11:21");
    plan.spare_work.clear();
    plan.cost = beamyard::plan::audit::recount_cost(&shop, &plan);
    assert_eq!(crate::broken(&shop, &plan), [].into());
}

#[test]
fn a_joint_without_bench_time_cures_from_when_it_is_printed() {
    // 16:05 and 15:15 with 8 h: 00:05 and 23:15.
    let (mut shop, mut plan) = (shop(), plan());
    shop.joints[ROD.0].bench = Seconds::ZERO;
    for (gluing, ready) in plan.gluings.iter_mut().zip(["12 00:05", "11 23:15"]) {
        gluing.work.clear();
        gluing.ready = at(ready);
    }
    plan.cost = beamyard::plan::audit::recount_cost(&shop, &plan);
    assert_eq!(crate::broken(&shop, &plan), [].into());
}
