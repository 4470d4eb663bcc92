//! Everything as one file to take away: the folder of an export, packed.

use super::Answer;
use crate::App;
use crate::problem::Problem;
use axum::body::{Body, Bytes};
use axum::extract::State;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use std::fs::File;
use std::io::{Seek as _, SeekFrom};
use std::path::Path;
use tokio::io::AsyncReadExt as _;
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

/// Bytes sent at once.
const PIECE: usize = 256 * 1024;

pub(super) async fn export(State(app): State<App>) -> Answer<Response> {
    let folder = tempfile::tempdir()?;
    app.notebook.export(folder.path()).await?;
    let packed = tokio::task::spawn_blocking(move || pack(folder.path())).await;
    let packed = packed.map_err(|e| std::io::Error::other(e.to_string()))??;
    let mut file = tokio::fs::File::from_std(packed);
    let body = async_stream::stream! {
        loop {
            let mut piece = Vec::with_capacity(PIECE);
            match (&mut file).take(PIECE as u64).read_to_end(&mut piece).await {
                Ok(0) => break,
                Ok(_) => yield Ok(Bytes::from(piece)),
                Err(e) => {
                    yield Err(e);
                    break;
                }
            }
        }
    };
    let headers = [
        (header::CONTENT_TYPE, "application/zip"),
        (header::CONTENT_DISPOSITION, "attachment; filename=\"notebook.zip\""),
    ];
    Ok((headers, Body::from_stream(body)).into_response())
}

/// A folder as a file without a name, from its beginning.
fn pack(folder: &Path) -> Result<File, Problem> {
    let wrong = |e: zip::result::ZipError| std::io::Error::other(e.to_string());
    let mut zip = ZipWriter::new(tempfile::tempfile()?);
    let mut todo = vec![folder.to_owned()];
    let mut files = Vec::new();
    while let Some(dir) = todo.pop() {
        for entry in std::fs::read_dir(dir)? {
            let path = entry?.path();
            if path.is_dir() { todo.push(path) } else { files.push(path) }
        }
    }
    files.sort();
    for path in files {
        let name = path.strip_prefix(folder).unwrap_or(&path);
        zip.start_file_from_path(name, SimpleFileOptions::default()).map_err(wrong)?;
        std::io::copy(&mut File::open(&path)?, &mut zip)?;
    }
    let mut file = zip.finish().map_err(wrong)?;
    file.seek(SeekFrom::Start(0))?;
    Ok(file)
}
