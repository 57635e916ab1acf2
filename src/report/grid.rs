//! Columns of text that keep within a width, and the headings above them.
//!
//! Knows: how wide text is on a terminal, where a line may break. Must not know: plans, scenarios.
//! Promises: no line is wider than [`Look`] allows, whatever is in the cells; control and direction characters never
//! reach the terminal; without colour the text says the same.

use comfy_table::{
    Attribute, Cell, CellAlignment, Color, ColumnConstraint, ContentArrangement, Table, Width,
};

use super::Look;

/// Keeps two words on one line: a space that is no place to break, and an ordinary space when it is written.
pub(super) const TIE: char = '\u{a0}';

/// Blank columns between two columns of a grid.
pub(super) const GUTTER: u16 = 2;

/// The last column of a grid is not narrower, if it has as much to say, even where the others' caps would leave less.
const NARROWEST_REST: u16 = 16;

/// What a cell means, which colour may underline.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Tone {
    /// Nothing special.
    #[default]
    Plain,
    /// A name to find again.
    Strong,
    /// Of less importance.
    Quiet,
    /// Goes on with nobody there.
    Alone,
    /// Needs a look.
    Mark,
}

impl Tone {
    fn paint(self, cell: Cell) -> Cell {
        match self {
            Tone::Plain => cell,
            Tone::Strong => cell.add_attribute(Attribute::Bold),
            Tone::Quiet => cell.add_attribute(Attribute::Dim),
            Tone::Alone => cell.fg(Color::Cyan),
            Tone::Mark => cell.fg(Color::Yellow).add_attribute(Attribute::Bold),
        }
    }
}

/// The text of one cell: lines, each broken further where its column is too narrow.
#[derive(Clone, Debug, Default)]
pub(super) struct Text {
    lines: Vec<String>,
    tone: Tone,
}

impl Text {
    /// A cell of several lines; empty ones are left out.
    pub(super) fn lines(lines: impl IntoIterator<Item = String>) -> Self {
        Self {
            lines: lines.into_iter().filter(|line| !line.is_empty()).collect(),
            tone: Tone::Plain,
        }
    }

    /// The same text with a meaning.
    pub(super) fn tone(mut self, tone: Tone) -> Self {
        self.tone = tone;
        self
    }

    /// Columns that its widest line would fill.
    pub(super) fn width(&self) -> u16 {
        let widest = self.lines.iter().map(|line| width_of(&clean(line))).max();
        u16::try_from(widest.unwrap_or(0)).unwrap_or(u16::MAX)
    }

    fn cell(&self) -> Cell {
        let lines: Vec<String> = self.lines.iter().map(|line| clean(line)).collect();
        self.tone.paint(Cell::new(lines.join("\n")))
    }
}

impl<T: Into<String>> From<T> for Text {
    fn from(line: T) -> Self {
        Self::lines([line.into()])
    }
}

/// How wide a column may grow. It takes no more than its content needs.
#[derive(Clone, Copy, Debug)]
pub(super) enum Fit {
    /// At most so many columns, text to the left.
    Upto(u16),
    /// At most so many columns, numbers to the right.
    Number(u16),
}

impl Fit {
    fn cap(self) -> u16 {
        match self {
            Fit::Upto(cap) | Fit::Number(cap) => cap,
        }
    }
}

/// Rows of text in columns; the last column takes what the others leave.
pub(super) struct Grid {
    fits: Vec<Fit>,
    table: Table,
}

impl Grid {
    /// Columns with these widths, and one more for the rest of the line.
    pub(super) fn new(fits: impl IntoIterator<Item = Fit>) -> Self {
        let mut table = Table::new();
        table
            .force_no_tty()
            .set_content_arrangement(ContentArrangement::Disabled)
            .load_style(comfy_table::presets::NOTHING);
        Self {
            fits: fits.into_iter().collect(),
            table,
        }
    }

    /// Names of the columns.
    pub(super) fn head<'a>(&mut self, names: impl IntoIterator<Item = &'a str>) {
        let cells: Vec<Cell> = names
            .into_iter()
            .map(|name| Text::from(name).tone(Tone::Quiet).cell())
            .collect();
        self.table.set_header(cells);
    }

    /// One row.
    pub(super) fn row(&mut self, cells: impl IntoIterator<Item = Text>) {
        let cells: Vec<Cell> = cells.into_iter().map(|text| text.cell()).collect();
        self.table.add_row(cells);
    }

    /// Whether it has no row yet.
    pub(super) fn is_empty(&self) -> bool {
        self.table.is_empty()
    }

    /// The text, each line set in by `indent`, ending with a line break; nothing if there is no row.
    pub(super) fn render(self, look: &Look, indent: u16) -> String {
        let widths = self.widths(look, indent);
        self.render_in(&widths, look, indent)
    }

    /// As [`Grid::render`], in columns as wide as those of another grid.
    pub(super) fn render_in(mut self, widths: &[u16], look: &Look, indent: u16) -> String {
        if self.is_empty() {
            return String::new();
        }
        if look.colour {
            self.table.enforce_styling();
        }
        for (index, column) in self.table.column_iter_mut().enumerate() {
            let before = if index == 0 { indent } else { 0 };
            let after = if index + 1 == widths.len() { 0 } else { GUTTER };
            let width = widths.get(index).copied().unwrap_or(1);
            column.set_padding((before, after));
            column.set_constraint(ColumnConstraint::Absolute(Width::Fixed(
                width + before + after,
            )));
            if matches!(self.fits.get(index), Some(Fit::Number(_))) {
                column.set_cell_alignment(CellAlignment::Right);
            }
        }
        let mut text = self.table.trim_fmt().replace(TIE, " ");
        text.push('\n');
        text
    }

    /// How wide each column is to be: what it needs up to its cap, and the last what is left. Where less is left than
    /// the last needs to be read, the widest of the others give way.
    pub(super) fn widths(&self, look: &Look, indent: u16) -> Vec<u16> {
        let mut widths = self.table.column_max_content_widths();
        let Some(needed) = widths.pop() else {
            return widths;
        };
        for (width, fit) in widths.iter_mut().zip(&self.fits) {
            *width = (*width).min(fit.cap()).max(1);
        }
        let room = look.columns().saturating_sub(indent);
        let least = needed.min(NARROWEST_REST);
        let left = loop {
            let taken: u16 = widths.iter().map(|width| width + GUTTER).sum();
            if taken + least <= room {
                break room - taken;
            }
            match widths.iter_mut().max() {
                Some(widest) if *widest > 1 => *widest -= 1,
                _ => break least,
            }
        };
        widths.push(needed.min(left).max(1));
        widths
    }
}

