//! Ops in plain words, for histories and lists.

use tarn_domain::catalogue::Body;
use tarn_domain::lineage::Together;
use tarn_domain::rooms::ops::Reading;
use tarn_domain::rooms::water::kept_in;
use tarn_domain::rooms::{Millilitres, Numbers, Row, Sex};

use crate::tarn::Names;

/// "54 l", "0.75 l".
pub fn litres(volume: Millilitres) -> String {
    let (whole, part) = (volume.0 / 1000, volume.0 % 1000);
    if part == 0 {
        return format!("{whole} l");
    }
    format!("{whole}.{}", format!("{part:03}").trim_end_matches('0')) + " l"
}

/// The word for a sex.
pub fn sex_word(sex: Sex) -> &'static str {
    match sex {
        Sex::Male => "males",
        Sex::Female => "females",
        Sex::Unsexed => "unsexed",
        Sex::Eggs => "eggs",
        Sex::Any => "of whichever sex",
    }
}

fn counts(rows: &[Row]) -> String {
    let mut numbers = Numbers::default();
    numbers.add_rows(rows, 1);
    let about = if rows.iter().any(|r| r.about) { "about " } else { "" };
    format!("{about}{}", numbers.spread())
}

fn thousandths(milli: i64) -> String {
    let (sign, size) = (if milli < 0 { "-" } else { "" }, milli.abs());
    let part = format!("{:03}", size % 1000);
    let part = part.trim_end_matches('0');
    if part.is_empty() { format!("{sign}{}", size / 1000) } else { format!("{sign}{}.{part}", size / 1000) }
}

/// A reading as it is kept, with what was typed if that was in another unit.
pub fn reading(value: &Reading) -> String {
    let unit = kept_in(value.what);
    let kept = if unit == "pH" {
        format!("pH {}", thousandths(value.milli))
    } else {
        format!("{} {} {unit}", value.what.plain(), thousandths(value.milli))
    };
    let same = thousandths(value.milli) == value.typed.replace(',', ".");
    if same { kept } else { format!("{kept} (typed {} {})", value.typed, value.unit) }
}

/// What an op says, in one line.
pub fn sentence(body: &Body, names: &Names) -> String {
    match body {
        Body::SystemSet(b) => format!("water system {} set", names.of(b.system)),
        Body::TankAdded(b) => format!("tank {} added", b.name),
        Body::TankDescribed(b) => format!("tank {} described", names.of(b.tank)),
        Body::TankPlumbed(b) => match b.system {
            Some(system) => format!("tank {} put on {}", names.of(b.tank), names.of(system)),
            None => format!("tank {} on its own water", names.of(b.tank)),
        },
        Body::StockEstablished(b) => {
            format!("{} was here: {}, {}", names.of(b.stock), counts(&b.rows), names.place(b.tank))
        }
        Body::StockCameIn(b) => format!(
            "{} came in from {}: {}, {}",
            names.of(b.stock),
            b.from.plain(),
            counts(&b.rows),
            names.place(b.tank)
        ),
        Body::StockDescribed(b) => format!("{} described", names.of(b.stock)),
        Body::StockMoved(b) => {
            format!("{} moved from {} to {}", names.of(b.stock), names.place(b.from), names.place(b.to))
        }
        Body::StockSplit(b) => {
            format!("{} split off {}, {}", counts(&b.rows), names.of(b.stock), names.place(b.tank))
        }
        Body::StockMerged(b) => {
            format!("{} of {} put together with {}", counts(&b.rows), names.of(b.stock), names.of(b.into))
        }
        Body::StockCounted(b) => {
            let all = if b.all { "" } else { " (not all)" };
            format!("{} counted: {}{all}", names.of(b.stock), counts(&b.rows))
        }
        Body::StockSexed(b) => {
            let rows: Vec<String> = b
                .rows
                .iter()
                .map(|r| format!("{} {} are {}", r.n.get(), sex_word(r.from), sex_word(r.to)))
                .collect();
            format!("{} sexed: {}", names.of(b.stock), rows.join(", "))
        }
        Body::StockLost(b) => {
            let reason = b.reason.as_ref().map(|r| format!(": {r}")).unwrap_or_default();
            format!("{} of {} lost, {}{reason}", counts(&b.rows), names.of(b.stock), b.cause.plain())
        }
        Body::StockLeft(b) => {
            format!("{} of {} left for {}", counts(&b.rows), names.of(b.stock), b.to.plain())
        }
        Body::NoteWritten(b) => format!("note: {}", b.text),
        Body::Withdrawn(b) => {
            let why = b.why.as_ref().map(|w| format!(": {w}")).unwrap_or_default();
            format!("entry {} taken back{why}", crate::find::short(b.entry.0))
        }
        body => log_or_decision(body, names),
    }
}

