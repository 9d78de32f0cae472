//! Every table an archive holds, in the order in which they can be filled: owners before what belongs to them.

use crate::entities as e;
use crate::platform::archive::Shape;

/// All of them; a test holds the list against the database.
pub fn all() -> Vec<Shape> {
    vec![
        Shape::of(e::server_keys::Entity),
        Shape::of(e::accounts::Entity),
        Shape::of(e::sessions::Entity),
        Shape::of(e::refresh_tokens::Entity),
        Shape::of(e::second_factors::Entity),
        Shape::of(e::recovery_codes::Entity),
        Shape::of(e::pending_sign_ins::Entity),
        Shape::of(e::account_telling::Entity),
        Shape::of(e::calendar_feeds::Entity),
        Shape::of(e::mail_links::Entity),
        Shape::of(e::young_accounts::Entity),
        Shape::of(e::clubs::Entity),
        Shape::of(e::club_members::Entity),
        Shape::of(e::club_people::Entity),
        Shape::of(e::club_roles::Entity),
        Shape::of(e::club_rules::Entity),
        Shape::of(e::invitations::Entity),
        Shape::of(e::streams::Entity),
        Shape::of(e::stream_lines::Entity),
        Shape::of(e::devices::Entity),
        Shape::of(e::ops::Entity),
        Shape::of(e::op_counts::Entity),
        Shape::of(e::gone_streams::Entity),
        Shape::of(e::rooms::Entity),
        Shape::of(e::room_keepers::Entity),
        Shape::of(e::room_caretakers::Entity),
        Shape::of(e::room_links::Entity),
        Shape::of(e::room_probes::Entity),
        Shape::of(e::probe_hours::Entity),
        Shape::of(e::room_tanks::Entity),
        Shape::of(e::room_stocks::Entity),
        Shape::of(e::room_stays::Entity),
        Shape::of(e::room_plumbing::Entity),
        Shape::of(e::broods::Entity),
        Shape::of(e::brood_copies::Entity),
        Shape::of(e::parcels::Entity),
        Shape::of(e::published_rooms::Entity),
        Shape::of(e::line_groups::Entity),
        Shape::of(e::line_group_members::Entity),
        Shape::of(e::club_boards::Entity),
        Shape::of(e::notices::Entity),
        Shape::of(e::threads::Entity),
        Shape::of(e::thread_lines::Entity),
        Shape::of(e::swaps::Entity),
        Shape::of(e::swap_rows::Entity),
        Shape::of(e::jobs::Entity),
        Shape::of(e::messages::Entity),
        Shape::of(e::mail_outbox::Entity),
        Shape::of(e::quarantine_watch::Entity),
        Shape::of(e::audit_facts::Entity),
        Shape::of(e::audit_seals::Entity),
    ]
}

#[cfg(test)]
mod tests {
    use sea_orm::{ConnectionTrait, DbBackend, Statement};

    use crate::platform::config::sqlite_url;
    use crate::platform::db::Db;

    #[actix_web::test]
    async fn no_table_is_left_out() {
        let folder = tempfile::tempdir().expect("a folder");
        let db = Db::open(&sqlite_url(&folder.path().join("t.sqlite"))).await.expect("opened");
        let sql = "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' \
                   AND name <> 'seaql_migrations' ORDER BY name";
        let rows = db.conn.query_all_raw(Statement::from_string(DbBackend::Sqlite, sql)).await.expect("read");
        let there: Vec<String> = rows.iter().map(|row| row.try_get_by_index(0).expect("a name")).collect();
        let mut listed: Vec<&str> = super::all().iter().map(|shape| shape.name).collect();
        listed.sort_unstable();
        assert_eq!(listed, there);
    }
}
