//! Where the head goes: zero points, lines, arcs.
//!
//! Knows: absolute and relative places, units, planes. Must not know: other commands.
//! Promises: no place is further from zero than [`FURTHEST`], whatever is written.

use super::{
    Block, FURTHEST, LONGEST_FILAMENT, Line, Motion, Program, USUAL_SPEED, shown, too_many,
};
use crate::scenario::gcode::Fault;
use crate::toolpath::{Arc, Move, NoArc};

impl Program {
    /// The axes named, or all, are at their zero; the time is the machine's secret.
    pub(super) fn home(&mut self, block: &Block) {
        let all = !b"XYZ".iter().any(|&letter| block.has(letter));
        for (axis, &letter) in b"XYZ".iter().enumerate() {
            if all || block.has(letter) {
                self.at[axis] = 0.0;
                self.zero[axis] = 0.0;
            }
        }
        self.tally.stand();
    }

    /// G92: the place where the head is gets other numbers.
    pub(super) fn set(&mut self, line: &Line, block: &Block) -> Result<(), Fault> {
        let all = !b"XYZE".iter().any(|&letter| block.has(letter));
        for (axis, &letter) in b"XYZ".iter().enumerate() {
            if all || block.has(letter) {
                let number = block.number(letter).unwrap_or(0.0) * self.unit;
                within(line, letter, number, FURTHEST)?;
                self.zero[axis] = self.at[axis] - number;
            }
        }
        if all || block.has(b'E') {
            let number = block.number(b'E').unwrap_or(0.0) * self.unit;
            within(line, b'E', number, LONGEST_FILAMENT)?;
            self.pressed = number;
        }
        Ok(())
    }

    pub(super) fn step(&mut self, line: &Line, block: &Block, motion: Motion) -> Result<(), Fault> {
        self.motion = Some(motion);
        if let Some(&letter) = b"ABCUVW".iter().find(|&&letter| block.has(letter)) {
            return Err(line.fault(
                "only X, Y, Z and E are measured",
                (letter as char).to_string(),
                "give a program for three axes",
            ));
        }
        let mut to = self.at;
        for (axis, &letter) in b"XYZ".iter().enumerate() {
            if !block.has(letter) {
                continue;
            }
            let number = self.written(line, block, letter)? * self.unit;
            to[axis] = if self.relative {
                self.at[axis] + number
            } else {
                self.zero[axis] + number
            };
            within(line, letter, to[axis], FURTHEST)?;
        }
        let mut filament = 0.0;
        if block.has(b'E') {
            let number = self.written(line, block, b'E')? * self.unit;
            let relative = self.relative_e.contains(&true);
            let pressed = if relative {
                self.pressed + number
            } else {
                number
            };
            within(line, b'E', pressed, LONGEST_FILAMENT)?;
            filament = (if relative {
                number
            } else {
                number - self.pressed
            }) * self.flow_share;
            self.pressed = pressed;
        }
        let speed = self.speed.unwrap_or(USUAL_SPEED) * self.speed_share;
        let step = match motion {
            Motion::Line => Move::line(self.at, to, filament, speed),
            Motion::Arc { clockwise } => {
                let arc = self.arc(line, block, to, clockwise)?;
                Move::arc(&arc, filament, speed)
            }
        };
        self.at = to;
        self.moved = true;
        self.tally.take(&step).map_err(|many| too_many(line, many))
    }

    fn written(&self, line: &Line, block: &Block, letter: u8) -> Result<f64, Fault> {
        let letter_shown = letter as char;
        block.number(letter).ok_or_else(|| {
            line.fault(
                format!("`{letter_shown}` has no number"),
                letter_shown.to_string(),
                format!("write for example `{letter_shown}10.5`"),
            )
        })
    }

    fn arc(&self, line: &Line, block: &Block, to: [f64; 3], clockwise: bool) -> Result<Arc, Fault> {
        if block.number(b'P').is_some_and(|turns| turns > 1.0) {
            return Err(line.fault(
                "an arc of several turns is not measured",
                "P",
                "write one arc for each turn",
            ));
        }
        let letters = self.plane.map(|axis| b"IJK"[axis]); // axes are 0 to 2
        let offset =
            [letters[0], letters[1]].map(|letter| block.number(letter).unwrap_or(0.0) * self.unit);
        for (letter, number) in letters.iter().zip(offset) {
            within(line, *letter, number, FURTHEST)?;
        }
        let arc = match block.number(b'R') {
            Some(radius) => {
                within(line, b'R', radius * self.unit, FURTHEST)?;
                Arc::of_radius(self.plane, self.at, to, radius * self.unit, clockwise)
            }
            None => Arc::about(self.plane, self.at, to, offset, clockwise),
        };
        arc.map_err(|no| {
            let (rule, fix) = match no {
                NoArc::NoRadius => (
                    "an arc has no centre: I, J and R are missing or 0".to_owned(),
                    "write where the centre is from the beginning, such as `I5 J0`, or `R5`".to_owned(),
                ),
                NoArc::Lopsided(first, last) => (
                    format!(
                        "the centre of an arc is {first:.3} mm from its beginning and {last:.3} mm from its end"
                    ),
                    "I and J count from the beginning of the arc; see that both distances are the same".to_owned(),
                ),
                NoArc::TooFar(apart) => (
                    format!("the ends of an arc are {apart:.3} mm apart, more than two radii"),
                    format!("write at least R{:.3}", apart / 2.0),
                ),
                NoArc::AnyCircle => (
                    "an arc with R ends where it begins, so any circle would do".to_owned(),
                    "write I and J for a full circle".to_owned(),
                ),
            };
            line.fault(rule, shown(line.text), fix)
        })
    }
}

fn within(line: &Line, letter: u8, number: f64, most: f64) -> Result<(), Fault> {
    if number.abs() <= most {
        return Ok(());
    }
    let letter = letter as char;
    Err(line.fault(
        format!("{letter} is at most {most} mm from zero"),
        format!("{number} mm"),
        "see whether a decimal point is missing, and whether G20 (inches) is meant",
    ))
}
