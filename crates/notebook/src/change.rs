//! Changes: everything that is written is one transaction with a name, a revision and the rows
//! before and after, so that anything can be undone, and undone again.
//!
//! The rule that a finished bake is annotated and never edited stands here and nowhere else.

use crate::base::{Base, Tx};
use crate::entry::{Annotation, Bake, Entry, TABLES};
use crate::error::{Error, Result, given};
use crate::key::Moment;
use crate::row::{Kind, Leans, Row, Table, Value};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// When something is changed, and by whom: a person or a device.
#[derive(Debug, Clone, Copy)]
pub struct By<'a> {
    /// When.
    pub at: Moment,
    /// By whom.
    pub who: &'a str,
}

/// A change, as the list of changes shows it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Change {
    /// Its number: 1 is the first, without gaps.
    pub revision: i64,
    /// When.
    pub at: Moment,
    /// By whom.
    pub who: String,
    /// What, in words.
    pub what: String,
    /// The change it undid.
    pub undoes: Option<i64>,
    /// The change that undid it.
    pub undone_by: Option<i64>,
}

/// An entry a change touched.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Touched {
    /// Kind of entry, such as `bake`.
    pub entry: String,
    /// Its key.
    pub id: String,
}

/// What changed since a revision.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Since {
    /// The revision that is told up to.
    pub revision: i64,
    /// What was touched, each once; none when it is so much that everything should be read anew.
    pub touched: Option<Vec<Touched>>,
}

/// Most entries told one by one.
const TOLD: i64 = 500;

/// A row before a change and after it; none where there was none.
type BeforeAfter = (Option<Row>, Option<Row>);

/// A change being made.
pub(crate) struct Writing {
    pub(crate) tx: Tx,
    pub(crate) revision: i64,
    touched: BTreeMap<(&'static str, String), BeforeAfter>,
    undoes: Option<Change>,
    keep_marks: bool,
    seeds: bool,
}

impl Writing {
    /// Begins a change; others that write wait until it is done or dropped.
    pub(crate) async fn begin(base: &Base) -> Result<Self> {
        let mut tx = base.begin().await?;
        let next = "UPDATE notebook SET revision = revision + 1 RETURNING revision";
        let revision = whole(tx.rows(next, &[]).await?.first())?;
        Ok(Self {
            tx,
            revision,
            touched: BTreeMap::new(),
            undoes: None,
            keep_marks: false,
            seeds: false,
        })
    }

    /// Marks what is written as the demo's.
    pub(crate) fn seeding(self) -> Self {
        Self { seeds: true, ..self.keeping_marks() }
    }

    /// Takes the demo's marks as they are given: undoing, importing.
    pub(crate) fn keeping_marks(mut self) -> Self {
        self.keep_marks = true;
        self
    }

    /// An entry, as it is now.
    pub(crate) async fn find<T: Entry>(&mut self, id: impl ToString) -> Result<Option<T>> {
        let row = self.row(T::TABLE, &id.to_string()).await?;
        row.map(|r| read(&r)).transpose()
    }

    /// As [`Self::find`], when it has to be there.
    pub(crate) async fn get<T: Entry>(&mut self, id: impl ToString) -> Result<T> {
        let id = id.to_string();
        let found = self.find(&id).await?;
        found.ok_or_else(|| missing(T::TABLE, &id))
    }

    async fn row(&mut self, table: &'static Table, id: &str) -> Result<Option<Row>> {
        let sql = format!("SELECT {} FROM {} WHERE id = $1", table.listed(), table.name);
        let rows = self.tx.rows(&sql, &[Value::Text(id.into())]).await?;
        Ok(rows.into_iter().next().map(|cells| table.row(cells)))
    }

    /// Writes an entry, new or changed. What the demo brought is the user's from then on.
    /// How many entries of a table have a value in a column.
    pub(crate) async fn count(&mut self, table: &str, column: &str, value: &str) -> Result<i64> {
        let sql = format!("SELECT COUNT(*) FROM {table} WHERE \"{column}\" = $1");
        whole(self.tx.rows(&sql, &[Value::Text(value.to_owned())]).await?.first())
    }

    pub(crate) async fn put(&mut self, entry: &impl Entry) -> Result<()> {
        self.put_row(entry.row()).await
    }

