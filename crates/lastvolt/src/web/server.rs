//! Serves the desk: binds an address of this machine, routes requests, ends cleanly.

use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use axum::extract::{DefaultBodyLimit, Path as Part, Query, Request, State};
use axum::http::{StatusCode, Uri};
use axum::middleware::from_fn_with_state;
use axum::response::{Html, IntoResponse, Response};
use axum::routing::{get, post};
use axum::{Json, Router};
use lastvolt_core::circuit::Circuit;
use tokio::net::TcpListener;
use tokio::sync::watch;

use crate::failure::Failure;
use crate::output::{message, plain};
use crate::web::assets::asset;
use crate::web::desk::{Desk, Sound};
use crate::web::edit::{self, Edits};
use crate::web::guard::{Door, LARGEST_BODY, Rate, guard, reading_word};
use crate::web::setting::Setting;
use crate::web::{burst, curve, jobs, live, news, page, watch as files};

/// Ports that are tried after one that is taken.
const NEXT_PORTS: u16 = 40;
/// How long open answers may take once the desk is told to end.
const LAST_WORDS: Duration = Duration::from_millis(1500);
/// Threads that compute at most; each answer takes a few milliseconds.
const COMPUTING: usize = 16;

/// What every request finds.
pub(crate) struct Service {
    /// The family.
    pub(crate) desk: Arc<Desk>,
    /// Who may ask.
    pub(crate) door: Door,
    /// How often.
    pub(crate) rate: Rate,
    /// What was saved from pages.
    pub(crate) edits: Edits,
    /// Turns true when the desk ends.
    pub(crate) closing: watch::Receiver<bool>,
}

/// How to serve.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Options {
    /// Address to bind.
    pub(crate) address: IpAddr,
    /// Port to begin with.
    pub(crate) port: u16,
    /// Whether to open the browser.
    pub(crate) open: bool,
}

/// Serves a folder until it is told to end.
///
/// # Errors
/// The folder cannot be opened; no port is free.
pub(crate) fn serve(dir: &Path, options: Options) -> Result<(), Failure> {
    let desk = Desk::open(dir, token()?)?;
    files::watch(&desk);
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .max_blocking_threads(COMPUTING)
        .enable_all()
        .build()
        .map_err(|error| Failure::Fault(format!("no threads to serve with: {error}")))?;
    let served = runtime.block_on(run(desk, options));
    // What still computes is of no use to anybody.
    runtime.shutdown_background();
    served
}

/// A word that nobody can guess.
fn token() -> Result<String, Failure> {
    let mut bytes = [0u8; 24];
    getrandom::fill(&mut bytes)
        .map_err(|error| Failure::Fault(format!("no random bytes for the token: {error}")))?;
    Ok(bytes.iter().map(|b| format!("{b:02x}")).collect())
}

async fn run(desk: Arc<Desk>, options: Options) -> Result<(), Failure> {
    let listener = bind(options).await?;
    let address = listener
        .local_addr()
        .map_err(|error| Failure::Fault(error.to_string()))?;
    let (close, closing) = watch::channel(false);
    let door = Door::new(address);
    let link = link(&door, address, &reading_word(&desk.token));
    let service = Arc::new(Service {
        desk,
        door,
        rate: Rate::new(),
        edits: Edits::default(),
        closing: closing.clone(),
    });
    say(&service, &link, options, address);
    let mut ended = closing;
    let server = axum::serve(listener, router(service)).with_graceful_shutdown(async move {
        // A sender that is gone means the end as well.
        let _ = ended.wait_for(|ended| *ended).await;
    });
    let serving = tokio::spawn(async move { server.await });
    told_to_end().await;
    let _ = close.send(true);
    // Connections that are kept open end with the program.
    let _ = tokio::time::timeout(LAST_WORDS, serving).await;
    message("the desk is closed; everything is in the files");
    Ok(())
}

