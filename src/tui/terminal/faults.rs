//! A fault in any thread ends the program with the terminal restored and the message readable.

use std::io::Write;
use std::panic;
use std::sync::Once;

/// The exit code after a panic, as the language's own runtime uses it.
const PANIC_EXIT: i32 = 101;

/// Installs the panic hook, once for the process.
///
/// On a panic in any thread: the terminal is restored, `farewell` runs (a place to let the journal finish; it must be
/// quick), the usual message is printed, then what `farewell` returned, and the process ends with code 101. A program
/// that went on without one of its threads would look alive while it no longer counts or records.
pub fn install_panic_hook(farewell: impl Fn() -> String + Send + Sync + 'static) {
    static INSTALLED: Once = Once::new();
    INSTALLED.call_once(|| {
        let usual = panic::take_hook();
        panic::set_hook(Box::new(move |fault| {
            super::restore();
            let last_words = farewell();
            usual(fault);
            // Standard error may be gone with the terminal; then there is nobody to tell.
            let _ = writeln!(std::io::stderr(), "{last_words}");
            std::process::exit(PANIC_EXIT);
        }));
    });
}
