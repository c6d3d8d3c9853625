//! What kind of place a file lies in, as far as the system tells.

use std::path::Path;

/// A place for files.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// A disk of this machine.
    Local,
    /// A network, or a drive that a program only pretends to be.
    Remote,
    /// A folder that a program copies to other machines while it is written.
    Synchronised,
}

/// What kind of place a file lies in, or would lie in if it were made. What can't be told counts as local.
pub fn place_of(path: &Path) -> Place {
    let path = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
    let folders: Vec<&Path> = path.ancestors().skip(1).collect();
    let there = folders.iter().find(|folder| folder.is_dir());
    if is_on_a_network(&path) || there.is_some_and(|folder| is_remote(folder)) {
        Place::Remote
    } else if is_synchronised(&folders) {
        Place::Synchronised
    } else {
        Place::Local
    }
}

/// Folders farther up are not asked for marks.
const MOST_FOLDERS: usize = 24;
/// Names that are looked at in one of them.
const MOST_NAMES: usize = 4096;

/// Programs that copy a folder to other machines leave a hidden entry in its topmost folder. By what these are
/// called, most say "sync". The person's own folder has hidden entries of all kinds, so it and those above it are
/// not asked.
fn is_synchronised(folders: &[&Path]) -> bool {
    let home = std::env::home_dir().unwrap_or_default();
    let asked = |folder: &&&Path| folder.parent().is_some() && !home.starts_with(folder);
    folders.iter().take(MOST_FOLDERS).filter(asked).any(|folder| has_mark(folder))
}

fn has_mark(folder: &Path) -> bool {
    let Ok(entries) = std::fs::read_dir(folder) else { return false };
    entries.take(MOST_NAMES).filter_map(Result::ok).any(|entry| is_mark(&entry.file_name()))
}

fn is_mark(name: &std::ffi::OsStr) -> bool {
    let name = name.to_string_lossy().to_lowercase();
    name.starts_with('.') && name.contains("sync")
}

/// `\\server\share` and the like.
fn is_on_a_network(path: &Path) -> bool {
    use std::path::{Component, Prefix};
    let first = path.components().next();
    matches!(first, Some(Component::Prefix(prefix))
        if matches!(prefix.kind(), Prefix::UNC(..) | Prefix::VerbatimUNC(..)))
}

/// Whether a folder lies on a file system that is elsewhere, or is made up by a program.
#[cfg(target_os = "linux")]
fn is_remote(folder: &Path) -> bool {
    let found = rustix::fs::statfs(folder);
    // The numbers are 32 bits wide; on some processors they come sign-extended.
    found.is_ok_and(|found| is_remote_type(found.f_type as u32))
}

/// Elsewhere the system has no word for it that needs no code of its own.
#[cfg(not(target_os = "linux"))]
fn is_remote(_folder: &Path) -> bool {
    false
}

/// Numbers of file systems, as Linux has them in `linux/magic.h` and in the file systems' own sources.
#[cfg(target_os = "linux")]
fn is_remote_type(number: u32) -> bool {
    const REMOTE: [u32; 12] = [
        0x6969,      // NFS
        0x517b,      // SMB
        0xff53_4d42, // CIFS
        0xfe53_4d42, // SMB 2
        0x6573_5546, // FUSE
        0x0102_1997, // 9P
        0x5346_414f, // AFS
        0x6b41_4653, // kAFS
        0x7375_7245, // Coda
        0x564c,      // NCP
        0x00c3_6400, // Ceph
        0x0bd0_0bd0, // Lustre
    ];
    REMOTE.contains(&number)
}

impl Place {
    /// What can go wrong there and what to do, in one line; nothing for a disk of this machine.
    pub fn warning(self) -> Option<&'static str> {
        match self {
            Self::Local => None,
            Self::Remote => Some(
                "This place is on a network or in another program's keeping: each edit takes longer, and one that \
                 is written as the connection breaks may be lost. Work on a disk of this machine, and copy the \
                 project there when you are done.",
            ),
            Self::Synchronised => Some(
                "This folder seems to be copied to other machines while you work: a copy made in the middle of an \
                 edit may be broken there, or come back over yours. Work in another folder, and copy the project \
                 here when you are done.",
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[cfg(target_os = "linux")]
    #[test]
    fn disks_of_this_machine_are_no_network() {
        // ext4, btrfs, xfs, tmpfs, overlay, zfs: `linux/magic.h`, zfs's own.
        for local in [0xef53, 0x9123_683e, 0x5846_5342, 0x0102_1994, 0x794c_7630, 0x2fc1_2fc1] {
            assert!(!is_remote_type(local), "{local:x}");
        }
        assert!(is_remote_type(0x6969) && is_remote_type(0x6573_5546));
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(place_of(&folder.path().join("no/such/a.scumble")), Place::Local);
    }

    #[test]
    fn a_folder_that_a_program_copies_elsewhere_is_told_by_the_mark_that_it_left() {
        let folder = tempfile::tempdir().unwrap();
        let inner = folder.path().join("bells/tower");
        std::fs::create_dir_all(&inner).unwrap();
        let project = inner.join("a.scumble");
        std::fs::write(folder.path().join("sync.txt"), "").unwrap();
        assert_eq!(place_of(&project), Place::Local);
        std::fs::create_dir(folder.path().join(".sync")).unwrap();
        assert_eq!(place_of(&project), Place::Synchronised);
    }

    #[test]
    fn every_place_but_a_disk_of_this_machine_is_warned_of() {
        assert_eq!(Place::Local.warning(), None);
        for place in [Place::Remote, Place::Synchronised] {
            assert!(place.warning().is_some_and(|line| line.contains("copy the project")));
        }
    }
}
