//! Streams, devices and the server in one process, with everything that can go wrong between them: what 20 must
//! hold, on tens of thousands of random seasons. `TARN_FUZZ=10` plays ten times as many.

#[path = "sync/client.rs"]
mod client;
mod dice;
#[path = "sync/keeper.rs"]
mod keeper;
#[path = "sync/row.rs"]
mod row;
#[path = "sync/rules.rs"]
mod rules;
#[path = "sync/season.rs"]
mod season;
#[path = "sync/server.rs"]
mod server;
#[path = "sync/wire.rs"]
mod wire;

use std::collections::BTreeMap;

use dice::cases;
use rules::Rules;
use season::{Season, Setting, play};

const CO_KEEPER: Setting = Setting { co_keeper: true, restore: true, rollback: false, dead_phone: false };

/// Plays so many seasons, in which everything holds and everything happens.
fn all_holds(setting: Setting) {
    let mut wrong: BTreeMap<String, (usize, String)> = BTreeMap::new();
    let mut all = Season::default();
    let many = cases(4_000);
    for seed in 0..many {
        // Now and then everything is folded at every step and written out.
        let season = play(seed, Rules::DESIGN, setting, seed % 8 == 0);
        all.written += season.written;
        all.refused += season.refused;
        all.mended += season.mended;
        all.decisions_back += season.decisions_back;
        all.later_received += season.later_received;
        all.later_than_seen += season.later_than_seen;
        for what in season.wrong {
            let kind = what.split(' ').next().unwrap_or_default().to_owned();
            wrong.entry(kind).or_insert_with(|| (0, format!("seed {seed}: {what}"))).0 += 1;
        }
    }
    println!("{many} seasons: {all:?}");
    assert!(wrong.is_empty(), "{wrong:#?}");
    let back = all.decisions_back > 500 && all.later_received > 100;
    assert!(
        all.refused > 100 && all.mended > 100 && (back || !setting.restore),
        "the seasons are too dull: {all:?}"
    );
}

#[test]
fn one_account() {
    all_holds(Setting::default());
}

#[test]
fn one_account_and_older_backups() {
    all_holds(Setting { restore: true, ..Setting::default() });
}

#[test]
fn a_co_keeper_and_older_backups() {
    all_holds(CO_KEEPER);
}

#[test]
fn a_device_that_never_comes_back() {
    all_holds(Setting { dead_phone: true, ..CO_KEEPER });
}

#[test]
fn a_disk_that_is_rolled_back() {
    all_holds(Setting { rollback: true, ..CO_KEEPER });
}

/// Each rule that was wrong once is found out by what it breaks.
#[test]
fn a_wrong_rule_is_found_out() {
    let found = |rules: Rules, setting: Setting, kinds: &[&str]| {
        let broken = |seed| {
            let wrong = play(seed, rules, setting, false).wrong;
            wrong.iter().any(|what| kinds.iter().any(|kind| what.starts_with(kind)))
        };
        assert!((0..4_000).any(broken), "no season shows {kinds:?}");
    };
    found(Rules { server_mends: true, ..Rules::DESIGN }, Setting::default(), &["ORDER"]);
    found(Rules { mends_upward: false, ..Rules::DESIGN }, Setting::default(), &["ORDER"]);
    found(Rules { receipts: false, ..Rules::DESIGN }, CO_KEEPER, &["LOST", "STUCK"]);
    let rolled_back = Setting { rollback: true, ..CO_KEEPER };
    found(Rules { chains_acceptance: false, ..Rules::DESIGN }, rolled_back, &["DIVERGES"]);
    found(Rules { pull_accepts: false, ..Rules::DESIGN }, rolled_back, &["LOST", "DIVERGES"]);
}
