//! Short forms for the bench: a machine stands for the run on it, a part for its pieces there.
//!
//! Knows: the state, how pieces are written. Must not know: the command line, files.
//! Promises: what comes out names runs, pieces and machines in full; what may mean several things is refused.

use std::collections::BTreeSet;

use super::event::{PieceId, Sample};
use super::known;
use super::rules::{Refusal, contents, refuse};
use super::state::{RunKey, State};

/// What short forms mean in a state.
pub struct Short<'a>(pub &'a State);

impl Short<'_> {
    /// The run that is started: by its name, or the next on a machine.
    ///
    /// # Errors
    /// If nothing is left to start on the machine.
    pub fn to_start(&self, written: &str) -> Result<String, Refusal> {
        let state = self.0;
        if state.current(written).is_some() || !state.machines.contains_key(written) {
            return Ok(written.to_owned());
        }
        if state.plan().is_none() {
            known::run(state, written)?;
        }
        let mut open = state.open_runs().into_iter();
        match open.find(|&key| state.planned(key).machine == written) {
            Some(next) => Ok(state.planned(next).id.clone()),
            None => refuse(
                format!("nothing is left to start on {written}"),
                "plan again with `--accept`, or name the run",
            ),
        }
    }

    /// The run that ends: by its name, or the one on a machine.
    ///
    /// # Errors
    /// If nothing is printing there.
    pub fn to_end(&self, written: &str) -> Result<String, Refusal> {
        let state = self.0;
        if let Some(&on) = state.running.get(written) {
            return Ok(state.planned(on).id.clone());
        }
        if state.running(written).is_some() || !state.machines.contains_key(written) {
            return Ok(written.to_owned());
        }
        refuse(
            format!("nothing is printing on {written}"),
            match self.to_start(written) {
                Ok(next) => format!(
                    "the next there is {next}: note `started {written}` first, with `--at` for when it was"
                ),
                Err(_) => "name the run".to_owned(),
            },
        )
    }

    /// The pieces of a run that are no good. `pin`: one of them; `pin=2`: two; `pin:3`: copy 3; `chord:1:2`: length 2 of copy 1.
    ///
    /// # Errors
    /// If the run has no such pieces, or not as many.
    pub fn pieces(&self, run: &str, written: &[String]) -> Result<Vec<PieceId>, Refusal> {
        let key = match self.0.running(run) {
            Some(key) => key,
            None => known::run(self.0, run)?,
        };
        let on: Vec<PieceId> = self.0.planned(key).pieces.iter().map(|p| p.id()).collect();
        chosen(&on, written, &format!("on {run}"), "on it are")
    }

    /// Good pieces that are in no assembly, as for [`Short::pieces`].
    ///
    /// # Errors
    /// If there are no such pieces, or not as many.
    pub fn good(&self, written: &[String]) -> Result<Vec<PieceId>, Refusal> {
        let state = self.0;
        let pieces = written.iter().flat_map(|list| list.split(','));
        for one in pieces {
            known::part(state, named(one.trim())?.part)?;
        }
        let free = state.made.iter().filter(|(_, printed)| {
            let assembly = printed.assembly.as_ref();
            !assembly.is_some_and(|id| state.assemblies.contains_key(id))
        });
        let free: Vec<PieceId> = free.map(|(piece, _)| piece.clone()).collect();
        chosen(&free, written, "good and in no assembly", "such are")
    }

    /// The pieces of a run that are no good where the good ones were named.
    ///
    /// # Errors
    /// As [`Short::pieces`].
    pub fn all_but(&self, run: &str, good: &[String]) -> Result<Vec<PieceId>, Refusal> {
        let key = match self.0.running(run) {
            Some(key) => key,
            None => known::run(self.0, run)?,
        };
        let good = self.pieces(run, good)?;
        let on = self.0.planned(key).pieces.iter().map(|piece| piece.id());
        Ok(on.filter(|piece| !good.contains(piece)).collect())
    }

    /// What was weighed: a run or the last on a machine, if there is but one kind of piece on it; or so many pieces of a part, or one that is
    /// named, where only one machine has made it or the machine is said.
    ///
    /// # Errors
    /// If it may mean several things, or what is said besides is not so.
    pub fn weighed(&self, written: &str, said: &Said) -> Result<Sample, Refusal> {
        if let Some(key) = self.measured_run(written) {
            return self.of_run(key, said);
        }
        let named = named(written)?;
        let state = self.0;
        known::part(state, named.part)?;
        if named.number.is_some() && said.pieces.is_some_and(|pieces| pieces > 1) {
            return refuse(
                format!("`{written}` is one piece"),
                format!("name the part for several: `{}`", named.part),
            );
        }
        // What was no good came off its machine, too.
        let kinds = state.came_off.keys();
        let kinds = kinds.filter(|(_, part, _)| part == named.part);
        let mut made: BTreeSet<(&str, u32)> = kinds.map(|(on, _, of)| (on.as_str(), *of)).collect();
        let pieces = state.made.iter().filter(|(piece, _)| named.is(piece));
        let there: BTreeSet<(&str, u32)> = pieces
            .map(|(piece, printed)| (printed.machine.as_str(), piece.of))
            .collect();
        if named.number.is_some() && !there.is_empty() {
            made = there;
        }
        let fitting = made.iter().filter(|(on, of)| said.fits(on, *of));
        let (on, of) = match (one_of(fitting), said.machine) {
            (Ok(only), _) => *only,
            (Err(true), _) => {
                let told: Vec<String> = made
                    .iter()
                    .map(|(on, of)| format!("`--machine {on} --lengths {of}`"))
                    .collect();
                return refuse(
                    format!("{written} was printed in several ways"),
                    format!("say which was measured: {}", told.join(" or ")),
                );
            }
            (Err(false), Some(machine)) => (machine, said.of.unwrap_or(1)),
            (Err(false), None) => {
                return refuse(
                    format!("no {} is printed", named.part),
                    "note the run that printed it first",
                );
            }
        };
        Ok(Sample {
            part: named.part.to_owned(),
            machine: on.to_owned(),
            pieces: said.pieces.or(named.count).unwrap_or(1),
            of,
        })
    }

    /// What was timed: a run or the last on a machine; or the runs of a part, if all that have ended were alike.
    ///
    /// # Errors
    /// As [`Short::weighed`], or if it prints still.
    pub fn timed(&self, written: &str, said: &Said) -> Result<Sample, Refusal> {
        let state = self.0;
        if let Some(key) = self.measured_run(written) {
            let id = &state.planned(key).id;
            if state.running(id) == Some(key) {
                return refuse(
                    format!("{id} prints still"),
                    format!("note `finished {id}` first"),
                );
            }
            return self.of_run(key, said);
        }
        known::part(state, written)?;
        let ended = state.attempts.iter();
        let ended = ended.filter(|(_, attempt)| attempt.ended.is_some());
        let alone = ended.filter_map(|(&key, _)| {
            let sample = self.of_run(key, &Said::default()).ok()?;
            (sample.part == written).then_some((sample.machine, sample.of, sample.pieces))
        });
        let alone: BTreeSet<(String, u32, u32)> = alone.collect();
        let fitting = alone.iter().filter(|(on, of, pieces)| {
            said.fits(on, *of) && said.pieces.is_none_or(|said| said == *pieces)
        });
        match one_of(fitting) {
            Ok((on, of, pieces)) => Ok(Sample {
                part: written.to_owned(),
                machine: on.clone(),
                pieces: *pieces,
                of: *of,
            }),
            Err(false) => refuse(
                format!("no run that was so, and had nothing but {written} on it, has ended"),
                "name the run, or note its end first; a run tells something of a part only where it has nothing else on it",
            ),
            Err(true) => refuse(
                format!("runs of {written} were of several kinds"),
                "name the run",
            ),
        }
    }

    /// All of a run, or as many as are said, if there is but one kind of piece on it.
    fn of_run(&self, key: RunKey, said: &Said) -> Result<Sample, Refusal> {
        let planned = self.0.planned(key);
        let kinds: BTreeSet<(&str, u32)> =
            planned.pieces.iter().map(|p| (p.part(), p.of())).collect();
        let mut kinds = kinds.into_iter();
        let (Some((part, of)), None) = (kinds.next(), kinds.next()) else {
            let on: Vec<PieceId> = planned.pieces.iter().map(|p| p.id()).collect();
            return refuse(
                format!(
                    "{} has several kinds of pieces: {}",
                    planned.id,
                    contents(&on)
                ),
                "a run tells something of a part only where it has nothing else on it; weigh the pieces of one part",
            );
        };
        if !said.fits(&planned.machine, of) {
            let lengths = match of {
                1 => "whole copies".to_owned(),
                of => format!("lengths, {of} to a copy"),
            };
            return refuse(
                format!("{} printed on {}, {lengths}", planned.id, planned.machine),
                "leave `--machine` and `--lengths` out, or name the part",
            );
        }
        Ok(Sample {
            part: part.to_owned(),
            machine: planned.machine.clone(),
            pieces: said.pieces.unwrap_or(planned.pieces.len() as u32),
            of,
        })
    }

    /// The run of this name, or the one on this machine, or the last there.
    fn measured_run(&self, written: &str) -> Option<RunKey> {
        let state = self.0;
        if let Some(key) = state.running(written) {
            return Some(key);
        }
        // A run keeps its name, so it may be of a plan before: the last one of this name that was started.
        if let Some(key) = state.last_start(written).or_else(|| state.current(written)) {
            return Some(key);
        }
        if let Some(&key) = state.running.get(written) {
            return Some(key);
        }
        let ended = state.attempts.iter().filter_map(|(&key, attempt)| {
            let end = attempt.ended.as_ref()?;
            (state.planned(key).machine == written).then_some((end.at, key))
        });
        ended.max().map(|(_, key)| key)
    }
}

