//! What a home room says reaches all who hold its fish, and nothing of it that is the keeper's own.

use serde_json::{Value, json};
use tarn_tests::on_both_engines;

use super::{Of, Rooms, side};

/// The copy of a brood in an op's nodes.
fn copy<'a>(nodes: &'a Value, brood: &str) -> &'a Value {
    let all = nodes.as_array().into_iter().flatten();
    all.clone().find(|copy| copy["node"] == brood).map_or(&Value::Null, |copy| &copy["is"]["brood"])
}

on_both_engines! {
    fn a_new_name_reaches_who_holds_the_fish_with_the_reason(engine) {
        let (mut rooms, adas, _) = Rooms::new(engine);
        let young = rooms.young(Of::Ada, "PW-1", &adas);
        rooms.wait(40);
        rooms.sent(Of::Ada, &young, 5);
        rooms.until(|| rooms.ops(Of::Zoe, "parcel.matched").pop());
        rooms.write(Of::Ada, json!({"op": "brood.renamed", "brood": young.node, "why": "the fin rays were counted",
            "name": {"species": "Poecilia cf. wingei", "determined_by": "Rolf Ahne", "sure": false}}));
        let told = rooms.until(|| rooms.ops(Of::Zoe, "brood.told").pop());
        assert_eq!((&told["what"], &told["why"]), (&json!("renamed"), &json!("the fin rays were counted")), "{told}");
        let now = copy(&told["nodes"], &young.node);
        assert_eq!((&now["species"], &now["line"]), (&json!("Poecilia cf. wingei"), &json!("Marsh")), "{told}");
        assert!(!told.to_string().contains("Rolf"), "who determined it stays with the breeder: {told}");
        assert!(!told.to_string().contains("marsh in"), "where founders were caught stays with their keeper: {told}");
        assert!(told.to_string().contains("2019"), "the year of it travels: {told}");
        let messages = rooms.s.zoe.caller.get("/api/v1/messages").expect(200).json();
        assert!(messages.to_string().contains("the fin rays were counted"), "{messages}");
        // told once, however often the work is done again
        rooms.s.server.command(&["mail", "send"]).expect(0);
        assert_eq!(rooms.ops(Of::Zoe, "brood.told").len(), 1);
        assert!(rooms.ops(Of::Ada, "brood.told").is_empty(), "the home is not told its own word");
    }

    fn what_was_corrected_while_the_bag_was_on_its_way_is_told_when_it_arrives(engine) {
        let (mut rooms, adas, _) = Rooms::new(engine);
        let parents = rooms.young(Of::Ada, "PW-1", &adas);
        let young = rooms.young(Of::Ada, "PW-2", &parents);
        rooms.wait(40);
        let parcel = rooms.handed(Of::Ada, &young, 4);
        rooms.write(Of::Ada, json!({"op": "brood.corrected", "brood": young.node, "sires": Value::Null}));
        // offline, without a slip: only a number is typed
        let stock = tarn_tests::pen::id();
        rooms.write(Of::Zoe, json!({"op": "parcel.arrived", "parcel": parcel, "stock": stock,
            "alive": [{"node": "unassigned", "sex": "unsexed", "n": 4}]}));
        let matched = rooms.until(|| rooms.ops(Of::Zoe, "parcel.matched").pop());
        assert_eq!(matched["told_apart"][0]["node"], json!(young.node), "of which brood they are follows: {matched}");
        assert!(!copy(&matched["ancestry"], &young.node)["sires"].is_null(), "as it was sent: {matched}");
        let told = rooms.until(|| rooms.ops(Of::Zoe, "brood.told").pop());
        let now = copy(&told["nodes"], &young.node);
        assert!(now["sires"].is_null() && !now["dams"].is_null(), "as it is now: {told}");
        let received = rooms.until(|| rooms.ops(Of::Ada, "parcel.received").pop());
        assert_eq!(received["alive"][0]["n"], json!(4), "{received}");
    }

    fn an_ancestor_is_corrected_in_a_third_room(engine) {
        let (mut rooms, adas, _) = Rooms::new(engine);
        let grandparents = rooms.young(Of::Ada, "PW-1", &adas);
        let parents = rooms.young(Of::Ada, "PW-2", &grandparents);
        rooms.wait(40);
        rooms.sent(Of::Ada, &parents, 6);
        rooms.until(|| rooms.ops(Of::Zoe, "parcel.matched").pop());
        rooms.write(Of::Ada, json!({"op": "brood.corrected", "brood": grandparents.node, "dams": Value::Null,
            "why": "the labels were mixed up"}));
        let told = rooms.until(|| rooms.ops(Of::Zoe, "brood.told").pop());
        assert_eq!(told["brood"], json!(grandparents.node), "also of what only its young came of: {told}");
        let wrong = rooms.ops(Of::Ada, "brood.corrected");
        assert_eq!(wrong.len(), 1);
    }

    fn a_brood_under_an_id_that_is_taken_is_disputed_and_never_merged(engine) {
        let (rooms, adas, zoes) = Rooms::new(engine);
        let young = rooms.young(Of::Ada, "PW-1", &adas);
        let stock = tarn_tests::pen::id();
        rooms.write(Of::Zoe, json!({"op": "young.found", "brood": young.node, "stock": stock, "code": "MINE",
            "name": {"species": "Xiphophorus hellerii"}, "sires": side(&zoes),
            "rows": [{"node": young.node, "sex": "unsexed", "n": 9}]}));
        let told = rooms.until(|| rooms.ops(Of::Zoe, "brood.told").pop());
        assert_eq!((&told["what"], &copy(&told["nodes"], &young.node)["code"]), (&json!("disputed"), &json!("PW-1")));
        assert_eq!(rooms.brood(Of::Ada, &young.node)["is"]["code"], json!("PW-1"), "its home knows nothing of it");
    }
}
