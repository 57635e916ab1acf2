//! Obeys the words of a program, line by line.
//!
//! Knows: what the words mean: units, absolute and relative, zero points, arcs. Must not know: bytes, how long a move takes.
//! Promises: what could move something and is not understood is an error, or is told.
//!
//! G0 to G4, G17 to G21, G28, G90 to G92 and T are words of ISO 6983; E, M82, M83, M104, M109, M140, M190, M204, M220,
//! M221 and M600 are what printing has added (common practice, no source).

mod moves;

use super::lines::{Line, shown};
use super::words::Words;
use super::{Fault, Measured};
use crate::toolpath::{Kinematics, MOST_HEIGHTS, MOST_TOOLS, Tally, TooMany};

/// Furthest from zero, mm, for an axis.
const FURTHEST: f64 = 1e5;
/// Most filament in one number, mm: 10 km.
const LONGEST_FILAMENT: f64 = 1e7;
/// Fastest and slowest, mm/min.
const FASTEST: f64 = 1e6;
const SLOWEST: f64 = 1e-3;
/// Longest wait, s: four weeks.
const LONGEST_WAIT: f64 = 28.0 * 86_400.0;
/// Where no F has been written yet, mm/s (common practice, no source).
const USUAL_SPEED: f64 = 25.0;
/// Accelerations that a program may ask for, mm/s².
const ACCELERATIONS: std::ops::RangeInclusive<f64> = 1.0..=1e6;
/// More different commands than this are not listed.
const MOST_LISTED: usize = 20;

/// Commands that move nothing and take no time: motors, fans, heat, lights, texts, progress.
const QUIET_M: [u32; 21] = [
    0, 1, 2, 6, 17, 18, 30, 73, 84, 104, 105, 106, 107, 110, 115, 117, 118, 140, 141, 150, 300,
];
/// Likewise: drawing filament back and forth, compensation off, planes' bed levels kept, units per minute.
const QUIET_G: [u32; 8] = [100, 110, 400, 490, 540, 800, 940, 911];

/// The state of a machine that obeys.
#[derive(Clone, Debug)]
pub struct Program {
    tally: Tally,
    /// Where the head is, mm, and where zero of the program is.
    at: [f64; 3],
    zero: [f64; 3],
    /// Filament, mm, as the program counts it.
    pressed: f64,
    /// mm in one unit.
    unit: f64,
    relative: bool,
    /// E is relative by G91, or by M83.
    relative_e: [bool; 2],
    /// mm/s; `None`: no F yet.
    speed: Option<f64>,
    /// Shares of speed and of filament that M220 and M221 set.
    speed_share: f64,
    flow_share: f64,
    /// Axes of the plane of arcs, and the third.
    plane: [usize; 3],
    motion: Option<Motion>,
    heatings: u64,
    not_counted: Vec<(String, u64)>,
    moved: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Motion {
    Line,
    Arc { clockwise: bool },
}

/// What the words of one line ask for, apart from what takes effect at once.
struct Block {
    /// By letter.
    numbers: [Option<f64>; 26],
    /// A bit for each letter that is written, with a number or without.
    written: u32,
    motion: Option<Motion>,
    wait: bool,
    home: bool,
    set: bool,
    /// It ends in a command whose words are not read, or in a text.
    text: bool,
    /// M204, M220, M221, M6, M600.
    order: Option<u32>,
    tool: Option<f64>,
}

impl Block {
    fn number(&self, letter: u8) -> Option<f64> {
        self.numbers[usize::from(letter - b'A')] // letters are `A` to `Z`
    }

    fn has(&self, letter: u8) -> bool {
        self.written & (1 << (letter - b'A')) != 0
    }
}

impl Program {
    /// A machine with tool 0 in hand and everything at zero.
    pub fn new(kinematics: Kinematics) -> Self {
        Self {
            tally: Tally::new(kinematics),
            at: [0.0; 3],
            zero: [0.0; 3],
            pressed: 0.0,
            unit: 1.0,
            relative: false,
            relative_e: [false; 2],
            speed: None,
            speed_share: 1.0,
            flow_share: 1.0,
            plane: [0, 1, 2],
            motion: None,
            heatings: 0,
            not_counted: Vec::new(),
            moved: false,
        }
    }

