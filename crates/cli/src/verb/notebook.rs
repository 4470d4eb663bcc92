//! `notebook`: what is kept, into a folder and back; backups; a look for damage.

use super::serve::place;
use crate::args::{NotebookArgs, NotebookVerb};
use crate::fail::Failure;
use crate::out;
use notebook::{By, Error, Moment, Moved, Notebook};

pub(crate) fn run(args: &NotebookArgs) -> Result<(), Failure> {
    let place = place(args.notebook.as_deref())?;
    let now = Moment(jiff::Timestamp::now().as_millisecond());
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build();
    let runtime = runtime.map_err(|e| Failure::Machine(e.to_string()))?;
    let told = runtime.block_on(async {
        let notebook = Notebook::open(&place, now).await?;
        let told = match &args.verb {
            NotebookVerb::Export { folder } => {
                moved(&notebook.export(folder).await?, &format!("written to {}", folder.display()))
            }
            NotebookVerb::Import { folder } => {
                let by = By { at: now, who: "the command line" };
                moved(&notebook.import(folder, by).await?, "taken in, as one change")
            }
            NotebookVerb::BackUp => format!("{}\n", notebook.back_up(now).await?.display()),
            NotebookVerb::Check => {
                notebook.check().await?;
                "Nothing is damaged.\n".to_owned()
            }
        };
        notebook.close().await;
        Ok(told)
    });
    out::text(&told.map_err(|e: Error| Failure::plain(e))?, None)
}

fn moved(m: &Moved, how: &str) -> String {
    format!("{} entries and {} photos {how}.\n", m.entries, m.photos)
}