/// A paragraph, broken at the width.
pub(super) fn paragraph(look: &Look, indent: u16, text: impl Into<Text>) -> String {
    let mut grid = Grid::new([]);
    grid.row([text.into()]);
    grid.render(look, indent)
}

/// A heading with a rule after it, and a blank line before.
pub(super) fn heading(look: &Look, title: &str) -> String {
    let width = usize::from(look.columns());
    let mut line = format!("── {} ", clean(title));
    let filled = width_of(&line);
    line.extend(std::iter::repeat_n('─', width.saturating_sub(filled)));
    format!(
        "\n{}",
        paragraph(look, 0, Text::from(line).tone(Tone::Strong))
    )
}

/// Columns that a text fills on a terminal.
pub(super) fn width_of(text: &str) -> usize {
    unicode_width::UnicodeWidthStr::width(text)
}

/// A user's text without what moves the cursor or turns the reading direction: each such character shows as `\u{fffd}`.
pub(super) fn clean(text: &str) -> String {
    clean_but(text, &[])
}

/// The same with these characters left in.
fn clean_but(text: &str, but: &[char]) -> String {
    let unruly = |c: char| {
        c.is_control()
            || matches!(c, '\u{200e}' | '\u{200f}' | '\u{2028}' | '\u{2029}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{feff}')
    };
    text.chars()
        .map(|c| {
            if unruly(c) && !but.contains(&c) {
                '\u{fffd}'
            } else {
                c
            }
        })
        .collect()
}

/// Lines for the terminal without what else could drive it, whatever was put into them.
pub fn plain(lines: &str) -> String {
    clean_but(lines, &['\n'])
}

/// The same of lines that were coloured by this program after what is the user's had been cleaned.
pub fn coloured(lines: &str) -> String {
    clean_but(lines, &['\n', '\t', '\u{1b}'])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn widest(text: &str) -> usize {
        text.lines().map(width_of).max().unwrap_or(0)
    }

    #[test]
    fn the_last_column_takes_what_is_left_and_no_line_is_wider() {
        let mut grid = Grid::new([Fit::Upto(8)]);
        grid.row([Text::from("belt"), Text::from("word ".repeat(40))]);
        let text = grid.render(&Look::plain(60), 2);
        // 2 blank + `belt` + 2 blank leave 52 columns: ten words of four letters and nine blanks fill 49, an eleventh
        // would need 54.
        assert_eq!(widest(&text), 57);
    }

    #[test]
    fn a_word_longer_than_its_column_is_broken() {
        let mut grid = Grid::new([Fit::Upto(8)]);
        grid.row([Text::from("x".repeat(20)), Text::from("end")]);
        let text = grid.render(&Look::plain(60), 0);
        assert_eq!(text, "xxxxxxxx  end\nxxxxxxxx\nxxxx\n");
    }

    #[test]
    fn tied_words_stay_on_one_line() {
        let mut grid = Grid::new([]);
        grid.row([Text::from(format!("{} 8×{TIE}chord", "x".repeat(54)))]);
        let text = grid.render(&Look::plain(60), 0);
        assert_eq!(text, format!("{}\n8× chord\n", "x".repeat(54)));
    }

    #[test]
    fn wide_characters_count_twice() {
        let mut grid = Grid::new([Fit::Upto(6)]);
        grid.row([Text::from("起重機臂架"), Text::from("end")]);
        let text = grid.render(&Look::plain(60), 0);
        assert_eq!(text, "起重機  end\n臂架\n");
    }

    #[test]
    fn control_and_direction_characters_do_not_reach_the_terminal() {
        let text = paragraph(&Look::plain(60), 0, "a\x1b[2Jb\u{202e}c\nd");
        assert_eq!(text, "a\u{fffd}[2Jb\u{fffd}c\u{fffd}d\n");
    }

    #[test]
    fn colour_adds_to_the_text_and_changes_none_of_it() {
        let paint = |colour| {
            let mut grid = Grid::new([Fit::Upto(8)]);
            grid.row([Text::from("late").tone(Tone::Mark), Text::from("end")]);
            let look = Look {
                colour,
                ..Look::plain(60)
            };
            grid.render(&look, 0)
        };
        assert_eq!(paint(false), "late  end\n");
        assert!(paint(true).contains("\x1b["));
        assert!(paint(true).contains("late"));
    }
}
