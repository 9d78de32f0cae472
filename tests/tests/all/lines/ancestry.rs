//! The page of a brood, in a real browser and over the wire: what it says, that it can be read, and who may.

use serde_json::{Value, json};
use tarn_tests::browser::Screen;
use tarn_tests::engine::Engine;
use tarn_tests::on_both_engines;
use tarn_tests::pen::{Pen, clock, id, now_ms};
use tarn_tests::society::{Society, taken};

use super::{signed_in, young};
use crate::pages::{assert_says, look_at};

const DAY: i64 = 86_400_000;

/// How many broods and founders stand in each generation: sixty in all, the brood itself first.
const SIZES: [usize; 9] = [1, 3, 6, 8, 9, 10, 10, 8, 5];

/// One brood or founders, and the stock they are.
#[derive(Clone)]
struct Kept {
    node: String,
    stock: String,
}

/// Ada's room with a line of eight generations.
struct Line {
    society: Society,
    brood: Kept,
    code: String,
}

fn dated(pen: &Pen, days: i64, body: Value) -> Value {
    let mut op = pen.op(body);
    op["at"] = format!("{}Z", &clock(now_ms() - (days * DAY).max(60_000))[..19]).into();
    op
}

fn side(draw: &str, of: &[(&Kept, u32)]) -> Value {
    let of: Vec<Value> =
        of.iter().map(|(kept, n)| json!({"stock": kept.stock, "node": kept.node, "n": n})).collect();
    json!({"of": of, "draw": draw})
}

impl Line {
    fn new(engine: Engine) -> Self {
        let society = Society::new(engine);
        let kept: Vec<Vec<Kept>> =
            SIZES.iter().map(|n| (0..*n).map(|_| Kept { node: id(), stock: id() }).collect()).collect();
        let last = SIZES.len() - 1;
        let mut ops = Vec::new();
        for (at, depth) in (0..=last).rev().enumerate() {
            let days = 200 * i64::try_from(last - at).expect("few") + 40;
            for (i, own) in kept[depth].iter().enumerate() {
                let body = if depth == last {
                    json!({"op": "stock.established", "stock": own.stock, "species": "Apistogramma cacatuoides",
                        "founders": {"node": own.node, "origin": if i == 0 { "wild" } else { "bought" },
                            "related": "not_known", "locality": "Rio Secreto"},
                        "rows": [{"node": own.node, "sex": "male", "n": 3}, {"node": own.node, "sex": "female", "n": 3}]})
                } else {
                    Self::found(&kept, depth, i)
                };
                ops.push(dated(&society.adas, days, body));
            }
        }
        for some in ops.chunks(20) {
            taken(&society.ada, &society.room, some);
        }
        let code = code(0, 0);
        Self { brood: kept[0][0].clone(), society, code }
    }

    /// A brood of the generation: its mother's sister may be its father's, one side may be several, or not known.
    fn found(kept: &[Vec<Kept>], depth: usize, i: usize) -> Value {
        let own = &kept[depth][i];
        let deeper = &kept[depth + 1];
        let father = &deeper[i % deeper.len()];
        let mother = &deeper[(i + deeper.len().saturating_sub(kept[depth].len()).max(1)) % deeper.len()];
        let far = kept.get(depth + 2).and_then(|far| far.get(i));
        let mut body = json!({"op": "young.found", "brood": own.node, "stock": own.stock, "code": code(depth, i),
            "name": {"species": "Apistogramma cacatuoides", "determined_by": "Ines Marlow", "sure": true},
            "sires": side("one", &[(father, 1)]), "dams": side("one", &[(mother, 1)]),
            "rows": [{"node": own.node, "sex": "unsexed", "n": 20 + i}]});
        match (depth, i) {
            (0, _) => {
                body["sires"] = side("one", &[(&deeper[0], 2), (&deeper[1], 1)]);
                body["dams"] = side("one", &[(&deeper[2], 1)]);
            }
            (_, 1) if far.is_some() => {
                body["sires"] = side("one", &[(father, 1), (far.expect("it is some"), 3)]);
            }
            (_, 3) => body["dams"] = side("many", &[(mother, 2)]),
            (5.., 2) => drop(body.as_object_mut().expect("an object").remove("dams")),
            _ => {}
        }
        if (depth, i) == (2, 0) {
            body["name"]["form"] = "double red".into();
        }
        body
    }

