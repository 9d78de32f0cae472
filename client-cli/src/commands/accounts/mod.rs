//! Who is logged in.

pub mod join;
pub mod login;
pub mod logout;
mod password;
