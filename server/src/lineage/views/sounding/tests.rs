//! Whether an ancestry can be read: no words over others, none outside, no line through them, whatever was bred.

use std::collections::{BTreeMap, BTreeSet};

use proptest::prelude::*;
use tarn_domain::lineage::Draw;
use tarn_domain::streams::NodeId;
use uuid::Uuid;

use super::*;
use crate::platform::drawing::{Anchor, Drawing, Text};
use crate::platform::fit::{Type, width};

fn node(n: usize) -> NodeId {
    NodeId(Uuid::from_u128(n as u128 + 1))
}

fn known(draw: Draw, of: &[(usize, u32)]) -> Side {
    Side::Known { draw, of: of.iter().map(|(at, n)| Entry { node: Some(node(*at)), n: *n }).collect() }
}

fn brood(code: &str, fathers: Side, mothers: Side) -> Met {
    Met::Brood(Brood {
        code: code.into(),
        month: Some("Mar 2025".into()),
        young: Some("34".into()),
        fathers,
        mothers,
        ..Brood::default()
    })
}

fn end() -> Met {
    Met::End { name: "founders".into(), words: "wild 2017, place kept back".into() }
}

fn sounding(nodes: Vec<Met>) -> Sounding {
    Sounding { of: node(0), nodes: nodes.into_iter().enumerate().map(|(at, met)| (node(at), met)).collect() }
}

impl Sheet {
    fn of(&self, text: &Text) -> Type {
        match text.class {
            "root" => self.root,
            "code" => self.code,
            "deep" => self.deep,
            _ => self.plain,
        }
    }

    /// Left, top, right and foot of words.
    fn area(&self, text: &Text) -> [i32; 4] {
        let of = self.of(text);
        let wide = width(&text.words, of);
        let left = match text.anchor {
            Anchor::Start => text.at.0,
            Anchor::Middle => text.at.0 - wide / 2,
            Anchor::End => text.at.0 - wide,
        };
        [left, text.at.1 - of.size * 8, left + wide, text.at.1 + of.size * 2]
    }
}

fn meet(a: [i32; 4], b: [i32; 4]) -> bool {
    a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3]
}

/// Points of a curve, close together.
fn along(drawing: &Drawing) -> Vec<(i32, i32)> {
    let mut all = Vec::new();
    for curve in &drawing.curves {
        let mut from = curve.from;
        for &to in &curve.to {
            for step in 0..=40 {
                let t = f64::from(step) / 40.0;
                let bend = 3.0 * t * t - 2.0 * t * t * t;
                // upright at both ends: across as the cubic does, down as its time does on average
                let down = 1.5 * t - 1.5 * t * t + t * t * t;
                let at = |a: i32, b: i32, share: f64| a + (f64::from(b - a) * share).round() as i32;
                all.push((at(from.0, to.0, bend), at(from.1, to.1, down)));
            }
            from = to;
        }
    }
    all
}

fn unreadable(sounding: &Sounding) -> Option<String> {
    let picture = sounding.picture()?;
    for (sheet, drawing) in [(&NARROW, &picture.narrow), (&WIDE, &picture.wide)] {
        let areas: Vec<_> = drawing.words.iter().map(|text| (sheet.area(text), &text.words)).collect();
        for (at, (here, words)) in areas.iter().enumerate() {
            let inside = here[0] >= 0
                && here[1] >= 0
                && here[2] <= drawing.width * 10
                && here[3] <= drawing.height * 10;
            if !inside {
                return Some(format!("{words:?} leaves the {} px at {here:?}", drawing.width));
            }
            if let Some((_, other)) = areas[at + 1..].iter().find(|(there, _)| meet(*here, *there)) {
                return Some(format!("{words:?} lies over {other:?} on {} px", sheet.width));
            }
        }
        for (x, y) in along(drawing) {
            let point = [x - 5, y - 5, x + 5, y + 5];
            if let Some((_, words)) = areas.iter().find(|(area, _)| meet(*area, point)) {
                return Some(format!("a line goes through {words:?} at {x} {y} on {} px", sheet.width));
            }
        }
    }
    None
}

