//! Calendars (RFC 5545), read by a program that shares nothing with ours; and their addresses, which are secrets.

use super::{LONG_NAME, Told, at, messages};
use calcard::icalendar::{
    ICalendar, ICalendarComponent, ICalendarComponentType, ICalendarProperty, ICalendarValue,
};
use serde_json::json;
use tarn_tests::on_both_engines;
use tarn_tests::pen::id;
use tarn_tests::people::Person;
use tarn_tests::society::taken;

/// Makes the address of somebody's calendar; its path.
fn calendar_of(who: &Person) -> String {
    let made = who.caller.post("/api/v1/account/calendar", &json!({})).expect(201).json();
    let address = made["address"].as_str().unwrap_or_else(|| panic!("no address in {made}"));
    let (_, path) = address.split_once("/calendar/").unwrap_or_else(|| panic!("{address}"));
    format!("/calendar/{path}")
}

/// As another program reads it; and line for line as the standard wants it.
fn parsed(text: &str) -> ICalendar {
    let lines = text.strip_suffix("\r\n").expect("it ends with CRLF").split("\r\n");
    for line in lines {
        assert!(!line.contains(['\r', '\n']), "a line ends with half an end: {line:?}");
        assert!(line.len() <= 75, "{} octets: {line:?}", line.len());
    }
    ICalendar::parse(text).unwrap_or_else(|e| panic!("another program can't read it: {e:?}\n{text}"))
}

fn events(calendar: &ICalendar) -> Vec<&ICalendarComponent> {
    calendar.components.iter().filter(|c| c.component_type == ICalendarComponentType::VEvent).collect()
}

fn text_of(event: &ICalendarComponent, property: &ICalendarProperty) -> String {
    let entry = event.property(property).unwrap_or_else(|| panic!("no {property:?}"));
    match entry.values.first() {
        Some(ICalendarValue::Text(text)) => text.clone(),
        other => panic!("{property:?} is {other:?}"),
    }
}

fn seconds_of(event: &ICalendarComponent, property: &ICalendarProperty) -> i64 {
    let entry = event.property(property).unwrap_or_else(|| panic!("no {property:?}"));
    match entry.values.first() {
        Some(ICalendarValue::PartialDateTime(time)) => time.to_timestamp().expect("a whole time"),
        other => panic!("{property:?} is {other:?}"),
    }
}

fn sequence_of(event: &ICalendarComponent) -> i64 {
    match event.property(&ICalendarProperty::Sequence).and_then(|e| e.values.first()) {
        Some(ICalendarValue::Integer(n)) => *n,
        other => panic!("SEQUENCE is {other:?}"),
    }
}

