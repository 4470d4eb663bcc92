//! `serve`: the workbench in a browser.

use crate::args::ServeArgs;
use crate::fail::Failure;
use crate::out;
use etcetera::BaseStrategy as _;
use notebook::Place;
use server::{Refused, Settings, Workbench};
use std::fmt::Write as _;
use std::path::PathBuf;

pub(crate) fn run(args: &ServeArgs) -> Result<(), Failure> {
    let place = place(args.notebook.as_deref())?;
    let settings = Settings { place, port: args.port, lan: args.lan, demo: !args.empty };
    let machine = |e: std::io::Error| Failure::Machine(e.to_string());
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build();
    runtime.map_err(machine)?.block_on(async {
        let workbench = Workbench::open(&settings).await.map_err(|e| refused(&e))?;
        let mut text = format!("grigne: {}\n", workbench.address().map_err(machine)?);
        for backup in workbench.backups() {
            let _ = writeln!(
                text,
                "The notebook was of an older version; as it was: {}",
                backup.display()
            );
        }
        if let Some(pairing) = workbench.pairing().map_err(machine)? {
            let _ = writeln!(
                text,
                "Another device of the house: scan this, or open {} (once, within ten minutes)\n{}",
                pairing.address, pairing.picture
            );
        }
        text += "Stop it with Ctrl-C.\n";
        out::text(&text, None)?;
        workbench.run(stop()).await.map_err(machine)
    })
}

/// Until the terminal or the system asks to stop.
async fn stop() {
    let interrupt = tokio::signal::ctrl_c();
    #[cfg(unix)]
    {
        let terminate = tokio::signal::unix::signal(tokio::signal::unix::SignalKind::terminate());
        if let Ok(mut terminate) = terminate {
            tokio::select! {
                _ = interrupt => {}
                _ = terminate.recv() => {}
            }
            return;
        }
    }
    let _ = interrupt.await;
}

/// Where the notebook is.
pub(super) fn place(named: Option<&str>) -> Result<Place, Failure> {
    let folder = || {
        let found = etcetera::choose_base_strategy().map(|d| d.data_dir().join("grigne"));
        found.map_err(|_| {
            Failure::wish(
                "this machine names no folder for your data",
                "say where the notebook is: --notebook FILE",
            )
        })
    };
    match named {
        Some(url) if url.starts_with("postgres://") || url.starts_with("postgresql://") => {
            Ok(Place::Server { url: url.to_owned(), folder: folder()? })
        }
        Some(file) => Ok(Place::File(PathBuf::from(file))),
        None => Ok(Place::File(folder()?.join("notebook.grigne"))),
    }
}

fn refused(e: &Refused) -> Failure {
    match e {
        Refused::Machine(e) => Failure::Machine(e.to_string()),
        other => Failure::plain(other),
    }
}
