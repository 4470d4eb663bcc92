//! What version a notebook is of, and how an older one becomes the present one: step by step,
//! with a backup before each.

use crate::base::{Base, Of, Pools, Tx, folder};
use crate::change::whole;
use crate::error::{Error, Result, at, given, of_database};
use crate::key::Moment;
use crate::row::Value;
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{ConnectOptions as _, Connection as _, Row as _};
use std::io::{Read as _, Write as _};
use std::path::{Path, PathBuf};

/// One step of the schema, for either back end.
#[derive(Debug)]
pub(crate) struct Step {
    pub(crate) sqlite: &'static str,
    pub(crate) postgres: &'static str,
}

macro_rules! step {
    ($name:literal) => {
        Step {
            sqlite: include_str!(concat!("../schema/sqlite/", $name)),
            postgres: include_str!(concat!("../schema/postgres/", $name)),
        }
    };
}

/// All steps. A column that is added is optional: images of older rows do not have it.
pub(crate) const STEPS: &[Step] = &[step!("0001.sql"), step!("0002.sql")];

/// Version of notebooks written here.
pub const VERSION: i64 = STEPS.len() as i64;

/// What a file of ours is marked with: "grig".
const APPLICATION: i64 = 0x6772_6967;
/// What keeps two from upgrading one database at once: the same.
const LOCK: &str = "SELECT pg_advisory_xact_lock(1735551335)::text";

/// Version of a file, looked at without touching it; 0 when it is new.
pub(crate) async fn version_of_file(path: &Path) -> Result<i64> {
    let place = path.display().to_string();
    let mut first = Vec::new();
    match std::fs::File::open(path) {
        Ok(file) => file.take(16).read_to_end(&mut first).map_err(at(path))?,
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(0),
        Err(e) => return Err(at(path)(e)),
    };
    if first.is_empty() {
        return Ok(0);
    }
    if first != *b"SQLite format 3\0" {
        let detail = "it does not begin as a notebook does; perhaps it is another file".into();
        return Err(Error::Corrupt { place, detail });
    }
    let failed = |e| of_database(&place, e);
    let options = SqliteConnectOptions::new().filename(path).read_only(true);
    let mut connection = options.connect().await.map_err(failed)?;
    let mut found = [0_i64; 3];
    let asked =
        ["PRAGMA application_id", "PRAGMA user_version", "SELECT count(*) FROM sqlite_schema"];
    for (found, sql) in found.iter_mut().zip(asked) {
        let row = sqlx::query(sql).fetch_one(&mut connection).await.map_err(failed)?;
        *found = row.try_get(0).map_err(failed)?;
    }
    connection.close().await.map_err(failed)?;
    match found {
        [0, 0, 0] => Ok(0),
        [APPLICATION, version, _] => known(version, place),
        _ => Err(Error::NotANotebook { place }),
    }
}

fn known(found: i64, place: String) -> Result<i64> {
    if found > VERSION { Err(Error::Newer { place, found, known: VERSION }) } else { Ok(found) }
}

async fn version(tx: &mut Tx) -> Result<i64> {
    if let Of::Sqlite(_) = tx.of {
        return whole(tx.rows("PRAGMA user_version", &[]).await?.first());
    }
    let there = "SELECT count(*) FROM information_schema.tables \
                 WHERE table_schema = current_schema() AND table_name = 'notebook'";
    if whole(tx.rows(there, &[]).await?.first())? == 0 {
        return Ok(0);
    }
    let found = tx.rows("SELECT schema FROM notebook", &[]).await;
    let place = tx.name.clone();
    match found {
        Ok(rows) => whole(rows.first()),
        Err(Error::Database { .. }) => Err(Error::NotANotebook { place }),
        Err(e) => Err(e),
    }
}

/// Brings a notebook to the present version. Backups go to `backups`.
pub(crate) async fn upgrade(
    base: &Base,
    steps: &[Step],
    backups: &Path,
    now: Moment,
) -> Result<Vec<PathBuf>> {
    let mut kept = Vec::new();
    loop {
        let mut tx = base.look().await?;
        let found = version(&mut tx).await?;
        drop(tx);
        let latest = steps.len() as i64;
        if found > latest {
            return Err(Error::Newer { place: base.name.clone(), found, known: latest });
        }
        let Some(step) = steps.get(found as usize) else { return Ok(kept) };
        if found > 0 {
            kept.push(backup(base, backups, &format!("before-version-{}", found + 1), now).await?);
        }
        let mut tx = base.begin().await?;
        if let Of::Postgres(_) = tx.of {
            tx.rows(LOCK, &[]).await?;
        }
        // another program may have been quicker
        if version(&mut tx).await? != found {
            continue;
        }
        match tx.of {
            Of::Sqlite(_) => {
                tx.script(step.sqlite).await?;
                tx.run(&format!("PRAGMA application_id = {APPLICATION}"), &[]).await?;
                tx.run(&format!("PRAGMA user_version = {}", found + 1), &[]).await?;
            }
            Of::Postgres(_) => {
                tx.script(step.postgres).await?;
                let set = "UPDATE notebook SET schema = $1";
                tx.run(set, &[Value::Whole(found + 1)]).await?;
            }
        }
        tx.commit().await?;
    }
}

