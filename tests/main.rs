//! Tests.

mod journal_faults;