    pub(crate) async fn put_row(&mut self, mut row: Row) -> Result<()> {
        if self.seeds || !self.keep_marks {
            row.mark(self.seeds);
        }
        row.check()?;
        let table = row.table;
        let before = self.row(table, row.id()).await?;
        let columns = table.columns;
        let sql = match &before {
            Some(b) if same(b, &row) && (!self.keep_marks || b.is_demo() == row.is_demo()) => {
                return Ok(());
            }
            Some(_) => {
                let set: Vec<String> = columns
                    .iter()
                    .enumerate()
                    .skip(1)
                    .map(|(i, c)| format!("\"{}\" = ${}", c.name, i + 1))
                    .collect();
                format!("UPDATE {} SET {} WHERE id = $1", table.name, set.join(", "))
            }
            None => {
                let places: Vec<String> = (1..=columns.len()).map(|i| format!("${i}")).collect();
                let (listed, places) = (table.listed(), places.join(", "));
                format!("INSERT INTO {} ({listed}) VALUES ({places})", table.name)
            }
        };
        self.tx.run(&sql, &row.values).await?;
        self.touch(table, row.id().to_owned(), before, Some(row));
        Ok(())
    }

    /// Writes an entry that is new; one that is here the same already stays as it is.
    pub(crate) async fn add_row(&mut self, row: Row) -> Result<()> {
        match self.row(row.table, row.id()).await? {
            Some(there) if same(&there, &row) => Ok(()),
            Some(_) => Err(Error::Different { what: row.table.name, id: row.id().to_owned() }),
            None => self.put_row(row).await,
        }
    }

    /// Takes an entry away, if it is there.
    pub(crate) async fn remove(&mut self, table: &'static Table, id: &str) -> Result<()> {
        let Some(before) = self.row(table, id).await? else { return Ok(()) };
        let sql = format!("DELETE FROM {} WHERE id = $1", table.name);
        self.tx.run(&sql, &[Value::Text(id.into())]).await?;
        self.touch(table, id.to_owned(), Some(before), None);
        Ok(())
    }

    /// Takes away an entry and all that is a part of it.
    pub(crate) async fn remove_whole(&mut self, table: &'static Table, id: &str) -> Result<()> {
        for part in TABLES {
            let Some(column) = part_of(part, table.name) else { continue };
            let sql = format!("SELECT id FROM {} WHERE \"{column}\" = $1", part.name);
            for cells in self.tx.rows(&sql, &[Value::Text(id.into())]).await? {
                if let Some(Value::Text(id)) = cells.first() {
                    self.remove(part, id).await?;
                }
            }
        }
        self.remove(table, id).await
    }

    fn touch(
        &mut self,
        table: &'static Table,
        id: String,
        before: Option<Row>,
        after: Option<Row>,
    ) {
        let touched = self.touched.entry((table.name, id)).or_insert((before, None));
        touched.1 = after;
    }

    /// Keeps the change under a name. One that touched nothing leaves no trace.
    ///
    /// Gives the revision the notebook then has.
    pub(crate) async fn keep(mut self, what: &str, by: By<'_>) -> Result<i64> {
        self.touched.retain(|_, (before, after)| before != after);
        if self.touched.is_empty() {
            return Ok(self.revision - 1);
        }
        if !by.at.is_sound() {
            return Err(given("the change, at", "is not in the years 0 to 9999"));
        }
        self.spare_finished().await?;
        let undoes = self.undoes.as_ref().map(|c| c.revision);
        let values = [
            Value::Whole(self.revision),
            Value::Whole(by.at.0),
            Value::Text(by.who.replace('\0', "")),
            Value::Text(what.replace('\0', "")),
            undoes.map_or(Value::None(Kind::Whole), Value::Whole),
        ];
        let sql =
            "INSERT INTO change (revision, at, who, what, undoes) VALUES ($1, $2, $3, $4, $5)";
        self.tx.run(sql, &values).await?;
        if let Some(undone) = &self.undoes {
            let set = "UPDATE change SET undone_by = $1 WHERE revision = $2";
            let this = Value::Whole(self.revision);
            self.tx.run(set, &[this, Value::Whole(undone.revision)]).await?;
            // undoing an undo: what that undid stands again
            if let Some(root) = undone.undoes {
                let values = [Value::None(Kind::Whole), Value::Whole(root)];
                self.tx.run(set, &values).await?;
            }
        }
        let touched: Vec<_> = self.touched.iter().enumerate().collect();
        for some in touched.chunks(200) {
            let mut values = Vec::with_capacity(some.len() * 6);
            for (place, ((entry, id), (before, after))) in some {
                let image = |row: &Option<Row>| {
                    row.as_ref().map_or(Value::None(Kind::Text), |r| Value::Text(r.image()))
                };
                values.extend([
                    Value::Whole(self.revision),
                    Value::Whole(*place as i64),
                    Value::Text((*entry).into()),
                    Value::Text(id.clone()),
                    image(before),
                    image(after),
                ]);
            }
            let places: Vec<String> = (0..some.len())
                .map(|i| {
                    let six: Vec<String> = (1..=6).map(|j| format!("${}", i * 6 + j)).collect();
                    format!("({})", six.join(", "))
                })
                .collect();
            let sql = format!(
                "INSERT INTO change_row (revision, place, entry, id, \"before\", \"after\") VALUES {}",
                places.join(", ")
            );
            self.tx.run(&sql, &values).await?;
        }
        let revision = self.revision;
        self.tx.commit().await?;
        Ok(revision)
    }

