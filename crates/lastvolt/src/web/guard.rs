//! Who may ask what: every request passes here before anything else looks at it.
//!
//! The desk answers pages of its own address only. A page of another site can make a browser send
//! requests here, or let its own name point here; so the names under which the desk was asked and from
//! which page are checked, and whatever writes shows a word that only the desk's own pages know.

use std::net::SocketAddr;
use std::sync::{Arc, Mutex};
use std::time::Instant;

use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::header::{self, HeaderName, HeaderValue};
use axum::http::{HeaderMap, Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use crate::cli::load::sha256;
use crate::web::server::Service;

/// Header that carries the token.
pub(crate) const TOKEN: &str = "x-lastvolt-token";
/// Longest address of a request, in bytes.
const LONGEST_ADDRESS: usize = 8 << 10;
/// Largest body of a request, in bytes: a whole file fits.
pub(crate) const LARGEST_BODY: usize = 1 << 20;
/// Requests answered a second for long, and at once: far more than people and their pages send.
const RATE: f64 = 2000.0;

/// What pages may do: load from here, and nothing else.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; \
    connect-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'";

/// How many requests are still free.
#[derive(Debug)]
pub(crate) struct Rate {
    left: Mutex<(f64, Instant)>,
}

impl Rate {
    /// All are free.
    pub(crate) fn new() -> Self {
        Self {
            left: Mutex::new((RATE, Instant::now())),
        }
    }

    /// Takes one; none may be left.
    fn take(&self) -> bool {
        let Ok(mut left) = self.left.lock() else {
            return false;
        };
        let now = Instant::now();
        let grown = left.0 + RATE * (now - left.1).as_secs_f64();
        *left = (grown.min(RATE), now);
        if left.0 < 1.0 {
            return false;
        }
        left.0 -= 1.0;
        true
    }
}

/// Under which names the desk is asked, and whether readers need the token too.
#[derive(Debug)]
pub(crate) struct Door {
    hosts: Vec<String>,
    /// Bound beyond this machine: reading needs the token as well.
    pub(crate) is_open: bool,
    cookie: String,
}

impl Door {
    /// The door of an address.
    pub(crate) fn new(address: SocketAddr) -> Self {
        let port = address.port();
        let is_open = !address.ip().is_loopback();
        let mut hosts = vec![address.to_string()];
        if !is_open {
            hosts.extend(["127.0.0.1", "localhost", "[::1]"].map(|name| format!("{name}:{port}")));
        }
        // A browser leaves the port of the protocol out.
        if port == 80 {
            let bare = hosts.iter().filter_map(|h| h.strip_suffix(":80"));
            let bare: Vec<String> = bare.map(str::to_owned).collect();
            hosts.extend(bare);
        }
        Self {
            hosts,
            is_open,
            cookie: format!("lastvolt-desk-{port}"),
        }
    }

    fn knows(&self, host: &str) -> bool {
        self.hosts.iter().any(|h| h.eq_ignore_ascii_case(host))
            // Bound to all addresses, the desk cannot know its names; the token guards it.
            || self.is_open && self.hosts.iter().any(|h| h.starts_with("0.0.0.0:") || h.starts_with("[::]:"))
    }

    /// Whether a page of this origin is one of ours, asked as `host`.
    fn is_own(&self, origin: &str, host: &str) -> bool {
        origin
            .strip_prefix("http://")
            .is_some_and(|from| from.eq_ignore_ascii_case(host) && self.knows(from))
    }
}

/// Lets a request pass, or says why not.
pub(crate) async fn guard(
    State(service): State<Arc<Service>>,
    request: Request,
    next: Next,
) -> Response {
    let mut response = match check(&service, &request) {
        Ok(()) => next.run(request).await,
        Err(Refusal::Says(status, why)) => (status, why).into_response(),
        Err(Refusal::Enter(to, cookie)) => {
            let heads = [(header::LOCATION, to), (header::SET_COOKIE, cookie)];
            (StatusCode::SEE_OTHER, heads).into_response()
        }
    };
    harden(response.headers_mut());
    response
}

enum Refusal {
    Says(StatusCode, &'static str),
    /// The token stood in the address: on to the same without it.
    Enter(String, String),
}

fn refuse(status: StatusCode, why: &'static str) -> Result<(), Refusal> {
    Err(Refusal::Says(status, why))
}

fn check(service: &Service, request: &Request<Body>) -> Result<(), Refusal> {
    if !service.rate.take() {
        return refuse(
            StatusCode::TOO_MANY_REQUESTS,
            "too many requests: wait a moment\n",
        );
    }
    let address = request.uri().path_and_query().map_or("", |p| p.as_str());
    if LONGEST_ADDRESS < address.len() {
        return refuse(StatusCode::URI_TOO_LONG, "the address is too long\n");
    }
    let heads = request.headers();
    let mut hosts = heads.get_all(header::HOST).iter();
    let host = hosts.next().and_then(|h| h.to_str().ok());
    let host = match (host, hosts.next()) {
        (Some(host), None) if service.door.knows(host) => host,
        _ => {
            return refuse(
                StatusCode::MISDIRECTED_REQUEST,
                "this desk is not known under that name\n",
            );
        }
    };
    // An address may name a host by itself, as it does on the way to a proxy.
    if request
        .uri()
        .authority()
        .is_some_and(|name| !service.door.knows(name.as_str()))
    {
        return refuse(
            StatusCode::MISDIRECTED_REQUEST,
            "this desk is not known under that name\n",
        );
    }
    if let Some(origin) = heads.get(header::ORIGIN)
        && !origin
            .to_str()
            .is_ok_and(|origin| service.door.is_own(origin, host))
    {
        return refuse(
            StatusCode::FORBIDDEN,
            "pages of other sites are not answered\n",
        );
    }
    if is_foreign(heads, request.method()) {
        return refuse(
            StatusCode::FORBIDDEN,
            "pages of other sites are not answered\n",
        );
    }
    match *request.method() {
        Method::GET | Method::HEAD => reading(service, request),
        Method::POST => writing(service, heads),
        _ => refuse(
            StatusCode::METHOD_NOT_ALLOWED,
            "a page is read or written, nothing else\n",
        ),
    }
}

/// Whether the browser says that another site asks; following a link to here is fine.
fn is_foreign(heads: &HeaderMap, method: &Method) -> bool {
    let word = |name: &str| heads.get(name).and_then(|v| v.to_str().ok());
    let followed = word("sec-fetch-mode") == Some("navigate")
        && word("sec-fetch-dest") == Some("document")
        && method == Method::GET;
    match word("sec-fetch-site") {
        None | Some("same-origin" | "none") => false,
        Some(_) => !followed,
    }
}

/// The word for reading. It follows from the token and does not lead back to it: a cookie goes to every
/// server of the same name, and must not let those write.
pub(crate) fn reading_word(token: &str) -> String {
    const LENGTH: usize = 48;
    let mut word = sha256(&format!("reading {token}"));
    word.truncate(LENGTH);
    word
}

/// Reading is free on this machine; beyond it, it needs the token, once in the address and then in a cookie.
fn reading(service: &Service, request: &Request<Body>) -> Result<(), Refusal> {
    if !service.door.is_open {
        return Ok(());
    }
    let token = &reading_word(&service.desk.token);
    let cookies = request.headers().get_all(header::COOKIE).iter();
    let mut cookies = cookies
        .filter_map(|c| c.to_str().ok())
        .flat_map(|c| c.split(';'));
    let wanted = format!("{}=", service.door.cookie);
    let shown = |cookie: &str| {
        let word = cookie.trim().strip_prefix(wanted.as_str());
        word.is_some_and(|w| is_equal(w, token))
    };
    if cookies.any(shown) {
        return Ok(());
    }
    let query = request.uri().query().unwrap_or_default();
    let pairs = query.split('&').filter_map(|p| p.split_once('='));
    if pairs
        .filter(|p| p.0 == "token")
        .any(|p| is_equal(p.1, token))
    {
        let kept: Vec<&str> = query
            .split('&')
            .filter(|p| !p.starts_with("token="))
            .collect();
        // One slash at the front: an address of two would lead to another machine, and browsers take a
        // backslash for a slash.
        let path = request.uri().path().trim_start_matches(['/', '\\']);
        let sign = if kept.is_empty() { "" } else { "?" };
        let to = format!("/{path}{sign}{}", kept.join("&"));
        let cookie = format!("{wanted}{token}; HttpOnly; SameSite=Lax; Path=/");
        return Err(Refusal::Enter(to, cookie));
    }
    refuse(
        StatusCode::UNAUTHORIZED,
        "this desk is open beyond its machine: use the address with the token that it printed\n",
    )
}

/// Writing needs the token and JSON, which no page of another site can send unasked.
fn writing(service: &Service, heads: &HeaderMap) -> Result<(), Refusal> {
    let token = heads.get(TOKEN).and_then(|t| t.to_str().ok());
    if !token.is_some_and(|t| is_equal(t, &service.desk.token)) {
        return refuse(
            StatusCode::FORBIDDEN,
            "writing needs the token of the page\n",
        );
    }
    let kind = heads
        .get(header::CONTENT_TYPE)
        .and_then(|k| k.to_str().ok());
    let kind = kind.and_then(|k| k.split(';').next()).map(str::trim);
    if kind.is_none_or(|k| !k.eq_ignore_ascii_case("application/json")) {
        return refuse(StatusCode::UNSUPPORTED_MEDIA_TYPE, "writing takes JSON\n");
    }
    let length = heads
        .get(header::CONTENT_LENGTH)
        .and_then(|l| l.to_str().ok());
    if length
        .and_then(|l| l.parse().ok())
        .is_some_and(|l: usize| LARGEST_BODY < l)
    {
        return refuse(StatusCode::PAYLOAD_TOO_LARGE, "that is too much at once\n");
    }
    Ok(())
}

/// Compares in a time that tells nothing about where two words differ.
fn is_equal(a: &str, b: &str) -> bool {
    let differing = a
        .bytes()
        .zip(b.bytes())
        .fold(0, |sum, (a, b)| sum | (a ^ b));
    a.len() == b.len() && differing == 0
}

fn harden(heads: &mut HeaderMap) {
    let fixed = [
        (header::CONTENT_SECURITY_POLICY, POLICY),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::X_FRAME_OPTIONS, "DENY"),
        (header::REFERRER_POLICY, "no-referrer"),
        (header::CACHE_CONTROL, "no-store"),
        (
            HeaderName::from_static("cross-origin-opener-policy"),
            "same-origin",
        ),
        (
            HeaderName::from_static("cross-origin-resource-policy"),
            "same-origin",
        ),
    ];
    for (name, value) in fixed {
        heads.insert(name, HeaderValue::from_static(value));
    }
}
