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

use std::collections::BTreeMap;

use dice::cases;
use rules::Rules;
use season::{Setting, play};

const CO_KEEPER: Setting = Setting { co_keeper: true, restore: true, rollback: false, dead_phone: false };

/// Plays so many seasons; what was wrong, by its first word, each with its first example.
fn seasons(many: u64, rules: Rules, setting: Setting) -> BTreeMap<String, (usize, String)> {
    let mut wrong: BTreeMap<String, (usize, String)> = BTreeMap::new();
    let (mut later, mut seen, mut written) = (0, 0, 0);
    for seed in 0..many {
        // Now and then everything is folded at every step and written out.
        let season = play(seed, rules, setting, seed % 8 == 0);
        later += season.later_received;
        seen += season.later_than_seen;
        written += season.written;
        for what in season.wrong {
            let kind = what.split(' ').next().unwrap_or_default().to_owned();
            wrong.entry(kind).or_insert_with(|| (0, format!("seed {seed}: {what}"))).0 += 1;
        }
    }
    println!(
        "{many} seasons, {written} entries; accepted anew after a restore: {later}, seen by the writer before: {seen}"
    );
    wrong
}

fn all_holds(setting: Setting) {
    let wrong = seasons(cases(4_000), Rules::DESIGN, setting);
    assert!(wrong.is_empty(), "{wrong:#?}");
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
