//! Float and the critical path.
//!
//! Knows: the plan's dates, bench hours. Must not know: how the planner finds either.
//! Promises: every float is tried: its assembly ends later by so much, and all that waits for it, or for the hands it has, is
//! dated again, forward, in the plan's order. With several pairs of hands the plan does not say who does what: then only what needs
//! what is followed, and each takes no longer than its own minutes, since what came between them may have been another pair's.

use super::Faults;
use super::evidence::{Evidence, span, total};
use super::presence::{Minute, Presence, Span, minute};
use super::rule::Rule;
use crate::plan::{Link, LinkOf};
use crate::scenario::{AssemblyIndex, Hands};

pub(super) fn check(evidence: &Evidence, presence: &Presence, faults: &mut Faults) {
    check_floats(evidence, presence, faults);
    check_path(evidence, faults);
}

/// An assembly or a joint, as it is dated.
struct Job {
    start: Minute,
    end: Minute,
    complete: Minute,
    works: bool,
    /// Minutes of its own work.
    takes: i64,
    needs: Vec<usize>,
    /// When it may be complete at the latest.
    limit: Minute,
}

/// The last moment at which an assembly harms nothing.
fn limit(evidence: &Evidence, assembly: AssemblyIndex, complete: Minute) -> Minute {
    let finish = minute(super::assembly::finish(evidence));
    let due = evidence.scenario.assemblies[assembly.0].due.map(minute);
    due.map_or(finish, |due| due.max(complete).min(finish))
}

fn jobs(evidence: &Evidence) -> Vec<Job> {
    let plan = evidence.plan;
    let ends = |work: &[crate::plan::Work]| work.last().map(|last| minute(last.to));
    let first = plan.assemblies.len();
    let assemblies = plan.assemblies.iter().map(|dates| {
        let joints = plan.gluings.iter().enumerate();
        let joints = joints.filter(|(_, gluing)| gluing.assembly == Some(dates.assembly));
        let needs = evidence.scenario.assemblies[dates.assembly.0].needs.iter();
        Job {
            start: minute(dates.start),
            end: ends(&dates.work).unwrap_or(minute(dates.start)),
            complete: minute(dates.complete),
            works: !dates.work.is_empty(),
            takes: total(&dates.work),
            needs: needs
                .map(|need| need.0)
                .chain(joints.map(|(at, _)| first + at))
                .collect(),
            limit: limit(evidence, dates.assembly, minute(dates.complete)),
        }
    });
    let joints = plan.gluings.iter().map(|gluing| {
        let start = gluing
            .work
            .first()
            .map_or(gluing.printed, |first| first.from);
        Job {
            start: minute(start),
            end: ends(&gluing.work).unwrap_or(minute(start)),
            complete: minute(gluing.ready),
            // What nothing waits for is done when there is nothing else to do.
            works: !gluing.work.is_empty() && gluing.assembly.is_some(),
            takes: total(&gluing.work),
            needs: Vec::new(),
            limit: Minute::MAX,
        }
    });
    assemblies.chain(joints).collect()
}

/// [`Rule::Float`].
fn check_floats(evidence: &Evidence, presence: &Presence, faults: &mut Faults) {
    let listed = evidence
        .plan
        .assemblies
        .iter()
        .map(|dates| dates.assembly.0);
    if !listed.eq(0..evidence.scenario.assemblies.len()) {
        return; // a fault of its own
    }
    let jobs = jobs(evidence);
    let hands = match evidence.scenario.bench.hands {
        Hands::Count(hands) => Some(hands),
        Hands::Unlimited => None,
    };
    let setups = evidence.plan.runs.iter().filter_map(|run| {
        let (from, to) = (minute(run.setup?), minute(run.start));
        (hands == Some(1)).then_some(Span { from, to })
    });
    let bench = Bench::of(presence, setups.collect());
    let order = Order::of(&jobs, hands == Some(1), &bench);
    for (at, dates) in evidence.plan.assemblies.iter().enumerate() {
        let float = dates.float.value();
        let harmed = match float {
            ..0 => Some(at),
            0 => None,
            _ => order.harmed(&jobs, &bench, at, float),
        };
        if let Some(harmed) = harmed {
            let name = |at: usize| evidence.assembly_name(AssemblyIndex(at));
            faults.report(
                Rule::Float,
                format!(
                    "assembly {} is said to have a float of {float} min; {} would be too late",
                    name(at),
                    name(harmed)
                ),
            );
        }
    }
}

