//! The server: one thread, one address, bounds on everything that comes in.

use super::app::App;
use super::gate::{self, LARGEST_BODY};
use super::handlers;
use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::middleware::from_fn_with_state;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use std::net::{SocketAddr, TcpListener};
use std::sync::Arc;
use std::time::Duration;
use tokio::net::TcpStream;
use tokio::sync::Semaphore;

/// So many connections are open at once; more wait their turn.
const MOST_CONNECTIONS: usize = 256;

/// Whoever does not say in this time what is wanted is left.
const HEADER_PATIENCE: Duration = Duration::from_secs(10);

/// No connection lives longer; a browser opens another.
const LONGEST_CONNECTION: Duration = Duration::from_secs(120);

/// Room for what stands before a body.
const HEADER_BYTES: usize = 64 * 1024;

/// Threads that ask the records, which have one writer at a time anyway.
const BLOCKING: usize = 2;

/// Between two tries to take a connection when the system has none to give.
const BREATH: Duration = Duration::from_millis(50);

/// Every page behind the guard.
pub fn router(app: Arc<App>) -> Router {
    handlers::routes()
        .layer(DefaultBodyLimit::max(LARGEST_BODY))
        .layer(from_fn_with_state(Arc::clone(&app), gate::keep))
        .with_state(app)
}

/// A server that has its address, and answers once it runs.
pub struct Server {
    listener: TcpListener,
}

impl Server {
    /// Takes an address; port 0 is any free one.
    ///
    /// # Errors
    ///
    /// When the address is taken or is not this machine's.
    pub fn bind(address: SocketAddr) -> std::io::Result<Self> {
        let listener = TcpListener::bind(address)?;
        listener.set_nonblocking(true)?;
        Ok(Self { listener })
    }

    /// The address it has.
    ///
    /// # Errors
    ///
    /// When the system does not say.
    pub fn address(&self) -> std::io::Result<SocketAddr> {
        self.listener.local_addr()
    }

    /// Serves until the process is asked to stop.
    ///
    /// # Errors
    ///
    /// When the system has no room for it.
    pub fn run(self, app: Arc<App>) -> std::io::Result<()> {
        self.run_until(app, asked_to_stop())
    }

    /// Serves until `stopped` comes.
    ///
    /// # Errors
    ///
    /// As [`Self::run`], and what `stopped` says.
    pub fn run_until(
        self,
        app: Arc<App>,
        stopped: impl Future<Output = std::io::Result<()>>,
    ) -> std::io::Result<()> {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_io()
            .enable_time()
            .max_blocking_threads(BLOCKING)
            .build()?;
        runtime.block_on(async {
            let listener = tokio::net::TcpListener::from_std(self.listener)?;
            let patience = app.patience.min(HEADER_PATIENCE);
            tokio::select! {
                () = accept(listener, router(app), patience) => Ok(()),
                stopped = stopped => stopped,
            }
        })
    }
}

async fn accept(listener: tokio::net::TcpListener, router: Router, patience: Duration) {
    let places = Arc::new(Semaphore::new(MOST_CONNECTIONS));
    loop {
        let place = Arc::clone(&places).acquire_owned().await;
        let Ok((stream, _)) = listener.accept().await else {
            tokio::time::sleep(BREATH).await;
            continue;
        };
        let router = router.clone();
        tokio::spawn(async move {
            // One who goes away in the middle is no trouble of ours.
            let _ =
                tokio::time::timeout(LONGEST_CONNECTION, answer(stream, router, patience)).await;
            drop(place);
        });
    }
}

async fn answer(stream: TcpStream, router: Router, patience: Duration) -> Result<(), hyper::Error> {
    let _ = stream.set_nodelay(true);
    hyper::server::conn::http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(patience)
        .max_buf_size(HEADER_BYTES)
        .serve_connection(TokioIo::new(stream), TowerToHyperService::new(router))
        .await
}

#[cfg(unix)]
async fn asked_to_stop() -> std::io::Result<()> {
    use tokio::signal::unix::{SignalKind, signal};
    let mut interrupt = signal(SignalKind::interrupt())?;
    let mut terminate = signal(SignalKind::terminate())?;
    tokio::select! {
        _ = interrupt.recv() => {}
        _ = terminate.recv() => {}
    }
    Ok(())
}

#[cfg(not(unix))]
async fn asked_to_stop() -> std::io::Result<()> {
    tokio::signal::ctrl_c().await
}
