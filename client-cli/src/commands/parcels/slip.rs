//! The packing slip: what the giver's room says of a parcel, read from the server.

use clap::Args;
use serde::{Deserialize, Serialize};
use std::path::Path;
use tarn_domain::lineage::{Ancestor, Foreign, from_elsewhere};
use tarn_domain::rooms::{Count, Node, Row, Sex};
use tarn_domain::streams::ParcelId;

use crate::failure::{Exit, Failure, Outcome};
use crate::remote::Trouble;
use crate::sync::session;
use crate::tarn::Tarn;

/// So many fish that were packed. Out of which stocks of the giver's is no part of a slip.
#[derive(Debug, Serialize, Deserialize)]
struct SlipRow {
    node: Node,
    sex: Sex,
    n: Count,
}

/// What was packed.
#[derive(Debug, Default, Serialize, Deserialize)]
pub struct Slip {
    /// Under which id.
    #[serde(default)]
    parcel: Option<ParcelId>,
    /// The server whose ids these are.
    #[serde(default)]
    issuer: Option<String>,
    rows: Option<Vec<SlipRow>>,
    #[serde(default)]
    ancestry: Option<Vec<Ancestor>>,
}

impl Slip {
    /// The fish, each node and sex once.
    pub fn rows(&self) -> Vec<Row> {
        let rows = self.rows.iter().flatten();
        let mut merged: Vec<Row> = Vec::new();
        for packed in rows {
            let same = merged.iter_mut().find(|r| r.node == packed.node && r.sex == packed.sex);
            let sum = |row: &Row| u32::try_from(row.n.get() + packed.n.get()).ok();
            match same {
                Some(row) => row.n = sum(row).and_then(Count::of).unwrap_or(row.n),
                None => merged.push(Row { node: packed.node, sex: packed.sex, n: packed.n, about: false }),
            }
        }
        merged
    }

    /// Their ancestry to the founders.
    pub fn ancestry(&self) -> Vec<Ancestor> {
        self.ancestry.clone().unwrap_or_default()
    }

    /// The ancestor that says what the fish are: the first that names a species.
    pub fn named(&self) -> Option<&Ancestor> {
        let rows = self.rows.iter().flatten();
        let nodes: Vec<_> = rows.map(|r| r.node).collect();
        let all = self.ancestry.iter().flatten();
        let own = all.clone().find(|a| nodes.contains(&Node::Of(a.node)));
        own.or_else(|| all.clone().find(|a| a.species().is_some()))
    }
}

/// A slip that came with a bag, as a file. What another server calls its fish is kept under that server's name.
///
/// # Errors
/// The file, or one that is no slip of this parcel.
pub fn from_file(path: &Path, parcel: ParcelId, own: Option<&str>) -> Outcome<Slip> {
    let text = std::fs::read_to_string(path)
        .map_err(|e| Failure::refused(format!("{} can't be read: {e}", path.display())))?;
    let mut slip: Slip = serde_json::from_str(&text)
        .map_err(|e| Failure::refused(format!("{} is no packing slip: {e}", path.display())))?;
    if slip.parcel.is_some_and(|of| of != parcel) {
        return Err(Failure::refused("the slip is that of another parcel"));
    }
    let issuer = slip.issuer.clone().ok_or_else(|| Failure::refused("the slip does not say whose it is"))?;
    if own != Some(issuer.as_str()) {
        for row in slip.rows.iter_mut().flatten() {
            if let Node::Of(id) = row.node {
                let known = slip.ancestry.iter().flatten().find(|copy| copy.node == id);
                let far = Foreign { issuer: issuer.clone(), id: id.0 };
                // what that server had from a third keeps the name that the third gave it
                row.node =
                    Node::Of(if known.is_some_and(|copy| copy.foreign.is_some()) { id } else { far.node() });
            }
        }
        slip.ancestry = slip.ancestry.map(|copies| from_elsewhere(copies, &issuer));
    }
    Ok(slip)
}

/// Prints the packing slip of a parcel that was sent: what is in it and the ancestry of the fish, for a keeper on another
/// server. Needs a network.
#[derive(Debug, Args)]
#[command(
    before_help = "Example:\n  tarn parcel slip 0190a1b2-0000-7000-8000-00000000000e > slip.json",
    after_help = "Names of people, rooms, notes and places where fish were caught are not in it."
)]
pub struct Take {
    /// The parcel's whole id
    parcel: ParcelId,
}

impl Take {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let slip = session::open(tarn)?.get_as::<Slip>(&format!("parcels/{}", self.parcel))?;
        let slip = serde_json::to_value(&slip).map_err(|e| Failure::refused(e.to_string()))?;
        tarn.out.data(&slip)
    }
}

/// The name under which the server that this device syncs with gives ids; none without a network.
pub fn own_issuer(tarn: &Tarn) -> Outcome<Option<String>> {
    let asked = session::open(tarn).map_err(Trouble::from).and_then(|mut remote| remote.get("streams"));
    match asked {
        Ok(answer) => Ok(answer["issuer"].as_str().map(str::to_owned)),
        Err(Trouble::Failure(f)) if matches!(f.exit, Exit::NeedsNetwork | Exit::NeedsLogin) => Ok(None),
        Err(trouble) => Err(trouble.into()),
    }
}

/// Asks the server for the slip. None when there is no network, no login, or nothing there yet: the arrival is recorded
/// all the same.
pub fn fetch(tarn: &Tarn, parcel: ParcelId) -> Outcome<Option<Slip>> {
    let asked = session::open(tarn)
        .map_err(Trouble::from)
        .and_then(|mut remote| remote.get_as::<Slip>(&format!("parcels/{parcel}")));
    match asked {
        Ok(slip) if slip.rows.is_some() => Ok(Some(slip)),
        Ok(_) => Ok(None),
        Err(Trouble::Problem(problem)) if problem.status == 404 => {
            tarn.out.say("The server knows no such parcel for you (yet).");
            Ok(None)
        }
        Err(Trouble::Failure(f)) if matches!(f.exit, Exit::NeedsNetwork | Exit::NeedsLogin) => Ok(None),
        Err(trouble) => Err(trouble.into()),
    }
}
