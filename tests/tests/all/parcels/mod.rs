//! Parcels that go otherwise than meant: claimed twice or by nobody they are for, with a forged ancestry, never closed,
//! sent back, or out of a quarantine that can't wait.

mod claimed;
mod officers;
mod pages;
