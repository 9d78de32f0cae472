//! The same by the real client: from a notice to a swap that is done.

use super::{Board, id};
use tarn_tests::keeper::Keeper;
use tarn_tests::on_both_engines;

/// Somebody's device, logged in and synced.
fn device(b: &Board, login: &str) -> Keeper {
    let mut keeper = Keeper::new(login);
    keeper.set_clock(Some("31d".into()));
    keeper.log_in(&b.s.server.url(""), login);
    keeper
}

on_both_engines! {
    fn from_a_notice_to_a_swap_that_is_done(engine) {
        let mut b = Board::new(engine);
        let (ada, zoe) = (device(&b, "ada"), device(&b, "zoe"));
        let put_up = ["notice", "post", "for-sale", "--stock", "line Campo", "--numbers", "2 m 3 f",
            "--price", "12,50 EUR", "--area", "Upper valley", "--pickup"];
        let notice = ada.done(&put_up).stdout.trim().to_owned();
        let listed = zoe.done(&["notice", "list", "wingei", "--kind", "for-sale"]).stdout;
        assert!(listed.contains("EUR\u{a0}12.50") && listed.contains("2\u{a0}m 3\u{a0}f"), "{listed}");
        let seen = zoe.json(&["notice", "show", &notice[notice.len() - 8..]]);
        assert_eq!(seen["species"], "Poecilia wingei", "the stock's own: {seen}");
        let thread = zoe.done(&["notice", "reply", &notice, "Would", "you", "swap?"]).stdout.trim().to_owned();
        let said = ada.done(&["notice", "show", &thread]).stdout;
        assert!(said.contains("Would you swap?"), "{said}");
        ada.done(&["notice", "reply", &thread, "For how many?"]);

        let ask = format!("{notice}=1.1");
        let propose = ["swap", "propose", "--thread", &thread, "--give", "pond=6", "--ask", &ask];
        let swap = zoe.done(&propose).stdout.trim().to_owned();
        ada.done(&["swap", "say", &swap, "Saturday at the meeting"]);
        ada.done(&["swap", "agree", &swap]);
        for keeper in [&ada, &zoe] {
            keeper.done(&["swap", "pack", &swap]);
            assert_eq!(keeper.run(&["parcel", "hand"]).expect(0).code, Some(0));
            keeper.done(&["sync"]);
            assert_eq!(keeper.run(&["swap", "pack", &swap]).code, Some(1));
        }
        let shown = zoe.json(&["swap", "show", &swap]);
        assert_eq!(shown["own_parcel"]["state"], "sent", "{shown}");
        assert_eq!(shown["lines"].as_array().map(Vec::len), Some(3), "{shown}");
        for (keeper, parcel) in [(&ada, &shown["own_parcel"]), (&zoe, &shown["other_parcel"])] {
            let parcel = parcel["parcel"].as_str().expect("a parcel");
            let n = if keeper.name() == "ada" { "6" } else { "1.1" };
            keeper.done(&["tank", "add", "Q1"]);
            keeper.done(&["parcel", "arrive", parcel, "--tank", "Q1", "--alive", n]);
            keeper.done(&["sync"]);
        }
        let listed = zoe.done(&["swap", "list"]).stdout;
        assert!(listed.contains("done") && listed.contains("6\u{a0}unsexed Xenotoca eiseni"), "{listed}");
        ada.done(&["notice", "end", &notice, "--done"]);
        assert_eq!(zoe.run(&["notice", "show", &notice]).code, Some(2), "it is off the board");
        ada.done(&["notice", "again", &notice]);

        // the others
        let first = zoe.done(&["swap", "propose", "--to", "ada", "--ask-words", "A pair"]).stdout.trim().to_owned();
        let give = ["swap", "propose", "--answers", &first, "--give", "line Campo=1.1", "--ask-words", "Three"];
        let second = ada.done(&give).stdout.trim().to_owned();
        zoe.done(&["swap", "decline", &second]);
        let third = zoe.done(&["swap", "propose", "--to", "ada", "--ask-words", "A pair"]).stdout.trim().to_owned();
        zoe.done(&["swap", "withdraw", &third]);
        let refused = zoe.run(&["swap", "propose", "--to", "otto", "--ask-words", "A pair"]);
        assert!(refused.code == Some(1) && refused.stderr.contains("Nobody of your clubs"), "{refused}");
        assert_eq!(zoe.run(&["swap", "agree", &id()]).code, Some(2));

        assert!(zoe.done(&["club", "board"]).stdout.contains("60 days"));
        assert_eq!(zoe.run(&["club", "board", "--days", "30"]).code, Some(1), "a secretary's");

        b.s.server.stop();
        for line in [vec!["notice", "list"], vec!["swap", "list"], vec!["swap", "pack", &swap]] {
            assert_eq!(zoe.run(&line).code, Some(3), "{line:?} needs a network");
        }
        let nobody = Keeper::new("nobody");
        assert_eq!(nobody.run(&["notice", "list"]).code, Some(4));
    }
}