    /// Refuses to edit a bake that was finished before this change began. It may be annotated,
    /// taken away as a whole and brought back; and an undo may open it again.
    async fn spare_finished(&mut self) -> Result<()> {
        let mut bakes: Vec<String> = Vec::new();
        for ((table, id), (before, after)) in &self.touched {
            let marks_only = matches!((before, after), (Some(b), Some(a)) if same(b, a));
            if *table == Annotation::TABLE.name || marks_only {
                continue;
            }
            if *table == Bake::TABLE.name {
                bakes.push(id.clone());
            }
            for row in [before, after].into_iter().flatten() {
                if part_of(row.table, Bake::TABLE.name).is_some() && !row.text("bake").is_empty() {
                    bakes.push(row.text("bake").to_owned());
                }
            }
        }
        bakes.sort_unstable();
        bakes.dedup();
        for id in bakes {
            let touched = self.touched.get(&(Bake::TABLE.name, id.clone())).cloned();
            let (start, end) = if let Some(states) = touched {
                states
            } else {
                let now = self.row(Bake::TABLE, &id).await?;
                (now.clone(), now)
            };
            let finished = |row: &Option<Row>| match row {
                Some(row) => Ok::<_, Error>(read::<Bake>(row)?.finished.is_some()),
                None => Ok(false),
            };
            let opened = self.undoes.is_some() && !finished(&end)?;
            if finished(&start)? && end.is_some() && !opened {
                return Err(Error::Finished { bake: id.parse()? });
            }
        }
        Ok(())
    }
}

/// The same but for the demo's mark.
fn same(a: &Row, b: &Row) -> bool {
    let n = a.values.len().saturating_sub(1);
    a.table == b.table && a.values.len() == b.values.len() && a.values[..n] == b.values[..n]
}

/// The column by which rows of a table are parts of another's.
fn part_of(table: &Table, whole: &str) -> Option<&'static str> {
    let mut columns = table.columns.iter();
    columns
        .find(|c| c.leans.is_some_and(|l| matches!(l, Leans::PartOf(w) if w == whole)))
        .map(|c| c.name)
}

pub(crate) fn missing(table: &'static Table, id: &str) -> Error {
    Error::Missing { what: table.name, id: id.chars().take(80).collect() }
}

/// An entry of a row.
pub(crate) fn read<T: Entry>(row: &Row) -> Result<T> {
    T::read(row).ok_or_else(|| Error::Corrupt {
        place: format!("the {} {}", row.table.name, row.id()),
        detail: "a value is of another kind than its column".into(),
    })
}

/// The whole number that a query gave.
pub(crate) fn whole(cells: Option<&Vec<Value>>) -> Result<i64> {
    match cells.and_then(|c| c.first()) {
        Some(Value::Whole(n)) => Ok(*n),
        _ => Err(Error::Corrupt {
            place: "the notebook".into(),
            detail: "a count or a revision is missing".into(),
        }),
    }
}

fn change(cells: &[Value]) -> Option<Change> {
    let whole = |v: &Value| if let Value::Whole(n) = v { Some(*n) } else { None };
    let text = |v: &Value| if let Value::Text(t) = v { Some(t.clone()) } else { None };
    match cells {
        [revision, at, who, what, undoes, undone_by] => Some(Change {
            revision: whole(revision)?,
            at: Moment(whole(at)?),
            who: text(who)?,
            what: text(what)?,
            undoes: whole(undoes),
            undone_by: whole(undone_by),
        }),
        _ => None,
    }
}

const CHANGE: &str = "SELECT revision, at, who, what, undoes, undone_by FROM change";

async fn numbered(tx: &mut Tx, revision: i64) -> Result<Change> {
    let sql = format!("{CHANGE} WHERE revision = $1");
    let rows = tx.rows(&sql, &[Value::Whole(revision)]).await?;
    let found = rows.first().and_then(|r| change(r));
    found.ok_or_else(|| Error::Missing { what: "change", id: revision.to_string() })
}

