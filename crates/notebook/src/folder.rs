//! A notebook as a folder: texts, tables and photos that people, spreadsheets and git can read,
//! and that make the same notebook again.
//!
//! Left out: the list of changes. A folder in git has a history of its own.

use crate::base::folder;
use crate::change::{By, Writing};
use crate::entry::{
    Annotation, Bake, Culture, Did, Entry, Feed, Kitchen, KitchenVersion, Measurement, Photo, Plan,
    Recipe, RecipeVersion, TABLES,
};
use crate::error::{Error, Result, at};
use crate::key::{Hash, Moment};
use crate::notebook::{Notebook, ending, sound, write_once};
use crate::row::{Column, Kind, Row, Table, Value};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::str::FromStr as _;

/// Form of the folder.
const FORMAT: i64 = 1;
/// Folders of ours in an export.
const OURS: [&str; 6] = ["recipes", "kitchens", "cultures", "plans", "bakes", "photos"];
/// Longest part of a folder's name that comes from a title, characters.
const SLUG: usize = 40;

/// What an export or import was.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Moved {
    /// Entries in the folder.
    pub entries: usize,
    /// Photos among them.
    pub photos: usize,
}

impl Notebook {
    /// Writes everything to a folder: a new one, or one an export was written to before, which is
    /// brought up to date. Files of other names in it are left alone.
    ///
    /// # Errors
    /// [`Error::Folder`] when the folder holds something else.
    pub async fn export(&self, to: &Path) -> Result<Moved> {
        let mut there = std::fs::read_dir(to).into_iter().flatten().flatten();
        let hidden = |e: &std::fs::DirEntry| e.file_name().to_string_lossy().starts_with('.');
        if there.any(|e| !hidden(&e)) && !to.join("notebook.toml").exists() {
            let message = "it holds something else: name an empty folder, or a former export";
            return Err(wrong(to, None, message));
        }
        let mut all: BTreeMap<&str, Vec<Row>> = BTreeMap::new();
        let mut tx = self.base.look().await?;
        for table in TABLES {
            let second = if table.place("at").is_some() { "at, id" } else { "id" };
            let sql = format!("SELECT {} FROM {} ORDER BY {second}", table.listed(), table.name);
            let rows = tx.rows(&sql, &[]).await?;
            all.insert(table.name, rows.into_iter().map(|cells| table.row(cells)).collect());
        }
        drop(tx);
        let entries = all.values().map(Vec::len).sum();
        let mut out = Out { root: to.to_owned(), files: BTreeSet::new() };
        // git must not change a line's end: texts are kept as they are
        out.put(Path::new(".gitattributes"), b"* -text\n")?;
        let head =
            format!("format = {FORMAT}\nwritten_by = \"grigne {}\"\n", env!("CARGO_PKG_VERSION"));
        out.put(Path::new("notebook.toml"), head.as_bytes())?;
        let mut titles: BTreeMap<String, String> = BTreeMap::new();
        for (whole, part, dir) in [
            (Recipe::TABLE, RecipeVersion::TABLE, "recipes"),
            (Kitchen::TABLE, KitchenVersion::TABLE, "kitchens"),
        ] {
            let mut versions = by(take(&mut all, part), whole.name);
            let mut names = Names::default();
            for row in take(&mut all, whole) {
                let versions = versions.remove(row.id()).unwrap_or_default();
                let current = versions.iter().find(|v| v.id() == row.text("current"));
                let title = current.map_or("", |v| v.text("title"));
                let dir = Path::new(dir).join(names.of(title, row.id()));
                out.put(&dir.join(format!("{}.toml", whole.name)), toml_of(&row).as_bytes())?;
                out.put(
                    &dir.join("versions.csv"),
                    csv(part, &versions, &[whole.name, "text"]).as_bytes(),
                )?;
                for v in &versions {
                    titles.insert(v.id().to_owned(), v.text("title").to_owned());
                    out.put(&dir.join(format!("{}.toml", v.id())), v.text("text").as_bytes())?;
                }
            }
        }
        let measured = take(&mut all, Measurement::TABLE);
        let mut of_bakes =
            by(measured.iter().filter(|m| !m.text("bake").is_empty()).cloned().collect(), "bake");
        let mut of_cultures =
            by(measured.into_iter().filter(|m| m.text("bake").is_empty()).collect(), "culture");
        let mut feeds = by(take(&mut all, Feed::TABLE), "culture");
        let mut names = Names::default();
        for row in take(&mut all, Culture::TABLE) {
            let dir = Path::new("cultures").join(names.of(row.text("name"), row.id()));
            out.put(&dir.join("culture.toml"), toml_of(&row).as_bytes())?;
            out.table(&dir, "feeds.csv", Feed::TABLE, feeds.remove(row.id()), &["culture"])?;
            let measured = of_cultures.remove(row.id());
            out.table(
                &dir,
                "measurements.csv",
                Measurement::TABLE,
                measured,
                &["bake", "culture"],
            )?;
        }
        let plans = take(&mut all, Plan::TABLE);
        for plan in &plans {
            let path = Path::new("plans").join(format!("{}.json", plan.id()));
            out.put(&path, plan.text("document").as_bytes())?;
        }
        out.table(Path::new("plans"), "plans.csv", Plan::TABLE, Some(plans), &["document"])?;
        let mut did = by(take(&mut all, Did::TABLE), "bake");
        let mut annotations = by(take(&mut all, Annotation::TABLE), "bake");
        let mut names = Names::default();
        for row in take(&mut all, Bake::TABLE) {
            let began = match row.get("began") {
                Some(Value::Whole(ms)) => Moment(*ms).to_string(),
                _ => String::new(),
            };
            let day = began.split('T').next().unwrap_or_default();
            let year = day.rsplitn(3, '-').last().unwrap_or_default();
            let title = titles.get(row.text("recipe_version")).map_or("", String::as_str);
            let dir =
                Path::new("bakes").join(year).join(names.of(&format!("{day} {title}"), row.id()));
            out.put(&dir.join("bake.toml"), toml_of(&row).as_bytes())?;
            out.table(&dir, "did.csv", Did::TABLE, did.remove(row.id()), &["bake"])?;
            let measured = of_bakes.remove(row.id());
            out.table(
                &dir,
                "measurements.csv",
                Measurement::TABLE,
                measured,
                &["bake", "culture"],
            )?;
            let notes = annotations.remove(row.id());
            out.table(&dir, "annotations.csv", Annotation::TABLE, notes, &["bake"])?;
        }
        let photos = take(&mut all, Photo::TABLE);
        for row in &photos {
            let (hash, ending) = (hash(row)?, ending(row.text("media"))?);
            let from = self.photo_path(hash, ending);
            let bytes = std::fs::read(&from).map_err(at(&from))?;
            out.put(&photo_file(hash, ending), &bytes)?;
        }
        let moved = Moved { entries, photos: photos.len() };
        out.table(Path::new("photos"), "photos.csv", Photo::TABLE, Some(photos), &[])?;
        out.sweep()?;
        Ok(moved)
    }

