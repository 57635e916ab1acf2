//! A linear program in plain numbers: `min c·x` over rows `a·x ≥, =, ≤ b` and bounds on `x`.
//!
//! Knows: numbers and names of rows. Must not know: what they stand for, which solver reads them.
//! Promises: [`LinearProgram::safe_bound`] never exceeds the optimum, whatever prices it is given.

use std::fmt;

/// Position of a variable in its program.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Variable(pub usize);

/// Position of a row in its program.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Row(pub usize);

/// How a row's left side compares with its right side.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sense {
    /// `a·x ≥ b`; its price is never negative.
    AtLeast,
    /// `a·x = b`; its price has any sign.
    Equal,
    /// `a·x ≤ b`; its price is never positive.
    AtMost,
}

/// A variable's cost and bounds.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Bounds {
    pub(crate) cost: f64,
    pub(crate) lower: f64,
    pub(crate) upper: f64,
    /// Whether the upper bound follows from the rows or loses no optimum, so that the solver need not hear of it.
    pub(crate) implied: bool,
}

/// One row.
#[derive(Clone, Debug)]
pub(crate) struct RowData {
    pub(crate) name: String,
    pub(crate) terms: Vec<(Variable, f64)>,
    pub(crate) sense: Sense,
    pub(crate) right: f64,
}

/// A linear program to be minimised.
#[derive(Clone, Debug, Default)]
pub struct LinearProgram {
    pub(crate) variables: Vec<Bounds>,
    pub(crate) rows: Vec<RowData>,
}

impl LinearProgram {
    /// A program without variables or rows.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a variable with `lower ≤ x ≤ upper`; `upper` may be infinite.
    pub fn variable(&mut self, cost: f64, lower: f64, upper: f64) -> Variable {
        self.push(cost, lower, upper, false)
    }

    /// Adds a variable with `0 ≤ x`, and `x ≤ upper` in some optimum whether that is enforced or not.
    ///
    /// The solver is not told of `upper` (each bound told is a row to it); only [`Self::safe_bound`] needs it.
    pub fn variable_known_below(&mut self, cost: f64, upper: f64) -> Variable {
        self.push(cost, 0.0, upper, true)
    }

    /// As [`Self::variable_known_below`], with a lower bound that is enforced.
    pub fn variable_known_within(&mut self, cost: f64, lower: f64, upper: f64) -> Variable {
        self.push(cost, lower, upper, true)
    }

    fn push(&mut self, cost: f64, lower: f64, upper: f64, implied: bool) -> Variable {
        self.variables.push(Bounds {
            cost,
            lower,
            upper,
            implied,
        });
        Variable(self.variables.len() - 1)
    }

    /// Adds a row; `name` is for people (`demand[jib-chord]`). Terms of one variable add up.
    pub fn row(
        &mut self,
        name: impl Into<String>,
        terms: Vec<(Variable, f64)>,
        sense: Sense,
        right: f64,
    ) -> Row {
        self.rows.push(RowData {
            name: name.into(),
            terms,
            sense,
            right,
        });
        Row(self.rows.len() - 1)
    }

    /// Number of variables.
    pub fn variable_count(&self) -> usize {
        self.variables.len()
    }

    /// Number of rows.
    pub fn row_count(&self) -> usize {
        self.rows.len()
    }

    /// The name that a row was given.
    pub fn row_name(&self, row: Row) -> &str {
        &self.rows[row.0].name
    }

    /// `c·x`.
    pub fn objective(&self, values: &[f64]) -> f64 {
        self.variables
            .iter()
            .zip(values)
            .map(|(variable, value)| variable.cost * value)
            .sum()
    }

    /// By how much `values` break the row or enforced bound that they break most, and its name; relative to the size of the row's terms
    /// where these are above 1.
    pub fn worst_violation(&self, values: &[f64]) -> (f64, &str) {
        let mut worst = (0.0, "nothing");
        for (variable, &value) in self.variables.iter().zip(values) {
            let upper = if variable.implied {
                f64::INFINITY
            } else {
                variable.upper
            };
            let out = (variable.lower - value).max(value - upper) / value.abs().max(1.0);
            if out > worst.0 || out.is_nan() {
                worst = (out, "a variable's bounds");
            }
        }
        for row in &self.rows {
            let (mut left, mut size) = (0.0, row.right.abs().max(1.0));
            for &(variable, factor) in &row.terms {
                left += factor * values[variable.0];
                size = f64::max(size, (factor * values[variable.0]).abs());
            }
            let out = match row.sense {
                Sense::AtLeast => row.right - left,
                Sense::AtMost => left - row.right,
                Sense::Equal => (left - row.right).abs(),
            } / size;
            if out > worst.0 || out.is_nan() {
                worst = (out, &row.name);
            }
        }
        worst
    }

