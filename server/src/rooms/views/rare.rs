//! What the rarer entries say: spawnings, treatments, boxes, valves, emptied tanks, incidents, and what is decided about
//! quarantine.

use std::collections::BTreeSet;

use tarn_domain::catalogue::Body;
use tarn_domain::streams::{StockId, SystemId, TankId};

use super::entry::Teller;
use crate::platform::words::{RunKind, Words};

impl Teller<'_> {
    /// What such an entry says; none: it is none of these.
    pub(super) fn rare(&self, body: &Body) -> Option<Words> {
        Some(Words::plain(match body {
            Body::TankHung(b) => match b.within {
                Some(host) => format!("box {} hung into {}", self.names.tank(b.tank), self.names.tank(host)),
                None => format!("box {} taken out, on its own water", self.names.tank(b.tank)),
            },
            Body::SystemJoined(b) => match b.with {
                Some(other) => {
                    format!(
                        "{} shares its water with {}",
                        self.names.system(b.system),
                        self.names.system(other)
                    )
                }
                None => format!("{} shares its water with no other any more", self.names.system(b.system)),
            },
            Body::TankEmptied(b) => format!("{} emptied, {}", self.water(b.system, b.tank), b.how.plain()),
            Body::TreatmentBegan(b) => {
                let by = b.by.as_ref().map_or_else(String::new, |by| format!(", by {}", by.trim()));
                let water = self.water(b.system, b.tank);
                format!("treatment of {water} began, {}: {}{by}", b.with.plain(), b.what.trim())
            }
            Body::TreatmentEnded(b) => {
                let treatment = self.names.states.treatments.get(&b.treatment);
                let water = treatment.map_or_else(|| "a water".into(), |t| self.water(t.system, t.tank));
                let what = treatment.and_then(|t| t.what.as_deref()).map(|what| format!(": {}", what.trim()));
                format!("treatment of {water} ended{}", what.unwrap_or_default())
            }
            Body::IncidentSeen(b) => {
                let place = match (b.system, b.tank) {
                    (None, None) => String::new(),
                    (system, tank) => format!(" on {}", self.water(system, tank)),
                };
                let remark = b.remark.as_ref().map(|remark| format!(": \u{201c}{}\u{201d}", remark.trim()));
                format!("incident{place}, {}{}", b.what.plain(), remark.unwrap_or_default())
            }
            Body::RoomRuleSet(b) => match b.rule {
                Some(_) => "a quarantine rule of the room\u{2019}s own".into(),
                None => "no rule of the room\u{2019}s own any more".into(),
            },
            Body::QuarantineRestarted(b) => {
                let from = self.wall.moment(b.from.seconds());
                let mut words = Words::plain("the days of ");
                words.runs.extend(self.names.stock(b.stock).runs);
                return Some(
                    words.and(RunKind::Plain, format!(" begin again from {from}: {}", b.why.trim())),
                );
            }
            Body::QuarantineWaived(b) => {
                let mut kinds: Vec<(_, &str, usize)> = Vec::new();
                for waiver in &b.waivers {
                    let (kind, why) = (waiver.blocker, waiver.why.trim());
                    match kinds.iter_mut().find(|(k, w, _)| (*k, *w) == (kind, why)) {
                        Some((.., n)) => *n += 1,
                        None => kinds.push((kind, why, 1)),
                    }
                }
                let told = kinds
                    .into_iter()
                    .map(|(kind, why, n)| format!("{}: \u{201c}{why}\u{201d}", kind.plain(n)));
                format!("a club steward let pass {}", told.collect::<Vec<_>>().join("; "))
            }
            Body::PairSetUp(b) => return Some(self.spawners("set up to spawn", b.stocks(), b.tank)),
            Body::SpawnSeen(b) => return Some(self.spawners("spawned", b.stocks(), b.tank)),
            Body::DropSeen(b) => return Some(self.spawners("young dropped", b.stocks(), b.tank)),
            Body::EggsChecked(b) => {
                let told = [(b.laid, "laid"), (b.fungused, "with fungus")];
                let told = told.into_iter().filter_map(|(n, word)| Some(format!("{}\u{a0}{word}", n?.get())));
                format!("eggs looked at: {}", told.collect::<Vec<_>>().join(", "))
            }
            Body::YoungSwam(_) => "young swim free".into(),
            Body::SpawningFailed(b) => format!("nothing came of a spawning: {}", b.why.plain()),
            Body::Adopted(b) => {
                let n = b.entries.len();
                let what = if n == 1 { "an entry".to_owned() } else { format!("{n} entries") };
                format!("{what} of somebody who no longer keeps this room taken in")
            }
            Body::Redacted(_) => "words of an entry were blanked".into(),
            Body::HistoryDecided(b) => format!("on the server before: {}; it gives no right here", b.plain()),
            Body::HistoryTakenIn(b) => {
                let n = b.claims;
                let from = b.server.as_deref().map_or_else(String::new, |server| format!(" ({server})"));
                let what = "fish that had come in there count as established since";
                format!("{n} entries came along from another server{from}; {what}")
            }
            Body::HistorySent(_) => "sent in a parcel, on the server before".into(),
            Body::HistoryMatched(_) => "a parcel was known, on the server before".into(),
            Body::HistoryTold(_) => "told of a brood, on the server before".into(),
            Body::LossJudged(b) => {
                format!("a club steward holds a loss for unexplained: \u{201c}{}\u{201d}", b.why.trim())
            }
            _ => return None,
        }))
    }

    /// Which stocks spawned, and where.
    fn spawners(&self, what: &str, stocks: BTreeSet<StockId>, tank: Option<TankId>) -> Words {
        let colon = if stocks.is_empty() { "" } else { ": " };
        let words = Words::plain(format!("{what}{colon}")).then(self.names.crossed(stocks));
        let place = tank.map_or_else(String::new, |tank| format!(", {}", self.names.tank(tank)));
        words.and(RunKind::Plain, place)
    }

    fn water(&self, system: Option<SystemId>, tank: Option<TankId>) -> String {
        match (system, tank) {
            (Some(system), _) => self.names.system(system),
            (None, Some(tank)) => self.names.tank(tank),
            (None, None) => "the room".into(),
        }
    }
}