    /// Takes in everything of a folder that [`Self::export`] wrote, as one change. What is here
    /// already is left as it is.
    ///
    /// # Errors
    /// [`Error::Folder`] with file and line; [`Error::Different`] when an entry is here with other
    /// contents; [`Error::Needed`] when one is missing that another names.
    pub async fn import(&self, from: &Path, by: By<'_>) -> Result<Moved> {
        let rows = read_folder(from)?;
        let mut photos = 0;
        for row in rows.iter().filter(|r| r.table.name == Photo::TABLE.name) {
            let (hash, ending) = (hash(row)?, ending(row.text("media"))?);
            let path = from.join(photo_file(hash, ending));
            let bytes = std::fs::read(&path).map_err(at(&path))?;
            if Hash::of(&bytes) != hash {
                let message = "the photo is not the one its name says: it was changed or damaged";
                return Err(wrong(&path, None, message));
            }
            write_once(&self.photo_path(hash, ending), &bytes)?;
            photos += 1;
        }
        let mut w = Writing::begin(&self.base).await?.keeping_marks();
        let entries = rows.len();
        for row in rows {
            w.add_row(row).await?;
        }
        w.keep(&format!("took in {entries} entries from a folder"), by).await?;
        Ok(Moved { entries, photos })
    }
}

fn photo_file(hash: Hash, ending: &str) -> PathBuf {
    let name = hash.to_string();
    Path::new("photos").join(&name[..2]).join(format!("{name}.{ending}"))
}

