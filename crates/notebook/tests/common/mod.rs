//! Places for tests: a file in a folder of its own, or a database of its own on a server.
#![allow(dead_code, unreachable_pub, missing_docs, clippy::unwrap_used)] // each test uses a part of it

use notebook::{
    Bake, By, Culture, Did, Feed, Id, Kind, Measurement, Moment, NewVersion, Notebook, Place, Plan,
};
use sqlx::Connection as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicU64, Ordering};

pub const RECIPE: &str =
    include_str!("../../../../examples/ferry-lane/recipes/tidewater-batard.toml");
pub const KITCHEN: &str = include_str!("../../../../examples/ferry-lane/kitchens/cold-flat.toml");
pub const NOW: Moment = Moment(1_796_000_000_000);
pub const ME: By<'static> = By { at: NOW, who: "bench" };
pub const PHONE: By<'static> = By { at: NOW, who: "phone" };

static COUNT: AtomicU64 = AtomicU64::new(1);

/// A new key.
pub fn key() -> Id {
    let n = COUNT.fetch_add(1, Ordering::Relaxed);
    Id::new(NOW, u128::from(n) << 64 | u128::from(n))
}

/// Where a test makes its notebooks.
pub enum Ground {
    Files(tempfile::TempDir),
    Server { server: Server, dir: tempfile::TempDir },
}

impl Ground {
    pub fn files() -> Self {
        Self::Files(tempfile::tempdir().unwrap())
    }

    /// None when there is no PostgreSQL and nobody asked for one.
    pub fn server() -> Option<Self> {
        Some(Self::Server { server: Server::find()?, dir: tempfile::tempdir().unwrap() })
    }

    /// A place where there is no notebook yet.
    pub async fn place(&self) -> Place {
        let n = COUNT.fetch_add(1, Ordering::Relaxed);
        match self {
            Self::Files(dir) => {
                Place::File(dir.path().join(format!("{n}")).join("notebook.grigne"))
            }
            Self::Server { server, dir } => {
                let name = format!("grigne_test_{}_{n}", std::process::id());
                let mut c = sqlx::PgConnection::connect(&server.url).await.unwrap();
                let sql = sqlx::AssertSqlSafe(format!("CREATE DATABASE {name}"));
                sqlx::raw_sql(sql).execute(&mut c).await.unwrap();
                let (head, _) = server.url.rsplit_once('/').unwrap();
                let (url, folder) = (format!("{head}/{name}"), dir.path().join(&name));
                Place::Server { url, folder }
            }
        }
    }

    pub async fn notebook(&self) -> Notebook {
        Notebook::open(&self.place().await, NOW).await.unwrap()
    }

    pub fn dir(&self) -> &Path {
        match self {
            Self::Files(dir) | Self::Server { dir, .. } => dir.path(),
        }
    }
}

/// A PostgreSQL: the one at `GRIGNE_TEST_POSTGRES`, or one of our own for as long as this lives.
/// `GRIGNE_TEST_POSTGRES=start` fails where none can be started.
pub struct Server {
    pub url: String,
    own: Option<(PathBuf, tempfile::TempDir)>,
}

impl Server {
    pub fn find() -> Option<Self> {
        let asked = std::env::var("GRIGNE_TEST_POSTGRES").unwrap_or_default();
        if asked.contains("://") {
            return Some(Self { url: asked, own: None });
        }
        match Self::start() {
            Ok(server) => Some(server),
            Err(why) if asked == "start" => panic!("no PostgreSQL: {why}"),
            Err(why) => {
                eprintln!("skipped: no PostgreSQL: {why}. Install it, or set GRIGNE_TEST_POSTGRES");
                None
            }
        }
    }

    fn start() -> Result<Self, String> {
        let bin = bin().ok_or("initdb was not found")?;
        let dir =
            tempfile::Builder::new().prefix("grigne-pg").tempdir().map_err(|e| e.to_string())?;
        if is_root() {
            // PostgreSQL refuses root
            run(Command::new("chown").arg("postgres").arg(dir.path()))?;
        }
        let data = dir.path().join("data");
        let data = data.to_str().ok_or("no path")?;
        run(as_user(&bin.join("initdb"))
            .args(["-D", data, "-U", "postgres", "-A", "trust"])
            .args(["-E", "UTF8", "--locale", "C.UTF-8", "--no-sync"]))?;
        let port = std::net::TcpListener::bind("127.0.0.1:0")
            .and_then(|l| l.local_addr())
            .map_err(|e| e.to_string())?
            .port();
        let options = format!(
            "-h 127.0.0.1 -p {port} -k {} -c fsync=off -c max_connections=60",
            dir.path().display()
        );
        let log = dir.path().join("log");
        let log = log.to_str().ok_or("no path")?;
        run(as_user(&bin.join("pg_ctl"))
            .args(["-D", data, "-l", log, "-w", "-o", &options, "start"]))?;
        let url = format!("postgres://postgres@127.0.0.1:{port}/postgres");
        Ok(Self { url, own: Some((bin, dir)) })
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        if let Some((bin, dir)) = &self.own {
            let data = dir.path().join("data");
            let mut stop = as_user(&bin.join("pg_ctl"));
            let _ = run(stop.arg("-D").arg(data).args(["-m", "immediate", "stop"]));
        }
    }
}

