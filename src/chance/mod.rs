//! The share of runs that fail, as far as experience tells, and how many extras make up for them.
//!
//! Knows: plain numbers. Must not know: machines, parts, plans.
//! Promises: no argument panics; probabilities are in 0 to 1; a number of extras is the least that suffices.
//!
//! The model is Gelman et al., Bayesian Data Analysis, 3rd ed., section 2.4 (conjugate Beta prior of a binomial share) and
//! appendix A (beta-binomial distribution); from memory. A run fails with an unknown share θ ~ Beta(a, b). After r
//! runs of which f failed it is Beta(a + f, b + r − f), and of n further runs so many fail as the beta-binomial
//! distribution with n and these two says.

mod extras;
mod lengths;
mod together;

use statrs::function::beta::ln_beta;

pub use extras::{Extras, extras};
pub use together::{Batch, Certainty, certainty};

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

    /// What is known after `runs` more, of which `failed` did (all of them, if it says more); of a run that failed in part its share counts.
    #[must_use]
    pub fn after(self, runs: u32, failed: f64) -> Self {
        let runs = f64::from(runs);
        let failed = if failed.is_finite() {
            failed.clamp(0.0, runs)
        } else {
            runs
        };
        Self {
            failures: self.failures + failed,
            successes: self.successes + (runs - failed),
        }
    }

    /// ln of the probability that of `runs` more just `failed` given ones fail: B(a + failed, b + runs − failed) / B(a, b); in which order
    /// they were is the same. `None`: it is 0.
    fn ln_of(self, failed: u32, runs: u32) -> Option<f64> {
        let Self {
            failures: a,
            successes: b,
        } = self;
        let (failed, well) = (f64::from(failed), f64::from(runs.saturating_sub(failed)));
        match (a > 0.0, b > 0.0) {
            (true, true) => Some(ln_beta(a + failed, b + well) - ln_beta(a, b)),
            (false, _) => (failed == 0.0).then_some(0.0),
            (_, false) => (well == 0.0).then_some(0.0),
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stated_share_weighs_twenty_runs() {
        // 5 % of 20 is 1; one of 20 more fails: 2 of 40.
        let share = Share::stated(0.05);
        assert!((share.mean() - 0.05).abs() < 1e-12);
        assert!((share.after(20, 1.0).mean() - 0.05).abs() < 1e-12);
        // Ten of ten fail: 11 of 30.
        assert!((share.after(10, 10.0).mean() - 11.0 / 30.0).abs() < 1e-12);
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
    fn the_distribution_function_is_the_sum_of_its_terms() {
        // Beta(1, 1) and 10 runs: every number of failures is as likely, 1/11 each.
        let flat = Share::beta(1.0, 1.0).expect("two parameters");
        for most in 0..10 {
            let expected = f64::from(most + 1) / 11.0;
            assert!((flat.at_most(most, 10) - expected).abs() < 1e-12, "{most}");
        }
    }
}
