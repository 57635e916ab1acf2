//! How likely enough copies come of given runs, of which each fails as a whole.
//!
//! Knows: plain numbers. Must not know: machines, parts, plans.
//! Promises: no argument panics; what is called exact is so to rounding, and what is not is no more than the probability.
//!
//! Of each machine's runs so many fail as the beta-binomial distribution says, whichever they are; machines fail
//! independently. All ways in which runs may fail are gone through, alike runs of a machine at once, and those in which too much is
//! lost are left out.

use std::collections::BTreeMap;

use super::Share;

/// No more ways of what is lost are kept apart; past that, losses are counted in coarser steps.
const MOST_STATES: usize = 20_000;

/// A run: where, and how many pieces of each kind are on it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Batch {
    /// Position of its machine among the shares.
    pub machine: usize,
    /// Pieces by kind.
    pub holds: Vec<u32>,
}

/// A probability, and what it is worth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Certainty {
    /// 0 to 1.
    pub probability: f64,
    /// Whether it is that; else it is at least that.
    pub exact: bool,
}

/// The probability that enough copies come of these runs, `spare` of them being more than are wanted.
///
/// `group` says of each kind of piece of which group it is: a copy takes one piece of each kind of a group, any of that kind. So of a group
/// as many copies are lost as pieces of the kind of which most are, and in all no more than `spare` may be.
pub fn certainty(shares: &[Share], batches: &[Batch], group: &[usize], spare: u32) -> Certainty {
    let mut step = 1;
    loop {
        if let Some(probability) = in_steps(shares, batches, group, spare, step) {
            let exact = step == 1;
            return Certainty { probability, exact };
        }
        // Where nothing may be lost there is one way, so this ends.
        step *= 2;
    }
}

