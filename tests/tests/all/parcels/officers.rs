//! What officers and stewards decide of parcels.

use serde_json::{Value, json};
use tarn_tests::on_both_engines;
use tarn_tests::pen::{id, tank};

use crate::lineage::{Fish, Of, Rooms};

/// Six of Ada's young on their way to Zoe, of a room under the club: the parcel, and the young.
pub fn on_the_way(rooms: &mut Rooms, adas: &Fish) -> (String, Fish) {
    let young = rooms.young(Of::Ada, "PW-1", adas);
    let home = format!("/api/v1/rooms/{}/home-club", rooms.s.room);
    rooms.s.ada.caller.put(&home, &json!({"club": rooms.s.club.id})).expect(200);
    rooms.wait(40);
    (rooms.handed(Of::Ada, &young, 6), young)
}

on_both_engines! {
    fn an_officer_who_is_no_party_settles_what_is_open_after_fourteen_days(engine) {
        let (mut rooms, adas, _) = Rooms::new(engine);
        let (parcel, _) = on_the_way(&mut rooms, &adas);
        let settlement = format!("/api/v1/parcels/{parcel}/settlement");
        let lost = json!({"id": id(), "outcome": "lost", "why": "The carrier lost the box; both say so."});
        let early = rooms.s.club.secretary.caller.post(&settlement, &lost).problem(409, "parcel-not-due");
        assert!(early["due"].is_string(), "{early}");
        rooms.s.zoe.caller.post(&settlement, &lost).problem(404, "not-found");
        rooms.wait(15);
        let waits = rooms.s.club.secretary.caller.get("/api/v1/parcels/overdue").expect(200).json();
        assert_eq!((&waits["parcels"][0]["parcel"], &waits["parcels"][0]["open"]), (&json!(parcel), &json!(6)), "{waits}");
        let officer = format!("/api/v1/clubs/{}/members/{}/roles/secretary", rooms.s.club.id, rooms.s.ada.account);
        rooms.s.club.secretary.caller.put(&officer, &json!({})).expect(204);
        rooms.s.ada.caller.post(&settlement, &lost).problem(403, "parcel-by-party");
        let no_reason = json!({"id": id(), "outcome": "lost", "why": " "});
        rooms.s.club.secretary.caller.post(&settlement, &no_reason).problem(422, "invalid");
        rooms.s.club.secretary.caller.post(&settlement, &lost).expect(200);
        rooms.s.club.secretary.caller.post(&settlement, &lost).expect(200);
        let again = json!({"id": id(), "outcome": "arrived", "why": "They are there after all."});
        rooms.s.club.secretary.caller.post(&settlement, &again).problem(409, "parcel-closed");
        let told = rooms.s.zoe.caller.get(&format!("/api/v1/parcels/{parcel}")).expect(200).json();
        assert_eq!((&told["state"], &told["open"], &told["settled"]["outcome"]), (&json!("settled"), &json!(0), &json!("lost")));
        let messages = rooms.s.zoe.caller.get("/api/v1/messages").expect(200).json();
        assert!(messages.to_string().contains("The carrier lost the box"), "{messages}");
        // they came after all: both numbers stay, and one sees it
        rooms.write(Of::Zoe, json!({"op": "parcel.arrived", "parcel": parcel, "stock": id(),
            "alive": [{"node": "unassigned", "sex": "unsexed", "n": 6}]}));
        let told = rooms.s.zoe.caller.get(&format!("/api/v1/parcels/{parcel}")).expect(200).json();
        assert_eq!(told["open"], json!(-6), "{told}");
    }

    fn a_steward_lets_fish_in_quarantine_go_in_one_parcel_to_one_keeper(engine) {
        let (rooms, ..) = Rooms::new(engine);
        let home = format!("/api/v1/rooms/{}/home-club", rooms.s.room);
        rooms.s.ada.caller.put(&home, &json!({"club": rooms.s.club.id})).expect(200);
        let steward = rooms.s.club.member("stella", Some("health_steward"));
        let (stock, node, place) = (id(), id(), tank("Q1"));
        rooms.write(Of::Ada, place.clone());
        rooms.write(Of::Ada, json!({"op": "stock.came_in", "stock": stock, "from": "shop", "tank": place["tank"],
            "founders": {"node": node, "origin": "bought", "related": "not_known"},
            "rows": [{"node": node, "sex": "unsexed", "n": 8}]}));
        let packed = |parcel: &str, to: &str| json!({"op": "parcel.packed", "parcel": parcel, "to": to,
            "rows": [{"stock": stock, "node": node, "sex": "unsexed", "n": 8}]});
        let no = rooms.tried(Of::Ada, packed(&id(), "zoe"));
        assert_eq!(no["problem"]["type"], "/problems/quarantine-running", "{no}");
        let units = steward.caller.get("/api/v1/quarantine/units").expect(200).json();
        let unit = units["rooms"][0]["units"][0]["unit"].as_str().expect("a unit").to_owned();
        let path = format!("/api/v1/quarantine/units/{unit}/parcel");
        let ask = json!({"id": id(), "room": rooms.s.room, "to": "zoe", "why": "The heating is out for weeks."});
        rooms.s.ada.caller.post(&path, &ask).problem(403, "not-a-steward");
        let nobody = json!({"id": id(), "room": rooms.s.room, "to": "nobody", "why": "The heating is out."});
        steward.caller.post(&path, &nobody).problem(422, "parcel-to-nobody");
        let agreed = steward.caller.post(&path, &ask).expect(200).json();
        let parcel = agreed["parcel"].as_str().expect("a parcel").to_owned();
        let no = rooms.tried(Of::Ada, packed(&parcel, "wilma"));
        assert_eq!(no["problem"]["type"], "/problems/quarantine-running", "to this keeper only: {no}");
        let no = rooms.tried(Of::Ada, packed(&id(), "zoe"));
        assert_eq!(no["problem"]["type"], "/problems/quarantine-running", "in this parcel only: {no}");
        rooms.write(Of::Ada, packed(&parcel, "zoe"));
        rooms.write(Of::Ada, json!({"op": "parcel.handed", "parcel": parcel}));
        let there = tank("Q9");
        rooms.write(Of::Zoe, there.clone());
        rooms.write(Of::Zoe, json!({"op": "parcel.arrived", "parcel": parcel, "stock": id(), "tank": there["tank"],
            "alive": [{"node": node, "sex": "unsexed", "n": 8}]}));
        let units = rooms.s.zoe.caller.get("/api/v1/quarantine/units").expect(200).json();
        let unit = &units["rooms"][0]["units"][0];
        assert_eq!((&unit["state"], &unit["days_done"]), (&json!("running"), &json!(0)), "they begin again: {units}");
        let told: Vec<Value> = rooms.ops(Of::Ada, "parcel.agreed");
        assert_eq!(told.len(), 1);
    }
}
