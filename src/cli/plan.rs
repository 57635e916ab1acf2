//! `beamyard plan`: from a scenario to a dated print queue.
//!
//! Knows: its arguments, in which order things are shown and written. Must not know: how a plan is found.
//! Promises: a folder that cannot be written is refused before the search; nothing is shown of a plan that was not found.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use chrono::{DateTime, Utc};
use clap::ValueEnum;
use indicatif::ProgressBar;

use crate::calendar::{HORIZON_YEARS, minute_after};
use crate::plan::Plan;
use crate::planning::{self, NoPlan, Options, Patience};
use crate::progress::Progress;
use crate::report::{self, Issue, Look};
use crate::scenario::{self, Scenario};
use crate::search::portfolio::{Limit, Watch};
use crate::shoplog::{self, Log};
use crate::units::Money;

use super::{Screen, Stop};

/// Plan a scenario: a dated print queue, what it costs, what to order by when
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The scenario, a YAML file
    #[arg(value_name = "SCENARIO")]
    scenario: PathBuf,

    /// Search for so many seconds; the plan then depends on how fast this computer is
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = seconds, conflicts_with = "effort")]
    seconds: Option<u64>,

    /// Search for so many moves; the same seed and effort give the same plan everywhere
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = moves)]
    effort: Option<u64>,

    /// After the search, raise the bound for so long, e.g. `90s` or `5min`
    #[arg(long, value_name = "TIME", allow_hyphen_values = true, value_parser = patience)]
    prove: Option<Patience>,

    /// Which random numbers the search draws
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = seed, default_value_t = 1)]
    seed: u64,

    /// Also write the report, day sheets, calendar, plates and lists to this folder, all or none
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,

    /// What to show
    #[arg(long, value_enum, default_value_t = Format::Table)]
    format: Format,

    /// Follow this plan from here on: it is noted in the log beside the scenario, which `log` and `status` go by
    #[arg(long)]
    accept: bool,

    /// On a scenario with a log, plan what is left from this moment: `18:40`, `2027-01-11 18:40`; else from now
    #[arg(long, value_name = "TIME")]
    now: Option<String>,

    /// Show every run and every assembly, not only the next seven days and the stages
    #[arg(long)]
    all: bool,
}

/// What `plan` shows on standard output.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Format {
    /// Text for the terminal
    Table,
    /// The plan for other programs
    Json,
    /// The queue for a spreadsheet
    Csv,
}

impl Arguments {
    /// When the search ends; `None`: the planner's own choice.
    fn limit(&self) -> Option<Limit> {
        match (self.effort, self.seconds) {
            (Some(moves), _) => Some(Limit::Moves(moves)),
            (None, Some(seconds)) => Some(Limit::Time(Duration::from_secs(seconds))),
            (None, None) => None,
        }
    }
}