/// Minutes in which one pair of hands can be at the bench.
struct Bench {
    /// Each with the minutes before it.
    spans: Vec<(Span, i64)>,
}

impl Bench {
    fn of(presence: &Presence, mut setups: Vec<Span>) -> Self {
        setups.sort_unstable();
        let mut spans = Vec::new();
        let mut before = 0;
        for &open in presence.spans() {
            let mut from = open.from;
            let within = setups
                .iter()
                .filter(|setup| setup.from < open.to && setup.to > open.from);
            let mut edges: Vec<Span> = within.copied().collect();
            edges.push(Span {
                from: open.to,
                to: open.to,
            });
            for edge in edges {
                if edge.from > from {
                    spans.push((
                        Span {
                            from,
                            to: edge.from,
                        },
                        before,
                    ));
                    before += edge.from - from;
                }
                from = from.max(edge.to);
            }
        }
        Self { spans }
    }

    /// Such minutes before a moment.
    fn before(&self, at: Minute) -> i64 {
        let after = self.spans.partition_point(|(span, _)| span.from < at);
        let last = self.spans[..after].last();
        last.map_or(0, |(span, before)| before + at.min(span.to) - span.from)
    }

    /// The first moment at which so many such minutes are over since another; that one itself for none.
    fn later(&self, since: Minute, minutes: i64) -> Minute {
        if minutes <= 0 {
            return since;
        }
        let all = self.before(since) + minutes;
        let after = self.spans.partition_point(|(_, before)| *before < all);
        let last = self.spans[..after].last();
        last.map_or(since, |(span, before)| span.from + all - before)
    }
}

/// What one pair of hands does after what.
struct Order {
    /// By job: the last that had ended when it began.
    after: Vec<Option<usize>>,
    /// By job: those that it interrupts, and the minutes of work that are left until their ends when it has ended.
    within: Vec<Vec<(usize, i64)>>,
    /// By job: bench minutes from its first to its last, those of what interrupts it among them, with one pair of hands; its own with
    /// several.
    spans: Vec<i64>,
    /// Jobs in time.
    sequence: Vec<usize>,
}

impl Order {
    fn of(jobs: &[Job], one_pair: bool, bench: &Bench) -> Self {
        let all = 0..jobs.len();
        let with_hands = |at: &usize| one_pair && jobs[*at].works;
        let after = all.clone().map(|at| {
            let ended = all.clone().filter(|other| {
                with_hands(other) && *other != at && jobs[*other].end <= jobs[at].start
            });
            ended
                .filter(|_| with_hands(&at))
                .max_by_key(|&other| jobs[other].end)
        });
        let within = all.clone().map(|at| {
            let holds = |other: &usize| {
                with_hands(&at)
                    && with_hands(other)
                    && jobs[*other].start < jobs[at].start
                    && jobs[*other].end >= jobs[at].end
            };
            let left = |other: usize| bench.before(jobs[other].end) - bench.before(jobs[at].end);
            all.clone()
                .filter(holds)
                .map(|other| (other, left(other)))
                .collect()
        });
        let span = |job: &Job| {
            if one_pair {
                bench.before(job.end) - bench.before(job.start)
            } else {
                job.takes
            }
        };
        let mut sequence: Vec<usize> = all.clone().collect();
        sequence.sort_by_key(|&at| jobs[at].start);
        Self {
            after: after.collect(),
            within: within.collect(),
            spans: jobs
                .iter()
                .map(|job| if job.works { span(job) } else { 0 })
                .collect(),
            sequence,
        }
    }

