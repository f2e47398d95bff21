//! How does a year of a boat change in all tables at once, whatever happens in between?
//!
//! As a trip does in a logbook: its files are written and flushed under other names; then a list of them with their
//! sums is put beside them, from which moment the year is written; then each file is moved to its place, what was
//! there before and is not on the list is removed, and the list is kept. What was interrupted before the list is
//! undone, and after it finished.
//!
//! The line `made-from` of the list has the hash of what the year was made from.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use super::BoatYear;
use crate::commit::leftovers;
use crate::disk::{Unflushed, make_folder, remove_file, remove_folder, remove_if_empty, rename, sync_folder};
use crate::error::Error;
use crate::layout::{self, entries, name, staging_root, sums_file, sums_folder};
use crate::sums::{self, Sums};

/// The list whose presence says that every file is staged.
const LIST: &str = "sums";

const MADE_FROM: &str = "made-from";

/// Files on their way into the pool.
pub(super) struct Staging<'a> {
    root: &'a Path,
    key: &'a BoatYear,
    folder: PathBuf,
    made: Vec<PathBuf>,
    unflushed: Unflushed,
    sums: Sums,
    /// The table that is being written, and how many files it has.
    table: String,
    parts: usize,
}

impl<'a> Staging<'a> {
    pub fn begin(root: &'a Path, key: &'a BoatYear) -> Result<Self, Error> {
        let folder = staging_root(root).join(key.name());
        let mut made = Vec::new();
        make_folder(&folder, &mut made)?;
        make_folder(&sums_folder(root), &mut made)?;
        sync_folder(&staging_root(root))?;
        sync_folder(root)?;
        let unflushed = Unflushed::default();
        Ok(Self { root, key, folder, made, unflushed, sums: Sums::default(), table: String::new(), parts: 0 })
    }

    /// Writes the next file of a table; a table's files come one after another.
    pub fn put(&mut self, table: &str, bytes: &[u8]) -> Result<(), Error> {
        if self.table != table {
            (self.table, self.parts) = (table.to_owned(), 0);
        }
        let path = self.key.file(table, self.parts);
        self.parts += 1;
        make_folder(self.root.join(&path).parent().unwrap_or(self.root), &mut self.made)?;
        self.unflushed.write_new(self.folder.join(staged_name(&path)), bytes)?;
        self.sums.insert(path, bytes);
        Ok(())
    }

    /// Puts all files in the place of those that the pool has of this year. With no `made_from` the year goes.
    pub fn done(&mut self, made_from: Option<&str>) -> Result<(), Error> {
        if let Some(hash) = made_from {
            self.sums.0.insert(MADE_FROM.to_owned(), hash.to_owned());
        }
        let unnamed = self.folder.join(format!("{LIST}.tmp"));
        self.unflushed.write_new(unnamed.clone(), self.sums.text().as_bytes())?;
        self.unflushed.made(&self.made);
        self.unflushed.names_in(&self.folder);
        self.unflushed.flush()?;
        rename(&unnamed, &self.folder.join(LIST))?;
        sync_folder(&self.folder)?;
        finish(self.root, self.key)
    }
}

/// The years that the pool has, whole or in part.
pub(super) fn keys(root: &Path) -> Result<BTreeSet<BoatYear>, Error> {
    let mut found = BTreeSet::new();
    for table in layout::tables(root)? {
        for boat in entries(&root.join(table))? {
            for year in entries(&boat)? {
                found.extend(BoatYear::of_folders(name(&boat), name(&year)));
            }
        }
    }
    Ok(found)
}

/// Whether the pool's files of a year were made from just that, and are there.
pub(super) fn is_made_from(root: &Path, key: &BoatYear, made_from: &str) -> bool {
    Sums::read(&sums_file(root, &key.name())).is_ok_and(|sums| {
        sums.0.get(MADE_FROM).is_some_and(|hash| hash == made_from)
            && files(&sums).all(|path| root.join(path).is_file())
    })
}

fn files(sums: &Sums) -> impl Iterator<Item = &String> {
    sums.0.keys().filter(|path| *path != MADE_FROM)
}

/// Refuses a pool in which files of a year are on their way to their places.
pub(super) fn check_whole(root: &Path) -> Result<(), Error> {
    match entries(&staging_root(root))?.iter().find(|staging| staging.join(LIST).exists()) {
        None => Ok(()),
        Some(staging) => Err(Error::Damaged {
            path: staging.clone(),
            cause: "the writing of this year was interrupted; run waterseam compact again to finish it"
                .to_owned(),
        }),
    }
}

/// Finishes or undoes what was interrupted.
pub(super) fn recover(root: &Path) -> Result<(), Error> {
    for staging in entries(&staging_root(root))? {
        match BoatYear::parse(name(&staging)) {
            Some(key) => recover_one(root, &key)?,
            None => remove_folder(&staging)?,
        }
    }
    remove_if_empty(&staging_root(root));
    leftovers(root)?.iter().try_for_each(|path| remove_file(path))
}

