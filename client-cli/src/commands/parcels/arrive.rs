//! `tarn parcel arrive`: makes the receiver's stock. With a network the packing slip gives the lineage; without one the
//! parcel's id and typed numbers are enough.

use std::collections::BTreeSet;
use std::path::PathBuf;

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::parcels::ParcelArrived;
use tarn_domain::rooms::{Node, Numbers, Row, choose};
use tarn_domain::streams::{EntityKind, ParcelId, StockId, TankId};

use super::copied;
use super::slip::{self, Slip, fetch};
use crate::clock;
use crate::commands::arguments::{When, optional};
use crate::commands::quarantine;
use crate::failure::{Failure, Outcome};
use crate::store::StreamRow;
use crate::tarn::Tarn;

/// Records that a bag came, and how many came alive. The fish go on the quarantine clock when they go into water.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn parcel arrive 0190a1b2-0000-7000-8000-00000000000e --tank Q1\n  \
    tarn parcel arrive 0190a1b2-0000-7000-8000-00000000000e --alive \"2 m 2 f\" --dead \"1 f\" --name \"Jonas's blues\"\n  \
    tarn parcel arrive 0190a1b2-0000-7000-8000-00000000000e --slip slip.json --tank Q1")]
pub struct Arrive {
    /// The parcel's whole id
    parcel: ParcelId,
    /// The tank they went into; without one they are still in the bag
    #[arg(long)]
    tank: Option<String>,
    /// How many came alive [default: all that were packed]
    #[arg(long, value_name = "NUMBERS")]
    alive: Option<String>,
    /// How many came dead
    #[arg(long, value_name = "NUMBERS")]
    dead: Option<String>,
    /// What you call the stock
    #[arg(long)]
    name: Option<String>,
    /// The species as kept [default: the slip's]
    #[arg(long, value_name = "NAME")]
    species: Option<String>,
    /// Colour or fin form [default: the slip's]
    #[arg(long)]
    form: Option<String>,
    /// Don't ask the server for the packing slip
    #[arg(long)]
    offline: bool,
    /// The packing slip as a file, of a parcel that another server knows
    #[arg(long, value_name = "FILE", conflicts_with = "offline")]
    slip: Option<PathBuf>,
    /// Into that tank although home fish share its water; they are held with them then
    #[arg(long)]
    anyway: bool,
    #[command(flatten)]
    when: When,
}

impl Arrive {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let before = quarantine::held(tarn, &room)?;
        let tank = self.tank.as_deref().map(|typed| tarn.tank(&room, typed)).transpose()?;
        if let Some(tank) = tank.filter(|_| !self.anyway) {
            part_from_home(tarn, &room, tank, &before)?;
        }
        let slip = match &self.slip {
            Some(file) => Some(slip::from_file(file, self.parcel, slip::own_issuer(tarn)?.as_deref())?),
            None if self.offline => None,
            None => fetch(tarn, self.parcel)?,
        };
        let packed = slip.as_ref().map(Slip::rows).unwrap_or_default();
        let dead =
            self.dead.as_deref().map(|text| of_the_packed(&packed, text)).transpose()?.unwrap_or_default();
        let alive = match self.alive.as_deref() {
            Some(text) => of_the_packed(&packed, text)?,
            None if slip.is_none() => {
                return Err(Failure::needs_network(
                    "the packing slip can't be read, so how many came has to be said",
                )
                .hint("--alive NUMBERS"));
            }
            None => without(&packed, &dead)?,
        };
        let told = slip.as_ref().and_then(Slip::named);
        let species = optional(self.species)?.or_else(|| told.and_then(|a| a.species().cloned()));
        let name =
            optional(self.name)?.or_else(|| told.and_then(|a| a.code().cloned())).or_else(|| species.clone());
        let stock = StockId(clock::new_id());
        let mut body = ParcelArrived {
            parcel: self.parcel,
            stock,
            name,
            species,
            form: optional(self.form)?.or_else(|| told.and_then(|a| a.form().cloned())),
            tank,
            alive,
            dead,
            ancestry: slip.as_ref().map(Slip::ancestry).unwrap_or_default(),
        };
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let left_out = copied::fit(&mut body, &packed);
        if left_out > 0 {
            tarn.out.say(&format!(
                "The ancestry is long: its {left_out} oldest entries stay with the giver's record on the server."
            ));
        }
        let recorded = tarn.record(&room, at, Body::ParcelArrived(body))?;
        quarantine::tell_breach(tarn, &room, &before)?;
        let now = tarn.stock_state(&room, stock)?;
        let says = format!("{} arrived: {}.", now.name.as_deref().unwrap_or("They"), now.numbers.spread());
        tarn.tell(recorded, &says, &[("stock", json!(stock)), ("parcel", json!(self.parcel))])
    }
}

/// Home fish would be held with what came: that has to be meant.
fn part_from_home(tarn: &Tarn, room: &StreamRow, tank: TankId, held: &BTreeSet<StockId>) -> Outcome {
    let at_home = quarantine::at_home_with(tarn, room, tank, held)?;
    if at_home.is_empty() {
        return Ok(());
    }
    let names = tarn.names(room, &[EntityKind::Stock])?;
    let all: Vec<String> = at_home.iter().map(|stock| names.of(*stock)).collect();
    Err(Failure::refused(format!(
        "the water of that tank is shared with {}: they would be in quarantine with what came",
        all.join(", ")
    ))
    .hint(
        "Put them on a water of their own, leave out --tank while they are in the bag, or insist: --anyway",
    ))
}

fn of_the_packed(packed: &[Row], text: &str) -> Outcome<Vec<Row>> {
    let typed = text.parse().map_err(Failure::wrong_use)?;
    let mut numbers = Numbers::default();
    numbers.add_rows(packed, 1);
    let rows = choose::taken(&numbers, &typed, None, Node::Unassigned);
    rows.map_err(|why| Failure::wrong_use(why).hint("Write plain numbers; they count as not told apart."))
}

/// What is left of the packed rows.
fn without(packed: &[Row], dead: &[Row]) -> Outcome<Vec<Row>> {
    let mut numbers = Numbers::default();
    numbers.add_rows(packed, 1);
    numbers.add_rows(dead, -1);
    let row = |((node, sex), n): ((Node, tarn_domain::rooms::Sex), i64)| {
        let n = u32::try_from(n).ok().and_then(tarn_domain::rooms::Count::of)?;
        Some(Row { node, sex, n, about: false })
    };
    let rows: Option<Vec<Row>> = numbers.rows().map(row).collect();
    rows.ok_or_else(|| {
        Failure::wrong_use("the slip does not say how many of each are left")
            .hint("Say how many came alive: --alive NUMBERS")
    })
}
