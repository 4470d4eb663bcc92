//! The two back ends, made to look like one: text with `$1` goes in, values come out.

use crate::error::{Error, Result, at, of_database};
use crate::row::{Kind, Value};
use sqlx::postgres::{PgConnectOptions, PgPool, PgPoolOptions, PgRow};
use sqlx::sqlite::{
    SqliteConnectOptions, SqliteJournalMode, SqlitePool, SqlitePoolOptions, SqliteRow,
    SqliteSynchronous,
};
use sqlx::{AssertSqlSafe, Column as _, Postgres, Row as _, Sqlite, Transaction, TypeInfo as _};
use sqlx::{Value as _, ValueRef as _};
use std::path::Path;
use std::str::FromStr as _;
use std::time::Duration;

/// How long to wait for another program that is writing.
const PATIENCE: Duration = Duration::from_secs(5);
/// Connections that read at once.
const READERS: u32 = 4;

/// An open back end, and what to call it.
#[derive(Debug, Clone)]
pub(crate) struct Base {
    pub(crate) pools: Pools,
    pub(crate) name: String,
}

/// One writer and some readers of a file; or a server, which sees to that itself.
#[derive(Debug, Clone)]
pub(crate) enum Pools {
    Sqlite { writer: SqlitePool, readers: SqlitePool },
    Postgres(PgPool),
}

/// A transaction.
pub(crate) struct Tx {
    pub(crate) of: Of,
    pub(crate) name: String,
}

