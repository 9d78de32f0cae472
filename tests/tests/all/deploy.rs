//! The files with which a server is run, tried as far as this machine can: each is read by another program, and what
//! they mention of ours is there.

mod security;

use serde_json::Value;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::Command;
use tarn_tests::api::Caller;
use tarn_tests::database::Database;
use tarn_tests::engine::Engine;
use tarn_tests::pen::{push, tank};
use tarn_tests::place::{self, Folder};
use tarn_tests::process::{self, Ran};
use tarn_tests::server::Server;
use tarn_tests::society::{Society, taken};
use yaml_rust2::{Yaml, YamlLoader};

fn folder() -> PathBuf {
    place::workspace().join("deploy")
}

fn read(name: &str) -> String {
    let file = folder().join(name);
    std::fs::read_to_string(&file).unwrap_or_else(|e| panic!("{}: {e}", file.display()))
}

fn yaml(name: &str) -> Yaml {
    let mut all = YamlLoader::load_from_str(&read(name)).unwrap_or_else(|e| panic!("{name}: {e}"));
    assert_eq!(all.len(), 1, "{name} is one document");
    all.remove(0)
}

/// Every file, by its name.
fn all() -> Vec<(String, String)> {
    let entries = std::fs::read_dir(folder()).expect("the folder").map(|entry| entry.expect("an entry"));
    let files = entries.filter(|entry| entry.path().is_file());
    let mut all: Vec<(String, String)> = files
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .map(|name| (name.clone(), read(&name)))
        .collect();
    all.sort();
    assert!(all.len() > 10, "{} files", all.len());
    all
}

/// A program of this machine that is not ours; none, if it is not here.
fn other(program: &str) -> Option<Command> {
    let found = std::env::split_paths(&std::env::var_os("PATH")?).any(|dir| dir.join(program).is_file());
    if !found {
        eprintln!("not tried: {program} is not on this machine");
    }
    found.then(|| Command::new(program))
}

fn help(program: &str, words: &[&str]) -> Ran {
    process::run(Command::new(place::binary(program)).args(words).arg("--help"))
}

/// The help of the server and of all its commands.
fn all_help() -> String {
    let first = help("tarn-server", &[]).expect(0).stdout;
    let mut text = first.clone();
    for command in commands(&first) {
        let of_command = help("tarn-server", &[&command]).expect(0).stdout;
        for verb in commands(&of_command) {
            text.push_str(&help("tarn-server", &[&command, &verb]).expect(0).stdout);
        }
        text.push_str(&of_command);
    }
    text
}

fn commands(help: &str) -> Vec<String> {
    let listed = help.split("Commands:\n").nth(1).unwrap_or_default();
    let lines = listed.lines().take_while(|line| !line.is_empty());
    let names = lines.filter(|line| line.starts_with("  ") && !line.starts_with("   "));
    let names = names.filter_map(|line| line.split_whitespace().next().map(str::to_owned));
    names.filter(|name| name != "help").collect()
}

/// What follows a program's name wherever it is called: its commands, then its flags.
fn calls(text: &str, program: &str) -> Vec<(Vec<String>, Vec<String>)> {
    let is_command = |word: &&str| !word.is_empty() && word.bytes().all(|b| b.is_ascii_lowercase());
    let mut found = Vec::new();
    for piece in text.split(['\n', '`']) {
        let words: Vec<&str> =
            piece.split_whitespace().map(|word| word.trim_matches(['"', '[', ']', ',', '\''])).collect();
        for at in 0..words.len() {
            if words[at] != program && !words[at].ends_with(&format!("/{program}")) {
                continue;
            }
            let rest = &words[at + 1..];
            let verbs: Vec<String> =
                rest.iter().take_while(|w| is_command(w)).map(|w| (*w).to_owned()).collect();
            let flags = rest.iter().filter(|word| word.starts_with("--") && word.len() > 2);
            let flags = flags.filter_map(|word| word.split('=').next().map(str::to_owned)).collect();
            if !verbs.is_empty() {
                found.push((verbs, flags));
            }
        }
    }
    found
}

