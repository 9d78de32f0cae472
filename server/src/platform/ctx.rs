//! What every action of this process may use: settings, database, clock, ids, keys, queue.
//!
//! Made once in `app.rs`; a clone is a handle. Nothing of an area stands here.

use std::any::{Any, TypeId};
use std::collections::HashMap;
use std::ops::Deref;
use std::sync::{Arc, Mutex, PoisonError};

use uuid::Uuid;

use super::clock::{Clock, Ids};
use super::config::Config;
use super::db::Db;
use super::errors::{Problem, Result};
use super::jobs::Queue;
use super::keys::Keys;
use super::mail::Post;
use super::tokens::Tokens;

/// A handle to the process's context.
#[derive(Clone)]
pub struct Ctx(Arc<Parts>);

/// See [`Ctx`].
pub struct Parts {
    /// The settings in force.
    pub config: Config,
    /// The database.
    pub db: Db,
    /// The time.
    pub clock: Clock,
    /// New ids and secrets.
    pub ids: Ids,
    /// The server's own secrets.
    pub keys: Keys,
    /// Access tokens.
    pub tokens: Tokens,
    /// Queued work.
    pub jobs: Queue,
    /// What sends mail, if there is anything.
    pub post: Option<Post>,
    /// What areas keep for the life of the process, one of a type.
    parts: Mutex<HashMap<TypeId, Arc<dyn Any + Send + Sync>>>,
}

impl Ctx {
    /// The name under which ids of this server are told elsewhere: its address, or, where it has none, one made of its
    /// key.
    pub fn issuer(&self) -> String {
        let by_key = || Uuid::new_v5(&Uuid::NAMESPACE_OID, self.tokens.kid().as_bytes()).urn().to_string();
        self.config.public_url.clone().unwrap_or_else(by_key)
    }

    /// Opens the database, brings its tables up to date and makes the keys that are missing.
    pub async fn open(config: Config) -> Result<Self> {
        if config.database_url.starts_with("sqlite:") {
            make_folder(&config.data)?;
        }
        let db = Db::open(&config.database_url).await?;
        let (clock, ids) = (Clock::shifted(config.clock_offset_ms), Ids);
        let keys = Keys::load_or_make(&db, &ids, clock.now_ms()).await?;
        let tokens = Tokens::new(&keys.access, config.public_url.as_deref().unwrap_or("urn:tarn"))
            .map_err(|err| Problem::failed("reading the signing key", err))?;
        let post = config.mail.as_ref().map(|mail| mail.post()).transpose();
        let post = post.map_err(|why| Problem::failed("mail", why))?;
        Ok(Self(Arc::new(Parts {
            config,
            db,
            clock,
            ids,
            keys,
            tokens,
            jobs: Queue::default(),
            post,
            parts: Mutex::default(),
        })))
    }
}

impl Ctx {
    /// The one value of this type that lives as long as the process: an area's cache, or what is registered with it.
    pub fn part<T: Any + Send + Sync + Default>(&self) -> Arc<T> {
        let mut parts = self.0.parts.lock().unwrap_or_else(PoisonError::into_inner);
        let part = parts.entry(TypeId::of::<T>()).or_insert_with(|| Arc::new(T::default())).clone();
        part.downcast().expect("kept under its own type")
    }

    /// Sets the one value of this type; once, in `app.rs`, before anybody asks for it.
    pub fn set_part<T: Any + Send + Sync>(&self, part: T) {
        self.0.parts.lock().unwrap_or_else(PoisonError::into_inner).insert(TypeId::of::<T>(), Arc::new(part));
    }
}

impl Deref for Ctx {
    type Target = Parts;
    fn deref(&self) -> &Parts {
        &self.0
    }
}

/// The database holds secrets: the folder is for its owner only.
fn make_folder(path: &std::path::Path) -> Result<()> {
    let mut builder = std::fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(path).map_err(|err| Problem::failed("making the data folder", err))
}
