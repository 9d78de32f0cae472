//! Arguments that several verbs share, and how what was typed becomes what ops hold.

use clap::Args;
use tarn_domain::rooms::choose::{self, NotChosen};
use tarn_domain::rooms::water::{NotAReading, geometry, volume};
use tarn_domain::rooms::words::Keeping;
use tarn_domain::rooms::{Came, Millilitres, Node, Row, StockState, Typed};
use tarn_domain::streams::{EntityKind, NodeId, Patch, SystemId, TankId};

use crate::failure::{Failure, Outcome};
use crate::find::find;
use crate::store::StreamRow;
use crate::tarn::{Names, Tarn};

/// When it happened.
#[derive(Debug, Clone, Default, Args)]
pub struct When {
    /// When it happened, if not just now: 2026-03-01T09:30, "yesterday 18:00", 09:30, "2 days ago"
    #[arg(long, value_name = "TIME")]
    pub at: Option<String>,
}

/// Of which lineage.
#[derive(Debug, Clone, Default, Args)]
pub struct OfBrood {
    /// Of which brood, if several are in the stock; "unknown" if they can't be told apart
    #[arg(long, value_name = "BROOD")]
    pub brood: Option<String>,
}

/// What a stock is.
#[derive(Debug, Clone, Default, Args)]
pub struct What {
    /// The species as kept
    #[arg(long, value_name = "NAME")]
    pub species: Option<String>,
    /// Colour or fin form
    #[arg(long)]
    pub form: Option<String>,
    /// How it is kept: individual, pair, trio, harem, colony, grow_out, eggs
    #[arg(long, value_name = "WORD")]
    pub keeping: Option<Keeping>,
}

/// A name: what is left after trimming, with no control characters in it.
pub fn name(text: &str) -> Outcome<String> {
    let text = text.trim();
    if text.is_empty() {
        return Err(Failure::wrong_use("a name can't be empty"));
    }
    if text.chars().any(char::is_control) {
        return Err(Failure::wrong_use(format!("{text:?} has control characters in it")));
    }
    Ok(text.to_owned())
}

/// A text that may be left out.
pub fn optional(text: Option<String>) -> Outcome<Option<String>> {
    text.filter(|t| !t.trim().is_empty()).map(|t| name(&t)).transpose()
}

/// A field of a description: not typed is left alone, typed empty is cleared.
pub fn patch(text: Option<String>) -> Outcome<Patch<String>> {
    match text {
        None => Ok(Patch::Keep),
        Some(text) if text.trim().is_empty() => Ok(Patch::Clear),
        Some(text) => Ok(Patch::Set(name(&text)?)),
    }
}

/// The same for a volume.
pub fn patch_volume(text: Option<String>) -> Outcome<Patch<Millilitres>> {
    match text {
        None => Ok(Patch::Keep),
        Some(text) if text.trim().is_empty() => Ok(Patch::Clear),
        Some(text) => Ok(Patch::Set(volume(&text).map_err(Failure::wrong_use)?)),
    }
}

/// What a tank holds: a volume, or its measures.
pub fn tank_volume(text: &str) -> Result<Millilitres, NotAReading> {
    let lower = text.to_lowercase();
    let has_measures = lower.contains(['x', '×']) || lower.contains("cylinder");
    if has_measures { geometry::holds(text) } else { volume(text) }
}

/// The same for a tank's field.
pub fn patch_tank_volume(text: Option<String>) -> Outcome<Patch<Millilitres>> {
    match text {
        Some(text) if !text.trim().is_empty() => {
            Ok(Patch::Set(tank_volume(&text).map_err(Failure::wrong_use)?))
        }
        nothing => patch_volume(nothing),
    }
}

/// Numbers of fish, typed as one or several words.
pub fn numbers(words: &[String]) -> Outcome<Typed> {
    words.join(" ").parse().map_err(Failure::wrong_use)
}

