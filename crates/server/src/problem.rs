//! A refusal as problem details (RFC 9457), in the same words everywhere.

use axum::Json;
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, header};
use axum::response::{Html, IntoResponse, Response};
use document::Place;
use notebook::Error;
use serde::Serialize;

/// What is wrong, where, and how to mend it.
#[derive(Debug)]
pub(crate) struct Problem(Box<Told>);

#[derive(Debug, Serialize)]
struct Told {
    #[serde(rename = "type")]
    kind: &'static str,
    title: &'static str,
    #[serde(serialize_with = "number")]
    status: StatusCode,
    detail: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    field: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    hint: Option<String>,
    /// Mistakes of a recipe or kitchen text, each with its place.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    problems: Vec<Place>,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde asks for a reference")]
fn number<S: serde::Serializer>(status: &StatusCode, s: S) -> Result<S::Ok, S::Error> {
    s.serialize_u16(status.as_u16())
}

pub(crate) type Answer<T> = Result<T, Problem>;

impl Problem {
    pub(crate) fn new(status: StatusCode, title: &'static str, detail: impl Into<String>) -> Self {
        let detail = detail.into();
        Self(Box::new(Told {
            kind: "about:blank",
            title,
            status,
            detail,
            field: None,
            hint: None,
            problems: vec![],
        }))
    }

    pub(crate) fn given(field: impl Into<String>, detail: impl Into<String>) -> Self {
        let mut p = Self::new(StatusCode::UNPROCESSABLE_ENTITY, "This cannot be kept", detail);
        p.0.field = Some(field.into());
        p
    }

    pub(crate) fn hint(mut self, hint: impl Into<String>) -> Self {
        self.0.hint = Some(hint.into());
        self
    }

    /// Mistakes of a text, each with its line, column and field.
    pub(crate) fn mistakes(what: &str, text: &str, found: &[engine::file::Problem]) -> Self {
        let places: Vec<Place> = found.iter().map(|p| Place::of(text, p)).collect();
        let detail = match places.as_slice() {
            [one] => format!("line {}: {}: {}", one.line, one.field, one.message),
            many => format!("{} things are wrong in the {what}", many.len()),
        };
        let status = StatusCode::UNPROCESSABLE_ENTITY;
        let mut p = Self::new(status, "The text has mistakes", detail);
        if let [one] = places.as_slice() {
            p.0.hint.clone_from(&one.hint);
        }
        p.0.problems = places;
        p
    }

    pub(crate) fn missing() -> Self {
        Self::new(StatusCode::NOT_FOUND, "Not here", "there is nothing under this address")
    }
}

impl Problem {
    /// The same as a page, for who opened an address rather than asked the API.
    pub(crate) fn page(&self) -> Response {
        let [title, detail] = [self.0.title, &self.0.detail].map(as_html);
        let hint = self.0.hint.as_deref().map_or(String::new(), |h| format!("<p>{}", as_html(h)));
        let page = format!(
            "<!doctype html><html lang=en><meta charset=utf-8>\
             <meta name=viewport content=\"width=device-width\">\
             <meta name=color-scheme content=\"light dark\">\
             <title>{title} – grigne</title><h1>{title}</h1><p>{detail}.{hint}.</html>"
        );
        (self.0.status, Html(page)).into_response()
    }
}

/// Text that means itself in HTML.
fn as_html(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out += "&amp;",
            '<' => out += "&lt;",
            '>' => out += "&gt;",
            '"' => out += "&quot;",
            other => out.push(other),
        }
    }
    out
}

/// Whether somebody opened an address in a browser.
pub(crate) fn opened(method: &Method, headers: &HeaderMap) -> bool {
    let accepted = headers.get(header::ACCEPT).and_then(|a| a.to_str().ok());
    *method == Method::GET && accepted.is_some_and(|a| a.contains("text/html"))
}

impl IntoResponse for Problem {
    fn into_response(self) -> Response {
        let mut answer = (self.0.status, Json(&self.0)).into_response();
        let media = HeaderValue::from_static("application/problem+json");
        answer.headers_mut().insert(header::CONTENT_TYPE, media);
        answer
    }
}

impl From<Error> for Problem {
    fn from(e: Error) -> Self {
        let (status, title) = match &e {
            Error::Missing { .. } => (StatusCode::NOT_FOUND, "Not here"),
            Error::Finished { .. }
            | Error::Needed
            | Error::Different { .. }
            | Error::ChangedSince { .. }
            | Error::UndoneBefore { .. }
            | Error::Nothing { .. } => (StatusCode::CONFLICT, "This cannot be done now"),
            Error::Given { .. } => (StatusCode::UNPROCESSABLE_ENTITY, "This cannot be kept"),
            Error::Text { .. } => (StatusCode::UNPROCESSABLE_ENTITY, "The text has mistakes"),
            Error::Full { .. } => (StatusCode::INSUFFICIENT_STORAGE, "The disk is full"),
            Error::Busy { .. } | Error::Unreachable { .. } => {
                (StatusCode::SERVICE_UNAVAILABLE, "The notebook does not answer")
            }
            _ => (StatusCode::INTERNAL_SERVER_ERROR, "The notebook failed"),
        };
        let mut p = Self::new(status, title, e.to_string());
        if let Error::Given { field, message } = &e {
            p.0.detail.clone_from(message);
            p.0.field = Some(field.clone());
        }
        p
    }
}

impl From<std::io::Error> for Problem {
    fn from(e: std::io::Error) -> Self {
        Self::new(StatusCode::INTERNAL_SERVER_ERROR, "The machine failed", e.to_string())
    }
}
