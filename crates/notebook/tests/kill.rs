//! Killed without warning while it writes, again and again: nothing that was told as kept is lost.
#![allow(missing_docs, clippy::unwrap_used)] // a test that cannot go on may say so

mod common;

use common::*;
use engine::numerics::random::philox;
use notebook::{By, Id, Kind, Moment, Notebook, Page, Place, Verdict, Which};
use std::collections::BTreeSet;
use std::io::{BufRead as _, BufReader, Write as _};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

/// Kills, by two storms side by side; `GRIGNE_KILLS` for more.
const KILLS: u32 = 500;
/// Every so many, a storm is killed while it opens the notebook; those are not counted.
const EARLY: u32 = 10;
/// Longest life of a storm from its first entry, and of one killed early from its start, µs.
const LONGEST_US: u32 = 40_000;
/// Where the storm writes, and the count its keys begin at.
const FILE: &str = "GRIGNE_STORM_FILE";
const SEED: &str = "GRIGNE_STORM_SEED";

#[test]
fn nothing_kept_is_lost() {
    let kills = std::env::var("GRIGNE_KILLS").ok().and_then(|k| k.parse().ok()).unwrap_or(KILLS);
    let dir = tempfile::tempdir().unwrap();
    let halves: Vec<_> = (0..2_u32)
        .map(|half| {
            let file = dir.path().join(format!("{half}")).join("notebook.grigne");
            std::thread::spawn(move || storms(&file, half, kills.div_ceil(2)))
        })
        .collect();
    let kept: usize = halves.into_iter().map(|half| half.join().unwrap()).sum();
    println!("{kills} kills; {kept} entries told as kept, none lost");
    assert!(kept > kills as usize, "the storm hardly blew: {kept}");
}

/// Kills a storm over one file again and again. Gives how many entries were kept.
fn storms(file: &Path, half: u32, kills: u32) -> usize {
    let mut kept: BTreeSet<String> = BTreeSet::new();
    let (mut storm, mut killed) = (0, 0);
    while killed < kills {
        let seed = half * 1_000_000 + storm;
        let mut child = Command::new(std::env::current_exe().unwrap())
            .args(["storm", "--exact", "--ignored", "--nocapture", "--test-threads=1"])
            .env(FILE, file)
            .env(SEED, seed.to_string())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let out = BufReader::new(child.stdout.take().unwrap());
        let (begins, begun) = std::sync::mpsc::channel();
        let reader = std::thread::spawn(move || {
            let lines = out.lines().map_while(Result::ok);
            let kept = lines.filter_map(|l| l.strip_prefix("kept ").map(str::to_owned));
            kept.inspect(|_| _ = begins.send(())).collect::<Vec<String>>()
        });
        let is_early = storm % EARLY == 0;
        if !is_early {
            begun.recv_timeout(Duration::from_mins(1)).unwrap();
        }
        let wait = philox([seed, 0, 0, 0], [1, 2])[0] % LONGEST_US;
        std::thread::sleep(Duration::from_micros(wait.into()));
        child.kill().unwrap();
        let status = child.wait().unwrap();
        assert!(!status.success() && status.code().is_none(), "it ended by itself: {status}");
        kept.extend(reader.join().unwrap());
        killed += u32::from(!is_early);
        storm += 1;
        if storm % 50 == 0 || killed == kills {
            look(file, &kept);
        }
    }
    kept.len()
}

/// Opens the notebook and finds everything.
fn look(file: &Path, kept: &BTreeSet<String>) {
    let runtime = tokio::runtime::Runtime::new().unwrap();
    runtime.block_on(async {
        let n = Notebook::open(&Place::File(file.to_owned()), NOW).await.unwrap();
        n.check().await.unwrap();
        let mut there = BTreeSet::new();
        let mut page = Page { after: None, most: 500 };
        loop {
            let listed = n.bakes(Which::default(), &page).await.unwrap();
            for line in listed.items {
                let whole = n.bake(line.bake.id).await.unwrap();
                there.insert(whole.bake.id.to_string());
                there.extend(whole.measured.iter().map(|m| m.id.to_string()));
                for m in whole.measured.iter().filter_map(|m| m.photo) {
                    let (photo, path) = n.photo(m).await.unwrap();
                    assert_eq!(std::fs::metadata(path).unwrap().len() as i64, photo.bytes);
                }
            }
            page.after = listed.next;
            if page.after.is_none() {
                break;
            }
        }
        let lost: Vec<_> = kept.difference(&there).collect();
        assert!(lost.is_empty(), "{} of {} are lost", lost.len(), kept.len());
        // changes without a gap: none is half there
        let revision = n.revision().await.unwrap();
        let (mut below, mut count) = (None, 0);
        loop {
            let some = n.changes(below, 500).await.unwrap();
            let Some(last) = some.last() else { break };
            below = Some(last.revision);
            count += some.len() as i64;
        }
        assert_eq!(count, revision);
        n.close().await;
    });
}

/// The child: writes as fast as it can and tells every key once it is kept.
#[test]
#[ignore = "the storm of the test above"]
fn storm() {
    let Ok(file) = std::env::var(FILE) else { return };
    let seed: u32 = std::env::var(SEED).unwrap().parse().unwrap();
    let runtime = tokio::runtime::Runtime::new().unwrap();
    runtime.block_on(async {
        let n = Notebook::open(&Place::File(file.into()), NOW).await.unwrap();
        let writers: Vec<_> = (0..3_u32).map(|w| tokio::spawn(write(n.clone(), seed, w))).collect();
        for writer in writers {
            writer.await.unwrap();
        }
    });
}

async fn write(n: Notebook, seed: u32, writer: u32) {
    let mut count = 0_u64;
    let mut key = || {
        count += 1;
        let place = u128::from(seed) << 40 | u128::from(writer) << 32 | u128::from(count);
        Id::new(Moment(NOW.0 + i64::from(seed)), place)
    };
    let by = By { at: NOW, who: "storm" };
    let (version_, kitchen_version) = (key(), key());
    let b = Begun { recipe: key(), version: version_, kitchen: key(), kitchen_version };
    n.keep_recipe(&version(b.version, b.recipe, None, RECIPE), by).await.unwrap();
    n.keep_kitchen(&version(b.kitchen_version, b.kitchen, None, KITCHEN), by).await.unwrap();
    loop {
        let k = notebook::Bake { id: key(), ..bake(b) };
        n.begin(&k, by).await.unwrap();
        tell(k.id);
        for i in 0..6 {
            let m = notebook::Measurement { id: key(), ..measured(k.id, Kind::Rise, f64::from(i)) };
            n.measure(&m, by).await.unwrap();
            tell(m.id);
        }
        let bytes = format!("photo {seed} {writer} {}", k.id);
        let hash = n.keep_photo(bytes.as_bytes(), "image/jpeg", by).await.unwrap();
        let photo = notebook::Measurement {
            id: key(),
            value: None,
            photo: Some(hash),
            ..measured(k.id, Kind::Photo, 0.0)
        };
        n.measure(&photo, by).await.unwrap();
        tell(photo.id);
        let doomed = n.did(&notebook::Did { id: key(), ..did(k.id, 1) }, by).await.unwrap();
        n.undo(doomed, by).await.unwrap();
        n.finish(k.id, NOW, Verdict::default(), "", by).await.unwrap();
    }
}

/// One whole line at once, so that a kill leaves it whole or not there.
fn tell(id: Id) {
    let mut out = std::io::stdout().lock();
    out.write_all(format!("kept {id}\n").as_bytes()).and_then(|()| out.flush()).unwrap();
}
