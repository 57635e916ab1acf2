//! Failures of runs: the beta-binomial and binomial distributions against scipy 1.17.1 (`scipy.stats.betabinom`, `binom`).

use beamyard::chance::{Share, extras, further_runs};

#[test]
fn the_beta_binomial_distribution_is_that_of_scipy() {
    // betabinom.cdf(k, n, a, b)
    for (runs, a, b, most, expected) in [
        (9, 0.6, 19.4, 1, 0.9505274404847035),
        (40, 2.6, 57.4, 3, 0.8628706921925677),
        (200, 6.0, 194.0, 12, 0.9545787181089632),
        (25, 1.0, 1.0, 10, 0.42307692307692324),
        (1000, 0.6, 19.4, 100, 0.9413270193295195),
        (12, 5.5, 0.5, 11, 0.44804059607642044),
    ] {
        let share = Share::beta(a, b).expect("both above 0");
        let found = share.at_most(most, runs);
        assert!(
            (found - expected).abs() < 1e-9,
            "{runs} {a} {b} {most}: {found} is not {expected}"
        );
    }
}

#[test]
fn beta_binomial_quantiles_are_those_of_scipy() {
    // betabinom.ppf(q, n, a, b)
    for (q, runs, a, b, expected) in [
        (0.95, 9, 0.6, 19.4, 1),
        (0.95, 40, 2.6, 57.4, 5),
        (0.99, 200, 6.0, 194.0, 16),
        (0.95, 1000, 0.6, 19.4, 107),
    ] {
        let share = Share::beta(a, b).expect("both above 0");
        let quantile = (0..=runs).find(|&most| share.at_most(most, runs) >= q);
        assert_eq!(quantile, Some(expected), "{q} {runs} {a} {b}");
    }
}

#[test]
fn a_share_that_is_well_known_gives_the_binomial_quantiles_of_scipy() {
    // binom.ppf(q, n, p), binom.cdf of it; a Beta distribution of 10⁹ runs has nearly no spread left.
    for (q, runs, p, expected, cdf) in [
        (0.95, 9, 0.03, 1, 0.9718417657027432),
        (0.95, 39, 0.03, 3, 0.971075865828744),
        (0.99, 200, 0.05, 18, 0.9941764420322093),
        (0.999, 1000, 0.03, 48, 0.9992662203239993),
    ] {
        let share = Share::beta(p * 1e9, (1.0 - p) * 1e9).expect("both above 0");
        let quantile = (0..=runs).find(|&most| share.at_most(most, runs) >= q);
        assert_eq!(quantile, Some(expected), "{q} {runs} {p}");
        let found = share.at_most(expected, runs);
        assert!((found - cdf).abs() < 1e-5, "{found} is not {cdf}");
    }
}

#[test]
fn extras_are_the_least_that_scipy_finds_enough() {
    // The least k with betabinom.cdf(k, n + k, a, b) >= q.
    for (wanted, a, b, q, expected) in [
        (8, 0.6, 19.4, 0.95, 1),
        (36, 0.6, 19.4, 0.95, 5),
        (36, 3.6, 56.4, 0.95, 6),
        (100, 1.0, 19.0, 0.99, 29),
        (1, 0.6, 19.4, 0.95, 0),
        (1, 2.0, 18.0, 0.95, 1),
    ] {
        let share = Share::beta(a, b).expect("both above 0");
        assert_eq!(further_runs(share, wanted, q, 10_000), Some(expected));
        assert_eq!(extras(share, wanted, 1, 1, q, 10_000), Some(expected));
    }
}
