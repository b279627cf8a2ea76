//! A PostgreSQL server on loopback: the one whose address is in `FAIRWHY_TEST_POSTGRES`, or one started
//! here where `initdb` and `postgres` are installed and the feature `academy` is built.

use fairwhy::records::{Store, StorePlace};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// Why there is none.
pub const NONE: &str = "skipped: this wants --features academy, and a PostgreSQL server (apt-get install postgresql, or its address in FAIRWHY_TEST_POSTGRES)";

/// A server for as long as this lives.
pub struct Server {
    address: String,
    /// The folder goes when the server has ended.
    running: Option<(Child, tempfile::TempDir)>,
}

impl Drop for Server {
    fn drop(&mut self) {
        if let Some((child, _)) = &mut self.running {
            let _ = child.kill();
            let _ = child.wait();
        }
    }
}

/// A program of the server's, in the path or where distributions put it.
fn program(name: &str) -> Option<PathBuf> {
    let paths = std::env::var_os("PATH")?;
    let mut places: Vec<PathBuf> = std::env::split_paths(&paths).collect();
    if let Ok(versions) = std::fs::read_dir("/usr/lib/postgresql") {
        places.extend(versions.flatten().map(|version| version.path().join("bin")));
    }
    places
        .into_iter()
        .map(|place| place.join(name))
        .find(|file| file.exists())
}

/// The server will not run as root, and then runs as nobody.
fn as_somebody(command: &mut Command, folder: &Path) {
    use std::os::unix::fs::{MetadataExt, PermissionsExt, chown};
    use std::os::unix::process::CommandExt;
    if std::fs::metadata("/proc/self").is_ok_and(|own| own.uid() == 0) {
        chown(folder, Some(65534), Some(65534)).expect("handed over");
        std::fs::set_permissions(folder, std::fs::Permissions::from_mode(0o700)).expect("set");
        command.uid(65534).gid(65534);
    }
    command
        .current_dir(folder)
        .stdout(Stdio::null())
        .stderr(Stdio::null());
}

impl Server {
    /// The one of the environment, or a new one; `None` where there is none to be had.
    pub fn start() -> Option<Self> {
        if !cfg!(feature = "academy") {
            return None;
        }
        if let Ok(address) = std::env::var("FAIRWHY_TEST_POSTGRES") {
            return Some(Self {
                address,
                running: None,
            });
        }
        let (initdb, postgres) = (program("initdb")?, program("postgres")?);
        let folder = tempfile::tempdir().expect("a folder");
        let data = folder.path().join("data");
        let mut make = Command::new(initdb);
        make.arg("-D").arg(&data).args([
            "-U",
            "fairwhy",
            "-A",
            "trust",
            "-E",
            "UTF8",
            "--no-locale",
        ]);
        as_somebody(&mut make, folder.path());
        assert!(
            make.status().expect("it runs").success(),
            "the server's folder could not be made"
        );
        let listener = std::net::TcpListener::bind("127.0.0.1:0").expect("a port");
        let port = listener.local_addr().expect("bound").port();
        drop(listener);
        let mut serve = Command::new(postgres);
        serve
            .arg("-D")
            .arg(&data)
            .args(["-h", "127.0.0.1", "-p", &port.to_string(), "-k", ""])
            // Every writer reads back over a second connection.
            .args(["-c", "max_connections=200"]);
        as_somebody(&mut serve, folder.path());
        let child = serve.spawn().expect("it starts");
        let server = Self {
            address: format!("postgres://fairwhy@127.0.0.1:{port}/postgres"),
            running: Some((child, folder)),
        };
        let begun = Instant::now();
        while Store::to_read(&server.place()).is_err() {
            assert!(
                begun.elapsed() < Duration::from_secs(30),
                "the server does not answer"
            );
            std::thread::sleep(Duration::from_millis(100));
        }
        Some(server)
    }

    /// Its address.
    pub fn place(&self) -> StorePlace {
        StorePlace::parse(&self.address)
    }
}
