//! The terminal: two streams, their width and colour, and a sign of life while something takes long.
//!
//! Knows: standard output and error, `NO_COLOR`. Must not know: commands.
//! Promises: escape sequences and signs of life only on a terminal, and no escape sequences but the program's own on standard error; a closed pipe is no error; nothing panics on a full disk.

use std::io::{self, ErrorKind, IsTerminal, Write};
use std::time::Duration;

use anstream::{AutoStream, ColorChoice};
use indicatif::{ProgressBar, ProgressStyle};
use terminal_size::Width;

use crate::report::{self, Look};

/// Columns of what is not written to a terminal: fits paper and mail.
const PAPER: u16 = 80;

/// Wider than this a line is hard to follow back.
const WIDEST: u16 = 140;

/// Why a command ends before its end.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Stop {
    /// Whoever read the output has gone (`| head`); nothing is wrong.
    NobodyReads,
    /// It cannot be done; the reason, for the user. What it names may be anybody's text.
    Failed(String),
    /// The scenario is wrong; the complaints, which may be coloured.
    Wrong(String),
}

/// Where a command writes.
pub struct Screen<'a> {
    out: &'a mut dyn Write,
    notes: &'a mut dyn Write,
    look: Look,
    colour_notes: bool,
    live: bool,
}

impl<'a> Screen<'a> {
    /// The program's own streams: colour where the terminal and the user want it, as wide as the terminal.
    pub fn standard(out: &'a mut io::Stdout, notes: &'a mut io::Stderr) -> Self {
        let colour = AutoStream::choice(out) != ColorChoice::Never;
        let colour_notes = AutoStream::choice(notes) != ColorChoice::Never;
        let live = notes.is_terminal();
        let width = terminal_size::terminal_size_of(&*out).map(|(Width(columns), _)| columns);
        Self {
            look: Look {
                width: width.unwrap_or(PAPER).min(WIDEST),
                colour,
                all: false,
            },
            out,
            notes,
            colour_notes,
            live,
        }
    }

    /// How text on standard output is to look.
    pub fn look(&self) -> Look {
        self.look
    }

    /// Whether standard error takes colour.
    pub(super) fn colour_notes(&self) -> bool {
        self.colour_notes
    }

    /// Writes to standard output.
    pub(super) fn print(&mut self, text: &str) -> Result<(), Stop> {
        let written = self
            .out
            .write_all(text.as_bytes())
            .and_then(|()| self.out.flush());
        written.map_err(|error| match error.kind() {
            ErrorKind::BrokenPipe => Stop::NobodyReads,
            _ => Stop::Failed(format!("the output cannot be written: {error}")),
        })
    }

    /// Writes to standard error. If that fails there is nowhere left to say so.
    pub(super) fn note(&mut self, text: &str) {
        self.write_note(&report::plain(text));
    }

    /// Writes to standard error what may be coloured.
    pub(super) fn note_coloured(&mut self, text: &str) {
        self.write_note(&report::coloured(text));
    }

    fn write_note(&mut self, text: &str) {
        let _ = self.notes.write_all(text.as_bytes());
        let _ = self.notes.flush();
    }

    /// A line on standard error that says what takes long, gone when it is cleared; hidden where nobody watches.
    pub(super) fn spinner(&self, doing: &'static str) -> ProgressBar {
        if !self.live {
            return ProgressBar::hidden();
        }
        let style = ProgressStyle::with_template("{spinner} {msg} ({elapsed})")
            .expect("the template names no unknown key and has no open brace");
        let spinner = ProgressBar::new_spinner().with_style(style);
        spinner.set_message(doing);
        spinner.enable_steady_tick(Duration::from_millis(200));
        spinner
    }
}
