//! The scenario as numbers: what the search needs at every move and nothing else.
//!
//! Knows: machines, kinds of piece, the build graph, prices per minute. Must not know: files, text, how a plan looks.
//! Promises: nodes stand in an order in which every node comes after those that it needs.

mod begun;
mod items;
mod machines;
mod nodes;
mod spools;

use crate::calendar::{Calendar, Minute, Window, clock_minutes};
use crate::plates::{Area, FigureId, Figures, Rectangle};
use crate::routes::PartRoutes;
use crate::scenario::{Hands, Scenario};
use crate::search::calm::Calm;
use crate::search::holds::Holds;
use crate::search::supply::Supply;
use crate::units::Seconds;

pub use begun::{Begun, Join, OpenCopy, positions};
pub use machines::{run_limits, usable};

use machines::shop_machines;
use nodes::{assembly_nodes, rank_nodes};

/// Position of an [`Item`] in [`Shop::items`].
pub type ItemId = u32;
/// Position of a node in [`Shop::nodes`].
pub type NodeId = u32;
/// No filament is loaded.
pub const EMPTY: u32 = u32::MAX;
/// No such node.
pub const NOWHERE: NodeId = NodeId::MAX;

/// A machine as numbers.
#[derive(Clone, Debug)]
pub struct ShopMachine {
    /// Setup minutes without a colour change.
    pub turnaround: Minute,
    /// Further setup minutes for a change.
    pub swap: Minute,
    /// Money lost in a change to each filament.
    pub purge: Vec<f64>,
    /// Money per printing minute: wear and energy.
    pub minute: f64,
    /// Seconds before the first extrusion of each run.
    pub warm_up: f64,
    /// Usable bed; on a belt, its width and the longest stretch.
    pub area: Area,
    /// Millimetres between pieces.
    pub spacing: f64,
    /// Runs follow each other without a setup.
    pub belt: bool,
    /// May print with nobody there.
    pub unattended: bool,
    /// The longest run that can be set up again and again: where somebody must watch it, no longer than the longest
    /// bench hours leave after its setup. `None`: not even the setup fits them.
    pub longest: Option<Minute>,
    /// The same after a setup that changes the filament.
    pub longest_after_change: Option<Minute>,
    /// What is loaded at the start, or [`EMPTY`].
    pub loaded: u32,
    /// Spans out of use.
    pub outages: Vec<Window>,
    /// When the run ends that is printing as the search begins, on a belt: what follows it with the same filament needs no setup.
    pub printing: Option<Minute>,
}

/// One way for one piece to lie on one machine, as numbers.
#[derive(Clone, Copy, Debug)]
pub struct ItemWay {
    /// Footprint, and which right angles it may take.
    pub rectangle: Rectangle,
    /// Lies at an angle only.
    pub diagonal: bool,
    /// Its outline is not its box.
    pub shaped: bool,
    /// It may lie at any angle, beside a piece that fits at no other.
    pub any_angle: bool,
    /// Its outline with its turns, or its box, in [`Shop::figures`]; on beds, and where some piece has an outline.
    pub figure: Option<FigureId>,
    /// Square millimetres that it covers.
    pub area: f64,
    /// Seconds that it adds to a run.
    pub seconds: f64,
    /// Seconds lost at its layers, which pieces on a run share.
    pub layer_seconds: f64,
    /// Printed mass in grams.
    pub grams: f64,
    /// Money of its plastic.
    pub plastic: f64,
}

/// What one piece on a plate is: a kind of length of one class of copies, made in one form.
#[derive(Clone, Debug)]
pub struct Item {
    /// The class of copies that it belongs to.
    pub class: u32,
    /// Position of its form in the part's routes.
    pub form: u32,
    /// Pieces that make one copy, of all kinds.
    pub lengths: u32,
    /// Which of the form's kinds of piece it is.
    pub kind: u32,
    /// Pieces of this kind in one copy.
    pub each: u32,
    /// The first item of the same class and form; the others follow it, one for each kind.
    pub leader: ItemId,
    /// Kinds of piece of its form.
    pub kinds: u32,
    /// Number of the filament.
    pub filament: u32,
    /// Pieces may share a plate when this agrees: same filament and setting.
    pub group: u32,
    /// Shares its plate with nothing.
    pub alone: bool,
    /// No more pieces of its shape lie on one run; [`u32::MAX`]: as many as find room.
    pub most: u32,
    /// Items of the same part, form and kind share this number, and so their ways.
    pub shape: u32,
    /// Gluing minutes per copy.
    pub glue: Minute,
    /// Minutes from gluing until the copy is there.
    pub cure: Minute,
    /// Money per copy: hardware.
    pub hardware: f64,
    /// Least money per piece on any machine, for building a first plan.
    pub cheapest: f64,
}

