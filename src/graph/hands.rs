//! What a work waited for that shares hands with others.
//!
//! Knows: works with their stretches, as whole numbers of one unit of time. Must not know: bench hours, who is more urgent.
//! Promises: for one pair of hands, what is named is the work whose release alone decides when the asked one ends, wherever one
//! alone does.

use std::collections::BTreeSet;

/// Work that takes one pair of hands while it lasts.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Handwork {
    /// From when on it could be done.
    pub release: i64,
    /// When it is done: from, to; in order.
    pub stretches: Vec<(i64, i64)>,
}

impl Handwork {
    fn end(&self) -> Option<i64> {
        self.stretches.last().map(|&(_, to)| to)
    }
}

/// The work whose release the end of work `of` waited for: itself, or another that took the hands in its place.
///
/// What is dated is done as soon as hands are free, the more urgent first, and may be interrupted. So with one pair of hands the end
/// of a work is the end of a time in which the hands were always busy with it and with what is more urgent, closed hours left out.
/// Who waited while another was worked on shows that the other is the more urgent; so that time is gone back through from stretch to
/// stretch, as long as one of those in it had been released before. What is released within that time may come later without
/// harm, since the hands stay busy; what it begins with may not.
pub fn waited_for(works: &[Handwork], of: usize, hands: u32) -> usize {
    if hands == 1 {
        first_of_busy(works, of)
    } else {
        left_hands(works, of)
    }
}

/// With one pair of hands.
fn first_of_busy(works: &[Handwork], of: usize) -> usize {
    let Some(mut from) = works.get(of).and_then(Handwork::end) else {
        return of;
    };
    let mut stretches: Vec<(i64, i64, usize)> = Vec::new();
    for (work, own) in works.iter().enumerate() {
        stretches.extend(own.stretches.iter().map(|&(from, to)| (to, from, work)));
    }
    stretches.sort_unstable();
    let before = stretches.partition_point(|&(to, ..)| to <= from);
    let mut members = BTreeSet::from([of]);
    // Of those in the time, the first release: each of them is not done yet where the walk stands.
    let mut released = works[of].release; // it has an end
    for &(to, begins, work) in stretches[..before].iter().rev() {
        // At `to` somebody waits, or goes on with what has been begun.
        if released >= to {
            break;
        }
        members.insert(work);
        released = released.min(works[work].release); // stretches name works that there are
        from = begins;
    }
    let waits = |&work: &usize| works[work].release <= from;
    if waits(&of) {
        return of;
    }
    let there = members.into_iter().filter(waits);
    there
        .max_by_key(|&work| (works[work].release, std::cmp::Reverse(work)))
        .unwrap_or(of)
}