fn hash(row: &Row) -> Result<Hash> {
    Ok(Hash::from_str(row.id())?)
}

fn take(all: &mut BTreeMap<&str, Vec<Row>>, table: &Table) -> Vec<Row> {
    all.remove(table.name).unwrap_or_default()
}

fn by(rows: Vec<Row>, column: &str) -> BTreeMap<String, Vec<Row>> {
    let mut out: BTreeMap<String, Vec<Row>> = BTreeMap::new();
    for row in rows {
        out.entry(row.text(column).to_owned()).or_default().push(row);
    }
    out
}

/// Names of folders: a title people know, and enough of the key that two never share one.
#[derive(Default)]
struct Names(BTreeSet<String>);

impl Names {
    fn of(&mut self, title: &str, id: &str) -> String {
        let mut slug = String::new();
        for c in title.chars() {
            match c {
                c if c.is_ascii_alphanumeric() => slug.push(c.to_ascii_lowercase()),
                '\'' | '\u{2019}' => {}
                _ if !slug.ends_with('-') => slug.push('-'),
                _ => {}
            }
            if slug.len() >= SLUG {
                break;
            }
        }
        let slug = slug.trim_matches('-');
        let tail = id.get(id.len().saturating_sub(8)..).unwrap_or(id);
        let name = format!("{slug}-{tail}").trim_start_matches('-').to_owned();
        if self.0.insert(name.clone()) {
            return name;
        }
        let whole = format!("{slug}-{id}");
        self.0.insert(whole.clone());
        whole
    }
}

/// A folder being written.
struct Out {
    root: PathBuf,
    files: BTreeSet<PathBuf>,
}

impl Out {
    /// Writes a file unless it is there as it should be, so that times and git are left in peace.
    fn put(&mut self, path: &Path, bytes: &[u8]) -> Result<()> {
        self.files.insert(path.to_owned());
        let path = self.root.join(path);
        if std::fs::read(&path).is_ok_and(|there| there == bytes) {
            return Ok(());
        }
        folder(path.parent().unwrap_or(&self.root))?;
        let half = path.with_extension("half");
        std::fs::write(&half, bytes).map_err(at(&half))?;
        std::fs::rename(&half, &path).map_err(at(&path))
    }

    fn table(
        &mut self,
        dir: &Path,
        file: &str,
        table: &Table,
        rows: Option<Vec<Row>>,
        without: &[&str],
    ) -> Result<()> {
        match rows {
            Some(rows) if !rows.is_empty() => {
                self.put(&dir.join(file), csv(table, &rows, without).as_bytes())
            }
            _ => Ok(()),
        }
    }

    /// Takes away what a former export wrote and this one did not.
    fn sweep(&self) -> Result<()> {
        for ours in OURS {
            for path in files(&self.root.join(ours))? {
                let relative = path.strip_prefix(&self.root).unwrap_or(&path);
                let ending = path.extension().unwrap_or_default().to_string_lossy().into_owned();
                let known = ["toml", "csv", "json", "jpg", "png", "webp", "half"];
                if known.contains(&ending.as_str()) && !self.files.contains(relative) {
                    std::fs::remove_file(&path).map_err(at(&path))?;
                    // the folder, once nothing is left in it
                    let _ = path.parent().map(std::fs::remove_dir);
                }
            }
        }
        Ok(())
    }
}

/// Files below a folder, in order; none when it is not there.
fn files(dir: &Path) -> Result<Vec<PathBuf>> {
    let mut found = Vec::new();
    let mut todo = vec![dir.to_owned()];
    while let Some(dir) = todo.pop() {
        let entries = match std::fs::read_dir(&dir) {
            Ok(entries) => entries,
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => continue,
            Err(e) => return Err(at(&dir)(e)),
        };
        for entry in entries {
            let entry = entry.map_err(at(&dir))?;
            let kind = entry.file_type().map_err(at(&entry.path()))?;
            if kind.is_dir() {
                todo.push(entry.path());
            } else if kind.is_file() {
                found.push(entry.path());
            }
        }
    }
    found.sort();
    Ok(found)
}

