//! By how much works of a plan that share hands may end later.
//!
//! Knows: works with their stretches, what they need, when hands can be had; whole numbers of one unit of time. Must not know:
//! why the plan is so, who is urgent, prices.
//! Promises: where one ends later by its float, all else being done in the plan's order, nothing is complete after its limit;
//! where it ends later by one more minute of work, something is.
//!
//! The plan's order: each pair of hands does what it does in the plan, one after the other, each as soon as what it needs is there
//! and the one before it is done. What is interrupted for another is interrupted for it again: from its first minute to its last
//! a work takes as many bench minutes as in the plan, those of what interrupts it included, and after that has ended as many as in the
//! plan. So every date is the latest of sums of earlier dates and spans that stay, and the latest dates that do no harm follow
//! backward (Kelley and Walker's backward pass, see `timing`, with hands as further links).

use std::cmp::Reverse;

use super::{Handwork, Network};

/// Something that a plan dates: some work, and what comes after it by itself.
#[derive(Clone, Debug, Default)]
pub struct Activity {
    /// Its work; `release`: when all that it needs is there.
    pub work: Handwork,
    /// When it is complete: some time after its work (cure), or after its release where it has none.
    pub complete: i64,
    /// What must be complete before it, by position.
    pub needs: Vec<usize>,
    /// When it may be complete at the latest; no earlier than it is.
    pub limit: i64,
}

/// When hands can be had.
#[derive(Clone, Copy, Debug)]
pub struct Hands<'a> {
    /// How many pairs; `None`: always enough.
    pub count: Option<u32>,
    /// When somebody is there: from, to; in order and apart.
    pub open: &'a [(i64, i64)],
    /// When a pair is taken by what stays where it is; may be several at once.
    pub taken: &'a [(i64, i64)],
}

/// By how much each activity may end later than in the plan.
pub fn floats(activities: &[Activity], hands: &Hands) -> Vec<i64> {
    let order = Order::of(activities, hands);
    let Some(latest) = order.latest(activities) else {
        return vec![0; activities.len()];
    };
    let float = |(at, activity): (usize, &Activity)| match order.last_of(at) {
        Some(last) => {
            let segment = &order.segments[last];
            let axis = &order.axes[segment.axis];
            // Work ends in bench hours only.
            axis.first(axis.count(latest[order.ends(last)])) - segment.to
        }
        None => latest[at] - activity.complete,
    };
    activities
        .iter()
        .enumerate()
        .map(float)
        .map(|float| float.max(0))
        .collect()
}

/// The minutes of one pair of hands, counted.
struct Axis {
    /// From, to, and the minutes before it.
    spans: Vec<(i64, i64, i64)>,
}

impl Axis {
    fn new(open: &[(i64, i64)], mut taken: Vec<(i64, i64)>) -> Self {
        taken.sort_unstable();
        let mut spans = Vec::with_capacity(open.len());
        let mut count = 0;
        let mut next = 0;
        let mut put = |from: i64, to: i64| {
            if from < to {
                spans.push((from, to, count));
                count += to - from;
            }
        };
        for &(open, close) in open {
            let mut from = open;
            while let Some(&(begins, ends)) = taken.get(next).filter(|taken| taken.0 < close) {
                put(from, begins);
                from = from.max(ends);
                next += 1;
            }
            put(from, close);
        }
        Self { spans }
    }

    /// Minutes before a moment.
    fn count(&self, at: i64) -> i64 {
        let after = self.spans.partition_point(|span| span.0 <= at);
        let Some(&(from, to, before)) = after.checked_sub(1).map(|i| &self.spans[i]) else {
            return 0;
        };
        before + at.min(to) - from
    }

    /// The first moment by which so many minutes are over.
    fn first(&self, count: i64) -> i64 {
        let after = self.spans.partition_point(|span| span.2 < count);
        let Some(&(from, _, before)) = after.checked_sub(1).map(|i| &self.spans[i]) else {
            return i64::MIN / 4;
        };
        from + count - before
    }

    /// The last moment by which no more than so many are.
    fn last(&self, count: i64) -> i64 {
        let after = self.spans.partition_point(|span| span.2 <= count);
        let Some(&(from, to, before)) = after.checked_sub(1).map(|i| &self.spans[i]) else {
            return i64::MIN / 4;
        };
        match self.spans.get(after) {
            Some(next) if count - before >= to - from => next.0,
            _ => from + count - before,
        }
    }
}

/// What one pair of hands does of a work, from its first minute to its last.
#[derive(Clone, Debug)]
struct Segment {
    activity: usize,
    axis: usize,
    from: i64,
    to: i64,
    /// The last that ended before it in these hands.
    after: Option<usize>,
    /// The innermost that it interrupts.
    within: Option<usize>,
}

