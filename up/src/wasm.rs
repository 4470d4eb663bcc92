//! The engine as WebAssembly, whatever toolchain there is.
//!
//! In this order: the target of the Rust in use; the same after `rustup target add`; the standard
//! library built from its sources, of this Rust or of the distribution's; those installed. There
//! is no build without the engine: where nothing helps, the two remedies are named.

use std::path::{Path, PathBuf};
use std::process::Command;

const TARGET: &str = "wasm32-unknown-unknown";
/// Registers of two lanes: every browser of the last years has them.
const FEATURES: &str = "-C target-feature=+simd128";
/// Bytes packed, at most: a tripwire. `docs/performance.md` says what they are.
const MOST: u64 = 1_350_000;
/// What a distribution's compiler for the web is called.
const PACKAGES: [&str; 4] = ["rustc-web", "cargo-web", "rust-web-src", "lld"];

/// Builds it; gives where it is.
pub(crate) fn wasm(root: &Path) -> Result<PathBuf, String> {
    let target = root.join("target/wasm");
    ladder(root, &target)?;
    let built = target.join(TARGET).join("wasm/reader.wasm");
    let out = target.join("reader.wasm");
    std::fs::copy(&built, &out).map_err(|e| format!("{}: {e}", built.display()))?;
    let size = std::fs::metadata(&out).map_err(|e| e.to_string())?.len();
    let packed = packed(&out);
    let told = packed.map_or("not packed: gzip is missing".into(), |n| format!("{n} packed"));
    println!("{}: {size} bytes, {told}", out.display());
    match packed {
        Some(n) if n > MOST => Err(format!("{n} bytes packed are more than {MOST}")),
        _ => Ok(out),
    }
}

/// Bytes as `gzip -9` packs them.
fn packed(file: &Path) -> Option<u64> {
    let out = Command::new("gzip").args(["-9", "-c"]).arg(file).output().ok()?;
    out.status.success().then_some(out.stdout.len() as u64)
}

fn ladder(root: &Path, target: &Path) -> Result<(), String> {
    let sysroot = PathBuf::from(told(Command::new("rustc").args(["--print", "sysroot"]))?);
    let has = || sysroot.join("lib/rustlib").join(TARGET).exists();
    if !has() {
        // without a network this fails, and the next may do
        let _ = told(Command::new("rustup").args(["target", "add", TARGET]));
    }
    if has() {
        return build(root, target, Command::new("cargo").env("RUSTFLAGS", FEATURES));
    }
    if sysroot.join("lib/rustlib/src/rust/library").exists() {
        let mut cargo = Command::new("cargo");
        cargo.env("RUSTFLAGS", FEATURES).env("RUSTC_BOOTSTRAP", "1");
        return build(root, target, cargo.args(["-Z", "build-std=std,panic_abort"]));
    }
    let sources = || Path::new("/usr/lib/rustlib/src/rust/library").exists();
    let linker = || told(Command::new("wasm-ld").arg("--version")).is_ok();
    if !(sources() && linker()) {
        println!("installing {}", PACKAGES.join(" "));
        let _ = told(Command::new("apt-get").args(["update", "-q"]));
        let install = ["install", "-y", "-q", "--no-install-recommends"];
        let _ = told(Command::new("apt-get").args(install).args(PACKAGES));
    }
    if sources() && linker() {
        let mut cargo = Command::new("/usr/bin/cargo");
        for inherited in ["RUSTUP_TOOLCHAIN", "RUSTC_WRAPPER", "CARGO", "CARGO_ENCODED_RUSTFLAGS"] {
            cargo.env_remove(inherited);
        }
        cargo
            .env("RUSTC", "/usr/bin/rustc")
            .env("RUSTC_BOOTSTRAP", "1")
            .env("RUSTFLAGS", FEATURES)
            .env("CARGO_TARGET_WASM32_UNKNOWN_UNKNOWN_LINKER", "wasm-ld")
            .args(["-Z", "build-std=std,panic_abort"]);
        return build(root, target, &mut cargo);
    }
    Err(format!(
        "there is no Rust for {TARGET} here. Either run `rustup target add {TARGET}`, or install {} of a distribution that has them (`apt-get install {}`)",
        PACKAGES.join(", "),
        PACKAGES.join(" ")
    ))
}

fn build(root: &Path, target: &Path, cargo: &mut Command) -> Result<(), String> {
    // in front of the options given so far stands the verb
    let given: Vec<_> = cargo.get_args().map(std::ffi::OsStr::to_owned).collect();
    let mut run = Command::new(cargo.get_program());
    for (key, value) in cargo.get_envs() {
        match value {
            Some(value) => run.env(key, value),
            None => run.env_remove(key),
        };
    }
    run.current_dir(root)
        .args(["build", "--profile", "wasm", "--locked", "-p", "reader", "--target", TARGET])
        .args(given)
        .arg("--target-dir")
        .arg(target);
    match run.status() {
        Ok(s) if s.success() => Ok(()),
        Ok(s) => Err(format!("cargo build for {TARGET}: {s}")),
        Err(e) => Err(format!("cargo: {e}")),
    }
}

fn told(command: &mut Command) -> Result<String, String> {
    let name = command.get_program().to_string_lossy().into_owned();
    match command.output() {
        Ok(out) if out.status.success() => {
            Ok(String::from_utf8_lossy(&out.stdout).trim().to_owned())
        }
        Ok(out) => Err(format!("{name}: {}", String::from_utf8_lossy(&out.stderr).trim())),
        Err(e) => Err(format!("{name}: {e}")),
    }
}
