//! The ground the other tests stand on: databases of one's own that can be copied and put back.

use tarn_tests::database::Database;
use tarn_tests::on_both_engines;

const ACCOUNTS: &str = "SELECT count(*) FROM clubs";

on_both_engines! {
    /// What one test writes, no other sees; each begins with the server's tables, empty.
    fn each_test_has_a_database_of_its_own(engine) {
        let mine = Database::new(engine);
        let theirs = Database::new(engine);
        mine.execute(&["DELETE FROM clubs", "CREATE TABLE marked (n bigint)"]);
        assert_eq!(theirs.count(ACCOUNTS), 0);
        theirs.execute(&["CREATE TABLE marked (n bigint)"]);
    }

    /// A rolled-back database is what it was, under the same address, as often as one likes.
    fn a_snapshot_can_be_put_back(engine) {
        let database = Database::new(engine);
        database.execute(&["CREATE TABLE marked (n bigint)", "INSERT INTO marked VALUES (1)"]);
        let early = database.snapshot();
        for _ in 0..2 {
            database.execute(&["INSERT INTO marked VALUES (2)"]);
            assert_eq!(database.count("SELECT count(*) FROM marked"), 2);
            database.roll_back(&early);
            assert_eq!(database.count("SELECT count(*) FROM marked"), 1);
        }
        database.clear();
        database.execute(&["CREATE TABLE marked (n bigint)"]);
    }
}