/// The lineage that is said, if one is.
pub fn node(tarn: &Tarn, room: &StreamRow, stock: &StockState, of: &OfBrood) -> Outcome<Option<Node>> {
    let Some(typed) = of.brood.as_deref() else { return Ok(None) };
    if typed.eq_ignore_ascii_case("unknown") {
        return Ok(Some(Node::Unassigned));
    }
    let by_id = choose::nodes(&stock.numbers).into_iter().find(|node| match node {
        Node::Of(id) => crate::find::is_part_of_id(&typed.to_lowercase(), id.0),
        Node::Unassigned => false,
    });
    if by_id.is_some() {
        return Ok(by_id);
    }
    let all = tarn.store.named(room, EntityKind::Brood)?;
    Ok(Some(Node::Of(NodeId(find("brood", typed, &all, |_| false)?.id))))
}

/// The lineage of a stock whose records have no fish left.
pub fn own_node(stock: &StockState) -> Node {
    match (&stock.founders, &stock.came) {
        (Some(founders), _) => Node::Of(founders.node),
        (None, Some(Came::Born { brood })) => Node::Of(*brood),
        _ => Node::Unassigned,
    }
}

/// The rows that typed numbers take from a stock.
pub fn taken(
    tarn: &Tarn,
    room: &StreamRow,
    stock: &StockState,
    typed: &Typed,
    of: &OfBrood,
) -> Outcome<Vec<Row>> {
    let node = node(tarn, room, stock, of)?;
    choose::taken(&stock.numbers, typed, node, own_node(stock)).map_err(|why| not_chosen(tarn, room, why))
}

/// What to say when rows can't be told.
pub fn not_chosen(tarn: &Tarn, room: &StreamRow, why: NotChosen) -> Failure {
    let failure = Failure::wrong_use(&why);
    match why {
        NotChosen::Which(nodes) => {
            let names = tarn.names(room, &[EntityKind::Brood]).unwrap_or_default();
            let all: Vec<String> = nodes.iter().map(|node| node_name(&names, *node)).collect();
            failure.hint(format!("Say which with --brood: {}; or --brood unknown.", all.join(", ")))
        }
        NotChosen::BySex => failure,
    }
}

/// What a lineage is called.
pub fn node_name(names: &Names, node: Node) -> String {
    match node {
        Node::Of(id) if names.knows(id) => names.of(id),
        Node::Of(id) => format!("founders {}", crate::find::short(id.0)),
        Node::Unassigned => "not told apart".into(),
    }
}

/// A tank or a water system.
#[derive(Debug, Args)]
pub struct WaterOf {
    /// In which tank
    #[arg(long, conflicts_with = "system")]
    pub tank: Option<String>,
    /// In which water system
    #[arg(long)]
    pub system: Option<String>,
}

impl WaterOf {
    /// What was typed, found.
    pub fn find(&self, tarn: &Tarn, room: &StreamRow) -> Outcome<(Option<SystemId>, Option<TankId>)> {
        Ok((
            self.system.as_deref().map(|typed| tarn.system(room, typed)).transpose()?,
            self.tank.as_deref().map(|typed| tarn.tank(room, typed)).transpose()?,
        ))
    }
}

/// Yes or no, as it is typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum YesNo {
    /// It is so.
    Yes,
    /// It is not.
    No,
}

impl From<YesNo> for bool {
    fn from(word: YesNo) -> Self {
        word == YesNo::Yes
    }
}

/// When fish were caught: a year, a month or a day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Collected(pub String);

impl std::str::FromStr for Collected {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        let whole = match text.len() {
            4 => format!("{text}-01-01"),
            7 => format!("{text}-01"),
            _ => text.to_owned(),
        };
        chrono::NaiveDate::parse_from_str(&whole, "%Y-%m-%d")
            .map(|_| Self(text.to_owned()))
            .map_err(|_| format!("{text:?} is no year, month or day: 2019, 2019-05 or 2019-05-12"))
    }
}
