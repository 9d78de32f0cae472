//! A private, throw-away cluster from the PostgreSQL programs of this machine: on loopback, under an unprivileged user
//! when the tests run as root. Test processes share it; it ends when none of them lives any more.

use super::provider::{self, Found};
use crate::place;
use crate::process::run;
use std::fmt::Write;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::net::TcpListener;
use std::os::unix::fs::{MetadataExt, PermissionsExt, chown};
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// Who may end it: nobody while a test process holds the first argument shared. Also ends when `tests/run` ends it.
const WATCH: &str = r#"
while kill -0 "$2" 2>/dev/null; do
  sleep 5
  flock --nonblock --exclusive "$1" sh -c '
    kill -INT "$1" 2>/dev/null
    while kill -0 "$1" 2>/dev/null; do sleep 0.2; done
    rm -rf "$2"' end "$2" "$3"
done
"#;

/// A user and group to run the cluster as.
struct User {
    name: String,
    uid: u32,
    gid: u32,
}

/// Makes and starts one.
pub fn start() -> Result<Found, String> {
    let programs = programs().ok_or("no initdb on this machine")?;
    let folder = folder();
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir(&folder).map_err(|e| format!("{}: {e}", folder.display()))?;
    let open = std::fs::Permissions::from_mode(0o711);
    std::fs::set_permissions(&folder, open).map_err(|e| format!("{}: {e}", folder.display()))?;
    let user = unprivileged(&folder)?;
    if let Some(user) = &user {
        chown(&folder, Some(user.uid), Some(user.gid)).map_err(|e| format!("{}: {e}", folder.display()))?;
    }
    let data = folder.join("data");
    let port = free_port()?;

    let mut init = as_user(&programs.join("initdb"), user.as_ref(), &folder);
    init.args(["--no-sync", "-A", "trust", "-U", "tarn", "-E", "UTF8", "--locale=C", "-D"]).arg(&data);
    let made = run(&mut init);
    if made.code != Some(0) {
        return Err(made.to_string());
    }
    configure(&data, port)?;
    // pg_ctl's child keeps what it inherits, so its words go to a file and nothing is read from a pipe
    let mut start = as_user(&programs.join("pg_ctl"), user.as_ref(), &folder);
    start.args(["start", "-w", "-s", "-D"]).arg(&data).arg("-l").arg(folder.join("log"));
    start.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    let started = start.status().map_err(|e| e.to_string())?;
    if !started.success() {
        return Err(format!(
            "pg_ctl failed: {}",
            std::fs::read_to_string(folder.join("log")).unwrap_or_default()
        ));
    }
    let pid = std::fs::read_to_string(data.join("postmaster.pid")).map_err(|e| e.to_string())?;
    let pid = pid.lines().next().unwrap_or_default().trim().to_owned();
    watch(&pid, &folder);
    let version = std::fs::read_to_string(data.join("PG_VERSION")).unwrap_or_default();
    let whose = user.map_or(String::new(), |u| format!(" under user {}", u.name));
    let what = format!("private cluster of PostgreSQL {} on 127.0.0.1:{port}{whose}", version.trim());
    let found = Found { url: format!("postgres://tarn@127.0.0.1:{port}/postgres"), what };
    provider::leave_word(&found, &format!("process {pid} {}", folder.display()));
    Ok(found)
}

/// Outside `target`, which an unprivileged user may not be able to enter; one for each build folder.
fn folder() -> PathBuf {
    let mut hasher = DefaultHasher::new();
    place::target().hash(&mut hasher);
    std::env::temp_dir().join(format!("tarn-tests-{:08x}", hasher.finish() as u32))
}

/// Where initdb and pg_ctl are: the newest of Debian's, or whatever the path has.
fn programs() -> Option<PathBuf> {
    let numbered = std::fs::read_dir("/usr/lib/postgresql").into_iter().flatten().flatten();
    let mut versions: Vec<u32> = numbered.filter_map(|e| e.file_name().to_str()?.parse().ok()).collect();
    versions.sort_unstable();
    let debian = versions.iter().rev().map(|v| PathBuf::from(format!("/usr/lib/postgresql/{v}/bin")));
    let path = std::env::var_os("PATH").unwrap_or_default();
    debian
        .chain(std::env::split_paths(&path))
        .find(|dir| dir.join("initdb").is_file() && dir.join("pg_ctl").is_file())
}

/// PostgreSQL refuses to run as root; then Debian's `postgres`, or `nobody`.
fn unprivileged(mine: &Path) -> Result<Option<User>, String> {
    if std::fs::metadata(mine).map_err(|e| e.to_string())?.uid() != 0 {
        return Ok(None);
    }
    let accounts = std::fs::read_to_string("/etc/passwd").map_err(|e| e.to_string())?;
    let of = |name: &str| {
        let line = accounts.lines().find(|l| l.split(':').next() == Some(name))?;
        let mut fields = line.split(':').skip(2);
        Some(User { name: name.into(), uid: fields.next()?.parse().ok()?, gid: fields.next()?.parse().ok()? })
    };
    of("postgres")
        .or_else(|| of("nobody"))
        .map(Some)
        .ok_or_else(|| "no unprivileged user to run it as".into())
}

fn as_user(program: &Path, user: Option<&User>, folder: &Path) -> Command {
    let mut command = Command::new(program);
    command.current_dir(folder);
    // a setting of the caller's must not lead it to another cluster
    for (name, _) in std::env::vars_os().filter(|(name, _)| name.to_string_lossy().starts_with("PG")) {
        command.env_remove(name);
    }
    if let Some(user) = user {
        command.uid(user.uid).gid(user.gid);
    }
    command
}

fn free_port() -> Result<u16, String> {
    let listener = TcpListener::bind("127.0.0.1:0").map_err(|e| e.to_string())?;
    listener.local_addr().map(|a| a.port()).map_err(|e| e.to_string())
}

/// Nothing here outlives the run, so it need not survive a power cut.
fn configure(data: &Path, port: u16) -> Result<(), String> {
    let file = data.join("postgresql.conf");
    let mut text = std::fs::read_to_string(&file).map_err(|e| e.to_string())?;
    write!(
        text,
        "\nport = {port}\nlisten_addresses = '127.0.0.1'\nunix_socket_directories = ''\nmax_connections = 300\n\
         fsync = off\nfull_page_writes = off\nsynchronous_commit = off\n"
    )
    .map_err(|e| e.to_string())?;
    std::fs::write(&file, text).map_err(|e| e.to_string())
}

fn watch(pid: &str, folder: &Path) {
    let mut watcher = Command::new("sh");
    watcher.args(["-c", WATCH, "watch"]).arg(provider::shelf().join("users.lock")).arg(pid).arg(folder);
    watcher.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    // where there is no `flock` it just watches until `tests/run` ends the cluster
    drop(watcher.process_group(0).spawn());
}