    fn page(&self) -> String {
        self.society.server.url(&format!("/broods/{}", self.brood.node))
    }
}

fn code(depth: usize, i: usize) -> String {
    format!("AC-{}-{:02}", 26 - depth, i + 1)
}

/// What is wrong with the drawing that is shown, as the browser has laid it out: words over one another or outside, type
/// that is too small or scaled, lines through words.
const LOOK: &str = r"
const svg = [...document.querySelectorAll('svg.sounding')].find(s => s.getClientRects().length);
if (!svg) return { wrong: ['no drawing is shown'] };
const wrong = [], box = svg.viewBox.baseVal, texts = [...svg.querySelectorAll('text')];
const scale = svg.getBoundingClientRect().width / box.width;
if (Math.abs(scale - 1) > 0.001) wrong.push(`scaled by ${scale}`);
const all = texts.map(t => ({ words: t.textContent, box: t.getBBox(), size: parseFloat(getComputedStyle(t).fontSize) }));
for (const [i, a] of all.entries()) {
  const right = a.box.x + a.box.width, foot = a.box.y + a.box.height;
  if (a.size * scale < 11) wrong.push(`${a.words}: ${a.size} px`);
  if (a.box.x < 0 || right > box.width || a.box.y < 0 || foot > box.height) wrong.push(`${a.words} is outside`);
  for (const b of all.slice(i + 1)) {
    if (a.box.x < b.box.x + b.box.width && b.box.x < right && a.box.y < b.box.y + b.box.height && b.box.y < foot)
      wrong.push(`${a.words} over ${b.words}`);
  }
}
for (const path of svg.querySelectorAll('path')) {
  const long = path.getTotalLength();
  for (let at = 0; at <= long; at += 2) {
    const p = path.getPointAtLength(at);
    // the letters themselves: the box of a line of type is higher than they are
    const through = all.find(a => a.box.x < p.x && p.x < a.box.x + a.box.width &&
      a.box.y + a.box.height * 0.2 < p.y && p.y < a.box.y + a.box.height * 0.85);
    if (through) { wrong.push(`a line through ${through.words}`); break; }
  }
}
return { wrong, texts: all.length, width: box.width, smallest: Math.min(...all.map(a => a.size)),
  codes: texts.filter(t => /^AC-/.test(t.textContent)).length, lines: svg.querySelectorAll('path').length };
";

#[test]
fn eight_generations_and_sixty_nodes_can_be_read_on_a_phone_and_at_a_desk() {
    let line = Line::new(Engine::Sqlite);
    for screen in [Screen::Phone, Screen::Desk] {
        let browser = signed_in(&line.society, screen, "ada");
        browser.visit(&line.page());
        look_at(&browser, &format!("ancestry-{screen:?}").to_lowercase());
        if screen == Screen::Phone {
            let narrow = json!({"width": 360, "height": 740, "deviceScaleFactor": 1, "mobile": true});
            browser.devtools("Emulation.setDeviceMetricsOverride", narrow);
        }
        let seen = browser.script(LOOK, vec![]);
        assert_eq!(seen["wrong"], json!([]), "{screen:?}: {seen}");
        assert_eq!(seen["codes"], 55, "every brood is drawn, and once: {seen}");
        assert!(seen["lines"].as_u64() > Some(90) && seen["smallest"].as_f64() >= Some(12.0), "{seen}");
        // what is wider than the page moves sideways by the keyboard too, and the brood is seen without moving
        let frame = browser.script(
            "const frame = [...document.querySelectorAll('.frame')].find(f => f.getClientRects().length);
             const root = frame.querySelector('.root').getBoundingClientRect(), view = frame.getBoundingClientRect();
             frame.focus(); frame.scrollLeft = 90;
             return [document.activeElement === frame, frame.scrollLeft, frame.scrollWidth > frame.clientWidth,
                 root.left >= view.left && root.right <= view.right]",
            vec![],
        );
        assert_eq!(frame, json!([true, 90, true, true]), "{screen:?}");
        assert_says(
            &browser.text("main"),
            &[
                "Ancestry of AC-26-01",
                "Apistogramma cacatuoides",
                "Determined by Ines Marlow, sure.",
                "Eight generations",
                "one of 3 males: 2 of AC-25-01 or 1 of AC-25-02. Mother: a female of AC-25-03.",
                "It descends from 54 broods, back to 5 groups of founders. Of 3 broods a parent is not known.",
                "AC-25-01: Apr 2026, 20 young.",
                "Founders: Wild, place kept back. Their parents are not recorded.",
                "20 unsexed",
            ],
        );
        assert!(
            !browser.source().contains("Rio Secreto"),
            "where fish were caught is no part of an ancestry"
        );
        assert_eq!(browser.count(".told-all li"), 60);
    }
}