/// The same for one year. Where the disk has lost what it had said to have kept, the year is made anew.
pub(super) fn recover_one(root: &Path, key: &BoatYear) -> Result<(), Error> {
    let staging = staging_root(root).join(key.name());
    let list = staging.join(LIST);
    if list.exists() {
        if is_complete(root, &staging) {
            return finish(root, key);
        }
        remove_file(&sums_file(root, &key.name()))?;
        sync_folder(&sums_folder(root))?;
        remove_file(&list)?;
    }
    let mut unflushed = Unflushed::default();
    for table in layout::tables(root)? {
        let folder = root.join(key.folder(&table));
        folder.ancestors().take(3).for_each(remove_if_empty);
        folder.ancestors().skip(1).take(3).for_each(|above| unflushed.names_in(above));
    }
    unflushed.flush()?;
    remove_staging(root, &staging)
}

fn is_complete(root: &Path, staging: &Path) -> bool {
    Sums::read(&staging.join(LIST)).is_ok_and(|sums| {
        let is = |path: &Path, hash: &String| sums::hash_of(path).is_ok_and(|found| found == *hash);
        files(&sums).all(|path| {
            is(&staging.join(staged_name(path)), &sums.0[path]) || is(&root.join(path), &sums.0[path])
        })
    })
}

/// What follows the list. May be done again after it was interrupted anywhere.
fn finish(root: &Path, key: &BoatYear) -> Result<(), Error> {
    let staging = staging_root(root).join(key.name());
    let sums = Sums::read(&staging.join(LIST))?;
    let (mut made, mut unflushed) = (Vec::new(), Unflushed::default());
    for path in files(&sums) {
        make_folder(root.join(path).parent().unwrap_or(root), &mut made)?;
    }
    unflushed.made(&made);
    unflushed.flush()?;
    for path in files(&sums) {
        let (from, to) = (staging.join(staged_name(path)), root.join(path));
        if from.exists() {
            rename(&from, &to)?;
        }
        unflushed.names_in(to.parent().unwrap_or(root));
    }
    unflushed.flush()?;
    remove_others(root, key, &sums)?;
    let kept = sums_file(root, &key.name());
    if sums.0.is_empty() {
        remove_file(&kept)?;
        sync_folder(&sums_folder(root))?;
        remove_file(&staging.join(LIST))?;
    } else {
        rename(&staging.join(LIST), &kept)?;
        sync_folder(&sums_folder(root))?;
    }
    remove_staging(root, &staging)
}

/// Removes the files of the year that are not on the list.
fn remove_others(root: &Path, key: &BoatYear, sums: &Sums) -> Result<(), Error> {
    let mut unflushed = Unflushed::default();
    for table in layout::tables(root)? {
        let folder = root.join(key.folder(&table));
        for path in entries(&folder)? {
            let inside = format!("{}/{}", key.folder(&table), name(&path));
            if !sums.0.contains_key(&inside) {
                remove_file(&path)?;
                folder.ancestors().take(4).for_each(|above| unflushed.names_in(above));
            }
        }
        folder.ancestors().take(3).for_each(remove_if_empty);
    }
    unflushed.flush()
}

fn remove_staging(root: &Path, staging: &Path) -> Result<(), Error> {
    remove_folder(staging)?;
    sync_folder(&staging_root(root))?;
    remove_if_empty(&staging_root(root));
    Ok(())
}

/// Name under which a file waits: `effort/boat=…/year=…/part-0.parquet` as `effort.part-0.parquet`.
fn staged_name(path: &str) -> String {
    let (table, part) = (path.split('/').next(), path.rsplit('/').next());
    format!("{}.{}", table.unwrap_or_default(), part.unwrap_or_default())
}

/// Files that are not on their year's list, or not as it says, a line each.
#[cfg(test)]
pub(super) fn wrong_sums(root: &Path) -> String {
    let mut wrong = String::new();
    for key in keys(root).unwrap() {
        let sums = Sums::read(&sums_file(root, &key.name())).unwrap_or_default();
        let listed: BTreeSet<PathBuf> = files(&sums).map(|path| root.join(path)).collect();
        let there = layout::tables(root).unwrap().into_iter();
        let there: BTreeSet<PathBuf> =
            there.flat_map(|table| entries(&root.join(key.folder(&table))).unwrap()).collect();
        wrong.extend(listed.symmetric_difference(&there).map(|path| format!("{}\n", path.display())));
        let changed =
            files(&sums).filter(|path| sums::hash_of(&root.join(path)).ok().as_ref() != sums.0.get(*path));
        wrong.extend(changed.map(|path| format!("{path} has changed\n")));
    }
    wrong
}
