//! `tarn-server`.

#[actix_web::main]
async fn main() -> std::process::ExitCode {
    tarn_server::cli::run().await
}