/// Waits for Ctrl-C, or for the word of the system to end.
async fn told_to_end() {
    let pressed = tokio::signal::ctrl_c();
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        if let Ok(mut end) = signal(SignalKind::terminate()) {
            tokio::select! { _ = pressed => {}, _ = end.recv() => {} }
            return;
        }
    }
    let _ = pressed.await;
}

/// The first free port from the asked one on.
async fn bind(options: Options) -> Result<TcpListener, Failure> {
    let mut last = None;
    let to = if options.port == 0 {
        0
    } else {
        options.port.saturating_add(NEXT_PORTS)
    };
    for port in options.port..=to {
        match TcpListener::bind(SocketAddr::new(options.address, port)).await {
            Ok(listener) => return Ok(listener),
            Err(error) => {
                let taken = error.kind() == std::io::ErrorKind::AddrInUse;
                last = Some(error);
                if !taken {
                    break;
                }
            }
        }
    }
    let why = last.map_or_else(String::new, |error| plain(&error));
    let says = format!(
        "the desk cannot be opened at {} port {}: {why}",
        options.address, options.port
    );
    let proposal = "choose another port with `--port`, or 0 for any that is free".to_owned();
    Err(Failure::of_option("no-port", says, Some(proposal)))
}

/// The address for a browser, with the token where reading needs it.
fn link(door: &Door, address: SocketAddr, token: &str) -> String {
    let host = match address.ip() {
        IpAddr::V4(ip) if ip.is_unspecified() => {
            SocketAddr::new(IpAddr::V4(Ipv4Addr::LOCALHOST), address.port())
        }
        IpAddr::V6(ip) if ip.is_unspecified() => {
            SocketAddr::new(IpAddr::V6(Ipv6Addr::LOCALHOST), address.port())
        }
        _ => address,
    };
    if door.is_open {
        format!("http://{host}/?token={token}")
    } else {
        format!("http://{host}/")
    }
}

fn say(service: &Service, link: &str, options: Options, address: SocketAddr) {
    let now = service.desk.now();
    if options.port != 0 && address.port() != options.port {
        message(&format!("port {} is taken", options.port));
    }
    if service.door.is_open {
        message(
            "this desk is open beyond its machine: whoever has the address below can read and change the family; it is not encrypted",
        );
    }
    if now.broken.is_some() {
        message("the files cannot be read as they are; the desk shows what is wrong");
    }
    message(&format!("the desk is at {link}\nCtrl-C ends it"));
    if options.open {
        open(link);
    }
}

/// Shows an address in the browser of the user; without one the printed address remains.
fn open(link: &str) {
    use std::process::{Command, Stdio};
    let program: &[&str] = if cfg!(target_os = "macos") {
        &["open"]
    } else if cfg!(windows) {
        &["rundll32", "url.dll,FileProtocolHandler"]
    } else {
        &["xdg-open"]
    };
    let Some((name, first)) = program.split_first() else {
        return;
    };
    let mut command = Command::new(name);
    command.args(first).arg(link);
    command
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null());
    match command.spawn() {
        Ok(mut child) => {
            // Whoever starts a program has to hear of its end.
            std::thread::spawn(move || child.wait());
        }
        Err(_) => message("no browser could be opened: open the address yourself"),
    }
}

