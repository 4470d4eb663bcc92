//! Scripts of `scripts/`, which ask other people's solvers.

use crate::scene::say;
use serde_json::Value;
use std::path::Path;
use std::process::Command;

/// Writes what a script is to read into a file of `target`, runs it, and reads what it prints.
pub(crate) fn script(root: &Path, name: &str, file: &str, read: &Value) -> Result<Value, String> {
    let file = root.join("target").join(file);
    if let Some(folder) = file.parent() {
        std::fs::create_dir_all(folder).map_err(say)?;
    }
    std::fs::write(&file, read.to_string()).map_err(say)?;
    let out = Command::new("python3")
        .arg(root.join("scripts").join(name))
        .arg(&file)
        .output()
        .map_err(|e| format!("python3: {e}"))?;
    if !out.status.success() {
        let said = String::from_utf8_lossy(&out.stderr);
        return Err(said.lines().last().unwrap_or("the script failed").to_owned());
    }
    serde_json::from_slice(&out.stdout).map_err(say)
}
