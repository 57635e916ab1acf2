//! Which cycles pricing has learnt to avoid (ng-sets that grow from the cycles seen).
//!
//! Knows: runs by number. Must not know: prices, machines.
//! Promises: sheets without a run twice are never forbidden, whatever was learnt.
//!
//! Source: R. Baldacci, A. Mingozzi and R. Roberti, "New route relaxation and pricing strategies for the vehicle routing problem",
//! Operations Research 59 (2011), 1269–1283 (ng-routes).

use super::labels::Bits;

/// Which runs each run keeps remembered when it is put before others.
#[derive(Debug)]
pub struct Memory {
    near: Vec<Vec<bool>>,
    size: Vec<usize>,
}

impl Memory {
    /// Every run remembers itself.
    pub fn new(runs: usize) -> Self {
        let mut near = vec![vec![false; runs]; runs];
        for (r, row) in near.iter_mut().enumerate() {
            row[r] = true;
        }
        Self {
            near,
            size: vec![1; runs],
        }
    }

    /// Lets the runs inside each shortest cycle of `sheet` remember the run that is repeated, up to `most` each; says whether that changed anything.
    pub fn learn(&mut self, sheet: &[usize], most: usize) -> bool {
        let mut learnt = false;
        for (i, &run) in sheet.iter().enumerate() {
            if let Some(gap) = sheet[i + 1..].iter().position(|&other| other == run) {
                for &between in &sheet[i + 1..i + 1 + gap] {
                    if !self.near[between][run] && self.size[between] < most {
                        self.near[between][run] = true;
                        self.size[between] += 1;
                        learnt = true;
                    }
                }
            }
        }
        learnt
    }

    /// Whether the memory forbids this sheet.
    pub fn forbids(&self, sheet: &[usize]) -> bool {
        sheet.iter().enumerate().any(|(i, &run)| {
            sheet[i + 1..]
                .iter()
                .position(|&other| other == run)
                .is_some_and(|gap| {
                    sheet[i + 1..i + 1 + gap]
                        .iter()
                        .all(|&between| self.near[between][run])
                })
        })
    }

    /// For each run its set, as bits.
    pub fn bits<const W: usize>(&self) -> Vec<Bits<W>> {
        let pack = |row: &Vec<bool>| {
            let mut bits = [0; W];
            for (r, _) in row
                .iter()
                .enumerate()
                .take(W * 64)
                .filter(|(_, near)| **near)
            {
                bits[r / 64] |= 1 << (r % 64);
            }
            bits
        };
        self.near.iter().map(pack).collect()
    }
}
