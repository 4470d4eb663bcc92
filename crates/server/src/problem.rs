//! A refusal as problem details (RFC 9457), in the same words everywhere.

use axum::Json;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use notebook::Error;
use serde::Serialize;
use serde_json::{Value, json};

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
    problems: Vec<Value>,
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

    pub(crate) fn missing() -> Self {
        Self::new(StatusCode::NOT_FOUND, "Not here", "there is nothing under this address")
    }
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
        match &e {
            Error::Given { field, message } => {
                p.0.detail.clone_from(message);
                p.0.field = Some(field.clone());
            }
            Error::Text { problems, .. } => {
                let told = |x: &engine::file::Problem| {
                    json!({
                        "field": x.field, "message": x.message, "hint": x.hint,
                        "from": x.span.start, "to": x.span.end,
                    })
                };
                p.0.problems = problems.iter().map(told).collect();
            }
            _ => {}
        }
        p
    }
}

impl From<std::io::Error> for Problem {
    fn from(e: std::io::Error) -> Self {
        Self::new(StatusCode::INTERNAL_SERVER_ERROR, "The machine failed", e.to_string())
    }
}
