//! The subcommands, one file each.

pub mod plan;