/// A link between two dates: the second is no earlier than the first and so much more.
#[derive(Clone, Copy)]
enum Lag {
    /// Elapsed time.
    Elapsed(i64),
    /// Minutes of a pair of hands, by the number of its axis.
    Work(usize, i64),
}

/// The plan's order.
struct Order {
    axes: Vec<Axis>,
    segments: Vec<Segment>,
    /// By activity its segments, in time.
    of: Vec<Vec<usize>>,
}

impl Order {
    fn of(activities: &[Activity], hands: &Hands) -> Self {
        let lanes = Lanes::of(activities, hands);
        let mut order = Self {
            axes: lanes.axes,
            segments: Vec::new(),
            of: vec![Vec::new(); activities.len()],
        };
        for mut lane in lanes.segments {
            lane.sort_by_key(|segment| (segment.from, Reverse(segment.to)));
            let mut open: Vec<usize> = Vec::new();
            let mut ended: Option<usize> = None;
            for segment in lane {
                while let Some(top) = open.pop_if(|&mut top| order.segments[top].to <= segment.from)
                {
                    let later =
                        ended.is_none_or(|e| order.segments[e].to <= order.segments[top].to);
                    ended = if later { Some(top) } else { ended };
                }
                open.push(order.segments.len());
                order.segments.push(Segment {
                    after: ended.filter(|_| hands.count.is_some()),
                    within: open.iter().rev().nth(1).copied(),
                    ..segment
                });
            }
        }
        for (at, segment) in order.segments.iter().enumerate() {
            order.of[segment.activity].push(at);
        }
        for own in &mut order.of {
            own.sort_by_key(|&at| order.segments[at].from);
        }
        order
    }

    fn activities(&self) -> usize {
        self.of.len()
    }

    /// The node of a segment's begin; activities' completions come first.
    fn begins(&self, segment: usize) -> usize {
        self.activities() + 2 * segment
    }

    /// The node of a segment's end.
    fn ends(&self, segment: usize) -> usize {
        self.begins(segment) + 1
    }

    fn last_of(&self, activity: usize) -> Option<usize> {
        self.of[activity].last().copied()
    }

    /// All links: from, to, by how much.
    fn links(&self, activities: &[Activity]) -> Vec<(usize, usize, Lag)> {
        let mut links = Vec::new();
        for (at, activity) in activities.iter().enumerate() {
            let own = &self.of[at];
            let (first, lag) = match (own.first(), own.last()) {
                (Some(&first), Some(&last)) => {
                    let cure = activity.complete - self.segments[last].to;
                    links.push((self.ends(last), at, Lag::Elapsed(cure)));
                    (self.begins(first), 0)
                }
                _ => (at, activity.complete - activity.work.release),
            };
            let needs = activity
                .needs
                .iter()
                .filter(|&&need| need < activities.len());
            links.extend(needs.map(|&need| (need, first, Lag::Elapsed(lag))));
            let pairs = own.windows(2);
            links.extend(
                pairs.map(|pair| (self.ends(pair[0]), self.begins(pair[1]), Lag::Elapsed(0))),
            );
        }
        for (at, segment) in self.segments.iter().enumerate() {
            let axis = &self.axes[segment.axis];
            let span = axis.count(segment.to) - axis.count(segment.from);
            links.push((
                self.begins(at),
                self.ends(at),
                Lag::Work(segment.axis, span),
            ));
            if let Some(after) = segment.after {
                links.push((self.ends(after), self.begins(at), Lag::Elapsed(0)));
            }
            if let Some(within) = segment.within {
                let rest = axis.count(self.segments[within].to) - axis.count(segment.to);
                links.push((
                    self.ends(at),
                    self.ends(within),
                    Lag::Work(segment.axis, rest),
                ));
            }
        }
        links
    }

    /// The latest harmless date of each node; `None` where the plan's dates contradict its order.
    fn latest(&self, activities: &[Activity]) -> Option<Vec<i64>> {
        let links = self.links(activities);
        let nodes = self.activities() + 2 * self.segments.len();
        let pairs: Vec<(usize, usize)> = links.iter().map(|&(from, to, _)| (from, to)).collect();
        let network = Network::new(nodes, &pairs).ok()?;
        let mut after: Vec<Vec<(usize, Lag)>> = vec![Vec::new(); nodes];
        for (from, to, lag) in links {
            after[from].push((to, lag));
        }
        let mut latest = vec![i64::MAX / 4; nodes];
        for (latest, activity) in latest.iter_mut().zip(activities) {
            *latest = activity.limit;
        }
        for &node in network.order().iter().rev() {
            for &(to, lag) in &after[node] {
                let most = match lag {
                    Lag::Elapsed(lag) => latest[to] - lag,
                    Lag::Work(axis, lag) => {
                        let axis = &self.axes[axis];
                        axis.last(axis.count(latest[to]) - lag)
                    }
                };
                latest[node] = latest[node].min(most);
            }
        }
        Some(latest)
    }
}