/// A value as text; nothing for none.
fn written(column: &Column, value: &Value) -> String {
    match (value, column.kind) {
        (Value::None(_), _) => String::new(),
        (Value::Text(t), _) => t.clone(),
        (Value::Whole(n), Kind::Moment) => Moment(*n).to_string(),
        (Value::Whole(n), Kind::Flag) => (*n != 0).to_string(),
        (Value::Whole(n), _) => n.to_string(),
        (Value::Real(x), _) => format!("{x:?}"),
    }
}

/// A value from its text; the message when it is none.
fn value(column: &Column, text: &str) -> Result<Value, String> {
    if text.is_empty() && (column.optional || column.kind != Kind::Text) {
        return if column.optional {
            Ok(Value::None(column.kind))
        } else {
            Err(format!("{} is empty", column.name))
        };
    }
    let wanted = |what: &str| format!("{} is \"{text}\"; {what} was expected", column.name);
    match column.kind {
        Kind::Text => Ok(Value::Text(text.into())),
        Kind::Whole => text.parse().map(Value::Whole).map_err(|_| wanted("a whole number")),
        Kind::Flag => match text {
            "true" => Ok(Value::Whole(1)),
            "false" => Ok(Value::Whole(0)),
            _ => Err(wanted("true or false")),
        },
        Kind::Moment => text.parse().map(|m: Moment| Value::Whole(m.0)).map_err(|e| e.to_string()),
        Kind::Real => text.parse().map(Value::Real).map_err(|_| wanted("a number")),
    }
}

/// A row as a TOML file.
fn toml_of(row: &Row) -> String {
    let mut out = String::new();
    for (column, value) in row.table.columns.iter().zip(&row.values) {
        let text = written(column, value);
        let bare = matches!(column.kind, Kind::Whole | Kind::Flag | Kind::Real);
        match value {
            Value::None(_) => {}
            _ if bare => _ = writeln!(out, "{} = {text}", column.name),
            _ => _ = writeln!(out, "{} = {}", column.name, quoted(&text)),
        }
    }
    out
}

/// A TOML string. JSON's is one, but for the delete character.
fn quoted(text: &str) -> String {
    serde_json::Value::from(text).to_string().replace('\u{7f}', "\\u007f")
}

fn row_of_toml(table: &'static Table, path: &Path, text: &str) -> Result<Row> {
    let read: BTreeMap<String, toml::Value> = toml::from_str(text).map_err(|e| {
        let line = e.span().map(|s| text[..s.start].matches('\n').count() + 1);
        wrong(path, line, e.message())
    })?;
    if let Some(unknown) = read.keys().find(|k| table.place(k).is_none()) {
        return Err(wrong(path, None, format!("unknown field {unknown}")));
    }
    let values = table.columns.iter().map(|c| {
        let text = match read.get(c.name) {
            None if c.name == "demo" => "false".into(),
            None => String::new(),
            Some(toml::Value::String(t)) => t.clone(),
            Some(toml::Value::Float(x)) => format!("{x:?}"),
            Some(toml::Value::Integer(n)) => n.to_string(),
            Some(toml::Value::Boolean(b)) => b.to_string(),
            Some(other) => {
                let message = format!("{} is {}, which is not kept", c.name, other.type_str());
                return Err(wrong(path, None, message));
            }
        };
        value(c, &text).map_err(|e| wrong(path, None, e))
    });
    checked(Row { table, values: values.collect::<Result<_>>()? }, path, None)
}

/// Rows as a table with a heading, without some columns.
fn csv(table: &Table, rows: &[Row], without: &[&str]) -> String {
    let kept: Vec<(usize, &Column)> =
        table.columns.iter().enumerate().filter(|(_, c)| !without.contains(&c.name)).collect();
    let mut out: String = kept.iter().map(|(_, c)| c.name).collect::<Vec<_>>().join(",");
    out.push('\n');
    for row in rows {
        for (n, (i, column)) in kept.iter().enumerate() {
            if n > 0 {
                out.push(',');
            }
            let cell = row.values.get(*i).map(|v| written(column, v)).unwrap_or_default();
            if cell.contains([',', '"', '\n', '\r']) {
                _ = write!(out, "\"{}\"", cell.replace('"', "\"\""));
            } else {
                out.push_str(&cell);
            }
        }
        out.push('\n');
    }
    out
}

/// The line a record begins at, and its cells.
type Record = (usize, Vec<String>);

