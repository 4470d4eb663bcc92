//! Copies the built pages to where they are embedded from; a page that says how to build them
//! stands in for them, so that the crate always compiles.

use std::hash::{DefaultHasher, Hasher as _};
use std::path::{Path, PathBuf};
use std::{env, fs, io};

/// What keeps the pages for when the server does not answer.
const WORKER: &str = "sw.js";

fn main() -> io::Result<()> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let pages = root.join("ui/dist");
    let engine = root.join("target/wasm/reader.wasm");
    let Some(out) = env::var_os("OUT_DIR") else {
        return Err(io::Error::other("cargo sets OUT_DIR"));
    };
    let out = PathBuf::from(out).join("pages");
    if out.exists() {
        fs::remove_dir_all(&out)?;
    }
    fs::create_dir_all(&out)?;
    println!("cargo:rerun-if-changed={}", pages.display());
    println!("cargo:rerun-if-changed={}", engine.display());
    if pages.join("index.html").is_file() {
        copy(&pages, &out)?;
    } else {
        fs::write(out.join("index.html"), include_str!("src/unbuilt.html"))?;
    }
    if engine.is_file() {
        fs::copy(&engine, out.join("reader.wasm"))?;
    }
    let mut names = Vec::new();
    list(&out, "", &mut names)?;
    names.sort();
    without_network(&out, &names)?;
    let mut all = String::from("&[\n");
    for name in &names {
        let path = out.join(name).to_string_lossy().into_owned();
        all += &["(", &format!("{name:?}"), ", include_bytes!(", &format!("{path:?}"), ")),\n"]
            .concat();
    }
    fs::write(out.with_extension("rs"), all + "]\n")
}

/// Writes into the service worker what belongs to this build, and a name for it.
fn without_network(out: &Path, names: &[String]) -> io::Result<()> {
    if !names.iter().any(|n| n == WORKER) {
        return Ok(());
    }
    let mut build = DefaultHasher::new();
    for name in names {
        build.write(name.as_bytes());
        build.write(&fs::read(out.join(name))?);
    }
    let files = names.iter().filter(|n| *n != WORKER).map(|n| match n.as_str() {
        "index.html" => "'/'".to_owned(),
        other => format!("'/{other}'"),
    });
    let files = files.collect::<Vec<_>>().join(", ");
    let worker = fs::read_to_string(out.join(WORKER))?
        .replace("__BUILD__", &format!("{:016x}", build.finish()))
        .replace("'__FILES__'", &files);
    fs::write(out.join(WORKER), worker)
}

/// Files below a folder, by their paths from it.
fn list(folder: &Path, before: &str, names: &mut Vec<String>) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        let name = format!("{before}{}", entry.file_name().to_string_lossy());
        if entry.file_type()?.is_dir() {
            list(&entry.path(), &format!("{name}/"), names)?;
        } else {
            names.push(name);
        }
    }
    Ok(())
}

fn copy(from: &Path, to: &Path) -> io::Result<()> {
    fs::create_dir_all(to)?;
    for entry in fs::read_dir(from)? {
        let entry = entry?;
        let to = to.join(entry.file_name());
        if entry.file_type()?.is_dir() {
            copy(&entry.path(), &to)?;
        } else {
            fs::copy(entry.path(), to)?;
        }
    }
    Ok(())
}
