//! The chromedriver process.

use std::io::{BufRead, BufReader, Write};
use std::net::{Ipv4Addr, TcpStream};
use std::process::{Child, ChildStdout, Command, Stdio};
use std::time::{Duration, Instant};

use anyhow::{Context, Result, bail};

/// A running chromedriver; it and the browsers it started end when this is dropped.
pub struct Driver {
    process: Child,
    port: u16,
    /// Kept open: chromedriver would die writing to a closed pipe.
    _output: BufReader<ChildStdout>,
}

/// How often a chromedriver is started before its failure is believed.
///
/// It chooses its port on IPv6 and then wants the same one on IPv4; between the two, another
/// process may have taken it, and it ends with "IPv4 port not available".
const STARTS: usize = 5;

impl Driver {
    /// Starts the chromedriver on PATH on a port of its own choice.
    pub fn start() -> Result<Self> {
        let mut started = Self::start_once();
        for _ in 1..STARTS {
            if started.is_ok() {
                break;
            }
            started = Self::start_once();
        }
        started
    }

    /// # Errors
    ///
    /// Where it cannot be run, or ends before it names its port.
    fn start_once() -> Result<Self> {
        let mut process = Command::new("chromedriver")
            .arg("--port=0")
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .context("chromedriver does not start; `cargo xtask test` says how to install it")?;
        let mut output = BufReader::new(
            process
                .stdout
                .take()
                .context("chromedriver has no output")?,
        );
        match announced_port(&mut output) {
            Ok(port) => Ok(Self {
                process,
                port,
                _output: output,
            }),
            Err(error) => {
                process.kill().ok();
                process.wait().ok();
                Err(error)
            }
        }
    }

    /// Where WebDriver commands go.
    pub fn address(&self) -> String {
        format!("http://127.0.0.1:{}", self.port)
    }

    /// Asks chromedriver to close its browsers and end.
    ///
    /// A kill would leave the browsers running. By hand, since dropping cannot wait for a client
    /// that runs on an executor.
    fn ask_to_end(&self) -> std::io::Result<()> {
        let mut stream = TcpStream::connect((Ipv4Addr::LOCALHOST, self.port))?;
        write!(stream, "GET /shutdown HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")?;
        stream.set_read_timeout(Some(Duration::from_secs(5)))?;
        BufReader::new(stream).read_line(&mut String::new())?;
        Ok(())
    }
}

impl Drop for Driver {
    fn drop(&mut self) {
        let patience = Instant::now() + Duration::from_secs(5);
        if self.ask_to_end().is_ok() {
            while Instant::now() < patience {
                if matches!(self.process.try_wait(), Ok(Some(_))) {
                    return;
                }
                std::thread::sleep(Duration::from_millis(20));
            }
        }
        self.process.kill().ok();
        self.process.wait().ok();
    }
}

/// Reads chromedriver's greeting up to the line that names its port.
fn announced_port(output: &mut impl BufRead) -> Result<u16> {
    let mut said = String::new();
    loop {
        let before = said.len();
        if output.read_line(&mut said)? == 0 {
            bail!("chromedriver ended before it was ready. It said:\n{said}");
        }
        if let Some((_, port)) = said[before..].split_once("started successfully on port ") {
            return port
                .trim()
                .trim_end_matches('.')
                .parse()
                .context("chromedriver's port");
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn port_is_read_from_the_greeting() {
        let greeting = "Starting ChromeDriver 1 on port 0\nChromeDriver was started successfully on port 39779.\n";
        assert_eq!(announced_port(&mut greeting.as_bytes()).unwrap(), 39779);
        assert!(announced_port(&mut "Address in use\n".as_bytes()).is_err());
    }
}
