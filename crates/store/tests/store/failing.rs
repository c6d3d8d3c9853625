//! Every single write, sync and change of the folder fails once: nothing more is written then, and what was
//! acknowledged is there.

use document::History;
use store::{Access, Changes, Project, StoreError};

use crate::content::assert_same;
use crate::disk::power::Lost;
use crate::disk::{Failing, Image, NAME, Watched, quick_folder};
use crate::documents::full;
use crate::power_loss::Twin;
use crate::script::{Deed, Script};

const CHANGES: u32 = 6;
const SEED: u64 = 1;

/// How far work came before something failed.
struct Work {
    acknowledged: u32,
    /// What failed, and when.
    failed: Option<(StoreError, When)>,
}

#[derive(Debug)]
enum When {
    Opening,
    Working(Box<Project>),
    Closing,
}

/// Opens the project and works on it until something fails.
fn work(watched: &Watched, script: &mut Script) -> Work {
    let path = watched.path();
    let mut work = Work { acknowledged: 0, failed: None };
    let open = || Project::open(&path, Access::ReadWrite).map(|opened| opened.project);
    let mut project = match open() {
        Ok(project) => project,
        Err(error) => return Work { failed: Some((error, When::Opening)), ..work },
    };
    while script.number < CHANGES {
        let deed = script.next();
        if let Deed::Reopen = deed {
            if let Err(error) = project.close() {
                return Work { failed: Some((error, When::Closing)), ..work };
            }
            project = match open() {
                Ok(project) => project,
                Err(error) => return Work { failed: Some((error, When::Opening)), ..work },
            };
            continue;
        }
        if let Err(error) = done(deed, &mut project, watched, &mut work.acknowledged) {
            return Work { failed: Some((error, When::Working(Box::new(project)))), ..work };
        }
    }
    let failed = project.close().err().map(|error| (error, When::Closing));
    Work { failed, ..work }
}

/// Does what is to be done. At half the way the log begins anew, so that each run goes through that.
fn done(
    deed: Deed,
    project: &mut Project,
    watched: &Watched,
    acknowledged: &mut u32,
) -> Result<(), StoreError> {
    match deed {
        Deed::Keep(number, changes) => {
            project.commit(&changes)?;
            watched.acknowledge(number);
            *acknowledged = number;
            if number == CHANGES / 2 { project.checkpoint() } else { Ok(()) }
        }
        Deed::Collect => project.collect_garbage(u64::MAX).map(|_| ()),
        Deed::Checkpoint | Deed::Reopen => project.checkpoint(),
    }
}

/// A project that has stopped writes no more, whatever is asked of it.
fn stays_stopped(watched: &Watched, mut project: Project, history: &History, what: &str) {
    let written = watched.log().len();
    assert!(project.fault().is_some(), "{what}");
    let stopped = |done: Result<(), StoreError>| {
        assert!(matches!(done, Err(StoreError::Stopped { .. })), "{what}: {done:?}");
    };
    stopped(project.commit(&Changes::of_history(history)).map(|_| ()));
    stopped(project.name_point("a", history));
    stopped(project.checkpoint());
    stopped(project.collect_garbage(0).map(|_| ()));
    project.close().unwrap();
    assert_eq!(watched.log().len(), written, "{what}: it went on writing");
}

