//! A swap between two towns: offered on the board, talked over, agreed, packed on both sides, and done when both parcels
//! have arrived.

use serde_json::Value;

use super::Season;

pub(super) fn swapped(s: &mut Season) {
    s.marta.done(&["sync"]);
    s.marta.done(&[
        "notice",
        "post",
        "to-swap",
        "--stock",
        "PG-26-01",
        "--numbers",
        "6",
        "--exchange",
        "young cacatuoides",
        "--area",
        "Thornwick",
        "--posting",
    ]);
    let board = s.jonas.json(&["notice", "list"]);
    let notice = first(&board, "notice");
    let text = board.to_string();
    assert!(
        !text.contains("N1") && !text.contains("marta"),
        "neither a tank nor a login on the board: {board}"
    );
    let thread = s.jonas.json(&["notice", "reply", &notice, "I am two towns on. Would six of mine do?"]);
    let thread = thread["thread"].as_str().unwrap_or_else(|| panic!("no thread in {thread}")).to_owned();
    s.jonas.done(&["sync"]);
    s.jonas.done(&[
        "swap",
        "propose",
        "--thread",
        &thread,
        "--give",
        "Young cacatuoides=3",
        "--ask",
        &format!("{notice}=6"),
    ]);
    let swap = first(&s.marta.json(&["swap", "list"]), "swap");
    s.tell("Marta offers six of her young blue-eyes on the club\u{2019}s board. Jonas, two towns on, proposes three of his cacatuoides.");

    s.marta.done(&["swap", "agree", &swap]);
    s.marta.done(&["swap", "say", &swap, "Friday by post, if it is not too cold."]);
    for (keeper, gives) in [(&s.marta, "Marta"), (&s.jonas, "Jonas")] {
        keeper.done(&["sync"]);
        let packed = keeper.json(&["swap", "pack", &swap]);
        let parcel = packed["parcel"].as_str().unwrap_or_else(|| panic!("{gives} packs nothing: {packed}"));
        keeper.done(&["parcel", "hand", parcel]);
        keeper.done(&["sync"]);
        let told = keeper.json(&["swap", "show", &swap]);
        assert_eq!(told["own_parcel"]["state"], "sent", "{told}");
    }
    s.tell("She agrees. Each packs under the parcel that the server allotted, and hands it over.");

    for (keeper, tank) in [(&s.marta, "N9"), (&s.jonas, "T9")] {
        let told = keeper.json(&["swap", "show", &swap]);
        let parcel = told["other_parcel"]["parcel"]
            .as_str()
            .unwrap_or_else(|| panic!("no parcel in {told}"))
            .to_owned();
        keeper.done(&["tank", "add", tank, "--volume", "30l"]);
        keeper.done(&["parcel", "arrive", &parcel, "--tank", tank]);
        keeper.done(&["sync"]);
    }
    let done = (0..60).find(|_| {
        s.server.command(&["mail", "send"]).expect(0);
        s.marta.json(&["swap", "show", &swap])["state"] == "done"
    });
    assert!(done.is_some(), "it is done when both have arrived: {}", s.marta.json(&["swap", "show", &swap]));
    s.marta.done(&["sync"]);
    let came = s.marta.json(&["brood", "show", "AC-26-01"]);
    assert!(came["made"].is_string(), "her own brood came back to her with three of its fish: {came}");
    s.tell("Both parcels arrive, each into a tank of its own: the swap is done, and both are in quarantine anew.");
}

fn first(list: &Value, id: &str) -> String {
    let all = list.as_array().or_else(|| list[format!("{id}s")].as_array());
    let one = all.and_then(|all| all.first()).unwrap_or_else(|| panic!("none in {list}"));
    let found = one[id].as_str().or_else(|| one["id"].as_str());
    found.unwrap_or_else(|| panic!("no {id} in {one}")).to_owned()
}
