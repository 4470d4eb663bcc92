//! What can go wrong with a notebook, said so that it can be mended.

use crate::key::{Id, NoKey};
use engine::file::Problem;
use std::path::{Path, PathBuf};

/// Why a notebook did not do as asked. Nothing was changed when one comes back.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// Not there.
    #[error("there is no {what} {id} in this notebook")]
    Missing {
        /// What was sought.
        what: &'static str,
        /// Its key.
        id: String,
    },
    /// A finished bake was to be edited.
    #[error("the bake {bake} is finished: it stays as it happened. Add an annotation instead")]
    Finished {
        /// Key of the bake.
        bake: Id,
    },
    /// Other entries hang on what was to go, or what an entry names is not there.
    #[error(
        "other entries need this one, or it names one that is not there: take those away (or undo \
         them) first"
    )]
    Needed,
    /// The same key came with other contents.
    #[error(
        "the {what} {id} is kept already, with other contents: send what is new with a new key"
    )]
    Different {
        /// What it is.
        what: &'static str,
        /// Its key.
        id: String,
    },
    /// A change cannot be undone, since what it touched was changed again.
    #[error(
        "change {revision} cannot be undone: its {what} {id} was changed again since. Undo the \
         later changes first"
    )]
    ChangedSince {
        /// The change that was to be undone.
        revision: i64,
        /// The entry in the way.
        what: &'static str,
        /// Its key.
        id: String,
    },
    /// A change was undone before.
    #[error("change {revision} was undone by change {by} already")]
    UndoneBefore {
        /// The change that was to be undone.
        revision: i64,
        /// The change that undid it.
        by: i64,
    },
    /// There is nothing to undo or redo.
    #[error("there is nothing of \"{who}\" to {verb}")]
    Nothing {
        /// Whose changes were sought.
        who: String,
        /// Undo or redo.
        verb: &'static str,
    },
    /// A value a notebook does not keep.
    #[error("{field}: {message}")]
    Given {
        /// The field it stands in.
        field: String,
        /// What is wrong and what to write instead.
        message: String,
    },
    /// A recipe or kitchen text with mistakes in it.
    #[error("the {what} has mistakes: {}", told(problems))]
    Text {
        /// Recipe or kitchen.
        what: &'static str,
        /// All of them.
        problems: Vec<Problem>,
    },
    /// An export that cannot be read.
    #[error("{}{}: {message}", file.display(), line.map(|n| format!(", line {n}")).unwrap_or_default())]
    Folder {
        /// The file.
        file: PathBuf,
        /// The line, from 1.
        line: Option<usize>,
        /// What is wrong and how to mend it.
        message: String,
    },
    /// The notebook was written by a newer grigne.
    #[error(
        "{place} is of version {found}, and this grigne knows up to version {known}. It has not \
         been touched: open it with a newer grigne, or open a copy from its folder of backups"
    )]
    Newer {
        /// File or database.
        place: String,
        /// Its version.
        found: i64,
        /// The latest version known here.
        known: i64,
    },
    /// A file of something else.
    #[error("{place} is not a notebook: it has not been touched. Name another file")]
    NotANotebook {
        /// File or database.
        place: String,
    },
    /// A damaged file.
    #[error(
        "{place} is damaged ({detail}). Nothing more was written to it: copy it away, then put the \
         latest backup in its place, or import the latest export"
    )]
    Corrupt {
        /// File or database.
        place: String,
        /// What was seen.
        detail: String,
    },
    /// No room on the disk.
    #[error(
        "the disk of {place} is full: this change was not kept, everything before it was. Free \
         some space and try again"
    )]
    Full {
        /// File or database.
        place: String,
    },
    /// Something else is writing.
    #[error("{place} is being written by another program: try again in a moment")]
    Busy {
        /// File or database.
        place: String,
    },
    /// The database server does not answer or refuses.
    #[error(
        "the database {place} cannot be reached: {detail}. Check that it runs, and the address"
    )]
    Unreachable {
        /// The database, without its password.
        place: String,
        /// What it or the network said.
        detail: String,
    },
    /// A file cannot be read or written.
    #[error("{}: {source}", path.display())]
    File {
        /// The file.
        path: PathBuf,
        /// What the machine said.
        source: std::io::Error,
    },
    /// Anything else the database says: a mistake of ours.
    #[error("{place}: {source}")]
    Database {
        /// File or database.
        place: String,
        /// What it said.
        source: sqlx::Error,
    },
}

/// What comes of asking a notebook.
pub type Result<T, E = Error> = std::result::Result<T, E>;

fn told(problems: &[Problem]) -> String {
    let told = problems.iter().map(|p| format!("{} {}", p.field, p.message));
    told.collect::<Vec<_>>().join("; ")
}

impl From<NoKey> for Error {
    fn from(e: NoKey) -> Self {
        given("key", e.to_string())
    }
}

/// A value that is not kept.
pub(crate) fn given(field: impl Into<String>, message: impl Into<String>) -> Error {
    Error::Given { field: field.into(), message: message.into() }
}

/// A file that cannot be read or written; a full disk is told as such.
pub(crate) fn at(path: &Path) -> impl FnOnce(std::io::Error) -> Error {
    move |source| match source.kind() {
        std::io::ErrorKind::StorageFull => Error::Full { place: path.display().to_string() },
        _ => Error::File { path: path.to_owned(), source },
    }
}

/// What a back end said, in our words. `place` is the file or the database without its password.
pub(crate) fn of_database(place: &str, e: sqlx::Error) -> Error {
    let place = place.to_owned();
    let detail = e.to_string();
    match &e {
        sqlx::Error::Database(said) => {
            let code = said.code().unwrap_or_default().into_owned();
            // SQLite gives a number, whose last byte is the kind; PostgreSQL five letters
            let sqlite = said.try_downcast_ref::<sqlx::sqlite::SqliteError>().is_some();
            let kind = code.parse::<i64>().map(|c| c & 0xff).unwrap_or_default();
            match (sqlite, kind, code.as_str()) {
                (true, 5 | 6, _) => Error::Busy { place },
                (true, 11 | 26, _) => Error::Corrupt { place, detail: said.message().to_owned() },
                (true, 13, _) | (false, _, "53100") => Error::Full { place },
                (true, _, "787") | (false, _, "23503") => Error::Needed,
                (true, 14, _) => Error::Unreachable { place, detail: said.message().to_owned() },
                (false, _, code) if code.starts_with("XX") => Error::Corrupt { place, detail },
                (false, _, code)
                    if ["08", "28", "3D", "53", "57"].iter().any(|c| code.starts_with(c)) =>
                {
                    Error::Unreachable { place, detail: said.message().to_owned() }
                }
                _ => Error::Database { place, source: e },
            }
        }
        sqlx::Error::PoolTimedOut => Error::Busy { place },
        sqlx::Error::Io(_) | sqlx::Error::Tls(_) | sqlx::Error::Configuration(_) => {
            Error::Unreachable { place, detail }
        }
        _ => Error::Database { place, source: e },
    }
}