/// Cells of a table, each record with its line.
fn records(text: &str) -> Result<Vec<Record>, (usize, &'static str)> {
    let mut out = Vec::new();
    let (mut line, mut begun) = (1, 1);
    let mut cells: Vec<String> = Vec::new();
    let mut cell = String::new();
    let mut chars = text.chars().peekable();
    let mut quoted = false;
    while let Some(c) = chars.next() {
        if c == '\n' {
            line += 1;
        }
        match c {
            '"' if quoted && chars.peek() == Some(&'"') => {
                chars.next();
                cell.push('"');
            }
            '"' if quoted => {
                quoted = false;
                if !matches!(chars.peek(), None | Some(',' | '\n' | '\r')) {
                    return Err((line, "a comma is missing after a quotation mark"));
                }
            }
            _ if quoted => cell.push(c),
            '"' if cell.is_empty() => quoted = true,
            ',' => cells.push(std::mem::take(&mut cell)),
            '\r' if chars.peek() == Some(&'\n') => {}
            '\n' => {
                cells.push(std::mem::take(&mut cell));
                out.push((begun, std::mem::take(&mut cells)));
                begun = line;
            }
            c => cell.push(c),
        }
    }
    if quoted {
        return Err((begun, "a quotation mark is not closed"));
    }
    if !cell.is_empty() || !cells.is_empty() {
        cells.push(cell);
        out.push((begun, cells));
    }
    Ok(out)
}

/// Rows of a table. `fill` gives the columns that are not in it.
fn rows_of_csv(
    table: &'static Table,
    path: &Path,
    text: &str,
    fill: impl Fn(&str, &str) -> Result<String>,
) -> Result<Vec<Row>> {
    let all = records(text).map_err(|(line, message)| wrong(path, Some(line), message))?;
    let mut all = all.into_iter();
    let (_, heading) = all.next().ok_or_else(|| wrong(path, Some(1), "the heading is missing"))?;
    if let Some(unknown) = heading.iter().find(|h| table.place(h).is_none()) {
        return Err(wrong(path, Some(1), format!("unknown column \"{unknown}\"")));
    }
    let place = |name: &str| heading.iter().position(|h| h == name);
    let id = place("id").ok_or_else(|| wrong(path, Some(1), "the column id is missing"))?;
    let rows = all.map(|(line, cells)| {
        if cells.len() != heading.len() {
            let message = format!("{} cells; the heading has {}", cells.len(), heading.len());
            return Err(wrong(path, Some(line), message));
        }
        let values = table.columns.iter().map(|c| {
            let text = match place(c.name) {
                Some(i) => cells[i].clone(),
                None if c.name == "demo" => "false".into(),
                None => fill(c.name, &cells[id])?,
            };
            value(c, &text).map_err(|e| wrong(path, Some(line), e))
        });
        checked(Row { table, values: values.collect::<Result<_>>()? }, path, Some(line))
    });
    rows.collect()
}

/// A row that the notebook would keep.
fn checked(row: Row, path: &Path, line: Option<usize>) -> Result<Row> {
    row.check().map_err(|e| wrong(path, line, e.to_string()))?;
    if !(row.table.reads)(&row) {
        let message = format!("this is not a {}: a key or a word in it is unknown", row.table.name);
        return Err(wrong(path, line, message));
    }
    if let Some(Err(e)) =
        Measurement::read(&row).filter(|_| row.table == Measurement::TABLE).map(|m| sound(&m))
    {
        return Err(wrong(path, line, e.to_string()));
    }
    Ok(row)
}

fn wrong(file: &Path, line: Option<usize>, message: impl Into<String>) -> Error {
    Error::Folder { file: file.to_owned(), line, message: message.into() }
}

fn text_of(path: &Path) -> Result<String> {
    let bytes = std::fs::read(path).map_err(at(path))?;
    String::from_utf8(bytes).map_err(|_| wrong(path, None, "is not UTF-8 text"))
}