on_both_engines! {
    fn a_parcel_on_its_way_is_told_to_whoever_it_is_for(engine) {
        let mut t = Told::new(engine, "2027-03-10T18:00:00Z");
        let (tank, stock, node, parcel) = (id(), id(), id(), id());
        let rows = |n: u32| json!([{"node": node, "sex": "unsexed", "n": n}]);
        let here = "2027-03-10T17:50:00Z";
        let ops = [
            t.op(&t.s.adas, here, json!({"op": "tank.added", "tank": tank, "name": "A1"})),
            t.op(&t.s.adas, here, json!({"op": "stock.established", "stock": stock, "tank": tank, "rows": rows(7),
                "founders": {"node": node, "origin": "bought", "related": "not_known"}})),
        ];
        taken(&t.s.ada, &t.s.room, &ops);
        // what the server has known for a month may leave
        t.go_to("2027-04-10T18:00:00Z");
        let handed = "2027-04-10T17:45:00Z";
        let ops = [
            t.op(&t.s.adas, handed, json!({"op": "parcel.packed", "parcel": parcel, "to": "zoe",
                "rows": [{"stock": stock, "node": node, "sex": "unsexed", "n": 3}]})),
            t.op(&t.s.adas, handed, json!({"op": "parcel.handed", "parcel": parcel})),
        ];
        taken(&t.s.ada, &t.s.room, &ops);
        for _ in 0..2 {
            t.tell();
        }
        let says = "3\u{a0}fish on the way to you, handed over Sat 10 Apr, 17:45. Say when they have arrived: their \
            quarantine begins with it.";
        assert_eq!(messages(&t.s.zoe), [says]);
        assert_eq!(messages(&t.s.ada), [""; 0]);
        let path = calendar_of(&t.s.zoe);
        let answer = t.s.stranger().get(&path).expect(200);
        let calendar = parsed(&answer.text);
        let [event] = events(&calendar)[..] else { panic!("{}", answer.text) };
        assert_eq!(text_of(event, &ICalendarProperty::Summary), "A parcel on the way");
        // all of the day: it ends where the next begins
        assert!(answer.text.contains("DTSTART;VALUE=DATE:20270410\r\nDTEND;VALUE=DATE:20270411\r\n"), "{}", answer.text);
        for name in ["ada", "ben", "wilma"] {
            assert!(!answer.text.contains(name), "{name} is named:\n{}", answer.text);
        }
        // somebody else who says it came to them takes nothing from Zoe's page
        let claim = json!({"op": "parcel.arrived", "parcel": parcel, "stock": id(), "alive": rows(3), "tank": tank});
        taken(&t.s.ada, &t.s.room, &[t.op(&t.s.adas, handed, claim)]);
        assert_eq!(events(&parsed(&t.s.stranger().get(&path).expect(200).text)).len(), 1);
        let there = id();
        let arrived = [
            t.op(&t.s.zoes, "2027-04-10T17:50:00Z", json!({"op": "tank.added", "tank": there, "name": "Q1"})),
            t.op(&t.s.zoes, "2027-04-10T17:50:00Z",
                json!({"op": "parcel.arrived", "parcel": parcel, "stock": id(), "alive": rows(3), "tank": there})),
        ];
        taken(&t.s.zoe, &t.s.other_room, &arrived);
        let text = t.s.stranger().get(&path).expect(200).text;
        assert!(!text.contains("A parcel") && text.contains("Q1"), "{text}");
    }

    fn a_calendar_holds_ones_own_days_and_no_names(engine) {
        let t = Told::new(engine, "2027-03-20T12:00:00Z");
        t.s.server.database().execute(&["UPDATE rooms SET zone = 'Europe/Oslo', name = 'Kjøkkenet; “våt”, 1'"]);
        let home = json!({"club": t.s.club.id});
        t.s.ada.caller.put(&format!("/api/v1/rooms/{}/home-club", t.s.room), &home).expect(200);
        t.s.club.member("sten", Some("health_steward"));
        t.came_in("Q1", "2027-03-10T17:40:00Z");
        t.came_in(LONG_NAME, "2027-03-18T01:30:00Z");
        let path = calendar_of(&t.s.ada);
        let answer = t.s.stranger().get(&path).expect(200);
        assert_eq!(answer.content_type, "text/calendar");
        let header = |name: &str| answer.headers.get(name).and_then(|v| v.to_str().ok()).unwrap_or_default();
        assert_eq!(header("referrer-policy"), "no-referrer");
        assert!(header("cache-control").contains("private"), "{}", header("cache-control"));
        let calendar = parsed(&answer.text);
        let all = events(&calendar);
        // Q1 has been without a look for too long already: that is in the way, and nothing ahead
        assert_eq!(all.len(), 3, "{}", answer.text);
        let (gap, first, second) = (all[0], all[1], all[2]);
        assert_eq!(text_of(gap, &ICalendarProperty::Summary), format!("{LONG_NAME}, stands alone: a look is needed"));
        assert_eq!(seconds_of(gap, &ICalendarProperty::Dtend), at("2027-03-25T01:30:00Z") / 1000);
        assert_eq!(text_of(first, &ICalendarProperty::Summary), "Q1, stands alone: days done");
        assert_eq!(text_of(second, &ICalendarProperty::Summary), format!("{LONG_NAME}, stands alone: days done"));
        assert_eq!(text_of(first, &ICalendarProperty::Location), "Kjøkkenet; “våt”, 1");
        assert_eq!(seconds_of(first, &ICalendarProperty::Dtstart), at("2027-04-09T17:40:00Z") / 1000);
        assert_eq!(seconds_of(second, &ICalendarProperty::Dtstart), at("2027-04-17T01:30:00Z") / 1000);
        assert!(seconds_of(first, &ICalendarProperty::Dtend) > seconds_of(first, &ICalendarProperty::Dtstart));
        assert!(text_of(first, &ICalendarProperty::Description).starts_with("Its days will be done on Fri 9 Apr, 19:40."));
        // ids are hexadecimal, and "ada" may well stand in one
        let unfolded = answer.text.replace("\r\n ", "").to_lowercase();
        let words: Vec<&str> = unfolded.lines().filter(|l| !l.starts_with("uid:") && !l.starts_with("url:")).collect();
        for name in ["ada", "ben", "wilma", "sten", "zoe", "fellside", "ford"] {
            assert!(!words.iter().any(|line| line.contains(name)), "{name} is named:\n{}", answer.text);
        }
        // the same until something is written; then the same things, of a later version
        assert_eq!(t.s.stranger().get(&path).expect(200).text, answer.text);
        let uid = |event: &ICalendarComponent| text_of(event, &ICalendarProperty::Uid);
        let (known, version) = (uid(first), sequence_of(first));
        t.came_in("Q3", "2027-03-19T10:00:00Z");
        let again = t.s.stranger().get(&path).expect(200).text;
        let again = parsed(&again);
        assert_eq!(events(&again).len(), 5);
        let moved = events(&again).into_iter().find(|event| uid(event) == known).expect("it is still there");
        assert!(sequence_of(moved) > version);
        // Ben keeps the room too, Zoe another, and Wilma only hears of both
        assert_eq!(events(&parsed(&t.s.stranger().get(&calendar_of(&t.s.ben)).expect(200).text)).len(), 5);
        for who in [&t.s.zoe, &t.s.club.secretary] {
            assert_eq!(events(&parsed(&t.s.stranger().get(&calendar_of(who)).expect(200).text)).len(), 0);
        }
    }

    fn a_calendars_address_is_the_only_way_and_stays_a_secret(engine) {
        let t = Told::logging(engine, "2027-03-20T12:00:00Z", "trace");
        let stranger = t.s.stranger();
        let old = calendar_of(&t.s.ada);
        let secret = |path: &str| path.trim_start_matches("/calendar/").trim_end_matches(".ics").to_owned();
        assert_eq!(secret(&old).len(), 22, "128 bits: {old}");
        stranger.get(&old).expect(200);
        let new = calendar_of(&t.s.ada);
        let ended = stranger.get(&old);
        let wrong = stranger.get("/calendar/AAAAAAAAAAAAAAAAAAAAAA.ics");
        for no in [&ended, &wrong] {
            no.problem(404, "not-found");
            assert_eq!(no.headers["referrer-policy"], "no-referrer");
        }
        assert_eq!(ended.text, wrong.text, "one that has ended is told like one that never was");
        stranger.get(&new).expect(200);
        t.s.ada.caller.delete("/api/v1/account/calendar").expect(204);
        t.s.ada.caller.delete("/api/v1/account/calendar").problem(404, "not-found");
        stranger.get(&new).problem(404, "not-found");
        // a page without the ending, a query behind it
        stranger.get(&format!("/calendar/{}", secret(&new))).problem(404, "not-found");
        let last = calendar_of(&t.s.ada);
        stranger.get(&format!("{last}?x={}", secret(&last))).expect(200);
        for path in [&old, &new, &last] {
            let log = t.s.server.logged();
            assert!(!log.contains(&secret(path)), "the log has it");
            assert!(log.contains("/calendar/"), "it logs that something was read");
            let like = format!("SELECT count(*) FROM audit_facts WHERE fact LIKE '%{}%'", secret(path));
            assert_eq!(t.s.server.database().count(&like), 0, "the audit has it");
        }
        assert_eq!(t.s.server.database().count("SELECT count(*) FROM audit_facts WHERE fact LIKE '%calendar%'"), 4);
        // many wrong ones are held up, whoever has a good one is not
        let mut held_up = false;
        for n in 0..100 {
            held_up |= stranger.get(&format!("/calendar/{n:022}.ics")).status == 429;
        }
        assert!(held_up, "nobody held up a hundred tries");
        stranger.get(&last).expect(200);
    }
}