/// A transaction of one back end.
pub(crate) enum Of {
    Sqlite(Transaction<'static, Sqlite>),
    Postgres(Transaction<'static, Postgres>),
}

/// Runs a text with values on whatever is named.
macro_rules! bound {
    ($sql:expr, $values:expr) => {{
        let mut query = sqlx::query(AssertSqlSafe($sql.to_owned()));
        for value in $values {
            query = match value {
                Value::None(Kind::Text) => query.bind(None::<String>),
                Value::None(Kind::Whole | Kind::Flag | Kind::Moment) => query.bind(None::<i64>),
                Value::None(Kind::Real) => query.bind(None::<f64>),
                Value::Text(t) => query.bind(t.clone()),
                Value::Whole(n) => query.bind(*n),
                Value::Real(x) => query.bind(*x),
            };
        }
        query
    }};
}

impl Base {
    /// Opens a file, makes it when there is none. It must have been looked at before.
    pub(crate) async fn sqlite(path: &Path) -> Result<Self> {
        let name = path.display().to_string();
        // FULL: a change is on the disk before it is told as kept, so that not even a power cut
        // takes it back
        let options = SqliteConnectOptions::new()
            .filename(path)
            .create_if_missing(true)
            .journal_mode(SqliteJournalMode::Wal)
            .synchronous(SqliteSynchronous::Full)
            .foreign_keys(true)
            .busy_timeout(PATIENCE);
        let failed = |e| of_database(&name, e);
        let pool = || SqlitePoolOptions::new().acquire_timeout(PATIENCE);
        let writer =
            pool().max_connections(1).connect_with(options.clone()).await.map_err(failed)?;
        let readers =
            pool().max_connections(READERS).connect_lazy_with(options.pragma("query_only", "on"));
        Ok(Self { pools: Pools::Sqlite { writer, readers }, name })
    }

    /// Connects to a server.
    pub(crate) async fn postgres(url: &str) -> Result<Self> {
        let unreadable = |e| of_database("named", e);
        let options = PgConnectOptions::from_str(url).map_err(unreadable)?;
        let database = options.get_database().unwrap_or("postgres");
        let name = format!("{database} on {}", options.get_host());
        let pool = PgPoolOptions::new().max_connections(READERS + 1).acquire_timeout(PATIENCE);
        let pool = pool.connect_with(options).await.map_err(|e| match e {
            sqlx::Error::PoolTimedOut => Error::Unreachable {
                place: name.clone(),
                detail: "no answer within five seconds".into(),
            },
            e => of_database(&name, e),
        })?;
        Ok(Self { pools: Pools::Postgres(pool), name })
    }

    /// Begins to write. Others wait.
    pub(crate) async fn begin(&self) -> Result<Tx> {
        let of = match &self.pools {
            Pools::Sqlite { writer, .. } => {
                writer.begin_with("BEGIN IMMEDIATE").await.map(Of::Sqlite)
            }
            Pools::Postgres(pool) => pool.begin().await.map(Of::Postgres),
        };
        Ok(Tx { of: of.map_err(|e| of_database(&self.name, e))?, name: self.name.clone() })
    }

    /// Begins to read: everything as of one moment.
    pub(crate) async fn look(&self) -> Result<Tx> {
        let of = match &self.pools {
            Pools::Sqlite { readers, .. } => readers.begin().await.map(Of::Sqlite),
            Pools::Postgres(pool) => {
                let begin = "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY";
                pool.begin_with(begin).await.map(Of::Postgres)
            }
        };
        Ok(Tx { of: of.map_err(|e| of_database(&self.name, e))?, name: self.name.clone() })
    }

    /// Asks one thing.
    pub(crate) async fn rows(&self, sql: &str, values: &[Value]) -> Result<Vec<Vec<Value>>> {
        let rows = match &self.pools {
            Pools::Sqlite { readers, .. } => {
                let rows = bound!(sql, values).fetch_all(readers).await;
                rows.and_then(|r| r.iter().map(sqlite_cells).collect())
            }
            Pools::Postgres(pool) => {
                let rows = bound!(sql, values).fetch_all(pool).await;
                rows.and_then(|r| r.iter().map(postgres_cells).collect())
            }
        };
        rows.map_err(|e| of_database(&self.name, e))
    }

    /// Waits for what is being done, then closes.
    pub(crate) async fn close(&self) {
        match &self.pools {
            Pools::Sqlite { writer, readers } => {
                readers.close().await;
                writer.close().await;
            }
            Pools::Postgres(pool) => pool.close().await,
        }
    }
}

impl Tx {
    /// Asks within the transaction.
    pub(crate) async fn rows(&mut self, sql: &str, values: &[Value]) -> Result<Vec<Vec<Value>>> {
        let rows = match &mut self.of {
            Of::Sqlite(tx) => {
                let rows = bound!(sql, values).fetch_all(&mut **tx).await;
                rows.and_then(|r| r.iter().map(sqlite_cells).collect())
            }
            Of::Postgres(tx) => {
                let rows = bound!(sql, values).fetch_all(&mut **tx).await;
                rows.and_then(|r| r.iter().map(postgres_cells).collect())
            }
        };
        rows.map_err(|e| of_database(&self.name, e))
    }

    /// Does something within the transaction.
    pub(crate) async fn run(&mut self, sql: &str, values: &[Value]) -> Result<()> {
        let done = match &mut self.of {
            Of::Sqlite(tx) => bound!(sql, values).execute(&mut **tx).await.map(|_| ()),
            Of::Postgres(tx) => bound!(sql, values).execute(&mut **tx).await.map(|_| ()),
        };
        done.map_err(|e| of_database(&self.name, e))
    }

    /// Several statements, without values.
    pub(crate) async fn script(&mut self, sql: &'static str) -> Result<()> {
        let done = match &mut self.of {
            Of::Sqlite(tx) => sqlx::raw_sql(sql).execute(&mut **tx).await.map(|_| ()),
            Of::Postgres(tx) => sqlx::raw_sql(sql).execute(&mut **tx).await.map(|_| ()),
        };
        done.map_err(|e| of_database(&self.name, e))
    }

    /// Keeps what was done.
    pub(crate) async fn commit(self) -> Result<()> {
        let done = match self.of {
            Of::Sqlite(tx) => tx.commit().await,
            Of::Postgres(tx) => tx.commit().await,
        };
        done.map_err(|e| of_database(&self.name, e))
    }
}

fn sqlite_cells(row: &SqliteRow) -> sqlx::Result<Vec<Value>> {
    let cells = row.columns().iter().map(|c| {
        let raw = row.try_get_raw(c.ordinal())?;
        if raw.is_null() {
            return Ok(Value::None(Kind::Text));
        }
        let owned = raw.to_owned();
        Ok(match owned.type_info().name() {
            "INTEGER" => Value::Whole(row.try_get(c.ordinal())?),
            "REAL" => Value::Real(row.try_get(c.ordinal())?),
            _ => Value::Text(row.try_get(c.ordinal())?),
        })
    });
    cells.collect()
}

fn postgres_cells(row: &PgRow) -> sqlx::Result<Vec<Value>> {
    let cells = row.columns().iter().map(|c| {
        let i = c.ordinal();
        let none = Value::None(Kind::Text);
        Ok(match c.type_info().name() {
            "INT8" => row.try_get::<Option<i64>, _>(i)?.map_or(none, Value::Whole),
            "INT4" => row.try_get::<Option<i32>, _>(i)?.map_or(none, |n| Value::Whole(n.into())),
            "FLOAT8" => row.try_get::<Option<f64>, _>(i)?.map_or(none, Value::Real),
            _ => row.try_get::<Option<String>, _>(i)?.map_or(none, Value::Text),
        })
    });
    cells.collect()
}

/// Makes a folder and those above it.
pub(crate) fn folder(path: &Path) -> Result<()> {
    std::fs::create_dir_all(path).map_err(at(path))
}
