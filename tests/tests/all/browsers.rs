//! That the browser tests can fail: the checker finds what is wrong on a page made for it, and nothing on a good one.

use std::io::{BufRead, BufReader, Write};
use std::net::TcpListener;
use tarn_tests::browser::{Browser, Screen};

const GOOD: &str = "<!doctype html><html lang=en><head><title>Good</title><meta name=viewport \
    content='width=device-width'></head><body><main><h1>Good</h1><p>Read me.</p></main></body></html>";
const BAD: &str = "<!doctype html><html><head><title>Bad</title><meta name=viewport content='width=device-width'>\
    </head><body><main><h1>Bad</h1><img src='data:,'><p style='color:#ccc;background:#fff'>Faint.</p>\
    <form><input name=nameless></form></main></body></html>";

/// Answers every request with one of the two pages, under the strict policy that the server's own pages have.
fn pages() -> String {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
    let address = format!("http://{}", listener.local_addr().expect("an address"));
    std::thread::spawn(move || {
        for mut stream in listener.incoming().flatten() {
            let mut request = String::new();
            let mut reader = BufReader::new(&stream);
            let _ = reader.read_line(&mut request);
            let page = if request.contains("/good") { GOOD } else { BAD };
            let policy =
                "Content-Security-Policy: default-src 'self'; style-src 'unsafe-inline'; img-src data:";
            let length = page.len();
            let head =
                format!("HTTP/1.1 200 OK\r\nContent-Type: text/html\r\n{policy}\r\nContent-Length: {length}");
            let _ = write!(stream, "{head}\r\nConnection: close\r\n\r\n{page}");
        }
    });
    address
}

#[test]
fn the_accessibility_checker_finds_what_is_wrong() {
    let address = pages();
    let browser = Browser::start(Screen::Phone);
    browser.visit(&format!("{address}/good"));
    assert_eq!(browser.text("h1"), "Good");
    browser.check_accessibility();
    browser.screenshot("self-test");
    browser.visit(&format!("{address}/bad"));
    let found = browser.violations().join("\n");
    for rule in ["html-has-lang", "image-alt", "color-contrast", "label"] {
        assert!(found.contains(rule), "{rule} is missing in:\n{found}");
    }
}
