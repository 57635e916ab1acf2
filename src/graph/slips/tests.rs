use std::collections::HashSet;

use proptest::prelude::*;

use super::*;

fn activity(release: i64, stretches: &[(i64, i64)], complete: i64, limit: i64) -> Activity {
    let stretches = stretches.to_vec();
    Activity {
        work: Handwork {
            release,
            stretches,
            fixed: false,
        },
        complete,
        needs: Vec::new(),
        limit,
    }
}

fn needing(needs: &[usize], activity: Activity) -> Activity {
    let needs = needs.to_vec();
    Activity { needs, ..activity }
}

const ALWAYS: &[(i64, i64)] = &[(0, 1000)];

fn pairs(count: Option<u32>) -> Hands<'static> {
    Hands {
        count,
        open: ALWAYS,
        taken: &[],
    }
}

#[test]
fn what_hands_go_on_from_to_what_the_end_waits_for_has_no_float() {
    // One works 12 and cures 1, the other 3 and cures 4; the third needs both: 15 + 4 = 19. The second begins when the first
    // leaves the hands at 12, so the first may not end later, though it cures until 13 and is needed at 19.
    let plan = [
        activity(0, &[(0, 12)], 13, 20),
        activity(0, &[(12, 15)], 19, 20),
        needing(&[0, 1], activity(19, &[(19, 20)], 20, 20)),
    ];
    assert_eq!(floats(&plan, &pairs(Some(1))), [0, 0, 0]);
    // With hands enough it may: until the third begins, less its cure.
    assert_eq!(floats(&plan, &pairs(None)), [6, 0, 0]);
}

#[test]
fn what_interrupts_waits_for_nobody_and_what_is_interrupted_waits_for_it() {
    // The first is interrupted from 10 to 15 and ends at 25, the last minute that it may; what interrupts it is needed by nobody.
    let plan = [
        activity(0, &[(0, 10), (15, 25)], 25, 25),
        activity(10, &[(10, 15)], 15, 40),
    ];
    assert_eq!(floats(&plan, &pairs(Some(1))), [0, 0]);
    // If the first may end at 28, both may end 3 later.
    let plan = [
        Activity {
            limit: 28,
            ..plan[0].clone()
        },
        plan[1].clone(),
    ];
    assert_eq!(floats(&plan, &pairs(Some(1))), [3, 3]);
    // What came before the first does not push what interrupts it: with 4 minutes to spare, 0 to 10 begins at 2 at the latest.
    let before = activity(0, &[(-1, 0)], 0, 100);
    let plan = [
        plan[0].clone(),
        Activity {
            limit: 15,
            ..plan[1].clone()
        },
        before,
    ];
    let open = [(-10, 1000)];
    let hands = Hands {
        open: &open,
        ..pairs(Some(1))
    };
    assert_eq!(floats(&plan, &hands), [3, 0, 3]);
}

#[test]
fn work_ends_in_bench_hours_and_what_needs_no_hands_at_any_time() {
    // The first ends with the first day, the second begins with the next: not a minute more of the first does no harm. What the
    // second needs besides, and cures by night, may be there as late as the morning.
    let open = [(0, 10), (24, 34)];
    let hands = Hands {
        open: &open,
        ..pairs(Some(1))
    };
    let plan = [
        activity(0, &[(0, 10)], 10, 30),
        needing(&[0, 2], activity(15, &[(24, 30)], 30, 30)),
        activity(3, &[], 15, 30),
    ];
    assert_eq!(floats(&plan, &hands), [0, 0, 9]);
    // Setups take their minutes: 4 of the 10 between the end and the limit.
    let taken = [(12, 16)];
    let hands = Hands {
        taken: &taken,
        ..pairs(Some(1))
    };
    assert_eq!(floats(&[activity(0, &[(0, 10)], 10, 14)], &hands), [2]);
}

/// What a drawn plan is made of.
#[derive(Clone, Debug)]
struct Drawn {
    releases: Vec<i64>,
    lasts: Vec<i64>,
    cures: Vec<i64>,
    spare: Vec<i64>,
    needs: Vec<Vec<usize>>,
    shut: Vec<usize>,
    setups: Vec<(i64, i64)>,
    hands: u32,
}

const END: i64 = 400;

impl Drawn {
    fn open(&self) -> Vec<(i64, i64)> {
        let mut open: Vec<(i64, i64)> = Vec::new();
        for now in (0..END).filter(|now| !self.shut.contains(&((now / 5) as usize))) {
            match open.last_mut() {
                Some(last) if last.1 == now => last.1 += 1,
                _ => open.push((now, now + 1)),
            }
        }
        open
    }

