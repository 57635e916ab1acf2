//! The share of runs that fail, as far as experience tells, and how many extras make up for them.
//!
//! Knows: plain numbers. Must not know: machines, parts, plans.
//! Promises: no argument panics; probabilities are in 0 to 1; a number of extras is the least that suffices.
//!
//! The model is Gelman et al., Bayesian Data Analysis, 3rd ed., section 2.4 (conjugate Beta prior of a binomial share) and
//! appendix A (beta-binomial distribution); from memory. A run fails with an unknown share θ ~ Beta(a, b). After r
//! runs of which f failed it is Beta(a + f, b + r − f), and of n further runs so many fail as the beta-binomial
//! distribution with n and these two says.

mod lengths;

use statrs::function::beta::ln_beta;

/// What a stated share of failures is worth before anything was printed: so many runs that were looked on. Common
/// practice, no source.
pub const PRIOR_RUNS: f64 = 20.0;

/// What is known of a share of failures: a Beta distribution.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Share {
    /// Failures, the first parameter of the Beta distribution; 0 or more.
    failures: f64,
    /// Successes, the second one; 0 or more.
    successes: f64,
}

impl Share {
    /// The share that is stated (0 to 1), with the weight of [`PRIOR_RUNS`] runs.
    pub fn stated(share: f64) -> Self {
        let share = if share.is_finite() {
            share.clamp(0.0, 1.0)
        } else {
            0.0
        };
        Self {
            failures: share * PRIOR_RUNS,
            successes: (1.0 - share) * PRIOR_RUNS,
        }
    }

    /// A Beta distribution by its two parameters, each 0 or more and not both 0; else `None`.
    pub fn beta(failures: f64, successes: f64) -> Option<Self> {
        let valid = |one: f64| one.is_finite() && one >= 0.0;
        (valid(failures) && valid(successes) && failures + successes > 0.0).then_some(Self {
            failures,
            successes,
        })
    }

    /// What is known after `runs` more, of which `failed` did (all of them, if it says more).
    #[must_use]
    pub fn after(self, runs: u32, failed: u32) -> Self {
        let failed = failed.min(runs);
        Self {
            failures: self.failures + f64::from(failed),
            successes: self.successes + f64::from(runs - failed),
        }
    }

    /// The expected share, 0 to 1.
    pub fn mean(self) -> f64 {
        // Not both are 0: a stated share has PRIOR_RUNS of them together, and `after` only adds.
        self.failures / (self.failures + self.successes)
    }

    /// The probability that at most `most` of `runs` fail: the beta-binomial distribution function.
    pub fn at_most(self, most: u32, runs: u32) -> f64 {
        if most >= runs || self.failures == 0.0 {
            return 1.0;
        }
        if self.successes == 0.0 {
            return 0.0;
        }
        let (a, b, n) = (self.failures, self.successes, f64::from(runs));
        // Each term from the one before, in logarithms: the first may be too small for a number of its own.
        let mut term = ln_beta(a, b + n) - ln_beta(a, b);
        let mut sum = term.exp();
        for failed in 0..most {
            let k = f64::from(failed);
            term += ((n - k) / (k + 1.0) * (a + k) / (b + n - k - 1.0)).ln();
            sum += term.exp();
        }
        sum.clamp(0.0, 1.0)
    }
}

/// The least number of further runs after which at least `wanted` have gone well with probability `confidence`; `None` if
/// even `limit` are too few.
///
/// One run more may fail in one run more, so more runs are never worse, and the least number is found by halving.
pub fn further_runs(share: Share, wanted: u32, confidence: f64, limit: u32) -> Option<u32> {
    least(limit, |more| {
        share.at_most(more, wanted.saturating_add(more)) >= confidence
    })
}

/// The least number that suffices, where every larger one does; `None` if even `limit` does not.
fn least(limit: u32, suffice: impl Fn(u32) -> bool) -> Option<u32> {
    if suffice(0) {
        return Some(0);
    }
    let (mut fails, mut holds) = (0, 1);
    while !suffice(holds) {
        if holds >= limit {
            return None;
        }
        fails = holds;
        holds = holds.saturating_mul(2).min(limit);
    }
    while holds - fails > 1 {
        let middle = fails + (holds - fails) / 2;
        if suffice(middle) {
            holds = middle;
        } else {
            fails = middle;
        }
    }
    Some(holds)
}

