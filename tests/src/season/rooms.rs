//! Rooms recorded without a network, a spreadsheet taken over, two devices of one keeper.

use super::{CLUB, PASSWORD, Season, refused};

/// What Marta had in a spreadsheet.
const SPREADSHEET: &str = "Tank,Species,Numbers,Notes\n\
    C1,Xenotoca eiseni,4.7.12,San Marcos line\n\
    C2,Ancistrus sp. brown,1.2,about 5 years old\n";
/// The same with a number nobody can read.
const WRONG: &str = "Tank,Species,Numbers,Notes\nC1,Xenotoca eiseni,4.7.12,\nC2,Ancistrus sp. brown,a few,\n";

pub(super) fn recorded_offline(s: &mut Season) {
    let m = &s.marta;
    m.done(&["room", "create", "Boiler room", "--zone", "Europe/Dublin"]);
    m.done(&["sync"]);
    m.done(&["system", "set", "Loop A", "--net", "480l", "--sump", "90l"]);
    for (tank, place) in [("A1", "1"), ("A2", "2"), ("A3", "3"), ("A4", "4")] {
        m.done(&[
            "tank", "add", tank, "--system", "Loop A", "--stand", "left", "--shelf", "1", "--place", place,
            "--volume", "60l",
        ]);
    }
    m.done(&[
        "stock",
        "add",
        "Cacatuoides",
        "1 m 3 f",
        "--tank",
        "A1",
        "--species",
        "Apistogramma cacatuoides",
        "--form",
        "orange flash",
    ]);
    m.done(&["stock", "add", "Endlers", "6.9.40", "--tank", "A2", "--species", "Poecilia wingei"]);
    m.done(&["water", "read", "--system", "Loop A", "temperature=24.6C", "ph=7.1", "nitrate=20 mg/l"]);
    m.done(&["food", "given", "soaked mysis", "--tank", "A1", "--tank", "A2"]);
    m.done(&["look", "done", "--all"]);
    m.done(&["stock", "lost", "Endlers", "2 m", "--cause", "jumped"]);
    s.tell("Marta records her boiler room without a network: a loop of four tanks, two stocks, a look, food, a loss.");

    let file = s.marta.folder().join("stock.csv");
    let path = file.to_string_lossy().into_owned();
    std::fs::write(&file, WRONG).expect("a file can be written");
    let tanks = s.marta.json(&["tank", "list"]);
    refused(&s.marta.run(&["import-stock", &path]), "line 3");
    assert_eq!(s.marta.json(&["tank", "list"]), tanks, "nothing is half-imported");
    std::fs::write(&file, SPREADSHEET).expect("a file can be written");
    s.marta.done(&["import-stock", &path]);
    s.tell("Her old spreadsheet is refused whole for one wrong cell, by line and column; mended, it is taken over.");

    s.marta.done(&["sync"]);
    s.marta.done(&["club", "use", CLUB]);
    s.marta.done(&["sync"]);
    s.tell("She syncs, and names the club whose rule holds in her room.");
}

pub(super) fn on_two_devices(s: &mut Season) {
    let url = s.url();
    s.phone
        .run_with_input(&["login", &url, "--login", "marta", "--password-stdin"], &format!("{PASSWORD}\n"))
        .expect(0);
    s.phone.done(&["sync"]);
    s.phone.done(&["room", "use", "Boiler room"]);
    s.phone.done(&["stock", "move", "Endlers", "A3"]);
    s.phone.done(&["note", "write", "A2 rinsed", "--tank", "A2"]);
    s.marta.done(&["stock", "count", "Endlers", "4.9.35"]);
    s.marta.done(&["stock", "describe", "Endlers", "--form", "line Campo"]);
    s.phone.done(&["sync"]);
    s.marta.done(&["sync"]);
    s.phone.done(&["sync"]);
    let (desk, phone) = (s.marta.done(&["state", "--json"]), s.phone.done(&["state", "--json"]));
    assert_eq!(desk.stdout, phone.stdout, "both devices hold the same bytes");
    s.tell(
        "Phone and laptop write the same room without a network and sync in turn: both hold the same bytes.",
    );
}
