//! `security.md`: each test and each file that it names is there, and its numbers add up.

use std::collections::BTreeSet;

use tarn_tests::place;

use super::read;

/// What stands between backticks.
fn named(text: &str) -> Vec<&str> {
    text.split('`').skip(1).step_by(2).collect()
}

/// A test by its module and name, or a file by its path.
fn is_there(name: &str) -> bool {
    let root = place::workspace();
    let Some((module, test)) = name.rsplit_once("::") else { return root.join(name).is_file() };
    let place = root.join("tests/tests/all").join(module.replace("::", "/"));
    [place.with_extension("rs"), place.join("mod.rs")]
        .iter()
        .filter_map(|file| std::fs::read_to_string(file).ok())
        .any(|text| text.contains(&format!("fn {test}(")))
}

fn is_number(number: &str) -> bool {
    let parts: Vec<&str> = number.strip_prefix('V').unwrap_or_default().split('.').collect();
    parts.len() == 3 && parts.iter().all(|part| part.parse::<u8>().is_ok())
}

#[test]
fn the_table_is_true_to_the_sources() {
    assert!(!is_there("deploy::security::no_such_test") && !is_there("deploy/no-such-file"));
    let text = read("security.md");
    let (tables, summary) = text.split_once("## Not met, in all").expect("a list of what is not met");
    let (mut all, mut open, mut met) = (BTreeSet::new(), BTreeSet::new(), 0);
    for row in tables.lines().filter(|line| line.starts_with("| V")) {
        let cells: Vec<&str> = row.trim_matches('|').split(" | ").map(str::trim).collect();
        let [number, _, shown] = cells[..] else { panic!("{row}") };
        assert!(is_number(number) && all.insert(number), "{number} is odd or stands twice");
        let names = named(shown);
        let missing: Vec<&&str> = names.iter().filter(|name| !is_there(name)).collect();
        assert!(missing.is_empty(), "{number}: {missing:?} are not there");
        if shown.starts_with("not met: ") {
            open.insert(number);
        } else if !shown.starts_with("not applicable: ") {
            assert!(!names.is_empty(), "{number} is shown nowhere");
            met += 1;
        }
    }
    let listed = summary.split(|c: char| c == ',' || c.is_whitespace()).filter(|word| is_number(word));
    assert_eq!(listed.collect::<BTreeSet<_>>(), open);
    let (total, rest) = (all.len(), all.len() - met - open.len());
    let told =
        format!("{total} requirements are listed: {met} met, {} not met, {rest} not applicable.", open.len());
    assert!(text.contains(&told), "it should say: {told}");
}
