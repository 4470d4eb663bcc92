//! The JSON API, one file a kind of entry. Keys are the client's, so a write sent twice is kept
//! once; every write answers with the notebook's new revision, and every open page hears of it.

mod bakes;
mod cultures;
mod events;
mod export;
mod versions;

use crate::live::Heard;
use crate::problem::{Answer, Problem};
use crate::{App, now, photo};
use axum::body::Bytes;
use axum::extract::rejection::{BytesRejection, JsonRejection};
use axum::extract::{DefaultBodyLimit, FromRequest, FromRequestParts, Path, Query, Request, State};
use axum::http::request::Parts;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use axum::{Json, Router};
use engine::progress;
use jiff::Span;
use notebook::{By, Hash, Id, Page};
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::{Value, json};
use std::sync::atomic::{AtomicU32, Ordering};

/// Largest body of anything but a photo, bytes: a recipe file is at most a megabyte.
const LARGEST: usize = 4 * 1024 * 1024;

pub(crate) fn routes() -> Router<App> {
    let photos = Router::new()
        .route("/photos", post(keep_photo))
        .layer(DefaultBodyLimit::max(photo::LARGEST));
    Router::new()
        .route("/notebook", get(notebook))
        .route("/openapi.json", get(describe))
        .route("/events", get(events::events))
        .route("/changes", get(changes))
        .route("/undo", post(undo))
        .route("/redo", post(redo))
        .route("/demo/seed", post(seed_demo))
        .route("/demo/remove", post(remove_demo))
        .route("/ask", post(ask))
        .route("/clock", get(clock))
        .route("/pairing", post(pairing))
        .route("/export", get(export::export))
        .route("/photos/{hash}", get(see_photo))
        .merge(versions::routes())
        .merge(cultures::routes())
        .merge(bakes::routes())
        .layer(DefaultBodyLimit::max(LARGEST))
        .merge(photos)
        .fallback(|| async { Problem::missing() })
}

/// A body of JSON, refused in our words.
pub(crate) struct Given<T>(pub(crate) T);

impl<T: DeserializeOwned, S: Send + Sync> FromRequest<S> for Given<T> {
    type Rejection = Problem;

    async fn from_request(request: Request, state: &S) -> Result<Self, Problem> {
        match Json::<T>::from_request(request, state).await {
            Ok(Json(body)) => Ok(Self(body)),
            Err(JsonRejection::BytesRejection(e)) => Err(unread(&e, LARGEST)),
            Err(e) => Err(Problem::new(e.status(), "The question cannot be read", e.body_text())),
        }
    }
}

/// A body that did not come, or is too much.
fn unread(e: &BytesRejection, largest: usize) -> Problem {
    if e.status() == StatusCode::PAYLOAD_TOO_LARGE {
        let most = largest / (1024 * 1024);
        let detail = format!("more than {most} MB were sent");
        Problem::new(e.status(), "Too large", detail).hint("send a smaller file")
    } else {
        Problem::new(StatusCode::BAD_REQUEST, "It was cut off", "the upload did not come whole")
            .hint("send it again")
    }
}

/// A query string, refused in our words.
pub(crate) struct Asked<T>(pub(crate) T);

impl<T: DeserializeOwned, S: Send + Sync> FromRequestParts<S> for Asked<T> {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, Problem> {
        let read = Query::<T>::from_request_parts(parts, state).await;
        let wrong = |e: axum::extract::rejection::QueryRejection| {
            Problem::new(StatusCode::BAD_REQUEST, "The question cannot be read", e.body_text())
        };
        read.map(|Query(q)| Self(q)).map_err(wrong)
    }
}

/// A key in the address.
pub(crate) struct Key(pub(crate) Id);

impl<S: Send + Sync> FromRequestParts<S> for Key {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, Problem> {
        let text = Path::<String>::from_request_parts(parts, state).await;
        let Path(text) = text.map_err(|_| Problem::missing())?;
        key(&text).map(Self)
    }
}

