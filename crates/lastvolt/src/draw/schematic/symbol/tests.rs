//! Symbols.
