//! The two databases that a test runs on, and the macro that makes one test of each.

/// A database engine that the server supports.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Engine {
    /// Embedded, the default.
    Sqlite,
    /// By `DATABASE_URL`.
    Postgres,
}

impl Engine {
    /// Lower-case name, as used in names of files and databases.
    pub fn name(self) -> &'static str {
        match self {
            Engine::Sqlite => "sqlite",
            Engine::Postgres => "postgres",
        }
    }
}

/// Makes two tests of one body: `name::sqlite` and `name::postgres` (`tests/run --sqlite-only` filters by that word).
///
/// ```ignore
/// on_both_engines! {
///     /// A push that is sent twice is stored once.
///     fn a_repeated_push_is_one_push(engine) {
///         let server = Server::start(engine);
///     }
/// }
/// ```
#[macro_export]
macro_rules! on_both_engines {
    ($( $(#[$meta:meta])* fn $name:ident($engine:ident) $body:block )+) => { $(
        $(#[$meta])*
        mod $name {
            #[allow(unused_imports)]
            use super::*;

            fn body($engine: $crate::engine::Engine) $body

            #[test]
            fn sqlite() {
                body($crate::engine::Engine::Sqlite)
            }

            #[test]
            fn postgres() {
                body($crate::engine::Engine::Postgres)
            }
        }
    )+ };
}