    fn free(&self, now: i64) -> usize {
        let taken = self
            .setups
            .iter()
            .filter(|&&(from, to)| from <= now && now < to);
        let open = self
            .open()
            .iter()
            .any(|&(from, to)| from <= now && now < to);
        if open {
            (self.hands as usize).saturating_sub(taken.count())
        } else {
            0
        }
    }

    /// Done minute by minute, of what can go on and is `allowed` the first by `key`.
    fn done(
        &self,
        lasts: &[i64],
        key: impl Fn(usize) -> i64,
        allowed: impl Fn(usize, &[i64]) -> bool,
    ) -> Vec<Activity> {
        let count = lasts.len();
        let mut left = lasts.to_vec();
        let mut plan: Vec<Activity> = (0..count)
            .map(|at| {
                needing(
                    &self.needs[at],
                    activity(self.releases[at], &[], i64::MAX, 0),
                )
            })
            .collect();
        for now in 0..END {
            // Whatever is over is complete after its cure; what has no work, when all is there and has cured.
            let there = |plan: &[Activity], at: usize| {
                let needs = self.needs[at].iter().map(|&need| plan[need].complete);
                needs.fold(self.releases[at], i64::max)
            };
            for at in 0..count {
                if left[at] == 0 && plan[at].complete == i64::MAX {
                    let there = there(&plan, at);
                    let end = plan[at].work.stretches.last().map_or(there, |last| last.1);
                    if end <= now {
                        plan[at].work.release = there;
                        plan[at].complete = end + self.cures[at];
                    }
                }
            }
            let mut can: Vec<usize> = (0..count)
                .filter(|&at| left[at] > 0 && there(&plan, at) <= now && allowed(at, &left))
                .collect();
            can.sort_by_key(|&at| (key(at), at));
            for at in can.into_iter().take(self.free(now)) {
                left[at] -= 1;
                match plan[at].work.stretches.last_mut() {
                    Some(last) if last.1 == now => last.1 += 1,
                    _ => plan[at].work.stretches.push((now, now + 1)),
                }
            }
        }
        plan
    }
}

/// What can be done with works that last so long: every choice of who has the hands in which minute is tried.
struct Choices<'a> {
    drawn: &'a Drawn,
    limits: Vec<i64>,
    /// What leads nowhere: the minute, the minutes that are left of each work, and when those that are over ended.
    vain: HashSet<(i64, Vec<i64>, Vec<i64>)>,
}

impl Choices<'_> {
    /// When a work is complete, if it is over, or has no minutes and needs nothing that is not.
    fn complete(&self, at: usize, left: &[i64], ends: &[i64]) -> Option<i64> {
        let end = if ends[at] < i64::MAX {
            ends[at]
        } else if left[at] == 0 {
            self.there(at, left, ends)?
        } else {
            return None;
        };
        Some(end + self.drawn.cures[at])
    }

    fn there(&self, at: usize, left: &[i64], ends: &[i64]) -> Option<i64> {
        let needs = self.drawn.needs[at].iter();
        let mut there = needs.map(|&need| self.complete(need, left, ends));
        there.try_fold(self.drawn.releases[at], |a, b| Some(a.max(b?)))
    }

    /// Whether all can be complete by their limits. That somebody idles who could work never helps: then all is over no later.
    fn in_time(&mut self, now: i64, left: Vec<i64>, ends: Vec<i64>) -> bool {
        let late = |at: usize| match self.complete(at, &left, &ends) {
            Some(complete) => complete > self.limits[at],
            None => now + left[at] + self.drawn.cures[at] > self.limits[at],
        };
        if (0..left.len()).any(late) {
            return false;
        }
        if left.iter().all(|&left| left == 0) {
            return true;
        }
        let can: Vec<usize> = (0..left.len())
            .filter(|&at| left[at] > 0 && self.there(at, &left, &ends).is_some_and(|at| at <= now))
            .collect();
        let hands = self.drawn.free(now).min(can.len());
        let key = (now, left, ends);
        if self.vain.contains(&key) {
            return false;
        }
        let (now, left, ends) = key.clone();
        for chosen in (0..1u32 << can.len()).filter(|chosen| chosen.count_ones() as usize == hands)
        {
            let (mut left, mut ends) = (left.clone(), ends.clone());
            for (bit, &at) in can.iter().enumerate() {
                left[at] -= i64::from(chosen >> bit & 1);
                if left[at] == 0 && chosen >> bit & 1 == 1 {
                    ends[at] = now + 1;
                }
            }
            if self.in_time(now + 1, left, ends) {
                return true;
            }
        }
        self.vain.insert(key);
        false
    }
}

