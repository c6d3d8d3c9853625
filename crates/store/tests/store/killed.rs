//! A writer that is killed: another process, at any moment.
//!
//! As many times as `SCUMBLE_KILLS` says. A run that fails names its seed; `SCUMBLE_KILL_SEED` repeats it, as far
//! as moments can be repeated.

use std::io::{BufRead as _, BufReader, Write as _};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use store::{Access, Changes, Keeper, Opened, Project};

use crate::chance::Chance;
use crate::round_trip::folder;
use crate::script::{Deed, Script, whole};

const FILE: &str = "SCUMBLE_TEST_WRITES";
const SEED: &str = "SCUMBLE_KILL_SEED";
const TIMES: &str = "SCUMBLE_KILLS";
/// The test starts itself anew as the writer.
const THIS_TEST: &str =
    "killed::a_writer_that_is_killed_leaves_all_that_it_acknowledged_and_nothing_half";
const LONG: Duration = Duration::from_mins(1);
/// The longest that a writer lives, in microseconds: it starts, creates the file, and paints some hundred strokes.
const LONGEST_LIFE: usize = 300_000;

/// Says how far the file is.
fn acknowledge(number: u32) {
    let mut out = std::io::stdout().lock();
    writeln!(out, "on disk {number}").and_then(|()| out.flush()).unwrap();
}

/// The other process: writes until it is killed.
fn write(path: &Path, seed: u64) {
    let mut script = Script::new(seed);
    let mut pace = Chance::of(!seed);
    let mut keeper = Keeper::start(Project::create(path, &script.history).unwrap()).unwrap();
    acknowledge(0);
    let (mut before, mut told) = (0, 0);
    loop {
        let deed = script.next();
        if let Deed::Keep(number, changes) = deed {
            let handed = keeper.keep(*changes);
            let progress =
                if pace.one_in(2) { keeper.wait(handed, LONG) } else { keeper.progress() };
            assert_eq!(progress.fault, None);
            let on_disk = before + progress.on_disk as u32;
            assert!(on_disk <= number);
            if on_disk > told {
                acknowledge(on_disk);
                told = on_disk;
            }
            continue;
        }
        let mut project = keeper.finish().unwrap();
        (before, told) = (script.number, script.number);
        acknowledge(told);
        match deed {
            Deed::Reopen => {
                project.close().unwrap();
                let opened = Project::open(path, Access::ReadWrite).unwrap();
                assert_eq!(opened.damage, []);
                Opened { project, history: script.history, .. } = opened;
            }
            Deed::Collect => _ = project.collect_garbage(u64::MAX).unwrap(),
            Deed::Checkpoint | Deed::Keep(..) => project.checkpoint().unwrap(),
        }
        keeper = Keeper::start(project).unwrap();
    }
}

/// Lets a writer live for so long; gives the last changes that it said were on disk.
fn acknowledged(path: &Path, seed: u64, life: Duration) -> Option<u32> {
    let mut writer = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", THIS_TEST, "--nocapture"])
        .env(FILE, path)
        .env(SEED, seed.to_string())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    // The moment is what is random here; nothing is waited for.
    std::thread::sleep(life);
    assert_eq!(writer.try_wait().unwrap(), None, "seed {seed}: the writer ended by itself");
    writer.kill().unwrap();
    writer.wait().unwrap();
    let said = BufReader::new(writer.stdout.take().unwrap()).lines().map_while(Result::ok);
    // What was said last may be half a line, as who said it died.
    let whole = said.filter_map(|line| line.strip_prefix("on disk ")?.parse().ok());
    whole.max()
}

#[derive(Debug, Default)]
struct Tally {
    acknowledged: u64,
    lost: u64,
    torn: u64,
    /// Writers that were killed before there was a file.
    without_a_file: u64,
}

impl Tally {
    /// Kills a writer and looks at what it left.
    fn kill(&mut self, seed: u64) {
        let folder = folder();
        let path = folder.path().join("a.scumble");
        let life = Chance::of(seed ^ 0x5EED).below(LONGEST_LIFE) as u64;
        let acknowledged = acknowledged(&path, seed, Duration::from_micros(life));
        if !path.exists() {
            self.without_a_file += 1;
            self.lost += u64::from(acknowledged.is_some());
            return;
        }
        let acknowledged = acknowledged.unwrap_or(0);
        self.acknowledged += u64::from(acknowledged);
        match whole(&path, seed) {
            Err(problem) => {
                println!("seed {seed}, {life} us: {problem:.1000}");
                self.torn += 1;
            }
            Ok((opened, found)) => {
                if found < acknowledged {
                    println!("seed {seed}, {life} us: {found} of {acknowledged}");
                    self.lost += u64::from(acknowledged - found);
                }
                goes_on(opened, folder.path());
            }
        }
    }
}

/// One goes on with what is there.
fn goes_on(opened: Opened, folder: &Path) {
    let Opened { mut project, mut history, .. } = opened;
    let document = history.present().clone();
    history.push(document, "again");
    project.commit(&Changes::of_history(&history)).unwrap();
    let path = project.path().to_owned();
    project.close().unwrap();
    let beside = ["-wal", "-shm", "-journal", ".lock"].map(|end| format!("a.scumble{end}"));
    assert!(beside.iter().all(|name| !folder.join(name).exists()));
    let opened = Project::open(&path, Access::ReadOnly).unwrap();
    assert_eq!(opened.history.entries().0.len(), history.entries().0.len());
}

fn number(variable: &str) -> Option<u64> {
    std::env::var(variable).ok().map(|text| text.parse().expect(variable))
}

#[test]
fn a_writer_that_is_killed_leaves_all_that_it_acknowledged_and_nothing_half() {
    if let Some(path) = std::env::var_os(FILE) {
        return write(Path::new(&path), number(SEED).unwrap());
    }
    let times = number(TIMES).unwrap_or(50);
    let first = number(SEED).unwrap_or(0);
    let (started, mut tally) = (Instant::now(), Tally::default());
    for seed in first..first + times {
        tally.kill(seed);
    }
    let Tally { acknowledged, lost, torn, without_a_file } = tally;
    println!(
        "killed {times} times from seed {first} on, {without_a_file} times before there was a file: \
         acknowledged {acknowledged}, lost {lost}, torn {torn}; {:.1} s",
        started.elapsed().as_secs_f64()
    );
    assert!((lost, torn) == (0, 0), "acknowledged {acknowledged}, lost {lost}, torn {torn}");
    assert!(acknowledged > times, "{acknowledged}: too few to say anything");
}