/// What was said of a measurement besides what was measured.
#[derive(Clone, Copy, Debug, Default)]
pub struct Said<'a> {
    /// Where it was printed.
    pub machine: Option<&'a str>,
    /// How many together.
    pub pieces: Option<u32>,
    /// Each is one of so many lengths of a copy.
    pub of: Option<u32>,
}

impl Said<'_> {
    /// Whether what was printed on a machine, in so many lengths, is what was said.
    fn fits(&self, machine: &str, of: u32) -> bool {
        self.machine.is_none_or(|said| said == machine) && self.of.is_none_or(|said| said == of)
    }
}

/// The only one; or whether there are several.
fn one_of<T>(mut all: impl Iterator<Item = T>) -> Result<T, bool> {
    match (all.next(), all.next()) {
        (Some(only), None) => Ok(only),
        (first, _) => Err(first.is_some()),
    }
}

/// Pieces that are written, of those that are there.
fn chosen(
    on: &[PieceId],
    written: &[String],
    place: &str,
    such: &str,
) -> Result<Vec<PieceId>, Refusal> {
    let mut taken: Vec<PieceId> = Vec::new();
    for one in written.iter().flat_map(|list| list.split(',')) {
        let named = named(one.trim())?;
        let mut free: Vec<&PieceId> = on
            .iter()
            .filter(|piece| named.is(piece) && !taken.contains(piece))
            .collect();
        // Equal pieces are all the same; those of the lowest numbers, among them the trial copies, are taken as good.
        free.sort_by(|a, b| b.cmp(a));
        let count = named.count.unwrap_or(1) as usize;
        if free.len() < count {
            return refuse(
                format!(
                    "{} of `{one}` {} {place}, not {count}",
                    free.len(),
                    if free.len() == 1 { "is" } else { "are" }
                ),
                if on.is_empty() {
                    "there are none".to_owned()
                } else {
                    format!("{such} {}", contents(on))
                },
            );
        }
        let chosen: Vec<PieceId> = free.into_iter().take(count).cloned().collect();
        taken.extend(chosen);
    }
    taken.sort();
    Ok(taken)
}

