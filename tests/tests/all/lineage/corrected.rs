//! Other parents than was said: decided against all rooms, and told to nobody who may not see it.

use serde_json::{Value, json};
use tarn_tests::on_both_engines;

use super::{Fish, Of, Rooms, side};

on_both_engines! {
    fn a_correction_that_would_make_a_circle_by_way_of_another_room_is_refused(engine) {
        let (mut rooms, adas, _) = Rooms::new(engine);
        let first = rooms.young(Of::Ada, "PW-1", &adas);
        rooms.wait(40);
        let (_, at_zoes) = rooms.sent(Of::Ada, &first, 6);
        rooms.until(|| rooms.ops(Of::Zoe, "parcel.matched").pop());
        let hidden = rooms.young(Of::Zoe, "SECRET", &at_zoes);
        let second = rooms.young(Of::Zoe, "Z-2", &hidden);
        // a stock of Zoe's young is here already: sent, or told of in a parcel that Ada wrote down herself
        let claimed = tarn_tests::pen::id();
        let parcel = tarn_tests::pen::id();
        rooms.write(Of::Ada, json!({"op": "parcel.arrived", "parcel": parcel, "stock": claimed,
            "alive": [{"node": second.node, "sex": "unsexed", "n": 2}],
            "ancestry": [{"node": second.node, "is": {"brood": {"code": "Z-2"}}}]}));
        let from_second = Fish { stock: claimed, node: second.node.clone() };
        let no = rooms.tried(Of::Ada, json!({"op": "brood.corrected", "brood": first.node, "sires": side(&from_second)}));
        let problem = &no["problem"];
        assert_eq!(problem["type"], "/problems/lineage-cycle", "{no}");
        let nodes = problem["nodes"].as_array().expect("nodes");
        assert!(nodes.contains(&json!(first.node)) && nodes.contains(&json!(second.node)), "{no}");
        let text = problem.to_string();
        assert!(!text.contains("SECRET") && !text.contains(&hidden.node), "what only Zoe knows is not named: {no}");
        assert!(text.contains("one brood of another room"), "{no}");
        assert!(rooms.ops(Of::Ada, "brood.corrected").is_empty(), "nothing of it is kept");
    }

    fn what_would_make_a_circle_by_being_taken_back_stays(engine) {
        let (rooms, adas, _) = Rooms::new(engine);
        let first = rooms.young(Of::Ada, "PW-1", &adas);
        let second = rooms.young(Of::Ada, "PW-2", &first);
        // second is no child of first after all, so first may be one of second
        let corrected = rooms.write(Of::Ada, json!({"op": "brood.corrected", "brood": second.node,
            "sires": side(&adas), "dams": side(&adas)}));
        rooms.write(Of::Ada, json!({"op": "brood.corrected", "brood": first.node, "sires": side(&second)}));
        let no = rooms.tried(Of::Ada, json!({"op": "op.withdrawn", "entry": corrected["id"]}));
        assert_eq!(no["problem"]["type"], "/problems/op-relied-on", "{no}");
        let no = rooms.tried(Of::Ada, json!({"op": "brood.corrected", "brood": second.node, "dams": side(&first)}));
        assert_eq!(no["problem"]["type"], "/problems/lineage-cycle", "{no}");
    }

    fn two_devices_that_contradict_each_other_agree_in_the_end(engine) {
        let (rooms, adas, _) = Rooms::new(engine);
        let young = rooms.young(Of::Ada, "PW-1", &adas);
        let one = json!({"of": [{"stock": adas.stock, "node": adas.node, "n": 3}], "draw": "one"});
        let two = json!({"of": [{"stock": adas.stock, "node": adas.node, "n": 2}], "draw": "many"});
        // Ben's op has the later clock, and arrives first
        let first = rooms.s.adas.op(json!({"op": "brood.corrected", "brood": young.node, "sires": one}));
        rooms.s.bens.wait(60_000);
        let later = rooms.s.bens.op(json!({"op": "brood.corrected", "brood": young.node, "sires": two}));
        tarn_tests::society::taken(&rooms.s.ben, &rooms.s.room, &[later]);
        tarn_tests::society::taken(&rooms.s.ada, &rooms.s.room, &[first]);
        let told = rooms.brood(Of::Ada, &young.node);
        assert_eq!(told, rooms.s.ben.caller.get(&format!("/api/v1/broods/{}", young.node)).expect(200).json());
        let ancestry = rooms.s.ada.caller.get(&format!("/api/v1/broods/{}/ancestry", young.node)).expect(200).json();
        let brood = ancestry["ancestry"].as_array().into_iter().flatten().find(|copy| copy["node"] == young.node);
        let sires = &brood.expect("the brood")["is"]["brood"]["sires"];
        assert_eq!((&sires["draw"], &sires["of"][0]["n"]), (&json!("many"), &json!(2)), "the later clock: {ancestry}");
    }

    fn parents_that_can_not_be_understood_are_refused_by_what_is_wrong(engine) {
        let (rooms, adas, _) = Rooms::new(engine);
        let young = rooms.young(Of::Ada, "PW-1", &adas);
        let group = |n: u32, weight: Value| json!({"stock": adas.stock, "node": adas.node, "n": n, "weight": weight});
        let of = |groups: Value| json!({"op": "brood.corrected", "brood": young.node, "sires": {"of": groups, "draw": "many"}});
        for (groups, says) in [
            (json!([]), "at least one parent"),
            (json!([{"stock": adas.stock, "node": adas.node, "n": 0}]), "at least one fish"),
            (json!([group(1, json!(400)), group(1, json!(500))]), "add up to 1000"),
        ] {
            let no = rooms.tried(Of::Ada, of(groups));
            assert_eq!(no["problem"]["type"], "/problems/parents-unclear", "{no}");
            assert!(no["problem"]["detail"].as_str().expect("words").contains(says), "{no}");
        }
        rooms.write(Of::Ada, of(json!([group(1, json!(400)), group(2, json!(600))])));
    }

    fn a_spawn_whose_young_were_sent_is_not_taken_back(engine) {
        let (mut rooms, adas, _) = Rooms::new(engine);
        let found = rooms.young(Of::Ada, "PW-1", &adas);
        let at_home = rooms.young(Of::Ada, "PW-2", &adas);
        rooms.wait(40);
        rooms.sent(Of::Ada, &found, 3);
        let maker = |stock: &str| {
            let made = |op: &Value| op["body"]["op"] == "young.found" && op["body"]["stock"] == stock;
            rooms.pulled(Of::Ada).into_iter().find(made).expect("the op")["id"].clone()
        };
        let no = rooms.tried(Of::Ada, json!({"op": "op.withdrawn", "entry": maker(&found.stock)}));
        assert_eq!(no["problem"]["type"], "/problems/op-relied-on", "{no}");
        rooms.write(Of::Ada, json!({"op": "op.withdrawn", "entry": maker(&at_home.stock)}));
    }
}
