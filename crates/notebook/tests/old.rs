//! Notebooks of every version there was: each opens, is what it was, and is backed up first.
//!
//! The files in `tests/old` were written by the version they are named after, and are never
//! written again. For a new version: `cargo test -p notebook --test old -- --ignored`.
#![allow(missing_docs, clippy::unwrap_used)] // a test that cannot go on may say so

mod common;

use common::*;
use notebook::{Notebook, Page, Place, VERSION, Which};
use std::path::{Path, PathBuf};

fn old(version: i64, end: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("tests/old/version-{version}{end}"))
}

/// What [`full`] wrote, seen through the notebook.
async fn is_full(n: &Notebook) {
    n.check().await.unwrap();
    let page = Page::default();
    assert_eq!(n.recipes(false, &page).await.unwrap().items.len(), 6);
    assert_eq!(n.kitchens(false, &page).await.unwrap().items.len(), 4);
    assert_eq!(n.cultures(false).await.unwrap().len(), 2);
    let bakes = n.bakes(Which::default(), &page).await.unwrap().items;
    assert_eq!(bakes.len(), 3);
    let mine = n.bake(bakes[0].bake.id).await.unwrap();
    assert_eq!((mine.did.len(), mine.measured.len()), (1, 2));
    let weight = mine.measured.iter().find_map(|m| m.value);
    assert_eq!(weight, Some(0.1 + 0.2));
    let of = mine.bake.recipe_version;
    assert_eq!(n.recipe_version(of).await.unwrap().text, RECIPE);
    assert_eq!(n.plan(mine.bake.plan.unwrap()).await.unwrap().document, "[1.5]");
    // its changes can still be undone: the last measurement, then the demo
    n.undo_latest(ME).await.unwrap();
    assert_eq!(n.bake(bakes[0].bake.id).await.unwrap().measured.len(), 1);
    n.redo_latest(ME).await.unwrap();
    n.remove_demo(ME).await.unwrap();
    assert_eq!(n.bakes(Which::default(), &page).await.unwrap().items.len(), 1);
}

#[test]
fn every_old_file_opens() {
    let runtime = tokio::runtime::Runtime::new().unwrap();
    let dir = tempfile::tempdir().unwrap();
    for version in 1..=VERSION {
        runtime.block_on(async {
            let path = dir.path().join(version.to_string()).join("notebook.grigne");
            std::fs::create_dir(path.parent().unwrap()).unwrap();
            std::fs::copy(old(version, ".grigne"), &path).unwrap();
            let n = Notebook::open(&Place::File(path), NOW).await.unwrap();
            assert_eq!(n.backups().len() as i64, VERSION - version);
            for backup in n.backups() {
                let copy = dir.path().join(format!("{version}-again")).join("notebook.grigne");
                let again =
                    Notebook::restore(backup, &Place::File(copy.clone()), NOW).await.unwrap();
                is_full(&again).await;
                again.close().await;
                std::fs::remove_dir_all(copy.parent().unwrap()).unwrap();
            }
            is_full(&n).await;
        });
    }
}

#[test]
fn every_old_server_opens() {
    let Some(ground) = Ground::server() else { return };
    let runtime = tokio::runtime::Runtime::new().unwrap();
    for version in 1..=VERSION {
        runtime.block_on(async {
            let place = ground.place().await;
            let n = Notebook::restore(&old(version, "-server"), &place, NOW).await.unwrap();
            assert_eq!(n.backups().len() as i64, VERSION - version);
            is_full(&n).await;
        });
    }
}

/// A step that has been in use is not changed: a new notebook has the schema of the old file of
/// its version.
#[test]
fn steps_are_not_rewritten() {
    use sqlx::{Connection as _, Row as _};
    let runtime = tokio::runtime::Runtime::new().unwrap();
    runtime.block_on(async {
        let ground = Ground::files();
        let place = ground.place().await;
        Notebook::open(&place, NOW).await.unwrap().close().await;
        let Place::File(new) = place else { return };
        let mut schemas = Vec::new();
        for path in [new, old(VERSION, ".grigne")] {
            let url = format!("sqlite://{}?mode=ro&immutable=1", path.display());
            let mut c = sqlx::SqliteConnection::connect(&url).await.unwrap();
            let sql = "SELECT name, sql FROM sqlite_schema ORDER BY name";
            let rows = sqlx::query(sql).fetch_all(&mut c).await.unwrap();
            let texts = rows.iter().map(|r| (r.get::<String, _>(0), r.get::<Option<String>, _>(1)));
            schemas.push(texts.collect::<Vec<_>>());
        }
        assert_eq!(schemas[0], schemas[1]);
    });
}

/// Writes the old files of the present version, unless they are there.
#[test]
#[ignore = "once a version"]
fn write_the_present_version() {
    let runtime = tokio::runtime::Runtime::new().unwrap();
    for ground in [Some(Ground::files()), Ground::server()].into_iter().flatten() {
        runtime.block_on(async {
            let n = ground.notebook().await;
            full(&n).await;
            let backup = n.back_up(NOW).await.unwrap();
            let to = old(VERSION, if backup.is_dir() { "-server" } else { ".grigne" });
            assert!(!to.exists(), "{} is there: it is never written again", to.display());
            std::fs::create_dir_all(to.parent().unwrap()).unwrap();
            if backup.is_dir() {
                std::fs::create_dir(&to).unwrap();
                for e in std::fs::read_dir(&backup).unwrap() {
                    let from = e.unwrap().path();
                    std::fs::copy(&from, to.join(from.file_name().unwrap())).unwrap();
                }
            } else {
                std::fs::copy(&backup, &to).unwrap();
            }
        });
    }
}
