//! What a server takes in memory, as Linux tells it.

/// The child of this process that is the server.
pub fn server() -> u32 {
    let me = std::process::id().to_string();
    let mut all = std::fs::read_dir("/proc")
        .expect("Linux")
        .flatten()
        .filter_map(|e| e.file_name().to_str()?.parse().ok());
    all.find(|process: &u32| {
        // proc_pid_stat(5): "pid (name) state parent …"
        let stat = std::fs::read_to_string(format!("/proc/{process}/stat")).unwrap_or_default();
        stat.contains("(tarn-server)")
            && stat.rsplit(')').next().and_then(|s| s.split_whitespace().nth(1)) == Some(&me)
    })
    .expect("the server runs")
}

/// Resident now, and at most so far, in MiB (proc_pid_status(5)).
pub fn of(process: u32) -> (f64, f64) {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).expect("the server runs");
    let of = |name: &str| {
        let line = status.lines().find_map(|line| line.strip_prefix(name)).expect("Linux says it");
        line.split_whitespace().next().and_then(|kib| kib.parse::<f64>().ok()).expect("a number of KiB")
            / 1024.0
    };
    (of("VmRSS:"), of("VmHWM:"))
}
