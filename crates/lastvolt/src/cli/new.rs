//! `new`: writes a family that reviews clean, to change into one's own.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use crate::failure::{FINE, Failure};
use crate::output::{plain, print, shown};

/// The files of the family that is written.
const FILES: &[(&str, &str)] = &[
    ("family.toml", include_str!("../../template/family.toml")),
    ("coin.toml", include_str!("../../template/coin.toml")),
    (
        "two-cell.toml",
        include_str!("../../template/two-cell.toml"),
    ),
];

/// Write a working family to start from; never overwrites a file
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// Folder to write into; it is made where it is missing
    #[arg(value_name = "DIR")]
    dir: PathBuf,
}

/// Runs the command.
pub(crate) fn run(args: &Args) -> Result<u8, Failure> {
    refuse_existing(&args.dir)?;
    write_all(&args.dir)?;
    let names: Vec<&str> = FILES.iter().map(|f| f.0).collect();
    let dir = args.dir.display();
    print(&format!(
        "Wrote {} into {dir}.\n\n\
         Next:\n  \
         lastvolt review {dir}    report in {dir}/review/review.html\n  \
         lastvolt check {dir}     findings only\n  \
         lastvolt life {dir}      run times\n\n\
         Then change the values in {dir}/family.toml and the board files to your own.\n",
        names.join(", ")
    ))?;
    Ok(FINE)
}

/// Nothing is written where anything of these names is there, links into nowhere included.
fn refuse_existing(dir: &Path) -> Result<(), Failure> {
    let there: Vec<String> = FILES
        .iter()
        .map(|(name, _)| dir.join(name))
        .filter(|path| path.symlink_metadata().is_ok())
        .map(|path| format!("`{}`", path.display()))
        .collect();
    if there.is_empty() {
        return Ok(());
    }
    let verb = if there.len() == 1 { "is" } else { "are" };
    let says = format!(
        "{} {verb} already there: nothing was written",
        crate::text::number::listed(&there)
    );
    let proposal = Some("give a folder that does not exist yet".to_owned());
    Err(Failure::of_option("would-overwrite", says, proposal))
}

fn write_all(dir: &Path) -> Result<(), Failure> {
    let refused = |path: &Path, error: &std::io::Error| {
        let says = format!("`{}` cannot be written: {}", path.display(), plain(error));
        Failure::of_file("cannot-write", &shown(path), says)
    };
    fs::create_dir_all(dir).map_err(|e| refused(dir, &e))?;
    let mut written: Vec<PathBuf> = Vec::new();
    for (name, text) in FILES {
        let path = dir.join(name);
        // Made new or not at all, also where someone else makes it at this very moment.
        let file = fs::File::options().write(true).create_new(true).open(&path);
        let done = file.and_then(|mut file| {
            written.push(path.clone());
            file.write_all(text.as_bytes())
        });
        if let Err(error) = done {
            for path in &written {
                // Only what this run has made is taken away again.
                let _ = fs::remove_file(path);
            }
            return Err(refused(&path, &error));
        }
    }
    Ok(())
}
