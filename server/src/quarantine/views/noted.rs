//! What was recorded of a unit in the days that count, in a line: looks, signs, losses. Counts nothing itself.

use tarn_domain::quarantine::{Run, Why};

use crate::platform::day::DAY;
use crate::platform::words::{RunKind, Words};
use crate::quarantine::actions::UnitLook;
use crate::quarantine::actions::record::Record;
use crate::rooms::views::Teller;

/// Looks, signs, losses.
pub fn record(of: &UnitLook, record: &Record, teller: &Teller<'_>) -> Words {
    if of.unit.start.is_none() {
        return Words::plain("The days have not begun.");
    }
    let gap = match record.longest_gap_s / DAY {
        0 => "under a day".to_owned(),
        1 => "one day".to_owned(),
        n => format!("{n}\u{a0}days"),
    };
    let looks = match record.looks {
        0 => format!("Looks in the days that count: none for {gap}. "),
        n => format!("Looks in the days that count: {n}, the longest gap {gap}. "),
    };
    let words = Words::plain(looks);
    let words = match record.signs.last() {
        None => words.and(RunKind::Plain, "Signs: none recorded. "),
        Some((at, sign)) => {
            let began = |run: &Run| run.start == *at && matches!(run.why, Why::Sign(_));
            let began = of.unit.members.iter().filter_map(|m| m.runs.last()).any(began);
            let then = if began { "; the days began again then" } else { "" };
            words
                .and(RunKind::Plain, "Signs: ")
                .and(RunKind::Strong, record.signs.len().to_string())
                .and(RunKind::Plain, format!(", last on {}: {sign}{then}. ", teller.wall.day(at.seconds())))
        }
    };
    let losses = match (record.lost_named, record.lost_unexplained) {
        (0, 0) => "Losses: none.".to_owned(),
        (named, 0) => format!("Losses: {named}, with a named cause."),
        (0, open) => format!("Losses: {open}, to disease or not explained."),
        (named, open) => {
            format!("Losses: {}, {open} of them to disease or not explained.", named + open)
        }
    };
    words.and(RunKind::Plain, losses)
}