/// Every address of the desk.
pub(super) fn router(service: Arc<Service>) -> Router {
    Router::new()
        .route("/", get(family))
        .route("/board/{boards}", get(board))
        .route("/stack/{boards}", get(board))
        .route("/live/board/{boards}", get(live_answer))
        .route("/live/stack/{boards}", get(live_answer))
        .route("/curve/board/{boards}", get(curve_answer))
        .route("/curve/stack/{boards}", get(curve_answer))
        .route("/drawing/board/{boards}", get(drawing_answer))
        .route("/drawing/stack/{boards}", get(drawing_answer))
        .route("/panel/board/{boards}", get(panel_answer))
        .route("/panel/stack/{boards}", get(panel_answer))
        .route("/burst/board/{boards}", get(burst_answer))
        .route("/burst/stack/{boards}", get(burst_answer))
        .route("/burst/at/board/{boards}", get(burst_at))
        .route("/burst/at/stack/{boards}", get(burst_at))
        .route("/jobs", get(jobs::family_answer))
        .route("/jobs/board/{boards}", get(jobs::answer))
        .route("/jobs/stack/{boards}", get(jobs::answer))
        .route("/jobs/start", post(jobs::start))
        .route("/jobs/stop", post(jobs::stop))
        .route("/news", get(news::stream))
        .route(
            "/assets/{name}",
            get(|Part(name): Part<String>| async move { asset(&name) }),
        )
        .merge(edit::routes())
        .fallback(missing)
        .layer(DefaultBodyLimit::max(LARGEST_BODY))
        .layer(from_fn_with_state(Arc::clone(&service), guard))
        .with_state(service)
}

/// Pairs of a query, in their order.
pub(crate) type Pairs = Vec<(String, String)>;

async fn missing(State(service): State<Arc<Service>>, request: Request) -> Response {
    let path = request.uri().path().to_owned();
    computed(move || (StatusCode::NOT_FOUND, Html(page::missing(&service, &path))).into_response())
        .await
}

async fn family(State(service): State<Arc<Service>>) -> Response {
    computed(move || Html(page::family(&service)).into_response()).await
}

async fn board(
    State(service): State<Arc<Service>>,
    uri: Uri,
    Query(pairs): Query<Pairs>,
) -> Response {
    computed(move || {
        let now = service.desk.now();
        let Some(sound) = &now.sound else {
            return Html(page::family(&service)).into_response();
        };
        match asked(sound, &uri, &pairs) {
            Ok(asked) => Html(page::bench(&service, &now, &asked)).into_response(),
            Err(status) => (status, Html(page::missing(&service, uri.path()))).into_response(),
        }
    })
    .await
}

async fn live_answer(
    State(service): State<Arc<Service>>,
    uri: Uri,
    Query(pairs): Query<Pairs>,
) -> Response {
    answered(service, uri, pairs, |_, asked| {
        Json(live::answer(asked)).into_response()
    })
    .await
}

async fn curve_answer(
    State(service): State<Arc<Service>>,
    uri: Uri,
    Query(pairs): Query<Pairs>,
) -> Response {
    answered(service, uri, pairs, |_, asked| {
        Html(curve::curve_figure(asked, curve::LONG).into_string()).into_response()
    })
    .await
}

async fn drawing_answer(
    State(service): State<Arc<Service>>,
    uri: Uri,
    Query(pairs): Query<Pairs>,
) -> Response {
    answered(service, uri, pairs, |_, asked| {
        Html(page::drawing(asked).into_string()).into_response()
    })
    .await
}

async fn panel_answer(
    State(service): State<Arc<Service>>,
    uri: Uri,
    Query(pairs): Query<Pairs>,
) -> Response {
    answered(service, uri, pairs, |service, asked| {
        Html(page::panel(service, asked).into_string()).into_response()
    })
    .await
}

async fn burst_answer(
    State(service): State<Arc<Service>>,
    uri: Uri,
    Query(pairs): Query<Pairs>,
) -> Response {
    answered(service, uri, pairs, |_, asked| {
        Html(burst::inside(asked).into_string()).into_response()
    })
    .await
}

/// What stands at a share of the waveform that is shown, `at` in the query.
async fn burst_at(
    State(service): State<Arc<Service>>,
    uri: Uri,
    Query(mut pairs): Query<Pairs>,
) -> Response {
    let share = pairs
        .iter()
        .find(|(key, _)| key == "at")
        .and_then(|(_, share)| share.parse().ok());
    let Some(share) = share.filter(|share: &f64| share.is_finite()) else {
        return StatusCode::BAD_REQUEST.into_response();
    };
    pairs.retain(|(key, _)| key != "at");
    answered(service, uri, pairs, move |_, asked| {
        match burst::at(asked, share) {
            Some(found) => Json(found).into_response(),
            None => StatusCode::NOT_FOUND.into_response(),
        }
    })
    .await
}

