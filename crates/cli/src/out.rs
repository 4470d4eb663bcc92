//! Where output goes: the terminal, or a file that is whole or not there at all.

use crate::fail::Failure;
use std::io::Write;
use std::path::Path;

/// Writes text; styles are dropped where they do not belong.
pub(crate) fn text(text: &str, to: Option<&Path>) -> Result<(), Failure> {
    match to {
        Some(_) => bytes(anstream::adapter::strip_str(text).to_string().as_bytes(), to),
        None => finish(anstream::stdout().lock().write_all(text.as_bytes())),
    }
}

/// Writes JSON, indented, with a line end.
pub(crate) fn json(value: &serde_json::Value, to: Option<&Path>) -> Result<(), Failure> {
    bytes(format!("{value:#}\n").as_bytes(), to)
}

/// Writes bytes as they are.
pub(crate) fn bytes(bytes: &[u8], to: Option<&Path>) -> Result<(), Failure> {
    let Some(path) = to else {
        return finish(std::io::stdout().lock().write_all(bytes));
    };
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let write = || -> std::io::Result<()> {
        let mut builder = tempfile::Builder::new();
        builder.prefix(".grigne-");
        #[cfg(unix)]
        {
            // as readable as any new file: the umask decides
            use std::os::unix::fs::PermissionsExt;
            builder.permissions(std::fs::Permissions::from_mode(0o666));
        }
        let mut file = builder.tempfile_in(folder)?;
        file.write_all(bytes)?;
        file.as_file().sync_all()?;
        file.persist(path).map_err(|e| e.error)?;
        Ok(())
    };
    write().map_err(|e| Failure::write(&path.display().to_string(), &e))
}

/// A reader that went away (`| head`) is no failure.
fn finish(done: std::io::Result<()>) -> Result<(), Failure> {
    match done {
        Err(e) if e.kind() != std::io::ErrorKind::BrokenPipe => {
            Err(Failure::write("to the terminal", &e))
        }
        _ => Ok(()),
    }
}
