#![forbid(unsafe_code)]
//! `tarn`: everything is in the library.

fn main() -> std::process::ExitCode {
    tarn_cli::main()
}