/// A pedigree of up to eight generations and sixty nodes: every brood takes its parents from deeper ones, any of them,
/// so that some are met often and some lines skip generations.
fn pedigrees() -> impl Strategy<Value = Sounding> {
    let side = || {
        (
            prop_oneof![Just(Draw::One), Just(Draw::Many)],
            prop::collection::vec((any::<prop::sample::Index>(), 0..3_usize, 1..12_u32), 0..4),
        )
    };
    let code =
        prop_oneof![Just("AC-23-01"), Just("XX"), Just("MWM-2024-117"), Just("A pond of many colours, 3")];
    let made = (
        code,
        side(),
        side(),
        any::<bool>(),
        prop::option::of(Just("Apistogramma cacatuoides \u{201c}orange\u{201d}")),
    );
    let layers = prop::collection::vec(prop::collection::vec((made, 0..8_u8), 1..9), 1..9);
    layers.prop_map(|layers| {
        let mut at = 0;
        let ids: Vec<Vec<usize>> = layers
            .iter()
            .enumerate()
            .map(|(depth, layer)| {
                let many = if depth == 0 { 1 } else { layer.len() };
                let many = many.min(60_usize.saturating_sub(at));
                at += many;
                (at - many..at).collect()
            })
            .collect();
        let mut nodes = BTreeMap::new();
        for (depth, layer) in layers.iter().enumerate() {
            for (id, ((code, fathers, mothers, cross, differs), kind)) in ids[depth].iter().zip(layer) {
                let side = |(draw, of): &(Draw, Vec<(prop::sample::Index, usize, u32)>)| {
                    let mut entries = Vec::new();
                    for (pick, skip, n) in of {
                        let from = ids.get(depth + 1 + skip).or_else(|| ids.get(depth + 1));
                        let node = from
                            .filter(|from| !from.is_empty())
                            .map(|from| node(from[pick.index(from.len())]));
                        entries.push(Entry { node, n: *n });
                    }
                    if entries.is_empty() { Side::NotKnown } else { Side::Known { draw: *draw, of: entries } }
                };
                let met = if *kind == 0 && depth > 0 {
                    end()
                } else {
                    Met::Brood(Brood {
                        code: (*code).into(),
                        month: (*kind != 1).then(|| "Sept 2025".to_owned()),
                        young: (*kind > 2).then(|| "about 140 eggs".to_owned()),
                        differs: differs.map(str::to_owned).filter(|_| *kind == 3),
                        cross: *cross && *kind == 3,
                        fathers: side(fathers),
                        mothers: side(mothers),
                    })
                };
                nodes.insert(node(*id), met);
            }
        }
        Sounding { of: node(0), nodes }
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, ..ProptestConfig::default() })]

    #[test]
    fn whatever_was_bred_it_can_be_read(sounding in pedigrees()) {
        prop_assert_eq!(unreadable(&sounding), None);
        // everything that the brood descends from has its row, and is drawn once
        let rows: BTreeSet<NodeId> = sounding.in_words().iter().map(|row| row.node).collect();
        let drawn = sounding.picture().expect("the brood is told").wide;
        let codes = drawn.words.iter().filter(|text| text.class == "root").count();
        prop_assert!(codes >= 1 && rows.contains(&sounding.of));
        prop_assert_eq!(rows.len(), sounding.in_words().len());
        let again = sounding.picture().expect("the brood is told").wide;
        let places = |drawing: &Drawing| drawing.words.iter().map(|text| (text.at, text.words.clone())).collect::<Vec<_>>();
        prop_assert_eq!(places(&drawn), places(&again));
    }
}

