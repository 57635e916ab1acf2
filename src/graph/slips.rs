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
//! backward: the backward pass of the critical path method, with hands as further links. Source: J. E. Kelley, M. R. Walker,
//! "Critical-path planning and scheduling", Proc. Eastern Joint Computer Conf. (1959) 160–173 (from memory).

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
mod tests;
