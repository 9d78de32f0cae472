//! Databases on the PostgreSQL server of this run: made, copied, dropped.

use super::admin;
use super::provider;
use reqwest::Url;

/// The address of a database on it.
pub fn url(name: &str) -> String {
    let mut url: Url = provider::postgres().parse().expect("the provider's address is one");
    url.set_path(name);
    url.into()
}

/// Makes a database, empty or as a copy of another.
pub fn create(name: &str, like: Option<&str>) {
    let mut statements = Vec::new();
    // template0 is what PostgreSQL itself recommends for an empty one: nobody can have put anything into it
    let source = like.unwrap_or("template0");
    if like.is_some() {
        // a copy is refused while anyone is connected; what a killed server left behind goes, and is waited for
        statements.push(format!(
            "SELECT pg_terminate_backend(pid, 10000) FROM pg_stat_activity \
             WHERE datname = '{source}' AND pid <> pg_backend_pid()"
        ));
    }
    statements.push(format!("CREATE DATABASE {name} TEMPLATE {source}"));
    run(&statements);
}

/// Removes a database, whoever is connected.
pub fn drop(name: &str) {
    run(&[format!("DROP DATABASE IF EXISTS {name} WITH (FORCE)")]);
}

/// Gives a database another name.
pub fn rename(from: &str, to: &str) {
    run(&[format!("ALTER DATABASE {from} RENAME TO {to}")]);
}

/// Whether there is one of this name.
pub fn exists(name: &str) -> bool {
    admin::count(provider::postgres(), &format!("SELECT count(*) FROM pg_database WHERE datname = '{name}'"))
        > 0
}

fn run(statements: &[String]) {
    let statements: Vec<&str> = statements.iter().map(String::as_str).collect();
    admin::execute(provider::postgres(), &statements);
}