    /// What is complete after its limit where one job ends so much later.
    fn harmed(&self, jobs: &[Job], bench: &Bench, slipped: usize, by: i64) -> Option<usize> {
        let mut ends: Vec<Minute> = jobs.iter().map(|job| job.end).collect();
        ends[slipped] += by;
        let complete = |ends: &[Minute], at: usize| ends[at] + jobs[at].complete - jobs[at].end;
        let mut moved = true;
        // Each round dates at least one more job for good.
        for _ in 0..=jobs.len() {
            if !std::mem::take(&mut moved) {
                break;
            }
            for &at in &self.sequence {
                let needs = jobs[at].needs.iter().map(|&need| complete(&ends, need));
                let freed = self.after[at].map(|after| ends[after]);
                let start = needs.chain(freed).fold(jobs[at].start, Minute::max);
                let end = if start == jobs[at].start {
                    jobs[at].end
                } else if jobs[at].works {
                    bench.later(start, self.spans[at])
                } else {
                    start
                };
                if end > ends[at] {
                    ends[at] = end;
                    moved = true;
                }
                for &(other, left) in &self.within[at] {
                    let end = bench.later(ends[at], left);
                    if end > ends[other] {
                        ends[other] = end;
                        moved = true;
                    }
                }
            }
        }
        (0..jobs.len()).find(|&at| complete(&ends, at) > jobs[at].limit)
    }
}

/// [`Rule::CriticalPath`].
fn check_path(evidence: &Evidence, faults: &mut Faults) {
    let Some(path) = &evidence.plan.critical else {
        let none = evidence.plan.assemblies.is_empty();
        faults.require(none, Rule::CriticalPath, || {
            "there are assemblies, and no critical path".to_owned()
        });
        return;
    };
    let finish = super::assembly::finish(evidence);
    let ends = path.links.last().is_some_and(|link| match link.what {
        LinkOf::Assembly(assembly) => {
            let dates = evidence.plan.assemblies.get(assembly.0);
            dates.is_some_and(|dates| dates.complete == finish)
        }
        _ => false,
    });
    faults.require(ends, Rule::CriticalPath, || {
        "the critical path does not end with the last assembly".to_owned()
    });
    for pair in path.links.windows(2) {
        let holds = if pair[0].hands {
            left_hands(evidence, pair[0], pair[1])
        } else {
            waited(evidence, pair[0], pair[1])
        };
        faults.require(holds == Some(true), Rule::CriticalPath, || {
            format!(
                "on the critical path {:?} is said to have waited for {:?}; it did not",
                pair[1].what, pair[0].what
            )
        });
    }
}

/// What of the bench a link takes, in order.
fn work(evidence: &Evidence, link: Link) -> Option<Vec<Span>> {
    let plan = evidence.plan;
    Some(match link.what {
        LinkOf::Setup(at) => {
            let run = plan.runs.get(at)?;
            vec![Span {
                from: minute(run.setup?),
                to: minute(run.start),
            }]
        }
        LinkOf::Joining(at) => plan.gluings.get(at)?.work.iter().map(span).collect(),
        LinkOf::Assembly(at) => plan.assemblies.get(at.0)?.work.iter().map(span).collect(),
        LinkOf::Run(_) | LinkOf::Standing(_) => return None,
    })
}

