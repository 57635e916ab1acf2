//! The rules that every plan keeps, one variant each.
//!
//! Knows: their words. Must not know: how each is checked.
//! Promises: a rule's documentation is the sentence that a fault shows, and [`Rule::ALL`] misses none.

use std::fmt;

macro_rules! rules {
    ($($(#[doc = $text:literal])+ $name:ident,)+) => {
        /// A rule that every plan keeps.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Rule {
            $($(#[doc = $text])+ $name,)+
        }

        impl Rule {
            /// Every rule, in the order in which faults are listed.
            pub const ALL: &[Rule] = &[$(Rule::$name,)+];

            /// The rule in words.
            pub fn text(self) -> &'static str {
                match self {
                    $(Rule::$name => concat!($($text),+).trim_ascii_start(),)+
                }
            }
        }
    };
}

rules! {
    /// Everything that a plan names is in the scenario, and every number is finite.
    References,
    /// Every moment is a whole minute.
    WholeMinutes,
    /// Nothing is done before the build's start.
    NotBeforeStart,

    /// Run ids are unique: the machine's name, a hyphen, at least three digits. Of runs that the accepted plan does not have they rise in
    /// time, above all that were ever accepted.
    RunIds,
    /// A run that the accepted plan has, with the same pieces on the same machine, keeps its id; no other run has that.
    RunIdsStay,
    /// Runs are listed by machine, then by time.
    RunOrder,
    /// A run has at least one piece.
    RunHasPieces,
    /// A run's minutes are its end less its start.
    RunMinutes,
    /// A run lasts its warm-up, the time of its pieces and the layers of its tallest one, in whole minutes.
    RunLength,
    /// A run's grams are those of its pieces.
    RunGrams,
    /// A machine does one thing at a time: a setup, or a belt run without one, begins when the run before has ended.
    OneRunAtATime,
    /// Every run has a setup, save a belt run that follows another of the same filament the minute that one ends.
    SetupNeeded,
    /// A setup lasts the turnaround, and the swap when the filament is not the one loaded; then the run starts.
    SetupLength,
    /// A setup lies wholly inside one bench window.
    SetupInWindow,
    /// A run names the filament that comes off exactly if its setup changes it.
    SwapFrom,
    /// No setup or run overlaps a span in which its machine is offline.
    Offline,
    /// A machine that may not run unattended is set up and runs inside one bench window.
    Attended,
    /// A run says truly whether it prints while nobody is there.
    AloneSaid,
    /// A part is not started before its file is ready.
    Ready,
    /// Copies beyond a trial are not set up before the trial is printed and somebody is there to approve it, nor do they
    /// follow by themselves in that very minute.
    Trial,
    /// Every part with a trial is listed with the moments when that is printed and somebody is there to approve it.
    TrialListed,

    /// A part is made on the machines that may make it.
    OnlyMachines,
    /// A machine prints the materials that it can.
    Material,
    /// A part is on the belt only if it may be.
    BeltAllowed,
    /// All pieces of a run are of the run's filament.
    OneFilament,
    /// All pieces of a run are printed with the run's settings.
    OneSetting,
    /// A part that is printed alone shares its run with nothing.
    Alone,
    /// A piece is the part's box, its longest side divided among the lengths, on an axis that may stand upright.
    Lying,
    /// A piece of a mesh has that mesh's outline as it lies, and any other none.
    Outline,
    /// A piece is turned only as its part may be.
    Turn,
    /// What is measured of a mesh agrees with itself: box, volume, shadows, slopes, and the lengths with the whole.
    Measures,
    /// A piece lies on the bed inside the margins (on a belt: inside both sides, and no further along than the longest).
    InsideBed,
    /// A piece is no taller than the machine.
    Height,
    /// Two pieces of a run are nowhere closer than the machine's spacing, from outline to outline.
    Spacing,
    /// A part is split only into as many lengths as it may be.
    SplitInto,
    /// A length is no shorter than its joint allows.
    SplitShortest,
    /// A piece's route is named for how it is made.
    RouteNamed,

    /// Every copy, spares too, is made exactly once: each of its lengths once, and no copy that nobody wants.
    CopiesOnce,
    /// All lengths of a copy agree into how many it is divided.
    OneDivision,
    /// An assembly gets as many copies of each part as it takes, whole copies, and the rest belong to none.
    AssemblyShare,

    /// Every split copy is glued exactly once, and nothing else is.
    GluingOnce,
    /// A gluing names the joint of its part and the assembly of its copy.
    GluingNamed,
    /// A split copy is printed when the last of its lengths is.
    GluingPrinted,
    /// Gluing takes the joint's bench time for each joint, rounded up to the whole minute.
    GluingWork,
    /// Gluing begins when the last length is printed, or later.
    GluingAfterPrinted,
    /// A glued copy is there when the joint has cured.
    GluingReady,

    /// Every assembly is listed once, in the scenario's order.
    AssemblyListed,
    /// An assembly is printed when the last of its pieces is, or at the build's start if it has none.
    AssemblyPrinted,
    /// Assembling takes the assembly's bench time and the finishing of its pieces.
    AssemblyWork,
    /// Assembling begins when its pieces are printed, its split copies glued and the assemblies that it needs complete.
    AssemblyAfter,
    /// An assembly starts with its bench work, or the moment that it could if it has none.
    AssemblyStart,
    /// An assembly is complete when its bench work is done and has cured.
    AssemblyComplete,
    /// An assembly is late by the days from due to complete, and never by less than none.
    LateDays,
    /// The build is finished when the last assembly is complete.
    Finish,
    /// Pieces of no assembly are finished, each for as long as its part says.
    SpareWork,
    /// Pieces of no assembly are finished after they are printed.
    SpareAfterPrinted,

    /// Bench work is done while somebody is there: each stretch inside one bench window.
    BenchHours,
    /// One job at the bench takes one pair of hands: its stretches are in order, not empty, and do not overlap.
    OnePairOfHands,
    /// No more is done at once than there are hands.
    Hands,
    /// Where an assembly's work ends later by its float, or it is complete so much later where it has none, and all else is done in the
    /// plan's order, no stage is late for it, or later, and the last assembly is no later.
    Float,
    /// Where there are assemblies there is a critical path: it ends with the last of them, and each of its links waited for the one before it.
    CriticalPath,

    /// What the plan goes on from is what has been done: pieces, runs that print, complete assemblies, each once.
    Given,

    /// A run of the accepted plan that was to start within the time for which such runs are firm stays on its machine, with the same
    /// pieces, and starts when it was to, unless that is impossible, or the plan says that no way to keep it was found.
    Firm,

    /// Every part of the cost is what its prices and the dated plan make it, to half a cent.
    Cost,
    /// A filament that is needed is listed once, in the scenario's order.
    OrderListed,
    /// An order states the grams of all runs and colour changes.
    OrderGrams,
    /// An order states the grams on all spools.
    OrderOnHand,
    /// As many spools are ordered as are missing, at least.
    OrderSpools,
    /// The range of an order holds what is needed; there is one exactly if something was measured.
    OrderRange,
    /// What is ordered has its last day, in time to arrive before what is on hand runs out; what is not has none.
    OrderBy,
    /// Nothing is to be ordered before the day on which the plan was asked for.
    OrderAhead,
    /// No more filament is taken by runs that have begun than can be there: what is on hand and has come, and after an order's
    /// delivery time as much as is wanted.
    FilamentThere,
    /// A run that is said to wait for its filament begins when that comes, or later.
    FilamentWaited,
    /// A spool that is changed during a run is changed in bench hours and while the run lasts, whether it is empty or not.
    SpoolChange,
    /// A spool that runs out unattended does so while nobody is there and while the run lasts, and only where no spool that nobody prints
    /// from covers what it was set up for.
    SpoolRunsOut,
    /// A spool that goes on is on hand, ordered or taken off before, in one place at a time, and ends when it is said to; none is said to come
    /// from anywhere where none goes on.
    SpoolAllotted,
    /// A spool that is named is on hand or bought, of the run's filament, where it is said to be, with what is left on it by then; what has no
    /// name is to be ordered.
    SpoolNamed,
    /// A spool holds its runs and the margin, unless a new one would not, or cannot have come.
    SpoolMargin,

    /// The bench hours shown are those of the bench, from the build's start until all is done and somebody comes again.
    HoursShown,
    /// Every setup, stretch of work, approval, order and end of a spool stands once on the sheet of its day, in order of time.
    DaySheets,
    /// A run is taken off once: when it has ended, with somebody there, before the next setup and any work on its pieces.
    TakenOff,
    /// The filament on hand is what there was and has come, less what was printed and purged by then.
    Levels,
    /// An assembly weighs its pieces and joints, and with all that it needs as much as they do.
    Masses,

    /// How often machines fail is what is stated of them and was noted, and the certainty with which enough copies come of the runs, where
    /// spares are counted, is what that makes it.
    Failures,

    /// The routes add up to all copies of every part, by kind and number of pieces.
    RoutesSum,
    /// A route of several pieces is a split one with its part's joint; a route of one piece has none.
    RouteJoint,
    /// The bound is not above the cost that the plan decides, nor that above the whole cost.
    Bound,
}

impl fmt::Display for Rule {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.text().trim_end_matches('.'))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_rule_is_one_sentence() {
        for rule in Rule::ALL {
            let text = rule.text();
            assert!(text.ends_with('.'), "{rule:?}: {text}");
            assert!(
                text.starts_with(|first: char| first.is_ascii_uppercase()),
                "{rule:?}: {text}"
            );
        }
    }
}