/// The same with what is lost rounded up to whole steps, and what may be lost down: never above it. `None` if there are too many ways.
fn in_steps(
    shares: &[Share],
    batches: &[Batch],
    group: &[usize],
    spare: u32,
    step: u32,
) -> Option<f64> {
    let most = spare / step;
    let mut alike: BTreeMap<(usize, Vec<u32>), u32> = BTreeMap::new();
    for batch in batches {
        let mut lost: Vec<u32> = batch.holds.iter().map(|n| n.div_ceil(step)).collect();
        lost.resize(group.len(), 0);
        *alike.entry((batch.machine, lost)).or_default() += 1;
    }
    let groups = group.iter().max().map_or(0, |last| last + 1);
    let bearable = |lost: &[u32]| {
        let mut worst = vec![0; groups];
        for (&lost, &group) in lost.iter().zip(group) {
            worst[group] = lost.max(worst[group]);
        }
        worst.iter().sum::<u32>() <= most
    };
    // By failures on the machine that is gone through, and what is lost so far.
    let mut ways: BTreeMap<(u32, Vec<u32>), f64> = BTreeMap::new();
    ways.insert((0, vec![0; group.len()]), 1.0);
    let (mut machine, mut before) = (None, 0);
    for ((on, lost), runs) in alike {
        if machine != Some(on) {
            (machine, before) = (Some(on), 0);
            let mut joined: BTreeMap<(u32, Vec<u32>), f64> = BTreeMap::new();
            for ((_, lost), probability) in ways {
                *joined.entry((0, lost)).or_default() += probability;
            }
            ways = joined;
        }
        // A machine that nothing is known of fails as often as not.
        let share = shares.get(on).copied().unwrap_or(Share::stated(0.5));
        let mut next: BTreeMap<(u32, Vec<u32>), f64> = BTreeMap::new();
        for ((failed, so_far), probability) in ways {
            let share = share.after(before, f64::from(failed));
            let mut choose = 0.0; // ln of the ways to choose so many of them
            for more in 0..=runs {
                let all: Vec<u32> = (so_far.iter().zip(&lost))
                    .map(|(so_far, lost)| so_far.saturating_add(lost.saturating_mul(more)))
                    .collect();
                if !bearable(&all) {
                    break;
                }
                if let Some(ln) = share.ln_of(more, runs) {
                    *next.entry((failed + more, all)).or_default() +=
                        probability * (ln + choose).exp();
                }
                choose += (f64::from(runs - more) / f64::from(more + 1)).ln();
            }
        }
        if most > 0 && next.len() > MOST_STATES {
            return None;
        }
        ways = next;
        before += runs;
    }
    Some(ways.values().sum::<f64>().clamp(0.0, 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn batch(machine: usize, holds: &[u32]) -> Batch {
        let holds = holds.to_vec();
        Batch { machine, holds }
    }

    #[test]
    fn all_on_one_run_succeed_as_often_as_it_does() {
        let share = Share::stated(0.1);
        let all = certainty(&[share], &[batch(0, &[8])], &[0], 4);
        assert!(
            all.exact && (all.probability - 0.9).abs() < 1e-12,
            "{all:?}"
        );
    }

    #[test]
    fn the_probability_is_that_of_all_ways_in_which_runs_may_fail() {
        // Two machines of which one was looked on longer; one by one, each run with the share that the failures before it leave.
        let shares = [Share::stated(0.1), Share::stated(0.05).after(30, 6.0)];
        let batches = [(0, 3), (0, 3), (0, 2), (1, 4), (1, 1), (1, 1), (0, 1)];
        for spare in 0..=9 {
            let mut expected = 0.0;
            for ways in 0..1_u32 << batches.len() {
                let (mut probability, mut lost) = (1.0, 0);
                let mut seen = shares;
                for (at, &(machine, holds)) in batches.iter().enumerate() {
                    let fails = ways >> at & 1 == 1;
                    let mean = seen[machine].mean();
                    probability *= if fails { mean } else { 1.0 - mean };
                    seen[machine] = seen[machine].after(1, f64::from(u8::from(fails)));
                    lost += if fails { holds } else { 0 };
                }
                expected += if lost <= spare { probability } else { 0.0 };
            }
            let batches: Vec<Batch> = batches.iter().map(|&(m, n)| batch(m, &[n])).collect();
            let found = certainty(&shares, &batches, &[0], spare);
            assert!(found.exact);
            assert!((found.probability - expected).abs() < 1e-12, "{spare}");
        }
    }

    #[test]
    fn lengths_each_on_runs_of_their_own_succeed_as_the_integral_says() {
        let share = Share::stated(0.1);
        let batches: Vec<Batch> = (0..11)
            .flat_map(|_| [batch(0, &[1, 0]), batch(0, &[0, 1])])
            .collect();
        let found = certainty(&[share], &batches, &[0, 0], 3);
        let expected = share.at_most_of_each(3, 11, 2);
        assert!(
            (found.probability - expected).abs() < 1e-9,
            "{found:?} {expected}"
        );
        // Both lengths of a copy on one run: a run that fails costs one copy.
        let pairs: Vec<Batch> = (0..11).map(|_| batch(0, &[1, 1])).collect();
        let found = certainty(&[share], &pairs, &[0, 0], 3);
        assert!((found.probability - share.at_most(3, 11)).abs() < 1e-12);
        // Copies in one piece besides, of another group: what is lost of either adds up.
        let mixed = [batch(0, &[1, 1, 0]), batch(0, &[0, 0, 1])];
        let found = certainty(&[share], &mixed, &[0, 0, 1], 1);
        assert!((found.probability - share.at_most(1, 2)).abs() < 1e-12);
    }

    #[test]
    fn what_has_too_many_ways_is_told_as_at_least() {
        // Six lengths of 60 copies, of which 12 may be lost: more ways than are kept apart.
        let share = Share::stated(0.03);
        let batches: Vec<Batch> = (0..60 * 6)
            .map(|at| {
                batch(
                    0,
                    &std::array::from_fn::<u32, 6, _>(|n| u32::from(at % 6 == n)),
                )
            })
            .collect();
        let found = certainty(&[share], &batches, &[0; 6], 12);
        let exact = share.at_most_of_each(12, 60, 6);
        assert!(!found.exact && found.probability > 0.0, "{found:?}");
        assert!(found.probability <= exact, "{found:?} {exact}");
    }

    #[test]
    fn what_never_and_what_always_fails_is_certain() {
        let runs = [batch(0, &[1]), batch(0, &[1])];
        let with = |share, spare| certainty(&[share], &runs, &[0], spare).probability;
        assert_eq!(with(Share::stated(0.0), 0), 1.0);
        assert_eq!(with(Share::stated(1.0), 1), 0.0);
        assert_eq!(with(Share::stated(1.0), 2), 1.0);
    }
}