/// Reads the scenario, plans it, writes the folder and shows the plan.
pub fn run(arguments: &Arguments, screen: &mut Screen) -> Result<(), Stop> {
    let path = scenario::find(&arguments.scenario).map_err(Stop::Failed)?;
    let reading = super::read(&path, screen)?;
    super::all_can_be_made(&reading, screen)?;
    let mut scenario = reading.scenario;
    let basis = shoplog::basis(&scenario);
    let file = shoplog::beside(&path);
    let noted = noted(arguments, &file, &scenario, screen)?;
    if let Some(noted) = &noted
        && let Err(parts) = noted.progress.reserve(&mut scenario)
    {
        for part in parts {
            screen.note(&format!(
                "{}: so many runs failed that no number of spares is enough; it keeps {}\n",
                scenario.parts[part].id, scenario.parts[part].spares
            ));
        }
    }
    // A folder that cannot be written is better known before a long search than after it.
    if let Some(folder) = &arguments.out {
        report::may_write_folder(folder).map_err(failed)?;
    }
    let progress = noted.as_ref().map(|noted| &noted.progress);
    let plan = search(arguments, &scenario, progress, screen)?;

    let known = noted.as_ref().map_or(0, |noted| noted.entries);
    let at =
        super::moment(arguments.now.as_deref(), &scenario, Utc::now())?.unwrap_or_else(Utc::now);
    let text = arguments.accept.then(|| report::json(&scenario, &plan));
    if let (Some(text), Some(_)) = (&text, &arguments.out) {
        // Where it cannot be followed, the folder keeps the plan that is.
        Log::may_accept(&file, &scenario, text.clone(), known, at).map_err(not_accepted)?;
    }
    if let Some(folder) = &arguments.out {
        let issue = Issue {
            now: now(),
            planned: at,
            earlier: report::earlier(folder),
        };
        let files = report::files(&scenario, &plan, &issue);
        report::write_folder(folder, &files).map_err(failed)?;
        screen.note(&format!("written to {}\n", folder.display()));
    }
    if let Some(text) = text {
        Log::open(&file, &scenario)
            .and_then(|mut log| log.accept(text, basis, known, at))
            .map_err(not_accepted)?;
        screen.note(&format!("accepted: noted in {}\n", file.display()));
        screen.note(&assumed_sent(&scenario, &plan, &arguments.scenario));
    }
    let shown = match arguments.format {
        Format::Table => {
            let look = Look {
                all: arguments.all,
                ..screen.look()
            };
            report::table(&scenario, &plan, &look)
        }
        Format::Json => report::json(&scenario, &plan),
        Format::Csv => report::csv(&scenario, &plan),
    };
    screen.print(&shown)
}

/// Orders that a plan takes to be sent before it begins, and how to note them; empty where there is none.
fn assumed_sent(scenario: &Scenario, plan: &Plan, name: &Path) -> String {
    let begins = plan.begins(scenario);
    let begins = begins.with_timezone(&scenario.build.zone).date_naive();
    let early = plan
        .orders
        .iter()
        .filter(|order| order.spools > 0 && order.order_by.is_some_and(|by| by < begins));
    let lines: Vec<String> = early
        .map(|order| {
            let filament = &scenario.filaments[order.filament.0].id;
            let times = match order.spools {
                1 => String::new(),
                spools => format!(", {spools} times"),
            };
            format!(
                "  beamyard log {} spool bought {filament} --arrives TIME{times}\n",
                name.display()
            )
        })
        .collect();
    if lines.is_empty() {
        return String::new();
    }
    format!(
        "the plan takes it that this filament is ordered before it begins; note it when you have ordered it:\n{}",
        lines.concat()
    )
}

/// What the log says.
struct Noted {
    /// Where the build stands.
    progress: Progress,
    /// Entries: a plan that does not know what was noted since is not accepted.
    entries: usize,
}

/// What the log beside the scenario says, if there is one; what the scenario has changed since the plan is told.
fn noted(
    arguments: &Arguments,
    file: &Path,
    scenario: &Scenario,
    screen: &mut Screen,
) -> Result<Option<Noted>, Stop> {
    let clock = Utc::now();
    let now = super::moment(arguments.now.as_deref(), scenario, clock)?;
    let log = Log::read(file, scenario).map_err(not_accepted)?;
    // A first plan begins at the start, or, where that is past by what somebody says, from then on.
    let log = match (log, now) {
        (Some(log), _) => log,
        (None, Some(now)) if now > scenario.build.start => {
            Log::rehearse(file, scenario).map_err(not_accepted)?
        }
        (None, _) => return Ok(None),
    };
    let now = now.unwrap_or(clock);
    not_before_the_last(&log, file, scenario, now)?;
    let (progress, differences) = shoplog::progress(scenario, &log, now);
    let from = progress.now.with_timezone(&scenario.build.zone);
    screen.note(&format!(
        "planning what is left from {}, by {}\n",
        from.format("%a %-d %b %Y %H:%M"),
        file.display()
    ));
    for difference in differences {
        screen.note(&format!("{difference}\n"));
    }
    screen.note(&super::left_out(progress.unmeasured));
    Ok(Some(Noted {
        progress,
        entries: log.entries().len(),
    }))
}

