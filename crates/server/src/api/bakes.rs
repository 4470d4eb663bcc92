//! Plans that were accepted, bakes, and what was measured.

use super::cultures::same;
use super::{Answer, Asked, Given, Key, Part, Problem, Who, kept, key};
use crate::{App, now};
use axum::extract::{Path, State};
use axum::response::{IntoResponse, Response};
use axum::routing::{delete, get, post, put};
use axum::{Json, Router};
use notebook::{Annotation, Bake, Did, Hash, Id, Measurement, Moment, Plan, Verdict, Which};
use serde::Deserialize;
use serde_json::Value;

pub(super) fn routes() -> Router<App> {
    Router::new()
        .route("/plans", get(plans))
        .route("/plans/{id}", get(plan).put(accept).delete(remove_plan))
        .route("/bakes", get(bakes))
        .route("/bakes/{id}", get(bake).put(begin).delete(remove_bake))
        .route("/bakes/{id}/did/{did}", delete(undid).put(did))
        .route("/bakes/{id}/judge", post(judge))
        .route("/bakes/{id}/finish", post(finish))
        .route("/bakes/{id}/annotations/{annotation}", put(annotate))
        .route("/measurements/{id}", delete(unmeasure).put(measure))
}

#[derive(Debug, Deserialize)]
struct After {
    after: Option<i64>,
    most: Option<u32>,
}

async fn plans(State(app): State<App>, Asked(q): Asked<After>) -> Answer<Response> {
    let after = q.after.map_or_else(now, Moment);
    Ok(Json(app.notebook.plans(after, q.most.unwrap_or(50).min(500)).await?).into_response())
}

async fn plan(State(app): State<App>, Key(id): Key) -> Answer<Response> {
    Ok(Json(app.notebook.plan(id).await?).into_response())
}

#[derive(Debug, Deserialize)]
struct Instead {
    instead: Option<Id>,
}

async fn accept(
    State(app): State<App>,
    Key(id): Key,
    Asked(Instead { instead }): Asked<Instead>,
    who: Who,
    Given(plan): Given<Plan>,
) -> Answer<Json<Value>> {
    same(id, plan.id)?;
    match instead {
        Some(old) => kept(&app, app.notebook.accept_instead(&plan, old, who.by()).await),
        None => match app.notebook.accept(&plan, who.by()).await {
            Err(e @ notebook::Error::Different { .. }) => Err(Problem::from(e).hint(
                "a plan stays as it was accepted: send other times under a new key, and this key as \
                 instead",
            )),
            done => kept(&app, done),
        },
    }
}

async fn remove_plan(State(app): State<App>, Key(id): Key, who: Who) -> Answer<Json<Value>> {
    kept(&app, app.notebook.remove_plan(id, who.by()).await)
}

async fn bakes(
    State(app): State<App>,
    Asked(which): Asked<Which>,
    Asked(part): Asked<Part>,
) -> Answer<Response> {
    Ok(Json(app.notebook.bakes(which, &part.page()).await?).into_response())
}

async fn bake(State(app): State<App>, Key(id): Key) -> Answer<Response> {
    Ok(Json(app.notebook.bake(id).await?).into_response())
}

async fn begin(
    State(app): State<App>,
    Key(id): Key,
    who: Who,
    Given(bake): Given<Bake>,
) -> Answer<Json<Value>> {
    same(id, bake.id)?;
    kept(&app, app.notebook.begin(&bake, who.by()).await)
}

async fn remove_bake(State(app): State<App>, Key(id): Key, who: Who) -> Answer<Json<Value>> {
    kept(&app, app.notebook.remove_bake(id, who.by()).await)
}

#[derive(Debug, Deserialize)]
struct Begun {
    step: u32,
    at: Moment,
}

async fn did(
    State(app): State<App>,
    Path((bake, id)): Path<(String, String)>,
    who: Who,
    Given(Begun { step, at }): Given<Begun>,
) -> Answer<Json<Value>> {
    let did = Did { id: key(&id)?, bake: key(&bake)?, step, at, demo: false };
    kept(&app, app.notebook.did(&did, who.by()).await)
}

async fn undid(
    State(app): State<App>,
    Path((_, id)): Path<(String, String)>,
    who: Who,
) -> Answer<Json<Value>> {
    kept(&app, app.notebook.remove_did(key(&id)?, who.by()).await)
}

async fn measure(
    State(app): State<App>,
    Key(id): Key,
    who: Who,
    Given(m): Given<Measurement>,
) -> Answer<Json<Value>> {
    same(id, m.id)?;
    kept(&app, app.notebook.measure(&m, who.by()).await)
}

async fn unmeasure(State(app): State<App>, Key(id): Key, who: Who) -> Answer<Json<Value>> {
    kept(&app, app.notebook.remove_measurement(id, who.by()).await)
}

#[derive(Debug, Deserialize)]
struct Judged {
    #[serde(flatten)]
    verdict: Verdict,
    #[serde(default)]
    note: String,
}

async fn judge(
    State(app): State<App>,
    Key(id): Key,
    who: Who,
    Given(j): Given<Judged>,
) -> Answer<Json<Value>> {
    kept(&app, app.notebook.judge(id, j.verdict, &j.note, who.by()).await)
}

#[derive(Debug, Deserialize)]
struct Finished {
    at: Moment,
    #[serde(flatten)]
    verdict: Verdict,
    #[serde(default)]
    note: String,
}

async fn finish(
    State(app): State<App>,
    Key(id): Key,
    who: Who,
    Given(f): Given<Finished>,
) -> Answer<Json<Value>> {
    kept(&app, app.notebook.finish(id, f.at, f.verdict, &f.note, who.by()).await)
}

#[derive(Debug, Deserialize)]
struct Note {
    at: Moment,
    words: String,
    photo: Option<Hash>,
}

async fn annotate(
    State(app): State<App>,
    Path((bake, id)): Path<(String, String)>,
    who: Who,
    Given(n): Given<Note>,
) -> Answer<Json<Value>> {
    let Note { at, words, photo } = n;
    let (id, bake): (Id, Id) = (key(&id)?, key(&bake)?);
    let annotation = Annotation { id, bake, at, words, photo, demo: false };
    kept(&app, app.notebook.annotate(&annotation, who.by()).await)
}
