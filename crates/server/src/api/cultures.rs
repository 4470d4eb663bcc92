//! Starters and their feeds.

use super::{Answer, Asked, Given, Key, Part, Problem, Who, kept, key};
use crate::App;
use axum::extract::{Path, State};
use axum::response::{IntoResponse, Response};
use axum::routing::{delete, get};
use axum::{Json, Router};
use notebook::{Culture, Feed, Page};
use serde_json::{Value, json};

pub(super) fn routes() -> Router<App> {
    Router::new()
        .route("/cultures", get(all))
        .route("/cultures/{id}", get(one).put(keep))
        .route("/cultures/{id}/feeds/{feed}", delete(unfeed).put(feed))
}

async fn all(State(app): State<App>, Asked(part): Asked<Part>) -> Answer<Response> {
    Ok(Json(app.notebook.cultures(part.away).await?).into_response())
}

async fn one(State(app): State<App>, Key(id): Key) -> Answer<Json<Value>> {
    let culture = app.notebook.culture(id).await?;
    let page = Page::default();
    let feeds = app.notebook.feeds(id, &page).await?;
    let measured = app.notebook.measured_of(id, &page).await?;
    Ok(Json(json!({ "culture": culture, "feeds": feeds, "measured": measured })))
}

async fn keep(
    State(app): State<App>,
    Key(id): Key,
    who: Who,
    Given(culture): Given<Culture>,
) -> Answer<Json<Value>> {
    same(id, culture.id)?;
    kept(&app, app.notebook.keep_culture(&culture, who.by()).await)
}

async fn feed(
    State(app): State<App>,
    Path((culture, id)): Path<(String, String)>,
    who: Who,
    Given(feed): Given<Feed>,
) -> Answer<Json<Value>> {
    same(key(&culture)?, feed.culture)?;
    same(key(&id)?, feed.id)?;
    kept(&app, app.notebook.feed(&feed, who.by()).await)
}

async fn unfeed(
    State(app): State<App>,
    Path((_, id)): Path<(String, String)>,
    who: Who,
) -> Answer<Json<Value>> {
    kept(&app, app.notebook.remove_feed(key(&id)?, who.by()).await)
}

/// Whether address and body mean the same entry.
pub(super) fn same(address: notebook::Id, body: notebook::Id) -> Answer<()> {
    if address == body {
        return Ok(());
    }
    Err(Problem::given("id", format!("{body} is not the key in the address, {address}")))
}
