//! The packing slip: what the giver's room says of a parcel, read from the server.

use serde::Deserialize;
use tarn_domain::lineage::Ancestor;
use tarn_domain::parcels::PackedRow;
use tarn_domain::rooms::Row;
use tarn_domain::streams::ParcelId;

use crate::failure::{Exit, Outcome};
use crate::remote::Trouble;
use crate::sync::session;
use crate::tarn::Tarn;

/// What was packed.
#[derive(Debug, Default, Deserialize)]
pub struct Slip {
    rows: Option<Vec<PackedRow>>,
    #[serde(default)]
    ancestry: Option<Vec<Ancestor>>,
}

impl Slip {
    /// The fish, without the giver's stocks.
    pub fn rows(&self) -> Vec<Row> {
        let rows = self.rows.iter().flatten();
        let mut merged: Vec<Row> = Vec::new();
        for packed in rows {
            let same = merged.iter_mut().find(|r| r.node == packed.node && r.sex == packed.sex);
            let sum = |row: &Row| u32::try_from(row.n.get() + packed.n.get()).ok();
            match same {
                Some(row) => row.n = sum(row).and_then(tarn_domain::rooms::Count::of).unwrap_or(row.n),
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
        let own = all.clone().find(|a| nodes.contains(&tarn_domain::rooms::Node::Of(a.node)));
        own.or_else(|| all.clone().find(|a| a.species().is_some()))
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