/// With several pairs of hands: the last work that left hands to it, and what that waited for in turn.
fn left_hands(works: &[Handwork], of: usize) -> usize {
    let mut at = of;
    let mut seen = BTreeSet::new();
    while seen.insert(at) {
        let Some(work) = works.get(at) else { break };
        let own = work.stretches.iter().rev();
        let mut begins = own
            .map(|&(from, _)| from)
            .filter(|&from| from > work.release);
        let left = begins.find_map(|from| {
            works
                .iter()
                .position(|other| other.stretches.iter().any(|&(_, to)| to == from))
        });
        match left {
            Some(other) if other != at => at = other,
            _ => break,
        }
    }
    at
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn work(release: i64, stretches: &[(i64, i64)]) -> Handwork {
        let stretches = stretches.to_vec();
        Handwork { release, stretches }
    }

    #[test]
    fn a_work_that_nothing_kept_waiting_waited_for_its_own_release() {
        // The other is done before; and one that is released while it lasts waits for it.
        let works = [
            work(0, &[(0, 5)]),
            work(8, &[(8, 12)]),
            work(9, &[(12, 14)]),
        ];
        assert_eq!(waited_for(&works, 1, 1), 1);
        assert_eq!(waited_for(&works, 1, 2), 1);
    }

    #[test]
    fn a_work_that_found_the_hands_taken_waited_for_what_took_them() {
        // Released at 10, done at 14 to 16: since 7 the hands are busy with the first.
        let works = [work(7, &[(7, 14)]), work(10, &[(14, 16)])];
        assert_eq!(waited_for(&works, 1, 1), 0);
        // Two pairs, one of them with a long work: the one that ended left its hands.
        let works = [
            work(0, &[(0, 30)]),
            work(7, &[(7, 14)]),
            work(10, &[(14, 16)]),
        ];
        assert_eq!(waited_for(&works, 2, 2), 1);
    }

    #[test]
    fn a_work_that_was_interrupted_waited_for_its_own_release() {
        // 10 to 20 of it, then a more urgent one that was released at 20, then the rest. Released at 21 that would come one later,
        // after one more of this, and this would end when it does.
        let works = [work(10, &[(10, 20), (30, 40)]), work(20, &[(20, 30)])];
        assert_eq!(waited_for(&works, 0, 1), 0);
    }

    #[test]
    fn a_work_released_at_night_does_not_wait_for_what_was_done_the_evening_before() {
        let works = [work(0, &[(0, 5)]), work(8, &[(20, 22)])];
        assert_eq!(waited_for(&works, 1, 1), 1);
        // But one released before the evening's work ended does: it was less urgent.
        let works = [work(0, &[(0, 5)]), work(4, &[(20, 22)])];
        assert_eq!(waited_for(&works, 1, 1), 0);
    }

    /// One pair of hands, hour by hour, the first of all works that can go on; `open` says when somebody is there.
    fn done(releases: &[i64], lasts: &[i64], open: &[bool]) -> Option<Vec<Handwork>> {
        let mut left = lasts.to_vec();
        let mut works: Vec<Handwork> = releases.iter().map(|&release| work(release, &[])).collect();
        for (now, _) in (0i64..).zip(open).filter(|(_, open)| **open) {
            let Some(at) = (0..left.len()).find(|&at| left[at] > 0 && releases[at] <= now) else {
                continue;
            };
            left[at] -= 1;
            match works[at].stretches.last_mut() {
                Some(last) if last.1 == now => last.1 += 1,
                _ => works[at].stretches.push((now, now + 1)),
            }
        }
        left.iter().all(|&left| left == 0).then_some(works)
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]
        #[test]
        fn what_is_waited_for_delays_the_end_by_coming_later_and_what_comes_within_does_not(
            works in proptest::collection::vec((0i64..24, 1i64..6), 1..6),
            shut in proptest::collection::vec(0usize..30, 0..12),
            of in 0usize..6,
        ) {
            let (releases, lasts): (Vec<i64>, Vec<i64>) = works.into_iter().unzip();
            let of = of % releases.len();
            let open: Vec<bool> = (0..90).map(|hour| !shut.contains(&hour)).collect();
            let works = done(&releases, &lasts, &open).expect("ninety hours are enough");
            let end = |works: &[Handwork]| works[of].end().expect("it was done");
            let later = |at: usize, release: i64| {
                let mut releases = releases.clone();
                releases[at] = release;
                end(&done(&releases, &lasts, &open).expect("ninety hours are enough"))
            };
            let binds = waited_for(&works, of, 1);
            let begins = works[binds].stretches[0].0;
            // Who else could have been worked on when that began, and was by the end.
            let others = (0..works.len()).filter(|&at| {
                at != binds && releases[at] <= begins && works[at].end() > Some(begins) && works[at].end() <= Some(end(&works))
            });
            if others.count() == 0 {
                prop_assert!(later(binds, begins + 1) > end(&works));
            } else if binds != of {
                // Not alone: then both were there before the hands were.
                prop_assert!(releases[of] > releases[binds]);
            }
            // Whatever else is more urgent, comes after that, and found the hands taken.
            for at in (0..of).filter(|&at| releases[at] > begins && works[at].stretches[0].0 > releases[at] && works[at].end() <= Some(end(&works))) {
                prop_assert_eq!(later(at, releases[at] + 1), end(&works));
            }
        }
    }
}