    /// Obeys one line.
    pub(super) fn line(&mut self, line: &Line) -> Result<(), Fault> {
        let mut words = Words::new(line);
        if let Some(name) = words.name() {
            self.leave_out(&shown(name));
            return Ok(());
        }
        let Some(block) = self.block(line, &mut words)? else {
            return Ok(());
        };
        // Of a text for a display anything may be left open; where words count, a bracket may hide some.
        if line.open && !block.text {
            return Err(line.fault(
                "a comment is opened by `(` and not closed on its line",
                "",
                "close it by `)`",
            ));
        }
        if let Some(order) = block.order {
            self.order(line, order, &block)?;
        }
        if let Some(tool) = block.tool {
            self.take_tool(line, tool)?;
        }
        if let Some(feed) = block.number(b'F') {
            self.feed(line, feed)?;
        }
        if block.wait {
            return self.wait(line, &block);
        }
        if block.home {
            self.home(&block);
            return Ok(());
        }
        if block.set {
            return self.set(line, &block);
        }
        let moves = b"XYZE".iter().any(|&letter| block.has(letter));
        match block.motion.or(self.motion) {
            Some(motion @ Motion::Arc { .. }) if moves || block.has(b'I') || block.has(b'J') => {
                self.step(line, &block, motion)
            }
            Some(Motion::Line) if moves => self.step(line, &block, Motion::Line),
            None if moves && block.order.is_none() => Err(line.fault(
                "a place is given and no move asked for",
                shown(line.text),
                "begin the line with `G0` or `G1`",
            )),
            _ => Ok(()),
        }
    }

    /// What it all came to.
    pub(super) fn finish(self, lines: u64) -> Result<Measured, Fault> {
        if !self.moved {
            return Err(Fault {
                line: lines.max(1),
                text: String::new(),
                rule: "the file ends, and no line of it has moved anything".to_owned(),
                found: String::new(),
                fix: "give a G-code file, with lines such as `G1 X10 Y20 E0.4 F1800`".to_owned(),
            });
        }
        Ok(Measured {
            figures: self.tally.finish(),
            lines,
            heatings: self.heatings,
            not_counted: self.not_counted,
        })
    }

    /// Notes a command that is not obeyed.
    fn leave_out(&mut self, name: &str) {
        let name: String = name.chars().take(24).collect();
        let known = self
            .not_counted
            .iter()
            .position(|(known, _)| *known == name);
        match known {
            Some(at) => self.not_counted[at].1 += 1,
            None if self.not_counted.len() < MOST_LISTED => self.not_counted.push((name, 1)),
            None => {}
        }
    }

    /// Reads the words of a line; what sets a state takes effect. `None`: nothing is left to do.
    fn block(&mut self, line: &Line, words: &mut Words) -> Result<Option<Block>, Fault> {
        let mut block = Block {
            numbers: [None; 26],
            written: 0,
            motion: None,
            wait: false,
            home: false,
            set: false,
            text: false,
            order: None,
            tool: None,
        };
        let mut first = true;
        let mut any = false;
        while let Some(word) = words.next()? {
            let begins = std::mem::replace(&mut first, false);
            match (word.letter, word.number) {
                // The number of the line.
                (b'N', Some(_)) if begins => {
                    first = true;
                    continue;
                }
                (b'G', Some(code)) => {
                    any = true;
                    if !self.preparatory(line, code, &mut block)? {
                        return Ok(None);
                    }
                }
                (b'M', Some(code)) => {
                    any = true;
                    if !self.miscellaneous(code, &mut block) {
                        // What follows belongs to a command that is left out, and may be any text.
                        block.text = true;
                        break;
                    }
                }
                (b'T', Some(tool)) if !matches!(block.order, Some(204 | 220 | 221)) => {
                    any = true;
                    block.tool = Some(tool);
                }
                (letter @ (b'G' | b'M' | b'T'), None) => {
                    return Err(line.fault(
                        format!("`{}` has no number", letter as char),
                        (letter as char).to_string(),
                        "write for example `G1`, `M83` or `T0`",
                    ));
                }
                (letter, number) => {
                    any = true;
                    let bit = 1 << (letter - b'A');
                    if block.written & bit != 0 {
                        return Err(line.fault(
                            format!("`{}` is written twice", letter as char),
                            shown(&line.text[..word.end]), // a word ends within its line
                            "keep one of the two",
                        ));
                    }
                    block.written |= bit;
                    block.numbers[usize::from(letter - b'A')] = number;
                }
            }
        }
        Ok(any.then_some(block))
    }

