//! The states the file keeps are those that the domain folds from the same ops.

use serde_json::json;
use std::collections::BTreeMap;
use tarn_cli::store::{Answer, Pulled, StoreError};
use tarn_domain::catalogue::{Body, Op, op_text};
use tarn_domain::rooms::ops::StockMoved;
use tarn_domain::streams::{At, Chain, OpId, StockId, TankId, Withdrawn};

use crate::place::{NOW_MS, Place, established, foreign, lost, note, problem, pulled, tank_added};

#[test]
fn a_kind_of_tomorrow_is_kept_and_counted() {
    let mut place = Place::new();
    let mut text: serde_json::Value =
        serde_json::from_str(&op_text(&foreign(80, NOW_MS, note("x")))).expect("JSON");
    text["body"] = json!({ "op": "fish.sang", "song": 3 });
    let text = tarn_domain::streams::canonical::text(&text);
    let pulled = Pulled { text: text.clone(), ..pulled(1, &foreign(80, NOW_MS, note("x"))) };
    let room = place.room.clone();
    let chain = Chain::EMPTY.then(&text, pulled.accepted);
    place
        .store
        .write::<_, StoreError>(|work| work.take_in(&room, &[pulled], chain, false))
        .expect("taken in");
    assert_eq!(place.store.op_counts(&room).expect("readable"), (1, 1));
    assert_eq!(place.store.history(&room, None, 9).expect("readable")[0].kind, "fish.sang");
}

/// Whatever comes in whichever order and way, the file's states are those of the domain.
#[test]
fn states_are_those_that_the_domain_folds() {
    for seed in 0..16u64 {
        let mut dice = seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1;
        let mut roll = |n: u64| {
            dice ^= dice << 13;
            dice ^= dice >> 7;
            dice ^= dice << 17;
            dice % n
        };
        let mut place = Place::new();
        let (mut tanks, mut stocks, mut written): (Vec<TankId>, Vec<StockId>, Vec<OpId>) = Default::default();
        let mut server: BTreeMap<u64, Op> = BTreeMap::new();
        for step in 0..30u64 {
            let ms = NOW_MS + i64::try_from(step).expect("small") * 60_000;
            let back = (roll(3) == 0)
                .then(|| At::from_seconds(ms / 1000 - 90_000 + i64::try_from(roll(90_000)).expect("small")));
            let pick = |all: &[StockId], n: u64| {
                all.get(usize::try_from(n).expect("small") % all.len().max(1)).copied()
            };
            let body = match roll(8) {
                0 => {
                    tanks.push(TankId(place.next()));
                    tank_added(tanks[tanks.len() - 1])
                }
                1 | 2 if !tanks.is_empty() => {
                    stocks.push(StockId(place.next()));
                    established(
                        stocks[stocks.len() - 1],
                        tanks[usize::try_from(roll(99)).expect("small") % tanks.len()],
                        9,
                    )
                }
                3 | 4 if !stocks.is_empty() => lost(pick(&stocks, roll(99)).expect("one"), 2),
                5 if !stocks.is_empty() => {
                    let to = tanks[usize::try_from(roll(99)).expect("small") % tanks.len()];
                    Body::StockMoved(StockMoved {
                        stock: pick(&stocks, roll(99)).expect("one"),
                        from: tanks.first().copied(),
                        to: Some(to),
                        companion: false,
                    })
                }
                6 if !written.is_empty() => {
                    let entry = written[usize::try_from(roll(99)).expect("small") % written.len()];
                    Body::Withdrawn(Withdrawn { entry, why: None })
                }
                _ => note("…"),
            };
            let wrote = place.write(ms, back, body).expect("recorded");
            written.push(wrote);
            match roll(6) {
                0 => place.answer(wrote, Answer::No(problem("nonsense"))),
                1 | 2 => {
                    let seq = u64::try_from(server.len()).expect("small") + 1;
                    let op = place.op(wrote);
                    server.insert(seq, op.clone());
                    place.answer(wrote, Answer::Seq(seq));
                    place.pull(seq, &[op], roll(2) == 0);
                }
                _ => {}
            }
            assert_eq!(place.text(), place.folded_anew(), "seed {seed}, step {step}");
        }
    }
}
