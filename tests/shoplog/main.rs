//! The log on a disk: what is acknowledged stays, what is no log is left alone, what the bench types is understood.

mod again;
mod bench;
mod calendar;
mod changed;
mod command;
mod disk;
mod files;
mod killed;
mod odd;
mod programs;