fn log_or_decision(body: &Body, names: &Names) -> String {
    let about = |what: &str, place: Option<String>| match place {
        Some(place) => format!("{what} ({place})"),
        None => what.to_owned(),
    };
    match body {
        Body::FoodGiven(b) => {
            let all = b.tanks.iter().map(|t| names.of(*t)).chain(b.stocks.iter().map(|s| names.of(*s)));
            let all: Vec<String> = all.collect();
            let amount = b.amount.as_ref().map(|a| format!(", {a}")).unwrap_or_default();
            about(&format!("fed {}{amount}", b.food), (!all.is_empty()).then(|| all.join(", ")))
        }
        Body::WaterRead(b) => {
            let place = b.system.map(|s| names.of(s)).or(b.tank.map(|t| names.of(t)));
            about(&b.values.iter().map(reading).collect::<Vec<_>>().join(", "), place)
        }
        Body::WaterLogged(b) => {
            let means = b.means().values;
            let values = b.values.iter().zip(&means);
            let values = values.map(|(hourly, mean)| format!("{} ({})", reading(mean), hourly.spread()));
            let place = b.system.map(|s| names.of(s)).or(b.tank.map(|t| names.of(t)));
            about(&format!("a probe: {}", values.collect::<Vec<_>>().join(", ")), place)
        }
        Body::SignSeen(b) => {
            let place = b.stock.map(|s| names.of(s)).or(b.tank.map(|t| names.of(t)));
            about(&format!("sign: {}", b.sign), place)
        }
        Body::LookDone(b) => {
            let remark = b.remark.as_ref().map(|r| format!(": {r}")).unwrap_or_default();
            let tanks: Vec<String> = b.tanks.iter().map(|t| names.of(*t)).collect();
            format!("looked at {}{remark}", tanks.join(", "))
        }
        Body::JobDone(b) => {
            let place = b.system.map(|s| names.of(s)).or(b.tank.map(|t| names.of(t)));
            let much = b.volume_ml.map(|v| format!(", {}", litres(v)));
            let much = much.or(b.percent.map(|p| format!(", {p} %"))).unwrap_or_default();
            about(&format!("{}{much}", b.job), place)
        }
        Body::YoungFound(b) => {
            format!("young found: {}, {}, {}", b.code, counts(&b.rows), names.place(b.tank))
        }
        Body::PairSetUp(b) => {
            format!("set up to spawn: {}", there(b, names))
        }
        Body::SpawnSeen(b) => {
            format!("spawned: {}", there(b, names))
        }
        Body::DropSeen(b) => {
            format!("dropped young: {}", there(b, names))
        }
        Body::EggsCollected(b) => {
            let brood = b.new.as_ref().map_or_else(|| names.of(b.brood), |new| new.code.clone());
            let guess = if b.about { "about " } else { "" };
            let place = b.tank.map_or_else(|| "in no tank".into(), |tank| names.of(tank));
            format!("eggs collected: {brood}, {guess}{}, {place}", b.n.get())
        }
        Body::EggsChecked(b) => {
            let said = [(b.laid, "laid"), (b.fungused, "with fungus")];
            let said = said.into_iter().filter_map(|(n, word)| Some(format!("{} {word}", n?.get())));
            format!("eggs checked: {}", said.collect::<Vec<_>>().join(", "))
        }
        Body::EggsHatched(b) => {
            let n: i64 = b.rows.iter().map(|row| row.n.get()).sum();
            about(&format!("{n} eggs hatched"), Some(names.of(b.stock)))
        }
        Body::YoungSwam(_) => "the young swim free".into(),
        Body::SpawningFailed(b) => format!("spawning failed: {}", b.why.plain()),
        Body::ParcelPacked(b) => format!("parcel {} packed", crate::find::short(b.parcel.0)),
        Body::ParcelHanded(b) => format!("parcel {} handed over", crate::find::short(b.parcel.0)),
        Body::ParcelArrived(b) => {
            format!(
                "parcel {} arrived: {} alive, {}",
                crate::find::short(b.parcel.0),
                counts(&b.alive),
                names.place(b.tank)
            )
        }
        Body::ParcelSent(b) => format!("parcel {} left the room (decision)", crate::find::short(b.parcel.0)),
        Body::RuleAdopted(b) => {
            format!("quarantine rule, version {}: at least {} days (decision)", b.version, b.rule.min_days.0)
        }
        Body::HomeClubSet(b) => {
            if b.club.is_some() {
                "home club set (decision)".into()
            } else {
                "no home club (decision)".into()
            }
        }
        Body::QuarantineCleared(b) => format!("unit cleared after {} days (decision)", b.held.0),
        other => water_or_decision(other, names),
    }
}

