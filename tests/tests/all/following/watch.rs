//! `tarn sync --watch`: what it brings and takes, beside other shells, over a restart, until Ctrl-C.

use serde_json::json;
use tarn_tests::on_both_engines;
use tarn_tests::society::Society;

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

/// Nothing that moves a cursor is written where there is no terminal, however long it takes.
#[test]
fn bars_are_for_terminals() {
    let s = Society::new(tarn_tests::engine::Engine::Sqlite);
    let here = client(&s, "here", "ada");
    let ops: Vec<_> = (0..800).map(|n| s.bens.op(tarn_tests::pen::tank(&format!("T{n}")))).collect();
    tarn_tests::society::taken(&s.ben, &s.room, &ops);
    let ran = here.done(&["sync"]);
    assert!(ran.stderr.contains("pulled 800") && !ran.stderr.contains(['\r', '\u{1b}']), "{ran}");
    assert_eq!(here.json(&["sync"])["pulled"], json!(0));
}