#[test]
fn what_is_not_known_has_no_line_and_a_candidate_a_broken_one() {
    let sounding = sounding(vec![
        brood("AC-26-01", known(Draw::One, &[(1, 2), (2, 1)]), known(Draw::One, &[(3, 1)])),
        brood("AC-25-03", known(Draw::One, &[(4, 1)]), known(Draw::One, &[(4, 1)])),
        brood("AC-25-04", Side::NotKnown, known(Draw::Many, &[(4, 2)])),
        brood("AC-25-02", Side::NotKnown, Side::NotKnown),
        end(),
    ]);
    assert_eq!(unreadable(&sounding), None);
    let drawing = sounding.picture().expect("a picture").narrow;
    let of = |class: &str| drawing.curves.iter().filter(|curve| curve.class == class).count();
    // one line where father and mother are of one brood
    assert_eq!((of("maybe"), of("descent")), (2, 3));
    let said: Vec<&str> = drawing.words.iter().map(|text| text.words.as_str()).collect();
    for words in [
        "\u{2642}\u{fe0e} 1 of 3",
        "\u{2640}\u{fe0e} 1",
        "\u{2642}\u{fe0e}\u{2640}\u{fe0e} 1 and 1",
        "\u{2642}\u{fe0e} not known",
    ] {
        assert!(said.contains(&words), "{words:?} is not in {said:?}");
    }
    let told: Vec<String> =
        sounding.in_words().iter().map(|row| format!("{}: {}", row.name.text(), row.told.text())).collect();
    assert_eq!(
        told[0].replace('\u{a0}', " "),
        "AC-26-01: Mar 2025, 34 young. Father: one of 3 males: 2 of AC-25-03 or 1 of AC-25-04. Mother: a female of AC-25-02."
    );
    assert!(
        told.iter().any(|row| row.contains("Father: not known. Mothers: 2 females of founders, wild 2017")),
        "{told:#?}"
    );
}

#[test]
fn a_brood_that_is_met_twice_is_drawn_once_and_below_all_its_young() {
    let sounding = sounding(vec![
        brood("A", known(Draw::One, &[(1, 1)]), known(Draw::One, &[(2, 1)])),
        brood("B", known(Draw::One, &[(2, 1)]), Side::NotKnown),
        brood("C", Side::NotKnown, Side::NotKnown),
    ]);
    let drawing = sounding.picture().expect("a picture").wide;
    let at = |code: &str| {
        drawing.words.iter().filter(|text| text.words == code).map(|text| text.at.1).collect::<Vec<_>>()
    };
    assert_eq!(at("C").len(), 1);
    assert!(at("C")[0] > at("B")[0]);
    assert_eq!(sounding.generations(), 2);
}

#[test]
fn a_circle_of_records_is_drawn_and_told() {
    let sounding = sounding(vec![
        brood("A", known(Draw::One, &[(1, 1)]), Side::NotKnown),
        brood("B", known(Draw::One, &[(0, 1)]), known(Draw::One, &[(1, 1)])),
    ]);
    assert_eq!(unreadable(&sounding), None);
    assert_eq!(sounding.in_words().len(), 2);
}

#[test]
fn of_very_deep_records_the_nearest_generations_are_drawn_and_all_are_told() {
    let mut nodes: Vec<Met> =
        (0..5000).map(|at| brood("A", known(Draw::One, &[(at + 1, 1)]), Side::NotKnown)).collect();
    nodes.push(end());
    let sounding = sounding(nodes);
    let drawing = sounding.picture().expect("a picture").narrow;
    assert_eq!(drawing.words.iter().filter(|text| text.class == "code").count(), GENERATIONS);
    assert_eq!((sounding.in_words().len(), sounding.left_out()), (5001, 5001 - 1 - GENERATIONS));
}

#[test]
fn a_wide_generation_makes_the_drawing_wider_and_never_smaller() {
    let parents: Vec<(usize, u32)> = (1..8).map(|at| (at, 1)).collect();
    let mut nodes = vec![brood("A", known(Draw::One, &parents), Side::NotKnown)];
    nodes.extend((1..8).map(|at| brood(&format!("AC-25-{at:02}"), Side::NotKnown, Side::NotKnown)));
    let sounding = sounding(nodes);
    assert_eq!(unreadable(&sounding), None);
    let drawing = sounding.picture().expect("a picture").narrow;
    assert!(drawing.width > NARROW.width, "{}", drawing.width);
    let root = drawing.words.iter().find(|text| text.class == "root").expect("the brood itself");
    assert!(root.at.0 <= NARROW.width * 10, "the brood is to be seen before anybody moves the frame");
}
