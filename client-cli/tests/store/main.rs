//! The local file: what is acknowledged stays, what is not recorded is not there, and the states it keeps are those
//! that the domain folds from the same ops.

mod history;
mod kept;
mod place;
mod states;