pub(crate) fn key(text: &str) -> Answer<Id> {
    text.parse::<Id>().map_err(|e| Problem::given("key", e.to_string()))
}

/// Who writes: the device's own name, or its kind.
pub(crate) struct Who(String);

impl Who {
    pub(crate) fn by(&self) -> By<'_> {
        By { at: now(), who: &self.0 }
    }
}

impl<S: Send + Sync> FromRequestParts<S> for Who {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Problem> {
        let named = parts.headers.get("x-grigne-device").and_then(|h| h.to_str().ok());
        let name: String = named.unwrap_or("this device").chars().take(60).collect();
        Ok(Self(name))
    }
}

/// A part of a list, in a query string.
#[derive(Debug, Deserialize)]
pub(crate) struct Part {
    #[serde(default)]
    away: bool,
    after: Option<String>,
    most: Option<u32>,
}

impl Part {
    fn page(&self) -> Page {
        let usual = Page::default();
        Page { after: self.after.clone(), most: self.most.unwrap_or(usual.most) }
    }
}

/// A write that was kept.
pub(crate) fn kept(app: &App, revision: Result<i64, notebook::Error>) -> Answer<Json<Value>> {
    let revision = revision?;
    app.live.tell(Heard::Changed);
    Ok(Json(json!({ "revision": revision })))
}

/// What can be asked, in the form of OpenAPI; held against the routes by a test.
const OPENAPI: &str = include_str!("../openapi.json");

async fn describe() -> Response {
    ([(header::CONTENT_TYPE, "application/json")], OPENAPI).into_response()
}

async fn notebook(State(app): State<App>) -> Answer<Json<Value>> {
    Ok(Json(json!({
        "revision": app.notebook.revision().await?,
        "version": notebook::VERSION,
        "has_demo": app.notebook.has_demo().await?,
        "is_new": app.notebook.is_new().await?,
        "place": &*app.place,
    })))
}

#[derive(Debug, Deserialize)]
struct Before {
    before: Option<i64>,
    most: Option<u32>,
}

async fn changes(State(app): State<App>, Asked(q): Asked<Before>) -> Answer<Response> {
    let all = app.notebook.changes(q.before, q.most.unwrap_or(50).min(500)).await?;
    Ok(Json(all).into_response())
}

#[derive(Debug, Deserialize)]
struct Undo {
    revision: Option<i64>,
}

async fn undo(State(app): State<App>, who: Who, Given(u): Given<Undo>) -> Answer<Json<Value>> {
    let done = match u.revision {
        Some(revision) => app.notebook.undo(revision, who.by()).await,
        None => app.notebook.undo_latest(who.by()).await,
    };
    kept(&app, done)
}

async fn redo(State(app): State<App>, who: Who) -> Answer<Json<Value>> {
    kept(&app, app.notebook.redo_latest(who.by()).await)
}

async fn seed_demo(State(app): State<App>, who: Who) -> Answer<Json<Value>> {
    kept(&app, app.notebook.seed_demo(who.by()).await)
}

async fn remove_demo(State(app): State<App>, who: Who) -> Answer<Json<Value>> {
    kept(&app, app.notebook.remove_demo(who.by()).await)
}

#[derive(Debug, Deserialize)]
struct Watched {
    progress: Option<String>,
}

/// A question to the engine, as the page asks it too; see `docs/json.md`. How far the answer is
/// comes over the events, under the key in `progress`.
async fn ask(
    State(app): State<App>,
    Asked(watched): Asked<Watched>,
    Given(question): Given<Value>,
) -> Answer<Json<Value>> {
    let work = move || {
        let Some(key) = watched.progress else { return document::ask(&question) };
        let told = AtomicU32::new(0);
        let tell = |share: f64| {
            // whole percents, each once
            let percent = (share * 100.0) as u32;
            if told.fetch_max(percent, Ordering::Relaxed) < percent {
                app.live.tell(Heard::Progress { key: key.clone(), share });
            }
        };
        document::ask_telling(&question, progress::Part::whole(&tell))
    };
    let answer = tokio::task::spawn_blocking(work).await;
    Ok(Json(answer.map_err(|e| std::io::Error::other(e.to_string()))?))
}

