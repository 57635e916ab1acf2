//! The master with sheets and copies in fractions: what pieces, machines, dates and hands are worth.
//!
//! Knows: the master's program. Must not know: the search that reads the prices.
//! Promises: [`Relaxed::bound`] is not above the cost of any choice of columns of the pool; prices have the signs that their rows allow.

use std::collections::BTreeMap;

use super::{Column, DAY, Master, MasterProblem};
use crate::model::linear::Row;
use crate::model::solver::{Quality, Unsolved, solve_lp};

/// Prices of the master's rows, by family; money.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Prices {
    /// By part: what one copy more would cost.
    pub demand: Vec<f64>,
    /// By kind of piece: what one piece more is worth; never negative.
    pub kinds: Vec<f64>,
    /// By machine: what a sheet of it costs, less what its pieces are worth.
    pub machines: Vec<f64>,
    /// By machine and assembly, where they meet: what a day less until the machine's last piece for it is worth; never negative.
    pub printed: BTreeMap<(usize, usize), f64>,
    /// By window: what a minute more of hands would change; never positive.
    pub windows: Vec<f64>,
}

impl Prices {
    /// What a sheet would add to the relaxation's cost; a sheet below zero may improve it.
    pub fn reduced_cost(&self, column: &Column) -> f64 {
        let pieces = column
            .yields
            .iter()
            .map(|&(kind, number)| self.kinds[kind] * f64::from(number));
        let dates = column.last.iter().map(|&(assembly, minute)| {
            let day = self
                .printed
                .get(&(column.machine, assembly))
                .unwrap_or(&0.0);
            day * f64::from(minute) / DAY
        });
        let hands = column
            .setups
            .iter()
            .map(|&(window, minutes)| self.windows[window] * f64::from(minutes));
        column.cost - pieces.sum::<f64>() + dates.sum::<f64>()
            - hands.sum::<f64>()
            - self.machines[column.machine]
    }
}

/// The relaxation's answer.
#[derive(Clone, Debug)]
pub struct Relaxed {
    /// Its cost as the solver found it; approximate.
    pub value: f64,
    /// What its prices prove: no choice of columns of the pool costs less.
    pub bound: f64,
    /// Whether the solver reached its optimum.
    pub quality: Quality,
    /// By column: its share.
    pub shares: Vec<f64>,
    /// By route: copies.
    pub copies: Vec<f64>,
    /// What everything is worth.
    pub prices: Prices,
}

/// Solves the master in fractions over the whole pool.
///
/// # Errors
/// [`Unsolved::Infeasible`] where the pool cannot make all parts, or what the solver said.
pub fn relax(problem: &MasterProblem) -> Result<Relaxed, Unsolved> {
    let master = Master::new(problem, (0..problem.columns.len()).collect());
    let solution = solve_lp(&master.program)?;
    let price = |row: &Row| solution.prices[row.0];
    let family = |rows: &[Row]| rows.iter().map(price).collect();
    let windows = (0..problem.windows.len())
        // The program counts days of hands, a price is for a minute.
        .map(|w| {
            master
                .rows
                .windows
                .get(&w)
                .map_or(0.0, |row| price(row) / DAY)
        })
        .collect();
    Ok(Relaxed {
        value: solution.objective,
        bound: master.program.safe_bound(&solution.prices),
        quality: solution.quality,
        shares: master.shares.iter().map(|x| solution.values[x.0]).collect(),
        copies: master.copies.iter().map(|y| solution.values[y.0]).collect(),
        prices: Prices {
            demand: family(&master.rows.demand),
            kinds: family(&master.rows.kinds),
            machines: family(&master.rows.machines),
            printed: master
                .rows
                .printed
                .iter()
                .map(|(&key, row)| (key, price(row)))
                .collect(),
            windows,
        },
    })
}

#[cfg(test)]
mod tests {
    use super::super::tests::jib;
    use super::*;

    #[test]
    fn the_bound_is_the_value_and_below_every_choice() {
        let problem = jib();
        let relaxed = relax(&problem).unwrap();
        assert_eq!(relaxed.quality, Quality::Optimal);
        assert!(relaxed.bound <= relaxed.value + 1e-9 && relaxed.bound > relaxed.value - 1e-4);
        // The best whole choice costs 13 (one chord split): see `recombine`.
        assert!(relaxed.bound <= 13.0);
    }

    #[test]
    fn no_column_of_the_pool_is_cheaper_than_its_price() {
        let problem = jib();
        let relaxed = relax(&problem).unwrap();
        for (column, share) in problem.columns.iter().zip(&relaxed.shares) {
            let reduced = relaxed.prices.reduced_cost(column);
            assert!(reduced >= -1e-5, "{column:?}: {reduced}");
            // Complementary slackness: what is used is worth its price.
            assert!(reduced * share < 1e-4, "{column:?}: {reduced}, {share}");
        }
    }

    #[test]
    fn a_pool_of_one_choice_costs_what_the_choice_costs() {
        // Columns 3 and 5 alone, one chord split: 13 (worked out in the parent's tests).
        let mut problem = jib();
        problem.columns = vec![problem.columns[3].clone(), problem.columns[5].clone()];
        let relaxed = relax(&problem).unwrap();
        assert!((relaxed.value - 13.0).abs() < 1e-5, "{}", relaxed.value);
        // One foot more cannot be had at all, one chord more neither; a day less on the last machine saves each_day: the
        // machine of column 5 is the last, complete on day 2 with nothing late to gain below the due date: at least 1.
        let wide = relaxed.prices.printed[&(1, 0)];
        assert!((0.9..=11.1).contains(&wide), "{wide}");
    }

    #[test]
    fn a_pool_that_cannot_make_all_parts_is_infeasible() {
        let mut problem = jib();
        problem.columns.truncate(3);
        assert_eq!(relax(&problem).unwrap_err(), Unsolved::Infeasible);
    }
}
