#![forbid(unsafe_code)]
//! The history of the server's tables, for SQLite and PostgreSQL alike.
//!
//! One file per area and change, oldest first; a file that has been released is never edited again: a
//! change is a new file. No rules and no data stand here.

use sea_orm_migration::prelude::*;

mod build;
mod m0001_platform;
mod m0002_streams;
mod m0003_accounts;
mod m0004_clubs;
mod m0005_rooms;
mod m0006_lineage;
mod m0007_parcels;
mod m0010_telling;
mod m0011_board;
mod m0012_lines;
mod m0013_copies;
mod m0014_audit;
mod m0015_people;
mod m0016_gone;
mod m0017_caretakers;
mod m0020_op_counts;
mod m0021_second_factor;
mod m0022_officers_factor;
mod m0023_ended_devices;
mod m0024_mail_links;
mod m0025_young;
mod m0031_room_links;
mod m0032_redaction;
mod m0037_probes;

/// Every migration, oldest first.
pub struct Migrator;

#[async_trait::async_trait]
impl MigratorTrait for Migrator {
    fn migrations() -> Vec<Box<dyn MigrationTrait>> {
        vec![
            Box::new(m0001_platform::Migration),
            Box::new(m0002_streams::Migration),
            Box::new(m0003_accounts::Migration),
            Box::new(m0004_clubs::Migration),
            Box::new(m0005_rooms::Migration),
            Box::new(m0006_lineage::Migration),
            Box::new(m0007_parcels::Migration),
            Box::new(m0010_telling::Migration),
            Box::new(m0011_board::Migration),
            Box::new(m0012_lines::Migration),
            Box::new(m0013_copies::Migration),
            Box::new(m0014_audit::Migration),
            Box::new(m0015_people::Migration),
            Box::new(m0016_gone::Migration),
            Box::new(m0017_caretakers::Migration),
            Box::new(m0020_op_counts::Migration),
            Box::new(m0021_second_factor::Migration),
            Box::new(m0022_officers_factor::Migration),
            Box::new(m0023_ended_devices::Migration),
            Box::new(m0024_mail_links::Migration),
            Box::new(m0025_young::Migration),
            Box::new(m0031_room_links::Migration),
            Box::new(m0032_redaction::Migration),
            Box::new(m0037_probes::Migration),
        ]
    }
}
