//! Tests.
mod plans;
