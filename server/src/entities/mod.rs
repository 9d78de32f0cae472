//! The rows of every table, and nothing else: no queries, no rules. One file per table; its first line says
//! which area owns it. Any area's store may read a table, only the owner writes it.

pub mod account_telling;
pub mod accounts;
pub mod audit_facts;
pub mod brood_copies;
pub mod broods;
pub mod calendar_feeds;
pub mod club_members;
pub mod club_roles;
pub mod club_rules;
pub mod clubs;
pub mod devices;
pub mod invitations;
pub mod jobs;
pub mod line_group_members;
pub mod line_groups;
pub mod mail_outbox;
pub mod messages;
pub mod ops;
pub mod parcels;
pub mod published_rooms;
pub mod quarantine_watch;
pub mod refresh_tokens;
pub mod room_keepers;
pub mod room_plumbing;
pub mod room_stays;
pub mod room_stocks;
pub mod room_tanks;
pub mod rooms;
pub mod server_keys;
pub mod sessions;
pub mod stream_lines;
pub mod streams;
