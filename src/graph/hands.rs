//! What a work waited for that shares hands with others.
//!
//! Knows: works with their stretches, as whole numbers of one unit of time. Must not know: bench hours, who is more urgent.
//! Promises: what is named had hands when the asked one could have begun, and was the last to leave them before it did.

use std::cmp::Reverse;

/// Work that takes one pair of hands while it lasts.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Handwork {
    /// From when on it could be done.
    pub release: i64,
    /// When it is done: from, to; in order.
    pub stretches: Vec<(i64, i64)>,
    /// It is done when it is, whatever else there is to be done.
    pub fixed: bool,
}

/// The work that left hands to work `of`, which could have begun before; `None` where it found hands free, whenever somebody came.
///
/// Work is begun as soon as it is released and hands are free. So with one pair of hands, and as long as the order of the works stays,
/// work `of` begins the later, the longer that one takes: between the two nobody was idle in bench hours. With several pairs it is
/// the last that left hands, which need not be the only one. Fixed work that begins when the other is released, or later, only
/// comes in between: then what had hands before that is looked for.
pub fn left_hands(works: &[Handwork], of: usize) -> Option<usize> {
    let work = works.get(of)?;
    let mut begins = work.stretches.first()?.0;
    loop {
        let others = works.iter().enumerate().filter(|&(at, _)| at != of);
        let ends = others.flat_map(|(at, other)| {
            let stretches = other.stretches.iter();
            stretches.map(move |&(from, to)| (to, Reverse(at), from))
        });
        let (_, Reverse(last), from) = ends
            .filter(|&(to, _, from)| work.release < to && to <= begins && from < to)
            .max()?;
        if !works[last].fixed || from < work.release {
            return Some(last);
        }
        begins = from;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn work(release: i64, stretches: &[(i64, i64)]) -> Handwork {
        let stretches = stretches.to_vec();
        Handwork {
            release,
            stretches,
            fixed: false,
        }
    }

    #[test]
    fn a_work_that_nothing_kept_waiting_waited_for_no_hands() {
        // The other is done before; and one that is released while it lasts waits for it.
        let works = [
            work(0, &[(0, 5)]),
            work(8, &[(8, 12)]),
            work(9, &[(12, 14)]),
        ];
        assert_eq!(left_hands(&works, 1), None);
        assert_eq!(left_hands(&works, 2), Some(1));
    }

    #[test]
    fn works_that_could_all_begin_wait_each_for_the_one_before_it() {
        let works = [work(0, &[(0, 5)]), work(0, &[(5, 9)]), work(0, &[(9, 12)])];
        assert_eq!(
            [2, 1, 0].map(|of| left_hands(&works, of)),
            [Some(1), Some(0), None]
        );
    }

    #[test]
    fn what_is_interrupted_is_waited_for_by_what_comes_after_it_and_not_by_what_interrupts() {
        let works = [
            work(10, &[(10, 20), (30, 40)]),
            work(20, &[(20, 30)]),
            work(15, &[(40, 45)]),
        ];
        assert_eq!(left_hands(&works, 1), None);
        assert_eq!(left_hands(&works, 2), Some(0));
    }

    #[test]
    fn fixed_work_is_waited_for_only_if_it_had_begun() {
        let fixed = |from, to| Handwork {
            fixed: true,
            ..work(from, &[(from, to)])
        };
        // Released at 5, when the fixed one begins: without it, it would have begun then. Released at 6, it waits for it.
        assert_eq!(left_hands(&[work(5, &[(8, 9)]), fixed(5, 8)], 0), None);
        assert_eq!(left_hands(&[work(6, &[(8, 9)]), fixed(5, 8)], 0), Some(1));
        // With another before that, it waits for the other.
        let works = [work(3, &[(8, 9)]), fixed(5, 8), work(0, &[(0, 5)])];
        assert_eq!(left_hands(&works, 0), Some(2));
    }

    #[test]
    fn a_work_released_at_night_does_not_wait_for_what_was_done_the_evening_before() {
        let works = [work(0, &[(0, 5)]), work(8, &[(20, 22)])];
        assert_eq!(left_hands(&works, 1), None);
        // But one released before the evening's work ended does.
        let works = [work(0, &[(0, 5)]), work(4, &[(20, 22)])];
        assert_eq!(left_hands(&works, 1), Some(0));
    }
}
