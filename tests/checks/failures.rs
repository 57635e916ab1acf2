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
fn enough_of_each_length_is_as_likely_as_scipy_says() {
    // scipy.integrate.quad of binom.cdf(most, runs, beta.ppf(u, a, b)) ** lengths over u from 0 to 1.
    for (most, runs, lengths, a, b, expected) in [
        (2, 10, 2, 0.6, 19.4, 0.972483741834),
        (1, 9, 2, 0.6, 19.4, 0.912566574693),
        (2, 10, 4, 0.6, 19.4, 0.951856685513),
        (1, 2, 3, 0.6, 19.4, 0.993267885461),
        (7, 43, 2, 3.6, 56.4, 0.957422702628),
        (8, 32, 6, 1.0, 19.0, 0.966871310171),
        (34, 134, 3, 1.0, 19.0, 0.991033636278),
        (33, 133, 3, 1.0, 19.0, 0.989812976624),
    ] {
        let found = Share::beta(a, b)
            .expect("both above 0")
            .at_most_of_each(most, runs, lengths);
        assert!((found - expected).abs() < 1e-8, "{found} is not {expected}");
    }
    // Of one length it is the beta-binomial distribution function.
    for (most, runs, a, b) in [(1, 9, 0.6, 19.4), (3, 20, 4.0, 2.0), (0, 5, 0.02, 19.98)] {
        let share = Share::beta(a, b).expect("both above 0");
        let [one, other] = [
            share.at_most_of_each(most, runs, 1),
            share.at_most(most, runs),
        ];
        assert!((one - other).abs() < 1e-9, "{one} is not {other}");
    }
}

#[test]
fn extras_in_lengths_are_the_least_with_which_every_length_succeeds() {
    // The least k for which the same integral at k of n + k is at least q.
    for (wanted, lengths, a, b, q, expected) in [
        (8, 2, 0.6, 19.4, 0.95, 2),
        (8, 3, 0.6, 19.4, 0.95, 2),
        (8, 4, 0.6, 19.4, 0.95, 2),
        (1, 3, 0.6, 19.4, 0.95, 1),
        (36, 2, 3.6, 56.4, 0.95, 7),
        (24, 6, 1.0, 19.0, 0.95, 8),
        (100, 3, 1.0, 19.0, 0.99, 34),
        (4, 2, 2.0, 18.0, 0.95, 3),
    ] {
        let share = Share::beta(a, b).expect("both above 0");
        assert_eq!(
            extras(share, wanted, 1, lengths, q, 10_000).map(|all| all.copies),
            Some(expected)
        );
    }
    // A share that is known as if from ten million runs: the least k with binom.cdf(k, n + k, p) ** lengths >= q.
    for (wanted, lengths, p, q, expected) in [
        (8, 2, 0.03, 0.95, 2),
        (8, 4, 0.03, 0.95, 2),
        (36, 3, 0.05, 0.95, 5),
        (24, 6, 0.1, 0.99, 9),
    ] {
        let share = Share::beta(p * 1e7, (1.0 - p) * 1e7).expect("both above 0");
        assert_eq!(
            extras(share, wanted, 1, lengths, q, 10_000).map(|all| all.copies),
            Some(expected)
        );
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
        assert_eq!(
            extras(share, wanted, 1, 1, q, 10_000).map(|all| all.copies),
            Some(expected)
        );
    }
}