fn bin() -> Option<PathBuf> {
    let path = std::env::var_os("PATH").unwrap_or_default();
    let mut places: Vec<PathBuf> = std::env::split_paths(&path).collect();
    let debian = std::fs::read_dir("/usr/lib/postgresql").into_iter().flatten().flatten();
    places.extend(debian.map(|e| e.path().join("bin")));
    places.into_iter().find(|p| p.join("initdb").exists() && p.join("pg_ctl").exists())
}

fn is_root() -> bool {
    let id = Command::new("id").arg("-u").output();
    id.is_ok_and(|o| o.stdout.trim_ascii() == b"0")
}

fn as_user(program: &Path) -> Command {
    if is_root() {
        let mut c = Command::new("runuser");
        c.args(["-u", "postgres", "--"]).arg(program);
        c
    } else {
        Command::new(program)
    }
}

fn run(command: &mut Command) -> Result<(), String> {
    let shown = format!("{command:?}");
    let done = command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null()).status();
    match done {
        Ok(status) if status.success() => Ok(()),
        Ok(status) => Err(format!("{shown}: {status}")),
        Err(e) => Err(format!("{shown}: {e}")),
    }
}

/// A recipe and a kitchen, each with one version: their keys and those of the versions.
pub async fn begun(n: &Notebook) -> Begun {
    let b = Begun { recipe: key(), version: key(), kitchen: key(), kitchen_version: key() };
    n.keep_recipe(&version(b.version, b.recipe, None, RECIPE), ME).await.unwrap();
    n.keep_kitchen(&version(b.kitchen_version, b.kitchen, None, KITCHEN), ME).await.unwrap();
    b
}

#[derive(Clone, Copy)]
pub struct Begun {
    pub recipe: Id,
    pub version: Id,
    pub kitchen: Id,
    pub kitchen_version: Id,
}

pub fn version(id: Id, of: Id, parent: Option<Id>, text: &str) -> NewVersion {
    NewVersion { id, of, parent, text: text.into(), note: "as it came".into() }
}

pub fn bake(b: Begun) -> Bake {
    Bake {
        id: key(),
        recipe_version: b.version,
        kitchen_version: b.kitchen_version,
        plan: None,
        culture: None,
        began: NOW,
        finished: None,
        zone: "Europe/London".into(),
        crumb: None,
        crust: None,
        oven_spring: None,
        taste: None,
        note: String::new(),
        demo: false,
    }
}

pub fn did(bake: Id, step: u32) -> Did {
    Did { id: key(), bake, step, at: NOW, demo: false }
}

pub fn measured(bake: Id, kind: Kind, value: f64) -> Measurement {
    Measurement {
        id: key(),
        bake: Some(bake),
        culture: None,
        at: NOW,
        kind,
        of: "dough".into(),
        value: Some(value),
        error: Some(0.5),
        photo: None,
        words: String::new(),
        device: "phone".into(),
        demo: false,
    }
}

pub fn culture() -> Culture {
    Culture {
        id: key(),
        name: "Bosun".into(),
        flour: "rye".into(),
        hydration: 80.0,
        note: String::new(),
        put_away: false,
        demo: false,
    }
}

pub fn feed(culture: Id) -> Feed {
    Feed {
        id: key(),
        culture,
        at: NOW,
        zone: "Europe/London".into(),
        seed: 20.0,
        flour: 50.0,
        water: 40.0,
        temperature: Some(22.5),
        place: "room".into(),
        note: String::new(),
        demo: false,
    }
}

/// A notebook with some of everything.
pub async fn full(n: &Notebook) {
    n.seed_demo(ME).await.unwrap();
    let b = begun(n).await;
    let text = format!("# odd\r\n{RECIPE}");
    n.keep_recipe(&version(key(), b.recipe, Some(b.version), &text), ME).await.unwrap();
    let c = culture();
    n.keep_culture(&c, ME).await.unwrap();
    n.feed(&Feed { temperature: None, note: "a \"b\",\nc".into(), ..feed(c.id) }, ME)
        .await
        .unwrap();
    let plan = Plan {
        id: key(),
        recipe_version: b.version,
        kitchen_version: b.kitchen_version,
        culture: Some(c.id),
        at: NOW,
        ready: NOW,
        zone: String::new(),
        document: "[1.5]".into(),
        demo: false,
    };
    n.accept(&plan, ME).await.unwrap();
    let k = Bake { plan: Some(plan.id), culture: Some(c.id), ..bake(b) };
    n.begin(&k, ME).await.unwrap();
    n.did(&did(k.id, 3), ME).await.unwrap();
    let hash = n.keep_photo(b"crumb", "image/webp", ME).await.unwrap();
    let photo = Measurement { value: None, photo: Some(hash), ..measured(k.id, Kind::Photo, 0.0) };
    n.measure(&photo, ME).await.unwrap();
    n.measure(&measured(k.id, Kind::Weight, 0.1 + 0.2), ME).await.unwrap();
}
