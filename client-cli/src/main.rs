//! `tarn`.
fn main() {}
