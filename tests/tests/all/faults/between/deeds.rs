//! What the keepers of the four rooms record: one command line each.

use super::super::device::Device;
use super::super::edit::Edit;
use super::bags::typed;
use rand::Rng;
use rand::rngs::StdRng;
use rand::seq::IndexedRandom;

/// Some things are written down only later.
const BACK: [Option<&str>; 8] =
    [None, None, None, None, Some("3m ago"), Some("2h ago"), Some("1d ago"), Some("6d ago")];

/// Dated back, perhaps.
pub fn dated(mut edit: Edit, rng: &mut StdRng) -> Edit {
    if let Some(Some(back)) = BACK.choose(rng) {
        edit.arguments.extend(["--at".to_owned(), (*back).to_owned()]);
    }
    edit
}

fn line(words: &[&str]) -> Edit {
    Edit { arguments: words.iter().map(|word| (*word).to_owned()).collect(), tank: None, stock: None }
}

fn making(stock: &str, words: &[&str]) -> Edit {
    Edit { stock: Some(stock.to_owned()), ..line(words) }
}

/// Fish of one sex in a stock, as the device saw it when it last synced: the stock's name, the sex as typed, how many.
pub struct Fish {
    pub stock: String,
    pub sex: &'static str,
    pub n: u32,
}

/// Some fish that are there, or nearly.
pub fn fish(device: &Device, rng: &mut StdRng) -> Option<Fish> {
    let mut all = Vec::new();
    for (_, stock) in device.seen["stock"].as_object().into_iter().flatten() {
        let Some(name) = stock["name"].as_str() else { continue };
        for row in stock["numbers"].as_array().into_iter().flatten() {
            let n = row["n"].as_u64().and_then(|n| u32::try_from(n).ok()).unwrap_or(0);
            let sex = match row["sex"].as_str() {
                Some("male") => "m",
                Some("female") => "f",
                Some("unsexed") => "",
                Some("eggs") => "eggs",
                _ => continue,
            };
            if n > 0 {
                all.push(Fish { stock: name.to_owned(), sex, n });
            }
        }
    }
    let at = (!all.is_empty()).then(|| rng.random_range(0..all.len()))?;
    Some(all.swap_remove(at))
}

/// Something that makes sense on this device, or nearly, and has nothing to do with a parcel.
pub fn some(device: &Device, rng: &mut StdRng) -> Edit {
    let name = device.next_name();
    let (stock, code) = (format!("s{name}"), format!("b{name}"));
    let tank = device.tanks.choose(rng).cloned().unwrap_or_else(|| "h1".into());
    let chance = rng.random_range(0..100);
    let Some(Fish { stock: of, sex, n }) = fish(device, rng).filter(|_| chance >= 8) else {
        let numbers =
            format!("{}.{}.{}", rng.random_range(1..4), rng.random_range(1..4), rng.random_range(0..6));
        let words = match rng.random_range(0..3) {
            0 => {
                return Edit {
                    tank: Some(format!("t{name}")),
                    ..line(&["tank", "add", &format!("t{name}")])
                };
            }
            1 => making(&stock, &["stock", "add", &stock, &numbers, "--tank", &tank]),
            _ => making(&stock, &["stock", "came-in", &stock, &numbers, "--from", "shop"]),
        };
        return dated(words, rng);
    };
    let few = typed(rng.random_range(1..=n.min(3)), sex);
    let other = device.stocks.choose(rng).cloned().unwrap_or_default();
    let edit = match chance {
        8..14 => {
            let numbers = rng.random_range(3..20).to_string();
            making(&code, &["young", "found", &code, &numbers, "--parents", &of, "--tank", &tank])
        }
        14..18 => {
            let numbers = rng.random_range(5..30).to_string();
            making(&code, &["spawn", "eggs", &code, &numbers, "--parents", &of, "--tank", &tank])
        }
        18..21 => line(&["spawn", "hatched", &of]),
        21..32 => {
            let to = if rng.random_bool(0.7) { Some(tank) } else { None };
            let mut edit = making(&stock, &["stock", "split", &of, &few, "--name", &stock]);
            edit.arguments.extend(to.into_iter().flat_map(|tank| ["--tank".to_owned(), tank]));
            edit
        }
        32..40 => line(&["stock", "merge", &of, &other]),
        40..43 => line(&["stock", "merge", &of, &other, &few]),
        43..50 => line(&["stock", "move", &of, &tank]),
        50..60 => {
            let there = n.saturating_add_signed(*[-2, -1, -1, 0, 1].choose(rng).unwrap_or(&0));
            let mut edit = line(&["stock", "count", &of, &typed(there, sex)]);
            if rng.random_bool(0.8) {
                edit.arguments.push("--some".into());
            }
            edit
        }
        60..67 => {
            let was = match sex {
                "m" => "male",
                "f" => "female",
                _ => "unsexed",
            };
            let is = typed(rng.random_range(1..=n.min(3)), ["m", "f"].choose(rng).copied().unwrap_or("m"));
            line(&["stock", "sex", &of, &is, "--was", was])
        }
        67..78 => {
            let plain = rng.random_range(1..3).to_string();
            let few = if rng.random_bool(0.3) { &plain } else { &few };
            let cause = ["jumped", "old_age", "unknown"].choose(rng).copied().unwrap_or("unknown");
            line(&["stock", "lost", &of, few, "--cause", cause])
        }
        78..84 => line(&["stock", "left", &of, &few, "--to", "shop"]),
        84..88 => return line(&["wrong"]),
        _ => match device.acknowledged().choose(rng) {
            Some(written) => return line(&["wrong", &written.op]),
            None => return line(&["wrong"]),
        },
    };
    dated(edit, rng)
}

/// Fish of one stock go into a bag for somebody; how many of which sex.
pub fn packs(device: &Device, to: &str, rng: &mut StdRng) -> Option<(Edit, u32, &'static str)> {
    let Fish { stock, sex, n } = fish(device, rng)?;
    // sometimes more than there are
    let few = if rng.random_bool(0.1) { n + 1 } else { rng.random_range(1..=n.min(4)) };
    let edit = line(&["parcel", "pack", "--to", to, &format!("{stock}={}", typed(few, sex))]);
    Some((dated(edit, rng), few, sex))
}

/// A bag leaves.
pub fn hands(parcel: &str, rng: &mut StdRng) -> Edit {
    dated(line(&["parcel", "hand", parcel]), rng)
}
