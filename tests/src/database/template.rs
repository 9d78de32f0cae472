//! The once-migrated templates, named after the migrations' sources: another schema is another template.

use super::{admin, postgres, provider, sqlite};
use crate::place;
use sea_orm_migration::MigratorTrait;
use std::fs::File;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

/// Of every file of the migrations that this program was built with, and not of those that are there now: a program that
/// is older than they are must not make the template of the new ones.
const MIGRATIONS: &str = env!("MIGRATIONS_FINGERPRINT");

/// The file of the SQLite template.
pub fn sqlite() -> &'static Path {
    static MADE: OnceLock<PathBuf> = OnceLock::new();
    MADE.get_or_init(|| {
        let _one_at_a_time = lock();
        let folder = place::shelf("test-data");
        let template = folder.join(format!("template-{MIGRATIONS}.sqlite"));
        if !template.exists() {
            let draft = folder.join(format!("draft-{}.sqlite", place::unique()));
            migrate(&sqlite::url(&draft));
            std::fs::rename(&draft, &template).expect("the template can be put in place");
        }
        template
    })
}

/// The name of the PostgreSQL template.
pub fn postgres() -> String {
    static MADE: OnceLock<String> = OnceLock::new();
    let made = MADE.get_or_init(|| {
        let _one_at_a_time = lock();
        let template = format!("tarn_template_{MIGRATIONS}");
        if !postgres::exists(&template) {
            let draft = format!("tarn_draft_{}", place::unique());
            postgres::create(&draft, None);
            migrate(&postgres::url(&draft));
            postgres::rename(&draft, &template);
        }
        template
    });
    made.clone()
}

fn migrate(url: &str) {
    let migrated = admin::wait_for(async {
        let connection = admin::connect(url).await?;
        tarn_migrations::Migrator::up(&connection, None).await?;
        connection.close().await
    });
    migrated.unwrap_or_else(|e| panic!("the migrations fail on {url}: {e}"));
}

/// Held while a template is made; other processes wait.
fn lock() -> File {
    provider::locked("template")
}