/// Refuses a moment before something that the log has: a plan from then would not know whether it has happened.
fn not_before_the_last(
    log: &Log,
    file: &Path,
    scenario: &Scenario,
    now: DateTime<Utc>,
) -> Result<(), Stop> {
    // Whole minutes: what is planned from, and what can be written.
    let from = minute_after(now);
    let Some(last) = log.last_moment().map(minute_after).filter(|&at| from < at) else {
        return Ok(());
    };
    let local = |moment: DateTime<Utc>| moment.with_timezone(&scenario.build.zone);
    Err(Stop::Failed(format!(
        "what is left cannot be planned from {}: {} has something that happened {}. Give that moment or a later one: \
         `--now \"{}\"`; or undo the entry, if it is wrong",
        local(from).format("%a %-d %b %Y %H:%M"),
        file.display(),
        local(last).format("%a %-d %b %Y %H:%M"),
        local(last).format("%Y-%m-%d %H:%M"),
    )))
}

fn search(
    arguments: &Arguments,
    scenario: &Scenario,
    progress: Option<&Progress>,
    screen: &mut Screen,
) -> Result<Plan, Stop> {
    let watch = Shown {
        bar: screen.spinner("planning"),
        currency: &scenario.currency,
        known: Mutex::new(Known::default()),
        stop: stop_on_interrupt(),
    };
    let options = Options {
        limit: arguments.limit(),
        seed: arguments.seed,
        patience: arguments.prove.unwrap_or(Options::default().patience),
        watch: &watch,
        ..Options::default()
    };
    let planned = match progress {
        Some(progress) => planning::again(scenario, progress, &options),
        None => planning::plan(scenario, &options),
    };
    watch.bar.finish_and_clear();
    if watch.stop() {
        screen.note("stopped; this is the best plan so far\n");
    }
    planned
        .map(|planned| planned.plan)
        .map_err(|none| Stop::Failed(reason(scenario, &none)))
}

/// Seconds in a day: nobody waits longer for a search.
const LONGEST_SEARCH: u64 = 86_400;

/// A proof that has not come to its end in a month will not.
const LONGEST_PROOF: Duration = Duration::from_secs(30 * 86_400);

/// How many seconds to search for.
fn seconds(written: &str) -> Result<u64, String> {
    match written.parse() {
        Ok(seconds) if (1..=LONGEST_SEARCH).contains(&seconds) => Ok(seconds),
        _ => Err(format!(
            "write a whole number of seconds above zero, up to {LONGEST_SEARCH}, such as `60`"
        )),
    }
}

/// Which random numbers to draw.
fn seed(written: &str) -> Result<u64, String> {
    let whole = written.parse();
    whole.map_err(|_| "write a whole number, 0 or more, such as `7`".to_owned())
}

/// How many moves to search for.
fn moves(written: &str) -> Result<u64, String> {
    match written.parse() {
        Ok(moves) if moves > 0 => Ok(moves),
        _ => Err("write a whole number of moves, 1 or more, such as `20000`".to_owned()),
    }
}

/// A time to prove for, as the scenario writes durations; blanks in it may be left out.
fn patience(written: &str) -> Result<Patience, String> {
    let Some(seconds) = crate::scenario::duration(written) else {
        return Err("write a number and s, min or h, such as `90s` or `5min`".to_owned());
    };
    match Duration::try_from_secs_f64(seconds.0) {
        Ok(Duration::ZERO) => Err(
            "write more than nothing, such as `90s`; for the usual proof leave the option out"
                .to_owned(),
        ),
        Ok(time) if time <= LONGEST_PROOF => Ok(Patience::Time(time)),
        _ => Err("write 30 d or less, such as `90s` or `5min`".to_owned()),
    }
}

