//! Adds moves up to the figures of a print.
//!
//! Knows: moves, tools, waits. Must not know: files, filament's price or thickness.
//! Promises: what is drawn back and pressed again counts once; figures are finite.

use std::collections::BTreeSet;

use super::{Kinematics, Move, Planner};
use crate::units::{CubicMillimetres, Millimetres, Seconds};

/// More different heights than this are not told apart.
pub const MOST_HEIGHTS: usize = 100_000;
/// More tools than this are not told apart.
pub const MOST_TOOLS: usize = 256;
/// Filament, mm, below which nothing is laid: what floating point leaves of drawing back and pressing again.
const NOTHING: f64 = 1e-7;
/// Heights are told apart by the micrometre.
const PER_MILLIMETRE: f64 = 1000.0;

/// What a print comes to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figures {
    /// Filament that went in and did not come back.
    pub filament: Millimetres,
    /// Time of all moves and waits.
    pub time: Seconds,
    /// Least and greatest places of the nozzle's centre while it laid something; `None`: it never did.
    pub laid: Option<[[Millimetres; 3]; 2]>,
    /// Different heights at which something was laid flat.
    pub layers: u32,
    /// Changes of filament: another tool lays, or somebody is called to change it.
    pub changes: u32,
    /// Moves of head or filament.
    pub moves: u64,
}

impl Figures {
    /// The filament's volume, its diameter being so many mm: length × πd²/4.
    pub fn volume(&self, diameter: Millimetres) -> CubicMillimetres {
        let d = diameter.value();
        CubicMillimetres(self.filament.value() * std::f64::consts::PI * d * d / 4.0)
    }
}

/// Something that is told apart has more kinds than can be told apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TooMany {
    /// Heights.
    Heights,
    /// Tools.
    Tools,
}

/// Filament of one tool: pressed less drawn back, and the most that was ever out.
#[derive(Clone, Copy, Debug, Default)]
struct Ledger {
    tool: u32,
    net: f64,
    most: f64,
}

/// Takes moves as they come.
#[derive(Clone, Debug)]
pub struct Tally {
    planner: Planner,
    ledgers: Vec<Ledger>,
    /// Position of the tool in hand among the ledgers.
    in_hand: usize,
    /// Tool that laid last.
    laying: Option<u32>,
    laid: Option<[[f64; 3]; 2]>,
    heights: BTreeSet<i64>,
    height: Option<i64>,
    changes: u32,
    moves: u64,
}

impl Tally {
    /// Nothing done yet, tool 0 in hand.
    pub fn new(kinematics: Kinematics) -> Self {
        Self {
            planner: Planner::new(kinematics),
            ledgers: vec![Ledger::default()],
            in_hand: 0,
            laying: None,
            laid: None,
            heights: BTreeSet::new(),
            height: None,
            changes: 0,
            moves: 0,
        }
    }

    /// One move.
    ///
    /// # Errors
    /// If something is laid at more than [`MOST_HEIGHTS`] heights.
    pub fn take(&mut self, step: &Move) -> Result<(), TooMany> {
        self.planner.take(step);
        if step.length > 0.0 || step.filament != 0.0 {
            self.moves += 1;
        }
        let ledger = &mut self.ledgers[self.in_hand]; // the tool in hand has a ledger
        ledger.net += step.filament;
        let more = ledger.net - ledger.most;
        ledger.most = ledger.most.max(ledger.net);
        if more <= NOTHING {
            return Ok(());
        }
        let tool = ledger.tool;
        if self.laying.is_some_and(|before| before != tool) {
            self.changes = self.changes.saturating_add(1);
        }
        self.laying = Some(tool);
        if step.length <= 0.0 {
            return Ok(());
        }
        let [low, high] = step.reach;
        self.laid = Some(match self.laid {
            None => step.reach,
            Some([least, most]) => [
                [0, 1, 2].map(|axis| least[axis].min(low[axis])),
                [0, 1, 2].map(|axis| most[axis].max(high[axis])),
            ],
        });
        if high[2] - low[2] <= 1e-9 {
            let height = (high[2] * PER_MILLIMETRE).round() as i64;
            if self.height != Some(height) {
                self.height = Some(height);
                self.heights.insert(height);
                if self.heights.len() > MOST_HEIGHTS {
                    return Err(TooMany::Heights);
                }
            }
        }
        Ok(())
    }

    /// Another acceleration from here on, mm/s².
    pub fn accelerate_by(&mut self, acceleration: f64) {
        self.planner.accelerate_by(acceleration);
    }

    /// The head stops.
    pub fn stand(&mut self) {
        self.planner.stand();
    }

    /// The head stops for so long.
    pub fn wait(&mut self, seconds: f64) {
        self.planner.wait(seconds);
    }

    /// Another tool is taken in hand. It is a change of filament once it lays something.
    ///
    /// # Errors
    /// If there are more than [`MOST_TOOLS`].
    pub fn take_tool(&mut self, tool: u32) -> Result<(), TooMany> {
        self.planner.stand();
        if let Some(at) = self.ledgers.iter().position(|ledger| ledger.tool == tool) {
            self.in_hand = at;
            return Ok(());
        }
        if self.ledgers.len() >= MOST_TOOLS {
            return Err(TooMany::Tools);
        }
        self.in_hand = self.ledgers.len();
        self.ledgers.push(Ledger {
            tool,
            ..Ledger::default()
        });
        Ok(())
    }