    /// `c − yᵀA`: what each variable would add to the cost at these prices, beyond what it is paid.
    pub fn reduced_costs(&self, prices: &[f64]) -> Vec<f64> {
        let mut reduced: Vec<f64> = self.variables.iter().map(|v| v.cost).collect();
        for (row, price) in self.rows.iter().zip(prices) {
            for &(variable, factor) in &row.terms {
                reduced[variable.0] -= factor * price;
            }
        }
        reduced
    }

    /// The prices with every sign that a row's sense forbids set to 0.
    pub fn with_possible_signs(&self, prices: &[f64]) -> Vec<f64> {
        let possible = |(row, &price): (&RowData, &f64)| match row.sense {
            _ if !price.is_finite() => 0.0,
            Sense::AtLeast => price.max(0.0),
            Sense::AtMost => price.min(0.0),
            Sense::Equal => price,
        };
        self.rows.iter().zip(prices).map(possible).collect()
    }

    /// A number that the optimum is not below, from any prices at all; −∞ where a variable without an upper bound is too cheap.
    ///
    /// Proof (weak duality with bounds on the variables): let `y` have the possible signs. For every `x` that keeps the rows,
    /// `yᵀ(Ax) ≥ yᵀb`, hence `c·x ≥ yᵀb + (c − yᵀA)·x ≥ yᵀb + Σ_j min{ d_j·x_j : lower_j ≤ x_j ≤ upper_j }`, `d = c − yᵀA`.
    /// Nothing asks `y` to be optimal, so a solver's tolerance can only lower the value. Rounding in this sum itself: a sum of n
    /// terms in double precision is off by less than n·ε times the sum of their magnitudes; that much is taken off.
    pub fn safe_bound(&self, prices: &[f64]) -> f64 {
        let prices = self.with_possible_signs(prices);
        let mut reduced: Vec<Rounded> = self
            .variables
            .iter()
            .map(|variable| Rounded::of(variable.cost))
            .collect();
        let mut total = Rounded::of(0.0);
        for (row, &price) in self.rows.iter().zip(&prices) {
            total.add(price * row.right);
            for &(variable, factor) in &row.terms {
                reduced[variable.0].add(-factor * price);
            }
        }
        for (variable, reduced) in self.variables.iter().zip(&reduced) {
            let least = [reduced.least(), reduced.most()]
                .into_iter()
                .flat_map(|d| [product(d, variable.lower), product(d, variable.upper)])
                .fold(f64::INFINITY, f64::min);
            total.add(least);
        }
        total.least()
    }
}

/// `0 · ∞` is 0 here: a variable of cost 0 costs nothing wherever it stands.
fn product(cost: f64, value: f64) -> f64 {
    if cost == 0.0 { 0.0 } else { cost * value }
}

/// A running sum that knows how far rounding can have taken it.
struct Rounded {
    sum: f64,
    magnitude: f64,
    terms: f64,
}

impl Rounded {
    fn of(value: f64) -> Self {
        Self {
            sum: value,
            magnitude: value.abs(),
            terms: 1.0,
        }
    }

    fn add(&mut self, value: f64) {
        self.sum += value;
        self.magnitude += value.abs();
        self.terms += 1.0;
    }

    /// Twice ε per term: one rounding of the product, one of the sum. A lone term is exact.
    fn error(&self) -> f64 {
        if self.terms == 1.0 {
            return 0.0;
        }
        2.0 * self.terms * f64::EPSILON * self.magnitude
    }

    fn least(&self) -> f64 {
        if self.sum.is_finite() {
            self.sum - self.error()
        } else {
            f64::NEG_INFINITY
        }
    }

    fn most(&self) -> f64 {
        self.sum + self.error()
    }
}

