//! By brood, with signs, at any time: established + came in + born + corrections − lost − left − dead on the way −
//! settled = what is in rooms + what is open between them.

use std::collections::BTreeMap;

use tarn_domain::rooms::Node;
use tarn_domain::state::view;
use tarn_domain::streams::ParcelId;

use crate::books::{Sums, brought};
use crate::dice::cases;
use crate::ledger::id;
use crate::season::Season;

/// What the states say is in rooms and between them.
fn there(season: &Season) -> Sums {
    let mut sums: BTreeMap<Node, i64> = BTreeMap::new();
    for room in &season.rooms {
        let states = view(room.memory.states());
        for ((node, _), n) in states.stocks.values().flat_map(|stock| stock.numbers.rows()) {
            *sums.entry(node).or_default() += n;
        }
        for parcel in season.parcels() {
            let Some(side) = states.parcels.get(&ParcelId(id(parcel))) else { continue };
            for ((node, _), n) in side.open().rows() {
                *sums.entry(node).or_default() += n;
            }
        }
    }
    sums.into_iter().filter(|(_, n)| *n != 0).map(|(node, n)| (node.to_string(), n)).collect()
}

fn written(season: &Season) -> Sums {
    let mut sums = Sums::new();
    for room in &season.rooms {
        for (node, n) in brought(&room.ops) {
            *sums.entry(node).or_default() += n;
        }
    }
    sums.retain(|_, n| *n != 0);
    sums
}

#[test]
fn no_fish_of_any_brood_is_made_or_lost_between_rooms() {
    let mut seen = [0; 8];
    for seed in 0..cases(600) {
        let mut season = Season::of(seed);
        let long = 20 + season.dice.below(60) as u32;
        for on in 1..=long {
            season.step(on);
            if on % 20 == 0 || on == long {
                let (ours, theirs) = (there(&season), written(&season));
                if ours != theirs {
                    for room in &season.rooms {
                        let ops: Vec<String> = room
                            .ops
                            .iter()
                            .map(|(op, _)| format!("{} {} {}", op.id, op.at, op.body.to_value()))
                            .collect();
                        eprintln!("{}\n", ops.join("\n"));
                    }
                }
                assert_eq!(ours, theirs, "seed {seed}, day {on}");
            }
        }
        seen.iter_mut().zip(season.seen).for_each(|(all, one)| *all += one);
    }
    println!("came, with dead, before they left, twice, back, told apart, settled, taken back: {seen:?}");
    assert!(seen.iter().all(|n| *n >= 100), "dull: {seen:?}");
}