/// Undoes a change, or an undo: that is a redo. To undo a redo is to undo the change that stands
/// again by it.
pub(crate) async fn undo(base: &Base, revision: i64, by: By<'_>) -> Result<i64> {
    let mut writing = Writing::begin(base).await?.keeping_marks();
    let mut undone = numbered(&mut writing.tx, revision).await?;
    while let Some(undo) = undone.undoes {
        match numbered(&mut writing.tx, undo).await?.undoes {
            Some(root) => undone = numbered(&mut writing.tx, root).await?,
            None => break,
        }
    }
    let revision = undone.revision;
    if let Some(by) = undone.undone_by {
        return Err(Error::UndoneBefore { revision, by });
    }
    let sql = "SELECT entry, id, \"before\", \"after\" FROM change_row WHERE revision = $1 ORDER BY place";
    for cells in writing.tx.rows(sql, &[Value::Whole(revision)]).await? {
        let [Value::Text(entry), Value::Text(id), before, after] = cells.as_slice() else {
            continue;
        };
        let Some(table) = TABLES.iter().find(|t| t.name == entry).copied() else { continue };
        let image = |v: &Value| match v {
            Value::Text(t) => table.row_of(t).map(Some),
            _ => Ok(None),
        };
        let (before, after) = (image(before)?, image(after)?);
        let now = writing.row(table, id).await?;
        let unchanged = match (&now, &after) {
            (None, None) => true,
            (Some(now), Some(after)) => same(now, after),
            _ => false,
        };
        if !unchanged {
            return Err(Error::ChangedSince { revision, what: table.name, id: id.clone() });
        }
        match before {
            Some(row) => writing.put_row(row).await?,
            None => writing.remove(table, id).await?,
        }
    }
    let what = match undone.undoes {
        None => format!("undid: {}", undone.what),
        Some(_) => format!("redid: {}", undone.what.trim_start_matches("undid: ")),
    };
    writing.undoes = Some(undone);
    writing.keep(&what, by).await
}

/// Undoes the latest standing change of someone; or takes back their latest undo.
pub(crate) async fn undo_latest(base: &Base, by: By<'_>, redo: bool) -> Result<i64> {
    // an undo of an undo is a redo, and is taken back by undoing the change that stands again
    let sql = if redo {
        "SELECT u.revision FROM change u JOIN change c ON c.revision = u.undoes \
         WHERE u.who = $1 AND u.undone_by IS NULL AND c.undoes IS NULL \
         AND NOT EXISTS (SELECT 1 FROM change n WHERE n.who = $1 AND n.undoes IS NULL AND n.revision > u.revision) \
         ORDER BY u.revision DESC LIMIT 1"
    } else {
        "SELECT revision FROM change WHERE who = $1 AND undoes IS NULL AND undone_by IS NULL \
         ORDER BY revision DESC LIMIT 1"
    };
    let rows = base.rows(sql, &[Value::Text(by.who.replace('\0', ""))]).await?;
    let verb = if redo { "redo" } else { "undo" };
    let found = whole(rows.first());
    let revision = found.map_err(|_| Error::Nothing { who: by.who.into(), verb })?;
    undo(base, revision, by).await
}

/// Changes, latest first, before a revision.
pub(crate) async fn changes(base: &Base, before: Option<i64>, most: u32) -> Result<Vec<Change>> {
    let sql = format!("{CHANGE} WHERE revision < $1 ORDER BY revision DESC LIMIT $2");
    let values = [Value::Whole(before.unwrap_or(i64::MAX)), Value::Whole(most.into())];
    let rows = base.rows(&sql, &values).await?;
    Ok(rows.iter().filter_map(|r| change(r)).collect())
}

/// What was touched after a revision.
pub(crate) async fn since(base: &Base, revision: i64) -> Result<Since> {
    let mut tx = base.look().await?;
    let now = whole(tx.rows("SELECT revision FROM notebook", &[]).await?.first())?;
    let sql = "SELECT entry, id FROM change_row WHERE revision > $1 LIMIT $2";
    let rows = tx.rows(sql, &[Value::Whole(revision), Value::Whole(TOLD + 1)]).await?;
    let few = rows.len() as i64 <= TOLD && revision <= now;
    let mut touched: Vec<Touched> = rows
        .into_iter()
        .filter_map(|cells| match <[Value; 2]>::try_from(cells) {
            Ok([Value::Text(entry), Value::Text(id)]) => Some(Touched { entry, id }),
            _ => None,
        })
        .collect();
    touched.sort_unstable();
    touched.dedup();
    Ok(Since { revision: now, touched: few.then_some(touched) })
}
