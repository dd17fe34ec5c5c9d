//! The screen: everything that knows a terminal.
//!
//! [`terminal`] owns the terminal and gives it back, [`events`] turns what the terminal and the system send into one
//! stream, [`chord`] and [`keymap`] name keys, [`pace`] tells a tap from a held key, [`theme`] gives roles their looks,
//! [`widgets`] are the parts that screens are built from.

pub mod announce;
mod bounded_line;
pub mod chair;
pub mod chord;
pub mod events;
pub mod key_file;
pub mod keymap;
pub mod keys;
pub mod layouts;
pub mod pace;
pub mod pages;
pub mod pictures;
pub mod plain;
mod player;
pub mod pulse_line;
pub mod review;
pub mod run;
pub mod start;
pub mod terminal;
pub mod theme;
pub mod widgets;