    /// Somebody is called to change the filament.
    pub fn change(&mut self) {
        self.planner.stand();
        self.changes = self.changes.saturating_add(1);
    }

    /// What it all comes to.
    pub fn finish(self) -> Figures {
        Figures {
            filament: Millimetres(self.ledgers.iter().map(|ledger| ledger.most).sum()),
            time: Seconds(self.planner.finish()),
            laid: self.laid.map(|reach| reach.map(|end| end.map(Millimetres))),
            layers: self.heights.len() as u32, // at most MOST_HEIGHTS and one
            changes: self.changes,
            moves: self.moves,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tally(moves: &[([f64; 3], f64)]) -> Tally {
        let mut tally = Tally::new(Kinematics::USUAL);
        let mut at = [0.0; 3];
        for &(to, filament) in moves {
            tally.take(&Move::line(at, to, filament, 50.0)).unwrap();
            at = to;
        }
        tally
    }

    #[test]
    fn what_is_drawn_back_and_pressed_again_counts_once() {
        // 5 mm laid, 1 back, 1 again, 3 laid, 2 back at the end: 8 mm went in.
        let figures = tally(&[
            ([10.0, 0.0, 0.2], 5.0),
            ([10.0, 0.0, 0.2], -1.0),
            ([20.0, 0.0, 0.2], 0.0),
            ([20.0, 0.0, 0.2], 1.0),
            ([30.0, 0.0, 0.2], 3.0),
            ([30.0, 0.0, 0.2], -2.0),
        ])
        .finish();
        assert_eq!(figures.filament, Millimetres(8.0));
    }

    #[test]
    fn the_box_and_the_layers_are_those_of_what_is_laid() {
        // Laid: at 0.2 from x 10 to 20, at 0.4 from y 0 to 5. The way there, and the way up, lay nothing.
        let figures = tally(&[
            ([10.0, 0.0, 0.2], 0.0),
            ([20.0, 0.0, 0.2], 1.0),
            ([20.0, 0.0, 0.4], 0.0),
            ([20.0, 5.0, 0.4], 1.0),
            ([90.0, 90.0, 90.0], 0.0),
        ])
        .finish();
        let [low, high] = figures.laid.unwrap();
        assert_eq!(low, [10.0, 0.0, 0.2].map(Millimetres));
        assert_eq!(high, [20.0, 5.0, 0.4].map(Millimetres));
        assert_eq!(figures.layers, 2);
        assert_eq!(figures.moves, 5);
    }

    #[test]
    fn a_tool_is_a_change_when_it_lays_and_not_when_it_is_only_taken() {
        let mut tally = tally(&[([10.0, 0.0, 0.2], 1.0)]);
        let lay = |tally: &mut Tally| {
            let step = Move::line([0.0, 0.0, 0.2], [5.0, 0.0, 0.2], 1.0, 50.0);
            tally.take(&step).unwrap();
        };
        tally.take_tool(1).unwrap();
        tally.take_tool(0).unwrap();
        lay(&mut tally);
        assert_eq!(tally.clone().finish().changes, 0);
        tally.take_tool(1).unwrap();
        lay(&mut tally);
        lay(&mut tally);
        tally.take_tool(0).unwrap();
        lay(&mut tally);
        tally.change();
        assert_eq!(tally.finish().changes, 3);
    }

    #[test]
    fn each_tool_draws_back_its_own_filament() {
        // Tool 0 lays 5 and draws 2 back; tool 1 lays 4; tool 0 presses its 2 and lays 1: 6 + 4 = 10.
        let mut tally = tally(&[([10.0, 0.0, 0.2], 5.0), ([10.0, 0.0, 0.2], -2.0)]);
        let press = |tally: &mut Tally, filament| {
            let step = Move::line([0.0, 0.0, 0.2], [5.0, 0.0, 0.2], filament, 50.0);
            tally.take(&step).unwrap();
        };
        tally.take_tool(1).unwrap();
        press(&mut tally, 4.0);
        tally.take_tool(0).unwrap();
        press(&mut tally, 3.0);
        assert_eq!(tally.finish().filament, Millimetres(10.0));
    }

    #[test]
    fn tools_and_heights_are_told_apart_only_so_far() {
        let mut many = Tally::new(Kinematics::USUAL);
        let taken = (0..MOST_TOOLS as u32 + 1).map(|tool| many.take_tool(tool));
        assert_eq!(taken.last(), Some(Err(TooMany::Tools)));
        let mut high = Tally::new(Kinematics::USUAL);
        let laid = (0..=MOST_HEIGHTS).map(|layer| {
            let z = layer as f64 * 0.01;
            high.take(&Move::line([0.0, 0.0, z], [1.0, 0.0, z], 0.1, 50.0))
        });
        assert_eq!(laid.last(), Some(Err(TooMany::Heights)));
    }

    #[test]
    fn volume_is_length_times_the_filaments_section() {
        // π · 1.75² / 4 = 2.405282 mm²; 2.85 → 6.379397; 3.00 → 7.068583. Plane geometry.
        let figures = tally(&[([10.0, 0.0, 0.2], 1000.0)]).finish();
        for (diameter, section) in [(1.75, 2.405282), (2.85, 6.379397), (3.0, 7.068583)] {
            let volume = figures.volume(Millimetres(diameter)).value();
            assert!((volume - 1000.0 * section).abs() < 1e-3, "{diameter}");
        }
    }
}