/// Pieces as they are written.
struct Named<'a> {
    part: &'a str,
    number: Option<u32>,
    length: Option<u32>,
    count: Option<u32>,
}

impl Named<'_> {
    fn is(&self, piece: &PieceId) -> bool {
        piece.part == self.part
            && self.number.is_none_or(|number| number == piece.number)
            && self.length.is_none_or(|length| length == piece.length)
    }
}

fn named(written: &str) -> Result<Named<'_>, Refusal> {
    let wrong = || {
        refuse(
            format!("`{written}` names no pieces"),
            "write `pin` for one, `pin=2` for two, `pin:3` for copy 3, `chord:1:2` for length 2 of copy 1",
        )
    };
    let (name, count) = match written.split_once('=') {
        Some((name, count)) => match count.parse() {
            Ok(count) if count > 0 => (name, Some(count)),
            _ => return wrong(),
        },
        None => (written, None),
    };
    let mut fields = name.split(':');
    let part = fields.next().unwrap_or(name);
    let numbers: Result<Vec<u32>, _> = fields.map(str::parse).collect();
    match numbers.as_deref() {
        Ok(numbers) if numbers.len() <= 2 && !part.is_empty() => Ok(Named {
            part,
            number: numbers.first().copied(),
            length: numbers.get(1).copied(),
            count,
        }),
        _ => wrong(),
    }
}
