//! The pages, embedded. What has its hash in its name is kept by the browser for good.

use crate::problem::Problem;
use axum::http::{HeaderValue, Uri, header};
use axum::response::{IntoResponse, Response};

/// All of them, by their paths, in order.
static PAGES: &[(&str, &[u8])] = include!(concat!(env!("OUT_DIR"), "/pages.rs"));

pub(crate) async fn page(uri: Uri) -> Response {
    let path = uri.path().trim_start_matches('/');
    let path = if path.is_empty() { "index.html" } else { path };
    let Ok(at) = PAGES.binary_search_by(|p| p.0.cmp(path)) else {
        return Problem::missing().into_response();
    };
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
    let mut answer = PAGES[at].1.into_response();
    let headers = answer.headers_mut();
    if let Ok(media) = HeaderValue::from_str(&media) {
        headers.insert(header::CONTENT_TYPE, media);
    }
    headers.insert(header::CACHE_CONTROL, HeaderValue::from_static(keep));
    answer
}
