//! `tarn quarantine show`: why a unit is not ready, every time its days began again, and what clears the rest.

use clap::Args;
use tarn_domain::quarantine::{UnitState, Why};
use tarn_domain::state::Blocker;
use tarn_domain::streams::{EntityKind, OpId};

use super::list::unit_json;
use super::{is_synced, standing};
use crate::failure::{Failure, Outcome};
use crate::find::is_part_of_id;
use crate::store::StreamRow;
use crate::tarn::{Names, Tarn};
use crate::wording::sentence;

/// Shows one unit: its days, every time they began again and why, and what else is in the way.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn quarantine show 3f2a91c4\n  tarn quarantine show \"Blue\"")]
pub struct Show {
    /// Which unit: its id or the beginning or end of it, or a stock in it
    unit: String,
}

impl Show {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let all = standing(tarn, &room)?;
        let lower = self.unit.trim().to_lowercase();
        let by_id = all.units().iter().position(|unit| is_part_of_id(&lower, unit.id.0));
        let at = match by_id {
            Some(at) => at,
            None => {
                let (stock, _) = tarn.stock(&room, &self.unit)?;
                let none = || Failure::refused(format!("{} is in no unit", self.unit));
                all.unit_of(stock).ok_or_else(|| none().hint("tarn quarantine leave"))?
            }
        };
        let (unit, blockers) = (&all.units()[at], &all.blockers[at]);
        let synced = is_synced(tarn, &room)?;
        if tarn.out.is_json() {
            return tarn.out.data(&unit_json(unit, blockers, synced));
        }
        let zone = tarn.zone(&room);
        let names = tarn.names(&room, &[EntityKind::Stock, EntityKind::Tank, EntityKind::System])?;
        let members: Vec<String> = unit.members.iter().map(|m| names.of(m.stock)).collect();
        let mut lines = vec![format!("{}: {}", members.join(", "), unit.state.word())];
        lines.push(match (unit.state, unit.due) {
            (UnitState::InTheBag, _) => "The days begin when the fish go into water.".into(),
            (_, None) => "A treatment runs; the days begin again when it ends.".into(),
            (_, Some(due)) => format!(
                "{} of {} days done, not before {}.",
                unit.done.0.min(unit.days.0),
                unit.days.0,
                zone.show(due)
            ),
        });
        for (n, run) in unit.runs.iter().enumerate() {
            let began = if n == 0 { "Began" } else { "Began again" };
            lines.push(format!("{began} {}: {}.", zone.show(run.start), why(tarn, &room, run.why, &names)?));
        }
        if !blockers.is_empty() {
            lines.push("In the way:".into());
        }
        for blocker in blockers {
            lines.push(format!("  {}", blocked(tarn, &room, blocker, &names)?));
            lines.push(format!("    let pass by a steward as {}", blocker.key()));
        }
        lines.push(match unit.state {
            UnitState::Due if blockers.is_empty() => {
                "A health steward who is no party has to look at the fish and sign.".into()
            }
            _ => "Nothing of it may leave. Moving fish inside the room is never refused.".into(),
        });
        if !synced {
            lines.push("This rests on entries that are not yet synced.".into());
        }
        tarn.out.raw(&lines.join("\n"))
    }
}

fn entry(tarn: &Tarn, room: &StreamRow, op: OpId, names: &Names) -> Outcome<String> {
    let op = tarn.store.op(room, op)?;
    Ok(op.map_or_else(|| "an entry".into(), |op| sentence(&op.body, names)))
}

fn why(tarn: &Tarn, room: &StreamRow, why: Why, names: &Names) -> Outcome<String> {
    Ok(match why {
        Why::Arrived(stock) => format!("{} went into the water", names.of(stock)),
        Why::Breached(stock) => format!("{}, home fish, began to share the water", names.of(stock)),
        Why::Treatment(_) => "a treatment ended, or these fish left the treated water".into(),
        Why::Sign(op) | Why::Loss(op) | Why::Keeper(op) => entry(tarn, room, op, names)?,
    })
}

fn blocked(tarn: &Tarn, room: &StreamRow, blocker: &Blocker, names: &Names) -> Outcome<String> {
    let zone = tarn.zone(room);
    Ok(match blocker {
        Blocker::Gap(gap) => format!(
            "No look at {} from {} to {}. Begin the days again at its end: tarn quarantine begin-again, or a steward \
             waives it.",
            names.of(gap.stock),
            zone.show(gap.from),
            zone.show(gap.until)
        ),
        Blocker::FoundMore(mark) => {
            format!("A count on {} found more of {}.", zone.show(mark.at), names.of(mark.stock))
        }
        Blocker::ManyNamed(mark) => {
            format!("Many of {} were lost under named causes, or left.", names.of(mark.stock))
        }
        Blocker::Late { op, at, .. } => {
            format!("Written down late, for {}: {}.", zone.show(*at), entry(tarn, room, *op, names)?)
        }
        Blocker::Withdrawn { op, .. } => format!("Taken back: {}.", entry(tarn, room, *op, names)?),
    })
}
