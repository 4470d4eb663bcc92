//! Who may ask: this machine, and devices of the house that were paired.
//!
//! The `Host` of a request must be an address or this machine's own name, so that a page from
//! elsewhere cannot reach the notebook by a name that points here. What writes must come from our
//! own pages (`Origin`). Other devices need the session they got by pairing; a pairing token works
//! once, and for ten minutes.

use crate::problem::{self, Problem};
use crate::{App, is_this_machine, now, random};
use axum::Router;
use axum::extract::{ConnectInfo, Path, Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode, Uri, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use notebook::{Hash, Moment};
use std::collections::BTreeSet;
use std::io::Write as _;
use std::net::{IpAddr, SocketAddr, UdpSocket};
use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};

/// How long a pairing token works, ms.
const TOKEN_LIVES: i64 = 600_000;
/// How long a paired device stays paired, seconds.
const PAIRED_FOR: u32 = 400 * 86_400;
const COOKIE: &str = "grigne";

/// What pages may do: nothing but our own, the engine among it.
const POLICY: &str = "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; \
    style-src 'self'; img-src 'self' blob: data:; font-src 'self'; connect-src 'self'; \
    worker-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'self'; \
    frame-ancestors 'none'";

/// Keeps the door.
#[derive(Debug)]
pub(crate) struct Guard {
    /// Hashes of the sessions of paired devices, and the file they stand in; none when only this
    /// machine is served.
    paired: Option<(PathBuf, Mutex<BTreeSet<String>>)>,
    /// The token that still works.
    token: Mutex<Option<(String, Moment)>>,
}

/// A way for another device to pair.
#[derive(Debug, Clone)]
pub struct Pairing {
    /// Address to open there; works once, for ten minutes.
    pub address: String,
    /// The same as a square of light and dark characters.
    pub picture: String,
    /// And as SVG.
    pub svg: String,
}

impl Guard {
    pub(crate) fn new(file: Option<PathBuf>) -> std::io::Result<Self> {
        let paired = match file {
            None => None,
            Some(file) => {
                let text = match std::fs::read_to_string(&file) {
                    Ok(text) => text,
                    Err(e) if e.kind() == std::io::ErrorKind::NotFound => String::new(),
                    Err(e) => return Err(e),
                };
                Some((file, Mutex::new(text.lines().map(str::to_owned).collect())))
            }
        };
        Ok(Self { paired, token: Mutex::new(None) })
    }

    /// A new token; the one before works no more.
    pub(crate) fn pairing(&self, port: u16) -> std::io::Result<Option<Pairing>> {
        if self.paired.is_none() {
            return Ok(None);
        }
        let token = format!("{:032x}", random()?);
        *self.token.lock().unwrap_or_else(PoisonError::into_inner) = Some((token.clone(), now()));
        let address = format!("http://{}:{port}/pair/{token}", house_address()?);
        let code = qrcode::QrCode::new(address.as_bytes()).map_err(std::io::Error::other)?;
        let picture = code.render::<qrcode::render::unicode::Dense1x2>().build();
        let svg = code.render::<qrcode::render::svg::Color<'_>>().min_dimensions(240, 240).build();
        Ok(Some(Pairing { address, picture, svg }))
    }

    /// Uses a token up; gives the session.
    fn pair(&self, given: &str) -> Result<String, Problem> {
        let mut token = self.token.lock().unwrap_or_else(PoisonError::into_inner);
        let good =
            token.as_ref().is_some_and(|(t, at)| same(t, given) && now().0 - at.0 < TOKEN_LIVES);
        let (Some((file, paired)), true) = (&self.paired, good) else {
            let refused = Problem::new(
                StatusCode::FORBIDDEN,
                "This pairing code works no more",
                "a code works once, and for ten minutes",
            );
            return Err(refused.hint("show a new one on the computer: Settings, Pair a device"));
        };
        *token = None;
        let session = format!("{:032x}{:032x}", random()?, random()?);
        let hash = Hash::of(session.as_bytes()).to_string();
        let mut line = std::fs::OpenOptions::new().create(true).append(true).open(file)?;
        writeln!(line, "{hash}")?;
        paired.lock().unwrap_or_else(PoisonError::into_inner).insert(hash);
        Ok(session)
    }

    fn knows(&self, headers: &HeaderMap) -> bool {
        let Some((_, paired)) = &self.paired else { return false };
        let cookies = headers.get_all(header::COOKIE).iter().filter_map(|c| c.to_str().ok());
        let mut pairs = cookies.flat_map(|c| c.split(';')).filter_map(|c| c.trim().split_once('='));
        pairs.any(|(name, session)| {
            let hash = Hash::of(session.as_bytes()).to_string();
            name == COOKIE && paired.lock().unwrap_or_else(PoisonError::into_inner).contains(&hash)
        })
    }

