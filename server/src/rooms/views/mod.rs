//! What the rooms' pages show, as strings ready to print, and how it is put together from a room's states. Asks no
//! database; what units and lineages are comes from areas above, by way of [`Beside`].

mod entry;
mod findings;
mod helping;
mod last;
mod links;
mod list;
mod names;
mod one_entry;
mod probes;
mod rare;
mod readings;
mod room;
mod stock;
mod water;
mod write;

use askama::Template;
use tarn_domain::rooms::Node;
use tarn_domain::state::{Quarantine, RoomStates};
use tarn_domain::streams::{StockId, StreamId};
use uuid::Uuid;

use crate::platform::day::Wall;
use crate::platform::html::{FormErrors, Link, Page};
use crate::platform::parts::{EntryRow, Finding, LastEntry, Told, UnitLine, needs_wide};
use crate::platform::words::Words;

pub use entry::{Teller, reading, readings};
pub use helping::{HelpingPage, Parts as HelpingParts, gather as gather_helping, page as helping_page};
pub use last::{TakenBack, last_entry, said};
pub use links::{HelperAdded, HelpersPage, helper, tank_boxes};
pub use list::lines as room_lines;
pub use names::{Names, Part, how_many, how_many_of, litres, natural, parts_in_words};
pub use one_entry::{EntryPage, page as entry_page};
pub use probes::{ProbeAdded, ProbesPage, probe, water_choice};
pub use readings::{Asked as WaterAsked, gather_waters, water_page, waters_page};
pub use room::{Gathered as RoomGathered, gather as gather_room, page as room_page};
pub use stock::{
    Gathered as StockGathered, Parts as StockParts, gather as gather_stock, page as stock_page,
    rows as entry_rows,
};
pub use water::{candidates as readings_of, in_a_sentence as newest_reading, newest};
pub use write::WriteForms;

/// A unit of a room, and what is in it.
pub struct UnitOfRoom {
    /// How it stands.
    pub line: UnitLine,
    /// Its stocks.
    pub stocks: Vec<StockId>,
    /// Its state's word.
    pub word: &'static str,
    /// When its days are done, in seconds; none while no day can be told.
    pub due: Option<i64>,
    /// How much is in its way besides the days.
    pub open: usize,
    /// All of it in one line: "Q1 and Q2, Loop B: 9 stocks, ready on Thu 14 May, 18:40".
    pub in_short: String,
}