    /// A G word; false: the rest of the line belongs to a command that is left out.
    fn preparatory(&mut self, line: &Line, code: f64, block: &mut Block) -> Result<bool, Fault> {
        // In tenths: G92.1 is 921.
        let tenths = (code * 10.0).round();
        let known = if (tenths - code * 10.0).abs() < 1e-6 && (0.0..10_000.0).contains(&tenths) {
            tenths as u32 // within its range
        } else {
            u32::MAX
        };
        match known {
            0 | 10 => block.motion = Some(Motion::Line),
            20 => block.motion = Some(Motion::Arc { clockwise: true }),
            30 => block.motion = Some(Motion::Arc { clockwise: false }),
            40 => block.wait = true,
            170 => self.plane = [0, 1, 2],
            180 => self.plane = [2, 0, 1],
            190 => self.plane = [1, 2, 0],
            200 => self.unit = 25.4,
            210 => self.unit = 1.0,
            280 => block.home = true,
            900 | 910 => {
                self.relative = known == 910;
                self.relative_e[0] = self.relative;
            }
            920 => block.set = true,
            50 | 51 | 60 | 930 | 950 => {
                let name = format!("G{code}");
                let rule = format!("{name} is a kind of move that is not measured");
                let fix =
                    "write the path in lines (G0, G1) and arcs (G2, G3), speeds in units a minute";
                return Err(line.fault(rule, name, fix));
            }
            _ => {
                if !QUIET_G.contains(&known) {
                    self.leave_out(&format!("G{code}"));
                }
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// An M word; false: the rest of the line belongs to it and is not read.
    fn miscellaneous(&mut self, code: f64, block: &mut Block) -> bool {
        let whole = (0.0..10_000.0).contains(&code) && code.fract() == 0.0;
        let known = if whole { code as u32 } else { u32::MAX };
        match known {
            82 => self.relative_e = [false; 2],
            83 => self.relative_e[1] = true,
            6 | 200 | 204 | 220 | 221 | 600 => block.order = Some(known),
            109 | 116 | 190 | 191 => {
                self.heatings = self.heatings.saturating_add(1);
                return false;
            }
            _ if QUIET_M.contains(&known) => return false,
            _ => {
                self.leave_out(&format!("M{code}"));
                return false;
            }
        }
        true
    }

    fn order(&mut self, line: &Line, order: u32, block: &Block) -> Result<(), Fault> {
        match order {
            // S for all, or P for what prints: most of the time is that.
            204 => {
                if let Some(asked) = block.number(b'S').or(block.number(b'P')) {
                    let asked = asked * self.unit;
                    if !ACCELERATIONS.contains(&asked) {
                        return Err(line.fault(
                            "an acceleration is 1 to 1000000 mm/s²",
                            format!("{asked}"),
                            "write for example `M204 S1000`",
                        ));
                    }
                    self.tally.accelerate_by(asked);
                }
            }
            220 | 221 => {
                if let Some(percent) = block.number(b'S') {
                    if !(1.0..=1000.0).contains(&percent) {
                        return Err(line.fault(
                            "a share is 1 to 1000 percent",
                            format!("{percent}"),
                            format!("write for example `M{order} S100`"),
                        ));
                    }
                    let share = percent / 100.0;
                    if order == 220 {
                        self.speed_share = share;
                    } else {
                        self.flow_share = share;
                    }
                }
            }
            200 if block.number(b'D').is_some_and(|diameter| diameter > 0.0) => {
                return Err(line.fault(
                    "E counts cubic millimetres from here on, which is not measured",
                    "M200",
                    "let E count mm of filament: leave M200 out, or write `M200 D0`",
                ));
            }
            600 => self.tally.change(),
            _ => {}
        }
        Ok(())
    }

    fn take_tool(&mut self, line: &Line, tool: f64) -> Result<(), Fault> {
        // T-1 lays the tool down.
        if tool == -1.0 {
            return Ok(());
        }
        if !(0.0..=65_535.0).contains(&tool) || tool.fract() != 0.0 {
            return Err(line.fault(
                "a tool is a whole number, 0 to 65535",
                format!("T{tool}"),
                "write for example `T0`",
            ));
        }
        // A whole number within range.
        self.tally
            .take_tool(tool as u32)
            .map_err(|many| too_many(line, many))
    }

    fn feed(&mut self, line: &Line, feed: f64) -> Result<(), Fault> {
        let speed = feed * self.unit;
        if !(SLOWEST..=FASTEST).contains(&speed) {
            return Err(line.fault(
                format!("a speed is above 0 and at most {FASTEST} mm/min"),
                format!("F{feed}"),
                "write for example `F1800` (mm a minute)",
            ));
        }
        self.speed = Some(speed / 60.0);
        Ok(())
    }

    fn wait(&mut self, line: &Line, block: &Block) -> Result<(), Fault> {
        let milliseconds = block.number(b'P').map(|wait| wait / 1000.0);
        let seconds = block.number(b'S').or(milliseconds).unwrap_or(0.0);
        if !(0.0..=LONGEST_WAIT).contains(&seconds) {
            return Err(line.fault(
                format!("a wait is 0 to {LONGEST_WAIT} s"),
                format!("{seconds} s"),
                "write for example `G4 S2` (seconds) or `G4 P500` (milliseconds)",
            ));
        }
        self.tally.wait(seconds);
        Ok(())
    }
}

fn too_many(line: &Line, many: TooMany) -> Fault {
    let rule = match many {
        TooMany::Heights => {
            format!("something is laid at more than {MOST_HEIGHTS} different heights")
        }
        TooMany::Tools => format!("there are more than {MOST_TOOLS} tools"),
    };
    line.fault(
        rule,
        shown(line.text),
        "see whether the file is one print for a filament machine",
    )
}