/// A flag that is set when somebody presses Ctrl-C; pressed again, the program ends at once and writes nothing.
fn stop_on_interrupt() -> Arc<AtomicBool> {
    let stop = Arc::new(AtomicBool::new(false));
    let flag = Arc::clone(&stop);
    // Where no handler can be had, Ctrl-C ends the program as it always did.
    let _ = ctrlc::set_handler(move || {
        if flag.swap(true, Ordering::Relaxed) {
            std::process::exit(INTERRUPTED);
        }
    });
    stop
}

/// What a shell reports of a program that an interrupt ended: 128 and the signal's number.
const INTERRUPTED: i32 = 130;

/// Shows on the terminal how good the best queue is so far, and ends the search when it is told to.
struct Shown<'a> {
    bar: ProgressBar,
    currency: &'a str,
    known: Mutex<Known>,
    stop: Arc<AtomicBool>,
}

/// What is known of a search that goes on.
struct Known {
    best: f64,
    /// No plan costs less, and what of it every plan costs.
    least: Option<(f64, f64)>,
}

impl Default for Known {
    fn default() -> Self {
        Self {
            best: f64::INFINITY,
            least: None,
        }
    }
}

impl Shown<'_> {
    fn with(&self, change: impl FnOnce(&mut Known) -> bool) {
        // Several searches report at once. A poisoned lock still holds numbers.
        let mut known = self.known.lock().unwrap_or_else(PoisonError::into_inner);
        if change(&mut known) && known.best.is_finite() {
            self.bar.set_message(progress(&known, self.currency));
        }
    }
}

/// `planning: best 1061.20 EUR, gap 12.3 %; Ctrl-C keeps it`.
fn progress(known: &Known, currency: &str) -> String {
    let mut text = format!("planning: best {:.2} {currency}", known.best);
    if let Some((least, given)) = known.least {
        let gap = report::gap(Money(known.best - given), Money(least - given));
        text.push_str(&format!(", gap {:.1} %", gap * 100.0));
    }
    text + "; Ctrl-C keeps it"
}

impl Watch for Shown<'_> {
    fn least(&self, least: f64, given: f64) {
        self.with(|known| {
            known.least = Some((least, given));
            true
        });
    }

    fn better(&self, cost: f64) {
        self.with(|known| {
            let better = cost < known.best;
            known.best = known.best.min(cost);
            better
        });
    }

    fn stop(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}

/// Why there is no plan, for the user.
fn reason(scenario: &Scenario, none: &NoPlan) -> String {
    match none {
        // Said while the scenario is read, with reasons.
        NoPlan::NoRoute(_) => "No plan exists: some parts can be made on no machine.".to_owned(),
        NoPlan::NoTime(parts) if parts.is_empty() => format!(
            "No plan exists: the work does not end within {HORIZON_YEARS} years of the start. There is too little bench time, \
             or a run is longer than any bench hours on a machine that must be watched (`unattended: forbidden`)."
        ),
        NoPlan::NoTime(parts) => report::no_time(scenario, parts),
        NoPlan::Lost => "A plan was found, but its plates could not be laid out again, which is a fault of this program; it \
             is not shown."
            .to_owned(),
        NoPlan::Unsound(faults) => {
            let told: Vec<String> = faults.iter().map(|fault| format!("  {fault}")).collect();
            format!(
                "A plan was found, but it breaks rules, which is a fault of this program; it is not shown.\n{}",
                told.join("\n")
            )
        }
    }
}

/// The moment of writing, which calendars ask for; `SOURCE_DATE_EPOCH`, seconds since 1970, stands for it where files are to be the
/// same whenever they are written (reproducible-builds.org).
fn now() -> DateTime<Utc> {
    let given = std::env::var("SOURCE_DATE_EPOCH").ok();
    let given = given.and_then(|seconds| DateTime::from_timestamp(seconds.parse().ok()?, 0));
    given.unwrap_or_else(Utc::now)
}

fn not_accepted(trouble: shoplog::Trouble) -> Stop {
    Stop::Failed(trouble.to_string())
}

fn failed(error: report::FolderError) -> Stop {
    Stop::Failed(error.to_string())
}
