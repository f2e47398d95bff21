//! Which files did the captain mean?

use std::path::{Path, PathBuf};

use crate::ProcessError;

/// Name of the boat file that is taken from an input folder when none is given.
pub const BOAT_FILE_NAME: &str = "waterseam.toml";

/// Every file below the inputs, in order of path, each once.
///
/// Hidden files and folders, symbolic links, pipes and devices, the boat file and everything below `logbook` are passed over.
///
/// # Errors
/// Where an input does not exist, is neither a file nor a folder, or a folder cannot be listed.
pub fn find(inputs: &[PathBuf], logbook: Option<&Path>) -> Result<Vec<PathBuf>, ProcessError> {
    let logbook = logbook.and_then(|dir| dir.canonicalize().ok());
    let mut found = Vec::new();
    for input in inputs {
        let unreadable = |error| ProcessError::Input { path: input.clone(), error };
        let kind = std::fs::metadata(input).map_err(unreadable)?;
        if kind.is_dir() {
            below(input, logbook.as_deref(), &mut found)?;
        } else if kind.is_file() {
            found.push(input.clone());
        } else {
            // a pipe would be waited for, and a device has no end
            return Err(ProcessError::NotAFile { path: input.clone() });
        }
    }
    found.sort();
    found.dedup();
    Ok(found)
}

/// The boat file at the top of the first input folder that has one.
pub fn boat_file(inputs: &[PathBuf]) -> Option<PathBuf> {
    inputs.iter().map(|input| input.join(BOAT_FILE_NAME)).find(|path| path.is_file())
}

fn below(folder: &Path, logbook: Option<&Path>, found: &mut Vec<PathBuf>) -> Result<(), ProcessError> {
    if logbook.is_some_and(|logbook| folder.canonicalize().is_ok_and(|folder| folder == logbook)) {
        return Ok(());
    }
    let unreadable = |error| ProcessError::Input { path: folder.to_owned(), error };
    for entry in std::fs::read_dir(folder).map_err(unreadable)? {
        let entry = entry.map_err(unreadable)?;
        let hidden = entry.file_name().as_encoded_bytes().starts_with(b".");
        let kind = entry.file_type().map_err(unreadable)?;
        if hidden || entry.file_name() == BOAT_FILE_NAME {
            continue;
        }
        if kind.is_dir() {
            below(&entry.path(), logbook, found)?;
        } else if kind.is_file() {
            found.push(entry.path());
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hidden_files_and_the_boat_file_are_passed_over() {
        let dir = tempfile::tempdir().unwrap();
        std::fs::create_dir_all(dir.path().join("card/.trash")).unwrap();
        std::fs::create_dir_all(dir.path().join("book/track")).unwrap();
        for name in
            ["card/b.txt", "card/a.txt", "card/.hidden", "card/.trash/c", "waterseam.toml", "book/track/x"]
        {
            std::fs::write(dir.path().join(name), "x").unwrap();
        }
        let inputs = [dir.path().to_owned(), dir.path().join("card/a.txt")];
        let found = find(&inputs, Some(&dir.path().join("book"))).unwrap();
        assert_eq!(found, [dir.path().join("card/a.txt"), dir.path().join("card/b.txt")]);
        assert_eq!(boat_file(&inputs), Some(dir.path().join("waterseam.toml")));
    }

    #[test]
    fn a_missing_input_is_named() {
        let error = find(&[PathBuf::from("no-such-card")], None).unwrap_err();
        assert!(error.to_string().contains("no-such-card"), "{error}");
    }
}