/// Whether the second could have begun while the first had hands, and began when that had left them; with one pair of hands also
/// whether no other work that waits its turn had them in between. Setups are done when their machines are free.
fn left_hands(evidence: &Evidence, first: Link, second: Link) -> Option<bool> {
    let begins = work(evidence, second)?.first()?.from;
    let could = waits(evidence, second)?
        .into_iter()
        .map(|(at, _)| at)
        .max()?;
    let left = work(evidence, first)?.into_iter().map(|stretch| stretch.to);
    let Some(to) = left.filter(|&to| to <= begins).max() else {
        return Some(false);
    };
    let alone = evidence.scenario.bench.hands == Hands::Count(1);
    let between = || {
        let assemblies = evidence.plan.assemblies.iter();
        let assemblies = assemblies.map(|dates| (LinkOf::Assembly(dates.assembly), &dates.work));
        let joints = evidence.plan.gluings.iter().enumerate();
        let joints = joints
            .filter(|(_, gluing)| gluing.assembly.is_some())
            .map(|(at, gluing)| (LinkOf::Joining(at), &gluing.work));
        let mut others = assemblies
            .chain(joints)
            .filter(|(what, _)| *what != second.what);
        others.any(|(_, work)| {
            work.iter()
                .map(span)
                .any(|one| to < one.to && one.to <= begins)
        })
    };
    Some(could < to && !(alone && between()))
}

/// Whether the second waited for the first, and for nothing that was there later.
fn waited(evidence: &Evidence, first: Link, second: Link) -> Option<bool> {
    let waits = waits(evidence, second)?;
    let last = waits.iter().map(|&(at, _)| at).max()?;
    Some(
        waits
            .into_iter()
            .any(|(at, what)| at == last && what == Some(first.what)),
    )
}

/// All that something waits for: when it is there, and what it is, where the plan has a name for it.
fn waits(evidence: &Evidence, link: Link) -> Option<Vec<(Minute, Option<LinkOf>)>> {
    let plan = evidence.plan;
    let since = plan.since.as_ref();
    let mut waits: Vec<(Minute, Option<LinkOf>)> = Vec::new();
    // What stood on a machine when this was planned is known by its end alone.
    let standing = |at: Minute, waits: &mut Vec<_>| {
        let running = since
            .into_iter()
            .flat_map(|since| &since.running)
            .enumerate();
        let at_that = running.filter(|(_, run)| minute(run.end) == at);
        waits.extend(at_that.map(|(of, _)| (at, Some(LinkOf::Standing(of)))));
        waits.push((at, None));
    };
    match link.what {
        LinkOf::Joining(at) => {
            let gluing = plan.gluings.get(at)?;
            for (at, run) in plan.runs.iter().enumerate() {
                let of =
                    |p: &crate::plan::Piece| (p.part, p.number) == (gluing.part, gluing.number);
                if run.pieces.iter().any(of) {
                    waits.push((minute(run.end), Some(LinkOf::Run(at))));
                }
            }
            standing(minute(gluing.printed), &mut waits);
        }
        LinkOf::Assembly(of) => {
            let dates = plan.assemblies.get(of.0)?;
            for (at, run) in plan.runs.iter().enumerate() {
                if run.pieces.iter().any(|p| p.assembly == Some(of)) {
                    waits.push((minute(run.end), Some(LinkOf::Run(at))));
                }
            }
            for (at, gluing) in plan.gluings.iter().enumerate() {
                if gluing.assembly == Some(of) {
                    waits.push((minute(gluing.ready), Some(LinkOf::Joining(at))));
                }
            }
            for need in &evidence.scenario.assemblies.get(of.0)?.needs {
                let complete = minute(plan.assemblies.get(need.0)?.complete);
                waits.push((complete, Some(LinkOf::Assembly(*need))));
            }
            let given = since.into_iter().flat_map(|since| &since.pieces);
            let joined = given
                .filter(|one| one.assembly == Some(of))
                .filter_map(|one| one.joined);
            waits.extend(joined.map(|at| (minute(at), None)));
            standing(minute(dates.printed), &mut waits);
        }
        LinkOf::Setup(_) | LinkOf::Run(_) | LinkOf::Standing(_) => return None,
    }
    Some(waits)
}
