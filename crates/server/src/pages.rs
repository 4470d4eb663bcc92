//! The pages, embedded. What has its hash in its name is kept by the browser for good.

use crate::problem::Problem;
use axum::http::{HeaderValue, Uri, header};
use axum::response::{IntoResponse, Response};
use rust_embed::RustEmbed;

#[derive(RustEmbed)]
#[folder = "$OUT_DIR/pages"]
struct Pages;

pub(crate) async fn page(uri: Uri) -> Response {
    let path = uri.path().trim_start_matches('/');
    let path = if path.is_empty() { "index.html" } else { path };
    let Some(file) = Pages::get(path) else { return Problem::missing().into_response() };
    let media = match path.rsplit_once('.') {
        Some((_, "wasm")) => "application/wasm".to_owned(),
        Some((_, "webmanifest")) => "application/manifest+json".to_owned(),
        _ => mime_guess::from_path(path).first_or_octet_stream().to_string(),
    };
    let text = media.starts_with("text/");
    let media = if text { format!("{media}; charset=utf-8") } else { media };
    let keep = if path.starts_with("assets/") {
        "public, max-age=31536000, immutable"
    } else {
        "no-cache"
    };
    let mut answer = file.data.into_owned().into_response();
    let headers = answer.headers_mut();
    if let Ok(media) = HeaderValue::from_str(&media) {
        headers.insert(header::CONTENT_TYPE, media);
    }
    headers.insert(header::CACHE_CONTROL, HeaderValue::from_static(keep));
    answer
}
