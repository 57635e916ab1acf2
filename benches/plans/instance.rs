//! What is planned: a farm of packed runs, several such farms in one workshop, or a tower of pieces, watched or not, by size.
//!
//! Knows: the recipes and how sizes are written. Must not know: how plans are found or measured.
//! Promises: an instance written out and read again is the same; the same size and seed give the same scenario.

use std::fmt;
use std::str::FromStr;

use beamyard::scenario::{DaySpan, Scenario};
use rand::RngExt;
use rand_pcg::Pcg64;
use serde::{Deserialize, Serialize};

use crate::{farm, tower};

/// A size of one of the recipes; with a seed, a scenario.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Instance {
    /// So many packed runs.
    Farm(usize),
    /// So many farms in one, each of a material of its own, of so many packed runs.
    Farms(usize, usize),
    /// The same where each day costs until all of it is done: then the farms cannot be planned one by one.
    Kin(usize, usize),
    /// So many machines and pieces.
    Tower(usize, u32),
    /// The same where every other machine prints only while somebody is there.
    Watched(usize, u32),
}

impl Instance {
    /// Draws the scenario.
    pub fn scenario(self, seed: u64) -> Scenario {
        match self {
            Instance::Farm(runs) => farm::scenario(runs, seed),
            Instance::Farms(farms, runs) => farm::several(farms, runs, seed),
            Instance::Kin(farms, runs) => farm::kin(farms, runs, seed),
            Instance::Tower(machines, pieces) => tower::scenario(machines, pieces, seed),
            Instance::Watched(machines, pieces) => tower::watched(machines, pieces, seed),
        }
    }

    /// How many machines it has.
    pub fn machines(self) -> usize {
        match self {
            Instance::Farm(runs) => farm::machines_of(runs),
            Instance::Farms(farms, runs) | Instance::Kin(farms, runs) => {
                farms * farm::machines_of(runs)
            }
            Instance::Tower(machines, _) | Instance::Watched(machines, _) => machines,
        }
    }
}

impl fmt::Display for Instance {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        match self {
            Instance::Farm(runs) => write!(f, "farm-{runs}"),
            Instance::Farms(farms, runs) => write!(f, "farms-{farms}x{runs}"),
            Instance::Kin(farms, runs) => write!(f, "kin-{farms}x{runs}"),
            Instance::Tower(machines, pieces) => write!(f, "tower-{machines}x{pieces}"),
            Instance::Watched(machines, pieces) => write!(f, "watched-{machines}x{pieces}"),
        }
    }
}

impl FromStr for Instance {
    type Err = &'static str;

    fn from_str(written: &str) -> Result<Self, Self::Err> {
        const FORMS: &str = "write farm-RUNS, farms-FARMSxRUNS, kin-FARMSxRUNS, tower-MACHINESxPIECES or watched-MACHINESxPIECES, each above zero, such as farm-60, farms-3x20 or tower-5x60";
        let number = |digits: &str| digits.parse().ok().filter(|&n: &u32| n > 0).ok_or(FORMS);
        match written.split_once('-') {
            Some(("farm", runs)) => Ok(Instance::Farm(number(runs)? as usize)),
            Some((kind @ ("farms" | "kin" | "tower" | "watched"), size)) => {
                let (first, second) = size.split_once('x').ok_or(FORMS)?;
                let (first, second) = (number(first)? as usize, number(second)?);
                Ok(match kind {
                    "farms" => Instance::Farms(first, second as usize),
                    "kin" => Instance::Kin(first, second as usize),
                    "watched" => Instance::Watched(first, second),
                    _ => Instance::Tower(first, second),
                })
            }
            _ => Err(FORMS),
        }
    }
}

/// One of a few values, each as likely.
pub fn one_of<T: Copy>(draw: &mut Pcg64, values: &[T]) -> T {
    values[draw.random_range(0..values.len())]
}

/// Bench hours, Monday first, from spans in minutes after midnight.
pub fn week(weekday: &[(u32, u32)], weekend: &[(u32, u32)]) -> [Vec<DaySpan>; 7] {
    let spans = |day: &[(u32, u32)]| {
        day.iter()
            .map(|&(open, close)| DaySpan { open, close })
            .collect()
    };
    std::array::from_fn(|day| spans(if day < 5 { weekday } else { weekend }))
}
