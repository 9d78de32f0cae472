//! `tarn water list`.

use clap::Args;
use serde_json::json;
use tarn_domain::rooms::ops::Reading;
use tarn_domain::rooms::water::meaning::{Meaning, newest};
use tarn_domain::rooms::water::volumes::{litres, told_json};
use tarn_domain::rooms::words::Measure;
use tarn_domain::streams::At;

use super::one::{Waters, Which, ammonia_words, newest_ammonia, values, which_json};
use crate::failure::Outcome;
use crate::store::Readings;
use crate::tarn::Tarn;
use crate::wording;

/// Lists the waters of the room with the newest value of each measure and what it means. Nothing here is a promise of
/// safety.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn water list\n  tarn water list --json")]
pub struct List {}

impl List {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let waters = Waters::of(tarn, &room)?;
        let zone = tarn.zone(&room);
        let (mut rows, mut all) = (Vec::new(), Vec::new());
        for which in waters.all() {
            let readings = waters.readings(tarn, which)?;
            let (values, latest) = (values(&readings), newest_readings(&readings));
            let ammonia = newest_ammonia(&values);
            let (name, volumes) = (waters.name(which), waters.volumes(which)?);
            let mut told = which_json(which, &name);
            told["readings"] = latest.iter().map(|(at, r)| json!({ "at": at, "value": r })).collect();
            told["ammonia"] = json!(ammonia.as_ref().map(Meaning::json));
            (told["gross"], told["net"]) = (told_json(&volumes.gross), told_json(&volumes.net));
            all.push(told);
            let mut lines: Vec<(At, Vec<String>)> = Vec::new();
            for (at, reading) in latest {
                let mut says = wording::reading(&reading);
                if let Some(meaning) = ammonia.as_ref().filter(|_| reading.what == Measure::Ammonia) {
                    says = format!("{says}, {}", ammonia_words(meaning));
                }
                match lines.iter_mut().find(|(when, _)| *when == at) {
                    Some((_, line)) => line.push(says),
                    None => lines.push((at, vec![says])),
                }
            }
            let net = volumes.net.as_ref().map_or_else(|_| "not known".to_owned(), |net| litres(net.ml));
            if lines.is_empty() && matches!(which, Which::System(_)) {
                rows.push(vec![name.clone(), net.clone(), String::new(), "no reading yet".into()]);
            }
            for (n, (at, says)) in lines.into_iter().enumerate() {
                let head = if n == 0 { [name.clone(), net.clone()] } else { Default::default() };
                rows.push(head.into_iter().chain([zone.show(at), says.join(", ")]).collect());
            }
        }
        if tarn.out.is_json() {
            return tarn.out.data(&json!(all));
        }
        if rows.is_empty() {
            tarn.out.say("No water has been read yet: tarn water read --system NAME ph=7.2");
            return Ok(());
        }
        tarn.out.table(&["water", "net", "read", "newest values"], rows)
    }
}

/// The newest value of each measure, as it was read; those read last come first.
fn newest_readings(readings: &[Readings]) -> Vec<(At, Reading)> {
    let all = values(readings);
    let mut found: Vec<(At, Reading)> = Vec::new();
    for what in Measure::ALL {
        let Some(value) = newest(&all, *what) else { continue };
        let of = readings.iter().filter(|r| r.at == value.at);
        let reading = of.flat_map(|r| &r.read.values).find(|v| v.what == *what && v.milli == value.milli);
        found.extend(reading.map(|r| (value.at, r.clone())));
    }
    found.sort_by_key(|(at, _)| std::cmp::Reverse(*at));
    found
}
