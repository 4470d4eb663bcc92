//! Live events: what changed, how far long work is.

use super::Asked;
use crate::App;
use crate::live::Heard;
use axum::extract::State;
use axum::response::sse::{Event, KeepAlive, Sse};
use futures_core::Stream;
use serde::Deserialize;
use serde_json::json;
use std::convert::Infallible;
use std::time::Duration;
use tokio::sync::broadcast::error::RecvError;

/// How often a notebook others write to is looked at.
const LOOK: Duration = Duration::from_millis(500);

#[derive(Debug, Deserialize)]
pub(super) struct Since {
    since: Option<i64>,
}

pub(super) async fn events(
    State(app): State<App>,
    Asked(q): Asked<Since>,
) -> Sse<impl Stream<Item = Result<Event, Infallible>>> {
    let mut heard = app.live.listen();
    let stream = async_stream::stream! {
        let mut last = match q.since {
            Some(since) => since,
            None => app.notebook.revision().await.unwrap_or(0),
        };
        let mut look = true; // what happened before it listened
        loop {
            if look && let Ok(since) = app.notebook.since(last).await && since.revision != last {
                last = since.revision;
                let told = Event::default().event("changed").id(last.to_string());
                if let Ok(event) = told.json_data(&since) {
                    yield Ok(event);
                }
            }
            let next = heard.recv();
            let next = if app.live.shared {
                tokio::time::timeout(LOOK, next).await.unwrap_or(Ok(Heard::Changed))
            } else {
                next.await
            };
            look = matches!(next, Ok(Heard::Changed) | Err(RecvError::Lagged(_)));
            match next {
                Ok(Heard::Progress { key, share }) => {
                    let data = json!({ "key": key, "share": share });
                    if let Ok(event) = Event::default().event("progress").json_data(data) {
                        yield Ok(event);
                    }
                }
                Ok(Heard::Closing) | Err(RecvError::Closed) => break,
                Ok(Heard::Changed) | Err(RecvError::Lagged(_)) => {}
            }
        }
    };
    Sse::new(stream).keep_alive(KeepAlive::default())
}