    /// Whether a request may pass.
    fn judge(&self, from: IpAddr, request: &Request) -> Result<(), Problem> {
        let headers = request.headers();
        let host = headers.get(header::HOST).and_then(|h| h.to_str().ok()).unwrap_or_default();
        if !is_ours(host) {
            let refused = Problem::new(
                StatusCode::MISDIRECTED_REQUEST,
                "Not under this name",
                format!("\"{host}\" is not how this workbench is reached"),
            );
            return Err(refused.hint("open it as the terminal says, by its address"));
        }
        let writes = !matches!(*request.method(), Method::GET | Method::HEAD);
        let origin = headers.get(header::ORIGIN).and_then(|o| o.to_str().ok());
        let foreign = origin.is_some_and(|o| o != format!("http://{host}"));
        if writes && foreign {
            return Err(Problem::new(
                StatusCode::FORBIDDEN,
                "Not from this page",
                "a page of another site asked to change the notebook",
            ));
        }
        let pairs = request.uri().path().starts_with("/pair/");
        if is_this_machine(from) || pairs || self.knows(headers) {
            return Ok(());
        }
        let refused =
            Problem::new(StatusCode::UNAUTHORIZED, "Not paired", "this device is not paired yet");
        Err(refused.hint("scan the code the computer shows: Settings, Pair a device"))
    }
}

/// Whether two secrets are the same, in a time that does not tell how far they agree.
fn same(a: &str, b: &str) -> bool {
    a.len() == b.len() && a.bytes().zip(b.bytes()).fold(0, |x, (a, b)| x | (a ^ b)) == 0
}

/// Whether a `Host` can be meant for us: an address, or this machine by its own name.
fn is_ours(host: &str) -> bool {
    let Ok(uri) = format!("http://{host}/").parse::<Uri>() else { return false };
    let name = uri.host().unwrap_or_default();
    let bare = name.trim_start_matches('[').trim_end_matches(']');
    bare.parse::<IpAddr>().is_ok() || name == "localhost"
}

/// The address of this machine in the house. No packet is sent.
fn house_address() -> std::io::Result<IpAddr> {
    let socket = UdpSocket::bind("0.0.0.0:0")?;
    socket.connect("192.0.2.1:9")?; // an address of documentation: only the way out is asked
    Ok(socket.local_addr()?.ip())
}

/// Lets a request pass or says why not, and says what its pages may do.
pub(crate) async fn admit(
    State(guard): State<Arc<Guard>>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    request: Request,
    next: Next,
) -> Response {
    let opened = problem::opened(request.method(), request.headers());
    let mut answer = match guard.judge(from.ip(), &request) {
        Ok(()) => next.run(request).await,
        Err(refused) if opened => refused.page(),
        Err(refused) => refused.into_response(),
    };
    let headers = answer.headers_mut();
    for (name, value) in [
        (header::CONTENT_SECURITY_POLICY, POLICY),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "no-referrer"),
        (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
        (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    answer
}

pub(crate) fn routes() -> Router<App> {
    Router::new().route("/pair/{token}", get(pair))
}

async fn pair(
    State(app): State<App>,
    Path(token): Path<String>,
    method: Method,
    headers: HeaderMap,
) -> Result<Response, Problem> {
    let session = match app.guard.pair(&token) {
        Ok(session) => session,
        Err(refused) if problem::opened(&method, &headers) => return Ok(refused.page()),
        Err(refused) => return Err(refused),
    };
    let cookie =
        format!("{COOKIE}={session}; Path=/; Max-Age={PAIRED_FOR}; HttpOnly; SameSite=Strict");
    // not a redirect: a strict cookie is not sent on one that another page began
    let page = "<!doctype html><meta charset=utf-8><meta http-equiv=refresh content=\"0;url=/\">\
        <title>Paired</title><p>Paired. <a href=\"/\">Open the workbench</a>";
    let headers = [(header::SET_COOKIE, cookie), (header::CONTENT_TYPE, "text/html".to_owned())];
    Ok((headers, page).into_response())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_addresses_and_this_machine_are_ours() {
        for host in ["127.0.0.1:8080", "localhost:1", "[::1]:80", "192.168.0.4:9000", "localhost"] {
            assert!(is_ours(host), "{host}");
        }
        for host in ["evil.example", "evil.example:80", "127.0.0.1.evil.example", "", "a b", "@"] {
            assert!(!is_ours(host), "{host}");
        }
    }

    #[test]
    fn a_code_works_once() {
        let dir = tempfile::tempdir().unwrap();
        let guard = Guard::new(Some(dir.path().join("paired"))).unwrap();
        let token = "0123";
        *guard.token.lock().unwrap() = Some((token.into(), now()));
        assert!(guard.pair("0124").is_err());
        let session = guard.pair(token).unwrap();
        assert!(guard.pair(token).is_err());
        let mut headers = HeaderMap::new();
        let cookie = format!("other=1; {COOKIE}={session}");
        headers.insert(header::COOKIE, cookie.parse().unwrap());
        assert!(guard.knows(&headers));
        // known again after a restart; what is kept does not open the door
        let again = Guard::new(Some(dir.path().join("paired"))).unwrap();
        assert!(again.knows(&headers));
        let kept = std::fs::read_to_string(dir.path().join("paired")).unwrap();
        assert!(!kept.contains(&session));
        // too old
        let old = Moment(now().0 - TOKEN_LIVES);
        *again.token.lock().unwrap() = Some((token.into(), old));
        assert!(again.pair(token).is_err());
    }
}