/// Copies of a part that are wanted for the same thing and are alike in every way.
#[derive(Clone, Debug)]
pub struct Class {
    /// Position of the part in the scenario.
    pub part: u32,
    /// The node that takes them.
    pub node: NodeId,
    /// How many copies.
    pub copies: u32,
    /// Numbers of the leading items, one for each form.
    pub items: Vec<ItemId>,
    /// Printing does not start before.
    pub ready: Minute,
    /// Position in [`Shop::trials`] if the part has trial copies.
    pub trial: Option<u32>,
    /// These copies are the trial.
    pub is_trial: bool,
    /// Seconds of finishing per piece.
    pub finishing: f64,
    /// One copy of which some lengths exist already: only the others are its items.
    pub open: Option<OpenCopy>,
}

/// A node of the build graph as numbers: an assembly, or the finishing of one part's spares.
#[derive(Clone, Debug)]
pub struct Node {
    /// Position of the assembly in the scenario; `None`: spares.
    pub assembly: Option<u32>,
    /// Nodes that must be complete first; all of smaller index.
    pub needs: Vec<NodeId>,
    /// Bench minutes of its own, without finishing.
    pub bench: Minute,
    /// Elapsed minutes after its work.
    pub cure: Minute,
    /// Due minute; `Minute::MAX` if none.
    pub due: Minute,
    /// Money per minute late.
    pub late: f64,
    /// More urgent first when hands are short: a rank, each node's own.
    pub rank: u32,
    /// Classes that it takes.
    pub classes: Vec<u32>,
    /// When the pieces can be used that exist or print when the search begins.
    pub there: Minute,
    /// Seconds of finishing that those pieces need.
    pub finishing: f64,
}

/// The scenario as numbers.
#[derive(Clone, Debug)]
pub struct Shop {
    /// Dated hours.
    pub calendar: Calendar,
    /// Pairs of hands; `None`: never a limit.
    pub hands: Option<u32>,
    /// The farm.
    pub machines: Vec<ShopMachine>,
    /// What pieces can be.
    pub items: Vec<Item>,
    /// Ways by shape and machine: `ways[shape * machines + machine]`, quickest first.
    pub ways: Vec<Vec<ItemWay>>,
    /// Copies wanted.
    pub classes: Vec<Class>,
    /// The build graph.
    pub nodes: Vec<Node>,
    /// Parts with trial copies: for each its part.
    pub trials: Vec<u32>,
    /// For each of these parts, when the trial copies that exist or print as the search begins are printed.
    pub trial_there: Vec<Option<Minute>>,
    /// What was accepted before, as far as it is minded.
    pub calm: Calm,
    /// Runs that are held, by their place on sheets: of a search those at their heads that stay, of a finished queue any.
    pub holds: Holds,
    /// Filament that is short until more can come; `None`: none is.
    pub supply: Option<Supply>,
    /// By filament: milligrams that a spool covers of which there are enough; where spools need no margin, without limit.
    pub one_spool: Vec<i64>,
    /// By filament: until when a run can count on less, and milligrams of it; empty where orders need not be waited for, or supply tells it.
    pub early_spools: Vec<(Minute, i64)>,
    /// A run of several pieces in which a spool would end with nobody there is no run: its pieces go on several. So it is while queues
    /// are sought; what spools there are may leave no choice later.
    pub no_stops: bool,
    /// Copies that are only to be joined.
    pub joins: Vec<Join>,
    /// Money of joining them.
    pub join_money: f64,
    /// Number of groups of pieces that may share a plate.
    pub groups: u32,
    /// Number of filaments.
    pub filaments: u32,
    /// Money per minute until the last assembly is complete.
    pub each_minute: f64,
    /// Money per bench minute.
    pub bench_minute: f64,
    /// Outlines of the pieces, where some have one.
    pub figures: Figures,
    /// Some form is split, so that gluing must be dated.
    pub has_splits: bool,
    /// Some bench work besides setups must be dated.
    pub has_bench_work: bool,
}

