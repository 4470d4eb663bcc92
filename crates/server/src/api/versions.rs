//! Recipes and kitchens, each a tree of versions.

use super::{Answer, Asked, Given, Key, Part, Problem, Who, kept, key};
use crate::App;
use axum::extract::{Path, State};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post, put};
use axum::{Json, Router};
use notebook::{Id, NewVersion};
use serde::Deserialize;
use serde_json::{Value, json};

#[derive(Debug, Deserialize)]
struct Kept {
    parent: Option<Id>,
    text: String,
    #[serde(default)]
    note: String,
}

#[derive(Debug, Deserialize)]
struct Current {
    version: Id,
}

#[derive(Debug, Deserialize)]
struct Away {
    away: bool,
}

macro_rules! versions {
    (
        $module:ident, $list:literal, $version_list:literal, $head:ident,
        $all:ident, $one:ident, $version:ident, $tree:ident, $keep:ident, $choose:ident, $away:ident
    ) => {
        mod $module {
            use super::*;

            pub(super) fn routes() -> Router<App> {
                Router::new()
                    .route($list, get(all))
                    .route(concat!($list, "/{id}"), get(one))
                    .route(concat!($list, "/{id}/versions/{version}"), put(keep))
                    .route(concat!($list, "/{id}/current"), post(choose))
                    .route(concat!($list, "/{id}/away"), post(put_away))
                    .route(concat!($version_list, "/{id}"), get(version))
            }

            async fn all(State(app): State<App>, Asked(part): Asked<Part>) -> Answer<Response> {
                Ok(Json(app.notebook.$all(part.away, &part.page()).await?).into_response())
            }

            async fn one(State(app): State<App>, Key(id): Key) -> Answer<Json<Value>> {
                let head = app.notebook.$one(id).await?;
                let version = app.notebook.$version(head.current).await?;
                let tree = app.notebook.$tree(id).await?;
                Ok(Json(json!({ stringify!($one): head, "version": version, "tree": tree })))
            }

            async fn version(State(app): State<App>, Key(id): Key) -> Answer<Response> {
                Ok(Json(app.notebook.$version(id).await?).into_response())
            }

            async fn keep(
                State(app): State<App>,
                Path((of, id)): Path<(String, String)>,
                who: Who,
                Given(body): Given<Kept>,
            ) -> Answer<Json<Value>> {
                let Kept { parent, text, note } = body;
                let new = NewVersion { id: key(&id)?, of: key(&of)?, parent, text, note };
                // another device may have kept one meanwhile: both stay, and who wrote is told
                let current = app.notebook.$one(new.of).await.ok().map(|head| head.current);
                let beside = current.filter(|c| *c != new.id && Some(*c) != new.parent);
                match app.notebook.$keep(&new, who.by()).await {
                    Err(notebook::Error::Text { what, problems }) => {
                        Err(Problem::mistakes(what, &new.text, &problems))
                    }
                    done => {
                        let Json(mut told) = kept(&app, done)?;
                        told["beside"] = json!(beside);
                        Ok(Json(told))
                    }
                }
            }

            async fn choose(
                State(app): State<App>,
                Key(_): Key,
                who: Who,
                Given(c): Given<Current>,
            ) -> Answer<Json<Value>> {
                kept(&app, app.notebook.$choose(c.version, who.by()).await)
            }

            async fn put_away(
                State(app): State<App>,
                Key(id): Key,
                who: Who,
                Given(a): Given<Away>,
            ) -> Answer<Json<Value>> {
                kept(&app, app.notebook.$away(id, a.away, who.by()).await)
            }
        }
    };
}
versions!(
    recipes,
    "/recipes",
    "/recipe-versions",
    recipe,
    recipes,
    recipe,
    recipe_version,
    recipe_versions,
    keep_recipe,
    use_recipe_version,
    put_recipe_away
);
versions!(
    kitchens,
    "/kitchens",
    "/kitchen-versions",
    kitchen,
    kitchens,
    kitchen,
    kitchen_version,
    kitchen_versions,
    keep_kitchen,
    use_kitchen_version,
    put_kitchen_away
);

pub(super) fn routes() -> Router<App> {
    recipes::routes().merge(kitchens::routes())
}
