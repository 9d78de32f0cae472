//! The server that several rooms share, and what befalls it: killed while it works, restored from an older backup,
//! its database file rolled back, its clock moving on.

use rand::rngs::StdRng;
use rand::{Rng, SeedableRng};
use std::path::PathBuf;
use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard};
use tarn_tests::api::Caller;
use tarn_tests::database::{Database, Snapshot};
use tarn_tests::engine::Engine;
use tarn_tests::pen::now_ms;
use tarn_tests::people::{Club, Person};
use tarn_tests::place::Folder;
use tarn_tests::proxy::Target;
use tarn_tests::server::Server;
use uuid::Uuid;

/// A server with its past.
pub struct World {
    /// Of its first room; its own chance comes from it too.
    pub seed: u64,
    pub club: Club,
    pub target: Target,
    /// A keeper of every room who only looks: what the server holds is read in this name.
    pub observer: Person,
    server: Arc<Mutex<Server>>,
    rng: StdRng,
    /// How far all clocks are ahead of the wall. The server's moves when it is started, the devices' at once.
    shift_ms: Arc<AtomicI64>,
    backups: Folder,
    saved: Vec<Saved>,
    /// How many requests still go well before the server is killed; negative: none is killed.
    until_crash: Arc<AtomicI64>,
}

/// A moment of the server's past: as a backup, and as the disk had it.
struct Saved {
    backup: PathBuf,
    disk: Snapshot,
}

impl World {
    pub fn new(engine: Engine, seed: u64) -> Self {
        let mut server = Server::prepare(Database::new(engine));
        server.start_again();
        let target = Target::default();
        target.set(server.address());
        let club = Club::found(&server, "Fellside Fishkeepers", "wilma");
        let observer = club.member("olive", None);
        Self {
            seed,
            club,
            observer,
            target,
            server: Arc::new(Mutex::new(server)),
            rng: StdRng::seed_from_u64(seed ^ 0x7461_726e),
            shift_ms: Arc::default(),
            backups: Folder::new("backups"),
            saved: Vec::new(),
            until_crash: Arc::new(AtomicI64::new(-1)),
        }
    }

    /// How far all clocks are ahead of the wall.
    pub fn shift_ms(&self) -> i64 {
        self.shift_ms.load(Ordering::Relaxed)
    }

    /// Signs the observer in anew: tokens run out when the clock moves on, and addresses change.
    pub fn sign_in(&mut self) {
        let stranger = Caller::at(&format!("http://{}", self.target.get()));
        self.observer = self.observer.sign_in(&stranger);
        self.club.secretary = self.club.secretary.sign_in(&stranger);
    }

    /// Time goes on; and from now on some sync, if so many come, finds the server killed while it is at work.
    pub fn begin_phase(&mut self) {
        self.shift_ms.fetch_add(self.rng.random_range(0..240) * 1000, Ordering::Relaxed);
        let after = if self.rng.random_bool(0.6) { self.rng.random_range(1..60) } else { -1 };
        self.until_crash.store(after, Ordering::Relaxed);
    }

    /// Counts a request down; gives what kills the server if its hour has come.
    pub fn crash_due(&self) -> Option<Box<dyn FnOnce() + Send>> {
        let due = self.until_crash.fetch_sub(1, Ordering::Relaxed) == 1;
        let (server, target, shift) = (self.server.clone(), self.target.clone(), self.shift_ms.clone());
        due.then(|| -> Box<dyn FnOnce() + Send> {
            Box::new(move || {
                let mut server = held(&server);
                server.kill();
                start(&mut server, &target, &shift);
            })
        })
    }

    /// Keeps this moment as one that the server may be taken back to.
    pub fn save(&mut self) {
        let backup = self.backups.path().join(format!("{}.tarn", self.saved.len()));
        let mut server = held(&self.server);
        server.command(&["backup", &backup.to_string_lossy()]).expect(0);
        server.kill();
        let disk = server.database().snapshot();
        start(&mut server, &self.target, &self.shift_ms);
        drop(server);
        self.saved.push(Saved { backup, disk });
    }

    /// What happens between two phases. Whether the server lost something that it had acknowledged.
    pub fn misfortune(&mut self) -> bool {
        match self.rng.random_range(0..10) {
            0..3 => {
                self.save();
                false
            }
            3..5 => {
                self.shift_ms.fetch_add(self.rng.random_range(30..1200) * 1000, Ordering::Relaxed);
                let mut server = held(&self.server);
                server.kill();
                start(&mut server, &self.target, &self.shift_ms);
                false
            }
            5..8 => {
                let at = self.some_moment();
                let saved = &self.saved[at];
                let mut server = held(&self.server);
                server.kill();
                server.database().clear();
                server.command(&["restore", &saved.backup.to_string_lossy()]).expect(0);
                start(&mut server, &self.target, &self.shift_ms);
                true
            }
            _ => {
                let at = self.some_moment();
                let saved = &self.saved[at];
                let mut server = held(&self.server);
                server.kill();
                server.database().roll_back(&saved.disk);
                start(&mut server, &self.target, &self.shift_ms);
                true
            }
        }
    }

    fn some_moment(&mut self) -> usize {
        let newest = self.saved.len();
        self.rng.random_range(newest.saturating_sub(3)..newest)
    }

    /// So many days go by.
    pub fn pass(&mut self, days: i64) {
        self.shift_ms.fetch_add(days * 86_400_000, Ordering::Relaxed);
        let mut server = held(&self.server);
        server.stop();
        start(&mut server, &self.target, &self.shift_ms);
        drop(server);
        self.sign_in();
    }

    /// What a query over these ids gives, at one moment: a number, an id, a text.
    pub fn read(&self, query: &str, ids: &[Uuid]) -> Vec<(i64, Uuid, String)> {
        held(&self.server).database().read(query, ids)
    }

    /// Does all that is queued. What failed before is due within an hour.
    pub fn do_queued(&self) {
        let mut server = held(&self.server);
        server.stop();
        self.shift_ms.fetch_add(3_600_000, Ordering::Relaxed);
        server.set_clock(&format!("{}s", self.shift_ms() / 1000));
        let now = now_ms() + self.shift_ms();
        server.command(&["mail", "send"]).expect(0);
        let left = format!(
            "SELECT count(*) FROM jobs WHERE done_ms IS NULL AND (tries > 0 OR not_before_ms <= {now})"
        );
        assert_eq!(server.database().count(&left), 0, "work is left over:\n{}", server.logged());
        start(&mut server, &self.target, &self.shift_ms);
    }

    /// From now on nothing goes wrong.
    pub fn calm(&mut self) {
        self.until_crash.store(-1, Ordering::Relaxed);
    }

    /// Property 3: what the server shows is what its streams say.
    pub fn check(&self) {
        let mut server = held(&self.server);
        assert!(server.runs(), "the server fell over:\n{}", server.logged());
        server.command(&["check"]).expect(0);
    }
}

/// On another port: the old one may be a client's own by now.
fn start(server: &mut Server, target: &Target, shift_ms: &AtomicI64) {
    server.set_clock(&format!("{}s", shift_ms.load(Ordering::Relaxed) / 1000));
    server.leave_port();
    server.start_again();
    target.set(server.address());
}

fn held<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(|poisoned| poisoned.into_inner())
}
