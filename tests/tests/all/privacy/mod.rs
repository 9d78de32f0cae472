//! Who reads what of a room and of a brood: every address that could speak of them as everyone, compared with the
//! checked-in table `tests/tables/privacy.tsv`. A line says a status, a field of an answer that holds a value, or a word
//! that stands in one place of the scene only. An address that is not in the table fails.
//! After a wanted change: `TARN_BLESS=1 cargo test -p tarn-tests privacy`, and read the difference.

mod people;
mod scene;
mod walk;
mod words;

use crate::contract::same_as_checked_in;
use people::{ALL, Who};
use scene::{Scene, WAITED};
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};
use tarn_tests::api::Answer;
use tarn_tests::keeper::Keeper;
use tarn_tests::on_both_engines;
use tarn_tests::site::Visitor;
use walk::{Address, addresses, fields};
use words::{WORDS, readers_of_login};

/// What everyone read.
#[derive(Default)]
struct Read {
    /// By address and what was seen there: who, and how (a status, or that it was there).
    cells: BTreeMap<(String, String), BTreeMap<Who, String>>,
    /// The addresses in the order of the table.
    order: Vec<String>,
    /// Every body as it was sent.
    bodies: Vec<(Who, String, String)>,
}

impl Read {
    fn status(&mut self, who: Who, label: &str, status: &str) {
        self.cell(who, label, "status", status);
    }

    fn cell(&mut self, who: Who, label: &str, what: &str, how: &str) {
        if !self.order.iter().any(|known| known == label) {
            self.order.push(label.to_owned());
        }
        let told = self.cells.entry((label.to_owned(), what.to_owned())).or_default();
        told.insert(who, how.to_owned());
    }

    /// The words that are in a body, and the body for the questions that are asked of all.
    fn body(&mut self, who: Who, label: &str, text: &str) {
        // one's own name stands on every page of one's own
        let own = if who == Who::IdleSteward { Who::Steward } else { who };
        let others =
            ALL.iter().filter(|one| !matches!(one, Who::Stranger | Who::IdleSteward) && **one != own);
        // a secretary made by an operator is shown by her login name
        let logins = others.clone().filter(|one| **one != Who::Secretary);
        let logins = logins.map(|one| (format!("login of {}", one.column()), one.login()));
        let shown = others.map(|one| {
            let shown = if *one == Who::Secretary { one.login() } else { one.shown() };
            (format!("name of {}", one.column()), shown)
        });
        let all = WORDS.iter().map(|word| (word.of.to_owned(), word.word.to_owned()));
        for (of, word) in all.chain(logins).chain(shown) {
            if text.contains(&word) {
                self.cell(who, label, &format!("\"{of}\""), "x");
            }
        }
        self.bodies.push((who, label.to_owned(), text.to_owned()));
    }

    fn table(&self) -> String {
        let columns: Vec<&str> = ALL.iter().map(|who| who.column()).collect();
        let mut table = format!("address\twhat\t{}\n", columns.join("\t"));
        for label in &self.order {
            // the status first, then fields, then words
            let of_it = self.cells.iter().filter(|((at, _), _)| at == label);
            let mut lines: Vec<(u8, &str, &BTreeMap<Who, String>)> = of_it
                .map(|((_, what), told)| match what.as_str() {
                    "status" => (0, "status", told),
                    word if word.starts_with('"') => (2, word, told),
                    field => (1, field, told),
                })
                .collect();
            lines.sort_by_key(|(kind, what, _)| (*kind, *what));
            for (_, what, told) in lines {
                let cells = ALL.iter().map(|who| told.get(who).map_or("-", String::as_str));
                table.push_str(&format!("{label}\t{what}\t{}\n", cells.collect::<Vec<_>>().join("\t")));
            }
        }
        table
    }
}

/// Asks for all of these as one who reads.
fn walk(scene: &Scene, who: Who, suffix: &str, addresses: &[Address], read: &mut Read) {
    let account = if who == Who::IdleSteward { Who::Steward } else { who };
    let stranger = scene.stranger();
    let caller = scene.people.get(&account).map_or(&stranger, |person| &person.caller);
    let visitor = Visitor::at(&scene.server.url(""));
    if who != Who::Stranger {
        let page = visitor.sign_in(&who.login()).expect("a page");
        assert!(!page.is_sign_in(), "{who:?} is not signed in: {}", page.html);
    }
    for address in addresses {
        let kind = if address.page { "page" } else { "GET" };
        let label = format!("{kind} {}{suffix}", address.label);
        if address.page {
            let seen = visitor.get(&address.path).unwrap_or_else(|e| panic!("{label} as {who:?}: {e}"));
            assert!(seen.status < 500, "{label} fails for {who:?}: {}", seen.html);
            let asked = if seen.is_sign_in() && address.path != "/sign-in" { "sign-in" } else { "" };
            let status = if asked.is_empty() { seen.status.to_string() } else { asked.to_owned() };
            read.status(who, &label, &status);
            read.body(who, &label, &seen.html);
        } else {
            let answer = caller.get(&address.path);
            assert!(answer.status < 500, "{label} fails for {who:?}: {answer}");
            read.status(who, &label, &answer.status.to_string());
            // an event stream is not read to its end: there is none
            if answer.status == 200 && answer.content_type != "text/event-stream" {
                for field in fields(&told_by(&answer)) {
                    read.cell(who, &label, &field, "x");
                }
            }
            read.body(who, &label, &answer.text);
        }
    }
}

