//! Long answers are packed as the caller can unpack them; the client asks for zstd first.

use reqwest::blocking::Client;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpListener;
use tarn_tests::keeper::Keeper;
use tarn_tests::on_both_engines;
use tarn_tests::pen::tank;
use tarn_tests::people::PASSWORD;
use tarn_tests::society::{Society, taken};

use super::from_first;

on_both_engines! {
    fn a_pull_is_packed_as_asked(engine) {
        let s = Society::new(engine);
        let ops: Vec<_> = (0..50).map(|n| s.adas.op(tank(&format!("T{n}")))).collect();
        taken(&s.ada, &s.room, &ops);
        let path = from_first(&s, &s.ada, "ops");
        let plain = s.ada.caller.request(reqwest::Method::GET, &path).header("accept-encoding", "identity");
        let plain = plain.send().and_then(|answer| answer.bytes()).expect("an answer");
        // one that leaves the answer as it came
        let as_it_comes = Client::builder().no_zstd().no_gzip().build().expect("a client");
        let asked = |codings: &str| {
            let request = s.ada.caller.request(reqwest::Method::GET, &path).header("accept-encoding", codings);
            let answer = as_it_comes.execute(request.build().expect("a request")).expect("an answer");
            let coding = answer.headers().get("content-encoding").and_then(|v| v.to_str().ok()).map(str::to_owned);
            (coding.unwrap_or_default(), answer.bytes().expect("a body"))
        };
        for codings in ["zstd", "zstd,gzip", "gzip, zstd", "gzip;q=0.5, zstd"] {
            let (coding, body) = asked(codings);
            assert_eq!(coding, "zstd", "{codings}");
            assert!(body.len() < plain.len() / 2, "{} of {}", body.len(), plain.len());
            assert_eq!(zstd::decode_all(&body[..]).expect("zstd"), plain, "{codings}");
        }
        for codings in ["gzip", "gzip, zstd;q=0.1", "gzip, zstd;q=0"] {
            let (coding, body) = asked(codings);
            let mut read = Vec::new();
            flate2::read::GzDecoder::new(&body[..]).read_to_end(&mut read).expect("gzip");
            assert_eq!((coding.as_str(), &read[..]), ("gzip", &plain[..]), "{codings}");
        }
    }
}

#[test]
fn the_client_asks_for_zstd_first() {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
    let url = format!("http://{}", listener.local_addr().expect("an address"));
    let head = std::thread::spawn(move || {
        let (mut caller, _) = listener.accept().expect("a caller");
        let lines = BufReader::new(caller.try_clone().expect("a second hand")).lines();
        let head: Vec<String> = lines.map_while(Result::ok).take_while(|line| !line.is_empty()).collect();
        let no = b"HTTP/1.1 404 Not Found\r\ncontent-length: 0\r\nconnection: close\r\n\r\n";
        caller.write_all(no).expect("answered");
        head
    });
    let login = ["login", &url, "--login", "ada", "--password-stdin"];
    Keeper::new("asks").run_with_input(&login, &format!("{PASSWORD}\n")).expect(1);
    let head = head.join().expect("a request");
    let asked =
        head.iter().find_map(|line| line.to_lowercase().strip_prefix("accept-encoding: ").map(str::to_owned));
    assert_eq!(asked.as_deref(), Some("zstd,gzip"), "{head:?}");
}
