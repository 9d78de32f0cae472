//! `tarn water show`.

use clap::Args;
use serde_json::{Value as Json, json};
use tarn_domain::rooms::water::derived::derived;
use tarn_domain::rooms::water::meaning::{Meaning, Value, of_ammonia};
use tarn_domain::rooms::water::trend::{Point, Trend};
use tarn_domain::rooms::water::volumes::told_json;
use tarn_domain::rooms::water::{kept_in, thousandths};
use tarn_domain::rooms::words::Measure;
use tarn_domain::streams::SystemId;

use super::one::{Waters, Which, ammonia_words, newest_ammonia, values, which_json};
use crate::failure::Outcome;
use crate::store::Readings;
use crate::tarn::Tarn;
use crate::wording;

/// Shows the readings of one water, the newest first, and how each measure went. A tank on a system has its water.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn water show \"Left rack\"\n  tarn water show Q1 --only ph --limit 50"
)]
pub struct Show {
    /// Which water: a system, or a tank
    water: String,
    /// Only this measure
    #[arg(long, value_name = "MEASURE")]
    only: Option<Measure>,
    /// How many entries
    #[arg(long, default_value_t = 25)]
    limit: usize,
}

impl Show {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let waters = Waters::of(tarn, &room)?;
        let which = waters.find(tarn, &self.water)?;
        let mut readings = waters.readings(tarn, which)?;
        let all = values(&readings);
        if let Some(only) = self.only {
            readings.iter_mut().for_each(|r| r.read.values.retain(|v| v.what == only));
            readings.retain(|r| !r.read.values.is_empty());
        }
        let trends = trends(&readings);
        readings.truncate(self.limit);
        let (name, volumes) = (waters.name(which), waters.volumes(which)?);
        if tarn.out.is_json() {
            let mut told = which_json(which, &name);
            told["readings"] = readings.iter().map(entry_json).collect();
            told["trends"] = trends.iter().map(|(what, trend)| trend_json(*what, trend)).collect();
            told["ammonia"] = json!(newest_ammonia(&all).as_ref().map(Meaning::json));
            let follows = derived(&all).into_iter();
            told["follows"] =
                follows.map(|d| json!({ "name": d.name, "says": d.says, "by": d.by })).collect();
            (told["gross"], told["net"]) = (told_json(&volumes.gross), told_json(&volumes.net));
            return tarn.out.data(&told);
        }
        if readings.is_empty() {
            tarn.out.say(&format!("{name}: no such reading yet."));
            return Ok(());
        }
        let zone = tarn.zone(&room);
        let rows = readings
            .iter()
            .map(|r| {
                let own = !matches!(which, Which::Tank(_)) && r.read.system.is_none();
                let place = r.read.tank.filter(|_| own).map(|tank| waters.names.of(tank));
                let says: Vec<String> = r.read.values.iter().map(wording::reading).collect();
                let ammonia = r.read.values.iter().find(|v| v.what == Measure::Ammonia);
                let means = ammonia.map(|v| Value { at: r.at, what: v.what, milli: v.milli });
                let means = means.map(|v| ammonia_words(&of_ammonia(v, &all))).unwrap_or_default();
                vec![zone.show(r.at), place.unwrap_or_default(), says.join(", "), means]
            })
            .collect();
        tarn.out.table(&["read", "in", "values", "means"], rows)?;
        for (what, trend) in &trends {
            tarn.out.line(&in_words(*what, trend))?;
        }
        for found in derived(&all).iter().filter(|_| self.only.is_none()) {
            tarn.out.line(&format!("{}: {} ({}).", found.name, found.says, found.by))?;
        }
        Ok(())
    }
}

fn trends(readings: &[Readings]) -> Vec<(Measure, Trend)> {
    let all = values(readings);
    let of = |what: Measure| {
        let points = all.iter().filter(|v| v.what == what).map(|v| Point { at: v.at, milli: v.milli });
        Some((what, Trend::of(what, points)?))
    };
    Measure::ALL.iter().filter_map(|what| of(*what)).filter(|(_, trend)| trend.points.len() > 1).collect()
}

/// "pH: 6.6 to 7.6 in 8 readings, the last 6.6; no reading for 10 days once".
fn in_words(what: Measure, trend: &Trend) -> String {
    let (low, high) = trend.extremes();
    let unit = if what == Measure::Ph { String::new() } else { format!("\u{a0}{}", kept_in(what)) };
    let range = if low == high {
        format!("always {}{unit}", thousandths(low))
    } else {
        format!("{} to {}{unit}", thousandths(low), thousandths(high))
    };
    let gaps: Vec<String> = trend.gaps.iter().flatten().map(|days| format!("{days} days")).collect();
    let gaps =
        if gaps.is_empty() { String::new() } else { format!("; nothing is known for {}", gaps.join(", ")) };
    let (many, last) = (trend.points.len(), thousandths(trend.last().milli));
    format!("{}: {range} in {many} readings, the last {last}{gaps}.", what.plain())
}

fn entry_json(r: &Readings) -> Json {
    let system: Option<SystemId> = r.read.system;
    json!({ "op": r.id, "at": r.at, "system": system, "tank": r.read.tank, "values": r.read.values })
}

fn trend_json(what: Measure, trend: &Trend) -> Json {
    let points: Vec<Json> = trend.points.iter().map(|p| json!({ "at": p.at, "milli": p.milli })).collect();
    json!({ "what": what, "unit": kept_in(what), "points": points, "gap_days": trend.gaps })
}
