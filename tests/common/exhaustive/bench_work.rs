//! Bench work, minute by minute: setups go first; whoever has hands left works on the most urgent of what is ready, and
//! leaves it when something more urgent is.

use std::ops::Range;

use super::clock::{Clock, Minute};

/// One thing to work on.
#[derive(Clone, Debug)]
pub struct Job {
    /// The smaller the more urgent; no two alike.
    pub urgency: (usize, usize),
    /// Not before this minute.
    pub from: Minute,
    /// Nor before these jobs have cured.
    pub after: Vec<usize>,
    /// Minutes of work.
    pub work: Minute,
    /// Minutes afterwards.
    pub cure: Minute,
}

/// When each job has been done and has cured; `None` if one is not done before the clock's end.
pub fn done(
    clock: &Clock,
    hands: Option<usize>,
    setups: &[Range<Minute>],
    jobs: &[Job],
) -> Option<Vec<Minute>> {
    let mut left: Vec<Minute> = jobs.iter().map(|job| job.work).collect();
    let mut cured: Vec<Option<Minute>> = vec![None; jobs.len()];
    let mut minute = 0;
    while cured.iter().any(Option::is_none) {
        if minute >= clock.end() {
            return None;
        }
        let ready = |job: &Job, cured: &[Option<Minute>]| {
            let over = |before: &usize| cured[*before].is_some_and(|at| at <= minute);
            job.from <= minute && job.after.iter().all(over)
        };
        // What needs no work is done when it is ready, and may make others ready at once.
        while let Some(at) = (0..jobs.len())
            .find(|&at| cured[at].is_none() && left[at] == 0 && ready(&jobs[at], &cured))
        {
            cured[at] = Some(minute + jobs[at].cure);
        }
        let mut can: Vec<usize> = (0..jobs.len())
            .filter(|&at| cured[at].is_none() && left[at] > 0 && ready(&jobs[at], &cured))
            .collect();
        let nothing = can.is_empty();
        if clock.until(minute) > minute {
            let busy = setups
                .iter()
                .filter(|setup| setup.contains(&minute))
                .count();
            let free = hands.map_or(usize::MAX, |hands| hands - busy);
            can.sort_by_key(|&at| jobs[at].urgency);
            for at in can.into_iter().take(free) {
                left[at] -= 1;
                if left[at] == 0 {
                    cured[at] = Some(minute + 1 + jobs[at].cure);
                }
            }
        }
        minute += 1;
        if nothing {
            // Until something else is there to be worked on, or somebody to work on it.
            let cures = cured.iter().flatten().copied();
            let changes = jobs.iter().map(|job| job.from).chain(cures);
            let next = changes.filter(|&at| at >= minute).min();
            minute = next.unwrap_or(clock.end());
        }
    }
    cured.into_iter().collect()
}