/// One run in which a request fails; false where there were not so many.
fn fails_once(number: u32, how: Failing, twin: &Twin) -> bool {
    let what = format!("request {number}, {how:?}");
    let watched = Watched::new();
    let mut script = Script::new(SEED);
    Project::create(&watched.path(), &script.history).unwrap().close().unwrap();
    let before = Image::of(&watched.path());
    watched.start_anew();
    watched.fail_at(number, how);
    let Work { acknowledged, failed } = work(&watched, &mut script);
    if !watched.has_failed() {
        assert!(failed.is_none(), "{what}: {failed:?}");
        return false;
    }
    if let Some((error, when)) = failed {
        assert!(!error.to_string().contains('\n'), "{what}");
        let since = watched.done_since();
        let since = &since[usize::from(how == Failing::Half).min(since.len())..];
        match &when {
            // Whatever the database had begun in a journal it takes back; the log it leaves alone.
            When::Closing => assert!(since.iter().all(|event| event.file != "-wal"), "{what}"),
            When::Working(_) => assert_eq!(since, [], "{what}"),
            When::Opening => {}
        }
        if let When::Working(project) = when {
            assert!(matches!(error, StoreError::Database { .. }), "{what}: {error}");
            stays_stopped(&watched, *project, &script.history, &what);
        }
    }
    watched.mend();
    let folder = quick_folder();
    let path = folder.path().join(NAME);
    twin.check(&path, &Image::of(&watched.path()), acknowledged, &what);
    let image = before.after_power_loss(&watched.log(), Lost::All);
    twin.check(&path, &image, acknowledged, &format!("{what}, and the power with it"));

    // All that was made is in memory, and can be kept in another place.
    let elsewhere = folder.path().join("b.scumble");
    drop(Project::create(&elsewhere, &script.history).unwrap());
    let opened = Project::open(&elsewhere, Access::ReadOnly).unwrap();
    assert_same(&opened.history, &script.history);
    true
}

fn each_fails_once(how: Failing) {
    let twin = Twin::new(SEED, CHANGES);
    let requests = (1..1000).find(|number| !fails_once(*number, how, &twin)).unwrap();
    println!("{how:?}: each of {} requests failed once", requests - 1);
    assert!(requests > 100, "{requests}: too few to say anything");
}

#[test]
fn without_room_for_any_one_write_all_that_was_acknowledged_is_there() {
    each_fails_once(Failing::Full);
}

#[test]
fn with_any_one_request_broken_all_that_was_acknowledged_is_there() {
    each_fails_once(Failing::Broken);
}

#[test]
fn with_a_disk_that_breaks_for_good_at_any_request_all_that_was_acknowledged_is_there() {
    each_fails_once(Failing::BrokenForGood);
}

#[test]
fn with_any_one_write_done_half_all_that_was_acknowledged_is_there() {
    each_fails_once(Failing::Half);
}

#[test]
fn a_project_that_can_not_be_made_leaves_no_file() {
    for number in 1..1000 {
        let watched = Watched::new();
        watched.fail_at(number, Failing::Broken);
        let made = Project::create(&watched.path(), &History::new(full(64)));
        if !watched.has_failed() {
            made.unwrap();
            assert!(number > 10);
            return;
        }
        watched.mend();
        let left = std::fs::read_dir(watched.path().parent().unwrap()).unwrap();
        let left: Vec<_> = left.map(|file| file.unwrap().file_name()).collect();
        if made.is_err() && watched.path().exists() {
            // The file was whole already, and could not be opened for writing.
            let opened = Project::open(&watched.path(), Access::ReadWrite).unwrap();
            assert_eq!(opened.damage, []);
        } else {
            assert!(made.is_ok() || left.is_empty(), "request {number}: {left:?}");
        }
    }
}

#[test]
fn a_log_that_a_file_left_is_not_taken_for_that_of_the_file_that_takes_its_place() {
    let folder = quick_folder();
    let [path, other] = [NAME, "b.scumble"].map(|name| folder.path().join(name));
    let mut script = Script::new(SEED);
    let mut project = Project::create(&path, &script.history).unwrap();
    while let Deed::Keep(_, changes) = script.next() {
        project.commit(&changes).unwrap();
    }
    // As its writer leaves it when it is killed.
    let left = Image::of(&path);
    project.close().unwrap();
    let new = History::new(full(64));
    let (bare, whole) = (Image([("-wal".to_owned(), left.0["-wal"].clone())].into()), left);
    for (image, over) in [(&bare, false), (&whole, true)] {
        image.put(&path);
        if over {
            let new = Project::create(&other, &new).unwrap();
            new.copy_to(&path).unwrap();
        } else {
            drop(Project::create(&path, &new).unwrap());
        }
        let opened = Project::open(&path, Access::ReadWrite).unwrap();
        assert_eq!(opened.damage, []);
        assert_eq!(opened.project.verify().unwrap(), []);
        assert_same(&opened.history, &new);
    }
}
