//! A client as plain as can be: what is sent and what comes back, byte by byte, so that a test can
//! ask what no well-behaved client would.

use std::io::{self, BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::time::Duration;

/// No answer takes this long on a machine that has other tests to run.
const PATIENCE: Duration = Duration::from_secs(30);

/// What the desk answered.
#[derive(Debug)]
pub(crate) struct Answer {
    /// Status code.
    pub(crate) status: u16,
    /// Header fields, names in lower case.
    pub(crate) heads: Vec<(String, String)>,
    /// The body, chunks joined.
    pub(crate) body: Vec<u8>,
}

impl Answer {
    /// A header field by its name in lower case.
    pub(crate) fn head(&self, name: &str) -> Option<&str> {
        let found = self.heads.iter().find(|(n, _)| n == name);
        found.map(|(_, value)| value.as_str())
    }

    /// The body as text.
    pub(crate) fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }
}

/// A connection that is kept.
pub(crate) struct Line {
    stream: BufReader<TcpStream>,
    host: String,
}

impl Line {
    /// Connects to this machine.
    pub(crate) fn open(port: u16) -> Self {
        let stream = TcpStream::connect(("127.0.0.1", port)).expect("a connection");
        stream.set_read_timeout(Some(PATIENCE)).expect("a deadline");
        stream
            .set_write_timeout(Some(PATIENCE))
            .expect("a deadline");
        stream.set_nodelay(true).expect("no delay");
        Self {
            stream: BufReader::new(stream),
            host: format!("127.0.0.1:{port}"),
        }
    }

    /// Sends bytes; a server that has hung up is an error.
    pub(crate) fn send(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.stream.get_mut().write_all(bytes)
    }

    /// Asks for a page and waits for it.
    pub(crate) fn get(&mut self, path: &str) -> io::Result<Answer> {
        let text = format!("GET {path} HTTP/1.1\r\nHost: {}\r\n\r\n", self.host);
        self.send(text.as_bytes())?;
        self.answer()
    }

    /// One line, without its end; an end of the connection is an error.
    pub(crate) fn line(&mut self) -> io::Result<String> {
        let mut line = String::new();
        if self.stream.read_line(&mut line)? == 0 {
            return Err(io::ErrorKind::UnexpectedEof.into());
        }
        Ok(line.trim_end_matches(['\r', '\n']).to_owned())
    }

    /// Status and header fields of the next answer; its body is still to come.
    pub(crate) fn head(&mut self) -> io::Result<Answer> {
        let first = self.line()?;
        let status = first.split(' ').nth(1).and_then(|s| s.parse().ok());
        let status = status.ok_or(io::ErrorKind::InvalidData)?;
        let mut heads = Vec::new();
        loop {
            let line = self.line()?;
            let Some((name, value)) = line.split_once(':') else {
                break;
            };
            heads.push((name.to_ascii_lowercase(), value.trim().to_owned()));
        }
        Ok(Answer {
            status,
            heads,
            body: Vec::new(),
        })
    }

    /// The next answer, whole.
    pub(crate) fn answer(&mut self) -> io::Result<Answer> {
        let mut answer = self.head()?;
        let length = answer.head("content-length").and_then(|l| l.parse().ok());
        if answer.head("transfer-encoding") == Some("chunked") {
            answer.body = self.chunks()?;
        } else if let Some(length) = length {
            let mut body = vec![0; length];
            self.stream.read_exact(&mut body)?;
            answer.body = body;
        } else {
            self.stream.read_to_end(&mut answer.body)?;
        }
        Ok(answer)
    }

    fn chunks(&mut self) -> io::Result<Vec<u8>> {
        let mut body = Vec::new();
        loop {
            let size = usize::from_str_radix(&self.line()?, 16);
            let size = size.map_err(|_| io::ErrorKind::InvalidData)?;
            let mut chunk = vec![0; size];
            self.stream.read_exact(&mut chunk)?;
            body.extend(chunk);
            self.line()?;
            if size == 0 {
                return Ok(body);
            }
        }
    }
}

/// One request with these bytes on a connection of its own; none where the desk hung up without an answer.
pub(crate) fn raw(port: u16, bytes: &[u8]) -> Option<Answer> {
    let mut line = Line::open(port);
    // A desk that has refused already may hang up while the rest is still sent.
    let _ = line.send(bytes);
    match line.answer() {
        Ok(answer) => Some(answer),
        Err(error) if is_silence(&error) => panic!("the desk neither answers nor hangs up"),
        Err(_) => None,
    }
}

/// Whether a deadline has passed.
pub(crate) fn is_silence(error: &io::Error) -> bool {
    matches!(
        error.kind(),
        io::ErrorKind::WouldBlock | io::ErrorKind::TimedOut
    )
}

/// Asks with header fields of its own; `Host` is among them where the test wants one.
pub(crate) fn ask(
    port: u16,
    method: &str,
    path: &str,
    heads: &[(&str, &str)],
    body: &str,
) -> Answer {
    let mut text = format!("{method} {path} HTTP/1.1\r\n");
    for (name, value) in heads {
        text += &format!("{name}: {value}\r\n");
    }
    if !body.is_empty() {
        text += &format!("Content-Length: {}\r\n", body.len());
    }
    text += &format!("Connection: close\r\n\r\n{body}");
    raw(port, text.as_bytes()).unwrap_or_else(|| panic!("no answer to {method} {path} {heads:?}"))
}

/// Asks for a page as a browser of this machine does.
pub(crate) fn get(port: u16, path: &str) -> Answer {
    let host = format!("127.0.0.1:{port}");
    ask(port, "GET", path, &[("Host", &host)], "")
}

/// Writes as the page itself does.
pub(crate) fn post(port: u16, path: &str, token: &str, body: &str) -> Answer {
    let host = format!("127.0.0.1:{port}");
    let heads = [
        ("Host", host.as_str()),
        ("x-lastvolt-token", token),
        ("Content-Type", "application/json"),
    ];
    ask(port, "POST", path, &heads, body)
}

/// The word between two others.
pub(crate) fn between<'t>(text: &'t str, before: &str, after: &str) -> Option<&'t str> {
    let from = text.split_once(before)?.1;
    Some(from.split_once(after)?.0)
}

/// The token that a page carries for its own writing.
pub(crate) fn token(port: u16) -> String {
    let page = get(port, "/").text();
    let found = between(&page, "name=\"lastvolt-token\" content=\"", "\"");
    found.expect("a token in the page").to_owned()
}
