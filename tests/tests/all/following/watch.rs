//! `tarn sync --watch`: what it brings and takes, beside other shells, over a restart, until Ctrl-C.

use std::process::{Command, Stdio};
use tarn_tests::engine::Engine;
use tarn_tests::on_both_engines;
use tarn_tests::society::Society;
use tarn_tests::{place, process};

use super::client;

on_both_engines! {
    fn what_others_write_comes_and_what_is_written_here_goes(engine) {
        let s = Society::new(engine);
        let (here, there) = (client(&s, "here", "ada"), client(&s, "there", "ben"));
        let mut watch = here.stay(&["sync", "--watch"]);
        watch.until("Watching");

        there.done(&["tank", "add", "B1"]);
        there.done(&["sync"]);
        watch.until("Cellar: tank B1");
        assert!(here.done(&["tank", "list"]).stdout.contains("B1"));

        // another shell writes here
        here.done(&["tank", "add", "A1"]);
        watch.until("Pushed 1.");
        there.done(&["sync"]);
        assert!(there.done(&["tank", "list"]).stdout.contains("A1"));

        // and another one syncs here: the lock is free
        here.done(&["sync"]);
        assert_eq!(watch.interrupt().code(), Some(0), "{}", watch.said());
    }

    /// What was written while the server was away goes when it is back, and what others write comes again.
    fn it_comes_back_when_the_server_does(engine) {
        let mut s = Society::new(engine);
        let (here, there) = (client(&s, "here", "ada"), client(&s, "there", "ben"));
        let mut watch = here.stay(&["sync", "--watch"]);
        watch.until("Watching");
        s.server.stop();
        here.done(&["tank", "add", "A1"]);
        watch.until("the server does not answer");
        s.server.start_again();
        watch.until("The server answers again.");
        watch.until("Pushed 1.");
        there.done(&["tank", "add", "B1"]);
        there.done(&["sync"]);
        watch.until("Cellar: tank B1");
        assert_eq!(watch.interrupt().code(), Some(0), "{}", watch.said());
    }
}

/// A long push draws a bar on a terminal, and nothing that moves a cursor where there is none.
#[test]
fn bars_are_for_terminals() {
    let s = Society::new(Engine::Sqlite);
    let long = |name: &str, login: &str| {
        let here = client(&s, name, login);
        let sheet = here.folder().join("stock.csv");
        let rows: String = (0..400).map(|n| format!("T{n},Poecilia wingei,2.3.0\n")).collect();
        std::fs::write(&sheet, format!("tank,species,numbers\n{rows}")).expect("written");
        here.done(&["import-stock", &sheet.to_string_lossy()]);
        here
    };
    let ran = long("without", "ada").done(&["sync"]);
    assert!(ran.stderr.contains("Pushed") && !ran.stderr.contains(['\r', '\u{1b}']), "{ran}");

    let here = long("with", "zoe");
    let line = process::shown(&here.command(&["sync"]));
    let mut on_terminal = Command::new("script");
    let line = line.replacen("tarn", &place::binary("tarn").to_string_lossy(), 1);
    on_terminal.args(["-qec", &line, "/dev/null"]).env("TERM", "xterm").stdin(Stdio::null());
    // where there is no such program, no terminal can be made up
    if let Ok(shown) = on_terminal.output() {
        let said = String::from_utf8_lossy(&shown.stdout);
        assert!(said.contains("Cellar: pushing [") && said.contains("Pushed"), "{said}");
    }
}