#[test]
fn files_of_others_can_be_read() {
    let compose = yaml("compose.yaml");
    for (name, service) in compose["services"].as_hash().expect("services") {
        for (variable, value) in service["environment"].as_hash().into_iter().flatten() {
            let (variable, value) =
                (variable.as_str().unwrap_or_default(), value.as_str().unwrap_or_default());
            let is_secret =
                ["PASSWORD", "DATABASE_URL", "TARN_MAIL_URL"].iter().any(|secret| variable.ends_with(secret));
            assert!(!is_secret && !value.contains("://"), "{name:?} is told {variable} in the clear");
        }
    }
    let secrets = compose["secrets"].as_hash().expect("secrets");
    assert!(secrets.values().all(|secret| secret["file"].as_str().is_some()), "{secrets:?}");
    assert_eq!(compose["services"]["server"]["read_only"], Yaml::Boolean(true));
    let dashboard: Value = serde_json::from_str(&read("dashboard.json")).expect("JSON");
    assert!(dashboard["panels"].as_array().is_some_and(|panels| panels.len() > 5));
    read("tarn.toml").parse::<toml::Table>().expect("TOML");
    for unit in ["tarn.service", "tarn-backup.service", "tarn-backup.timer"] {
        let text = read(unit);
        let lines = text.lines().filter(|line| !line.is_empty() && !line.starts_with('#'));
        let odd = lines.filter(|line| !line.starts_with('[') && !line.contains('=')).collect::<Vec<_>>();
        assert!(odd.is_empty(), "{unit}: {odd:?}");
    }
}

/// With a line for everything that may be set.
#[test]
fn the_settings_are_read_by_the_server() {
    let place = Folder::new("settings");
    let text = read("tarn.toml");
    let whole: Vec<&str> = text
        .lines()
        .map(|line| line.strip_prefix("# ").filter(|rest| rest.contains(" = ")).unwrap_or(line))
        .filter(|line| *line != "trusted_proxies = [\"127.0.0.1\", \"::1\"]")
        .collect();
    assert!(whole.iter().any(|line| line.starts_with("mail_url = ")), "{whole:?}");
    for (name, settings, said) in [
        ("as-it-is", text.clone(), "127.0.0.1:9"),
        ("whole", whole.join("\n"), "127.0.0.1:9"),
        ("wrong", format!("{text}\nlistne = 1\n"), "listne"),
    ] {
        let file = place.path().join(name);
        std::fs::write(&file, settings).expect("written");
        let mut server = Server::prepare(Database::new(Engine::Sqlite));
        server.set("TARN_SETTINGS", &file.to_string_lossy());
        // nobody listens there: it gets as far as asking
        let asked = server.command(&["ready", "--listen", "127.0.0.1:9"]).expect(1);
        assert!(asked.stderr.contains(said), "{name}: {asked}");
    }
}

#[test]
fn what_the_files_mention_of_the_server_is_there() {
    let help_text = all_help();
    let known: BTreeSet<&str> = help_text
        .split(|c: char| !(c.is_ascii_uppercase() || c == '_'))
        .filter(|word| word.starts_with("TARN_") || *word == "DATABASE_URL")
        .collect();
    assert!(known.contains("TARN_METRICS_LISTEN"), "{known:?}");
    let (mut variables, mut called) = (0, 0);
    for (name, text) in all() {
        for word in text.split(|c: char| !(c.is_ascii_uppercase() || c == '_')) {
            if word.starts_with("TARN_") || word == "DATABASE_URL" {
                variables += 1;
                assert!(known.contains(word), "{name}: {word} is no setting");
            }
        }
        for (word, program) in [("tarn-server", "tarn-server"), ("srv", "tarn-server"), ("tarn", "tarn")] {
            for (verbs, flags) in calls(&text, word) {
                let words: Vec<&str> = verbs.iter().map(String::as_str).collect();
                let told = help(program, &words);
                assert_eq!(told.code, Some(0), "{name}: {program} {words:?} is no command\n{told}");
                for flag in flags.iter().filter(|flag| *flag != "--help") {
                    called += 1;
                    assert!(told.stdout.contains(flag.as_str()), "{name}: {program} {words:?} has no {flag}");
                }
                called += 1;
            }
        }
    }
    assert!(variables > 8 && called > 20, "{variables} variables, {called} calls");
}

/// The fields of a struct of the server's settings.
fn fields(file: &str, begins: &str) -> Vec<String> {
    let path = place::workspace().join("server/src/platform").join(file);
    let text = std::fs::read_to_string(path).expect("a source");
    let fields = text.split(begins).nth(1).and_then(|rest| rest.split("\n}").next()).expect("its fields");
    let names =
        fields.lines().filter_map(|line| line.trim().split_once(": ")).map(|(name, _)| name.to_owned());
    names.filter(|name| name.bytes().all(|b| b.is_ascii_lowercase() || b == b'_')).collect()
}

