//! Who says what of a parcel: the room that sent it speaks for the fish, the room of the addressee for what came.

use serde_json::{Value, json};
use tarn_tests::on_both_engines;
use tarn_tests::pen::id;

use crate::lineage::{Of, Rooms};

on_both_engines! {
    fn a_parcel_that_is_claimed_twice_counts_once_and_the_second_can_be_taken_back(engine) {
        let (mut rooms, adas, _) = Rooms::new(engine);
        let young = rooms.young(Of::Ada, "PW-1", &adas);
        rooms.wait(40);
        let (parcel, _) = rooms.sent(Of::Ada, &young, 5);
        let again = rooms.write(Of::Zoe, json!({"op": "parcel.arrived", "parcel": parcel, "stock": id(),
            "alive": [{"node": young.node, "sex": "unsexed", "n": 5}]}));
        let received = rooms.until(|| rooms.ops(Of::Ada, "parcel.received").pop());
        assert_eq!(received["alive"][0]["n"], json!(5), "{received}");
        let told = rooms.s.ada.caller.get(&format!("/api/v1/parcels/{parcel}")).expect(200).json();
        assert_eq!((&told["state"], &told["open"]), (&json!("numbers_differ"), &json!(-5)), "both stay: {told}");
        rooms.write(Of::Zoe, json!({"op": "op.withdrawn", "entry": again["id"]}));
        let told = rooms.s.ada.caller.get(&format!("/api/v1/parcels/{parcel}")).expect(200).json();
        assert_eq!((&told["state"], &told["open"]), (&json!("arrived"), &json!(0)), "{told}");
        assert_eq!(told["lines"][0]["sent"], json!(5), "{told}");
    }

    fn a_forged_ancestry_is_disputed_and_the_giver_s_word_counts(engine) {
        let (mut rooms, adas, _) = Rooms::new(engine);
        let young = rooms.young(Of::Ada, "PW-1", &adas);
        rooms.wait(40);
        let (parcel, stock) = (rooms.handed(Of::Ada, &young, 4), id());
        rooms.write(Of::Zoe, json!({"op": "parcel.arrived", "parcel": parcel, "stock": stock,
            "alive": [{"node": young.node, "sex": "unsexed", "n": 4}],
            "ancestry": [{"node": young.node, "is": {"brood": {"code": "CHAMPION", "species": "Poecilia reticulata"}}}]}));
        rooms.until(|| rooms.ops(Of::Zoe, "parcel.matched").pop());
        let read = rooms.brood(Of::Zoe, &young.node);
        assert_eq!(read["is"]["code"], json!("PW-1"), "the giver's word: {read}");
        let ancestry = rooms.s.zoe.caller.get(&format!("/api/v1/broods/{}/ancestry", young.node)).expect(200).json();
        assert!(!ancestry.to_string().contains("CHAMPION"), "{ancestry}");
    }

    fn a_bag_goes_back_unopened_and_only_to_who_gave_it(engine) {
        let (mut rooms, adas, _) = Rooms::new(engine);
        let young = rooms.young(Of::Ada, "PW-1", &adas);
        rooms.wait(40);
        let (parcel, stock) = (rooms.handed(Of::Ada, &young, 4), id());
        rooms.write(Of::Zoe, json!({"op": "parcel.arrived", "parcel": parcel, "stock": stock,
            "alive": [{"node": young.node, "sex": "unsexed", "n": 4}]}));
        let back = |to: &str| json!({"op": "parcel.packed", "parcel": id(), "to": to,
            "rows": [{"stock": stock, "node": young.node, "sex": "unsexed", "n": 4}]});
        let no = rooms.tried(Of::Zoe, back("wilma"));
        assert_eq!(no["problem"]["type"], "/problems/quarantine-running", "{no}");
        // Ben keeps the room with Ada
        let packed = rooms.tried(Of::Zoe, back("ben"));
        assert!(packed["seq"].is_u64(), "{packed}");
    }

    fn fish_that_come_back_to_the_room_that_sent_them_are_no_longer_on_their_way(engine) {
        let (mut rooms, adas, _) = Rooms::new(engine);
        let young = rooms.young(Of::Ada, "PW-1", &adas);
        rooms.wait(40);
        let (parcel, stock) = (rooms.handed(Of::Ada, &young, 4), id());
        rooms.write(Of::Ada, json!({"op": "parcel.arrived", "parcel": parcel, "stock": stock,
            "alive": [{"node": young.node, "sex": "unsexed", "n": 3}], "dead": [{"node": young.node, "sex": "unsexed", "n": 1}]}));
        let told = rooms.s.ada.caller.get(&format!("/api/v1/parcels/{parcel}")).expect(200).json();
        assert_eq!((&told["state"], &told["open"]), (&json!("returned"), &json!(0)), "{told}");
        assert_eq!(told["lines"][0]["dead"], json!(1), "who died on the way is told: {told}");
        let none: Vec<Value> = rooms.ops(Of::Ada, "parcel.matched");
        assert!(none.is_empty(), "one's own parcel is not matched");
    }
}