/// Makes a backup: of a file a copy that is a notebook itself, of a server a folder with one
/// file of JSON lines a table. Gives its path.
pub(crate) async fn backup(base: &Base, backups: &Path, why: &str, now: Moment) -> Result<PathBuf> {
    folder(backups)?;
    let stamp = now.to_string().replace([':', '.'], "-");
    let (part, end) = match base.pools {
        Pools::Sqlite { .. } => ("notebook", ".grigne"),
        Pools::Postgres(_) => ("server", ""),
    };
    let path = (1..1000)
        .map(|n| if n == 1 { String::new() } else { format!("-{n}") })
        .map(|n| backups.join(format!("{part}-{why}-{stamp}{n}{end}")))
        .find(|path| !path.exists())
        .ok_or_else(|| given("backup", "no name is free"))?;
    let half = backups.join(format!(".half-{}", path.file_name().unwrap_or_default().display()));
    let done = match &base.pools {
        Pools::Sqlite { writer, .. } => {
            let _ = std::fs::remove_file(&half);
            let into = sqlx::query("VACUUM INTO $1").bind(half.display().to_string());
            let done = into.execute(writer).await.map(|_| ());
            done.map_err(|e| of_database(&base.name, e))
        }
        Pools::Postgres(_) => {
            let _ = std::fs::remove_dir_all(&half);
            lines_of(base, &half).await
        }
    };
    let done = done.and_then(|()| {
        sync(&half)?;
        std::fs::rename(&half, &path).map_err(at(&path))?;
        sync(backups)
    });
    if done.is_err() {
        let _ = std::fs::remove_file(&half);
        let _ = std::fs::remove_dir_all(&half);
    }
    done.map(|()| path)
}

/// Waits until a file or folder is on the disk.
pub(crate) fn sync(path: &Path) -> Result<()> {
    std::fs::File::open(path).and_then(|f| f.sync_all()).map_err(at(path))
}

/// Tables of a database, whatever its version.
const THERE: &str = "SELECT table_name::text FROM information_schema.tables \
    WHERE table_schema = current_schema() AND table_type = 'BASE TABLE' ORDER BY 1";

async fn lines_of(base: &Base, into: &Path) -> Result<()> {
    folder(into)?;
    let mut tx = base.look().await?;
    for table in texts(tx.rows(THERE, &[]).await?) {
        let path = into.join(format!("{table}.jsonl"));
        let sql = format!("SELECT to_jsonb(t)::text FROM \"{table}\" t");
        let mut lines = texts(tx.rows(&sql, &[]).await?).join("\n");
        lines.push('\n');
        let written = std::fs::File::create(&path).and_then(|mut f| {
            f.write_all(lines.as_bytes())?;
            f.sync_all()
        });
        written.map_err(at(&path))?;
    }
    Ok(())
}

fn texts(rows: Vec<Vec<Value>>) -> Vec<String> {
    let first = rows.into_iter().filter_map(|mut r| (!r.is_empty()).then(|| r.swap_remove(0)));
    first.filter_map(|v| if let Value::Text(t) = v { Some(t) } else { None }).collect()
}

/// Puts a server's backup into an empty database.
pub(crate) async fn restore_lines(base: &Base, from: &Path) -> Result<()> {
    let path = from.join("notebook.jsonl");
    let head = std::fs::read_to_string(&path).map_err(at(&path))?;
    let wrong = || given(path.display().to_string(), "is not the head of a backup");
    let head: serde_json::Value = serde_json::from_str(head.trim()).map_err(|_| wrong())?;
    let found = head.get("schema").and_then(serde_json::Value::as_i64).ok_or_else(wrong)?;
    known(found, path.display().to_string())?;
    let mut tx = base.begin().await?;
    if version(&mut tx).await? != 0 {
        let message = "holds a notebook already: name an empty database";
        return Err(given(base.name.clone(), message));
    }
    for step in &STEPS[..found as usize] {
        tx.script(step.postgres).await?;
    }
    tx.run("DELETE FROM notebook", &[]).await?;
    for table in texts(tx.rows(THERE, &[]).await?) {
        let path = from.join(format!("{table}.jsonl"));
        let lines = std::fs::read_to_string(&path).map_err(at(&path))?;
        let sql = format!(
            "INSERT INTO \"{table}\" SELECT * FROM jsonb_populate_record(NULL::\"{table}\", $1::jsonb)"
        );
        for line in lines.lines().filter(|l| !l.is_empty()) {
            tx.run(&sql, &[Value::Text(line.into())]).await?;
        }
    }
    tx.commit().await
}

/// Looks through the whole file for damage.
pub(crate) async fn check(base: &Base) -> Result<()> {
    if let Pools::Sqlite { .. } = base.pools {
        let said = texts(base.rows("PRAGMA integrity_check(5)", &[]).await?);
        if said != ["ok"] {
            return Err(Error::Corrupt { place: base.name.clone(), detail: said.join("; ") });
        }
        let loose = base.rows("PRAGMA foreign_key_check", &[]).await?;
        if !loose.is_empty() {
            let detail = format!("{} entries lean on ones that are not there", loose.len());
            return Err(Error::Corrupt { place: base.name.clone(), detail });
        }
    }
    Ok(())
}
