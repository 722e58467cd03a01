//! Serves the built page on this machine alone, until Ctrl-C.
//!
//! Only files that are there, by GET, one thread a connection. A page on the loopback address may
//! keep itself for use without a network, as on any server with a certificate.

use anyhow::{Context, Result};
use std::io::{BufRead, BufReader, Write};
use std::net::{TcpListener, TcpStream};
use std::path::{Component, Path, PathBuf};

/// The port, or the next free one.
const FIRST_PORT: u16 = 8730;

/// Serves `folder`.
///
/// # Errors
/// When no port is free.
pub fn run(folder: &Path) -> Result<()> {
    let listener = (FIRST_PORT..FIRST_PORT + 50).find_map(|port| TcpListener::bind(("127.0.0.1", port)).ok());
    let listener = listener.context("no port is free to serve the page on")?;
    println!("\nthe page is at http://{}/ until Ctrl-C", listener.local_addr()?);
    for stream in listener.incoming().flatten() {
        let folder = folder.to_path_buf();
        std::thread::spawn(move || {
            // A browser that hangs up early is no error of ours.
            let _ = answer(stream, &folder);
        });
    }
    Ok(())
}

fn answer(mut stream: TcpStream, folder: &Path) -> std::io::Result<()> {
    let mut lines = BufReader::new(stream.try_clone()?).lines();
    let first = lines.next().transpose()?.unwrap_or_default();
    // The head is read to its end, or the browser sees its connection reset.
    while lines.next().transpose()?.is_some_and(|line| !line.is_empty()) {}
    let bytes = file_of(&first, folder).and_then(|path| Some((kind(&path), std::fs::read(path).ok()?)));
    let (status, kind, bytes) = match bytes {
        Some((kind, bytes)) => ("200 OK", kind, bytes),
        None => ("404 Not Found", "text/plain", b"not here\n".to_vec()),
    };
    let head = format!(
        "HTTP/1.1 {status}\r\nContent-Type: {kind}\r\nContent-Length: {}\r\nCache-Control: no-cache\r\nConnection: close\r\n\r\n",
        bytes.len()
    );
    stream.write_all(head.as_bytes())?;
    stream.write_all(&bytes)
}

/// The file a request line asks for, inside the folder.
fn file_of(line: &str, folder: &Path) -> Option<PathBuf> {
    let path = line.strip_prefix("GET /")?.split(' ').next()?.split(['?', '#']).next()?;
    let path = Path::new(if path.is_empty() { "index.html" } else { path });
    let is_inside = path.components().all(|part| matches!(part, Component::Normal(_)));
    Some(folder.join(path)).filter(|full| is_inside && full.is_file())
}

fn kind(path: &Path) -> &'static str {
    match path.extension().and_then(|e| e.to_str()) {
        Some("html") => "text/html; charset=utf-8",
        Some("js") => "text/javascript",
        Some("css") => "text/css",
        Some("wasm") => "application/wasm",
        Some("json") => "application/json",
        _ => "text/plain; charset=utf-8",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_files_inside_the_folder_are_served() {
        let folder = crate::place::root().join("www");
        assert_eq!(file_of("GET / HTTP/1.1", &folder), Some(folder.join("index.html")));
        assert_eq!(file_of("GET /index.html?searchers=1 HTTP/1.1", &folder), Some(folder.join("index.html")));
        for outside in [
            "GET /../Cargo.toml HTTP/1.1",
            "GET //etc/hosts HTTP/1.1",
            "GET /none HTTP/1.1",
            "POST / HTTP/1.1",
            "",
        ] {
            assert_eq!(file_of(outside, &folder), None, "{outside}");
        }
    }
}
