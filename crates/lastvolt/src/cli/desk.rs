//! `desk`: the family as live pages on this machine.

use std::net::{IpAddr, Ipv4Addr};
use std::path::PathBuf;

use crate::failure::{FINE, Failure};
use crate::web::{Options, serve};

/// Port that is tried first.
const PORT: u16 = 4127;

/// The family as live pages in the browser; the files stay the truth
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// Folder of the family, or its family.toml
    #[arg(value_name = "DIR")]
    dir: PathBuf,
    /// Port to serve at; the next free one is taken where it is in use, 0 takes any
    #[arg(long, value_name = "PORT", default_value_t = PORT)]
    port: u16,
    /// Address to serve at; one beyond this machine is guarded by a token only, and not encrypted
    #[arg(long, value_name = "ADDRESS", default_value_t = IpAddr::V4(Ipv4Addr::LOCALHOST))]
    address: IpAddr,
    /// Print the address and open no browser
    #[arg(long)]
    no_open: bool,
}

/// Runs the command.
pub(crate) fn run(args: &Args) -> Result<u8, Failure> {
    let options = Options {
        address: args.address,
        port: args.port,
        open: !args.no_open,
    };
    serve(&args.dir, options)?;
    Ok(FINE)
}