fn any_plan() -> impl Strategy<Value = Drawn> {
    let works = proptest::collection::vec((0i64..40, 0i64..9, 0i64..7, 0i64..12), 1..7);
    let needs = proptest::collection::vec((0usize..7, 0usize..7), 0..6);
    let shut = proptest::collection::vec(0usize..30, 0..12);
    let setups = proptest::collection::vec((0i64..60, 1i64..4), 0..4);
    (works, needs, shut, setups, 1u32..3).prop_map(|(works, pairs, shut, setups, hands)| {
        let count = works.len();
        let mut needs = vec![Vec::new(); count];
        for (a, b) in pairs {
            if a < b && b < count {
                needs[b].push(a);
            }
        }
        // Never more at once than there are hands.
        let mut at = 0;
        let mut apart = Vec::new();
        let mut sorted = setups;
        sorted.sort_unstable();
        for (from, lasts) in sorted {
            let from = from.max(at);
            apart.push((from, from + lasts));
            at = from + lasts;
        }
        Drawn {
            releases: works.iter().map(|work| work.0).collect(),
            lasts: works.iter().map(|work| work.1).collect(),
            cures: works.iter().map(|work| work.2).collect(),
            spare: works.iter().map(|work| work.3).collect(),
            needs,
            shut,
            setups: apart,
            hands,
        }
    })
}