/// The stocks that were together, and the tank.
fn there(step: &Together, names: &Names) -> String {
    let all: Vec<String> = step.stocks().into_iter().map(|stock| names.of(stock)).collect();
    let all = if all.is_empty() { "parents not told".into() } else { all.join(" \u{d7} ") };
    step.tank.map_or_else(|| all.clone(), |tank| format!("{all}, {}", names.of(tank)))
}

fn water_or_decision(body: &Body, names: &Names) -> String {
    let water = |system: Option<_>, tank: Option<_>| {
        let system = system.map(|system: tarn_domain::streams::SystemId| names.of(system));
        system
            .or(tank.map(|tank: tarn_domain::streams::TankId| names.of(tank)))
            .unwrap_or_else(|| "the room".into())
    };
    match body {
        Body::TankHung(b) => match b.within {
            Some(host) => format!("{} hung in {}", names.of(b.tank), names.of(host)),
            None => format!("{} taken out, its water its own", names.of(b.tank)),
        },
        Body::TankEmptied(b) => format!("{} emptied and {}", water(b.system, b.tank), b.how.plain()),
        Body::SystemJoined(b) => match b.with {
            Some(other) => format!("{} shares the water of {}", names.of(b.system), names.of(other)),
            None => format!("{} has its own water again", names.of(b.system)),
        },
        Body::TreatmentBegan(b) => {
            format!("treatment of {} with {} began: {}", water(b.system, b.tank), b.with.plain(), b.what)
        }
        Body::TreatmentEnded(_) => "treatment ended".into(),
        Body::IncidentSeen(b) => {
            let remark = b.remark.as_ref().map(|r| format!(": {r}")).unwrap_or_default();
            format!("{} failed ({}){remark}", b.what.plain(), water(b.system, b.tank))
        }
        Body::RoomRuleSet(b) => match &b.rule {
            Some(rule) => format!("the room\u{2019}s own rule: at least {} days", rule.min_days.0),
            None => "no rule of the room\u{2019}s own".into(),
        },
        Body::QuarantineRestarted(b) => format!("the days of {} begun again: {}", names.of(b.stock), b.why),
        Body::QuarantineWaived(b) => {
            let why: Vec<&str> = b.waivers.iter().map(|waiver| waiver.why.as_str()).collect();
            format!("let pass by a steward: {} (decision)", why.join("; "))
        }
        Body::QuarantineRecalled(b) => {
            format!("a sign-off recalled by {} entries that came since (decision)", b.entries.len())
        }
        Body::ParcelRecalled(b) => format!(
            "parcel {}: the sign-off it left under was recalled (decision)",
            crate::find::short(b.parcel.0)
        ),
        Body::Adopted(b) => {
            format!(
                "{} entries of somebody who may no longer write here taken in (decision)",
                b.entries.len()
            )
        }
        Body::Redacted(b) => format!("words of entry {} blanked (decision)", crate::find::short(b.entry.0)),
        Body::HistoryDecided(b) => format!("on the server before: {} (history, gives no right)", b.plain()),
        Body::HistoryTakenIn(b) => {
            let from = b.server.as_deref().unwrap_or("another server");
            format!("{} entries came along from {from}; fish that had come in count as established", b.claims)
        }
        Body::HistorySent(b) => {
            format!("parcel {} sent, on the server before", crate::find::short(b.parcel.0))
        }
        Body::HistoryMatched(b) => {
            format!("parcel {} known, on the server before", crate::find::short(b.parcel.0))
        }
        Body::HistoryTold(b) => {
            format!("told of brood {}, on the server before", crate::find::short(b.brood.0))
        }
        Body::LossJudged(b) => format!("a loss held for unexplained: {} (decision)", b.why),
        other => other.kind().to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn volumes_and_thousandths_are_short() {
        assert_eq!(litres(Millilitres(54_000)), "54 l");
        assert_eq!(litres(Millilitres(750)), "0.75 l");
        assert_eq!(thousandths(-500), "-0.5");
        assert_eq!(thousandths(25_000), "25");
    }
}