/// The feed at the secret address that somebody makes for their calendar.
fn calendar(scene: &Scene, who: Who, read: &mut Read) {
    let Some(person) = scene.people.get(&who) else { return };
    let made = person.caller.post("/api/v1/account/calendar", &json!({})).expect(201).json();
    let address = made["address"].as_str().unwrap_or_else(|| panic!("no address in {made}"));
    let (_, secret) = address.split_once("/calendar/").unwrap_or_else(|| panic!("{address}"));
    let feed = scene.stranger().get(&format!("/calendar/{secret}")).expect(200);
    let label = "the calendar of one's own";
    read.status(who, label, "200");
    // folded lines would hide a word
    read.body(who, label, &feed.text.replace("\r\n ", ""));
}

/// What the holder's client prints and keeps.
fn slip(scene: &Scene, read: &mut Read) {
    let mut keeper = Keeper::new("privacy");
    keeper.set_clock(Some(WAITED.to_owned()));
    keeper.log_in(&scene.server.url(""), &Who::Holder.login());
    let label = "tarn parcel slip {parcel}";
    let printed = keeper.done(&["parcel", "slip", &scene.parcel]);
    read.status(Who::Holder, label, "0");
    for field in fields(&printed.json()) {
        read.cell(Who::Holder, label, &field, "x");
    }
    read.body(Who::Holder, label, &printed.stdout);
}

/// Everything that everyone reads.
fn all_read(scene: &mut Scene) -> Read {
    let mut read = Read::default();
    scene.publish("club", false);
    walk(scene, Who::IdleSteward, "", &addresses(scene), &mut read);
    scene.put_into_quarantine();
    let all = addresses(scene);
    let others = || ALL.into_iter().filter(|who| *who != Who::IdleSteward);
    others().for_each(|who| walk(scene, who, "", &all, &mut read));
    others().for_each(|who| calendar(scene, who, &mut read));
    slip(scene, &mut read);
    let lists: Vec<Address> = all.into_iter().filter(|one| one.path.contains("/lists")).collect();
    for (to, with_name) in [("nobody", false), ("everyone", true)] {
        scene.publish(to, with_name);
        let suffix = format!(", published to {to}");
        others().for_each(|who| walk(scene, who, &suffix, &lists, &mut read));
    }
    read
}

/// Each word is read by those who may, somewhere, and by nobody else, anywhere.
fn words_stay(read: &Read) {
    let mut leaked = BTreeSet::new();
    let mut look = |of: &str, word: &str, readers: &[Who], on_list: bool| {
        let mut told = 0;
        for (who, label, _) in read.bodies.iter().filter(|(_, _, body)| body.contains(word)) {
            // to whom a list goes is asked of it by the table
            if readers.contains(who) || (on_list && label.contains("/lists")) {
                told += 1;
            } else {
                leaked.insert(format!("{of} is read by {who:?} at {label}"));
            }
        }
        assert!(told > 0, "{of} is nowhere: what is looked for is not in the scene");
    };
    for word in WORDS {
        look(word.of, word.word, word.readers, word.on_list);
    }
    for who in ALL.into_iter().filter(|who| !matches!(who, Who::Stranger | Who::IdleSteward)) {
        let own = if who == Who::Steward { &[Who::Steward, Who::IdleSteward][..] } else { &[] };
        let readers: Vec<Who> = readers_of_login(who).iter().chain(own).copied().collect();
        if who != Who::Secretary {
            look(&format!("the login name of {who:?}"), &who.login(), &readers, false);
        }
        let own = if own.is_empty() { std::slice::from_ref(&who) } else { own };
        look(&format!("the address of {who:?}"), &who.email(), own, false);
    }
    assert!(leaked.is_empty(), "{}", leaked.into_iter().collect::<Vec<_>>().join("\n"));
}

on_both_engines! {
    /// Reading the table is reading who sees what.
    fn everyone_reads_what_the_table_says(engine) {
        let mut scene = Scene::new(engine);
        let read = all_read(&mut scene);
        same_as_checked_in("tests/tables/privacy.tsv", &read.table());
        words_stay(&read);
    }
}

/// What an answer says; of a sheet its columns, of lines each of them.
fn told_by(answer: &Answer) -> Value {
    if answer.content_type == "application/jsonl" {
        let line = |line| serde_json::from_str(line).unwrap_or_else(|e| panic!("{e}: {line}"));
        return Value::Array(answer.text.lines().map(line).collect());
    }
    if answer.content_type != "text/csv" {
        return answer.json();
    }
    let head = answer.text.lines().next().unwrap_or_default();
    Value::Object(head.split(',').map(|column| (column.to_owned(), json!("a cell"))).collect())
}
