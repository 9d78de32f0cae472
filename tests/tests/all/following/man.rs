//! Man pages: that they can be set, and that nobody minds a closed pipe.

use std::process::{Command, Stdio};
use tarn_tests::keeper::Keeper;
use tarn_tests::place::Folder;
use tarn_tests::process;

#[test]
fn every_page_can_be_set() {
    let (keeper, folder) = (Keeper::new("man"), Folder::new("man"));
    let dir = folder.path().join("man1");
    keeper.done(&["man", &dir.to_string_lossy()]);
    let pages: Vec<_> = std::fs::read_dir(&dir).expect("a folder").flatten().map(|e| e.path()).collect();
    assert!(pages.len() > 100, "{pages:?}");
    for page in &pages {
        let text = std::fs::read_to_string(page).expect("a page");
        for part in [".TH ", ".SH NAME", ".SH SYNOPSIS", ".SH DESCRIPTION", ".SH OPTIONS"] {
            assert!(text.contains(part), "{}: no {part}", page.display());
        }
    }
    // where they can't be set, that they are there is all that can be asked
    if Command::new("groff").arg("--version").stdout(Stdio::null()).status().is_err() {
        return;
    }
    let mut groff = Command::new("groff");
    let set = process::run(groff.args(["-man", "-Tutf8", "-Kutf8", "-ww", "-z"]).args(&pages)).expect(0);
    assert_eq!(set.stderr, "", "{set}");
    let mut man = Command::new("man");
    man.env("MANWIDTH", "100").env("LC_ALL", "C.UTF-8").arg("-l").arg(dir.join("tarn-sync.1"));
    match man.output() {
        Err(_) => {}
        Ok(shown) => {
            let text = String::from_utf8_lossy(&shown.stdout);
            assert!(shown.status.success() && text.contains("tarn sync --watch"), "{shown:?}");
        }
    }
}

#[test]
fn a_closed_pipe_is_no_failure() {
    let mut child = Keeper::new("man").spawn(&["man"]);
    drop(child.stdout.take());
    let ended = child.wait_with_output().expect("a child can be waited for");
    assert_eq!((ended.status.code(), ended.stderr.len()), (Some(0), 0), "{ended:?}");
}
