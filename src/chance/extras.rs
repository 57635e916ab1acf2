//! How many extras make up for runs that fail, and how many copies may lie on one run for that.
//!
//! Knows: plain numbers. Must not know: machines, parts, plans.
//! Promises: no argument panics; the number is the least for the copies that may lie on one run, however runs are filled up to that
//! (of more than two hundred copies: at the mixes that are looked at).

use statrs::function::factorial::ln_binomial;

use super::{Share, further_runs, least};

/// Copies that share runs make up for that by no more extras than bring all copies to this share of what they are with each on a run
/// of its own: a further run costs hands and a start, a further copy its plastic and minutes. Common practice, no source.
const WORTH: f64 = 1.25;
/// No more copies of a part share a run where some must be spare. Common practice, no source.
const MOST_TOGETHER: u32 = 12;
/// Up to so many copies every mix of two sizes of runs is looked at, of more so many mixes.
const EVERY_MIX: u32 = 200;
const MIXES: u32 = 8;
/// Probabilities that differ by less are equal: 0.95 may be summed up as a little less.
const SAME: f64 = 1e-9;

/// Extras, and what they rest on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Extras {
    /// How many.
    pub copies: u32,
    /// They are enough if no run holds more copies (of a copy in lengths: more of any one length). `None`: however runs are filled.
    pub together: Option<u32>,
}

/// The least number of extras with which `wanted` copies succeed with probability `confidence`, if a whole run fails
/// together and as many as `together` copies find room on one; `None` if even `limit` extras are too few.
///
/// The more copies may share a run the more extras they ask for, and the fewer runs. So many may as cost no more than a quarter more copies
/// than the fewest; for these the number of extras is the least. Of a copy in several `lengths` a length stands in for the same length
/// of any other copy, so of each `wanted` must go well, and no run holds two of one. That is hardest with each on a run of its own:
/// with the share of failures known, that enough go well of one length becomes no less likely by enough of another (Harris' inequality,
/// both being fewer where more runs fail), so the probability is no less than for runs apart. One copy more is then one run more of each, in
/// which one more may fail, so more are never worse.
pub fn extras(
    share: Share,
    wanted: u32,
    together: u32,
    lengths: u32,
    confidence: f64,
    limit: u32,
) -> Option<Extras> {
    if wanted == 0 {
        let copies = 0;
        return Some(Extras {
            copies,
            together: None,
        });
    }
    let apart = if lengths > 1 {
        least(limit, |more| {
            share.at_most_of_each(more, wanted.saturating_add(more), lengths) >= confidence - SAME
        })
    } else {
        further_runs(share, wanted, confidence, limit)
    }?;
    // Enough if no run fails: of the fewer runs that is likelier.
    if apart == 0 {
        return Some(Extras {
            copies: 0,
            together: None,
        });
    }
    let mut found = Extras {
        copies: apart,
        together: Some(1),
    };
    if lengths > 1 {
        return Some(found);
    }
    let most = (f64::from(wanted.saturating_add(apart)) * WORTH).floor() as u32;
    let most = most.saturating_sub(wanted).min(limit);
    let enough = |size: u32, more: u32| {
        let copies = wanted.saturating_add(more);
        worst(share, copies, size, more) >= confidence - SAME
    };
    for size in 2..=together.min(wanted).min(MOST_TOGETHER) {
        if !enough(size, most) {
            break;
        }
        // All smaller sizes hold with so many too, or the loop had ended.
        let suffice = |more: u32| (2..=size).all(|size| enough(size, found.copies + more));
        let Some(more) = least(most - found.copies, suffice) else {
            break;
        };
        found = Extras {
            copies: found.copies + more,
            together: Some(size),
        };
    }
    Some(found)
}

/// The least probability that no more than `spare` of so many copies are lost, over runs of `size` copies and others, all of one smaller
/// size, with what is left on one more. Tests compare it with that of all ways to fill runs up to `size`.
fn worst(share: Share, copies: u32, size: u32, spare: u32) -> f64 {
    let full = copies / size;
    let step = if copies <= EVERY_MIX {
        1
    } else {
        (full / MIXES).max(1)
    };
    let mixes = (0..=full).step_by(step as usize).chain([full]);
    let pairs = mixes.flat_map(|large| (1..size).map(move |small| (large, small)));
    pairs
        .map(|(large, small)| {
            let left = copies - large * size;
            let runs = [(large, size), (left / small, small), (1, left % small)];
            of_sizes(share, runs, spare)
        })
        .fold(1.0, f64::min)
}