/// The least number of extras with which `wanted` copies succeed with probability `confidence`, if a whole run fails
/// together and as many as `together` copies may lie in one run; `None` if even `limit` extras are too few.
///
/// Into how many runs the copies go is not known beforehand, so the number suffices for equal runs of any size up to
/// `together`: of runs of g copies ⌈wanted / g⌉ must go well; each further run makes up for one that fails, and has g extras. Of a
/// copy in several `lengths` each is a run of its own, and a length stands in for the same length of any other copy: of each, `wanted`
/// must go well. One copy more is then one run more of each, in which one more may fail, so more are never worse.
pub fn extras(
    share: Share,
    wanted: u32,
    together: u32,
    lengths: u32,
    confidence: f64,
    limit: u32,
) -> Option<u32> {
    if wanted == 0 {
        return Some(0);
    }
    if lengths > 1 {
        return least(limit, |more| {
            share.at_most_of_each(more, wanted.saturating_add(more), lengths) >= confidence
        });
    }
    let mut most = 0;
    let mut before = None;
    // Of all sizes that make the same number of runs the least is that of the most equal ones.
    for size in 1..=together.clamp(1, wanted) {
        let runs = wanted.div_ceil(size);
        if before == Some(runs) {
            continue;
        }
        before = Some(runs);
        let further = further_runs(share, runs, confidence, limit / size)?;
        most = most.max(further.checked_mul(size)?);
    }
    Some(most)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stated_share_weighs_twenty_runs() {
        // 5 % of 20 is 1; one of 20 more fails: 2 of 40.
        let share = Share::stated(0.05);
        assert!((share.mean() - 0.05).abs() < 1e-12);
        assert!((share.after(20, 1).mean() - 0.05).abs() < 1e-12);
        // Ten of ten fail: 11 of 30.
        assert!((share.after(10, 10).mean() - 11.0 / 30.0).abs() < 1e-12);
    }

    #[test]
    fn what_never_fails_needs_no_extras_and_what_always_fails_has_no_number() {
        assert_eq!(extras(Share::stated(0.0), 8, 4, 1, 0.95, 1000), Some(0));
        assert_eq!(extras(Share::stated(1.0), 8, 4, 1, 0.95, 1000), None);
        assert_eq!(extras(Share::stated(1.0), 8, 1, 2, 0.95, 1000), None);
        assert_eq!(extras(Share::stated(0.5), 0, 4, 1, 0.95, 1000), Some(0));
    }

    #[test]
    fn the_number_of_further_runs_is_the_least_that_suffices() {
        for (wanted, share) in [(1, 0.03), (9, 0.03), (40, 0.1), (300, 0.02)] {
            let share = Share::stated(share);
            let more = further_runs(share, wanted, 0.95, 100_000).expect("few fail");
            assert!(share.at_most(more, wanted + more) >= 0.95);
            assert!(more == 0 || share.at_most(more - 1, wanted + more - 1) < 0.95);
        }
    }

    #[test]
    fn a_great_number_of_lengths_is_answered_soon_and_the_answer_is_an_edge() {
        let share = Share::stated(0.05);
        let more = extras(share, 2_000, 1, 3, 0.95, 100_000).expect("few fail");
        let holds = |more: u32| share.at_most_of_each(more, 2_000 + more, 3) >= 0.95;
        assert!(holds(more) && !holds(more - 1), "{more}");
        assert_eq!(
            extras(Share::stated(0.9), 10_000, 1, 6, 0.95, 100_000),
            None
        );
    }

    #[test]
    fn the_distribution_function_is_the_sum_of_its_terms() {
        // Beta(1, 1) and 10 runs: every number of failures is as likely, 1/11 each.
        let flat = Share::beta(1.0, 1.0).expect("two parameters");
        for most in 0..10 {
            let expected = f64::from(most + 1) / 11.0;
            assert!((flat.at_most(most, 10) - expected).abs() < 1e-12, "{most}");
        }
    }

    #[test]
    fn copies_that_may_fail_together_need_more_extras_than_copies_apart() {
        let share = Share::stated(0.03);
        let apart = extras(share, 8, 1, 1, 0.95, 1000);
        let together = extras(share, 8, 4, 1, 0.95, 1000);
        // One of nine may fail alone; of two runs of four one more run is needed.
        assert_eq!((apart, together), (Some(1), Some(4)));
        // All in one run: it fails in 3 of 100, which 95 % allows; but they may also be two runs of four.
        assert_eq!(extras(share, 8, 8, 1, 0.95, 1000), Some(4));
    }
}