/// A question about boards in a setting.
pub(crate) struct Asked<'s> {
    /// The family.
    pub(crate) sound: &'s Arc<Sound>,
    /// The boards, joined.
    pub(crate) circuit: Circuit<'s>,
    /// The setting.
    pub(crate) setting: Setting,
    /// What the link names and the family does not have.
    pub(crate) dropped: Vec<String>,
}

/// Answers a question about boards, or says that there are none such.
pub(crate) async fn answered(
    service: Arc<Service>,
    uri: Uri,
    pairs: Pairs,
    answer: impl FnOnce(&Service, &Asked) -> Response + Send + 'static,
) -> Response {
    computed(move || {
        let now = service.desk.now();
        let Some(sound) = &now.sound else {
            return StatusCode::NOT_FOUND.into_response();
        };
        match asked(sound, &uri, &pairs) {
            Ok(asked) => answer(&service, &asked),
            Err(status) => status.into_response(),
        }
    })
    .await
}

/// Boards and setting of a request.
pub(crate) fn asked<'s>(
    sound: &'s Arc<Sound>,
    uri: &Uri,
    pairs: &Pairs,
) -> Result<Asked<'s>, StatusCode> {
    let names = boards(uri.path());
    let model = &sound.family.model;
    let known = names.iter().all(|name| model.board(name).is_some());
    if !known || names.is_empty() || page::MOST_BOARDS < names.len() {
        return Err(StatusCode::NOT_FOUND);
    }
    let circuit = Circuit::new(model, &names).map_err(|_| StatusCode::NOT_FOUND)?;
    let (setting, dropped) = Setting::read(&circuit, &names, pairs);
    Ok(Asked {
        sound,
        circuit,
        setting,
        dropped,
    })
}

/// Names of the boards at the end of a path, each once.
fn boards(path: &str) -> Vec<String> {
    let last = path.rsplit('/').next().unwrap_or_default();
    let mut out: Vec<String> = Vec::new();
    for name in last.split('+') {
        let name = percent_encoding::percent_decode_str(name)
            .decode_utf8_lossy()
            .into_owned();
        if !name.is_empty() && !out.contains(&name) {
            out.push(name);
        }
    }
    out
}

/// Questions that wait for an answer at most.
const MOST_WAITING: usize = 600;
static WAITING: AtomicUsize = AtomicUsize::new(0);

/// One of the questions that wait.
struct Place;

impl Place {
    /// A place, unless all are taken.
    fn take() -> Option<Self> {
        // Counted first: two that come at once must not both take the last place. One too many is
        // given back as it is dropped.
        let before = WAITING.fetch_add(1, Ordering::Relaxed);
        let place = Self;
        (before < MOST_WAITING).then_some(place)
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        WAITING.fetch_sub(1, Ordering::Relaxed);
    }
}

/// Computes beside the threads that serve; a fault of the program becomes a sentence.
pub(crate) async fn computed(work: impl FnOnce() -> Response + Send + 'static) -> Response {
    let Some(place) = Place::take() else {
        let says = "too many questions at once: ask again in a moment\n";
        return (StatusCode::SERVICE_UNAVAILABLE, says).into_response();
    };
    let worked = tokio::task::spawn_blocking(move || {
        let _place = place;
        work()
    });
    match worked.await {
        Ok(response) => response,
        Err(_) => {
            let says =
                "a fault of the program; nothing was written. Please report what you asked for.\n";
            (StatusCode::INTERNAL_SERVER_ERROR, says).into_response()
        }
    }
}
