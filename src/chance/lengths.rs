//! How likely enough of each length succeed, where a copy is made in several.
//!
//! Knows: plain numbers. Must not know: machines, parts, plans.
//! Promises: no argument panics; the probability is right to some nine digits.

use statrs::function::beta::checked_beta_reg;

use super::Share;

/// What adds less than this share to a sum is left out.
const NOTHING: f64 = 1e-15;
/// Steps to the width of what is summed: the trapezoidal rule on a smooth function that fades at both ends gains digits exponentially
/// with them.
const FINENESS: f64 = 8.0;
/// No more terms to either side; so many are needed by nothing that is asked.
const MOST_TERMS: u32 = 20_000;

impl Share {
    /// The probability that of `runs` of each of so many `lengths` at most `most` fail, of every length.
    ///
    /// With the share θ of failures known, one length succeeds with F(θ), the binomial distribution function at `most` of `runs`, and all with
    /// F(θ)^lengths; this is its mean over θ. F(θ) is the probability that a variable X ~ Beta(most + 1, runs − most) is above θ (its
    /// distribution function is a binomial tail, e.g. Abramowitz and Stegun, 26.5.24; from memory), so F^lengths is that of the
    /// least of so many X being above θ, and the mean is the probability that θ is below it: that of Beta's distribution function over the
    /// density of the least, lengths · F^(lengths − 1) · density of X. Nothing is singular there, whatever the parameters. It is summed over the
    /// logit of θ.
    pub fn at_most_of_each(self, most: u32, runs: u32, lengths: u32) -> f64 {
        if most >= runs || self.failures == 0.0 || lengths == 0 {
            return 1.0;
        }
        if self.successes == 0.0 {
            return 0.0;
        }
        let failing = f64::from(most) + 1.0;
        let going = f64::from(runs - most);
        let width = |a: f64, b: f64| ((a + b) / (a * b)).sqrt();
        // Where the mean has the larger steps: of X, and of θ, whose density is no narrower than this.
        let narrowest =
            width(failing, going).min(width(self.failures.max(1.0), self.successes.max(1.0)));
        let step = narrowest / FINENESS;
        let centre = (failing / going).ln();
        // The logarithm of X's density over the logit, up to a factor, from its peak.
        let density = |x: f64| {
            let [more, less] = [-(-x).exp().ln_1p(), -x.exp().ln_1p()]; // ln θ, ln (1 − θ)
            failing * more + going * less
        };
        let peak = density(centre);
        let term = |x: f64| {
            let theta = 1.0 / (1.0 + (-x).exp());
            let well = regularized(going, failing, 1.0 / (1.0 + x.exp()));
            let weight = (density(x) - peak).exp() * well.powf(f64::from(lengths) - 1.0);
            (
                weight,
                weight * regularized(self.failures, self.successes, theta),
            )
        };
        let (mut whole, mut below) = term(centre);
        for side in [-1.0, 1.0] {
            for n in 1..=MOST_TERMS {
                let (weight, part) = term(centre + side * step * f64::from(n));
                whole += weight;
                below += part;
                if weight <= whole * NOTHING {
                    break;
                }
            }
        }
        if whole > 0.0 {
            (below / whole).clamp(0.0, 1.0)
        } else {
            0.0
        }
    }
}

/// The regularized incomplete beta function; both parameters above 0, the argument 0 to 1.
fn regularized(a: f64, b: f64, x: f64) -> f64 {
    checked_beta_reg(a, b, x.clamp(0.0, 1.0)).unwrap_or(0.0)
}