impl Shop {
    /// Puts a scenario, its dated hours and its routes into numbers.
    ///
    /// `routes` holds one entry for each part, none without a form.
    pub fn new(scenario: &Scenario, calendar: Calendar, routes: &[PartRoutes]) -> Self {
        Self::begun(scenario, calendar, routes, &Begun::default())
    }

    /// The same for what a scenario still asks for, with what exists already.
    pub fn begun(
        scenario: &Scenario,
        calendar: Calendar,
        routes: &[PartRoutes],
        begun: &Begun,
    ) -> Self {
        let machines = shop_machines(scenario, &calendar, begun);
        let (mut nodes, node_of) = assembly_nodes(scenario, &calendar);
        let mut shop = Shop {
            hands: match scenario.bench.hands {
                Hands::Count(n) => Some(n),
                Hands::Unlimited => None,
            },
            items: Vec::new(),
            ways: Vec::new(),
            classes: Vec::new(),
            trials: Vec::new(),
            trial_there: Vec::new(),
            calm: Calm::default(),
            holds: Holds::default(),
            supply: None,
            one_spool: Vec::new(),
            early_spools: Vec::new(),
            no_stops: true,
            joins: Vec::new(),
            join_money: 0.0,
            groups: 0,
            filaments: scenario.filaments.len() as u32,
            each_minute: scenario.build.each_day.0 / 1440.0,
            bench_minute: scenario.bench.bench_hour.0 / 60.0,
            figures: Figures::default(),
            has_splits: false,
            has_bench_work: false,
            nodes: Vec::new(),
            calendar,
            machines,
        };
        rank_nodes(&mut nodes);
        shop.nodes = nodes;
        shop.take_pieces(begun, &node_of);
        shop.take_classes(scenario, routes, begun, &node_of);
        shop.take_items(scenario, routes);
        shop.one_spool = shop.spools_to_count_on(scenario);
        shop.has_splits = !shop.joins.is_empty() || shop.items.iter().any(|item| item.lengths > 1);
        shop.has_bench_work = shop.has_splits
            || shop.nodes.iter().any(|n| n.bench > 0 || n.finishing > 0.0)
            || shop.classes.iter().any(|c| c.finishing > 0.0);
        shop
    }

    /// The ways of an item on a machine, quickest first; empty if it cannot be made there.
    pub fn ways(&self, item: ItemId, machine: usize) -> &[ItemWay] {
        let shape = self.items[item as usize].shape as usize;
        &self.ways[shape * self.machines.len() + machine]
    }

    /// All items of a form of a class, one for each kind of piece, by its leading item.
    pub fn team(&self, leader: ItemId) -> std::ops::Range<ItemId> {
        leader..leader + self.items[leader as usize].kinds
    }

    /// Bench minutes of a node, `finishing` seconds of its pieces included.
    pub fn node_minutes(&self, node: usize, finishing: f64) -> Minute {
        let finishing = self.nodes[node].finishing + finishing;
        let finishing = clock_minutes(Seconds(finishing).whole_minutes());
        self.nodes[node].bench.saturating_add(finishing)
    }

    /// Bench minutes of a node whose copies are all made in the fewest lengths.
    pub fn least_node_minutes(&self, node: usize) -> Minute {
        let finishing = self.nodes[node].classes.iter().map(|&class| {
            let class = &self.classes[class as usize];
            let lengths = class.items.iter().map(|&i| self.items[i as usize].lengths);
            class.finishing * f64::from(class.copies) * f64::from(lengths.min().unwrap_or(1))
        });
        self.node_minutes(node, finishing.sum())
    }

    /// Whether machines may want the same hands or the same filament, so that the dates of one depend on the others'.
    pub fn contended(&self) -> bool {
        self.hands.is_some() || self.supply.is_some()
    }

    /// The class of an item.
    pub fn class_of(&self, item: ItemId) -> &Class {
        &self.classes[self.items[item as usize].class as usize]
    }
}