/// The probability that no more than `spare` copies are lost of so many runs of each size; size 0 is no run.
fn of_sizes(share: Share, runs: [(u32, u32); 3], spare: u32) -> f64 {
    let runs = runs.map(|(runs, size)| if size == 0 { (0, 1) } else { (runs, size) });
    let all = runs.iter().map(|(runs, _)| runs).sum();
    let fewest = |left: u32, (runs, size): (u32, u32)| runs.min(left / size);
    let ways = |runs: u32, failed: u32| ln_binomial(u64::from(runs), u64::from(failed));
    let mut sum = 0.0;
    for a in 0..=fewest(spare, runs[0]) {
        let left = spare - a * runs[0].1;
        for b in 0..=fewest(left, runs[1]) {
            let left = left - b * runs[1].1;
            for c in 0..=fewest(left, runs[2]) {
                if let Some(ln) = share.ln_of(a + b + c, all) {
                    let ways = ways(runs[0].0, a) + ways(runs[1].0, b) + ways(runs[2].0, c);
                    sum += (ln + ways).exp();
                }
            }
        }
    }
    sum.min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chance::{Batch, certainty};

    fn copies(share: f64, wanted: u32, together: u32, lengths: u32) -> Option<u32> {
        extras(Share::stated(share), wanted, together, lengths, 0.95, 1000).map(|all| all.copies)
    }

    #[test]
    fn what_never_fails_needs_no_extras_and_what_always_fails_has_no_number() {
        assert_eq!(copies(0.0, 8, 4, 1), Some(0));
        assert_eq!(copies(1.0, 8, 4, 1), None);
        assert_eq!(copies(1.0, 8, 1, 2), None);
        assert_eq!(copies(0.5, 0, 4, 1), Some(0));
    }

    #[test]
    fn a_great_number_of_lengths_is_answered_soon_and_the_answer_is_an_edge() {
        let share = Share::stated(0.05);
        let more = extras(share, 2_000, 1, 3, 0.95, 100_000)
            .expect("few fail")
            .copies;
        let holds = |more: u32| share.at_most_of_each(more, 2_000 + more, 3) >= 0.95;
        assert!(holds(more) && !holds(more - 1), "{more}");
        assert_eq!(
            extras(Share::stated(0.9), 10_000, 1, 6, 0.95, 100_000),
            None
        );
    }

    /// All ways to put so many copies on runs of up to `most`, larger runs first.
    fn fillings(copies: u32, most: u32) -> Vec<Vec<u32>> {
        if copies == 0 {
            return vec![Vec::new()];
        }
        let first = (1..=most.min(copies)).rev();
        first
            .flat_map(|first| {
                let mut rest = fillings(copies - first, first);
                rest.iter_mut().for_each(|rest| rest.insert(0, first));
                rest
            })
            .collect()
    }

    fn least_of_all_fillings(share: Share, copies: u32, most: u32, spare: u32) -> f64 {
        let of = |sizes: &Vec<u32>| {
            let batches: Vec<Batch> = sizes
                .iter()
                .map(|&size| Batch {
                    machine: 0,
                    holds: vec![size],
                })
                .collect();
            certainty(&[share], &batches, &[0], spare).probability
        };
        fillings(copies, most).iter().map(of).fold(1.0, f64::min)
    }

    #[test]
    fn however_runs_are_filled_the_extras_suffice_and_one_fewer_do_not() {
        for share in [0.01, 0.03, 0.1, 0.3] {
            let share = Share::stated(share);
            for wanted in 1..=11 {
                for together in 1..=12 {
                    let Some(found) = extras(share, wanted, together, 1, 0.95, 30) else {
                        continue;
                    };
                    let most = found.together.unwrap_or(together);
                    let holds = |more: u32| {
                        least_of_all_fillings(share, wanted + more, most, more) >= 0.95 - SAME
                    };
                    assert!(
                        most <= together && holds(found.copies),
                        "{wanted} {found:?}"
                    );
                    assert!(
                        found.copies == 0 || !holds(found.copies - 1),
                        "{wanted} {found:?}"
                    );
                }
            }
        }
    }

    #[test]
    fn mixes_of_two_sizes_are_the_worst_of_all_fillings() {
        for share in [0.03, 0.3] {
            let share = Share::stated(share);
            for copies in 2..=13 {
                for most in 2..=copies {
                    for spare in 0..copies {
                        let mixes = (2..=most).map(|size| worst(share, copies, size, spare));
                        let mixes = mixes.fold(1.0, f64::min);
                        let all = least_of_all_fillings(share, copies, most, spare);
                        assert!(
                            (mixes - all).abs() < 1e-9,
                            "{copies} {most} {spare}: {mixes} {all}"
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn a_plate_of_all_copies_is_not_enough_where_it_fails_in_more_than_one_of_twenty() {
        // Once these were four spares, all eight bars lay on one run, and that went well with 90 %.
        let found = extras(Share::stated(0.1), 4, 8, 1, 0.95, 1000).expect("few fail");
        assert!(
            found.together.is_some_and(|most| most <= found.copies),
            "{found:?}"
        );
        // With 3 % one run of all is good enough, but four runs of one are not: with one spare each has a run of its own, and with one more, which is
        // a quarter of the fewest copies at most, there are but three runs.
        let found = extras(Share::stated(0.03), 4, 4, 1, 0.95, 1000);
        assert_eq!(
            found,
            Some(Extras {
                copies: 2,
                together: Some(2)
            })
        );
        // Alone with 1 % each of four goes well with 96 %, and so all do, however they lie.
        let found = extras(Share::stated(0.01), 4, 4, 1, 0.95, 1000);
        assert_eq!(
            found,
            Some(Extras {
                copies: 0,
                together: None
            })
        );
    }
}
