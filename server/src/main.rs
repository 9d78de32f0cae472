//! `tarn-server`.

#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

#[actix_web::main]
async fn main() -> std::process::ExitCode {
    tarn_server::cli::run().await
}