/// Which pair of hands does what.
struct Lanes {
    axes: Vec<Axis>,
    /// By pair of hands; not yet linked.
    segments: Vec<Vec<Segment>>,
}

impl Lanes {
    /// Each stretch goes to the hands that its work had before, if they are free; else, where it waited, to those that were freed
    /// last, and where it did not, to those that have been free longest.
    fn of(activities: &[Activity], hands: &Hands) -> Self {
        let all = || {
            let works = activities.iter().enumerate();
            works.flat_map(|(at, one)| {
                one.work
                    .stretches
                    .iter()
                    .map(move |&(from, to)| (from, to, at))
            })
        };
        let segment = |(from, to, activity): (i64, i64, usize), axis: usize| Segment {
            activity,
            axis,
            from,
            to,
            after: None,
            within: None,
        };
        let Some(count) = hands.count else {
            // By activity.
            let mut lanes = vec![Vec::new(); activities.len()];
            for stretch in all() {
                lanes[stretch.2].push(segment(stretch, 0));
            }
            return Self {
                axes: vec![Axis::new(hands.open, Vec::new())],
                segments: lanes.into_iter().map(|lane| joined(&lane)).collect(),
            };
        };
        let setups = hands.taken.iter().map(|&(from, to)| (from, to, usize::MAX));
        let mut spans: Vec<(i64, i64, usize)> = all().chain(setups).collect();
        spans.retain(|&(from, to, _)| from < to);
        spans.sort_unstable();
        // No more than there are spans are ever needed.
        let count = (count as usize).clamp(1, spans.len().max(1));
        let mut free = vec![i64::MIN; count];
        let mut had: Vec<Option<usize>> = vec![None; activities.len()];
        let mut taken = vec![Vec::new(); count];
        let mut lanes = vec![Vec::new(); count];
        for (from, to, work) in spans {
            let known = had.get(work).copied().flatten();
            let waited = activities
                .get(work)
                .is_some_and(|one| one.work.release < from);
            let frees = (0..count).filter(|&lane| free[lane] <= from);
            let lane = known.filter(|&lane| free[lane] <= from).or_else(|| {
                if waited {
                    frees.max_by_key(|&lane| (free[lane], Reverse(lane)))
                } else {
                    frees.min_by_key(|&lane| (free[lane], lane))
                }
            });
            // Were there too few hands, the plan would not be sound.
            let lane = lane.unwrap_or(0);
            free[lane] = free[lane].max(to);
            match had.get_mut(work) {
                Some(had) => {
                    *had = Some(lane);
                    lanes[lane].push(segment((from, to, work), lane));
                }
                None => taken[lane].push((from, to)),
            }
        }
        // Where a work changes hands, what it does before and after in the first are two.
        let changed: Vec<bool> = (0..activities.len())
            .map(|work| {
                let has = |lane: &&Vec<Segment>| lane.iter().any(|one| one.activity == work);
                count > 1 && lanes.iter().filter(has).count() > 1
            })
            .collect();
        let whole = |lane: &Vec<Segment>| {
            let (apart, whole): (Vec<Segment>, Vec<Segment>) =
                lane.iter().cloned().partition(|one| changed[one.activity]);
            let mut all = joined(&whole);
            all.extend(apart);
            // What is interrupted ends after what interrupts it; were it not so, each stretch would stand for itself.
            if crosses(&all) { lane.clone() } else { all }
        };
        Self {
            segments: lanes.iter().map(whole).collect(),
            axes: taken
                .into_iter()
                .map(|taken| Axis::new(hands.open, taken))
                .collect(),
        }
    }
}

/// The stretches of each work as one segment.
fn joined(stretches: &[Segment]) -> Vec<Segment> {
    let mut sorted = stretches.to_vec();
    sorted.sort_by_key(|one| (one.activity, one.from));
    let whole = |own: &[Segment]| Segment {
        to: own.last().map_or(0, |last| last.to),
        ..own[0].clone() // a chunk is never empty
    };
    sorted
        .chunk_by(|a, b| a.activity == b.activity)
        .map(whole)
        .collect()
}

/// Whether one of them ends while another that began within it goes on.
fn crosses(segments: &[Segment]) -> bool {
    let mut sorted: Vec<(i64, Reverse<i64>)> = segments
        .iter()
        .map(|one| (one.from, Reverse(one.to)))
        .collect();
    sorted.sort_unstable();
    let mut open: Vec<i64> = Vec::new();
    sorted.into_iter().any(|(from, Reverse(to))| {
        while open.pop_if(|top| *top <= from).is_some() {}
        let crossed = open.last().is_some_and(|&top| top < to);
        open.push(to);
        crossed
    })
}

#[cfg(test)]
mod tests {
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
        let minutes = |axis: usize, from: i64, to: i64| {
            (from..to).filter(|&now| free(axis, now)).count() as i64
        };
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
    }
}