/// Each says its name in the environment and in the file.
#[test]
fn every_setting_says_how_it_is_set() {
    let told = help("tarn-server", &["serve"]).expect(0).stdout;
    let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
    let keys = fields("config.rs", "struct File {");
    let limits = fields("limits.rs", "struct FileLimits {");
    assert!(keys.len() > 6 && limits.len() > 4, "{keys:?} {limits:?}");
    // a table of settings is none itself
    let single = keys.iter().filter(|key| *key != "limits").map(|key| (key.clone(), key));
    for (name, key) in single.chain(limits.iter().map(|key| (format!("limits.{key}"), key))) {
        assert!(told.contains(&format!("In tarn.toml: {name}")), "{name} is not in:\n{told}");
        let variable = if key == "database_url" {
            "DATABASE_URL".into()
        } else {
            format!("TARN_{}", key.to_uppercase())
        };
        assert!(told.contains(&format!("[env: {variable}")), "{variable} is not in:\n{told}");
    }
    for beside in ["TARN_LOG ", "TARN_LOG_FORMAT=json"] {
        assert!(help("tarn-server", &[]).expect(0).stdout.contains(beside), "{beside}");
    }
}

/// The names of figures in an expression.
fn names(expression: &str) -> BTreeSet<String> {
    let words = expression.split(|c: char| !(c.is_ascii_alphanumeric() || c == '_'));
    let ours = words.filter(|word| word.starts_with("tarn_") || word.starts_with("process_"));
    ours.map(str::to_owned).collect()
}

#[test]
fn what_is_watched_is_told() {
    let alerts = yaml("alerts.yaml");
    let rules = alerts["groups"][0]["rules"].as_vec().expect("rules").clone();
    let handbook = read("handbook.md");
    let mut watched = BTreeSet::new();
    for rule in &rules {
        let summary = rule["annotations"]["summary"].as_str().expect("a summary");
        assert!(
            handbook.contains(&format!("| {summary} |")),
            "the handbook does not say what to do: {summary}"
        );
        watched.extend(names(rule["expr"].as_str().expect("an expression")));
    }
    let dashboard: Value = serde_json::from_str(&read("dashboard.json")).expect("JSON");
    for panel in dashboard["panels"].as_array().expect("panels") {
        for target in panel["targets"].as_array().expect("targets") {
            watched.extend(names(target["expr"].as_str().expect("an expression")));
        }
    }
    assert!(watched.len() > 12, "{watched:?}");

    let mut server = Server::prepare(Database::new(Engine::Sqlite));
    server.set("TARN_METRICS_LISTEN", "127.0.0.1:0");
    server.start_again();
    let s = Society::on(server);
    taken(&s.ada, &s.room, &[s.adas.op(tank("A1"))]);
    // Ada's device, and Ben's hand: refused, so that refusals are there to be counted
    let foreign = s.adas.op(tank("A2"));
    s.ben.caller.post(&format!("/api/v1/streams/{}/ops", s.room), &push(&[foreign])).expect(200);
    let logged = s.server.logged();
    let base = logged.split("metrics at ").nth(1).and_then(|rest| rest.lines().next()).expect("an address");
    let page = Caller::at(base.trim_end_matches("/metrics")).get("/metrics").expect(200).text;
    let mut told = BTreeSet::new();
    for line in page.lines().filter(|line| line.starts_with("# TYPE ")) {
        let mut words = line.split(' ').skip(2);
        let name = words.next().unwrap_or_default();
        match words.next() {
            Some("histogram") => told.extend(["_bucket", "_count", "_sum"].map(|end| format!("{name}{end}"))),
            _ => drop(told.insert(name.to_owned())),
        }
    }
    let missing: Vec<&String> = watched.difference(&told).collect();
    assert!(missing.is_empty(), "{missing:?} are not among {told:?}");
    s.stranger().get("/readyz").expect(200);
}

#[test]
fn the_units_pass_the_system_s_own_check() {
    let Some(_) = other("systemd-analyze") else { return };
    let place = Folder::new("units");
    let server = place::binary("tarn-server");
    let units: Vec<PathBuf> = ["tarn.service", "tarn-backup.service", "tarn-backup.timer"]
        .into_iter()
        .map(|name| {
            let text = read(name).replace("/usr/local/bin/tarn-server", &server.to_string_lossy());
            let file = place.path().join(name);
            std::fs::write(&file, text).expect("written");
            file
        })
        .collect();
    let verified = process::run(Command::new("systemd-analyze").arg("verify").args(&units));
    // what other units of this machine lack is no matter of ours
    let ours: Vec<&str> = verified.stderr.lines().filter(|line| line.contains("tarn")).collect();
    assert!(ours.is_empty(), "{verified}");
    for service in &units[..2] {
        let rated = process::run(
            Command::new("systemd-analyze")
                .args(["security", "--offline=true", "--threshold=20"])
                .arg(service),
        );
        rated.expect(0);
    }
}

