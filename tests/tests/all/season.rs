//! The season of the demo on both engines: every step is checked while it is played.

use tarn_tests::on_both_engines;
use tarn_tests::season::Season;

on_both_engines! {
    fn a_season_from_the_first_member_to_a_signature(engine) {
        Season::play(engine, |line| println!("{line}"));
    }
}
