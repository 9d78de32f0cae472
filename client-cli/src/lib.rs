#![forbid(unsafe_code)]
//! The keeper's command line.
