//! The secrets the server made for itself: for receipts, access tokens and cookies.
//!
//! They are rows, so that every backup carries them; made at the first start, read once.

use sea_orm::ActiveValue::Set;
use sea_orm::EntityTrait;
use sea_orm::sea_query::OnConflict;

use super::clock::Ids;
use super::db::Db;
use super::errors::{Problem, Result};
use crate::entities::server_keys::{ActiveModel, Column, Entity};

/// A key.
pub type Key = [u8; 32];

/// The server's secrets.
pub struct Keys {
    /// Signs the receipts of accepted ops.
    pub receipt: Key,
    /// The seed of the Ed25519 key that signs access tokens.
    pub access: Key,
    /// Seals cookies and form tokens.
    pub cookie: Key,
}

impl Keys {
    /// Reads them; what is missing is made. Several processes may do so at once: the first one's keys count.
    #[allow(clippy::disallowed_methods, reason = "before anything can be written the usual way")]
    pub async fn load_or_make(db: &Db, ids: &Ids, now_ms: i64) -> Result<Self> {
        let fresh = ["receipt", "access", "cookie"].map(|name| ActiveModel {
            name: Set(name.to_owned()),
            secret: Set(ids.bytes::<32>().to_vec()),
            made_ms: Set(now_ms),
        });
        Entity::insert_many(fresh)
            .on_conflict(OnConflict::column(Column::Name).do_nothing().to_owned())
            .exec_without_returning(&db.conn)
            .await?;
        let rows = Entity::find().all(&db.conn).await?;
        let key = |name: &str| {
            let secret = rows.iter().find(|row| row.name == name).map(|row| row.secret.as_slice());
            secret
                .and_then(|s| Key::try_from(s).ok())
                .ok_or_else(|| Problem::failed("reading the server's keys", name))
        };
        Ok(Self { receipt: key("receipt")?, access: key("access")?, cookie: key("cookie")? })
    }
}