/// The plan dated forward in its order, one of its works ending so much later.
fn slipped(plan: &[Activity], order: &Order, late: usize, by: i64) -> Vec<i64> {
    let free = |axis: usize, now: i64| {
        let spans = &order.axes[axis].spans;
        spans.iter().any(|&(from, to, _)| from <= now && now < to)
    };
    let walked = |axis: usize, mut now: i64, mut minutes: i64| {
        while minutes > 0 && now < 10 * END {
            minutes -= i64::from(free(axis, now));
            now += 1;
        }
        now
    };
    let minutes =
        |axis: usize, from: i64, to: i64| (from..to).filter(|&now| free(axis, now)).count() as i64;
    let segments = &order.segments;
    let mut ends: Vec<i64> = segments.iter().map(|segment| segment.to).collect();
    let mut complete: Vec<i64> = plan.iter().map(|one| one.complete).collect();
    match order.last_of(late) {
        Some(last) => ends[last] += by,
        None => complete[late] += by,
    }
    for _ in 0..4 * (segments.len() + plan.len()) {
        for at in 0..segments.len() {
            let Segment {
                activity,
                axis,
                from,
                to,
                after,
                within,
            } = segments[at].clone();
            let own = &order.of[activity];
            let place = own.iter().position(|&one| one == at).expect("its own");
            let waits = match place.checked_sub(1) {
                Some(before) => ends[own[before]],
                None => plan[activity]
                    .needs
                    .iter()
                    .map(|&need| complete[need])
                    .max()
                    .unwrap_or(from),
            };
            let start = from.max(waits).max(after.map_or(from, |after| ends[after]));
            let end = if start > from {
                walked(axis, start, minutes(axis, from, to))
            } else {
                to
            };
            ends[at] = ends[at].max(end);
            if let Some(within) = within {
                let rest = minutes(axis, to, segments[within].to);
                ends[within] = ends[within].max(walked(axis, ends[at], rest));
            }
        }
        for (at, one) in plan.iter().enumerate() {
            let then = match order.last_of(at) {
                Some(last) => ends[last] + one.complete - segments[last].to,
                None => {
                    let needs = one.needs.iter().map(|&need| complete[need]);
                    needs.fold(one.work.release, i64::max) + one.complete - one.work.release
                }
            };
            complete[at] = complete[at].max(then);
        }
    }
    complete
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1000))]
    #[test]
    fn a_slip_by_its_float_harms_nothing_and_by_a_minute_of_work_more_something(drawn in any_plan()) {
        let mut plan = drawn.done(&drawn.lasts, |at| (at as i64 * 5) % 7, |_, _| true);
        prop_assume!(plan.iter().all(|one| one.complete < END / 2));
        let finish = plan.iter().map(|one| one.complete).max().unwrap_or(0);
        for (one, &spare) in plan.iter_mut().zip(&drawn.spare) {
            one.limit = (one.complete + spare).min(finish);
        }
        let open = drawn.open();
        let hands = Hands { count: Some(drawn.hands), open: &open, taken: &drawn.setups };
        let order = Order::of(&plan, &hands);
        // Nobody does two things at once.
        for now in 0..END {
            for lane in 0..order.axes.len() {
                let at_work = order.segments.iter().filter(|one| one.axis == lane && one.from <= now && now < one.to);
                let inner = at_work.filter(|one| plan[one.activity].work.stretches.iter().any(|&(from, to)| from <= now && now < to));
                prop_assert!(inner.count() <= 1);
            }
        }
        let harmed = |dates: &[i64]| dates.iter().zip(&plan).any(|(&date, one)| date > one.limit);
        let all = floats(&plan, &hands);
        for (at, &float) in all.iter().enumerate() {
            prop_assert!(!harmed(&slipped(&plan, &order, at, float)), "{at} by {float}: {plan:?}");
            let more = match order.last_of(at) {
                Some(last) => {
                    let Segment { axis, to, .. } = order.segments[last];
                    let axis = &order.axes[axis];
                    axis.first(axis.count(to + float) + 1) - to
                }
                None => float + 1,
            };
            prop_assert!(more > float);
            prop_assert!(harmed(&slipped(&plan, &order, at, more)), "{at} by {more}: {plan:?}");
        }
    }

    #[test]
    fn a_work_that_takes_longer_by_its_float_harms_nothing_if_nothing_is_done_before_its_turn(drawn in any_plan()) {
        let drawn = Drawn { hands: 1, ..drawn };
        let mut plan = drawn.done(&drawn.lasts, |at| (at as i64 * 5) % 7, |_, _| true);
        prop_assume!(plan.iter().all(|one| one.complete < END / 2));
        let finish = plan.iter().map(|one| one.complete).max().unwrap_or(0);
        for (one, &spare) in plan.iter_mut().zip(&drawn.spare) {
            one.limit = (one.complete + spare).min(finish);
        }
        let open = drawn.open();
        let hands = Hands { count: Some(1), open: &open, taken: &drawn.setups };
        let order = Order::of(&plan, &hands);
        let end = |at: usize| plan[at].work.stretches.last().map_or(0, |last| last.1);
        let begin = |at: usize| plan[at].work.stretches.first().map_or(0, |first| first.0);
        for (at, float) in floats(&plan, &hands).into_iter().enumerate().filter(|&(at, _)| drawn.lasts[at] > 0) {
            let axis = &order.axes[0];
            let mut lasts = drawn.lasts.clone();
            lasts[at] += axis.count(end(at) + float) - axis.count(end(at));
            let turn = |one: usize, left: &[i64]| {
                (0..left.len()).all(|other| left[other] == 0 || drawn.lasts[other] == 0 || end(other) > begin(one))
            };
            let then = drawn.done(&lasts, end, turn);
            for (then, one) in then.iter().zip(&plan) {
                prop_assert!(then.complete <= one.limit, "{at} by {float}: {plan:?} {then:?}");
            }
        }
    }

    #[test]
    fn with_two_pairs_of_hands_a_work_can_take_longer_by_its_float_and_all_be_done_in_time(drawn in any_plan()) {
        // Without setups both pairs have all bench hours. Nothing here knows which pair does what.
        let drawn = Drawn { hands: 2, setups: Vec::new(), ..drawn };
        let mut plan = drawn.done(&drawn.lasts, |at| (at as i64 * 5) % 7, |_, _| true);
        prop_assume!(plan.iter().all(|one| one.complete < END / 2));
        let finish = plan.iter().map(|one| one.complete).max().unwrap_or(0);
        for (one, &spare) in plan.iter_mut().zip(&drawn.spare) {
            one.limit = (one.complete + spare).min(finish);
        }
        let open = drawn.open();
        let hands = Hands { count: Some(2), open: &open, taken: &[] };
        for (at, float) in floats(&plan, &hands).into_iter().enumerate().filter(|&(at, _)| drawn.lasts[at] > 0) {
            let end = plan[at].work.stretches.last().map_or(0, |last| last.1);
            let mut lasts = drawn.lasts.clone();
            lasts[at] += (end..end + float).filter(|&now| drawn.free(now) > 0).count() as i64;
            let mut choices = Choices {
                drawn: &drawn,
                limits: plan.iter().map(|one| one.limit).collect(),
                vain: HashSet::new(),
            };
            let ends = vec![i64::MAX; lasts.len()];
            prop_assert!(choices.in_time(0, lasts, ends), "{at} by {float}: {plan:?}");
        }
    }
}