on_both_engines! {
    fn whoever_got_fish_by_parcel_reads_what_was_told_with_them(engine) {
        let mut society = Society::new(engine);
        let (grand, parent) = (young("G-1", &json!({"species": "Poecilia wingei"}), &[("unsexed", 9)]),
            young("P-1", &json!({"species": "Poecilia wingei", "line": "Campo"}), &[("unsexed", 7)]));
        let ((grands, grand), (parents, mut parent)) = (grand, parent);
        let of = Kept { node: grand["brood"].as_str().expect("an id").into(), stock: grands };
        parent["sires"] = side("one", &[(&of, 2)]);
        let brood = parent["brood"].as_str().expect("an id").to_owned();
        let before = of.node.clone();
        taken(&society.ada, &society.room, &[grand, parent].map(|body| society.adas.op(body)));
        society.wait(31);
        let (parcel, rows) = (id(), |n: u32| json!([{"node": brood, "sex": "unsexed", "n": n}]));
        let packed = json!({"op": "parcel.packed", "parcel": parcel, "to": "zoe",
            "rows": [{"stock": parents, "node": brood, "sex": "unsexed", "n": 3}]});
        let handed = json!({"op": "parcel.handed", "parcel": parcel});
        taken(&society.ada, &society.room, &[packed, handed].map(|body| society.adas.op(body)));
        let (zoe, path) = (&society.zoe, format!("/api/v1/broods/{brood}"));
        zoe.caller.get(&path).problem(404, "not-found");
        let slip = zoe.caller.get(&format!("/api/v1/parcels/{parcel}")).expect(200).json();
        let arrived = json!({"op": "parcel.arrived", "parcel": parcel, "stock": id(), "alive": rows(3),
            "ancestry": slip["ancestry"]});
        taken(zoe, &society.other_room, &[society.zoes.op(arrived)]);
        let told = zoe.caller.get(&path).expect(200).json();
        assert_eq!(told["from"], json!({"room": society.other_room, "bred_here": false}));
        assert_eq!((&told["is"]["code"], &told["is"]["line"]), (&json!("P-1"), &json!("Campo")));
        assert_eq!(told["holdings"][0]["unsexed"], 3);
        // so is what it descends from
        zoe.caller.get(&format!("/api/v1/broods/{before}/ancestry")).expect(200);
        society.club.secretary.caller.get(&path).problem(404, "not-found");
    }

    fn only_holders_read_a_brood(engine) {
        let line = Line::new(engine);
        let Society { ada, ben, zoe, club, room, .. } = &line.society;
        let path = format!("/api/v1/broods/{}", line.brood.node);
        let told = ada.caller.get(&path).expect(200).json();
        assert_eq!(told["from"], json!({"room": room, "bred_here": true}));
        assert_eq!(told["determined_by"], "Ines Marlow");
        assert_eq!(told["holdings"][0]["unsexed"], 20);
        let ancestry = ben.caller.get(&format!("{path}/ancestry")).expect(200);
        let json = ancestry.json();
        let kinds = |kind: &str| json["ancestry"].as_array().expect("a list").iter().filter(|a| a["is"][kind].is_object()).count();
        assert_eq!((kinds("brood"), kinds("founders")), (55, 5));
        assert!(kinds("breeders") > 0, "{ancestry}");
        assert!(ancestry.text.contains(&line.code) && !ancestry.text.contains("Rio Secreto"), "{ancestry}");
        for stranger in [zoe, &club.secretary] {
            stranger.caller.get(&path).problem(404, "not-found");
            stranger.caller.get(&format!("{path}/ancestry")).problem(404, "not-found");
        }
        ada.caller.get(&format!("/api/v1/broods/{}", id())).problem(404, "not-found");
    }
}