#[derive(Debug, Deserialize)]
struct Zone {
    zone: String,
}

/// Days in which clock changes are told: as far as is planned, and a little more.
const CLOCK_DAYS: i64 = 40;

/// The wall clock of a zone: now, and when it changes, in elapsed minutes.
async fn clock(Asked(q): Asked<Zone>) -> Answer<Json<Value>> {
    let zone = jiff::tz::TimeZone::get(&q.zone).map_err(|_| {
        Problem::given("zone", format!("\"{}\" is not a time zone", q.zone))
            .hint("write one such as Europe/Lisbon or America/Denver")
    })?;
    let now = jiff::Timestamp::now().to_zoned_datetime(zone);
    let offset = i64::from(now.offset().seconds());
    let mut shifts: Vec<(i64, i64)> = Vec::new();
    let last =
        now.checked_add(Span::new().days(CLOCK_DAYS)).map_or(now.timestamp(), |t| t.timestamp());
    for change in now.time_zone().following(now.timestamp()) {
        if change.timestamp() > last {
            break;
        }
        let after = change.timestamp().as_second() - now.timestamp().as_second();
        let by = i64::from(change.offset().seconds()) - offset;
        shifts.push(((after + 59) / 60, by / 60));
    }
    let told = now.datetime().to_string();
    let seconds = told.get(..19).unwrap_or(&told);
    Ok(Json(json!({
        "now": seconds, "at": now.timestamp().as_millisecond(), "shifts": shifts, "zone": q.zone,
    })))
}

/// A code for another device.
async fn pairing(State(app): State<App>, request: Request) -> Answer<Json<Value>> {
    let host = request.headers().get(header::HOST).and_then(|h| h.to_str().ok());
    let port = host.and_then(|h| h.rsplit_once(':')?.1.parse().ok()).unwrap_or(80);
    match app.guard.pairing(port)? {
        Some(p) => Ok(Json(json!({ "address": p.address, "svg": p.svg }))),
        None => Err(Problem::new(
            StatusCode::CONFLICT,
            "Only this machine is served",
            "other devices cannot reach the workbench as it was started",
        )
        .hint("start it with grigne serve --lan")),
    }
}

async fn keep_photo(
    State(app): State<App>,
    who: Who,
    body: Result<Bytes, BytesRejection>,
) -> Answer<Response> {
    let bytes = body.map_err(|e| unread(&e, photo::LARGEST))?;
    let clean = tokio::task::spawn_blocking(move || photo::cleaned(&bytes)).await;
    let clean = clean.map_err(|e| std::io::Error::other(e.to_string()))??;
    let hash = app.notebook.keep_photo(&clean, "image/jpeg", who.by()).await?;
    app.live.tell(Heard::Changed);
    Ok(Json(json!({ "hash": hash, "media": "image/jpeg" })).into_response())
}

async fn see_photo(State(app): State<App>, Path(hash): Path<String>) -> Answer<Response> {
    let hash: Hash = hash.parse().map_err(|_| Problem::missing())?;
    let (photo, path) = app.notebook.photo(hash).await?;
    let bytes = tokio::task::spawn_blocking(move || std::fs::read(path)).await;
    let bytes = bytes.map_err(|e| std::io::Error::other(e.to_string()))??;
    let media = HeaderValue::from_str(&photo.media).map_err(|_| Problem::missing())?;
    // its name is what it holds
    let keep = HeaderValue::from_static("private, max-age=31536000, immutable");
    Ok(([(header::CONTENT_TYPE, media), (header::CACHE_CONTROL, keep)], bytes).into_response())
}
