//! Which files does a path hold: itself, or the members of an archive?

use std::fs::File;
use std::io::{self, BufReader, Read};
use std::path::{Path, PathBuf};

use zip::CompressionMethod;
use zip::read::{Config, ZipReadOptions};
use zip::result::ZipError;
use zip::unstable::read::ZipIterable;

use crate::boat::BoatFile;
use crate::read::{ReadError, read_member};
use crate::source::{Sink, SourceReport};
use crate::story::ClockHints;
use crate::unpack::{Stretch, Unpacked, unpacked_bytes_max};

/// Members of one archive that are read.
const MEMBERS_MAX: usize = 10_000;

/// Longest name of a member that is kept, characters.
const NAME_CHARACTERS_MAX: usize = 200;

/// A file on disk, or a member of an archive on disk.
#[derive(Clone, Debug)]
pub struct Member {
    /// File on disk.
    path: PathBuf,
    /// Its name, or the member's.
    name: String,
    /// Where the member lies; `None` for the file itself.
    stretch: Option<Stretch>,
    /// It is one of several in an archive.
    is_inside: bool,
    /// Why it is not read.
    refusal: Option<String>,
}

/// The files at a path: the file itself, or the members of the zip archive that it is. Folders, links and hidden files
/// in an archive are passed over.
///
/// Names of members are labels without folders and control characters; nothing is written to disk. An archive, or a
/// member, that is damaged, locked with a password, packed in an unusual way or made to fill a disk is there as one
/// [`Member`] whose report says so.
///
/// # Errors
/// Where the file cannot be opened or read.
pub fn members(path: &Path) -> Result<Vec<Member>, ReadError> {
    let opened = || File::open(path).map_err(|error| ReadError::Open { path: path.to_owned(), error });
    let unreadable = |error| ReadError::Read { path: path.to_owned(), error };
    let mut head = Vec::new();
    opened()?.take(4).read_to_end(&mut head).map_err(unreadable)?;
    // a member, or the directory of an archive without any (APPNOTE.TXT 4.3.7 and 4.3.16)
    if head != b"PK\x03\x04" && head != b"PK\x05\x06" {
        return Ok(vec![Member::on_disk(path)]);
    }
    match inside(path, BufReader::new(opened()?), opened()?) {
        Ok(members) => Ok(members),
        Err(NoList::Refused(why)) => Ok(vec![Member::on_disk(path).refused(&why)]),
        Err(NoList::Unreadable(error)) => Err(unreadable(error)),
    }
}

impl Member {
    /// A file on disk, whatever it holds.
    pub fn on_disk(path: &Path) -> Self {
        let name = printable(&path.file_name().unwrap_or(path.as_os_str()).to_string_lossy());
        Self { path: path.to_owned(), name, stretch: None, is_inside: false, refusal: None }
    }

    fn refused(self, why: &str) -> Self {
        Self { refusal: Some(why.to_owned()), ..self }
    }

    /// Its name without folders and control characters.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Where it is: the path of the file, for a member with its name behind it.
    pub fn shown_path(&self) -> PathBuf {
        if self.is_inside { self.path.join(&self.name) } else { self.path.clone() }
    }

    /// Reads it as [`read_file`](crate::read_file) does.
    ///
    /// # Errors
    /// Where the file on disk cannot be opened or read. What was read before has been handed out.
    pub fn read(&self, boat: &BoatFile, sink: &mut dyn Sink) -> Result<SourceReport, ReadError> {
        self.read_with(boat, &ClockHints::default(), sink)
    }

    /// Reads it with what is known about its clock.
    ///
    /// # Errors
    /// As [`Member::read`].
    pub fn read_with(
        &self,
        boat: &BoatFile,
        hints: &ClockHints,
        sink: &mut dyn Sink,
    ) -> Result<SourceReport, ReadError> {
        read_member(self, boat, hints, sink)
    }

    /// Its bytes, unpacked.
    ///
    /// # Errors
    /// Where the file on disk cannot be opened or read.
    pub fn open(&self) -> io::Result<impl Read + use<>> {
        self.unpack()
    }

    /// BLAKE3 of its first bytes, lower-case hex; `None` where it has fewer.
    ///
    /// # Errors
    /// Where the file on disk cannot be opened or read.
    pub fn hash_of_first(&self, bytes: u64) -> io::Result<Option<String>> {
        let mut hasher = blake3::Hasher::new();
        let n = io::copy(&mut self.open()?.take(bytes), &mut hasher)?;
        Ok((n == bytes).then(|| hasher.finalize().to_hex().to_string()))
    }

    pub(crate) fn unpack(&self) -> io::Result<Unpacked> {
        Unpacked::open(&self.path, self.stretch)
    }

    pub(crate) fn path(&self) -> &Path {
        &self.path
    }

    pub(crate) fn refusal(&self) -> Option<&str> {
        self.refusal.as_deref()
    }

    /// Whether a refused member has bytes that could be looked at: the archive itself.
    pub(crate) fn is_whole_file(&self) -> bool {
        !self.is_inside
    }
}

