//! News that the desk sends to its pages as they happen.

use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::sse::{Event, KeepAlive, Sse};
use futures_util::Stream;
use futures_util::stream::unfold;
use serde::Serialize;
use tokio::sync::broadcast::error::RecvError;
use tokio::sync::{broadcast, watch};

use crate::web::server::Service;

/// How often a page hears that the desk is still there.
const PULSE: Duration = Duration::from_secs(10);

/// Pages that listen at once at most.
const MOST_LINES: usize = 400;

/// Something that pages should know.
#[derive(Debug, Clone, Serialize)]
#[serde(tag = "news", rename_all = "kebab-case")]
pub(crate) enum News {
    /// The folder has been read anew.
    Edition {
        /// Its number.
        number: u64,
    },
    /// How far the review of an edition is.
    Reviewing {
        /// The edition.
        number: u64,
        /// Share of the work that is done.
        done: f64,
    },
    /// How far work in the background is.
    Work {
        /// Its number.
        id: u64,
        /// Share of it that is done.
        done: f64,
    },
    /// Work in the background stands otherwise: it waits, runs, was stopped or is done.
    Worked {
        /// Its number.
        id: u64,
    },
    /// The review of an edition is there.
    Reviewed {
        /// The edition.
        number: u64,
    },
}

struct Line {
    news: broadcast::Receiver<News>,
    closing: watch::Receiver<bool>,
    first: Vec<News>,
}

/// The stream of news: where things stand at first, then what happens.
///
/// # Errors
/// More pages listen than anybody can look at.
pub(crate) async fn stream(
    State(service): State<Arc<Service>>,
) -> Result<Sse<impl Stream<Item = Result<Event, Infallible>>>, StatusCode> {
    if MOST_LINES <= service.desk.listeners() {
        return Err(StatusCode::SERVICE_UNAVAILABLE);
    }
    let news = service.desk.listen();
    let now = service.desk.now();
    let number = now.number;
    let done = now
        .sound
        .as_ref()
        .is_some_and(|s| s.number == number && s.reviewed.get().is_some());
    let mut first = vec![News::Edition { number }];
    if done {
        first.insert(0, News::Reviewed { number });
    }
    let line = Line {
        news,
        closing: service.closing.clone(),
        first,
    };
    let events = unfold(line, |mut line| async move {
        let news = next(&mut line).await?;
        let event = Event::default().json_data(&news).unwrap_or_default();
        Some((Ok(event), line))
    });
    Ok(Sse::new(events).keep_alive(KeepAlive::new().interval(PULSE)))
}

/// The next news; none once the desk closes.
async fn next(line: &mut Line) -> Option<News> {
    if let Some(first) = line.first.pop() {
        return Some(first);
    }
    if *line.closing.borrow() {
        return None;
    }
    loop {
        tokio::select! {
            heard = line.news.recv() => match heard {
                Ok(news) => return Some(news),
                // What was missed is made good by the next edition or the next progress.
                Err(RecvError::Lagged(_)) => {}
                Err(RecvError::Closed) => return None,
            },
            _ = line.closing.changed() => return None,
        }
    }
}
