//! A file system that is really full: a small one in memory, where this process may make one.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

use store::{Access, Changes, Keeper, Project};
use tempfile::TempDir;

use crate::content::assert_same;
use crate::round_trip::folder;
use crate::script::{Deed, Script, whole};

/// A file system of its own, gone when dropped.
struct Small(TempDir);

impl Small {
    /// # Errors
    /// Says why there can be none.
    fn new(kib: u32) -> Result<Self, String> {
        let folder = folder();
        let size = format!("size={kib}k");
        let mut mount = Command::new("mount");
        mount.args(["-t", "tmpfs", "-o", &size, "tmpfs"]).arg(folder.path());
        let done = mount.output().map_err(|error| format!("mount: {error}"))?;
        if !done.status.success() {
            return Err(String::from_utf8_lossy(&done.stderr).trim().to_owned());
        }
        Ok(Self(folder))
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }
}

impl Drop for Small {
    fn drop(&mut self) {
        // Whether it went is seen from outside; a test that fails has said so already.
        _ = Command::new("umount").arg(self.0.path()).status();
    }
}

const LONG: Duration = Duration::from_mins(1);

/// Paints until nothing is written any more. Gives the last changes that are on the disk, and the keeper.
fn paint_until_full(path: &Path, script: &mut Script) -> (u32, Keeper) {
    let keeper = Keeper::start(Project::create(path, &script.history).unwrap()).unwrap();
    let mut acknowledged = 0;
    loop {
        let Deed::Keep(number, changes) = script.next() else { continue };
        let handed = keeper.keep(*changes);
        let progress = keeper.wait(handed, LONG);
        if let Some(fault) = progress.fault {
            assert!(fault.contains("full"), "{fault}");
            return (acknowledged, keeper);
        }
        acknowledged = number;
    }
}

#[test]
fn on_a_disk_that_is_full_all_that_was_acknowledged_is_there_and_the_rest_in_memory() {
    let mut tried = 0;
    // A disk that is full at one place of a commit or another.
    for (seed, kib) in (0..).zip([1_400, 1_700, 2_000, 2_300, 2_600, 3_111]) {
        let small = match Small::new(kib) {
            Ok(small) => small,
            Err(reason) => {
                println!(
                    "NOT TRIED: a file system that is full, as none can be made here: {reason}"
                );
                println!(
                    "a file that may not grow, and writes that are refused, are tried elsewhere"
                );
                return;
            }
        };
        let path = small.path("a.scumble");
        let ballast = small.path("ballast");
        std::fs::write(&ballast, vec![7; 300 << 10]).unwrap();
        let mut script = Script::new(seed);
        let (acknowledged, keeper) = paint_until_full(&path, &mut script);

        // Room comes back; trust does not.
        std::fs::remove_file(&ballast).unwrap();
        keeper.keep(Changes::of_history(&script.history));
        assert!(!keeper.progress().is_all_on_disk());
        let kept = keeper.unwritten().unwrap().history.unwrap();
        assert_same(&kept, &script.history);
        let elsewhere = folder();
        let other = elsewhere.path().join("b.scumble");
        drop(Project::create(&other, &kept).unwrap());
        assert_same(&Project::open(&other, Access::ReadOnly).unwrap().history, &script.history);

        drop(keeper);
        let (_, found) = whole(&path, seed).unwrap();
        assert!((acknowledged..=acknowledged + 1).contains(&found), "{found} {acknowledged}");
        assert!(acknowledged > 0, "{kib} KiB are too few");
        tried += 1;
    }
    println!("{tried} disks were full");
}