/// Why the members of an archive cannot be listed.
enum NoList {
    Unreadable(io::Error),
    Refused(String),
}

impl From<ZipError> for NoList {
    fn from(error: ZipError) -> Self {
        match error {
            ZipError::Io(error) if error.raw_os_error().is_some() => Self::Unreadable(error),
            _ => Self::Refused(
                "zip archive that is damaged or cut short: not read; copy it once more".to_owned(),
            ),
        }
    }
}

fn inside(path: &Path, directory: BufReader<File>, mut content: File) -> Result<Vec<Member>, NoList> {
    let archive_bytes = content.metadata().map_err(NoList::Unreadable)?.len();
    let mut archive = ZipIterable::try_new(directory, Config::default())?;
    let n_members = archive.len();
    if n_members > MEMBERS_MAX {
        return Err(NoList::Refused(format!(
            "zip archive of {n_members} members: more than {MEMBERS_MAX} are not read; unpack it and give what is in it"
        )));
    }
    let mut members = Vec::new();
    let (mut unpacked_bytes, mut packed_bytes) = (0_u64, 0_u64);
    for entry in archive.files()? {
        let entry = match entry.map_err(NoList::from) {
            Ok(entry) => entry,
            Err(NoList::Refused(_)) if !members.is_empty() => {
                let lost = Member { is_inside: true, ..Member::on_disk(path) };
                members.push(lost.refused("rest of an archive whose directory is damaged: not read"));
                break;
            }
            Err(error) => return Err(error),
        };
        let full_name = String::from_utf8_lossy(entry.name_raw()).into_owned();
        if full_name == "[Content_Types].xml" || full_name == "mimetype" {
            return Err(NoList::Refused(
                "spreadsheet or document: not read; of a spreadsheet, save the sheet as CSV".to_owned(),
            ));
        }
        if !entry.is_file() || is_hidden(&full_name) {
            continue;
        }
        let name = label(&entry.name().unwrap_or(full_name.into()), members.len());
        let mut stretch = Stretch {
            start: 0,
            packed_bytes: entry.compressed_size(),
            bytes: entry.size(),
            crc32: entry.crc32(),
            is_deflated: entry.compression() == CompressionMethod::Deflated,
            gunzipped_bytes_max: 0,
        };
        let is_stored = entry.compression() == CompressionMethod::Stored;
        let mut refusal = None;
        if entry.encrypted() {
            refusal = Some("locked with a password: not read; unpack it and give what is in it".to_owned());
        } else if !(stretch.is_deflated || is_stored) {
            refusal = Some("packed in an unusual way: not read; unpack it and give what is in it".to_owned());
        } else if stretch.bytes > unpacked_bytes_max(stretch.packed_bytes)
            || unpacked_bytes.saturating_add(stretch.bytes) > unpacked_bytes_max(archive_bytes)
        {
            refusal = Some(format!(
                "unpacks to {} bytes, far more than its archive should hold: not read; if it is a log, unpack it and \
                 give that",
                stretch.bytes
            ));
        } else {
            match entry.with_reader(&mut content, ZipReadOptions::new()) {
                Ok(file) => stretch.start = file.data_start().unwrap_or_default(),
                Err(ZipError::Io(error)) if error.raw_os_error().is_some() => {
                    return Err(NoList::Unreadable(error));
                }
                Err(_) => refusal = Some("damaged member of an archive: not read".to_owned()),
            }
        }
        if refusal.is_none() {
            unpacked_bytes += stretch.bytes;
            packed_bytes = packed_bytes.saturating_add(stretch.packed_bytes);
        }
        members.push(Member {
            path: path.to_owned(),
            name,
            stretch: Some(stretch),
            is_inside: true,
            refusal,
        });
    }
    if members.is_empty() {
        return Err(NoList::Refused("zip archive without a file in it".to_owned()));
    }
    // sizes inside gzip are not promised anywhere: each member has its share of what the archive may unpack to
    let share = unpacked_bytes_max(archive_bytes) as f64 / packed_bytes.max(1) as f64;
    for stretch in members.iter_mut().filter_map(|member| member.stretch.as_mut()) {
        stretch.gunzipped_bytes_max = (share * stretch.packed_bytes as f64) as u64;
    }
    Ok(members)
}

/// Whether a file of an archive would be hidden if it were unpacked.
fn is_hidden(full_name: &str) -> bool {
    full_name.split(['/', '\\']).any(|part| {
        part == "__MACOSX" || (part.starts_with('.') && !part.chars().all(|letter| letter == '.'))
    })
}

/// The last part of a member's name, fit to be printed.
fn label(full_name: &str, at: usize) -> String {
    let last = full_name.rsplit(['/', '\\']).next().unwrap_or_default();
    let clean = printable(last);
    if clean.chars().all(|letter| letter == '.') { format!("member {}", at + 1) } else { clean }
}

/// A name that moves no cursor when it is printed.
fn printable(name: &str) -> String {
    name.chars().filter(|letter| !letter.is_control()).take(NAME_CHARACTERS_MAX).collect()
}

#[cfg(test)]
#[path = "member_tests.rs"]
mod tests;