/// Keys that a proxy would have.
fn certificate(place: &Path) -> Option<(PathBuf, PathBuf)> {
    let (key, certificate) = (place.join("key.pem"), place.join("certificate.pem"));
    let mut made = other("openssl")?;
    made.args(["req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=tarn.example"]);
    process::run(made.arg("-keyout").arg(&key).arg("-out").arg(&certificate)).expect(0);
    Some((key, certificate))
}

#[test]
fn nginx_reads_its_file() {
    let text = read("nginx.conf");
    for secret in ["calendar", "helping"] {
        let place =
            text.split(&format!("location /{secret}/ {{")).nth(1).and_then(|rest| rest.split('}').next());
        let place = place.unwrap_or_else(|| panic!("{secret} has a place of its own"));
        assert!(place.contains("access_log off;") && place.contains("error_log /dev/null"), "{place}");
    }
    assert!(
        text.contains("proxy_set_header X-Forwarded-For $remote_addr;")
            && text.contains("proxy_buffering off;")
    );
    assert!(
        text.contains("max-age=31536000; includeSubDomains") && text.contains("ssl_ciphers ECDHE+AESGCM:")
    );
    let plain = text.split("listen 443").next().unwrap_or_default();
    assert!(plain.contains("location /api/ {\n        return 403;"), "a program would be led on");
    assert!(!text.contains("$request ") && !text.contains("\"$request\""), "the query would be logged");
    let Some(mut nginx) = other("nginx") else { return };
    let place = Folder::new("nginx");
    let Some((key, certificate)) = certificate(place.path()) else { return };
    let ours = text
        .replace("/etc/letsencrypt/live/tarn.your-club.example/fullchain.pem", &certificate.to_string_lossy())
        .replace("/etc/letsencrypt/live/tarn.your-club.example/privkey.pem", &key.to_string_lossy())
        .replace("/var/log/nginx/", &format!("{}/", place.path().display()));
    let whole = place.path().join("nginx.conf");
    let pid = place.path().join("pid");
    std::fs::write(&whole, format!("pid {};\nevents {{}}\nhttp {{\n{ours}\n}}\n", pid.display()))
        .expect("written");
    process::run(nginx.args(["-t", "-c"]).arg(&whole)).expect(0);
}

#[test]
fn caddy_and_the_watcher_read_theirs() {
    let text = read("Caddyfile");
    assert!(
        text.contains("log_skip /calendar/*")
            && text.contains("log_skip /helping/*")
            && text.contains("delete token")
            && text.contains("flush_interval -1")
            && text.contains("max-age=31536000; includeSubDomains")
            && text.contains("@people not path /api/*")
    );
    if let Some(mut caddy) = other("caddy") {
        let file = folder().join("Caddyfile");
        process::run(caddy.args(["validate", "--adapter", "caddyfile", "--config"]).arg(&file)).expect(0);
    }
    if let Some(mut promtool) = other("promtool") {
        process::run(promtool.args(["check", "rules"]).arg(folder().join("alerts.yaml"))).expect(0);
    }
}

/// The container's check is the program itself, and it runs as nobody.
#[test]
fn the_image_needs_nothing_but_the_program() {
    let text = read("Containerfile");
    let manifest = std::fs::read_to_string(place::workspace().join("Cargo.toml")).expect("the manifest");
    let manifest: toml::Table = manifest.parse().expect("TOML");
    let rust = manifest["workspace"]["package"]["rust-version"].as_str().expect("a version");
    assert!(text.contains(&format!("rust:{rust}-")), "the image builds with another Rust than {rust}");
    let last = text.rsplit("FROM ").next().expect("a stage");
    for says in [
        "USER 65532",
        "CMD [\"/usr/local/bin/tarn-server\", \"ready\"]",
        "ENTRYPOINT [\"/usr/local/bin/tarn-server\"]",
    ] {
        assert!(last.contains(says), "{says} is not in:\n{last}");
    }
    assert!(!last.lines().any(|line| line.starts_with("RUN")), "there is no shell in it");
}
