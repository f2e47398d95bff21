//! What is below a folder?

use std::collections::BTreeMap;
use std::path::Path;

/// Every file below a folder: path from it, and bytes.
pub fn tree(root: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut files = BTreeMap::new();
    let mut folders = vec![root.to_owned()];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let inside = path.strip_prefix(root).unwrap().to_str().unwrap().to_owned();
                files.insert(inside, std::fs::read(&path).unwrap());
            }
        }
    }
    files
}