/// Tells the units of a room, the urgent first.
pub type UnitsFn = fn(&RoomStates<'_>, &Quarantine, StreamId, Wall) -> Vec<UnitOfRoom>;
/// Tells why a stock may not leave, in one line; none: it may.
pub type HeldFn = fn(&Quarantine, StockId, Wall) -> Option<String>;
/// Tells where a stock's fish come from, one paragraph each.
pub type LineageFn = fn(&RoomStates<'_>, StockId, Wall) -> Vec<Told>;
/// Tells what a lineage node is called.
pub type NodeFn = fn(&RoomStates<'_>, Node) -> Words;

/// Tells which spawnings are under way.
pub type SpawningsFn = fn(&RoomStates<'_>, Wall) -> Vec<SpawningRow>;

/// What areas above tell on the pages of rooms; set in `app.rs`.
#[derive(Clone, Copy)]
pub struct Beside {
    /// Units in quarantine.
    pub units: UnitsFn,
    /// Why a stock may not leave.
    pub held: HeldFn,
    /// Lineage in words.
    pub lineage: LineageFn,
    /// Names of broods and founders.
    pub node: NodeFn,
    /// Spawnings under way.
    pub spawnings: SpawningsFn,
}

impl Default for Beside {
    fn default() -> Self {
        Self {
            units: |_, _, _, _| Vec::new(),
            held: |_, _, _| None,
            lineage: |_, _, _| Vec::new(),
            node: |_, _| Words::plain("a lineage"),
            spawnings: |_, _| Vec::new(),
        }
    }
}

/// `/rooms`.
#[derive(Template)]
#[template(path = "rooms/list.html")]
pub struct RoomList {
    /// Layout.
    pub page: Page,
    /// How things stand.
    pub lead: String,
    /// By name.
    pub rooms: Vec<RoomLine>,
    /// Rooms that the reader would act in.
    pub caretaking: Vec<CaretakerLine>,
}

/// A room that somebody is caretaker of and does not keep.
pub struct CaretakerLine {
    /// Which.
    pub id: Uuid,
    /// Its name.
    pub name: String,
    /// Who keeps it.
    pub keepers: String,
}

/// One room in the list.
pub struct RoomLine {
    /// Its name.
    pub name: String,
    /// Its page.
    pub href: String,
    /// How it stands.
    pub sentence: String,
    /// "You keep it." or "You and …".
    pub keepers: String,
}

/// `/rooms/{room}`.
#[derive(Template)]
#[template(path = "rooms/room.html")]
pub struct RoomPage {
    /// Layout; `title` is the room's name.
    pub page: Page,
    /// The answer: the day, what is due, what is to put right, when it was last synced.
    pub lead: Words,
    /// What has just been written or taken back.
    pub said: Option<Words>,
    /// Living units, the urgent first.
    pub units: Vec<UnitLine>,
    /// Where its people stand.
    pub people: String,
    /// The way to what may leave.
    pub leaving: Link,
    /// Findings.
    pub put_right: Vec<Finding>,
    /// How many tanks.
    pub tanks: usize,
    /// In the order of their names.
    pub systems: Vec<WaterSystem>,
    /// The way to the waters and their readings.
    pub water: Link,
    /// The way to who helps.
    pub helpers: Link,
    /// Stocks in no tank.
    pub elsewhere: Vec<StockRow>,
    /// Spawnings under way.
    pub spawnings: Vec<SpawningRow>,
    /// The reader's last entry that can be taken back.
    pub last: Option<LastEntry>,
    /// For the foot of a printed leaf.
    pub printed: String,
}

impl RoomPage {
    /// Whether tanks have long names here.
    fn is_wide(&self) -> bool {
        needs_wide(self.systems.iter().flat_map(|system| &system.tanks).map(|tank| tank.position.as_str()))
    }
}

/// A spawning that is under way.
pub struct SpawningRow {
    /// The parents' stocks, and what came of them.
    pub who: Words,
    /// How far it has come.
    pub stage: String,
    /// Eggs or young; empty: nobody told.
    pub numbers: String,
    /// When its last step was.
    pub last: String,
}

/// Tanks that share water.
pub struct WaterSystem {
    /// Its name.
    pub name: String,
    /// Volume, number of tanks, newest reading with its day, or how long there is none.
    pub facts: String,
    /// In the order one walks.
    pub tanks: Vec<TankRow>,
}

/// A tank.
pub struct TankRow {
    /// Its position.
    pub position: String,
    /// What swims in it.
    pub stocks: Vec<StockRow>,
    /// Said when nothing does.
    pub no_fish: String,
    /// What was last, when nothing swims in it.
    pub last: String,
}

/// A stock in a tank.
pub struct StockRow {
    /// Its name; never cut.
    pub name: Words,
    /// Its page.
    pub href: String,
    /// E.g. "2 m 3 f, about 40 unsexed".
    pub how_many: Words,
    /// Why it may not leave, if it may not.
    pub held: Option<String>,
    /// E.g. "counted Sun 3 May".
    pub last: String,
}

/// `/rooms/{room}/stocks/{stock}`.
#[derive(Template)]
#[template(path = "rooms/stock.html")]
pub struct StockPage {
    /// Layout; `title` is the name as plain text.
    pub page: Page,
    /// The name as set.
    pub heading: Words,
    /// How many, where, since when, last counted.
    pub lead: Words,
    /// What has just been written or taken back.
    pub said: Option<Words>,
    /// What is wrong with what was typed.
    pub errors: Option<FormErrors>,
    /// Its unit, while it has one.
    pub unit: Option<UnitLine>,
    /// Why it may not leave, if it may not.
    pub held: Option<String>,
    /// Findings about it.
    pub put_right: Vec<Finding>,
    /// All of them, e.g. "33".
    pub total: String,
    /// By node and sex.
    pub numbers: Vec<NumberRow>,
    /// Said when there are none.
    pub none_left: String,
    /// What can be written here.
    pub write: WriteForms,
    /// Newest first.
    pub stays: Vec<StayRow>,
    /// In words, one paragraph each.
    pub lineage: Vec<Told>,
    /// How many entries there are.
    pub entry_count: usize,
    /// Newest first.
    pub entries: Vec<EntryRow>,
    /// The way to older ones.
    pub older: Option<Link>,
    /// The reader's last entry that can be taken back.
    pub last: Option<LastEntry>,
    /// For the foot of a printed leaf.
    pub printed: String,
}

impl StockPage {
    /// Whether tanks have long names here.
    fn is_wide(&self) -> bool {
        needs_wide(self.stays.iter().map(|stay| stay.tank.as_str()))
    }
}

/// How many of one node and sex.
pub struct NumberRow {
    /// Brood or founders, or "not told apart".
    pub from: Words,
    /// "male", "female", "unsexed", "eggs".
    pub sex: &'static str,
    /// How many.
    pub how_many: Words,
}

/// A stay in a tank.
pub struct StayRow {
    /// The tank's position.
    pub tank: String,
    /// The water system.
    pub water: String,
    /// Since when.
    pub from: String,
    /// Until when; "now".
    pub to: String,
    /// A doubt.
    pub note: Option<String>,
}