/// All rows of a folder.
fn read_folder(from: &Path) -> Result<Vec<Row>> {
    let head = from.join("notebook.toml");
    if !head.exists() {
        let message = "there is no notebook.toml in it: this is not an exported notebook";
        return Err(wrong(from, None, message));
    }
    let text = text_of(&head)?;
    let read: BTreeMap<String, toml::Value> =
        toml::from_str(&text).map_err(|e| wrong(&head, None, e.message()))?;
    match read.get("format").and_then(toml::Value::as_integer) {
        Some(FORMAT) => {}
        Some(newer) if newer > FORMAT => {
            let message = format!(
                "the folder is of form {newer}, and this grigne knows form {FORMAT}: use a newer one"
            );
            return Err(wrong(&head, None, message));
        }
        _ => return Err(wrong(&head, None, "format is missing: write format = 1")),
    }
    let mut rows = Vec::new();
    for path in OURS.iter().map(|d| files(&from.join(d))).collect::<Result<Vec<_>>>()?.concat() {
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let dir = path.parent().unwrap_or(from);
        let whole = |table: &'static Table| {
            let path = dir.join(format!("{}.toml", table.name));
            row_of_toml(table, &path, &text_of(&path)?).map(|row| row.id().to_owned())
        };
        let in_dir = |d: &str| path.strip_prefix(from).is_ok_and(|p| p.starts_with(d));
        // columns that stand in the folder instead of the table
        let of = |owner: String, column: &'static str, file: &'static str| {
            let dir = dir.to_owned();
            move |name: &str, id: &str| match name {
                name if name == column => Ok(owner.clone()),
                "text" | "document" => {
                    // the key becomes a file's name: nothing but a key may
                    let id: crate::key::Id = id.parse()?;
                    text_of(&dir.join(format!("{id}.{file}")))
                }
                _ => Ok(String::new()),
            }
        };
        match name.as_str() {
            "recipe.toml" => rows.push(row_of_toml(Recipe::TABLE, &path, &text_of(&path)?)?),
            "kitchen.toml" => rows.push(row_of_toml(Kitchen::TABLE, &path, &text_of(&path)?)?),
            "culture.toml" => rows.push(row_of_toml(Culture::TABLE, &path, &text_of(&path)?)?),
            "bake.toml" => rows.push(row_of_toml(Bake::TABLE, &path, &text_of(&path)?)?),
            name => {
                let (table, fill) = match name {
                    "versions.csv" if in_dir("recipes") => {
                        (RecipeVersion::TABLE, of(whole(Recipe::TABLE)?, "recipe", "toml"))
                    }
                    "versions.csv" if in_dir("kitchens") => {
                        (KitchenVersion::TABLE, of(whole(Kitchen::TABLE)?, "kitchen", "toml"))
                    }
                    "feeds.csv" => (Feed::TABLE, of(whole(Culture::TABLE)?, "culture", "")),
                    "measurements.csv" if in_dir("cultures") => {
                        (Measurement::TABLE, of(whole(Culture::TABLE)?, "culture", ""))
                    }
                    "measurements.csv" => (Measurement::TABLE, of(whole(Bake::TABLE)?, "bake", "")),
                    "did.csv" => (Did::TABLE, of(whole(Bake::TABLE)?, "bake", "")),
                    "annotations.csv" => (Annotation::TABLE, of(whole(Bake::TABLE)?, "bake", "")),
                    "plans.csv" => (Plan::TABLE, of(String::new(), "", "json")),
                    "photos.csv" => (Photo::TABLE, of(String::new(), "", "")),
                    _ => continue,
                };
                rows.extend(rows_of_csv(table, &path, &text_of(&path)?, fill)?);
            }
        }
    }
    Ok(rows)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::notebook::Place;
    use proptest::prelude::*;

    #[test]
    fn cells_with_anything_in_them_come_back() {
        let cells = ["", "a,b", "say \"ah\"", "two\nlines", "\r\n", " space ", "é\r"];
        let line: Vec<String> =
            cells.iter().map(|c| format!("\"{}\"", c.replace('"', "\"\""))).collect();
        let text = format!("{}\n{}", line.join(","), cells[5]);
        let read = records(&text);
        let Ok(read) = read else { panic!("{read:?}") };
        assert_eq!(read[0], (1, cells.map(str::to_owned).to_vec()));
        assert_eq!(read[1], (4, vec![" space ".to_owned()]));
        assert!(records("\"open").is_err());
        assert!(records("\"a\"b,c").is_err());
    }

    #[test]
    fn names_of_folders_are_plain() {
        let mut names = Names::default();
        let id = "01939f2e-5c00-7a2b-8c1d-0f2e3d4c5b6a";
        assert_eq!(names.of("Lock-keeper's brötchen", id), "lock-keepers-br-tchen-3d4c5b6a");
        assert_eq!(names.of("Lock-keeper's brötchen", id), format!("lock-keepers-br-tchen-{id}"));
        assert_eq!(names.of("../../etc", id), "etc-3d4c5b6a");
        assert_eq!(names.of("粉", id), "3d4c5b6a");
    }

    /// Words of any kind, and numbers as they come.
    #[derive(Debug, Clone)]
    struct Odd {
        texts: Vec<String>,
        reals: Vec<f64>,
        moments: Vec<i64>,
    }

    const NASTY: [&str; 8] =
        ["", "\"", "a,\"b\"\r\n", "\r", "\n", "\u{7f}\\", "''' \"\"\"", " #=1 "];

    fn odd() -> impl Strategy<Value = Odd> {
        let text = prop_oneof![
            "[^\\x00]{0,12}",
            prop::sample::select(NASTY.to_vec()).prop_map(str::to_owned)
        ];
        let real = any::<f64>().prop_filter("a number to keep", |x| {
            x.is_finite() && (*x != 0.0 || x.is_sign_positive())
        });
        let moment = -62_167_219_200_000_i64..=253_402_127_999_999;
        (
            prop::collection::vec(text, 20..40),
            prop::collection::vec(real, 5..20),
            prop::collection::vec(moment, 5..20),
        )
            .prop_map(|(texts, reals, moments)| Odd { texts, reals, moments })
    }

    async fn rows_of(n: &Notebook) -> Vec<Row> {
        let mut out = Vec::new();
        for table in TABLES {
            let sql = format!("SELECT {} FROM {} ORDER BY id", table.listed(), table.name);
            let rows = n.base.rows(&sql, &[]).await.unwrap();
            out.extend(rows.into_iter().map(|cells| table.row(cells)));
        }
        out
    }

    /// The demo with every text, number and moment of it replaced by odd ones.
    async fn comes_back(odd: Odd) {
        let dir = tempfile::tempdir().unwrap();
        let by = By { at: Moment(1_796_000_000_000), who: "test" };
        let place = |name: &str| Place::File(dir.path().join(name).join("notebook.grigne"));
        let one = Notebook::open(&place("one"), by.at).await.unwrap();
        let two = Notebook::open(&place("two"), by.at).await.unwrap();
        one.seed_demo(by).await.unwrap();
        let words =
            ["title", "note", "text", "words", "name", "flour", "place", "of", "zone", "device"];
        let mut rows = rows_of(&one).await;
        // bakes are finished: the demo goes, and comes anew
        one.remove_demo(by).await.unwrap();
        let mut count = 0;
        let mut w = Writing::begin(&one.base).await.unwrap().keeping_marks();
        for row in &mut rows {
            for (c, v) in row.table.columns.iter().zip(&mut row.values) {
                count += 1;
                match v {
                    Value::Text(t) if words.contains(&c.name) => {
                        t.clone_from(&odd.texts[count % odd.texts.len()]);
                    }
                    Value::Whole(n) if c.kind == Kind::Moment => {
                        *n = odd.moments[count % odd.moments.len()];
                    }
                    Value::Real(x) if row.table != Measurement::TABLE => {
                        *x = odd.reals[count % odd.reals.len()];
                    }
                    _ => {}
                }
            }
            w.put_row(row.clone()).await.unwrap();
        }
        w.keep("made it odd", by).await.unwrap();
        let folder = dir.path().join("folder");
        one.export(&folder).await.unwrap();
        two.import(&folder, by).await.unwrap();
        assert_eq!(rows_of(&one).await, rows);
        assert_eq!(rows_of(&two).await, rows);
        one.close().await;
        two.close().await;
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

        #[test]
        fn whatever_is_written_comes_back_from_a_folder(odd in odd()) {
            tokio::runtime::Runtime::new().unwrap().block_on(comes_back(odd));
        }

        #[test]
        fn no_table_makes_it_panic(text in "[a-z0-9,\"\r\n]{0,200}") {
            let none = |_: &str, _: &str| Ok(String::new());
            let _ = rows_of_csv(Did::TABLE, Path::new("did.csv"), &text, none);
            let _ = row_of_toml(Bake::TABLE, Path::new("bake.toml"), &text);
        }
    }
}