impl fmt::Display for LinearProgram {
    /// The program as one reads mathematics: a line for the cost, then a line for each row with its name.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let cost: Vec<(Variable, f64)> = self
            .variables
            .iter()
            .enumerate()
            .filter(|(_, variable)| variable.cost != 0.0)
            .map(|(index, variable)| (Variable(index), variable.cost))
            .collect();
        writeln!(f, "min {}", Sum(&cost))?;
        for row in &self.rows {
            let sign = match row.sense {
                Sense::AtLeast => "≥",
                Sense::Equal => "=",
                Sense::AtMost => "≤",
            };
            writeln!(f, "{}: {} {sign} {}", row.name, Sum(&row.terms), row.right)?;
        }
        Ok(())
    }
}

struct Sum<'a>(&'a [(Variable, f64)]);

impl fmt::Display for Sum<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0.is_empty() {
            return write!(f, "0");
        }
        for (position, &(variable, factor)) in self.0.iter().enumerate() {
            let sign = match (position, factor < 0.0) {
                (0, false) => "",
                (0, true) => "-",
                (_, false) => " + ",
                (_, true) => " - ",
            };
            write!(f, "{sign}{} x{}", factor.abs(), variable.0)?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// min 3x + 2y with x + y ≥ 4, x ≤ 3, y ≤ 3 (as a row): y = 3, x = 1 costs 9.
    fn two_goods() -> LinearProgram {
        let mut program = LinearProgram::new();
        let x = program.variable(3.0, 0.0, 3.0);
        let y = program.variable_known_below(2.0, 3.0);
        program.row("demand", vec![(x, 1.0), (y, 1.0)], Sense::AtLeast, 4.0);
        program.row("room", vec![(y, 1.0)], Sense::AtMost, 3.0);
        program
    }

    #[test]
    fn the_right_prices_prove_the_optimum() {
        // A unit more of demand costs a unit of x, 3; a unit more room saves 3 − 2 = 1. 4·3 − 3·1 = 9.
        let bound = two_goods().safe_bound(&[3.0, -1.0]);
        assert!(bound <= 9.0 && bound > 9.0 - 1e-12, "{bound}");
    }

    #[test]
    fn a_price_too_high_is_paid_back_through_the_variables_bounds() {
        // Prices (5, 0): d = (3 − 5, 2 − 5) = (−2, −3); 4·5 − 2·3 − 3·3 = 5 ≤ 9.
        let bound = two_goods().safe_bound(&[5.0, 0.0]);
        assert!((bound - 5.0).abs() < 1e-12, "{bound}");
    }

    #[test]
    fn a_sign_that_a_row_cannot_have_counts_as_nothing() {
        assert_eq!(
            two_goods().safe_bound(&[-7.0, 2.0]),
            two_goods().safe_bound(&[0.0, 0.0])
        );
        assert_eq!(
            two_goods().safe_bound(&[f64::NAN, 0.0]),
            two_goods().safe_bound(&[0.0, 0.0])
        );
    }

    #[test]
    fn without_an_upper_bound_a_variable_that_pays_leaves_no_bound() {
        let mut program = LinearProgram::new();
        let x = program.variable(1.0, 0.0, f64::INFINITY);
        program.row("demand", vec![(x, 1.0)], Sense::AtLeast, 1.0);
        assert_eq!(program.safe_bound(&[2.0]), f64::NEG_INFINITY);
        assert!(program.safe_bound(&[0.5]) <= 0.5);
    }

    #[test]
    fn the_worst_row_is_named() {
        // x = 1, y = 1: demand is short by 2 of 4.
        let program = two_goods();
        let (out, name) = program.worst_violation(&[1.0, 1.0]);
        assert_eq!(name, "demand");
        assert!((out - 0.5).abs() < 1e-12);
        assert_eq!(program.worst_violation(&[1.0, 3.0]).0, 0.0);
        assert_eq!(
            program.worst_violation(&[4.0, 0.0]).1,
            "a variable's bounds"
        );
    }

    #[test]
    fn a_program_prints_as_it_is_written_on_paper() {
        assert_eq!(
            two_goods().to_string(),
            "min 3 x0 + 2 x1\ndemand: 1 x0 + 1 x1 ≥ 4\nroom: 1 x1 ≤ 3\n"
        );
    }

    proptest! {
        #[test]
        fn no_prices_prove_more_than_the_optimum(a in -9.0..9f64, b in -9.0..9f64) {
            prop_assert!(two_goods().safe_bound(&[a, b]) <= 9.0);
        }
    }
}
